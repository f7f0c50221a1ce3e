"""The page itself: one page, whatever stands in it; its text is the record's; grey is enough to read it."""

from __future__ import annotations

import dataclasses
import re
import shutil
import subprocess
from xml.etree import ElementTree

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

pytest.importorskip("PySide6.QtGui", reason="this run is without Qt", exc_type=ImportError)

from PySide6.QtCore import QBuffer, QIODevice, QRect, QRectF, QSize
from PySide6.QtGui import QImage, QPainter
from PySide6.QtSvg import QSvgGenerator

from benchapp.problems import BenchProblem
from benchapp.records import CALL_WORDS, Reason, SourceRate
from benchapp.sheet import page
from benchapp.sheet.content import SheetReason, content_for, lines
from benchapp.sheet.pen import MM, call_mark
from benchapp.sheet.plot import drawable
from benchapp.sheet.reason_plots import PlotPoint, SmallPlot
from benchapp.sheet.words import MORE
from tests.sheet import invented

pytestmark = pytest.mark.usefixtures("qapp")

LONG = "Very long words about what should be done with care before anyone goes anywhere. "


def ordinary(word="Look inside", **changes):
    given = {"calls_before": invented.calls_before(), "issued_by": "A. Invented", "issued_at": invented.WHEN}
    return content_for(invented.fleet(), invented.call(word, **changes), **given)


def extreme():
    reasons = tuple(Reason("x" * 300, ("x",), "other", LONG * 8, 0.5, LONG * 3, LONG * 4) for _ in range(10))
    name = "W" * 120 + "\u202egnorw"
    call = invented.call(
        "Park",
        reasons=reasons,
        engine=name,
        sentence=LONG * 10,
        before_out=(LONG * 3,) * 12,
        unknowns=(LONG * 2,) * 15,
        history=LONG * 6,
        held=LONG * 5,
        superseded="שלום " * 40,
        rule_version="9" * 300,
    )
    return content_for(invented.fleet(name, "漢字" * 40), call, oil_lines=(LONG,) * 9, film_lines=(LONG * 2,) * 4)


def pages(path) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", path.read_bytes()))


def drawn_texts(content, paper="A4") -> str:
    """What the painter really drew, as text: every piece that reaches the paint device, blanks squeezed out."""
    width, height = page.page_mm(paper)
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    generator = QSvgGenerator()
    generator.setOutputDevice(buffer)
    generator.setResolution(254)
    size = QSize(round(width * 10), round(height * 10))
    generator.setSize(size)
    generator.setViewBox(QRect(0, 0, size.width(), size.height()))
    painter = QPainter(generator)
    page.draw(painter, QRectF(0, 0, size.width(), size.height()), content)
    painter.end()
    root = ElementTree.fromstring(bytes(buffer.data()))
    return squeezed("".join("".join(node.itertext()) for node in root.iter() if node.tag.endswith("text")))


def squeezed(text: str) -> str:
    return "".join(text.replace("\u2060", "").split())


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("make", [ordinary, extreme])
def test_always_one_page(tmp_path, paper, make):
    path = page.write_pdf(make(), tmp_path / "sheet.pdf", paper)
    assert path.read_bytes().startswith(b"%PDF")
    assert pages(path) == 1
    assert [p.name for p in tmp_path.iterdir()] == ["sheet.pdf"]


@pytest.mark.parametrize(("paper", "box"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_the_paper_is_the_one_asked_for(tmp_path, paper, box):
    data = page.write_pdf(ordinary(), tmp_path / "sheet.pdf", paper).read_bytes()
    found = re.search(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", data)
    assert tuple(round(float(n)) for n in found.groups()) == box


@pytest.mark.parametrize("word", CALL_WORDS)
def test_the_page_draws_every_text_of_its_content(word):
    content = ordinary(word)
    said = drawn_texts(content)
    for text in lines(content):
        assert squeezed(text) in said, text


def test_an_empty_list_of_steps_is_no_leave_to_run():
    assert squeezed("Nothing beyond your usual checks.") in drawn_texts(ordinary("Run", before_out=()))
    for word in ("Look inside", "Park"):
        said = drawn_texts(ordinary(word, before_out=()))
        assert squeezed("It does not run before someone has looked.") in said
        assert squeezed("Nothing beyond your usual checks.") not in said


@pytest.mark.parametrize(("many_steps", "many_films"), [(1, 5), (4, 3), (7, 1)])
def test_nothing_is_left_out_while_there_is_room_in_the_other_column(many_steps, many_films):
    steps = tuple(f"Step {number}: {LONG}" for number in range(many_steps))
    films = tuple(f"Film {number}: {LONG * 2}" for number in range(many_films))
    made = content_for(invented.fleet(), invented.call("Park", before_out=steps), film_lines=films)
    said = drawn_texts(made)
    for text in (*made.before_out, *made.look, *made.history, *made.film, *made.oil, *made.unknowns, *made.flips):
        assert squeezed(text) in said, text


def test_too_much_text_is_cut_with_a_word_and_keeps_what_must_stay():
    content = extreme()
    said = drawn_texts(content)
    assert said.count(squeezed(MORE)) >= 8
    assert "Park" in said
    assert "and7moreinthebenchfile" in said
    for caution in content.cautions:
        assert squeezed(caution) in said
    for title in page.TITLES.values():
        assert squeezed(title) in said
    assert "\u202e" not in said


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("make", [ordinary, extreme])
def test_nothing_is_drawn_outside_the_margins(paper, make):
    width, height = page.page_mm(paper)
    image = QImage(round(width * 4), round(height * 4), QImage.Format.Format_Grayscale8)
    painter = QPainter(image)
    page.draw(painter, QRectF(image.rect()), make())
    painter.end()
    edge = 10 * 4
    inside = QRect(edge, edge, image.width() - 2 * edge, image.height() - 2 * edge)
    rim = [(x, y) for x in range(image.width()) for y in range(image.height()) if not inside.contains(x, y)]
    assert all(image.pixel(x, y) & 0xFF == 255 for x, y in rim[::3])


def test_text_in_the_file_is_text_that_can_be_searched(tmp_path):
    if not shutil.which("pdftotext"):
        pytest.skip("pdftotext (poppler) is not installed; the drawn texts are checked without it above")
    content = ordinary()
    path = page.write_pdf(content, tmp_path / "sheet.pdf")
    done = subprocess.run(["pdftotext", "-raw", path, "-"], capture_output=True, text=True, check=True)
    said = squeezed(done.stdout)
    for text in (content.engine, content.call, content.sentence, content.reasons[0].text, *content.before_out):
        assert squeezed(text) in said


def test_fonts_travel_with_the_file(tmp_path):
    data = page.write_pdf(ordinary(), tmp_path / "sheet.pdf").read_bytes()
    assert data.count(b"/FontDescriptor") >= 1
    assert b"/FontFile2" in data or b"/FontFile3" in data


def test_absurd_numbers_in_a_plot_neither_hang_nor_hide_the_rest(tmp_path):
    far, none = 1e300, float("inf")
    points = (PlotPoint(1.0, 2.0), PlotPoint(2.0, far), PlotPoint(none, 1.0), PlotPoint(3.0, 4.0, low=-far, high=none))
    band = ((1.0, 0.5, far), (none, 1.0, 2.0), (5e8, 1.0, 2.0), (2.0, 1.0, 9e8))
    kept = drawable(SmallPlot("x", points, none, band))
    assert [p.x for p in kept.points] == [1.0, 3.0]
    assert kept.ceiling is None
    assert [step[0] for step in kept.band] == [5e8, 2.0]
    reason = SheetReason(1, "text", "", SmallPlot("x", points, none, band))
    content = dataclasses.replace(ordinary(), reasons=(reason,))
    assert pages(page.write_pdf(content, tmp_path / "sheet.pdf")) == 1


def mark_pixels(call: str) -> set[tuple[int, int]]:
    image = QImage(40, 40, QImage.Format.Format_Grayscale8)
    image.fill(255)
    painter = QPainter(image)
    painter.scale(1 / MM, 1 / MM)
    call_mark(painter, QRectF(4 * MM, 4 * MM, 32 * MM, 32 * MM), call)
    painter.end()
    return {(x, y) for x in range(40) for y in range(40) if image.pixel(x, y) & 0xFF < 128}


def test_calls_differ_by_shape_in_grey_not_only_by_word():
    marks = {word: mark_pixels(word) for word in CALL_WORDS}
    for one in CALL_WORDS:
        for other in CALL_WORDS:
            if one < other:
                differing = len(marks[one] ^ marks[other])
                assert differing > 0.15 * 32 * 32, (one, other)


def test_the_page_uses_no_colour_at_all():
    image = QImage(840, 1188, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    page.draw(painter, QRectF(image.rect()), ordinary())
    painter.end()
    grey = image.convertToFormat(QImage.Format.Format_Grayscale8).convertToFormat(QImage.Format.Format_RGB32)
    for y in range(0, image.height(), 7):
        for x in range(0, image.width(), 3):
            pixel = image.pixelColor(x, y)
            assert pixel.red() == pixel.green() == pixel.blue(), (x, y, grey.pixelColor(x, y))


def test_an_unwritable_place_is_said_and_leaves_the_old_page(tmp_path):
    with pytest.raises(BenchProblem) as caught:
        page.write_pdf(ordinary(), tmp_path / "nowhere" / "sheet.pdf")
    assert "could not be written" in caught.value.what
    assert "unchanged" in caught.value.means
    assert "Choose a folder" in caught.value.do


def test_a_folder_in_place_of_a_file_is_said(tmp_path):
    (tmp_path / "sheet.pdf").mkdir()
    with pytest.raises(BenchProblem):
        page.write_pdf(ordinary(), tmp_path / "sheet.pdf")
    assert [p.name for p in tmp_path.iterdir()] == ["sheet.pdf"]


def test_an_unknown_paper_is_said(tmp_path):
    with pytest.raises(BenchProblem) as caught:
        page.write_pdf(ordinary(), tmp_path / "sheet.pdf", "napkin")
    assert caught.value.what == "The sheet cannot be made for paper 'napkin'."
    assert "A4, Letter" in caught.value.do
    assert not list(tmp_path.iterdir())


def test_a_printer_gets_the_same_page(tmp_path):
    from PySide6.QtPrintSupport import QPrinter

    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(tmp_path / "printed.pdf"))
    page.prepare_printer(printer, "Letter")
    page.print_sheet(ordinary(), printer)
    assert pages(tmp_path / "printed.pdf") == 1


@pytest.mark.qt_log_ignore("QPainter::begin")
def test_a_printer_that_does_not_take_the_page_is_said():
    with pytest.raises(BenchProblem) as caught:
        page.print_sheet(ordinary(), QImage())
    assert caught.value.what == "The printer did not take the page."


def test_the_running_application_is_used(qapp):
    assert page.need_application() is qapp


_TEXT = st.text(max_size=400)
_NUMBER = st.floats(allow_nan=True, allow_infinity=True)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    texts=st.lists(_TEXT, min_size=9, max_size=9),
    many=st.lists(_TEXT, max_size=12),
    numbers=st.lists(_NUMBER, min_size=12, max_size=12),
    word=st.sampled_from(CALL_WORDS),
)
def test_whatever_stands_in_the_record_it_is_one_page(tmp_path, texts, many, numbers, word):
    reasons = tuple(Reason(text, (text,), "rate", text, numbers[0], text, text) for text in many)
    source = SourceRate(many[0] if many else "x", (), *numbers[:7])
    call = invented.call(
        word,
        reasons=reasons,
        engine=texts[0],
        sentence=texts[1],
        history=texts[2],
        held=texts[3],
        superseded=texts[4],
        rule_version=texts[5],
        before_out=tuple(many),
        unknowns=tuple(many),
        next_sample_h=numbers[8],
        severity=numbers[9],
        carry_over=numbers[10],
        ceiling_share=numbers[11],
        sources=(source,),
    )
    content = content_for(invented.fleet(texts[0], texts[6]), call, oil_lines=many, issued_by=texts[7])
    assert pages(page.write_pdf(content, tmp_path / "sheet.pdf")) == 1
