"""The before-and-after page: did it help? The forest plot, what it stands on, what was left out. One page."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QFont, QPainter

from benchapp.sheet import answer_page, forest
from benchapp.sheet.answer_page import Answer, Block
from benchapp.sheet.pen import BLACK, GREY, MM, PALE, font, para
from benchapp.sheet.words import moment, plain

SHARE = 0.56
LARGEST, SMALLEST = 5.2, 3.2
"""Height of a row [mm]."""


@dataclass(frozen=True, slots=True)
class EffectPage:
    """Everything on the page; `rows` is the forest plot."""

    answer: Answer
    rows: tuple[forest.Row, ...]

    @property
    def title(self) -> str:
        return f"Before and after: {self.answer.subject}"


def page_of(
    *,
    subject: str,
    about: str,
    sentence: str,
    rows: Sequence[forest.Row],
    blocks: Sequence[tuple[str, Sequence[str]]],
    cautions: Sequence[str],
    written_at: dt.datetime,
) -> EffectPage:
    """The page from what the comparison says; texts are made plain, empty blocks left away."""
    answer = Answer(
        "Did it help?", plain(subject), plain(about), plain(sentence),
        tuple(Block(title, tuple(plain(line) for line in lines)) for title, lines in blocks if lines),
        tuple(plain(text) for text in cautions), f"written {moment(written_at)}",
        f"before and after {plain(subject)}.pdf",
    )  # fmt: skip
    return EffectPage(answer, tuple(replace(row, name=plain(row.name), words=plain(row.words)) for row in rows))


def draw(painter: QPainter, rect: QRectF, page: EffectPage) -> None:
    """Draws the whole page into `rect` (all of the paper, in the device's units)."""
    answer_page.draw(painter, rect, page.answer, page.rows, SHARE, _figures)


def write_pdf(page: EffectPage, path: str | os.PathLike[str], paper: str = "A4") -> Path:
    """Writes the page as a PDF of one page. Raises BenchProblem."""
    return answer_page.write_pdf(_drawer(page), page.title, path, paper)


def print_page(page: EffectPage, printer: Any) -> None:
    """Prints the page on a QPrinter. Raises BenchProblem where it will not start."""
    answer_page.print_on(_drawer(page), printer)


def _drawer(page: EffectPage) -> Callable[[QPainter, QRectF], None]:
    return partial(_draw_turned, page)


def _draw_turned(page: EffectPage, painter: QPainter, rect: QRectF) -> None:
    draw(painter, rect, page)


def _figures(painter: QPainter, rect: QRectF, rows: Sequence[forest.Row]) -> None:
    said = para(forest.KEY, rect.width(), 7.0)
    key = said.height() + MM
    room = rect.adjusted(0, 0, 0, -key)
    wanted = room.height() / max(forest.rows_height(rows, 1.0), 1.0)
    line = min(LARGEST * MM, max(SMALLEST * MM, wanted))
    inks = forest.Inks(BLACK, GREY, PALE, BLACK, QColor("#ffffff"))
    forest.paint(painter, room, rows, inks, line, partial(_font, line))
    said.draw(painter, rect.left(), rect.bottom() - said.height())


def _font(line: float, bold: bool) -> QFont:
    return font(min(8.6, line / MM * 0.62 * 72 / 25.4), bold)
