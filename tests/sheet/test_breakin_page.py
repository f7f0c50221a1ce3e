"""The break-in page: one page on either paper, shapes that differ in black, long and odd texts."""

from __future__ import annotations

import datetime as dt

import pytest

pytest.importorskip("PySide6", reason="the page needs Qt", exc_type=ImportError)

from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter

from benchapp.breakin.done import LIT, MISSING, NOT_YET, Lamp
from benchapp.problems import BenchProblem
from benchapp.sheet import answer_page, breakin_page
from benchapp.sheet.breakin_page import Plot

NOON = dt.datetime(2026, 5, 1, 12, 0)
LAMPS = (Lamp("power", LIT, "flat"), Lamp("leak-down", NOT_YET, "moves"), Lamp("wear rate", MISSING, "none"))
POWER = Plot("kW", ((1.0, 280.0), (2.0, 284.0)), (((1.0, 2.0), (280.0, 284.0)),),
             band=((1.0, 279.0, 281.0), (2.0, 283.0, 285.0)), from_zero=False)  # fmt: skip
LEAK = Plot("%", ((1.0, 4.0), (2.0, 4.2)), words=((2.0, 4.2, "1"),))
WEAR = Plot("mg/h", (), (((0.0, 2.0), (80.0, 80.0)),), (((0.0, 1.0, 2.0), (90.0, 60.0, 30.0)),))


def page(lines=("Fe 47 ppm.",), sentence="Break-in is not done: leak-down not settled yet.", plots=(POWER, LEAK, WEAR)):
    return breakin_page.page_of(
        engine="B1", about="build 1 · 2.4 h", sentence=sentence, lamps=LAMPS, plots=plots,
        blocks=[("Ceiling of this build", list(lines)), ("Left out", [])],
        cautions=["Hot engine oil burns.", "A running engine throws parts."], written_at=NOON,
    )  # fmt: skip


def drawn(made) -> bytes:
    image = QImage(600, 850, QImage.Format.Format_Grayscale8)
    image.fill(255)
    painter = QPainter(image)
    breakin_page.draw(painter, QRectF(0, 0, 600, 850), made)
    painter.end()
    return bytes(image.constBits())


def pages_of(path) -> int:
    return path.read_bytes().count(b"/Type /Page\n") or path.read_bytes().count(b"/Type /Page ")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_is_one_page_on_either_paper(qapp, tmp_path, paper):
    target = breakin_page.write_pdf(page(), tmp_path / "page.pdf", paper)
    assert target.read_bytes().startswith(b"%PDF")
    assert pages_of(target) == 1


def test_empty_blocks_are_left_away_and_a_title_names_the_engine(qapp):
    made = page()
    assert [block.title for block in made.answer.blocks] == ["Ceiling of this build"]
    assert made.title == "Break-in page of B1"
    assert made.answer.file_name == "break-in B1.pdf"
    assert made.answer.written == "written 2026-05-01 12:00"


def test_lamps_differ_in_black_alone(qapp):
    pictures = set()
    for state in (LIT, NOT_YET, MISSING):
        image = QImage(80, 80, QImage.Format.Format_Mono)
        image.fill(1)
        painter = QPainter(image)
        painter.scale(0.1, 0.1)
        breakin_page.lamp_mark(painter, QRectF(100, 100, 600, 600), state)
        painter.end()
        pictures.add(bytes(image.constBits()))
    assert len(pictures) == 3


def test_more_text_than_room_is_cut_and_stays_on_the_page(qapp, tmp_path):
    long = page(lines=["A very long sentence about a ceiling. " * 6] * 60, sentence="Not done. " * 120)
    assert drawn(long) != drawn(page())
    assert pages_of(breakin_page.write_pdf(long, tmp_path / "page.pdf")) == 1


def test_plots_without_data_say_so(qapp):
    assert drawn(page(plots=(Plot("kW"), Plot("%"), Plot("mg/h")))) != drawn(page())


def test_an_unknown_paper_and_an_unwritable_place_are_refused(qapp, tmp_path):
    with pytest.raises(BenchProblem, match="paper 'A9'"):
        breakin_page.write_pdf(page(), tmp_path / "page.pdf", "A9")
    with pytest.raises(BenchProblem, match="could not be written"):
        breakin_page.write_pdf(page(), tmp_path / "nowhere" / "page.pdf")


@pytest.mark.qt_log_ignore("QPainter::begin")
def test_a_printer_that_will_not_start_is_said(qapp):
    from PySide6.QtGui import QPixmap

    with pytest.raises(BenchProblem, match="did not take the page"):
        answer_page.print_on(lambda painter, rect: None, QPixmap())
