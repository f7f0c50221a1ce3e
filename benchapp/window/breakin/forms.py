"""Two forms of the break-in: dyno pulls typed or pasted, and the stages of a plan."""

from __future__ import annotations

from functools import partial
from typing import Any, ClassVar

from PySide6.QtCore import Signal
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QWidget

from benchapp.actions import breakin, pull_table
from benchapp.breakin import stages
from benchapp.intake.read import read_file, read_text
from benchapp.problems import BenchProblem
from benchapp.window.dialogs import ask
from benchapp.window.dialogs.form import FieldError, OnEngine
from benchapp.window.dialogs.rows import Typed, TypedTable

WHY = {
    "pull": "Its name or number; without one it takes the next",
    "hours": "Running hours since this build's first start",
    "power": "Peak power as measured; kW, hp or PS",
    "air": "Temperature of the air the engine breathes, °C or °F",
    "pressure": "Air pressure as it is there (not to sea level): kPa, hPa, mbar or inHg",
    "humidity": "Relative humidity of that air",
}
WIDTHS = {"pull": 7, "hours": 10, "power": 9, "air": 8, "pressure": 11, "humidity": 10}


class PullsTable(TypedTable):
    """A block with heads, or one pasted into the first cell, is arranged by its columns; anything else fills cells."""

    pasted = Signal(str)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.matches(QKeySequence.StandardKey.Paste):
            text = QGuiApplication.clipboard().text()
            if "\t" in text or "\n" in text.strip():
                self.pasted.emit(text)
                return
        super().keyPressEvent(event)


class PullsForm(OnEngine):
    """Dyno pulls, typed or pasted from a spreadsheet export."""

    title: ClassVar[str] = "Dyno pulls"
    lead: ClassVar[str] = (
        "Type the pulls, or copy them in the spreadsheet and paste here (Ctrl+V), heads and all. "
        "Without air temperature, pressure and humidity a pull is kept but cannot be corrected."
    )
    verb: ClassVar[str] = "Add pulls"
    width: ClassVar[int] = 1000
    caution_where: ClassVar[str] = "dyno"

    def aside(self) -> QWidget | None:
        """The table needs the width: the cautions stand below it."""
        return None

    def make(self) -> None:
        self._left_out: list[str] = []
        units = [(unit, unit) for unit in pull_table.POWER_UNITS]
        box = self.choice("unit", "Power &unit", "Of powers that stand without a unit.", units, "kW")
        box.currentIndexChanged.connect(self._unit_chosen)
        columns = [
            Typed(
                pull_table.TITLES[name], partial(self._wrong, name), WIDTHS[name], WHY[name],
                number=name != "pull", stretch=name == "humidity",
            )
            for name in pull_table.COLUMNS
        ]  # fmt: skip
        self.table = PullsTable(columns, "Dyno pulls", self)
        self.table.pasted.connect(self.paste)
        self.table.typed.edited.connect(self._say_problems)
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 7)
        self.whole(self.table, stretch=True)
        row = QWidget(self)
        line = QHBoxLayout(row)
        line.setContentsMargins(0, 0, 0, 0)
        for text, why, method in (
            ("&Paste", "Takes the block on the clipboard (Ctrl+V)", self.paste_clipboard),
            ("&Open a file…", "Takes the pulls of a spreadsheet or text file", self.open_file),
        ):
            button = QPushButton(text, row)
            button.setToolTip(why)
            button.setAutoDefault(False)
            button.clicked.connect(method)
            line.addWidget(button)
        line.addStretch(1)
        self.whole(row)
        said = QLabel(f"Caution: {' '.join(self.cautions())}", self)
        said.setWordWrap(True)
        self.whole(said)

    def _unit(self) -> str:
        return self.text("unit") if "unit" in self.fields else "kW"

    def _wrong(self, name: str, text: str) -> str:
        return pull_table.wrong(name, text, self._unit())

    def _unit_chosen(self, _index: int) -> None:
        self.table.viewport().update()
        self._say_problems()

    def _say_problems(self) -> None:
        """Above the buttons: what cannot be read yet, and what was left out."""
        found = pull_table.problems_of(self.table.typed.rows(), self._unit())
        said = found[:4] + ([f"… and {len(found) - 4} more."] if len(found) > 4 else []) + self._left_out
        self.show_trouble("\n".join(said))
        self.trouble.setVisible(bool(said))

    def paste_clipboard(self) -> None:
        self.paste(QGuiApplication.clipboard().text())

    def paste(self, text: str) -> None:
        """Takes a block of a spreadsheet."""
        self._take(lambda: read_text(text, "clipboard"))

    def open_file(self) -> None:
        path = self.session.ask.open_file(self, "Open dyno pulls", ask.TABLES)
        if path:
            self._take(lambda: read_file(path))

    def _take(self, read) -> None:
        try:
            arranged = pull_table.arrange(read())
        except BenchProblem as problem:
            self.show_trouble(f"{problem.what}\n{problem.means}\n{problem.do}")
            return
        held = self.table.typed.rows()
        self.table.typed.set_rows([*held, *(list(row) for row in arranged.rows)])
        self._left_out = [f"Columns left out: {', '.join(arranged.left_out)}."] if arranged.left_out else []
        self._say_problems()
        self.table.setFocus()

    def commit(self, values: dict[str, Any]) -> None:
        rows = self.table.typed.rows()
        self.session.run_or_raise(breakin.take_pulls, self.engine.name, self.the_build(), rows, values["unit"])


class PlanForm(OnEngine):
    """The stages of a plan, kept for all engines of the family."""

    title: ClassVar[str] = "Break-in plan"
    verb: ClassVar[str] = "Keep for the family"
    width: ClassVar[int] = 1180

    def __init__(self, session: Any, parent: QWidget | None = None, *, plan: stages.Plan) -> None:
        self.plan = plan
        super().__init__(session, parent)

    @property
    def lead(self) -> str:  # type: ignore[override]
        return (
            f"{self.plan.name}. Origin: {self.plan.origin}. What you keep here is this family's own plan; the plans "
            "that come with the program stay as they are."
        )

    def make(self) -> None:
        widths = (20, 9, 9, 9, 11, 10, 30, 20)
        columns = [
            Typed(
                name, partial(stages.wrong_cell, name), width, suggest=stages.LOADS if name == "Load" else (),
                number="rpm" in name or name == "Minutes", stretch=name == stages.CELLS[-1],
            )
            for name, width in zip(stages.CELLS, widths, strict=True)
        ]  # fmt: skip
        self.table = TypedTable(columns, "Stages of the plan", self)
        self.table.typed.set_rows(stages.cells(self.plan))
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 7)
        self.whole(self.table, stretch=True)
        said = QLabel("Then: what is done at the end, with commas between: drain hot, change filter, sample.", self)
        said.setProperty("role", "quiet")
        self.whole(said)

    def commit(self, values: dict[str, Any]) -> None:
        rows = self.table.typed.rows()
        wrong = self.table.typed.problems()
        if wrong:
            raise FieldError("\n".join(wrong[:3]))
        bench = self.session.bench
        kept = breakin.own_plan(bench, self.engine.name, self.plan, rows)
        self.session.run_or_raise(breakin.keep_plan, self.engine.name, kept)
