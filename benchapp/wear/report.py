"""From a look at a sample to the record of its call: rates per source and element, ceiling, trend, ledger, words.

The decision (which call, which suspects) is made in `decide`; here it is written out so that it can be acted on.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from benchapp.records import CALL_WORDS, Call, ElementRate, Part, Reason, SourceRate
from benchapp.wear import side_records, words
from benchapp.wear.follow import Follower
from benchapp.wear.ledger import NINETY, Ledger
from benchapp.wear.look import Look
from benchapp.wear.other_oil import ANOTHER_OIL
from benchapp.wear.rules import Rules
from benchapp.wear.sources import COOLANT, DUST, LEACHING, WEAR, Sources, alike
from benchapp.wear.split import Split, split
from benchapp.wear.trend import theil_sen
from benchapp.wear.watch import Nuisance

Array = NDArray[np.float64]

RUN, SHORT, LOOK, PARK = CALL_WORDS
SEEN_Z = 1.645 + 1.282
"""Standard deviations at which an extra rate is seen in nine of ten cases at a 5 % false alarm."""
NOT_WEAR = {"Si", "Na", "K", "B", "Ca", "Mg", "Zn", "P"}
"""Elements whose ceiling is not a part's: they come with oil, dust, coolant or sealant."""
FLOOR_SD = 10.0
"""Noise floor of a reading in standard deviations: ASTM D5185 section 1.6 sets the low end of its ranges at ten times
the repeatability standard deviation."""
SEVERITY_SD = 0.4
"""Sessions about their usual severity, as a prior standard deviation [-]; common practice, no source."""
THINNEST_UM = 5.0
"""Layers thinner than this [µm] (tin flash 1-3, nickel dam 1-3: bearing patents) are no loss when they are gone."""
LAST = 8
"""Intervals that the direction looks back on."""

Measured = tuple[Array, Array]
"""Rate per element [mg/h] from the balance and its standard deviation, NaN where it says nothing of wear."""
Unseen = Sequence[tuple[SourceRate, float]]
"""(rate of a part, hours from the smallest rate that this bench sees to failure)."""
Fading = Sequence[tuple[Nuisance, float, float]]
"""(what dies away, rate in this interval [mg/h], its sd) for sealant and leaching."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """One source, or a group that no bench could tell apart: `members` are columns, the most probable first."""

    name: str
    parts: tuple[str, ...]
    kind: str
    members: tuple[int, ...]
    probability: float
    extra: float
    """Extra rate now [mg/h]."""
    normal: float
    """Settled normal rate of its members together [mg/h]."""


@dataclass(frozen=True, slots=True)
class Cluster:
    """Columns of the sources that one line of the report speaks of, with what of them stays as it is in a build."""

    columns: tuple[int, ...]
    name: str
    parts: tuple[str, ...]
    pieces: tuple[Part, ...]
    """The build's parts of those names."""
    layer_mg: float
    """Metal in the thinnest layer that counts [mg]; infinite where none is known."""


@dataclass(frozen=True, slots=True)
class Clusters:
    """All lines of a build. `member` is sources × lines, one where a source belongs to a line; `mean` elements × lines,
    the mean composition of a line's sources [mg/mg]."""

    lines: tuple[Cluster, ...]
    member: Array
    mean: Array
    layer_mg: Mapping[tuple[str, ...], float]
    """Parts of a line -> its `layer_mg`."""


@dataclass(slots=True)
class Book:
    """What the report remembers of a build from sample to sample."""

    ledger: Ledger = field(default_factory=Ledger)
    clusters: dict[bytes, Clusters] = field(default_factory=dict)
    """By the mask of the elements that the oil hides: it changes once or twice in a build."""
    hours: list[float] = field(default_factory=list)
    totals: list[float] = field(default_factory=list)
    """Severity-free total wear rate [mg/h]."""
    last_h: float = -1.0


def write(
    look: Look,
    follower: Follower,
    rules: Rules,
    call: str,
    suspects: Sequence[Suspect],
    over: tuple[str, float] | None,
    book: Book,
) -> Call:
    """The whole record. `call` is what the spectrometer asks for; filter cuts and leak-downs may raise it. `over`: what
    `over_ceiling` found."""
    strange = bool(look.other_oil)
    measured = _measured(look, follower)
    fading = _fading(look, follower)
    groups = _clusters(look, follower, book)
    severity = None if strange else _severity(look, follower, measured)
    found = None if strange else _split(look, suspects, severity or 1.0, measured, fading)
    sources = () if found is None else _source_rates(look, follower, found, groups, fading)
    elements = _element_rates(look, follower, found, measured)
    weights = _side(look, follower, rules, book)
    call = side_records.raised(call, *weights)
    reasons = _reasons(look, follower, rules, call, suspects, weights, sources, over)
    ceiling = _ceiling_share(look, elements, fading)
    if found is not None:
        _remember(look, sources, groups, severity or 1.0, book)
    unseen = _unseen(sources, groups, follower, rules)
    next_h = _next_sample(call, rules, unseen)
    looks = _looks(suspects, follower, rules) or tuple(w.reason.look for w in weights if w and w.reason.look)
    breaks = look.ceiling_own
    strongest = _strongest(suspects, follower, rules, weights, strange)
    return Call(
        rule_version=rules.version,
        engine=follower.engine.name,
        build=follower.build.number,
        sample=look.sample.code,
        build_h=look.sample.build_h,
        taken_at=look.sample.taken_at,
        call=call,
        sentence=words.sentence(call, strongest, next_h, look.history, breaks, bool(look.prior.builds)),
        next_sample_h=next_h,
        basis=_basis(look),
        history=words.history_text(look.history, breaks, look.prior.builds),
        history_samples=look.history,
        severity=severity,
        reasons=reasons,
        sources=sources,
        elements=elements,
        ledger=book.ledger.lines(follower.fleet.materials),
        unknowns=_unknowns(look, rules, unseen),
        before_out=words.before_out(call, looks, next_h),
        ceiling_share=ceiling[0],
        ceiling_element=ceiling[1],
        direction=_direction(book),
        carry_over=look.interval.carry_over,
        chi_square=None if found is None else found.chi_square,
        held=look.sample.hold,
    )


def _basis(look: Look) -> str:
    if look.history >= 2:
        return "own history"
    if look.ceiling_own:
        return "own ceiling"
    return "family" if look.prior.builds else "none"


# --- rates ----------------------------------------------------------------------------------------------------------


def _hours(look: Look) -> float:
    return max(look.interval.hours, 1e-6)


def _measured(look: Look, follower: Follower) -> Measured:
    """Rate per element [mg/h] from the balance and its standard deviation; NaN where it says nothing of wear."""
    hours, mass = _hours(look), look.interval.mass_kg
    noise = np.array([
        look.observed[e].variance + look.observed[e].noise_sd**2 if e in look.observed else np.nan
        for e in look.sources.elements
    ])  # fmt: skip
    variance = np.maximum(look.interval.shed_sd_mg**2 - look.interval.expected_sd_mg**2, noise * mass**2)
    rate, sd = look.interval.shed_mg / hours, np.sqrt(variance) / hours
    blind = follower.additive.copy()
    if look.interval.leaded and "Pb" in look.sources.elements:
        blind[look.sources.elements.index("Pb")] = True
    if look.interval.hours <= 0:
        blind[:] = True
    return np.where(blind, np.nan, rate), np.where(blind, np.nan, sd)


def _severity(look: Look, follower: Follower, measured: Measured) -> float | None:
    """How hard it was run: one factor on all wear, robust against a single part that sheds more [-]; None: not seen."""
    rate, sd = measured
    expected = look.interval.expected_mg / _hours(look)
    wear = np.array([e not in NOT_WEAR for e in look.sources.elements], dtype=bool)
    use = wear & np.isfinite(rate) & (expected > 0.2 * sd) & (expected > 0)
    if not use.any():
        return None
    ratio = rate[use] / expected[use]
    spread = np.hypot(sd[use] / expected[use], follower.rules.number("spread", "source"))
    factor, own = 1.0, 1.0 / SEVERITY_SD**2
    least = 1.0 / spread**2
    weight = least
    for _ in range(6):
        before, factor = factor, (float(weight @ ratio) + own) / (float(weight.sum()) + own)
        if factor == before:
            break
        far = np.abs(ratio - factor) / spread
        weight = np.minimum(1.0, 1.5 / np.maximum(far, 1e-9)) * least
    if float(weight.sum()) < own:
        return None  # the prior would speak, not the sample
    return min(max(factor, 0.2), 5.0)


def _fading(look: Look, follower: Follower) -> Fading:
    start = look.sample.build_h - look.interval.hours
    count = len(look.sources.elements)
    found = []
    for i, nuisance in enumerate(follower.watch.nuisances):
        if nuisance.name == "run-in":
            continue
        part = nuisance.mean_profile(start, _hours(look))
        sd = math.sqrt(max(float(follower.watch.tt[count + i, count + i]), 0.0))
        found.append((nuisance, float(follower.watch.theta[count + i]) * part, sd * part))
    return found


def _split(look: Look, suspects: Sequence[Suspect], severity: float, measured: Measured, fading: Fading) -> Split:
    """Source split of this interval; what was normal, and what is suspected, hold apart what elements cannot."""
    rate, sd = measured
    for nuisance, shed, error in fading:
        rate = rate - nuisance.direction * max(shed, 0.0)
        sd = np.hypot(sd, nuisance.direction * error)
    settled = float(look.rate[look.rate > 0].sum())
    seating = float(look.interval.expected_mg.sum()) / _hours(look) / settled if settled > 0 else 1.0
    normal = look.normal * max(seating, 0.2) * severity
    spread = 0.5 * normal + 0.01 * look.interval.mass_kg
    for suspect in suspects:
        for j in suspect.members:
            spread[j] += suspect.probability * suspect.extra
    return split(rate, sd, look.sources.fractions, look.sources.tolerance, normal=normal, normal_sd=spread)


def _clusters(look: Look, follower: Follower, book: Book) -> Clusters:
    """The report's lines, worked out once for a build and a mask of what the oil hides."""
    key = follower.additive.tobytes()
    if key not in book.clusters:
        book.clusters[key] = _cluster(look.sources, follower)
    return book.clusters[key]


def _cluster(sources: Sources, follower: Follower) -> Clusters:
    named = {part.name: part for part in follower.build.parts}
    lines = []
    for columns in _columns(sources, follower):
        parts = tuple(part.name for j in columns for part in sources.parts[j])
        name = " + ".join(parts) if parts else sources.names[columns[0]]
        pieces = tuple(named[part] for part in parts if part in named)
        lines.append(Cluster(columns, name, parts, pieces, _layer_mg(parts, follower)))
    member = np.zeros((len(sources.names), len(lines)))
    for k, line in enumerate(lines):
        member[list(line.columns), k] = 1.0
    mean = sources.fractions @ (member / np.maximum(member.sum(axis=0), 1.0))
    return Clusters(tuple(lines), member, mean, {line.parts: line.layer_mg for line in lines})


def _columns(sources: Sources, follower: Follower) -> list[tuple[int, ...]]:
    """Columns in groups: parts that the measured elements cannot tell apart, and each non-wear origin as one."""
    same = alike(sources, follower.additive, follower.rules.number("table", "alike"))
    left, found = list(range(len(sources.names))), []
    while left:
        first = left[0]
        kind, name = sources.kinds[first], sources.names[first]
        if kind in (WEAR, LEACHING):
            group = [j for j in left if j == first or same[first, j]]
        else:
            group = [j for j in left if sources.names[j] == name]
        found.append(tuple(group))
        left = [j for j in left if j not in group]
    return found


def _source_rates(
    look: Look, follower: Follower, found: Split, groups: Clusters, fading: Fading
) -> tuple[SourceRate, ...]:
    swing = math.hypot(follower.spread.severity, follower.spread.source)
    least, most = math.exp(-NINETY * swing), math.exp(NINETY * swing)
    member = groups.member
    variances = ((found.covariance @ member) * member).sum(axis=0).tolist()
    each = zip(
        groups.lines, (found.x @ member).tolist(), variances, (look.normal @ member).tolist(),
        _seen_from(look, groups), strict=True,
    )  # fmt: skip
    rates = []
    for line, x, variance, normal, seen_from in each:
        half = NINETY * math.sqrt(max(variance, 0.0))
        if not line.parts and x < half:
            continue
        rates.append(
            SourceRate(
                source=line.name,
                parts=line.parts,
                rate_mg_h=x,
                low_mg_h=max(x - half, 0.0),
                high_mg_h=x + half,
                normal_mg_h=normal,
                normal_low_mg_h=normal * least,
                normal_high_mg_h=normal * most,
                seen_from_mg_h=seen_from,
            )
        )
    for nuisance, shed, sd in fading:
        if shed > NINETY * sd and shed > 0.02 * look.interval.mass_kg:
            low, high = max(shed - NINETY * sd, 0.0), shed + NINETY * sd
            rates.append(SourceRate(nuisance.name, (), shed, low, high, None))
    rates.extend(_fuel_lead(look))
    return tuple(sorted(rates, key=lambda rate: -rate.rate_mg_h))


def _fuel_lead(look: Look) -> list[SourceRate]:
    if not look.interval.leaded or "Pb" not in look.observed:
        return []
    at = look.sources.elements.index("Pb")
    rate = float(look.interval.shed_mg[at]) / _hours(look)
    sd = look.observed["Pb"].noise_sd * look.interval.mass_kg / _hours(look)
    if not math.isfinite(rate) or rate < NINETY * sd:
        return []
    return [SourceRate("fuel lead", (), rate, max(rate - NINETY * sd, 0.0), rate + NINETY * sd, None)]


def _seen_from(look: Look, groups: Clusters) -> list[float | None]:
    """For each line the smallest extra rate that this interval would have shown in nine of ten cases [mg/h]."""
    read = np.array([e in look.observed for e in look.sources.elements])
    if look.interval.hours <= 0 or not read.any():
        return [None] * len(groups.lines)
    a = groups.mean[read] * (look.interval.hours / look.interval.mass_kg)
    covariance = look.surprise.covariance[read][:, read]
    information = (a * np.linalg.solve(covariance, a)).sum(axis=0).tolist()
    return [SEEN_Z / math.sqrt(one) if one > 0 else None for one in information]


def _element_rates(
    look: Look, follower: Follower, found: Split | None, measured: Measured
) -> tuple[ElementRate, ...]:
    swing = math.hypot(follower.spread.severity, follower.spread.source)
    least, most = math.exp(-NINETY * swing), math.exp(NINETY * swing)
    rate, sd, usual = measured[0].tolist(), measured[1].tolist(), look.rate.tolist()
    rest = [] if found is None else found.rest.tolist()
    lines = []
    for i, element in enumerate(look.sources.elements):
        one = look.observed.get(element)
        if one is None:
            continue
        known = found is not None and math.isfinite(rate[i])
        normal = max(usual[i], 0.0) if known else None
        lines.append(
            ElementRate(
                element=element,
                ppm=one.limit if one.qualifier == "<" else one.ppm,
                qualifier=one.qualifier,
                rate_mg_h=rate[i] if known else None,
                rate_se_mg_h=sd[i] if known else None,
                ceiling_ppm=_ceiling(look, follower, element),
                unexplained_mg_h=rest[i] if known else None,
                normal_mg_h=normal,
                normal_low_mg_h=None if normal is None else normal * least,
                normal_high_mg_h=None if normal is None else normal * most,
            )
        )
    return tuple(lines)


# --- ceiling, direction, ledger -------------------------------------------------------------------------------------


def _ceiling(look: Look, follower: Follower, element: str) -> float | None:
    """What the break-in of this build reached [ppm]; a ceiling below the noise floor is lifted to it."""
    if element not in look.ceiling or element in NOT_WEAR:
        return None
    if follower.additive[look.sources.elements.index(element)]:
        return None
    own = look.ceiling[element]
    return max(own.limit or 0.0, own.ppm, FLOOR_SD * own.noise_sd)


def _ceiling_share(look: Look, lines: Sequence[ElementRate], fading: Fading) -> tuple[float | None, str]:
    """Largest reading over its ceiling, and of which element. The break-in sample itself has none."""
    if look.sample.break_in or look.other_oil:
        return None, ""
    explained = _explained(look, fading)
    shares = {
        line.element: line.ppm / line.ceiling_ppm
        for line in lines
        if line.ceiling_ppm and line.ppm is not None and line.qualifier != "<" and line.element not in explained
    }
    if not shares:
        return None, ""
    top = max(shares, key=lambda element: shares[element])
    return shares[top], top


def _remember(look: Look, sources: Sequence[SourceRate], groups: Clusters, severity: float, book: Book) -> None:
    hours = look.interval.hours
    if hours <= 0:
        return
    pieces = {line.parts: line.pieces for line in groups.lines}
    total = 0.0
    for rate in sources:
        if rate.parts:
            sd = (rate.high_mg_h - rate.low_mg_h) / (2 * NINETY)
            book.ledger.add(rate.source, pieces[rate.parts], rate.rate_mg_h, sd, hours)
            total += rate.rate_mg_h
    if not look.interval.run_in:
        book.hours.append(look.sample.build_h)
        book.totals.append(total / severity)


def _direction(book: Book) -> str:
    """Where the severity-free wear is going, over the last intervals."""
    if len(book.totals) < 4:
        return ""
    slope = theil_sen(np.array(book.hours[-LAST:]), np.array(book.totals[-LAST:]), confidence=0.98)
    if slope is None:
        return ""
    return "rising" if slope.low > 0 else "falling" if slope.high < 0 else "steady"


# --- reasons and words ----------------------------------------------------------------------------------------------


def _material_group(suspect: Suspect, follower: Follower) -> str:
    """Key of the phrases: the material's group for a part, the name of a non-wear origin."""
    if suspect.kind in (DUST, COOLANT) or not suspect.parts:
        return suspect.name
    first = next((part for part in follower.build.parts if part.name == suspect.parts[0]), None)
    material = follower.fleet.materials.get(first.material) if first else None
    return material.group if material else "other"


def _looks(suspects: Sequence[Suspect], follower: Follower, rules: Rules) -> tuple[str, ...]:
    return rules.words.of(_material_group(suspects[0], follower)).look if suspects else ()


def _strongest(
    suspects: Sequence[Suspect],
    follower: Follower,
    rules: Rules,
    weights: Sequence[side_records.Weight | None],
    strange: bool,
) -> str:
    if strange:
        return rules.words.of("other oil").what
    if suspects:
        what = rules.words.of(_material_group(suspects[0], follower)).what
        return f"{what} ({suspects[0].name})" if suspects[0].parts else what
    told = [weight.reason.text.rstrip(".") for weight in weights if weight]
    return told[0][:1].lower() + told[0][1:] if told else ""


def _name(element: str, rules: Rules) -> str:
    """The element's name as it stands inside a sentence."""
    known = rules.elements.get(element)
    return known.name.lower() if known else element


def _carried(look: Look, suspect: Suspect, rules: Rules) -> list[str]:
    """The readings that carry a suspicion, in words: up to three elements by how far they stand out."""
    column = look.sources.fractions[:, list(suspect.members)].mean(axis=1)
    sd = np.sqrt(np.maximum(look.surprise.covariance.diagonal(), 1e-12))
    weight = column * np.maximum(look.surprise.difference, 0.0) / sd
    told = []
    for i in np.argsort(-weight)[:3]:
        element = look.sources.elements[i]
        one = look.observed.get(element)
        if one is None or weight[i] < 0.02 * float(weight.max(initial=0.0)) or look.surprise.difference[i] < sd[i]:
            continue
        expected = float(look.surprise.expected[i])
        told.append(words.reading(element, _name(element, rules), one.ppm, one.noise_sd, expected))
    return told


def _reasons(
    look: Look,
    follower: Follower,
    rules: Rules,
    call: str,
    suspects: Sequence[Suspect],
    weights: Sequence[side_records.Weight | None],
    sources: Sequence[SourceRate],
    over: tuple[str, float] | None,
) -> tuple[Reason, ...]:
    odd = [_other_oil(look.other_oil, rules)] if look.other_oil else []
    found = odd if call in (RUN, SHORT) else []
    for suspect in suspects:
        phrase = rules.words.of(_material_group(suspect, follower))
        carried = _carried(look, suspect, rules)
        rate, normal = _told_rate(suspect, sources)
        text = words.rate_text(phrase.what, suspect.name if suspect.parts else "", rate, normal, carried)
        if len(suspect.members) > 1:
            text += " These parts cannot be told apart by what was measured."
        found.append(
            Reason(suspect.name, suspect.parts, _kind(look, suspect), text, suspect.probability,
                   "; then ".join(phrase.look), _would_change(look, suspect, rules))
        )  # fmt: skip
    found += odd if call not in (RUN, SHORT) else []
    found += [weight.reason for weight in weights if weight]
    if over:
        found.append(_over_ceiling(look, over, rules))
    if look.interval.leaded and "Pb" in look.observed and look.observed["Pb"].ppm > 10:
        found.append(_leaded(look, rules))
    return tuple(found)


def _told_rate(suspect: Suspect, sources: Sequence[SourceRate]) -> tuple[float, float]:
    """Rate and normal rate to speak of [mg/h]: those of the split where it reports the same parts, so that a page never
    says two numbers for one thing; else those of the evidence."""
    for rate in sources:
        same = set(rate.parts) == set(suspect.parts) if suspect.parts else rate.source == suspect.name
        if same and rate.rate_mg_h > 1.2 * (rate.normal_mg_h or 0.0):
            return rate.rate_mg_h, rate.normal_mg_h or 0.0
    return suspect.normal + suspect.extra, suspect.normal


def _kind(look: Look, suspect: Suspect) -> str:
    if suspect.kind in (DUST, COOLANT):
        return "pattern"
    since = float(look.evidence.since_h[suspect.members[0]])
    return "sequence" if since > 1.5 * max(look.interval.hours, 1e-6) else "rate"


def _would_change(look: Look, suspect: Suspect, rules: Rules) -> str:
    column = look.sources.fractions[:, list(suspect.members)].mean(axis=1)
    sd = np.sqrt(np.maximum(look.surprise.covariance.diagonal(), 1e-12))
    read = np.array([e in look.observed for e in look.sources.elements])
    if not read.any():
        return ""
    i = int(np.argmax(np.where(read, column * np.maximum(look.surprise.difference, 0.0) / sd, -1.0)))
    element = look.sources.elements[i]
    return words.second_bottle(_name(element, rules), float(look.surprise.expected[i] + 1.645 * sd[i]))


def _other_oil(name: str, rules: Rules) -> Reason:
    phrase = rules.words.of("other oil")
    text = "The additives do not fit the oil in the log: another oil, a mixed bottle, or a change nobody wrote down."
    if name != ANOTHER_OIL:
        text += f" Of the oils on this bench, {name} comes nearest."
    change = "A second bottle from the same engine whose additives fit."
    return Reason("other oil", (), "pattern", text, None, "; then ".join(phrase.look), change)


def _leaded(look: Look, rules: Rules) -> Reason:
    ppm = words.amount(look.observed["Pb"].ppm)
    known = "the run log says leaded fuel" if not look.lead_unsaid else (
        "no fuel is on record, and so much lead from the first sample on is taken for leaded fuel"
    )  # fmt: skip
    text = f"Lead {ppm} ppm: {known}, so lead says nothing about bearings here."
    return Reason("fuel lead", (), "pattern", text, None, rules.words.of("fuel lead").look[0], "")


def _explained(look: Look, fading: Fading) -> set[str]:
    """Elements that have another origin on record: lead of leaded fuel, copper and silicon while they die away."""
    found = {"Pb"} if look.interval.leaded else set()
    for nuisance, shed, sd in fading:
        if shed > NINETY * sd:
            found |= {e for e, d in zip(look.sources.elements, nuisance.direction, strict=True) if d > 0}
    return found


def over_ceiling(look: Look, follower: Follower, rules: Rules) -> tuple[str, float] | None:
    """(element, ceiling [ppm]) that stands furthest over what this build's break-in reached, beyond reading noise.

    Left out is what has another origin on record: lead while leaded fuel is burnt, copper while a cooler leaches. While
    the oil of the break-in sample is still in, break-in goes on: what it will reach is not known yet."""
    if look.sample.break_in or look.other_oil or follower.drains == follower.ceiling_drains:
        return None
    explained = _explained(look, _fading(look, follower))
    best: tuple[float, str, float] | None = None
    for element, one in look.observed.items():
        if element in explained or element not in look.sources.elements or one.qualifier == "<":
            continue
        ceiling = _ceiling(look, follower, element)
        if ceiling is None:
            continue
        noise = math.hypot(one.noise_sd, look.ceiling[element].noise_sd)
        share = one.ppm / ceiling
        clear = one.ppm - ceiling >= rules.number("table", "ceiling_sigma") * noise
        if clear and share >= rules.number("table", "ceiling_look") and (best is None or share > best[0]):
            best = (share, element, ceiling)
    return None if best is None else (best[1], best[2])


def _over_ceiling(look: Look, over: tuple[str, float], rules: Rules) -> Reason:
    element, ceiling = over
    name, ppm = _name(element, rules), look.observed[element].ppm
    own = look.ceiling[element].ppm
    lifted = f", lifted from {words.amount(own)} ppm to the noise floor" if ceiling > 1.05 * own else ""
    reached = f"what this build's own break-in reached ({words.amount(ceiling)} ppm{lifted})"
    text = f"{name.capitalize()} reads {words.amount(ppm)} ppm, {ppm / ceiling:.1f} times {reached}."
    return Reason(element, (), "ceiling", text, None, "", words.second_bottle(name, ceiling))


def _side(look: Look, follower: Follower, rules: Rules, book: Book) -> Sequence[side_records.Weight | None]:
    """Filter cuts since the last sample, leak-downs and oil pressures so far, as known when this sample was taken."""
    now, since = look.sample.build_h, book.last_h
    book.last_h = now
    return side_records.weights(follower.build, follower.fleet.materials, since, now + 1e-6, rules)


def _unknowns(look: Look, rules: Rules, unseen: Unseen) -> tuple[str, ...]:
    told = list(look.unknowns)
    if not look.ceiling_own:
        told.append("what this build shed in break-in: no break-in sample, so it has no ceiling of its own")
    if look.sample.oil_h is None and look.sample.fill == "":
        told.append("which fill the sample is from")
    if look.sample.before_top_up is None:
        told.append("whether it was drawn before a top-up")
    share, least = rules.number("next", "share"), rules.number("next", "least_h")
    # what would fail before this bench could have seen it
    hidden = [rate.source for rate, hours in unseen if rate.seen_from_mg_h and share * hours < least]
    if hidden:
        told.append(f"{', '.join(hidden)}: what was measured cannot show their wear in time")
    if look.interval.leaded:
        told.append("what the bearings add to the lead: the fuel hides it")
    return tuple(told)


# --- when to sample again -------------------------------------------------------------------------------------------


def _next_sample(call: str, rules: Rules, unseen: Unseen) -> float:
    """Hours to the next sample: a fault that doubles every few hours must not go from unseen to failed in one stint."""
    if call != RUN:
        return rules.number("next", "stint_h")
    least, most, share = (rules.number("next", name) for name in ("least_h", "most_h", "share"))
    # a source that would fail unseen whatever the stint is no reason to sample more often: it is named as unknown
    hours = min((share * h for _, h in unseen if share * h >= least), default=most)
    return round(2.0 * min(hours, most)) / 2.0


def _unseen(sources: Sequence[SourceRate], groups: Clusters, follower: Follower, rules: Rules) -> Unseen:
    """For each part (or group of parts) the hours from the smallest rate that this bench sees to failure, for a fault
    that keeps doubling; none where nothing would be seen."""
    doubling = rules.number("next", "doubling_h")
    usual = rules.number("next", "loss_mg_l") * follower.mass / rules.oil_density_kg_l
    layer_share = rules.number("next", "layer_share")
    found = []
    for rate in sources:
        if rate.parts:
            hours = 0.0
            if rate.seen_from_mg_h is not None:
                loss = min(usual, layer_share * groups.layer_mg[rate.parts])
                seen = max(rate.seen_from_mg_h, 1e-6)
                hours = doubling * math.log2(1.0 + loss * math.log(2.0) / (seen * doubling))
            found.append((rate, hours))
    return found


def _layer_mg(parts: Sequence[str], follower: Follower) -> float:
    """Metal in the thinnest layer of these parts [mg], those left out that may go; infinite where none is known."""
    least = math.inf
    for part in follower.build.parts:
        material = follower.fleet.materials.get(part.material)
        thick = part.thickness_um if part.thickness_um and part.thickness_um >= THINNEST_UM else None
        if part.name in parts and part.area_cm2 and thick and material and material.density_g_cm3:
            least = min(least, part.area_cm2 * thick * material.density_g_cm3 * 0.1)
    return least
