"""What every form is: fields in reading order, each with its unit and one line that says why; Enter goes on, Esc back.

A form runs its verb itself and stays open, with what was typed, when the bench says no. Numbers go through the one
parser of the program (point or comma); what cannot be read is said below its field."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, ClassVar

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QAbstractItemView,
    QCheckBox,
    QComboBox,
    QCompleter,
    QDialog,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from benchapp.intake.numbers import parse_number
from benchapp.problems import BenchProblem
from benchapp.window import theme, units
from benchapp.window.whole import Upright


class FieldError(ValueError):
    """What is wrong with a field, in words for the person."""


@dataclass(slots=True)
class Field:
    """One field: its editor, how its text becomes a value, and the line below it."""

    name: str
    label: str
    unit: str
    why: str
    editor: QWidget
    read: Callable[[str], Any]
    below: QLabel


def read_number(text: str, low: float | None, high: float | None, unit: str, *, needed: bool) -> float | None:
    """A typed number with point or comma. Raises FieldError with words for the person."""
    text = text.strip()
    if not text:
        if needed:
            raise FieldError("This is needed.")
        return None
    decimal = "," if "," in text and "." not in text else "."
    sign = -1.0 if text[0] in "-\u2212" and low is not None and low < 0.0 else 1.0  # below zero is a reading's problem
    parsed = parse_number(text[1:] if sign < 0.0 else text, decimal)
    if parsed.value is None or parsed.qualifier or parsed.mark or (parsed.unit and parsed.unit != unit):
        raise FieldError(parsed.problem or f"“{text}” is not a number.")
    value = sign * parsed.value
    if low is not None and value < low:
        raise FieldError(f"{value:g} is below {low:g} {unit}: that cannot be.".replace("  ", " "))
    if high is not None and value > high:
        raise FieldError(f"{value:g} is above {high:g} {unit}: that cannot be.".replace("  ", " "))
    return value


def read_moment(text: str, *, needed: bool = False) -> dt.datetime | None:
    """A day, with or without a time, as 2026-05-03 14:20. Raises FieldError."""
    text = text.strip()
    if not text:
        if needed:
            raise FieldError("This is needed.")
        return None
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        raise FieldError(f"“{text}” cannot be read one way only. Write it like 2026-05-03 14:20.") from None
    return moment.replace(tzinfo=None)


class Form(QDialog):
    """A form on the engine at hand or on the bench. Subclasses add fields in `fields` and run a verb in `commit`."""

    title: ClassVar[str] = ""
    lead: ClassVar[str] = ""
    """One sentence: what this enters and what it is for."""
    verb: ClassVar[str] = "Save"
    """The word on the button."""
    width: ClassVar[int] = 560
    shares: ClassVar[tuple[int, int]] = (4, 5)
    """How the width is shared between the fields and what stands beside them."""
    caution_where: ClassVar[str] = ""
    """Which cautions it shows: 'drain', 'filter', … or none."""

    def __init__(self, session: Any, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.fields: dict[str, Field] = {}
        self.then: tuple[str, dict[str, Any]] | None = None
        """The form that a person asked to go on with (its name and what it is for), once this one is entered."""
        self.setWindowTitle(self.title)
        self._gap = theme.current().gap_px
        self._build()
        self.make()
        self._grid.setRowStretch(self._grid.rowCount(), 1)
        self._enter_order()
        self.resize(self._wanted_width(), self._wanted_height())
        self._first().setFocus()

    # --- for subclasses ----------------------------------------------------------------------------------------------

    def make(self) -> None:
        """Adds the fields."""
        raise NotImplementedError

    def commit(self, values: dict[str, Any]) -> None:
        """Runs the verb with what was read. Raises BenchProblem."""
        raise NotImplementedError

    def aside(self) -> QWidget | None:
        """What stands beside the fields: the cautions of this work, or None where there are none."""
        texts = self.cautions()
        if not texts:
            return None
        panel = QFrame(self)
        panel.setProperty("role", "card")
        page = QWidget(panel)
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        head = QLabel("Caution", page)
        head.setProperty("role", "head")
        column.addWidget(head)
        for text in texts:
            line = QLabel(text, page)
            line.setWordWrap(True)
            column.addWidget(line)
        column.addStretch(1)
        QVBoxLayout(panel).addWidget(Upright(page, panel))  # where there is no room for all it is scrolled, never cut
        page.setAutoFillBackground(False)  # the card shows through
        return panel

    def cautions(self) -> tuple[str, ...]:
        """The cautions that belong to this work."""
        if not self.caution_where:
            return ()
        lines = self.session.library.data("cautions")["caution"]
        return tuple(line["text"] for line in lines if self.caution_where in line["where"])

    def line(
        self,
        name: str,
        label: str,
        why: str,
        value: str = "",
        *,
        needed: bool = False,
        example: str = "",
        suggest: Sequence[str] = (),
    ) -> QLineEdit:
        """A field of text, with suggestions where there are some."""
        editor = QLineEdit(value, self)
        editor.setPlaceholderText(example)
        if suggest:
            completer = QCompleter(list(suggest), editor)
            completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
            completer.setFilterMode(Qt.MatchFlag.MatchContains)
            editor.setCompleter(completer)
        self._add(name, label, "", why, editor, _needed_text if needed else _plain_text)
        return editor

    def number(
        self,
        name: str,
        label: str,
        unit: str,
        why: str,
        value: float | None = None,
        *,
        low: float | None = 0.0,
        high: float | None = None,
        needed: bool = False,
        example: str = "",
    ) -> QLineEdit:
        """A field with a number in its unit, shown and read in the unit the person chose for it.

        A value that was not touched stays exactly as it was, whatever the unit rounds it to."""
        chosen = units.chosen(unit)
        least, most = (None if bound is None else units.shown(bound, chosen) for bound in (low, high))
        start = "" if value is None else f"{units.shown(value, chosen):.6g}"
        editor = QLineEdit(start, self)
        editor.setPlaceholderText(example if chosen.name == unit else "")

        def read(text: str) -> float | None:
            if value is not None and text.strip() == start:
                return value
            typed = read_number(text, least, most, chosen.name, needed=needed)
            return None if typed is None else units.stored(typed, chosen)

        self._add(name, label, chosen.name, why, editor, read)
        return editor

    def moment(
        self, name: str, label: str, why: str, value: str | dt.datetime | None = "", *, needed: bool = False
    ) -> QLineEdit:
        """A field with a day, and a time where it is known. A moment that was not touched stays to the second."""
        start = f"{value:%Y-%m-%d %H:%M}" if isinstance(value, dt.datetime) else value or ""
        editor = QLineEdit(start, self)
        editor.setPlaceholderText("2026-05-03 14:20")

        def read(text: str) -> dt.datetime | None:
            if isinstance(value, dt.datetime) and text.strip() == start:
                return value
            return read_moment(text, needed=needed)

        self._add(name, label, "", why, editor, read)
        return editor

    def choice(
        self, name: str, label: str, why: str, choices: Sequence[tuple[str, Any]], value: Any = None
    ) -> QComboBox:
        """A field with a few words to choose from; `choices` are (word, value)."""
        editor = QComboBox(self)
        for word, meant in choices:
            editor.addItem(word, meant)
        place = next((n for n, (_, meant) in enumerate(choices) if meant == value), 0)
        editor.setCurrentIndex(place)
        self._add(name, label, "", why, editor, _plain_text)
        return editor

    def picker(
        self, name: str, label: str, why: str, choices: Sequence[tuple[str, Any]], value: Any = None
    ) -> QComboBox:
        """A field with many words to choose from: type a part of one. Only what is in the list may stand in it."""
        editor = QComboBox(self)
        editor.setEditable(True)
        editor.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        editor.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        editor.setMaxVisibleItems(16)
        for word, meant in choices:
            editor.addItem(word, meant)
        editor.completer().setFilterMode(Qt.MatchFlag.MatchContains)
        editor.completer().setCompletionMode(QCompleter.CompletionMode.PopupCompletion)
        editor.setCurrentIndex(next((n for n, (_, meant) in enumerate(choices) if meant == value), -1))
        editor.lineEdit().editingFinished.connect(self._show_start)
        editor.lineEdit().setCursorPosition(0)
        self._add(name, label, "", why, editor, _plain_text)
        return editor

    def flag(self, name: str, label: str, why: str, value: bool = False) -> QCheckBox:
        """A field to tick."""
        editor = QCheckBox(label, self)
        editor.setChecked(value)
        self._add(name, "", "", why, editor, _plain_text)
        editor.setAccessibleName(label)
        return editor

    def whole(self, widget: QWidget, stretch: bool = False) -> None:
        """A widget over the whole width (a table, a preview)."""
        row = self._grid.rowCount()
        self._grid.addWidget(widget, row, 0, 1, 3)
        if stretch:
            self._grid.setRowStretch(row, 10)

    def heading(self, text: str) -> None:
        """A heading between groups of fields."""
        made = QLabel(text, self)
        made.setProperty("role", "head")
        self._grid.setRowMinimumHeight(self._grid.rowCount(), self._gap)
        self._grid.addWidget(made, self._grid.rowCount(), 0, 1, 3)

    def _show_start(self) -> None:
        """A long word shows its beginning once one is past it."""
        line = self.sender()
        if isinstance(line, QLineEdit):
            line.setCursorPosition(0)

    # --- building ----------------------------------------------------------------------------------------------------

    def _build(self) -> None:
        lead = QLabel(self.lead, self)
        lead.setWordWrap(True)
        body = QWidget(self)
        self._grid = QGridLayout(body)
        self._grid.setContentsMargins(0, 0, self._gap, 0)
        self._grid.setHorizontalSpacing(self._gap)
        self._grid.setVerticalSpacing(0)
        self._grid.setColumnStretch(1, 1)
        self._area = QScrollArea(self)
        self._area.setWidgetResizable(True)
        self._area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._area.setWidget(body)
        self.trouble = QLabel(self)
        self.trouble.setProperty("role", "trouble")
        self.trouble.setTextFormat(Qt.TextFormat.PlainText)
        self.trouble.setWordWrap(True)
        self.trouble.setVisible(False)
        self.save = QPushButton(self.verb, self)
        self.save.setDefault(True)
        self.save.setAutoDefault(True)
        self.save.clicked.connect(self.try_commit)
        self.back = QPushButton("Back", self)
        self.back.setAutoDefault(False)
        self.back.clicked.connect(self.reject)
        self.buttons = QHBoxLayout()
        self.buttons.addStretch(1)
        self.buttons.addWidget(self.save)
        self.buttons.addWidget(self.back)
        column = QVBoxLayout(self)
        column.setContentsMargins(2 * self._gap, 2 * self._gap, 2 * self._gap, 2 * self._gap)
        column.setSpacing(self._gap)
        column.addWidget(lead)
        middle = QHBoxLayout()
        middle.setSpacing(2 * self._gap)
        middle.addWidget(self._area, self.shares[0])
        side = self.aside()
        if side is not None:
            middle.addWidget(side, self.shares[1])
        column.addLayout(middle, 1)
        column.addWidget(self.trouble)
        column.addLayout(self.buttons)
        shortcut = QShortcut(QKeySequence("Ctrl+Return"), self)
        shortcut.activated.connect(self.try_commit)
        what = QShortcut(QKeySequence("Shift+F1"), self)
        what.activated.connect(self.read_here)

    def read_here(self) -> None:
        """The reading room at the field at hand."""
        window = self.parent().window() if self.parent() is not None else None
        field = next((field for field in self.fields.values() if field.editor.hasFocus()), None)
        if field is not None and hasattr(window, "read_about"):
            window.read_about(field.label.replace("&", ""), self.text(field.name), field.why, above=self)

    def _add(self, name: str, label: str, unit: str, why: str, editor: QWidget, read: Callable[[str], Any]) -> None:
        row = self._grid.rowCount()
        if label:
            head = QLabel(label, self)
            head.setBuddy(editor)
            self._grid.addWidget(head, row, 0)
        plain = label.replace("&", "")
        editor.setObjectName(name)
        editor.setAccessibleName(f"{plain} [{unit}]" if unit else plain)
        editor.setAccessibleDescription(why)
        self._grid.addWidget(editor, row, 1)
        if unit:
            self._grid.addWidget(QLabel(unit, self), row, 2)
        below = QLabel(why, self)
        below.setProperty("role", "quiet")
        below.setWordWrap(True)
        below.setContentsMargins(0, 1, 0, self._gap)
        font = below.font()
        font.setPointSizeF(theme.current().points * 0.88)
        below.setFont(font)
        self._grid.addWidget(below, row + 1, 1, 1, 2)
        self.fields[name] = Field(name, label, unit, why, editor, read, below)

    def _enter_order(self) -> None:
        for field in self.fields.values():
            field.editor.installEventFilter(self)
        self._tab_as_one_reads()

    def _tab_as_one_reads(self) -> None:
        """Tab: the fields, then what stands beside them, then the buttons, whatever was made first."""
        chain, at = [], self.nextInFocusChain()
        while at is not self:
            chain.append(at)
            at = at.nextInFocusChain()
        stops = [one for one in chain if one.focusPolicy() & Qt.FocusPolicy.TabFocus]
        buttons = [one for one in stops if one.parent() is self and isinstance(one, QPushButton)]
        inside = [one for one in stops if self._area.isAncestorOf(one)]
        beside = [one for one in stops if one not in buttons and one not in inside]
        order = [*inside, *beside, *buttons]
        for before, after in pairwise(order):
            QWidget.setTabOrder(before, after)

    def _wanted_width(self) -> int:
        """As wide as the form asks, a little more in the large mode, up to what the screen has [px]."""
        now = theme.current()
        wanted = round(self.width * now.scale * (1.15 if now.large else 1.0))
        return max(400, min(self.screen().availableGeometry().width() - 24, wanted))

    def _wanted_height(self) -> int:
        """So high that all fields show, up to what the screen has [px]."""
        inside = self._area.widget().sizeHint().height()
        around = 10 * self._gap + 2 * theme.current().target_px
        return max(300, min(self.screen().availableGeometry().height() - 48, inside + around))

    def _first(self) -> QWidget:
        typed = [f.editor for f in self.fields.values() if _is_typed(f.editor)]
        empty = [editor for editor in typed if not self.text(editor.objectName())]
        return empty[0] if empty else next((f.editor for f in self.fields.values()), self.save)

    # --- keys --------------------------------------------------------------------------------------------------------

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Enter goes to the next field, from the last one to the button."""
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress and is_enter(event):
            if isinstance(watched, QLineEdit) and watched.completer() and watched.completer().popup().isVisible():
                return False
            self._after(watched)
            return True
        return super().eventFilter(watched, event)

    def _after(self, editor: QObject) -> None:
        editors = [field.editor for field in self.fields.values() if field.editor.isVisibleTo(self)]
        place = editors.index(editor) + 1 if editor in editors else len(editors)
        following = editors[place] if place < len(editors) else self.after_fields()
        following.setFocus(Qt.FocusReason.TabFocusReason)
        self._area.ensureWidgetVisible(following)

    def after_fields(self) -> QWidget:
        """Where Enter goes from the last field: a table of the form, else the button."""
        table = self.findChild(QAbstractItemView, "rows")
        return table if table is not None else self.save

    # --- reading -----------------------------------------------------------------------------------------------------

    def text(self, name: str) -> str:
        """What stands in a field."""
        editor = self.fields[name].editor
        return editor.currentText() if isinstance(editor, QComboBox) else editor.text()

    def set_text(self, name: str, text: str) -> None:
        """Puts a text into a field."""
        editor = self.fields[name].editor
        if isinstance(editor, QComboBox):
            editor.setCurrentText(text)
            if editor.isEditable():
                editor.lineEdit().setCursorPosition(0)
        else:
            editor.setText(text)
            editor.setCursorPosition(0)

    def read(self) -> dict[str, Any] | None:
        """Every field's value; None (and the field marked, and the first one focused) where one cannot be read."""
        values: dict[str, Any] = {}
        first: QWidget | None = None
        for field in self.fields.values():
            wrong = ""
            try:
                values[field.name] = self._value(field)
            except FieldError as problem:
                wrong = str(problem)
                first = first or field.editor
            self._say(field, wrong)
        if first is not None:
            first.setFocus()
            self._area.ensureWidgetVisible(first)
            return None
        return values

    def _value(self, field: Field) -> Any:
        if isinstance(field.editor, QCheckBox):
            return field.editor.isChecked()
        if isinstance(field.editor, QComboBox):
            return _chosen(field.editor)
        return field.read(field.editor.text())

    def _say(self, field: Field, wrong: str) -> None:
        field.below.setText(wrong or field.why)
        field.editor.setAccessibleDescription(wrong or field.why)
        for widget, name, value in (
            (field.below, "role", "trouble" if wrong else "quiet"),
            (field.editor, "trouble", "true" if wrong else "false"),
        ):
            if widget.property(name) != value:
                widget.setProperty(name, value)
                widget.style().unpolish(widget)
                widget.style().polish(widget)

    def wrong_at(self, name: str) -> str:
        """What is said to be wrong with a field, or ''."""
        below = self.fields[name].below
        return below.text() if below.property("role") == "trouble" else ""

    def try_commit(self) -> None:
        """Reads the fields and runs the verb; stays open where either fails."""
        values = self.read()
        if values is None:
            return
        try:
            self.commit(values)
        except FieldError as wrong:
            self.show_trouble(str(wrong))
        except BenchProblem as problem:
            self.show_trouble(f"{problem.what}\n{problem.means}\n{problem.do}")
        else:
            self.accept()

    def accept(self) -> None:
        """Closes, and goes on with the form that was asked for."""
        super().accept()
        if self.then is not None:
            from benchapp.window.dialogs import forms

            which, more = self.then
            forms.show(which, self.session, self.parentWidget(), **more)

    def show_trouble(self, text: str) -> None:
        """Says above the buttons why nothing was entered."""
        self.trouble.setText(text)
        self.trouble.setVisible(True)


def _is_typed(editor: QWidget) -> bool:
    return isinstance(editor, QLineEdit) or (isinstance(editor, QComboBox) and editor.isEditable())


def _chosen(box: QComboBox) -> Any:
    """What a box stands for. Raises FieldError where its text is none of its words."""
    if not box.isEditable():
        return box.currentData()
    place = box.findText(box.currentText().strip(), Qt.MatchFlag.MatchFixedString)
    if place < 0:
        text = box.currentText().strip()
        raise FieldError(f"“{text}” is not in the list. Choose one of it." if text else "Choose one of the list.")
    return box.itemData(place)


def is_enter(event: QKeyEvent) -> bool:
    """Enter or Return without Ctrl, Shift or Alt."""
    plain = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier == Qt.KeyboardModifier.NoModifier
    return plain and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)


def _plain_text(text: str) -> str:
    return text.strip()


def _needed_text(text: str) -> str:
    if not text.strip():
        raise FieldError("This is needed.")
    return text.strip()


class OnEngine(Form):
    """A form on a build of the engine at hand: a new entry, one like an earlier one, or the correction of one.

    `old`: the records to correct (those that were entered together), in build `number`. `like`: the records whose
    answers stand in a new entry already."""

    correction: ClassVar[str] = ""
    """Its title when it corrects, '' where it cannot."""

    def __init__(
        self,
        session: Any,
        parent: QWidget | None = None,
        *,
        old: Sequence[Any] = (),
        like: Sequence[Any] = (),
        number: str = "",
    ) -> None:
        self.engine = session.bench.engine(session.selected_engine)
        self.build = session.bench.current_build(self.engine.name)
        if number:
            self.build = session.bench.build(self.engine.name, number)
        self.old = tuple(old)
        self.start = self.old or tuple(like)
        """Records whose answers stand in the fields already."""
        super().__init__(session, parent)
        at = f", build {self.build.number}" if self.build else ""
        self.setWindowTitle(f"{self.correction if self.old else self.title}: {self.engine.name}{at}")
        if self.old:
            self.save.setText("Save correction")
            self._add_withdraw()

    def _add_withdraw(self) -> None:
        self.withdraw = QPushButton("&Withdraw it", self)
        self.withdraw.setAutoDefault(False)
        self.withdraw.setToolTip("Hides this entry; undo brings it back")
        self.withdraw.clicked.connect(self._withdraw)
        self.buttons.addSpacing(3 * self._gap)
        self.buttons.addWidget(self.withdraw)

    def _withdraw(self) -> None:
        try:
            self.take_away()
        except BenchProblem as problem:
            self.show_trouble(f"{problem.what}\n{problem.means}\n{problem.do}")
        else:
            self.accept()

    def take_away(self) -> None:
        """Withdraws the entry. Raises BenchProblem."""
        from benchapp.actions import events

        self.session.run_or_raise(
            events.void_all, self.engine.name, self.the_build(), self.old, "withdrawn in the log"
        )

    def put(self, *records: Any) -> None:
        """Enters the records, in the place of those that are corrected. Raises BenchProblem."""
        from benchapp.actions import events

        if self.old:
            self.session.run_or_raise(events.replace, self.engine.name, self.the_build(), self.old, records)
        else:
            self.session.run_or_raise(events.add, self.engine.name, self.the_build(), *records)

    def before(self, name: str, otherwise: Any = None) -> Any:
        """What stands in the record to start from, or `otherwise` in an entry of its own."""
        return getattr(self.start[0], name) if self.start else otherwise

    @property
    def hours_now(self) -> float | None:
        """Running hours of the build so far [h]."""
        from benchapp.actions.looks import build_hours

        return build_hours(self.build) if self.build else None

    def the_build(self) -> str:
        """Number of the build, needed for an entry. Raises FieldError."""
        if self.build is None:
            raise FieldError(f"{self.engine.name} has no build yet. Add one first: menu Bench, New build.")
        return self.build.number

    def hours(self, why: str = "Running hours since this build's first start.") -> QLineEdit:
        """The field for build hours: those of the entry that is corrected, else those so far."""
        hours = self.old[0].build_h if self.old else self.hours_now
        return self.number("build_h", "Build &hours", "h", why, hours, needed=True, high=20000.0)
