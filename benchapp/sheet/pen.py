"""Drawing on paper: lengths in hundredths of a millimetre, type in points, black on white.

The sheet is laid out in its own units and scaled once to the device, so that preview, PDF and printer break the same
lines at the same words."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF, QTextLayout, QTextOption

from benchapp.sheet.words import kept_together

MM = 100.0
"""Units in one millimetre."""

FAMILIES = ("DejaVu Sans", "Noto Sans", "Segoe UI", "Helvetica Neue", "Arial", "Liberation Sans", "Sans Serif")

BLACK = QColor("#000000")
GREY = QColor("#444444")
"""Small type: dark enough for a tired printer."""
PALE = QColor("#9a9a9a")
"""Hairlines and hatching."""


def font(points: float, bold: bool = False, italic: bool = False) -> QFont:
    """A font of so many points, in the sheet's units."""
    made = QFont(list(FAMILIES))
    made.setStyleHint(QFont.StyleHint.SansSerif)
    made.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    made.setPixelSize(max(1, round(points * 25.4 / 72 * MM)))
    made.setBold(bold)
    made.setItalic(italic)
    made.setFeature(QFont.Tag("liga"), 0)  # a page whose text can be searched and copied letter by letter
    return made


def pen(width_mm: float, colour: QColor = BLACK, style: Qt.PenStyle = Qt.PenStyle.SolidLine) -> QPen:
    made = QPen(colour, width_mm * MM, style)
    made.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
    made.setCapStyle(Qt.PenCapStyle.FlatCap)
    return made


@dataclass(frozen=True, slots=True)
class Para:
    """One wrapped text: laid out at a width, drawn line by line. `mark` stands before it: '' or 'box' (to tick) or
    'dot' or a short text such as '1'."""

    layout: QTextLayout
    heights: tuple[float, ...]
    indent: float
    mark: str = ""
    points: float = 9.0

    @property
    def lines(self) -> int:
        return len(self.heights)

    def height(self, lines: int | None = None) -> float:
        return sum(self.heights[:lines])

    def draw(self, painter: QPainter, x: float, y: float, lines: int | None = None) -> float:
        """Draws (the first so many lines of) the text; returns the y below it."""
        if self.mark:
            self._draw_mark(painter, x, y)
        painter.setPen(BLACK)
        at = y
        for number, height in enumerate(self.heights[:lines]):
            line = self.layout.lineAt(number)
            line.draw(painter, QPointF(x + self.indent - line.x(), at - line.y()))
            at += height
        return at

    def _draw_mark(self, painter: QPainter, x: float, y: float) -> None:
        first, size = self.heights[0], self.points * 25.4 / 72 * MM
        if self.mark == "box":
            painter.setPen(pen(0.25))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(QRectF(x, y + (first - size) / 2, size, size))
        elif self.mark == "dot":
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(BLACK)
            painter.drawEllipse(QPointF(x + size * 0.3, y + first / 2), size * 0.14, size * 0.14)


def para(text: str, width: float, points: float, *, bold: bool = False, italic: bool = False, mark: str = "") -> Para:
    """A text wrapped at `width` units; a word longer than a line breaks anywhere."""
    indent = points * 25.4 / 72 * MM * {"": 0.0, "box": 1.6, "dot": 0.95}[mark]
    layout = QTextLayout(kept_together(text), font(points, bold, italic))
    option = QTextOption(Qt.AlignmentFlag.AlignLeft)
    option.setWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
    option.setTextDirection(Qt.LayoutDirection.LeftToRight)
    layout.setTextOption(option)
    heights = []
    layout.beginLayout()
    y = 0.0
    while (line := layout.createLine()).isValid():
        line.setLineWidth(max(1.0, width - indent))
        line.setPosition(QPointF(0, y))
        heights.append(line.height())
        y += line.height()
    layout.endLayout()
    return Para(layout, tuple(heights), indent, mark, points)


def single(
    painter: QPainter,
    text: str,
    rect: QRectF,
    points: float,
    *,
    bold: bool = False,
    align: Qt.AlignmentFlag = Qt.AlignmentFlag.AlignLeft,
    least: float = 0.62,
    elide: Qt.TextElideMode = Qt.TextElideMode.ElideRight,
    colour: QColor = BLACK,
) -> None:
    """One line in a box: the type shrinks to `least` of its size, then the text is cut with an ellipsis."""
    size = points
    while size > points * least and QFontMetricsF(font(size, bold)).horizontalAdvance(text) > rect.width():
        size -= points * 0.04
    metrics = QFontMetricsF(font(size, bold))
    shown = metrics.elidedText(text, elide, rect.width())
    painter.setFont(font(size, bold))
    painter.setPen(colour)
    option = QTextOption(align | Qt.AlignmentFlag.AlignVCenter)
    option.setWrapMode(QTextOption.WrapMode.NoWrap)
    option.setTextDirection(Qt.LayoutDirection.LeftToRight)
    painter.drawText(rect, shown, option)


def call_mark(painter: QPainter, box: QRectF, call: str, line_mm: float = 0.7) -> None:
    """The call's shape in black: disc, half disc, triangle, square; the more corners and ink, the graver."""
    painter.save()
    painter.setPen(pen(line_mm))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if call == "Run":
        painter.setBrush(BLACK)
        painter.drawEllipse(box)
    elif call == "Short stint":
        painter.drawEllipse(box)
        painter.setBrush(BLACK)
        painter.drawPie(box, 90 * 16, 180 * 16)
    elif call == "Look inside":
        painter.setBrush(QBrush(BLACK))
        painter.drawPolygon(
            QPolygonF([QPointF(box.center().x(), box.top()), box.bottomRight(), box.bottomLeft()]),
        )
    elif call == "Park":
        painter.setBrush(BLACK)
        painter.drawRect(box)
    else:
        painter.drawLine(QPointF(box.left(), box.center().y()), QPointF(box.right(), box.center().y()))
    painter.restore()


def scaled(painter: QPainter, rect: QRectF, width: float) -> None:
    """From here on the painter works in the sheet's units, with the page's corner at 0, 0."""
    painter.translate(rect.topLeft())
    painter.scale(rect.width() / width, rect.width() / width)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
