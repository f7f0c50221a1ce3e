"""Slow drift of an instrument's gain, seen in its check runs: drift is not wear.

Works on the recovery, found / expected, of one element on one instrument."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from scipy.stats import t as student

from benchapp.records import CheckRun


@dataclass(frozen=True, slots=True)
class Drift:
    """Straight drift of the recovery over the time looked at.

    `per_day_pct` [% of the reading per day] with its standard error; `total_pct` from the first to the last run [%];
    `p` two-sided probability of such a slope by chance; `found` whether it is believed."""

    element: str
    runs: int
    per_day_pct: float
    per_day_se_pct: float
    total_pct: float
    p: float
    found: bool
    text: str


def recoveries(
    runs: Iterable[CheckRun], instrument: str, element: str, least_ppm: float = 5.0
) -> tuple[tuple[dt.datetime, float], ...]:
    """(when, found / expected) of one element on one instrument, by time; standards below `least_ppm` say nothing of
    gain."""
    found = [
        (run.run_at, run.found_ppm / run.expected_ppm)
        for run in runs
        if run.instrument == instrument and run.element == element and run.expected_ppm >= least_ppm
    ]
    return tuple(sorted(found))


def drift(
    element: str, points: Sequence[tuple[dt.datetime, float]], level: float = 0.01, least_pct: float = 2.0
) -> Drift:
    """Least-squares drift of the recovery. Believed where chance gives it less often than `level` and it moves the
    reading by at least `least_pct` [%] over the time looked at (own choice: below it no call depends on it).

    Fewer than five runs, or all at one moment, decide nothing: found is False and the text says so."""
    n = len(points)
    days = np.array([(when - points[0][0]).total_seconds() / 86_400.0 for when, _ in points], dtype=np.float64)
    value = np.array([100.0 * r for _, r in points], dtype=np.float64)
    if n < 5 or float(np.ptp(days)) == 0.0:
        return Drift(
            element, n, 0.0, float("nan"), 0.0, 1.0, False, f"{element}: {n} check runs are too few to see a drift."
        )
    centred = days - days.mean()
    sxx = float((centred**2).sum())
    slope = float((centred * value).sum()) / sxx
    residual = value - value.mean() - slope * centred
    variance = float((residual**2).sum()) / (n - 2)
    error = sqrt(max(variance, 1e-12) / sxx)
    p = 2.0 * float(student.sf(abs(slope) / error, n - 2))
    total = slope * float(np.ptp(days))
    found = p < level and abs(total) >= least_pct
    if found:
        way = "up" if total > 0 else "down"
        text = (
            f"{element} drifts {way}: {abs(total):.0f} % in {float(np.ptp(days)):.0f} days over {n} check runs. "
            "Standardise the instrument; what looks like a trend of the engines may be this."
        )
    else:
        text = f"{element}: no drift seen in {n} check runs."
    return Drift(element, n, slope, error, total, p, found, text)


@dataclass(frozen=True, slots=True)
class Gain:
    """Gain of one element at one moment: a reading is `gain` times the truth, known to ± `sd` [-]."""

    gain: float
    sd: float
    runs: int


def gain_at(
    points: Sequence[tuple[dt.datetime, float]], when: dt.datetime, scatter: float = 0.03, days: float = 7.0
) -> Gain:
    """Gain at a moment from the check runs around it, weighted by nearness: exp(−|Δt| / `days`).

    `scatter`: standard deviation of one recovery [-] (own default 3 %). Without any run the gain is 1, known only to
    10 % (own default): the judge then allows for that much. Does not look at runs more than five times `days`
    away."""
    weights, values = [], []
    for moment, recovery in points:
        apart = abs((moment - when).total_seconds()) / 86_400.0
        if apart <= 5.0 * days:
            weights.append(float(np.exp(-apart / days)))
            values.append(recovery)
    if not weights:
        return Gain(1.0, 0.10, 0)
    total = sum(weights)
    gain = sum(w * v for w, v in zip(weights, values, strict=True)) / total
    effective = total**2 / sum(w * w for w in weights)
    far = (1.0 - max(weights)) * 0.10  # the older the nearest run, the less it says
    return Gain(gain, sqrt(scatter**2 / effective + far**2), len(values))
