"""The break-in page: is it done? Three lamps with their plots, the ceilings, what was left out. One page."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QPainter, QPolygonF

from benchapp.breakin.done import LIT, NOT_YET, Lamp
from benchapp.sheet import answer_page
from benchapp.sheet.answer_page import Answer, Block
from benchapp.sheet.pen import BLACK, GREY, MM, PALE, para, pen, single
from benchapp.sheet.words import moment, number, plain

TITLES = {"power": "Power", "leak-down": "Leak-down", "wear rate": "Wear rate"}
STATES = {LIT: "settled", NOT_YET: "not yet"}
SHARE = 0.47
"""Share of the body for lamps and plots."""
Line = tuple[tuple[float, ...], tuple[float, ...]]


@dataclass(frozen=True, slots=True)
class Plot:
    """What one small plot shows: dots, lines through them, a band (x, low, high), dashes, words at points."""

    unit: str
    dots: tuple[tuple[float, float], ...] = ()
    lines: tuple[Line, ...] = ()
    dashes: tuple[Line, ...] = ()
    band: tuple[tuple[float, float, float], ...] = ()
    words: tuple[tuple[float, float, str], ...] = ()
    from_zero: bool = True


@dataclass(frozen=True, slots=True)
class BreakInPage:
    """Everything on the page. `figures`: one lamp and its plot, three times."""

    answer: Answer
    figures: tuple[tuple[Lamp, Plot], ...]

    @property
    def title(self) -> str:
        return f"Break-in page of {self.answer.subject}"


def page_of(
    *,
    engine: str,
    about: str,
    sentence: str,
    lamps: Sequence[Lamp],
    plots: Sequence[Plot],
    blocks: Sequence[tuple[str, Sequence[str]]],
    cautions: Sequence[str],
    written_at: dt.datetime,
) -> BreakInPage:
    """The page from what the break-in look says; texts are made plain, empty blocks left away."""
    answer = Answer(
        "Is the break-in done?", plain(engine), plain(about), plain(sentence),
        tuple(Block(title, tuple(plain(line) for line in lines)) for title, lines in blocks if lines),
        tuple(plain(text) for text in cautions), f"written {moment(written_at)}", f"break-in {plain(engine)}.pdf",
    )  # fmt: skip
    return BreakInPage(answer, tuple(zip(lamps, plots, strict=True)))


def draw(painter: QPainter, rect: QRectF, page: BreakInPage) -> None:
    """Draws the whole page into `rect` (all of the paper, in the device's units)."""
    answer_page.draw(painter, rect, page.answer, page.figures, SHARE, _figures)


def write_pdf(page: BreakInPage, path: str | os.PathLike[str], paper: str = "A4") -> Path:
    """Writes the page as a PDF of one page. Raises BenchProblem."""
    return answer_page.write_pdf(_drawer(page), page.title, path, paper)


def print_page(page: BreakInPage, printer: Any) -> None:
    """Prints the page on a QPrinter. Raises BenchProblem where it will not start."""
    answer_page.print_on(_drawer(page), printer)


def _drawer(page: BreakInPage) -> Callable[[QPainter, QRectF], None]:
    return partial(_draw_turned, page)


def _draw_turned(page: BreakInPage, painter: QPainter, rect: QRectF) -> None:
    draw(painter, rect, page)


# --- lamps and plots ------------------------------------------------------------------------------------------------


def _figures(painter: QPainter, rect: QRectF, figures: Sequence[tuple[Lamp, Plot]]) -> None:
    row = rect.height() / max(len(figures), 1)
    for place, (lamp, plot) in enumerate(figures):
        box = QRectF(rect.left(), rect.top() + place * row, rect.width(), row - 1.5 * MM)
        _lamp(painter, QRectF(box.left(), box.top(), box.width() * 0.36, box.height()), lamp)
        plotted = QRectF(box.left() + box.width() * 0.38, box.top(), box.width() * 0.62, box.height())
        draw_plot(painter, plotted, plot)
        painter.setPen(pen(0.15, GREY))
        painter.drawLine(box.bottomLeft(), box.bottomRight())


def _lamp(painter: QPainter, box: QRectF, lamp: Lamp) -> None:
    mark = QRectF(box.left() + 0.6 * MM, box.top() + 1.4 * MM, 6 * MM, 6 * MM)
    lamp_mark(painter, mark, lamp.state)
    word = STATES.get(lamp.state, "no evidence")
    head = QRectF(mark.right() + 2 * MM, box.top() + 1 * MM, box.width() - 9 * MM, 7 * MM)
    single(painter, f"{TITLES[lamp.name]}: {word}", head, 13, bold=True)
    reason = plain(lamp.reason)
    for points in (9.5, 9.0, 8.5, 8.0, 7.0):
        text = para(reason[:1].upper() + reason[1:] + ".", box.width() - 2 * MM, points)
        if text.height() <= box.height() - 10 * MM:
            break
    text.draw(painter, box.left() + MM, box.top() + 9.5 * MM)


def lamp_mark(painter: QPainter, box: QRectF, state: str) -> None:
    """In black: a full disc for settled, an empty ring for not yet, a dash for no evidence."""
    painter.setPen(pen(0.8))
    if state == LIT:
        painter.setBrush(BLACK)
        painter.drawEllipse(box)
    elif state == NOT_YET:
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawEllipse(box)
    else:
        painter.drawLine(QPointF(box.left(), box.center().y()), QPointF(box.right(), box.center().y()))


def draw_plot(painter: QPainter, rect: QRectF, plot: Plot) -> None:
    """One small plot against build hours, readable in grey."""
    box = rect.adjusted(13 * MM, 1.5 * MM, -7 * MM, -5.5 * MM)
    xs = [x for x, _ in plot.dots] + [x for line in (*plot.lines, *plot.dashes) for x in line[0]]
    ys = [y for _, y in plot.dots] + [y for line in (*plot.lines, *plot.dashes) for y in line[1]]
    xs += [x for x, _, _ in plot.band]
    ys += [value for _, low, high in plot.band for value in (low, high)]
    painter.setPen(pen(0.25))
    painter.drawLine(box.bottomLeft(), box.bottomRight())
    painter.drawLine(box.bottomLeft(), box.topLeft())
    if not xs:
        single(painter, "no data yet", box, 8, align=Qt.AlignmentFlag.AlignHCenter, colour=GREY)
        return
    x0, x1 = (0.0 if plot.from_zero else min(xs)), max(xs)
    y0, y1 = (min(0.0, *ys) if plot.from_zero else min(ys)), max(ys)
    x1, y1 = (x1 if x1 > x0 else x0 + 1.0), (y1 if y1 > y0 else y0 + 1.0)
    y1 += 0.08 * (y1 - y0)

    def at(x: float, y: float) -> QPointF:
        return QPointF(
            box.left() + (x - x0) / (x1 - x0) * box.width(), box.bottom() - (y - y0) / (y1 - y0) * box.height()
        )

    _axes(painter, rect, box, plot.unit, (x0, x1, y0, y1), at)
    _shapes(painter, plot, at)


def _axes(painter, rect, box, unit, ends, at) -> None:
    x0, x1, y0, y1 = ends
    right = Qt.AlignmentFlag.AlignRight
    for value in np.linspace(y0, y0 + (y1 - y0) / 1.08, 3):
        y = at(x0, float(value)).y()
        label = QRectF(rect.left(), y - 1.4 * MM, 12 * MM, 2.8 * MM)
        single(painter, number(float(value), 3 if y0 <= 0 else 4), label, 6.5, align=right, colour=GREY)
        painter.setPen(pen(0.12, PALE))
        painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
    below = QRectF(box.left(), box.bottom() + 0.6 * MM, box.width(), 3 * MM)
    single(painter, f"{x0:.1f}", below, 6.5, colour=GREY)
    single(painter, f"{x1:.1f} h", below, 6.5, align=right, colour=GREY)
    single(painter, f"{unit} against build hours", below, 6.5, align=Qt.AlignmentFlag.AlignHCenter, colour=GREY)


def _shapes(painter: QPainter, plot: Plot, at) -> None:
    if plot.band:
        painter.setPen(pen(0.15, PALE))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        edge = [at(x, high) for x, _, high in plot.band] + [at(x, low) for x, low, _ in reversed(plot.band)]
        painter.drawPolygon(QPolygonF(edge))
    for lines, dashed in ((plot.lines, False), (plot.dashes, True)):
        for xs, ys in lines:
            line = pen(0.4)
            if dashed:
                line.setDashPattern([5, 3])
            painter.setPen(line)
            painter.drawPolyline(QPolygonF([at(x, y) for x, y in zip(xs, ys, strict=True)]))
    painter.setPen(pen(0.3))
    painter.setBrush(QBrush(BLACK))
    for x, y in plot.dots:
        painter.drawEllipse(at(x, y), 0.7 * MM, 0.7 * MM)
    for x, y, text in plot.words:
        spot = at(x, y)
        single(painter, text, QRectF(spot.x() + 1.2 * MM, spot.y() - 1.3 * MM, 6 * MM, 2.6 * MM), 6, colour=GREY)
