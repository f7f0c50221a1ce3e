"""Dust that comes once and harms nothing: how often it does on a bench is learned. All histories are invented."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from benchapp.wear.chances import prior_of
from benchapp.wear.decide import LOOK_INSIDE, PARK
from benchapp.wear.hypotheses import BLIP, STEP, Origins
from benchapp.wear.judge import judge_fleet
from benchapp.wear.rules import Rules
from benchapp.wear.spread import Spread
from benchapp.wear.watch import Watch
from tests.wear.histories import RULES, Story, fleet_of, of_source, rules_with

BEFOREHAND = (0.05, 1000.0)


def blown(ppm_h: float, mass_kg: float) -> dict[str, float]:
    """So much silicon with the rest of the dust [mg/h]."""
    shares = of_source("dust")
    return {element: ppm_h * mass_kg * share / shares["Si"] for element, share in shares.items()}


def season(name: str, seed: int, dusty: tuple[int, ...], growing: bool = False) -> Story:
    """Twelve equal fills, dust in these; or from the eighth on in all, and more and more."""
    story = Story(name, seed=seed, start=dt.datetime(2031, 3, 1, 9 + seed, 0)).broken_in().usual(3)
    for number in range(12):
        more = 1.0 * max(number - 6, 0) if growing else 0.0
        ppm_h = 4.0 * (number in dusty) + more
        story.fill().run(4.0, extra=blown(ppm_h, story.mass)).sample()
    return story


def alarms(*stories: Story, rules: Rules = RULES) -> dict[str, list[tuple[float, str]]]:
    found: dict[str, list[tuple[float, str]]] = {story.name: [] for story in stories}
    for call in judge_fleet(fleet_of(*stories, sisters=0), rules, each=True):
        if call.call in (LOOK_INSIDE, PARK):
            found[call.engine].append((call.build_h, call.reasons[0].source))
    return found


def test_a_bench_learns_how_dusty_it_is():
    spread = Spread(0.3, 0.3)
    assert spread.dusty(*BEFOREHAND) == pytest.approx(5e-5)
    spread.learn_dust(0.9, 4.0)
    spread.learn_dust(0.4, 4.0)
    spread.learn_dust(0.0, 192.0)
    assert spread.dusty(*BEFOREHAND) == pytest.approx(0.95 / 1200.0)
    other = spread.copy()
    other.learn_dust(1.0, 4.0)
    assert spread.dusty(*BEFOREHAND) == pytest.approx(0.95 / 1200.0)


DUSTY = {"A": (1, 5, 8), "B": (2, 6, 9), "C": (3, 7, 10)}


def fleet(**more: bool) -> list[Story]:
    return [season(name, seed, DUSTY[name], more.get(name, False)) for seed, name in enumerate(DUSTY, 1)]


def test_dust_that_comes_and_goes_is_looked_at_less_and_less():
    known = alarms(*fleet())
    never = alarms(*fleet(), rules=rules_with("fault", dusty=[0.0, 1e12]))
    count, before = (sum(len(found) for found in one.values()) for one in (known, never))
    assert before >= 6, "where nothing is learned, nobody knows each time that it passes"
    assert count <= before // 2
    late = [hours for found in known.values() for hours, _ in found if hours > 4.0 + 4.0 * 10]
    assert late == []


def test_dust_that_grows_is_called_on_a_dusty_bench_too():
    found = alarms(*fleet(C=True))
    dust = [hours for hours, source in found["C"] if source == "dust"]
    assert dust
    assert dust[0] <= 4.0 + 4.0 * 14


@pytest.mark.parametrize("outside", ["leak", "breathed"])
def test_what_comes_from_outside_may_come_at_once_as_fast_as_it_may_last(outside):
    """Else a splash of any size is a leak or a torn filter, though it stays as it is. Of a part it is not so."""
    origins = Origins(np.eye(2), **{outside: np.array([False, True])})
    watch = Watch(np.ones(2), np.eye(2), (), origins, 4)
    watch.begin_interval(3)
    columns, scale = watch.columns, prior_of(watch, np.ones(2), np.full(2, 0.5), 5.0, RULES).scale

    def of(source: int, shape: int) -> float:
        return float(scale[(columns.source == source) & (columns.shape == shape)][0])

    assert of(1, BLIP) == of(1, STEP) > 0.0
    assert of(0, BLIP) < of(0, STEP)
