"""Whether what a sample holds of additives is another oil of the bench file, and how much of it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.records import Oil

Array = NDArray[np.float64]


ANOTHER_OIL = "another oil"
"""What a sample's oil is called that no oil of the bench file comes near to."""


@dataclass(frozen=True, slots=True)
class Error:
    """How far an oil may be from its record: a share of the level, and so many ppm [-, ppm]."""

    share: float
    least: float

    def of(self, level: Array) -> Array:
        return self.share * np.abs(level) + self.least


@dataclass(frozen=True, slots=True)
class Poured:
    """Another oil that explains a sample: its name, its part of what is in the sump [-], and the elements it moves."""

    name: str
    share: float
    moved: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Sampled:
    """What a sample says of the oil beside what the sump should hold: per element [ppm], NaN where nothing was read."""

    elements: Sequence[str]
    reading: Array
    variance: Array
    """Of the reading [ppm²]."""
    expected: Array
    told: NDArray[np.bool_]
    """Elements that oils are told by and whose expected level is known."""
    rivals: Array
    """Elements × what else may bring such elements (coolant, dust), per mg."""
    unsure: Array
    """Of the expected [ppm²]."""
    renewed: bool = False
    """Whether the oil was changed since the latest sample of the oil on record."""


def poured(sampled: Sampled, oils: Mapping[str, Oil], here: str, error: Error, gain: float) -> Poured | None:
    """The oil of the bench file that explains a sample better than the oil on record, `here`, and all rivals, or None.

    Fitted for each: reading = (1 − f) expected + f fresh, 0 ≤ f ≤ 1, over the elements of which either oil holds much;
    what the oils leave open is metal's. `gain`: by how much of χ² the oil must be better [-]. An oil that moves
    one element alone says nothing that a leak would not say, so at least two must be moved; one is enough where the oil
    has been renewed, the element stands, far off, where a whole fill of that oil would have it, and no rival does
    better."""
    best: Poured | None = None
    least = math.inf
    for name, oil in oils.items():
        if name == here:
            continue
        fresh = np.array([oil.fresh_ppm.get(element, np.nan) for element in sampled.elements])
        found = _explained(sampled, fresh, error, gain)
        if found is not None and found.chi_square < least:
            best, least = Poured(name, found.share, found.moved), found.chi_square
    return best


@dataclass(frozen=True, slots=True)
class _Explained:
    """A sample that one oil explains: the oil's part [-], the elements it moves, and what is left of χ²."""

    share: float
    moved: NDArray[np.bool_]
    chi_square: float


def _explained(sampled: Sampled, fresh: Array, error: Error, gain: float) -> _Explained | None:
    """The sample by one oil, `fresh` [ppm], or None where it does not fit or nothing is gained."""
    reading, expected = sampled.reading, sampled.expected
    much = np.fmax(fresh, expected) > _MUCH_PPM
    used = np.isfinite(fresh) & np.isfinite(reading) & much & sampled.told
    count = int(used.sum())
    if count < _LEAST:
        return None
    # of what is there, not of what a whole fill would hold: little of a rich oil is as sure as much of a poor one
    sd = np.sqrt(sampled.variance[used] + error.of(np.fmax(reading, expected)[used]) ** 2)
    away, seen = (fresh - expected)[used] / sd, (reading - expected)[used] / sd
    if float(seen @ seen) <= gain:
        return None  # the oil on record leaves too little for another to be so much better
    share, left = _fitted(away, seen)
    moved = np.abs(share * away) > _MOVED_SD
    chi_square = float(left @ left)
    fits = chi_square <= count + _LOOSE * math.sqrt(2.0 * count)
    lone = sampled.renewed and share > _WHOLE_FILL and float(np.abs(away).max()) > _FAR_SD
    if moved.sum() < (1 if lone else 2) or not fits:
        return None
    if chi_square + (0.0 if lone else gain) >= float(seen @ seen) - _by_a_rival(sampled, used, sd, error):
        return None
    places = np.zeros(len(reading), dtype=bool)
    places[np.flatnonzero(used)[moved]] = True
    return _Explained(share, places, chi_square)


def unexplained(difference: Array, covariance: Array, rivals: Array) -> bool:
    """Whether additives are too far from the oil on record to be of it, whatever one of the rivals has brought.

    `difference` [ppm] of the additives read from what they should be, its covariance [ppm²]; `rivals`: of these
    additives × what else may bring them, per mg (coolant and dust bring boron, phosphorus or calcium too)."""
    count = len(difference)
    weighted = np.linalg.solve(covariance, difference)
    chi_square = float(difference @ weighted)
    limit = count + 8.0 * math.sqrt(2.0 * count) + 10.0
    if chi_square <= limit:
        return False
    for column in np.ascontiguousarray(rivals.T):
        scale, along = float(column @ np.linalg.solve(covariance, column)), float(column @ weighted)
        if scale > 1e-12 and along > 0 and chi_square - along**2 / scale <= limit:
            return False
    return True


def nearest(
    elements: Sequence[str], oils: Mapping[str, Oil], here: str, reading: Array, expected: Array
) -> tuple[str, float]:
    """Which oil of the bench file a sample's additives come nearest to, and its part [-]; `ANOTHER_OIL`, 0 where none
    does. NaN: no additive, not read.

    For a sample of which it is known already that it is not of the oil on record. Fitted as in `poured`, each element
    judged to a tenth of its level."""
    best, found = 3.0, (ANOTHER_OIL, 0.0)
    for name, oil in oils.items():
        fresh = np.array([oil.fresh_ppm.get(element, np.nan) for element in elements])
        known = np.isfinite(fresh) & np.isfinite(reading)
        if name == here or known.sum() < 2:
            continue
        sd = 0.08 * np.maximum(np.maximum(reading, expected), fresh)[known] + 5.0
        share, left = _fitted((fresh - expected)[known] / sd, (reading - expected)[known] / sd)
        misfit = float(np.sqrt(np.mean(left**2)))
        if misfit < best and share > 0.05:
            best, found = misfit, (name, share)
    return found


def _fitted(away: Array, seen: Array) -> tuple[float, Array]:
    """The part of another oil, between 0 and 1, that explains most of what was seen, and what is left [sd]."""
    share = float(np.clip(away @ seen / max(float(away @ away), 1e-12), 0.0, 1.0))
    return share, seen - share * away


_MUCH_PPM = 15.0
"""What an oil holds more of is an additive of it [ppm]."""

_LEAST = 3
"""Elements that must be compared."""

_MOVED_SD = 3.0
"""Standard deviations by which an element must be moved to speak for another oil."""

_WHOLE_FILL = 0.75
"""Part of the sump from which on it is a whole fill of another oil, and no top-up [-]."""

_FAR_SD = 8.0
"""Standard deviations that a lone element must be moved."""

_LOOSE = 3.0
"""Standard deviations of χ² within which an oil fits."""


def _by_a_rival(sampled: Sampled, used: NDArray[np.bool_], sd: Array, error: Error) -> float:
    """How much of χ² that one of the rivals explains which explains most. What a rival would bring besides (dust its
    silicon) must be there as well: all that was read and that a rival holds is asked, not only the elements `used`."""
    reading, expected = sampled.reading, sampled.expected
    asked = used | (np.isfinite(reading) & (sampled.rivals > 0.0).any(axis=1))
    wide = sampled.variance + sampled.unsure + error.of(np.fmax(reading, expected)) ** 2
    wide[used] = sd**2
    white = 1.0 / np.sqrt(wide[:, None])
    seen, rivals = (reading - expected)[:, None] * white, sampled.rivals * white
    scale = np.sum(rivals[asked] ** 2, axis=0)
    amount = np.maximum(np.sum(rivals[asked] * seen[asked], axis=0), 0.0) / np.maximum(scale, 1e-12)
    left = np.sum((seen[used] - amount * rivals[used]) ** 2, axis=0)
    return float((np.sum(seen[used] ** 2) - left).max(initial=0.0))
