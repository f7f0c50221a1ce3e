"""Doubts about a sample: another engine's bottle, a very large fault instead of it, a single wild reading.

Each is a log density of what was read, with the chance of its kind in it, so that they can be held against each other
and against `Appraisal.log_density`, the sample as this engine's own."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from benchapp.wear.evidence import faults_per_hour
from benchapp.wear.look import Appraisal
from benchapp.wear.rules import Rules
from benchapp.wear.sources import WEAR, Sources
from benchapp.wear.watch import Watch

Array = NDArray[np.float64]

_WILD_WIDTHS = np.array([0.1, 1.0, 36.0, 900.0])
"""How far off a wild reading may be: variances, in those of a wrong bottle (chosen: from somewhat to absurd)."""


def log_foreign(seen: Appraisal, expected: Array, made_of: NDArray[np.bool_], rules: Rules, *, again: bool) -> float:
    """Log density of a sample, chance included, if it is not of this engine's oil at all (mixed, swapped).

    `expected` in the sump [ppm]; `made_of`: elements that count as proof; `again`: the sample before was so too."""
    surprise, read = seen.surprise, np.isfinite(seen.judged)
    beyond = np.abs(surprise.difference) > 3.0 * np.sqrt(surprise.covariance.diagonal())
    if int((read & beyond & made_of).sum()) < 2 and not seen.odd:
        return -math.inf  # one element that is off is no proof of another engine's bottle
    share, least = rules.pair("bottle", "spread")
    wide = (share * np.abs(expected)) ** 2 + least**2
    best = -math.inf
    for times in (1.0, 6.0, 30.0):
        covariance = surprise.covariance + np.diag(np.where(read, wide * times**2, 0.0))
        best = max(best, _log_density(surprise.difference, covariance, read))
    chance = rules.number("bottle", "odd" if seen.odd else ("again" if again else "chance"))
    return math.log(chance) + best


def log_large(seen: Appraisal, watch: Watch, sources: Sources, rules: Rules) -> float:
    """Log density of a sample, chance included, if one source has shed very much in this interval; what the oil itself
    holds much of proves nothing of it.

    Very much of an alloy is never exactly the table's composition: the tolerance grows with the amount, which the
    filter's fixed directions do not know. Without it a large fault would pass for another engine's bottle."""
    if seen.odd:
        return -math.inf
    surprise, read = seen.surprise, np.isfinite(seen.judged)
    slots = watch.slots
    hours = float(max(slots.span_h[slots.current], 0.2))
    life = slots.age_h[[slots.whole, slots.current]]
    often = faults_per_hour(float(life[0] - life[1]), rules, np.array(sources.kinds) != WEAR)
    shown = np.where(np.logical_and(read, ~seen.foreign)[:, None], sources.fractions, 0.0)
    white = surprise.white @ shown
    along, strength = (surprise.white @ surprise.difference) @ white, np.sum(white**2, axis=0)
    best = -math.inf
    for j in np.flatnonzero((along > 0) & (strength > 0)).tolist():
        amount = float(along[j] / strength[j])
        column = shown[:, j]
        tolerance = sources.tolerance[:, j] + rules.number("spread", "composition") * column
        covariance = surprise.covariance + np.outer(column, column) * amount**2
        covariance = covariance + np.diag(np.where(read, (tolerance * amount) ** 2, 0.0))
        chance = float(often[j]) * hours * float(sources.weight[j])
        best = max(best, math.log(max(chance, 1e-300)) + _log_density(surprise.difference, covariance, read))
    return best


def _log_density(difference: Array, covariance: Array, read: NDArray[np.bool_]) -> float:
    """Gaussian log density, up to what does not depend on the covariance, over the elements read."""
    root = np.linalg.cholesky(covariance)
    scaled = np.linalg.solve(root, difference)
    logdet = 2.0 * float(np.sum(np.log(root.diagonal())[read]))
    return -0.5 * (float(scaled @ scaled) + logdet)


def foretold(
    seen: Appraisal, additive: NDArray[np.bool_], wear: bool, elements: tuple[str, ...], listed: Mapping[str, float]
) -> NDArray[np.bool_]:
    """Readings of which is known what they should be: of wear (where `wear` says that the history is long enough) from
    this engine's history, of an additive from what the oil's record has `listed`; nothing is odd before."""
    return np.array([
        np.isfinite(seen.judged[i]) and not seen.observed[element].qualifier
        and (element in listed if additive[i] else wear)
        for i, element in enumerate(elements)
    ], dtype=bool)  # fmt: skip


def wild_reading(
    seen: Appraisal, may: NDArray[np.bool_], watch: Watch, sources: Sources, rules: Rules
) -> int | None:
    """The one reading that is likelier a bad burn or a slip of the pen than anything in the engine, or None.

    `may`: readings that may be so."""
    if not may.any():
        return None
    surprise = seen.surprise
    inverse = surprise.white.T @ surprise.white
    pull, own = inverse @ surprise.difference, inverse.diagonal()
    share, least = rules.pair("bottle", "spread")
    width = (share * np.abs(watch.c) + least)[:, None] ** 2 * _WILD_WIDTHS
    gain = 0.5 * width * pull[:, None] ** 2 / (1.0 + width * own[:, None])
    gain = (gain - 0.5 * np.log1p(width * own[:, None])).max(axis=1)
    worth = np.where(may, gain + math.log(rules.number("bottle", "wild") / len(may)), -np.inf)
    i = int(np.argmax(worth))
    alone = surprise.log_density + worth[i]
    if alone <= seen.log_density or alone <= log_large(seen, watch, sources, rules):
        return None
    return i
