"""The page of the day: all cars with their calls, one line each, gravest first. One page, more where there are many.

It is a list to walk along the cars with, not the sheet of a sample: each call's own sheet says why and how sure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter

from benchapp.records import CALL_WORDS
from benchapp.sheet.page import MARGIN, PAPERS, page_mm
from benchapp.sheet.paper import DrawPage
from benchapp.sheet.pen import GREY, MM, PALE, Para, call_mark, para, pen, scaled, single

UNITS_A_PAGE = 18.0
"""Room of a page, in rows of a car with nothing to do: smaller ones could not be read at the car."""

WITH_STEPS = 1.7
"""Room that a car takes for which there is something to do, in such rows."""


@dataclass(frozen=True, slots=True)
class DayRow:
    """One engine. Every text is one clean line; `call` is one of CALL_WORDS or '' for none."""

    engine: str
    car: str
    call: str
    build_h: str
    reason: str
    before_out: tuple[str, ...]
    next_sample: str
    sample: str
    age: str


@dataclass(frozen=True, slots=True)
class Day:
    """All that the page says."""

    title: str
    counts: str
    rows: tuple[DayRow, ...]
    cautions: tuple[str, ...]
    written: str


def in_order(rows: Sequence[DayRow]) -> tuple[DayRow, ...]:
    """Gravest call first, engines without a call last; else as they came."""
    return tuple(sorted(rows, key=_gravity))


def _gravity(row: DayRow) -> int:
    return -CALL_WORDS.index(row.call) if row.call in CALL_WORDS else 1


def _weight(row: DayRow) -> float:
    return WITH_STEPS if row.before_out else 1.0


def packed(rows: Sequence[DayRow]) -> list[list[DayRow]]:
    """Rows page by page, in their order, as many on each as there is room for."""
    groups: list[list[DayRow]] = [[]]
    for row in rows:
        if groups[-1] and sum(map(_weight, groups[-1])) + _weight(row) > UNITS_A_PAGE:
            groups.append([])
        groups[-1].append(row)
    return groups


def pages(day: Day) -> list[DrawPage]:
    """The day as pages; each carries title, cautions and room to sign."""
    groups = packed(day.rows)
    return [partial(_draw, day, group, f"{n} of {len(groups)}") for n, group in enumerate(groups, start=1)]


def _draw(day: Day, rows: Sequence[DayRow], number: str, painter: QPainter, rect: QRectF) -> None:
    paper = min(PAPERS, key=lambda name: abs(page_mm(name)[1] / page_mm(name)[0] - rect.height() / rect.width()))
    width, height = (MM * side for side in page_mm(paper))
    painter.save()
    scaled(painter, rect, width)
    painter.fillRect(QRectF(0, 0, width, height), QColor("#ffffff"))
    box = QRectF(MARGIN, MARGIN, width - 2 * MARGIN, height - 2 * MARGIN)
    right = Qt.AlignmentFlag.AlignRight
    single(painter, day.title, QRectF(box.left(), box.top(), box.width() * 0.6, 9 * MM), 21, bold=True)
    end = QRectF(box.left() + box.width() * 0.62, box.top(), box.width() * 0.38, 9 * MM)
    single(painter, f"page {number}", end, 10, align=right, colour=GREY)
    single(painter, day.counts, QRectF(box.left(), box.top() + 9.5 * MM, box.width(), 5 * MM), 10.5)
    y = box.top() + 15.5 * MM
    painter.setPen(pen(0.9))
    painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
    bottom = _foot(painter, box, day)
    unit = min(14 * MM, (bottom - y) / max(1.0, sum(map(_weight, rows))))
    for row in rows:
        _row(painter, QRectF(box.left(), y, box.width(), unit * _weight(row)), row)
        y += unit * _weight(row)
    painter.restore()


def _row(painter: QPainter, box: QRectF, row: DayRow) -> None:
    side = 8 * MM
    call_mark(painter, QRectF(box.left() + 1 * MM, box.top() + 2 * MM, side, side), row.call, 0.5)
    left = box.left() + 11 * MM
    single(painter, row.call or "No call", QRectF(left, box.top() + 1 * MM, 27 * MM, 6 * MM), 12.5, bold=True)
    single(painter, row.build_h, QRectF(left, box.top() + 7 * MM, 27 * MM, 4 * MM), 8, colour=GREY)
    left += 28 * MM
    single(painter, row.engine, QRectF(left, box.top() + 1 * MM, 32 * MM, 6 * MM), 12.5, bold=True)
    single(painter, f"car {row.car}" if row.car else "", QRectF(left, box.top() + 7 * MM, 32 * MM, 4 * MM), 8,
           colour=GREY)  # fmt: skip
    left += 33 * MM
    right = box.right() - 31 * MM
    _why(painter, QRectF(left, box.top() + 1.2 * MM, right - left - 2 * MM, box.height() - 2 * MM), row)
    single(painter, "next sample", QRectF(right, box.top() + 1 * MM, 31 * MM, 3 * MM), 6.5, colour=GREY)
    single(painter, row.next_sample or "not known", QRectF(right, box.top() + 4 * MM, 31 * MM, 4.4 * MM), 9, bold=True)
    sampled = " · ".join(filter(None, (row.sample, row.age)))
    single(painter, sampled, QRectF(right, box.top() + 8.4 * MM, 31 * MM, 3.4 * MM), 7, colour=GREY)
    painter.setPen(pen(0.15, PALE))
    painter.drawLine(box.bottomLeft(), box.bottomRight())


def _why(painter: QPainter, box: QRectF, row: DayRow) -> None:
    """The strongest reason, and what to do before it goes out, as much of it as there is room for."""
    reason = in_two_lines(first_sentence(row.reason), box.width())
    y = reason.draw(painter, box.left(), box.top(), 2) + 0.4 * MM
    last = 3.2 * MM
    for number, text in enumerate(row.before_out, start=1):
        step = para(text, box.width(), 8.0, mark="box")
        left = 0.0 if number == len(row.before_out) else last
        if y + step.height() > box.bottom() - left:
            single(painter, "… more on its own sheet", QRectF(box.left(), y, box.width(), last), 7)
            return
        y = step.draw(painter, box.left(), y) + 0.3 * MM


def in_two_lines(text: str, width: float) -> Para:
    """A text in the largest type in which two lines hold it; in the smallest, what they hold and a mark that it goes
    on."""
    for points in (8.5, 8.0, 7.5, 7.0, 6.5):
        whole = para(text, width, points)
        if whole.lines <= 2:
            return whole
    second = whole.layout.lineAt(1)
    kept = text[: second.textStart() + second.textLength()]
    while kept:
        shorter = kept.rpartition(" ")[0] or kept[:-1]
        cut = para(f"{shorter} …", width, points)
        if cut.lines <= 2:
            return cut
        kept = shorter
    return whole


def first_sentence(text: str) -> str:
    """A text up to the end of its first sentence (a full stop before a blank and a capital)."""
    return re.split(r"(?<=[.!?]) (?=[A-Z])", text, maxsplit=1)[0]


def _foot(painter: QPainter, box: QRectF, day: Day) -> float:
    """Cautions, room to sign, what wrote it; gives the y above them."""
    line = QRectF(box.left(), box.bottom() - 3.6 * MM, box.width(), 3.6 * MM)
    single(painter, day.written, line, 8)
    single(painter, "Race Oil Bench", line, 7, align=Qt.AlignmentFlag.AlignRight, colour=GREY)
    y = line.top() - 4 * MM
    third = box.width() / 3
    for place, word in enumerate(("name", "date and time", "signature")):
        left = box.left() + place * third
        painter.setPen(pen(0.25))
        painter.drawLine(QPointF(left, y), QPointF(left + third - 5 * MM, y))
        single(painter, word, QRectF(left, y + 0.2 * MM, third, 3 * MM), 6.5, colour=GREY)
    paras = [para(text, box.width() - 3 * MM, 7.2, mark="dot") for text in day.cautions]
    top = y - 8 * MM - sum(each.height() for each in paras)
    painter.setPen(pen(0.25))
    painter.drawLine(QPointF(box.left(), top - 1 * MM), QPointF(box.right(), top - 1 * MM))
    at = top
    for each in paras:
        at = each.draw(painter, box.left(), at)
    return top - 2 * MM
