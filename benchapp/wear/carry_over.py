"""Carry-over: the share of old oil that stays in the engine through a drain.

Where the drain changed the oil product, the additives measure it; else a prior by kind of drain stands in. A value far
outside the prior is a finding of its own: the wrong oil, a mixed bottle, or an oil change that never happened.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CarryOver:
    """Carry-over fraction φ [-], its standard error and where it is from ('tracers', 'prior' or 'both')."""

    share: float
    error: float
    origin: str
    tracers: int = 0
    chi_square: float | None = None
    """Reduced chi-square of the tracers about the common φ, None below two tracers."""


def from_tracers(
    start: Array, drained: Array, fresh: Array, error: Array, *, beyond: float = 3.0
) -> CarryOver | None:
    """φ from additive tracers: Σ (c−n)(d−n)/s² / Σ (d−n)²/s², over tracers with |d − n| beyond noise.

    `start` c: concentration at the start of the new fill [ppm], `drained` d: of the old fill at its drain,
    `fresh` n: of the new oil, `error` s: standard error of c − n [ppm]; one entry a tracer, NaN where unknown.
    None where no tracer differs by more than `beyond` errors."""
    usable = np.isfinite(start) & np.isfinite(drained) & np.isfinite(fresh) & (error > 0)
    usable &= np.abs(drained - fresh) > beyond * error
    if not usable.any():
        return None
    c, d, s = (start - fresh)[usable], (drained - fresh)[usable], error[usable]
    weight = float(np.sum(d * d / (s * s)))
    share = float(np.sum(c * d / (s * s))) / weight
    count = int(usable.sum())
    chi_square = None
    if count > 1:
        chi_square = float(np.sum(((c - share * d) / s) ** 2)) / (count - 1)
    return CarryOver(share, 1.0 / math.sqrt(weight), "tracers", count, chi_square)


def combine(prior_share: float, prior_error: float, measured: CarryOver | None) -> CarryOver:
    """Prior by kind of drain and tracer estimate, weighted by their precision; φ kept within 0 and 1."""
    if measured is None:
        return CarryOver(prior_share, prior_error, "prior")
    # a poor fit of the tracers to one φ widens its error (Birge ratio: the excess is shared by all)
    error = measured.error * math.sqrt(max(1.0, measured.chi_square or 1.0))
    w0, w1 = 1.0 / max(prior_error, 1e-6) ** 2, 1.0 / error**2
    share = (w0 * prior_share + w1 * measured.share) / (w0 + w1)
    return CarryOver(min(max(share, 0.0), 1.0), 1.0 / math.sqrt(w0 + w1), "both", measured.tracers, measured.chi_square)


def outside(prior_share: float, prior_error: float, measured: CarryOver, sigmas: float = 3.0) -> bool:
    """Whether the tracers contradict the kind of drain that was written down."""
    return abs(measured.share - prior_share) > sigmas * math.hypot(prior_error, measured.error)
