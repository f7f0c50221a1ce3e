"""Below the fleet: the engine at hand. Its call and why on the left; samples, parts, log and ledger on the right."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QSplitter, QTabWidget, QVBoxLayout, QWidget

from benchapp.actions.looks import EngineLook, TellApart
from benchapp.records import Call
from benchapp.window import log_table, spacing, units
from benchapp.window.fleet import columns
from benchapp.window.fleet.apart import ApartPanel
from benchapp.window.fleet.reasons import NO_CALL, ReasonList, label, stands_on
from benchapp.window.log_table import LogTable
from benchapp.window.marks import MarkWidget
from benchapp.window.tables import RowsModel, Table

LEDGER_NOTE = (
    "A lower bound: the spectrometer sees only fine metal. Depth where a part's area and density are known, "
    "against the thickness of its layer."
)


class Detail(QWidget):
    """Shows one engine. It asks for nothing itself: the view hands it rows."""

    sample_opened = Signal(str)
    new_sample_asked = Signal()
    trend_asked = Signal(str)
    sheet_asked = Signal()
    part_opened = Signal(str)

    def __init__(self, session: Any, parent: QWidget | None = None, *, staged: bool = False) -> None:
        """`staged`: whoever makes it goes through `pieces`."""
        super().__init__(parent)
        self._session = session
        self.setAccessibleName("Engine at hand")
        if not staged:
            for _ in self.pieces():
                pass

    def pieces(self) -> Iterator[None]:
        """Makes the pane, with a `yield` wherever the window may have a turn."""
        outer = QVBoxLayout(self)
        spacing.around(outer, 2, 1, 2, 1)
        spacing.between(outer, 1)
        outer.addLayout(self._head())
        yield
        self.split = QSplitter(Qt.Orientation.Horizontal, self)
        self.split.setChildrenCollapsible(False)
        spacing.handle(self.split, 2)
        self.split.addWidget(self._left())
        yield
        yield from self._tabs()
        self.split.addWidget(self.tabs)
        self.split.setStretchFactor(0, 2)
        self.split.setStretchFactor(1, 3)
        self.split.setSizes([440, 660])
        outer.addWidget(self.split, 1)
        yield

    # --- building ----------------------------------------------------------------------------------------------------

    def _head(self) -> QHBoxLayout:
        self.name = label("", self, "title")
        self.name.setWordWrap(False)
        self.facts = label("", self, "quiet")
        blank = "An empty form for this engine (Ctrl+Return)"
        self.new_sample = self._button("New sample", blank, self.new_sample_asked.emit)
        self.trend = self._button("Trend", "Its readings over its hours (Ctrl+T)", self._ask_trend)
        self.sheet = self._button("Sheet", "The page with its call: see, print, save (Ctrl+P)", self.sheet_asked.emit)
        row = QHBoxLayout()
        spacing.between(row, 1)
        row.addWidget(self.name)
        row.addWidget(self.facts, 1)
        for button in (self.new_sample, self.trend, self.sheet):
            row.addWidget(button)
        return row

    def _button(self, text: str, why: str, method) -> QPushButton:
        button = QPushButton(text, self)
        button.setToolTip(why)
        button.setAutoDefault(False)
        button.clicked.connect(method)
        return button

    def _left(self) -> QWidget:
        pane = QWidget(self)
        self.mark = MarkWidget("", 1.5, pane)
        self.word = QLabel("", pane)
        self.word.setProperty("role", "title")
        self.sentence = label("", pane)
        self.stands = label("", pane, "quiet")
        head = QHBoxLayout()
        spacing.between(head, 1)
        head.addWidget(self.mark)
        head.addWidget(self.word)
        head.addStretch(1)
        # all but the word of the call is scrolled where there is no room for it
        self.reasons = ReasonList(pane, above=(self.sentence, self.stands))
        self.reasons.trend_asked.connect(self.trend_asked)
        column = QVBoxLayout(pane)
        column.setContentsMargins(0, 0, 0, 0)
        spacing.between(column, 0.5)
        column.addLayout(head)
        column.addWidget(self.reasons, 1)
        pane.setMinimumWidth(240)
        return pane

    def _tabs(self) -> Iterator[None]:
        self.samples = Table(RowsModel(columns.SAMPLES, columns.sample_key), "Samples of this engine")
        self.samples.opened.connect(self.sample_opened)
        self.parts = Table(RowsModel(columns.PARTS, columns.part_key), "Parts of this build")
        self.parts.opened.connect(self.part_opened)
        yield
        self.apart = ApartPanel()
        self.log = LogTable(self._session, "Log of this engine")
        self.ledger = Table(RowsModel(columns.LEDGER, columns.ledger_key), "Metal lost over this build")
        yield
        tabs = QTabWidget(self)
        tabs.setAccessibleName("Samples, parts, told apart, log, ledger")
        tabs.tabBar().setAccessibleName(tabs.accessibleName())
        tabs.setDocumentMode(True)
        tabs.tabBar().setExpanding(False)
        tabs.tabBar().setDrawBase(False)
        tabs.addTab(self.samples, "S&amples")
        tabs.addTab(self.parts, "&Parts")
        yield
        tabs.addTab(self.apart, "&Told apart")
        tabs.addTab(self._with_note(self.log, log_table.NOTE), "L&og")
        self.log_page = tabs.widget(tabs.count() - 1)
        tabs.addTab(self._with_note(self.ledger, LEDGER_NOTE), "Led&ger")
        tabs.setMinimumWidth(320)
        self.tabs = tabs
        yield

    def _with_note(self, table: Table, note: str) -> QWidget:
        page = QWidget(self)
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(table, 1)
        column.addWidget(label(note, page, "quiet"))
        return page

    # --- showing -----------------------------------------------------------------------------------------------------

    def show_engine(self, look: EngineLook | None, call: Call | None, why_none: str = NO_CALL) -> None:
        """Shows an engine with its latest call; None empties the pane."""
        self.show_records(look, call)
        if look is not None:
            self.show_call(call, why_none)

    def show_records(self, look: EngineLook | None, call: Call | None) -> None:
        """Shows what is known of an engine besides its call, and whether there is one; None empties the pane."""
        self.setVisible(look is not None)
        if look is None:
            return
        self.name.setText(look.engine)
        self.facts.setText(facts(look))
        self.samples.rows.set_rows(look.samples)
        self.parts.rows.set_rows(look.parts)
        self.log.show_log(look.engine, look.log)
        self.trend.setEnabled(bool(look.samples))
        self.sheet.setEnabled(call is not None)

    def show_call(self, call: Call | None, why_none: str = NO_CALL) -> None:
        call = units.call_in_words(call) if call else None
        self.mark.set_call(call.call if call else "")
        self.word.setText(call.call if call else "No call yet")
        self.sentence.setText(call.sentence if call else "")
        self.sentence.setVisible(call is not None)
        self.stands.setText(stands_on(call) if call else "")
        self.stands.setVisible(call is not None)
        self.reasons.show_call(call, why_none)
        self.ledger.rows.set_rows(call.ledger if call else ())
        self.order()

    def order(self) -> None:
        """Tab goes as one reads: buttons, reasons, tabs."""
        stops: list[QWidget] = [self.new_sample, self.trend, self.sheet]
        for line in self.reasons.lines:
            stops.extend(line.stops())
        stops += [self.tabs.tabBar(), self.samples, self.parts, self.log, self.ledger]
        for before, after in pairwise(stops):
            self.setTabOrder(before, after)

    def show_apart(self, found: TellApart | None, trouble: str = "") -> None:
        """Shows which parts can be told apart."""
        self.apart.show_found(found, trouble)

    def _ask_trend(self) -> None:
        self.trend_asked.emit("")


def facts(look: EngineLook) -> str:
    """What is known of an engine, in one quiet line."""
    words = [look.family]
    if look.car:
        words.append(f"car {look.car}")
    if look.build:
        words.append(f"build {look.build}" + (f" of {columns.day(look.built_on)}" if look.built_on else ""))
        words.append(f"{look.build_h:.1f} h")
    words.extend((units.in_words(f"sump {look.sump}"), f"oil: {look.oil}"))
    return " · ".join(words)
