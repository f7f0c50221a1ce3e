"""The decision table: from what is known at a sample to one of the four calls, with its reasons."""

from __future__ import annotations

import numpy as np

from benchapp.records import Call, ElementRate, Reason, SourceRate
from benchapp.wear.follow import Follower, Look
from benchapp.wear.rules import Rules
from benchapp.wear.sources import alike


def call_for(look: Look, follower: Follower, rules: Rules) -> Call:
    ev = look.evidence
    s = look.sources
    normal = look.normal
    mass = look.interval.mass_kg
    by_name: dict[str, float] = {}
    for j, name in enumerate(s.names):
        by_name[name] = by_name.get(name, 0.0) + float(ev.probability[j])
    ranked = sorted(by_name, key=lambda name: -by_name[name])
    order = [max((j for j, n in enumerate(s.names) if n == name), key=lambda j: ev.probability[j]) for name in ranked]
    fault = float(ev.probability.sum())
    best = order[0] if order else -1
    least = rules.number("fault", "least_ppm_h") * mass
    word = "Run"
    times = 1.0
    if best >= 0:
        reference = max(float(normal[best]), least / 2)
        times = 1.0 + float(ev.extra[best]) / reference
        if fault >= rules.number("table", "stint_probability"):
            word = "Short stint"
        if fault >= rules.number("table", "look_probability") and times >= rules.number("table", "look_times"):
            word = "Look inside"
            if fault >= rules.number("table", "park_probability") and times >= rules.number("table", "park_times"):
                word = "Park"
    reasons = []
    same = alike(s, follower.additive, rules.number("table", "alike"))
    told: set[int] = set()
    for j in order:
        if j in told or len(reasons) >= 3:
            continue
        group = [j]
        if s.kinds[j] == "wear":
            least_share = rules.number("table", "alike_share") * by_name[s.names[j]]
            group += [k for k in order if k != j and k not in told and same[j, k] and by_name[s.names[k]] >= least_share]
        told.update(group)
        chance = sum(by_name[s.names[k]] for k in group)
        if chance > 0.05:
            parts = [part.name for k in group for part in s.parts[k]]
            name = " + ".join(parts) if parts else s.names[j]
            extra = float(ev.extra[j])
            reasons.append(
                Reason(name, tuple(parts), "rate",
                       f"{name} sheds {normal[j] + extra:.2g} mg/h where {normal[j]:.2g} is normal", probability=chance)
            )
    reasons.sort(key=lambda reason: -(reason.probability or 0.0))
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
    return Call(
        rules.version, follower.engine.name, follower.build.number, sample.code, sample.build_h, sample.taken_at, word,
        f"{word}.", 4.0, "own history" if look.history else ("family" if look.prior.builds else "none"),
        f"{look.history} samples of history", look.history, None, tuple(reasons),
        tuple(SourceRate(s.names[j], tuple(p.name for p in s.parts[j]), float(normal[j]), 0.0, 0.0, float(normal[j])) for j in range(len(normal)) if s.kinds[j] == "wear"),
        tuple(elements),
    )
