"""Hours left: from one sample, from many, from earlier fills; intervals that hold the truth."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchapp.library import load_library
from benchapp.oil.life import hours_left
from benchapp.oil.rules import rules_from
from benchapp.records import Oil, Reading

RULES = rules_from(load_library())
OIL = Oil("Invented 10W-40", "race", "10W-40", 0.87, 100.0, 14.5, 4.0, 8.0, 1.5)


def tbn(value: float | None, qualifier: str = "") -> list[Reading]:
    return [Reading("TBN", value, "mg KOH/g", qualifier)]


def test_a_straight_fall_ends_where_the_line_says() -> None:
    """8.0 fresh falls 0.2 an hour: half of fresh after 20 h, so 10 h after the sample at 10 h."""
    found = hours_left(OIL, [(5.0, tbn(7.0)), (10.0, tbn(6.0))], RULES)
    assert found.first is not None
    assert found.first.name == "base number"
    assert found.first.hours == pytest.approx(10.0)
    assert found.first.low < 10.0 < found.first.high
    assert found.first.diesel
    assert found.text.startswith("First limit ahead: base number: 10.0 h left, between ")
    assert found.text.endswith("(2 samples of this fill).")


def test_more_samples_narrow_the_interval() -> None:
    few = hours_left(OIL, [(10.0, tbn(6.0))], RULES).first
    many = hours_left(OIL, [(h, tbn(8.0 - 0.2 * h)) for h in (2.0, 4.0, 6.0, 8.0, 10.0)], RULES).first
    assert few is not None
    assert many is not None
    assert many.high - many.low < few.high - few.low
    assert (few.samples, many.samples) == (1, 5)


def test_earlier_fills_lend_their_slope_to_a_young_one() -> None:
    """This fill's one early sample hardly says anything; earlier fills fell 0.4 an hour."""
    young = [(1.0, tbn(8.0))]
    alone = hours_left(OIL, young, RULES)
    earlier = [[(10.0, tbn(4.0))], [(8.0, tbn(4.8))]]
    joined = hours_left(OIL, young, RULES, earlier)
    assert alone.first is None
    assert alone.text == "No limit is being approached."
    assert joined.first is not None
    assert joined.first.earlier_fills == 2
    assert joined.first.hours == pytest.approx(9.0, rel=0.5)
    assert "2 earlier fills" in joined.text


def test_the_first_limit_leads() -> None:
    readings = [*tbn(7.0), Reading("KV100", 12.0, "cSt")]
    found = hours_left(OIL, [(10.0, readings)], RULES)
    assert found.first is not None
    assert found.first.name == "viscosity at 100 °C (thinner)"
    assert [line.hours for line in found.lines] == sorted(line.hours for line in found.lines)


def test_a_limit_already_reached_leaves_nothing() -> None:
    found = hours_left(OIL, [(10.0, tbn(3.0))], RULES)
    assert found.first is not None
    assert found.first.hours == 0.0
    assert found.first.text == "base number: limit reached (1 sample of this fill)"


def test_what_does_not_move_has_no_end() -> None:
    found = hours_left(OIL, [(10.0, tbn(8.2))], RULES)
    assert found.first is None
    assert math.isinf(found.lines[0].hours)
    assert found.lines[0].text == "base number: not moving towards its limit (1 sample of this fill)"


def test_a_slow_fall_has_an_open_upper_end() -> None:
    found = hours_left(OIL, [(10.0, tbn(7.8))], RULES)
    assert found.first is not None
    assert math.isinf(found.first.high)
    assert "no end in sight" in found.text


def test_without_fresh_values_it_says_so() -> None:
    found = hours_left(Oil("Unknown oil"), [(10.0, tbn(5.0))], RULES)
    assert found.first is None
    assert found.text.startswith("Hours left cannot be reckoned")


def test_fuel_starts_at_none() -> None:
    found = hours_left(Oil("Unknown oil"), [(10.0, [Reading("Fuel", 2.5, "%")])], RULES)
    assert found.first is not None
    assert found.first.hours == pytest.approx(10.0)


def test_bounds_and_senseless_hours_are_left_out() -> None:
    samples = [(5.0, tbn(1.0, "<")), (0.0, tbn(2.0)), (float("nan"), tbn(2.0)), (10.0, tbn(None))]
    assert hours_left(OIL, samples, RULES).lines == ()


def test_the_interval_holds_the_truth_about_nine_times_in_ten() -> None:
    """Simulated fills of known slope and reading noise: coverage of the 90 % interval. The limit is half of the fresh
    value as it is recorded, with its own noise."""
    rng = np.random.default_rng(11)
    sd = RULES.limit("base number").sd * 8.0
    slope, held, rounds = 0.2, 0, 400
    for _ in range(rounds):
        fresh = 8.0 + rng.normal(0.0, sd)
        oil = Oil("Invented", tbn=fresh)
        samples = [(h, tbn(8.0 - slope * h + rng.normal(0.0, sd))) for h in (4.0, 8.0, 12.0)]
        line = next(line for line in hours_left(oil, samples, RULES).lines if line.name == "base number")
        truth = (8.0 - 0.5 * fresh) / slope - 12.0
        held += line.low <= truth <= line.high
    assert 0.85 <= held / rounds <= 0.97
