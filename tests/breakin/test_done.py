"""When break-in is done: the plateau, the three lamps, the missing ones, and a simulated set beside the plain rule."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.breakin import done
from benchapp.breakin.plateau import plateau, two_pulls_without_gain
from benchapp.records import LeakDown, Pull


def rising(rng, pulls=12, tau=3.0, drop=0.05, noise=0.003):
    """Pull numbers, measured power and the true gain of each next pull; 300 kW in the end."""
    number = np.arange(pulls, dtype=float)
    true = 300 * (1 - drop * np.exp(-number / tau))
    gain = 300 * drop * np.exp(-number / tau) * (1 - np.exp(-1 / tau))
    return number, true + rng.normal(0, 300 * noise, pulls), gain


def stop_at(rule, hours, power):
    for n in range(3, len(power) + 1):
        if rule(hours[:n], power[:n]):
            return n
    return len(power)


def by_plateau(hours, power):
    return plateau(hours=hours, power_kw=power).reached


def by_plain_rule(hours, power):
    return two_pulls_without_gain(power)


def test_the_fit_says_done_too_early_less_often_than_the_plain_rule():
    rng = np.random.default_rng(11)
    early = {by_plateau: 0, by_plain_rule: 0}
    wasted = {by_plateau: [], by_plain_rule: []}
    trials = 120
    for _ in range(trials):
        hours, power, gain = rising(rng, tau=rng.uniform(1.5, 4), drop=rng.uniform(0.03, 0.08))
        due = int(np.argmax(gain < 0.9)) + 1  # the pull after which the next gain is below the noise of 0.9 kW
        for rule in early:
            stopped = stop_at(rule, hours, power)
            early[rule] += gain[stopped - 1] > 1.8
            wasted[rule].append(stopped - due)
    assert early[by_plateau] / trials <= 0.05
    assert early[by_plateau] <= early[by_plain_rule]
    assert np.median(wasted[by_plateau]) <= 3


def test_a_clear_rise_is_not_done_and_a_long_flat_is():
    rng = np.random.default_rng(5)
    hours, power, _ = rising(rng, pulls=4, tau=4.0)
    assert not plateau(hours=hours, power_kw=power).reached
    flat = 300 + rng.normal(0, 0.6, 8)
    found = plateau(hours=np.arange(8.0), power_kw=flat)
    assert found.reached
    assert found.pulls_after >= 1


def test_two_pulls_are_no_evidence():
    assert plateau(hours=np.array([0.0, 1.0]), power_kw=np.array([300.0, 301.0])) is None


@given(st.lists(st.floats(200, 400), min_size=3, max_size=9))
def test_the_interval_holds_the_gain(power):
    found = plateau(hours=np.arange(float(len(power))), power_kw=np.array(power))
    assert 0 <= found.gain_low_kw <= found.gain_kw + 1e-9
    assert found.gain_low_kw <= found.gain_high_kw


def pulls_of(power, **air):
    return [Pull(f"P{i}", float(i), kw, **air) for i, kw in enumerate(power)]


def test_three_lamps_lit():
    rng = np.random.default_rng(2)
    air = {"air_c": 22.0, "pressure_kpa": 100.0, "humidity_pct": 40.0}
    leaks = [LeakDown(h, str(c), 4.0 + 0.1 * h) for h in (1.0, 2.0) for c in range(1, 5)]
    state = done.judge(
        pulls=pulls_of(300 + rng.normal(0, 0.5, 9), **air), leak_downs=leaks,
        rates_mg_h=np.array([80.0, 9.0]), errors_mg_h=np.array([5.0, 1.0]), standard="SAE J1349",
    )  # fmt: skip
    assert [lamp.state for lamp in state.lamps] == [done.LIT] * 3
    assert state.done
    assert state.sentence == "Break-in is done as far as power, leak-down and wear rate can tell."


def test_one_kind_of_evidence_names_the_missing_ones():
    state = done.judge(
        pulls=[], leak_downs=[], rates_mg_h=np.array([80.0, 9.0]), errors_mg_h=np.array([5.0, 1.0]),
        standard="ISO 1585",
    )  # fmt: skip
    assert state.done
    assert "nothing is known of power and leak-down" in state.sentence


def test_nothing_at_all_says_what_to_enter():
    state = done.judge(
        pulls=[], leak_downs=[], rates_mg_h=np.array([]), errors_mg_h=np.array([]), standard="as measured"
    )
    assert not state.done
    assert "enter pulls" in state.sentence


def test_a_pull_without_air_is_left_out_with_its_reason():
    state = done.judge(
        pulls=pulls_of([300.0, 301.0, 302.0]), leak_downs=[], rates_mg_h=np.array([]), errors_mg_h=np.array([]),
        standard="SAE J1349",
    )  # fmt: skip
    assert len(state.left_out) == 3
    assert "cannot be corrected" in state.left_out[0]
    assert state.lamps[0].state == done.MISSING


def test_leak_down_from_two_testers_is_not_compared():
    lamp = done.leak_lamp([LeakDown(1.0, "1", 4.0, "A"), LeakDown(2.0, "1", 9.0, "B")])
    assert lamp.state == done.MISSING
    assert "cannot be compared" in lamp.reason


def test_a_cylinder_that_still_moves_is_named():
    lamp = done.leak_lamp([LeakDown(1.0, "3", 12.0), LeakDown(2.0, "3", 7.0)])
    assert lamp.state == done.NOT_YET
    assert "cylinder 3" in lamp.reason


@pytest.mark.parametrize(("rates", "errors", "state"), [
    ([80.0, 60.0], [5.0, 5.0], done.NOT_YET),
    ([80.0], [5.0], done.MISSING),
    ([8.0, 3.0], [5.0, 1.0], done.MISSING),
])  # fmt: skip
def test_wear_lamp(rates, errors, state):
    assert done.wear_lamp(np.array(rates), np.array(errors)).state == state


def test_what_is_missing_is_counted_as_one_says_it():
    assert done.leak_lamp(()).reason.startswith("no leak-down tests; two are needed")
    assert done.wear_lamp(np.array([]), np.array([])).reason.startswith("no wear rates from the break-in")
    assert done.wear_lamp(np.array([4.0]), np.array([1.0])).reason.startswith("1 wear rate from")
