"""Two instruments, or the bench against an outside laboratory, on the same samples: bias and slope with their
intervals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t as student


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line with errors in both variables. Standard errors are York's, from the weights alone; `scatter` is
    S/(n − 2): about 1 where the stated errors explain the scatter."""

    intercept: float
    slope: float
    intercept_se: float
    slope_se: float
    scatter: float
    n: int


def line_both_errors(x: Sequence[float], y: Sequence[float], x_sd: Sequence[float], y_sd: Sequence[float]) -> Line:
    """Best straight line y = intercept + slope·x with independent errors in both variables, by York's equations
    iterated.

    `x_sd`, `y_sd`: standard deviation of each point, all above zero. Raises ValueError for fewer than three points,
    for points without spread in x, or where the iteration does not settle. Source: York, Evensen, Martinez López and
    De Basabe Delgado, American Journal of Physics 72 (2004) 367."""
    xs, ys = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    wx, wy = _weights(x_sd, xs.size), _weights(y_sd, ys.size)
    n = xs.size
    if n < 3 or ys.size != n or not (np.isfinite(xs).all() and np.isfinite(ys).all()):
        raise ValueError("a line with errors in both variables needs at least three finite pairs")
    if float(np.ptp(xs)) == 0.0:
        raise ValueError("all samples are alike on the first instrument")
    slope = float(np.polyfit(xs, ys, 1)[0])
    for _ in range(500):
        w = wx * wy / (wx + slope**2 * wy)
        u, v = xs - float((w * xs).sum() / w.sum()), ys - float((w * ys).sum() / w.sum())
        beta = w * (u / wy + slope * v / wx)
        below = float((w * beta * u).sum())
        if below == 0.0:
            break
        new = float((w * beta * v).sum()) / below
        if abs(new - slope) <= 1e-14 * max(1.0, abs(slope)):
            slope = new
            break
        slope = new
    else:
        raise ValueError("the line did not settle")
    w = wx * wy / (wx + slope**2 * wy)
    x_mean, y_mean = float((w * xs).sum() / w.sum()), float((w * ys).sum() / w.sum())
    intercept = y_mean - slope * x_mean
    u, v = xs - x_mean, ys - y_mean
    beta = w * (u / wy + slope * v / wx)
    adjusted = x_mean + beta
    centre = float((w * adjusted).sum() / w.sum())
    slope_se = sqrt(1.0 / float((w * (adjusted - centre) ** 2).sum()))
    intercept_se = sqrt(1.0 / float(w.sum()) + centre**2 * slope_se**2)
    scatter = float((w * (ys - intercept - slope * xs) ** 2).sum()) / (n - 2)
    return Line(intercept, slope, intercept_se, slope_se, scatter, n)


def _weights(sd: Sequence[float], n: int) -> NDArray[np.float64]:
    array = np.asarray(sd, dtype=np.float64)
    if array.size != n or not np.isfinite(array).all() or (array <= 0.0).any():
        raise ValueError("every point needs a standard deviation above zero")
    return 1.0 / array**2


@dataclass(frozen=True, slots=True)
class Comparison:
    """Second instrument against the first on the same samples, one element.

    `bias_ppm` is the mean of second − first with its interval at `confidence`; `ratio` the geometric mean ratio
    with its interval, None where a value is zero; `line` None where there are too few or too equal samples for one."""

    n: int
    bias_ppm: float
    bias_low_ppm: float
    bias_high_ppm: float
    ratio: float | None
    ratio_low: float | None
    ratio_high: float | None
    line: Line | None
    confidence: float
    text: str

    @property
    def differs(self) -> bool:
        """The bias is not explained by chance."""
        return self.bias_low_ppm > 0.0 or self.bias_high_ppm < 0.0


def compare(
    first: Sequence[float],
    second: Sequence[float],
    first_sd: Sequence[float],
    second_sd: Sequence[float],
    *,
    names: tuple[str, str] = ("the first instrument", "the second"),
    element: str = "",
    confidence: float = 0.90,
) -> Comparison:
    """Paired comparison of one element on the same samples [ppm]. Pairing matters: samples differ far more than
    instruments.

    Raises ValueError for fewer than two pairs or where a standard deviation is not above zero."""
    a, b = np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    n = a.size
    if n < 2 or b.size != n or not (np.isfinite(a).all() and np.isfinite(b).all()):
        raise ValueError("a comparison needs at least two finite pairs")
    _weights(first_sd, n), _weights(second_sd, n)
    factor = float(student.ppf((1.0 + confidence) / 2.0, n - 1))
    bias, half = _mean_and_half(b - a, factor)
    ratio = low = high = None
    if (a > 0.0).all() and (b > 0.0).all():
        middle, spread = _mean_and_half(np.log(b / a), factor)
        ratio, low, high = exp(middle), exp(middle - spread), exp(middle + spread)
    line = None
    if n >= 3 and float(np.ptp(a)) > 0.0:
        try:
            line = line_both_errors(first, second, first_sd, second_sd)
        except ValueError:
            line = None
    text = _words(names, element, n, bias, half, ratio, low, high, confidence)
    return Comparison(n, bias, bias - half, bias + half, ratio, low, high, line, confidence, text)


def _mean_and_half(differences: NDArray[np.float64], factor: float) -> tuple[float, float]:
    return float(differences.mean()), factor * float(differences.std(ddof=1)) / sqrt(differences.size)


def _words(
    names: tuple[str, str],
    element: str,
    n: int,
    bias: float,
    half: float,
    ratio: float | None,
    low: float | None,
    high: float | None,
    confidence: float,
) -> str:
    what = f"{element}: " if element else ""
    interval = f"{bias - half:+.2g} to {bias + half:+.2g} ppm at {confidence:.0%}, {n} samples"
    if bias - half <= 0.0 <= bias + half:
        return f"{what}no difference seen between {names[0]} and {names[1]} ({interval})."
    more = "higher" if bias > 0 else "lower"
    share = ""
    if ratio is not None and low is not None and high is not None and abs(log(ratio)) > 0.01:
        share = f", {abs(ratio - 1):.0%} of the reading"
    reads = f"{names[1]} reads {more} than {names[0]} by {abs(bias):.2g} ppm{share} ({interval})"
    return f"{what}{reads}. Do not join the two into one trend."
