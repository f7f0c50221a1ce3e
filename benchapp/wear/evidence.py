"""What the hypotheses of a watch are worth: probability per source, and how much it sheds beside the normal now."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from benchapp.wear.rules import Rules
from benchapp.wear.watch import BLIP, CURVE, RAMP, SHAPES, STEP, Watch

Array = NDArray[np.float64]


_TAILS = (1.0, 5.0, 25.0)
"""Multiples of a scale that are mixed in equal parts: an extra rate may also be far larger than its scale."""

_CURVE_H = 10.0


@dataclass(frozen=True, slots=True)
class Evidence:
    """Per source: probability that it is at fault, extra rate now [mg/h] with its standard deviation, best z, and the
    hours for which it has been so. `healthy` is the probability that none is."""

    probability: Array
    extra: Array
    extra_sd: Array
    z: Array
    since_h: Array
    healthy: float
    log_total: float
    """Log of the summed weights of all hypotheses against "nothing is wrong"."""


def log_odds_of_extra(score: Array, information: Array, scale: Array) -> Array:
    """Log Bayes factor of an extra rate against none, the extra half-normal with `scale`.

    ∫ 2 N(δ; 0, σ²) exp(b δ − a δ²/2) dδ over δ > 0 = 2 (s/σ) Φ(m/s) exp(m²/2s²), s² = 1/(a + 1/σ²), m = s² b."""
    s2 = 1.0 / (information + 1.0 / scale**2)
    m = s2 * score
    s = np.sqrt(s2)
    return np.asarray(np.log(2.0) + np.log(s / scale) + log_ndtr(m / s) + 0.5 * m * m / s2)


def _log_sum(values: Array) -> Array:
    top = values.max(axis=0)
    return np.asarray(top + np.log(np.exp(values - top).sum(axis=0)))


def weigh(
    watch: Watch,
    normal: Array,
    prior: Array,
    mass_kg: float,
    rules: Rules,
    tasted: tuple[Array, Array] | None = None,
) -> Evidence:
    """Weighs every hypothesis of the bank against all others and against "nothing is wrong".

    `normal` rate per source [mg/h], `prior` share of all faults that each source makes [-], both S."""
    information, score = tasted or (watch.information, watch.score)
    least = rules.number("fault", "least_ppm_h") * mass_kg
    normal, prior = np.append(normal, 0.0), np.append(prior, 0.0)
    step = rules.number("fault", "times_normal") * normal + least
    blip = rules.number("fault", "blip_times_normal") * normal + least / 4.0
    blip[-1] = rules.number("fault", "hard_times")
    slope = step / rules.number("fault", "growth_h")
    scales = np.choose(
        watch.shape,
        [step[watch.source], slope[watch.source], blip[watch.source], slope[watch.source] / _CURVE_H],
    )
    live = (watch.age_h[watch.slot] > 0) & (information > 1e-12)
    factors = [log_odds_of_extra(score, information, scales * tail) for tail in _TAILS]
    factor = np.where(watch.shape == BLIP, factors[0], _log_sum(np.array(factors)) - np.log(len(_TAILS)))
    # a constant extra rate from the first intervals on is what makes one engine differ from another, not a fault
    steady = np.minimum(watch.early / 3.0, 1.0)[watch.slot] * rules.number("fault", "steady_share")
    growing = (1.0 - rules.number("fault", "steady_share")) / 2.0
    shaped = np.where(watch.shape == STEP, steady, growing)
    per_hour = rules.number("fault", "per_hour") * np.maximum(watch.span_h, 0.5)[watch.slot]
    hard = watch.source == watch.sources - 1
    blips = np.where(hard, rules.number("fault", "hard_share"), rules.number("fault", "blip_per_interval") / (watch.sources - 1))
    chance = np.where(watch.shape == BLIP, blips, 0.0)
    chance = np.where(watch.shape != BLIP, per_hour * prior[watch.source] * shaped, chance)
    log_weight = np.where(live & (chance > 0), factor + np.log(np.maximum(chance, 1e-300)), -np.inf)
    top = max(float(log_weight.max(initial=0.0)), 0.0)
    total = top + float(np.log(np.exp(-top) + np.exp(log_weight - top).sum()))
    weight = np.exp(log_weight - total)
    fault = watch.shape != BLIP
    s2 = 1.0 / (information + 1.0 / (scales * _TAILS[-1]) ** 2)
    m, s = s2 * score, np.sqrt(s2)
    mean = m + s * np.exp(-0.5 * (m / s) ** 2 - log_ndtr(m / s)) / np.sqrt(2.0 * np.pi)  # of the half line
    age = np.maximum(watch.age_h[watch.slot], 0.0)
    reach = np.choose(watch.shape, [np.ones_like(age), age, np.ones_like(age), age * age])
    grid = (watch.onsets, SHAPES, watch.sources)

    def gather(values: Array) -> Array:
        return np.asarray(values.reshape(grid)[:, [STEP, RAMP, CURVE], :].sum(axis=(0, 1))[:-1])

    probability = gather(np.where(fault, weight, 0.0))
    safe = np.maximum(probability, 1e-300)
    extra = gather(weight * mean * reach) / safe
    square = gather(weight * (mean**2 + s2) * reach**2) / safe
    z = np.where(live, score / np.sqrt(np.maximum(information, 1e-12)), 0.0)
    best = z.reshape(grid)[:, [STEP, RAMP, CURVE], :].max(axis=(0, 1))[:-1]
    since = gather(weight * np.maximum(watch.age_h[watch.slot], 0.0)) / safe
    return Evidence(
        probability, extra, np.sqrt(np.maximum(square - extra**2, 0.0)), best, since, float(np.exp(-total)), float(total)
    )
