"""What the hypotheses of a watch are worth: probability per source, and how much it sheds beside the normal now.

Innocent explanations compete with faults on equal terms: a hard session, one interval's blip or splash, an excess that
fades. What is left over for "a fault" can then be read as a probability.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from benchapp.wear.hypotheses import BLIP, CURVE, FADE, RAMP, SHAPES, STEP
from benchapp.wear.rules import Rules
from benchapp.wear.surprise import Known
from benchapp.wear.watch import Watch

Array = NDArray[np.float64]

_TAILS = np.array([1.0, 5.0, 25.0])
"""Multiples of a scale that are mixed in equal parts: an extra rate may also be far larger than its scale."""

_CURVE_H = 10.0
"""Hours at which a curved growth has the scale of a straight one [h]."""


@dataclass(frozen=True, slots=True)
class Given:
    """An innocent explanation that was taken for granted: its column of the watch, the scale of its amplitude, and the
    probability that it is true."""

    column: int
    scale: float
    probability: float
    alike: float
    """Probability that it is true, or that the same metal was shed for a while beginning at another hour."""


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
    sound: float = 1.0
    """Probability that nothing is at fault and that nothing out of the way, innocent or not, began in this interval."""
    given: tuple[Given, ...] = ()
    """What was taken for granted while the rest was weighed."""
    passing: NDArray[np.intp] = field(default_factory=lambda: np.zeros(0, dtype=np.intp))
    """Columns of the watch: passing excesses that are far likelier than nothing at all, the likeliest last."""

    @property
    def teaches(self) -> bool:
        """Whether the interval may be taken for what is normal: nothing has happened, or only what is long known and
        innocent (a hard session some time ago, an engine with its own way) and next to no fault."""
        return self.healthy > 0.5 or (self.sound > 0.8 and float(self.probability.sum()) < 0.03)


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


def faults_per_hour(onset_h: Array | float, rules: Rules, outside: NDArray[np.bool_]) -> Array:
    """How often a fault begins, all sources together [1/h], so many hours after the first start.

    `outside`: where it is no part's fault but dust or coolant, which nobody built in."""
    more, more_h = rules.pair("fault", "early")
    built = np.where(outside, 0.0, more * np.exp(-np.asarray(onset_h) / more_h))
    return np.asarray(rules.number("fault", "per_hour") * (1.0 + built))


def prior_of(watch: Watch, normal: Array, share: Array, mass_kg: float, rules: Rules) -> Prior:
    """Chances and scales of every hypothesis. `normal` rate per source [mg/h], `share` of all faults per source [-].

    Worked out as slots × shapes × sources, in the order of the bank's columns."""
    number, columns, slots = rules.number, watch.columns, watch.slots
    least = number("fault", "least_ppm_h") * mass_kg
    behind = np.zeros(columns.sources - columns.suspects)
    normal, share = np.append(normal, behind), np.append(share, behind)
    hard, whole = columns.sources - 1, slots.whole
    harmless = slice(columns.suspects, hard)
    step = number("fault", "times_normal") * normal + least
    slope = step / number("fault", "growth_h")
    blip = number("fault", "blip_times_normal") * normal + least / 4.0
    blip[hard] = number("fault", "hard_times")
    scale = np.array([step, slope, blip, slope / _CURVE_H, step])
    scale[:, harmless] = np.array([one.ppm_h for one in columns.harmless]) * mass_kg
    # of each slot, beside all sources
    hours = np.maximum(slots.span_h, 0.2)[:, None]
    early = slots.early[:, None]
    onset_h = np.maximum(slots.age_h[whole] - slots.age_h, 0.0)[:, None]
    # a constant extra rate from the first intervals on may be what makes one engine differ from another
    # (coolant is no engine's own way; silicon may be: sealant, the air it breathes)
    breathed, leak = columns.breathed, columns.leak
    steady = np.clip(early / 3.0, np.where(breathed, 0.0, number("fault", "steady_early")), 1.0)
    steady = np.where(leak, 1.0, steady) * number("fault", "steady_share")
    growing = (1.0 - number("fault", "steady_share")) / 2.0
    fault = faults_per_hour(onset_h, rules, np.logical_or(leak, breathed)) * hours * share
    each = 1.0 / max(columns.suspects, 1)
    # what beds in does so from the first start on
    bedding = np.where(early < 3.0, np.exp(-onset_h / number("fault", "fade_early_h")), 0.0)
    narrow, wide = np.zeros((2, columns.slots, SHAPES, columns.sources))
    narrow[:, BLIP] = number("fault", "blip_per_hour") * np.minimum(hours, 4.0) * each
    narrow[:, BLIP, hard] = number("fault", "hard_share")
    wide[:, STEP] = fault * steady
    wide[:, RAMP] = wide[:, CURVE] = fault * growing
    wide[:, BLIP] = number("fault", "splash_times") * fault
    wide[:, FADE] = (number("fault", "fade_early") * bedding + number("fault", "fade_late")) * each
    wide[:, :, hard] = 0.0
    wide[:, BLIP, hard] = number("fault", "far_harder_share")
    narrow[whole, BLIP] = wide[whole, BLIP] = 0.0
    # a source that has worn more all its life than the family's does is one engine's own way, not a fault; of a
    # part that is never a matter of many times the usual, of the air's silicon it may be
    odd = number("fault", "odd_engine") * each
    narrow[whole, STEP] = np.where(leak | breathed, 0.0, odd)
    wide[whole, STEP] = np.where(leak, wide[whole, STEP], np.where(breathed, odd, 0.0))
    narrow[:, :, harmless] = wide[:, :, harmless] = 0.0
    per_hour = np.array([one.per_hour for one in columns.harmless]) * hours
    at_start = np.array([one.at_start for one in columns.harmless]) * np.exp(-onset_h)
    narrow[:, FADE, harmless] = per_hour
    wide[:, FADE, harmless] = at_start + number("harmless", "far") * per_hour
    return Prior(np.tile(scale.ravel(), columns.slots), narrow.ravel(), wide.ravel())


_BESIDE = 3
"""Innocent explanations that may be true at once beside a fault."""


def weigh(
    watch: Watch, normal: Array, share: Array, mass_kg: float, rules: Rules, tasted: Known | None = None
) -> Weights:
    """Weighs every hypothesis of the bank against all others and against "nothing is wrong".

    A hard session some time ago, an engine that has its own way, or a part that beds in may be true and a fault beside
    it: the likeliest of these are taken for granted one after the other, and all others weighed again beside them.
    `tasted`: what the hypotheses are worth, to weigh instead of the watch's own."""
    prior = prior_of(watch, normal, share, mass_kg, rules)
    layers = _layers(watch, prior, tasted or watch.known)
    top = max(max(float((one.base + one.log_weight).max(initial=-np.inf)), one.base) for one in layers)
    sums = [np.exp(one.base - top) + np.exp(one.base + one.log_weight - top).sum() for one in layers]
    # what is taken for granted is also one of the hypotheses of the layer before it: counted once
    twice = sum(float(np.exp(one.base - top)) for one in layers[1:])
    total = top + float(np.log(sum(sums) - twice))
    return Weights(watch, layers, prior.scale, total, rules.number("fault", "steady_half_h"))


@dataclass(frozen=True, slots=True)
class _Layer:
    """All hypotheses beside those taken for granted; log weights against "nothing is wrong" are base + log_weight."""

    base: float
    known: Known
    live: NDArray[np.bool_]
    log_weight: Array
    log_wide: Array
    given: tuple[int, float] | None = None
    """What was taken for granted last: its column and the scale of its amplitude."""


@dataclass(frozen=True, slots=True)
class Weights:
    """What every hypothesis of a watch weighs."""

    watch: Watch
    layers: list[_Layer]
    scale: Array
    log_total: float
    """Log of the summed weights of all hypotheses against "nothing is wrong"."""
    half_h: float
    """Hours in which a constant extra rate becomes half the new normal [h]."""

    def gathered(self) -> Evidence:
        """The weights per source, before the watch walks on."""
        return _gathered(self.watch, self.layers, self.scale, self.log_total, self.half_h)


def _layers(watch: Watch, prior: Prior, known: Known) -> list[_Layer]:
    columns, slots = watch.columns, watch.slots
    begun = (slots.age_h[columns.slot] > 0) & ~watch.cleared
    possible = begun & ((prior.narrow > 0) | (prior.wide > 0))
    # what has only just come may be a fault's beginning: nobody knows yet that it passes
    only_just = columns.passing[watch.lasting] & (columns.slot[watch.lasting] == slots.current)
    found: list[_Layer] = []
    base, given = 0.0, list[int]()
    last: tuple[int, float] | None = None
    for _ in range(_BESIDE + 1):
        live = begun & (known.information > 1e-12)
        log_weight, log_wide = _log_weights(known, prior, live & possible)
        log_weight[given] = -np.inf
        found.append(_Layer(base, known, live, log_weight, log_wide, last))
        lasting = np.where(only_just, -np.inf, log_weight[watch.lasting])
        row = int(np.argmax(lasting))
        if not lasting[row] > 0.0:
            break
        column = int(watch.lasting[row])
        base += float(lasting[row])
        given.append(column)
        scale = float(prior.scale[column]) * (_TAILS[-1] if prior.wide[column] > 0 else 1.0)
        known, last = known.given(row, scale), (column, scale)
    return found


def _log_weights(known: Known, prior: Prior, asked: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Log weight of each hypothesis, and of its part with tails; minus infinity for those that are not `asked`."""
    at = np.flatnonzero(asked)
    factors = log_odds_of_extra(known.score[at], known.information[at], prior.scale[at] * _TAILS[:, None])
    top = factors.max(axis=0)
    tails = top + np.log(np.exp(factors - top).mean(axis=0))
    with np.errstate(divide="ignore"):
        log_weight = tails + np.log(prior.wide[at])
    found = np.full((2, len(asked)), -np.inf)
    found[1, at] = log_weight
    some = np.flatnonzero(prior.narrow[at])
    log_weight[some] = np.logaddexp(factors[0, some] + np.log(prior.narrow[at[some]]), log_weight[some])
    found[0, at] = log_weight
    return found[0], found[1]


def _gathered(watch: Watch, layers: list[_Layer], scale: Array, total: float, half_h: float) -> Evidence:
    """Weights of the bank gathered per source.

    A splash in the interval that has just ended is a reason to look, once: nobody knows yet that it stops."""
    columns, slots = watch.columns, watch.slots
    sources = columns.suspects
    new = columns.slot == slots.current
    splash = (columns.shape == BLIP) & new & (columns.source < sources)
    # the columns that may be a fault; all others have no part in the sums per source
    at = np.flatnonzero((columns.fault | splash) & layers[0].live)
    source, shape, fault = columns.source[at], columns.shape[at], columns.fault[at]
    age = np.maximum(slots.age_h[columns.slot[at]], 0.0)
    # what has shed more for long and has not grown is the new normal more and more; a leak never is
    still = np.where((shape == STEP) & ~columns.leak[source], 0.5 ** (age / half_h), 1.0)
    reach = np.where(shape == RAMP, age, np.where(shape == CURVE, age * age, 1.0))
    widest = 1.0 / (scale[at] * _TAILS[-1]) ** 2

    def gather(values: Array) -> Array:
        return np.asarray(np.bincount(source, values, minlength=sources))

    probability, extra, square, since = (np.zeros(sources) for _ in range(4))
    z = np.zeros(sources)
    hard = innocent = begun = 0.0
    sums: list[float] = []
    for layer in layers:
        aside = np.exp(layer.base + layer.log_weight - total)
        sums.append(float(aside.sum()))
        weight = aside[at]
        lasts = np.where(fault, weight * still, 0.0)
        sudden = np.where(fault, 0.0, np.exp(layer.base + layer.log_wide[at] - total))
        guilty = lasts + sudden
        score, information = layer.known.score[at], layer.known.information[at]
        s2 = 1.0 / (information + widest)
        m, s = s2 * score, np.sqrt(s2)
        far = m / s
        mean = m + s * np.exp(-0.5 * far**2 - log_ndtr(far)) / np.sqrt(2.0 * np.pi)  # of the half line
        probability += gather(guilty)
        extra += gather(guilty * mean * reach)
        square += gather(guilty * (mean**2 + s2) * reach**2)
        since += gather(lasts * age)
        surprise = np.where(layer.live[at] & fault, score / np.sqrt(np.maximum(information, 1e-12)), 0.0)
        np.maximum.at(z, source, surprise)
        of_hard = float(aside[columns.hard].sum())
        aside[at] = np.where(fault, weight * (1.0 - still), weight - sudden)
        hard += of_hard
        innocent += float(aside.sum() - of_hard)
        begun += float(aside[new].sum())
    safe = np.maximum(probability, 1e-300)
    extra = extra / safe
    return Evidence(
        probability=probability,
        extra=extra,
        extra_sd=np.sqrt(np.maximum(square / safe - extra**2, 0.0)),
        z=z,
        since_h=since / safe,
        healthy=float(np.exp(-total)),
        log_total=total,
        hard=hard,
        innocent=innocent,
        sound=1.0 - float(probability.sum()) - begun,
        given=_given(watch, layers, sums, total),
        passing=_passing(watch, layers[-1]),
    )


def _given(watch: Watch, layers: list[_Layer], sums: list[float], total: float) -> tuple[Given, ...]:
    """What was taken for granted, layer after layer, each with the weight of all layers in which it is.

    `sums`: of the weights of each layer."""
    columns, found = watch.columns, list[Given]()
    for number, layer in enumerate(layers):
        if layer.given is None:
            continue
        column, scale = layer.given
        beside, alone = float(sum(sums[number:])), float(np.exp(layer.base - total))
        # of the layers before, where it stands alone is one of these
        kin = columns.brief & (columns.kin == columns.kin[column])
        alike = sum(float(np.exp(one.base + one.log_weight[kin] - total).sum()) for one in layers[:number])
        found.append(Given(column, scale, beside + alone, beside + alike))
    return tuple(found)


_SURE = 3.0
"""Log weight from which a passing excess is held to be true: twenty times as likely as nothing at all (chosen)."""

_MOST = 4
"""Passing excesses that are handed over at once."""


def _passing(watch: Watch, layer: _Layer) -> NDArray[np.intp]:
    """What has shed more for a while, the surest of what the last layer does not yet take for granted."""
    sure = np.flatnonzero(watch.columns.passing & (layer.log_weight > _SURE))
    order = np.argsort(layer.log_weight[sure], kind="stable")[-_MOST:]
    return sure[order]
