"""The running-in curve and the ceiling of a build.

Rate w(t) = w∞ + (w0 − w∞) e^(−t/τ); lost so far W(t) = w∞ t + (w0 − w∞) τ (1 − e^(−t/τ)). Where amounts are measured
against cycles over decades, a straight line in log-log describes running-in wear better (the `metalwear` data of Meeker
and Escobar 1998 are such a case), so both are offered.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import nnls

from benchapp.records import NoiseLine, Sample

Array = npt.NDArray[np.float64]


def rate(*, hours: Array, first: float, settled: float, tau_h: float) -> Array:
    """Wear rate at `hours` [h], in the unit of `first` and `settled` (per hour)."""
    return settled + (first - settled) * np.exp(-np.asarray(hours, dtype=float) / tau_h)


def lost(*, hours: Array, first: float, settled: float, tau_h: float) -> Array:
    """Metal lost from 0 to `hours` [h]: the integral of `rate`."""
    time = np.asarray(hours, dtype=float)
    return settled * time + (first - settled) * tau_h * (1 - np.exp(-time / tau_h))


@dataclass(frozen=True, slots=True)
class RunIn:
    """First and settled rate [mg/h], time constant [h], and the residual sd [mg]."""

    first: float
    settled: float
    tau_h: float
    residual: float


def fit(*, hours: Array, lost_mg: Array) -> RunIn | None:
    """Fits the running-in curve to metal lost so far [mg] at `hours` [h]; None with fewer than three points.

    For each τ of a grid the two rates follow by least squares with both held at or above zero, first above settled.
    """
    time, mass = np.asarray(hours, dtype=float), np.asarray(lost_mg, dtype=float)
    if len(time) < 3 or float(time.max()) <= 0:
        return None
    best: RunIn | None = None
    for tau in np.geomspace(float(time.max()) / 40, 2 * float(time.max()), 80):
        grown = tau * (1 - np.exp(-time / tau))
        # columns: settled rate, excess of the first rate over it; both ≥ 0 keeps the curve falling
        (settled, excess), rest = nnls(np.column_stack([time, grown]), mass)
        sd = float(rest / np.sqrt(max(len(time) - 3, 1)))
        if best is None or sd < best.residual:
            best = RunIn(float(settled + excess), float(settled), float(tau), sd)
    return best


@dataclass(frozen=True, slots=True)
class PowerLaw:
    """ln W = intercept + slope ln t with residual sd (all natural logarithms)."""

    slope: float
    intercept: float
    sigma: float


def power_law(*, amount: Array, cycles: Array) -> PowerLaw:
    """Straight line in log-log by least squares; `sigma` divides by n − 2."""
    x, y = np.log(np.asarray(cycles, dtype=float)), np.log(np.asarray(amount, dtype=float))
    slope, intercept = np.polyfit(x, y, 1)
    rest = y - intercept - slope * x
    return PowerLaw(float(slope), float(intercept), float(np.sqrt((rest**2).sum() / (len(x) - 2))))


HARMLESS_FIRST = {
    "Cu": "a new copper oil cooler or bush can shed copper without harm until about the third drain",
    "K": "flux of a new brazed cooler brings potassium without harm until about the third drain",
    "Si": "fresh sealant and assembly paste bring silicon that dies away over two or three drains",
    "Mo": "assembly paste brings molybdenum into the first fill",
    "Zn": "assembly paste brings zinc into the first fill",
    "P": "assembly paste brings phosphorus into the first fill",
}
"""Copper to 500, potassium to 300 and aluminium to 150 ppm at a first drain "with no adverse effects" is published for
heavy diesels (dtnatechlit.com, Oil Analysis During Engine Break-In Period); the sealant and paste lines are common
practice, no source."""


@dataclass(frozen=True, slots=True)
class Ceiling:
    """What the break-in of this build reached [ppm], its sd [ppm], the sample it is from, and whether to believe it."""

    element: str
    ppm: float
    sd_ppm: float
    sample: str
    believed: bool
    why_not: str = ""


def ceilings(
    samples: Sequence[Sample], noise: Mapping[str, NoiseLine], *, wear_elements: Sequence[str]
) -> tuple[Ceiling, ...]:
    """Highest break-in reading per element with its noise; elements with known harmless first sources are marked."""
    found: dict[str, Ceiling] = {}
    for sample in samples:
        if not sample.break_in:
            continue
        for reading in sample.readings:
            element, value = reading.measurand, reading.value
            if value is None or reading.qualifier == "<" or reading.unit != "ppm":
                continue
            if element in found and found[element].ppm >= value:
                continue
            line = noise.get(element)
            sd = line.sd_ppm(value) if line else 0.1 * value
            why = HARMLESS_FIRST.get(element, "")
            believed = not why and element in wear_elements
            found[element] = Ceiling(element, value, sd, sample.code, believed, why)
    return tuple(found[element] for element in sorted(found))
