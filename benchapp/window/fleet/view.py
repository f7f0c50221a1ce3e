"""The fleet: which engines may run? One row an engine, the engine at hand below."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any, ClassVar

from PySide6.QtCore import QByteArray, QEvent, QObject, Qt, QTimer
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QSizePolicy,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from benchapp.actions import looks, photo
from benchapp.actions.bench import Bench
from benchapp.actions.looks import FleetRow, TellApart
from benchapp.problems import BenchProblem
from benchapp.records import CALL_WORDS, Call, Fleet, Flip
from benchapp.window import log_table, marks, settings, spacing, theme, units
from benchapp.window.dialogs import forms
from benchapp.window.fleet import columns
from benchapp.window.fleet.detail import Detail
from benchapp.window.fleet.empty import EmptyFleet
from benchapp.window.fleet.reasons import NO_CALL
from benchapp.window.tables import RowsModel, Table
from benchapp.window.view import View


class FleetView(View):
    """See the module."""

    title = "Fleet"
    question = "Which engines may run?"
    keys: ClassVar[tuple[tuple[str, str], ...]] = (
        ("Ctrl+F", "Filter the engines"),
        ("Enter", "On an engine: its samples. On a sample: open it. On a part: change it. In the log: correct it"),
        ("Ctrl+J", "The log of the engine at hand"),
        *log_table.KEYS,
        ("Ctrl+T", "Trend of the engine at hand"),
        ("Ctrl+Return", "New sample of the engine at hand"),
    )
    help_text = (
        "One row an engine, with the call for its last sample and what it is bearing on. "
        "Pick an engine to see why, its samples, its parts, its log and the metal lost so far."
    )

    def pieces(self) -> Iterator[None]:
        self.table = Table(RowsModel(columns.FLEET, columns.fleet_key, columns.fleet_words), "Engines", self)
        self.table.picked.connect(self._picked)
        self.table.opened.connect(self._opened)
        yield
        self.detail = Detail(self.session, self, staged=True)
        yield from self.detail.pieces()
        self.empty = EmptyFleet(self)
        self._apart_for = ""
        self._detail_of = ""
        """The engine whose detail is shown."""
        self._wanted = ""
        """The engine that was picked elsewhere while this view was in the back."""
        self._flips_for: tuple[Any, ...] = ()
        self._shown: Any = None
        self._to_show: Iterator[None] = iter(())
        self._soon = QTimer(self)
        """Calls that arrived: the table shows them at once, the detail a piece in each turn, once for several."""
        self._soon.setInterval(SOON_MS)
        self._soon.timeout.connect(self._show_next)
        yield from self._build()
        self._connect()
        yield

    def _build(self) -> Iterator[None]:
        self.split = QSplitter(Qt.Orientation.Vertical, self)
        self.split.setChildrenCollapsible(False)
        spacing.handle(self.split, 1)
        top = QWidget(self)
        inner = QVBoxLayout(top)
        spacing.around(inner, 2, 0, 2, 0)
        inner.addWidget(self.table)
        self.split.addWidget(top)
        yield
        self.split.addWidget(self.detail)
        yield
        self.split.setStretchFactor(0, 1)
        self.split.setStretchFactor(1, 1)
        place = settings.settings().value("fleet/split")
        if isinstance(place, QByteArray):
            self.split.restoreState(place)
        self.pages = QStackedWidget(self)
        self.pages.addWidget(self.split)
        self.pages.addWidget(self.empty)
        yield
        column = QVBoxLayout(self)
        spacing.around(column, 0, 1, 0, 0)
        spacing.between(column, 1)
        column.addLayout(self._head())
        column.addWidget(self.pages, 1)
        for before, after in ((self.filter, self.add), (self.add, self.table), (self.table, self.detail.new_sample)):
            self.setTabOrder(before, after)
        self.detail.order()

    def _head(self) -> QHBoxLayout:
        head = QLabel(self.question, self)
        head.setProperty("role", "title")
        self.counts = QLabel(self)
        self.counts.setProperty("role", "quiet")
        self.counts.setWordWrap(True)
        self.counts.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.filter = QLineEdit(self)
        self.filter.setPlaceholderText("Filter the engines")
        self.filter.setClearButtonEnabled(True)
        self.filter.setAccessibleName("Filter the engines")
        self._fit()
        self.filter.textChanged.connect(self._filter)
        self.filter.installEventFilter(self)
        self.add = QPushButton("Add engine…", self)
        self.add.setToolTip("An engine, from a family (Ctrl+N)")
        self.add.setAutoDefault(False)
        row = QHBoxLayout()
        spacing.around(row, 2, 0, 2, 0)
        spacing.between(row, 2)
        row.addWidget(head)
        row.addWidget(self.counts, 3)
        row.addWidget(self.filter, 2)
        row.addWidget(self.add)
        return row

    def _connect(self) -> None:
        self.add.clicked.connect(self._add_engine)
        self.empty.add_asked.connect(self._add_engine)
        self.empty.load_asked.connect(self._load_workbook)
        self.detail.sample_opened.connect(self.session.open_sample)
        self.detail.new_sample_asked.connect(self._new_sample)
        self.detail.trend_asked.connect(self._trend)
        self.detail.sheet_asked.connect(self._sheet)
        self.detail.part_opened.connect(self._part)
        self.detail.samples.picked.connect(self._sample_picked)
        self.split.splitterMoved.connect(self._split_moved)
        self.session.engine_selected.connect(self._engine_selected)
        theme.follow(self, self._fit)
        for keys, method in (
            ("Ctrl+F", self._to_filter),
            ("Ctrl+T", self._trend),
            ("Ctrl+Return", self._new_sample),
            ("Ctrl+J", self.show_log),
        ):
            shortcut = QShortcut(QKeySequence(keys), self)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.activated.connect(method)

    # --- showing -----------------------------------------------------------------------------------------------------

    def refresh(self, changed: Any | None) -> None:
        if changed is None or changed.engines or changed.touches("engine", "build", "family", "material", "oil"):
            self._apart_for = ""
        self._show_rows()

    def calls_arrived(self) -> None:
        rows = self._show_table()
        if self.table.key() and self.isVisible():
            self._to_show = self._detail_pieces()
            self._soon.start()
        else:
            self._pick_one(rows)

    def fill(self) -> Iterator[None]:
        rows = self._show_table()
        yield
        self._pick_one(rows)
        yield

    def showEvent(self, event) -> None:
        super().showEvent(event)
        if self._wanted:
            wanted, self._wanted = self._wanted, ""
            self.show_engine(wanted)

    def _show_rows(self) -> None:
        self._pick_one(self._show_table())

    def _show_table(self) -> tuple[FleetRow, ...]:
        fleet = self.session.fleet
        self.pages.setCurrentWidget(self.split if fleet.engines else self.empty)
        self.filter.setVisible(bool(fleet.engines))
        self.add.setVisible(bool(fleet.engines))
        now = dt.datetime.now()  # noqa: DTZ005  (local, as entered)
        rows = looks.fleet_rows(fleet, self.session.calls, now, self.session.being_judged())
        self.table.rows.set_rows(rows)
        self.counts.setText(counted(rows))
        return rows

    def _pick_one(self, rows: tuple[FleetRow, ...]) -> None:
        if self.table.key() or not self._pick_first(rows):
            self._show_detail()

    def _pick_first(self, rows: tuple[FleetRow, ...]) -> bool:
        """Picks the engine at hand, else the first one, and with it its detail. False: there is none to pick."""
        wanted = self.session.selected_engine
        if not (wanted and self.table.pick(wanted)) and rows and self.table.rows.rowCount():
            self.table.setCurrentIndex(self.table.rows.index(0, 0))
        return bool(self.table.key())

    @property
    def behind(self) -> bool:
        """Calls have arrived that the detail does not show yet."""
        return self._soon.isActive()

    def _show_next(self) -> None:
        if next(self._to_show, self) is self:
            self._soon.stop()

    def _show_detail(self) -> None:
        self._soon.stop()
        for _ in self._detail_pieces():
            pass

    def _detail_pieces(self) -> Iterator[None]:
        engine, bench = self.table.key(), self.session.bench
        self._detail_of = engine
        # another file may have been opened since the table was filled: what it shows is filled anew in a later turn
        if not engine or bench is None or all(one.name != engine for one in self.session.fleet.engines):
            self._shown = None
            self.detail.show_engine(None, None)
            return
        calls = self.session.calls_of(engine)
        photos = self.session.look(photo.of_engine, engine) if isinstance(bench, Bench) else None
        look = looks.describe(self.session.fleet, engine, calls, bench.materials(), bench.families(), photos)
        row = self._row(engine)
        shown = (look, row.call if row else None, self._why_none(row))
        read_in = tuple(map(units.current, units.CHOICES))
        if (shown, read_in) != self._shown:  # a reason that was opened stays open while others are judged
            self._shown = None
            self.detail.show_records(*shown[:2])
            yield
            if self.session.bench is not bench:
                return
            self.detail.show_call(*shown[1:])
            self._shown = shown, read_in
            self._flips_for = ()
        self._ask_apart(engine)
        self._ask_flips(shown[1])

    def _row(self, engine: str) -> FleetRow | None:
        return next((row for row in self.table.rows.shown() if row.engine == engine), None)

    def _why_none(self, row: FleetRow | None) -> str:
        """Why there is no call, where there is none."""
        if row is not None and row.call is not None:
            return ""
        if row is None or not row.sample:
            return NO_CALL
        return BEING_JUDGED if row.engine in self.session.being_judged() else NOT_JUDGED

    def _ask_apart(self, engine: str) -> None:
        if engine == self._apart_for:
            return
        self._apart_for = engine
        self.detail.show_apart(None)
        args = (self.session.fleet, engine, self.session.bench.materials())
        self.session.background(apart_or_why, args, self._apart_found, kind="apart")

    def _apart_found(self, answer: tuple[str, TellApart | None, str]) -> None:
        engine, found, trouble = answer
        if engine == self._apart_for:
            self.detail.show_apart(found, trouble)

    def _ask_flips(self, call: Call | None) -> None:
        asked = (call, self.session.fleet)
        if call is None or (self._flips_for and all(a is b for a, b in zip(asked, self._flips_for, strict=True))):
            return
        self._flips_for = asked
        self.session.background(flips_of, (self.session.fleet, call), self._flips_found, kind="flips")

    def _flips_found(self, answer: tuple[Call, tuple[Flip, ...]]) -> None:
        call, found = answer
        if self._flips_for and self._flips_for[0] is call:
            self.detail.reasons.show_flips(found)

    # --- what the person does ----------------------------------------------------------------------------------------

    def _picked(self, engine: str) -> None:
        self.session.select(engine)
        self._show_detail()

    def _opened(self, _engine: str) -> None:
        self.detail.tabs.setCurrentWidget(self.detail.samples)
        self.detail.samples.setFocus()
        if not self.detail.samples.key() and self.detail.samples.rows.rowCount():
            self.detail.samples.setCurrentIndex(self.detail.samples.rows.index(0, 0))

    def _engine_selected(self, engine: str) -> None:
        self._wanted = ""
        if not engine or engine == self.table.key():
            return
        if self.isVisible():
            self.show_engine(engine)
        else:
            self._wanted = engine

    def show_engine(self, engine: str, element: str = "") -> None:
        if not self.table.pick(engine) and self.filter.text():
            self.filter.clear()
            self.table.pick(engine)

    def show_part(self, part: str) -> None:
        """Shows this part of the engine at hand."""
        self.detail.tabs.setCurrentWidget(self.detail.parts)
        self.detail.parts.pick(part)
        self.detail.parts.setFocus()

    def _sample_picked(self, code: str) -> None:
        if self.table.key():
            self.session.select(self.table.key(), code)

    def _filter(self, text: str) -> None:
        self.table.rows.set_filter(text)
        self.counts.setText(counted(self.table.rows.shown()))
        if not self.table.key() and self.table.rows.rowCount():
            self.table.setCurrentIndex(self.table.rows.index(0, 0))
        if self.table.key() != self._detail_of:  # picking another row has shown it already
            self._show_detail()

    def _to_filter(self) -> None:
        self.filter.setFocus()
        self.filter.selectAll()

    def _add_engine(self) -> None:
        forms.show(forms.ENGINE, self.session, self.window())

    def _load_workbook(self) -> None:
        load = getattr(self.window(), "load_workbook", None)
        if load is not None:
            load()

    def _new_sample(self) -> None:
        if self.table.key():
            self.session.new_sample(self.table.key())

    def _trend(self, source: str = "") -> None:
        if self.table.key():
            self.session.show_trend(self.table.key(), source)

    def _sheet(self) -> None:
        print_sheet = getattr(self.window(), "print_sheet", None)
        if print_sheet is not None:
            print_sheet()

    def _part(self, part: str) -> None:
        self.session.select(self.table.key())
        row = next((row for row in self.detail.parts.rows.shown() if row.part == part), None)
        if row is not None and row.fitting is not None and not row.material_id:  # no part of the family: only fitted
            number = self.session.bench.current_build(self.table.key()).number
            forms.show(forms.FITTING, self.session, self.window(), old=(row.fitting,), number=number)
        else:
            forms.show(forms.PART, self.session, self.window(), part=part)

    # --- the log -----------------------------------------------------------------------------------------------------

    def show_log(self) -> None:
        """The log of the engine at hand."""
        self.detail.tabs.setCurrentWidget(self.detail.log_page)
        self.detail.log.setFocus()
        if not self.detail.log.key() and self.detail.log.rows.rowCount():
            self.detail.log.setCurrentIndex(self.detail.log.rows.index(0, 0))

    def export_table(self) -> None:
        """Writes the engines as they stand in the table."""
        from benchapp.window.dialogs.export import export_rows

        export_rows(self.session, self.window(), "Fleet", self.table)

    def focus_first(self) -> None:
        (self.table if self.session.fleet.engines else self.empty.add).setFocus()

    def _split_moved(self, _place: int, _index: int) -> None:
        settings.keep("fleet/split", self.split.saveState())

    def _fit(self) -> None:
        scale = theme.current().scale
        self.filter.setMaximumWidth(round(240 * scale))
        self.filter.setMinimumWidth(round(120 * scale))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Enter or Down in the filter goes to the engines, Esc empties it."""
        if watched is self.filter and isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Down):
                self.table.setFocus()
                return True
            if event.key() == Qt.Key.Key_Escape and self.filter.text():
                self.filter.clear()
                return True
        return super().eventFilter(watched, event)


SOON_MS = 25
"""Between the pieces of a detail that follows the judging [ms]: the table is painted meanwhile."""
BEING_JUDGED = "The last sample is being judged…"
NOT_JUDGED = "The last sample could not be judged. Open it (Enter on the sample) and look what is missing."


def apart_or_why(fleet, engine: str, materials) -> tuple[str, TellApart | None, str]:
    """What can be told apart in an engine, or why that cannot be said (a pure function for the background)."""
    try:
        found = looks.tell_apart_engine(fleet, engine, materials)
    except BenchProblem as problem:
        return engine, None, f"{problem.what} {problem.means} {problem.do}"
    return engine, found, "" if found else "No build yet: add one (menu Bench) and its parts are shown here."


def flips_of(fleet: Fleet, call: Call) -> tuple[Call, tuple[Flip, ...]]:
    """Which uncertain inputs would turn a call (a pure function for the background)."""
    from benchapp.actions.call import flips_in

    return call, flips_in(fleet, call.engine, call.build, call.sample)


def counted(rows: tuple[FleetRow, ...]) -> str:
    """How many engines have which call, gravest first, mark and word."""
    words = [columns.call_word(row) for row in rows]
    parts = [f"{marks.words(call)} {words.count(call)}" for call in reversed(CALL_WORDS) if call in words]
    none = words.count("")
    if none:
        parts.append(f"no call {none}")
    return "    ".join(part.replace(" ", "\u00a0") for part in parts)  # a number stays at its call
