"""Viscosity and temperature: ASTM D341 in its short full form, viscosity index by ASTM D2270.

Viscosities are kinematic [mm²/s], temperatures [°C]. Functions take scalars or arrays of one shape.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from benchapp.oil.bounds import FloatArray, within
from benchapp.problems import BenchProblem

KELVIN = 273.15
V_LOW, V_HIGH = 0.21, 2.0e7
V_SOURCE = "ASTM D341: 0.21 to 20,000,000 mm²/s, from memory, unverified"
T_LOW, T_HIGH = -40.0, 200.0
T_SOURCE = "ASTM D341 suggests cloud point to initial boiling point; −40 to 200 °C is an own bound for engine oil"
VI_KV100_LOW = 2.0
VI_SOURCE = "ASTM D2270: not defined below 2 mm²/s at 100 °C"


@dataclass(frozen=True, slots=True)
class TemperatureLine:
    """log10 log10 Z = A − B log10 T, T in kelvin (ASTM D341). `A`, `B` are scalars or arrays of one shape."""

    A: FloatArray
    B: FloatArray

    def at(self, celsius: npt.ArrayLike) -> FloatArray:
        """Kinematic viscosity [mm²/s] at a temperature [°C]. Raises BenchProblem outside −40 to 200 °C."""
        t = within("oil temperature", celsius, T_LOW, T_HIGH, "°C", T_SOURCE, or_nan=True)
        return from_w(self.A - self.B * np.log10(t + KELVIN))


def z_of(v: npt.ArrayLike) -> FloatArray:
    """Z = v + 0.7 + exp(−1.47 − 1.84 v − 0.51 v²), the short full form of ASTM D341; v [mm²/s]."""
    v = np.asarray(v, dtype=np.float64)
    return np.asarray(v + 0.7 + np.exp(-1.47 - 1.84 * v - 0.51 * v**2))


def v_of(z: npt.ArrayLike) -> FloatArray:
    """Inverse of `z_of` by the standard's own polynomial (round trip within 0.03 % from 0.21 to 10 mm²/s)."""
    u = np.asarray(z, dtype=np.float64) - 0.7
    # beyond u = 6 the correction is below 1e-9, and the cubic would overflow for very thick oils
    small = np.minimum(u, 6.0)
    correction = np.exp(-0.7487 - 3.295 * small + 0.6119 * small**2 - 0.3193 * small**3)
    return np.asarray(u - np.where(u < 6.0, correction, 0.0))


def w_of(v: npt.ArrayLike) -> FloatArray:
    """W = log10 log10 Z, in which temperature lines are straight and blends add up."""
    return np.asarray(np.log10(np.log10(z_of(v))))


def from_w(w: npt.ArrayLike) -> FloatArray:
    """Kinematic viscosity [mm²/s] from W = log10 log10 Z."""
    return v_of(10.0 ** (10.0 ** np.asarray(w, dtype=np.float64)))


def temperature_line(
    v1: npt.ArrayLike, celsius1: npt.ArrayLike, v2: npt.ArrayLike, celsius2: npt.ArrayLike
) -> TemperatureLine:
    """The D341 line through two points. B = (W1 − W2) / (log T2 − log T1), A = W1 + B log T1.

    Raises BenchProblem for a viscosity outside 0.21 to 2e7 mm²/s, for two points at one temperature, and where the oil
    would not get thinner with heat."""
    v1, v2 = (within("viscosity", v, V_LOW, V_HIGH, "mm²/s", V_SOURCE, or_nan=True) for v in (v1, v2))
    t1, t2 = (
        within("oil temperature", t, T_LOW, T_HIGH, "°C", T_SOURCE, or_nan=True) + KELVIN for t in (celsius1, celsius2)
    )
    if np.any(t1 == t2):
        raise BenchProblem(
            "Both viscosities are given at one temperature.",
            "How the oil thins with heat cannot be reckoned from them.",
            "Give viscosity at two temperatures, as a rule 40 and 100 °C.",
        )
    if np.any((v1 - v2) * (t2 - t1) <= 0.0):  # an unknown viscosity (NaN) compares as False and stays unknown
        raise BenchProblem(
            "The oil is not thinner at the higher temperature.",
            "No oil behaves so: one of the two viscosities is wrong, or they are exchanged.",
            "Check KV40 and KV100.",
        )
    B = (w_of(v1) - w_of(v2)) / (np.log10(t2) - np.log10(t1))
    return TemperatureLine(np.asarray(w_of(v1) + B * np.log10(t1)), np.asarray(B))


def line_40_100(kv40: npt.ArrayLike, kv100: npt.ArrayLike) -> TemperatureLine:
    """The D341 line from viscosity at 40 and 100 °C [mm²/s]. Raises as `temperature_line`."""
    return temperature_line(kv40, 40.0, kv100, 100.0)


def viscosity_index(kv40: npt.ArrayLike, kv100: npt.ArrayLike) -> FloatArray:
    """Viscosity index by ASTM D2270, unrounded, through the library `chemicals`.

    Raises BenchProblem below 2 mm²/s at 100 °C, where it is not defined. NaN in gives NaN out."""
    from chemicals.viscosity import viscosity_index as d2270  # heavy: only where it is used

    u, y = np.broadcast_arrays(np.asarray(kv40, dtype=np.float64), np.asarray(kv100, dtype=np.float64))
    within("viscosity at 100 °C", y, VI_KV100_LOW, V_HIGH, "mm²/s", VI_SOURCE, or_nan=True)
    within("viscosity at 40 °C", u, V_LOW, V_HIGH, "mm²/s", V_SOURCE, or_nan=True)
    known = ~(np.isnan(u) | np.isnan(y))
    found = np.full(u.shape, np.nan)
    # the library takes m²/s, whatever its docstring calls them
    found[known] = [d2270(a * 1e-6, b * 1e-6) for a, b in zip(u[known].tolist(), y[known].tolist(), strict=True)]
    return found


def rounded_index(index: float) -> int:
    """Viscosity index as it is reported: to the whole number, ties to even (ASTM E29 as used by D2270)."""
    return round(index)
