"""The before-and-after page and its forest plot: one page, rows that do not fit are counted, ends are cut."""

from __future__ import annotations

import datetime as dt
import math

import pytest

pytest.importorskip("PySide6", reason="the page needs Qt", exc_type=ImportError)

from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter

from benchapp.sheet import effect_page
from benchapp.sheet.forest import Row, rows_height

NAN = math.nan
FELL = Row("wear metal altogether", "Altogether", 0.6, 0.5, 0.72, True, "wears less (over 99 %)", 0.7)
WIDE = Row("overlay", "By source", 1.1, 0.02, 60.0, True, "no difference seen", 0.01)
NOTHING = Row("Sn", "By element", NAN, NAN, NAN, False, "nothing can be said", NAN)
POOLED = Row("all together", "Pooled", 0.7, 0.6, 0.8, True, "wears less (over 99 %)", 0.8, together=True)


def page(rows=(FELL, WIDE, NOTHING, POOLED)):
    return effect_page.page_of(
        subject="B1", about="build 1 · oil", sentence="It wears less: 0.60 times what it was (0.50 to 0.72).",
        rows=rows, blocks=[("Left out", ["L00: it belongs to the running-in"]), ("Adjusted", [])],
        cautions=["Advice only."], written_at=dt.datetime(2026, 5, 1, 12, 0),
    )  # fmt: skip


def drawn(made) -> bytes:
    image = QImage(600, 850, QImage.Format.Format_Grayscale8)
    image.fill(255)
    painter = QPainter(image)
    effect_page.draw(painter, QRectF(0, 0, 600, 850), made)
    painter.end()
    return bytes(image.constBits())


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("count", [0, 4, 90])
def test_it_is_one_page_on_either_paper_with_any_number_of_rows(qapp, tmp_path, paper, count):
    rows = [Row(f"source {n}", "By source", 0.9, 0.7, 1.2, True, "no difference seen", 0.6) for n in range(count)]
    target = effect_page.write_pdf(page(tuple(rows)), tmp_path / "page.pdf", paper)
    data = target.read_bytes()
    assert data.startswith(b"%PDF")
    assert data.count(b"/Type /Page\n") == 1


def test_every_kind_of_row_draws_something_else(qapp):
    assert len({drawn(page((row,))) for row in (FELL, WIDE, NOTHING, POOLED)}) == 4


def test_texts_are_made_plain_and_empty_blocks_left_away(qapp):
    odd = Row("bo\u202eres\x07", "By source", 0.9, 0.7, 1.2, True, "no\ndifference", 0.6)
    made = page((odd,))
    assert "\x07" not in made.rows[0].name
    assert "\n" not in made.rows[0].words
    assert [block.title for block in made.answer.blocks] == ["Left out"]
    assert made.title == "Before and after: B1"


def test_rows_say_how_much_room_they_want():
    assert rows_height((FELL, WIDE), 10.0) > rows_height((FELL,), 10.0) > 0
