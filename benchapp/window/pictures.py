"""Plots as pictures: PNG for a message, SVG for paper; those of pyqtgraph with their titles."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
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
Draw = Callable[[QPainter], None]


def save(session: Any, parent: Any, plots: Sequence[Plot], name: str) -> None:
    """Asks where and writes plots side by side, as they are shown."""
    drawn = _size(plots), partial(_draw, plots=plots)
    write(session, parent, f"{name}.png", partial(png, *drawn), partial(svg, *drawn, name))


def write(session: Any, parent: Any, name: str, as_png: Callable[[], bytes], as_svg: Callable[[], bytes]) -> None:
    """Asks where, `name` being offered, and writes a picture in the form that is chosen."""
    path = session.ask.save_file(parent, "Write the plot as a picture", PICTURES, name)
    if not path:
        return
    try:
        export.write_whole(path, (as_svg if path.lower().endswith(".svg") else as_png)())
    except BenchProblem as problem:
        session.problem.emit(problem)
        return
    session.note.emit("Written.", str(Path(path)), "")


def png(size: QSize, draw: Draw) -> bytes:
    """What `draw` paints on so much paper as a PNG, twice as sharp as on the screen."""
    image = QImage(size * SHARP, QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(SHARP)
    painter = QPainter(image)
    draw(painter)
    painter.end()
    return _held(lambda buffer: image.save(buffer, "PNG"))


def svg(size: QSize, draw: Draw, title: str) -> bytes:
    """What `draw` paints as lines and text that stay sharp at any size."""

    def drawn(buffer: QBuffer) -> None:
        generator = QSvgGenerator()
        generator.setOutputDevice(buffer)
        generator.setSize(size)
        generator.setViewBox(QRectF(0, 0, size.width(), size.height()))
        generator.setTitle(title)
        painter = QPainter(generator)
        draw(painter)
        painter.end()

    return _held(drawn)


def _held(write_to: Callable[[QBuffer], Any]) -> bytes:
    held = QByteArray()
    buffer = QBuffer(held)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    write_to(buffer)
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
