"""How lines, calls and events look: colour, symbol and dash together, so that none of them speaks alone."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPainterPath, QPen, QPixmap, QPolygonF, QTransform

from benchapp.records import CALL_WORDS
from benchapp.window import theme

DASHES = ((), (6, 3), (2, 3), (8, 3, 2, 3))
"""Dash patterns in pen widths; () is a full line."""


def _polygon(*corners: tuple[float, float]) -> QPainterPath:
    path = QPainterPath()
    path.addPolygon(QPolygonF([QPointF(x, y) for x, y in corners]))
    path.closeSubpath()
    return path


def _ellipse() -> QPainterPath:
    path = QPainterPath()
    path.addEllipse(QRectF(-0.5, -0.5, 1, 1))
    return path


def _half_disc() -> QPainterPath:
    hole = QPainterPath()
    hole.addEllipse(QRectF(-0.38, -0.38, 0.76, 0.76))
    right = QPainterPath()
    right.addRect(QRectF(0, -0.5, 0.5, 1))
    return _ellipse().subtracted(hole.intersected(right))


def _cross(turn: float = 0.0) -> QPainterPath:
    a, b = 0.14, 0.5
    corners = [
        (-a, -b),
        (a, -b),
        (a, -a),
        (b, -a),
        (b, a),
        (a, a),
        (a, b),
        (-a, b),
        (-a, a),
        (-b, a),
        (-b, -a),
        (-a, -a),
    ]
    return QTransform().rotate(turn).map(_polygon(*corners))


_SQUARE = _polygon((-0.46, -0.46), (0.46, -0.46), (0.46, 0.46), (-0.46, 0.46))
_UP = _polygon((0, -0.5), (0.5, 0.42), (-0.5, 0.42))
_DOWN = _polygon((0, 0.5), (0.5, -0.42), (-0.5, -0.42))
_DIAMOND = _polygon((0, -0.56), (0.5, 0), (0, 0.56), (-0.5, 0))
_BAR = _polygon((-0.5, -0.2), (0.5, -0.2), (0.5, 0.2), (-0.5, 0.2))
_POST = _polygon((-0.2, -0.5), (0.2, -0.5), (0.2, 0.5), (-0.2, 0.5))
_BOWTIE = _polygon((-0.5, -0.45), (0.5, 0.45), (0.5, -0.45), (-0.5, 0.45))

SYMBOLS = (_ellipse(), _SQUARE, _UP, _DIAMOND, _DOWN, _cross(), _cross(45), _BAR)
"""Symbol of each line, in the order of `theme.series`."""

CALLS = dict(zip(CALL_WORDS, (_ellipse(), _half_disc(), _UP, _SQUARE), strict=True))
"""The four calls, as everywhere in the window."""

EVENTS = {
    "fill": _DOWN,
    "top-up": _cross(),
    "change": _DIAMOND,
    "filter cut": _cross(45),
    "looked inside": _ellipse(),
    "leak-down": _BAR,
    "part": _UP,
    "instrument": _BOWTIE,
    "hold": _SQUARE,
    "rebuild": _POST,
}


@dataclass(frozen=True, slots=True)
class Style:
    """Look of one line: its colour, symbol and dash, by the slot it has taken."""

    slot: int

    @property
    def colour(self) -> QColor:
        colours = theme.current().series
        return QColor(colours[self.slot % len(colours)])

    @property
    def symbol(self) -> QPainterPath:
        return SYMBOLS[self.slot % len(SYMBOLS)]

    def pen(self, front: bool = False, faint: bool = False, dense: bool = False, dots: float = 1.0) -> QPen:
        """The line: heavier in front; thin and dotted from one fill to the next; a full hairline where points stand
        so dense that dashes could not be seen and would take their time. `dots`: printer's dots for one on screen."""
        wide = theme.current().line_px * theme.current().scale * (1.7 if front else 1.0)
        made = QPen(self.colour, dots * (1.0 if faint or dense else wide))
        made.setCosmetic(True)
        made.setCapStyle(Qt.PenCapStyle.FlatCap)
        dash = (1, 4) if faint else DASHES[(self.slot + self.slot // len(SYMBOLS)) % len(DASHES)]
        if dash and not dense:
            made.setDashPattern(list(dash))
        return made


def symbol_px() -> float:
    """Size of a line's symbol [px]."""
    return (11 if theme.current().large else 8.5) * theme.current().scale


def line_icon(style: Style) -> QIcon:
    """A piece of the line with its symbol, for the list that is the legend."""
    height, width = theme.current().mark_px, theme.current().mark_px * 2.4
    made = QPixmap(round(width * 2), round(height * 2))
    made.setDevicePixelRatio(2)
    made.fill(Qt.GlobalColor.transparent)
    painter = QPainter(made)
    draw_sample(painter, QRectF(0, 0, width, height), style)
    painter.end()
    icon = QIcon(made)
    icon.addPixmap(made, QIcon.Mode.Selected)  # its colour is its name: never tinted by the row
    return icon


def draw_sample(painter: QPainter, rect: QRectF, style: Style) -> None:
    """Draws a piece of the line with its symbol into `rect`."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    middle = rect.center().y()
    painter.setPen(style.pen())
    painter.drawLine(QPointF(rect.left(), middle), QPointF(rect.right(), middle))
    draw_symbol(painter, rect.center(), style.symbol, rect.height() * 0.66, style.colour)
    painter.restore()


def draw_symbol(painter: QPainter, at: QPointF, symbol: QPainterPath, size: float, colour: QColor) -> None:
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colour)
    painter.drawPath(QTransform().translate(at.x(), at.y()).scale(size, size).map(symbol))
