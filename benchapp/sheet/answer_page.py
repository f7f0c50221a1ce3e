"""One page that answers one question: what it is about, the answer in a sentence, figures, what stands behind it.

The break-in page and the before-and-after page are such pages; each draws its own figures. Preview, PDF and printer
use the same `draw`. Text takes the room that is left, first in smaller type, then cut with a word that says so."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QMarginsF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPageLayout, QPageSize, QPainter, QPdfWriter

from benchapp.problems import BenchProblem
from benchapp.sheet.export import write_whole
from benchapp.sheet.page import GAP, MARGIN, PAPERS, need_application, page_mm
from benchapp.sheet.pen import GREY, MM, Para, para, pen, scaled, single
from benchapp.sheet.words import MORE

TYPE_SIZES = (10.0, 9.5, 9.0, 8.5, 8.0, 7.5, 7.0, 6.5)
Figures = Callable[[QPainter, QRectF, Any], None]


@dataclass(frozen=True, slots=True)
class Block:
    """A titled list of sentences."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """All that the page says as text; the figures are the page's own."""

    question: str
    subject: str
    about: str
    sentence: str
    blocks: tuple[Block, ...]
    cautions: tuple[str, ...]
    written: str
    file_name: str


def draw(painter: QPainter, rect: QRectF, answer: Answer, figures: Any, share: float, paint: Figures) -> None:
    """Draws the page into `rect` (all of the paper). `share` of the body is for the figures, drawn by `paint`."""
    paper = min(PAPERS, key=lambda name: abs(page_mm(name)[1] / page_mm(name)[0] - rect.height() / rect.width()))
    width, height = (MM * side for side in page_mm(paper))
    painter.save()
    scaled(painter, rect, width)
    painter.fillRect(QRectF(0, 0, width, height), QColor("#ffffff"))
    box = QRectF(MARGIN, MARGIN, width - 2 * MARGIN, height - 2 * MARGIN)
    y = _header(painter, box, answer)
    y = _sentence(painter, box, y, answer.sentence)
    bottom = _foot(painter, box, answer)
    middle = y + (bottom - y) * share
    paint(painter, QRectF(box.left(), y, box.width(), middle - y), figures)
    _blocks(painter, QRectF(box.left(), middle + GAP, box.width(), bottom - middle - GAP), answer.blocks)
    painter.restore()


def _rule(painter: QPainter, box: QRectF, y: float, width_mm: float) -> None:
    painter.setPen(pen(width_mm))
    painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))


def _header(painter: QPainter, box: QRectF, answer: Answer) -> float:
    top = QRectF(box.left(), box.top(), box.width() * 0.62, 9 * MM)
    single(painter, answer.subject, top, 21, bold=True, elide=Qt.TextElideMode.ElideMiddle)
    end = QRectF(box.right() - box.width() * 0.36, box.top() + 0.8 * MM, box.width() * 0.36, 7 * MM)
    single(painter, answer.question, end, 13, bold=True, align=Qt.AlignmentFlag.AlignRight)
    single(painter, answer.about, QRectF(box.left(), top.bottom(), box.width(), 5 * MM), 10.5)
    _rule(painter, box, top.bottom() + 6.4 * MM, 0.9)
    return top.bottom() + 6.4 * MM + GAP


def _sentence(painter: QPainter, box: QRectF, y: float, text: str) -> float:
    frame = QRectF(box.left(), y, box.width(), 21 * MM)
    painter.setPen(pen(0.9))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(frame)
    inner = frame.adjusted(4 * MM, 2 * MM, -4 * MM, -2 * MM)
    for points in (15.0, 13.5, 12.0, 10.5, 9.5, 8.5, 7.5):
        made = para(text, inner.width(), points, bold=True)
        if made.height() <= inner.height():
            break
    made.draw(painter, inner.left(), inner.top() + max(0.0, (inner.height() - made.height()) / 2))
    return frame.bottom() + GAP


def _foot(painter: QPainter, box: QRectF, answer: Answer) -> float:
    """Cautions, room to sign, what wrote it; gives the y above them."""
    line = QRectF(box.left(), box.bottom() - 3.6 * MM, box.width(), 3.6 * MM)
    single(painter, answer.written, line.adjusted(0, 0, -60 * MM, 0), 8)
    single(
        painter, "Race Oil Bench", line.adjusted(line.width() - 58 * MM, 0, 0, 0), 7,
        align=Qt.AlignmentFlag.AlignRight, colour=GREY,
    )  # fmt: skip
    _rule(painter, box, line.top() - 0.8 * MM, 0.25)
    top = _sign(painter, box, line.top() - 2 * MM)
    paras = [para(text, box.width() - 4 * MM, 7.4, mark="dot") for text in answer.cautions]
    y = top - 1.5 * MM - sum(p.height() for p in paras)
    _rule(painter, box, y - 5 * MM, 0.25)
    single(painter, "Cautions", QRectF(box.left(), y - 4.6 * MM, box.width(), 4 * MM), 9, bold=True)
    above = y - 5.6 * MM
    for made in paras:
        y = made.draw(painter, box.left() + 2 * MM, y)
    return above


def _sign(painter: QPainter, box: QRectF, bottom: float) -> float:
    width = box.width() / 3
    for place, word in enumerate(("name", "date and time", "signature")):
        left = box.left() + place * width
        painter.setPen(pen(0.25))
        painter.drawLine(QPointF(left, bottom - 3 * MM), QPointF(left + width - 5 * MM, bottom - 3 * MM))
        single(painter, word, QRectF(left, bottom - 2.8 * MM, width, 3 * MM), 6.5, colour=GREY)
    return bottom - 11 * MM


def _blocks(painter: QPainter, rect: QRectF, blocks: Sequence[Block]) -> None:
    for points in TYPE_SIZES:
        made = [
            (block.title, [para(text, rect.width(), points, mark="dot") for text in block.lines]) for block in blocks
        ]
        if _height(made, points) <= rect.height():
            break
    y, limit = rect.top(), rect.bottom()
    for title, paras in made:
        if y + _title_height(points) >= limit:
            break
        single(painter, title, QRectF(rect.left(), y, rect.width(), _title_height(points)), points + 1, bold=True)
        y += _title_height(points)
        for text in paras:
            if y + text.height() > limit - text.heights[0]:
                para(MORE, rect.width(), points, italic=True).draw(painter, rect.left(), y)
                return
            y = text.draw(painter, rect.left() + MM, y)
        y += 1.2 * MM


def _title_height(points: float) -> float:
    return points * 1.9 * 25.4 / 72 * MM


def _height(made: Sequence[tuple[str, Sequence[Para]]], points: float) -> float:
    return sum(_title_height(points) + sum(p.height() for p in paras) + 1.2 * MM for _, paras in made)


# --- to a file, to a printer ----------------------------------------------------------------------------------------


def write_pdf(
    draw_page: Callable[[QPainter, QRectF], None], title: str, path: str | os.PathLike[str], paper: str
) -> Path:
    """Writes one page as a PDF, whole or not at all. Raises BenchProblem."""
    page_mm(paper)
    need_application()
    held = QByteArray()
    buffer = QBuffer(held)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setPageLayout(layout(paper))
    writer.setResolution(600)
    writer.setTitle(title)
    writer.setCreator("Race Oil Bench")
    painter = QPainter(writer)
    draw_page(painter, QRectF(writer.pageLayout().fullRectPixels(writer.resolution())))
    painter.end()
    del writer
    buffer.close()
    return write_whole(path, bytes(held.data()))


def layout(paper: str) -> QPageLayout:
    """The paper, upright and without margins: the page keeps its own."""
    size = QPageSize(PAPERS[paper])
    return QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF(), QPageLayout.Unit.Millimeter)


def print_on(draw_page: Callable[[QPainter, QRectF], None], printer: Any) -> None:
    """Prints one page on a QPrinter. Raises BenchProblem where it will not start."""
    painter = QPainter()
    if not painter.begin(printer):
        raise BenchProblem(
            "The printer did not take the page.",
            "Nothing was printed; the bench file is unchanged.",
            "Check that the printer is on and chosen, or save the page as PDF and print that.",
        )
    draw_page(painter, QRectF(printer.paperRect(printer.Unit.DevicePixel)))
    painter.end()
