"""Read-only: the oil and the films of one sample. Pure on a fleet, fit for a worker thread."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchapp.actions.oil_card import rules
from benchapp.records import Fleet, Sample

if TYPE_CHECKING:
    from benchapp.oil.sample import SampleOil


def of_sample(fleet: Fleet, engine: str, build: str, sample: Sample) -> SampleOil | None:
    """The oil of a sample as it is typed, with its films; None where its engine, fill or oil is not recorded.

    The sample need not be in the bench file yet. Bearings without sizes of their own take the family's."""
    from benchapp.library import load_library
    from benchapp.oil.sample import oil_of_sample

    found = next((each for each in fleet.engines if each.name == engine), None)
    one = next((each for each in found.builds if each.number == build), None) if found else None
    if found is None or one is None:
        return None
    sizes = load_library().sizes_of(found.family)
    return oil_of_sample(fleet, found, one.with_sample(sample), sample, rules(), sizes=sizes)


def of_code(fleet: Fleet, code: str) -> SampleOil | None:
    """The oil of a sample of the bench file; None where there is none, or its oil is not recorded."""
    place = fleet.find_sample(code)
    return None if place is None else of_sample(fleet, place[0].name, place[1].number, place[2])
