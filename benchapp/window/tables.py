"""The one table of the window: rows of records, typed sort keys, a filter, and a key for each row.

A view acts on the key of a row (`KeyRole`), never on its number: sorting and filtering change the numbers. Sorting
works on an order array, not through `data()`. Rows without a value come last in both directions.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QEvent,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QRect,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QKeyEvent, QPainter
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QMenu, QStyledItemDelegate, QTableView, QWidget

from benchapp.window import marks, theme
from benchapp.window.reading.where import words_of_cell

if TYPE_CHECKING:
    import numpy as np  # a quarter of the start: loaded with the first table, after the window is painted

SortRole = Qt.ItemDataRole.UserRole + 1
KeyRole = Qt.ItemDataRole.UserRole + 2
ShareRole = Qt.ItemDataRole.UserRole + 3
"""A share (0 to 1 and above) to paint as a bar below the text, or None."""

Index = QModelIndex | QPersistentModelIndex
SORT_ARROW_PX = 12
"""Room that the sort arrow takes beside a title [px]."""
LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its title, how a row reads in it, what it sorts by (None: the text), its width in letters."""

    title: str
    text: Callable[[Any], str]
    sort: Callable[[Any], float | str | None] | None = None
    width: int = 10
    number: bool = False
    """Aligned to the right."""
    why: str = ""
    """What the column says, for the hover over its head."""
    tip: Callable[[Any], str] | None = None
    mark: Callable[[Any], str] | None = None
    """The call whose mark stands before the text."""
    share: Callable[[Any], float | None] | None = None
    """A share to paint as a bar."""
    stretch: bool = False
    icon: Callable[[Any], Any] | None = None
    """A small picture before the text, or None for a row without one."""
    spare: int = 0
    """Left out where there is no room, the highest first; 0: never."""
    most: int = 0
    """Names that tell rows apart are shown whole up to so many letters; 0: the width stays."""


class RowsModel(QAbstractTableModel):
    """Records as rows. `key` gives a record's key, `words` what the filter looks into (None: all texts)."""

    def __init__(
        self,
        columns: Sequence[Column],
        key: Callable[[Any], str],
        words: Callable[[Any], str] | None = None,
        parent: QObject | None = None,
    ) -> None:
        import numpy as np

        super().__init__(parent)
        self.columns = tuple(columns)
        self._key, self._words = key, words
        self._rows: tuple[Any, ...] = ()
        self._texts: list[str] = []
        self._order = np.arange(0)
        self._sorted_by = (-1, Qt.SortOrder.AscendingOrder)
        self._filter: tuple[str, ...] = ()
        self._icons: dict[str, Any] = {}

    # --- rows ------------------------------------------------------------------------------------------------------

    def set_rows(self, rows: Sequence[Any]) -> None:
        """Shows other records, sorted and filtered as before."""
        self.beginResetModel()
        self._rows = tuple(rows)
        self._texts = [self._haystack(row) for row in self._rows]
        self._order = self._arranged()
        self.endResetModel()

    def set_filter(self, text: str) -> None:
        """Shows only records in which every word of `text` occurs."""
        words = tuple(text.casefold().split())
        if words == self._filter:
            return
        self.beginResetModel()
        self._filter = words
        self._order = self._arranged()
        self.endResetModel()

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        """Sorts by a column (-1: as the rows came)."""
        self.layoutAboutToBeChanged.emit()
        before = self.persistentIndexList()
        sources = [int(self._order[index.row()]) for index in before]
        self._sorted_by = (column, order)
        self._order = self._arranged()
        places = {int(source): place for place, source in enumerate(self._order)}
        after = [self.index(places[source], index.column()) for source, index in zip(sources, before, strict=True)]
        self.changePersistentIndexList(before, after)
        self.layoutChanged.emit()

    def _haystack(self, row: Any) -> str:
        text = self._words(row) if self._words else " ".join(column.text(row) for column in self.columns)
        return text.casefold()

    def _arranged(self) -> np.ndarray:
        import numpy as np

        column, order = self._sorted_by
        places = np.arange(len(self._rows))
        if 0 <= column < len(self.columns) and self._rows:
            places = sorted_places([self._sort_value(self.columns[column], row) for row in self._rows], order)
        if self._filter:
            kept = [all(word in self._texts[place] for word in self._filter) for place in places]
            places = places[np.array(kept, dtype=bool)] if len(places) else places
        return places

    def _sort_value(self, column: Column, row: Any) -> float | str | None:
        return column.sort(row) if column.sort is not None else (column.text(row) or None)

    def row(self, index: Index) -> Any | None:
        """The record of an index, or None."""
        return self._rows[int(self._order[index.row()])] if index.isValid() else None

    def shown(self) -> tuple[Any, ...]:
        """The records as they stand, sorted and filtered."""
        return tuple(self._rows[int(place)] for place in self._order)

    def longest(self, column: Column) -> str:
        """The longest text of a column, of all records."""
        return max(map(column.text, self._rows), key=len, default="")

    def index_of(self, key: str) -> QModelIndex:
        """First cell of the record with this key; invalid where it is not shown."""
        for place, source in enumerate(self._order):
            if self._key(self._rows[int(source)]) == key:
                return self.index(place, 0)
        return QModelIndex()

    # --- Qt --------------------------------------------------------------------------------------------------------

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008  (Qt's own signature)
        return 0 if parent.isValid() else len(self._order)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.columns)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid() or index.row() >= len(self._order):
            return None
        row, column = self._rows[int(self._order[index.row()])], self.columns[index.column()]
        match role:
            case Qt.ItemDataRole.DisplayRole:
                return column.text(row)
            case Qt.ItemDataRole.ToolTipRole:
                return (column.tip(row) if column.tip else column.text(row)) or None
            case Qt.ItemDataRole.TextAlignmentRole:
                return RIGHT if column.number else LEFT
            case Qt.ItemDataRole.DecorationRole:
                if column.icon:
                    return column.icon(row)
                return self._icon(column.mark(row)) if column.mark else None
            case Qt.ItemDataRole.AccessibleTextRole:
                return f"{column.title}: {column.text(row) or 'nothing'}"
            case _:
                return self._own_role(row, column, role)

    def _own_role(self, row: Any, column: Column, role: int) -> Any:
        if role in (SortRole, Qt.ItemDataRole.EditRole):
            return self._sort_value(column, row)
        if role == KeyRole:
            return self._key(row)
        if role == ShareRole and column.share:
            return column.share(row)
        return None

    def _icon(self, call: str) -> Any:
        held = f"{call} {theme.current().name} {theme.current().mark_px}"
        if held not in self._icons:
            self._icons[held] = marks.icon(call)
        return self._icons[held]

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if orientation != Qt.Orientation.Horizontal or not 0 <= section < len(self.columns):
            return None
        column = self.columns[section]
        if role == Qt.ItemDataRole.DisplayRole:
            return column.title
        if role == Qt.ItemDataRole.ToolTipRole:
            return column.why or None
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return RIGHT if column.number else LEFT
        return None


def sorted_places(values: Sequence[float | str | None], order: Qt.SortOrder) -> np.ndarray:
    """Places of `values` in sorted order, stable; None last in both directions. Texts sort with their numbers."""
    import numpy as np

    none = np.array([value is None for value in values], dtype=bool)
    known = np.flatnonzero(~none)
    texts = any(isinstance(values[place], str) for place in known)
    keys = np.array([natural(str(values[p])) if texts else float(values[p]) for p in known])  # type: ignore[arg-type]
    if order == Qt.SortOrder.DescendingOrder:
        arranged = known[::-1][np.argsort(keys[::-1], kind="stable")][::-1]
    else:
        arranged = known[np.argsort(keys, kind="stable")]
    return np.concatenate([arranged, np.flatnonzero(none)]).astype(int)


def natural(text: str) -> str:
    """A text to sort by, with its numbers as numbers: "E9" before "E10"."""
    return re.sub(r"\d+", _padded, text.casefold())


def _padded(found: re.Match[str]) -> str:
    return found.group().zfill(12)


class ShareDelegate(QStyledItemDelegate):
    """Paints a thin bar below the text of a share; full width is the whole, beyond it the bar turns heavy."""

    def paint(self, painter: QPainter, option, index) -> None:
        super().paint(painter, option, index)
        share = index.data(ShareRole)
        if share is None:
            return
        now = theme.current()
        height = max(3, round(3 * now.scale))
        room = option.rect.adjusted(now.gap_px, 0, -now.gap_px, 0)
        top = option.rect.bottom() - height - 2
        painter.save()
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(theme.colour("grid"))
        painter.drawRect(QRect(room.left(), top, room.width(), height))
        painter.setBrush(theme.colour("ceiling" if share < 1 else "trouble"))
        painter.drawRect(QRect(room.left(), top, round(room.width() * min(1.0, max(0.0, share))), height))
        painter.restore()


class Table(QTableView):
    """A table that sorts by its heads, keeps the picked key over changes, and opens a row with Enter."""

    picked = Signal(str)
    """Key of the row at hand, '' for none."""
    opened = Signal(str)
    """Key of the row that Enter or a double click opened."""

    def __init__(self, model: RowsModel, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._picked = ""
        self._holding = False
        self._words: tuple[str, ...] = ()
        self.setAccessibleName(name)
        self.setModel(model)
        model.setParent(self)
        self.rows = model
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setAlternatingRowColors(True)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)
        self.setCornerButtonEnabled(False)
        self.verticalHeader().hide()
        head = self.horizontalHeader()
        head.setHighlightSections(False)
        head.setSectionsClickable(True)
        head.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        head.customContextMenuRequested.connect(self._head_menu)
        head.setSortIndicatorClearable(True)
        head.setSortIndicator(-1, Qt.SortOrder.AscendingOrder)
        self.setSortingEnabled(True)
        for number, column in enumerate(model.columns):
            if column.share:
                self.setItemDelegateForColumn(number, ShareDelegate(self))
        model.modelAboutToBeReset.connect(self._hold)
        model.modelReset.connect(self._restore)
        self.selectionModel().currentRowChanged.connect(self._row_changed)
        self.doubleClicked.connect(self._open)
        theme.follow(self, self.fit)
        self.fit()

    def fit(self) -> None:
        """Sizes rows, columns and marks to the look."""
        now = theme.current()
        self.verticalHeader().setDefaultSectionSize(now.row_px)
        self.verticalHeader().setMinimumSectionSize(now.row_px)
        self.setIconSize(self._icon_size())
        head = self.horizontalHeader()
        head.setMinimumSectionSize(self.fontMetrics().averageCharWidth() * 4)
        self._named = self._name_widths()
        for number, column in enumerate(self.rows.columns):
            stretch = column.stretch
            mode = QHeaderView.ResizeMode.Stretch if stretch else QHeaderView.ResizeMode.Interactive
            head.setSectionResizeMode(number, mode)
            if not stretch:
                self.setColumnWidth(number, self._width_px(column))
        self._leave_out()

    def _icon_size(self) -> QSize:
        """Room for the marks, or for small pictures where a column has some [px]."""
        if any(column.icon for column in self.rows.columns):
            row = theme.current().row_px
            return QSize(round(row * 1.5), row - 2)
        return marks.pixmap("Run").deviceIndependentSize().toSize()

    def _width_px(self, column: Column) -> int:
        """Room that a column wants: its letters, or its title where that is longer [px]."""
        metrics = self.fontMetrics()
        bold = round(metrics.horizontalAdvance(column.title) * 1.12)
        mark = theme.current().mark_px + 4 if column.mark else 0
        letters = max(metrics.averageCharWidth() * column.width, self._named.get(column.title, 0))
        return max(letters + mark, bold + SORT_ARROW_PX) + 2 * theme.current().gap_px + 4

    def _name_widths(self) -> dict[str, int]:
        """Column -> what its longest name takes, as far as it may [px]."""
        metrics = self.fontMetrics()
        most = metrics.averageCharWidth()
        return {
            column.title: min(metrics.horizontalAdvance(self.rows.longest(column)), most * column.most)
            for column in self.rows.columns
            if column.most
        }

    def _fit_names(self) -> None:
        """Other rows, and with them other names; a width that a person set stays while the names ask for no other."""
        before, self._named = self._named, self._name_widths()
        if self._named == before:
            return
        for number, column in enumerate(self.rows.columns):
            if self._named.get(column.title) != before.get(column.title) and not column.stretch:
                self.setColumnWidth(number, self._width_px(column))
        self._leave_out()

    def _leave_out(self) -> None:
        """Hides spare columns until the rest has room."""
        columns = self.rows.columns
        wanted = [self._width_px(column) for column in columns]
        room = self.viewport().width() - sum(wanted)
        hide: set[int] = set()
        for number in sorted(range(len(columns)), key=self._spare_order):
            if room >= 0 or not columns[number].spare:
                break
            room += wanted[number]
            hide.add(number)
        for number in range(len(columns)):
            if self.isColumnHidden(number) != (number in hide):
                self.setColumnHidden(number, number in hide)
        self.horizontalHeader().setStretchLastSection(any(columns[number].stretch for number in hide))

    def _spare_order(self, number: int) -> int:
        return -self.rows.columns[number].spare

    def resizeEvent(self, event) -> None:
        super().resizeEvent(event)
        self._leave_out()

    def key(self) -> str:
        """Key of the row at hand, or ''."""
        return str(self.currentIndex().data(KeyRole) or "") if self.currentIndex().isValid() else ""

    def pick(self, key: str) -> bool:
        """Goes to the row with this key. False where it is not shown."""
        index = self.rows.index_of(key)
        if index.isValid():
            self.setCurrentIndex(index)
            self.scrollTo(index)
        return index.isValid()

    def _hold(self) -> None:
        self._holding = True

    def _restore(self) -> None:
        self._holding = False
        self._fit_names()
        wanted = self._picked
        if not (wanted and self.pick(wanted)):
            self.setCurrentIndex(QModelIndex())
            if wanted:
                self._picked = ""
                self.picked.emit("")

    def _row_changed(self, now: QModelIndex, _before: QModelIndex) -> None:
        if self._holding:
            return
        key = str(now.data(KeyRole) or "") if now.isValid() else ""
        if key != self._picked:
            self._picked = key
            self.picked.emit(key)

    def _open(self, index: QModelIndex) -> None:
        key = index.data(KeyRole)
        if key:
            self.opened.emit(str(key))

    # --- what is this? -----------------------------------------------------------------------------------------------

    def contextMenuEvent(self, event) -> None:
        place = self.indexAt(event.pos()) if event.reason() != event.Reason.Keyboard else self.currentIndex()
        self._offer(place.row(), place.column(), event.globalPos())

    def _head_menu(self, at) -> None:
        self._offer(-1, self.horizontalHeader().logicalIndexAt(at), self.horizontalHeader().mapToGlobal(at))

    def _offer(self, row: int, column: int, at) -> None:
        """A menu: what the word means, and this table as a spreadsheet; the main window opens both."""
        if self._main() is None:
            return
        self._words = words_of_cell(self, row, column)
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        if self._words:
            menu.addAction("&What is this?").triggered.connect(self._read)
        menu.addAction("&Export this table…").triggered.connect(self._export)
        menu.popup(at)

    def _main(self) -> Any | None:
        """The main window: this table's own, or the one above which its dialog stands."""
        window: Any = self.window()
        while window is not None and not hasattr(window, "export_shown"):
            parent = window.parentWidget()
            window = parent.window() if parent is not None else None
        return window

    def _read(self) -> None:
        above = self.window() if self.window() is not self._main() else None
        self._main().read_about(*self._words, above=above)

    def _export(self) -> None:
        self._main().export_shown(self)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if (
            event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
            and not event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
        ):
            if self.currentIndex().isValid():
                self._open(self.currentIndex())
            return
        if event.key() == Qt.Key.Key_E and event.modifiers() == Qt.KeyboardModifier.ControlModifier:
            if self._main() is not None:  # in a dialog, where the window's own key does not reach
                self._export()
            return
        super().keyPressEvent(event)

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange and hasattr(self, "rows"):
            self.fit()
