"""The table of sample entry: Enter goes down, Del clears, Ctrl+C, Ctrl+V and Ctrl+Z do what a spreadsheet does."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QModelIndex, Qt, Signal
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence, QResizeEvent, QUndoStack
from PySide6.QtWidgets import QAbstractItemDelegate, QAbstractItemView, QTableView, QWidget

from benchapp.window import theme

_OURS = (
    QKeySequence.StandardKey.Undo,
    QKeySequence.StandardKey.Redo,
    QKeySequence.StandardKey.Paste,
    QKeySequence.StandardKey.Copy,
)


class EntryTable(QTableView):
    """A table that is typed into. Its own steps are undone first; with none left the window's undo takes over."""

    paste_asked = Signal(str)
    """Ctrl+V with this text on the clipboard."""
    clear_asked = Signal()
    """Del on the selection."""
    resized = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.stack: QUndoStack | None = None
        self.next_row: Callable[[int, int], int] | None = None
        """Which row comes next; None: simply the next one."""
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.AnyKeyPressed
            | QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
        )
        self.setSelectionMode(QAbstractItemView.SelectionMode.ContiguousSelection)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setTabKeyNavigation(False)
        self.setWordWrap(False)
        self.setCornerButtonEnabled(False)
        theme.follow(self, self.fit)
        self.fit()

    def fit(self) -> None:
        """Row height by the theme."""
        header = self.verticalHeader()
        header.setMinimumSectionSize(1)
        header.setDefaultSectionSize(theme.current().row_px)

    def step(self, step: int = 1) -> None:
        """Moves the cursor to the next row that can be typed into."""
        at = self.currentIndex()
        if at.isValid():
            row = self.next_row(at.row(), step) if self.next_row else at.row() + step
            target = at.sibling(row, at.column())
            if target.isValid():
                self.setCurrentIndex(target)

    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:
        super().closeEditor(editor, hint)
        if hint == QAbstractItemDelegate.EndEditHint.SubmitModelCache:  # Enter, not a mere loss of focus
            self.step()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.resized.emit()

    def event(self, event: QEvent) -> bool:
        """Claims its own keys before the window's shortcuts do."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and self._claims(event):
            event.accept()
            return True
        return super().event(event)

    def _claims(self, event: QKeyEvent) -> bool:
        if event.matches(QKeySequence.StandardKey.Undo):
            return self.stack is not None and self.stack.canUndo()
        if event.matches(QKeySequence.StandardKey.Redo):
            return self.stack is not None and self.stack.canRedo()
        return any(event.matches(key) for key in _OURS)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if enter and self.state() == QAbstractItemView.State.EditingState:
            return  # the cell's own line edit has it, and the cursor moves on once it closes
        if event.matches(QKeySequence.StandardKey.Paste):
            self.paste_asked.emit(QGuiApplication.clipboard().text())
        elif event.matches(QKeySequence.StandardKey.Copy):
            self.copy()
        elif event.matches(QKeySequence.StandardKey.Undo) and self.stack is not None and self.stack.canUndo():
            self.stack.undo()
        elif event.matches(QKeySequence.StandardKey.Redo) and self.stack is not None and self.stack.canRedo():
            self.stack.redo()
        elif enter and not self._modified(event):
            self.step()
        elif enter and self._shifted(event):
            self.step(-1)
        elif event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace) and not self._modified(event):
            self.clear_asked.emit()
        else:
            super().keyPressEvent(event)

    @staticmethod
    def _modified(event: QKeyEvent) -> bool:
        return event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier != Qt.KeyboardModifier.NoModifier

    @staticmethod
    def _shifted(event: QKeyEvent) -> bool:
        return event.modifiers() == Qt.KeyboardModifier.ShiftModifier

    def picked(self) -> list[QModelIndex]:
        """The selected cells in reading order; the cell at the cursor where none is selected."""
        model = self.selectionModel()
        cells = model.selectedIndexes() if model is not None else []
        if not cells and self.currentIndex().isValid():
            cells = [self.currentIndex()]
        return sorted(cells, key=lambda cell: (cell.row(), cell.column()))

    def copy(self) -> None:
        """The selected cells onto the clipboard, tabs between them, as a spreadsheet takes them."""
        lines: dict[int, list[str]] = {}
        for cell in self.picked():
            lines.setdefault(cell.row(), []).append(str(cell.data() or ""))
        if lines:
            QGuiApplication.clipboard().setText("\n".join("\t".join(line) for line in lines.values()))
