"""Which word a person means who asks at this place: the cell, the head of its column, or the name of a field."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractItemView, QLabel, QTableView, QWidget


def words_at(widget: QWidget | None) -> tuple[str, ...]:
    """Words at a widget, the likeliest first."""
    if widget is None:
        return ()
    if isinstance(widget, QTableView):
        return words_of_cell(widget, widget.currentIndex().row(), widget.currentIndex().column())
    if isinstance(widget, QAbstractItemView):
        word = widget.currentIndex().data()
        return tuple(str(each) for each in (word, widget.accessibleName()) if each)
    said: Iterable[str] = (widget.accessibleName(), widget.text() if isinstance(widget, QLabel) else "")
    return tuple(word for word in said if word)


def words_of_cell(table: QTableView, row: int, column: int) -> tuple[str, ...]:
    """Words of a cell: its own text, its column's head, then the head of its row. Row -1: the head alone."""
    model = table.model()
    if model is None or column < 0:
        return ()
    head = model.headerData(column, Qt.Orientation.Horizontal)
    own = model.index(row, column).data() if row >= 0 else ""
    first = model.index(row, 0).data() if row >= 0 and column else ""
    return tuple(str(word) for word in (own, head, first) if word)
