"""The oil in the sump: which it is thought to be, what it hides, and whether a sample is of another."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.wear import other_oil
from benchapp.wear.carry_over import combine, from_tracers, outside
from benchapp.wear.look import Appraisal, Drained
from benchapp.wear.oil_book import OilBook
from benchapp.wear.other_oil import Error, Poured, Sampled
from benchapp.wear.watch import Watch

Array = NDArray[np.float64]


MOSTLY = 0.7
"""Share of the elements of an oil that must be alike for it to be the same (chosen)."""

_ALIKE, _TRACE_PPM = 0.15, 20.0
"""Share of a level, of so many ppm at least, within which two readings are alike [-, ppm] (chosen)."""


def read_alike(reading: Array, other: Array, variance: Array) -> NDArray[np.bool_]:
    """Of which elements a reading is alike another, or a level, within `variance` of each [ppm, ppm, ppm²]; of none
    that was not read (NaN)."""
    apart = np.maximum(_ALIKE * np.maximum(np.abs(other), _TRACE_PPM), 3.0 * np.sqrt(2.0 * variance))
    return np.asarray(np.abs(reading - other) < apart)


@dataclass(slots=True)
class SumpOil:
    """The oil of one build as it is walked. Each change puts something new in the place of the old, so that a `copy`
    stands still."""

    name: str
    """The oil on record, empty where none is."""
    seen: frozenset[str]
    """All oils that have been in this build."""
    additive: NDArray[np.bool_]
    """Elements that one of them holds so much of that wear does not show in them."""
    drains: int = 0
    drains_known: int = 0
    """Oil changes until the latest sample of the oil on record."""
    drained: Drained | None = None
    """What the last drain left in, while nothing else has thinned it and no sample was taken."""
    odd_before: Array | None = None
    """The last sample's reading [ppm], where it was of another oil."""
    fresh: Array | None = None
    """What this fill's oil was taken to hold when new [ppm]; None before the first."""
    filled_h: float = 0.0
    """When it was filled [h of the build]."""
    sampled: bool = False
    """Whether a sample of this fill was seen."""
    toward: Array | None = None
    """What the sump would hold more if the last sample's other oil is in it, and not in the bottle alone [ppm]."""

    def copy(self) -> SumpOil:
        """One that stays as it is now."""
        return replace(self)

    # --- on the way to a sample

    def renew(self, name: str, book: OilBook) -> NDArray[np.bool_]:
        """The oil is changed. Returns the elements that this oil hides and none before it did, as a mask."""
        self.drains += 1
        self.name = name
        hides = np.zeros(len(self.additive), dtype=bool)
        if name not in self.seen:
            self.seen = self.seen | {name}
            hides = np.logical_and(book.additives(self.seen), np.logical_not(self.additive))
            self.additive = np.logical_or(self.additive, hides)
        return hides

    def drain_other(self, watch: Watch) -> None:
        """A drain after one sample of another oil: nobody knows whether it was in the sump, of which some stays."""
        if self.toward is not None:
            watch.c = watch.c + 0.5 * self.toward
            watch.cc = watch.cc + np.outer(0.5 * self.toward, 0.5 * self.toward)
            self.toward = None

    def pour(self, fresh: Array, at_h: float) -> None:
        """The new oil is in: what it is taken to hold [ppm], and when [h of the build]."""
        self.fresh, self.filled_h, self.sampled = fresh, at_h, False

    def hear(self, watch: Watch, book: OilBook) -> None:
        """What engines have shown of this oil since it was filled, where no sample was drawn of this fill yet. Whether
        it is of that batch nobody knows: half way there, and as far from either."""
        if self.fresh is None or self.sampled:
            return
        fresh, _ = book.fresh(self.name)
        half = 0.5 * (fresh - self.fresh)
        if np.abs(half).max() > 0.5:
            watch.c = watch.c + half
            watch.cc = watch.cc + np.diag(half**2)
            self.fresh = fresh

    def told_otherwise(self, book: OilBook) -> list[str]:
        """What was taken for this fill's oil against what is known of it, in words."""
        if self.fresh is None or not self.name:
            return []
        return [
            f"the oil: several engines on {self.name} read about {taken:.3g} ppm {element} where {held:.3g} was to be "
            "expected; another batch, or another way of reading, is taken for it"
            for element, held, taken in book.otherwise(self.name, self.fresh)
        ]

    # --- at a sample

    def another(self, sampled: Sampled, book: OilBook) -> Poured | None:
        """Which other oil of the bench file the sample's additives are, coolant and dust being its rivals."""
        share, least, gain = (book.rules.number("bottle", f"oil_{name}") for name in ("share", "least", "gain"))
        return other_oil.poured(sampled, book.records, self.name, Error(share, least), gain)

    def strange(self, sampled: Sampled, covariance: Array, book: OilBook) -> bool:
        """Whether the additives say that this is not the oil that should be in the sump.

        `covariance` of what the sump should hold [ppm²]. Only what oils are made of counts: sodium, potassium, boron
        and silicon are coolant and sealant as well."""
        mask = self.additive & np.isfinite(sampled.reading) & book.followed.made_of
        if int(mask.sum()) < 2:
            return False
        common = book.rules.number("nuisance", "sample_gain") * sampled.expected[mask]
        expected = covariance[np.ix_(mask, mask)] + np.diag(sampled.variance[mask]) + np.outer(common, common)
        difference = (sampled.reading - sampled.expected)[mask]
        return other_oil.unexplained(difference, expected, sampled.rivals[mask])

    def nearest(self, reading: Array, expected: Array, book: OilBook) -> tuple[str, float]:
        """Which oil of the bench file the additives of a sample come nearest to, or 'another oil', and its part [-]."""
        additives = np.where(self.additive, reading, np.nan)
        return other_oil.nearest(book.followed.names, book.records, self.name, additives, expected)

    def show(self, reading: Array, variance: Array, watch: Watch, book: OilBook) -> None:
        """An oil whose record is blank shows in its first sample what it holds."""
        least = book.rules.number("fresh", "additive_from_ppm")
        for i, element in enumerate(book.followed.names):
            new = not self.additive[i] and reading[i] > least and book.blank(self.name, element)
            if new and ((self.name, element) not in book.shown or not self.name):
                this = np.arange(len(reading)) == i
                self.additive = self.additive | this
                watch.anchor(this, reading, variance)

    def settle(self, seen: Appraisal, watch: Watch, book: OilBook) -> None:
        """Additives of another oil once may be the bottle; twice alike, they are what is in the sump."""
        if not seen.odd:
            self.odd_before, self.toward, self.drains_known = None, None, self.drains
            return
        mask = np.logical_and(seen.foreign, np.isfinite(seen.reading))
        toward = self._toward(seen, mask, watch.c, book)
        known = self.odd_before
        if known is not None and read_alike(seen.reading, known, seen.variance)[mask].mean() > MOSTLY:
            watch.anchor(mask, seen.reading, seen.variance)
            watch.c = watch.c + np.where(mask, 0.0, toward)
            toward = np.zeros(len(toward))
        self.odd_before, self.toward = seen.reading.copy(), toward

    def _toward(self, seen: Appraisal, mask: NDArray[np.bool_], expected: Array, book: OilBook) -> Array:
        """From what the sump should hold to what it holds if the sample's other oil is in it [ppm]: the additives as
        they were read, and what the record of a known oil says of elements that were not judged."""
        return np.where(mask, seen.reading - expected, self.beside(seen.other, seen.reading, expected, book))

    def beside(self, other: Poured | None, reading: Array, expected: Array, book: OilBook) -> Array:
        """What another oil in a sample brings of each element by its record, beyond the oil on record [ppm]; of no
        element where its record, or that of the oil on record, says nothing. `other`: the oil, where one explains the
        additives; else the one that they come nearest to."""
        name, share = (other.name, other.share) if other is not None else self.nearest(reading, expected, book)
        there, here = book.listed(name), book.listed(self.name)
        brought = np.zeros(len(reading))
        for i, element in enumerate(book.followed.names):
            new, old = there.get(element), here.get(element)
            if new is not None and old is not None:
                brought[i] = share * (new - old)
        return brought

    def left(self, seen: Appraisal, prior: float | None, book: OilBook) -> tuple[float | None, str]:
        """Share of old oil that the last drain left [-], by the additives where the oil changed, else `prior`; and what
        is odd in it, in words."""
        drained = self.drained
        if drained is None:
            return prior, ""
        tracers = self.additive & book.followed.made_of & np.isfinite(seen.reading)
        spent = book.rules.number("fresh", "additive_spent") * np.maximum(drained.old, drained.fresh)
        error = np.sqrt(seen.variance + drained.fresh_sd**2 + spent**2)
        measured = from_tracers(np.where(tracers, seen.reading, np.nan), drained.old, drained.fresh, error)
        if measured is None:
            return prior, ""
        if not outside(drained.share, drained.error, measured):
            return combine(drained.share, drained.error, measured).share, ""
        share = min(max(measured.share, 0.0), 1.0)
        return share, (
            f"the additives say that {100 * share:.0f} % of the old oil stayed in, where such a drain leaves about "
            f"{100 * drained.share:.0f} %: was it drained as written, and with this oil?"
        )
