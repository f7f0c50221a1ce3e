"""The pasted sheet on the screen: its cells, the key to their marks, and the menus that say what a column means."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QEvent, QPoint, Qt, Signal
from PySide6.QtGui import QAction, QFontMetrics, QKeyEvent, QUndoStack
from PySide6.QtWidgets import QHBoxLayout, QLabel, QMenu, QVBoxLayout, QWidget

from benchapp.window import spacing, theme
from benchapp.window.entry import look
from benchapp.window.entry.column_menu import column_menu
from benchapp.window.entry.preview_model import CELL_ROLE, ROLE_ROLE, PreviewModel
from benchapp.window.entry.tables import EntryTable

LOOKED_AT = 30
"""Rows that the width of a column is taken from."""
LONGEST = 20
"""Letters of a cell that a column makes room for; the rest is seen when the cell is opened."""
KEY = ("header", "unit", "sample", "left out", "problem")


class SheetPane(QWidget):
    """Shows a `PreviewModel`; cells by the sheet's own numbers."""

    meaning_picked = Signal(int, str, str, str)
    """Number of the column (row, where samples stand side by side), role, measurand, unit."""

    def __init__(self, stack: QUndoStack, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.model = PreviewModel(self)
        self.menu: QMenu | None = None
        self.table = EntryTable(self)
        self.table.setObjectName("preview")
        self.table.setAccessibleName("Preview of the pasted sheet")
        self.table.setModel(self.model)
        self.table.stack = stack
        self.table.installEventFilter(self)
        for header in (self.table.horizontalHeader(), self.table.verticalHeader()):
            header.setSectionsClickable(True)
            header.setHighlightSections(False)
        self.table.horizontalHeader().sectionClicked.connect(self._column_clicked)
        self.table.verticalHeader().sectionClicked.connect(self._row_clicked)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        spacing.between(column, 0.5)
        column.addWidget(self.table, 1)
        column.addLayout(self._key())

    def _key(self) -> QHBoxLayout:
        row = QHBoxLayout()
        spacing.between(row, 0.5)
        self._marks: dict[str, QLabel] = {}
        for role in KEY:
            self._marks[role] = QLabel(self)
            name = QLabel(look.ROLE_WORDS[role], self)
            name.setProperty("role", "quiet")
            row.addWidget(self._marks[role])
            row.addWidget(name)
            spacing.after(row, 1)
        row.addStretch(1)
        theme.follow(self, self._paint)
        self._paint()
        return row

    def _paint(self) -> None:
        """The marks of the key in the colours of the look."""
        for role, mark in self._marks.items():
            mark.setPixmap(look.pixmap(role))
        if self.model.preview is not None:
            self.fit()

    # --- where -------------------------------------------------------------------------------------------------------

    def fit(self) -> None:
        """Columns as wide as the texts in sight need, within reason; the sheet from its left edge."""
        letter = QFontMetrics(look.font(bold=True)).horizontalAdvance("0")
        rows = [row for row in range(min(self.model.rowCount(), LOOKED_AT)) if not self._is_title(row)]
        for column in range(self.model.columnCount()):
            head = str(self.model.headerData(column, Qt.Orientation.Horizontal, int(Qt.ItemDataRole.DisplayRole)))
            texts = [str(self.model.index(row, column).data() or "") for row in rows]
            longest = max(map(len, [*head.split("\n"), *texts]), default=0)
            self.table.setColumnWidth(column, (min(max(longest, 4), LONGEST) + 5) * letter)
        self.table.horizontalScrollBar().setValue(0)

    def _is_title(self, row: int) -> bool:
        return self.model.index(row, 0).data(ROLE_ROLE) == "title"

    def here(self) -> tuple[int, int] | None:
        """The cell at the cursor, by the sheet's numbers."""
        at = self.table.currentIndex()
        return at.data(CELL_ROLE) if at.isValid() else None

    def picked(self) -> list[tuple[int, int]]:
        """The selected cells, by the sheet's numbers."""
        return [cell.data(CELL_ROLE) for cell in self.table.picked()]

    def go_to(self, row: int, column: int) -> None:
        """The cursor on a cell, in sight."""
        index = self.model.index_of(row, column)
        if index.isValid():
            self.table.setCurrentIndex(index)
            self.table.scrollTo(index)

    # --- what a column means -----------------------------------------------------------------------------------------

    def open_meaning(self) -> None:
        """The menu of the column (or row) at the cursor."""
        at, preview = self.here(), self.model.preview
        if at is not None and preview is not None:
            place = self.table.visualRect(self.table.currentIndex()).bottomLeft()
            number = at[0] if preview.turned else at[1]
            self._open(number, self.table.viewport().mapToGlobal(place), across=not preview.turned)

    def _column_clicked(self, section: int) -> None:
        header = self.table.horizontalHeader()
        place = header.mapToGlobal(QPoint(header.sectionViewportPosition(section), header.height()))
        self._open(self.model.place(0, section)[1], place, across=True)

    def _row_clicked(self, section: int) -> None:
        header = self.table.verticalHeader()
        place = header.mapToGlobal(QPoint(header.width(), header.sectionViewportPosition(section)))
        self._open(self.model.place(section, 0)[0], place, across=False)

    def _open(self, number: int, place: QPoint, *, across: bool) -> None:
        preview = self.model.preview
        meaning = preview.meanings.get(number) if preview and self.model.has_meanings(across=across) else None
        if meaning is None:
            return
        self.menu = column_menu(meaning, self)
        self.menu.setProperty("number", number)
        self.menu.triggered.connect(self._picked)
        self.menu.aboutToHide.connect(self.menu.deleteLater)
        self.menu.popup(place)

    def _picked(self, action: QAction) -> None:
        menu = self.sender()
        if isinstance(menu, QMenu) and action.data():
            self.meaning_picked.emit(menu.property("number"), *action.data())

    def eventFilter(self, watched: Any, event: QEvent) -> bool:
        """Alt+Down in the sheet opens the column's meaning."""
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress and watched is self.table:
            alt = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier == Qt.KeyboardModifier.AltModifier
            if alt and event.key() == Qt.Key.Key_Down:
                self.open_meaning()
                return True
        return super().eventFilter(watched, event)
