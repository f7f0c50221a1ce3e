"""What the oil itself bears on a call: a property over its limit, water, and a film that the oil no longer keeps.

The oil room judges the oil; here its verdict becomes reasons, and the call is raised by what stands in the call
table. A limit made for heavy diesels, or a film reckoned with a usual load, is told and raises nothing (see the table).
Coolant that the metals show already is not counted twice. Samples without an oil reading are left as they are.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from benchapp.oil.condition import OilLine, is_quiet
from benchapp.oil.sample import BearingFilm, SampleOil, oil_of_sample
from benchapp.records import CALL_WORDS, Call, Oil, Reason, Sample
from benchapp.wear.follow import Follower
from benchapp.wear.look import Look
from benchapp.wear.pointing import of_groups
from benchapp.wear.reasons import bottle_steps
from benchapp.wear.rules import Rules
from benchapp.wear.sources import COOLANT
from benchapp.wear.words import amount, before_out

RUN, SHORT, LOOK, _ = CALL_WORDS
OIL, WATER, FILM = "oil", "water in the oil", "oil film"
"""What the reasons are about, and keys of their phrases. Their sources are what the oil puts at risk, its bearings, and
for water the coolant: an oil that is done is no part and no other oil."""
WET = ("Water", "Glycol")
"""Properties that are marks of coolant as much as of the oil."""
VISCOSITIES = ("KV40", "KV100", "HTHS")


@dataclass(frozen=True, slots=True)
class OilWeight:
    """At least this call, for this reason. `what`: the reason in a few words, for the sentence of the call."""

    call: str
    reason: Reason
    what: str


def with_oil(call: Call, look: Look, follower: Follower, rules: Rules, kinds: Iterable[str]) -> Call:
    """The call with what its oil says: reasons, and the word where the oil asks for a graver one.

    `kinds`: kinds of source that the metals point to ('wear', 'dust', 'coolant')."""
    weights = oil_weights(look, follower, rules, kinds)
    if not weights:
        return call
    word = at_least(call.call, weights)
    reasons = tuple(weight.reason for weight in weights)
    if word == call.call:
        said = _run_sentence(call, weights) if word == RUN else call.sentence
        return replace(call, sentence=said, reasons=(*call.reasons, *reasons))
    first = next(weight for weight in weights if weight.call == word)
    next_h = rules.number("next", "stint_h")
    looks = rules.words.of(first.reason.topic).look
    todo = before_out(word, looks, next_h, bottle_steps(look))
    return replace(
        call,
        call=word,
        sentence=_raised_sentence(word, first.what, next_h),
        next_sample_h=next_h,
        reasons=(*reasons, *call.reasons),
        before_out=(f"{looks[0][:1].upper()}{looks[0][1:]}.", *todo) if word == SHORT else todo,
    )


def at_least(word: str, weights: Sequence[OilWeight]) -> str:
    """The graver of a call and what the oil asks for."""
    return max([word, *(weight.call for weight in weights)], key=CALL_WORDS.index)


def oil_weights(look: Look, follower: Follower, rules: Rules, kinds: Iterable[str]) -> tuple[OilWeight, ...]:
    """What the oil of a sample asks for, gravest first; () where nothing of it was read or all is fine.

    A bottle that does not hold this engine's oil says nothing of it."""
    oil = _oil_of(look.sample, follower)
    if oil is None or look.other_oil or look.bottle or not _speaks(oil, look.sample, follower, rules):
        return ()
    found = oil_of_sample(follower.fleet, follower.engine, follower.build, look.sample, rules.oil)
    if found is None:
        return ()
    wet, dry = _split(found.verdict.lines, rules)
    weights = []
    groups = rules.table["oil_pressure"]["groups"]
    _, bearings = of_groups(follower.build, follower.fleet.materials, groups)
    if dry:
        weights.append(_worn_oil(dry, found, rules, bearings))
    if wet:
        weights.append(_wet_oil(wet, rules, coolant=COOLANT in tuple(kinds)))
    thin = any(line.property in VISCOSITIES for line in dry)
    weights += [
        _thin_film(film, rules, bearings, sure=film.measured and thin) for film in found.films if film.lost
    ]
    return tuple(sorted(weights, key=lambda weight: -CALL_WORDS.index(weight.call)))


def _oil_of(sample: Sample, follower: Follower) -> Oil | None:
    fill = next((fill for fill in follower.build.fills if fill.name == sample.fill), None)
    return None if fill is None else follower.fleet.oils.get(fill.oil)


def _split(lines: Iterable[OilLine], rules: Rules) -> tuple[list[OilLine], list[OilLine]]:
    """Lines that are over their limit or near it: marks of coolant, and the rest without what the table leaves out."""
    left_out = rules.table["oil"]["not"]
    near = [line for line in lines if line.state in ("watch", "done") and line.property not in left_out]
    return [line for line in near if line.property in WET], [line for line in near if line.property not in WET]


def _speaks(oil: Oil, sample: Sample, follower: Follower, rules: Rules) -> bool:
    """Whether there may be something to say, found without the long reckoning."""
    read = {reading.measurand for reading in sample.readings}
    if follower.build.bearings and read & {"KV40", "KV100"}:
        return True
    left_out = rules.table["oil"]["not"]
    if read.isdisjoint(limit.property for limit in rules.oil.limits if limit.property not in left_out):
        return False
    return not is_quiet(oil, sample.readings, rules.oil.for_oil(oil)[0], left_out)


# --- reasons --------------------------------------------------------------------------------------------------------


def _call_of(line: OilLine, rules: Rules) -> str:
    """What a line asks for: by its own name in the table where it stands there."""
    table = rules.table["oil"]
    if line.state == "watch":
        return str(table["watch"])
    return str(table.get(line.name, table["done diesel" if line.diesel else "done"]))


def _worn_oil(lines: Sequence[OilLine], found: SampleOil, rules: Rules, bearings: Sequence[str]) -> OilWeight:
    told = sorted(lines, key=lambda line: (line.state != "done", -CALL_WORDS.index(_call_of(line, rules))))
    text = [_said(line) for line in told[:3]]
    fuel = found.verdict.fuel
    if fuel is not None and fuel.high_pct >= 1.0 and any(line.property in ("KV40", "KV100", "Fuel") for line in lines):
        text += [fuel.text, *fuel.other[1:]]
    if found.hours.first is not None and found.hours.first.hours > 0.0:
        text.append(found.hours.text)
    done = [line for line in told if line.state == "done"]
    names = ", ".join(line.name for line in (done or told)[:3])
    what = f"the oil is {'over its limit' if done else 'near its limit'} in {names}"
    change = "Fresh oil in the sump, or a second bottle that reads inside the limit."
    if fuel is not None and fuel.high_pct >= 1.0:
        change += " A fuel reading or the flash point tells fuel from sheared polymer."
    call = max((_call_of(line, rules) for line in lines), key=CALL_WORDS.index)
    look = "; then ".join(rules.words.of(OIL).look)
    return OilWeight(call, Reason(" + ".join(bearings), (), "other", " ".join(text), None, look, change, OIL), what)


def _said(line: OilLine) -> str:
    return f"{line.text[:1].upper()}{line.text[1:]} ({line.limit_text})."


def _wet_oil(lines: Sequence[OilLine], rules: Rules, *, coolant: bool) -> OilWeight:
    """Water or glycol: where the metals show coolant already, it is told beside it and raises nothing."""
    call = RUN if coolant else max((_call_of(line, rules) for line in lines), key=CALL_WORDS.index)
    text = " ".join(_said(line) for line in lines)
    if coolant:
        text += " It goes with the coolant that the metals show."
    what = f"{' and '.join(line.name for line in lines)} in the oil"
    look = "; then ".join(rules.words.of(WATER).look)
    change = "A second bottle, drawn hot, that is dry: cold running and a humid day leave water too."
    return OilWeight(call, Reason(COOLANT, (), "other", text, None, look, change, WATER), what)


def _thin_film(film: BearingFilm, rules: Rules, bearings: Sequence[str], *, sure: bool) -> OilWeight:
    """A film that the fresh oil kept over a limit and this oil does not.

    `sure`: sizes and load were measured and the viscosity is past its own warning; a film that stood just over its
    limit would else ask for a look at the first shaky reading."""
    lost = [line.text for line in film.now.lines if line.name in film.lost]
    call = str(rules.table["oil"]["film measured" if sure else "film usual"])
    text = f"{film.words()}. Lost against the fresh oil: {'; '.join(lost)}."
    if not film.measured:
        text += f" Load: {film.load_origin}."
    if film.grade is not None:
        text += f" {film.grade.short}."
    what = f"the oil no longer keeps the film of the {film.now.bearing.name} over its limit"
    look = "; then ".join(rules.words.of(FILM).look)
    change = "Fresh oil, a thicker grade, or a measured clearance and load that leave more film."
    own = [one for one in bearings if one.casefold().startswith(film.now.bearing.name.casefold())]
    return OilWeight(call, Reason(" + ".join(own or bearings), (), "other", text, None, look, change, FILM), what)


def _run_sentence(call: Call, weights: Sequence[OilWeight]) -> str:
    if call.sentence.startswith("Run, but"):  # nothing is known of the engine: that stays said first
        return call.sentence
    if any(reason.probability is not None for reason in call.reasons):  # and so does what is a little up
        return call.sentence.replace(" Next sample", f" Mind the oil: {weights[0].what}. Next sample")
    return f"Run, but mind the oil: {weights[0].what}. Next sample after {amount(call.next_sample_h)} h."


def _raised_sentence(word: str, what: str, next_h: float) -> str:
    if word == SHORT:
        return f"Short stint: it may go, but sample again after {amount(next_h)} h. Why: {what}."
    return f"Look inside before it goes out: {what}."
