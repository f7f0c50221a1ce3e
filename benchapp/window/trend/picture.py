"""The plot as a picture with its title and legend in words: PNG for a message, SVG for paper."""

from __future__ import annotations

from contextlib import contextmanager
from functools import partial

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QPainter
from PySide6.QtWidgets import QApplication

from benchapp.window import pictures, theme
from benchapp.window.trend import looks, words
from benchapp.window.trend.plot import TrendPlot


def png(plot: TrendPlot, styles: dict[str, looks.Style], key: str) -> bytes:
    """The plot as it is shown, twice as sharp, as a PNG."""
    size = _size(plot, key)
    with _for_paper(plot, pictures.SHARP):
        return pictures.png(size, partial(_draw, plot=plot, styles=styles, key=key, size=size))


def svg(plot: TrendPlot, styles: dict[str, looks.Style], key: str) -> bytes:
    """The plot as it is shown, as lines and text that stay sharp at any size."""
    size = _size(plot, key)
    with _for_paper(plot, 1.0001):
        draw = partial(_draw, plot=plot, styles=styles, key=key, size=size)
        return pictures.svg(size, draw, words.title_words(plot.series))


@contextmanager
def _for_paper(plot: TrendPlot, dots: float):
    """Draws the plot with pens for so many dots and with marks as outlines, not as the screen's little pictures."""
    plot.dots = dots
    plot.restyle()
    try:
        yield
    finally:
        plot.dots = 1.0
        plot.restyle()


def _row() -> int:
    return round(theme.current().points * 2.4)


def _rows(plot: TrendPlot, key: str) -> int:
    return 1 + len(plot.series.lines) + len(key.splitlines())


def _size(plot: TrendPlot, key: str) -> QSize:
    shown = plot.graphics.size()
    return QSize(shown.width(), shown.height() + _row() * _rows(plot, key) + 8)


def _draw(painter: QPainter, plot: TrendPlot, styles: dict[str, looks.Style], key: str, size: QSize) -> None:
    look, row = theme.current(), _row()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.fillRect(QRectF(0, 0, size.width(), size.height()), QColor(look.paper))
    font = QFont(QApplication.font())
    font.setPixelSize(round(row * 0.52))
    bold = QFont(font)
    bold.setBold(True)
    _text(painter, QRectF(8, 0, size.width() - 16, row), words.title_words(plot.series), bold)
    shown = plot.graphics.size()
    plot.graphics.render(painter, QRectF(0, row, shown.width(), shown.height()), plot.graphics.viewport().rect())
    y = row + shown.height()
    for line in plot.series.lines:
        looks.draw_sample(painter, QRectF(10, y + row * 0.15, row * 2, row * 0.7), styles[line.name])
        _text(painter, QRectF(18 + row * 2, y, size.width(), row), words.line_words(line), font)
        y += row
    for said in key.splitlines():
        _text(painter, QRectF(10, y, size.width() - 20, row), said, font)
        y += row


def _text(painter: QPainter, rect: QRectF, text: str, font: QFont) -> None:
    painter.setFont(font)
    painter.setPen(QColor(theme.current().ink))
    painter.drawText(rect, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, text)
