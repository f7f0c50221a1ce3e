"""Reading noise: what the number on the sheet says about the concentration in the bottle.

sd(c) = sqrt(a² + (b c)²) from the instrument's own check runs or its method; a number printed in steps adds step²/12;
a value below a limit is an interval from zero to that limit, never zero and never left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from benchapp.records import NoiseLine, Reading

_ROUND_ABOVE = 10.0
"""ASTM D6595 section 14.1 reports one decimal below 10 mg/kg and whole numbers above."""


@dataclass(frozen=True, slots=True)
class Observed:
    """One element of one sample as the balance sees it: value [ppm], variance [ppm²], qualifier and, where the value is
    censored, the limit [ppm]."""

    ppm: float
    variance: float
    qualifier: str
    limit: float | None = None


def reading_sd(concentration: float, line: NoiseLine) -> float:
    """Reading noise at a concentration [ppm]: sqrt(a² + (b c)²)."""
    return math.hypot(line.a_ppm, line.b * concentration)


def from_repeatability(r: float) -> float:
    """Standard deviation from a method's repeatability: s = r / 2.77 (2.77 = 1.96 √2; meaning of r in ASTM D5185)."""
    return r / (1.96 * math.sqrt(2.0))


def step_of(values: Sequence[float]) -> float:
    """The step in which small values were printed [ppm]: 1 where all are whole numbers, else 0.1 or 0.01.

    Give it all readings of a sample below 10 ppm (or all, where there are none)."""
    step = 1.0
    for value in values:
        for finer in (1.0, 0.1, 0.01):
            if abs(value / finer - round(value / finer)) < 1e-6:
                step = min(step, finer)
                break
        else:
            return 0.0
    return step


def observe(
    readings: Iterable[Reading],
    noise: Mapping[str, NoiseLine],
    fallback: NoiseLine,
    smallest: Mapping[str, float] | None = None,
) -> dict[str, Observed]:
    """Element -> what was observed: replicates averaged, censoring and rounding turned into variance.

    Readings in another unit than ppm are left out; a bare "not detected" takes the instrument's own limit, which cannot
    lie above a value that the instrument has printed (`smallest`, element -> ppm)."""
    grouped: dict[str, list[Reading]] = {}
    for reading in readings:
        if reading.unit in ("ppm", "mg/kg", "") and reading.measurand:
            grouped.setdefault(reading.measurand, []).append(reading)
    plain = [r.value for rs in grouped.values() for r in rs if r.value is not None and not r.qualifier]
    small = [value for value in plain if value < _ROUND_ABOVE]
    step_small, step_large = step_of(small or plain), step_of([v for v in plain if v >= _ROUND_ABOVE] or plain)
    found = {}
    for element, rs in grouped.items():
        line = noise.get(element, fallback)
        lowest = (smallest or {}).get(element, math.inf)
        one = _average([_one(r, line, step_small, step_large, lowest) for r in rs])
        if one is not None:
            found[element] = one
    return found


def truncated(mean: float, variance: float, limit: float) -> tuple[float, float]:
    """What "below `limit`" adds to a normal expectation of the reading, as an equivalent reading and its variance.

    The equivalent reading would move a normal (mean, variance) to the mean and variance it has below the limit (moment
    matching of a truncated normal); far below the limit it says nothing, and its variance is huge."""
    sd = math.sqrt(max(variance, 1e-12))
    alpha = max((limit - mean) / sd, -30.0)
    # inverse Mills ratio, by its asymptote far in the tail
    cdf = 0.5 * math.erfc(-alpha / math.sqrt(2.0))
    ratio = math.exp(-0.5 * alpha * alpha) / math.sqrt(2.0 * math.pi) / cdf if cdf > 1e-12 else -alpha - 1.0 / alpha
    moved = mean - sd * ratio
    left = max(1.0 - alpha * ratio - ratio * ratio, 1e-3)
    if left > 1.0 - 1e-6:
        return mean, 1e9
    equivalent = variance * left / (1.0 - left)
    return mean + (moved - mean) / (1.0 - left), equivalent


def _one(reading: Reading, line: NoiseLine, step_small: float, step_large: float, lowest: float) -> Observed | None:
    if reading.qualifier == "<" or (reading.value is None and reading.qualifier):
        limit = reading.value if reading.value is not None else min(line.limit_ppm, max(lowest, line.a_ppm))
        if limit is None or not math.isfinite(limit) or limit < 0:
            return None
        # uniform between nothing and the limit, and the limit itself is read with noise
        return Observed(limit / 2.0, limit * limit / 12.0 + line.a_ppm**2, "<", limit)
    if reading.value is None or not math.isfinite(reading.value):
        return None
    value = reading.value
    step = step_small if value < _ROUND_ABOVE else step_large
    variance = reading_sd(value, line) ** 2 + step * step / 12.0
    if reading.qualifier == ">":
        return Observed(value * 1.25, variance + (0.25 * value) ** 2, ">", value)
    return Observed(value, variance, "", None)


def _average(several: Sequence[Observed | None]) -> Observed | None:
    """Replicates: the mean, its variance divided by their number; a censored one among values is an interval too."""
    seen = [one for one in several if one is not None]
    if not seen:
        return None
    if len(seen) == 1:
        return seen[0]
    count = len(seen)
    mean = sum(one.ppm for one in seen) / count
    spread = sum((one.ppm - mean) ** 2 for one in seen) / (count - 1)
    variance = max(sum(one.variance for one in seen) / count**2, spread / count)
    censored = [one for one in seen if one.qualifier]
    if len(censored) == count:
        return Observed(mean, variance, censored[0].qualifier, censored[0].limit)
    return Observed(mean, variance, "", None)
