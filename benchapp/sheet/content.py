"""All that the printed page says, as text and small series, taken from the records; nothing is computed anew here.

Knows no Qt: the same content is drawn on paper, shown in the preview and read by the tests."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from benchapp.records import Build, Call, Engine, Fill, Fleet, Moment, Reading, Reason, Sample, SourceRate
from benchapp.sheet.reason_plots import SmallPlot, plot_for, ppm_plot, source_plot
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

_MEASURED = ("KV40", "KV100", "TBN", "TAN", "Water", "Fuel", "Oxidation", "Soot")


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
    film: tuple[str, ...] = ()
    """Film of each bearing in the fresh oil and in the oil as sampled, and which grade keeps it."""
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
    film_lines: Sequence[str] = (),
) -> SheetContent:
    """The page for one call.

    `calls_before` are the calls of the same build's earlier samples (others are ignored), from which the rate plots are
    drawn. `library` gives instrument limits for a bare "not detected". `oil_lines` is the oil's own verdict in words,
    `film_lines` its films.
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
        film=_lines(film_lines),
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
    said += [*content.before_out, *content.look, *content.oil, *content.film, *content.unknowns, *content.flips]
    said += content.history
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
    return tuple(_capital(line) for line in (plain(text) for text in texts) if line)


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
            seen.setdefault(said, plain(reason.topic))
    lines = (said if where.lower() in said.lower() else f"{where}: {said}" for said, where in seen.items())
    return tuple(_capital(line) for line in lines)


def _flips(call: Call) -> tuple[str, ...]:
    """What would change the call: inputs at their limits, then what the reasons name."""
    inputs = [f"{plain(flip.what)} {plain(flip.at)}: {plain(flip.call)}" for flip in call.flips]
    named = [plain(reason.would_change) for reason in call.reasons if reason.would_change]
    return tuple(dict.fromkeys(_capital(line) for line in inputs + named))


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


# --- reasons ----------------------------------------------------------------------------------------


def _reasons(
    fleet: Fleet, build: Build | None, sample: Sample | None, call: Call, past: tuple[Call, ...], library: Any
) -> tuple[SheetReason, ...]:
    made: list[SheetReason] = []
    for place, reason in enumerate(call.reasons[:REASONS_SHOWN], start=1):
        sure = "" if reason.probability is None else f"how sure: {_percent(reason.probability)}"
        shown = {earlier.plot.title for earlier in made if earlier.plot}
        plot = plot_for(fleet, build, call, past, reason, library, shown)
        made.append(SheetReason(place, _capital(plain(reason.text)), sure, plot))
    if not made:
        plot = ppm_plot(fleet, build, call, call.ceiling_element, library) if call.ceiling_element else None
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
    named = {reason.topic for reason in call.reasons}
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
    return SheetReason(place, text, "", source_plot(call, past, source))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _percent(probability: float) -> str:
    if probability > 0.99:
        return "over 99 %"
    return "under 1 %" if probability < 0.01 else f"{100 * probability:.0f} %"
