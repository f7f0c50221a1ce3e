"""Milligrams and micrometres: how much of a layer a loss of metal is, and what a micrometre would show in the oil.

mass [mg] = area [cm²] × depth [µm] × density [g/cm³] × 0.1 × mass fraction; ppm = mg / oil mass [kg]. Arithmetic of
units: 1 µm over 10 cm² of PbSn10Cu2 at 10.6 g/cm³ is 10.6 mg. All functions take scalars or arrays.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from benchapp.problems import BenchProblem

FloatArray = npt.NDArray[np.float64]

MG_PER_CM2_UM = 0.1
"""1 cm² × 1 µm × 1 g/cm³ = 0.1 mg."""


def layer_mg(
    area_cm2: npt.ArrayLike, depth_um: npt.ArrayLike, density_g_cm3: npt.ArrayLike, fraction: npt.ArrayLike = 1.0
) -> FloatArray:
    """Mass [mg] of one element (`fraction` of the layer by mass, 1 = all of it) in `depth_um` [µm] of a layer.

    Raises BenchProblem for a negative area, density or fraction."""
    area, density, share = (np.asarray(v, dtype=np.float64) for v in (area_cm2, density_g_cm3, fraction))
    _not_negative("area", area)
    _not_negative("density", density)
    _not_negative("mass fraction", share)
    return np.asarray(area * np.asarray(depth_um, dtype=np.float64) * density * MG_PER_CM2_UM * share)


def layer_um(
    mass_mg: npt.ArrayLike, area_cm2: npt.ArrayLike, density_g_cm3: npt.ArrayLike, fraction: npt.ArrayLike = 1.0
) -> FloatArray:
    """Mean depth [µm] of a layer that `mass_mg` [mg] of one element stands for; the inverse of `layer_mg`.

    Raises BenchProblem where area, density or fraction is not above zero."""
    area, density, share = (np.asarray(v, dtype=np.float64) for v in (area_cm2, density_g_cm3, fraction))
    per_um = area * density * MG_PER_CM2_UM * share
    if np.any(~(per_um > 0.0)):
        raise BenchProblem(
            "A loss of metal cannot be turned into micrometres without an area, a density and a share above zero.",
            "The loss in milligrams stands; only its depth is unknown.",
            "Enter the wearing area of the part and the density of its material.",
        )
    return np.asarray(np.asarray(mass_mg, dtype=np.float64) / per_um)


def oil_ppm(mass_mg: npt.ArrayLike, oil_l: npt.ArrayLike, oil_density_kg_l: npt.ArrayLike = 0.87) -> FloatArray:
    """Rise in the oil [ppm by mass] from `mass_mg` [mg] spread over `oil_l` [L] of oil.

    Raises BenchProblem where there is no oil."""
    kg = np.asarray(oil_l, dtype=np.float64) * np.asarray(oil_density_kg_l, dtype=np.float64)
    if np.any(~(kg > 0.0)):
        raise BenchProblem(
            "The oil volume or its density is not above zero.",
            "Metal per kilogram of oil cannot be reckoned.",
            "Enter all the oil that circulates, coolers, lines and tank included.",
        )
    return np.asarray(np.asarray(mass_mg, dtype=np.float64) / kg)


def _not_negative(what: str, values: FloatArray) -> None:
    if np.any(values < 0.0):
        raise BenchProblem(
            f"The {what} is below zero.",
            "Nothing was computed from it.",
            f"Enter a {what} of zero or more.",
        )
