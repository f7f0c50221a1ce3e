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
