"""The reasons of a call, in words that can be acted on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from benchapp.records import CALL_WORDS, Reason, SourceRate
from benchapp.wear import side_records, words
from benchapp.wear.interval_rates import hours_of
from benchapp.wear.look import Look
from benchapp.wear.other_oil import ANOTHER_OIL
from benchapp.wear.rules import Rules
from benchapp.wear.sources import COOLANT, DUST
from benchapp.wear.suspect import Suspect, may_be_fuel

RUN, SHORT, *_ = CALL_WORDS


def looks_at(
    suspects: Sequence[Suspect], weights: Sequence[side_records.Weight | None], rules: Rules
) -> tuple[str, ...]:
    """Where to look, for the likeliest suspect, else for what the side records say."""
    looks = rules.words.of(suspects[0].phrase).look if suspects else ()
    return looks or tuple(w.reason.look for w in weights if w and w.reason.look)


def strongest(
    suspects: Sequence[Suspect], weights: Sequence[side_records.Weight | None], strange: bool, rules: Rules
) -> str:
    """What the call's sentence names, or empty. `strange`: the sample is of another oil."""
    if strange:
        return rules.words.of("other oil").what
    if suspects:
        what = rules.words.of(suspects[0].phrase).what
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


def reasons_of(
    look: Look,
    call: str,
    suspects: Sequence[Suspect],
    weights: Sequence[side_records.Weight | None],
    sources: Sequence[SourceRate],
    over: tuple[str, float] | None,
    rules: Rules,
) -> tuple[Reason, ...]:
    """All reasons, the weightiest first. `over`: element and ceiling of what stands over it."""
    odd = [_other_oil(look.other_oil, rules)] if look.other_oil else []
    suspected = [_suspected(look, suspect, sources, rules) for suspect in suspects]
    found = [*odd, *suspected] if call in (RUN, SHORT) else [*suspected, *odd]
    found += [weight.reason for weight in weights if weight]
    if over:
        found.append(_over_ceiling(look, over, rules))
    if look.interval.leaded and "Pb" in look.observed and look.observed["Pb"].ppm > 10:
        found.append(_leaded(look, rules))
    return tuple(found)


def _suspected(look: Look, suspect: Suspect, sources: Sequence[SourceRate], rules: Rules) -> Reason:
    phrase = rules.words.of(suspect.phrase)
    rate, normal = _told_rate(suspect, sources)
    text = words.rate_text(
        phrase.what, suspect.name if suspect.parts else "", rate, normal, _carried(look, suspect, rules)
    )
    if len(suspect.members) > 1:
        text += " These parts cannot be told apart by what was measured."
    change = _would_change(look, suspect, rules)
    if may_be_fuel(suspect.members[0], look, rules):
        text += " Nobody has written down what fuel this build burns, and leaded fuel shows the same."
        change = "The fuel in the run log: with unleaded fuel lead is a bearing's, with leaded fuel it proves nothing."
    return Reason(
        suspect.name, suspect.parts, _kind(look, suspect), text, suspect.probability, "; then ".join(phrase.look),
        change,
    )  # fmt: skip


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
    return "sequence" if since > 1.5 * hours_of(look) else "rate"


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


def _over_ceiling(look: Look, over: tuple[str, float], rules: Rules) -> Reason:
    element, ceiling = over
    name, ppm = _name(element, rules), look.observed[element].ppm
    own = look.ceiling[element].ppm
    lifted = f", lifted from {words.amount(own)} ppm to the noise floor" if ceiling > 1.05 * own else ""
    reached = f"what this build's own break-in reached ({words.amount(ceiling)} ppm{lifted})"
    text = f"{name.capitalize()} reads {words.amount(ppm)} ppm, {ppm / ceiling:.1f} times {reached}."
    return Reason(element, (), "ceiling", text, None, "", words.second_bottle(name, ceiling))
