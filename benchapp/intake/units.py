"""Units as people write them, and their conversion to the one unit a measurand is kept in.

Mass fractions convert among themselves; mg/L does not (it needs the oil's density), nor do counts or intensities.
Factors are definitions (SI prefixes, 1 St = 1 cm²/s, °C = (°F − 32)/1.8)."""

from __future__ import annotations

import re
from functools import lru_cache

_FRACTION_PPM = {
    "ppm": 1.0,
    "mg/kg": 1.0,
    "µg/g": 1.0,
    "ug/g": 1.0,
    "mcg/g": 1.0,
    "wppm": 1.0,
    "ppmw": 1.0,
    "ppm wt": 1.0,
    "ppm mass": 1.0,
    "ppm(m)": 1.0,
    "ppm m/m": 1.0,
    "ppm w/w": 1.0,
    "g/t": 1.0,
    "%": 1e4,
    "wt %": 1e4,
    "wt%": 1e4,
    "wt. %": 1e4,
    "wt.%": 1e4,
    "% wt": 1e4,
    "%wt": 1e4,
    "% (m/m)": 1e4,
    "% m/m": 1e4,
    "%m/m": 1e4,
    "% w/w": 1e4,
    "%w/w": 1e4,
    "mass %": 1e4,
    "mass%": 1e4,
    "% mass": 1e4,
    "pct": 1e4,
    "percent": 1e4,
    "weight %": 1e4,
    "m-%": 1e4,
    "ppb": 1e-3,
    "µg/kg": 1e-3,
    "ug/kg": 1e-3,
    "ng/g": 1e-3,
    "g/kg": 1e3,
    "mg/g": 1e3,
}
_VOLUME_PCT = {"% vol": 1.0, "vol %": 1.0, "vol%": 1.0, "% v/v": 1.0, "%v/v": 1.0, "%vol": 1.0, "% (v/v)": 1.0}
_VISCOSITY = {
    "cst": 1.0,
    "mm2/s": 1.0,
    "mm²/s": 1.0,
    "mm^2/s": 1.0,
    "mm2/sec": 1.0,
    "mm²/sec": 1.0,
    "centistokes": 1.0,
    "mm2s-1": 1.0,
    "st": 100.0,
    "m2/s": 1e6,
    "m²/s": 1e6,
}
_BASE = {
    "mg koh/g": 1.0,
    "mgkoh/g": 1.0,
    "mg koh/g oil": 1.0,
    "mgkoh/goil": 1.0,
    "mg(koh)/g": 1.0,
    "mg koh / g": 1.0,
    "mg koh g-1": 1.0,
}
_ABSORBANCE = {
    "a/cm": 1.0,
    "abs/cm": 1.0,
    "abs./cm": 1.0,
    "au/cm": 1.0,
    "absorbance/cm": 1.0,
    "cm-1": 1.0,
    "abs/0.1mm": 100.0,
    "a/0.1mm": 100.0,
    "abs/0.1 mm": 100.0,
    "a/0.1 mm": 100.0,
    "abs/mm": 10.0,
    "a/mm": 10.0,
}
_TEMPERATURE = {
    "°c": (1.0, 0.0),
    "c": (1.0, 0.0),
    "degc": (1.0, 0.0),
    "deg c": (1.0, 0.0),
    "°f": (1 / 1.8, -32 / 1.8),
    "f": (1 / 1.8, -32 / 1.8),
    "degf": (1 / 1.8, -32 / 1.8),
    "deg f": (1 / 1.8, -32 / 1.8),
}
_DENSITY = {"kg/l": 1.0, "g/cm3": 1.0, "g/cm³": 1.0, "g/ml": 1.0, "kg/dm3": 1.0, "kg/m3": 1e-3, "kg/m³": 1e-3}
_DYNAMIC = {"mpas": 1.0, "mpa·s": 1.0, "mpa.s": 1.0, "mpa s": 1.0, "cp": 1.0}
_OTHER = frozenset(
    [
        "mg/l",
        "µg/l",
        "ug/l",
        "µg/ml",
        "ug/ml",
        "ng/ml",
        "cps",
        "kcps",
        "counts",
        "int",
        "intensity",
        "int.",
        "c/s",
        "mol/kg",
        "abs",
        "mg",
        "g",
        "sus",
        "ssu",
        "h",
        "hr",
        "hrs",
        "hours",
        "km",
        "mi",
        "miles",
        "l",
        "ml",
        "rpm",
        "nm",
        "index",
        "min",
    ]
)

FAMILIES: dict[str, dict[str, float]] = {
    "ppm": _FRACTION_PPM,
    "%": {**{unit: factor / 1e4 for unit, factor in _FRACTION_PPM.items()}, **_VOLUME_PCT},
    "cSt": _VISCOSITY,
    "mg KOH/g": _BASE,
    "A/cm": _ABSORBANCE,
    "kg/L": _DENSITY,
    "mPa·s": _DYNAMIC,
    "h": {"h": 1.0, "hr": 1.0, "hrs": 1.0, "hours": 1.0, "min": 1 / 60},
    "": {"index": 1.0},
}

_KNOWN = frozenset().union(*FAMILIES.values(), _TEMPERATURE, _OTHER)


@lru_cache(maxsize=4096)
def normal(text: str) -> str:
    """A unit in the spelling of the tables above: lower case, one kind of µ, no brackets, single blanks."""
    unit = text.replace("μ", "µ").replace("\u00a0", " ").strip().strip("[](){},;:").strip()
    return re.sub(r"\s+", " ", unit.replace("⁻¹", "-1")).lower()


def is_unit(text: str) -> bool:
    """Is this text a unit that is known here, convertible or not?"""
    return normal(text) in _KNOWN


@lru_cache(maxsize=4096)
def conversion(unit: str, canonical: str) -> tuple[float, float] | None:
    """(factor, offset) from `unit` to the canonical unit, or None where it cannot be converted."""
    name = normal(unit)
    if name == canonical.lower():
        return 1.0, 0.0
    if canonical == "°C":
        return _TEMPERATURE.get(name)
    factor = FAMILIES.get(canonical, {}).get(name)
    return None if factor is None else (factor, 0.0)


def convert(value: float, factor: float, offset: float) -> float:
    """value × factor + offset, rounded to 12 digits so that 0.0012 % is 12 ppm and not 11.999999999999998."""
    if factor == 1.0 and offset == 0.0:
        return value
    return float(f"{value * factor + offset:.12g}")
