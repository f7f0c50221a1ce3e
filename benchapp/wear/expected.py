"""Expected rates: what is normal for this engine now, from its family and from itself.

Hierarchy: a first guess from materials and sump, the family's engines about it, the engine about its family, the
intervals about the engine. The small closed forms (normal-normal shrinkage, normal-inverse-gamma prediction) stand
here on their own, so that they can be checked against published examples.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from benchapp.wear.rules import Rules
from benchapp.wear.sources import Sources

Array = NDArray[np.float64]


# --- closed forms ---------------------------------------------------------------------------------------------------


def shrink(value: float, variance: float, centre: float, between: float) -> float:
    """Normal-normal shrinkage: (1 − B) y + B µ with B = s²/(s² + τ²)."""
    weight = variance / (variance + between)
    return (1.0 - weight) * value + weight * centre


@dataclass(frozen=True, slots=True)
class Prediction:
    """Student-t prediction of the next value: location, scale, degrees of freedom."""

    location: float
    scale: float
    freedom: float


def predict_next(
    values: Sequence[float], centre: float = 0.0, weight: float = 0.0, shape: float = -0.5, rate: float = 0.0
) -> Prediction:
    """Predictive of the next value under a normal-inverse-gamma prior (µ0, κ0, α0, β0).

    The defaults are the flat prior, which gives ȳ ± t(n−1) s √(1 + 1/n). Raises ValueError where nothing is known."""
    count = len(values)
    mean = sum(values) / count if count else 0.0
    squares = sum((value - mean) ** 2 for value in values)
    total = weight + count
    alpha = shape + count / 2.0
    if total <= 0 or alpha <= 0:
        raise ValueError("too few values for a prediction without a prior")
    location = (weight * centre + count * mean) / total
    beta = rate + squares / 2.0 + weight * count * (mean - centre) ** 2 / (2.0 * total)
    return Prediction(location, math.sqrt(beta * (total + 1.0) / (alpha * total)), 2.0 * alpha)


@dataclass(frozen=True, slots=True)
class Hierarchy:
    """Posterior of a normal hierarchical model on a grid of τ: means and sds of µ, τ and each θ."""

    centre: float
    centre_sd: float
    between: float
    theta: tuple[float, ...]
    theta_sd: tuple[float, ...]


def hierarchy(
    values: Sequence[float], errors: Sequence[float], *, centre_sd: float = math.inf, between_scale: float = math.inf,
    between_max: float | None = None, steps: int = 2000,
) -> Hierarchy:
    """Normal hierarchical model y_i ~ N(θ_i, s_i²), θ_i ~ N(µ, τ²), integrated over τ.

    µ has a flat prior, or N(0, centre_sd²); τ has a flat prior up to `between_max`, or half-Cauchy(between_scale).
    Gelman et al., Bayesian Data Analysis, section 5.4 (the algebra, from memory)."""
    y, variance = np.asarray(values, float), np.asarray(errors, float) ** 2
    top = between_max or (10.0 * between_scale if math.isfinite(between_scale) else 20.0 * float(np.std(y) + 1e-12))
    tau = (np.arange(steps) + 0.5) * top / steps
    total = variance[None, :] + tau[:, None] ** 2
    prior_precision = 0.0 if math.isinf(centre_sd) else 1.0 / centre_sd**2
    precision = np.sum(1.0 / total, axis=1) + prior_precision
    centre = np.sum(y / total, axis=1) / precision
    log_weight = -0.5 * np.log(precision) - 0.5 * np.sum(np.log(total), axis=1)
    log_weight -= 0.5 * (np.sum((y - centre[:, None]) ** 2 / total, axis=1) + prior_precision * centre**2)
    if math.isfinite(between_scale):
        log_weight -= np.log1p((tau / between_scale) ** 2)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    pull = variance[None, :] / total
    theta = (1.0 - pull) * y + pull * centre[:, None]
    spread = (1.0 - pull) * variance + pull**2 / precision[:, None]
    mean = weight @ theta
    sd = np.sqrt(weight @ (spread + theta**2) - mean**2)
    mu = float(weight @ centre)
    mu_sd = math.sqrt(float(weight @ (1.0 / precision + centre**2)) - mu * mu)
    return Hierarchy(mu, mu_sd, float(weight @ tau), tuple(map(float, mean)), tuple(map(float, sd)))


# --- sharing a rate out among sources -------------------------------------------------------------------------------


def share_out(rate: Array, variance: Array, fractions: Array, usual: Array) -> Array:
    """Rates of the sources [mg/h] that make up the element rates, staying as near to the usual ones as those allow.

    Gaussian about `usual` with as large a standard deviation, so what the elements cannot decide stays usual; never
    below a tenth of usual. `rate` and its `variance` E, `fractions` E × S, `usual` S [mg/h]."""
    spread = usual**2
    pulled = fractions * spread
    middle = pulled @ fractions.T + np.diag(variance + 1e-12)
    x = usual + pulled.T @ np.linalg.solve(middle, rate - fractions @ usual)
    return np.maximum(np.asarray(x), 0.1 * usual)


# --- what a family knows --------------------------------------------------------------------------------------------


@dataclass(slots=True)
class BuildHistory:
    """Healthy history of one build: metal [mg] and hours [h] per element, and the number of intervals."""

    metal: dict[str, float] = field(default_factory=dict)
    hours: dict[str, float] = field(default_factory=dict)
    intervals: int = 0

    def add(self, elements: Sequence[str], metal_mg: Array, read: Array, hours: float) -> None:
        """One healthy interval: metal shed per element [mg] where it was read."""
        self.intervals += 1
        for element, metal, known in zip(elements, metal_mg, read, strict=True):
            if known:
                self.metal[element] = self.metal.get(element, 0.0) + float(metal)
                self.hours[element] = self.hours.get(element, 0.0) + hours


@dataclass(slots=True)
class FamilyHistory:
    """Healthy histories of all builds of a family by (engine, build), and the sump they had [kg]."""

    builds: dict[tuple[str, str], BuildHistory] = field(default_factory=dict)

    def of(self, engine: str, build: str) -> BuildHistory:
        return self.builds.setdefault((engine, build), BuildHistory())

    @property
    def intervals(self) -> int:
        return sum(history.intervals for history in self.builds.values())


@dataclass(frozen=True, slots=True)
class RatePrior:
    """Settled rate of an engine before its own samples: mean [mg/h] and covariance per element, shares by source."""

    rate: Array
    covariance: Array
    shares: Array
    """Normal rate per source [mg/h]."""
    basis: str
    """'family' or 'none'."""
    builds: int
    """How many builds of the family stand behind it."""


def rate_prior(
    sources: Sources,
    litres: float,
    family: FamilyHistory | None,
    own: tuple[str, str],
    additive: Array,
    rules: Rules,
    engines: tuple[float, float] | None = None,
) -> RatePrior:
    """Prior of the settled rates of a build: its family's other builds (its own engine's earlier builds count double),
    or, with none, a first guess from materials and sump. `additive` elements have no rate: the oil's own content of
    them is far larger than any wear. `engines`: how much engines of a family differ, as a whole and source by source."""
    usual = sources.usual * litres
    floor = rules.number("spread", "floor_ppm_h") * litres * rules.oil_density_kg_l
    guess = np.where(additive, 0.0, sources.fractions @ usual)
    spread = rules.number("spread", "nothing_known")
    covariance = _without(additive, _covariance(sources, usual, guess, spread, spread, floor), floor)
    common, each = engines or (rules.number("spread", "engine"), rules.number("spread", "engine_source"))
    rate, variance, count = _family_rate(
        sources.elements, family, own, guess, np.diag(covariance), math.hypot(common, each)
    )
    rate = np.where(additive, 0.0, rate)
    if count == 0:
        return RatePrior(guess, covariance, usual, "none", 0)
    shares = share_out(rate, variance, sources.fractions, usual)
    known = _covariance(sources, shares, rate, common, each, floor, 0.7 * each) + np.diag(variance)
    known = _without(additive, known, floor)
    return RatePrior(rate, known, shares, "family", count)


@dataclass(frozen=True, slots=True)
class Told:
    """What a filter has been told of its rates from outside: precision [h²/mg²] and precision × mean, per element."""

    precision: Array
    pull: Array


@dataclass(frozen=True, slots=True)
class News:
    """What a family says now beyond what was told before: rows @ rate = value [mg/h], each with its variance."""

    rows: Array
    value: Array
    variance: Array
    told: Told


_NEWS_FROM = 0.3
"""Share by which a family must be surer in a direction before it is heard again [-]."""


def told_by(prior: RatePrior, additive: Array) -> Told:
    """The prior as a message; elements that the oil hides are left out."""
    known = ~np.asarray(additive, dtype=bool)
    pick = np.ix_(known, known)
    precision = np.zeros_like(prior.covariance)
    precision[pick] = np.linalg.inv(prior.covariance[pick])
    return Told(precision, precision @ np.where(known, prior.rate, 0.0))


def news_of(told: Told, prior: RatePrior, additive: Array) -> News | None:
    """The difference of two messages as independent measurements, in the directions in which the family is surer now.

    Gaussian messages multiply, so what is new is the ratio of the two: precision and precision × mean, subtracted."""
    known = np.flatnonzero(~np.asarray(additive, dtype=bool))
    pick = np.ix_(known, known)
    now = told_by(prior, additive)
    root = np.linalg.cholesky(now.precision[pick])
    inverse = np.linalg.inv(root)
    # in coordinates in which the new message has precision one, the old one has one minus the news
    values, vectors = np.linalg.eigh(np.eye(len(known)) - inverse @ told.precision[pick] @ inverse.T)
    kept = values > 1.0 - 1.0 / (1.0 + _NEWS_FROM)
    if not kept.any():
        return None
    values, vectors = values[kept], vectors[:, kept]
    rows = np.zeros((len(values), len(prior.rate)))
    rows[:, known] = vectors.T @ root.T
    value = vectors.T @ inverse @ (now.pull - told.pull)[known] / values
    precision = told.precision + (rows.T * values) @ rows
    return News(rows, value, 1.0 / values, Told(precision, told.pull + (rows.T * values) @ value))


def _without(additive: Array, covariance: Array, floor: float) -> Array:
    kept = np.where(np.logical_or.outer(additive, additive), 0.0, covariance)
    return np.asarray(kept + np.diag(np.where(additive, floor**2, 0.0)))


def _covariance(
    sources: Sources, shares: Array, rate: Array, common: float, each: float, floor: float, element: float = 0.35
) -> Array:
    """Engine-to-engine covariance [mg²/h²]: all together, source by source, and what one element adds."""
    columns = sources.fractions * (each * shares)
    tolerance = np.sum((sources.tolerance * shares) ** 2, axis=1)
    own = (element * np.maximum(rate, 0.0)) ** 2 + floor**2 + tolerance
    covariance = columns @ columns.T + common**2 * np.outer(rate, rate) + np.diag(own)
    return np.asarray(covariance)


def _family_rate(
    elements: Sequence[str],
    family: FamilyHistory | None,
    own: tuple[str, str],
    guess: Array,
    unknown: Array,
    between: float,
) -> tuple[Array, Array, int]:
    """Family rate per element [mg/h], its variance, and the number of builds behind it: a robust mean over builds."""
    others = [] if family is None else [
        (key, history) for key, history in family.builds.items() if key != own and history.intervals > 0
    ]
    rate, variance = guess.copy(), unknown.copy()
    if not others:
        return rate, variance, 0
    for i, element in enumerate(elements):
        values, weights = [], []
        for key, history in others:
            hours = history.hours.get(element, 0.0)
            if hours <= 0:
                continue
            values.append(max(history.metal[element] / hours, 0.0))
            weights.append((2.0 if key[0] == own[0] else 1.0) * hours / (hours + 10.0))
        if values:
            rate[i] = _robust_mean(np.array(values), np.array(weights))
            total = float(np.sum(weights))
            variance[i] = (between * rate[i]) ** 2 / max(total, 0.3)
    return rate, variance, len(others)


def _robust_mean(values: Array, weights: Array) -> float:
    """Weighted mean with each value held within a factor of two of the weighted median."""
    order = np.argsort(values)
    ranked, heavy = values[order], np.cumsum(weights[order])
    median = float(ranked[np.searchsorted(heavy, heavy[-1] / 2.0)])
    held = np.clip(values, median / 2.0, median * 2.0)
    return float(np.sum(held * weights) / np.sum(weights))


def interval_units(sources: Sources, rate: Array, shares: Array) -> tuple[Array, Array]:
    """What a sound engine's interval adds to the covariance of what it sheds [mg²/h²], per unit of squared spread:
    all sources together (a hard session), and each source for itself (with half as much of each element for itself)."""
    total = np.maximum(rate, 0.0)
    columns = sources.fractions * shares
    return np.outer(total, total), np.asarray(columns @ columns.T + np.diag((0.5 * total) ** 2))


def by_element(elements: Sequence[str], values: Mapping[str, float], missing: float = math.nan) -> Array:
    """A mapping as an array in the order of the elements."""
    return np.array([values.get(element, missing) for element in elements], dtype=float)
