"""What really happened in a made-up fleet: kept apart from the records that a judge sees."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

import numpy as np

from benchapp.records import Fleet

from .alloys import ELEMENTS


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of one build. Hours are build hours [h]."""

    engine: str
    build: str
    family: str
    """The kind of engine ('v8 flat tappet', …), not the name in the records."""
    kind: str
    parts: frozenset[str]
    """Names of the parts that really lose the metal; empty for a fault from outside the metal."""
    outside: str
    """'dust', 'coolant' or empty."""
    onset_h: float
    failure_h: float
    doubling_h: float
    shape: str
    ended_by: str
    """How failure is defined: 'metal' lost, 'growth' multiple or 'step' time."""


@dataclass(frozen=True, slots=True)
class Visible:
    """What there is to see of a fault in one bottle. Arrays over `alloys.ELEMENTS` [ppm]."""

    fault: np.ndarray
    """Metal of the fault, zero where nobody measured."""
    hidden_by: np.ndarray
    """Reading noise and the scatter of sound wear, infinite where nobody measured."""

    @property
    def square(self) -> float:
        """The one over the other, squared and summed over the elements. [sd²]"""
        return float(((self.fault / self.hidden_by) ** 2).sum())


@dataclass(frozen=True, slots=True)
class SampleTruth:
    """The truth behind one sample."""

    engine: str
    build: str
    family: str
    build_h: float
    healthy: bool
    """Before any onset on this build, and the bottle really holds this engine's oil or a harmless one."""
    confounders: frozenset[str]
    severity: float
    seen_sd: float = 0.0
    """Metal of the fault in the bottles so far over reading noise and the scatter of sound wear, over all elements and
    fills (root of the sum of squares): what someone could see who knows what is normal for this engine. [sd]"""
    visible: Visible | None = field(default=None, compare=False)
    """None where the bottle is not of this engine alone."""
    fill: str = ""


@dataclass(frozen=True, slots=True)
class Truth:
    generator: str
    seed: int
    faults: tuple[Fault, ...]
    samples: Mapping[str, SampleTruth]
    families: Mapping[str, str] = field(default_factory=dict)
    """Family name in the records -> kind of engine."""


@dataclass(frozen=True, slots=True)
class World:
    """A made-up fleet and the truth about it."""

    fleet: Fleet
    truth: Truth


SOUND_SCATTER = 0.15
"""Share by which sound wear over a fill scatters from what is normal for its engine."""


def what_is_visible(
    fault_ppm: np.ndarray, sound_ppm: np.ndarray, reading_sd: np.ndarray, measured: Collection[str]
) -> Visible:
    """The metal of a fault beside what hides it: reading noise, and the scatter of the metal of sound wear. [ppm]"""
    read = np.array([element in measured for element in ELEMENTS])
    noise = np.hypot(reading_sd, SOUND_SCATTER * np.maximum(sound_ppm, 0.0))
    return Visible(np.where(read, fault_ppm, 0.0), np.where(read, noise, np.inf))
