"""The records that following a build hands out: what is known at a sample, and what is thought of on the way to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.records import Sample
from benchapp.wear.evidence import Evidence, Weights
from benchapp.wear.expected import RatePrior
from benchapp.wear.noise import Observed
from benchapp.wear.other_oil import Poured
from benchapp.wear.sources import Sources
from benchapp.wear.surprise import Known, Surprise

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Interval:
    """The interval that ends with a sample, balance and all."""

    hours: float
    mass_kg: float
    shed_mg: Array
    """Metal shed in it [mg per element]."""
    shed_sd_mg: Array
    expected_mg: Array
    """What a sound engine would have shed [mg per element]."""
    expected_sd_mg: Array
    carry_over: float | None
    run_in: bool
    leaded: bool


@dataclass(frozen=True, slots=True)
class Look:
    """Everything known at one sample: the state of knowledge that a call is made of."""

    sample: Sample
    sources: Sources
    observed: Mapping[str, Observed]
    surprise: Surprise
    off: Array
    """Per element 1 where it reads clearly more than was expected, -1 less, 0 neither."""
    interval: Interval
    evidence: Evidence
    normal: Array
    """Normal rate per source [mg/h]."""
    rate: Array
    """Normal rate per element [mg/h]."""
    rate_sd: Array
    prior: RatePrior
    history: int
    """Healthy intervals of this build before this sample."""
    ceiling: Mapping[str, Observed]
    """What break-in reached, as it would read in the oil that is in now."""
    ceiling_own: bool
    other_oil: str
    """The oil that the additives point to ('another oil' where none fits), or empty."""
    unknowns: tuple[str, ...]
    hidden: NDArray[np.bool_]
    """Elements that the oil itself holds so much of that wear does not show in them, as a mask."""
    bottle: bool = False
    """Whether this sample seems not to be of this engine's oil and has taught nothing."""
    fault_before: bool = False
    """Whether a fault was already likelier than not before this sample."""
    refuted: bool = False
    """Whether this sample shows that the one before it was not of this engine, or one of its readings a slip."""
    dregs: bool = False
    """Whether the bottle seems to be from where metal settles."""
    wild: str = ""
    """The element whose reading is not believed until it is measured again, or empty."""
    suspected: int = 0
    """Samples in a row, up to this one, in which a fault was likelier than not."""
    fuel_unsaid: bool = False
    """Whether nobody has written down for this build what fuel it burns, on a bench that does so for others."""
    lead_unsaid: bool = False
    """Whether lead is taken for fuel's though no fuel is on record."""

    @property
    def metal_unsure(self) -> bool:
        """Whether a reading of metal is not believed, or the whole bottle. One of an additive says nothing of wear: it
        is told, no more."""
        if self.dregs:
            return True
        return bool(self.wild) and not self.hidden[self.sources.elements.index(self.wild)]


@dataclass(frozen=True, slots=True)
class Walked:
    """What was walked from one sample to the next."""

    hours: float
    expected_mg: Array
    variance_mg2: Array
    carry_over: float | None
    run_in: bool
    leaded: bool
    worn: tuple[str, ...] = ()
    """Parts that were found worn out or damaged on the way."""
    closed: bool = False
    """Whether nothing was drained or filled up on the way."""


@dataclass(frozen=True, slots=True)
class Appraisal:
    """A sample held against one state of knowledge, before it is taken."""

    sample: Sample
    observed: Mapping[str, Observed]
    reading: Array
    variance: Array
    judged: Array
    """The readings that count: without the additives where they are of another oil."""
    odd: bool
    gain: Array
    surprise: Surprise
    tasted: Known
    """What every hypothesis would be worth if the sample were taken."""
    weights: Weights
    log_density: float
    """Log density of the sample under all hypotheses of the state together."""
    foreign: NDArray[np.bool_]
    """Elements that another oil would move, as a mask."""
    other: Poured | None
    """The other oil of the bench file that explains the sample, where one does."""
    wild: int | None = None
    """The element whose reading is not believed: alone, far off, and explained by nothing."""
    dregs: bool = False
    """Whether it seems to be from the bottom of the sump or from the filter: all metals are up together."""
    slip: tuple[int, float] | None = None
    """The element whose reading is likeliest a slip, though it is believed, and the log density of the sample if so."""


@dataclass(frozen=True, slots=True)
class Drained:
    """What went before the last drain [ppm], what came, and what share the kind of drain is thought to leave."""

    old: Array
    fresh: Array
    fresh_sd: Array
    share: float
    error: float


@dataclass(frozen=True, slots=True)
class Before:
    """What was known of the sump before a sample was taken."""

    covariance: Array
    """Of the concentrations [ppm²]."""
    units: Array
    """What the two spreads had added to it since the sample before, per unit of squared spread."""
    unworn: Array
    """What the sump would hold, had nothing been shed since then [ppm]."""
    fault: float
    """Probability of a fault [-]."""


def interval_of(walked: Walked, seen: Appraisal, before: Before, mass_kg: float, left: float | None) -> Interval:
    """The interval as a sample has it. `left`: share of old oil that the last drain left [-], where there was one."""
    shed = np.where(np.isfinite(seen.reading), seen.reading - before.unworn, np.nan) * mass_kg
    return Interval(
        walked.hours,
        mass_kg,
        shed,
        np.sqrt(np.maximum(seen.surprise.covariance.diagonal(), 0.0)) * mass_kg,
        walked.expected_mg,
        np.sqrt(np.maximum(walked.variance_mg2, 0.0)),
        left,
        walked.run_in,
        walked.leaded,
    )
