"""The small plots of the page: points against build hours with ceiling and expected band, readable in grey."""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QPainter, QPainterPath, QPolygonF

from benchapp.sheet.pen import BLACK, GREY, MM, PALE, pen, single
from benchapp.sheet.reason_plots import PlotPoint, SmallPlot
from benchapp.sheet.words import number

KEY = (
    "● value   ○ below what the instrument sees   ▢ round it: this sample   dashed: ceiling, limit   hatched: expected"
)
TYPE = 6.0
"""Type in a plot [pt]."""

MOST = 1e9
"""Nothing beyond this can be a reading or a rate; it would only break the plot."""

Scale = tuple[float, float]


def _sane(*values: float | None) -> bool:
    return all(value is not None and math.isfinite(value) and abs(value) <= MOST for value in values)


def drawable(plot: SmallPlot) -> SmallPlot:
    """The plot without what cannot be drawn: endless or absurd values."""
    return SmallPlot(
        plot.title,
        tuple(p for p in plot.points if _sane(p.x, p.y)),
        plot.ceiling if _sane(plot.ceiling) else None,
        tuple(step for step in plot.band if _sane(*step)),
        plot.word,
        plot.beside,
    )


def _span(values: list[float]) -> Scale:
    low, high = min(values), max(values)
    return (low, high) if high - low > 1e-6 else (low - 0.5, high + 0.5)


def _heights(plot: SmallPlot) -> Scale:
    """0 to a little over the highest thing that must be seen; a ceiling more than six times away stays outside."""
    values = [p.y for p in plot.points] + [high for _, _, high in plot.band]
    values = values or [1.0]
    top = max(max(values), 1e-12)
    ends = [p.high for p in plot.points if p.high is not None and _sane(p.high)]
    top = max([top, *(min(end, 1.4 * top) for end in ends)])
    if plot.ceiling is not None and plot.ceiling <= 6 * top:
        top = max(top, plot.ceiling)
    return min(0.0, *values), top * 1.12


def draw_plot(painter: QPainter, rect: QRectF, plot: SmallPlot) -> None:
    """Draws one small plot into `rect` (sheet units)."""
    plot = drawable(plot)
    points = list(plot.points)
    line = 2.6 * MM
    box = rect.adjusted(9 * MM, line + 0.4 * MM, -1 * MM, -line)
    xs = _span([p.x for p in points] or [0.0])
    ys = _heights(plot)

    def at(x: float, y: float) -> QPointF:
        inner = box.adjusted(2 * MM, 0, -2 * MM, 0)
        share = min(
            2.0, max(-1.0, (y - ys[0]) / (ys[1] - ys[0]))
        )  # what lies far outside stays near: lines are clipped
        return QPointF(
            inner.left() + (x - xs[0]) / (xs[1] - xs[0]) * inner.width(),
            box.bottom() - share * box.height(),
        )

    painter.save()
    _frame(painter, rect, box, plot, line, points, ys)
    painter.setClipRect(box.adjusted(0, -0.2 * MM, 0.3 * MM, 1 * MM))
    _band(painter, plot, box, at)
    _ceiling(painter, plot, points, ys, box, at)
    _points(painter, points, at)
    painter.restore()


def _frame(painter, rect, box, plot, line, points, ys) -> None:
    single(painter, plot.title, QRectF(box.left(), rect.top(), box.width(), line), TYPE + 1, bold=True)
    painter.setPen(pen(0.25))
    painter.drawLine(box.bottomLeft(), box.bottomRight())
    painter.drawLine(box.bottomLeft(), box.topLeft())
    right = Qt.AlignmentFlag.AlignRight
    label = QRectF(rect.left(), 0, 8.4 * MM, line)
    top = ys[1] / 1.12
    for value in (top, 0.0):
        y = box.bottom() - (value - ys[0]) / (ys[1] - ys[0]) * box.height()
        said = number(value, 2) if plot.beside is None else f"{number(value, 2)} ({plot.beside(value)})"
        single(painter, said, label.translated(0, y - line / 2), TYPE, align=right, colour=GREY)
        painter.setPen(pen(0.2))
        painter.drawLine(QPointF(box.left() - 0.6 * MM, y), QPointF(box.left(), y))
    below = QRectF(box.left(), box.bottom() + 0.1 * MM, box.width(), line)
    if points:
        first, last = min(p.x for p in points), max(p.x for p in points)
        single(painter, f"{first:.1f}" if first < last else "", below, TYPE, colour=GREY)
        single(painter, f"{last:.1f} h", below, TYPE, align=right, colour=GREY)
    single(painter, "build hours", below, TYPE, align=Qt.AlignmentFlag.AlignHCenter, colour=GREY)


def _band(painter, plot, limits, at) -> None:
    """Hatched between the expected limits; where only one sample has them, a short hatched bar."""
    if not plot.band:
        return
    steps = list(plot.band)
    if len(steps) == 1:
        (x, low, high), wide = steps[0], 1.4 * MM
        polygon = [at(x, high) + QPointF(s * wide, 0) for s in (-1, 1)] + [
            at(x, low) + QPointF(s * wide, 0) for s in (1, -1)
        ]
    else:
        polygon = [at(x, high) for x, _, high in steps] + [at(x, low) for x, low, _ in reversed(steps)]
    painter.setPen(pen(0.12, PALE))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    shape = QPolygonF(polygon)
    painter.drawPolygon(shape)
    _hatch(painter, shape, limits)


def _hatch(painter: QPainter, shape: QPolygonF, limits: QRectF) -> None:
    """Diagonal hairlines inside a polygon and the plot. A pattern brush is drawn in device dots and prints as grey."""
    path = QPainterPath()
    path.addPolygon(shape)
    path.closeSubpath()
    painter.save()
    painter.setClipPath(path, Qt.ClipOperation.IntersectClip)
    painter.setPen(pen(0.12, PALE))
    box = shape.boundingRect().intersected(limits)
    x = box.left() - box.height()
    while x < box.right():
        painter.drawLine(QPointF(x, box.bottom()), QPointF(x + box.height(), box.top()))
        x += 0.9 * MM
    painter.restore()


def _ceiling(painter, plot, points, ys, box, at) -> None:
    if plot.ceiling is None:
        return
    label, width, height = f"{plot.word} {number(plot.ceiling)}", 18 * MM, 2.5 * MM
    if plot.ceiling > ys[1]:
        row = QRectF(box.left() + 0.5 * MM, box.top(), box.width() - MM, height)
        single(painter, f"{label}, above this plot", row, TYPE, colour=GREY)
        return
    y = at(0, plot.ceiling).y()
    dashes = pen(0.35)
    dashes.setDashPattern([5, 3])
    painter.setPen(dashes)
    painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
    lefts = (box.left() + 0.5 * MM, box.center().x() - width / 2, box.right() - width)
    rows = [QRectF(x, top, width, height) for x in lefts for top in (y + 0.2 * MM, y - height - 0.2 * MM)]
    places = [at(p.x, p.y) for p in points]
    single(painter, label, min(rows, key=lambda row: _crowd(row, places)), TYPE, colour=GREY)


def _crowd(row: QRectF, places: list[QPointF]) -> int:
    """How many points a label would lie on."""
    margin = 0.8 * MM
    return sum(row.adjusted(-margin, -margin, margin, margin).contains(place) for place in places)


def _points(painter: QPainter, points: list[PlotPoint], at) -> None:
    for p in points:
        if p.low is not None and p.high is not None and _sane(p.low, p.high):
            painter.setPen(pen(0.25))
            painter.drawLine(at(p.x, p.low), at(p.x, p.high))
    for p in points:
        centre, radius = at(p.x, p.y), 0.65 * MM
        painter.setPen(pen(0.3))
        painter.setBrush(QBrush(Qt.GlobalColor.white) if p.hollow else QBrush(BLACK))
        painter.drawEllipse(centre, radius, radius)
        if p.this:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            side = 1.35 * MM
            painter.drawRect(QRectF(centre.x() - side, centre.y() - side, 2 * side, 2 * side))
