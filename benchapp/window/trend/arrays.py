"""The one way from a series to what a plot is handed: float64 arrays with NaN, sorted, never an object array."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

Floats = np.ndarray
Flags = np.ndarray


def floats(values: Iterable[float | None]) -> Floats:
    """Values as a float64 array [n]; None becomes NaN."""
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def drawn(*columns: Floats) -> Flags:
    """Which entries are finite in every column [n], bool."""
    return np.logical_and.reduce([np.isfinite(column) for column in columns])


def joined(apart: Sequence[str], keep: Flags, *, across_instruments: bool) -> tuple[Flags, Flags]:
    """Which kept entries are joined to the next one [m], as int32: (inside one fill, from one fill to the next).

    Builds are never joined; instruments only where the person asked for it."""
    reasons = _between(apart, keep)
    never = {"build"} if across_instruments else {"build", "instrument"}
    inside = np.array([0 if reason else 1 for reason in reasons], dtype=np.int32)
    across = np.array([1 if reason and reason not in never else 0 for reason in reasons], dtype=np.int32)
    if inside.size:
        inside[-1] = across[-1] = 0
    return inside, across


def _between(apart: Sequence[str], keep: Flags) -> list[str]:
    """For each kept entry, the gravest reason that stands between it and the next kept one ('' for none)."""
    order = ("", "fill", "instrument", "build")
    reasons: list[str] = []
    for reason, kept in zip(apart, keep, strict=True):
        if reasons and order.index(reason) > order.index(reasons[-1]):
            reasons[-1] = reason
        if kept:
            reasons.append("")
    return reasons


def top_of(values: Iterable[Floats], ceiling: float | None) -> float:
    """Upper end of the y axis: a little over everything drawn; a ceiling more than six times away stays outside."""
    finite = [column[np.isfinite(column)] for column in values]
    top = max([float(column.max()) for column in finite if column.size] or [1.0])
    top = top if top > 0 else 1.0
    if ceiling is not None and ceiling <= 6 * top:
        top = max(top, ceiling)
    return top * 1.08
