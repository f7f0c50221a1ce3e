"""Bottle labels, the sampling card, the page of the day: what they say, and what is drawn."""

from __future__ import annotations

import datetime as dt

import pytest

pytest.importorskip("PySide6.QtGui", reason="this run is without Qt", exc_type=ImportError)

from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter

from benchapp.library import load_library
from benchapp.problems import BenchProblem
from benchapp.sheet import day_page, labels, paper, sampling_card
from benchapp.sheet.day_page import Day, DayRow
from benchapp.sheet.page import page_mm
from benchapp.sheet.pen import MM


def painted(draw, size_mm, dots_a_mm: int = 4) -> QImage:
    image = QImage(round(size_mm[0] * dots_a_mm), round(size_mm[1] * dots_a_mm), QImage.Format.Format_RGB32)
    image.fill(0xFFFFFFFF)
    painter = QPainter(image)
    draw(painter, QRectF(image.rect()))
    painter.end()
    return image


def dark(image: QImage, x: float, y: float) -> bool:
    return image.pixelColor(round(x), round(y)).lightness() < 128


def test_the_symbol_has_three_finder_patterns():
    """ISO/IEC 18004: 7 by 7 modules, a dark ring, a light ring, a dark middle of 3 by 3, in three corners."""
    rows = labels.symbol("26-003")
    finder = [
        [1, 1, 1, 1, 1, 1, 1],
        [1, 0, 0, 0, 0, 0, 1],
        [1, 0, 1, 1, 1, 0, 1],
        [1, 0, 1, 1, 1, 0, 1],
        [1, 0, 1, 1, 1, 0, 1],
        [1, 0, 0, 0, 0, 0, 1],
        [1, 1, 1, 1, 1, 1, 1],
    ]
    side = len(rows)
    for top, left in ((0, 0), (0, side - 7), (side - 7, 0)):
        assert [list(row[left : left + 7]) for row in rows[top : top + 7]] == finder
    assert [list(row[-7:]) for row in rows[-7:]] != finder


@given(st.lists(st.integers(0, 1), max_size=60))
def test_runs_give_the_row_back(row):
    again = [0] * len(row)
    for start, length in labels.runs(row):
        assert length >= 1
        again[start : start + length] = [1] * length
    assert again == row


def test_what_is_drawn_is_the_symbol_module_by_module(qapp):
    rows = labels.symbol("LK-01-2-010")
    side = (len(rows) + 2 * labels.QUIET_MODULES) * 8
    image = QImage(side, side, QImage.Format.Format_RGB32)
    image.fill(0xFFFFFFFF)
    painter = QPainter(image)
    labels.draw_symbol(painter, QRectF(image.rect()), "LK-01-2-010")
    painter.end()
    for y, row in enumerate(rows):
        for x, module in enumerate(row):
            at = ((x + labels.QUIET_MODULES + 0.5) * 8, (y + labels.QUIET_MODULES + 0.5) * 8)
            assert dark(image, *at) == bool(module)
    assert not any(dark(image, x, 4) or dark(image, 4, x) for x in range(side))


def test_a_sheet_begins_at_the_first_free_place(qapp):
    made = labels.pages([labels.label("26-003", "A1", "1", "6.0 h", "2026-04-06")], "A4", first=4)
    assert len(made) == 1
    image = painted(made[0], page_mm("A4"))
    grid = labels.GRIDS["A4"]
    inked = []
    for place in range(grid.count):
        row, column = divmod(place, grid.columns)
        box = (4 * (column * grid.step_x_mm + 2), 4 * (grid.top_mm + row * grid.step_y_mm + 2))
        if any(dark(image, box[0] + dx, box[1] + dy) for dx in range(0, 120, 2) for dy in range(0, 130, 2)):
            inked.append(place)
    assert inked == [4]


def test_more_labels_than_places_take_more_pages():
    many = [labels.label(f"S-{n}") for n in range(40)]
    assert len(labels.pages(many, "A4", 10)) == 3
    assert len(labels.pages(many, "Letter")) == 2
    assert len(labels.pages(many, labels.SINGLE)) == 40
    assert labels.pages([], "A4", 3) == []


@pytest.mark.parametrize("paper_name", [*labels.GRIDS])
def test_all_labels_lie_on_the_paper(paper_name):
    grid, (width, height) = labels.GRIDS[paper_name], page_mm(paper_name)
    assert grid.left_mm + (grid.columns - 1) * grid.step_x_mm + grid.width_mm <= width + 0.05
    assert grid.top_mm + (grid.rows - 1) * grid.step_y_mm + grid.height_mm <= height


def test_codes_that_no_label_can_take_are_told():
    with pytest.raises(BenchProblem, match="has no code"):
        labels.label("  ")
    with pytest.raises(BenchProblem, match="too long for a bottle label"):
        labels.label("x" * 121)


def test_pages_become_one_pdf(qapp, tmp_path):
    made = labels.pages([labels.label("26-003"), labels.label("26-004")], labels.SINGLE)
    path = paper.write_pages(made, labels.SINGLE_MM, "Bottle labels", tmp_path / "labels.pdf")
    data = path.read_bytes()
    assert data.startswith(b"%PDF")
    assert b"/Count 2" in data
    with pytest.raises(BenchProblem, match="could not be written"):
        paper.write_pages(made, labels.SINGLE_MM, "Bottle labels", tmp_path / "nowhere" / "labels.pdf")


def test_the_sampling_card_says_how_and_with_which_source(qapp):
    library = load_library()
    card = sampling_card.card(library.data("sampling"), library.data("cautions"))
    assert len(card.steps) >= 6
    assert all(head and text.endswith(".") for head, text in card.steps)
    assert "gloves" in " ".join(card.cautions)
    assert "ASTM D6595" in card.sources
    assert "common practice, no source" in card.sources
    for name in ("A4", "Letter"):
        image = painted(sampling_card.page(card), page_mm(name), 2)
        lowest = max(y for y in range(0, image.height(), 2) for x in range(0, image.width(), 6) if dark(image, x, y))
        assert lowest < image.height() - 20, "the page runs over its margin"


ROW = DayRow("A1", "7", "Park", "build 1, 6.0 h", "Lead is coming off.", ("Drop a cap.",) * 9, "due now", "26-003", "")


def test_the_day_puts_the_gravest_first(qapp):
    rows = [
        DayRow("C", "", "Run", "", "", (), "", "", ""),
        DayRow("B", "", "", "", "No sample yet", (), "", "", ""),
        ROW,
        DayRow("D", "", "Short stint", "", "", (), "", "", ""),
    ]
    assert [row.engine for row in day_page.in_order(rows)] == ["A1", "D", "C", "B"]


@pytest.mark.parametrize("count", [0, 1, 10, 11, 40])
def test_the_day_is_drawn_however_many_cars(qapp, count):
    day = Day("All cars, 2026-05-03", "Park: 1", (ROW,) * count, ("Gloves on.",), "written")
    made = day_page.pages(day)
    assert len(made) == max(1, -(-count // 10))
    for name in ("A4", "Letter"):
        assert painted(made[0], page_mm(name), 2).width() > 0


def test_cars_with_nothing_to_do_take_less_room():
    plain = DayRow("C", "", "Run", "", "Nothing found", (), "", "", "")
    rows = [ROW] * 4 + [plain] * 30
    groups = day_page.packed(rows)
    assert [row for group in groups for row in group] == rows
    assert [len(group) for group in groups] == [15, 18, 1]


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("Lead rises, 4.6 mg/h. Seen in lead.", "Lead rises, 4.6 mg/h."),
        ("Nothing found", "Nothing found"),
        ("at 1. place", "at 1. place"),
        ("", ""),
    ],
)
def test_the_first_sentence(text, first):
    assert day_page.first_sentence(text) == first


@pytest.mark.parametrize(
    ("text", "whole"), [("Lead rises.", True), ("Lead rises, as it did. " * 40, False), ("x" * 900, False), ("", True)]
)
def test_a_reason_that_two_lines_do_not_hold_says_that_it_goes_on(qapp, text, whole):
    shown = day_page.in_two_lines(text, 60 * MM)
    said = shown.layout.text()
    assert shown.lines <= 2
    assert (said == text) is whole
    if not whole:
        assert said.endswith(" …")
        assert text.startswith(said.removesuffix(" …"))
        assert len(said) > 60


def test_the_day_of_a_bench(small_bench):
    from benchapp.actions import day

    made = day.page(small_bench, dt.datetime(2026, 5, 3, 14, 0))
    row = next(row for row in made.rows if row.sample == "26-003")
    assert row.call == small_bench.call_of("26-003").call
    assert row.engine == "A1"
    assert row.call in made.counts
    assert "not an issued call" in made.written


def test_the_day_as_pdf(small_bench, tmp_path, qapp):
    from benchapp.actions import day

    written = day.write_pdf(small_bench, str(tmp_path / "day.pdf"), dt.datetime(2026, 5, 3, 14, 0), "Letter")
    assert (tmp_path / "day.pdf").read_bytes().startswith(b"%PDF")
    assert written.endswith("day.pdf")


def test_labels_of_a_bench(small_bench, tmp_path, qapp):
    from benchapp.actions import labels as verbs

    known = verbs.of_samples(small_bench, ["26-003"])[0]
    assert (known.code, known.engine, known.hours) == ("26-003", "A1", "6.0 h")
    assert [each.code for each in verbs.of_next(small_bench, "A1", 2)] == ["26-004", "26-005"]
    assert verbs.next_codes(small_bench, "B1", 2) == ("B1-01", "B1-02")
    assert verbs.engine_of(small_bench, "26-004") == "A1"
    assert verbs.engine_of(small_bench, "B1-01") == "B1"
    assert verbs.engine_of(small_bench, "X-1") == ""
    path = verbs.write_pdf(small_bench, [known], tmp_path / "l.pdf", with_card=True)
    assert b"/Count 2" in path.read_bytes()
    with pytest.raises(BenchProblem, match="no label to write"):
        verbs.write_pdf(small_bench, (), tmp_path / "none.pdf")
    with pytest.raises(BenchProblem, match="no sample"):
        verbs.of_samples(small_bench, ["nobody"])
