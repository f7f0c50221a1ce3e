"""The sampling card: how to draw a sample, what to note, cautions. One page to hang where the bottles are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QPainter

from benchapp.sheet.page import MARGIN, PAPERS, page_mm
from benchapp.sheet.paper import DrawPage
from benchapp.sheet.pen import MM, para, pen, scaled, single
from benchapp.sheet.words import plain

TITLE = "Drawing an oil sample"


@dataclass(frozen=True, slots=True)
class Card:
    """`steps`: (head, text), in order; `notes`: what to write down; `sources`: where it is from, one line."""

    steps: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    sources: str


def card(sampling: Mapping[str, Any], cautions: Mapping[str, Any]) -> Card:
    """The card from the resource tables `sampling` and `cautions`."""
    steps = sampling["step"]
    said = [f"{number} {plain(step['source'])}" for number, step in enumerate(steps, start=1)]
    return Card(
        tuple((plain(step["head"]), plain(step["text"])) for step in steps),
        tuple(map(plain, sampling["note"]["lines"])),
        tuple(plain(each["text"]) for each in cautions["caution"] if "sample" in each["where"]),
        f"Where this is from: {'; '.join(said)}. What to note: {plain(sampling['note']['source'])}.",
    )


def page(each: Card) -> DrawPage:
    """The card as one page."""
    return partial(_draw, each)


def _draw(each: Card, painter: QPainter, rect: QRectF) -> None:
    paper = min(PAPERS, key=lambda name: abs(page_mm(name)[1] / page_mm(name)[0] - rect.height() / rect.width()))
    width, height = (MM * side for side in page_mm(paper))
    painter.save()
    scaled(painter, rect, width)
    painter.fillRect(QRectF(0, 0, width, height), QColor("#ffffff"))
    box = QRectF(MARGIN, MARGIN, width - 2 * MARGIN, height - 2 * MARGIN)
    single(painter, TITLE, QRectF(box.left(), box.top(), box.width(), 10 * MM), 22, bold=True)
    y = box.top() + 11 * MM
    painter.setPen(pen(0.9))
    painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
    y += 4 * MM
    for number, (head, text) in enumerate(each.steps, start=1):
        y = _step(painter, box, y, number, head, text)
    y = _list(painter, box, y + 2 * MM, "Note on the label or the run sheet", each.notes, 10.5, "box")
    y = _list(painter, box, y + 3 * MM, "Cautions", each.cautions, 9.0, "dot")
    foot = para(each.sources, box.width(), 6.5)
    foot.draw(painter, box.left(), max(y + 2 * MM, box.bottom() - foot.height()))
    painter.restore()


def _step(painter: QPainter, box: QRectF, y: float, number: int, head: str, text: str) -> float:
    single(painter, str(number), QRectF(box.left(), y, 8 * MM, 7 * MM), 17, bold=True)
    left, width = box.left() + 10 * MM, box.width() - 10 * MM
    single(painter, head, QRectF(left, y, width, 5.6 * MM), 12.5, bold=True)
    return para(text, width, 10.5).draw(painter, left, y + 5.8 * MM) + 2.2 * MM


def _list(
    painter: QPainter, box: QRectF, y: float, title: str, lines: tuple[str, ...], points: float, mark: str
) -> float:
    single(painter, title, QRectF(box.left(), y, box.width(), 6 * MM), 12.5, bold=True)
    y += 6.4 * MM
    for line in lines:
        y = para(line, box.width() - 2 * MM, points, mark=mark).draw(painter, box.left() + 1 * MM, y) + 0.7 * MM
    return y
