"""The lamp of an instrument: a ring with a sign in it, so that it reads in grey: tick, wave, clock, cross, question."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPen, QPixmap, QPolygonF
from PySide6.QtWidgets import QApplication, QWidget

from benchapp.actions import checks
from benchapp.window import theme

SIGNS = {checks.GOOD: "✓", checks.WATCH: "≈", checks.DUE: "◷", checks.FAILED: "✕", checks.NONE: "?"}
"""The nearest characters, for places that can only hold text."""


def colour(state: str) -> QColor:
    """The colour of a state's lamp; its sign and word say the same."""
    look = theme.current()
    return QColor(
        {
            checks.GOOD: look.run,
            checks.WATCH: look.short_stint,
            checks.DUE: look.look_inside,
            checks.FAILED: look.trouble,
        }.get(state, look.quiet)
    )


def words(state: str) -> str:
    """Sign and word in one text."""
    return f"{SIGNS[state]} {checks.WORDS[state]}"


_STROKES = {
    checks.GOOD: ((0.24, 0.52), (0.44, 0.72), (0.77, 0.30)),
    checks.WATCH: ((0.20, 0.58), (0.36, 0.40), (0.50, 0.50), (0.64, 0.60), (0.80, 0.42)),
    checks.DUE: ((0.50, 0.24), (0.50, 0.54), (0.72, 0.66)),
    checks.NONE: ((0.36, 0.40), (0.38, 0.28), (0.50, 0.22), (0.62, 0.30), (0.60, 0.42), (0.50, 0.50), (0.50, 0.60)),
}


def paint(painter: QPainter, rect: QRectF, state: str) -> None:
    """Paints the lamp into `rect` (its largest centred square)."""
    side = min(rect.width(), rect.height())
    width = max(1.6, side / 9)
    box = QRectF(rect.center().x() - side / 2, rect.center().y() - side / 2, side, side)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    ink, paper = colour(state), QColor(theme.current().paper)
    ring = box.adjusted(width / 2, width / 2, -width / 2, -width / 2)
    filled = state in (checks.GOOD, checks.FAILED)
    painter.setPen(QPen(ink, width, Qt.PenStyle.DotLine if state == checks.NONE else Qt.PenStyle.SolidLine))
    painter.setBrush(ink if filled else Qt.BrushStyle.NoBrush)
    if state == checks.FAILED:
        painter.drawRect(ring)
    else:
        painter.drawEllipse(ring)
    pen = QPen(paper if filled else ink, width)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if state == checks.FAILED:
        for ends in (((0.3, 0.3), (0.7, 0.7)), ((0.3, 0.7), (0.7, 0.3))):
            painter.drawPolyline(_line(box, ends))
    elif state in _STROKES:
        painter.drawPolyline(_line(box, _STROKES[state]))
    if state == checks.NONE:
        painter.drawPoint(_place(box, (0.5, 0.74)))
    painter.restore()


def _place(box: QRectF, share: tuple[float, float]) -> QPointF:
    return QPointF(box.left() + box.width() * share[0], box.top() + box.height() * share[1])


def _line(box: QRectF, shares: tuple[tuple[float, float], ...]) -> QPolygonF:
    return QPolygonF([_place(box, share) for share in shares])


def icon(state: str, side_px: int | None = None) -> QIcon:
    """The lamp as an icon."""
    side = side_px or theme.current().mark_px
    app = QApplication.instance()
    ratio = app.devicePixelRatio() if isinstance(app, QApplication) else 1.0
    made = QPixmap(QSize(round(side * ratio), round(side * ratio)))
    made.setDevicePixelRatio(ratio)
    made.fill(Qt.GlobalColor.transparent)
    painter = QPainter(made)
    paint(painter, QRectF(0, 0, side, side), state)
    painter.end()
    found = QIcon(made)
    found.addPixmap(made, QIcon.Mode.Selected)
    return found


class Lamp(QWidget):
    """A lamp as a widget, for the head of the view."""

    def __init__(self, parent: QWidget | None = None, times: float = 2.6) -> None:
        super().__init__(parent)
        self._times = times
        self.state = checks.NONE
        self.set_state(checks.NONE)
        theme.follow(self, self._fit)

    def set_state(self, state: str) -> None:
        """Shows a key of `actions.checks.WORDS`."""
        self.state = state
        self.setAccessibleName(f"Lamp: {checks.WORDS[state]}")
        self._fit()

    def _fit(self) -> None:
        side = round(theme.current().mark_px * self._times)
        self.setFixedSize(side, side)
        self.update()

    def paintEvent(self, _event) -> None:
        painter = QPainter(self)
        paint(painter, QRectF(self.rect()), self.state)
        painter.end()
