"""The decision table: from what is known at a sample to one of the four calls, and to which sources it points."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.records import CALL_WORDS, Call
from benchapp.wear.ceiling import over_ceiling
from benchapp.wear.follow import Follower
from benchapp.wear.look import Look
from benchapp.wear.oil_part import with_oil
from benchapp.wear.report import Book, write
from benchapp.wear.rules import Rules
from benchapp.wear.sources import DUST, WEAR, alike
from benchapp.wear.suspect import Suspect, may_be_fuel, phrase_of

RUN, SHORT_STINT, LOOK_INSIDE, PARK = CALL_WORDS
MOST_TOLD = 3
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Group:
    """Sources that no bench could tell apart, likeliest first, or one non-wear origin with all its variants."""

    name: str
    parts: tuple[str, ...]
    kind: str
    """'wear', 'dust' or 'coolant'."""
    columns: tuple[int, ...]
    """Columns of the sources, likeliest first."""
    probability: float
    extra_mg_h: float
    extra_sd_mg_h: float
    normal_mg_h: float
    since_h: float
    z: float

    @property
    def times(self) -> float:
        """What it makes now, in normal rates of its likeliest part [-]."""
        return 1.0 + self.extra_mg_h / max(self.normal_mg_h, 1e-9)


@dataclass(frozen=True, slots=True)
class Judgement:
    """The word and what it stands on."""

    word: str
    groups: tuple[Group, ...]
    """Likeliest first; those with next to no probability are left out."""
    fault: float
    """Probability that anything is at fault."""
    hard: float
    """Probability that a hard session explains this sample."""
    innocent: float
    """Probability that one source shed more for a while with nothing behind it."""
    other_oil: str
    """Which oil the bottle or the sump seems to hold, or empty."""
    times: float
    """The likeliest group's rate in normal rates [-]."""
    over: tuple[str, float] | None
    """The element furthest over this build's own break-in ceiling, beyond noise, and that ceiling [ppm]."""


def groups_of(look: Look, hidden: NDArray[np.bool_], rules: Rules) -> tuple[Group, ...]:
    """Fault probabilities gathered over what is alike, likeliest group first."""
    chances = look.evidence.probability.tolist()
    left = {j for j in range(len(chances)) if chances[j] > 1e-9}
    together = _together(look, hidden, rules).tolist()
    found: list[Group] = []
    while left and len(found) < 5:
        group = _likeliest(left, chances, together)
        if sum(chances[k] for k in group) < rules.number("table", "say_from") and found:
            break
        found.append(_group(group, look))
        left -= set(group)
    return tuple(found)


def _likeliest(left: set[int], chances: list[float], together: list[list[bool]]) -> tuple[int, ...]:
    """The likeliest group of what is left, likeliest member first. Each two of its members are alike: a metal that is
    between two others makes these not one."""
    best: tuple[int, ...] = ()
    most = (0.0, 0.0)
    for lead in left:
        group: list[int] = []
        for k in sorted((k for k in left if together[lead][k]), key=lambda k: (k != lead, -chances[k])):
            if all(together[member][k] or together[k][member] for member in group):
                group.append(k)
        # of equal sums the one whose own probability is largest stands first
        worth = (round(sum(chances[k] for k in group), 9), chances[lead])
        if worth > most:
            best, most = tuple(sorted(group, key=lambda k: -chances[k])), worth
    return best


def _together(look: Look, hidden: NDArray[np.bool_], rules: Rules) -> Array:
    """Which sources (columns) are counted with each (rows): parts alike and not far less likely, or one origin."""
    sources, chance = look.sources, look.evidence.probability
    kinds = np.array(sources.kinds)
    wear = kinds == WEAR
    likely = chance[None, :] >= rules.number("table", "alike_share") * chance[:, None]
    parts = np.logical_and(alike(sources, hidden, rules.number("table", "alike")), likely & wear[None, :])
    return np.asarray(np.where(wear[:, None], parts, kinds[:, None] == kinds[None, :]))


def _group(columns: tuple[int, ...], look: Look) -> Group:
    sources, evidence = look.sources, look.evidence
    first = columns[0]
    weight = np.array([evidence.probability[k] for k in columns])
    weight = weight / max(float(weight.sum()), 1e-300)
    parts = tuple(part.name for k in columns for part in sources.parts[k])
    return Group(
        name=" + ".join(parts) if parts else sources.names[first],
        parts=parts,
        kind=sources.kinds[first],
        columns=columns,
        probability=float(sum(evidence.probability[k] for k in columns)),
        extra_mg_h=float(sum(w * evidence.extra[k] for w, k in zip(weight, columns, strict=True))),
        extra_sd_mg_h=float(sum(w * evidence.extra_sd[k] for w, k in zip(weight, columns, strict=True))),
        normal_mg_h=float(look.normal[first]),
        since_h=float(sum(w * evidence.since_h[k] for w, k in zip(weight, columns, strict=True))),
        z=float(max(evidence.z[k] for k in columns)),
    )


def judgement(look: Look, follower: Follower, rules: Rules) -> Judgement:
    """The call's word by the decision table, and the groups of sources behind it."""
    groups = groups_of(look, follower.additive, rules)
    fault = float(look.evidence.probability.sum())
    number = rules.number
    times = 1.0
    if groups:
        # where next to nothing is normal, times is counted against the least rate that is spoken of
        least = number("fault", "least_ppm_h") * look.interval.mass_kg / 2.0
        times = 1.0 + groups[0].extra_mg_h / max(groups[0].normal_mg_h, least)
    # while the oil of the break-in sample is still in, break-in goes on: what it will reach is not known yet
    breaking_in = follower.drains == follower.ceiling_drains
    over = None if breaking_in else over_ceiling(look, follower.watch, rules)
    word = RUN
    above = over is not None and _unexpected(look, over[0], rules)
    if fault >= number("table", "stint_probability") or look.other_oil or above or look.metal_unsure:
        word = SHORT_STINT
    if groups and times >= number("table", "look_times") and fault >= _enough_to_look(groups[0], look, rules):
        word = LOOK_INSIDE
    if fault >= number("table", "park_probability") and times >= number("table", "park_times"):
        word = PARK
    asked = number("table", "fuel_asked")
    if groups and may_be_fuel(groups[0].columns[0], look, rules) and look.suspected <= asked:
        word = {LOOK_INSIDE: SHORT_STINT, PARK: LOOK_INSIDE}.get(word, word)
    if look.bottle and word in (LOOK_INSIDE, PARK) and not look.fault_before:
        word = SHORT_STINT  # this bottle proves nothing about this engine
    return Judgement(
        word, groups, fault, look.evidence.hard, look.evidence.innocent, look.other_oil, times, over
    )


def _enough_to_look(likeliest: Group, look: Look, rules: Rules) -> float:
    """How likely a fault must be before a look is worth its hour: the less, the more the likeliest group sheds, and the
    longer the next bottle is away.

    What it sheds beside its normal counts as the sump sees it [ppm/h], so that large and small engines are alike. Who
    samples after every session sees the next bottle soon and can wait for it; a fault that is let pass after ten hours
    has ten more. Where neither family nor own history says what is normal, no amount is a reason of its own."""
    number = rules.number
    extra_ppm_h = max(likeliest.extra_mg_h / look.interval.mass_kg, 1e-9)
    share = extra_ppm_h / number("table", "look_ppm_h")
    late, soon = rules.pair("table", "look_wait")
    longer = look.interval.hours / number("table", "look_wait_h")
    wait = min(max(longer**-0.5, late), soon) if longer > 0.0 else soon
    enough = wait * number("table", "look_probability") * share ** -number("table", "look_power")
    least = wait * number("table", "look_least")
    if look.sample.break_in or (look.interval.run_in and look.history == 0):
        least = number("table", "look_probability")  # how much a break-in sheds is what it is there to tell
    unknown = look.prior.basis == "none"
    if unknown and look.history == 0 and likeliest.kind == DUST:
        return math.inf  # nobody knows what silicon this engine has from sealant, or breathes
    if unknown and look.history < number("table", "look_history"):
        least = number("table", "look_most") if look.history == 0 else number("table", "look_probability")
    return float(min(max(enough, least), number("table", "look_most")))


def _unexpected(look: Look, element: str, rules: Rules) -> bool:
    """Whether a reading over the ceiling is also more than a long fill at this engine's own rate explains.

    Without two samples of history there is nothing to explain it with."""
    if look.history < rules.number("table", "ceiling_history"):
        return True
    i = look.sources.elements.index(element)
    sd = float(np.sqrt(look.surprise.covariance[i, i]))
    return float(look.surprise.difference[i]) > rules.number("table", "ceiling_surprise") * sd


def call_for(look: Look, follower: Follower, rules: Rules, book: Book) -> Call:
    """The call for a sample. `book` remembers the build from sample to sample."""
    judged = judgement(look, follower, rules)
    say_from = rules.number("table", "say_from")
    told = [group for group in judged.groups[:MOST_TOLD] if group.probability >= say_from]
    if not told and judged.fault >= rules.number("table", "stint_probability"):
        told = list(judged.groups[:1])  # many sources, each a little: the likeliest stands for them
    suspects = tuple(
        Suspect(
            group.name, group.parts, group.kind, group.columns, min(group.probability, 1.0), group.extra_mg_h,
            float(look.normal[list(group.columns)].sum()) if group.parts else 0.0,
            phrase_of(
                group.name, group.parts, group.kind, follower.build, follower.fleet.materials, rules.words
            ),
        )
        for group in told
    )  # fmt: skip
    written = write(look, follower, rules, judged.word, suspects, judged.over, book)
    return with_oil(written, look, follower, rules, {suspect.kind for suspect in suspects})
