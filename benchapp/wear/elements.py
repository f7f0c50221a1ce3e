"""The elements that a build is followed by."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.records import Sample
from benchapp.wear.rules import Rules

Array = NDArray[np.float64]

_WITH_SEALANT = ("Si", "Ti")
_FROM_OUTSIDE = ("Na", "K", "B", "Si")


@dataclass(frozen=True, slots=True)
class Followed:
    """The elements that a build is followed by, in order, with masks over them."""

    names: tuple[str, ...]
    made_of: NDArray[np.bool_]
    """What coolant, dust and sealant do not bring as well: of these an engine and its oil are made."""
    tells: NDArray[np.bool_]
    """Elements that oils are told by."""
    metal: NDArray[np.bool_]
    """Elements that come from parts before all else."""

    def pure(self, element: str) -> Array:
        """One element alone, as a direction; zero where it is not followed."""
        return np.array([float(one == element) for one in self.names])


def followed(names: tuple[str, ...], rules: Rules) -> Followed:
    """These elements, with what each of them tells."""
    roles = rules.elements
    made_of = [element not in _FROM_OUTSIDE for element in names]
    tells = ["additive" in roles[element].roles and element not in _WITH_SEALANT for element in names]
    metal = [roles[element].role == "wear" for element in names]
    return Followed(names, *(np.array(mask, dtype=bool) for mask in (made_of, tells, metal)))


def measured_elements(samples: Sequence[Sample], rules: Rules, known: Collection[str] = ()) -> tuple[str, ...]:
    """Elements read in these samples or `known`, in the library's order; what is the oil itself is left out.

    Iron where none was read yet, so that there is always something to expect."""
    read = {reading.measurand for sample in samples for reading in sample.readings}.union(known)
    found = tuple(symbol for symbol, one in rules.elements.items() if symbol in read and one.role != "matrix")
    return found or ("Fe",)
