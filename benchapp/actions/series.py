"""Read-only: what a plot of one engine shows, as frozen columns against build hours. Nothing is written.

A reading is shown as it stands in the file; rates, intervals, ceilings and expected bands are those of the calls. With
all builds chosen, builds stand one after another and x counts the engine's hours since its first build."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from benchapp.actions import findings
from benchapp.actions.bench import Bench
from benchapp.records import Build, Call, Engine, Fleet, OilPressure, Reading, Reason, Sample
from benchapp.sheet.reason_plots import main_elements

PPM, ELEMENT_RATE, SOURCE_RATE = "ppm", "element rate", "source rate"
OIL, PRESSURE = "oil", "oil pressure"
KINDS = (PPM, ELEMENT_RATE, SOURCE_RATE, OIL, PRESSURE)
UNITS = {PPM: "ppm", ELEMENT_RATE: "mg/h", SOURCE_RATE: "mg/h", OIL: "", PRESSURE: "kPa"}
"""Unit of each kind; oil quantities have each their own, which stands in the line."""
SPEED_STEPS = ((2000.0, 100.0), (float("inf"), 250.0))
"""Oil pressures whose speeds round to the same multiple are one line: below so many rpm, of so many [rpm]; a needle is
held no closer."""

ALL_BUILDS = "*"
"""In place of a build's number: all of them, one after another."""

EVENTS = (
    "fill", "top-up", "change", "filter cut", "looked inside", "leak-down", "part", "instrument", "hold", "rebuild",
)  # fmt: skip

Column = tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Reach:
    """When an oil quantity meets its limit, on the x axis [h], with its 90 % interval; None: not, or without end.

    `y` the limit in the line's unit, `text` the same in words with what it stands on."""

    x: float | None
    low: float | None
    high: float | None
    y: float | None
    text: str


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a plot: columns of equal length, one entry a reading (or a sample, for a rate), in order of x [h].

    `y`, `low`, `high` in `unit`; `low`/`high` is the interval (90 % for a source, one standard error for an element).
    `band_low`/`band_high` is what was expected, `ceiling` what this build reached in break-in [ppm]; None: unknown.
    For an oil quantity the band is where nothing is warned of, `ceiling` the limit and `reach` when it is met.
    `hollow` entries are below what the instrument sees: `y` is then its limit, as far as it is known.
    `apart[i]`: entry i must not be joined to the one before it: '' or why ('fill', 'instrument', 'build')."""

    name: str
    kind: str
    unit: str
    x: Column
    y: Column
    low: Column
    high: Column
    band_low: Column
    band_high: Column
    ceiling: Column
    hollow: tuple[bool, ...]
    apart: tuple[str, ...]
    samples: tuple[Sample, ...]
    readings: tuple[Reading | None, ...]
    builds: tuple[str, ...]
    reach: Reach | None = None


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened at x [h]: a kind of EVENTS, and in words."""

    x: float
    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class CallMark:
    """The call of one sample at x [h]."""

    x: float
    call: str
    sample: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Span:
    """Where a build lies on the x axis [h]."""

    build: str
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Series:
    """All that one plot shows."""

    engine: str
    build: str
    """A build's number or ALL_BUILDS."""
    kind: str
    spans: tuple[Span, ...] = ()
    lines: tuple[Line, ...] = ()
    events: tuple[Event, ...] = ()
    calls: tuple[CallMark, ...] = ()


@dataclass(frozen=True, slots=True)
class Choice:
    """A line that could be shown: its name, and how many points it would have."""

    name: str
    points: int


def of(bench: Bench, engine: str, build: str = "", kind: str = PPM, names: Iterable[str] = ()) -> Series:
    """Lines `names` of one engine with all its marks. `build` '' is the last one, ALL_BUILDS all of them.

    Calls that are not computed yet are left out (the view asks again when they arrive)."""
    return of_fleet(bench.fleet(), engine, _calls(bench, engine), build, kind, names, _limits(bench))


def choices(bench: Bench, engine: str, build: str = "", kind: str = PPM) -> tuple[Choice, ...]:
    """The lines that could be shown: wear metals as in the calls first, then other elements; sources by rate."""
    from benchapp.actions import oil_series

    found = _engine(bench.fleet(), engine)
    calls = _calls(bench, engine)
    chosen = _builds(found, build)
    inside = [c for c in calls if any(c.build == b.number for b in chosen)]
    if kind == OIL:
        return oil_series.choices(chosen)
    if kind == SOURCE_RATE:
        return _source_choices(inside)
    if kind == PRESSURE:
        return _counted(_pressure_name(one) for build in chosen for one in build.oil_pressures)
    if kind == ELEMENT_RATE:
        return _rate_choices(inside, _groups(bench.fleet(), chosen))
    return _ppm_choices(chosen, inside, _groups(bench.fleet(), chosen))


def builds_of(bench: Bench, engine: str) -> tuple[str, ...]:
    """Numbers of an engine's builds, first to last; () for an engine that is not there."""
    found = _engine(bench.fleet(), engine)
    return tuple(build.number for build in found.builds) if found else ()


def shown_by(bench: Bench, engine: str, build: str, source: str) -> tuple[str, ...]:
    """Elements that a source brings into the oil, the largest share first: where it has no rate, its readings tell."""
    found = _engine(bench.fleet(), engine)
    chosen = _builds(found, build)
    if not chosen:
        return ()
    from benchapp.actions.oil_series import OF_A_REASON

    if source in OF_A_REASON:
        return OF_A_REASON[source]
    parts = tuple(source.split(" + "))
    return main_elements(bench.fleet(), chosen[-1], Reason(source, parts, "other", ""), bench.library)


def table(series: Series) -> tuple[tuple[str, ...], list[tuple[Any, ...]]]:
    """Header and rows of what is shown, for a spreadsheet: one row a point."""
    place = ("engine", "build", "sample", "build_h", "oil_h", "taken_at", "instrument")
    header = (*place, "line", "value", "unit", "qualifier", "low", "high", "expected_low", "expected_high", "ceiling")
    rows = []
    for line in series.lines:
        for i, sample in enumerate(line.samples):
            reading = line.readings[i]
            value = reading.value if reading else line.y[i]
            qualifier = reading.qualifier if reading else ("<" if line.hollow[i] else "")
            about = (series.engine, line.builds[i], sample.code, sample.build_h, sample.oil_h, sample.taken_at)
            what = (sample.instrument, line.name, value, line.unit, qualifier)
            rows.append(
                (*about, *what, line.low[i], line.high[i], line.band_low[i], line.band_high[i], line.ceiling[i])
            )
    return header, rows


def of_fleet(
    fleet: Fleet,
    engine: str,
    calls: Sequence[Call],
    build: str = "",
    kind: str = PPM,
    names: Iterable[str] = (),
    limits: Mapping[str, Mapping[str, float]] | None = None,
) -> Series:
    """As `of`, on immutable values. `limits`: instrument -> element -> limit [ppm] for a bare "not detected"."""
    found = _engine(fleet, engine)
    chosen = _builds(found, build)
    if found is None or not chosen:
        return Series(engine, build, kind)
    joined = _Joined(chosen)
    by_sample = {(call.build, call.sample): call for call in calls}
    if kind == OIL:
        from benchapp.actions import oil_series

        lines = oil_series.lines(fleet, found, joined, tuple(names))
    else:
        makers = {ELEMENT_RATE: _element_lines, SOURCE_RATE: _source_lines, PRESSURE: _pressure_lines}
        lines = makers.get(kind, _ppm_lines)(joined, by_sample, tuple(names), limits or {})
    marks = [
        CallMark(joined.x(b, s.build_h), call.call, s.code, call.sentence)
        for b, s in joined.samples
        if (call := by_sample.get((b.number, s.code))) is not None
    ]
    number = ALL_BUILDS if build == ALL_BUILDS else chosen[0].number
    return Series(engine, number, kind, joined.spans, lines, _events(joined), tuple(marks))


# --- where things lie on the axis -----------------------------------------------------------------------------------


class _Joined:
    """Builds one after another: x of an hour of a build, samples in order."""

    def __init__(self, builds: Sequence[Build]) -> None:
        self.builds = tuple(builds)
        start, spans = 0.0, []
        for build in self.builds:
            end = start + _last_hour(build)
            spans.append(Span(build.number, start, end))
            start = end
        self.spans = tuple(spans)
        self._start = {span.build: span.start for span in spans}
        self.samples = tuple((b, s) for b in self.builds for s in sorted(b.samples, key=lambda s: s.build_h))

    def x(self, build: Build, build_h: float) -> float:
        return self._start[build.number] + build_h


def _last_hour(build: Build) -> float:
    """Hours this build has run as far as anything recorded says [h]."""
    marks: list[Iterable[Any]] = [build.samples, build.fills, build.top_ups, build.changes, build.filter_cuts]
    marks += [build.findings, build.leak_downs, build.pulls, build.oil_pressures, build.fittings]
    hours = [float(mark.build_h) for group in marks for mark in group]
    return max([sum(run.hours for run in build.runs), *hours, 0.0])


def _engine(fleet: Fleet, name: str) -> Engine | None:
    return next((engine for engine in fleet.engines if engine.name == name), None)


def _builds(engine: Engine | None, build: str) -> tuple[Build, ...]:
    if engine is None or not engine.builds:
        return ()
    if build == ALL_BUILDS:
        return engine.builds
    return tuple(b for b in engine.builds if b.number == build) or engine.builds[-1:]


def _calls(bench: Bench, engine: str) -> tuple[Call, ...]:
    if _engine(bench.fleet(), engine) is None or engine in bench.engines_to_judge():
        return ()
    return tuple(bench.calls_of(engine))


def _limits(bench: Bench) -> dict[str, dict[str, float]]:
    """Limit of each instrument for each element [ppm]: its own, else that of its kind."""
    from benchapp import library

    load = getattr(library, "load_library", None)
    kinds = load().noise_for if load is not None else None
    made = {}
    for name, instrument in bench.fleet().instruments.items():
        lines = {**(kinds(instrument.kind) if kinds is not None else {}), **instrument.noise}
        made[name] = {element: line.limit_ppm for element, line in lines.items()}
    return made


# --- lines ----------------------------------------------------------------------------------------------------------

_Entry = tuple[Build, Sample, "Reading | None", "float | None", bool]


def joined_line(
    joined: _Joined,
    name: str,
    kind: str,
    entries: Sequence[_Entry],
    spread: Sequence[tuple[float | None, float | None]],
    band: Sequence[tuple[float | None, float | None]],
    ceiling: Column,
    unit: str = "",
    reach: Reach | None = None,
) -> Line:
    """A line from its entries, laid on the axis of `joined`."""
    return Line(
        name=name,
        kind=kind,
        unit=unit or UNITS[kind],
        x=tuple(joined.x(build, sample.build_h) for build, sample, *_ in entries),
        y=tuple(value for *_, value, _ in entries),
        low=tuple(low for low, _ in spread),
        high=tuple(high for _, high in spread),
        band_low=tuple(low for low, _ in band),
        band_high=tuple(high for _, high in band),
        ceiling=ceiling,
        hollow=tuple(entry[4] for entry in entries),
        apart=_apart(entries),
        samples=tuple(sample for _, sample, *_ in entries),
        readings=tuple(reading for _, _, reading, *_ in entries),
        builds=tuple(build.number for build, *_ in entries),
        reach=reach,
    )


def _apart(entries: Sequence[_Entry]) -> tuple[str, ...]:
    """Why an entry stands apart from the one before it, the gravest reason first."""
    made = [""]
    for before, after in pairwise(entries):
        if before[0] is not after[0]:
            made.append("build")
        elif before[1].instrument != after[1].instrument:
            made.append("instrument")
        else:
            made.append("" if before[1].fill == after[1].fill else "fill")
    return tuple(made[: len(entries)])


_Calls = Mapping[tuple[str, str], Call]


def _ppm_lines(
    joined: _Joined, calls: _Calls, elements: tuple[str, ...], limits: Mapping[str, Mapping[str, float]]
) -> tuple[Line, ...]:
    """One line an element, read in one pass over the samples."""
    entries: dict[str, list[_Entry]] = {element: [] for element in elements}
    ceilings: dict[str, list[float | None]] = {element: [] for element in elements}
    for build, sample in joined.samples:
        call = calls.get((build.number, sample.code))
        known = {e.element: e.ceiling_ppm for e in call.elements} if call else {}
        for reading in sample.readings:
            element = reading.measurand
            if element not in entries:
                continue
            below = reading.qualifier == "<"
            value = reading.value
            if value is None and below:
                value = limits.get(sample.instrument, {}).get(element, 0.0)
            entries[element].append((build, sample, reading, value, below))
            ceilings[element].append(known.get(element))
    nothing = {name: _nothing(entries[name]) for name in elements}
    return tuple(
        joined_line(joined, name, PPM, entries[name], nothing[name], nothing[name], tuple(ceilings[name]))
        for name in elements
    )


def _nothing(entries: Sequence[_Entry]) -> list[tuple[float | None, float | None]]:
    return [(None, None)] * len(entries)


def _element_lines(
    joined: _Joined, calls: _Calls, elements: tuple[str, ...], _limits: Mapping[str, Mapping[str, float]]
) -> tuple[Line, ...]:
    return tuple(_element_line(joined, calls, element) for element in elements)


def _source_lines(
    joined: _Joined, calls: _Calls, sources: tuple[str, ...], _limits: Mapping[str, Mapping[str, float]]
) -> tuple[Line, ...]:
    return tuple(_source_line(joined, calls, source) for source in sources)


def _element_line(joined: _Joined, calls: _Calls, element: str) -> Line:
    entries: list[_Entry] = []
    spread: list[tuple[float | None, float | None]] = []
    band: list[tuple[float | None, float | None]] = []
    for build, sample in joined.samples:
        call = calls.get((build.number, sample.code))
        found = next((e for e in call.elements if e.element == element), None) if call else None
        if found is None or found.rate_mg_h is None:
            continue
        entries.append((build, sample, None, found.rate_mg_h, found.qualifier == "<"))
        error = found.rate_se_mg_h
        spread.append((None, None) if error is None else (found.rate_mg_h - error, found.rate_mg_h + error))
        band.append((found.normal_low_mg_h, found.normal_high_mg_h))
    return joined_line(joined, element, ELEMENT_RATE, entries, spread, band, (None,) * len(entries))


def _source_line(joined: _Joined, calls: _Calls, source: str) -> Line:
    entries: list[_Entry] = []
    spread: list[tuple[float | None, float | None]] = []
    band: list[tuple[float | None, float | None]] = []
    for build, sample in joined.samples:
        call = calls.get((build.number, sample.code))
        found = next((s for s in call.sources if s.source == source), None) if call else None
        if found is None:
            continue
        entries.append((build, sample, None, found.rate_mg_h, False))
        spread.append((found.low_mg_h, found.high_mg_h))
        band.append((found.normal_low_mg_h, found.normal_high_mg_h))
    return joined_line(joined, source, SOURCE_RATE, entries, spread, band, (None,) * len(entries))


def _pressure_lines(
    joined: _Joined, _calls: _Calls, names: tuple[str, ...], _limits: Mapping[str, Mapping[str, float]]
) -> tuple[Line, ...]:
    """One line a gauge and speed. What stands for a sample says the hours, the gauge and the fill; it has no code."""
    entries: dict[str, list[_Entry]] = {name: [] for name in names}
    for build in joined.builds:
        for one in build.oil_pressures:
            fill = next((f.name for f in reversed(build.fills) if f.build_h <= one.build_h), "")
            at = Sample("", fill, one.build_h, None, instrument=one.gauge, notes=one.notes)
            if (name := _pressure_name(one)) in entries:
                entries[name].append((build, at, None, one.pressure_kpa, False))
    return tuple(
        joined_line(joined, name, PRESSURE, many, _nothing(many), _nothing(many), (None,) * len(many))
        for name, many in entries.items()
    )


def _pressure_name(one: OilPressure) -> str:
    if one.rpm is None:
        return f"speed not noted, {one.gauge}" if one.gauge else "speed not noted"
    step = next(step for below, step in SPEED_STEPS if one.rpm < below)
    speed = f"{step * round(one.rpm / step):.0f} rpm"
    return f"{speed}, {one.gauge}" if one.gauge else speed


# --- what could be shown --------------------------------------------------------------------------------------------


def _counted(names: Iterable[str], first: Sequence[str] = ()) -> tuple[Choice, ...]:
    counts: dict[str, int] = dict.fromkeys(first, 0)
    for name in names:
        counts[name] = counts.get(name, 0) + 1
    return tuple(Choice(name, count) for name, count in counts.items() if count)


ADDITIVE_PPM = 5.0
"""Fresh oil that holds more of an element than this [ppm] is taken to hold it on purpose (our own choice)."""

HELD_PCT = 1.0
"""A part that holds less of an element than this [wt %] does not bring it to the top of the list (our own choice)."""


def _groups(fleet: Fleet, builds: Sequence[Build]) -> dict[str, int]:
    """Which elements to show first: 0 what the parts are made of, 2 what the oil brings along; others stand between."""
    groups: dict[str, int] = {}
    for build in builds[-1:]:
        for part in build.parts:
            material = fleet.materials.get(part.material)
            for share in material.shares if material else ():
                if (share.nominal_pct or 0.0) >= HELD_PCT:
                    groups[share.element] = 0
        for fill in build.fills[-1:]:
            oil = fleet.oils.get(fill.oil)
            groups.update((e, 2) for e, ppm in (oil.fresh_ppm.items() if oil else ()) if ppm > ADDITIVE_PPM)
    return groups


def _judged(calls: Sequence[Call], groups: Mapping[str, int]) -> list[str]:
    """Elements of the last call: those its reasons name, then those of the parts, what was seen before what was not,
    nearest to their ceiling at the top."""
    last = list(calls[-1].elements) if calls else []
    named = {word for reason in calls[-1].reasons for word in _words(reason)} if calls else set()

    def order(line: Any) -> tuple[bool, int, bool, float]:
        share = line.ppm / line.ceiling_ppm if line.ppm is not None and line.ceiling_ppm else 0.0
        return line.element not in named, groups.get(line.element, 1), line.qualifier == "<", -share

    return [line.element for line in sorted(last, key=order)]


_WORDS_TOO = frozenset({"As", "At", "Be", "He", "I", "In", "No", "Am"})
"""Symbols that are also English words: an element only where a reason's source is just that."""


def _words(reason: Any) -> set[str]:
    """Words of a reason that may be element symbols."""
    return ({*re.findall(r"\b[A-Z][a-z]?\b", reason.text)} - _WORDS_TOO) | {reason.topic}


def _ppm_choices(builds: Sequence[Build], calls: Sequence[Call], groups: Mapping[str, int]) -> tuple[Choice, ...]:
    """Whatever was read in ppm, in the order of `_judged`, then the rest by group."""
    readings = [r.measurand for b in builds for s in b.samples for r in s.readings if r.unit in ("ppm", "mg/kg")]
    rest = sorted(dict.fromkeys(readings), key=lambda name: groups.get(name, 1))
    return _counted(readings, [*_judged(calls, groups), *rest])


def _rate_choices(calls: Sequence[Call], groups: Mapping[str, int]) -> tuple[Choice, ...]:
    rates = (e.element for call in calls for e in call.elements if e.rate_mg_h is not None)
    return _counted(rates, _judged(calls, groups))


def _source_choices(calls: Sequence[Call]) -> tuple[Choice, ...]:
    """Sources named as reasons by the last call first, then by its rates."""
    last = calls[-1] if calls else None
    known = [s.source for s in sorted(last.sources, key=lambda s: -s.rate_mg_h)] if last else []
    named = [r.source for r in last.reasons if r.source in known] if last else []
    return _counted((s.source for call in calls for s in call.sources), [*named, *known])


# --- marks ----------------------------------------------------------------------------------------------------------


def _events(joined: _Joined) -> tuple[Event, ...]:
    made: list[Event] = []
    for place, build in enumerate(joined.builds):
        if place:
            made.append(Event(joined.x(build, 0.0), "rebuild", f"Build {build.number} begins"))
        made += [Event(joined.x(build, hour), kind, text) for hour, kind, text in _marks(build)]
    made += _instrument_changes(joined)
    return tuple(sorted(made, key=lambda event: (event.x, EVENTS.index(event.kind))))


def _marks(build: Build) -> list[tuple[float, str, str]]:
    made = [(f.build_h, "fill", _fill_text(f)) for f in build.fills]
    made += [(t.build_h, "top-up", f"Top-up, {t.litres:g} L") for t in build.top_ups]
    made += [(c.build_h, "change", _said(f"Change of {c.kind}", c.notes)) for c in build.changes]
    made += [(f.build_h, "filter cut", _filter_text(f)) for f in build.filter_cuts]
    made += [(f.build_h, "looked inside", _said(findings.words(f), f.notes)) for f in build.findings]
    made += [(f.build_h, "part", _said(f"{f.part} {f.act}", f.piece)) for f in build.fittings]
    worst: dict[float, float] = {}
    for leak in build.leak_downs:
        worst[leak.build_h] = max(leak.percent, worst.get(leak.build_h, 0.0))
    made += [(hour, "leak-down", f"Leak-down, worst cylinder {percent:g} %") for hour, percent in worst.items()]
    made += [(s.build_h, "hold", f"{s.code} held: {s.hold}") for s in build.samples if s.hold]
    return made


def _said(what: str, notes: str) -> str:
    return f"{what}: {notes}" if notes else what


def _fill_text(fill: Any) -> str:
    parts = [f"Fill {fill.name}: {fill.oil}"]
    if fill.volume_l is not None:
        parts.append(f"{fill.volume_l:g} L")
    if fill.drain_before and fill.drain_before != "none":
        parts.append(f"after a {fill.drain_before} drain")
    if fill.filter_changed is not None:
        parts.append("new filter" if fill.filter_changed else "same filter")
    return ", ".join(parts)


def _filter_text(cut: Any) -> str:
    parts = [f"ferrous {cut.ferrous}"] if cut.ferrous else []
    parts += [f"non-ferrous {cut.non_ferrous}"] if cut.non_ferrous else []
    parts += [f"largest {cut.largest_mm:g} mm"] if cut.largest_mm is not None else []
    return _said("Filter cut", ", ".join([*parts, *([cut.notes] if cut.notes else [])]))


def _instrument_changes(joined: _Joined) -> list[Event]:
    made = []
    for (_, before), (build, after) in pairwise(joined.samples):
        if before.instrument != after.instrument:
            text = f"Other instrument: {before.instrument or 'not recorded'} to {after.instrument or 'not recorded'}"
            made.append(Event(joined.x(build, after.build_h), "instrument", text))
    return made
