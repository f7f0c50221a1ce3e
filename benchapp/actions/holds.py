"""Holds from failed checks, put where every room sees them: on the samples of the fleet, and on their calls.

A hold of this kind is never written into the file: it follows anew from the check runs each time, so that a good check
and a rerun of the sample release it, and nothing is deleted. A reason that a person typed (`sample.hold`) stays."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from benchapp.records import Build, Call, Engine, Fleet, Sample


def is_from_check(hold: str) -> bool:
    """True for a hold that follows from a failed check, False for one that a person typed."""
    from benchapp.checks.holds import WHAT_TO_DO

    return hold.endswith(WHAT_TO_DO)


def with_holds(fleet: Fleet, *, later: bool = True, before: Fleet | None = None) -> Fleet:
    """The fleet with each sample's hold as its check runs have it now. What does not change stays the same object.

    `later=False`: only the checks before a measurement count (for judging with what was known then). `before`: a fleet
    that has its holds already; where nothing that holds has changed, its engines are not looked at again."""
    book = _book(fleet, later)
    known = frozenset(map(id, before.engines)) if before is not None and _same_checks(fleet, before) else frozenset()
    engines = tuple(engine if id(engine) in known else _engine(engine, fleet, book) for engine in fleet.engines)
    if all(new is old for new, old in zip(engines, fleet.engines, strict=True)):
        return fleet
    return replace(fleet, engines=engines)


def _same_checks(now: Fleet, before: Fleet) -> bool:
    """Whether what holds follow from, beside the samples, is the same in both."""
    kinds = [{name: each.kind for name, each in fleet.instruments.items()} for fleet in (now, before)]
    return kinds[0] == kinds[1] and now.check_runs == before.check_runs and now.measured == before.measured


def hold_of(fleet: Fleet, sample: Sample) -> str:
    """Why a sample's results are held, as the fleet's check runs have it; what a person typed stands in front."""
    return _wanted(sample, fleet, _book(fleet, True))


def marked(calls: Iterable[Call], fleet: Fleet) -> tuple[Call, ...]:
    """The calls, each saying why its sample is held."""
    held = {s.code: s.hold for engine in fleet.engines for build in engine.builds for s in build.samples if s.hold}
    return tuple(
        call if call.held == held.get(call.sample, "") else replace(call, held=held.get(call.sample, ""))
        for call in calls
    )


def _book(fleet: Fleet, later: bool):  # type: ignore[no-untyped-def]
    from benchapp.checks.charts import tolerance_for
    from benchapp.checks.holds import HoldBook, checks_of
    from benchapp.library import load_library

    published = load_library().noise_for
    tolerances = {name: tolerance_for(each.kind, published(each.kind)) for name, each in fleet.instruments.items()}
    return HoldBook(checks_of(fleet.check_runs, tolerances, tolerance_for("", published(""))), later=later)


def _engine(engine: Engine, fleet: Fleet, book) -> Engine:  # type: ignore[no-untyped-def]
    builds = tuple(_build(build, fleet, book) for build in engine.builds)
    same = all(new is old for new, old in zip(builds, engine.builds, strict=True))
    return engine if same else replace(engine, builds=builds)


def _build(build: Build, fleet: Fleet, book) -> Build:  # type: ignore[no-untyped-def]
    changed = {}
    for place, sample in enumerate(build.samples):
        hold = _wanted(sample, fleet, book)
        if hold != sample.hold:
            changed[place] = replace(sample, hold=hold)
    if not changed:
        return build
    return replace(build, samples=tuple(changed.get(place, sample) for place, sample in enumerate(build.samples)))


def _wanted(sample: Sample, fleet: Fleet, book) -> str:  # type: ignore[no-untyped-def]
    from benchapp.checks.holds import Measured

    if sample.hold and not is_from_check(sample.hold):
        return sample.hold
    when = fleet.measured.get(sample.code, sample.taken_at)
    if not book.near(sample.instrument, when):
        return ""
    elements = tuple({reading.measurand: None for reading in sample.readings})
    return str(book.words(Measured(sample.code, sample.instrument, when, elements))) if elements else ""
