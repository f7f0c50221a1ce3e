"""What is followed for a question leaves what is known as it was: copies of a follower, a family that is lent."""

from __future__ import annotations

import copy

from benchapp.wear.follow import Follower
from benchapp.wear.judge import family_priors, judge_engine
from tests.wear.histories import RULES, Story, fleet_of


def told(look) -> str:
    return repr((look.evidence, look.rate.tolist(), look.interval.shed_mg.tolist(), look.history))


def test_a_copy_that_walks_on_leaves_the_follower_where_it_is():
    fleet = fleet_of(Story("E").broken_in().usual(8))
    engine = fleet.engines[0]
    priors = family_priors(fleet, RULES)

    def follower() -> Follower:
        build = engine.builds[0]
        return Follower(engine, build, fleet, RULES, priors.apart(engine, build), priors.spread.copy())

    kept, alone = follower(), follower()
    for _ in range(4):
        kept.next_look(), alone.next_look()
    other = copy.deepcopy(kept)
    last = None
    while (look := other.next_look()) is not None:
        last = look
    rest = [alone.next_look() for _ in range(5)]
    assert [told(look) for look in (kept.next_look() for _ in range(5))] == [told(look) for look in rest]
    assert told(last) == told(rest[-1])


def test_an_engine_that_is_judged_teaches_the_kept_family_nothing():
    fleet = fleet_of(Story("E").broken_in().usual(8))
    engine = fleet.engines[0]
    priors = family_priors(fleet, RULES)
    history = priors.of(engine.family)
    assert (engine.name, "1") in history.builds
    before = copy.deepcopy(history)
    calls = judge_engine(engine, fleet, RULES, priors)
    assert history == before
    assert judge_engine(engine, fleet, RULES, priors) == calls
