"""What another oil brings beside its additives is not the engine's: sodium of a wrong fill is no leak. All invented."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.wear.decide import LOOK_INSIDE, PARK, judgement
from tests.wear.histories import OILS, RACE, ROAD, RULES, Story, fleet_of
from tests.wear.walking import each_look, follower_of


def told(monkeypatch, sodium: float, samples: int = 3) -> list:
    """(look, word) of each sample; the last fill holds another oil than its record says, sampled several times."""
    road = replace(OILS[ROAD], fresh_ppm={**OILS[ROAD].fresh_ppm, "Na": sodium})
    monkeypatch.setitem(OILS, ROAD, road)
    story = Story("E", seed=3).broken_in().usual(5).fill(ROAD)
    story.fills[-1] = replace(story.fills[-1], oil=RACE)
    for _ in range(samples):
        story.run(3.0).sample()
    follower = follower_of(story)
    return [(look, judgement(look, follower, RULES)) for look in each_look(follower)][-samples:]


@pytest.mark.parametrize("sodium", [9.0, 12.0, 14.0])
def test_sodium_of_a_wrong_fill_is_the_oils(monkeypatch, sodium):
    found = told(monkeypatch, sodium)
    assert found[0][0].other_oil == ROAD
    for look, judged in found:
        at = look.sources.elements.index("Na")
        assert abs(look.surprise.difference[at]) < 3.0 * look.surprise.covariance[at, at] ** 0.5
        assert judged.word not in (LOOK_INSIDE, PARK)
        assert not [group for group in judged.groups if group.kind == "coolant" and group.probability > 0.2]


def test_a_leak_beside_a_wrong_fill_is_still_seen(monkeypatch):
    """The record of the oil says how much sodium is its own: what is over that is not."""
    road = replace(OILS[ROAD], fresh_ppm={**OILS[ROAD].fresh_ppm, "Na": 9.0})
    monkeypatch.setitem(OILS, ROAD, road)
    story = Story("E", seed=3).broken_in().usual(5).fill(ROAD)
    story.fills[-1] = replace(story.fills[-1], oil=RACE)
    for _ in range(3):
        story.run(3.0, extra={"Na": 30.0, "K": 20.0}).sample()
    fleet = fleet_of(story)
    assert fleet.engines[0].builds[0].fills[-1].oil == RACE
    follower = follower_of(story)
    words = [judgement(look, follower, RULES) for look in each_look(follower)][-3:]
    assert words[-1].word in (LOOK_INSIDE, PARK)
    assert words[-1].groups[0].kind == "coolant"


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_fresh_oil_of_another_kind_in_the_bottle_is_not_the_sump(seed):
    """Its additives are known and its metals are none: a sump filled with it would hold what the engine has shed."""
    story = Story("E", seed=seed).broken_in().usual(2).fill().run(3.0).sample().run(3.0)
    other = {element: OILS[ROAD].fresh_ppm.get(element, 0.0) for element in story.ppm}
    story.sample(bottle={element: 0.8 * other[element] + 0.2 * story.ppm[element] for element in other})
    story.run(2.0).sample().run(2.0).sample()
    follower = follower_of(story)
    found = [(look, judgement(look, follower, RULES)) for look in each_look(follower)][-3:]
    assert found[0][0].other_oil == ROAD
    assert found[0][0].bottle
    assert not [judged.word for _, judged in found if judged.word in (LOOK_INSIDE, PARK)]
