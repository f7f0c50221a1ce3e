"""Density of a lubricating oil with temperature, and dynamic viscosity.

API MPMS 11.1 / ASTM D1250-04 for lubricating oils: α60 = K0/ρ60² + K1/ρ60 with K0 = 0, K1 = 0.34878, ρ60 in kg/m³ at
60 °F; CTL = exp(−α ΔT (1 + 0.8 α ΔT)), ΔT = T − 60 °F. **α is per °F** (one public copy says per °C, which is wrong: it
would give half the known expansion). The 2004 edition's small temperature-scale and rounding terms are left out: under
0.01 %.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from benchapp.oil.bounds import FloatArray, within
from benchapp.oil.viscosity import T_HIGH, T_LOW, T_SOURCE

K1 = 0.34878
RHO_LOW, RHO_HIGH = 0.8009, 1.1635
RHO_SOURCE = "ASTM D1250-04, lubricating oils: 800.9 to 1163.5 kg/m³ at 60 °F"
FIFTEEN_C_IN_F = 59.0


def volume_factor(rho60_kg_l: npt.ArrayLike, celsius: npt.ArrayLike) -> FloatArray:
    """CTL, density at `celsius` [°C] over density at 60 °F [-]; `rho60_kg_l` [kg/L].

    Raises BenchProblem for a density outside 0.8009 to 1.1635 kg/L or a temperature outside −40 to 200 °C."""
    rho = within("oil density", rho60_kg_l, RHO_LOW, RHO_HIGH, "kg/L", RHO_SOURCE, or_nan=True)
    t = within("oil temperature", celsius, T_LOW, T_HIGH, "°C", T_SOURCE, or_nan=True)
    return _ctl(rho, t * 1.8 + 32.0)


def density_at(rho15_kg_l: npt.ArrayLike, celsius: npt.ArrayLike) -> FloatArray:
    """Density [kg/L] at `celsius` [°C] from density at 15 °C [kg/L]. Raises as `volume_factor`."""
    rho15 = within("oil density", rho15_kg_l, RHO_LOW, RHO_HIGH, "kg/L", RHO_SOURCE, or_nan=True)
    t = within("oil temperature", celsius, T_LOW, T_HIGH, "°C", T_SOURCE, or_nan=True)
    rho60 = rho15
    for _ in range(3):  # 15 °C is 59 °F: one degree from the reference, settled at once
        rho60 = rho15 / _ctl(rho60, np.asarray(FIFTEEN_C_IN_F))
    return np.asarray(rho60 * _ctl(rho60, t * 1.8 + 32.0))


def dynamic_viscosity(kv_mm2_s: npt.ArrayLike, density_kg_l: npt.ArrayLike) -> FloatArray:
    """Dynamic viscosity [mPa·s] = kinematic [mm²/s] × density [kg/L], both at one temperature."""
    return np.asarray(np.asarray(kv_mm2_s, dtype=np.float64) * np.asarray(density_kg_l, dtype=np.float64))


def _ctl(rho_kg_l: FloatArray, fahrenheit: FloatArray) -> FloatArray:
    alpha = K1 / (rho_kg_l * 1000.0)
    d = fahrenheit - 60.0
    return np.asarray(np.exp(-alpha * d * (1.0 + 0.8 * alpha * d)))
