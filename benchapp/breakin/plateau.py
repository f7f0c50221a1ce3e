"""Has corrected power stopped rising? A saturating fit with its interval against the pull-to-pull noise.

Power at build hours x is modelled as P∞ − D e^(−(x−x0)/τ) with D ≥ 0. For each τ of a grid the model is linear, so the
posterior of (P∞, D) is exact; the τ are weighted by their marginal likelihood. Plain grid integration: no sampler, no
starting values, and an honest interval from three pulls on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

NOISE_SHARE = 0.003
"""Pull-to-pull repeatability of a dyno as a share of power, sd [-]; common practice, no source. Used as prior only."""
NOISE_PRIOR_N = 3.0
"""How many pulls' worth that prior counts."""
FEWEST = 3


@dataclass(frozen=True, slots=True)
class Plateau:
    """`gain_kw` is the expected gain of the next pull [kW] with the bounds of its 90 % interval, `noise_kw` the
    pull-to-pull sd [kW], `final_kw` the power the fit runs into; `curve_h`/`curve_kw` draw the fit."""

    gain_kw: float
    gain_low_kw: float
    gain_high_kw: float
    noise_kw: float
    final_kw: float
    reached: bool
    pulls_after: int
    """Pulls made since the expected gain first fell below the noise (the confirming pulls)."""
    curve_h: Array
    curve_kw: Array


def _grid(hours: Array) -> Array:
    span = max(float(hours[-1] - hours[0]), 1e-6)
    return np.asarray(np.geomspace(0.05 * span, 3.0 * span, 60), dtype=float)


def _fit(hours: Array, power: Array) -> tuple[Array, Array, Array, Array, Array]:
    """Per τ: weight, (P∞, D), their covariance; and the noise sd. Shapes (g,), (g, 2), (g, 2, 2), (g,), (g,)."""
    taus, n = _grid(hours), len(power)
    decay = np.exp(-(hours - hours[0])[None, :] / taus[:, None])
    design = np.stack([np.ones_like(decay), -decay], axis=2)
    scale = float(np.mean(power))
    # a weak prior on D (a tenth of the power) keeps a nearly straight fit finite
    ridge = np.diag([0.0, (NOISE_SHARE / 0.1) ** 2])
    normal = np.einsum("gni,gnj->gij", design, design) + ridge
    inverse = np.linalg.inv(normal)
    best = np.einsum("gij,gnj,n->gi", inverse, design, power)
    rest = power[None, :] - np.einsum("gni,gi->gn", design, best)
    squares = (rest**2).sum(axis=1)
    prior = NOISE_PRIOR_N * (NOISE_SHARE * scale) ** 2
    freedom = n + NOISE_PRIOR_N
    log_weight = -0.5 * freedom * np.log(squares + prior) + 0.5 * np.linalg.slogdet(inverse)[1]
    weight = np.exp(log_weight - log_weight.max())
    noise = np.sqrt((squares + prior) / max(freedom - 2, 1.0))
    covariance = inverse * (noise**2)[:, None, None]
    return weight / weight.sum(), best, covariance, noise, taus


def _gain_draws(hours: Array, power: Array, step_h: float) -> tuple[Array, Array, float, float]:
    """Quantile-grid of the next pull's gain [kW], their weights, the noise sd [kW] and P∞ [kW]."""
    weight, best, covariance, noise, taus = _fit(hours, power)
    normal = np.array([-1.9600, -1.2816, -0.8416, -0.5244, -0.2533, 0.0, 0.2533, 0.5244, 0.8416, 1.2816, 1.9600])
    at = np.exp(-(hours[-1] - hours[0]) / taus) * (1 - np.exp(-step_h / taus))
    spread = np.sqrt(covariance[:, 1, 1])[:, None]
    drop = np.maximum(best[:, 1][:, None] + spread * normal[None, :], 0.0)
    mass = np.exp(-0.5 * normal**2)
    gains = (at[:, None] * drop).ravel()
    weights = (weight[:, None] * mass[None, :]).ravel()
    return gains, weights / weights.sum(), float(weight @ noise), float(weight @ best[:, 0])


def _quantile(values: Array, weights: Array, share: float) -> float:
    order = np.argsort(values)
    return float(np.interp(share, np.cumsum(weights[order]), values[order]))


def plateau(*, hours: Array, power_kw: Array) -> Plateau | None:
    """Judges the plateau from corrected pulls, `hours` [h] rising, `power_kw` [kW]; None with fewer than three pulls.

    `reached`: the upper bound of the next pull's expected gain lies below the pull-to-pull noise.
    """
    hours, power = np.asarray(hours, dtype=float), np.asarray(power_kw, dtype=float)
    if len(power) < FEWEST or float(hours[-1] - hours[0]) <= 0:
        return None
    step = float(np.median(np.diff(hours)))
    gains, weights, noise, final = _gain_draws(hours, power, step)
    low, high = _quantile(gains, weights, 0.05), _quantile(gains, weights, 0.95)
    reached = high < noise
    curve_h = np.linspace(hours[0], hours[-1] + step, 60)
    weight, best, _, _, taus = _fit(hours, power)
    drawn = np.exp(-(curve_h[None, :] - hours[0]) / taus[:, None])
    curve = weight @ (best[:, 0][:, None] - best[:, 1][:, None] * drawn)
    return Plateau(
        gain_kw=float(gains @ weights), gain_low_kw=low, gain_high_kw=high, noise_kw=noise, final_kw=final,
        reached=reached, pulls_after=_since(hours, power) if reached else 0, curve_h=curve_h, curve_kw=curve,
    )  # fmt: skip


def _since(hours: Array, power: Array) -> int:
    """Pulls in a row, counted back from the last, at which the plateau already stood (the last finding it counts 0)."""
    count = 0
    for n in range(len(power) - 1, FEWEST - 1, -1):
        gains, weights, noise, _ = _gain_draws(hours[:n], power[:n], float(np.median(np.diff(hours[:n]))))
        if _quantile(gains, weights, 0.95) >= noise:
            break
        count += 1
    return count


def two_pulls_without_gain(power_kw: Array) -> bool:
    """The plain rule to compare with: neither of the last two pulls beat the best one before them."""
    power = np.asarray(power_kw, dtype=float)
    return len(power) >= FEWEST and bool(power[-2:].max() <= power[:-2].max())
