"""The forest plot: one row an effect, its ratio with the 90 % interval on a log axis. Screen, picture and paper alike.

A filled square with its line: something can be said. A hollow ring: nothing can. A diamond: several together. A short
upright stroke: the smallest lowering this data could have seen. Words stand beside every row; colour says nothing
alone."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF

WIDEST = 8.0
"""Ratios beyond this (and below its inverse) are cut, with an arrow."""
TICKS = (0.125, 0.25, 0.5, 0.7, 1.0, 1.4, 2.0, 4.0, 8.0)
KEY = (
    "■ ratio after / before with its 90 % interval, log axis; in words its probability, permutation p, intervals "
    "before + after   upright line: no change   ○ nothing can be said   ◆ engines together   "
    "│ smallest lowering that would have been seen in 4 of 5 cases"
)


@dataclass(frozen=True, slots=True)
class Row:
    """One effect. `section` is the head under which it stands; NaN where nothing could be said."""

    name: str
    section: str
    ratio: float
    low: float
    high: float
    said: bool
    words: str
    seen_from: float
    together: bool = False


@dataclass(frozen=True, slots=True)
class Inks:
    """Colours of one look."""

    ink: QColor
    quiet: QColor
    grid: QColor
    mark: QColor
    back: QColor


def rows_height(rows: Sequence[Row], line: float) -> float:
    """Room that the rows want, heads and axis included, at `line` a row."""
    return (len(rows) + len({row.section for row in rows}) * 1.15 + 2.2) * line


def paint(
    painter: QPainter, rect: QRectF, rows: Sequence[Row], inks: Inks, line: float, font: Callable[[bool], QFont]
) -> None:
    """Paints the rows from the top of `rect` down; rows without room are left out and counted in words."""
    if not rows:
        return
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    plot = _plot_box(rect, rows, line, font)
    low, high = _ends(rows)

    def x_of(ratio: float) -> float:
        share = (math.log(ratio) - math.log(low)) / (math.log(high) - math.log(low))
        return plot.left() + min(max(share, 0.0), 1.0) * plot.width()

    y, section, shown = rect.top(), "", 0
    top = y
    spots = []
    for row in rows:
        need = line * (2.15 if row.section != section else 1.0)
        if y + need > rect.bottom() - 2.0 * line:
            break
        if row.section != section:
            section = row.section
            _text(painter, QRectF(rect.left(), y, rect.width(), line * 1.15), section, font(True), inks.ink)
            y += line * 1.15
        spots.append((row, y))
        y += line
        shown += 1
    _axis(painter, plot, top, y, x_of, (low, high), inks, line, font)
    for row, at in spots:
        _row(painter, rect, plot, at, row, x_of, (low, high), inks, line, font)
    if shown < len(rows):
        said = f"and {len(rows) - shown} more rows in the bench file"
        _text(painter, QRectF(rect.left(), y, plot.left() - rect.left(), line), said, font(False), inks.quiet)
    painter.restore()


def _ends(rows: Sequence[Row]) -> tuple[float, float]:
    """Ends of the log axis, the same way both sides of 1 where it can be."""
    values = [value for row in rows if row.said for value in (row.low, row.high, row.ratio)]
    far = max([abs(math.log(value)) for value in values if value > 0 and math.isfinite(value)] or [math.log(2)])
    far = min(max(far, math.log(2)) * 1.06, math.log(WIDEST))
    return math.exp(-far), math.exp(far)


def _text(painter, rect, text, font, colour, align=Qt.AlignmentFlag.AlignLeft) -> None:
    painter.setFont(font)
    painter.setPen(colour)
    shown = QFontMetricsF(font).elidedText(text, Qt.TextElideMode.ElideRight, rect.width())
    painter.drawText(rect, int(align | Qt.AlignmentFlag.AlignVCenter), shown)


def _said(row: Row) -> str:
    return f"{row.ratio:.2f} ({row.low:.2f} to {row.high:.2f})  {row.words}" if row.said else row.words


def _plot_box(rect: QRectF, rows: Sequence[Row], line: float, font: Callable[[bool], QFont]) -> QRectF:
    """Where the lines go: what names and words leave, but at least a quarter of the width."""
    plain, bold = QFontMetricsF(font(False)), QFontMetricsF(font(True))
    names = max(
        [bold.horizontalAdvance(row.name) if row.together else plain.horizontalAdvance(row.name) for row in rows]
    )
    words = max([(bold if row.together else plain).horizontalAdvance(_said(row)) for row in rows])
    names, words = names + 2 * line, words + 1.2 * line
    width = rect.width()
    over = names + words - 0.75 * width
    if over > 0:  # names give way first: the table has them in full
        names = max(names - over, min(names, 0.22 * width))
        words = min(words, 0.75 * width - names)
    return QRectF(rect.left() + names, rect.top(), width - names - words, rect.height())


def _axis(painter, plot, top, bottom, x_of, ends, inks, line, font) -> None:
    free = -math.inf
    for tick in sorted(TICKS, key=lambda one: abs(math.log(one))):
        if not ends[0] <= tick <= ends[1]:
            continue
        x = x_of(tick)
        painter.setPen(QPen(inks.ink if tick == 1.0 else inks.grid, line * (0.06 if tick == 1.0 else 0.035)))
        painter.drawLine(QPointF(x, top), QPointF(x, bottom))
    for tick in TICKS:
        x, half = x_of(tick), 0.75 * line
        # the tick at 1 always has its number; the others only where there is room beside it
        near_one = tick != 1.0 and abs(x - x_of(1.0)) < 2 * half
        if ends[0] <= tick <= ends[1] and x - half >= free and not near_one:
            box = QRectF(x - 2 * line, bottom, 4 * line, line)
            ink = inks.ink if tick == 1.0 else inks.quiet
            _text(painter, box, f"{tick:g}", font(tick == 1.0), ink, Qt.AlignmentFlag.AlignHCenter)
            free = x + half
    less = QRectF(plot.left(), bottom + 0.9 * line, plot.width() / 2, line)
    _text(painter, less, "← wears less", font(False), inks.quiet)
    more = less.translated(plot.width() / 2, 0)
    _text(painter, more, "wears more →", font(False), inks.quiet, Qt.AlignmentFlag.AlignRight)


def _row(painter, rect, plot, y, row, x_of, ends, inks, line, font) -> None:
    name = QRectF(rect.left() + 0.6 * line, y, plot.left() - rect.left() - line, line)
    _text(painter, name, row.name, font(row.together), inks.ink)
    words = QRectF(plot.right() + 0.6 * line, y, rect.right() - plot.right() - 0.6 * line, line)
    _text(painter, words, _said(row), font(row.together), inks.ink if row.said else inks.quiet)
    middle, side = y + line / 2, line * 0.42
    if not row.said:
        painter.setPen(QPen(inks.quiet, line * 0.08))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawEllipse(QPointF(plot.left() + side, middle), side * 0.42, side * 0.42)
        return
    painter.setPen(QPen(inks.mark, line * 0.1))
    painter.drawLine(QPointF(x_of(row.low), middle), QPointF(x_of(row.high), middle))
    _arrows(painter, plot, row, ends, middle, line, inks)
    if math.isfinite(row.seen_from) and row.seen_from >= ends[0]:
        painter.setPen(QPen(inks.quiet, line * 0.07))
        x = x_of(row.seen_from)
        painter.drawLine(QPointF(x, middle - side * 0.8), QPointF(x, middle + side * 0.8))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QBrush(inks.mark))
    at = QPointF(x_of(row.ratio), middle)
    if row.together:
        corners = ((0, -side), (side, 0), (0, side), (-side, 0))
        painter.drawPolygon(QPolygonF([at + QPointF(dx, dy) for dx, dy in corners]))
    else:
        painter.drawRect(QRectF(at.x() - side / 2, at.y() - side / 2, side, side))


def _arrows(painter, plot, row, ends, middle, line, inks) -> None:
    painter.setPen(QPen(inks.mark, line * 0.1))
    for beyond, x, way in ((row.low < ends[0], plot.left(), 1), (row.high > ends[1], plot.right(), -1)):
        if beyond:
            for up in (-1, 1):
                painter.drawLine(QPointF(x, middle), QPointF(x + way * 0.3 * line, middle + up * 0.22 * line))
