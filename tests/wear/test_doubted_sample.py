"""A sample in doubt: the state without it is walked too, to the next sample, and leaves no trace where it loses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.records import Build, Change, Finding, Part
from benchapp.wear.expected import FamilyHistory
from benchapp.wear.follow import Follower
from benchapp.wear.fork import Fork
from benchapp.wear.timeline import DrainStep
from tests.wear.histories import IRON_V8, RULES, Story, fleet_of


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


# --- what happens on the way happens once in each of the two states


RODS = Part("rods", "steel_4340", "rod")
"""Of the crank's metal: one source, cleared when both have been found sound."""


def between(hours: float = 4.0) -> tuple[Story, float]:
    """Six sound fills and one more, and the hour at which the last begins."""
    story = Story("E").broken_in().usual(6)
    return story.fill().run(1.0).run(hours - 1.0).sample(), story.samples[-1].build_h - hours


def two_found_sound() -> tuple[Build, int]:
    story, hour = between()
    found = tuple(Finding(hour, name, "as new") for name in ("crank", "rods"))
    return replace(story.build(), parts=(*IRON_V8, RODS), findings=found), 7


def part_changed_on_the_way() -> tuple[Build, int]:
    story, hour = between()
    return replace(story.build(), changes=(Change(hour + 1.0, "part", "new rings"),)), 7


def lead_and_no_fuel_on_record() -> tuple[Build, int]:
    lead = {"Pb": 200.0}
    story = Story("E").fill().run(1.0, fuel="", extra=lead).top_up(0.5).run(1.0, fuel="", extra=lead)
    return story.sample().build(), 0


@pytest.mark.parametrize("happens", [two_found_sound, part_changed_on_the_way, lead_and_no_fuel_on_record])
def test_a_second_state_that_is_no_other_is_walked_to_the_same_place(happens):
    """A state without the sample before that knows just what the state with it knows, and is taken for true."""
    build, before = happens()
    looks, ends = [], []
    for forked in (False, True):
        fleet = fleet_of(Story("E"), sisters=0)
        engine = replace(fleet.engines[0], builds=(build,))
        follower = Follower(engine, build, replace(fleet, engines=(engine,)), RULES, None)
        for _ in range(before):
            follower.next_look()
        if forked:
            now = follower.now
            follower.fork = Fork(now.watch.copy(), 1.0, 0.0, now.log_total, now.fault, 0, "this proved true")
        looks.append(follower.next_look())
        ends.append(follower)
    once, twice = looks
    assert twice.refuted
    assert not once.refuted
    assert set(twice.unknowns) == {*once.unknowns, "this proved true"}
    assert twice.interval.leaded == once.interval.leaded
    assert twice.evidence.probability == pytest.approx(once.evidence.probability, rel=1e-9, abs=1e-12)
    one, other = (follower.watch for follower in ends)
    for name in ("c", "cc", "rate", "rate_covariance"):
        assert getattr(other, name) == pytest.approx(getattr(one, name), rel=1e-9, abs=1e-12), name


def test_two_parts_of_one_metal_found_sound_while_a_bottle_is_in_doubt_are_cleared_once():
    """As one part of that metal that was found sound."""
    story = doubted()
    hour = story.hours
    story.run(2.0).sample()
    known = []
    for more in ((), (RODS,)):
        found = tuple(Finding(hour, part.name, "as new") for part in (IRON_V8[-1], *more))
        build = replace(story.build(), parts=(*IRON_V8, *more), findings=found)
        fleet = fleet_of(story)
        engine = replace(fleet.engines[0], builds=(build,))
        follower = Follower(engine, build, fleet, RULES, FamilyHistory())
        *_, last = iter(follower.next_look, None)
        assert last.refuted
        known.append(follower.watch.rate_covariance)
    assert known[1] == pytest.approx(known[0], rel=1e-9)
