"""From the records to the calls: one call for every sample of every build.

`judge_fleet` is the whole bench; `family_priors` and `judge_engine` judge one engine with what its family knows kept.
"""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from benchapp.records import Call, Engine, Fleet
from benchapp.wear.decide import call_for
from benchapp.wear.expected import FamilyHistory
from benchapp.wear.follow import Follower
from benchapp.wear.gauge import Gauge
from benchapp.wear.known import known_part, moments_of
from benchapp.wear.report import Book
from benchapp.wear.rules import Rules
from benchapp.wear.spread import Spread


@dataclass(frozen=True, slots=True)
class FamilyPriors:
    """What every family's healthy history says; from the whole bench as it stands."""

    families: dict[str, FamilyHistory]
    spread: Spread

    def of(self, family: str) -> FamilyHistory | None:
        return self.families.get(family)


def judge_fleet(
    fleet: Fleet, rules: Rules, *, each: bool = False, engines: Sequence[str] | None = None
) -> tuple[Call, ...]:
    """One call per sample, in order of engine, build, build hours.

    each=False: families are known as they are today (from the fleet's `known_part`). each=True: every sample is judged
    with only what was known when it was taken, from samples of the whole fleet taken earlier. `engines` limits what is
    handed out (each=False: also what is judged). Time is linear in samples."""
    if each:
        calls = _judge_each(fleet, rules)
        return tuple(call for call in calls if engines is None or call.engine in engines)
    priors = family_priors(known_part(fleet), rules)
    wanted = [engine for engine in fleet.engines if engines is None or engine.name in engines]
    return tuple(call for engine in wanted for call in judge_engine(engine, fleet, rules, priors))


def family_priors(fleet: Fleet, rules: Rules) -> FamilyPriors:
    """Healthy histories of all families, gathered by following every build in order of time. `fleet`: what is to be
    learned from, as a rule its `known_part`."""
    families: dict[str, FamilyHistory] = {}
    spread = _spread(rules)
    for follower, started in _in_order(_followers(fleet.engines, fleet, rules, families, spread)):
        if not started:
            follower.reset()
        follower.next_look()
    return FamilyPriors(families, spread)


def judge_engine(
    engine: Engine, fleet: Fleet, rules: Rules, priors: FamilyPriors, *, build: str | None = None
) -> tuple[Call, ...]:
    """The calls of one engine (or of one of its builds) with the families' knowledge kept as it is."""
    calls: list[Call] = []
    for one in engine.builds:
        if build is not None and one.number != build:
            continue
        history = priors.of(engine.family)
        # what this build itself has taught is left out by the prior; nothing new is learned into the kept knowledge
        family = history.copy() if history is not None else FamilyHistory()
        follower = Follower(engine, one, fleet, rules, family, copy.deepcopy(priors.spread))
        book = Book()
        while (look := follower.next_look()) is not None:
            calls.append(call_for(look, follower, rules, book))
    return tuple(calls)


def _spread(rules: Rules) -> Spread:
    return Spread(rules.number("spread", "severity"), rules.number("spread", "source"))


def _judge_each(fleet: Fleet, rules: Rules) -> list[Call]:
    families: dict[str, FamilyHistory] = {}
    followers = _followers(fleet.engines, fleet, rules, families, _spread(rules))
    place = {id(follower): number for number, follower in enumerate(followers)}
    books = [Book() for _ in followers]
    found: list[tuple[tuple[int, int], Call]] = []
    for count, (follower, started) in enumerate(_in_order(followers)):
        if not started:
            follower.reset()
        look = follower.next_look()
        if look is not None:
            at = place[id(follower)]
            found.append(((at, count), call_for(look, follower, rules, books[at])))
    found.sort(key=lambda pair: pair[0])
    return [call for _, call in found]


def _followers(
    engines: Iterable[Engine], fleet: Fleet, rules: Rules, families: dict[str, FamilyHistory], spread: Spread
) -> list[Follower]:
    followers: list[Follower] = []
    gauge = Gauge(fleet.check_runs, rules)
    for engine in engines:
        history = families.setdefault(engine.family, FamilyHistory())
        followers.extend(Follower(engine, build, fleet, rules, history, spread, gauge) for build in engine.builds)
    return followers


def _in_order(followers: Sequence[Follower]) -> Iterable[tuple[Follower, bool]]:
    """(follower, whether it has been asked before), once per sample, in order of the moments the samples were taken."""
    turns: list[tuple[dt.datetime, int, float, Follower]] = []
    for number, follower in enumerate(followers):
        for moment, sample in moments_of(follower.build):
            turns.append((moment, number, sample.build_h, follower))
    turns.sort(key=lambda turn: turn[:3])
    asked: set[int] = set()
    for _, number, _, follower in turns:
        yield follower, number in asked
        asked.add(number)
