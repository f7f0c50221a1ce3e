"""What the hypotheses of a watch are worth: probability per source, and how much it sheds beside the normal now.

Innocent explanations compete with faults on equal terms: a hard session, one interval's blip or splash, an excess that
fades. What is left over for "a fault" can then be read as a probability.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from benchapp.wear.rules import Rules
from benchapp.wear.watch import BLIP, CURVE, FADE, RAMP, SHAPES, STEP, Watch

Array = NDArray[np.float64]

_TAILS = np.array([1.0, 5.0, 25.0])
"""Multiples of a scale that are mixed in equal parts: an extra rate may also be far larger than its scale."""

_CURVE_H = 10.0
"""Hours at which a curved growth has the scale of a straight one [h]."""

_FAULTS = (STEP, RAMP, CURVE)


@dataclass(frozen=True, slots=True)
class Evidence:
    """Per source: probability that it is at fault, extra rate now [mg/h] with its standard deviation, best z, and the
    hours for which it has been so. `healthy` is the probability that nothing at all has happened."""

    probability: Array
    extra: Array
    extra_sd: Array
    z: Array
    since_h: Array
    healthy: float
    log_total: float
    """Log of the summed weights of all hypotheses against "nothing is wrong"."""
    hard: float = 0.0
    """Probability that a hard session explains this."""
    innocent: float = 0.0
    """Probability that one source shed more for a while with nothing behind it."""


def log_odds_of_extra(score: Array, information: Array, scale: Array) -> Array:
    """Log Bayes factor of an extra rate against none, the extra half-normal with `scale`.

    ∫ 2 N(δ; 0, σ²) exp(b δ − a δ²/2) dδ over δ > 0 = 2 (s/σ) Φ(m/s) exp(m²/2s²), s² = 1/(a + 1/σ²), m = s² b."""
    s2 = 1.0 / (information + 1.0 / scale**2)
    m = s2 * score
    s = np.sqrt(s2)
    return np.asarray(np.log(2.0) + np.log(s / scale) + log_ndtr(m / s) + 0.5 * m * m / s2)


@dataclass(frozen=True, slots=True)
class Prior:
    """Scales and chances of the hypotheses of a bank: `narrow` of those without, `wide` of those with tails."""

    scale: Array
    narrow: Array
    wide: Array


def prior_of(watch: Watch, normal: Array, share: Array, mass_kg: float, rules: Rules) -> Prior:
    """Chances and scales of every hypothesis. `normal` rate per source [mg/h], `share` of all faults per source [-]."""
    number = rules.number
    least = number("fault", "least_ppm_h") * mass_kg
    normal, share = np.append(normal, 0.0), np.append(share, 0.0)
    sources, shape, slot = watch.source, watch.shape, watch.slot
    hard = sources == watch.sources - 1
    step = (number("fault", "times_normal") * normal + least)[sources]
    slope = step / number("fault", "growth_h")
    blip = (number("fault", "blip_times_normal") * normal + least / 4.0)[sources]
    blip = np.where(hard, number("fault", "hard_times"), blip)
    scale = np.choose(shape, [step, slope, blip, slope / _CURVE_H, step])
    hours = np.maximum(watch.span_h, 0.2)[slot]
    early = watch.early[slot]
    # a constant extra rate from the first intervals on is what makes one engine differ from another, not a fault
    steady = np.minimum(early / 3.0, 1.0) * number("fault", "steady_share")
    growing = (1.0 - number("fault", "steady_share")) / 2.0
    fault = number("fault", "per_hour") * hours * share[sources]
    each = 1.0 / max(watch.sources - 1, 1)
    fade = np.where(early < 3.0, number("fault", "fade_early"), number("fault", "fade_late")) * each
    narrow = np.where(shape == BLIP, number("fault", "blip_per_hour") * np.minimum(hours, 4.0) * each, 0.0)
    narrow = np.where(hard & (shape == BLIP), number("fault", "hard_share"), narrow)
    wide = np.choose(
        shape, [fault * steady, fault * growing, number("fault", "splash_times") * fault, fault * growing, fade]
    )
    return Prior(scale, narrow, np.where(hard, 0.0, wide))


def weigh(
    watch: Watch,
    normal: Array,
    share: Array,
    mass_kg: float,
    rules: Rules,
    tasted: tuple[Array, Array] | None = None,
) -> Evidence:
    """Weighs every hypothesis of the bank against all others and against "nothing is wrong".

    `tasted`: information and score to weigh instead of the watch's own."""
    information, score = tasted or (watch.information, watch.score)
    prior = prior_of(watch, normal, share, mass_kg, rules)
    live = (watch.age_h[watch.slot] > 0) & (information > 1e-12)
    factors = log_odds_of_extra(score, information, prior.scale * _TAILS[:, None])
    top_factor = factors.max(axis=0)
    tails = top_factor + np.log(np.exp(factors - top_factor).mean(axis=0))
    with np.errstate(divide="ignore"):
        log_wide = tails + np.log(prior.wide)
        log_weight = np.logaddexp(factors[0] + np.log(prior.narrow), log_wide)
    log_weight = np.where(live, log_weight, -np.inf)
    top = max(float(log_weight.max(initial=0.0)), 0.0)
    total = top + float(np.log(np.exp(-top) + np.exp(log_weight - top).sum()))
    weight = np.exp(log_weight - total)
    wide = np.where(live, np.exp(log_wide - total), 0.0)
    # a splash in the interval that has just ended is a reason to look, once: nobody knows yet that it stops
    part = (watch.shape == BLIP) & (watch.slot == watch.current) & (watch.source < watch.sources - 1)
    return _summed(watch, weight, np.where(part, wide, 0.0), prior.scale, (information, score), live, total)


def _summed(
    watch: Watch,
    weight: Array,
    sudden: Array,
    scale: Array,
    known: tuple[Array, Array],
    live: NDArray[np.bool_],
    total: float,
) -> Evidence:
    """Weights of the bank gathered per source; `sudden` is the part of the blips that counts as a fault this once."""
    information, score = known
    grid = (watch.onsets, SHAPES, watch.sources)

    def gather(values: Array) -> Array:
        return np.asarray(values.reshape(grid)[:, _FAULTS, :].sum(axis=(0, 1))[:-1])

    def once(values: Array) -> Array:
        return np.asarray(values.reshape(grid)[:, BLIP, :].sum(axis=0)[:-1])

    s2 = 1.0 / (information + 1.0 / (scale * _TAILS[-1]) ** 2)
    m, s = s2 * score, np.sqrt(s2)
    mean = m + s * np.exp(-0.5 * (m / s) ** 2 - log_ndtr(m / s)) / np.sqrt(2.0 * np.pi)  # of the half line
    age = np.maximum(watch.age_h[watch.slot], 0.0)
    one = np.ones_like(age)
    reach = np.choose(watch.shape, [one, age, one, age * age, one])
    probability = gather(weight) + once(sudden)
    safe = np.maximum(probability, 1e-300)
    extra = (gather(weight * mean * reach) + once(sudden * mean)) / safe
    square = (gather(weight * (mean**2 + s2) * reach**2) + once(sudden * (mean**2 + s2))) / safe
    z = np.where(live, score / np.sqrt(np.maximum(information, 1e-12)), 0.0)
    shaped = weight.reshape(grid)
    return Evidence(
        probability=probability,
        extra=extra,
        extra_sd=np.sqrt(np.maximum(square - extra**2, 0.0)),
        z=z.reshape(grid)[:, _FAULTS, :].max(axis=(0, 1))[:-1],
        since_h=gather(weight * age) / safe,
        healthy=float(np.exp(-total)),
        log_total=total,
        hard=float(shaped[:, BLIP, -1].sum()),
        innocent=float(shaped[:, (BLIP, FADE), :-1].sum() - sudden.sum()),
    )
