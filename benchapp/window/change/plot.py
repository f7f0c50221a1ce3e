"""The forest plot on the screen and as a picture, in the colours of the look."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QFont, QPainter
from PySide6.QtWidgets import QApplication, QWidget

from benchapp.sheet import forest
from benchapp.window import pictures, theme

WIDTH = 1100
"""Width of a picture [px]."""


def inks() -> forest.Inks:
    """Colours of the look in force."""
    return forest.Inks(*(theme.colour(role) for role in ("ink", "quiet", "grid", "accent", "paper")))


def _font(points: float, bold: bool) -> QFont:
    made = QFont(QApplication.font())
    made.setPointSizeF(points)
    made.setBold(bold)
    return made


def _line() -> float:
    return max(22.0, theme.current().points * 2.1)


class ForestPlot(QWidget):
    """Rows of effects, as high as they need to be: it lies in a scroll area."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rows: tuple[forest.Row, ...] = ()
        self.setAccessibleName("Forest plot; the same figures stand in the table")
        theme.follow(self, self._fit)

    def show_rows(self, rows: tuple[forest.Row, ...]) -> None:
        self.rows = rows
        told = [f"{row.name}: {row.words}" for row in rows[:6]]
        self.setAccessibleDescription(". ".join(told))
        self._fit()

    def _fit(self) -> None:
        self.setMinimumHeight(round(forest.rows_height(self.rows, _line())) + 16)
        self.update()

    def paintEvent(self, _event) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), theme.colour("paper"))
        room = QRectF(self.rect()).adjusted(8, 8, -8, 0)
        forest.paint(painter, room, self.rows, inks(), _line(), partial(_font, theme.current().points))
        painter.end()


def _draw(painter: QPainter, size: QSize, title: str, sentence: str, rows: tuple[forest.Row, ...]) -> None:
    line = _line()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.fillRect(QRectF(0, 0, size.width(), size.height()), theme.colour("paper"))
    painter.setPen(theme.colour("ink"))
    points = theme.current().points
    wrap = int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignVCenter)
    for place, (text, font) in enumerate(((title, _font(points * 1.2, True)), (sentence, _font(points, True)))):
        painter.setFont(font)
        painter.drawText(QRectF(12, 8 + place * line, size.width() - 24, line * (1 + place)), wrap, text)
    room = QRectF(12, 8 + 3.4 * line, size.width() - 24, size.height() - 8 - 5.8 * line)
    forest.paint(painter, room, rows, inks(), line, partial(_font, points))
    painter.setFont(_font(points * 0.85, False))
    painter.setPen(theme.colour("quiet"))
    painter.drawText(QRectF(12, size.height() - 2.4 * line, size.width() - 24, 2.2 * line), wrap, forest.KEY)


def _size(rows: tuple[forest.Row, ...]) -> QSize:
    width = round(WIDTH * max(1.0, theme.current().points / 10))
    return QSize(width, round(forest.rows_height(rows, _line()) + 6.4 * _line() + 16))


def png(title: str, sentence: str, rows: tuple[forest.Row, ...]) -> bytes:
    """The plot with title and sentence, twice as sharp as on the screen."""
    size = _size(rows)
    return pictures.png(size, partial(_draw, size=size, title=title, sentence=sentence, rows=rows))


def svg(title: str, sentence: str, rows: tuple[forest.Row, ...]) -> bytes:
    """The plot as lines and text that stay sharp at any size."""
    size = _size(rows)
    return pictures.svg(size, partial(_draw, size=size, title=title, sentence=sentence, rows=rows), title)
