"""Blending and fuel in oil: four public blend models, all at one temperature, and the range between them.

The models differ twofold in the fuel they read from one viscosity drop, so an answer is always a range. A bench blend
(so much fuel in so much of this oil gave this viscosity) pins every model at one point, which narrows the range.

Each model has an index I(v) that is linear in the fraction:
- Refutas: 14.534 ln ln(v + 0.8) + 10.975, by mass (Maples, Petroleum Refinery Process Economics, 2nd ed., as quoted);
- W-type: log10 log10 Z(v), by volume, mass allowed (ASTM D7152-11/-23 summaries; equation from memory);
- double-log: log10 v / log10(1000 v), by volume (refinery practice, from memory);
- ln: ln v, used by mass (Arrhenius, from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from benchapp.oil.bounds import FloatArray, within
from benchapp.oil.viscosity import V_HIGH, V_LOW, V_SOURCE, TemperatureLine, from_w, temperature_line, w_of

SCOPE = (
    "blend models are not made for viscosity improvers and additive packages (ASTM D7152-11(2016) scope), so fuel in a "
    "multigrade is a range, not a figure"
)


@dataclass(frozen=True, slots=True)
class BlendModel:
    """A blending rule: `index` of a viscosity [mm²/s] mixes linearly, `viscosity` is its inverse."""

    name: str
    basis: str
    source: str
    index: Callable[[npt.ArrayLike], FloatArray]
    viscosity: Callable[[npt.ArrayLike], FloatArray]


def refutas_index(v: npt.ArrayLike) -> FloatArray:
    """VBN = 14.534 ln ln(v + 0.8) + 10.975; v [mm²/s] above 0.2 (Maples 2000)."""
    v = within("viscosity", v, V_LOW, V_HIGH, "mm²/s", V_SOURCE, or_nan=True)
    return np.asarray(14.534 * np.log(np.log(v + 0.8)) + 10.975)


def refutas_viscosity(vbn: npt.ArrayLike) -> FloatArray:
    """v = exp exp((VBN − 10.975) / 14.534) − 0.8 [mm²/s]."""
    return np.asarray(np.exp(np.exp((np.asarray(vbn, dtype=np.float64) - 10.975) / 14.534)) - 0.8)


def double_log_index(v: npt.ArrayLike) -> FloatArray:
    """log10 v / log10(1000 v); v [mm²/s] above 0.001."""
    log = np.log10(np.asarray(v, dtype=np.float64))
    return np.asarray(log / (3.0 + log))


def double_log_viscosity(index: npt.ArrayLike) -> FloatArray:
    index = np.asarray(index, dtype=np.float64)
    return np.asarray(10.0 ** (3.0 * index / (1.0 - index)))


def ln_index(v: npt.ArrayLike) -> FloatArray:
    return np.asarray(np.log(np.asarray(v, dtype=np.float64)))


def ln_viscosity(index: npt.ArrayLike) -> FloatArray:
    return np.asarray(np.exp(np.asarray(index, dtype=np.float64)))


REFUTAS = BlendModel(
    "Refutas", "mass", "Maples, Petroleum Refinery Process Economics, 2nd ed.", refutas_index, refutas_viscosity
)
W_TYPE = BlendModel("W-type", "volume", "ASTM D7152 at one temperature, equation from memory", w_of, from_w)
DOUBLE_LOG = BlendModel(
    "double-log", "volume", "refinery practice, from memory", double_log_index, double_log_viscosity
)
LN = BlendModel("ln", "mass", "Arrhenius, from memory", ln_index, ln_viscosity)
MODELS = (REFUTAS, W_TYPE, DOUBLE_LOG, LN)


def blend(
    v1: npt.ArrayLike, v2: npt.ArrayLike, fraction2: npt.ArrayLike, model: BlendModel = REFUTAS
) -> FloatArray:
    """Viscosity [mm²/s] of a mix of two fluids at one temperature; `fraction2` [-] on the model's own basis.

    Raises BenchProblem for a fraction outside 0 to 1 or a viscosity outside 0.21 to 2e7 mm²/s."""
    v1, v2 = (within("viscosity", v, V_LOW, V_HIGH, "mm²/s", V_SOURCE, or_nan=True) for v in (v1, v2))
    x = within("share of the second fluid", fraction2, 0.0, 1.0, "", "a share of the whole", or_nan=True)
    return model.viscosity((1.0 - x) * model.index(v1) + x * model.index(v2))


def fraction_of(
    v_blend: npt.ArrayLike, v1: npt.ArrayLike, v2: npt.ArrayLike, model: BlendModel = REFUTAS
) -> FloatArray:
    """Share of the second fluid [-] that turns v1 into v_blend [mm²/s, one temperature]; negative where it got thicker.

    Raises BenchProblem for a viscosity outside 0.21 to 2e7 mm²/s."""
    blend_v, v1, v2 = (
        within("viscosity", v, V_LOW, V_HIGH, "mm²/s", V_SOURCE, or_nan=True) for v in (v_blend, v1, v2)
    )
    top = model.index(v1) - model.index(blend_v)
    return np.asarray(top / (model.index(v1) - model.index(v2)))


def wright(
    line1: tuple[float, float],
    line2: tuple[float, float],
    fraction2: float,
    celsius: tuple[float, float] = (40.0, 100.0),
) -> tuple[float, float]:
    """Viscosities [mm²/s] of a blend at two temperatures by the Wright method of ASTM D7152 (equation from memory).

    At a fixed viscosity log T blends linearly by volume. `line1`, `line2`: viscosities of the fluids at the two
    temperatures `celsius` [°C]. Written as a straight line: with W = A − B log T of each fluid, 1/B and A/B add up by
    volume. Raises BenchProblem as `blend`."""
    x = float(within("share of the second fluid", fraction2, 0.0, 1.0, "", "a share of the whole"))
    one, two = (temperature_line(v[0], celsius[0], v[1], celsius[1]) for v in (line1, line2))
    inverse_b = (1 - x) / one.B + x / two.B
    a_over_b = (1 - x) * one.A / one.B + x * two.A / two.B
    mixed = TemperatureLine(np.asarray(a_over_b / inverse_b), np.asarray(1 / inverse_b))
    return float(mixed.at(celsius[0])), float(mixed.at(celsius[1]))
