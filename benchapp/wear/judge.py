"""From the records to the calls: one call for every sample of every build.

`judge_fleet` is the whole bench; `family_priors` and `judge_engine` judge one engine with what its family knows kept.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from benchapp.records import Build, Call, Engine, Fleet
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

    def apart(self, engine: Engine, build: Build) -> FamilyHistory:
        """What the family knows, for following one of its builds: see `FamilyHistory.apart`."""
        history = self.of(engine.family)
        return FamilyHistory() if history is None else history.apart((engine.name, build.number))


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
    for _, follower in _in_order(fleet, rules, families, spread):
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
        # what this build itself has taught is left out by the prior; nothing new is learned into the kept knowledge
        follower = Follower(engine, one, fleet, rules, priors.apart(engine, one), priors.spread.copy())
        book = Book()
        while (look := follower.next_look()) is not None:
            calls.append(call_for(look, follower, rules, book))
    return tuple(calls)


def _spread(rules: Rules) -> Spread:
    return Spread(rules.number("spread", "severity"), rules.number("spread", "source"))


def _judge_each(fleet: Fleet, rules: Rules) -> list[Call]:
    books: dict[int, Book] = {}
    found: list[tuple[int, int, Call]] = []
    for count, (build, follower) in enumerate(_in_order(fleet, rules, {}, _spread(rules))):
        look = follower.next_look()
        if look is not None:
            call = call_for(look, follower, rules, books.setdefault(build, Book()))
            found.append((build, count, call))
    found.sort(key=lambda one: one[:2])
    return [call for _, _, call in found]


def _in_order(
    fleet: Fleet, rules: Rules, families: dict[str, FamilyHistory], spread: Spread
) -> Iterator[tuple[int, Follower]]:
    """(number of a build, its follower), once per sample, in order of the moments the samples were taken.

    A follower is there from the first sample of its build to the last, so that a season of builds is never held at
    once. What families learn is gathered in `families`."""
    gauge = Gauge(fleet.check_runs, rules)
    builds = [(engine, build) for engine in fleet.engines for build in engine.builds]
    turns = sorted(
        (moment, number, sample.build_h)
        for number, (_, build) in enumerate(builds)
        for moment, sample in moments_of(build)
    )
    left = Counter(number for _, number, _ in turns)
    followers: dict[int, Follower] = {}
    for _, number, _ in turns:
        if number not in followers:
            engine, build = builds[number]
            history = families.setdefault(engine.family, FamilyHistory())
            followers[number] = Follower(engine, build, fleet, rules, history, spread, gauge)
        yield number, followers[number]
        left[number] -= 1
        if not left[number]:
            del followers[number]
