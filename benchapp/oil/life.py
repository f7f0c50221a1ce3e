"""Hours left to the first limit, with an interval, from this fill and from the engine's earlier fills.

A property is taken to move in a straight line with hours on the oil, from its fresh value, in the measure of its limit:
amount(h) = amount(0) + b h. The slope b of this fill is found by least squares on its own samples and joined with the
slopes of earlier fills as a normal prior (their mean; their spread, at least half their mean). Hours left =
(limit − amount now) / b. The interval takes b at both ends of its 90 % interval; where the slower end does not move to
the limit at all, the upper end is open. Own method: ordinary conjugate normal regression with known noise.
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


def _slope(limit: Limit, start: float, hours: Sequence[float], values: Sequence[float]) -> tuple[float, float]:
    """Slope through the fresh point and its standard error, per hour; the fresh point carries reading noise too."""
    h, y = np.asarray(hours), np.asarray(values)
    # share and rise hold the fresh reading in every point: its noise is common to all and adds to the slope as a whole
    b = float((h * (y - start)).sum() / (h * h).sum())
    own = limit.sd / math.sqrt(float((h * h).sum()))
    common = 0.0 if limit.property in FRESH_ZERO else limit.sd * float(h.sum() / (h * h).sum())
    return b, math.hypot(own, common)


def _prior(limit: Limit, start: float, fresh: dict[str, float], earlier: Sequence[Samples]) -> tuple[float, float, int]:
    """Mean and spread of the slopes of earlier fills, and how many there are; spread inf without any."""
    slopes = []
    for samples in earlier:
        hours, values = _points(limit, fresh, samples)
        if hours:
            slopes.append(_slope(limit, start, hours, values)[0])
    if not slopes:
        return 0.0, math.inf, 0
    mean = float(np.mean(slopes))
    spread = float(np.std(slopes, ddof=1)) if len(slopes) > 1 else 0.0
    return mean, max(spread, MIN_PRIOR_SPREAD * abs(mean), 1e-12), len(slopes)


def _hours_line(
    limit: Limit, fresh: dict[str, float], samples: Samples, earlier: Sequence[Samples]
) -> HoursLine | None:
    start = _start(limit, fresh)
    hours, values = _points(limit, fresh, samples)
    if start is None or not hours or limit.done is None:
        return None
    b, se = _slope(limit, start, hours, values)
    prior, spread, fills = _prior(limit, start, fresh, earlier)
    if fills:
        weight, prior_weight = 1.0 / se**2, 1.0 / spread**2
        b, se = (b * weight + prior * prior_weight) / (weight + prior_weight), (weight + prior_weight) ** -0.5
    now = max(hours)
    line_now = start + b * now
    toward = 1.0 if limit.side == "above" else -1.0
    gap = toward * (limit.done - line_now)
    rate = toward * b
    return HoursLine(
        name=limit.name,
        hours=_reach(gap, rate),
        low=_reach(toward * (limit.done - start) - (rate + Z_90 * se) * now, rate + Z_90 * se),
        high=_reach(toward * (limit.done - start) - (rate - Z_90 * se) * now, rate - Z_90 * se),
        samples=len(hours),
        earlier_fills=fills,
        text=_words(limit.name, gap, rate, se, len(hours), fills, toward * (limit.done - start), now),
        source=limit.source,
        diesel=limit.diesel,
    )


def _reach(gap: float, rate: float) -> float:
    """Hours until the gap is used up: 0 if it is, inf if it never will be."""
    if gap <= 0.0:
        return 0.0
    return gap / rate if rate > 0.0 else math.inf


def _words(
    name: str, gap: float, rate: float, se: float, samples: int, fills: int, whole: float, now: float
) -> str:
    hours = _reach(gap, rate)
    basis = f"{samples} {'sample' if samples == 1 else 'samples'} of this fill"
    if fills:
        basis += f" and {fills} earlier {'fill' if fills == 1 else 'fills'}"
    if hours == 0.0:
        return f"{name}: limit reached ({basis})"
    if math.isinf(hours):
        return f"{name}: not moving towards its limit ({basis})"
    low = _reach(whole - (rate + Z_90 * se) * now, rate + Z_90 * se)
    high = _reach(whole - (rate - Z_90 * se) * now, rate - Z_90 * se)
    upper = "no end in sight" if math.isinf(high) else f"{high:.1f} h"
    return f"{name}: {hours:.1f} h left, between {low:.1f} h and {upper} ({basis})"


def _summary(first: HoursLine | None, any_line: bool) -> str:
    if first is not None:
        return f"First limit ahead: {first.text}."
    if any_line:
        return "No limit is being approached."
    return "Hours left cannot be reckoned: no oil reading of this fill can be held against a fresh value."
