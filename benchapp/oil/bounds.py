"""Refuses what lies outside the range a formula was made for: with the range and its source, never in silence."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from benchapp.problems import BenchProblem

FloatArray = npt.NDArray[np.float64]


def within(
    what: str, values: npt.ArrayLike, low: float, high: float, unit: str, source: str, *, or_nan: bool = False
) -> FloatArray:
    """The values as float64, if all lie in [low, high] (`or_nan`: or are NaN, for unknown).

    Raises BenchProblem that names the first value outside, the range and the source of the range."""
    numbers = np.asarray(values, dtype=np.float64)
    inside = (numbers >= low) & (numbers <= high)
    if or_nan:
        inside |= np.isnan(numbers)
    if inside.all():
        return numbers
    first = float(numbers[~inside].flat[0])
    raise BenchProblem(
        f"{what[:1].upper()}{what[1:]} is {first:g}{_spaced(unit)}, outside {low:g} to {high:g}{_spaced(unit)}.",
        f"The formula holds only in that range ({source}), so nothing was computed with it.",
        f"Check the {what} and its unit.",
    )


def _spaced(unit: str) -> str:
    return f" {unit}" if unit else ""
