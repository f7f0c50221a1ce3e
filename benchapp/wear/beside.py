"""What is taken for granted while every hypothesis is weighed: innocent explanations, the likeliest first.

A hard session some time ago, an engine that has its own way, a splash that passed may be true and a fault beside it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from benchapp.wear.chances import Prior
from benchapp.wear.surprise import Known
from benchapp.wear.watch import Watch

Array = NDArray[np.float64]

WIDE = 25.0
"""Multiple of a scale up to which an amplitude is held to be known by its scale."""

_TAILS = np.array([1.0, 5.0, WIDE])
"""Multiples of a scale that are mixed, beside the scale of what nothing foresees: an extra rate may also be far larger
than its scale."""

_SHARES = np.array([0.32, 0.32, 0.32, 0.04])
"""How likely each is (chosen). The last is for what nothing here foresees, 400 ppm of sodium with an oil that was
poured in: without it whatever shed for longest, and so needs the least rate, would win by the rate alone."""

_BESIDE = 3
"""Innocent explanations that may be true at once beside a fault."""


def log_odds_of_extra(score: Array, information: Array, scale: Array) -> Array:
    """Log Bayes factor of an extra rate against none, the extra half-normal with `scale`.

    ∫ 2 N(δ; 0, σ²) exp(b δ − a δ²/2) dδ over δ > 0 = 2 (s/σ) Φ(m/s) exp(m²/2s²), s² = 1/(a + 1/σ²), m = s² b."""
    s2 = 1.0 / (information + 1.0 / scale**2)
    m = s2 * score
    s = np.sqrt(s2)
    return np.asarray(np.log(2.0) + np.log(s / scale) + log_ndtr(m / s) + 0.5 * m * m / s2)


@dataclass(frozen=True, slots=True)
class Layer:
    """All hypotheses beside those taken for granted; log weights against "nothing is wrong" are base + log_weight."""

    base: float
    known: Known
    live: NDArray[np.bool_]
    log_weight: Array
    log_wide: Array
    given: tuple[int, float] | None = None
    """What was taken for granted last: its column and the scale of its amplitude."""


def layers_of(watch: Watch, prior: Prior, known: Known) -> tuple[list[Layer], list[Layer]]:
    """What is taken for granted one after the other, the likeliest first; and, where that begins with an excess that
    passes, once more without any such: a fault and a hard session may be likelier together than an excess and both."""
    columns, slots, lasting = watch.columns, watch.slots, watch.lasting
    begun = (slots.age_h[columns.slot] > 0) & ~watch.cleared
    chain = _Chain(watch, prior, begun, begun & ((prior.narrow > 0) | (prior.wide > 0)))
    first = chain.first(known)
    # what has only just come may be a fault's beginning: nobody knows yet that it passes
    only_just = columns.passing[lasting] & (columns.slot[lasting] == slots.current)
    behind = chain.follow(first, ~only_just)
    likeliest = behind[0].given if behind else None
    if likeliest is None or not columns.passing[likeliest[0]]:
        return [first, *behind], []
    return [first, *behind], chain.follow(first, ~columns.passing[lasting], (likeliest[0],), _BESIDE - 1)


@dataclass(frozen=True, slots=True)
class _Chain:
    """Takes one innocent explanation after the other for granted."""

    watch: Watch
    prior: Prior
    begun: NDArray[np.bool_]
    possible: NDArray[np.bool_]

    def first(self, known: Known) -> Layer:
        """Nothing is taken for granted."""
        return self._layer(0.0, known, [], None)

    def follow(
        self, first: Layer, may: NDArray[np.bool_], counted: tuple[int, ...] = (), most: int = _BESIDE
    ) -> list[Layer]:
        """The layers behind the first. `may`: which of the lasting ones; `counted`: what is weighed beside them
        elsewhere."""
        lasting, found, given = self.watch.lasting, list[Layer](), list(counted)
        layer = first
        for _ in range(most):
            chances = np.where(may, layer.log_weight[lasting], -np.inf)
            row = int(np.argmax(chances))
            if not chances[row] > 0.0:
                break
            column = int(lasting[row])
            given.append(column)
            scale = _scale_of(column, layer.known, self.prior)
            base, known = layer.base + float(chances[row]), layer.known.given(row, scale)
            layer = self._layer(base, known, given, (column, scale))
            found.append(layer)
        return found

    def _layer(self, base: float, known: Known, given: list[int], last: tuple[int, float] | None) -> Layer:
        live = self.begun & (known.information > 1e-12)
        log_weight, log_wide = _log_weights(known, self.prior, live & self.possible)
        log_weight[given] = -np.inf
        return Layer(base, known, live, log_weight, log_wide, last)


def _scale_of(column: int, known: Known, prior: Prior) -> float:
    """Of the amplitude of what is taken for granted: the wide one, or the far one where that is likelier.

    With one that is far too small two explanations would share the amplitude, and be likelier for it than either."""
    scale = float(prior.scale[column])
    if prior.wide[column] <= 0:
        return scale
    tails = np.array([scale * WIDE, prior.farthest[column]])
    found = log_odds_of_extra(known.score[column], known.information[column], tails)
    return float(tails[int(np.argmax(found))])


def _log_weights(known: Known, prior: Prior, asked: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Log weight of each hypothesis, and of its part with tails; minus infinity for those that are not `asked`."""
    at = np.flatnonzero(asked)
    scales = np.vstack([prior.scale[at] * _TAILS[:, None], prior.farthest[at]])
    factors = log_odds_of_extra(known.score[at], known.information[at], scales)
    top = factors.max(axis=0)
    tails = top + np.log(_SHARES @ np.exp(factors - top))
    with np.errstate(divide="ignore"):
        log_weight = tails + np.log(prior.wide[at])
    found = np.full((2, len(asked)), -np.inf)
    found[1, at] = log_weight
    some = np.flatnonzero(prior.narrow[at])
    log_weight[some] = np.logaddexp(factors[0, some] + np.log(prior.narrow[at[some]]), log_weight[some])
    found[0, at] = log_weight
    return found[0], found[1]
