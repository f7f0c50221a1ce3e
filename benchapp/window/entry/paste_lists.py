"""Beside the pasted sheet: its problems, what was left out, and what else there is to know; each leads to its cell."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QListWidget, QListWidgetItem, QTabWidget, QWidget

from benchapp.window.entry import look
from benchapp.window.entry.preview import KEPT_CELLS, Preview, letters

MOST_LISTED = 300
TOO_LARGE = "This sheet is too large to be kept through a stop: paste it again if the window closes before you confirm."
CELL = int(Qt.ItemDataRole.UserRole)
Line = tuple[str, int, int]
"""What is said, and of which cell (row 0: of none, column 0: of a whole row)."""


NO_PROBLEM: Line = ("No problem: every cell of a sample was read.", 0, 0)


class PasteLists(QTabWidget):
    """Three lists in tabs that say how much is in them."""

    cell_picked = Signal(int, int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Problems, left out, notes")
        self.problems, self.left_out, self.notes = QListWidget(self), QListWidget(self), QListWidget(self)
        for name, widget in (("Problems", self.problems), ("Left out", self.left_out), ("Notes", self.notes)):
            widget.setWordWrap(True)
            widget.setAccessibleName(name)
            widget.itemClicked.connect(self._picked)
            widget.itemActivated.connect(self._picked)
            self.addTab(widget, name)
        self.show_preview(None)

    def show_preview(self, found: Preview | None) -> None:
        """Lists what was found in a sheet; None empties the lists."""
        for number, (widget, title, lines, role) in enumerate(
            (
                (self.problems, "Problems", problem_lines(found), "problem"),
                (self.left_out, "Left out", left_out_lines(found), "left out"),
                (self.notes, "Notes", note_lines(found), "other"),
            )
        ):
            fine = lines == [NO_PROBLEM]
            _fill(widget, lines, "reading" if fine else role)
            self.setTabText(number, f"{title} {0 if fine else len(lines)}")

    def _picked(self, item: QListWidgetItem) -> None:
        row, column = item.data(CELL)
        if row:
            self.cell_picked.emit(row, column)


def problem_lines(found: Preview | None) -> list[Line]:
    """One line a problem: where, under which head, why."""
    problems = found.result.problems if found else ()
    if found is not None and not problems:
        return [NO_PROBLEM]
    return [(_line(p.row, p.column_number, p.column, p.reason), p.row, p.column_number) for p in problems]


def left_out_lines(found: Preview | None) -> list[Line]:
    """One line a row or column that is not taken."""
    left = found.result.left_out if found else ()
    return [(_line(x.row, x.column_number, x.label, x.reason), x.row, x.column_number) for x in left]


def note_lines(found: Preview | None) -> list[Line]:
    """What the reader noticed, and the instrument checks in the sheet."""
    if found is None:
        return []
    checks = dict.fromkeys(c.label for c in found.result.check_runs)
    large = [TOO_LARGE] if found.pasted.cells > KEPT_CELLS else []
    said = [*large, *found.pasted.table.notes, *found.result.notices, *(f"{name}: instrument check" for name in checks)]
    return [(text, 0, 0) for text in said]


def _line(row: int, column: int, name: str, reason: str) -> str:
    """'C5  Fe: why', or 'row 1: why' where there is no name."""
    return f"{where(row, column)}  {name}: {reason}" if name else f"{where(row, column)}: {reason}"


def where(row: int, column: int) -> str:
    """A cell as a spreadsheet names it, or its row."""
    return f"{letters(column)}{row}" if column else f"row {row}"


def _fill(widget: QListWidget, lines: Sequence[Line], role: str) -> None:
    widget.clear()
    mark = look.icon(role)
    for text, row, column in lines[:MOST_LISTED]:
        item = QListWidgetItem(mark, text)
        item.setData(CELL, (row, column))
        widget.addItem(item)
    if len(lines) > MOST_LISTED:
        item = QListWidgetItem(f"and {len(lines) - MOST_LISTED} more")
        item.setData(CELL, (0, 0))
        widget.addItem(item)
