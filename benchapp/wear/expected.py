"""Expected rates: what is normal for this engine now, from its family and from itself.

Hierarchy: a first guess from materials and sump, the family's engines about it, the engine about its family, the
intervals about the engine. The small closed forms (normal-normal shrinkage, normal-inverse-gamma prediction) stand
here on their own, so that they can be checked against published examples.
"""

from __future__ import annotations

import copy
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
    middle = pulled @ fractions.T
    _on_diagonal(middle, variance + 1e-12)
    x = usual + pulled.T @ np.linalg.solve(middle, rate - fractions @ usual)
    return np.maximum(np.asarray(x), 0.1 * usual)


# --- what a family knows --------------------------------------------------------------------------------------------


@dataclass(slots=True)
class BuildHistory:
    """Healthy history of one build: metal [mg] and hours [h] per element, and the number of intervals."""

    metal: dict[str, float] = field(default_factory=dict)
    hours: dict[str, float] = field(default_factory=dict)
    noise: dict[str, float] = field(default_factory=dict)
    """Variance of the metal from reading noise [mg²]."""
    intervals: int = 0

    def add(self, elements: Sequence[str], metal_mg: Array, noise_mg2: Array, hours: float) -> None:
        """One healthy interval: metal shed per element [mg] and what reading noise adds to it; NaN: not read."""
        self.intervals += 1
        for element, metal, noise in zip(elements, metal_mg.tolist(), noise_mg2.tolist(), strict=True):
            if metal == metal:
                self.metal[element] = self.metal.get(element, 0.0) + metal
                self.noise[element] = self.noise.get(element, 0.0) + noise
                self.hours[element] = self.hours.get(element, 0.0) + hours


@dataclass(slots=True)
class FamilyHistory:
    """Healthy histories of all builds of a family by (engine, build), and what was found when someone looked inside."""

    builds: dict[tuple[str, str], BuildHistory] = field(default_factory=dict)
    worn: dict[tuple[str, str, str], str] = field(default_factory=dict)
    """(engine, build, part) -> role of what was found worn out or damaged."""
    intervals: int = field(default=0, init=False)
    """Of all builds together."""

    def __post_init__(self) -> None:
        self.intervals = sum(history.intervals for history in self.builds.values())

    def learn(
        self, build: tuple[str, str], elements: Sequence[str], metal_mg: Array, noise_mg2: Array, hours: float
    ) -> None:
        """One healthy interval of a build; see `BuildHistory.add`."""
        self.builds.setdefault(build, BuildHistory()).add(elements, metal_mg, noise_mg2, hours)
        self.intervals += 1

    def found_worn(self, build: tuple[str, str], part: str, role: str) -> None:
        """Someone looked inside a build and found a part worn out or damaged; said twice, it counts once."""
        self.worn[(*build, part)] = role

    def apart(self, own: tuple[str, str]) -> FamilyHistory:
        """One in which a build may be followed: judging must leave the kept knowledge as it is, or judging twice would
        differ. That build's part is a copy, the others', which following it never writes to, are shared."""
        mine = {own: copy.deepcopy(self.builds[own])} if own in self.builds else {}
        return FamilyHistory({**self.builds, **mine}, dict(self.worn))


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
    mean: FamilyMean,
    additive: NDArray[np.bool_],
    rules: Rules,
    engines: tuple[float, float] | None = None,
) -> RatePrior:
    """Prior of the settled rates of a build: its family's mean, or, with none, a first guess from materials and sump.

    `additive` elements have no rate: the oil's own content of them is far larger than any wear. `engines`: how much
    engines of a family differ [sd of a logarithm], as a whole and source by source."""
    usual = sources.usual * litres
    floor = rules.number("spread", "floor_ppm_h") * litres * rules.oil_density_kg_l
    guess = np.where(additive, 0.0, sources.fractions @ usual)
    spread = rules.number("spread", "nothing_known")

    def first() -> Array:
        return _without(additive, _covariance(sources, usual, guess, spread, spread, floor), floor)

    if mean.builds == 0:
        return RatePrior(guess, first(), usual, "none", 0)
    common, each = engines or (rules.number("spread", "engine"), rules.number("spread", "engine_source"))
    told = mean.weight > 0
    rate = np.where(additive, 0.0, np.where(told, mean.rate, guess))
    taught = (common**2 + each**2) * rate**2 / np.maximum(mean.weight, 0.3) + mean.noise
    variance = taught if told.all() else np.where(told, taught, first().diagonal())
    shares = share_out(rate, variance, sources.fractions, usual)
    known = _covariance(sources, shares, rate, common, each, floor, 0.7 * each)
    _on_diagonal(known, variance)
    return RatePrior(rate, _without(additive, known, floor), shares, "family", mean.builds)


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


def told_by(prior: RatePrior, additive: NDArray[np.bool_]) -> Told:
    """The prior as a message; elements that the oil hides are left out."""
    known = ~additive
    pick = np.ix_(known, known)
    precision = np.zeros_like(prior.covariance)
    precision[pick] = np.linalg.inv(prior.covariance[pick])
    return Told(precision, precision @ np.where(known, prior.rate, 0.0))


def news_of(told: Told, prior: RatePrior, additive: NDArray[np.bool_]) -> News | None:
    """The difference of two messages as independent measurements, in the directions in which the family is surer now.

    Gaussian messages multiply, so what is new is the ratio of the two: precision and precision × mean, subtracted."""
    known = np.flatnonzero(~additive)
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


def _without(additive: NDArray[np.bool_], covariance: Array, floor: float) -> Array:
    kept = np.where(np.logical_or(additive[:, None], additive), 0.0, covariance)
    _on_diagonal(kept, np.where(additive, floor**2, 0.0))
    return kept


def _covariance(
    sources: Sources, shares: Array, rate: Array, common: float, each: float, floor: float, element: float = 0.35
) -> Array:
    """Engine-to-engine covariance [mg²/h²]: all together, source by source, and what one element adds."""
    columns = sources.fractions * (each * shares)
    tolerance = np.sum((sources.tolerance * shares) ** 2, axis=1)
    own = (element * np.maximum(rate, 0.0)) ** 2 + floor**2 + tolerance
    covariance = columns @ columns.T + common**2 * (rate[:, None] * rate)
    _on_diagonal(covariance, own)
    return np.asarray(covariance)


def _on_diagonal(matrix: Array, more: Array) -> None:
    """Adds to the diagonal of a square matrix."""
    matrix.flat[:: len(matrix) + 1] += more


@dataclass(frozen=True, slots=True)
class FamilyMean:
    """What a family's other builds wear on average [mg/h per element], in how many builds' worth of knowledge."""

    rate: Array
    weight: Array
    """Builds' worth of knowledge per element [-]; zero where none was read."""
    noise: Array
    """Variance of the mean that reading noise leaves [mg²/h²]."""
    builds: int


def family_mean(
    elements: Sequence[str], family: FamilyHistory | None, own: tuple[str, str], floor: float = 0.0
) -> FamilyMean:
    """Robust mean over the builds of a family but one's own; an engine's own earlier builds count double.

    A build whose metal is lost in reading noise says little. `floor`: smallest rate that is spoken of [mg/h]."""
    found = np.zeros((3, len(elements)))
    others = [] if family is None else [
        (key, history) for key, history in family.builds.items() if key != own and history.intervals > 0
    ][-_LATEST:]
    # elements that the same builds have read are reckoned at once
    alike: dict[tuple[bool, ...], list[int]] = {}
    for i, element in enumerate(elements):
        alike.setdefault(tuple(history.hours.get(element, 0.0) > 0 for _, history in others), []).append(i)
    for read, columns in alike.items():
        if any(read):
            asked = [one for one, known in zip(others, read, strict=True) if known]
            metal, hours, noise = (
                np.array([[getattr(history, name)[elements[i]] for _, history in asked] for i in columns])
                for name in ("metal", "hours", "noise")
            )
            weights = hours / (hours + 10.0) * np.array([2.0 if key[0] == own[0] else 1.0 for key, _ in asked])
            found[:, columns] = _mean_of(metal / hours, weights, noise / hours**2, floor)
    return FamilyMean(found[0], found[1], found[2], len(others))


_LATEST = 40
"""Builds of a family that are asked, the latest begun: more say nothing new, and time stays linear in samples."""

_ABOUT = 0.36
"""Variance of engines about each other, of the logarithm, for weights alone [-]."""


def _mean_of(values: Array, weights: Array, noise: Array, floor: float) -> tuple[Array, Array, Array]:
    """(mean, weight, variance from noise) of the rates of several builds (elements × builds), each with its noise
    variance."""
    usual = noise.mean(axis=1, keepdims=True) + 1e-12
    first = np.maximum(_robust_mean(values, weights / (1.0 + noise / usual)), 0.0)
    spread = (_ABOUT * np.maximum(first, floor) ** 2)[:, None]
    weights = np.where(spread > 0, weights * spread / np.where(spread > 0, spread + noise, 1.0), weights)
    total = weights.sum(axis=1)
    mean = np.maximum(_robust_mean(values, weights), 0.0)
    return mean, total, np.sum(weights**2 * noise, axis=1) / np.maximum(total, 1e-12) ** 2


def _robust_mean(values: Array, weights: Array) -> Array:
    """Weighted mean of each row with each value held within a factor of two of the row's weighted median."""
    order = np.argsort(values, axis=1)
    heavy = np.cumsum(np.take_along_axis(weights, order, axis=1), axis=1)
    middle = np.argmax(heavy >= heavy[:, -1:] / 2.0, axis=1)[:, None]
    median = np.take_along_axis(values, np.take_along_axis(order, middle, axis=1), axis=1)
    held = np.where(median > 0, np.clip(values, median / 2.0, median * 2.0), values)
    return np.asarray(np.sum(held * weights, axis=1) / np.sum(weights, axis=1))


def interval_units(sources: Sources, rate: Array, shares: Array) -> tuple[Array, Array]:
    """What a sound engine's interval adds to the covariance of what it sheds [mg²/h²], per unit of squared spread:
    all sources together (a hard session), and each source for itself (with half as much of each element for itself)."""
    total = np.maximum(rate, 0.0)
    columns = sources.fractions * shares
    each = columns @ columns.T
    _on_diagonal(each, (0.5 * total) ** 2)
    return np.outer(total, total), np.asarray(each)


def by_element(elements: Sequence[str], values: Mapping[str, float], missing: float = math.nan) -> Array:
    """A mapping as an array in the order of the elements."""
    return np.array([values.get(element, missing) for element in elements], dtype=float)
