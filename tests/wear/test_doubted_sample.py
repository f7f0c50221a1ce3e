"""A sample in doubt: the state without it is walked too, to the next sample, and leaves no trace where it loses."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.wear.expected import FamilyHistory
from benchapp.wear.follow import Follower
from benchapp.wear.timeline import DrainStep
from tests.wear.histories import RULES, Story, fleet_of


def followed(story: Story):
    """(follower, look) sample by sample."""
    fleet = fleet_of(story)
    engine = fleet.engines[0]
    follower = Follower(engine, engine.builds[0], fleet, RULES, FamilyHistory())
    while (look := follower.next_look()) is not None:
        yield follower, look


def doubted(times: float = 0.2) -> Story:
    """The oil is this engine's own, the metal is not: nothing but the next sample can tell."""
    story = Story("E").broken_in().usual(6).fill().run(4.0)
    metal = {"Fe": 25.0, "Al": 14.0, "Cu": 20.0, "Pb": 22.0, "Si": 18.0}
    return story.sample(bottle={**story.ppm, **{e: story.ppm[e] + times * ppm for e, ppm in metal.items()}})


def test_a_drain_is_counted_once_however_many_states_are_walked():
    in_doubt = 0
    for follower, _ in followed(doubted().fill().run(4.0).sample().usual(1)):
        in_doubt += follower.fork is not None
        walked = follower.time.steps[: follower.walked]
        assert follower.drains == sum(isinstance(step, DrainStep) for step in walked)
    assert in_doubt


@pytest.mark.parametrize("times", [0.0, 0.05, 0.2])
def test_what_cannot_be_another_engines_is_not_kept_in_doubt(times):
    """Without two metals far from the expected no other engine's bottle is thought of: one state is enough."""
    for follower, look in followed(doubted(times).usual(2)):
        far = np.abs(look.surprise.difference) > 3.0 * np.sqrt(look.surprise.covariance.diagonal())
        if int((far & follower.followed.made_of).sum()) < 2 and not look.other_oil:
            assert follower.fork is None


def test_the_next_sample_shows_that_a_bottle_was_another_engines():
    """Metal does not leave oil within a fill: what the next sample does not know of was never in this engine."""
    *_, (_, bottle), (_, after) = followed(doubted().run(2.0).sample())
    assert bottle.evidence.probability.sum() > 0.5
    assert after.refuted
    assert after.evidence.probability.sum() < 0.05


def three_bottles(last: float) -> Story:
    """Three bottles in a row of other metal than the sump: the first might be this engine's, the second cannot."""
    story, seen = Story("E").broken_in().usual(6).fill().run(2.0), {"Fe": 25.0, "Al": 14.0, "Cu": 20.0, "Pb": 22.0}
    story.sample(bottle={**story.ppm, **{e: story.ppm[e] + 0.2 * ppm for e, ppm in {**seen, "Si": 18.0}.items()}})
    other = {"Fe": 10.0, "Cr": 4.0, "Ni": 3.0, "Sn": 6.0}
    for times in (1.0, last):
        story.run(2.0).sample(bottle={**story.ppm, **{e: story.ppm[e] + times * ppm for e, ppm in other.items()}})
    return story


@pytest.mark.parametrize("last", [0.5, 1.0])
def test_a_bottle_that_was_believed_at_first_counts_once_it_is_refuted(last):
    """Two in a row may be of another engine; what three of them say is the engine's."""
    told = [(look, follower.bottles, follower.fork) for follower, look in followed(three_bottles(last))]
    first, second, third = told[-3:]
    assert not first[0].bottle
    assert first[2] is not None
    assert first[2].bottles == 1
    assert second[0].refuted
    assert second[0].bottle
    assert second[1] == 2
    assert not third[0].bottle
    assert third[0].evidence.probability.sum() > 0.5


def test_the_third_bottle_of_another_engine_is_believed_and_counted():
    story, other = doubted(0.5), {"Fe": 25.0, "Al": 14.0, "Cu": 20.0, "Pb": 22.0, "Si": 18.0}
    for _ in range(2):
        story.run(2.0).sample(bottle={**story.ppm, **{e: story.ppm[e] + 0.5 * ppm for e, ppm in other.items()}})
    told = [(look.bottle, follower.bottles, follower.fork) for follower, look in followed(story)]
    assert [(bottle, count) for bottle, count, _ in told[-3:]] == [(True, 1), (True, 2), (False, 0)]
    fork = told[-1][2]
    assert fork is not None
    assert fork.bottles == 3
