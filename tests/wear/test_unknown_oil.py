"""A fill of an oil that the bench knows nothing of: two bottles alike are the sump. All histories are invented."""

from __future__ import annotations

import pytest

from benchapp.wear.decide import LOOK_INSIDE, PARK
from benchapp.wear.judge import judge_fleet
from tests.wear.histories import RULES, Story, fleet_of
from tests.wear.walking import looks_of

POURED = {"Na": 70.0, "B": 190.0, "Mg": 260.0, "Ca": 1500.0, "Zn": 1250.0, "P": 1150.0, "Mo": 60.0, "K": 1.0, "Si": 5.0}
OTHERS = {"Fe": 60.0, "Cu": 14.0, "Al": 22.0, "Pb": 30.0}
"""Metals of an engine that is not this one [ppm]."""


def poured(seed: int, fault: float = 0.0) -> Story:
    """Six usual fills, one of an oil that nobody wrote down, sampled five times, and three more usual ones; meanwhile
    the bores may shed `fault` times their normal."""
    story = Story("E", seed=seed).broken_in().usual(6)
    story.fill()
    story.ppm |= POURED
    for _ in range(5):
        story.run(1.0, times={"bores": 1.0 + fault}).sample()
    return story.usual(3)


def loud(story: Story) -> list[str]:
    """The samples at which the engine is to be looked at, and what is named first."""
    calls = judge_fleet(fleet_of(story), RULES, each=True, engines=["E"])
    return [f"{call.sample}: {call.reasons[0].source}" for call in calls if call.call in (LOOK_INSIDE, PARK)]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_an_oil_nobody_knows_is_no_leak_and_the_metals_are_still_watched(seed):
    assert loud(poured(seed)) == []
    _, looks = looks_of(poured(seed))
    fill = [look for look in looks if look.sample.build_h > 4.0 + 24.0][:5]
    assert all(look.other_oil for look in fill[:2])
    assert not any(look.bottle for look in fill[1:])
    iron = [look.sources.elements.index("Fe") for look in fill]
    for look, i in zip(fill[2:], iron[2:], strict=True):
        assert abs(float(look.surprise.difference[i])) < 4.0 * float(look.surprise.covariance[i, i]) ** 0.5


@pytest.mark.parametrize("seed", [1, 2])
def test_a_fault_meanwhile_is_called(seed):
    assert any("bores" in one for one in loud(poured(seed, fault=30.0)))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_two_bottles_of_one_other_engine_are_not_the_sump(seed):
    """The metals are another engine's as well: what the label says is wrong twice."""
    story = Story("E", seed=seed).broken_in().usual(6).fill()
    other = story.ppm | POURED | OTHERS
    story.run(2.0).sample(bottle=other).run(2.0).sample(bottle=other).usual(2)
    _, looks = looks_of(story)
    assert [look.bottle for look in looks[-4:]] == [True, True, False, False]
