"""The rows of the results grid: which measurands, in which order, under which heading, with which unit.

The order is the tool's own: what wears first, then what gets in, then what was put in, then the oil itself. Within a
group the commonest come first, so that the eye finds them without reading.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from benchapp.intake.headers import unit_of

WEAR = "Wear metals"
CONTAMINANT = "What got in"
ADDITIVE = "Additives"
OIL = "Oil condition"
OTHER = "Other"


@dataclass(frozen=True, slots=True)
class Line:
    """One row: a measurand, or the heading of a group (then `measurand` is empty)."""

    group: str
    measurand: str = ""
    name: str = ""
    unit: str = ""

    @property
    def is_heading(self) -> bool:
        return not self.measurand


def _ppm(group: str, *named: tuple[str, str]) -> tuple[Line, ...]:
    return tuple(Line(group, symbol, name, "ppm") for symbol, name in named)


USUAL: tuple[Line, ...] = (
    *_ppm(
        WEAR,
        ("Fe", "iron"), ("Cu", "copper"), ("Pb", "lead"), ("Sn", "tin"), ("Al", "aluminium"), ("Cr", "chromium"),
        ("Ni", "nickel"), ("Ag", "silver"), ("Mn", "manganese"), ("Ti", "titanium"), ("V", "vanadium"),
    ),
    *_ppm(CONTAMINANT, ("Si", "silicon"), ("Na", "sodium"), ("K", "potassium")),
    Line(CONTAMINANT, "Water", "", "%"),
    Line(CONTAMINANT, "Fuel", "", "%"),
    *_ppm(
        ADDITIVE,
        ("Ca", "calcium"), ("Mg", "magnesium"), ("Zn", "zinc"), ("P", "phosphorus"), ("B", "boron"),
        ("Mo", "molybdenum"), ("Ba", "barium"),
    ),
    Line(OIL, "KV40", "at 40 °C", "cSt"),
    Line(OIL, "KV100", "at 100 °C", "cSt"),
    Line(OIL, "TBN", "base number", "mg KOH/g"),
    Line(OIL, "TAN", "acid number", "mg KOH/g"),
    Line(OIL, "Oxidation", "", "A/cm"),
)  # fmt: skip
"""Shown for every sample, measured or not."""

RARE: tuple[Line, ...] = (
    *_ppm(
        WEAR,
        ("Bi", "bismuth"), ("Sb", "antimony"), ("In", "indium"), ("Co", "cobalt"), ("W", "tungsten"),
        ("Zr", "zirconium"), ("Cd", "cadmium"), ("Be", "beryllium"),
    ),
    *_ppm(CONTAMINANT, ("Li", "lithium")),
    *_ppm(ADDITIVE, ("S", "sulphur")),
    Line(CONTAMINANT, "Soot", "", "%"),
    Line(CONTAMINANT, "Glycol", "", "%"),
    Line(CONTAMINANT, "Ferrous debris", "", "ppm"),
    Line(CONTAMINANT, "Ferrous index", "", ""),
    Line(OIL, "VI", "viscosity index", ""),
    Line(OIL, "HTHS", "at 150 °C", "mPa·s"),
    Line(OIL, "Density", "at 15 °C", "kg/L"),
    Line(OIL, "Flash point", "", "°C"),
    Line(OIL, "Antiwear", "", "A/cm"),
    Line(OIL, "Nitration", "", "A/cm"),
    Line(OIL, "Sulfation", "", "A/cm"),
)  # fmt: skip
"""Shown when a sample has them, or when the person asks for them."""

GROUPS = (WEAR, CONTAMINANT, ADDITIVE, OIL, OTHER)

_KNOWN = {line.measurand: line for line in (*USUAL, *RARE)}


def line_for(measurand: str, unit: str = "") -> Line:
    """The row of `measurand`; one that is not in the lists goes under "Other" with the unit it came with."""
    return _KNOWN.get(measurand) or Line(OTHER, measurand, "", unit or unit_of(measurand))


def lines_for(present: Iterable[tuple[str, str]] = ()) -> tuple[Line, ...]:
    """The usual rows and those of `present` ((measurand, unit) pairs), under their headings."""
    wanted = {line.measurand: line for line in USUAL}
    for measurand, unit in present:
        wanted.setdefault(measurand, line_for(measurand, unit))
    rows: list[Line] = []
    for group in GROUPS:
        members = [line for line in wanted.values() if line.group == group]
        if members:
            rows += [Line(group), *members]
    return tuple(rows)


def can_be_added(shown: Iterable[Line]) -> tuple[Line, ...]:
    """The rarer measurands that are not in `shown` yet."""
    there = {line.measurand for line in shown}
    return tuple(line for line in RARE if line.measurand not in there)
