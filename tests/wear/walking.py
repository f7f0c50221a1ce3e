"""A story walked as the bench walks it, with nothing known of the engine's family."""

from __future__ import annotations

from collections.abc import Iterator

from benchapp.wear.follow import Follower
from benchapp.wear.look import Look
from benchapp.wear.rules import Rules
from benchapp.wear.spread import Spread
from tests.wear.histories import RULES, Story, fleet_of


def follower_of(story: Story, rules: Rules = RULES, spread: Spread | None = None) -> Follower:
    """What follows the story's build, before its first sample."""
    fleet = fleet_of(story, sisters=0)
    engine = fleet.engines[0]
    return Follower(engine, engine.builds[0], fleet, rules, None, spread)


def each_look(follower: Follower) -> Iterator[Look]:
    """Walks on to the end; the follower stands at the look that is handed out."""
    while (look := follower.next_look()) is not None:
        yield look


def looks_of(story: Story, rules: Rules = RULES) -> tuple[Follower, list[Look]]:
    """The follower at the end, and every look."""
    follower = follower_of(story, rules)
    return follower, list(each_look(follower))
