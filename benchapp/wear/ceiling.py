"""The ceiling: what the break-in of a build reached, element by element, and which readings stand over it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from benchapp.records import ElementRate
from benchapp.wear.interval_rates import NOT_WEAR, Fading, fading_in
from benchapp.wear.ledger import NINETY
from benchapp.wear.look import Look
from benchapp.wear.rules import Rules
from benchapp.wear.watch import Watch

FLOOR_SD = 10.0
"""Noise floor of a reading in standard deviations: ASTM D5185 section 1.6 sets the low end of its ranges at ten times
the repeatability standard deviation."""


def ceiling_of(look: Look, element: str) -> float | None:
    """What the break-in of this build reached [ppm]; a ceiling below the noise floor is lifted to it."""
    if element not in look.ceiling or element in NOT_WEAR:
        return None
    if look.hidden[look.sources.elements.index(element)]:
        return None
    own = look.ceiling[element]
    return max(own.limit or 0.0, own.ppm, FLOOR_SD * own.noise_sd)


def ceiling_share(
    look: Look, lines: Sequence[ElementRate], fading: Sequence[Fading]
) -> tuple[float | None, str]:
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


def over_ceiling(look: Look, watch: Watch, rules: Rules) -> tuple[str, float] | None:
    """(element, ceiling [ppm]) that stands furthest over what this build's break-in reached, beyond reading noise.

    Left out is what has another origin on record: lead while leaded fuel is burnt, copper while a cooler leaches."""
    if look.sample.break_in or look.other_oil:
        return None
    explained = _explained(look, fading_in(look, watch))
    best: tuple[float, str, float] | None = None
    for element, one in look.observed.items():
        if element in explained or element not in look.sources.elements or one.qualifier == "<":
            continue
        ceiling = ceiling_of(look, element)
        if ceiling is None:
            continue
        noise = math.hypot(one.noise_sd, look.ceiling[element].noise_sd)
        share = one.ppm / ceiling
        clear = one.ppm - ceiling >= rules.number("table", "ceiling_sigma") * noise
        if clear and share >= rules.number("table", "ceiling_look") and (best is None or share > best[0]):
            best = (share, element, ceiling)
    return None if best is None else (best[1], best[2])


def _explained(look: Look, fading: Sequence[Fading]) -> set[str]:
    """Elements that have another origin on record: lead of leaded fuel, copper and silicon while they die away."""
    found = {"Pb"} if look.interval.leaded else set()
    for one in fading:
        if one.rate > NINETY * one.sd:
            found |= {e for e, d in zip(look.sources.elements, one.nuisance.direction, strict=True) if d > 0}
    return found
