"""Control charts: which rules fire, and what they say."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from benchapp.checks.charts import (
    METHOD_TOLERANCE,
    Tolerance,
    cusum,
    ewma,
    individuals,
    method_limits,
    moving_range,
    tolerance_for,
)
from benchapp.checks.holds import checks_of
from benchapp.library import load_library
from benchapp.records import CheckRun, NoiseLine

T0 = dt.datetime(2026, 4, 18, 8)


def rules(values: list[float]) -> set[tuple[str, int]]:
    return {(f.rule, f.index) for f in individuals(values, centre=0.0, sigma=1.0).fired}


def test_each_rule_and_only_it() -> None:
    assert rules([0.5, -0.5, 0.9, -0.9]) == set()
    assert rules([0.0, 3.1]) == {("outside", 1)}
    assert rules([0.0, -3.1]) == {("outside", 1)}
    assert rules([2.1, -0.1, 2.1]) == {("two of three", 2)}
    assert rules([2.1, 2.1]) == set()
    assert rules([1.1, 1.1, -0.1, 1.1, 1.1]) == {("four of five", 4)}
    assert rules([0.1] * 8) == {("eight in a row", 7)}
    assert rules([0.1] * 7 + [-0.1]) == set()


def test_what_fires_is_said_in_words() -> None:
    for fired in individuals([2.5, 2.5, 2.5, 3.5, 2.5, 0.5, 0.5, 0.5], centre=0.0, sigma=1.0).fired:
        assert "check run" in fired.text
        assert "above" in fired.text
    assert "below" in individuals([-4.0, 0.0], centre=0.0, sigma=1.0).fired[0].text
    assert "jump" in moving_range([1.0, 1.1, 1.0, 1.1, 9.0, 1.0, 1.1, 1.0, 1.1, 1.0]).fired[0].text
    assert "drifted above" in ewma([1.0] * 9, 0.0, 0.5).fired[0].text
    assert "drifted below" in ewma([-1.0] * 9, 0.0, 0.5).fired[0].text
    high, low = cusum([0.0, 0.0, -2.0, -2.0, -2.0, -2.0], 0.0, 1.0)
    assert high.in_control
    assert low.fired[0].text == "the check runs read low since run 3: a lasting shift"


def test_limits_can_come_from_outside_the_values() -> None:
    chart = individuals([50.0, 51.0], centre=50.0, sigma=2.0)
    assert (chart.lower, chart.centre, chart.upper) == (44.0, 50.0, 56.0)
    assert individuals([50.0, 50.0, 50.0, 50.0]).in_control
    assert individuals([5.0], centre=4.0, sigma=0.0).fired[0].rule == "outside"


def test_the_methods_own_limits() -> None:
    chart = method_limits(50.0, [50.0, 55.0, 55.1, 44.9], tolerance_for("rotating-disc"))
    assert [f.index for f in chart.fired] == [2, 3]
    assert "55.1 ppm found where 50 ± 5 ppm is allowed" in chart.fired[0].text
    assert (chart.lower, chart.upper) == (45.0, 55.0)
    assert tolerance_for("icp").percent == 5.0
    assert "WK63902" in METHOD_TOLERANCE["icp"].origin
    assert "no source" in tolerance_for("anything").origin


def test_a_blank_is_judged_by_the_floor() -> None:
    tolerance = Tolerance(10.0, 1.0, "")
    assert tolerance.passes(0.0, 0.9)
    assert not tolerance.passes(0.0, 1.1)
    assert tolerance.passes(50.0, 55.0)


def test_what_is_no_series_is_refused() -> None:
    for job in (
        lambda: individuals([]),
        lambda: individuals([1.0]),
        lambda: moving_range([1.0]),
        lambda: individuals([float("nan"), 1.0]),
    ):
        with pytest.raises(ValueError, match="finite values"):
            job()
    with pytest.raises(ValueError, match="weight"):
        ewma([1.0], 0.0, 1.0, weight=0.0)


def failing(kind: str, level: float, times: float = 1.0, gain: float = 1.0, rounds: int = 400) -> float:
    """Share of check runs of twenty elements at a level [ppm] that fail, on an instrument that scatters `times` the
    published noise and reads `gain` times the truth. Readings as printed, to a tenth of a ppm."""
    noise = load_library().noise_for(kind)
    elements = list(noise)[:20]
    tolerance = tolerance_for(kind, noise)
    rng = np.random.default_rng(11)
    runs = [
        CheckRun(
            "R", T0 + dt.timedelta(hours=i), f"S{level:g}", element, level,
            round(float(rng.normal(gain * level, times * noise[element].sd_ppm(level))), 1),
        )
        for i in range(rounds) for element in elements
    ]  # fmt: skip
    found = checks_of(runs, {"R": tolerance}, tolerance)
    return sum(not check.good for check in found) / len(found)


@pytest.mark.parametrize("kind", ["rotating-disc", "icp", "xrf", "lab"])
@pytest.mark.parametrize("level", [0.0, 5.0, 50.0, 100.0])
def test_a_good_instrument_seldom_fails_and_a_noisy_one_still_does(kind: str, level: float) -> None:
    assert failing(kind, level) < 1 / 15
    if level >= 50.0:
        assert failing(kind, level, times=2.5, rounds=100) > 0.5


@pytest.mark.parametrize("kind", ["rotating-disc", "icp"])
@pytest.mark.parametrize("level", [50.0, 100.0])
def test_a_real_drift_still_fails(kind: str, level: float) -> None:
    assert failing(kind, level, gain=1.15, rounds=100) > 0.99
    assert failing(kind, level, gain=0.85, rounds=100) > 0.99


def test_the_width_of_chance_is_said() -> None:
    published = {"K": NoiseLine(0.5, 0.06, 1.5, ""), "Fe": NoiseLine(0.01, 0.001, 0.1, "")}
    tolerance = tolerance_for("rotating-disc", published)
    assert tolerance.passes(5.0, 3.6, "K")  # 3 sd are 1.75 ppm, the floor alone 1 ppm
    assert not tolerance.passes(5.0, 3.2, "K")
    assert tolerance.width_ppm(50.0, "Fe") == 5.0  # chance is narrower than the method here
    assert tolerance.width_ppm(50.0, "W") == 5.0  # nothing is published for it
    chart = method_limits(5.0, [3.6, 3.2], tolerance, "K")
    assert [f.index for f in chart.fired] == [1]
    assert "3.2 ppm found where 5 ± 1.7 ppm is allowed (three standard deviations" in chart.fired[0].text
    assert "three standard deviations" in tolerance.origin
    assert "ASTM D6595" in tolerance.origin
