"""The person's own sheet as a table model: their cells under their row and column numbers, each marked by its role."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal

from benchapp.intake.table import TYPED, RawTable
from benchapp.window.entry import look, words
from benchapp.window.entry.preview import Pasted, Preview, letters

Index = QModelIndex | QPersistentModelIndex
CELL_ROLE = int(Qt.ItemDataRole.UserRole) + 1
"""(row, column) as the sheet shows them."""
ROLE_ROLE = int(Qt.ItemDataRole.UserRole) + 2
REASON_ROLE = int(Qt.ItemDataRole.UserRole) + 3

CELL_FLAGS = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsEditable
LOOKS = {"title": "other", "note": "other", "": "other"}
MARKED = ("problem", "sample", "header", "unit", "left out")
"""Roles with a mark in every cell; readings are the plain ones."""


class PreviewModel(QAbstractTableModel):
    """Shows a `Preview`; says which cell was typed into. Everything goes by the sheet's own numbers."""

    cell_edited = Signal(int, int, str)

    def __init__(self, parent: Any = None) -> None:
        super().__init__(parent)
        self._table = RawTable(())
        self._width = 0
        self._first = RawTable(())
        self._preview: Preview | None = None

    # --- what Qt asks ------------------------------------------------------------------------------------------------

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self._table.rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else self._width

    def flags(self, index: Index) -> Qt.ItemFlag:
        return CELL_FLAGS if index.isValid() else Qt.ItemFlag.NoItemFlags

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> Any:
        across = orientation == Qt.Orientation.Horizontal
        number = section + (self._table.first_column if across else self._table.first_row)
        if role == Qt.ItemDataRole.DisplayRole:
            name = letters(number) if across else str(number)
            about = self.about(number, across=across)
            return f"{name}\n{about}" if across and about else f"{name}  {about}".strip()
        if role == Qt.ItemDataRole.ToolTipRole and self.has_meanings(across=across):
            return "Click to say what this is (Alt+Down from a cell)"
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        return None

    def data(self, index: Index, role: int = 0) -> Any:
        if not index.isValid():
            return None
        row, column = self.place(index.row(), index.column())
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return self._table.cell(row, column)
        if role == CELL_ROLE:
            return (row, column)
        return self._dress(row, column, role)

    def setData(self, index: Index, value: Any, role: int = int(Qt.ItemDataRole.EditRole)) -> bool:
        if role != Qt.ItemDataRole.EditRole or not index.isValid():
            return False
        row, column = self.place(index.row(), index.column())
        text = "" if value is None else str(value)
        if text != self._table.cell(row, column):
            self.cell_edited.emit(row, column, text)
        return True

    # --- what the page does ------------------------------------------------------------------------------------------

    @property
    def preview(self) -> Preview | None:
        return self._preview

    def show_sheet(self, pasted: Pasted) -> None:
        """Shows a state's cells at once; its reading follows with `show_preview`."""
        first = pasted.first
        same = (len(pasted.table.rows), pasted.table.width, pasted.table.first_row, pasted.table.first_column) == (
            len(self._table.rows), self._width, self._table.first_row, self._table.first_column,
        )  # fmt: skip
        if same and first is self._first:
            self._table = pasted.table
            self._redraw()
            return
        self.beginResetModel()
        self._table, self._width, self._first = pasted.table, pasted.table.width, first
        self._preview = None
        self.endResetModel()

    def show_preview(self, preview: Preview | None) -> None:
        """Marks the cells by what is read from them."""
        self._preview = preview
        self._redraw()

    def place(self, row: int, column: int) -> tuple[int, int]:
        """The sheet's numbers of a cell of the model."""
        return row + self._table.first_row, column + self._table.first_column

    def index_of(self, row: int, column: int) -> QModelIndex:
        """The cell with these numbers of the sheet (a column of 0: the first)."""
        return self.index(row - self._table.first_row, max(0, column - self._table.first_column))

    def has_meanings(self, *, across: bool) -> bool:
        """Columns have meanings (or rows, where samples stand side by side)."""
        return self._preview is not None and self._preview.turned != across and bool(self._preview.meanings)

    def about(self, number: int, *, across: bool) -> str:
        """What stands beside the number of a column or a row: its meaning, or whose sample it is."""
        preview = self._preview
        if preview is None:
            return ""
        if preview.turned == across:
            return preview.codes.get(number, "")
        found = preview.meanings.get(number)
        return "" if found is None or (preview.turned and found.role == "unknown") else found.words

    def changed_here(self, row: int, column: int) -> bool:
        """The person typed into this cell."""
        return self._table.kind(row, column) == TYPED

    # --- inside ------------------------------------------------------------------------------------------------------

    def _redraw(self) -> None:
        if self._table.rows and self._width:
            self.dataChanged.emit(self.index(0, 0), self.index(self.rowCount() - 1, self._width - 1))
            self.headerDataChanged.emit(Qt.Orientation.Horizontal, 0, self._width - 1)
            self.headerDataChanged.emit(Qt.Orientation.Vertical, 0, self.rowCount() - 1)

    def _dress(self, row: int, column: int, role: int) -> Any:
        is_a = self._preview.result.role(row, column) if self._preview else ""
        shown = LOOKS.get(is_a, is_a)
        text = self._table.cell(row, column)
        if role == ROLE_ROLE:
            return is_a
        if role == REASON_ROLE:
            return self._preview.result.reason(row, column) if self._preview else ""
        if role == Qt.ItemDataRole.BackgroundRole:
            edited = self.changed_here(row, column) and shown == "reading"
            return look.ground("edited" if edited else shown)
        if role == Qt.ItemDataRole.ForegroundRole:
            return look.ink(shown)
        if role == Qt.ItemDataRole.FontRole:
            bold = shown in ("header", "sample", "problem") or self.changed_here(row, column)
            return look.font(bold=bold, struck=shown == "left out")
        if role == Qt.ItemDataRole.DecorationRole and shown in MARKED and (text.strip() or shown == "problem"):
            return look.icon(shown)
        if role == Qt.ItemDataRole.ToolTipRole:
            return words.hover(self._hover(row, column, shown))
        return None

    def _hover(self, row: int, column: int, shown: str) -> str:
        reason = self._preview.result.reason(row, column) if self._preview else ""
        said = f"{letters(column)}{row}: {reason or look.ROLE_WORDS.get(shown, shown)}"
        if self.changed_here(row, column):
            said += f"\nChanged here; the sheet has “{self._first.cell(row, column)}”."
        return said
