"""Made-up bench instruments: what they measure, how they scatter, drift, round and cut off."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import numpy as np

from benchapp.records import CheckRun, Instrument, NoiseLine, Reading

from .alloys import ELEMENTS, INDEX

FULL = (
    "Fe",
    "Cr",
    "Ni",
    "Mo",
    "Mn",
    "V",
    "Ti",
    "Al",
    "Si",
    "Cu",
    "Pb",
    "Sn",
    "Ag",
    "Zn",
    "P",
    "Ca",
    "Mg",
    "B",
    "Na",
    "K",
)
MIDDLE = ("Fe", "Cr", "Ni", "Mo", "Al", "Si", "Cu", "Pb", "Sn", "Zn", "P", "Ca", "Mg", "B", "Na", "K")
SHORT = ("Fe", "Cr", "Ni", "Al", "Si", "Cu", "Pb", "Sn", "Na", "Zn", "Ca", "P")
XRF = ("Fe", "Cr", "Ni", "Mo", "Mn", "Ti", "Al", "Si", "Cu", "Pb", "Sn", "Zn", "P", "Ca", "K")
XRF_LIGHT = {"Al": 25.0, "Si": 8.0, "P": 3.0, "K": 2.0}
"""X-rays of light elements hardly leave the oil: boron, sodium and magnesium are out of reach, these read roughly."""
LARGE = {"Zn", "P", "Ca", "Mg"}
"""Additives: read in hundreds of ppm, where the absolute part of the noise is larger."""


@dataclass(frozen=True)
class Drift:
    """Gains that are off between two moments, element by element."""

    start: dt.datetime
    end: dt.datetime
    gain: np.ndarray

    def active(self, moment: dt.datetime) -> bool:
        return self.start <= moment < self.end


@dataclass(frozen=True)
class Spectrometer:
    """sd(c) = sqrt(a² + (b c)²), c, a and limits in ppm; `gain` is its own lasting bias per element."""

    name: str
    kind: str
    elements: tuple[str, ...]
    a_ppm: np.ndarray
    b: np.ndarray
    gain: np.ndarray
    limit_ppm: np.ndarray
    step_ppm: float
    """Smallest step it reports below 10 ppm; whole numbers above 100 ppm. [ppm]"""
    bare_limit: bool
    """True: a result below the limit comes as a bare "not detected"."""
    missing: float
    """Share of cells that stay empty."""
    drifts: tuple[Drift, ...] = field(default=())

    def gain_at(self, moment: dt.datetime) -> np.ndarray:
        gain = self.gain
        for drift in self.drifts:
            if drift.active(moment):
                gain = gain * drift.gain
        return gain

    def sd(self, ppm: np.ndarray) -> np.ndarray:
        """Reading noise with the rounding in it. [ppm]"""
        return np.sqrt(self.a_ppm**2 + (self.b * ppm) ** 2 + self.step_ppm**2 / 12.0)

    def read(self, true_ppm: np.ndarray, moment: dt.datetime, rng: np.random.Generator) -> tuple[Reading, ...]:
        """The results of one sample in the order of the instrument's elements."""
        seen = true_ppm * self.gain_at(moment)
        seen = seen + rng.normal(size=seen.size) * np.sqrt(self.a_ppm**2 + (self.b * seen) ** 2)
        drop = rng.random(seen.size) < self.missing
        return tuple(
            self._reading(element, seen[INDEX[element]]) for element in self.elements if not drop[INDEX[element]]
        )

    def _reading(self, element: str, ppm: float) -> Reading:
        limit = float(self.limit_ppm[INDEX[element]])
        if ppm < limit:
            return Reading(element, None if self.bare_limit else limit, qualifier="<")
        step = 1.0 if ppm >= 100.0 else self.step_ppm
        return Reading(element, round(round(ppm / step) * step, 3))

    def record(self, with_noise: bool, rng: np.random.Generator) -> Instrument:
        """As the bench file knows it; stated noise is an estimate, a fifth off or so."""
        noise = {}
        if with_noise:
            for element in self.elements:
                place = INDEX[element]
                off = float(np.exp(rng.normal(0.0, 0.2)))
                noise[element] = NoiseLine(
                    a_ppm=float(self.a_ppm[place]) * off,
                    b=float(self.b[place]) * off,
                    limit_ppm=float(self.limit_ppm[place]),
                    origin="own duplicates",
                )
        return Instrument(name=self.name, kind=self.kind, noise=noise)

    def checks(self, moments: list[dt.datetime], rng: np.random.Generator) -> list[CheckRun]:
        """Check standards of 50 ppm, one element a line, read at the moments given."""
        runs = []
        wear = [element for element in self.elements if element not in LARGE]
        for moment in moments:
            readings = self.read(np.full(len(ELEMENTS), 50.0), moment, rng)
            found = {reading.measurand: reading.value for reading in readings if reading.value is not None}
            runs += [CheckRun(self.name, moment, "STD-50", el, 50.0, found[el]) for el in wear if el in found]
        return runs


KINDS = {
    # kind -> (a low, a high, b low, b high, steps, limits as a multiple of a)
    "rotating-disc": (0.15, 0.45, 0.025, 0.06, (0.1,), 0.6),
    "icp": (0.03, 0.15, 0.01, 0.03, (0.01, 0.1), 1.0),
    "xrf": (0.4, 1.0, 0.02, 0.05, (0.1, 1.0), 2.0),
    "lab": (0.15, 0.5, 0.015, 0.05, (1.0,), 2.0),
}


def spectrometer(
    name: str, kind: str, elements: tuple[str, ...], rng: np.random.Generator, gain_sd: float = 0.04
) -> Spectrometer:
    """One instrument with its own noise, gains and habits, drawn from its kind."""
    a_low, a_high, b_low, b_high, steps, limit = KINDS[kind]
    size = len(ELEMENTS)
    a = rng.uniform(a_low, a_high) * np.exp(rng.normal(0.0, 0.35, size))
    for element, factor in (("Pb", 1.6), ("Sn", 1.8), ("K", 1.5), ("Na", 1.4)):
        a[INDEX[element]] *= factor
    for element in LARGE:
        a[INDEX[element]] *= 8.0
    if kind == "xrf":
        elements = XRF
        for element, factor in XRF_LIGHT.items():
            a[INDEX[element]] *= factor
    step = float(rng.choice(steps))
    limits = np.maximum(limit * a, step if step >= 1.0 else 0.0) if rng.random() < 0.75 else np.full(size, step / 2)
    return Spectrometer(
        name=name,
        kind=kind,
        elements=elements,
        a_ppm=a,
        b=rng.uniform(b_low, b_high) * np.exp(rng.normal(0.0, 0.2, size)),
        gain=np.exp(rng.normal(0.0, gain_sd, size)),
        limit_ppm=np.maximum(np.round(limits, 1), 0.1 if step < 1 else 1.0),
        step_ppm=step,
        bare_limit=bool(rng.random() < 0.4),
        missing=float(rng.choice((0.0, 0.002, 0.02))),
    )
