"""Plots of pyqtgraph as a picture with their titles: PNG for a message, SVG for paper."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QImage, QPainter
from PySide6.QtSvg import QSvgGenerator
from PySide6.QtWidgets import QApplication

from benchapp.problems import BenchProblem
from benchapp.sheet import export
from benchapp.window import theme

PICTURES = "Picture (*.png);;Drawing (*.svg)"
SHARP = 2
"""Dots of a PNG for one on the screen."""

Plot = tuple[str, Any]
"""Title, and the graphics view of a plot."""


def save(session: Any, parent: Any, plots: Sequence[Plot], name: str) -> None:
    """Asks where and writes the plots side by side, as they are shown."""
    path = session.ask.save_file(parent, "Write the plot as a picture", PICTURES, f"{name}.png")
    if not path:
        return
    try:
        export.write_whole(path, (svg if path.lower().endswith(".svg") else png)(plots, name))
    except BenchProblem as problem:
        session.problem.emit(problem)
        return
    session.note.emit("Written.", path, "")


def png(plots: Sequence[Plot], _name: str = "") -> bytes:
    """The plots as a PNG, twice as sharp as on the screen."""
    image = QImage(_size(plots) * SHARP, QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(SHARP)
    painter = QPainter(image)
    _draw(painter, plots)
    painter.end()
    return _saved(lambda buffer: image.save(buffer, "PNG"))


def svg(plots: Sequence[Plot], name: str = "") -> bytes:
    """The plots as lines and text that stay sharp at any size."""
    size = _size(plots)

    def write(buffer: QBuffer) -> None:
        generator = QSvgGenerator()
        generator.setOutputDevice(buffer)
        generator.setSize(size)
        generator.setViewBox(QRectF(0, 0, size.width(), size.height()))
        generator.setTitle(name)
        painter = QPainter(generator)
        _draw(painter, plots)
        painter.end()

    return _saved(write)


def _saved(write: Callable[[QBuffer], Any]) -> bytes:
    held = QByteArray()
    buffer = QBuffer(held)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    write(buffer)
    buffer.close()
    return bytes(held.data())


def _row() -> int:
    """Height of a title [px]."""
    return round(theme.current().points * 2.4)


def _size(plots: Sequence[Plot]) -> QSize:
    return QSize(sum(plot.width() for _, plot in plots), max(plot.height() for _, plot in plots) + _row())


def _draw(painter: QPainter, plots: Sequence[Plot]) -> None:
    look, row, size = theme.current(), _row(), _size(plots)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.fillRect(QRectF(0, 0, size.width(), size.height()), QColor(look.paper))
    font = QFont(QApplication.font())
    font.setPixelSize(round(row * 0.52))
    font.setBold(True)
    x = 0.0
    for title, plot in plots:
        painter.setFont(font)
        painter.setPen(QColor(look.ink))
        painter.drawText(QRectF(x + 8, 0, plot.width() - 16, row), Qt.AlignmentFlag.AlignVCenter, title)
        plot.render(painter, QRectF(x, row, plot.width(), plot.height()), plot.viewport().rect())
        x += plot.width()
