"""Drift is not wear: a season in which one element drifts by 15 %."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from benchapp.checks.charts import OTHER_TOLERANCE, tolerance_for
from benchapp.checks.drift import drift, gain_at, recoveries
from benchapp.checks.holds import Measured, checks_of, held_samples
from benchapp.records import CheckRun

T0 = dt.datetime(2026, 3, 1, 8)
DAYS = 180


def season(total: float, seed: int = 1, scatter: float = 0.015) -> list[CheckRun]:
    """A check every third day; the gain of Fe drifts linearly by `total` over the season, Cu stays."""
    rng = np.random.default_rng(seed)
    runs = []
    for day in range(0, DAYS + 1, 3):
        for element, share in (("Fe", total * day / DAYS), ("Cu", 0.0)):
            found = 50.0 * (1.0 + share) * (1.0 + rng.normal(0.0, scatter))
            runs.append(CheckRun("RDE 1", T0 + dt.timedelta(days=day), "S50", element, 50.0, found))
    return runs


def test_fifteen_percent_are_seen_and_the_steady_element_is_not_blamed() -> None:
    runs = season(0.15)
    iron = drift("Fe", recoveries(runs, "RDE 1", "Fe"))
    copper = drift("Cu", recoveries(runs, "RDE 1", "Cu"))
    assert iron.found
    assert iron.total_pct == pytest.approx(15.0, abs=2.0)
    assert iron.text.startswith(f"Fe drifts up: {iron.total_pct:.0f} % in 180 days over 61 check runs.")
    assert "Standardise" in iron.text
    assert not copper.found
    assert "no drift seen" in copper.text
    assert "drifts down" in drift("Fe", recoveries(season(-0.15), "RDE 1", "Fe")).text


def test_it_is_seen_long_before_it_is_fifteen_percent() -> None:
    early = [r for r in season(0.15) if r.run_at <= T0 + dt.timedelta(days=75)]
    assert drift("Fe", recoveries(early, "RDE 1", "Fe")).found


def test_a_steady_instrument_is_seldom_blamed() -> None:
    wrong = sum(drift("Cu", recoveries(season(0.0, seed), "RDE 1", "Cu")).found for seed in range(200))
    assert wrong <= 4


def test_no_sample_with_more_than_the_tolerance_stays_unheld() -> None:
    """Every third day a check, every day a sample: what is not held reads at most the tolerance (and its scatter) too high."""  # noqa: E501
    runs = season(0.15)
    checks = checks_of(runs, {"RDE 1": tolerance_for("rotating-disc")}, OTHER_TOLERANCE)
    samples = [Measured(f"S{day:03d}", "RDE 1", T0 + dt.timedelta(days=day, hours=2)) for day in range(DAYS)]
    held = {h.sample for h in held_samples(checks, samples)}
    assert held
    free = [day for day in range(DAYS) if f"S{day:03d}" not in held]
    assert max(0.15 * day / DAYS for day in free) < 0.10 + 3 * 0.015
    assert not any(f"S{day:03d}" in held for day in range(60))


def test_the_gain_at_a_moment_follows_the_drift() -> None:
    points = recoveries(season(0.15), "RDE 1", "Fe")
    for day in (3, 90, 177):
        gain = gain_at(points, T0 + dt.timedelta(days=day))
        assert abs(gain.gain - (1.0 + 0.15 * day / DAYS)) < 0.03
        assert 0.0 < gain.sd < 0.03
        assert gain.runs > 5
    unknown = gain_at((), T0)
    assert (unknown.gain, unknown.sd, unknown.runs) == (1.0, 0.10, 0)
    late = gain_at(points, T0 + dt.timedelta(days=DAYS + 20))
    assert late.sd > gain_at(points, T0 + dt.timedelta(days=DAYS)).sd


def test_too_few_runs_decide_nothing() -> None:
    assert "too few" in drift("Fe", recoveries(season(0.15)[:6], "RDE 1", "Fe")).text
    assert drift("Fe", ((T0, 1.0),) * 6).found is False
    assert recoveries([CheckRun("RDE 1", T0, "blank", "Fe", 0.0, 0.1)], "RDE 1", "Fe") == ()
