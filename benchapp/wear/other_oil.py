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


def poured(
    elements: Sequence[str],
    oils: Mapping[str, Oil],
    here: str,
    reading: Array,
    variance: Array,
    expected: Array,
    told: NDArray[np.bool_],
    rivals: Array,
    error: Error,
    gain: float,
    renewed: bool = False,
) -> Poured | None:
    """The oil of the bench file that explains a sample better than the oil on record and all of `rivals`, or None.

    Fitted for each: reading = (1 − f) expected + f fresh, 0 ≤ f ≤ 1, over the elements of which either oil holds much;
    what the oils leave open is metal's. `variance` of the readings [ppm²]; `told`: elements that oils are told by and
    whose expected level is known; `rivals`: elements × what else may bring such elements (coolant, dust) per mg;
    `gain`: by how much of χ² the oil must be better [-]. An oil that moves one element alone says nothing that a leak
    would not say, so at least two must be moved; one is enough where the oil has been `renewed` since, the element
    stands, far off, where a whole fill of that oil would have it, and no rival does better."""
    best: Poured | None = None
    least = math.inf
    for name, oil in oils.items():
        if name == here:
            continue
        fresh = np.array([oil.fresh_ppm.get(element, np.nan) for element in elements])
        much = np.fmax(fresh, expected) > _MUCH_PPM
        used = np.isfinite(fresh) & np.isfinite(reading) & much & told
        if used.sum() < _LEAST:
            continue
        sd = np.sqrt(variance[used] + error.of(np.fmax(fresh, expected)[used]) ** 2)
        away, seen = (fresh - expected)[used] / sd, (reading - expected)[used] / sd
        if float(seen @ seen) <= gain:
            continue  # the oil on record leaves too little for another to be so much better
        share, left = _fitted(away, seen)
        moved = np.abs(share * away) > _MOVED_SD
        chi_square = float(left @ left)
        count = int(used.sum())
        fits = chi_square <= count + _LOOSE * math.sqrt(2.0 * count)
        lone = renewed and share > _WHOLE_FILL and float(np.abs(away).max()) > _FAR_SD
        if moved.sum() < (1 if lone else 2) or not fits or chi_square >= least:
            continue
        if chi_square + (0.0 if lone else gain) < _otherwise(seen, rivals[used] / sd[:, None]):
            places = np.zeros(len(elements), dtype=bool)
            places[np.flatnonzero(used)[moved]] = True
            best, least = Poured(name, share, places), chi_square
    return best


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


def _otherwise(seen: Array, rivals: Array) -> float:
    """χ² of the oil on record, with that one of the rivals beside it which explains most."""
    chi_square = float(seen @ seen)
    along = np.maximum(rivals.T @ seen, 0.0)
    scale = np.sum(rivals**2, axis=0)
    return chi_square - float((along**2 / np.maximum(scale, 1e-12)).max(initial=0.0))
