"""All that the printed page says, as text and small series, taken from the records; nothing is computed anew here.

Knows no Qt: the same content is drawn on paper, shown in the preview and read by the tests."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from benchapp.records import Build, Call, ElementRate, Engine, Fill, Fleet, Moment, Reading, Reason, Sample, SourceRate
from benchapp.sheet.words import hours, moment, number, plain

REASONS_SHOWN = 3

CAUTIONS = (
    (
        "This call is advice from an oil sample. It cannot see a cracked rod, a fatigued valve spring or a loose nut, "
        "and the spectrometer sees only fine particles (roughly below 5-10 µm): cut the filter open and look."
    ),
    "The person who signs the car out decides, under the series' rules and with qualified people.",
    (
        "Used oil is hot and harmful to skin: gloves on, wash, no oily rags in pockets; collect it in a sound can "
        "marked used oil and hand it in as local rules require."
    ),
    (
        "A running engine can throw parts: guards on, nobody in line with it, at the car or on a dyno. Never under a "
        "car that stands on a jack alone."
    ),
)
"""Hazards and limits that every page carries (common practice; used oil on skin: IARC Monograph 100F)."""

_WORDS_TOO = frozenset({"As", "At", "Be", "He", "I", "In", "No", "Am"})
"""Element symbols that are also English words: never taken for an element inside a sentence."""

_MEASURED = ("KV40", "KV100", "TBN", "TAN", "Water", "Fuel", "Oxidation", "Soot")


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


@dataclass(frozen=True, slots=True)
class SheetReason:
    number: int
    text: str
    sure: str = ""
    plot: SmallPlot | None = None


@dataclass(frozen=True, slots=True)
class SheetContent:
    """The page. Every text is one clean line; tuples are in the order of the page."""

    engine: str
    car: str
    build: str
    build_h: str
    sample: str
    taken: str
    call: str
    """One of CALL_WORDS; its shape is drawn beside it."""
    sentence: str
    next_sample: str
    stamps: tuple[str, ...] = ()
    """HELD, SUPERSEDED and NOT ISSUED, in words."""
    reasons: tuple[SheetReason, ...] = ()
    reasons_left: int = 0
    """Reasons in the record that are not on the page."""
    before_out: tuple[str, ...] = ()
    look: tuple[str, ...] = ()
    oil: tuple[str, ...] = ()
    unknowns: tuple[str, ...] = ()
    flips: tuple[str, ...] = ()
    history: tuple[str, ...] = ()
    cautions: tuple[str, ...] = CAUTIONS
    issued: str = ""
    rule: str = ""


def content_for(
    fleet: Fleet,
    call: Call,
    library: Any = None,
    calls_before: Iterable[Call] = (),
    issued_by: str = "",
    issued_at: Moment | None = None,
    oil_lines: Sequence[str] = (),
) -> SheetContent:
    """The page for one call.

    `calls_before` are the calls of the same build's earlier samples (others are ignored), from which the rate plots are
    drawn. `library` gives instrument limits for a bare "not detected". `oil_lines` is the oil's own verdict in words.
    """
    engine, build, sample = _places(fleet, call)
    fill = next((f for f in build.fills if f.name == sample.fill), None) if build and sample else None
    told = tuple(c for c in calls_before if c.engine == call.engine and c.build == call.build)
    past = tuple(sorted((c for c in told if c.build_h < call.build_h), key=lambda c: c.build_h))
    return SheetContent(
        engine=plain(call.engine),
        car=plain(engine.car) if engine else "",
        build=plain(call.build),
        build_h=hours(call.build_h),
        sample=plain(call.sample),
        taken=moment(call.taken_at),
        call=call.call,
        sentence=plain(call.sentence),
        next_sample=_next_sample(call),
        stamps=_stamps(call, issued_by),
        reasons=_reasons(fleet, build, sample, call, past, library),
        reasons_left=max(0, len(call.reasons) - REASONS_SHOWN),
        before_out=_lines(call.before_out),
        look=_look(call.reasons),
        oil=_oil(fleet, build, sample, fill, call, oil_lines),
        unknowns=_lines(call.unknowns),
        flips=_flips(call),
        history=_history(call),
        issued=f"Issued by {plain(issued_by)}, {moment(issued_at)}" if issued_by else "Not issued: a preview",
        rule=_rule(call),
    )


def lines(content: SheetContent) -> tuple[str, ...]:
    """Every text that stands on the page, in reading order (what the painter draws, what the tests read)."""
    said = [content.engine, content.car, content.build, content.build_h, content.sample, content.taken]
    said += [*content.stamps, content.call, content.sentence, content.next_sample]
    for reason in content.reasons:
        said += [reason.text, reason.sure, reason.plot.title if reason.plot else ""]
    said += [*content.before_out, *content.look, *content.oil, *content.unknowns, *content.flips, *content.history]
    said += [*content.cautions, content.issued, content.rule]
    return tuple(text for text in said if text)


# --- texts ----------------------------------------------------------------------------------------------------------


def _places(fleet: Fleet, call: Call) -> tuple[Engine | None, Build | None, Sample | None]:
    engine = next((e for e in fleet.engines if e.name == call.engine), None)
    build = next((b for b in engine.builds if b.number == call.build), None) if engine else None
    sample = next((s for s in build.samples if s.code == call.sample), None) if build else None
    return engine, build, sample


def _next_sample(call: Call) -> str:
    if call.next_sample_h <= 0:
        return "before it runs again"
    waits = call.call in ("Look inside", "Park")
    return f"{hours(call.next_sample_h)} after it {'runs again' if waits else 'goes out'}"


def _lines(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(line for line in (plain(text) for text in texts) if line)


def _stamps(call: Call, issued_by: str) -> tuple[str, ...]:
    stamps = []
    if call.held:
        stamps.append(f"HELD: {plain(call.held)} Do not act on these numbers before the hold is cleared.")
    if call.superseded:
        stamps.append(f"SUPERSEDED: {plain(call.superseded)} Use the newer page.")
    if not issued_by:
        stamps.append("PREVIEW: this call has not been issued.")
    return tuple(stamps)


def _look(reasons: Sequence[Reason]) -> tuple[str, ...]:
    """Where to look and with what, strongest reason first, each once."""
    seen: dict[str, str] = {}
    for reason in reasons:
        said = plain(reason.look)
        if said:
            seen.setdefault(said, plain(reason.source))
    return tuple(said if where.lower() in said.lower() else f"{where}: {said}" for said, where in seen.items())


def _flips(call: Call) -> tuple[str, ...]:
    """What would change the call: inputs at their limits, then what the reasons name."""
    inputs = [f"{plain(flip.what)} {plain(flip.at)}: {plain(flip.call)}" for flip in call.flips]
    named = [plain(reason.would_change) for reason in call.reasons if reason.would_change]
    return tuple(dict.fromkeys(inputs + named))


_BASES = {
    "own history": "Judged against this engine's own history.",
    "own ceiling": "Judged against this build's own break-in ceiling.",
    "family": "Judged against other engines of the family, not against its own history.",
    "none": "Nothing of its own or its family's to judge against: take the call as a first look.",
}


def _history(call: Call) -> tuple[str, ...]:
    said = [call.history]
    if call.basis in _BASES:
        said.append(_BASES[call.basis])
    if call.severity is not None:
        said.append(f"How hard it was run: {number(call.severity, 2)} times its usual wear on all parts together.")
    return _lines(said)


def _rule(call: Call) -> str:
    said = f"Rules {plain(call.rule_version)}"
    return f"{said} · inputs {plain(call.inputs_hash)[:12]}" if call.inputs_hash else said


def _oil(
    fleet: Fleet, build: Build | None, sample: Sample | None, fill: Fill | None, call: Call, oil_lines: Sequence[str]
) -> tuple[str, ...]:
    said: list[str] = []
    if fill is not None:
        oil = fleet.oils.get(fill.oil)
        grade = f" {oil.sae_grade}" if oil and oil.sae_grade and oil.sae_grade not in fill.oil else ""
        volume = f", {number(fill.volume_l)} L" if fill.volume_l is not None else ""
        said.append(f"{fill.oil}{grade}, fill {fill.name}{volume}, in since build hour {fill.build_h:.1f}")
    else:
        said.append("Which oil is in is not recorded")
    run = "not recorded" if sample is None or sample.oil_h is None else hours(sample.oil_h)
    said.append(f"Hours on this oil: {run}")
    added = [t for t in build.top_ups if fill and t.fill == fill.name and t.build_h <= call.build_h] if build else []
    if added:
        said.append("Topped up: " + ", ".join(f"{number(t.litres)} L at {t.build_h:.1f} h" for t in added))
    if call.carry_over is not None:
        said.append(f"Left from the oil before: {100 * call.carry_over:.0f} %")
    measured = [r for r in sample.readings if r.measurand in _MEASURED] if sample else []
    if measured:
        said.append("Measured: " + ", ".join(_reading(reading) for reading in measured))
    said.extend(oil_lines)
    return _lines(said)


def _reading(reading: Reading) -> str:
    if reading.value is None:
        return f"{reading.measurand} not detected"
    return f"{reading.measurand} {reading.qualifier}{number(reading.value, 4)} {reading.unit}".strip()


# --- reasons and their plots ----------------------------------------------------------------------------------------


def _reasons(
    fleet: Fleet, build: Build | None, sample: Sample | None, call: Call, past: tuple[Call, ...], library: Any
) -> tuple[SheetReason, ...]:
    made = []
    for place, reason in enumerate(call.reasons[:REASONS_SHOWN], start=1):
        sure = "" if reason.probability is None else f"how sure: {_percent(reason.probability)}"
        plot = plot_for(fleet, build, call, past, reason, library)
        made.append(SheetReason(place, _capital(plain(reason.text)), sure, plot))
    if not made:
        plot = _ppm_plot(fleet, build, call, call.ceiling_element, library) if call.ceiling_element else None
        made.append(SheetReason(1, _no_reason(call), "", plot))
    if call.call == "Run":
        made += [_as_expected(call, past, source, place) for place, source in _quiet(call, len(made))]
    return tuple(made)


def _no_reason(call: Call) -> str:
    said = "Nothing stands out against running."
    if call.ceiling_share is not None and call.ceiling_element:
        said += f" Nearest to its ceiling: {plain(call.ceiling_element)} at {100 * call.ceiling_share:.0f} %."
    return said


def _quiet(call: Call, taken: int) -> list[tuple[int, SourceRate]]:
    """Sources inside what is expected of them, nearest to the upper limit first, to fill the lines of a Run."""
    named = {reason.source for reason in call.reasons}
    inside = [
        source
        for source in call.sources
        if source.normal_high_mg_h and source.source not in named and source.rate_mg_h <= source.normal_high_mg_h
    ]
    inside.sort(key=lambda source: source.rate_mg_h / (source.normal_high_mg_h or 1.0), reverse=True)
    return list(enumerate(inside[: max(0, REASONS_SHOWN - taken)], start=taken + 1))


def _as_expected(call: Call, past: tuple[Call, ...], source: SourceRate, place: int) -> SheetReason:
    low, high = source.normal_low_mg_h or 0.0, source.normal_high_mg_h or 0.0
    text = (
        f"{_capital(plain(source.source))} wears {number(source.rate_mg_h)} mg/h; expected are "
        f"{number(low)} to {number(high)} mg/h."
    )
    return SheetReason(place, text, "", _source_plot(call, past, source))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _percent(probability: float) -> str:
    if probability > 0.99:
        return "over 99 %"
    return "under 1 %" if probability < 0.01 else f"{100 * probability:.0f} %"


def plot_for(
    fleet: Fleet, build: Build | None, call: Call, past: tuple[Call, ...], reason: Reason, library: Any = None
) -> SmallPlot | None:
    """The small plot behind a reason: ppm under its ceiling for ceiling and trend, else the source's rate, else the
    rate of the element that the reason names; None where the record holds nothing to draw."""
    element = _element_of(call, reason)
    source = next((s for s in call.sources if s.source == reason.source), None)
    ppm = _ppm_plot(fleet, build, call, element, library) if element else None
    if reason.kind in ("ceiling", "trend") and ppm is not None:
        return ppm
    if source is not None:
        return _source_plot(call, past, source)
    if element:
        return _element_plot(call, past, element) or ppm
    drawn = (_ppm_plot(fleet, build, call, each, library) for each in main_elements(fleet, build, reason, library))
    return next((plot for plot in drawn if plot is not None), None)


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


def _element_of(call: Call, reason: Reason) -> str:
    known = {line.element for line in call.elements}
    if reason.source in known:
        return reason.source
    for word in re.findall(r"\b[A-Z][a-z]?\b", reason.text):
        if word in known and word not in _WORDS_TOO:
            return word
    return call.ceiling_element if reason.kind in ("ceiling", "trend") else ""


def _source_plot(call: Call, past: tuple[Call, ...], source: SourceRate) -> SmallPlot:
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


def _ppm_plot(fleet: Fleet, build: Build | None, call: Call, element: str, library: Any) -> SmallPlot | None:
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
