"""Did that change help? The effect of a change on wear as a ratio with its interval, and what the data could have seen.

Interval rates before and after, each with its own standard error from the sump balance, are compared on their natural
scale, so that a rate that lies within its own error (even below zero) says what little it knows instead of being left
out. The rates of one side scatter about their level by an unknown share (a normal spread of the logarithm); level and
spread are integrated over a grid. Beside it stands an exact permutation p-value that believes nothing but
exchangeability. Several engines are pooled by a normal hierarchical model.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy import stats

Array = npt.NDArray[np.float64]

SMALL = 0.90
"""Ratios between SMALL and 1/SMALL are too small to matter to anyone; used for the words only."""
SURE = 0.985
"""Probability from which the words say "less" or "more". Chosen so that changes that did nothing are called one or the
other in at most 5 of 100 cases up to an interval-to-interval spread of 0.3 (the tests measure it)."""
SPREAD_PRIOR = 0.25
"""Prior sd of the interval-to-interval log spread of a sound engine; common practice, no source."""
SPREAD_PRIOR_N = 2.0
EXACT_LIMIT = 200_000
"""Up to this many regroupings the permutation is exact; above it a fixed set of random ones is used and said so."""


@dataclass(frozen=True, slots=True)
class Effect:
    """`ratio` after/before [-] with its 90 % interval; `probability_less` that it wears less (ratio < 1)."""

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
    said: bool = True
    """False where the data cannot say anything: on both sides the rates lie within their own errors. Ratio, interval
    and `seen_from` are NaN then."""
    rate_before: float = math.nan
    """Level before [mg/h]."""
    rate_after: float = math.nan


@lru_cache(maxsize=4)
def _picks(n: int, m: int) -> npt.NDArray[np.intp]:
    """Every way to pick `m` of `n`, shape (C(n, m), m); kept, for all rows of a comparison ask for the same."""
    flat = itertools.chain.from_iterable(itertools.combinations(range(n), m))
    return np.fromiter(flat, dtype=np.intp, count=math.comb(n, m) * m).reshape(-1, m)


def permutation_p(before: Array, after: Array) -> tuple[float, bool]:
    """Two-sided permutation p-value of the difference of means, and whether every regrouping was tried."""
    both = np.concatenate([before, after])
    n, m = len(both), len(after)
    seen = abs(float(after.mean() - before.mean())) - 1e-12
    total = both.sum()
    if math.comb(n, m) <= EXACT_LIMIT:
        sums = both[_picks(n, m)].sum(axis=1)
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


SPREADS = np.array([0.05, 0.1, 0.15, 0.2, 0.25, 0.32, 0.42, 0.6, 0.9])
"""Interval-to-interval log spreads that are integrated over [-]."""
LEVELS = 121
"""Places of the grid of log levels."""
_NODES, _NODE_WEIGHTS = np.polynomial.hermite_e.hermegauss(11)
LEAST_SURE = 2.0
"""A level is known where its mean lies this many standard errors above zero; nothing is said where neither is."""


def _spread_prior() -> Array:
    """Scaled inverse chi-square of the log spread, on the grid, by its density in log spread."""
    n, s2 = SPREAD_PRIOR_N, SPREAD_PRIOR**2
    density = -n * np.log(SPREADS) - 0.5 * n * s2 / SPREADS**2
    return np.asarray(density + np.log(np.gradient(np.log(SPREADS))), dtype=float)


def _log_likelihood(rates: Array, errors: Array, levels: Array) -> Array:
    """Log-likelihood of (spread, log level), shape (S, L): rates are level times e^ε read with their errors."""
    true = np.exp(levels[None, :, None] + SPREADS[:, None, None] * _NODES[None, None, :])
    total = np.zeros((len(SPREADS), len(levels)))
    for rate, error in zip(rates, errors, strict=True):
        # a rate that is known very sharply would fall between the nodes: it is then the spread that blurs it
        sharp = np.maximum(error, 0.35 * SPREADS[:, None, None] * true)
        density = np.exp(-0.5 * ((rate - true) / sharp) ** 2) / sharp
        total += np.log((density * _NODE_WEIGHTS).sum(axis=2) + 1e-300)
    return total


def _levels(rates: Array, errors: Array) -> Array:
    top = max(float(rates.max()), float(errors.max()), 1e-9)
    bottom = max(float(np.abs(rates).min()), float(errors.min()), 1e-3 * top) / 8
    return np.linspace(math.log(bottom), math.log(6 * top), LEVELS)


def _posterior(before: Array, after: Array, se_before: Array, se_after: Array) -> tuple[Array, Array]:
    """Log ratio on a grid and its probability there."""
    both, errors = np.concatenate([before, after]), np.concatenate([se_before, se_after])
    levels = _levels(both, errors)
    first, second = _log_likelihood(before, se_before, levels), _log_likelihood(after, se_after, levels)
    prior = _spread_prior()
    weight = np.exp(prior - prior.max())
    one, other = np.exp(first - first.max()), np.exp(second - second.max())
    density = sum(w * np.convolve(b, a[::-1]) for w, a, b in zip(weight, one, other, strict=True))
    step = levels[1] - levels[0]
    shift = (np.arange(2 * LEVELS - 1) - (LEVELS - 1)) * step
    return shift, np.asarray(density / density.sum())


def _quantile(shift: Array, density: Array, share: float) -> float:
    return float(np.interp(share, np.cumsum(density) - 0.5 * density, shift))


def _level(rates: Array, errors: Array) -> tuple[float, float]:
    """Mean rate and what the readings leave it uncertain by [mg/h]."""
    return float(rates.mean()), float(np.sqrt((errors**2).sum())) / len(rates)


def effect(
    name: str, *, before: Array, after: Array, se_before: Array | None = None, se_after: Array | None = None
) -> Effect | None:
    """Effect of a change on one source or element.

    `before`, `after`: wear rate over severity [mg/h], one value per interval; `se_*` their standard errors [mg/h].
    None where either side has no interval at all, or both only one.
    """
    b, a = np.asarray(before, dtype=float), np.asarray(after, dtype=float)
    if len(b) == 0 or len(a) == 0 or len(a) + len(b) < 3:
        return None
    small = 1e-3 * max(float(np.abs(np.concatenate([b, a])).max()), 1e-9)
    sb = np.maximum(np.zeros_like(b) if se_before is None else np.asarray(se_before, dtype=float), small)
    sa = np.maximum(np.zeros_like(a) if se_after is None else np.asarray(se_after, dtype=float), small)
    levels = (_level(b, sb), _level(a, sa))
    p, exact = permutation_p(b, a)
    if not any(mean > LEAST_SURE * error for mean, error in levels):
        nan = math.nan
        return Effect(
            name, nan, nan, nan, 0.5, p, exact, nan, NOTHING_SAID, len(b), len(a), False, levels[0][0], levels[1][0]
        )
    shift, density = _posterior(b, a, sb, sa)
    low, middle, high = (_quantile(shift, density, share) for share in (0.05, 0.5, 0.95))
    less = float(density[shift < 0].sum() + 0.5 * density[shift == 0].sum())
    reach = _reach(high - low, len(b) + len(a))
    words = _words(math.exp(low), math.exp(high), less)
    return Effect(
        name, math.exp(middle), math.exp(low), math.exp(high), less, p, exact, math.exp(-reach), words, len(b), len(a),
        True, levels[0][0], levels[1][0],
    )  # fmt: skip


def _reach(width: float, count: int) -> float:
    """Log lowering that would be seen in 80 of 100 cases, from the width of the 90 % interval."""
    freedom = count - 2 + SPREAD_PRIOR_N
    scale = width / (2 * float(stats.t.ppf(0.95, freedom)))
    return (float(stats.t.ppf(SURE, freedom)) + float(stats.t.ppf(0.80, freedom))) * scale


NOTHING_SAID = "nothing can be said"
LESS, MORE = "wears less", "wears more"


def percent(probability: float) -> str:
    """A probability as it is said: never 0 or 100 %, which no data can give."""
    return "over 99 %" if probability > 0.99 else "under 1 %" if probability < 0.01 else f"{100 * probability:.0f} %"


def _words(low: float, high: float, less: float) -> str:
    if less >= SURE:
        return f"{LESS} (probability {percent(less)})"
    if 1 - less >= SURE:
        return f"{MORE} (probability {percent(1 - less)})"
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
    words: str
    seen_from: float
    """Smallest common lowering these engines would have shown in 80 of 100 cases, as a ratio."""


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
    low, high = math.exp(centre - 1.645 * sd), math.exp(centre + 1.645 * sd)
    less = float(stats.norm.cdf(-centre / sd))
    reach = float(stats.norm.ppf(SURE) + stats.norm.ppf(0.80)) * sd
    return Pooled(
        math.exp(centre), low, high, float(weight @ tau), lines, less, _words(low, high, less), math.exp(-reach)
    )
