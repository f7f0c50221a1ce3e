"""The four calls as shape and word, the same everywhere: disc, half disc, triangle, square.

The more ink and corners, the graver; each is known by its outline alone, so it reads in grey and without colour.
Also the marks of the rail (one simple shape a view), painted, so that they follow theme and scaling.
"""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPen, QPixmap, QPolygonF
from PySide6.QtWidgets import QApplication, QWidget

from benchapp.records import CALL_WORDS
from benchapp.window import theme

SHAPES = dict(zip(CALL_WORDS, ("disc", "half disc", "triangle", "square"), strict=True))
NO_CALL = "No call"
TEXT_MARKS = dict(zip(CALL_WORDS, ("●", "◐", "▲", "■"), strict=True))
"""The nearest characters, for places that can only hold text (a combo box, a screen reader's label)."""


def words(call: str) -> str:
    """Mark and word in one text: "▲ Look inside"."""
    return f"{TEXT_MARKS[call]} {call}" if call in TEXT_MARKS else NO_CALL


def spoken(call: str) -> str:
    """What a screen reader says for a mark."""
    return f"Call: {call}" if call in SHAPES else "No call yet"


def paint(painter: QPainter, rect: QRectF, call: str, colour: QColor | str | None = None) -> None:
    """Paints the mark of a call into `rect` (its largest centred square). An unknown call is a dash."""
    ink = QColor(colour or theme.current().call_colour(call))
    side = min(rect.width(), rect.height())
    box = QRectF(rect.center().x() - side / 2, rect.center().y() - side / 2, side, side)
    pen_px = max(1.5, side / 9)
    box = box.adjusted(pen_px / 2, pen_px / 2, -pen_px / 2, -pen_px / 2)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    pen = QPen(ink, pen_px)
    pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
    painter.setPen(pen)
    painter.setBrush(ink)
    shape = SHAPES.get(call)
    if shape == "disc":
        painter.drawEllipse(box)
    elif shape == "half disc":
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawEllipse(box)
        painter.setBrush(ink)
        painter.drawPie(box, 90 * 16, 180 * 16)
    elif shape == "triangle":
        inset = pen_px / 2
        painter.drawPolygon(
            QPolygonF(
                [
                    QPointF(box.center().x(), box.top() + inset),
                    QPointF(box.right() - inset / 2, box.bottom()),
                    QPointF(box.left() + inset / 2, box.bottom()),
                ]
            )
        )
    elif shape == "square":
        painter.drawRect(box)
    else:
        middle = box.center().y()
        painter.drawLine(QPointF(box.left(), middle), QPointF(box.right(), middle))
    painter.restore()


def _ratio() -> float:
    app = QApplication.instance()
    return app.devicePixelRatio() if isinstance(app, QApplication) else 1.0


def pixmap(call: str, side_px: int | None = None, colour: str | None = None) -> QPixmap:
    """The mark as a picture, sharp on the screen at hand."""
    side, ratio = side_px or theme.current().mark_px, _ratio()
    made = QPixmap(QSize(round(side * ratio), round(side * ratio)))
    made.setDevicePixelRatio(ratio)
    made.fill(Qt.GlobalColor.transparent)
    painter = QPainter(made)
    paint(painter, QRectF(0, 0, side, side), call, colour)
    painter.end()
    return made


def icon(call: str, side_px: int | None = None) -> QIcon:
    """The mark as an icon in the call's colour."""
    picture = pixmap(call, side_px)
    made = QIcon(picture)
    made.addPixmap(picture, QIcon.Mode.Selected)  # Qt would tint it in a picked row
    return made


class MarkWidget(QWidget):
    """A call's mark as a widget, for detail panes and headings."""

    def __init__(self, call: str = "", times: float = 1.0, parent: QWidget | None = None) -> None:
        """`times` the size of a mark in a table."""
        super().__init__(parent)
        self._times = times
        self._call = ""
        self.set_call(call)
        theme.follow(self, self._fit)

    def set_call(self, call: str) -> None:
        self._call = call
        self.setAccessibleName(spoken(call))
        self._fit()

    def call(self) -> str:
        return self._call

    def _fit(self) -> None:
        side = round(theme.current().mark_px * self._times)
        self.setFixedSize(side, side)
        self.update()

    def paintEvent(self, _event) -> None:
        painter = QPainter(self)
        paint(painter, QRectF(self.rect()), self._call)
        painter.end()


# --- marks of the views in the rail ----------------------------------------------------------------------------------


def _rows(painter: QPainter, box: QRectF) -> None:
    for step in range(4):
        y = box.top() + box.height() * (step + 0.5) / 4
        painter.drawLine(QPointF(box.left(), y), QPointF(box.left() + box.width() * 0.12, y))
        painter.drawLine(QPointF(box.left() + box.width() * 0.35, y), QPointF(box.right(), y))


def _drop(painter: QPainter, box: QRectF) -> None:
    bowl = box.adjusted(box.width() * 0.16, box.height() * 0.34, -box.width() * 0.16, 0)
    painter.drawArc(bowl, 155 * 16, 230 * 16)
    tip = QPointF(box.center().x(), box.top())
    painter.drawLine(tip, QPointF(bowl.left() + bowl.width() * 0.05, bowl.center().y() - bowl.height() * 0.2))
    painter.drawLine(tip, QPointF(bowl.right() - bowl.width() * 0.05, bowl.center().y() - bowl.height() * 0.2))


def _line(painter: QPainter, box: QRectF) -> None:
    painter.drawLine(box.topLeft(), box.bottomLeft())
    painter.drawLine(box.bottomLeft(), box.bottomRight())
    steps = ((0.15, 0.7), (0.4, 0.5), (0.62, 0.58), (0.95, 0.12))
    points = [QPointF(box.left() + box.width() * x, box.top() + box.height() * y) for x, y in steps]
    painter.drawPolyline(QPolygonF(points))


def _steps(painter: QPainter, box: QRectF) -> None:
    xs, ys = (0.0, 0.33, 0.33, 0.66, 0.66, 1.0), (0.9, 0.9, 0.5, 0.5, 0.1, 0.1)
    points = [QPointF(box.left() + box.width() * x, box.top() + box.height() * y) for x, y in zip(xs, ys, strict=True)]
    painter.drawPolyline(QPolygonF(points))


def _pair(painter: QPainter, box: QRectF) -> None:
    width = box.width() * 0.3
    painter.drawRect(QRectF(box.left(), box.top() + box.height() * 0.1, width, box.height() * 0.9))
    painter.drawRect(QRectF(box.right() - width, box.top() + box.height() * 0.5, width, box.height() * 0.5))


def _gauge(painter: QPainter, box: QRectF) -> None:
    painter.drawArc(box.adjusted(0, box.height() * 0.2, 0, box.height() * 0.2), 0, 180 * 16)
    painter.drawLine(
        QPointF(box.center().x(), box.top() + box.height() * 0.7),
        QPointF(box.left() + box.width() * 0.75, box.top() + box.height() * 0.32),
    )


_VIEW_SHAPES = {"rows": _rows, "drop": _drop, "line": _line, "steps": _steps, "pair": _pair, "gauge": _gauge}


def view_icon(shape: str, side_px: int | None = None) -> QIcon:
    """The mark of a view in the rail: 'rows', 'drop', 'line', 'steps', 'pair' or 'gauge'."""
    side, ratio = side_px or round(theme.current().mark_px * 1.25), _ratio()
    made = QPixmap(QSize(round(side * ratio), round(side * ratio)))
    made.setDevicePixelRatio(ratio)
    made.fill(Qt.GlobalColor.transparent)
    painter = QPainter(made)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(theme.colour("ink"), max(1.6, side / 10)))
    margin = side * 0.12
    _VIEW_SHAPES[shape](painter, QRectF(margin, margin, side - 2 * margin, side - 2 * margin))
    painter.end()
    return QIcon(made)
