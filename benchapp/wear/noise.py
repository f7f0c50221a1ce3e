"""Reading noise: what the number on the sheet says about the concentration in the bottle.

sd(c) = sqrt(a² + (b c)²) from the instrument's own check runs or its method; a number printed in steps adds step²/12;
a value below a limit is an interval from zero to that limit, never zero and never left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

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
    noise_sd: float = 0.0
    """Reading noise about the value, or about the limit where it is censored [ppm]."""

    def scaled(self, factor: float) -> Observed:
        """The same with the reading multiplied: an instrument that reads high or low, put right."""
        limit = None if self.limit is None else self.limit * factor
        return Observed(self.ppm * factor, self.variance * factor**2, self.qualifier, limit, self.noise_sd * factor)

    def raised(self, ppm: float) -> Observed:
        """The same with so much more (or less) read, nothing at least: as if the oil had held so much more."""
        limit = None if self.limit is None else max(self.limit + ppm, 0.0)
        return replace(self, ppm=max(self.ppm + ppm, 0.0), limit=limit)


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
    plain = [
        r.value
        for rs in grouped.values()
        for r in rs
        if r.value is not None and math.isfinite(r.value) and not r.qualifier
    ]
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


def truncated(mean: float, variance: float, limit: float, lowest: float = 0.0) -> tuple[float, float]:
    """What "between `lowest` and `limit`" adds to a normal expectation of the reading: an equivalent one, its variance.

    The equivalent reading would move a normal (mean, variance) to the mean and variance that it has within the limits
    (moment matching of a normal truncated on both sides); where the limits say next to nothing its variance is huge."""
    sd = math.sqrt(max(variance, 1e-12))
    low, high = (lowest - mean) / sd, (limit - mean) / sd
    mass = _normal_cdf(high) - _normal_cdf(low)
    if mass < 1e-9:  # far outside: as a plain reading in the middle of the interval
        return (lowest + limit) / 2.0, (limit - lowest) ** 2 / 12.0 + 1e-6
    ratio = (_normal_pdf(low) - _normal_pdf(high)) / mass
    left = 1.0 + (low * _normal_pdf(low) - high * _normal_pdf(high)) / mass - ratio * ratio
    left = min(max(left, 1e-4), 1.0 - 1e-6)
    return mean + sd * ratio / (1.0 - left), variance * left / (1.0 - left)


def _normal_pdf(x: float) -> float:
    return math.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi) if abs(x) < 38.0 else 0.0


def _normal_cdf(x: float) -> float:
    return 0.5 * math.erfc(-x / math.sqrt(2.0))


def _one(reading: Reading, line: NoiseLine, step_small: float, step_large: float, lowest: float) -> Observed | None:
    if reading.qualifier == "<" or (reading.value is None and reading.qualifier):
        limit = reading.value if reading.value is not None else _own_limit(line, lowest)
        if limit is None or not math.isfinite(limit) or limit < 0:
            return None
        # uniform between nothing and the limit, and the limit itself is read with noise
        return Observed(limit / 2.0, limit * limit / 12.0 + line.a_ppm**2, "<", limit, line.sd_ppm(limit))
    if reading.value is None or not math.isfinite(reading.value):
        return None
    value = reading.value
    step = step_small if value < _ROUND_ABOVE else step_large
    variance = line.sd_ppm(value) ** 2 + step * step / 12.0
    if reading.qualifier == ">":
        return Observed(value * 1.25, variance + (0.25 * value) ** 2, ">", value, line.sd_ppm(value))
    return Observed(value, variance, "", None, line.sd_ppm(value))


def _own_limit(line: NoiseLine, lowest: float) -> float:
    """Limit behind a bare "not detected" [ppm]: the instrument's own; not far above a value that it has printed, and
    not below what any bench instrument can do (0.8 ppm, common practice, no source)."""
    return max(min(line.limit_ppm, 1.5 * lowest + 0.5), 0.8)


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
        return Observed(mean, variance, censored[0].qualifier, censored[0].limit, censored[0].noise_sd)
    return Observed(mean, variance, "", None, seen[0].noise_sd / math.sqrt(count))
