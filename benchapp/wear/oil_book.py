"""What the bench knows of oils themselves: their records, and what samples have shown where a record is blank."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from benchapp.records import Oil
from benchapp.wear.elements import Followed
from benchapp.wear.in_use import InUse, far_apart
from benchapp.wear.rules import Rules

Array = NDArray[np.float64]

_SHOWN = (0.06, 0.5)
"""How sure a level is that samples have shown: share of it, and so many ppm (chosen)."""

OF_COOLANT = ("Na", "K", "B")
"""Elements that tell a leak, and that oils may hold a little of: several engines are asked how much."""


@dataclass(frozen=True, slots=True)
class OilBook:
    """All oils of a bench, over the elements that a build is followed by."""

    followed: Followed
    records: Mapping[str, Oil]
    shown: Mapping[tuple[str, str], tuple[float, int]]
    """(oil, element) -> level seen in use [ppm] and number of samples, for what the record leaves blank."""
    rules: Rules
    in_use: InUse = field(default_factory=InUse)
    """What engines have shown of these oils."""
    instrument: str = ""
    """What reads the samples."""

    def listed(self, name: str) -> Mapping[str, float]:
        """What the oil's record says of it when new, element -> [ppm]; empty for an oil without a record."""
        oil = self.records.get(name)
        return oil.fresh_ppm if oil else {}

    def blank(self, name: str, element: str) -> bool:
        """Whether an element may be in an oil and its record does not say how much."""
        return self.listed(name).get(element) is None and "additive" in self.rules.elements[element].roles

    def additives(self, names: Iterable[str]) -> NDArray[np.bool_]:
        """Elements that one of these oils holds much of when new (or may, its content unknown), as a mask."""
        least = self.rules.number("fresh", "additive_from_ppm")
        found = np.zeros(len(self.followed.names), dtype=bool)
        for name in names:
            listed = self.listed(name)
            for i, element in enumerate(self.followed.names):
                ppm = listed.get(element)
                if ppm is None:
                    unknown = self.rules.elements[element].role == "additive"
                    found[i] |= unknown or self.shown.get((name, element), (0.0, 0))[0] > least
                else:
                    found[i] |= ppm > least
        return found

    def fresh(self, name: str) -> tuple[Array, Array]:
        """Concentrations of an oil when new [ppm] and their standard deviations; never NaN. What several engines show
        goes before the record."""
        fresh, sd = self.held(name)
        for i, element in enumerate(self.followed.names):
            lately = self.lately(name, element, float(fresh[i]))
            if lately is not None:
                fresh[i], sd[i] = lately, _SHOWN[0] * lately + _SHOWN[1]
        return fresh, sd

    def held(self, name: str) -> tuple[Array, Array]:
        """The same by the oil's record, and by samples for what it leaves blank."""
        batch, listed = self.rules.number("fresh", "batch"), self.listed(name)
        fresh, sd = np.zeros((2, len(self.followed.names)))
        for i, element in enumerate(self.followed.names):
            ppm = listed.get(element)
            level, count = self.shown.get((name, element), (0.0, 0)) if name else (0.0, 0)
            if ppm is not None and math.isfinite(ppm):
                fresh[i], sd[i] = ppm, batch * ppm + 0.2
            elif count:
                fresh[i], sd[i] = level, _SHOWN[0] * level + 1.0
            else:
                fresh[i], sd[i] = self._usual(element)
        return fresh, sd

    def lately(self, name: str, element: str, held: float) -> float | None:
        """What the samples of several engines agree on where it is not what the oil was `held` to have [ppm]."""
        if not name or element not in OF_COOLANT:
            return None
        return self.in_use.level(name, self.instrument, element, held)

    def borne_out(self, name: str, fresh: Array) -> NDArray[np.bool_]:
        """Elements of which several engines show what the oil was taken to hold, as a mask."""
        shown = [
            element in OF_COOLANT and self.in_use.shows(name, self.instrument, element, float(fresh[i]))
            for i, element in enumerate(self.followed.names)
        ]
        return np.array(shown, dtype=bool)

    def otherwise(self, name: str, fresh: Array) -> list[tuple[str, float, float]]:
        """Elements for which `fresh` was taken instead of what the oil was held to have: (element, held, taken)."""
        held, _ = self.held(name)
        return [
            (element, float(held[i]), float(fresh[i]))
            for i, element in enumerate(self.followed.names)
            if element in OF_COOLANT and far_apart(float(fresh[i]), float(held[i]))
        ]

    def _usual(self, element: str) -> tuple[float, float]:
        """What new oil holds of an element where nothing is known of it, with its sd [ppm]."""
        rules = self.rules
        if element in rules.table["fresh"]:
            return rules.pair("fresh", element)
        return rules.pair("fresh", "additive" if rules.elements[element].roles[0] == "additive" else "wear")
