"""The decision table: from what is known at a sample to one of the four calls, and to which sources it points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchapp.records import Call, ElementRate, Reason, SourceRate
from benchapp.wear.follow import Follower, Look
from benchapp.wear.rules import Rules
from benchapp.wear.sources import WEAR, alike

RUN, SHORT_STINT, LOOK_INSIDE, PARK = "Run", "Short stint", "Look inside", "Park"


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
    over_ceiling: tuple[str, ...]
    """Elements over this build's own break-in ceiling, beyond noise."""


def groups_of(look: Look, hidden: np.typing.NDArray[np.bool_], rules: Rules) -> tuple[Group, ...]:
    """Fault probabilities gathered over what is alike, likeliest group first."""
    sources, evidence = look.sources, look.evidence
    same = alike(sources, hidden, rules.number("table", "alike"))
    left = {j for j in range(len(sources.names)) if evidence.probability[j] > 1e-9}
    found: list[Group] = []
    while left and len(found) < 5:
        members = {j: _members(j, left, look, same, rules) for j in left}
        sums = {j: sum(float(evidence.probability[k]) for k in group) for j, group in members.items()}
        # of equal sums the one whose own probability is largest stands first
        best = max(left, key=lambda j: (round(sums[j], 9), float(evidence.probability[j])))
        group = members[best]
        if sums[best] < rules.number("table", "say_from") and found:
            break
        found.append(_group(group, look))
        left -= set(group)
    return tuple(found)


def _members(
    j: int, left: set[int], look: Look, same: np.typing.NDArray[np.float64], rules: Rules
) -> tuple[int, ...]:
    sources, probability = look.sources, look.evidence.probability
    if sources.kinds[j] != WEAR:
        return tuple(sorted((k for k in left if sources.kinds[k] == sources.kinds[j]), key=lambda k: -probability[k]))
    least = rules.number("table", "alike_share") * float(probability[j])
    alike_to_it = [k for k in left if same[j, k] and sources.kinds[k] == WEAR and probability[k] >= least]
    return tuple(sorted(alike_to_it, key=lambda k: -probability[k]))


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
    over = _over_ceiling(look, rules)
    word = RUN
    if fault >= number("table", "stint_probability") or look.other_oil or over:
        word = SHORT_STINT
    if fault >= number("table", "look_probability") and times >= number("table", "look_times"):
        word = LOOK_INSIDE
    if fault >= number("table", "park_probability") and times >= number("table", "park_times"):
        word = PARK
    if look.bottle and word in (LOOK_INSIDE, PARK) and not look.fault_before:
        word = SHORT_STINT  # this bottle proves nothing about this engine
    return Judgement(
        word, groups, fault, look.evidence.hard, look.evidence.innocent, look.other_oil, times, over
    )


def _over_ceiling(look: Look, rules: Rules) -> tuple[str, ...]:
    """Elements that read over this build's break-in ceiling by more than noise and the table's share."""
    if look.sample.break_in:
        return ()
    found = []
    for i, element in enumerate(look.sources.elements):
        ceiling, one = look.ceiling.get(element), look.observed.get(element)
        if ceiling is None or one is None or one.qualifier or look.hidden[i]:
            continue
        top = max(ceiling.ppm, ceiling.limit or 0.0, 3.0 * one.noise_sd)
        noise = float(np.sqrt(one.variance + ceiling.variance))
        if one.ppm > rules.number("table", "ceiling_look") * top + rules.number("table", "ceiling_sigma") * noise:
            found.append(element)
    return tuple(found)


def call_for(look: Look, follower: Follower, rules: Rules) -> Call:
    """The call for a sample."""
    judged = judgement(look, follower, rules)
    s, normal = look.sources, look.normal
    reasons = [
        Reason(
            group.name, group.parts, "rate",
            f"{group.name} sheds {group.normal_mg_h + group.extra_mg_h:.2g} mg/h where {group.normal_mg_h:.2g} is normal",
            probability=group.probability,
        )
        for group in judged.groups[:3]
        if group.probability >= rules.number("table", "say_from")
    ]
    if judged.other_oil:
        reasons.append(
            Reason("other oil", (), "pattern", f"The additives are those of another oil ({judged.other_oil}).")
        )
    sample = look.sample
    hours = max(look.interval.hours, 1e-6)
    elements = []
    for i, e in enumerate(s.elements):
        one = look.observed.get(e)
        shed = look.interval.shed_mg[i]
        elements.append(
            ElementRate(
                e, one.ppm if one else None, one.qualifier if one else "",
                float(shed / hours) if one else None, float(look.interval.shed_sd_mg[i] / hours),
                look.ceiling[e].ppm if e in look.ceiling else None, None, float(look.rate[i]),
            )
        )
    rates = tuple(
        SourceRate(s.names[j], tuple(p.name for p in s.parts[j]), float(normal[j]), 0.0, 0.0, float(normal[j]))
        for j in range(len(normal))
        if s.kinds[j] == WEAR
    )
    return Call(
        rules.version, follower.engine.name, follower.build.number, sample.code, sample.build_h, sample.taken_at,
        judged.word, f"{judged.word}.", 4.0,
        "own history" if look.history else ("family" if look.prior.builds else "none"),
        f"{look.history} samples of history", look.history, None, tuple(reasons), rates, tuple(elements),
    )
