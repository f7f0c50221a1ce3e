"""Reading noise of one element on one instrument, from what this bench itself measured: replicates and check runs.

sd(c) = sqrt(a² + (b·c)²), c in ppm. A published repeatability is only the start; it gives way as soon as there are
enough own measurements."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from scipy.optimize import nnls

from benchapp.records import CheckRun, NoiseLine, Reading

R_OVER_SD = 2.77
"""Repeatability limit over standard deviation: 1.96·√2, two results differ by more in 1 case of 20 (as ASTM D5185,
D6595)."""

ENOUGH = 8
"""Degrees of freedom from which own measurements move the published start. Own choice: below it the 90 % interval
of an sd is wider than a factor of 2 (chi-square with 8: 0.72 to 1.71 of it)."""

_START_FREEDOM = 8
"""Degrees of freedom that the published start counts for where nothing was measured (own choice, as many as are
enough). Standards are rarely run near zero, where most readings lie: 30 and 900 ppm tell nothing of a."""

_START_LEVELS = (0.0, 10.0, 100.0)
"""Levels at which it counts [ppm]."""

OWN = "own replicates and check runs"
"""How the origin of every line that own measurements gave begins."""

_FEW_LEVELS = 3.0
"""Levels closer together than this factor cannot tell a from b."""


@dataclass(frozen=True, slots=True)
class Scatter:
    """One group of repeated measurements: mean level [ppm], standard deviation [ppm] and its degrees of freedom."""

    level_ppm: float
    sd_ppm: float
    freedom: int


def repeatability_sd(pairs: Sequence[tuple[float, float]]) -> float:
    """Standard deviation from duplicates: sqrt(Σ d² / 2n) [unit of the values]. Raises ValueError for no pair."""
    if not pairs:
        raise ValueError("no duplicates")
    return sqrt(sum((x - y) ** 2 for x, y in pairs) / (2 * len(pairs)))


def scatter_of(values: Sequence[float]) -> Scatter | None:
    """Scatter of one group about its own mean, or None for fewer than two values. For two values it is d/√2."""
    if len(values) < 2:
        return None
    array = np.asarray(values, dtype=np.float64)
    return Scatter(float(array.mean()), float(array.std(ddof=1)), len(values) - 1)


def replicate_scatter(samples: Iterable[Sequence[Reading]]) -> dict[str, list[Scatter]]:
    """Element -> scatter of its replicates, one for each sample with at least two values. Readings below a limit do
    not count."""
    found: dict[str, list[Scatter]] = defaultdict(list)
    for readings in samples:
        values: dict[str, list[float]] = defaultdict(list)
        for reading in readings:
            if reading.value is not None and not reading.qualifier and reading.unit == "ppm":
                values[reading.measurand].append(reading.value)
        for element, group in values.items():
            scatter = scatter_of(group)
            if scatter is not None:
                found[element].append(scatter)
    return dict(found)


def check_scatter(runs: Iterable[CheckRun], instrument: str) -> dict[str, list[Scatter]]:
    """Element -> scatter of each standard's check runs on one instrument, about their own mean (a bias is not
    noise)."""
    groups: dict[tuple[str, str, float], list[float]] = defaultdict(list)
    for run in runs:
        if run.instrument == instrument:
            groups[(run.element, run.standard, run.expected_ppm)].append(run.found_ppm)
    found: dict[str, list[Scatter]] = defaultdict(list)
    for (element, _, _), values in groups.items():
        scatter = scatter_of(values)
        if scatter is not None:
            found[element].append(scatter)
    return dict(found)


def fit_noise(scatters: Sequence[Scatter]) -> tuple[float, float]:
    """a [ppm] and b [-] of sd² = a² + (b c)² by weighted least squares on the variances, a², b² ≥ 0.

    A variance with ν degrees of freedom has the variance 2σ⁴/ν, so the weights are ν/σ⁴ with σ from the fit, iterated.
    Raises ValueError for no scatter."""
    if not scatters:
        raise ValueError("no scatter to fit")
    level = np.array([s.level_ppm for s in scatters], dtype=np.float64)
    variance = np.array([s.sd_ppm**2 for s in scatters], dtype=np.float64)
    freedom = np.array([s.freedom for s in scatters], dtype=np.float64)
    top = max(float(np.abs(level).max()), 1.0)  # levels far below 1 ppm say nothing of b
    design = np.column_stack([np.ones_like(level), np.where(np.abs(level) < 1e-3, 0.0, level / top) ** 2])
    floor = max(1e-6, 1e-4 * float(variance.max()))
    model = np.full_like(variance, max(float(np.average(variance, weights=freedom)), floor))
    squares = np.zeros(2)
    for _ in range(50):
        weight = np.sqrt(freedom) / model
        squares, _ = nnls(design * weight[:, None], variance * weight)
        new = np.maximum(design @ squares, floor)
        if np.allclose(new, model, rtol=1e-8):
            break
        model = np.sqrt(model * new)  # half way, on a scale of ratios: whole steps may swing to and fro
    return sqrt(float(squares[0])), sqrt(float(squares[1])) / top


def noise_line(scatters: Sequence[Scatter], start: NoiseLine) -> NoiseLine:
    """The noise line of one element: own measurements where there are enough, else the published start unchanged.

    The start goes on counting as a few measurements near zero, at 10 and at 100 ppm: what own standards do not reach is
    as it was published. Where all own levels are alike a and b cannot be told apart: the start keeps its shape and is
    scaled to the own scatter."""
    freedom = sum(s.freedom for s in scatters)
    if freedom < ENOUGH:
        return start
    levels = [abs(s.level_ppm) for s in scatters]
    origin = f"{OWN}, {freedom} degrees of freedom in {len(scatters)} groups"
    if max(levels) <= _FEW_LEVELS * min(levels):
        own = sum(s.freedom * s.sd_ppm**2 / start.sd_ppm(s.level_ppm) ** 2 for s in scatters)
        scale = sqrt((own + _START_FREEDOM) / (freedom + _START_FREEDOM))
        return NoiseLine(
            start.a_ppm * scale,
            start.b * scale,
            start.limit_ppm,
            f"{origin}, all near one level: shape of {start.origin}",
        )
    published = [Scatter(level, start.sd_ppm(level), _START_FREEDOM) for level in _START_LEVELS]
    a, b = fit_noise([*scatters, *published])
    a = max(a, 0.1 * start.a_ppm)  # an instrument without any noise at zero is one that was not measured there
    return NoiseLine(a, b, max(3.0 * a, 0.0), origin)


def noise_model(
    instrument: str,
    samples: Iterable[Sequence[Reading]],
    runs: Iterable[CheckRun],
    start: Mapping[str, NoiseLine],
) -> dict[str, NoiseLine]:
    """Element -> noise line of one instrument, for every element of the start.

    `samples` are the readings of the samples measured on it, `runs` its check runs, `start` the published lines of
    its kind."""
    found: dict[str, list[Scatter]] = defaultdict(list)
    for part in (replicate_scatter(samples), check_scatter(runs, instrument)):
        for element, scatters in part.items():
            found[element] += scatters
    return {element: noise_line(found.get(element, []), line) for element, line in start.items()}


def repeatability_limit(line: NoiseLine, ppm: float) -> float:
    """r at a level: two readings of one sample differ by more in 1 case of 20 [ppm]."""
    return R_OVER_SD * line.sd_ppm(ppm)


@dataclass(frozen=True, slots=True)
class Apart:
    """Two replicates further apart than their repeatability limit."""

    measurand: str
    first_ppm: float
    second_ppm: float
    limit_ppm: float
    text: str


def duplicates_apart(readings: Sequence[Reading], noise: Mapping[str, NoiseLine]) -> tuple[Apart, ...]:
    """The measurands of one sample whose replicates spread more than r: the two outermost are
    compared, with the limit for their number."""
    values: dict[str, list[float]] = defaultdict(list)
    for reading in readings:
        if reading.value is not None and not reading.qualifier and reading.measurand in noise:
            values[reading.measurand].append(reading.value)
    found = []
    for measurand, group in values.items():
        if len(group) < 2:
            continue
        low, high = min(group), max(group)
        limit = range_factor(len(group)) * noise[measurand].sd_ppm((low + high) / 2.0)
        if high - low > limit:
            text = (
                f"{measurand}: {display(low)} and {display(high)} ppm are further apart than {len(group)} burns of one sample "  # noqa: E501
                f"should be ({display(limit)} ppm). Shake the bottle, repeat."
            )
            found.append(Apart(measurand, low, high, limit, text))
    return tuple(found)


_RANGE_95 = {2: 2.77, 3: 3.31, 4: 3.63, 5: 3.86, 6: 4.03, 7: 4.17, 8: 4.29, 9: 4.39, 10: 4.47}
"""95 % point of the range of n normal values over their sd (studentized range, infinite degrees of freedom; checked
against scipy in the tests)."""


def range_factor(n: int) -> float:
    """How many standard deviations n replicates may spread, in 19 cases of 20. Raises ValueError for n < 2."""
    if n < 2:
        raise ValueError("a spread needs two values")
    return _RANGE_95[min(n, 10)]


def display(ppm: float) -> str:
    """A reading as it is shown, one decimal below 10 and whole above (reporting rule of ASTM D6595, section 14.1).

    For display only: nothing is ever computed from a rounded value."""
    return f"{round(ppm, 1) + 0.0:.1f}" if abs(ppm) < 9.95 else f"{ppm:.0f}"  # + 0.0: never "-0.0"
