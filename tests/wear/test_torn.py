"""Very much metal of two parts at once: a part that tore another with it, or the bottle of another engine.

All histories are invented."""

from __future__ import annotations

import pytest

from benchapp.wear.decide import LOOK_INSIDE, PARK, judgement
from benchapp.wear.follow import Follower
from benchapp.wear.look import Look
from benchapp.wear.rules import Rules
from benchapp.wear.sources import WEAR
from tests.wear.histories import OILS, ROAD, RULES, Story, rules_with
from tests.wear.walking import looks_of

ALONE = rules_with("fault", torn=1e-300)
"""A table that knows of no part that takes another with it."""


def last_look(story: Story, rules: Rules = RULES) -> tuple[Follower, Look]:
    follower, looks = looks_of(story, rules)
    return follower, looks[-1]


def with_its_shells(seed: int, crank: float, shells: float) -> Story:
    """A crank that goes, and its shells with it, in the fill before the last sample: so many times their normal."""
    times = {"crank": crank, "main bearing lining": shells, "main bearing overlay": shells}
    return Story("E", seed=seed).broken_in().usual(6).fill().run(4.0, times=times).sample()


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize(("crank", "shells"), [(50.0, 50.0), (30.0, 60.0), (300.0, 200.0)])
def test_a_crank_that_tears_its_shells_is_no_other_engines_bottle(seed, crank, shells):
    story = with_its_shells(seed, crank, shells)
    assert last_look(story, ALONE)[1].bottle, "no one part explains iron, copper and tin"
    follower, look = last_look(story)
    assert not look.bottle
    assert not look.other_oil
    assert judgement(look, follower, RULES).word in (LOOK_INSIDE, PARK)
    likeliest = int(look.evidence.probability.argmax())
    assert look.sources.kinds[likeliest] == WEAR


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("torn", [50.0, 200.0])
def test_a_bottle_of_another_engine_with_another_oil_still_is_one(seed, torn):
    """Iron, copper, lead and tin just as this crank and its shells would shed them, but in another oil."""
    story = Story("E", seed=seed).broken_in().usual(6).fill().run(4.0)
    metal, road = with_its_shells(seed, torn, torn).ppm, OILS[ROAD].fresh_ppm
    other = {e: metal[e] if e in ("Fe", "Cr", "Ni", "Al", "Cu", "Pb", "Sn") else road[e] for e in metal}
    follower, look = last_look(story.sample(bottle=other))
    assert look.bottle
    assert look.other_oil == ROAD
    assert judgement(look, follower, RULES).word not in (LOOK_INSIDE, PARK)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_bottle_of_another_engine_with_the_same_oil_still_is_one(seed):
    """Metal of many parts, and of none of this engine's: two that tear each other do not make it."""
    story = Story("E", seed=seed).broken_in().usual(6).fill().run(4.0)
    metal = {"Fe": 10.0, "Cr": 4.0, "Ni": 3.0, "Sn": 6.0, "Si": 20.0, "Al": 8.0}
    _, look = last_look(story.sample(bottle={**story.ppm, **{e: story.ppm[e] + ppm for e, ppm in metal.items()}}))
    assert look.bottle
