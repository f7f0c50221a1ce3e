"""Which parts an interval's metal came from, for comparing intervals: the split that the data alone can carry.

The sources of a build as the method's signature gives them, grouped until every group of parts that sheds is known to
better than half of itself on the mean of all intervals; then each interval is split by weighted least squares with no
bound at zero, so that its error stays honest and a group that sheds nothing averages to nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import nnls

from benchapp.breakin.intervals import Interval

Array = npt.NDArray[np.float64]

KNOWN_TO = 0.5
"""Largest standard error of a group's mean rate, as a share of that rate; own default."""
ALIKE = 0.9
"""Cosine from which a source that explains nothing may still be what was seen of another; own default."""
LEAST_MG_H = 1e-3
"""Below this mean rate a source counts as not seen [mg/h]; own default."""


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Sources that go together: names, and mg of element per mg (E,) with its tolerance."""

    names: tuple[str, ...]
    column: Array
    tolerance: Array
    amount: float
    """Mean rate [mg/h] by which members are mixed."""

    @property
    def name(self) -> str:
        return " + ".join(self.names)


@dataclass(frozen=True, slots=True, eq=False)
class SplitRates:
    """Rate and standard error of one group in each interval [mg/h], (I,) each."""

    name: str
    parts: tuple[str, ...]
    rate: Array
    error: Array


def split(
    found: Sequence[Interval], names: Sequence[Sequence[str]], fractions: Array, tolerance: Array
) -> tuple[SplitRates, ...]:
    """Splits intervals that share one row of elements. `names`: sources of each column; `fractions`, `tolerance`
    (E, J) mass fractions [-]. An element that an interval did not read has no say in it. () where nothing is left."""
    if not found or fractions.shape[1] == 0:
        return ()
    y = np.array([one.rate for one in found])
    s = np.array([one.error for one in found])
    read = np.isfinite(y) & np.isfinite(s) & (s > 0)
    rows = read.mean(axis=0) >= 0.5
    if not rows.any():
        return ()
    y, s, read = y[:, rows], s[:, rows], read[:, rows]
    mean, error = _mean(y, s, read)
    columns, spreads = fractions[rows], tolerance[rows]
    amounts = _bounded(columns, mean, error)
    groups = [
        Group(tuple(own), columns[:, j], spreads[:, j], float(amounts[j]))
        for j, own in enumerate(names)
        if columns[:, j].sum() > 0
    ]
    groups = _grouped(groups, mean, error)
    return _each(groups, y, s, read)


def _mean(y: Array, s: Array, read: npt.NDArray[np.bool_]) -> tuple[Array, Array]:
    """Mean rate of each element over the intervals and its standard error from the readings."""
    weight = np.where(read, 1.0, 0.0)
    count = np.maximum(weight.sum(axis=0), 1.0)
    mean = np.where(read, y, 0.0).sum(axis=0) / count
    return mean, np.sqrt(np.where(read, s**2, 0.0).sum(axis=0)) / count


def _bounded(columns: Array, mean: Array, error: Array) -> Array:
    """Amounts at or above zero that explain the mean best."""
    if columns.size == 0:
        return np.zeros(columns.shape[1])  # scipy 1.17.1 ends the process on a problem without columns
    scaled, _ = nnls(columns / error[:, None], mean / error)
    return np.asarray(scaled, dtype=float)


def _normal(groups: Sequence[Group], error: Array) -> tuple[Array, Array]:
    """Columns (E, G) and the covariance (G, G) of their amounts on the mean; tolerances widen the errors."""
    A = np.column_stack([group.column for group in groups])
    spread = sum((group.tolerance * group.amount) ** 2 for group in groups)
    weight = 1.0 / (error**2 + spread)
    return A, np.asarray(np.linalg.pinv(A.T @ (weight[:, None] * A), hermitian=True))


def _grouped(groups: list[Group], mean: Array, error: Array) -> list[Group]:
    """Joins the least known group with the one it is most confused with, until all that shed are known."""
    groups = _without_unseen(groups, error)
    while len(groups) > 1:
        A, covariance = _normal(groups, error)
        if len(groups) <= np.linalg.matrix_rank(A / error[:, None], tol=1e-6):
            sd = np.sqrt(np.maximum(np.diag(covariance), 0.0))
            doubt = np.array([e / max(g.amount, LEAST_MG_H) for g, e in zip(groups, sd, strict=True)])
            worst = int(np.argmax(doubt))
            if doubt[worst] <= KNOWN_TO:
                break
        else:
            worst = int(np.argmin([group.amount for group in groups]))
        other = _most_alike(groups, worst, error)
        joined = _joined(groups[worst], groups[other])
        groups = [g for place, g in enumerate(groups) if place not in (worst, other)] + [joined]
        A = np.column_stack([group.column for group in groups])
        amounts = _bounded(A, mean, error)
        groups = [Group(g.names, g.column, g.tolerance, float(x)) for g, x in zip(groups, amounts, strict=True)]
    return groups


def _without_unseen(groups: list[Group], error: Array) -> list[Group]:
    """Leaves out sources that explain nothing here and that no other source is mistaken for."""
    kept = [group for group in groups if group.amount > LEAST_MG_H]
    for group in groups:
        if group.amount <= LEAST_MG_H and kept:
            other = _most_alike([*kept, group], len(kept), error)
            if _alike(kept[other], group, error) >= ALIKE:
                kept[other] = _joined(kept[other], group)
    return kept or groups[:1]


def _alike(one: Group, other: Group, error: Array) -> float:
    """Cosine of two columns seen through the noise."""
    a, b = one.column / error, other.column / error
    return float(a @ b / max(float(np.linalg.norm(a) * np.linalg.norm(b)), 1e-12))


def _most_alike(groups: Sequence[Group], at: int, error: Array) -> int:
    """The group whose column, seen through the noise, points most nearly the same way."""
    scaled = np.column_stack([group.column / error for group in groups])
    scaled = scaled / np.maximum(np.linalg.norm(scaled, axis=0), 1e-12)
    alike = scaled.T @ scaled[:, at]
    alike[at] = -np.inf
    return int(np.argmax(alike))


def _joined(one: Group, other: Group) -> Group:
    one, other = sorted((one, other), key=lambda group: -group.amount)
    total = one.amount + other.amount
    share = one.amount / total if total > LEAST_MG_H else 0.5
    column = share * one.column + (1 - share) * other.column
    apart = share * (1 - share) * (one.column - other.column) ** 2
    tolerance = np.sqrt(share * one.tolerance**2 + (1 - share) * other.tolerance**2 + apart)
    return Group((*one.names, *other.names), column, tolerance, total)


def _each(groups: Sequence[Group], y: Array, s: Array, read: npt.NDArray[np.bool_]) -> tuple[SplitRates, ...]:
    A, _ = _normal(groups, np.ones(y.shape[1]))
    rates, errors = np.full((len(y), len(groups)), np.nan), np.full((len(y), len(groups)), np.nan)
    for i in range(len(y)):
        rows = read[i]
        if rows.sum() < len(groups):
            continue
        # reading noise only: the tolerance of an alloy is the same before and after and cancels in a ratio
        weight = 1.0 / s[i, rows] ** 2
        part = A[rows]
        covariance = np.linalg.pinv(part.T @ (weight[:, None] * part), hermitian=True)
        rates[i] = covariance @ (part.T @ (weight * y[i, rows]))
        errors[i] = np.sqrt(np.maximum(np.diag(covariance), 1e-18))
    return tuple(SplitRates(g.name, g.names, rates[:, j], errors[:, j]) for j, g in enumerate(groups))
