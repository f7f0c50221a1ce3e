"""The reasons of a call, in words that can be acted on."""

from __future__ import annotations

import math
from collections.abc import Sequence, Set

import numpy as np

from benchapp.records import CALL_WORDS, Reason, SourceRate
from benchapp.wear import side_records, words
from benchapp.wear.interval_rates import hours_of
from benchapp.wear.look import Look
from benchapp.wear.other_oil import ANOTHER_OIL
from benchapp.wear.pointing import holders
from benchapp.wear.rules import Rules
from benchapp.wear.sources import COOLANT, DUST
from benchapp.wear.suspect import Suspect, may_be_fuel

RUN, SHORT, *_ = CALL_WORDS


Weights = Sequence[side_records.Weight | None]


def looks_at(suspects: Sequence[Suspect], weights: Weights, side_first: bool, rules: Rules) -> tuple[str, ...]:
    """Where to look: for the likeliest suspect, else for what the side records say. `side_first`: these before it."""
    told = tuple(weight.reason.look for weight in heaviest_first(weights) if weight.reason.look)
    looks = rules.words.of(suspects[0].phrase).look if suspects else ()
    return tuple(dict.fromkeys((*told, *looks))) if side_first else looks or told


def strongest(
    look: Look,
    suspects: Sequence[Suspect],
    weights: Weights,
    side_first: bool,
    over: tuple[str, float] | None,
    rules: Rules,
) -> str:
    """What the sentence of a call graver than Run names, or empty."""
    told = [weight.reason.text.rstrip(".") for weight in heaviest_first(weights)]
    if look.other_oil and not side_first:
        return rules.words.of("other oil").what
    if suspects and not side_first:
        what = rules.words.of(suspects[0].phrase).what
        return f"{what} ({suspects[0].name})" if suspects[0].parts else what
    if told:
        return told[0][:1].lower() + told[0][1:]
    return words.over_ceiling(_name(over[0], rules)) if over else ""


def rivals_of(suspects: Sequence[Suspect]) -> tuple[str, ...]:
    """What is named beside the likeliest: at least half as likely, where that is not likelier than all of it."""
    first = suspects[0].probability if suspects else 0.0
    found = [one for one in suspects[1:] if one.probability >= first / 2.0]
    return tuple(one.name for one in found) if sum(one.probability for one in found) >= first else ()


def little(suspects: Sequence[Suspect], over: tuple[str, float] | None, rules: Rules) -> str:
    """What the sentence of a Run names: what is a little up and why that is not enough; empty where nothing is."""
    if suspects:
        return words.a_little(suspects[0].name, bool(suspects[0].parts))
    return words.over_but_expected(_name(over[0], rules)) if over else ""


def heaviest_first(weights: Weights) -> list[side_records.Weight]:
    """What the side records say, the gravest first."""
    return sorted((weight for weight in weights if weight), key=lambda weight: -CALL_WORDS.index(weight.call))


def side_bears(look: Look, word: str, call: str, suspects: Sequence[Suspect], weights: Weights, rules: Rules) -> bool:
    """Whether the call stands on filter cuts, leak-downs or pressures before all else: they raised it (`word` is what
    the metals ask for), by themselves or with no suspicion beside them."""
    if word == call:
        return False
    alone = any(weight and weight.call == call for weight in weights)
    return alone or not suspects or _below_stint(look, rules)


def doubt_of(look: Look, rules: Rules) -> str:
    """What is not believed of a sample, where that alone asks for another: in the words of the call's sentence; or
    empty."""
    if look.other_oil or not look.metal_unsure or not _below_stint(look, rules):
        return ""
    if look.dregs:
        return "this bottle is from the sump's bottom or the filter, where metal settles"
    return f"{_name(look.wild, rules)} was misread"


def bottle_steps(look: Look) -> tuple[str, ...]:
    """What to do about a bottle, or one reading of it, that is not believed."""
    steps = [words.MIDSTREAM] if look.dregs else []
    if look.wild:
        steps.append(f"Measure this bottle again: {words.read_alone(look.wild, look.observed[look.wild].ppm)}.")
    return tuple(steps)


def _below_stint(look: Look, rules: Rules) -> bool:
    """Whether no fault is likely enough to ask for another sample."""
    return float(look.evidence.probability.sum()) < rules.number("table", "stint_probability")


def _name(element: str, rules: Rules) -> str:
    """The element's name as it stands inside a sentence."""
    known = rules.elements.get(element)
    return known.name.lower() if known else element


def _carried(look: Look, suspect: Suspect, rules: Rules) -> tuple[list[str], bool]:
    """The readings that carry a suspicion, in words: up to three elements by how far they stand out. Where none does by
    itself, the one that does most, and True."""
    column = look.sources.fractions[:, list(suspect.members)].mean(axis=1)
    sd = np.sqrt(np.maximum(look.surprise.covariance.diagonal(), 1e-12))
    weight = column * np.maximum(look.surprise.difference, 0.0) / sd
    told = []
    for i in np.argsort(-weight)[:3]:
        element = look.sources.elements[i]
        one = look.observed.get(element)
        if one is None or weight[i] < 0.02 * float(weight.max(initial=0.0)) or look.surprise.difference[i] < sd[i]:
            continue
        told.append(_read(look, int(i), rules))
    if told:
        return told, False
    loudest = _loudest(look, suspect)
    return ([], False) if loudest is None else ([_read(look, loudest, rules)], True)


def _read(look: Look, i: int, rules: Rules) -> str:
    """The reading of an element (its place) beside what was expected, in words."""
    element = look.sources.elements[i]
    one, expected = look.observed[element], float(look.surprise.expected[i])
    # the paper's last figure is part of the error; half a limit's width is not
    sd = one.noise_sd if one.qualifier else math.sqrt(one.variance)
    return words.reading(element, _name(element, rules), one.ppm, sd, expected)


def reasons_of(
    look: Look,
    call: str,
    suspects: Sequence[Suspect],
    weights: Weights,
    side_first: bool,
    sources: Sequence[SourceRate],
    over: tuple[str, float] | None,
    rules: Rules,
) -> tuple[Reason, ...]:
    """All reasons, the weightiest first. `over`: element and ceiling of what stands over it. `side_first`: the call
    stands on the side records before all else."""
    odd = [_other_oil(look.other_oil, rules)] if look.other_oil else []
    side = [weight.reason for weight in heaviest_first(weights)]
    # one limit for one element on one page: that of what made the call
    by_ceiling = over is not None and call == SHORT and _below_stint(look, rules)
    asked = {over[0]} if over and by_ceiling else set()
    suspected = [_suspected(look, suspect, call, sources, asked, rules) for suspect in suspects]
    doubted = _doubted(look, rules) if call != RUN and look.metal_unsure else []
    if doubted and _below_stint(look, rules):
        suspected = [*doubted, *suspected]
    else:
        suspected += doubted
    found = [*odd, *suspected] if call in (RUN, SHORT) else [*suspected, *odd]
    found = [*side, *found] if side_first else [*found, *side]
    if over:
        asked = set() if by_ceiling else {_asks_for(look, suspect, rules) for suspect in suspects}
        found.append(_over_ceiling(look, over, asked, rules))
    if look.interval.leaded and "Pb" in look.observed and look.observed["Pb"].ppm > 10:
        found.append(_leaded(look, rules))
    return tuple(found)


def _suspected(
    look: Look, suspect: Suspect, call: str, sources: Sequence[SourceRate], asked: Set[str], rules: Rules
) -> Reason:
    """`asked`: elements for which another reason names the limit of a second bottle."""
    phrase = rules.words.of(suspect.phrase)
    rate, normal = _told_rate(suspect, sources)
    carried, together = _carried(look, suspect, rules)
    if call == RUN:
        text = words.little_text(suspect.name, bool(suspect.parts), [] if together else carried)
    else:
        name = suspect.name if suspect.parts else ""
        text = words.rate_text(phrase.what, name, rate, normal, carried, together)
    if len(suspect.parts) > 1:
        text += " These parts cannot be told apart by what was measured."
    change = "" if _asks_for(look, suspect, rules) in asked else _would_change(look, suspect, rules)
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


def _asks_for(look: Look, suspect: Suspect, rules: Rules) -> str:
    """The element that a second bottle is asked for by a suspicion, or empty."""
    i = None if may_be_fuel(suspect.members[0], look, rules) else _loudest(look, suspect)
    return "" if i is None else look.sources.elements[i]


def _loudest(look: Look, suspect: Suspect) -> int | None:
    """Place of the element that was read and stands out most for a suspicion; None where none was read."""
    column = look.sources.fractions[:, list(suspect.members)].mean(axis=1)
    sd = np.sqrt(np.maximum(look.surprise.covariance.diagonal(), 1e-12))
    read = np.array([e in look.observed for e in look.sources.elements])
    if not read.any():
        return None
    return int(np.argmax(np.where(read, column * np.maximum(look.surprise.difference, 0.0) / sd, -1.0)))


def _would_change(look: Look, suspect: Suspect, rules: Rules) -> str:
    i = _loudest(look, suspect)
    if i is None:
        return ""
    sd = math.sqrt(max(float(look.surprise.covariance[i, i]), 1e-12))
    name = _name(look.sources.elements[i], rules)
    return words.second_bottle(name, float(look.surprise.expected[i]) + 1.645 * sd)


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


def _over_ceiling(look: Look, over: tuple[str, float], asked: Set[str], rules: Rules) -> Reason:
    """`asked`: elements for which another reason names the limit of a second bottle."""
    element, ceiling = over
    name, ppm = _name(element, rules), look.observed[element].ppm
    own = look.ceiling[element].ppm
    lifted = f", lifted from {words.amount(own)} ppm to the noise floor" if ceiling > 1.05 * own else ""
    reached = f"what this build's own break-in reached ({words.amount(ceiling)} ppm{lifted})"
    text = f"{name.capitalize()} reads {words.amount(ppm)} ppm, {ppm / ceiling:.1f} times {reached}."
    change = "" if element in asked else words.second_bottle(name, ceiling)
    return Reason(*holders(look, element), "ceiling", text, None, "", change, element)


def _doubted(look: Look, rules: Rules) -> list[Reason]:
    """Why a bottle, or one reading of it, is not believed: what asks for another."""
    found = []
    if look.dregs:
        most = _stands_out(look, rules)
        seen = f" Most of all {_read(look, most, rules)}." if most is not None else ""
        text = f"All metals are up together, as in a bottle from where metal settles.{seen}"
        source, parts = holders(look, look.sources.elements[most or 0])
        found.append(Reason(source, parts, "other", text, None, words.MIDSTREAM, words.AGREES, "bottle"))
    if look.wild:
        i = look.sources.elements.index(look.wild)
        text = f"One reading stands alone and far from the rest, and is not believed yet: {_read(look, i, rules)}."
        source, parts = holders(look, look.wild)
        found.append(Reason(source, parts, "other", text, None, words.AGAIN, words.AGREES, look.wild))
    return found


def _stands_out(look: Look, rules: Rules) -> int | None:
    """Place of the metal that is furthest over what was expected; None where none was read."""
    sd = np.sqrt(np.maximum(look.surprise.covariance.diagonal(), 1e-12))
    metal = [e in look.observed and rules.elements[e].role == "wear" for e in look.sources.elements]
    read = np.array(metal) & ~look.hidden
    return int(np.argmax(np.where(read, look.surprise.difference / sd, -np.inf))) if read.any() else None
