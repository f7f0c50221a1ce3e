"""The small plots behind the reasons: which one, and its points, taken from calls and readings as they stand."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from typing import Any

from benchapp.oil.condition import level_in_unit
from benchapp.oil.rules import rules_from
from benchapp.records import Build, Call, ElementRate, Fleet, Reason, Sample, SourceRate
from benchapp.sheet.words import plain

_WORDS_TOO = frozenset({"As", "At", "Be", "He", "I", "In", "No", "Am"})
"""Element symbols that are also English words: never taken for an element inside a sentence."""


@dataclass(frozen=True, slots=True)
class PlotPoint:
    """One point against build hours [h]; `hollow` for a value below what the instrument sees; `low`/`high` interval."""

    x: float
    y: float
    hollow: bool = False
    low: float | None = None
    high: float | None = None
    this: bool = False
    """The sample this page is about."""


@dataclass(frozen=True, slots=True)
class SmallPlot:
    """A small plot: points against build hours, a ceiling, and the expected band at each of the band's hours."""

    title: str
    points: tuple[PlotPoint, ...]
    ceiling: float | None = None
    band: tuple[tuple[float, float, float], ...] = ()
    """(build hours, low, high), in order of build hours."""
    word: str = "ceiling"
    """What the dashed line is called."""
    beside: Callable[[float], str] | None = None
    """What stands in brackets behind each value of the axis: the same in another unit."""


def plot_for(
    fleet: Fleet,
    build: Build | None,
    call: Call,
    past: tuple[Call, ...],
    reason: Reason,
    library: Any = None,
    shown: Collection[str] = (),
) -> SmallPlot | None:
    """The small plot behind a reason: the first that the record can fill and that is not `shown` (titles) already.

    For ceiling and trend the readings under their ceiling come first, else the source's rate, the rate of the element
    that the reason names, its readings, and the readings of what the source is made of."""
    drawn = [plot for plot in _candidates(fleet, build, call, past, reason, library) if plot is not None]
    return next((plot for plot in drawn if plot.title not in shown), drawn[0] if drawn else None)


def _candidates(
    fleet: Fleet, build: Build | None, call: Call, past: tuple[Call, ...], reason: Reason, library: Any
) -> Iterator[SmallPlot | None]:
    if reason.topic in OIL_SOURCES:
        yield from _oil_plots(fleet, build, call, reason, library)
        return
    if reason.topic == "oil pressure":
        yield _pressure_plot(build, call, reason)
        return
    if reason.topic == "leak-down":  # no reading of the oil shows it
        return
    element = element_of(call, reason)
    readings = ppm_plot(fleet, build, call, element, library) if element else None
    if reason.kind in ("ceiling", "trend"):
        yield readings
    source = next((s for s in call.sources if s.source == reason.source), None)
    if source is not None:
        yield source_plot(call, past, source)
    if element:
        yield _element_plot(call, past, element)
        yield readings
    for each in main_elements(fleet, build, reason, library):
        yield ppm_plot(fleet, build, call, each, library)


OIL_SOURCES = ("oil", "oil film", "water in the oil")
"""What the reasons that speak of the oil itself are about."""


def _oil_plots(
    fleet: Fleet, build: Build | None, call: Call, reason: Reason, library: Any
) -> Iterator[SmallPlot | None]:
    """Readings of what the reason names, under (or over) this oil's limit: first named, first drawn."""
    sample = next((s for s in build.samples if s.code == call.sample), None) if build else None
    fill = next((f for f in build.fills if sample is not None and f.name == sample.fill), None) if build else None
    oil = fleet.oils.get(fill.oil) if fill is not None else None
    if build is None or oil is None or library is None:
        return
    rules, _ = rules_from(library).for_oil(oil)
    text = reason.text.lower()
    places = {limit: text.find(limit.name.lower()) for limit in rules.limits}
    named = sorted((limit for limit, place in places.items() if place >= 0), key=lambda limit: places[limit])
    if reason.topic == "oil film":
        named = [limit for limit in rules.limits if limit.property in ("KV100", "KV40") and limit.side == "below"]
    for limit in named:
        yield _oil_plot(build, call, limit.property, level_in_unit(limit, limit.done, oil))


def _oil_plot(build: Build, call: Call, name: str, limit: float | None) -> SmallPlot | None:
    points, unit = [], ""
    for sample in build.samples:
        for reading in sample.readings:
            if sample.build_h > call.build_h or reading.measurand != name:
                continue
            value, unit = reading.value if reading.value is not None else 0.0, reading.unit
            points.append(
                PlotPoint(sample.build_h, value, reading.qualifier == "<", this=sample.code == call.sample)
            )
    return SmallPlot(f"{plain(name, 20)} [{unit}]", tuple(points), limit, word="limit") if points else None


SPEED_NEAR = 0.1
"""Share by which speeds may differ and stand in one small plot (our own choice)."""


def _pressure_plot(build: Build | None, call: Call, reason: Reason) -> SmallPlot | None:
    """Pressures on the gauge and near the speed that the reason speaks of, up to the call."""
    known = [one for one in build.oil_pressures if one.build_h <= call.build_h] if build else []
    said = [one for one in known if f"at {one.build_h:g} h was {one.pressure_kpa:.0f} kPa" in reason.text]
    if not said:
        return None
    last = said[-1]
    alike = [one for one in known if one.gauge == last.gauge and _near(one.rpm, last.rpm)]
    points = tuple(PlotPoint(one.build_h, one.pressure_kpa, False, this=one is last) for one in alike)
    speed = "" if last.rpm is None else f" at {last.rpm:.0f} rpm"
    return SmallPlot(f"Oil pressure{speed} [kPa]", points, None)


def _near(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return abs(one - other) <= SPEED_NEAR * other


MAIN_SHARE = 0.1
"""An element speaks for a source only with more than this part of its largest share (our own choice: dust is shown by
silicon and aluminium, not by its trace of iron)."""


def main_elements(fleet: Fleet, build: Build | None, reason: Reason, library: Any = None) -> tuple[str, ...]:
    """What the source of a reason is made of, the largest share first: its parts' materials, else the library's record
    of a non-wear origin; () where neither is known."""
    materials = {part.name: part.material for part in build.parts} if build else {}
    known = [fleet.materials.get(materials.get(name, "")) for name in reason.parts]
    shares: dict[str, float] = {}
    for material in known:
        for share in material.shares if material else ():
            shares[share.element] = shares.get(share.element, 0.0) + (share.nominal_pct or 0.0)
    origin = library.non_wear.get(reason.source) if library is not None and not shares else None
    for share in origin.shares if origin is not None else ():
        shares[share.element] = share.nominal_pct or 0.0
    least = MAIN_SHARE * max(shares.values(), default=0.0)
    return tuple(sorted((e for e in shares if shares[e] > least), key=lambda element: -shares[element]))


def element_of(call: Call, reason: Reason) -> str:
    known = {line.element for line in call.elements}
    if reason.topic in known:
        return reason.topic
    for word in re.findall(r"\b[A-Z][a-z]?\b", reason.text):
        if word in known and word not in _WORDS_TOO:
            return word
    return call.ceiling_element if reason.kind in ("ceiling", "trend") else ""


def source_plot(call: Call, past: tuple[Call, ...], source: SourceRate) -> SmallPlot:
    points, band = [], []
    for one in (*past, call):
        rate = next((s for s in one.sources if s.source == source.source), None)
        if rate is None:
            continue
        here = one is call
        points.append(PlotPoint(one.build_h, rate.rate_mg_h, False, rate.low_mg_h, rate.high_mg_h, here))
        if rate.normal_low_mg_h is not None and rate.normal_high_mg_h is not None:
            band.append((one.build_h, rate.normal_low_mg_h, rate.normal_high_mg_h))
    return SmallPlot(f"{plain(source.source, 80)} [mg/h]", tuple(points), None, tuple(band))


def _element_rate(call: Call, element: str) -> ElementRate | None:
    return next((line for line in call.elements if line.element == element), None)


def _element_plot(call: Call, past: tuple[Call, ...], element: str) -> SmallPlot | None:
    points, band = [], []
    for one in (*past, call):
        line = _element_rate(one, element)
        if line is None or line.rate_mg_h is None:
            continue
        spread = line.rate_se_mg_h
        low = None if spread is None else line.rate_mg_h - spread
        high = None if spread is None else line.rate_mg_h + spread
        points.append(PlotPoint(one.build_h, line.rate_mg_h, line.qualifier == "<", low, high, one is call))
        if line.normal_low_mg_h is not None and line.normal_high_mg_h is not None:
            band.append((one.build_h, line.normal_low_mg_h, line.normal_high_mg_h))
    return SmallPlot(f"{element} [mg/h]", tuple(points), None, tuple(band)) if points else None


def ppm_plot(fleet: Fleet, build: Build | None, call: Call, element: str, library: Any) -> SmallPlot | None:
    """Readings of one element [ppm] of this build up to this sample, under the ceiling that the call used."""
    points = []
    for sample in build.samples if build else ():
        if sample.build_h > call.build_h:
            continue
        for reading in sample.readings:
            if reading.measurand != element:
                continue
            value = reading.value if reading.value is not None else _limit(fleet, library, sample, element)
            hollow = reading.qualifier == "<"
            points.append(PlotPoint(sample.build_h, value, hollow, this=sample.code == call.sample))
    line = _element_rate(call, element)
    ceiling = line.ceiling_ppm if line else None
    return SmallPlot(f"{plain(element, 20)} [ppm]", tuple(points), ceiling) if points else None


def _limit(fleet: Fleet, library: Any, sample: Sample, element: str) -> float:
    """What the instrument could have seen [ppm], 0 where nobody knows: the mark is hollow either way."""
    instrument = fleet.instruments.get(sample.instrument)
    own = instrument.noise.get(element) if instrument else None
    if own is None and instrument and library is not None:
        own = library.noise_for(instrument.kind).get(element)
    return float(own.limit_ppm) if own is not None else 0.0
