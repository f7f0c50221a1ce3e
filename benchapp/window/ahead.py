"""Makes the views that were not looked at yet while nobody waits, a piece in each turn of the event loop.

What the views import is loaded in the pool thread first: most of what the first look at a view costs is that.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import shiboken6
from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtWidgets import QAbstractItemView, QWidget

from benchapp.window.view import View

USED_LATER = (
    "benchapp.actions.breakin",
    "benchapp.actions.checks",
    "benchapp.actions.effect",
    "benchapp.actions.oil_look",
    "benchapp.actions.paste",
    "benchapp.intake.paste",
    "benchapp.intake.read",
    "benchapp.intake.spreadsheet",
    "benchapp.oil.sample",
    "benchapp.sheet.answer_page",
    "benchapp.sheet.breakin_page",
    "benchapp.wear.change_effect",
    "benchapp.window.dialogs.day",
    "benchapp.window.dialogs.sheet",
    "benchapp.window.search",
    "chemicals.viscosity",
)
"""Modules that views import only when they need them."""


def load(modules: tuple[str, ...]) -> int:
    """A worker's job: loads modules. Returns how many."""
    for name in modules:
        importlib.import_module(name)
    return len(modules)


class Ahead(QObject):
    """Makes views ahead: `begin(entries)`; `take(key)` completes the one that somebody needs at once."""

    done = Signal()
    """Nothing is left to make."""

    def __init__(self, make: Callable[..., View], place: Callable[[str, View], None], parent: QObject) -> None:
        """`make(entry)` begins a view; `place(key, view)` puts a whole one, out of sight, where it belongs."""
        super().__init__(parent)
        self._make, self._place = make, place
        self._to_come: list[Any] = []
        self._at: tuple[str, View, Iterator[None]] | None = None
        self._to_draw: View | None = None
        self._timer = QTimer(self)
        self._timer.setInterval(1)  # not 0: whatever waits in the loop has its turn between two pieces
        self._timer.timeout.connect(self._next)

    @property
    def running(self) -> bool:
        """True while views are still being made."""
        return self._timer.isActive()

    def begin(self, entries: Iterable[Any]) -> None:
        """Makes the views of these entries too, in their order."""
        at = self._at[0] if self._at is not None else ""
        known = {at, *(entry.key for entry in self._to_come)}
        self._to_come += [entry for entry in entries if entry.key not in known]
        self._timer.start()

    def stop(self) -> None:
        """Leaves it; what was begun is dropped."""
        self._timer.stop()
        self._to_come, self._to_draw = [], None
        if self._at is not None:
            self._at[1].deleteLater()
            self._at = None

    def prefer(self, key: str) -> bool:
        """Makes the view of this key next. False: it is not among those to come."""
        if self._at is not None and self._at[0] == key:
            return True
        wanted = [entry for entry in self._to_come if entry.key == key]
        self._to_come = wanted + [entry for entry in self._to_come if entry.key != key]
        return bool(wanted) and self.running

    def take(self, key: str) -> None:
        """Somebody needs the view of this key at once: what is left of it is made now."""
        self._to_come = [entry for entry in self._to_come if entry.key != key]
        if self._at is not None and self._at[0] == key:
            for _ in self._at[2]:
                pass
            self._whole()

    def _next(self) -> None:
        drawn, self._to_draw = self._to_draw, None
        if drawn is not None and shiboken6.isValid(drawn) and not drawn.isVisible():
            drawn.grab()  # laid out and drawn once out of sight: the first look then finds everything ready
        elif self._at is not None:
            if next(self._at[2], self) is self:
                self._whole()
        elif self._to_come:
            entry = self._to_come.pop(0)
            view = self._make(entry)
            self._at = (entry.key, view, _pieces(view))
        else:
            self._timer.stop()
            self.done.emit()

    def _whole(self) -> None:
        if self._at is not None:
            key, view, _ = self._at
            self._at, self._to_draw = None, view
            self._place(key, view)


def hold_tables(view: QWidget) -> Callable[[], None]:
    """Keeps the tables of a view, each as long to paint as all the rest, from being painted with it.

    Returns what lets them paint once the view is shown, one in each turn of the event loop."""
    held = [table for table in view.findChildren(QAbstractItemView) if table.updatesEnabled()]
    for table in held:
        table.setUpdatesEnabled(False)

    def next_one() -> None:
        while held:
            table = held.pop(0)
            if shiboken6.isValid(table):
                table.setUpdatesEnabled(True)
                if held and table.isVisible():
                    break
        if held:
            QTimer.singleShot(1, view, next_one)

    return lambda: QTimer.singleShot(1, view, next_one)


def _pieces(view: View) -> Iterator[None]:
    while view.build_next():
        yield
    yield from view.fill()
