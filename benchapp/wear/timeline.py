"""One build as a row of steps in running hours: run, top-up, drain and refill, change, sample.

The balance walks over these steps; what the records leave blank is filled in here with its uncertainty, and said so.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from benchapp.records import Build, Change, Family, Fill, Finding, Oil, Sample
from benchapp.wear.rules import Rules


@dataclass(frozen=True, slots=True)
class RunStep:
    """`hours` [h] of running from `start_h` [h of this build] with `mass_kg` of oil."""

    start_h: float
    hours: float
    mass_kg: float
    hardness: float = 1.0
    """Mean wear of the kinds of session that were run, relative to practice [-]."""
    leaded: bool | None = None
    """True where any session in it burnt leaded fuel, None where no fuel was written down."""


@dataclass(frozen=True, slots=True)
class TopUpStep:
    share: float
    """Part of the sump that is new afterwards [-]."""
    oil: str


@dataclass(frozen=True, slots=True)
class DrainStep:
    """A drain and a refill. The first fill of a build starts from a dry engine (`share` 0)."""

    fill: Fill
    share: float
    error: float
    changed_oil: bool
    first: bool


@dataclass(frozen=True, slots=True)
class ChangeStep:
    change: Change


@dataclass(frozen=True, slots=True)
class SampleStep:
    sample: Sample


@dataclass(frozen=True, slots=True)
class FindingStep:
    """Someone looked inside."""

    finding: Finding


Step = RunStep | TopUpStep | DrainStep | ChangeStep | SampleStep | FindingStep


@dataclass(frozen=True, slots=True)
class Timeline:
    steps: tuple[Step, ...]
    mass_kg: float
    mass_known: bool
    unknowns: tuple[str, ...] = field(default=())


Event = Fill | Change | Sample | Finding | float
"""What a build's records hold; a number is a top-up [L]."""

_LEAST_H = 1e-6
"""Hours below which nothing was run [h]."""

_METER_H = 0.15
"""So far apart two records of one moment may be: meters read tenths, logs hundredths [h]; own estimate, no source."""

_ORDER = {"drain": 0, "before": 1, "sample": 2, "top-up": 3, "change": 4, "finding": 5}


def sump_litres(build: Build, family: Family | None) -> float | None:
    """Oil that circulates [L]: the build's own, else the family's, else unknown."""
    for litres in (build.sump_l, family.sump_l if family else None):
        if litres is not None and litres > 0:
            return litres
    return None


def fill_of(build: Build, sample: Sample) -> Fill | None:
    """The fill a sample was drawn from: by name, else the last one begun before it."""
    for fill in build.fills:
        if fill.name == sample.fill:
            return fill
    earlier = [fill for fill in build.fills if fill.build_h <= sample.build_h]
    if len(earlier) > 1 and earlier[-1].build_h == sample.build_h and (sample.oil_h is None or sample.oil_h > 0):
        return earlier[-2]
    return earlier[-1] if earlier else None


def timeline(build: Build, family: Family | None, oils: Mapping[str, Oil], rules: Rules) -> Timeline:
    """Steps of a build in order, with hours between them; hours that run backwards count as none."""
    litres = sump_litres(build, family)
    unknowns = []
    if litres is None:
        unknowns.append(f"how much oil circulates: {rules.sump_l:g} L taken")
    events = _events(build)
    steps: list[Step] = []
    mass = (litres or rules.sump_l) * _density(build.fills[0].oil if build.fills else "", oils, rules)
    first_mass = mass
    at, oil_name, first = 0.0, "", True
    known_runs = _RunLog(build, rules)
    for hour, _, _, item in events:
        hours = hour - at
        if hours > _LEAST_H and math.isfinite(hours):
            hardness, leaded = known_runs.between(at, hour)
            steps.append(RunStep(at, hours, mass, hardness, leaded))
            at = hour
        if isinstance(item, Fill):
            density = _density(item.oil, oils, rules)
            volume = item.volume_l if item.volume_l and item.volume_l > 0 else litres or rules.sump_l
            mass = volume * density
            share, error = rules.carry_over(item.drain_before, first=first)
            steps.append(DrainStep(item, share, error, item.oil != oil_name, first))
            oil_name, first = item.oil, False
        elif isinstance(item, Change):
            steps.append(ChangeStep(item))
        elif isinstance(item, Sample):
            steps.append(SampleStep(item))
        elif isinstance(item, Finding):
            steps.append(FindingStep(item))
        else:
            added = item * _density(oil_name, oils, rules)
            steps.append(TopUpStep(min(max(added / mass, 0.0), 1.0), oil_name))
    return Timeline(tuple(steps), first_mass, litres is not None, tuple(unknowns))


def _density(oil: str, oils: Mapping[str, Oil], rules: Rules) -> float:
    known = oils.get(oil)
    density = known.density_15c_kg_l if known else None
    return density if density and 0.5 < density < 1.5 else rules.oil_density_kg_l


def _events(build: Build) -> list[tuple[float, int, int, Event]]:
    """(hour, fill index, order at that hour, what), sorted. A sample of the old fill comes before the drain, also where
    its hour was read from a coarser meter than the drain's."""
    fills = build.fills or (Fill("", "", 0.0, drain_before="none"),)
    index = {fill.name: i for i, fill in enumerate(fills)}
    events: list[tuple[float, int, int, Event]] = []
    for i, fill in enumerate(fills):
        events.append((max(fill.build_h, 0.0), i, _ORDER["drain"], fill))
    for sample in build.samples:
        own = fill_of(build, sample)
        number = index.get(own.name, 0) if own else 0
        hour = _within_fill(sample.build_h, fills, number, sample.taken_at)
        events.append((max(hour, 0.0), number, _ORDER["sample"], sample))
    for change in build.changes:
        latest = max((i for i, fill in enumerate(fills) if fill.build_h <= change.build_h), default=0)
        events.append((max(change.build_h, 0.0), latest, _ORDER["change"], change))
    for finding in build.findings:
        latest = max((i for i, fill in enumerate(fills) if fill.build_h <= finding.build_h), default=0)
        events.append((max(finding.build_h, 0.0), latest, _ORDER["finding"], finding))
    after_top_up = {round(s.build_h, 6) for s in build.samples if s.before_top_up is False}
    for top_up in build.top_ups:
        before = round(top_up.build_h, 6) in after_top_up
        order = _ORDER["before" if before else "top-up"]
        number = index.get(top_up.fill, 0)
        hour = _within_fill(top_up.build_h, fills, number) if top_up.fill in index else top_up.build_h
        events.append((max(hour, 0.0), number, order, top_up.litres))
    events.sort(key=lambda event: event[:3])
    return events


def _within_fill(hour: float, fills: Sequence[Fill], number: int, when: dt.datetime | None = None) -> float:
    """The hour of a record of this fill [h], kept between the drains where a meter's last digit puts it beyond one, or
    a mistyped hour that the dates contradict. Otherwise the hour as it stands: the fill may be the wrong word."""
    start, after = fills[number], fills[number + 1] if number + 1 < len(fills) else None
    if hour < start.build_h and (start.build_h - hour <= _METER_H or _follows(when, start.filled_at)):
        return start.build_h
    if after is None or not hour > after.build_h >= start.build_h:
        return hour
    return after.build_h if hour - after.build_h <= _METER_H or _follows(after.filled_at, when) else hour


def _follows(later: dt.datetime | None, earlier: dt.datetime | None) -> bool:
    return later is not None and earlier is not None and later > earlier


class _RunLog:
    """Sessions laid end to end, so that a span of build hours can be asked what was run in it."""

    def __init__(self, build: Build, rules: Rules) -> None:
        self._spans: list[tuple[float, float, float, str]] = []
        at = 0.0
        for run in build.runs:
            hours = max(run.hours, 0.0)
            self._spans.append((at, at + hours, rules.hardness(run.kind), run.fuel))
            at += hours

    def between(self, start: float, end: float) -> tuple[float, bool | None]:
        """Mean hardness of the sessions in a span, and whether any of them burnt leaded fuel."""
        weight = total = 0.0
        leaded: bool | None = None
        for a, b, hardness, fuel in self._spans:
            overlap = min(b, end) - max(a, start)
            if overlap <= 1e-6:
                continue
            weight += overlap
            total += overlap * hardness
            if fuel:
                leaded = (leaded or False) or fuel == "leaded"
        return (total / weight if weight > 0 else 1.0), leaded
