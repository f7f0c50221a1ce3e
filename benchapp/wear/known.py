"""From which samples a bench's families and instruments are known when a call is made with all that is known today.

Were every new sample to move what is normal for all engines, by a hair, every call of the bench would have to be worked
out again for it. So what families say is drawn from the earliest samples, and drawn anew each time the samples have
grown by a fifth; an engine's own records count at once, all of them. Which samples these are follows from the records
alone, so the calls do too.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from benchapp.records import Build, Engine, Fleet, Sample

GROWTH = 1.2
"""Share by which the samples must grow before they teach anew [-]."""

Times = NDArray[np.int64]

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


def times_of(build: Build) -> Times:
    """Moments of a build's samples, as numbers that sort as they do."""
    return np.array([moment for moment, _ in moments_of(build)], dtype="datetime64[us]").astype(np.int64)


def known_counts(builds: Sequence[Build], times: Callable[[Build], Times] = times_of) -> list[int]:
    """How many of its first samples teach, for each of all builds of a bench.

    Samples of one moment count in the order of the builds. `times`: `times_of`, or one that remembers."""
    each = [times(build) for build in builds]
    if not each:
        return []
    owner = np.repeat(np.arange(len(each)), [len(one) for one in each])
    order = np.argsort(np.concatenate(each), kind="stable")
    counted = np.bincount(owner[order[: milestone(len(order))]], minlength=len(each))
    return [int(count) for count in counted]


def known_part(fleet: Fleet) -> Fleet:
    """The fleet with only the samples that teach, and of their builds only what lies before the last of them."""
    counts = iter(known_counts([build for engine in fleet.engines for build in engine.builds]))
    engines = (known_engine(engine, [next(counts) for _ in engine.builds]) for engine in fleet.engines)
    return only_what_teaches(fleet, [engine for engine in engines if engine.builds])


def known_engine(engine: Engine, counts: Sequence[int]) -> Engine:
    """An engine with so many of the first samples of each of its builds; builds without any left out."""
    builds = tuple(cut(build, count) for build, count in zip(engine.builds, counts, strict=True) if count)
    return Engine(engine.name, engine.family, builds=builds)


def only_what_teaches(fleet: Fleet, engines: Sequence[Engine]) -> Fleet:
    return Fleet(
        tuple(engines), fleet.families, fleet.materials, fleet.oils, fleet.instruments, fleet.check_runs
    )  # fmt: skip


def cut(build: Build, count: int) -> Build:
    """A build as its first `count` samples (at least one) have it; notes, holds and what only a call reads left out.

    What was found when someone looked is kept up to them; where they are all there are, what was found later too."""
    samples = tuple(replace(one, hold="", notes="") if one.hold or one.notes else one for one in build.samples[:count])
    upto = samples[-1].build_h
    whole = len(samples) == len(build.samples)
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
        findings=tuple(finding for finding in build.findings if whole or finding.build_h <= upto),
    )
