"""The log of an engine as a table that is kept by key: open and correct, another like it, withdraw, photos."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QIcon, QKeyEvent
from PySide6.QtWidgets import QWidget

from benchapp.actions import events, fill
from benchapp.actions.looks import LogRow
from benchapp.window.dialogs import forms
from benchapp.window.fleet import columns
from benchapp.window.photos import show_photos, thumbs
from benchapp.window.tables import RowsModel, Table

KEYS = (
    ("Ctrl+D", "In the log: another entry like this one"),
    ("Delete", "In the log: withdraw the entry (undo brings it back)"),
    ("Space", "In the log: the photos of the entry, large"),
)
NOTE = "Enter corrects an entry, Ctrl+D enters another like it, Delete withdraws it, Space shows its photos."
NOT_HERE = "This is a {kind} ({text}): it is entered and corrected in Break-in."
NOT_HERE_DO = "Go there with Ctrl+4."
WHY = "withdrawn in the log"


class LogTable(Table):
    """See the module. It acts on the engine whose rows it was given."""

    def __init__(self, session: Any, name: str, parent: QWidget | None = None) -> None:
        self.session = session
        self.engine = ""
        self._thumbs = thumbs(session)
        super().__init__(RowsModel(columns.log_columns(self._thumb), columns.log_key), name, parent)
        self._thumbs.ready.connect(self._thumb_ready)
        self.opened.connect(self.open_entry)

    def show_log(self, engine: str, rows: Iterable[LogRow]) -> None:
        """Shows the log of an engine."""
        self.engine = engine
        self.rows.set_rows(tuple(rows))

    def row_at_hand(self, key: str = "") -> LogRow | None:
        """The row of a key, else the current one."""
        wanted = key or self.key()
        return next((row for row in self.rows.shown() if row.key == wanted), None)

    def open_entry(self, key: str) -> None:
        """Opens a line where it is corrected, or says what it is."""
        row = self.row_at_hand(key)
        if row is None:
            return
        self.session.select(self.engine)
        if row.kind == "Sample":
            self.session.open_sample(row.records[0].code)
        elif row.kind in forms.OF_THE_LOG:
            which = forms.OF_THE_LOG[row.kind]
            forms.show(which, self.session, self.window(), old=row.records, number=row.build)
        else:
            self._say_where(row)

    def another(self) -> None:
        """A new entry like the one at hand."""
        row = self.row_at_hand()
        if row is None:
            return
        self.session.select(self.engine)
        if row.kind in forms.OF_THE_LOG:
            forms.show(forms.OF_THE_LOG[row.kind], self.session, self.window(), like=row.records)
        elif row.kind == "Sample":
            self.session.new_sample(self.engine)

    def withdraw(self) -> None:
        """Withdraws the entry at hand; undo brings it back."""
        row = self.row_at_hand()
        if row is None:
            return
        if row.kind == "Fill":
            self.session.run(fill.void, self.engine, row.build, row.records[0].name, WHY)
        elif row.kind in forms.OF_THE_LOG:
            self.session.run(events.void_all, self.engine, row.build, row.records, WHY)
        elif row.kind == "Sample":
            self.open_entry(row.key)  # a sample is withdrawn with a reason, where it is shown
        else:
            self._say_where(row)

    def show_photos(self) -> None:
        """The photos of the entry at hand, large."""
        row = self.row_at_hand()
        if row is not None and row.photos:
            show_photos(self.session, self.window(), row.photos, f"{row.kind} at {row.build_h:g} h: {row.text}")

    def _say_where(self, row: LogRow) -> None:
        self.session.note.emit(NOT_HERE.format(kind=row.kind.lower(), text=row.text), "", NOT_HERE_DO)

    def _thumb(self, row: LogRow) -> Any:
        return QIcon(self._thumbs.of(row.photos[0].sha256)) if row.photos else None

    def _thumb_ready(self, _sha256: str) -> None:
        self.viewport().update()

    def event(self, event: QEvent) -> bool:
        """Ctrl+D belongs to the log while it has the keyboard."""
        if event.type() == QEvent.Type.ShortcutOverride and _is_another(event):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if _is_another(event):
            self.another()
        elif event.key() == Qt.Key.Key_Delete:
            self.withdraw()
        elif event.key() == Qt.Key.Key_Space:
            self.show_photos()
        else:
            super().keyPressEvent(event)


def _is_another(event: Any) -> bool:
    return event.key() == Qt.Key.Key_D and event.modifiers() == Qt.KeyboardModifier.ControlModifier
