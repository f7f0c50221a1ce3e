"""The page of the day and the sampling card, seen before they are printed."""

from __future__ import annotations

import datetime as dt
from typing import Any

from PySide6.QtWidgets import QWidget

from benchapp.actions import day, labels
from benchapp.sheet import day_page
from benchapp.sheet.paper import DrawPage
from benchapp.window import units
from benchapp.window.dialogs.pages import PagesDialog


class DayDialog(PagesDialog):
    """All cars and their calls."""

    title = "Page of the day"
    file_name = "day.pdf"

    def __init__(self, session: Any, parent: QWidget | None = None) -> None:
        now = dt.datetime.now().replace(microsecond=0)  # noqa: DTZ005  (the person's clock)
        self.day = units.rewritten(day.page(session.bench, now))
        self.file_name = f"day {now:%Y-%m-%d}.pdf"
        super().__init__(session, parent)

    def pages(self, _paper: str) -> list[DrawPage]:
        return day_page.pages(self.day)


class CardDialog(PagesDialog):
    """How to draw a sample, and what to note."""

    title = "Sampling card"
    file_name = "sampling card.pdf"

    def pages(self, paper: str) -> list[DrawPage]:
        return labels.pages(self.session.bench, (), paper, with_card=True)
