"""What a form may offer beforehand: hours that the runs add up to. An offer only, never written without a person."""

from __future__ import annotations

from dataclasses import dataclass

from benchapp.actions.looks import build_hours
from benchapp.records import Build, Fill


@dataclass(frozen=True, slots=True)
class Hours:
    """Running hours so far [h]; None where nothing is known of them."""

    build_h: float | None = None
    oil_h: float | None = None


def hours(build: Build | None, fill: Fill | None) -> Hours:
    """Hours of a build so far [h], and of the oil in it since `fill` [h]; nothing is offered without a run."""
    if build is None or not build.runs:
        return Hours()
    total = _tidy(build_hours(build))
    return Hours(total, oil_hours(total, fill))


def oil_hours(build_h: float, fill: Fill | None) -> float | None:
    """Hours on the oil [h] when the build has `build_h` [h]; None before the fill or where the fill is unknown."""
    return None if fill is None or build_h < fill.build_h else _tidy(build_h - fill.build_h)


def _tidy(value: float) -> float:
    """Without the tail that adding binary fractions leaves (0.30000000000000004)."""
    return round(value, 6)
