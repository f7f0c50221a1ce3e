"""The noise model: what own measurements say, and when they are enough."""

from __future__ import annotations

import datetime as dt
from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.checks.noise import (
    ENOUGH,
    Scatter,
    check_scatter,
    display,
    duplicates_apart,
    fit_noise,
    noise_line,
    noise_model,
    range_factor,
    repeatability_limit,
    repeatability_sd,
    replicate_scatter,
    scatter_of,
)
from benchapp.records import CheckRun, NoiseLine, Reading

START = NoiseLine(0.5, 0.05, 1.0, "published repeatability, from memory")
T0 = dt.datetime(2026, 4, 1, 8)


def runs(found: list[float], expected: float, element: str = "Fe", instrument: str = "RDE 1") -> list[CheckRun]:
    return [
        CheckRun(instrument, T0 + dt.timedelta(hours=k), f"S{expected:g}", element, expected, value)
        for k, value in enumerate(found)
    ]


def test_duplicates_by_hand() -> None:
    assert repeatability_sd([(10.0, 12.0), (20.0, 20.0)]) == pytest.approx(1.0)
    with pytest.raises(ValueError, match="no duplicates"):
        repeatability_sd([])
    found = scatter_of([10.0, 12.0])
    assert found is not None
    assert (found.level_ppm, found.sd_ppm, found.freedom) == (11.0, pytest.approx(sqrt(2.0)), 1)
    assert scatter_of([1.0]) is None


def test_pooled_scatters_of_pairs_are_the_formula_of_duplicates() -> None:
    pairs = [(10.0, 10.4), (10.2, 9.9), (10.1, 10.1)]
    scatters = [s for s in map(scatter_of, pairs) if s is not None]
    pooled = sqrt(sum(s.freedom * s.sd_ppm**2 for s in scatters) / sum(s.freedom for s in scatters))
    assert pooled == pytest.approx(repeatability_sd(pairs))


def test_the_true_noise_is_found_again() -> None:
    rng = np.random.default_rng(3)
    scatters = []
    for level in (0.0, 5.0, 20.0, 50.0, 100.0):
        for _ in range(60):
            values = level + rng.normal(0.0, sqrt(0.4**2 + (0.03 * level) ** 2), 3)
            scatters.append(Scatter(level, float(values.std(ddof=1)), 2))
    a, b = fit_noise(scatters)
    assert a == pytest.approx(0.4, rel=0.12)
    assert b == pytest.approx(0.03, rel=0.12)
    line = noise_line(scatters, START)
    assert "own replicates and check runs, 600 degrees of freedom" in line.origin
    assert line.limit_ppm == pytest.approx(3 * line.a_ppm)


def test_too_few_own_measurements_leave_the_published_start() -> None:
    few = [Scatter(10.0, 5.0, 1)] * (ENOUGH - 1)
    assert noise_line(few, START) is START
    assert noise_line([*few, few[0]], START) is not START


def test_one_level_scales_the_start_and_says_so() -> None:
    line = noise_line([Scatter(50.0, 2 * START.sd_ppm(50.0), 10)], START)
    scale = sqrt((10 * 2.0**2 + 8) / (10 + 8))  # the start counts as eight measurements alike
    assert (line.a_ppm, line.b) == (pytest.approx(0.5 * scale), pytest.approx(0.05 * scale))
    assert "near one level" in line.origin


def test_standards_far_from_zero_tell_nothing_of_the_noise_near_it() -> None:
    """Standards of 30 and 900 ppm, quiet by chance: readings of 1 or 2 ppm are no better for it."""
    line = noise_line([Scatter(30.0, 0.5, 20), Scatter(900.0, 25.0, 20)], START)
    assert line.a_ppm > 0.6 * START.a_ppm
    assert line.sd_ppm(900.0) == pytest.approx(25.0, rel=0.15)


def test_a_low_standard_that_was_quiet_by_chance_halves_nothing() -> None:
    line = noise_line([Scatter(5.0, 0.2, 6), Scatter(30.0, 1.5, 6)], START)
    assert 0.5 * START.a_ppm < line.a_ppm < START.a_ppm


def test_the_fit_does_not_swing_between_two_answers() -> None:
    """Full steps swing here between all noise in a, b nothing, and all of it in b, a nothing."""
    groups = [(5.0, 0.22, 7), (30.0, 0.65, 7), (0.0, 0.4, 8), (10.0, 0.57, 8), (100.0, 4.02, 8)]
    a, b = fit_noise([Scatter(*group) for group in groups])
    assert (a, b) == (pytest.approx(0.35, abs=0.01), pytest.approx(0.034, abs=0.001))


def test_no_scatter_at_all_is_not_believed_to_be_no_noise() -> None:
    line = noise_line([Scatter(0.0, 0.0, 10), Scatter(50.0, 0.0, 10)], START)
    assert line.a_ppm > 0.0
    with pytest.raises(ValueError, match="no scatter"):
        fit_noise([])


def test_the_model_of_an_instrument() -> None:
    burns = [Reading("Fe", 10.0 + d, replicate=n) for n, d in enumerate((-0.5, 0.5), 1)]
    samples = [[*burns, Reading("Cu", None, qualifier="<"), Reading("KV40", 60.0, "cSt")]] * 6
    checks = runs([49.0, 51.0, 50.0, 52.0], 50.0) + runs([48.0, 53.0], 50.0, instrument="other")
    assert set(replicate_scatter(samples)) == {"Fe"}
    assert [s.freedom for s in check_scatter(checks, "RDE 1")["Fe"]] == [3]
    model = noise_model("RDE 1", samples, checks, {"Fe": START, "Cu": START})
    assert model["Cu"] is START
    assert "9 degrees of freedom in 7 groups" in model["Fe"].origin


def test_a_bias_is_not_noise() -> None:
    (scatter,) = check_scatter(runs([60.0, 60.0, 60.0], 50.0), "RDE 1")["Fe"]
    assert scatter.sd_ppm == 0.0


def test_duplicates_further_apart_than_r_are_flagged() -> None:
    noise = {"Fe": NoiseLine(0.0, 0.05, 1.0, "")}
    limit = repeatability_limit(noise["Fe"], 10.0)
    assert limit == pytest.approx(2.77 * 0.5)
    near = [Reading("Fe", 10.0 - limit / 2.01), Reading("Fe", 10.0 + limit / 2.01, replicate=2)]
    far = [Reading("Fe", 10.0 - limit / 1.99), Reading("Fe", 10.0 + limit / 1.99, replicate=2)]
    assert duplicates_apart(near, noise) == ()
    (found,) = duplicates_apart([*far, Reading("Cu", 1.0), Reading("Fe", None, qualifier="<")], noise)
    assert found.measurand == "Fe"
    assert "further apart than 2 burns" in found.text
    assert range_factor(3) > range_factor(2)
    with pytest.raises(ValueError, match="two values"):
        range_factor(1)


@pytest.mark.parametrize(("ppm", "text"), [(0.04, "0.0"), (9.94, "9.9"), (9.96, "10"), (10.4, "10"), (123.6, "124")])
def test_display_rounding(ppm: float, text: str) -> None:
    assert display(ppm) == text


@given(st.lists(st.tuples(st.floats(0, 1000), st.floats(0, 50), st.integers(1, 20)), min_size=1, max_size=12))
def test_any_scatter_gives_a_usable_line(groups: list[tuple[float, float, int]]) -> None:
    line = noise_line([Scatter(*g) for g in groups], START)
    assert line.a_ppm >= 0.0
    assert line.b >= 0.0
    assert np.isfinite([line.a_ppm, line.b, line.limit_ppm]).all()
