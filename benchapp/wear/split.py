"""Source split: which sources the metal of an interval came from, by effective-variance chemical mass balance.

    minimise Σ_i (y_i − Σ_j A_ij x_j)² / (s_i² + Σ_j S_ij² x_j²),  x ≥ 0

with the weights frozen at the last solution and solved again until the solution stands still, as the US EPA chemical
mass balance does (EPA-452/R-04-011). That loop is not the likelihood maximiser (Pearson's data with York's weights:
intercept 5.3960523 against 5.4799). What was normal before may be given as a prior: it is what holds apart sources that
the elements cannot tell apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls

Array = NDArray[np.float64]

MOST_ROUNDS = 20


@dataclass(frozen=True, slots=True)
class Split:
    """`x` per source, its covariance (of the solution without the x ≥ 0), `rest` per element = y − A x, reduced
    `chi_square`, `rounds` solved."""

    x: Array
    covariance: Array
    rest: Array
    chi_square: float
    rounds: int

    @property
    def sd(self) -> Array:
        return np.asarray(np.sqrt(np.maximum(self.covariance.diagonal(), 0.0)), dtype=np.float64)


def _inverse(information: Array) -> Array:
    """Inverse of an information matrix; of one that knows nothing in some direction, the part that it knows."""
    try:
        return np.asarray(np.linalg.inv(information))
    except np.linalg.LinAlgError:
        return np.asarray(np.linalg.pinv(information))


def split(
    y: Array,
    y_sd: Array,
    A: Array,
    S: Array,
    *,
    normal: Array | None = None,
    normal_sd: Array | None = None,
    stop: float = 0.01,
    non_negative: bool = True,
) -> Split:
    """Solves the mass balance. `y` per element (NaN: not read) with `y_sd`; `A` elements × sources with its standard
    deviations `S`; `normal`, `normal_sd` an optional Gaussian prior per source, in the unit of x.

    `stop` is the largest relative change at which the loop ends. Raises ValueError for shapes that do not fit."""
    y, y_sd, A, S = (np.asarray(value, dtype=float) for value in (y, y_sd, A, S))
    if A.shape != S.shape or y.shape != y_sd.shape or A.shape[0] != len(y):
        raise ValueError("y and y_sd must have one entry an element, A and S elements × sources")
    read = np.isfinite(y) & np.isfinite(y_sd)
    y, y_sd, A, S, whole = y[read], y_sd[read], A[read], S[read], y.copy()
    x = np.zeros(A.shape[1])
    rounds = 0
    for _ in range(MOST_ROUNDS):
        rounds += 1
        variance = y_sd**2 + S**2 @ x**2
        new = _solve(y, variance, A, normal, normal_sd, non_negative)
        moved = np.abs(new - x) > stop * np.maximum(np.abs(new), 1e-12)
        x = new
        if not moved.any():
            break
    information = A.T @ (A / variance[:, None])
    if normal_sd is not None:
        information = information + np.diag(1.0 / np.asarray(normal_sd) ** 2)
    rest = np.full(len(whole), np.nan)
    rest[read] = y - A @ x
    freedom = max(len(y) - (0 if normal_sd is not None else A.shape[1]), 1)
    chi_square = float(np.sum((y - A @ x) ** 2 / variance)) / freedom
    inverse = np.linalg.pinv(information) if normal_sd is None else _inverse(information)
    return Split(x, np.asarray(inverse, dtype=np.float64), rest, chi_square, rounds)


def _solve(
    y: Array, variance: Array, A: Array, normal: Array | None, normal_sd: Array | None, non_negative: bool
) -> Array:
    if A.shape[1] == 0:  # scipy 1.17.1 frees twice, and ends the process, where there is no column
        return np.zeros(0)
    scale = 1.0 / np.sqrt(variance)
    rows, target = A * scale[:, None], y * scale
    if normal is not None and normal_sd is not None:
        rows = np.vstack([rows, np.diag(1.0 / normal_sd)])
        target = np.concatenate([target, normal / normal_sd])
    if non_negative:
        return np.asarray(nnls(rows, target)[0])
    return np.asarray(np.linalg.lstsq(rows, target, rcond=None)[0])


def in_range(y: Array, A: Array) -> Array:
    """Which elements of a mixture lie inside the range of its sources, as a mask: the others cannot come from them.

    For sources that mix in shares that sum to one; `y` per element, `A` elements × sources."""
    return np.asarray((y >= A.min(axis=1)) & (y <= A.max(axis=1)))
