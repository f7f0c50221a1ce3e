"""Trend: Theil-Sen slope with its interval, and hours until a ceiling at that slope."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Slope:
    """Median of all pairwise slopes, with an interval by ranks (interpolated: M. O. Gilbert's method as in the US EPA
    Unified Guidance 2009). `s` is Kendall's count of rising minus falling pairs, `z` its normal score."""

    slope: float
    low: float
    high: float
    s: int
    z: float


def theil_sen(x: Array, y: Array, *, confidence: float = 0.90) -> Slope | None:
    """Slope of y over x; None with fewer than three points or no two different x."""
    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    i, j = _pairs(len(x))
    run, rise = x[j] - x[i], y[j] - y[i]
    apart = run != 0
    if len(x) < 3 or not apart.any():
        return None
    slopes = np.sort(rise[apart] / run[apart])
    s = int(np.sign(rise * np.sign(run)).sum())
    variance = _variance_of_s(y)
    reach = float(ndtri(0.5 + confidence / 2)) * math.sqrt(variance)
    n = len(slopes)
    low, high = _at_rank(slopes, (n - reach) / 2), _at_rank(slopes, (n + reach) / 2 + 1)
    z = (s - math.copysign(1, s)) / math.sqrt(variance) if s and variance > 0 else 0.0
    return Slope(float(np.median(slopes)), low, high, s, z)


@lru_cache(maxsize=16)
def _pairs(count: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """All pairs of places, the smaller first."""
    i, j = np.triu_indices(count, 1)
    return i, j


def _variance_of_s(y: Array) -> float:
    """Variance of Kendall's S under no trend, ties counted."""
    n = len(y)
    ties = Counter(y.tolist()).values()
    return (n * (n - 1) * (2 * n + 5) - sum(tied * (tied - 1) * (2 * tied + 5) for tied in ties)) / 18


def _at_rank(ordered: Array, rank: float) -> float:
    """The value at a one-based rank that need not be whole."""
    return float(np.interp(rank, np.arange(1, len(ordered) + 1), ordered))


def hours_to(ceiling: float, now: float, slope: float) -> float | None:
    """Hours until `ceiling` at `slope` per hour from `now`; 0 if it is passed, None if it is never reached."""
    if now >= ceiling:
        return 0.0
    return (ceiling - now) / slope if slope > 0 else None
