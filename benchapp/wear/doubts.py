"""Doubts about a sample: another engine's bottle, a very large fault instead of it, a single wild reading.

Each is a log density of what was read, with the chance of its kind in it, so that they can be held against each other
and against `Appraisal.log_density`, the sample as this engine's own."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.wear.chances import faults_per_hour
from benchapp.wear.look import Appraisal
from benchapp.wear.rules import Rules
from benchapp.wear.sources import WEAR, Sources
from benchapp.wear.surprise import Surprise, whitening
from benchapp.wear.watch import Watch

Array = NDArray[np.float64]

_FIRST = 3
"""Sources, likeliest first, of which it is asked whether they have torn another part with them."""

_SISTER_PPM = 0.5
"""And by so many ppm, beside a share of it, another engine may read more or less of a metal in one oil (chosen)."""

_CLEARLY = 1.5
"""Standard deviations from which a reading counts as off: what is off the same way again is no slip (chosen)."""

_WILD_WIDTHS = np.array([0.1, 1.0, 36.0, 900.0])
"""How far off a wild reading may be: variances, in those of a wrong bottle (chosen: from somewhat to absurd)."""


def log_foreign(
    seen: Appraisal, expected: Array, made_of: NDArray[np.bool_], metal: NDArray[np.bool_], rules: Rules, *, again: bool
) -> float:
    """Log density of a sample, chance included, if it is not of this engine's oil at all (mixed, swapped).

    `expected` in the sump [ppm]; `made_of`: elements that count as proof; `metal`: those that come from parts and not
    with the oil; `again`: the sample before was so too."""
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
    if (read & beyond & made_of & (surprise.difference < 0.0)).any():
        # what reads too low is no fault, and metal does not leave oil: a sister engine's bottle, of the same oil
        alike = (share * np.abs(expected)) ** 2 + _SISTER_PPM**2
        covariance = surprise.covariance + np.diag(np.where(read & metal, alike, 0.0))
        best = max(best, _log_density(surprise.difference, covariance, read))
    chance = rules.number("bottle", "odd" if seen.odd else ("again" if again else "chance"))
    return math.log(chance) + best


def log_thinned(seen: Appraisal, expected: Array, metal: NDArray[np.bool_], rules: Rules) -> float:
    """Log density of a sample, chance included, if the other oil whose additives it shows is in the bottle alone: the
    metals are thinned by it as well. In a sump that was filled with it they would be what they should be.

    `expected` in the sump [ppm]; `metal`: elements that come from parts."""
    if seen.other is None:
        return -math.inf
    surprise, read = seen.surprise, np.isfinite(seen.judged)
    gone = np.where(read & metal, seen.other.share * np.maximum(expected, 0.0), 0.0)
    unsure = rules.pair("bottle", "spread")[0] * gone
    covariance = surprise.covariance + np.diag(unsure**2)
    density = _log_density(surprise.difference + gone, covariance, read)
    return math.log(rules.number("bottle", "odd")) + density


def log_large(seen: Appraisal, watch: Watch, sources: Sources, rules: Rules) -> float:
    """Log density of a sample, chance included, if one source has shed very much in this interval, or one and the part
    that it has torn with it; what the oil itself holds much of proves nothing of it.

    Very much of an alloy is never exactly the table's composition: the tolerance grows with the amount, which the
    filter's fixed directions do not know. Without it a large fault would pass for another engine's bottle."""
    if seen.odd:
        return -math.inf
    surprise, read = seen.surprise, np.isfinite(seen.judged)
    wear = np.array(sources.kinds) == WEAR
    shown = _shown(seen, sources, rules)
    chances = _log_chances(watch, sources, ~wear, rules)
    along, strength = shown.fit(surprise.white, surprise.difference)
    found: list[tuple[float, int, Array]] = []
    for j in np.flatnonzero((along > 0) & (strength > 0)).tolist():
        covariance = shown.allowing(surprise.covariance, j, float(along[j] / strength[j]))
        found.append((chances[j] + _log_density(surprise.difference, covariance, read), j, covariance))
    best = max((density for density, *_ in found), default=-math.inf)
    torn = math.log(rules.number("fault", "torn"))
    likeliest = sorted((one for one in found if wear[one[1]]), key=lambda one: -one[0])[:_FIRST]
    for _, j, covariance in likeliest:
        best = max(best, chances[j] + torn + _log_with_another(surprise.difference, covariance, shown, wear))
    return best


def _log_chances(watch: Watch, sources: Sources, outside: NDArray[np.bool_], rules: Rules) -> list[float]:
    """Log chance of each source that a fault of it began in this interval. `outside`: those that are no parts."""
    slots = watch.slots
    hours = float(max(slots.span_h[slots.current], 0.2))
    life = slots.age_h[[slots.whole, slots.current]]
    often = faults_per_hour(float(life[0] - life[1]), rules, outside)
    return [
        math.log(max(each * hours * share, 1e-300))
        for each, share in zip(often.tolist(), sources.weight.tolist(), strict=True)
    ]


def _log_with_another(difference: Array, covariance: Array, shown: _Shown, wear: NDArray[np.bool_]) -> float:
    """Log density if a second part has shed very much as well, whichever explains most. `covariance` allows for the
    first [ppm²]."""
    white, _ = whitening(covariance)
    along, strength = shown.fit(white, difference)
    best = -math.inf
    for k in np.flatnonzero(wear & (along > 0) & (strength > 0)).tolist():
        both = shown.allowing(covariance, k, float(along[k] / strength[k]))
        best = max(best, _log_density(difference, both, shown.read))
    return best


@dataclass(frozen=True, slots=True)
class _Shown:
    """What sources show in one sample: of each the fractions of its elements that were read and prove something, and
    their tolerance, elements × sources."""

    fractions: Array
    tolerance: Array
    read: NDArray[np.bool_]

    def fit(self, white: Array, difference: Array) -> tuple[Array, Array]:
        """Score and information of each source's amount [ppm of it], it alone being the cause of a difference."""
        columns = white @ self.fractions
        return (white @ difference) @ columns, np.sum(columns**2, axis=0)

    def allowing(self, covariance: Array, source: int, amount: float) -> Array:
        """A covariance [ppm²] that allows for about so much of a source [ppm], and for its composition."""
        column = self.fractions[:, source]
        covariance = covariance + np.outer(column, column) * amount**2
        tolerance = np.where(self.read, (self.tolerance[:, source] * amount) ** 2, 0.0)
        return np.asarray(covariance + np.diag(tolerance))


def _shown(seen: Appraisal, sources: Sources, rules: Rules) -> _Shown:
    read = np.isfinite(seen.judged)
    fractions = np.where(np.logical_and(read, ~seen.foreign)[:, None], sources.fractions, 0.0)
    return _Shown(fractions, sources.tolerance + rules.number("spread", "composition") * fractions, read)


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


def off(seen: Appraisal) -> Array:
    """Per element 1 where a sample reads clearly more than was expected, -1 less, 0 neither."""
    surprise = seen.surprise
    z = surprise.difference / np.sqrt(surprise.covariance.diagonal())
    return np.where(np.isfinite(seen.judged) & (np.abs(z) > _CLEARLY), np.sign(z), 0.0)


def dregs(seen: Appraisal, watch: Watch, metal: NDArray[np.bool_], rules: Rules) -> tuple[Array, float] | None:
    """What a bottle from the sump's bottom or the filter would read too high by (one standard deviation, ppm), and the
    log density of the sample if it is one: all that settles is up together, what is dissolved is not.

    `metal`: elements that settle. None where they are not up."""
    chance, more = rules.pair("bottle", "dregs")
    surprise = seen.surprise
    along = np.where(metal & np.isfinite(seen.judged), more * np.maximum(watch.c, 0.0), 0.0)
    pull, own = _along(surprise, along)
    # one metal alone that is up is a part's: the others must say it too
    loudest = int(np.argmax(along * surprise.difference / surprise.covariance.diagonal()))
    others, size = _along(surprise, np.where(np.arange(len(along)) == loudest, 0.0, along))
    if pull <= 0.0 or others <= _CLEARLY * math.sqrt(size):
        return None
    gain = 0.5 * pull**2 / (1.0 + own) - 0.5 * math.log1p(own)
    return along, surprise.log_density + gain + math.log(chance)


def _along(surprise: Surprise, direction: Array) -> tuple[float, float]:
    """Score and information of an amplitude along a direction [ppm]."""
    white = surprise.white @ direction
    return float(white @ (surprise.white @ surprise.difference)), float(white @ white)


def wild_reading(
    seen: Appraisal, may: NDArray[np.bool_], watch: Watch, rules: Rules
) -> tuple[int, float] | None:
    """The reading that is likeliest a bad burn or a slip of the pen, and the log density of the sample if it is so.

    `may`: readings that may be so; None where none may."""
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
    return i, surprise.log_density + float(worth[i])
