"""The split for comparing intervals: what can be told apart comes back, what cannot is named together."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.breakin.intervals import Interval, Span
from benchapp.breakin.split import split
from benchapp.records import Sample

ELEMENTS = ("Fe", "Pb", "Cu")
FRACTIONS = np.array([[0.95, 0.0, 0.0, 0.97], [0.0, 0.88, 0.2, 0.0], [0.0, 0.02, 0.75, 0.0]])
NAMES = (("bores",), ("overlay",), ("lining",), ("crank",))


def interval(rates, errors):
    return Interval(
        Sample("s", "1", 1.0, 1.0), ELEMENTS, np.array(rates, dtype=float), np.array(errors, dtype=float), 1.0,
        (Span(0.0, 1.0, 1.0),), 5.0, "O", 1.0, None,
    )  # fmt: skip


def of(amounts):
    return FRACTIONS @ np.array(amounts)


def test_sources_of_their_own_elements_come_back_and_iron_parts_stay_together():
    found = split([interval(of([8, 2, 1, 2]), [0.2] * 3) for _ in range(4)], NAMES, FRACTIONS, 0.02 * FRACTIONS)
    by = {one.name: one for one in found}
    iron = next(name for name in by if "bores" in name)
    assert set(iron.split(" + ")) == {"bores", "crank"}
    assert by[iron].rate == pytest.approx(np.full(4, 10.0), rel=0.05)
    assert by["overlay"].rate == pytest.approx(np.full(4, 2.0), rel=0.1)
    assert (by["overlay"].error > 0).all()


def test_a_source_that_sheds_nothing_is_left_out_unless_it_is_mistaken_for_another():
    found = split([interval(of([8, 2, 0, 0]), [0.2] * 3) for _ in range(4)], NAMES, FRACTIONS, 0.02 * FRACTIONS)
    names = [one.name for one in found]
    assert {"bores", "crank"} in [set(name.split(" + ")) for name in names]
    assert not any("lining" in name for name in names)


def test_an_interval_without_enough_readings_gives_nan():
    whole = [interval(of([8, 2, 1, 0]), [0.2] * 3) for _ in range(3)]
    bare = interval([9.0, np.nan, np.nan], [0.2] * 3)
    found = split([*whole, bare], NAMES, FRACTIONS, 0.02 * FRACTIONS)
    assert np.isnan(found[0].rate[-1])


def test_nothing_read_is_nothing_split():
    assert split([], NAMES, FRACTIONS, FRACTIONS) == ()
    assert split([interval([np.nan] * 3, [np.nan] * 3)], NAMES, FRACTIONS, FRACTIONS) == ()
