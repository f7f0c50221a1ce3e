"""Did that change help? The effect of a change on wear as a ratio with its interval, and what the data could have seen.

Log-rates before and after, each with its own standard error from the sump balance, are compared after the sample's
severity has been taken out. The effect is a normal hierarchical comparison with unknown interval-to-interval spread;
beside it stands an exact permutation p-value that believes nothing but exchangeability.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import stats

Array = npt.NDArray[np.float64]

SMALL = 0.90
"""Ratios between SMALL and 1/SMALL are too small to matter to anyone; used for the words only."""
SURE = 0.98
"""Probability from which the words say "less" or "more". Chosen so that changes that did nothing are called one or the
other in at most 5 of 100 cases up to an interval-to-interval spread of 0.3 (the tests measure it)."""
SPREAD_PRIOR = 0.25
"""Prior sd of the interval-to-interval log spread of a sound engine; common practice, no source."""
SPREAD_PRIOR_N = 2.0
EXACT_LIMIT = 200_000
"""Up to this many regroupings the permutation is exact; above it a fixed set of random ones is used and said so."""


@dataclass(frozen=True, slots=True)
class Effect:
    """`ratio` after/before [-] with its 90 % interval; `probability` that it wears less (ratio < 1)."""

    name: str
    ratio: float
    low: float
    high: float
    probability_less: float
    permutation_p: float
    exact: bool
    seen_from: float
    """Smallest lowering this much data would have seen in 80 of 100 cases, as a ratio (0.7: a fall by 30 %)."""
    words: str
    before: int
    after: int


def permutation_p(before: Array, after: Array) -> tuple[float, bool]:
    """Two-sided permutation p-value of the difference of means, and whether every regrouping was tried."""
    both = np.concatenate([before, after])
    n, m = len(both), len(after)
    seen = abs(float(after.mean() - before.mean())) - 1e-12
    total = both.sum()
    if math.comb(n, m) <= EXACT_LIMIT:
        sums = np.array([both[list(pick)].sum() for pick in itertools.combinations(range(n), m)])
        exact = True
    else:
        rng = np.random.default_rng(1)  # fixed: the same data must give the same answer
        sums = np.array([rng.permutation(both)[:m].sum() for _ in range(20_000)])
        exact = False
    differences = np.abs(sums / m - (total - sums) / (n - m))
    hits = int((differences >= seen).sum())
    return (hits / len(sums) if exact else (hits + 1) / (len(sums) + 1)), exact


def paired_permutation_p(differences: Array) -> tuple[float, float]:
    """Exact sign-flip p-values of paired differences: (one-sided in the direction seen, two-sided).

    Up to 20 pairs; raises ValueError above, where the exact count would be too long.
    """
    d = np.asarray(differences, dtype=float)
    if len(d) > 20:
        raise ValueError("exact paired permutation is for up to 20 pairs")
    signs = np.array(list(itertools.product((1.0, -1.0), repeat=len(d))))
    sums = signs @ d
    seen = abs(float(d.sum())) - 1e-12
    return float((sums >= seen).mean()), float((np.abs(sums) >= seen).mean())


def _posterior(before: Array, after: Array, se_before: Array, se_after: Array) -> tuple[float, float, float]:
    """Mean and scale of the log ratio and the degrees of freedom of its t distribution."""
    own = np.concatenate([before - before.mean(), after - after.mean()])
    freedom = len(own) - 2 + SPREAD_PRIOR_N
    noise = float(np.mean(np.concatenate([se_before, se_after]) ** 2))
    # the spread seen holds the reading noise already; the prior must too, or rough readings would look sharp
    variance = (float((own**2).sum()) + SPREAD_PRIOR_N * (SPREAD_PRIOR**2 + noise)) / freedom
    scale = math.sqrt(variance * (1 / len(before) + 1 / len(after)))
    return float(after.mean() - before.mean()), scale, freedom


def effect(
    name: str, *, before: Array, after: Array, se_before: Array | None = None, se_after: Array | None = None
) -> Effect | None:
    """Effect of a change on one source or element.

    `before`, `after`: natural log of rate over severity, one value per interval; `se_*` their standard errors.
    None where either side has no interval at all, or both only one.
    """
    b, a = np.asarray(before, dtype=float), np.asarray(after, dtype=float)
    if len(b) == 0 or len(a) == 0 or len(a) + len(b) < 3:
        return None
    sb = np.zeros_like(b) if se_before is None else np.asarray(se_before, dtype=float)
    sa = np.zeros_like(a) if se_after is None else np.asarray(se_after, dtype=float)
    shift, scale, freedom = _posterior(b, a, sb, sa)
    half = float(stats.t.ppf(0.95, freedom)) * scale
    less = float(stats.t.cdf(-shift / scale, freedom))
    p, exact = permutation_p(b, a)
    reach = (float(stats.t.ppf(SURE, freedom)) + float(stats.t.ppf(0.80, freedom))) * scale
    ratio, low, high = math.exp(shift), math.exp(shift - half), math.exp(shift + half)
    return Effect(
        name, ratio, low, high, less, p, exact, math.exp(-reach), _words(low, high, less), len(b), len(a)
    )  # fmt: skip


def _words(low: float, high: float, less: float) -> str:
    if less >= SURE:
        return f"wears less (probability {100 * less:.0f} %)"
    if 1 - less >= SURE:
        return f"wears more (probability {100 * (1 - less):.0f} %)"
    if low > SMALL and high < 1 / SMALL:
        return "no difference that matters"
    return "no difference seen"


@dataclass(frozen=True, slots=True)
class Pooled:
    """Several engines that had the same change: the common ratio with its 90 % interval, the spread between engines
    (log sd), and each engine's own ratio drawn towards the common one."""

    ratio: float
    low: float
    high: float
    between: float
    engines: tuple[tuple[str, float, float, float], ...]
    """(engine, ratio, low, high)."""
    probability_less: float


def pooled(effects: Sequence[tuple[str, Effect]]) -> Pooled | None:
    """Normal hierarchical model over engines, integrated over a grid of the between-engine spread (prior 0.3)."""
    if len(effects) < 2:
        return None
    y = np.array([math.log(item.ratio) for _, item in effects])
    se = np.array([(math.log(item.high) - math.log(item.low)) / (2 * 1.645) for _, item in effects])
    tau = np.linspace(0.0, 1.5, 301)
    variance = se[None, :] ** 2 + tau[:, None] ** 2
    precision = (1 / variance).sum(axis=1)
    mean = (y[None, :] / variance).sum(axis=1) / precision
    log_weight = (
        -0.5 * np.log(variance).sum(axis=1)
        - 0.5 * np.log(precision)
        - 0.5 * ((y[None, :] - mean[:, None]) ** 2 / variance).sum(axis=1)
        - 0.5 * (tau / 0.3) ** 2
    )
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    centre = float(weight @ mean)
    sd = math.sqrt(float(weight @ (1 / precision + (mean - centre) ** 2)))
    shrink = se[None, :] ** 2 / variance
    own = (1 - shrink) * y[None, :] + shrink * mean[:, None]
    own_mean = weight @ own
    own_var = weight @ (shrink * tau[:, None] ** 2 + shrink**2 / precision[:, None] + (own - own_mean) ** 2)
    lines = tuple(
        (name, math.exp(m), math.exp(m - 1.645 * math.sqrt(v)), math.exp(m + 1.645 * math.sqrt(v)))
        for (name, _), m, v in zip(effects, own_mean, own_var, strict=True)
    )
    return Pooled(
        math.exp(centre), math.exp(centre - 1.645 * sd), math.exp(centre + 1.645 * sd), float(weight @ tau), lines,
        float(stats.norm.cdf(-centre / sd)),
    )  # fmt: skip
