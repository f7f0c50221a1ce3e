"""The list of views, loaded only when first shown. A room that is not there yet shows a page that says so."""

from __future__ import annotations

import importlib
import importlib.util
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from benchapp.window.view import View


@dataclass(frozen=True, slots=True)
class Entry:
    """One place in the rail: key of the view, its word, its shortcut, its mark, where its class is."""

    key: str
    title: str
    shortcut: str
    shape: str
    where: str
    always: bool = True
    """False: in the rail only once its module is there."""

    @property
    def module(self) -> str:
        return self.where.partition(":")[0]


VIEWS = (
    Entry("fleet", "Fleet", "Ctrl+1", "rows", "benchapp.window.fleet.view:FleetView"),
    Entry("entry", "Sample entry", "Ctrl+2", "drop", "benchapp.window.entry.view:EntryView"),
    Entry("trend", "Trends", "Ctrl+3", "line", "benchapp.window.trend.view:TrendView"),
    Entry("breakin", "Break-in", "Ctrl+4", "steps", "benchapp.window.breakin.view:BreakInView", always=False),
    Entry("change", "Before / after", "Ctrl+5", "pair", "benchapp.window.change.view:ChangeView", always=False),
    Entry("checks", "Bench checks", "Ctrl+6", "gauge", "benchapp.window.checks.view:ChecksView", always=False),
)


def is_there(entry: Entry) -> bool:
    """True where the view's module can be found (nothing is imported but its packages)."""
    try:
        return importlib.util.find_spec(entry.module) is not None
    except ModuleNotFoundError:
        return False


def in_rail() -> tuple[Entry, ...]:
    """The views that the rail shows, in order."""
    return tuple(entry for entry in VIEWS if entry.always or is_there(entry))


def make(entry: Entry, session, parent: QWidget | None = None, *, staged: bool = False) -> View:
    """The view itself (`staged`: begun, see `View`), or the page that says that it arrives later."""
    if not is_there(entry):
        return LaterPage(entry.title, session, parent)
    module_name, _, class_name = entry.where.partition(":")
    return getattr(importlib.import_module(module_name), class_name)(session, parent, staged=staged)


class LaterPage(View):
    """Stands in for a view whose room is not in this copy of the program."""

    def __init__(self, title: str, session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        head = QLabel(title, self)
        head.setProperty("role", "title")
        words = QLabel("This view arrives later. Everything in the bench file is already kept for it.", self)
        words.setWordWrap(True)
        column = QVBoxLayout(self)
        column.setAlignment(Qt.AlignmentFlag.AlignTop)
        column.addWidget(head)
        column.addWidget(words)
