"""What waits: engines whose next sample is due, samples without results, results without an engine, held results, parts
near the end of their life."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from benchapp.actions import looks, parts
from benchapp.records import Call, Fleet, Moment

if TYPE_CHECKING:
    from benchapp.actions.sample import Waiting

SAMPLE_DUE, NOT_MEASURED, NO_ENGINE, HELD = "sample due", "not measured", "no engine", "held"
PART_LIFE = "part life"
DO = {
    SAMPLE_DUE: "Draw a sample and enter it",
    NOT_MEASURED: "Measure it and enter its results",
    NO_ENGINE: "Give it its engine",
    HELD: "Check the instrument, then measure it again",
    PART_LIFE: "Change the part, then enter the new one as fitted",
}


@dataclass(frozen=True, slots=True)
class Due:
    """One line. `sample` is '' where one is still to be drawn; `engine` is '' where none is known."""

    kind: str
    engine: str
    sample: str
    text: str
    since: str
    part: str = ""
    """The part whose life ends, else ''."""

    @property
    def key(self) -> str:
        return f"{self.kind}/{self.engine}/{self.sample or self.part}"

    @property
    def todo(self) -> str:
        """What to do about it."""
        return DO[self.kind]


def due(fleet: Fleet, calls: Mapping[str, Call], waiting: Iterable[Waiting], now: Moment) -> tuple[Due, ...]:
    """All that waits: engines due first, then samples to measure, results without an engine, results held, parts near
    the end of their life. Pure."""
    rows = looks.fleet_rows(fleet, calls, now)
    return (*_engines(rows), *_unmeasured(fleet), *_no_engine(waiting), *_held(fleet), *_parts(fleet))


SHORT = ((SAMPLE_DUE, "due"), (NOT_MEASURED, "to measure"), (NO_ENGINE, "without engine"), (HELD, "held"),
         (PART_LIFE, "near the end of life"))  # fmt: skip


def counted(listed: Iterable[Due]) -> str:
    """How many of each kind wait, in a few words for the status bar; '' where nothing does."""
    counts = Counter(each.kind for each in listed)
    return ", ".join(f"{counts[kind]} {word}" for kind, word in SHORT if counts[kind])


def _parts(fleet: Fleet) -> Iterable[Due]:
    for use in parts.uses(fleet):
        if use.near:
            name = f"{use.part}, {use.piece}" if use.piece else use.part
            left = (use.life or 0.0) - use.used[use.life_unit]
            rest = f"{left:.1f} {use.life_unit} left" if left > 0 else f"{-left:.1f} {use.life_unit} past its life"
            yield Due(PART_LIFE, use.engine, "", f"{name}: {use.words()}, {rest}", "", name)


def _engines(rows: Iterable[looks.FleetRow]) -> Iterable[Due]:
    for row in rows:
        since = f"{row.sampled_at:%Y-%m-%d}" if row.sampled_at else ""
        if row.due and row.since_h is not None and row.next_h is not None:
            text = f"{row.since_h:.1f} h since {row.sample}, wanted after {row.next_h:.1f} h"
            yield Due(SAMPLE_DUE, row.engine, "", text, since)
        elif row.build and not row.sample and row.build_h:
            yield Due(SAMPLE_DUE, row.engine, "", f"{row.build_h:.1f} h run and no sample of this build yet", since)


def _unmeasured(fleet: Fleet) -> Iterable[Due]:
    for engine in fleet.engines:
        for build in engine.builds:
            for sample in build.samples:
                if not sample.readings:
                    since = f"{sample.taken_at:%Y-%m-%d}" if sample.taken_at else ""
                    text = f"drawn at {sample.build_h:.1f} h of build {build.number}, no results yet"
                    yield Due(NOT_MEASURED, engine.name, sample.code, text, since)


def _no_engine(waiting: Iterable[Waiting]) -> Iterable[Due]:
    for line in waiting:
        count = len(line.sample.readings)
        text = f"{count} reading{'' if count == 1 else 's'}, but no engine claims it"
        yield Due(NO_ENGINE, "", line.sample.code, text, line.since[:10])


def _held(fleet: Fleet) -> Iterable[Due]:
    for engine in fleet.engines:
        last = engine.builds[-1].samples[-1:] if engine.builds else ()
        for sample in last:
            if sample.hold and sample.readings:
                since = f"{sample.taken_at:%Y-%m-%d}" if sample.taken_at else ""
                yield Due(HELD, engine.name, sample.code, sample.hold, since)
