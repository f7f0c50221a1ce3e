"""What dies away with hours and is no fault: run-in, silicon of sealant, copper of a cooler."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.wear.elements import Followed
from benchapp.wear.rules import Rules
from benchapp.wear.spread import Amplitudes
from benchapp.wear.watch import Nuisance, Watch

Array = NDArray[np.float64]

RUN_IN, SEALANT, COPPER = "run-in", "sealant", "copper leaching"

_RUN_IN = ("first", "second", "tail")
"""The three decays that run-in is made of."""


@dataclass(frozen=True, slots=True)
class Guess:
    """What a build is thought to begin with of one decay: run-in in shares of the settled rate [-], else [ppm/h]."""

    name: str
    mean: float
    sd: float


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
    number = rules.number
    return [
        *(Nuisance(RUN_IN, rate, number("run_in", f"{one.name}_h"), one.mean, one.sd) for one in run_in),
        Nuisance(
            SEALANT, followed.pure("Si"), number("nuisance", "sealant_h"), sealant.mean * mass_kg, sealant.sd * mass_kg
        ),
        Nuisance(
            COPPER, followed.pure("Cu"), number("nuisance", "leaching_h"), copper.mean * mass_kg, copper.sd * mass_kg
        ),
    ]


def teach_amplitudes(learned: Amplitudes, guesses: Sequence[Guess], watch: Watch, mass_kg: float) -> None:
    """What died away in a build's first hours tells what to expect of the next ones."""
    for i, guess in enumerate(guesses):
        unit = 1.0 if guess.name in _RUN_IN else mass_kg
        value = float(watch.theta[watch.count + i]) / unit
        variance = float(watch.tt[watch.count + i, watch.count + i]) / unit**2
        own = 1.0 / max(variance, 1e-12) - 1.0 / guess.sd**2
        if own * guess.sd**2 > 0.5:
            learned.learn(guess.name, (value / variance - guess.mean / guess.sd**2) / own, 1.0 / own)
