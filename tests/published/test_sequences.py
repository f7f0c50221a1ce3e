"""Run lengths of CUSUM and EWMA against published tables, and the charts of the bench checks against those run lengths.

The bench checks (control charts of check standards) are CUSUM and EWMA with decision intervals chosen from a stated
average run length. The wear of engines is not watched by them: its sequential evidence is a bank of generalised
likelihood ratios over onset, shape and source with a stated prior fault rate, and a call is a decision on the posterior
probability. Its intervals are of unequal length and its noise differs from sample to sample, so no run-length table
applies; its false-alarm rate is measured on simulated fleets (tests/simulated) instead.
"""

from __future__ import annotations

import inspect

import numpy as np
import pytest

from benchapp.checks import charts
from benchapp.checks.run_length import (
    cusum_decision,
    cusum_run_length,
    cusum_run_length_two_sided,
    ewma_run_length,
    ewma_width,
)

SHIFTS = (0, 0.25, 0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4, 5)


def printed(value):
    """Within half a unit of the last digit of a table that prints three figures."""
    return pytest.approx(value, abs=0.5 if value >= 100 else 0.05 if value >= 10 else 0.0051)


@pytest.mark.parametrize(
    ("shift", "length"),
    list(zip(SHIFTS, (168, 74.2, 26.6, 13.3, 8.38, 4.75, 3.34, 2.62, 2.19, 1.71, 1.31), strict=True)),
)
def test_two_sided_cusum_of_lucas_and_crosier(shift, length):
    # Lucas and Crosier, Technometrics 24 (1982) 199, k 0.5, h 4, as quoted in the help of R package spc
    assert cusum_run_length_two_sided(0.5, 4.0, shift) == printed(length)


@pytest.mark.parametrize(
    ("shift", "length"),
    list(zip(SHIFTS, (465.44, 139.49, 38.00, 17.05, 10.38, 5.75, 4.01, 3.11, 2.57, 2.01, 1.69), strict=True)),
)
def test_two_sided_cusum_with_decision_interval_five(shift, length):
    # solved by R package spc
    assert cusum_run_length_two_sided(0.5, 5.0, shift) == pytest.approx(length, abs=0.0051)


def test_one_sided_cusum_of_brook_and_evans():
    # Brook and Evans, Biometrika 59 (1972) 539: k 0.5, h 3; their Markov chain of 100 states gives 117.59
    assert cusum_run_length(0.5, 3.0) == pytest.approx(117.59, abs=0.01)
    assert cusum_run_length(0.5, 3.0, 1.5) == pytest.approx(3.75, abs=0.0051)
    # Siegmund's approximation is only close: 938.22 against 930.89
    assert cusum_run_length(0.5, 5.0) == pytest.approx(930.89, abs=0.01)


@pytest.mark.parametrize(
    ("shift", "length"),
    [
        (-0.25, 2071.51), (-0.125, 400.28), (0, 124.66), (0.125, 59.30), (0.25, 36.71), (0.5, 20.37), (0.75, 14.06),
        (1, 10.75),
    ],
)  # fmt: skip
def test_one_sided_cusum_of_vance(shift, length):
    # Vance, Journal of Quality Technology 18 (1986) 188: k 0, h 10
    assert cusum_run_length(0.0, 10.0, shift) == pytest.approx(length, abs=max(0.0051, 3.5e-5 * length))


@pytest.mark.parametrize(
    ("shift", "length"),
    [
        (0, 500), (0.25, 255), (0.5, 88.8), (0.75, 35.9), (1, 17.5), (1.5, 6.53), (2, 3.63), (2.5, 2.50), (3, 1.93),
        (3.5, 1.58), (4, 1.34), (5, 1.07),
    ],
)  # fmt: skip
def test_ewma_of_lucas_and_saccucci(shift, length):
    # Lucas and Saccucci, Technometrics 32 (1990) 1: weight 0.5, width 3.071
    assert ewma_run_length(0.5, 3.071, shift) == printed(length)


@pytest.mark.parametrize(
    ("shift", "length"),
    [(0, 26.45), (0.25, 20.12), (0.5, 11.89), (0.75, 7.29), (1, 4.91), (1.5, 2.80), (1.75, 2.29), (2, 1.94)],
)
def test_ewma_of_crowder(shift, length):
    # Crowder, Technometrics 29 (1987) 401: weight 0.5, width 2; at a shift of 1.25 the paper misprints 3.95 for 3.59
    assert ewma_run_length(0.5, 2.0, shift) == pytest.approx(length, abs=0.0101)


def test_ewma_of_crowder_where_the_paper_misprints():
    assert ewma_run_length(0.5, 2.0, 1.25) == pytest.approx(3.59, abs=0.0051)


def test_ewma_of_a_statistics_package():
    # SAS/QC documentation: weight 0.25, width 3, shift 1
    assert ewma_run_length(0.25, 3.0, 1.0) == pytest.approx(11.154267016, abs=1e-8)


def test_ewma_of_weight_one_is_a_shewhart_chart():
    # 3 sigma limits: 370.40 in control, 43.89 at a shift of one (Champ and Woodall, Technometrics 29 (1987) 393)
    assert ewma_run_length(1.0, 3.0, nodes=400) == pytest.approx(370.40, abs=0.01)
    assert ewma_run_length(1.0, 3.0, 1.0, nodes=400) == pytest.approx(43.89, abs=0.01)


def test_limits_from_a_stated_run_length():
    # R package spc: limits for one false signal in 370.4
    for weight, width in ((0.1, 2.7015), (0.2, 2.8593), (0.3, 2.9250)):
        assert ewma_width(weight, 370.4) == pytest.approx(width, abs=5e-5)
    assert cusum_decision(0.5, 370.4) == pytest.approx(4.0965, abs=5e-5)
    assert cusum_decision(0.5, 370.4, two_sided=True) == pytest.approx(4.7749, abs=5e-5)


def test_impossible_wishes_are_refused():
    with pytest.raises(ValueError, match="run length"):
        cusum_decision(0.5, 0.5)
    with pytest.raises(ValueError, match="run length"):
        ewma_width(0.3, 1e12)
    with pytest.raises(ValueError, match="decision interval"):
        cusum_run_length(0.5, 0.0)
    with pytest.raises(ValueError, match="weight"):
        ewma_run_length(1.5, 3.0)


# --- the bench's own charts


def default(function, name):
    return inspect.signature(function).parameters[name].default


def test_the_decision_intervals_of_the_bench_have_the_run_length_they_state():
    # both charts as they are drawn: one false signal in about 465 check runs
    length = cusum_run_length_two_sided(default(charts.cusum, "reference"), default(charts.cusum, "decision"))
    assert length == pytest.approx(465, abs=1)
    assert "about every 465 runs" in charts.cusum.__doc__
    assert ewma_run_length(default(charts.ewma, "weight"), default(charts.ewma, "width")) == pytest.approx(465, abs=1)


def first_signal(fired):
    return min((one.index + 1 for one in fired), default=None)


@pytest.mark.parametrize("shift", [1.0, 2.0])
def test_the_charts_run_as_long_as_the_equations_say(shift):
    rng = np.random.default_rng(5)
    cusums, averages = [], []
    for _ in range(1500):
        values = rng.normal(100.0 + 4.0 * shift, 4.0, 80)
        high, low = charts.cusum(values, 100.0, 4.0)
        cusums.append(first_signal((*high.fired, *low.fired)))
        averages.append(first_signal(charts.ewma(values, 100.0, 4.0).fired))
    assert None not in cusums
    assert None not in averages
    for seen, expected in (
        (cusums, cusum_run_length_two_sided(0.5, 5.0, shift)),
        (averages, ewma_run_length(0.3, 3.0, shift)),
    ):
        assert np.mean(seen) == pytest.approx(expected, abs=4 * np.std(seen) / np.sqrt(1500))


def test_the_charts_seldom_cry_wolf():
    rng = np.random.default_rng(6)
    runs, length = 1500, 40
    false = 0
    for _ in range(runs):
        values = rng.normal(100.0, 4.0, length)
        high, low = charts.cusum(values, 100.0, 4.0)
        false += bool(high.fired or low.fired)
    # run lengths are close to geometric after the start: at most 1 − (1 − 1/465)^40 of series signal
    most = 1 - (1 - 1 / 465.44) ** length
    assert false / runs <= most + 3 * np.sqrt(most / runs)
    assert false > 0
