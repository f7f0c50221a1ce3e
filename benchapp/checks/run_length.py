"""Average run lengths of CUSUM and EWMA charts, and the decision interval that a stated run length asks for.

Integral equations of the run length, solved on Gauss-Legendre nodes (Crowder, Technometrics 29 (1987) 401, for the
EWMA; the CUSUM's equation has a mass at zero beside it). Values are standardised: shifts, reference values, decision
intervals and limits all count in standard deviations of one observation. Run lengths count observations, zero-state.
"""

from __future__ import annotations

from collections.abc import Callable
from math import sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.stats import norm

Array = NDArray[np.float64]

NODES = 80
MOST_DECISION = 12.0
"""Largest decision interval that is searched [sd]."""


def cusum_run_length(reference: float, decision: float, shift: float = 0.0, *, nodes: int = NODES) -> float:
    """Mean number of observations until a one-sided CUSUM, started at zero, passes its decision interval.

    S = max(0, S + x − k) with x ~ N(shift, 1), k = `reference`, signal above h = `decision` [sd].
    L(u) = 1 + L(0) Φ(k − u − µ) + ∫ L(y) φ(y + k − u − µ) dy over 0..h.
    Raises ValueError for a decision interval not above zero."""
    if decision <= 0:
        raise ValueError("the decision interval must be above zero")
    y, weight = _nodes(0.0, decision, nodes)
    u = np.concatenate([[0.0], y])
    stay = np.zeros((nodes + 1, nodes + 1))
    stay[:, 0] = norm.cdf(reference - u - shift)
    stay[:, 1:] = norm.pdf(y[None, :] + reference - u[:, None] - shift) * weight
    return float(np.linalg.solve(np.eye(nodes + 1) - stay, np.ones(nodes + 1))[0])


def cusum_run_length_two_sided(reference: float, decision: float, shift: float = 0.0) -> float:
    """The same for a high and a low CUSUM together: 1/L = 1/L(µ) + 1/L(−µ), exact as long as k > 0."""
    high = cusum_run_length(reference, decision, shift)
    low = cusum_run_length(reference, decision, -shift)
    return 1.0 / (1.0 / high + 1.0 / low)


def ewma_run_length(weight: float, width: float, shift: float = 0.0, *, nodes: int = NODES) -> float:
    """Mean number of observations until a two-sided EWMA, started at its target, leaves target ± L·sqrt(λ/(2 − λ)).

    λ = `weight` in (0, 1], L = `width` [sd]. L(u) = 1 + 1/λ ∫ L(y) φ((y − (1 − λ) u)/λ − µ) dy between the limits.
    Raises ValueError for a weight outside (0, 1] or limits of no width."""
    if not 0.0 < weight <= 1.0 or width <= 0:
        raise ValueError("the weight must lie in (0, 1], the width above zero")
    half = width * sqrt(weight / (2.0 - weight))
    y, w = _nodes(-half, half, nodes)
    u = np.concatenate([[0.0], y])
    kernel = norm.pdf((y[None, :] - (1.0 - weight) * u[:, None]) / weight - shift) * w / weight
    inside = np.linalg.solve(np.eye(nodes) - kernel[1:], np.ones(nodes))
    return float(1.0 + kernel[0] @ inside)


def cusum_decision(reference: float, run_length: float, *, two_sided: bool = False) -> float:
    """Decision interval h [sd] at which a sound process signals falsely once in `run_length` observations on average.

    Raises ValueError where no interval up to MOST_DECISION gives it."""
    of = cusum_run_length_two_sided if two_sided else cusum_run_length
    return _solved(lambda h: of(reference, h), run_length, MOST_DECISION)


def ewma_width(weight: float, run_length: float) -> float:
    """Limits L [sd of the EWMA] at which a sound process signals falsely once in `run_length` observations.

    Raises ValueError where no width up to six gives it."""
    return _solved(lambda width: ewma_run_length(weight, width), run_length, 6.0)


def _nodes(low: float, high: float, count: int) -> tuple[Array, Array]:
    x, w = np.polynomial.legendre.leggauss(count)
    half = (high - low) / 2.0
    return low + half * (x + 1.0), half * w


def _solved(length: Callable[[float], float], wanted: float, most: float) -> float:
    least = 1e-3
    if not length(least) < wanted < length(most):
        raise ValueError("no chart has that run length")
    return float(brentq(lambda at: np.log(length(at) / wanted), least, most, xtol=1e-8))
