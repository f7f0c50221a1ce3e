"""Dyno power corrected to standard air.

SAE J1349 (1990 form) CF = 1.180 (99/pd) √(T/298) − 0.18 and ISO 1585 / UN R85 for spark ignition
α = (99/pd)^1.2 (T/298)^0.6, with pd the dry pressure [kPa] and T the inlet temperature [K, °C + 273]. Both refer to
99 kPa dry and 25 °C. The range in which a correction may be used, 0.93 to 1.07, is that of both standards as quoted by
public teaching-laboratory tests; the air limits (15 to 35 °C, 80 to 110 kPa) are from memory, unverified.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchapp.problems import BenchProblem

STANDARDS = ("SAE J1349", "ISO 1585", "as measured")
FACTOR_RANGE = (0.93, 1.07)
AIR_C_RANGE = (15.0, 35.0)
PRESSURE_KPA_RANGE = (80.0, 110.0)


def vapour_pressure_kpa(air_c: float) -> float:
    """Saturation vapour pressure over water [kPa] at `air_c` [°C].

    6.112 exp(17.62 t / (243.12 + t)) hPa, World Meteorological Organization, CIMO Guide 2008. Within 0.45 % of the
    IAPWS value from 20 to 40 °C.
    """
    return 0.6112 * math.exp(17.62 * air_c / (243.12 + air_c))


def dry_pressure_kpa(*, air_c: float, pressure_kpa: float, humidity_pct: float) -> float:
    """Pressure of the dry air [kPa] at relative humidity `humidity_pct` [%]."""
    return pressure_kpa - humidity_pct / 100 * vapour_pressure_kpa(air_c)


@dataclass(frozen=True, slots=True)
class Correction:
    """A correction factor [-], whether it lies inside its range, and why not in words."""

    factor: float
    valid: bool
    why: str = ""


def correction(*, standard: str, air_c: float, pressure_kpa: float, humidity_pct: float) -> Correction:
    """Factor that turns measured into corrected power.

    Raises BenchProblem for an unknown standard or for air that cannot be (humidity outside 0 to 100 %, pressure or
    temperature that no dyno cell has). A factor outside the range is returned with `valid=False`: the pull is kept,
    shown as measured, and not compared.
    """
    if standard not in STANDARDS:
        raise BenchProblem(
            f"'{standard}' is not a power correction known here.",
            "The pulls are kept as measured.",
            f"Choose one of {', '.join(STANDARDS)}.",
        )
    if not (-30 <= air_c <= 60 and 50 <= pressure_kpa <= 120 and 0 <= humidity_pct <= 100):
        raise BenchProblem(
            f"Air of {air_c:g} °C, {pressure_kpa:g} kPa and {humidity_pct:g} % humidity cannot be right.",
            "This pull cannot be corrected; its measured power is kept.",
            "Check the units: °C, kPa (1013 hPa = 101.3 kPa) and per cent.",
        )
    if standard == "as measured":
        return Correction(1.0, valid=True)
    dry = dry_pressure_kpa(air_c=air_c, pressure_kpa=pressure_kpa, humidity_pct=humidity_pct)
    ratio, heat = 99 / dry, (air_c + 273) / 298
    factor = 1.180 * ratio * math.sqrt(heat) - 0.18 if standard == "SAE J1349" else ratio**1.2 * heat**0.6
    return Correction(factor, *_inside(factor, air_c, pressure_kpa, standard))


def _inside(factor: float, air_c: float, pressure_kpa: float, standard: str) -> tuple[bool, str]:
    low, high = FACTOR_RANGE
    if not low <= factor <= high:
        return False, f"the factor {factor:.3f} lies outside {low:g} to {high:g}, the range of {standard}"
    if not AIR_C_RANGE[0] <= air_c <= AIR_C_RANGE[1]:
        return False, f"air of {air_c:g} °C lies outside {AIR_C_RANGE[0]:g} to {AIR_C_RANGE[1]:g} °C"
    if not PRESSURE_KPA_RANGE[0] <= pressure_kpa <= PRESSURE_KPA_RANGE[1]:
        return False, f"{pressure_kpa:g} kPa lies outside {PRESSURE_KPA_RANGE[0]:g} to {PRESSURE_KPA_RANGE[1]:g} kPa"
    return True, ""
