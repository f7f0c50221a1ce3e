"""What the hypotheses of a watch are worth: probability per source, and how much it sheds beside the normal now.

Innocent explanations compete with faults on equal terms: a hard session, one interval's blip or splash, an excess that
fades. What is left over for "a fault" can then be read as a probability.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from benchapp.wear.beside import WIDE, Layer, layers_of
from benchapp.wear.chances import prior_of
from benchapp.wear.hypotheses import BLIP, CURVE, RAMP, STEP
from benchapp.wear.rules import Rules
from benchapp.wear.surprise import Known
from benchapp.wear.watch import Watch

Array = NDArray[np.float64]

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
    dust_once: float = 0.0
    """Probability that dust came in the interval before this one, and in no other."""
    given: tuple[Given, ...] = ()
    """What was taken for granted while the rest was weighed."""
    passing: NDArray[np.intp] = field(default_factory=lambda: np.zeros(0, dtype=np.intp))
    """Columns of the watch: passing excesses that are far likelier than nothing at all, the likeliest last."""

    @property
    def teaches(self) -> bool:
        """Whether the interval may be taken for what is normal: nothing has happened, or only what is long known and
        innocent (a hard session some time ago, an engine with its own way) and next to no fault."""
        return self.healthy > 0.5 or (self.sound > 0.8 and float(self.probability.sum()) < 0.03)


def weigh(
    watch: Watch,
    normal: Array,
    share: Array,
    mass_kg: float,
    rules: Rules,
    tasted: Known | None = None,
    dusty: float = 0.0,
) -> Weights:
    """Weighs every hypothesis of the bank against all others and against "nothing is wrong".

    A hard session some time ago, an engine that has its own way, or a part that beds in may be true and a fault beside
    it: the likeliest of these are taken for granted one after the other, and all others weighed again beside them.
    `tasted`: what the hypotheses are worth, to weigh instead of the watch's own; `dusty`: see `prior_of`."""
    prior = prior_of(watch, normal, share, mass_kg, rules, dusty)
    layers, aside = layers_of(watch, prior, tasted or watch.known)
    every = layers + aside
    top = max(max(float((one.base + one.log_weight).max(initial=-np.inf)), one.base) for one in every)
    sums = [np.exp(one.base - top) + np.exp(one.base + one.log_weight - top).sum() for one in every]
    # what is taken for granted is also one of the hypotheses of the layer before it: counted once
    twice = sum(float(np.exp(one.base - top)) for one in every[1:])
    total = top + float(np.log(sum(sums) - twice))
    return Weights(watch, layers, aside, prior.scale, prior.guilty, total, rules.number("fault", "steady_half_h"))


@dataclass(frozen=True, slots=True)
class Weights:
    """What every hypothesis of a watch weighs."""

    watch: Watch
    layers: list[Layer]
    aside: list[Layer]
    """Beside what is the engine's own or its driver's alone: without what passes, which explains what a fault does."""
    scale: Array
    guilty: Array
    """Of each hypothesis, how much of it is a fault's where it is a splash that has only just come [-]."""
    log_total: float
    """Log of the summed weights of all hypotheses against "nothing is wrong"."""
    half_h: float
    """Hours in which a constant extra rate becomes half the new normal [h]."""

    def gathered(self) -> Evidence:
        """The weights per source, before the watch walks on."""
        faults = _may_be_faults(self.watch, self.layers[0].live, self.scale, self.guilty, self.half_h)
        return _gathered(self, faults)


def _gathered(weights: Weights, faults: _MayBeFaults) -> Evidence:
    """Weights of the bank gathered per source."""
    watch, layers, total = weights.watch, weights.layers, weights.log_total
    sums = _Sums(watch, faults, total)
    for layer in (*layers, *weights.aside):
        sums.add(layer)
    given = _given(watch, layers, sums.of_layers[: len(layers)], total)
    once = sums.once + sum(one.probability for one in given if sums.breathed_once[one.column])
    safe = np.maximum(sums.probability, 1e-300)
    extra = sums.extra / safe
    return Evidence(
        probability=sums.probability,
        extra=extra,
        extra_sd=np.sqrt(np.maximum(sums.square / safe - extra**2, 0.0)),
        z=sums.z,
        since_h=sums.since / safe,
        healthy=float(np.exp(-total)),
        log_total=total,
        hard=sums.hard,
        innocent=sums.innocent,
        sound=1.0 - float(sums.probability.sum()) - sums.begun,
        dust_once=min(once, 1.0),
        given=given,
        passing=_passing(watch, layers),
    )


@dataclass(frozen=True, slots=True)
class _MayBeFaults:
    """The columns of the bank that may be a fault; all others have no part in the sums per source."""

    at: NDArray[np.intp]
    """Which they are; all else is of each of them."""
    source: NDArray[np.intp]
    lasts: NDArray[np.bool_]
    """Whether it sheds on; the others are splashes in the interval that has just ended."""
    guilty: Array
    """How much of such a splash is a fault's [-]."""
    age_h: Array
    """Hours since its onset [h]."""
    still: Array
    """Share of it that is not yet the new normal [-]."""
    reach: Array
    """Its rate now, per unit of its amplitude."""
    widest: Array
    """Information that the widest tail of its scale stands for."""


def _may_be_faults(
    watch: Watch, live: NDArray[np.bool_], scale: Array, guilty: Array, half_h: float
) -> _MayBeFaults:
    """A splash in the interval that has just ended is a reason to look, once: nobody knows yet that it stops."""
    columns, slots = watch.columns, watch.slots
    splash = (columns.shape == BLIP) & (columns.slot == slots.current) & (columns.source < columns.suspects)
    at = np.flatnonzero((columns.fault | splash) & live)
    source, shape = columns.source[at], columns.shape[at]
    age = np.maximum(slots.age_h[columns.slot[at]], 0.0)
    # what has shed more for long and has not grown is the new normal more and more; a leak never is
    still = np.where((shape == STEP) & ~columns.leak[source], 0.5 ** (age / half_h), 1.0)
    reach = np.where(shape == RAMP, age, np.where(shape == CURVE, age * age, 1.0))
    widest = 1.0 / (scale[at] * WIDE) ** 2
    return _MayBeFaults(at, source, columns.fault[at], guilty[at], age, still, reach, widest)


class _Sums:
    """Sums of weights over the layers, each layer counted beside what it takes for granted."""

    def __init__(self, watch: Watch, faults: _MayBeFaults, total: float) -> None:
        """`total`: log of all weights together."""
        self._columns, self._faults, self._total = watch.columns, faults, total
        self._new = watch.columns.slot == watch.slots.current
        # per source; all but z are sums weighted by the probability of a fault
        self.probability, self.extra, self.square, self.since, self.z = np.zeros((5, watch.columns.suspects))
        self.hard = self.innocent = self.begun = self.once = 0.0
        columns, slots = watch.columns, watch.slots
        before = slots.opened[columns.slot] == slots.intervals - 1
        self.breathed_once = before & (columns.shape == BLIP) & columns.breathed[columns.source]
        """Columns of dust that came in the interval before this one, and in no other."""
        self.of_layers: list[float] = []
        """The sum of the weights of each layer."""

    def add(self, layer: Layer) -> None:
        """One layer more: what of it is a fault per source, and what is innocent."""
        faults = self._faults
        aside = np.exp(layer.base + layer.log_weight - self._total)
        self.once += float(aside[self.breathed_once].sum())
        self.of_layers.append(float(aside.sum()))
        weight = aside[faults.at]
        lasts = np.where(faults.lasts, weight * faults.still, 0.0)
        splash = faults.guilty * np.exp(layer.base + layer.log_wide[faults.at] - self._total)
        sudden = np.where(faults.lasts, 0.0, splash)
        self._add_faults(lasts, lasts + sudden, layer)
        aside[faults.at] = np.where(faults.lasts, weight * (1.0 - faults.still), weight - sudden)
        self._add_innocent(aside)

    def _add_faults(self, lasts: Array, guilty: Array, layer: Layer) -> None:
        faults = self._faults
        score, information = layer.known.score[faults.at], layer.known.information[faults.at]
        s2 = 1.0 / (information + faults.widest)
        m, s = s2 * score, np.sqrt(s2)
        far = m / s
        mean = m + s * np.exp(-0.5 * far**2 - log_ndtr(far)) / np.sqrt(2.0 * np.pi)  # of the half line
        self.probability += self._per_source(guilty)
        self.extra += self._per_source(guilty * mean * faults.reach)
        self.square += self._per_source(guilty * (mean**2 + s2) * faults.reach**2)
        self.since += self._per_source(lasts * faults.age_h)
        seen = layer.live[faults.at] & faults.lasts
        np.maximum.at(self.z, faults.source, np.where(seen, score / np.sqrt(np.maximum(information, 1e-12)), 0.0))

    def _add_innocent(self, aside: Array) -> None:
        """`aside`: of every column the weight of what is no fault."""
        of_hard = float(aside[self._columns.hard].sum())
        self.hard += of_hard
        self.innocent += float(aside.sum() - of_hard)
        self.begun += float(aside[self._new].sum())

    def _per_source(self, values: Array) -> Array:
        return np.asarray(np.bincount(self._faults.source, values, minlength=self._columns.suspects))


def _given(watch: Watch, layers: list[Layer], sums: list[float], total: float) -> tuple[Given, ...]:
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

_BETTER = 2
"""And of those that are likelier than all that are held."""


def _passing(watch: Watch, layers: list[Layer]) -> NDArray[np.intp]:
    """What has shed more for a while: the surest of what the last layer does not yet take for granted; what explains
    by itself more than anything that is held (else no fault could be weighed beside the likeliest); and what is taken
    for granted, so that it is let go last."""
    passing, lasting = watch.columns.passing, watch.lasting
    first, last = layers[0].log_weight, layers[-1].log_weight
    held = first[lasting[passing[lasting]]]
    likelier = passing & (first > np.max(held, initial=_SURE))
    likelier[lasting] = False
    given = [layer.given[0] for layer in layers if layer.given is not None]
    return np.concatenate([
        _likeliest(np.flatnonzero(passing & (last > _SURE)), last, _MOST),
        _likeliest(np.flatnonzero(likelier), first, _BETTER),
        np.array(given, dtype=np.intp),
    ])


def _likeliest(columns: NDArray[np.intp], log_weight: Array, most: int) -> NDArray[np.intp]:
    return columns[np.argsort(log_weight[columns], kind="stable")[-most:]]
