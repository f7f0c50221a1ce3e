"""Hours left to the first limit, with an interval, from this fill and from the engine's earlier fills.

A property is taken to move in a straight line with hours on the oil, in the measure of its limit: amount(h) = a +
b h. The fresh value is one more reading, at zero hours: a has its mean and its reading noise. Earlier fills of the
engine give b a normal prior (the mean of their slopes; their spread, at least half their mean). Both are joined
with the fill's own samples by conjugate normal regression with known noise. The limit is met at T = (limit − a) /
b; its 90 % interval is Fieller's: all T at which the limit lies within the line's own interval (E. C. Fieller, J. R.
Stat. Soc. B 16, 1954, 175, from memory). Its upper end is open where the slope may be none.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchapp.oil.condition import FRESH_ZERO, amounts, fresh_values
from benchapp.oil.rules import Limit, OilRules
from benchapp.records import Oil, Reading

Z_90 = 1.645
MIN_PRIOR_SPREAD = 0.5
"""Least relative spread of the prior slope: fills are never more alike than that. Own default."""

NEVER_H = 2000.0
"""From here on [h] a limit counts as not approached: no engine oil is kept so long. Own default."""

Samples = Sequence[tuple[float, Sequence[Reading]]]
"""(hours on the oil [h], readings) of the samples of one fill, in any order."""


@dataclass(frozen=True, slots=True)
class HoursLine:
    """Hours left by one limit [h] from the last sample, with a 90 % interval; `high` is inf where it has no end."""

    name: str
    hours: float
    low: float
    high: float
    samples: int
    earlier_fills: int
    text: str
    source: str
    diesel: bool


@dataclass(frozen=True, slots=True)
class HoursLeft:
    """The first limit that the oil will meet, and all the lines behind it, soonest first."""

    first: HoursLine | None
    lines: tuple[HoursLine, ...]
    text: str


def hours_left(oil: Oil, samples: Samples, rules: OilRules, earlier: Sequence[Samples] = ()) -> HoursLeft:
    """Hours left on this fill.

    `oil` of the fill, with its fresh values; `samples` of the fill; `earlier` samples of earlier fills of this engine
    with the same oil. A property needs a fresh value and at least one plain reading in this fill; bounds are left out.
    Negative hours on oil or readings that are not finite are left out."""
    fresh = fresh_values(oil)
    lines = []
    for limit in rules.limits:
        if limit.done is None or limit.sd <= 0.0:
            continue
        line = _hours_line(limit, fresh, samples, earlier)
        if line is not None:
            lines.append(line)
    lines.sort(key=lambda line: (line.hours, line.low))
    first = lines[0] if lines and math.isfinite(lines[0].hours) else None
    return HoursLeft(first, tuple(lines), _summary(first, bool(lines)))


def _points(limit: Limit, fresh: dict[str, float], samples: Samples) -> tuple[list[float], list[float]]:
    """Hours and amounts of one fill, without the fresh point."""
    new = fresh.get(limit.property, math.nan)
    hours, values = [], []
    for h, readings in sorted(samples, key=lambda sample: sample[0]):
        plain = [r.value for r in readings if r.measurand == limit.property and not r.qualifier and r.value is not None]
        if not plain or not math.isfinite(h) or h <= 0.0:
            continue
        amount = float(amounts(limit, sum(plain) / len(plain), new))
        if math.isfinite(amount):
            hours.append(h)
            values.append(amount)
    return hours, values


def _start(limit: Limit, fresh: dict[str, float]) -> float | None:
    """Amount of the fresh oil, known but for a plain value that is not recorded (flash point)."""
    if limit.against == "fresh share":
        return 1.0
    if limit.against == "fresh rise":
        return 0.0
    return 0.0 if limit.property in FRESH_ZERO else None


@dataclass(frozen=True, slots=True)
class _Fit:
    """Mean and covariance of a and b."""

    a: float
    b: float
    aa: float
    ab: float
    bb: float


def _fit(limit: Limit, start: float, points: tuple[list[float], list[float]], prior: tuple[float, float]) -> _Fit:
    """Joins fresh value, samples and prior slope (mean, spread; spread inf: none)."""
    h, y = np.asarray(points[0]), np.asarray(points[1])
    # a fresh oil has no water or fuel: its zero is known, not read
    start_sd = 1e-6 if limit.property in FRESH_ZERO else limit.sd
    slope, spread = prior
    slope_weight = 0.0 if math.isinf(spread) else spread**-2
    weight = limit.sd**-2
    precision = np.array(
        [[h.size * weight + start_sd**-2, h.sum() * weight], [h.sum() * weight, (h * h).sum() * weight + slope_weight]]
    )
    cov = np.linalg.inv(precision)
    right = np.array([y.sum() * weight + start * start_sd**-2, (h * y).sum() * weight + slope * slope_weight])
    a, b = cov @ right
    return _Fit(float(a), float(b), float(cov[0, 0]), float(cov[0, 1]), float(cov[1, 1]))


def _prior(
    limit: Limit, start: float, fresh: dict[str, float], earlier: Sequence[Samples]
) -> tuple[tuple[float, float], int]:
    """Mean and spread of the slopes of earlier fills, and how many there are; spread inf without any."""
    slopes = []
    for samples in earlier:
        points = _points(limit, fresh, samples)
        if points[0]:
            slopes.append(_fit(limit, start, points, (0.0, math.inf)).b)
    if not slopes:
        return (0.0, math.inf), 0
    mean = float(np.mean(slopes))
    spread = float(np.std(slopes, ddof=1)) if len(slopes) > 1 else 0.0
    return (mean, max(spread, MIN_PRIOR_SPREAD * abs(mean), 1e-9)), len(slopes)


def _hours_line(
    limit: Limit, fresh: dict[str, float], samples: Samples, earlier: Sequence[Samples]
) -> HoursLine | None:
    start = _start(limit, fresh)
    points = _points(limit, fresh, samples)
    if start is None or not points[0] or limit.done is None:
        return None
    prior, fills = _prior(limit, start, fresh, earlier)
    fit = _fit(limit, start, points, prior)
    now = max(points[0])
    toward = 1.0 if limit.side == "above" else -1.0
    left = _reach(toward * (limit.done - fit.a - fit.b * now), toward * fit.b)
    low, high = (max(t - now, 0.0) for t in _fieller(fit, limit.done, toward))
    if toward * (limit.done - points[1][-1]) < 0.0:  # the last reading itself is past it, whatever the line says
        left = low = 0.0
    return HoursLine(
        name=limit.name,
        hours=left,
        low=min(low, left),
        high=max(high, left),
        samples=len(points[0]),
        earlier_fills=fills,
        text=_words(limit.name, left, min(low, left), max(high, left), len(points[0]), fills),
        source=limit.source,
        diesel=limit.diesel,
    )


def _reach(gap: float, rate: float) -> float:
    """Hours until the gap is used up: 0 if it is, inf if that would take longer than any oil is kept."""
    if gap <= 0.0:
        return 0.0
    return gap / rate if rate * NEVER_H > gap else math.inf


def _fieller(fit: _Fit, limit: float, toward: float) -> tuple[float, float]:
    """Hours from the fill between which the line may meet the limit (90 %), (d − bT)² ≤ z² var(a + bT), d = limit
    − a."""
    d, z2 = limit - fit.a, Z_90**2
    square, half = fit.b**2 - z2 * fit.bb, fit.b * d + z2 * fit.ab
    rest = d**2 - z2 * fit.aa
    disc = half**2 - square * rest
    if toward * d <= 0.0:
        return 0.0, 0.0
    if disc < 0.0 or square == 0.0:
        return 0.0, math.inf
    roots = sorted(((half - math.sqrt(disc)) / square, (half + math.sqrt(disc)) / square))
    if square < 0.0:  # the slope may be none: from the positive root on, without end
        return max(roots[1], 0.0), math.inf
    return (roots[0], roots[1]) if toward * fit.b > 0.0 else (math.inf, math.inf)


def _words(name: str, hours: float, low: float, high: float, samples: int, fills: int) -> str:
    basis = f"{samples} {'sample' if samples == 1 else 'samples'} of this fill"
    if fills:
        basis += f" and {fills} earlier {'fill' if fills == 1 else 'fills'}"
    if hours == 0.0:
        return f"{name}: limit reached ({basis})"
    if math.isinf(hours):
        return f"{name}: not moving towards its limit ({basis})"
    upper = "no end in sight" if math.isinf(high) else f"{high:.1f} h"
    return f"{name}: {hours:.1f} h left, between {low:.1f} h and {upper} ({basis})"


def _summary(first: HoursLine | None, any_line: bool) -> str:
    if first is not None:
        return f"First limit ahead: {first.text}."
    if any_line:
        return "No limit is being approached."
    return "Hours left cannot be reckoned: no oil reading of this fill can be held against a fresh value."
