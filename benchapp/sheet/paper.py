"""Several pages to one PDF or to a printer. A page is a function that draws into a rectangle of the device."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QMarginsF, QRectF, QSizeF
from PySide6.QtGui import QPageLayout, QPageSize, QPainter, QPdfWriter

from benchapp.problems import BenchProblem
from benchapp.sheet.export import write_whole
from benchapp.sheet.page import need_application

DrawPage = Callable[[QPainter, QRectF], None]


def layout(width_mm: float, height_mm: float) -> QPageLayout:
    """A paper of this size [mm], without margins: the pages keep their own."""
    size = QPageSize(QSizeF(width_mm, height_mm), QPageSize.Unit.Millimeter)
    lies = width_mm > height_mm
    turned = QPageLayout.Orientation.Landscape if lies else QPageLayout.Orientation.Portrait
    upright = QPageSize(QSizeF(height_mm, width_mm), QPageSize.Unit.Millimeter) if lies else size
    return QPageLayout(upright, turned, QMarginsF(), QPageLayout.Unit.Millimeter)


def write_pages(
    pages: Sequence[DrawPage], size_mm: tuple[float, float], title: str, path: str | os.PathLike[str]
) -> Path:
    """Writes the pages as one PDF, whole or not at all. Raises BenchProblem."""
    need_application()
    held = QByteArray()
    buffer = QBuffer(held)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setPageLayout(layout(*size_mm))
    writer.setResolution(600)
    writer.setTitle(title)
    writer.setCreator("Race Oil Bench")
    painter = QPainter(writer)
    rect = QRectF(writer.pageLayout().fullRectPixels(writer.resolution()))
    _draw_all(painter, rect, pages, writer)
    painter.end()
    del writer
    buffer.close()
    return write_whole(path, bytes(held.data()))


def print_pages(pages: Sequence[DrawPage], printer: Any) -> None:
    """Prints the pages on a QPrinter. Raises BenchProblem where it will not start."""
    painter = QPainter()
    if not painter.begin(printer):
        raise BenchProblem(
            "The printer did not take the pages.",
            "Nothing was printed; the bench file is unchanged.",
            "Check that the printer is on and chosen, or save the pages as PDF and print that.",
        )
    _draw_all(painter, QRectF(printer.paperRect(printer.Unit.DevicePixel)), pages, printer)
    painter.end()


def _draw_all(painter: QPainter, rect: QRectF, pages: Sequence[DrawPage], device: Any) -> None:
    for number, draw in enumerate(pages):
        if number:
            device.newPage()
        draw(painter, rect)
