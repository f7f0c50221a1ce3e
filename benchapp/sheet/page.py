"""Draws the sheet: one page, whatever stands in the record. Preview, PDF and printer use the same `draw`.

The page has fixed places for what must always be there (engine, call, cautions, room to sign); the rest takes what is
left, first in smaller type, then with its last lines left out and a word that says so."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PySide6.QtCore import QMarginsF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPageLayout, QPageSize, QPainter, QPdfWriter

from benchapp.problems import BenchProblem
from benchapp.records import CALL_WORDS
from benchapp.sheet.content import SheetContent, SheetReason
from benchapp.sheet.pen import BLACK, GREY, MM, Para, call_mark, para, pen, scaled, single
from benchapp.sheet.plot import KEY, draw_plot, drawable
from benchapp.sheet.words import MORE

PAPERS = {"A4": QPageSize.PageSizeId.A4, "Letter": QPageSize.PageSizeId.Letter}
_SIZES_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
MARGIN = 12 * MM
GAP = 2.2 * MM
TYPE_SIZES = (11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0, 7.5, 7.0)
"""Sizes of running text that are tried [pt]; below the last, lines are left out."""

TITLES = {
    "why": "Why",
    "before": "Before it goes out",
    "look": "Where to look, and with what",
    "oil": "Oil",
    "film": "Oil film, fresh and as sampled",
    "unknown": "Not known",
    "flip": "What would change this call",
    "history": "What stands behind it",
    "cautions": "Cautions",
    "decision": "Decision of the person who signs the car out",
}
NOTHING = {
    "before": "Nothing beyond your usual checks.",
    "before it is looked at": "The record names no step. It does not run before someone has looked.",
    "history": "Nothing recorded.",
    "oil": "Nothing recorded.",
    "unknown": "The record names nothing.",
}


def page_mm(paper: str) -> tuple[float, float]:
    """Width and height of a paper [mm]. Raises BenchProblem for a paper that the sheet does not know."""
    if paper not in _SIZES_MM:
        raise BenchProblem(
            f"The sheet cannot be made for paper {paper!r}.",
            "Nothing was written.",
            f"Choose one of: {', '.join(_SIZES_MM)}.",
        )
    return _SIZES_MM[paper]


# --- to a file, to a printer ----------------------------------------------------------------------------------------


def write_pdf(content: SheetContent, path: str | os.PathLike[str], paper: str = "A4") -> Path:
    """Writes the sheet as a PDF of one page; an old file at `path` is replaced only when the new one is complete.

    Raises BenchProblem where the paper is unknown or the place cannot be written."""
    page_mm(paper)
    target = Path(path)
    need_application()
    try:
        handle, name = tempfile.mkstemp(prefix=".sheet-", suffix=".pdf", dir=target.parent)
        os.close(handle)
    except OSError as error:
        raise _unwritable(target, error) from error
    try:
        _paint_pdf(content, name, paper)
        if Path(name).stat().st_size == 0:
            raise OSError("no room")
        Path(name).replace(target)
    except OSError as error:
        raise _unwritable(target, error) from error
    finally:
        with suppress(OSError):
            Path(name).unlink(missing_ok=True)
    return target


def _paint_pdf(content: SheetContent, name: str, paper: str) -> None:
    writer = QPdfWriter(name)
    writer.setPageLayout(_layout(paper))
    writer.setResolution(600)
    writer.setTitle(f"Sheet {content.sample}: {content.call}")
    writer.setCreator("Race Oil Bench")
    painter = QPainter()
    if not painter.begin(writer):
        raise OSError("cannot be opened for writing")
    draw(painter, QRectF(writer.pageLayout().fullRectPixels(writer.resolution())), content)
    if not painter.end():
        raise OSError("the file was not finished")


def _layout(paper: str) -> QPageLayout:
    size = QPageSize(PAPERS[paper])
    return QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF(), QPageLayout.Unit.Millimeter)


def _unwritable(target: Path, error: OSError) -> BenchProblem:
    why = error.strerror or str(error)
    return BenchProblem(
        f"The sheet could not be written to {target} ({why}).",
        "The bench file is unchanged; a page that was there before is still there.",
        "Choose a folder you may write to, with room on the disk, and close the page in other programs.",
    )


def prepare_printer(printer: Any, paper: str = "A4") -> None:
    """Sets a QPrinter to this paper, upright, without margins (the page keeps its own)."""
    page_mm(paper)
    printer.setPageLayout(_layout(paper))
    printer.setFullPage(True)


def print_sheet(content: SheetContent, printer: Any) -> None:
    """Prints the sheet on a QPrinter (of PySide6.QtPrintSupport). Raises BenchProblem where it will not start."""
    painter = QPainter()
    if not painter.begin(printer):
        raise BenchProblem(
            "The printer did not take the page.",
            "Nothing was printed; the bench file is unchanged.",
            "Check that the printer is on and chosen, or save the page as PDF and print that.",
        )
    draw(painter, QRectF(printer.paperRect(printer.Unit.DevicePixel)), content)
    painter.end()


def need_application() -> Any:
    """The Qt application that fonts need. Without a window one is made that needs no display.

    A QApplication, not the smaller QGuiApplication: whoever opens a window in this process later can use it."""
    from PySide6.QtWidgets import QApplication

    running = QApplication.instance()
    if running is not None:
        return running
    displays = ("QT_QPA_PLATFORM", "DISPLAY", "WAYLAND_DISPLAY")
    if sys.platform.startswith("linux") and not any(os.environ.get(name) for name in displays):
        os.environ["QT_QPA_PLATFORM"] = "offscreen"
    need_application.kept = QApplication(["benchapp"])  # type: ignore[attr-defined]
    return need_application.kept  # type: ignore[attr-defined]


# --- the page -------------------------------------------------------------------------------------------------------


def draw(painter: QPainter, rect: QRectF, content: SheetContent) -> None:
    """Draws the whole page into `rect` (all of the paper, in the device's units)."""
    paper = min(_SIZES_MM, key=lambda name: abs(_ratio(name) - rect.height() / rect.width()))
    width, height = (MM * side for side in _SIZES_MM[paper])
    painter.save()
    scaled(painter, rect, width)
    painter.fillRect(QRectF(0, 0, width, height), QColor("#ffffff"))
    box = QRectF(MARGIN, MARGIN, width - 2 * MARGIN, height - 2 * MARGIN)
    y = _header(painter, box, content)
    y = _stamps(painter, box, y, content.stamps)
    y = _call(painter, box, y, content)
    bottom = _foot(painter, box, content)
    y = _why(painter, box, y, bottom, content)
    _columns(painter, QRectF(box.left(), y, box.width(), bottom - y - GAP), content)
    painter.restore()


def _ratio(paper: str) -> float:
    width, height = _SIZES_MM[paper]
    return height / width


def _rule(painter: QPainter, box: QRectF, y: float, width_mm: float) -> None:
    painter.setPen(pen(width_mm))
    painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))


def _header(painter: QPainter, box: QRectF, content: SheetContent) -> float:
    """Engine, car, build and hours on the left; sample and when on the right."""
    right = box.width() * 0.34
    left = QRectF(box.left(), box.top(), box.width() - right - 3 * MM, 9 * MM)
    single(painter, content.engine, left, 21, bold=True, elide=Qt.TextElideMode.ElideMiddle)
    about = [f"car {content.car}"] if content.car else []
    about += [f"build {content.build}", f"{content.build_h} on this build"]
    single(painter, " · ".join(about), QRectF(left.left(), left.bottom(), left.width(), 5 * MM), 10.5)
    end = QRectF(box.right() - right, box.top() + 0.8 * MM, right, 7 * MM)
    align = Qt.AlignmentFlag.AlignRight
    single(painter, f"sample {content.sample}", end, 13, bold=True, align=align)
    taken = QRectF(end.left(), left.bottom(), right, 5 * MM)
    single(painter, f"taken {content.taken}", taken, 10.5, align=align)
    y = left.bottom() + 6.4 * MM
    _rule(painter, box, y, 0.9)
    return y + GAP


def _stamps(painter: QPainter, box: QRectF, y: float, stamps: Sequence[str]) -> float:
    """HELD, SUPERSEDED, PREVIEW: a framed band across the page, in words."""
    for stamp in stamps:
        text = para(stamp, box.width() - 6 * MM, 9.5, bold=True)
        room = text.heights[0] * min(text.lines, 3)
        height = room + 2.4 * MM
        painter.setPen(pen(0.5))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(QRectF(box.left(), y, box.width(), height))
        painter.fillRect(QRectF(box.left(), y, 2 * MM, height), BLACK)
        _draw_cut(painter, text, box.left() + 4 * MM, y + 1.2 * MM, room)
        y += height + 1.2 * MM
    return y


def _call(painter: QPainter, box: QRectF, y: float, content: SheetContent) -> float:
    """The call: shape and word, the sentence, when to sample next."""
    frame = QRectF(box.left(), y, box.width(), 27 * MM)
    painter.setPen(pen(0.9))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(frame)
    call_mark(painter, QRectF(frame.left() + 4 * MM, y + 5.5 * MM, 16 * MM, 16 * MM), content.call)
    word = QRectF(frame.left() + 24 * MM, y + 2 * MM, 92 * MM, 12 * MM)
    single(painter, content.call, word, 30, bold=True)
    end = QRectF(frame.right() - 66 * MM, y + 2 * MM, 63 * MM, 12 * MM)
    align = Qt.AlignmentFlag.AlignRight
    single(painter, "Next sample", end.adjusted(0, 0, 0, -6.5 * MM), 9, align=align, colour=GREY)
    single(painter, content.next_sample, end.adjusted(0, 5 * MM, 0, 0), 12.5, bold=True, align=align)
    _sentence(painter, QRectF(word.left(), y + 14.6 * MM, frame.right() - word.left() - 3 * MM, 11.4 * MM), content)
    return frame.bottom() + GAP


def _sentence(painter: QPainter, rect: QRectF, content: SheetContent) -> None:
    for points in (12.0, 11.0, 10.0, 9.0, 8.0, 7.2):
        text = para(content.sentence, rect.width(), points)
        if text.height() <= rect.height():
            break
    _draw_cut(painter, text, rect.left(), rect.top(), rect.height())


def _draw_cut(painter: QPainter, text: Para, x: float, y: float, height: float) -> float:
    """Draws as many lines as there is room for; where some are left out, the last one says so."""
    if text.height() <= height * 1.01:
        return text.draw(painter, x, y)
    shown = max(0, min(text.lines, int(height / text.heights[0])) - 1)
    at = text.draw(painter, x, y, shown)
    return para(MORE, 100 * MM, text.points, italic=True).draw(painter, x + text.indent, at)


def _why(painter: QPainter, box: QRectF, y: float, bottom: float, content: SheetContent) -> float:
    """The strongest reasons, each with its small plot."""
    y = _title(painter, box, y, TITLES["why"])
    row = min(26 * MM, max(19 * MM, (bottom - y) * 0.46 / 3))
    for reason in content.reasons:
        height = row if _has_plot(reason) else min(row, _text_height(reason, box.width()))
        _reason(painter, QRectF(box.left(), y, box.width(), height), reason)
        y += height + 0.8 * MM
    note = f"and {content.reasons_left} more in the bench file" if content.reasons_left else ""
    line = QRectF(box.left(), y, box.width(), 3.2 * MM)
    single(painter, note, line, 7.5)
    if any(_has_plot(reason) for reason in content.reasons):
        single(painter, KEY, line.adjusted(45 * MM, 0, 0, 0), 6.2, align=Qt.AlignmentFlag.AlignRight, colour=GREY)
    return y + 3.2 * MM + GAP * 0.6


def _has_plot(reason: SheetReason) -> bool:
    return reason.plot is not None and bool(drawable(reason.plot).points)


def _text_height(reason: SheetReason, width: float) -> float:
    """Height of a reason without a plot."""
    return para(reason.text, width - 7 * MM, 10.0).height() + (3.8 * MM if reason.sure else 0) + 2.4 * MM


def _reason(painter: QPainter, row: QRectF, reason: SheetReason) -> None:
    plot_width = 74 * MM
    has_plot = _has_plot(reason)
    number = QRectF(row.left(), row.top() + 0.3 * MM, 5 * MM, 5 * MM)
    single(painter, str(reason.number), number, 12, bold=True)
    width = row.width() - 7 * MM - (plot_width + 3 * MM if has_plot else 0)
    x, y = row.left() + 7 * MM, row.top() + 0.6 * MM
    room = row.height() - 1.2 * MM - (3.8 * MM if reason.sure else 0)
    for points in (10.0, 9.0, 8.0, 7.2, 6.6):
        text = para(reason.text, width, points)
        if text.height() <= room:
            break
    y = _draw_cut(painter, text, x, y, room)
    if reason.sure:
        single(painter, reason.sure, QRectF(x, y + 0.3 * MM, width, 3.5 * MM), 8, colour=GREY)
    if has_plot:
        draw_plot(painter, QRectF(row.right() - plot_width, row.top(), plot_width, row.height()), reason.plot)
    painter.setPen(pen(0.15, GREY))
    painter.drawLine(row.bottomLeft(), row.bottomRight())


def _title(painter: QPainter, box: QRectF, y: float, text: str) -> float:
    single(painter, text, QRectF(box.left(), y, box.width(), 4.6 * MM), 10.5, bold=True)
    return y + 5 * MM


# --- the two columns ------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Block:
    """A titled list; `shown` lines of its paragraphs are drawn, the rest left out."""

    title: str
    paras: tuple[Para, ...]
    shown: int
    title_height: float

    @property
    def lines(self) -> int:
        return sum(p.lines for p in self.paras)

    def height(self) -> float:
        left, total = self.shown, self.title_height
        for p in self.paras:
            total += p.height(min(left, p.lines)) + (0.5 * MM if left > 0 else 0)
            left = max(0, left - p.lines)
        more = self.paras[-1].heights[0] if self.shown < self.lines else 0.0
        return total + more + 1.4 * MM


def _nothing_before(call: str) -> str:
    """What an empty list of steps means: nothing to do before a run, but no leave to run after a graver call."""
    return NOTHING["before it is looked at" if call in ("Look inside", "Park") else "before"]


def _block(key: str, texts: Sequence[str], width: float, points: float, mark: str, nothing: str = "") -> _Block:
    shown = texts or (nothing or NOTHING[key],)
    paras = tuple(para(text, width, points, mark=mark if texts else "") for text in shown)
    return _Block(TITLES[key], paras, sum(p.lines for p in paras), points * 1.5 * 25.4 / 72 * MM)


Columns = tuple[list[_Block], list[_Block]]


def _left(content: SheetContent, width: float, points: float) -> list[_Block]:
    left = [_block("before", content.before_out, width, points, "box", _nothing_before(content.call))]
    if content.look:
        left.append(_block("look", content.look, width, points, "dot"))
    return left


def _right(content: SheetContent, width: float, points: float) -> list[_Block]:
    right = [_block("oil", content.oil, width, points, "dot")]
    right.append(_block("unknown", content.unknowns, width, points, "dot"))
    if content.flips:
        right.append(_block("flip", content.flips, width, points, "dot"))
    return right


def _placed(content: SheetContent, width: float, points: float) -> tuple[Columns, ...]:
    """The ways to set the two columns: what stands behind the call and the films at the foot of the left one, or one of
    them in the right one."""
    left, (oil, *unknown) = _left(content, width, points), _right(content, width, points)
    behind = _block("history", content.history, width, points, "dot")
    if not content.film:
        return ([*left, behind], [oil, *unknown]), (left, [oil, behind, *unknown])
    film = _block("film", content.film, width, points, "dot")
    return (
        ([*left, behind, film], [oil, *unknown]),
        ([*left, behind], [oil, film, *unknown]),
        ([*left, film], [oil, behind, *unknown]),
    )


def _over(blocks: Sequence[_Block], height: float) -> float:
    """By how much a column is too long."""
    return max(sum(block.height() for block in blocks) - height, 0.0)


def _in_largest_type(content: SheetContent, width: float, height: float) -> tuple[float, Columns]:
    """The largest type in which both columns fit, else the smallest with the least too much; and the columns in it."""
    for points in TYPE_SIZES:
        placed = _placed(content, width, points)
        least = min(placed, key=lambda columns: sum(_over(column, height) for column in columns))
        if all(_over(column, height) == 0.0 for column in least):
            break
    return points, least


def _columns(painter: QPainter, rect: QRectF, content: SheetContent) -> None:
    gutter = 6 * MM
    width = (rect.width() - gutter) / 2
    points, columns = _in_largest_type(content, width, rect.height())
    for place, side in enumerate(columns):
        _cut(side, rect.height())
        _draw_blocks(painter, rect.left() + place * (width + gutter), rect.top(), width, points, side)
    painter.setPen(pen(0.15, GREY))
    middle = rect.left() + width + gutter / 2
    painter.drawLine(QPointF(middle, rect.top()), QPointF(middle, rect.bottom()))


def _cut(blocks: Sequence[_Block], height: float) -> None:
    """Takes lines away from the longest list until the column fits; each keeps at least its first line."""
    while _over(blocks, height) > 0.0:
        longest = max(blocks, key=lambda block: block.shown)
        if longest.shown <= 1:
            return
        longest.shown -= 1


def _draw_blocks(painter: QPainter, x: float, y: float, width: float, points: float, blocks: Sequence[_Block]) -> None:
    for block in blocks:
        single(painter, block.title, QRectF(x, y, width, block.title_height), points + 0.5, bold=True)
        y += block.title_height
        left = block.shown
        for p in block.paras:
            if left <= 0:
                break
            y = p.draw(painter, x, y, min(left, p.lines)) + 0.5 * MM
            left -= p.lines
        if block.shown < block.lines:
            y = para(MORE, width, points, italic=True).draw(painter, x, y)
        y += 1.4 * MM


# --- the foot -------------------------------------------------------------------------------------------------------


def _foot(painter: QPainter, box: QRectF, content: SheetContent) -> float:
    """Cautions, room to sign, who and when, built up from the bottom edge; returns the y above which there is room."""
    line = QRectF(box.left(), box.bottom() - 3.6 * MM, box.width(), 3.6 * MM)
    single(painter, content.issued, line.adjusted(0, 0, -75 * MM, 0), 8)
    end = line.adjusted(line.width() - 73 * MM, 0, 0, 0)
    single(painter, f"Race Oil Bench · {content.rule}", end, 7, align=Qt.AlignmentFlag.AlignRight, colour=GREY)
    _rule(painter, box, line.top() - 0.8 * MM, 0.25)
    top = _decision(painter, box, line.top() - 1.6 * MM)
    return _cautions(painter, box, top - 1.2 * MM, content.cautions)


def _decision(painter: QPainter, box: QRectF, bottom: float) -> float:
    top = bottom - 21 * MM
    painter.setPen(pen(0.5))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(QRectF(box.left(), top, box.width(), 21 * MM))
    x = box.left() + 3 * MM
    single(painter, TITLES["decision"], QRectF(x, top + 0.8 * MM, box.width() - 6 * MM, 4 * MM), 8.5, bold=True)
    for place, word in enumerate(CALL_WORDS):
        spot = QRectF(x + place * 44 * MM, top + 5.6 * MM, 3.4 * MM, 3.4 * MM)
        painter.setPen(pen(0.25))
        painter.drawRect(spot)
        mark = spot.translated(5.2 * MM, 0).adjusted(0.3 * MM, 0.3 * MM, -0.3 * MM, -0.3 * MM)
        call_mark(painter, mark, word, 0.25)
        single(painter, word, QRectF(mark.right() + 1.4 * MM, spot.top() - 0.5 * MM, 27 * MM, 4.4 * MM), 9)
    width = (box.width() - 6 * MM) / 3
    for place, word in enumerate(("name", "date and time", "signature")):
        left = x + place * width
        painter.setPen(pen(0.25))
        painter.drawLine(QPointF(left, top + 17 * MM), QPointF(left + width - 4 * MM, top + 17 * MM))
        single(painter, word, QRectF(left, top + 17.3 * MM, width, 3 * MM), 6.5, colour=GREY)
    return top


def _cautions(painter: QPainter, box: QRectF, bottom: float, cautions: Sequence[str]) -> float:
    for points in (7.6, 7.2, 6.8, 6.4):
        paras = [para(text, box.width() - 24 * MM, points, mark="dot") for text in cautions]
        height = sum(p.height() for p in paras) + 1.6 * MM
        if height <= 24 * MM:
            break
    top = bottom - height
    _rule(painter, box, top - 0.6 * MM, 0.25)
    single(painter, TITLES["cautions"], QRectF(box.left(), top + 0.5 * MM, 20 * MM, 4 * MM), 9, bold=True)
    y = top + 0.8 * MM
    for p in paras:
        y = p.draw(painter, box.left() + 22 * MM, y)
    return top - 1.4 * MM
