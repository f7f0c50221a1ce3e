"""Bottle labels: the sample's code as a QR symbol and in words, with engine, build, hours and date.

One paint function draws a label, alone (for a label printer) or on a sheet of labels. The symbol is drawn as vectors,
one rectangle for each dark run, so that it stays sharp at any size. It holds the code and nothing else: a scanner that
types what it reads finds the sample by it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache, partial

import segno
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter

from benchapp.problems import BenchProblem
from benchapp.sheet.page import page_mm
from benchapp.sheet.paper import DrawPage
from benchapp.sheet.pen import BLACK, GREY, MM, pen, scaled, single
from benchapp.sheet.words import plain

QUIET_MODULES = 4
"""Free modules around the symbol (ISO/IEC 18004: at least four)."""

LONGEST_CODE = 120
"""Longest code that a label takes [characters]: a symbol for more has modules too fine for a bottle."""


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on one label. `code` as it is in the bench file, the rest as clean text. Empty: not known yet, a line
    to write on."""

    code: str
    engine: str = ""
    build: str = ""
    hours: str = ""
    """Running hours of the build, '12.4 h'."""
    date: str = ""


@dataclass(frozen=True, slots=True)
class Grid:
    """A sheet of labels: how many, how large, where the first one begins [mm]. Common sizes, no source."""

    columns: int
    rows: int
    width_mm: float
    height_mm: float
    left_mm: float
    top_mm: float
    step_x_mm: float
    step_y_mm: float

    @property
    def count(self) -> int:
        return self.columns * self.rows


GRIDS = {
    "A4": Grid(3, 8, 70.0, 36.0, 0.0, 4.5, 70.0, 36.0),
    "Letter": Grid(3, 10, 66.7, 25.4, 4.8, 12.7, 69.8, 25.4),
}
SINGLE = "single label"
SINGLE_MM = (62.0, 29.0)
"""One label of a label printer, width and height [mm]."""


def label(code: str, engine: str = "", build: str = "", hours: str = "", date: str = "") -> Label:
    """A label of clean text. Raises BenchProblem for a code that is empty or too long for a bottle."""
    code = code.strip()
    if not code:
        raise BenchProblem("The label has no code.", "No label was made.", "Give the sample a code first.")
    if len(code) > LONGEST_CODE:
        raise BenchProblem(
            f"The code {plain(code[:20])}… is too long for a bottle label.",
            f"Labels take codes of up to {LONGEST_CODE} characters.",
            "Give the sample a shorter code.",
        )
    return Label(code, plain(engine), plain(build), plain(hours), plain(date))


@lru_cache(maxsize=256)
def symbol(code: str) -> tuple[tuple[int, ...], ...]:
    """The QR symbol of a code (ISO/IEC 18004), rows of 0 and 1, without its quiet zone.

    Error correction M (about 15 % of it may be unreadable: an oily thumb), never a micro symbol, which some scanners
    do not read."""
    made = segno.make(code, error="m", boost_error=False, micro=False)
    return tuple(tuple(row) for row in made.matrix)


def size_mm(paper: str) -> tuple[float, float]:
    """Width and height of the paper for labels [mm]: of the sheet, or of one label."""
    return SINGLE_MM if paper == SINGLE else page_mm(paper)


def pages(labels: Sequence[Label], paper: str, first: int = 0) -> list[DrawPage]:
    """The pages of these labels: one a page for `SINGLE`, else sheets whose first `first` places are used up."""
    if not labels:
        return []
    if paper == SINGLE:
        return [partial(_draw_single, each) for each in labels]
    page_mm(paper)
    places: list[Label | None] = [None] * (first % GRIDS[paper].count) + list(labels)
    count = GRIDS[paper].count
    return [partial(_draw_sheet, tuple(places[n : n + count]), paper) for n in range(0, len(places), count)]


def _draw_single(each: Label, painter: QPainter, rect: QRectF) -> None:
    painter.save()
    scaled(painter, rect, SINGLE_MM[0] * MM)
    draw_label(painter, QRectF(0, 0, SINGLE_MM[0] * MM, SINGLE_MM[1] * MM), each)
    painter.restore()


def _draw_sheet(places: tuple[Label | None, ...], paper: str, painter: QPainter, rect: QRectF) -> None:
    grid = GRIDS[paper]
    painter.save()
    scaled(painter, rect, page_mm(paper)[0] * MM)
    painter.fillRect(QRectF(0, 0, page_mm(paper)[0] * MM, page_mm(paper)[1] * MM), QColor("#ffffff"))
    for number, each in enumerate(places):
        if each is None:
            continue
        row, column = divmod(number, grid.columns)
        left = (grid.left_mm + column * grid.step_x_mm) * MM
        top = (grid.top_mm + row * grid.step_y_mm) * MM
        draw_label(painter, QRectF(left, top, grid.width_mm * MM, grid.height_mm * MM), each)
    painter.restore()


def draw_label(painter: QPainter, box: QRectF, each: Label) -> None:
    """Draws one label into `box` [hundredths of a millimetre]: symbol on the left, words on the right."""
    painter.fillRect(box, QColor("#ffffff"))
    inner = box.adjusted(2 * MM, 1.5 * MM, -3 * MM, -1.5 * MM)
    side = min(inner.height(), inner.width() * 0.42)
    square = QRectF(inner.left(), inner.center().y() - side / 2, side, side)
    draw_symbol(painter, square, each.code)
    words = QRectF(square.right() + 1 * MM, inner.top(), inner.right() - square.right() - 1 * MM, inner.height())
    _words(painter, words, each)


def draw_symbol(painter: QPainter, square: QRectF, code: str) -> None:
    """Draws the QR symbol with its quiet zone into a square; one rectangle for each run of dark modules."""
    rows = symbol(code)
    module = square.width() / (len(rows) + 2 * QUIET_MODULES)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(BLACK)
    for y, row in enumerate(rows):
        for x, length in runs(row):
            left = square.left() + (x + QUIET_MODULES) * module
            top = square.top() + (y + QUIET_MODULES) * module
            painter.drawRect(QRectF(left, top, length * module, module))
    painter.restore()


def runs(row: Sequence[int]) -> list[tuple[int, int]]:
    """Where the dark runs of a row begin, and how long they are [modules]."""
    found: list[tuple[int, int]] = []
    start = -1
    for x, dark in enumerate([*row, 0]):
        if dark and start < 0:
            start = x
        elif not dark and start >= 0:
            found.append((start, x - start))
            start = -1
    return found


def _words(painter: QPainter, box: QRectF, each: Label) -> None:
    step = box.height() / 5.0
    single(painter, plain(each.code), QRectF(box.left(), box.top(), box.width(), step * 1.4), 13, bold=True, least=0.4,
           elide=Qt.TextElideMode.ElideMiddle)  # fmt: skip
    engine = f"{each.engine} · build {each.build}" if each.build else each.engine
    for place, (head, text) in enumerate((("engine", engine), ("hours", each.hours), ("drawn", each.date))):
        line = QRectF(box.left(), box.top() + step * (1.5 + 1.2 * place), box.width(), step * 1.1)
        _line(painter, line, head, text)


def _line(painter: QPainter, line: QRectF, head: str, text: str) -> None:
    width = 10 * MM
    single(painter, head, QRectF(line.left(), line.top(), width, line.height()), 6.5, colour=GREY)
    rest = line.adjusted(width, 0, 0, 0)
    if text:
        single(painter, text, rest, 9, least=0.5, elide=Qt.TextElideMode.ElideMiddle)
        return
    painter.setPen(pen(0.2, GREY))
    painter.drawLine(rest.bottomLeft(), rest.bottomRight())
