"""The oil in the sump by itself: what an oil hides, what a sample of another leaves behind. All oils are invented."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from benchapp.wear.elements import followed
from benchapp.wear.oil_book import OilBook
from benchapp.wear.sump_oil import SumpOil
from tests.wear.histories import OILS, RACE, ROAD, RULES

NAMES = ("Fe", "Cu", "Mg", "W", "Na", "Ca", "Zn", "P")
BOOK = OilBook(followed(NAMES, RULES), OILS, {}, RULES)
BLANK = "an invented oil without a record"


def race_oil(book: OilBook = BOOK) -> SumpOil:
    return SumpOil(RACE, frozenset({RACE}), book.additives({RACE}), drains=1)


def watch_at(level: np.ndarray) -> SimpleNamespace:
    """A sump that is known to hold so much [ppm], and notes what is taken as read."""
    watch = SimpleNamespace(c=level.copy(), cc=np.eye(len(level)), anchored=[])
    watch.anchor = lambda mask, reading, variance: watch.anchored.append(np.flatnonzero(mask).tolist())
    return watch


def sample_of(oil: str, odd: bool = True) -> SimpleNamespace:
    """A sample that reads as this oil when new; its additives are all foreign."""
    reading = BOOK.fresh(oil)[0]
    foreign = BOOK.additives({RACE, ROAD})
    return SimpleNamespace(reading=reading, variance=np.ones(len(reading)), odd=odd, foreign=foreign, other=None)


def names(mask: np.ndarray) -> set[str]:
    return {NAMES[i] for i in np.flatnonzero(mask)}


def test_a_new_oil_hides_what_none_before_it_held_and_only_once():
    oil = race_oil()
    assert "Mg" not in names(oil.additive)
    assert names(oil.renew(ROAD, BOOK)) == {"Mg"}
    assert names(oil.renew(RACE, BOOK)) == names(oil.renew(ROAD, BOOK)) == set()
    assert "Mg" in names(oil.additive), "some of it stays in"
    assert (oil.name, oil.drains) == (ROAD, 4)


def test_a_copy_stands_where_it_was():
    oil = race_oil()
    oil.settle(sample_of(ROAD), watch_at(BOOK.fresh(RACE)[0]), BOOK)
    kept, toward = oil.copy(), oil.toward.copy()
    oil.drain_other(watch_at(BOOK.fresh(RACE)[0]))
    oil.renew(ROAD, BOOK)
    oil.settle(sample_of(RACE, odd=False), watch_at(BOOK.fresh(ROAD)[0]), BOOK)
    assert (kept.name, kept.drains, kept.drains_known) == (RACE, 1, 0)
    assert "Mg" not in names(kept.additive)
    assert kept.toward == pytest.approx(toward)


def test_after_one_sample_of_another_oil_a_drain_leaves_half_way_with_as_much_doubt():
    oil, here, there = race_oil(), BOOK.fresh(RACE)[0], BOOK.fresh(ROAD)[0]
    watch = watch_at(here)
    oil.settle(sample_of(ROAD), watch, BOOK)
    assert watch.c == pytest.approx(here), "it may have been the bottle"
    oil.drain_other(watch)
    mask = BOOK.additives({RACE, ROAD})
    assert watch.c[mask] == pytest.approx(((here + there) / 2.0)[mask])
    assert np.sqrt(watch.cc.diagonal() - 1.0)[mask] == pytest.approx(np.abs(there - here)[mask] / 2.0)
    level = watch.c.copy()
    oil.drain_other(watch)
    assert watch.c == pytest.approx(level), "said once"


def test_twice_alike_it_is_what_is_in_the_sump():
    oil, watch = race_oil(), watch_at(BOOK.fresh(RACE)[0])
    oil.settle(sample_of(ROAD), watch, BOOK)
    assert not watch.anchored
    oil.settle(sample_of(ROAD), watch, BOOK)
    assert [NAMES[i] for i in watch.anchored[0]] == sorted(names(BOOK.additives({RACE, ROAD})), key=NAMES.index)
    oil.settle(sample_of(RACE, odd=False), watch, BOOK)
    assert oil.odd_before is None
    assert oil.drains_known == oil.drains


def test_an_oil_without_a_record_shows_what_it_holds():
    oil, watch = SumpOil(BLANK, frozenset({BLANK}), BOOK.additives({BLANK})), watch_at(np.zeros(len(NAMES)))
    before = names(oil.additive)
    assert "W" not in before, "tungsten is a metal first"
    reading = np.where(np.array(NAMES) == "W", 300.0, 1.0)
    shown = OilBook(BOOK.followed, OILS, {(BLANK, "W"): (300.0, 2)}, RULES)
    oil.copy().show(reading, np.ones(len(NAMES)), watch, shown)
    assert not watch.anchored, "it was shown before"
    oil.show(reading, np.ones(len(NAMES)), watch, BOOK)
    assert names(oil.additive) == before | {"W"}
    assert watch.anchored == [[NAMES.index("W")]]


def test_new_oil_is_its_record_else_what_was_shown_else_a_guess_that_knows_little():
    shown = OilBook(BOOK.followed, OILS, {(BLANK, "Ca"): (2000.0, 3)}, RULES)
    at, zinc = NAMES.index("Ca"), NAMES.index("Zn")
    (listed, listed_sd), (level, sd) = BOOK.fresh(RACE), shown.fresh(BLANK)
    assert listed[at] == OILS[RACE].fresh_ppm["Ca"]
    assert level[at] == 2000.0
    assert sd[zinc] > 5.0 * listed_sd[zinc]
    assert np.isfinite([*listed, *listed_sd, *level, *sd]).all()
    assert BOOK.blank(BLANK, "Ca")
    assert not BOOK.blank(BLANK, "Fe")
    assert not BOOK.blank(RACE, "Ca")
