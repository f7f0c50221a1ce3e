"""Control charts of check standards: individuals with moving range, EWMA and CUSUM, and the rules that fire, in words.

Formulas as in the NIST/SEMATECH e-Handbook, sections 6.3.2.2 to 6.3.2.4. Values are in the unit they come in (ppm
found, or recovery in %); limits come out in the same unit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from benchapp.records import NoiseLine

Values = NDArray[np.float64]

D2_OF_TWO = 1.128
"""Mean range of two normal values over their sd, to the three decimals that the handbook uses."""
D4_OF_TWO = 3.267
"""Upper limit of the moving range over its mean."""


@dataclass(frozen=True, slots=True)
class Fired:
    """One rule that fired: at which point (index from 0), in words a bench user can act on."""

    rule: str
    """'outside', 'two of three', 'four of five', 'eight in a row', 'moving range', 'ewma', 'cusum' or 'method'."""
    index: int
    text: str


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart ready to be drawn: `points` against `lower`, `centre`, `upper`, one each per point, and what fired.

    `statistic` is what is plotted: the value itself, the moving range (first point NaN), the EWMA or a one-sided
    CUSUM."""

    kind: str
    """'individuals', 'moving range', 'ewma', 'cusum high' or 'cusum low'."""
    statistic: tuple[float, ...]
    centre: float
    lower: float
    upper: float
    sigma: float
    fired: tuple[Fired, ...]

    @property
    def in_control(self) -> bool:
        return not self.fired


def _checked(values: Sequence[float], at_least: int = 1) -> Values:
    array = np.asarray(values, dtype=np.float64)
    if array.ndim != 1 or array.size < at_least or not np.isfinite(array).all():
        raise ValueError(f"a chart needs at least {at_least} finite values")
    return array


def moving_range_sigma(values: Sequence[float]) -> float:
    """Short-term standard deviation, mean moving range / 1.128 [unit of the values].

    Raises ValueError for fewer than two values. Source: NIST/SEMATECH e-Handbook 6.3.2.2."""
    array = _checked(values, 2)
    return float(np.abs(np.diff(array)).mean() / D2_OF_TWO)


def individuals(values: Sequence[float], centre: float | None = None, sigma: float | None = None) -> Chart:
    """Individuals chart: centre ± 3 sigma. Without `centre` and `sigma` both come from the values themselves.

    Runs rules (two of three beyond 2 sigma, four of five beyond 1 sigma, eight on one side; Champ and Woodall,
    Technometrics 29 (1987) 393) are looked for, too. Raises ValueError for fewer than two values where sigma is not
    given."""
    array = _checked(values)
    middle = float(array.mean()) if centre is None else centre
    spread = moving_range_sigma(values) if sigma is None else sigma
    lower, upper = middle - 3.0 * spread, middle + 3.0 * spread
    return Chart(
        "individuals", tuple(map(float, array)), middle, lower, upper, spread, _run_rules(array, middle, spread)
    )


def moving_range(values: Sequence[float]) -> Chart:
    """Moving-range chart of the same values: upper limit 3.267 × mean range. Source: e-Handbook 6.3.2.2."""
    array = _checked(values, 2)
    ranges = np.abs(np.diff(array))
    mean = float(ranges.mean())
    upper = D4_OF_TWO * mean
    fired = tuple(
        Fired("moving range", int(i) + 1, "a jump between two check runs larger than their usual scatter")
        for i in np.flatnonzero(ranges > upper)
    )
    return Chart("moving range", (float("nan"), *map(float, ranges)), mean, 0.0, upper, mean / D2_OF_TWO, fired)


def ewma(values: Sequence[float], target: float, sigma: float, weight: float = 0.3, width: float = 3.0) -> Chart:
    """Exponentially weighted moving average started at the target, with limits target ± width·sigma·sqrt(λ/(2 − λ)).

    `weight` is λ in (0, 1]. Sees a slow drift sooner than single points do. With 0.3 and 3 a sound instrument gives a
    false signal about every 465 runs (see `run_length`, which also finds a width for another run length). Source:
    e-Handbook 6.3.2.4."""
    array = _checked(values)
    if not 0.0 < weight <= 1.0:
        raise ValueError("the weight must lie in (0, 1]")
    out, last = [], target
    for value in array:
        last = weight * float(value) + (1.0 - weight) * last
        out.append(last)
    half = width * sigma * sqrt(weight / (2.0 - weight))
    fired = tuple(
        Fired(
            "ewma",
            i,
            f"the weighted average of the check runs has drifted {'above' if z > target else 'below'} its limit",
        )
        for i, z in enumerate(out)
        if abs(z - target) > half
    )
    return Chart("ewma", tuple(out), target, target - half, target + half, sigma, fired)


def cusum(
    values: Sequence[float], target: float, sigma: float, reference: float = 0.5, decision: float = 5.0
) -> tuple[Chart, Chart]:
    """Tabular CUSUM, high and low side: S = max(0, S + (x − target) − k), in the unit of the values, k =
    reference·sigma,
    signal above h = decision·sigma.

    With 0.5 and 5 a sound instrument gives a false signal about every 465 runs (two-sided, see `run_length`, which
    also finds a decision interval for another run length). The text names the run after which the sum left zero: there
    the shift began. Source: e-Handbook 6.3.2.3."""
    array = _checked(values)
    k, h = reference * sigma, decision * sigma
    high, low = _one_side(array - target, k), _one_side(target - array, k)
    return (
        Chart("cusum high", high, 0.0, 0.0, h, sigma, _cusum_fired(high, h, "high")),
        Chart("cusum low", low, 0.0, 0.0, h, sigma, _cusum_fired(low, h, "low")),
    )


def _one_side(deviations: Values, k: float) -> tuple[float, ...]:
    total, out = 0.0, []
    for deviation in deviations:
        total = max(0.0, total + float(deviation) - k)
        out.append(total)
    return tuple(out)


def _cusum_fired(sums: Sequence[float], h: float, side: str) -> tuple[Fired, ...]:
    fired = []
    for i, value in enumerate(sums):
        if value > h:
            began = max((j for j in range(i) if sums[j] == 0.0), default=-1) + 1
            fired.append(Fired("cusum", i, f"the check runs read {side} since run {began + 1}: a lasting shift"))
    return tuple(fired)


def _run_rules(array: Values, middle: float, sigma: float) -> tuple[Fired, ...]:
    if sigma <= 0.0:
        return tuple(
            Fired("outside", int(i), "this check run differs though the others show no scatter")
            for i in np.flatnonzero(array != middle)
        )
    z = (array - middle) / sigma
    fired = []
    for i in range(z.size):
        side = "above" if z[i] > 0 else "below"
        sign = 1.0 if z[i] > 0 else -1.0
        near = sign * z
        if abs(z[i]) > 3.0:
            fired.append(Fired("outside", i, f"this check run is {side} its limit of three standard deviations"))
        if i >= 2 and near[i] > 2.0 and int((near[i - 2 : i + 1] > 2.0).sum()) >= 2:
            fired.append(Fired("two of three", i, f"two of the last three check runs are far {side} the centre"))
        if i >= 4 and near[i] > 1.0 and int((near[i - 4 : i + 1] > 1.0).sum()) >= 4:
            fired.append(Fired("four of five", i, f"four of the last five check runs are {side} the centre"))
        if i >= 7 and bool((near[i - 7 : i + 1] > 0.0).all()):
            fired.append(Fired("eight in a row", i, f"eight check runs in a row are {side} the centre"))
    return tuple(fired)


BY_CHANCE_SD = 3.0
"""Standard deviations of a single reading that chance alone is allowed. Of twenty elements read once, all within it, a
good instrument shows one outside in one check run of nineteen (two-sided normal, 1 - 0.9973^20); by ±10 % and 1 ppm
alone, about one to two standard deviations at 5 and 50 ppm, nearly every one."""


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a check run may lie from its expected value: `percent` of it [%], at least `floor_ppm` [ppm], and never
    less than chance alone moves a single reading by.

    `noise`: element -> reading noise that is *published* for the kind of instrument. An instrument's own learned noise
    would excuse a noisy instrument. An element without a line is judged by the method alone."""

    percent: float
    floor_ppm: float
    origin: str
    noise: Mapping[str, NoiseLine] = field(default_factory=dict, repr=False)

    def method_ppm(self, expected_ppm: float) -> float:
        """What the method allows either way [ppm]."""
        return max(abs(expected_ppm) * self.percent / 100.0, self.floor_ppm)

    def width_ppm(self, expected_ppm: float, element: str = "") -> float:
        """Allowed distance of a reading of an element either way [ppm]."""
        line = self.noise.get(element)
        chance = BY_CHANCE_SD * line.sd_ppm(expected_ppm) if line else 0.0
        return max(self.method_ppm(expected_ppm), chance)

    def passes(self, expected_ppm: float, found_ppm: float, element: str = "") -> bool:
        return abs(found_ppm - expected_ppm) <= self.width_ppm(expected_ppm, element) * (1.0 + 1e-12)


METHOD_TOLERANCE = {
    "rotating-disc": Tolerance(10.0, 1.0, "±10 % per element: check sample of ASTM D6595; floor of 1 ppm: own default"),
    "icp": Tolerance(
        5.0,
        1.0,
        "±5 %: check standard of ASTM D5185. The standard's own work item WK63902 reports a wider real spread for Cu, Pb, "  # noqa: E501
        "P, K, Mg and Mo, so failures of these may be the limit's and not the instrument's. Floor of 1 ppm: own default",  # noqa: E501
    ),
    "xrf": Tolerance(10.0, 2.0, "±10 % or 2 ppm: own default, common practice, no source"),
}
OTHER_TOLERANCE = Tolerance(10.0, 1.0, "±10 % or 1 ppm: own default, common practice, no source")


_CHANCE = (
    "never less than three standard deviations of one reading by the noise published for the kind of instrument: what "
    "is nearer may be chance"
)


def tolerance_for(kind: str, noise: Mapping[str, NoiseLine] | None = None) -> Tolerance:
    """The method's tolerance for a kind of instrument ('rotating-disc', 'icp', 'xrf', 'lab' or '').

    `noise`: the noise lines published for that kind; with them a check fails only where it is further out than chance
    as well."""
    method = METHOD_TOLERANCE.get(kind, OTHER_TOLERANCE)
    return method if not noise else replace(method, noise=noise, origin=f"{method.origin}; {_CHANCE}")


def method_limits(expected: float, found: Sequence[float], tolerance: Tolerance, element: str = "") -> Chart:
    """The check runs of one element of one standard against the method's own tolerance [ppm]."""
    array = _checked(found)
    half = tolerance.width_ppm(expected, element)
    wider = half > tolerance.method_ppm(expected)
    why = f" (three standard deviations of one reading; the method's own {tolerance.method_ppm(expected):.2g})" * wider
    fired = tuple(
        Fired("method", i, f"{value:.3g} ppm found where {expected:.3g} ± {half:.2g} ppm is allowed{why}")
        for i, value in enumerate(map(float, array))
        if not tolerance.passes(expected, value, element)
    )
    return Chart("individuals", tuple(map(float, array)), expected, expected - half, expected + half, half / 3.0, fired)
