"""A small table to type into: materials' elements, a family's parts, an oil's elements, a leak-down.

Holds text; each column says what is wrong with a cell. There is always one empty row at the end, Enter goes to the
next cell, and a block pasted from a spreadsheet fills cells from the one at hand on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QCompleter,
    QHeaderView,
    QLineEdit,
    QStyledItemDelegate,
    QTableView,
    QWidget,
)

from benchapp.window import theme

Index = QModelIndex | QPersistentModelIndex


@dataclass(frozen=True, slots=True)
class Typed:
    """One column to type into. `wrong(text)` says what is wrong with a text, or ''."""

    title: str
    wrong: Callable[[str], str]
    width: int = 12
    why: str = ""
    suggest: Sequence[str] = ()
    only: bool = False
    """Only the suggestions may be chosen."""
    stretch: bool = False
    number: bool = False


class TypedModel(QAbstractTableModel):
    """Rows of texts with an empty one at the end."""

    edited = Signal()

    def __init__(self, columns: Sequence[Typed], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.columns = tuple(columns)
        self._rows: list[list[str]] = [self._empty()]

    def _empty(self) -> list[str]:
        return ["" for _ in self.columns]

    def set_rows(self, rows: Sequence[Sequence[str]]) -> None:
        """Shows these texts."""
        self.beginResetModel()
        self._rows = [list(row) for row in rows] + [self._empty()]
        self.endResetModel()
        self.edited.emit()

    def rows(self) -> list[list[str]]:
        """The rows that hold something."""
        return [[cell.strip() for cell in row] for row in self._rows if any(cell.strip() for cell in row)]

    def problems(self) -> list[str]:
        """What is wrong, with row and column, in reading order."""
        found = []
        for number, row in enumerate(self._rows, start=1):
            if any(cell.strip() for cell in row):
                for column, cell in zip(self.columns, row, strict=True):
                    wrong = column.wrong(cell.strip())
                    if wrong:
                        found.append(f"Row {number}, {column.title}: {wrong}")
        return found

    def wrong_at(self, row: int, column: int) -> str:
        """What is wrong with a cell; '' in a row that is empty."""
        if not any(cell.strip() for cell in self._rows[row]):
            return ""
        return self.columns[column].wrong(self._rows[row][column].strip())

    def remove(self, row: int) -> None:
        """Takes a row away (the empty one at the end stays)."""
        if 0 <= row < len(self._rows) - 1:
            self.beginRemoveRows(QModelIndex(), row, row)
            del self._rows[row]
            self.endRemoveRows()
            self.edited.emit()

    def paste(self, text: str, row: int, column: int) -> None:
        """Fills cells from (row, column) on with a block from a spreadsheet; what stands beyond the columns is left."""
        lines = text.replace("\r\n", "\n").replace("\r", "\n").removesuffix("\n").split("\n")
        for down, line in enumerate(lines):
            for right, cell in enumerate(line.split("\t")):
                if column + right < len(self.columns):
                    self.setData(self.index(row + down, column + right), cell)

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008  (Qt's own signature)
        return 0 if parent.isValid() else len(self._rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.columns)

    def flags(self, index: Index) -> Qt.ItemFlag:
        if not index.isValid():
            return Qt.ItemFlag.NoItemFlags
        return super().flags(index) | Qt.ItemFlag.ItemIsEditable

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid() or index.row() >= len(self._rows):
            return None
        column = self.columns[index.column()]
        match role:
            case Qt.ItemDataRole.DisplayRole | Qt.ItemDataRole.EditRole:
                return self._rows[index.row()][index.column()]
            case Qt.ItemDataRole.ToolTipRole:
                return self.wrong_at(index.row(), index.column()) or column.why or None
            case Qt.ItemDataRole.BackgroundRole:
                return theme.colour("trouble_back") if self.wrong_at(index.row(), index.column()) else None
            case Qt.ItemDataRole.TextAlignmentRole:
                side = Qt.AlignmentFlag.AlignRight if column.number else Qt.AlignmentFlag.AlignLeft
                return side | Qt.AlignmentFlag.AlignVCenter
        return None

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if not index.isValid() or role != Qt.ItemDataRole.EditRole or index.row() >= len(self._rows):
            return False  # also a cell that is no longer there: the rows were replaced while it was typed into
        row = index.row()
        self._rows[row][index.column()] = str(value)
        self.dataChanged.emit(self.index(row, 0), self.index(row, len(self.columns) - 1))
        if row == len(self._rows) - 1 and str(value).strip():
            self.beginInsertRows(QModelIndex(), row + 1, row + 1)
            self._rows.append(self._empty())
            self.endInsertRows()
        self.edited.emit()
        return True

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if orientation != Qt.Orientation.Horizontal or not 0 <= section < len(self.columns):
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self.columns[section].title
        if role == Qt.ItemDataRole.ToolTipRole:
            return self.columns[section].why or None
        return None


class _Editor(QStyledItemDelegate):
    """A line with suggestions, or a box where only they may be chosen."""

    def createEditor(self, parent, option, index) -> QWidget:
        column: Typed = index.model().columns[index.column()]
        if column.only:
            box = QComboBox(parent)
            box.setEditable(True)
            box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
            box.addItems(["", *column.suggest])
            box.completer().setFilterMode(Qt.MatchFlag.MatchContains)
            box.completer().setCompletionMode(QCompleter.CompletionMode.PopupCompletion)
            return box
        line = QLineEdit(parent)
        if column.suggest:
            completer = QCompleter(list(column.suggest), line)
            completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
            completer.setFilterMode(Qt.MatchFlag.MatchContains)
            line.setCompleter(completer)
        return line

    def setEditorData(self, editor, index) -> None:
        text = index.data(Qt.ItemDataRole.EditRole)
        if isinstance(editor, QComboBox):
            editor.setCurrentText(text)
            editor.lineEdit().selectAll()
        else:
            editor.setText(text)

    def setModelData(self, editor, model, index) -> None:
        model.setData(index, editor.currentText() if isinstance(editor, QComboBox) else editor.text())

    def updateEditorGeometry(self, editor, option, _index) -> None:
        editor.setGeometry(option.rect)


class TypedTable(QTableView):
    """The table. Enter goes to the next cell, Tab leaves the table, Delete empties, Ctrl+V fills."""

    def __init__(self, columns: Sequence[Typed], name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("rows")
        self.setAccessibleName(name)
        self.typed = TypedModel(columns, self)
        self.setModel(self.typed)
        self.setItemDelegate(_Editor(self))
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.AnyKeyPressed
            | QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.SelectedClicked
        )
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)  # with it, focusNextChild() comes back as a Tab key, for ever
        self.setCornerButtonEnabled(False)
        self.verticalHeader().hide()
        self.horizontalHeader().setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        self.horizontalHeader().setHighlightSections(False)
        self.verticalHeader().setDefaultSectionSize(max(theme.current().row_px, theme.current().target_px))
        letter = self.fontMetrics().averageCharWidth()
        margin = 2 * theme.current().gap_px + 6
        for number, column in enumerate(columns):
            if column.stretch:
                self.horizontalHeader().setSectionResizeMode(number, QHeaderView.ResizeMode.Stretch)
            else:
                title = round(self.fontMetrics().horizontalAdvance(column.title) * 1.12)
                self.setColumnWidth(number, max(letter * column.width, title) + margin)
        self.setCurrentIndex(self.typed.index(0, 0))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        index = self.currentIndex()
        if event.matches(QKeySequence.StandardKey.Paste) and index.isValid():
            self.typed.paste(QGuiApplication.clipboard().text(), index.row(), index.column())
        elif event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace) and index.isValid():
            self.typed.setData(index, "")
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and index.isValid():
            self._on(index)
        else:
            super().keyPressEvent(event)

    def _at_end(self, index: QModelIndex) -> bool:
        return index.row() == self.typed.rowCount() - 1 and not any(
            self.typed.index(index.row(), column).data() for column in range(self.typed.columnCount())
        )

    def _on(self, index: QModelIndex) -> None:
        """Enter: the next cell to the right, then the next row; from the empty last row out of the table."""
        if self._at_end(index):
            self.focusNextChild()
        elif index.column() + 1 < self.typed.columnCount():
            self.setCurrentIndex(self.typed.index(index.row(), index.column() + 1))
        else:
            self.setCurrentIndex(self.typed.index(index.row() + 1, 0))
