"""From a look at a sample to the record of its call: rates per source and element, ceiling, trend, ledger, words.

The decision (which call, which suspects) is made in `decide`; here it is written out so that it can be acted on.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from benchapp.records import CALL_WORDS, Call, ElementRate, Reason, SourceRate
from benchapp.wear import side_records, words
from benchapp.wear.follow import Follower, Look
from benchapp.wear.ledger import NINETY, Ledger
from benchapp.wear.rules import Rules
from benchapp.wear.sources import COOLANT, DUST, LEACHING, WEAR, alike
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


@dataclass(slots=True)
class Book:
    """What the report remembers of a build from sample to sample."""

    ledger: Ledger = field(default_factory=Ledger)
    hours: list[float] = field(default_factory=list)
    totals: list[float] = field(default_factory=list)
    """Severity-free total wear rate [mg/h]."""
    last_h: float = -1.0


def write(look: Look, follower: Follower, rules: Rules, call: str, suspects: Sequence[Suspect], book: Book) -> Call:
    """The whole record. `call` is what the spectrometer asks for; filter cuts and leak-downs may raise it."""
    strange = bool(look.other_oil)
    severity = None if strange else _severity(look, follower)
    found = None if strange else _split(look, follower, suspects, severity or 1.0)
    sources = () if found is None else _source_rates(look, follower, found)
    elements = _element_rates(look, follower, found)
    weights = _side(look, follower, rules, book)
    call = side_records.raised(call, *weights)
    reasons = _reasons(look, follower, rules, call, suspects, weights, sources)
    ceiling = _ceiling_share(look, follower, elements)
    if found is not None:
        _remember(look, follower, found, sources, severity or 1.0, book)
    next_h = _next_sample(call, look, follower, rules, sources)
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
        unknowns=_unknowns(look, follower, rules, sources),
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


def _measured(look: Look, follower: Follower) -> tuple[Array, Array]:
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


def _severity(look: Look, follower: Follower) -> float | None:
    """How hard it was run: one factor on all wear, robust against a single part that sheds more [-]; None: not seen."""
    rate, sd = _measured(look, follower)
    expected = look.interval.expected_mg / _hours(look)
    wear = np.array([e not in NOT_WEAR for e in look.sources.elements], dtype=bool)
    use = wear & np.isfinite(rate) & (expected > 0.2 * sd) & (expected > 0)
    if not use.any():
        return None
    ratio = rate[use] / expected[use]
    spread = np.hypot(sd[use] / expected[use], follower.rules.number("spread", "source"))
    factor, own = 1.0, 1.0 / SEVERITY_SD**2
    weight = 1.0 / spread**2
    for _ in range(6):
        factor = float((np.sum(weight * ratio) + own) / (np.sum(weight) + own))
        far = np.abs(ratio - factor) / spread
        weight = np.minimum(1.0, 1.5 / np.maximum(far, 1e-9)) / spread**2
    if float(np.sum(weight)) < own:
        return None  # the prior would speak, not the sample
    return min(max(factor, 0.2), 5.0)


def _profiles(look: Look, follower: Follower) -> list[tuple[Nuisance, float, float]]:
    """(what dies away, rate in this interval [mg/h], its sd) for sealant and leaching."""
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


def _split(look: Look, follower: Follower, suspects: Sequence[Suspect], severity: float) -> Split:
    """Source split of this interval; what was normal, and what is suspected, hold apart what elements cannot."""
    rate, sd = _measured(look, follower)
    for nuisance, shed, error in _profiles(look, follower):
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


def clusters(look: Look, follower: Follower) -> list[tuple[int, ...]]:
    """Columns in groups: parts that the measured elements cannot tell apart, and each non-wear origin as one."""
    same = alike(look.sources, follower.additive, follower.rules.number("table", "alike"))
    left, found = list(range(len(look.sources.names))), []
    while left:
        first = left[0]
        kind, name = look.sources.kinds[first], look.sources.names[first]
        if kind in (WEAR, LEACHING):
            group = [j for j in left if j == first or same[first, j]]
        else:
            group = [j for j in left if look.sources.names[j] == name]
        found.append(tuple(group))
        left = [j for j in left if j not in group]
    return found


def _source_rates(look: Look, follower: Follower, found: Split) -> tuple[SourceRate, ...]:
    swing = math.hypot(follower.spread.severity, follower.spread.source)
    rates = []
    for group in clusters(look, follower):
        pick = list(group)
        x = float(found.x[pick].sum())
        sd = math.sqrt(max(float(found.covariance[np.ix_(pick, pick)].sum()), 0.0))
        parts = tuple(part.name for j in group for part in look.sources.parts[j])
        normal = float(look.normal[pick].sum())
        if not parts and x < NINETY * sd:
            continue
        rates.append(
            SourceRate(
                source=" + ".join(parts) if parts else look.sources.names[group[0]],
                parts=parts,
                rate_mg_h=x,
                low_mg_h=max(x - NINETY * sd, 0.0),
                high_mg_h=x + NINETY * sd,
                normal_mg_h=normal,
                normal_low_mg_h=normal * math.exp(-NINETY * swing),
                normal_high_mg_h=normal * math.exp(NINETY * swing),
                seen_from_mg_h=_seen_from(look, pick),
            )
        )
    for nuisance, shed, sd in _profiles(look, follower):
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


def _seen_from(look: Look, pick: list[int]) -> float | None:
    """Smallest extra rate that this interval would have shown in nine of ten cases [mg/h]."""
    read = np.array([e in look.observed for e in look.sources.elements])
    if look.interval.hours <= 0 or not read.any():
        return None
    a = look.sources.fractions[:, pick].mean(axis=1)[read] * look.interval.hours / look.interval.mass_kg
    covariance = look.surprise.covariance[np.ix_(read, read)]
    information = float(a @ np.linalg.solve(covariance, a))
    return SEEN_Z / math.sqrt(information) if information > 0 else None


def _element_rates(look: Look, follower: Follower, found: Split | None) -> tuple[ElementRate, ...]:
    swing = math.hypot(follower.spread.severity, follower.spread.source)
    rate, sd = _measured(look, follower)
    lines = []
    for i, element in enumerate(look.sources.elements):
        one = look.observed.get(element)
        if one is None:
            continue
        known = found is not None and math.isfinite(float(rate[i]))
        normal = max(float(look.rate[i]), 0.0) if known else None
        lines.append(
            ElementRate(
                element=element,
                ppm=one.limit if one.qualifier == "<" else one.ppm,
                qualifier=one.qualifier,
                rate_mg_h=float(rate[i]) if known else None,
                rate_se_mg_h=float(sd[i]) if known else None,
                ceiling_ppm=_ceiling(look, follower, element),
                unexplained_mg_h=float(found.rest[i]) if found is not None and known else None,
                normal_mg_h=normal,
                normal_low_mg_h=None if normal is None else normal * math.exp(-NINETY * swing),
                normal_high_mg_h=None if normal is None else normal * math.exp(NINETY * swing),
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


def _ceiling_share(look: Look, follower: Follower, lines: Sequence[ElementRate]) -> tuple[float | None, str]:
    """Largest reading over its ceiling, and of which element. The break-in sample itself has none."""
    if look.sample.break_in or look.other_oil:
        return None, ""
    explained = _explained(look, follower)
    shares = {
        line.element: line.ppm / line.ceiling_ppm
        for line in lines
        if line.ceiling_ppm and line.ppm is not None and line.qualifier != "<" and line.element not in explained
    }
    if not shares:
        return None, ""
    top = max(shares, key=lambda element: shares[element])
    return shares[top], top


def _remember(
    look: Look, follower: Follower, found: Split, sources: Sequence[SourceRate], severity: float, book: Book
) -> None:
    hours = look.interval.hours
    if hours <= 0:
        return
    names = {part.name: part for part in follower.build.parts}
    for rate in sources:
        if rate.parts:
            parts = tuple(names[name] for name in rate.parts if name in names)
            sd = (rate.high_mg_h - rate.low_mg_h) / (2 * NINETY)
            book.ledger.add(rate.source, parts, rate.rate_mg_h, sd, hours)
    if not look.interval.run_in:
        book.hours.append(look.sample.build_h)
        book.totals.append(sum(rate.rate_mg_h for rate in sources if rate.parts) / severity)


def _direction(book: Book) -> str:
    """Where the severity-free wear is going, over the last intervals."""
    slope = theil_sen(np.array(book.hours[-LAST:]), np.array(book.totals[-LAST:]), confidence=0.98)
    if slope is None or len(book.totals) < 4:
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


def _carried(look: Look, suspect: Suspect, names: Mapping[str, str]) -> list[str]:
    """The readings that carry a suspicion, in words: up to three elements by how far they stand out."""
    column = look.sources.fractions[:, list(suspect.members)].mean(axis=1)
    sd = np.sqrt(np.maximum(np.diag(look.surprise.covariance), 1e-12))
    weight = column * np.maximum(look.surprise.difference, 0.0) / sd
    told = []
    for i in np.argsort(-weight)[:3]:
        element = look.sources.elements[i]
        one = look.observed.get(element)
        if one is None or weight[i] < 0.02 * float(weight.max(initial=0.0)) or look.surprise.difference[i] < sd[i]:
            continue
        name = names.get(element, element)
        told.append(words.reading(element, name, one.ppm, one.noise_sd, float(look.surprise.expected[i])))
    return told


def _reasons(
    look: Look,
    follower: Follower,
    rules: Rules,
    call: str,
    suspects: Sequence[Suspect],
    weights: Sequence[side_records.Weight | None],
    sources: Sequence[SourceRate],
) -> tuple[Reason, ...]:
    names = {symbol: element.name.lower() for symbol, element in rules.elements.items()}
    odd = [_other_oil(rules)] if look.other_oil else []
    found = odd if call in (RUN, SHORT) else []
    for suspect in suspects:
        phrase = rules.words.of(_material_group(suspect, follower))
        carried = _carried(look, suspect, names)
        rate, normal = _told_rate(suspect, sources)
        text = words.rate_text(phrase.what, suspect.name if suspect.parts else "", rate, normal, carried)
        if len(suspect.members) > 1:
            text += " These parts cannot be told apart by what was measured."
        found.append(
            Reason(suspect.name, suspect.parts, _kind(look, suspect), text, suspect.probability,
                   "; then ".join(phrase.look), _would_change(look, suspect, names))
        )  # fmt: skip
    found += odd if call not in (RUN, SHORT) else []
    found += [weight.reason for weight in weights if weight]
    over = _over_ceiling(look, follower, rules, names)
    if over:
        found.append(over)
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


def _would_change(look: Look, suspect: Suspect, names: Mapping[str, str]) -> str:
    column = look.sources.fractions[:, list(suspect.members)].mean(axis=1)
    sd = np.sqrt(np.maximum(np.diag(look.surprise.covariance), 1e-12))
    read = np.array([e in look.observed for e in look.sources.elements])
    if not read.any():
        return ""
    i = int(np.argmax(np.where(read, column * np.maximum(look.surprise.difference, 0.0) / sd, -1.0)))
    element = look.sources.elements[i]
    return words.second_bottle(names.get(element, element), float(look.surprise.expected[i] + 1.645 * sd[i]))


def _other_oil(rules: Rules) -> Reason:
    phrase = rules.words.of("other oil")
    text = "The additives do not fit the oil in the log: another oil, a mixed bottle, or a change nobody wrote down."
    change = "A second bottle from the same engine whose additives fit."
    return Reason("other oil", (), "pattern", text, None, "; then ".join(phrase.look), change)


def _leaded(look: Look, rules: Rules) -> Reason:
    ppm = words.amount(look.observed["Pb"].ppm)
    text = f"Lead {ppm} ppm: the run log says leaded fuel, so lead says nothing about bearings here."
    return Reason("fuel lead", (), "pattern", text, None, rules.words.of("fuel lead").look[0], "")


def _explained(look: Look, follower: Follower) -> set[str]:
    """Elements that have another origin on record: lead of leaded fuel, copper and silicon while they die away."""
    found = {"Pb"} if look.interval.leaded else set()
    for nuisance, shed, sd in _profiles(look, follower):
        if shed > NINETY * sd:
            found |= {e for e, d in zip(look.sources.elements, nuisance.direction, strict=True) if d > 0}
    return found


def over_ceiling(look: Look, follower: Follower, rules: Rules) -> tuple[str, float] | None:
    """(element, ceiling [ppm]) that stands furthest over what this build's break-in reached, beyond reading noise.

    Left out is what has another origin on record: lead while leaded fuel is burnt, copper while a cooler leaches."""
    if look.sample.break_in or look.other_oil:
        return None
    explained = _explained(look, follower)
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


def _over_ceiling(look: Look, follower: Follower, rules: Rules, names: Mapping[str, str]) -> Reason | None:
    found = over_ceiling(look, follower, rules)
    if found is None:
        return None
    element, ceiling = found
    name, ppm = names.get(element, element), look.observed[element].ppm
    own = look.ceiling[element].ppm
    lifted = f", lifted from {words.amount(own)} ppm to the noise floor" if ceiling > 1.05 * own else ""
    reached = f"what this build's own break-in reached ({words.amount(ceiling)} ppm{lifted})"
    text = f"{name.capitalize()} reads {words.amount(ppm)} ppm, {ppm / ceiling:.1f} times {reached}."
    return Reason(element, (), "ceiling", text, None, "", words.second_bottle(name, ceiling))


def _side(look: Look, follower: Follower, rules: Rules, book: Book) -> list[side_records.Weight | None]:
    """Filter cuts since the last sample and leak-downs so far, as known when this sample was taken."""
    now = look.sample.build_h + 1e-6
    cuts = [cut for cut in follower.build.filter_cuts if book.last_h < cut.build_h <= now]
    tests = [test for test in follower.build.leak_downs if test.build_h <= now]
    book.last_h = look.sample.build_h
    return [side_records.filter_weight(cuts, rules), side_records.leak_weight(tests, rules)]


def _never_seen(follower: Follower, rules: Rules, sources: Sequence[SourceRate]) -> list[str]:
    """Sources that would fail before this bench could have seen them."""
    share, least = rules.number("next", "share"), rules.number("next", "least_h")
    return [
        rate.source
        for rate in sources
        if rate.parts and rate.seen_from_mg_h and share * _unseen_h(rate, follower, rules) < least
    ]


def _unknowns(look: Look, follower: Follower, rules: Rules, sources: Sequence[SourceRate]) -> tuple[str, ...]:
    told = list(look.unknowns)
    if not look.ceiling_own:
        told.append("what this build shed in break-in: no break-in sample, so it has no ceiling of its own")
    if look.sample.oil_h is None and look.sample.fill == "":
        told.append("which fill the sample is from")
    if look.sample.before_top_up is None:
        told.append("whether it was drawn before a top-up")
    hidden = _never_seen(follower, rules, sources)
    if hidden:
        told.append(f"{', '.join(hidden)}: what was measured cannot show their wear in time")
    if look.interval.leaded:
        told.append("what the bearings add to the lead: the fuel hides it")
    return tuple(told)


# --- when to sample again -------------------------------------------------------------------------------------------


def _next_sample(call: str, look: Look, follower: Follower, rules: Rules, sources: Sequence[SourceRate]) -> float:
    """Hours to the next sample: a fault that doubles every few hours must not go from unseen to failed in one stint."""
    if call != RUN:
        return rules.number("next", "stint_h")
    least, most = rules.number("next", "least_h"), rules.number("next", "most_h")
    stints = [rules.number("next", "share") * _unseen_h(rate, follower, rules) for rate in sources if rate.parts]
    # a source that would fail unseen whatever the stint is no reason to sample more often: it is named as unknown
    hours = min((stint for stint in stints if stint >= least), default=most)
    return round(2.0 * min(hours, most)) / 2.0


def _unseen_h(rate: SourceRate, follower: Follower, rules: Rules) -> float:
    """Hours from the smallest rate that this bench sees to failure, for a fault that keeps doubling."""
    if rate.seen_from_mg_h is None:
        return 0.0
    doubling = rules.number("next", "doubling_h")
    loss = _loss_to_failure(rate, follower, rules)
    return doubling * math.log2(1.0 + loss * math.log(2.0) / (max(rate.seen_from_mg_h, 1e-6) * doubling))


def _loss_to_failure(rate: SourceRate, follower: Follower, rules: Rules) -> float:
    """Metal a source may lose before it counts as failed [mg]: half its thinnest layer, else a share of the sump."""
    usual = rules.number("next", "loss_mg_l") * follower.mass / rules.oil_density_kg_l
    layers = []
    for part in follower.build.parts:
        material = follower.fleet.materials.get(part.material)
        thick = part.thickness_um if part.thickness_um and part.thickness_um >= THINNEST_UM else None
        if part.name in rate.parts and part.area_cm2 and thick and material and material.density_g_cm3:
            whole = part.area_cm2 * thick * material.density_g_cm3 * 0.1
            layers.append(rules.number("next", "layer_share") * whole)
    return min([usual, *layers])
