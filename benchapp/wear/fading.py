"""What dies away with hours and is no fault: run-in, silicon of sealant, copper of a cooler."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.wear.elements import Followed
from benchapp.wear.hypotheses import Harmless
from benchapp.wear.rules import Rules
from benchapp.wear.spread import Amplitudes

Array = NDArray[np.float64]

RUN_IN, SEALANT, COPPER = "run-in", "sealant", "copper leaching"

PASSING = "passing"
"""Name of what has become part of the state and is still fading."""

CARRY_OVER, REFILL = "carry-over", "copper at a refill"
"""What comes back at every oil change of a build: more or less of the old oil stays than after others of its kind, as a
share of that; and the fresh oil takes copper off a cooler [ppm]."""

FRESH = "level of the new oil"
"""By how much this oil, when new, holds more or less of an element than is known of it, at every change [ppm]."""

_FROM_OIL = ("Na", "K", "B", "Si")
"""Elements of coolant and dust that oils hold a little of as well."""

_RUN_IN = ("first", "second", "tail")
"""The three decays that run-in is made of."""


@dataclass(frozen=True, slots=True)
class Nuisance:
    """An amplitude that sheds along `direction` [mg of element per mg] and decays: e^(−(t − since)/decay_h)."""

    name: str
    direction: Array
    decay_h: float
    mean: float
    sd: float
    since_h: float = 0.0
    source: int | None = None
    """Of an excess that passes: its place among the sources of the watch."""
    called: str = ""
    """And what the report calls it where it is no source that may be at fault; empty: the report has no word for it."""

    def mean_profile(self, start_h: float, hours: float) -> float:
        """Mean of the decay over a run [-]; what comes back at every oil change sheds nothing in a run."""
        if self.name in (CARRY_OVER, REFILL, FRESH):
            return 0.0
        a, b = start_h - self.since_h, start_h + hours - self.since_h
        if b <= 0:
            return 0.0
        a = max(a, 0.0)
        return self.decay_h / hours * (math.exp(-a / self.decay_h) - math.exp(-b / self.decay_h))


@dataclass(frozen=True, slots=True)
class Guess:
    """What a build is thought to begin with of one decay: run-in in shares of the settled rate [-], else [ppm/h]."""

    name: str
    mean: float
    sd: float

    def unit(self, mass_kg: float) -> float:
        """What an amplitude of the watch is counted in, with so much oil in the sump."""
        return 1.0 if self.name in _RUN_IN else mass_kg


def harmless_of(followed: Followed, rules: Rules) -> tuple[Harmless, ...]:
    """What may come at any time, fades and is nobody's fault: copper alone, from a cooler that nobody wrote down, and
    potassium with or without aluminium, from the flux of a brazed one."""
    flux = rules.number("harmless", "flux_aluminium")
    with_aluminium = (1.0 - flux) * followed.pure("K") + flux * followed.pure("Al")
    kinds = {"copper": (followed.pure("Cu"),), "flux": (followed.pure("K"), with_aluminium)}
    called = {"copper": COPPER}
    found: list[Harmless] = []
    for name, directions in kinds.items():
        fades, scale = rules.table["harmless"][f"{name}_h"], rules.number("harmless", f"{name}_ppm_h")
        share = 1.0 / len(fades) / len(directions)
        at_start, per_hour = (rules.number("harmless", f"{name}_{when}") * share for when in ("start", "per_hour"))
        found += [
            Harmless(direction, fade_h, at_start, per_hour, scale, name == "flux", called.get(name, ""))
            for direction in directions if direction.any() for fade_h in fades
        ]  # fmt: skip
    return tuple(found)


def first_guesses(learned: Amplitudes, cooler: bool, rules: Rules) -> tuple[Guess, ...]:
    """By the rule table and what the bench's builds have shown. `cooler`: whether a part is known to leach copper."""
    sealant = rules.number("nuisance", "sealant_ppm_h")
    leaching = rules.number("nuisance", "leaching_ppm_h")
    table = {name: rules.pair("run_in", name) for name in _RUN_IN} | {"sealant": (0.3 * sealant, sealant)}
    if cooler:
        table["cooler"] = (0.2 * leaching, leaching)
    else:
        table["copper"] = (0.05 * leaching, leaching / 2.0)
    return tuple(Guess(name, *learned.of(name, *about)) for name, about in table.items())


def nuisances_of(
    guesses: Sequence[Guess], rate: Array, followed: Followed, mass_kg: float, rules: Rules
) -> list[Nuisance]:
    """The decays as states of a watch, in the order of the guesses. `rate`: the settled rate per element [mg/h]."""
    *run_in, sealant, copper = guesses
    number, nothing = rules.number, np.zeros(len(rate))
    return [
        *(Nuisance(RUN_IN, rate, number("run_in", f"{one.name}_h"), one.mean, one.sd) for one in run_in),
        Nuisance(
            SEALANT, followed.pure("Si"), number("nuisance", "sealant_h"), sealant.mean * mass_kg, sealant.sd * mass_kg
        ),
        Nuisance(
            COPPER, followed.pure("Cu"), number("nuisance", "leaching_h"), copper.mean * mass_kg, copper.sd * mass_kg
        ),
        Nuisance(CARRY_OVER, nothing, math.inf, 0.0, number("spread", "carry_over")),
        Nuisance(REFILL, followed.pure("Cu"), math.inf, *rules.pair("nuisance", "refill_copper")),
        *(Nuisance(FRESH, followed.pure(one), math.inf, 0.0, 0.0) for one in _FROM_OIL if one in followed.names),
    ]
