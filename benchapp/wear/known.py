"""From which samples a bench's families and instruments are known when a call is made with all that is known today.

Were every new sample to move what is normal for all engines, by a hair, every call of the bench would have to be worked
out again for it. So what families say is drawn from the earliest samples, and drawn anew each time the samples have
grown by a fifth; an engine's own records count at once, all of them. Which samples these are follows from the records
alone, so the calls do too.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import replace

from benchapp.records import Build, Engine, Fleet, Sample

GROWTH = 1.2
"""Share by which the samples must grow before they teach anew [-]."""

_LONG_AGO = dt.datetime(1900, 1, 1)  # noqa: DTZ001 - moments are naive throughout, as the person wrote them


def milestone(count: int) -> int:
    """The largest of 0, 1, 2, 3, 4, 5, 6, 8, 10, 12, 15, … (each a fifth more than the one before) within `count`."""
    reached = 0
    while (following := max(reached + 1, math.ceil(reached * GROWTH))) <= count:
        reached = following
    return reached


def moments_of(build: Build) -> list[tuple[dt.datetime, Sample]]:
    """Samples of a build with their moments; one without takes the latest moment known before it."""
    moments = []
    latest = build.built_on or _LONG_AGO
    for sample in build.samples:
        latest = max(latest, sample.taken_at) if sample.taken_at else latest
        moments.append((latest, sample))
    return moments


def known_counts(fleet: Fleet) -> dict[tuple[int, int], int]:
    """How many of its first samples teach, for (place of the engine, place of the build); builds without any left out.

    Samples of one moment count in the order of the fleet."""
    turns = sorted(
        (moment, e, b, n)
        for e, engine in enumerate(fleet.engines)
        for b, build in enumerate(engine.builds)
        for n, (moment, _) in enumerate(moments_of(build))
    )
    counts: dict[tuple[int, int], int] = {}
    for _, e, b, _ in turns[: milestone(len(turns))]:
        counts[e, b] = counts.get((e, b), 0) + 1
    return counts


def known_part(fleet: Fleet) -> Fleet:
    """The fleet with only the samples that teach, and of their builds only what lies before the last of them."""
    counts = known_counts(fleet)
    engines = []
    for e, engine in enumerate(fleet.engines):
        builds = tuple(cut(build, counts[e, b]) for b, build in enumerate(engine.builds) if (e, b) in counts)
        if builds:
            engines.append(Engine(engine.name, engine.family, builds=builds))
    return only_what_teaches(fleet, engines)


def only_what_teaches(fleet: Fleet, engines: Sequence[Engine]) -> Fleet:
    return Fleet(
        tuple(engines), fleet.families, fleet.materials, fleet.oils, fleet.instruments, fleet.check_runs
    )  # fmt: skip


def cut(build: Build, count: int) -> Build:
    """A build as its first `count` samples (at least one) have it; notes, holds and what only a call reads left out."""
    samples = tuple(replace(one, hold="", notes="") if one.hold or one.notes else one for one in build.samples[:count])
    upto = samples[-1].build_h
    named = {sample.fill for sample in samples}
    hours, runs = 0.0, []
    for run in build.runs:
        if hours >= upto:
            break
        runs.append(run)
        hours += max(run.hours, 0.0)
    return Build(
        build.number,
        build.parts,
        build.sump_l,
        build.built_on,
        fills=tuple(fill for fill in build.fills if fill.build_h <= upto or fill.name in named),
        top_ups=tuple(top_up for top_up in build.top_ups if top_up.build_h <= upto),
        runs=tuple(runs),
        samples=samples,
        changes=tuple(change for change in build.changes if change.build_h <= upto),
    )
