"""The results grid with what belongs to it: its list of problems, the decimal sign, more measurands, repeats."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QModelIndex, QSignalBlocker, Qt, Signal
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from benchapp.intake.headers import classify
from benchapp.intake.read import read_text
from benchapp.problems import BenchProblem
from benchapp.window import settings, spacing, theme
from benchapp.window.entry import look, words
from benchapp.window.entry.lines import can_be_added
from benchapp.window.entry.results_model import NAME, UNIT, VALUE, Key, ResultsModel, clear
from benchapp.window.entry.tables import EntryTable
from benchapp.window.entry.values import read_value

DECIMALS = (
    ("Decimal sign: found by itself", ""),
    ("Decimal sign: point, 12.4", "."),
    ("Decimal sign: comma, 12,4", ","),
)
MOST_PROBLEMS = 4
"""Lines of the list of problems that are in sight at once."""


class ResultsPane(QWidget):
    """Where results are typed or pasted as a plain block."""

    sheet_pasted = Signal(str)
    """What was pasted is a whole sheet, not a block of numbers: it wants the preview."""
    refused = Signal(object)
    """A BenchProblem: a block that does not fit."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.model = ResultsModel(self)
        self.table = EntryTable(self)
        self.table.setObjectName("results")
        self.table.setAccessibleName("Results")
        self.table.setModel(self.model)
        self.table.stack = self.model.stack
        self.table.next_row = self.model.next_row
        self.table.setAlternatingRowColors(False)
        self.table.verticalHeader().setVisible(False)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectItems)
        self.table.paste_asked.connect(self.paste)
        self.table.clear_asked.connect(self.clear_picked)
        self.table.resized.connect(self._stretch)
        self.problems = QListWidget(self)
        self.problems.setAccessibleName("Problems in the results")
        self.problems.setWordWrap(True)
        self.problems.itemActivated.connect(self._go_to_problem)
        self.problems.itemClicked.connect(self._go_to_problem)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        spacing.between(column, 0.5)
        column.addWidget(self.table, 1)
        column.addWidget(self.problems)
        column.addLayout(self._foot())
        self.model.modelReset.connect(self._shape)
        self.model.edited.connect(self.tell)
        theme.follow(self, self._shape)
        self.model.declare_decimal(settings.text("entry/decimal"))
        self._shape()
        self.tell()

    def _foot(self) -> QHBoxLayout:
        row = QHBoxLayout()
        spacing.between(row, 1)
        self.count = QLabel(self)
        self.count.setProperty("role", "quiet")
        self.count.setWordWrap(True)
        self.decimal = QComboBox(self)
        for text, sign in DECIMALS:
            self.decimal.addItem(text, sign)
        self.decimal.setCurrentIndex(max(0, self.decimal.findData(settings.text("entry/decimal"))))
        self.decimal.setAccessibleName("Decimal sign of what is typed")
        self.decimal.setToolTip("1,234 can be read two ways. Say once which sign is the decimal sign.")
        self.decimal.activated.connect(self._decimal_said)
        self.more = QComboBox(self)
        self.more.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.more.setMinimumContentsLength(9)
        self.more.setAccessibleName("Add a measurand")
        self.more.setToolTip("A row for something that is rarely measured")
        self.more.activated.connect(self._add_line)
        self.repeat = QPushButton("Repeat", self)
        self.repeat.setToolTip("A column for a repeat measurement of the same bottle")
        self.repeat.clicked.connect(self.add_repeat)
        for widget, share in ((self.count, 3), (self.decimal, 0), (self.more, 2), (self.repeat, 0)):
            row.addWidget(widget, share)
        return row

    # --- what the view does ------------------------------------------------------------------------------------------

    def focus(self) -> None:
        """Puts the keyboard on the first empty result, or on the one it was on."""
        if not self.model.is_value(self.table.currentIndex().column()):
            texts = self.model.texts()
            rows = [row for row, line in enumerate(self.model.lines) if not line.is_heading]
            empty = [row for row in rows if (self.model.lines[row].measurand, 1) not in texts]
            self.table.setCurrentIndex(self.model.index((empty or rows)[0], VALUE))
        self._come_forward()
        self.table.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def focus_first(self) -> None:
        """Puts the keyboard on the first result."""
        self._come_forward()
        self.table.setCurrentIndex(self.model.index(self.model.next_row(-1), VALUE))
        self.table.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _come_forward(self) -> None:
        """To the front, where it shares its pane with the call."""
        stack = self.parentWidget()
        tabs = stack.parentWidget() if stack is not None else None
        if isinstance(tabs, QTabWidget):
            tabs.setCurrentWidget(self)

    def commit(self) -> None:
        """Takes what is just being typed into a cell, as leaving the cell would."""
        if self.table.state() == QAbstractItemView.State.EditingState:
            self.table.setFocus(Qt.FocusReason.OtherFocusReason)

    def paste(self, text: str) -> None:
        """A plain block of results goes into the cells from the cursor on; a whole sheet asks for the preview."""
        block = plain_block(text)
        if block is None:
            self.sheet_pasted.emit(text)
            return
        try:
            self.model.set_texts(self._placed(block))
        except BenchProblem as problem:
            self.refused.emit(problem)

    def _placed(self, block: list[list[str]]) -> dict[Key, str]:
        """Which cell each text of a block goes to. Raises BenchProblem where it does not fit: nothing half-pasted."""
        named = by_name(block)
        if named is not None:
            return named
        at = self.table.currentIndex()
        row = at.row() if at.isValid() else self.model.next_row(-1)
        first = at.column() - VALUE if self.model.is_value(at.column()) else 0
        placed: dict[Key, str] = {}
        for offset, cells in enumerate(block):
            line = self.model.lines[row]
            for column, text in enumerate(cells):
                placed[line.measurand, first + column + 1] = text
            below = self.model.next_row(row)
            if below == row and offset + 1 < len(block):
                raise BenchProblem(
                    f"The block has {len(block)} rows; only {offset + 1} fit below the cursor.",
                    "Nothing was pasted.",
                    "Put the cursor higher, or copy the names with the numbers.",
                )
            row = below
        return placed

    def clear_picked(self) -> None:
        """Empties the selected results; one step to take back."""
        keys = [
            (self.model.lines[cell.row()].measurand, cell.column() - VALUE + 1)
            for cell in self.table.picked()
            if self.model.is_value(cell.column())
        ]
        self.model.set_texts(clear(self.model, keys))

    def add_repeat(self) -> None:
        """One more column, with the cursor in it."""
        row = max(self.table.currentIndex().row(), self.model.next_row(-1))
        column = self.model.add_repeat()
        self.table.setCurrentIndex(self.model.index(row, column))
        self.table.setFocus()

    def tell(self) -> None:
        """Says how much is typed and lists what cannot be read."""
        problems, count = self.model.problems(), len(self.model.readings())
        said = words.counted(count, "reading") if count else "No results yet: type, or paste with Ctrl+V"
        self.count.setText(said + (f", {words.counted(len(problems), 'problem')}" if problems else ""))
        self.problems.clear()
        for problem in problems:
            item = QListWidgetItem(look.icon("problem"), f"{problem.measurand}: {problem.reason}")
            item.setData(Qt.ItemDataRole.UserRole, (problem.measurand, problem.replicate))
            self.problems.addItem(item)
        self.problems.setVisible(bool(problems))
        lines = min(len(problems), MOST_PROBLEMS)
        self.problems.setFixedHeight(lines * theme.current().row_px + 2 * self.problems.frameWidth() + 4)
        self.decimal.setVisible(self.model.asks_decimal or self.decimal.currentIndex() > 0)

    # --- inside ------------------------------------------------------------------------------------------------------

    def _shape(self) -> None:
        """Headings across, columns as wide as their words need, the rarer measurands to choose from."""
        table, model = self.table, self.model
        table.clearSpans()
        for row, line in enumerate(model.lines):
            if line.is_heading:
                table.setSpan(row, 0, 1, model.columnCount())
        header = table.horizontalHeader()
        header.setHighlightSections(False)
        header.setMinimumSectionSize(self._wide("88.8"))
        for column in range(1, model.columnCount()):
            title = str(model.headerData(column, Qt.Orientation.Horizontal, int(Qt.ItemDataRole.DisplayRole)))
            widest = {UNIT: "mg KOH/g"}.get(column, "-0.42 ± 0.91" if title == "mg/h" else "88.88")
            widest = "888.88" if model.is_value(column) else widest
            mark = theme.current().mark_px if model.is_value(column) else 0
            table.setColumnWidth(column, max(self._wide(title, bold=True), self._wide(widest) + mark))
        table.setMinimumWidth(self._wide("Mo  molybdenum") + table.columnWidth(VALUE) + self._wide("88"))
        self._stretch()
        with QSignalBlocker(self.more):
            self.more.clear()
            self.more.addItem("Add a row …", "")
            for line in can_be_added(model.lines):
                self.more.addItem(f"{line.measurand}  {line.name}", line.measurand)

    def _stretch(self) -> None:
        """The names take what the other columns leave, but never less than they need."""
        table, name, room = self.table, self._wide("Mo  molybdenum"), self.table.viewport().width()
        others = sum(table.columnWidth(column) for column in range(VALUE, self.model.columnCount()))
        short = name + self._wide("mg KOH/g") + others > room
        table.setColumnHidden(UNIT, short)
        self.model.show_short(short)
        table.setColumnWidth(NAME, max(name, room - others - table.columnWidth(UNIT)))

    def _wide(self, text: str, *, bold: bool = False) -> int:
        """Room that a text wants in a cell or a head [px]."""
        return QFontMetrics(look.font(bold=bold)).horizontalAdvance(text) + 2 * theme.current().gap_px + 3

    def _add_line(self, *_: Any) -> None:
        measurand = str(self.more.currentData() or "")
        if measurand:
            row = self.model.add_line(measurand)
            self.table.setCurrentIndex(self.model.index(row, VALUE))
            self.table.setFocus()

    def _decimal_said(self, *_: Any) -> None:
        sign = str(self.decimal.currentData())
        settings.keep("entry/decimal", sign)
        self.model.declare_decimal(sign)
        self.tell()

    def _go_to_problem(self, item: QListWidgetItem) -> None:
        self.go_to(*item.data(Qt.ItemDataRole.UserRole))

    def go_to(self, measurand: str, replicate: int) -> None:
        """The cursor into one result, ready to be typed over."""
        index: QModelIndex = self.model.index(self.model.row_of(measurand), VALUE + replicate - 1)
        self.table.setCurrentIndex(index)
        self.table.setFocus()
        self.table.edit(index)


def plain_block(text: str) -> list[list[str]] | None:
    """The cells of a small block of results without heads (numbers alone, or names with numbers); None for anything
    else: that is a sheet and wants the preview."""
    lines = [line.strip() for line in text.strip("\r\n").splitlines()]
    if "\t" not in text and any(lines) and all(is_value(line) for line in lines):
        return [[line] for line in lines]  # one column, where a comma is a decimal sign
    try:
        rows = [[cell.strip() for cell in row] for row in read_text(text).rows]
    except BenchProblem:
        return None
    while rows and not any(rows[-1]):
        rows.pop()
    if not rows:
        return None
    if by_name(rows) is not None:
        return rows
    heads = any(classify(cell).role != "unknown" for row in rows for cell in row if cell)
    letters = any(cell and cell[0].isalpha() and cell.casefold() not in _VALUE_WORDS for row in rows for cell in row)
    few = all(len(row) <= 3 for row in rows)
    return rows if few and not heads and not letters else None


def is_value(text: str) -> bool:
    """Reads as one result, as soon as its decimal sign is known."""
    entered = read_value(text)
    return not entered.problem or entered.ask_decimal


_VALUE_WORDS = {"nd", "n.d.", "bdl", "trace", "ovr", "na", "n/a"}


def by_name(rows: list[list[str]]) -> dict[Key, str] | None:
    """Rows of a name and its readings (`Fe`, `12.4`): the cells they go to; None where the rows are not such."""
    placed: dict[Key, str] = {}
    for row in rows:
        head = classify(row[0]) if len(row) > 1 and row[0] else None
        if head is None or head.role != "reading" or not head.measurand or head.problem:
            return None
        for replicate, text in enumerate(row[1:], 1):
            if classify(text).role != "unknown":
                return None  # a head over columns, not a reading
            if text:
                if (head.measurand, replicate) in placed:
                    return None
                placed[head.measurand, replicate] = f"{text} {head.unit}".strip() if head.unit else text
    return placed or None
