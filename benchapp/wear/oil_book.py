"""What the bench knows of oils themselves: their records, and what samples have shown where a record is blank."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.records import Oil
from benchapp.wear.elements import Followed
from benchapp.wear.rules import Rules

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class OilBook:
    """All oils of a bench, over the elements that a build is followed by."""

    followed: Followed
    records: Mapping[str, Oil]
    shown: Mapping[tuple[str, str], tuple[float, int]]
    """(oil, element) -> level seen in use [ppm] and number of samples, for what the record leaves blank."""
    rules: Rules

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
        """Concentrations of an oil when new [ppm] and their standard deviations; never NaN."""
        batch, listed = self.rules.number("fresh", "batch"), self.listed(name)
        fresh, sd = np.zeros((2, len(self.followed.names)))
        for i, element in enumerate(self.followed.names):
            ppm = listed.get(element)
            level, count = self.shown.get((name, element), (0.0, 0)) if name else (0.0, 0)
            if ppm is not None and math.isfinite(ppm):
                fresh[i], sd[i] = ppm, batch * ppm + 0.2
            elif count:
                fresh[i], sd[i] = level, 0.06 * level + 1.0
            else:
                fresh[i], sd[i] = self._usual(element)
        return fresh, sd

    def _usual(self, element: str) -> tuple[float, float]:
        """What new oil holds of an element where nothing is known of it, with its sd [ppm]."""
        rules = self.rules
        if element in rules.table["fresh"]:
            return rules.pair("fresh", element)
        return rules.pair("fresh", "additive" if rules.elements[element].roles[0] == "additive" else "wear")
