"""One reading that is a slip: what stands alone is one, what is off the same way again is not; where nobody can tell
yet, the next sample does, and nothing of the slip is left. All histories are invented."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.wear.decide import PARK, judgement
from benchapp.wear.follow import Follower
from benchapp.wear.fork import Fork, doubted
from benchapp.wear.look import Look
from benchapp.wear.rules import Rules
from benchapp.wear.sources import COOLANT
from tests.wear.histories import RULES, Story, rules_with
from tests.wear.walking import each_look, follower_of

RARE = rules_with("bottle", wild=1e-4)
"""A bench on which a slip of the pen is rare: so much sodium may well be coolant."""


def looks_of(story: Story, rules: Rules = RULES) -> tuple[Follower, list[Look], list[bool]]:
    """The follower at the end, every look, and whether two states were walked on from it."""
    follower, looks, forked = follower_of(story, rules), [], []
    for look in each_look(follower):
        looks.append(look)
        forked.append(follower.fork is not None)
    return follower, looks, forked


def read_as(story: Story, element: str, ppm: float) -> Story:
    """One more fill, and one element of its sample read as so much."""
    story.fill().run(4.0)
    return story.sample(gains={element: ppm / story.ppm[element]})


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize(("element", "first", "then"), [("Na", 5.5, 43.0), ("Cr", 1.1, 14.0), ("Ni", 1.1, 10.0)])
def test_what_is_off_the_same_way_again_is_no_slip(seed, element, first, then):
    """The first time it is too little to be remarked on."""
    story = read_as(read_as(Story("E", seed=seed).broken_in().usual(8), element, first), element, then)
    _, looks, _ = looks_of(story)
    assert [look.wild for look in looks[-2:]] == ["", ""]


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize(("element", "then"), [("Na", 43.0), ("Cr", 14.0), ("Ni", 10.0)])
@pytest.mark.parametrize("times", [1.0, 0.8])
def test_what_stands_alone_is_a_slip(seed, element, then, times):
    """Also where it read less than expected before, and though other elements were off the sample before."""
    story = Story("E", seed=seed).broken_in().usual(8).fill().run(4.0)
    story.sample(gains={element: times, "Mg": 1.15})
    _, looks, _ = looks_of(read_as(story, element, then))
    assert looks[-1].wild == element


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_was_off_and_is_back_is_none(seed):
    """A third of the iron in one bottle, beside a slip in sodium. The next one says what there was all the time."""
    story = Story("E", seed=seed).broken_in().usual(6).fill()
    for _ in range(4):
        story.run(3.0).sample()
    story.run(1.0).sample(gains={"Fe": 0.3, "Na": 6.0})
    story.run(1.0).sample()
    _, looks, _ = looks_of(story)
    assert looks[-1].wild == ""


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize(("element", "first"), [("Fe", 90.0), ("Al", 60.0)])
def test_the_same_element_is_no_slip_twice_in_a_row_whichever_way(seed, element, first):
    story = read_as(read_as(Story("E", seed=seed).broken_in().usual(8), element, first), element, 0.3)
    _, looks, _ = looks_of(story)
    assert [look.wild for look in looks[-2:]] == [element, ""]


# --- a slip that may be coolant


def coolant_of(look: Look) -> float:
    """Probability of coolant."""
    kinds = np.array(look.sources.kinds)
    return float(look.evidence.probability[kinds == COOLANT].sum())


def sodium_once(seed: int, slip: bool, after: float = 4.0) -> Story:
    """Sodium 43 once, between a dozen samples with the oil's own few ppm."""
    story = Story("E", seed=seed).broken_in().usual(6).fill().run(4.0)
    story.sample(gains={"Na": 43.0 / story.ppm["Na"]} if slip else None)
    story.fill().run(4.0)
    return story.sample(gains={"Na": after / story.ppm["Na"]})


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_sodium_that_is_read_once_parks_no_engine_and_leaves_nothing(seed):
    follower, looks, forked = looks_of(sodium_once(seed, True), RARE)
    odd, after = looks[-2:]
    assert not odd.wild, "coolant explains it as well"
    assert forked[-2]
    assert coolant_of(odd) > 0.3
    assert judgement(odd, follower, RARE).word != PARK
    assert after.refuted
    assert any(line.startswith(f"Na of the sample before ({odd.sample.code})") for line in after.unknowns)
    assert float(after.evidence.probability.sum()) < 0.05
    assert follower.now.fault < 0.05
    sound, _, _ = looks_of(sodium_once(seed, False), RARE)
    at = follower.elements.index("Na")
    for one in (follower, sound):
        assert abs(float(one.watch.c[at]) - 4.0) < 0.15
    assert float(follower.watch.rate[at]) == pytest.approx(float(sound.watch.rate[at]), abs=0.005)


def test_all_but_the_slip_has_been_learned_from():
    """The state is that of a sample on which this element was not read."""
    story = sodium_once(1, True)
    slip, _, _ = looks_of(story, RARE)
    odd = story.samples[-2]
    story.samples[-2] = replace(odd, readings=tuple(one for one in odd.readings if one.measurand != "Na"))
    unread, _, _ = looks_of(story, RARE)
    metals = [slip.elements.index(element) for element in ("Fe", "Al", "Cu", "Pb")]
    # what a sample in doubt has taught of how samples scatter is not taken back: a few per cent of the variance
    one, other = (watch.rate_covariance.diagonal()[metals] for watch in (slip.watch, unread.watch))
    assert one == pytest.approx(other, rel=0.05)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_sodium_that_is_read_again_is_coolant(seed):
    """After an oil change a tenth of it would be left: four times that is a leak."""
    _, looks, _ = looks_of(sodium_once(seed, True, after=40.0), RARE)
    assert not looks[-1].refuted
    assert coolant_of(looks[-1]) > 0.95


def in_doubt() -> tuple[Look, Fork]:
    """The look at a sample with so much sodium, and the state without it."""
    story = Story("E").broken_in().usual(6).fill().run(4.0)
    follower, looks, _ = looks_of(story.sample(gains={"Na": 43.0 / story.ppm["Na"]}), RARE)
    assert follower.fork is not None
    return looks[-1], follower.fork


@pytest.mark.parametrize(("log_main", "log_weight", "share"), [(-3.0, -3.0, 0.5), (0.0, -3.0, 1.0 / (1.0 + np.e**3))])
def test_a_sample_in_doubt_is_believed_as_far_as_it_is_likely(log_main, log_weight, share):
    look, fork = in_doubt()
    chance = np.zeros(len(look.normal))
    chance[:2] = 0.6, 0.3
    evidence = replace(look.evidence, probability=chance)
    found = doubted(evidence, replace(fork, log_main=log_main, log_weight=log_weight, fault=0.05)).probability
    assert found.sum() == pytest.approx((1.0 - share) * 0.9 + share * 0.05)
    assert found[0] / found[1] == pytest.approx(2.0)


def test_a_sample_is_never_doubted_more_than_believed():
    look, fork = in_doubt()
    chance = np.where(np.arange(len(look.normal)) == 0, 0.8, 0.0)
    evidence = replace(look.evidence, probability=chance)
    found = doubted(evidence, replace(fork, log_main=-900.0, log_weight=900.0, fault=0.0)).probability
    assert found.sum() == pytest.approx(0.4)
