"""What a family says later is worth what it would have been worth at the start: Gaussian messages have no order."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.wear.expected import RatePrior, news_of, told_by
from benchapp.wear.hypotheses import Origins
from benchapp.wear.watch import Watch

ADDITIVE = np.zeros(3, dtype=bool)
DIRECTIONS = np.array([[0.9, 0.1], [0.1, 0.2], [0.0, 0.7]])
MASS_KG = 5.0


def prior(rate: list[float], sds: list[float], common: float, builds: int) -> RatePrior:
    mean = np.array(rate)
    return RatePrior(mean, np.diag(np.array(sds) ** 2) + common**2 * np.outer(mean, mean), np.ones(2), "family", builds)


FIRST = prior([4.0, 1.0, 2.0], [6.0, 2.0, 3.0], 1.0, 0)
SURE = prior([3.0, 1.4, 1.0], [0.6, 0.3, 0.2], 0.2, 6)


def watched(start: RatePrior) -> Watch:
    watch = Watch(start.rate, start.covariance, [], Origins(DIRECTIONS), 4)
    watch.cc = np.diag([0.2, 0.2, 0.2])
    return watch


def runs(watch: Watch, readings: list[list[float]]) -> None:
    """A run of four hours and a sample for each reading [ppm]."""
    for place, reading in enumerate(readings):
        watch.begin_interval(0)
        watch.run(4.0 * place, 4.0, MASS_KG, np.zeros((3, 3)), np.zeros((2, 3, 3)), np.zeros(2))
        watch.take(watch.expect(np.array(reading), np.full(3, 0.3), np.zeros(3)))


def hears(watch: Watch) -> None:
    news = news_of(told_by(FIRST, ADDITIVE), SURE, ADDITIVE)
    assert news is not None
    watch.hear(news.rows, news.value, np.diag(news.variance))


@pytest.mark.parametrize("before", [0, 1, 3])
def test_news_are_worth_the_same_whenever_they_come(before: int) -> None:
    readings = [[3.4, 0.9, 1.2], [8.0, 2.1, 2.2], [14.5, 3.0, 3.1]]
    late, early = watched(FIRST), watched(SURE)
    runs(late, readings[:before])
    hears(late)
    runs(early, readings[:before])
    for name in ("theta", "tt", "c", "cc"):
        assert getattr(late, name) == pytest.approx(getattr(early, name), rel=1e-7, abs=1e-9), name
    # a hard session is reckoned in the rates known when it was run, which are not the same
    others = np.setdiff1d(np.arange(len(late.information)), late.columns.hard)
    assert late.information[others] == pytest.approx(early.information[others], rel=1e-6, abs=1e-9)
    assert late.score[others] == pytest.approx(early.score[others], rel=1e-6, abs=1e-9)


def test_who_is_no_surer_says_nothing_new() -> None:
    assert news_of(told_by(SURE, ADDITIVE), SURE, ADDITIVE) is None
    assert news_of(told_by(SURE, ADDITIVE), FIRST, ADDITIVE) is None
