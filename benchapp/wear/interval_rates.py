"""What the interval that ends with a sample shed, in rates: by element, by what is dying away, by source."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.wear.fading import RUN_IN, Nuisance
from benchapp.wear.look import Look
from benchapp.wear.rules import Rules
from benchapp.wear.split import Split, split
from benchapp.wear.suspect import Suspect
from benchapp.wear.watch import Watch

Array = NDArray[np.float64]

NOT_WEAR = {"Si", "Na", "K", "B", "Ca", "Mg", "Zn", "P"}
"""Elements whose ceiling is not a part's: they come with oil, dust, coolant or sealant."""
SEVERITY_SD = 0.4
"""Sessions about their usual severity, as a prior standard deviation [-]; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Measured:
    """Rate per element [mg/h] from the balance and its standard deviation, NaN where it says nothing of wear."""

    rate: Array
    sd: Array


@dataclass(frozen=True, slots=True)
class Fading:
    """Sealant, leaching or a passing excess that dies away: its rate in this interval and the sd of that [mg/h]."""

    nuisance: Nuisance
    rate: float
    sd: float


@dataclass(frozen=True, slots=True)
class Rates:
    """All rates of an interval. `severity` and `split` are None where the oil is not the one on record; `severity` also
    where it is not seen."""

    measured: Measured
    fading: tuple[Fading, ...]
    severity: float | None
    split: Split | None


def rates_of(look: Look, suspects: Sequence[Suspect], watch: Watch, rules: Rules) -> Rates:
    """The rates of a look's interval."""
    measured, fading = measured_in(look), fading_in(look, watch)
    if look.other_oil:
        return Rates(measured, fading, None, None)
    severity = severity_of(look, measured, rules)
    return Rates(measured, fading, severity, split_of(look, suspects, severity or 1.0, measured, fading))


def hours_of(look: Look) -> float:
    """Hours of the interval, to divide by [h]."""
    return max(look.interval.hours, 1e-6)


def measured_in(look: Look) -> Measured:
    """What the balance says."""
    hours, mass = hours_of(look), look.interval.mass_kg
    noise = np.array([
        look.observed[e].variance + look.observed[e].noise_sd**2 if e in look.observed else np.nan
        for e in look.sources.elements
    ])  # fmt: skip
    variance = np.maximum(look.interval.shed_sd_mg**2 - look.interval.expected_sd_mg**2, noise * mass**2)
    rate, sd = look.interval.shed_mg / hours, np.sqrt(variance) / hours
    blind = look.hidden.copy()
    if look.interval.leaded and "Pb" in look.sources.elements:
        blind[look.sources.elements.index("Pb")] = True
    if look.interval.hours <= 0:
        blind[:] = True
    return Measured(np.where(blind, np.nan, rate), np.where(blind, np.nan, sd))


def severity_of(look: Look, measured: Measured, rules: Rules) -> float | None:
    """How hard it was run: one factor on all wear, robust against a single part that sheds more [-]; None: not seen."""
    rate, sd = measured.rate, measured.sd
    expected = look.interval.expected_mg / hours_of(look)
    wear = np.array([e not in NOT_WEAR for e in look.sources.elements], dtype=bool)
    use = wear & np.isfinite(rate) & (expected > 0.2 * sd) & (expected > 0)
    if not use.any():
        return None
    ratio = rate[use] / expected[use]
    spread = np.hypot(sd[use] / expected[use], rules.number("spread", "source"))
    factor, own = 1.0, 1.0 / SEVERITY_SD**2
    least = 1.0 / spread**2
    weight = least
    for _ in range(6):
        before, factor = factor, (float(weight @ ratio) + own) / (float(weight.sum()) + own)
        if factor == before:
            break
        far = np.abs(ratio - factor) / spread
        weight = np.minimum(1.0, 1.5 / np.maximum(far, 1e-9)) * least
    if float(weight.sum()) < own:
        return None  # the prior would speak, not the sample
    return min(max(factor, 0.2), 5.0)


def fading_in(look: Look, watch: Watch) -> tuple[Fading, ...]:
    """What dies away beside run-in, and how much of it was shed in the interval."""
    start = look.sample.build_h - look.interval.hours
    found = []
    for i, nuisance in enumerate(watch.nuisances):
        if nuisance.name == RUN_IN:
            continue
        part = nuisance.mean_profile(start, hours_of(look))
        sd = math.sqrt(max(float(watch.tt[watch.count + i, watch.count + i]), 0.0))
        found.append(Fading(nuisance, float(watch.theta[watch.count + i]) * part, sd * part))
    return tuple(found)


def split_of(
    look: Look, suspects: Sequence[Suspect], severity: float, measured: Measured, fading: Sequence[Fading]
) -> Split:
    """Source split of this interval; what was normal, and what is suspected, hold apart what elements cannot."""
    rate, sd = measured.rate, measured.sd
    for one in fading:
        rate = rate - one.nuisance.direction * max(one.rate, 0.0)
        sd = np.hypot(sd, one.nuisance.direction * one.sd)
    settled = float(look.rate[look.rate > 0].sum())
    seating = float(look.interval.expected_mg.sum()) / hours_of(look) / settled if settled > 0 else 1.0
    normal = look.normal * max(seating, 0.2) * severity
    spread = 0.5 * normal + 0.01 * look.interval.mass_kg
    for suspect in suspects:
        for j in suspect.members:
            spread[j] += suspect.probability * suspect.extra
    return split(rate, sd, look.sources.fractions, look.sources.tolerance, normal=normal, normal_sd=spread)
