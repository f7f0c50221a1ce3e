"""The three lamps: shape and word, never colour alone, each with its reason."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from benchapp.actions.breakin import LIT, MISSING, NOT_YET
from benchapp.window import theme

WORDS = {LIT: "settled", NOT_YET: "not yet", MISSING: "no evidence"}
TITLES = {"power": "Power", "leak-down": "Leak-down", "wear rate": "Wear rate"}


def paint_lamp(painter: QPainter, box: QRectF, state: str, ink: QColor) -> None:
    """A full disc for settled, an empty ring for not yet, a dash for no evidence."""
    side = min(box.width(), box.height())
    pen_px = max(2.0, side / 8)
    inner = QRectF(0, 0, side - pen_px, side - pen_px)
    inner.moveCenter(box.center())
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(ink, pen_px))
    if state == LIT:
        painter.setBrush(ink)
        painter.drawEllipse(inner)
    elif state == NOT_YET:
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawEllipse(inner)
    else:
        middle = inner.center().y()
        painter.drawLine(inner.left(), middle, inner.right(), middle)
    painter.restore()


class LampMark(QWidget):
    """The shape of one lamp."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._state = MISSING
        theme.follow(self, self._fit)
        self._fit()

    def set_state(self, state: str) -> None:
        self._state = state
        self.update()

    def _fit(self) -> None:
        side = round(theme.current().mark_px * 1.5)
        self.setFixedSize(side, side)
        self.update()

    def paintEvent(self, _event) -> None:
        painter = QPainter(self)
        role = {LIT: "accent", NOT_YET: "look_inside"}.get(self._state, "quiet")
        paint_lamp(painter, QRectF(self.rect()), self._state, theme.colour(role))
        painter.end()


class LampCard(QFrame):
    """One lamp: its shape, its name and state in words, its reason."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.name = name
        self.setProperty("role", "card")
        self.mark = LampMark(self)
        self.head = QLabel(self)
        self.head.setProperty("role", "head")
        self.head.setWordWrap(True)
        self.reason = QLabel(self)
        self.reason.setWordWrap(True)
        self.reason.setTextFormat(Qt.TextFormat.PlainText)
        self.reason.setAlignment(Qt.AlignmentFlag.AlignTop)
        row = QHBoxLayout()
        row.addWidget(self.mark)
        row.addWidget(self.head, 1)
        column = QVBoxLayout(self)
        column.addLayout(row)
        column.addWidget(self.reason, 1)

    def show_lamp(self, state: str, reason: str) -> None:
        said = f"{TITLES[self.name]}: {WORDS[state]}"
        self.mark.set_state(state)
        self.head.setText(said)
        self.reason.setText(reason[:1].upper() + reason[1:] + ("" if reason.endswith(".") else "."))
        self.setAccessibleName(said)
        self.setAccessibleDescription(reason)
