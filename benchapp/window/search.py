"""Search everything (Ctrl+K): type, arrow, Enter. A scanner that types a code and Return opens the sample."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QAbstractListModel, QEvent, QModelIndex, QObject, QPersistentModelIndex, QSize, Qt
from PySide6.QtGui import QKeyEvent, QPainter
from PySide6.QtWidgets import QDialog, QLabel, QLineEdit, QListView, QStyle, QStyledItemDelegate, QVBoxLayout, QWidget

from benchapp.actions.search import Hit, Index
from benchapp.window import theme
from benchapp.window.whole import open_at

Place = QModelIndex | QPersistentModelIndex
HINT = "An engine, a sample's code, an oil, a part, a material, a view, an action, a word. Scan a bottle here too."


class HitsModel(QAbstractListModel):
    """What was found, nearest first."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.hits: tuple[Hit, ...] = ()

    def show(self, hits: Sequence[Hit]) -> None:
        self.beginResetModel()
        self.hits = tuple(hits)
        self.endResetModel()

    def rowCount(self, parent: Place = QModelIndex()) -> int:  # noqa: B008  (Qt's own signature)
        return 0 if parent.isValid() else len(self.hits)

    def data(self, index: Place, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid():
            return None
        hit = self.hits[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return hit.title
        if role == Qt.ItemDataRole.UserRole:
            return hit
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{hit.kind} {hit.title}: {hit.about}"
        return hit.about or None if role == Qt.ItemDataRole.ToolTipRole else None


class HitDelegate(QStyledItemDelegate):
    """Paints kind, title and what it is about in one row."""

    def sizeHint(self, option, index) -> QSize:
        return QSize(100, theme.current().row_px)

    def paint(self, painter: QPainter, option, index) -> None:
        hit: Hit = index.data(Qt.ItemDataRole.UserRole)
        picked = bool(option.state & QStyle.StateFlag.State_Selected)
        ink = theme.colour("picked_ink" if picked else "ink")
        quiet = ink if picked else theme.colour("quiet")
        painter.save()
        if picked:
            painter.fillRect(option.rect, theme.colour("picked"))
        gap = theme.current().gap_px
        metrics = painter.fontMetrics()
        middle = Qt.AlignmentFlag.AlignVCenter
        kind = option.rect.adjusted(gap, 0, -gap, 0)
        painter.setPen(quiet)
        painter.drawText(kind, middle, hit.kind)
        title = kind.adjusted(metrics.averageCharWidth() * 11, 0, 0, 0)
        font = painter.font()
        font.setBold(True)
        painter.setFont(font)
        painter.setPen(ink)
        shown = painter.fontMetrics().elidedText(hit.title, Qt.TextElideMode.ElideMiddle, round(title.width() * 0.55))
        painter.drawText(title, middle, shown)
        about = title.adjusted(painter.fontMetrics().horizontalAdvance(shown) + 2 * gap, 0, 0, 0)
        font.setBold(False)
        painter.setFont(font)
        painter.setPen(quiet)
        words = painter.fontMetrics().elidedText(hit.about, Qt.TextElideMode.ElideRight, about.width())
        painter.drawText(about, middle, words)
        painter.restore()


class SearchDialog(QDialog):
    """Hands what was picked to `opened(hit)` and closes. `last(text)`: one hit more, below what was found."""

    def __init__(
        self,
        index: Index,
        opened: Callable[[Hit], None],
        parent: QWidget | None = None,
        last: Callable[[str], Hit | None] | None = None,
    ) -> None:
        super().__init__(parent)
        self._index, self._opened, self._last = index, opened, last
        self.setWindowTitle("Search everything")
        self.line = QLineEdit(self)
        self.line.setPlaceholderText("Search everything")
        self.line.setAccessibleName("Search everything")
        self.line.setAccessibleDescription(HINT)
        self.line.setClearButtonEnabled(True)
        self.line.textChanged.connect(self._typed)
        self.line.installEventFilter(self)
        self.model = HitsModel(self)
        self.list = QListView(self)
        self.list.setModel(self.model)
        self.list.setItemDelegate(HitDelegate(self.list))
        self.list.setUniformItemSizes(True)
        self.list.setAccessibleName("Found")
        self.list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.clicked.connect(self._clicked)
        self.words = QLabel(HINT, self)
        self.words.setProperty("role", "quiet")
        self.words.setTextFormat(Qt.TextFormat.PlainText)
        self.words.setWordWrap(True)
        gap = theme.current().gap_px
        column = QVBoxLayout(self)
        column.setContentsMargins(2 * gap, 2 * gap, 2 * gap, 2 * gap)
        column.setSpacing(gap)
        column.addWidget(self.line)
        column.addWidget(self.list, 1)
        column.addWidget(self.words)
        open_at(self, 760, 520)
        self.line.setFocus()

    def _typed(self, text: str) -> None:
        found = self._index.matching(text)
        last = self._last(text) if self._last is not None else None
        self.model.show((*found, last) if last is not None else found)
        if self.model.hits:
            self.list.setCurrentIndex(self.model.index(0))
        nothing = bool(text.strip()) and not self.model.hits
        self.words.setText(f"Nothing here is called “{text.strip()}”. Try a part of the word." if nothing else HINT)

    def at_hand(self) -> Hit | None:
        """The picked hit."""
        place = self.list.currentIndex()
        return self.model.hits[place.row()] if place.isValid() else None

    def _clicked(self, _place: QModelIndex) -> None:
        self.open_picked()

    def open_picked(self) -> None:
        """Opens what is picked."""
        hit = self.at_hand()
        if hit is None:
            return
        self.accept()
        self._opened(hit)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Arrow keys move in the list while one goes on typing; Enter opens."""
        if watched is self.line and isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                self.open_picked()
                return True
            steps = {
                Qt.Key.Key_Down: 1, Qt.Key.Key_Up: -1, Qt.Key.Key_PageDown: 10, Qt.Key.Key_PageUp: -10,
            }  # fmt: skip
            if event.key() in steps:
                self._move(steps[event.key()])
                return True
        return super().eventFilter(watched, event)

    def _move(self, by: int) -> None:
        if self.model.hits:
            row = max(0, min(len(self.model.hits) - 1, self.list.currentIndex().row() + by))
            self.list.setCurrentIndex(self.model.index(row))
