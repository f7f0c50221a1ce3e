"""Read-only: oil quantities of one engine as lines of a plot, with their limit and when it will be met."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from benchapp.actions.oil_card import rules
from benchapp.actions.series import OIL, Choice, Line, Reach, joined_line
from benchapp.oil.condition import fresh_values, level_in_unit
from benchapp.oil.sample import hours_of_fill
from benchapp.records import Build, Engine, Fill, Fleet, Oil, Sample

if TYPE_CHECKING:
    from benchapp.oil.rules import OilRules

NAMES = (
    "KV100", "KV40", "TBN", "TAN", "Oxidation", "Water", "Fuel", "Nitration", "Soot", "Glycol", "HTHS", "Flash point",
)  # fmt: skip
"""Oil quantities that may be shown, the trade's first look first."""

OF_A_REASON = {
    "oil": NAMES,
    "oil film": ("KV100", "KV40", "HTHS"),
    "water in the oil": ("Water", "Glycol"),
}
"""Source of a reason -> the oil quantities that tell of it, the first that was read is shown."""


def choices(builds: Sequence[Build]) -> tuple[Choice, ...]:
    """Oil quantities that were read, and how often."""
    counts: dict[str, int] = {}
    for build in builds:
        for sample in build.samples:
            for reading in sample.readings:
                if reading.measurand in NAMES:
                    counts[reading.measurand] = counts.get(reading.measurand, 0) + 1
    return tuple(Choice(name, counts[name]) for name in NAMES if name in counts)


def lines(fleet: Fleet, engine: Engine, joined: Any, names: Sequence[str]) -> tuple[Line, ...]:
    """One line a quantity: readings as read, the range without a warning as band, the limit, and when it is met."""
    return tuple(_line(fleet, engine, joined, name) for name in names)


def _line(fleet: Fleet, engine: Engine, joined: Any, name: str) -> Line:
    entries, band, limits = [], [], []
    unit = ""
    last: tuple[Build, Sample] | None = None
    for build, sample in joined.samples:
        for reading in sample.readings:
            if reading.measurand != name:
                continue
            unit = unit or reading.unit
            below = reading.qualifier == "<"
            value = 0.0 if reading.value is None and below else reading.value
            entries.append((build, sample, reading, value, below))
            low, high, done = _levels(fleet, build, sample, name, value)
            band.append((low, high))
            limits.append(done)
            last = build, sample
    reach = _reach(fleet, engine, joined, name, *last) if last is not None else None
    return joined_line(joined, name, OIL, entries, [(None, None)] * len(entries), band, tuple(limits), unit, reach)


def _oil_of(fleet: Fleet, build: Build, sample: Sample) -> tuple[Fill, Oil] | None:
    fill = next((fill for fill in build.fills if fill.name == sample.fill), None)
    oil = fleet.oils.get(fill.oil) if fill is not None else None
    return (fill, oil) if fill is not None and oil is not None else None


def _levels(
    fleet: Fleet, build: Build, sample: Sample, name: str, value: float | None
) -> tuple[float | None, float | None, float | None]:
    """(from, to) where nothing is warned of, and the limit that the value is nearer to, in the reading's unit."""
    found = _oil_of(fleet, build, sample)
    if found is None:
        return None, None, None
    own, _ = rules().for_oil(found[1])
    low, high, done = None, None, []
    for limit in own.limits:
        if limit.property != name:
            continue
        watch, end = (level_in_unit(limit, level, found[1]) for level in (limit.watch, limit.done))
        if limit.side == "below":
            low = watch
        else:
            high = watch
        done += [] if end is None else [end]
    if low is None and high is not None:
        low = 0.0
    if high is None and low is not None:
        high = fresh_values(found[1]).get(name)
    near = min(done, key=lambda end: abs(end - (value or 0.0)), default=None)
    return low, high, near


def _reach(
    fleet: Fleet, engine: Engine, joined: Any, name: str, build: Build, sample: Sample
) -> Reach | None:
    """When the fill of the last reading meets its limit; None where nothing can be said of it."""
    found = _oil_of(fleet, build, sample)
    if found is None:
        return None
    own, _ = rules().for_oil(found[1])
    hours = hours_of_fill(engine, build, found[0], found[1], own, sample.build_h)
    mine = [line for line in hours.lines if _property(own, line.name) == name]
    first = next((line for line in mine if math.isfinite(line.hours)), None)
    if first is None:
        return Reach(None, None, None, None, mine[0].text) if mine else None
    at = level_in_unit(own.limit(first.name), own.limit(first.name).done, found[1])
    start = joined.x(build, sample.build_h)
    high = start + first.high if math.isfinite(first.high) else None
    return Reach(start + first.hours, start + first.low, high, at, first.text)


def _property(own: OilRules, name: str) -> str:
    return own.limit(name).property
