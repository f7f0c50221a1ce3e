"""Interval rates from the sump balance: known rates come back through drains, top-ups and holds."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.breakin.intervals import intervals
from benchapp.library import load_library
from benchapp.records import Build, Fill, NoiseLine, Oil, Reading, Sample, TopUp
from benchapp.wear.balance import after_refill, after_top_up
from benchapp.wear.rules import rules_from

RULES = rules_from(load_library())
LITRES = 6.0
KG = LITRES * 0.87
OIL = Oil("O", density_15c_kg_l=0.87, fresh_ppm={"Fe": 1.0})


def noise_of(_instrument):
    return {"Fe": NoiseLine(0.1, 0.02, 0.5, "made up")}


def sample(code, fill, hours, ppm, **more):
    return Sample(code, fill, hours, None, readings=(Reading("Fe", ppm),), **more)


def found(build):
    return intervals(build, None, {"O": OIL}, RULES, noise_of, ("Fe",))


def build_of(fills, samples, top_ups=()):
    return Build("1", (), LITRES, fills=tuple(fills), samples=tuple(samples), top_ups=tuple(top_ups))


@given(st.floats(0.5, 200), st.floats(0.5, 12))
def test_a_constant_rate_comes_back(rate, hours):
    first, second = 1.0 + rate * hours / KG, 1.0 + rate * 2 * hours / KG
    one, other = found(build_of([Fill("1", "O", 0.0, LITRES)], [sample("a", "1", hours, first),
                                                                sample("b", "1", 2 * hours, second)]))  # fmt: skip
    assert one.of("Fe")[0] == pytest.approx(rate, rel=1e-6)
    assert other.of("Fe")[0] == pytest.approx(rate, rel=1e-6)
    assert other.hours == pytest.approx(hours)
    assert other.error > 0


def test_a_drain_is_carried_over_and_a_top_up_thins():
    rate, carry = 12.0, RULES.carry_over("hot", first=False)[0]
    before = 1.0 + rate * 5 / KG
    start = after_refill(before, 1.0, carry)
    middle = after_top_up(start + rate * 2 / KG, 1.0, KG, 0.5 * 0.87)
    end = middle + rate * 3 / KG
    build = build_of(
        [Fill("1", "O", 0.0, LITRES), Fill("2", "O", 5.0, LITRES, drain_before="hot")],
        [sample("a", "1", 5.0, before), sample("b", "2", 10.0, end)], [TopUp("2", 7.0, 0.5)],
    )  # fmt: skip
    _, second = found(build)
    assert second.of("Fe")[0] == pytest.approx(rate, rel=1e-6)
    assert second.carry_over == pytest.approx(carry)
    assert second.oil == "O"


def test_the_share_after_a_change_is_what_the_reading_shows_of_it():
    build = build_of([Fill("1", "O", 0.0, LITRES)], [sample("a", "1", 4.0, 10.0), sample("b", "1", 8.0, 18.0)])
    _, second = found(build)
    assert second.share_after(4.0) == pytest.approx(1.0)
    assert second.share_after(6.0) == pytest.approx(0.5)
    assert second.share_after(9.0) == pytest.approx(0.0)


def test_what_ran_before_a_drain_hardly_counts():
    build = build_of(
        [Fill("1", "O", 0.0, LITRES), Fill("2", "O", 6.0, LITRES, drain_before="hot")],
        [sample("a", "1", 4.0, 10.0), sample("b", "2", 8.0, 6.0)],
    )  # fmt: skip
    _, second = found(build)
    assert second.share_after(6.0) > 0.85


def test_a_held_sample_is_passed_over():
    samples = [sample("a", "1", 4.0, 10.0), sample("x", "1", 5.0, 500.0, hold="check"), sample("b", "1", 8.0, 18.0)]
    kept = found(build_of([Fill("1", "O", 0.0, LITRES)], samples))
    assert [one.sample.code for one in kept] == ["a", "b"]
    assert kept[1].hours == pytest.approx(4.0)


def test_an_element_that_was_not_read_is_nan_and_the_next_interval_is_unsure():
    bare = dataclasses.replace(sample("a", "1", 4.0, 10.0), readings=())
    one, other = found(build_of([Fill("1", "O", 0.0, LITRES)], [bare, sample("b", "1", 8.0, 18.0)]))
    assert np.isnan(one.of("Fe")[0])
    assert np.isfinite(other.of("Fe")[0])
    assert np.isnan(one.of("Pb")[0])


def test_a_sump_that_is_not_known_widens_the_error():
    known = found(build_of([Fill("1", "O", 0.0, LITRES)], [sample("a", "1", 4.0, 20.0)]))[0]
    unknown = found(Build("1", (), None, fills=(Fill("1", "O", 0.0, LITRES),), samples=(sample("a", "1", 4.0, 20.0),)))
    assert unknown[0].of("Fe")[1] > 3 * known.of("Fe")[1]
