"""Metal is not taken up: settled rates, sealant and a cooler's copper come out above zero.

Figures are invented; the mean and variance of a cut normal are scipy's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import truncnorm

from benchapp.wear.fading import COPPER, RUN_IN, Nuisance
from benchapp.wear.hypotheses import Origins
from benchapp.wear.watch import Watch

MASS = 5.0
NOTHING = np.zeros((2, 2, 2))


def watch_of(rate: tuple[float, float], sd: float, *more: Nuisance) -> Watch:
    return Watch(np.array(rate), np.diag([sd**2, sd**2]), more, Origins(np.eye(2)), 4)


def sampled(watch: Watch, *readings: tuple[float, float]) -> Watch:
    for number, reading in enumerate(readings):
        watch.begin_interval(number)
        watch.run(2.0 * number, 2.0, MASS, np.diag([1e-4, 1e-4]), NOTHING, np.zeros(2))
        watch.take(watch.expect(np.array(reading), np.full(2, 0.25), np.zeros(2)))
    return watch


def test_a_rate_below_zero_becomes_what_is_left_of_it_above():
    watch = watch_of((-1.0, 2.0), 0.8)
    watch.keep_above_zero()
    cut = truncnorm(1.0 / 0.8, np.inf, loc=-1.0, scale=0.8)
    assert watch.rate[0] == pytest.approx(cut.mean(), rel=1e-6)
    assert watch.rate_covariance[0, 0] == pytest.approx(cut.var(), rel=1e-6)
    assert watch.rate[1] == pytest.approx(2.0)


def test_what_is_about_zero_or_above_is_left_alone():
    watch = watch_of((-0.3, 2.0), 0.8)
    watch.keep_above_zero()
    assert watch.rate.tolist() == [-0.3, 2.0]


def test_a_far_too_low_rate_is_no_trouble():
    watch = watch_of((-50.0, 2.0), 0.8)
    watch.keep_above_zero()
    assert -0.4 < watch.rate[0] < 1.0


def test_a_sump_that_loses_metal_is_not_foretold_to_lose_more():
    """Readings fall, as after a drain that nobody wrote down: no engine takes its iron back."""
    watch = sampled(watch_of((0.5, 1.0), 2.0), (9.0, 1.0), (6.0, 1.5), (3.0, 2.0), (1.0, 2.5))
    assert watch.rate[0] > -0.5 * np.sqrt(watch.rate_covariance[0, 0])


@pytest.mark.parametrize(("name", "kept"), [(COPPER, True), (RUN_IN, False)])
def test_a_cooler_takes_no_copper_up_and_an_engine_may_begin_slowly(name, kept):
    decay = Nuisance(name, np.array([1.0, 0.0]), 12.0, -4.0, 2.0)
    watch = watch_of((2.0, 1.0), 0.5, decay)
    watch.keep_above_zero()
    assert bool(watch.theta[2] > -0.5) is kept


def test_what_is_moved_tells_the_hypotheses_of_it():
    """What the rate has learned of a fault by mistake shows against it, as with every word from elsewhere."""
    watch = sampled(watch_of((0.2, 1.0), 0.3), (0.0, 1.0), (0.2, 1.4))
    watch.theta[0] = -0.6
    before = watch.score.copy()
    watch.keep_above_zero()
    told = np.flatnonzero(np.abs(watch.score - before) > 1e-9)
    assert set(watch.columns.source[told].tolist()) & {0}
