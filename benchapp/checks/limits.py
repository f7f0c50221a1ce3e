"""Decision and detection limits of one element from a calibration: from where a signal is more than a blank, and from
where a real amount is seen reliably."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from scipy.optimize import brentq
from scipy.stats import t as student


@dataclass(frozen=True, slots=True)
class DetectionLimits:
    """`decision_reading`: a reading (signal) above it is not a blank; `decision_ppm` the amount that gives it on
    the line. `detection_ppm`: an amount above it is seen reliably."""

    decision_reading: float
    decision_ppm: float
    detection_ppm: float
    intercept: float
    slope: float
    residual_sd: float


def detection_limits(amounts: Sequence[float], signals: Sequence[float], coverage: float = 0.99) -> DetectionLimits:
    """Decision and detection limit from a straight calibration line with constant scatter [unit of the amounts].

    The decision limit is the amount whose line signal equals the upper prediction limit at zero, the detection limit
    the amount whose lower prediction limit reaches that same signal; both use t at (1 + coverage)/2, pointwise.
    Raises ValueError for fewer than four pairs, a single level or a line that does not rise. Source: R. D. Gibbons et
    al., and the US EPA cadmium data worked in the R package EnvStats (Millard)."""
    x, y = np.asarray(amounts, dtype=np.float64), np.asarray(signals, dtype=np.float64)
    n = x.size
    if n < 4 or y.size != n or not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise ValueError("a calibration needs at least four finite pairs")
    mean, sxx = float(x.mean()), float(((x - x.mean()) ** 2).sum())
    if sxx == 0.0:
        raise ValueError("a calibration needs at least two different amounts")
    slope = float(((x - mean) * (y - y.mean())).sum()) / sxx
    if slope <= 0.0:
        raise ValueError("the signal does not rise with the amount")
    intercept = float(y.mean()) - slope * mean
    sd = sqrt(float(((y - intercept - slope * x) ** 2).sum()) / (n - 2))
    factor = float(student.ppf((1.0 + coverage) / 2.0, n - 2))

    def half_width(amount: float) -> float:
        return factor * sd * sqrt(1.0 + 1.0 / n + (amount - mean) ** 2 / sxx)

    threshold = intercept + half_width(0.0)

    def short_of(amount: float) -> float:
        return intercept + slope * amount - half_width(amount) - threshold

    decision = (threshold - intercept) / slope
    if sd == 0.0:
        return DetectionLimits(threshold, decision, decision, intercept, slope, sd)
    top = decision
    for _ in range(60):
        top = 2.0 * top
        if short_of(top) > 0.0:
            detection = float(brentq(short_of, decision, top, xtol=1e-12))
            return DetectionLimits(threshold, decision, detection, intercept, slope, sd)
    raise ValueError("the calibration is too loose to give a detection limit")
