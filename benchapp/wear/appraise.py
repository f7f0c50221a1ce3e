"""A sample held against where a build stands: how far it is from the expected, and what every hypothesis would be worth
by it. Nothing is learned here; a sample may be held against two states, or twice against one in another light."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.records import Sample
from benchapp.wear.elements import Followed
from benchapp.wear.evidence import Weights, weigh
from benchapp.wear.look import Appraisal
from benchapp.wear.noise import Observed
from benchapp.wear.oil_book import OilBook
from benchapp.wear.other_oil import Sampled
from benchapp.wear.readings import over_elements
from benchapp.wear.rules import Rules
from benchapp.wear.sources import Sources
from benchapp.wear.surprise import Known, Surprise
from benchapp.wear.walk import Standing

Array = NDArray[np.float64]

_OF_FAULTS = 3.0
"""Log density that faults nobody has seen yet may explain at most in a bottle whose additives are odd (chosen)."""


@dataclass(frozen=True, slots=True)
class Appraiser:
    """Holds samples against one state of knowledge."""

    now: Standing
    followed: Followed
    sources: Sources
    rivals: Array
    """What may bring an oil's elements and is no oil: elements × dusts and coolants."""
    normal: Array
    """Normal rate per source [mg/h]."""
    shares: Array
    """How often each source is at fault [-]."""
    dusty: float
    """How often dust comes once on this bench and harms nothing [1/h]."""
    book: OilBook
    rules: Rules

    def appraise(
        self, sample: Sample, observed: Mapping[str, Observed], factors: Array, *, instrument_changed: bool
    ) -> Appraisal:
        """Holds a sample against the watch as it is; only what is not known of instrument and oil is added to it.

        `factors`: real reading variance over the method's, per element [-]."""
        watch, oil, book, number = self.now.watch, self.now.oil, self.book, self.rules.number
        if instrument_changed:
            watch.blur((number("nuisance", "instrument_gain") * np.maximum(watch.c, 0.0)) ** 2)
        watch.blur(np.where(oil.additive, (number("fresh", "additive_spent") * watch.c) ** 2, 0.0))
        drift = number("nuisance", "instrument_drift")
        reading, variance = over_elements(observed, self.followed.names, factors, watch, drift)
        sampled = self._sampled(reading, variance)
        other = oil.another(sampled, book)
        odd = other is not None or oil.strange(sampled, watch.cc, book)
        oil.show(reading, variance, watch, book)
        foreign = oil.additive if other is None else oil.additive | other.moved
        judged = reading
        if odd:  # what the other oil brings beside its additives is not the engine's, in the bottle or in the sump
            brought = oil.beside(other, reading, watch.c, book)
            judged = np.where(foreign, np.nan, reading - brought)
            variance = variance + (number("bottle", "oil_share") * brought) ** 2
        gain = number("nuisance", "sample_gain") * np.maximum(watch.c, 0.0)
        surprise, tasted, weights = self._held(judged, variance, gain)
        gained = weights.log_total - self.now.log_total
        # where the additives already tell of another oil, a fault that nobody has seen yet is no explanation
        density = surprise.log_density + (min(gained, _OF_FAULTS) if odd else gained)
        return Appraisal(
            sample, observed, reading, variance, judged, odd, gain, surprise, tasted, weights, density, foreign, other
        )

    def again(self, seen: Appraisal) -> Appraisal:
        """A sample of which another part is judged, or in another light, held against the watch once more."""
        surprise, tasted, weights = self._held(seen.judged, seen.variance, seen.gain)
        density = surprise.log_density + weights.log_total - self.now.log_total
        return replace(seen, surprise=surprise, tasted=tasted, weights=weights, log_density=density)

    def without(self, element: int, seen: Appraisal) -> Appraisal:
        """A sample without its reading of one element (its place among those followed)."""
        judged = seen.judged.copy()
        judged[element] = np.nan
        return self.again(replace(seen, judged=judged))

    def weigh(self, tasted: Known | None = None) -> Weights:
        """What every hypothesis weighs by the samples taken, or by what was `tasted`."""
        return weigh(self.now.watch, self.normal, self.shares, self.now.mass, self.rules, tasted, self.dusty)

    def _held(self, judged: Array, variance: Array, gain: Array) -> tuple[Surprise, Known, Weights]:
        watch = self.now.watch
        surprise = watch.expect(judged, variance, gain)
        tasted = watch.foretaste(surprise, self.now.oil.additive)
        return surprise, tasted, self.weigh(tasted)

    def _sampled(self, reading: Array, variance: Array) -> Sampled:
        watch, oil = self.now.watch, self.now.oil
        sure = np.sqrt(watch.cc.diagonal()) < 0.3 * np.abs(watch.c) + 5.0
        told = np.logical_and(self.followed.tells, sure)
        changed = oil.drains > oil.drains_known
        unsure = watch.cc.diagonal()
        return Sampled(self.followed.names, reading, variance, watch.c, told, self.rivals, unsure, changed)
