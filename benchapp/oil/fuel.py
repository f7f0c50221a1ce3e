"""Fuel in the oil from the drop in viscosity: a range over blend models, and what else could explain the drop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from benchapp.oil.blend import MODELS, SCOPE, fraction_of
from benchapp.oil.bounds import FloatArray, within
from benchapp.oil.rules import Fuel, OilRules
from benchapp.oil.viscosity import V_HIGH, V_LOW, V_SOURCE
from benchapp.problems import BenchProblem

KV_SD = 0.01
"""Reading noise of a viscosity as a share, one standard deviation: own default (common practice, no source)."""

Z_90 = 1.645

ROUNDED = 0.05
"""Fuel is said with one digit behind the point [%]: half of that is no difference."""

VI_CLEAR = 4.0
"""A change of viscosity index from which it says something [-]. Own default: 1 % in a viscosity moves it by about 2."""

SHEAR = (
    "The polymer of the oil cut by shear lowers viscosity in the same way: a fuel reading by infra-red or gas "
    "chromatograph, or the flash point, tells them apart. Fuel lowers the flash point and raises the viscosity index "
    "a little; shear leaves the first and lowers the second."
)


@dataclass(frozen=True, slots=True)
class BenchBlend:
    """A blend mixed on the bench: so much fuel in this fresh oil gave this viscosity, at the same temperature."""

    fuel_pct: float
    viscosity: float
    """Kinematic viscosity of the blend [mm²/s]."""


@dataclass(frozen=True, slots=True)
class FuelRange:
    """Fuel [%] that would explain the viscosity drop. Models differ in basis (mass, volume), well within the range."""

    low_pct: float
    high_pct: float
    by_model: tuple[tuple[str, float], ...]
    """Model -> fuel [%] at the reading itself."""
    narrowed: bool
    """True where a bench blend pinned the models."""
    measured_pct: float | None
    agrees: bool | None
    """Whether a measured fuel value lies within the range; None without one."""
    text: str
    other: tuple[str, ...]
    """Other explanations and what would tell them apart."""
    sources: tuple[str, ...]


def fuel_percent(
    v: npt.ArrayLike, v_fresh: npt.ArrayLike, v_fuel: npt.ArrayLike, bench: BenchBlend | None = None
) -> FloatArray:
    """Fuel [%] by each model, shape (4, …), from viscosity now and fresh [mm²/s] at one temperature; negative: thicker.

    With a bench blend each model is pinned at it: x = x_b (I_fresh − I) / (I_fresh − I_b); it needs no fuel viscosity.
    Raises BenchProblem for a viscosity outside 0.21 to 2e7 mm²/s, or a bench blend that is none."""
    if bench is None:
        return np.asarray([100.0 * fraction_of(v, v_fresh, v_fuel, model) for model in MODELS])
    check_bench(bench, v_fresh)
    return np.asarray([bench.fuel_pct * fraction_of(v, v_fresh, bench.viscosity, model) for model in MODELS])


def dilution_bounds(
    v: npt.ArrayLike, v_fresh: npt.ArrayLike, fuel: Fuel, bench: BenchBlend | None = None, at_c: float = 100.0
) -> tuple[FloatArray, FloatArray]:
    """Lowest and highest fuel [%] over models, fuels and reading noise (90 %), for arrays of samples.

    Viscosities [mm²/s] at `at_c`, 100 or 40 °C. Not below zero. Raises as `fuel_percent`. NaN in gives NaN out."""
    v = np.asarray(v, dtype=np.float64)
    thinnest, _, thickest = fuel.at(at_c)
    spread = Z_90 * KV_SD * np.sqrt(2.0)
    thick = fuel_percent(v * (1 + spread), v_fresh, thinnest, bench).min(axis=0)
    thin = fuel_percent(v * (1 - spread), v_fresh, thickest, bench).max(axis=0)
    return np.maximum(thick, 0.0), np.maximum(thin, 0.0)


def dilution_range(
    kv: float,
    kv_fresh: float,
    rules: OilRules,
    *,
    at_c: float = 100.0,
    fuel: str = "petrol",
    bench: BenchBlend | None = None,
    measured_pct: float | None = None,
    vi_change: float | None = None,
) -> FuelRange:
    """Fuel in the oil from viscosity now and fresh [mm²/s], both at `at_c`: 100 °C, or 40 °C of a field viscometer.

    `fuel` 'petrol', 'ethanol' or 'methanol'; `bench` a blend of this oil and fuel at that temperature;
    `measured_pct` a measured fuel value [%]; `vi_change` change of viscosity index against fresh, where both
    viscosities are known. Raises BenchProblem for an unknown fuel and as `fuel_percent`."""
    fluid = _fuel(fuel, rules)
    middle = fuel_percent(kv, kv_fresh, fluid.at(at_c)[1], bench)
    low, high = (float(bound) for bound in dilution_bounds(kv, kv_fresh, fluid, bench, at_c))
    agrees = None if measured_pct is None else low - ROUNDED <= measured_pct <= high + ROUNDED
    return FuelRange(
        low_pct=low,
        high_pct=high,
        by_model=tuple((model.name, float(pct)) for model, pct in zip(MODELS, middle, strict=True)),
        narrowed=bench is not None,
        measured_pct=measured_pct,
        agrees=agrees,
        text=_words(low, high, bench, measured_pct),
        other=tuple(_others(high, measured_pct, low, vi_change)),
        sources=(*(f"{model.name}: {model.source}" for model in MODELS), rules.fuel_source, SCOPE),
    )


def _fuel(name: str, rules: OilRules) -> Fuel:
    try:
        return rules.fuels[name]
    except KeyError:
        raise BenchProblem(
            f'The fuel "{name}" is not one that dilution can be reckoned for.',
            "How thin it is, is not known, so no fuel share was computed.",
            f"Choose {', '.join(rules.fuels)}; leaded and unleaded are both petrol.",
        ) from None


def check_bench(bench: BenchBlend, v_fresh: npt.ArrayLike) -> None:
    """Raises BenchProblem for a bench blend that cannot be one, with the range and its source."""
    within("fuel share of the bench blend", bench.fuel_pct, 0.1, 50.0, "%", "what can be weighed and told from none")
    within("viscosity of the bench blend", bench.viscosity, V_LOW, V_HIGH, "mm²/s", V_SOURCE)
    if np.any(np.asarray(v_fresh) <= bench.viscosity * (1 + 2 * KV_SD)):
        raise BenchProblem(
            f"The bench blend at {bench.viscosity:g} mm²/s is not clearly thinner than the fresh oil.",
            "It cannot say how this oil thins with fuel, so it was not used.",
            "Measure blend and fresh oil at one temperature, or mix in more fuel.",
        )


def _words(low: float, high: float, bench: BenchBlend | None, measured: float | None) -> str:
    if high < 0.05:
        words = "No fuel seen: the oil is not thinner than fresh"
    else:
        how = "by the bench blend" if bench is not None else "over four blend models"
        words = f"The viscosity drop would take {low:.1f} to {high:.1f} % fuel ({how})"
    if measured is None:
        return f"{words}."
    if low - ROUNDED <= measured <= high + ROUNDED:
        return f"{words}; the measured {measured:.1f} % fits."
    side = "less" if measured < low else "more"
    return f"{words}; the measured {measured:.1f} % is {side} than that."


def _others(high: float, measured: float | None, low: float, vi_change: float | None) -> Sequence[str]:
    if high < 0.05 and not measured:
        return []
    others = [SHEAR]
    if vi_change is not None and abs(vi_change) >= VI_CLEAR:
        which = "points to sheared polymer" if vi_change < 0 else "points to fuel"
        others.append(f"The viscosity index has changed by {vi_change:+.0f}, which {which}.")
    if measured is not None and measured < low - ROUNDED:
        others.append("The measured fuel is too little for the drop: the rest is shear, or a thinner oil topped up.")
    if measured is not None and measured > high + ROUNDED:
        others.append("The measured fuel is more than the drop shows: oxidation or soot thickens against it.")
    return others
