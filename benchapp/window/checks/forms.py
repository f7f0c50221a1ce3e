"""The forms of the view Bench checks: a check run, a standard, an instrument."""

from __future__ import annotations

import datetime as dt
from types import MappingProxyType
from typing import Any, ClassVar

from PySide6.QtCore import QModelIndex, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractItemDelegate, QWidget

from benchapp.actions import checks
from benchapp.actions import instrument as instruments
from benchapp.records import Instrument, InstrumentElement, Standard
from benchapp.window.dialogs.form import FieldError, Form, is_enter, read_number
from benchapp.window.dialogs.instrument import KINDS
from benchapp.window.dialogs.rows import Typed, TypedTable

FOUND = 2
"""Column of the check run's table that is typed into."""


def _found_wrong(text: str) -> str:
    """A blank or a low standard may read below zero."""
    return _ppm_wrong(text, least=-1e6)


def _ppm_wrong(text: str, least: float = 0.0) -> str:
    try:
        read_number(text, least, 1e6, "ppm", needed=False)
    except FieldError as wrong:
        return str(wrong)
    return ""


def _day(text: str) -> str:
    return text[:10]


class FoundTable(TypedTable):
    """One Enter takes what was typed and goes down the column; `ended` follows after the last element."""

    ended = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """The editor lets an Enter pass on to the table; what was typed must be taken first."""
        if self.state() == self.State.EditingState and is_enter(event):
            event.accept()
            return
        super().keyPressEvent(event)

    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:
        super().closeEditor(editor, hint)
        if hint == QAbstractItemDelegate.EndEditHint.SubmitModelCache:
            self._on(self.currentIndex())

    def _on(self, index: QModelIndex) -> None:
        below = self.typed.index(index.row() + 1, 0)
        if index.column() != FOUND:
            super()._on(index)
        elif below.isValid() and below.data():
            self.setCurrentIndex(self.typed.index(below.row(), FOUND))
        else:
            self.ended.emit()


class CheckRunForm(Form):
    """What the instrument found in a standard or a blank."""

    title: ClassVar[str] = "Check run"
    lead: ClassVar[str] = "What the instrument found in a standard or a blank, just now. Leave empty what was not read."
    verb: ClassVar[str] = "Enter check run"
    width: ClassVar[int] = 620

    def __init__(self, session: Any, parent: Any = None, *, name: str = "") -> None:
        self.name = name
        super().__init__(session, parent)

    def make(self) -> None:
        fleet = self.session.fleet
        names = checks.instruments_of(fleet)
        here = self.name or (names[0] if names else "")
        self.picker(
            "instrument", "&Instrument", "Which instrument it was run on.", [(n, n) for n in names], here or None
        )
        usual, known = checks.usual_standard(fleet, here), checks.standards_of(fleet)
        editor = self.line(
            "standard", "&Standard", "The standard or blank, by its name here.", usual, needed=True, suggest=known
        )
        editor.textChanged.connect(self._fill)
        now = dt.datetime.now()  # noqa: DTZ005  (local, as entered)
        self.moment("run_at", "&When", "When it was run.", f"{now:%Y-%m-%d %H:%M}", needed=True)
        self.table = FoundTable(
            (
                Typed("Element", self._element_wrong, 10, "Its symbol", tuple(self.session.library.elements)),
                Typed("Certified [ppm]", _ppm_wrong, 14, "What is in the standard", number=True),
                Typed("Found [ppm]", _found_wrong, 14, "What the instrument read", number=True, stretch=True),
            ),
            "Found by element: Enter goes down",
            self,
        )
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 8)
        self.table.ended.connect(self.save.setFocus)
        self.whole(self.table, stretch=True)
        self._fill(self.text("standard"))

    def _first(self) -> Any:
        return self.table if self.text("standard") else self.fields["standard"].editor

    def _element_wrong(self, text: str) -> str:
        return "" if text in self.session.library.elements else f"“{text}” is no element's symbol."

    def _fill(self, standard: str) -> None:
        """The elements of a standard with their certified values, ready to be typed beside."""
        rows = checks.rows_to_type(self.session.fleet, self.text("instrument"), standard.strip())
        if rows and not any(row[FOUND] for row in self.table.typed.rows()):
            self.table.typed.set_rows([(element, f"{ppm:g}", "") for element, ppm in rows])
            self.table.setCurrentIndex(self.table.typed.index(0, FOUND))

    def commit(self, values: dict[str, Any]) -> None:
        wrong = self.table.typed.problems()
        if wrong:
            raise FieldError("\n".join(wrong[:3]))
        found: dict[str, float] = {}
        expected: dict[str, float] = {}
        for element, certified, read in self.table.typed.rows():
            value = read_number(read, -1e6, 1e6, "ppm", needed=False)
            if value is None:
                continue
            if element in found:
                raise FieldError(f"{element} stands in two rows. Keep one.")
            found[element] = value
            nominal = read_number(certified, 0.0, 1e6, "ppm", needed=False)
            if nominal is not None:
                expected[element] = nominal
        self.session.run_or_raise(
            checks.add_runs, values["instrument"], values["run_at"], values["standard"], found, expected
        )


class StandardForm(Form):
    """A check standard or a blank with its certified values."""

    title: ClassVar[str] = "Check standard"
    lead: ClassVar[str] = "A check standard or a blank: what is certified to be in it, from its certificate."
    verb: ClassVar[str] = "Enter standard"
    width: ClassVar[int] = 580

    def __init__(self, session: Any, parent: Any = None, *, name: str = "") -> None:
        self.standard = session.fleet.standards.get(name)
        self._suggested = () if self.standard else checks.rows_to_type(session.fleet, "", name)
        self._name = name
        super().__init__(session, parent)

    def make(self) -> None:
        old = self.standard or Standard(self._name, ppm=MappingProxyType(dict(self._suggested)))
        self.line("name", "&Name", "As you call it, and as exports name it.", old.name, needed=True, example="Check 50")
        self.choice(
            "kind", "&Kind", "A blank holds nothing of any element that is not listed.",
            (("check standard", "standard"), ("blank", "blank")), old.kind,
        )  # fmt: skip
        self.line("lot", "&Lot", "From its label; a new lot is a new standard.", old.lot)
        self.moment("expires_on", "&Good until", "From its label.", _day(str(old.expires_on or "")))
        self.heading("Certified values")
        self.table = TypedTable(
            (
                Typed("Element", self._element_wrong, 12, "Its symbol", tuple(self.session.library.elements)),
                Typed("Certified [ppm]", _ppm_wrong, 16, "From the certificate", number=True, stretch=True),
            ),
            "Certified values by element",
            self,
        )
        self.table.typed.set_rows([(element, f"{ppm:g}") for element, ppm in old.ppm.items()])
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 6)
        self.whole(self.table, stretch=True)

    def _element_wrong(self, text: str) -> str:
        return "" if text in self.session.library.elements else f"“{text}” is no element's symbol."

    def commit(self, values: dict[str, Any]) -> None:
        wrong = self.table.typed.problems()
        if wrong:
            raise FieldError("\n".join(wrong[:3]))
        ppm: dict[str, float] = {}
        for element, text in self.table.typed.rows():
            if element in ppm:
                raise FieldError(f"{element} stands in two rows. Keep one.")
            value = read_number(text, 0.0, 1e6, "ppm", needed=False)
            if value is not None:
                ppm[element] = value
        if not ppm and values["kind"] == "standard":
            raise FieldError("A standard needs at least one certified value.")
        made = Standard(**values, ppm=MappingProxyType(ppm), notes=self.standard.notes if self.standard else "")
        self.session.run_or_raise(checks.put_standard, self.standard.name if self.standard else "", made)


class InstrumentCardForm(Form):
    """An instrument: kind, method, the elements it reads, when it is due."""

    title: ClassVar[str] = "Instrument"
    lead: ClassVar[str] = "What reads the oil. Its kind sets the limits of its check runs and where its noise starts."
    verb: ClassVar[str] = "Save instrument"
    width: ClassVar[int] = 640

    def __init__(self, session: Any, parent: Any = None, *, name: str = "") -> None:
        self.old = session.look(instruments.stored, name) if name else None
        super().__init__(session, parent)

    def make(self) -> None:
        old = self.old or Instrument("")
        self.line("name", "&Name", "As you call it on the bench.", old.name, needed=True)
        self.choice("kind", "&Kind", "Sets the limits of its checks.", KINDS, old.kind)
        self.line("method", "&Method", "Standard method, where there is one.", old.method, example="ASTM D6595")
        self.moment("due_on", "&Due on", "When its next service or calibration is due.", _day(str(old.due_on or "")))
        self.line("due_for", "Due &for", "What is due then.", old.due_for, example="Calibration")
        self.heading("What it reads")
        self.table = TypedTable(
            (
                Typed("Element", self._element_wrong, 10, "Its symbol", tuple(self.session.library.elements)),
                Typed("Unit", _unit_wrong, 10, "As it prints: ppm or %", ("ppm", "%")),
                Typed("Detection limit", _ppm_wrong, 18, "In this unit; empty: not known", number=True, stretch=True),
            ),
            "What it reads, by element",
            self,
        )
        shown = [(e.element, e.unit, "" if e.detects_from is None else f"{e.detects_from:g}") for e in old.elements]
        self.table.typed.set_rows(shown)
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 5)
        self.whole(self.table, stretch=True)

    def _element_wrong(self, text: str) -> str:
        return "" if text in self.session.library.elements else f"“{text}” is no element's symbol."

    def commit(self, values: dict[str, Any]) -> None:
        wrong = self.table.typed.problems()
        if wrong:
            raise FieldError("\n".join(wrong[:3]))
        reads: dict[str, InstrumentElement] = {}
        for element, unit, text in self.table.typed.rows():
            if element in reads:
                raise FieldError(f"{element} stands in two rows. Keep one.")
            limit = read_number(text, 0.0, 1e6, unit or "ppm", needed=False)
            reads[element] = InstrumentElement(element, unit or "ppm", limit)
        noise = self.old.noise if self.old else MappingProxyType({})
        made = Instrument(**values, noise=noise, elements=tuple(reads.values()))
        self.session.run_or_raise(instruments.set_up, self.old.name if self.old else "", made)


def _unit_wrong(text: str) -> str:
    return "" if text in ("", "ppm", "%") else f"“{text}” is neither ppm nor %."
