"""What was found when someone looked inside: sources it clears, and parts that become suspect in the whole family."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from benchapp.records import Part
from benchapp.wear.expected import FamilyHistory
from benchapp.wear.rules import Rules
from benchapp.wear.sources import Sources

Array = NDArray[np.float64]

SOUND = ("as new", "worn as expected")
"""Conditions of a finding that clear a part."""


def cleared_by(part: str, sound: Collection[str], sources: Sources) -> list[int]:
    """Columns that a part found sound clears, with all that were found `sound` while they were suspect.

    Parts of one metal are one source: it is cleared when all of them have been found sound. Dust or coolant whose way
    in was looked for and not found is cleared the same way."""
    found = []
    for j, (name, parts) in enumerate(zip(sources.names, sources.parts, strict=True)):
        names = {one.name for one in parts} or {name}
        this = part if parts else part.strip().casefold()
        if this in names and names <= {*sound, this}:
            found.append(j)
    return found


def part_named(name: str, sources: Sources) -> Part | None:
    """The part of that name among the sources; None for dust or coolant, and for a part that sheds nothing measured."""
    return next((part for parts in sources.parts for part in parts if part.name == name), None)


def fault_shares(sources: Sources, family: FamilyHistory | None, rules: Rules) -> Array:
    """How often each source is at fault: the table's shares, and more for what was found worn in the family."""
    if family is None or not family.worn:
        return sources.weight
    found = Counter(family.worn.values())
    each, most = rules.pair("fault", "found_worn")
    times = [
        min(1.0 + each * sum(found[role] for role in {part.role or part.name for part in parts}), most)
        for parts in sources.parts
    ]
    return np.asarray(sources.weight * np.array(times))
