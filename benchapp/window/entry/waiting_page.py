"""Work that waits: samples that no engine claims yet, and drafts that were put away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QHBoxLayout, QHeaderView, QLabel, QPushButton, QVBoxLayout, QWidget

from benchapp.actions.sample import Waiting
from benchapp.window import spacing
from benchapp.window.entry import words
from benchapp.window.entry.keeper import PutAway
from benchapp.window.entry.tables import EntryTable

Index = QModelIndex | QPersistentModelIndex
KEY_ROLE = int(Qt.ItemDataRole.UserRole) + 1
SAMPLE, DRAFT = "sample", "draft"
HEADS = ("What", "Sample", "Holds", "Since")


@dataclass(frozen=True, slots=True)
class Row:
    """One line: a waiting sample (key: its code) or a draft (key: where it lies)."""

    kind: str
    key: str
    name: str
    holds: str
    since: str


def rows_of(samples: Sequence[Waiting], drafts: Sequence[PutAway]) -> tuple[Row, ...]:
    """Waiting samples first, oldest first; then drafts."""
    return (
        *(Row(SAMPLE, item.sample.code, item.sample.code, holds(item), words.clock(item.since))
          for item in samples),
        *(Row(DRAFT, item.key, item.title, "typed, not confirmed", "") for item in drafts),
    )  # fmt: skip


def holds(item: Waiting) -> str:
    """What came with a waiting sample, in words."""
    names = list(dict.fromkeys(reading.measurand for reading in item.sample.readings))
    return (
        f"{words.counted(len(item.sample.readings), 'reading')}: {words.listed(names, 8)}" if names else "no readings"
    )


class WaitingModel(QAbstractTableModel):
    """The list as a table model; what is done with a row goes by its key, never by its number."""

    def __init__(self, parent: Any = None) -> None:
        super().__init__(parent)
        self._rows: tuple[Row, ...] = ()

    def show(self, rows: Sequence[Row]) -> None:
        self.beginResetModel()
        self._rows = tuple(rows)
        self.endResetModel()

    def row_of(self, key: str) -> int:
        return next((number for number, row in enumerate(self._rows) if row.key == key), -1)

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self._rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(HEADS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> Any:
        shown = orientation == Qt.Orientation.Horizontal and role == Qt.ItemDataRole.DisplayRole
        return HEADS[section] if shown else None

    def data(self, index: Index, role: int = 0) -> Any:
        if not index.isValid():
            return None
        row = self._rows[index.row()]
        if role == KEY_ROLE:
            return (row.kind, row.key)
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole):
            what = "waits for an engine" if row.kind == SAMPLE else "draft"
            text = (what, row.name, row.holds, row.since)[index.column()]
            return words.hover(text) if role == Qt.ItemDataRole.ToolTipRole else text
        return None


class WaitingTable(EntryTable):
    """Enter opens the row at the cursor."""

    opened = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.opened.emit()
        else:
            super().keyPressEvent(event)


class WaitingPage(QWidget):
    """The list and what can be done with a line of it."""

    sample_opened = Signal(str)
    draft_opened = Signal(str)
    sample_voided = Signal(str)
    draft_forgotten = Signal(str)
    closed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.model = WaitingModel(self)
        self.head = QLabel("Samples that wait for an engine", self)
        self.head.setProperty("role", "title")
        self.words = QLabel(self)
        self.words.setWordWrap(True)
        self.table = WaitingTable(self)
        self.table.setAccessibleName("Waiting work")
        self.table.setModel(self.model)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.verticalHeader().setVisible(False)
        header = self.table.horizontalHeader()
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        header.setHighlightSections(False)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(2, QHeaderView.ResizeMode.Stretch)
        self.table.opened.connect(self.open)
        self.table.doubleClicked.connect(self.open)
        self.table.clear_asked.connect(self.remove)
        self.open_button = QPushButton("Give it an engine  (Enter)", self)
        self.remove_button = QPushButton("Remove…", self)
        self.back_button = QPushButton("Back  (Esc)", self)
        self.open_button.clicked.connect(self.open)
        self.remove_button.clicked.connect(self.remove)
        self.back_button.clicked.connect(self.closed)
        row = QHBoxLayout()
        row.addWidget(self.open_button)
        row.addWidget(self.remove_button)
        row.addStretch(1)
        row.addWidget(self.back_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        spacing.between(column, 1)
        for widget in (self.head, self.words):
            column.addWidget(widget)
        column.addWidget(self.table, 1)
        column.addLayout(row)
        self.table.selectionModel().currentChanged.connect(self._name_button)

    def show_rows(self, rows: Sequence[Row]) -> None:
        """Shows the list; says what it is for, or that there is nothing."""
        kept = self._key()
        self.model.show(rows)
        at = self.model.row_of(kept[1]) if kept else -1
        self.table.setCurrentIndex(self.model.index(max(0, at), 0))
        self.words.setText(
            "Their results are in the bench file. Open one to say which engine it is from; then it gets its call."
            if rows
            else "Nothing waits. Samples of a pasted sheet that the bench file does not know yet are listed here."
        )
        for button in (self.open_button, self.remove_button):
            button.setEnabled(bool(rows))
        self._name_button()

    def focus(self) -> None:
        self.table.setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.closed.emit()
        else:
            super().keyPressEvent(event)

    def open(self) -> None:
        """Opens the line at the cursor in the form."""
        key = self._key()
        if key:
            (self.sample_opened if key[0] == SAMPLE else self.draft_opened).emit(key[1])

    def remove(self) -> None:
        """Asks for the line at the cursor to go."""
        key = self._key()
        if key:
            (self.sample_voided if key[0] == SAMPLE else self.draft_forgotten).emit(key[1])

    def _key(self) -> tuple[str, str] | None:
        return self.table.currentIndex().data(KEY_ROLE) if self.table.currentIndex().isValid() else None

    def _name_button(self, *_: Any) -> None:
        key = self._key()
        self.open_button.setText(
            "Continue the draft  (Enter)" if key and key[0] == DRAFT else "Give it an engine  (Enter)"
        )
