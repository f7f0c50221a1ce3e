"""How the cells of sample entry look by their role: a ground, an ink and a small painted mark, never colour alone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QIcon, QPainter, QPen, QPixmap, QPolygonF
from PySide6.QtWidgets import QApplication

from benchapp.window import theme

ROLE_WORDS = {
    "header": "names a measurand",
    "unit": "unit",
    "sample": "sample",
    "reading": "reading taken",
    "problem": "problem",
    "left out": "left out",
    "check": "instrument check",
    "other": "not used",
}
"""What each role of a cell in the pasted sheet is called, in the key beside it and in its hover text."""


class _Held:
    """What was made for the look in force: a table asks for the same few things thousands of times."""

    look: theme.Theme | None = None
    made: ClassVar[dict[tuple[Any, ...], Any]] = {}


def _held(make: Callable[..., Any], *args: Any) -> Any:
    if _Held.look is not theme.current():
        _Held.look = theme.current()
        _Held.made.clear()
    key = (make, *args)
    if key not in _Held.made:
        _Held.made[key] = make(*args)
    return _Held.made[key]


def ground(role: str) -> QBrush:
    """What lies behind a cell of this role."""
    return _held(_ground, role)


def ink(role: str) -> QBrush:
    """What a cell of this role is written in."""
    return _held(_ink, role)


def font(*, bold: bool = False, struck: bool = False) -> QFont:
    """The table's font, heavier or struck through."""
    return _held(_font, bold, struck)


def icon(role: str, side_px: int = 0) -> QIcon:
    """The mark of a role as an icon."""
    return _held(_icon, role, side_px)


def _ground(role: str) -> QBrush:
    look = theme.current()
    plain = {
        "problem": look.trouble_back,
        "header": look.band,
        "unit": look.band,
        "left out": look.band,
        "other": look.band,
        "heading": look.band,
        "check": look.note_back,
        "edited": look.note_back,
    }.get(role, look.paper)
    colour = QColor(plain)
    if role == "sample":
        colour = QColor(look.picked)
        colour.setAlphaF(0.6)
    return QBrush(colour)


def _ink(role: str) -> QBrush:
    look = theme.current()
    quiet = role in ("unit", "left out", "other", "quiet")
    return QBrush(QColor(look.trouble if role == "problem" else look.quiet if quiet else look.ink))


def _font(bold: bool, struck: bool) -> QFont:
    made = QFont(QApplication.font())
    made.setBold(bold)
    made.setStrikeOut(struck)
    return made


def pixmap(role: str, side_px: int = 0) -> QPixmap:
    """The mark of a role as a picture, sharp on the screen at hand."""
    side = side_px or round(theme.current().mark_px * 0.85)
    app = QApplication.instance()
    ratio = app.devicePixelRatio() if isinstance(app, QApplication) else 1.0
    made = QPixmap(QSize(round(side * ratio), round(side * ratio)))
    made.setDevicePixelRatio(ratio)
    made.fill(Qt.GlobalColor.transparent)
    painter = QPainter(made)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    _paint(painter, QRectF(0, 0, side, side), role)
    painter.end()
    return made


def _icon(role: str, side_px: int) -> QIcon:
    picture = pixmap(role, side_px)
    made = QIcon(picture)
    made.addPixmap(picture, QIcon.Mode.Selected)  # Qt would tint it in a picked cell
    return made


def _paint(painter: QPainter, box: QRectF, role: str) -> None:
    look = theme.current()
    pen_px = max(1.5, box.width() / 8)
    colour = QColor({"problem": look.trouble, "sample": look.accent, "reading": look.accent}.get(role, look.quiet))
    painter.setPen(QPen(colour, pen_px))
    inner = box.adjusted(pen_px, pen_px, -pen_px, -pen_px)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if role == "problem":
        _diamond(painter, inner, colour, QColor(look.trouble_back), pen_px)
    elif role == "sample":
        _bottle(painter, inner, colour)
    elif role == "reading":
        _tick(painter, inner)
    elif role in ("header", "unit"):
        _bars(painter, inner, 3 if role == "header" else 1)
    elif role == "check":
        painter.drawEllipse(inner)
        _tick(painter, inner.adjusted(pen_px * 1.5, pen_px * 1.5, -pen_px * 1.5, -pen_px * 1.5))
    elif role == "left out":
        painter.drawLine(inner.bottomLeft(), inner.topRight())
        painter.drawEllipse(inner)
    else:
        middle = inner.center().y()
        painter.drawLine(QLineF(inner.left(), middle, inner.right(), middle))


def _diamond(painter: QPainter, box: QRectF, colour: QColor, paper: QColor, pen_px: float) -> None:
    """A filled diamond with a stroke and a dot: something here needs a person."""
    middle = box.center()
    painter.setBrush(colour)
    painter.drawPolygon(
        QPolygonF(
            [
                QPointF(middle.x(), box.top()),
                QPointF(box.right(), middle.y()),
                QPointF(middle.x(), box.bottom()),
                QPointF(box.left(), middle.y()),
            ]
        )
    )
    stroke = QPen(paper, pen_px)
    stroke.setCapStyle(Qt.PenCapStyle.RoundCap)
    painter.setPen(stroke)
    reach = box.height() * 0.22
    painter.drawLine(QLineF(middle.x(), middle.y() - reach, middle.x(), middle.y() + reach * 0.25))
    painter.drawPoint(QPointF(middle.x(), middle.y() + reach))


def _bottle(painter: QPainter, box: QRectF, colour: QColor) -> None:
    body = box.adjusted(box.width() * 0.12, box.height() * 0.35, -box.width() * 0.12, 0)
    neck = QRectF(box.center().x() - box.width() * 0.16, box.top(), box.width() * 0.32, box.height() * 0.35)
    painter.setBrush(colour)
    painter.drawRect(neck)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(body)


def _tick(painter: QPainter, box: QRectF) -> None:
    painter.drawPolyline(
        QPolygonF(
            [
                QPointF(box.left(), box.center().y()),
                QPointF(box.left() + box.width() * 0.38, box.bottom() - box.height() * 0.12),
                QPointF(box.right(), box.top() + box.height() * 0.12),
            ]
        )
    )


def _bars(painter: QPainter, box: QRectF, count: int) -> None:
    for step in range(count):
        y = box.top() + box.height() * (step + 0.5) / count
        painter.drawLine(QLineF(box.left(), y, box.right(), y))
