"""The oil film of a full journal bearing under a steady load: is it still floating?

Raimondi and Boyd's tables (1958) are interpolated in log S as a finite-length correction of the short-bearing form:
S = S_short · G(κ L/D). G(u) = (u²/3) / (1 − tanh(u)/u) is the side-leakage factor of a slider of constant film (own
derivation: one-dimensional Reynolds equation with pressure parabolic across); κ takes what that leaves out. It varies
slowly, so it is what is interpolated. Beside the film stands the short-bearing form alone (Ocvirk, half-Sommerfeld)
with its error: it is too hopeful just where race big ends run.

Units: lengths [mm], clearance diametral [mm] as people enter it, film [µm], load [N], speed [rpm], dynamic viscosity
[mPa·s], pressure [MPa]. Arrays of viscosity, load and speed of one shape go through; the bearing is one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from benchapp.oil.bounds import FloatArray, within
from benchapp.problems import BenchProblem

L_OVER_D_LOW, L_OVER_D_HIGH = 0.1, 1.0
L_OVER_D_SOURCE = "Raimondi and Boyd's tables end at L/D 1; below 0.1 no bearing of an engine lies"
EPS_LOW, EPS_HIGH = 0.02, 0.97
"""Eccentricities covered: the tables end at h0/c 0.03; lighter loads than ε 0.02 are reported as ε 0.02."""
GRID = 800
MPA_PER_PSI = 0.00689476
HEAT_J_CM3_K = 1.7
"""Density times specific heat of engine oil [J/(cm³ K)]: 0.85 g/cm³ × 2.0 J/(g K), common practice, no source."""


@dataclass(frozen=True, slots=True)
class Bearing:
    """One journal bearing. `clearance_mm` is diametral; `origin` says where it is from."""

    name: str
    diameter_mm: float
    length_mm: float
    clearance_mm: float
    origin: str = "entered"

    @property
    def radial_um(self) -> float:
        return self.clearance_mm * 500.0

    @property
    def l_over_d(self) -> float:
        return self.length_mm / self.diameter_mm


@dataclass(frozen=True, slots=True)
class LoadCase:
    """A steady load [N] at a speed [rpm]."""

    name: str
    load_n: float
    speed_rpm: float


@dataclass(frozen=True, slots=True, eq=False)
class FilmTables:
    """Raimondi and Boyd, ready to interpolate: per tabulated L/D (ascending) rows of ε ascending."""

    l_over_d: tuple[float, ...]
    eps: FloatArray
    """(R,) eccentricities of the rows."""
    leakage: FloatArray
    """(K, R) κ of G(κ L/D) = S / S_short."""
    friction_ratio: FloatArray
    """(K, R) (r/c) f over Petroff's 2π² S."""
    flow: FloatArray
    side: FloatArray
    pressure: FloatArray
    phi: FloatArray
    source: str


@dataclass(frozen=True, slots=True)
class Film:
    """What the film does, arrays of one shape."""

    sommerfeld: FloatArray
    eccentricity: FloatArray
    min_film_um: FloatArray
    attitude_deg: FloatArray
    friction: FloatArray
    """Coefficient of friction f [-]."""
    loss_w: FloatArray
    flow_cm3_s: FloatArray
    side_share: FloatArray
    """Qs/Q [-]."""
    mean_pressure_mpa: FloatArray
    max_pressure_mpa: FloatArray
    rise_k: FloatArray
    """Temperature rise of the oil through the bearing [K], if all loss goes into the oil."""
    short_min_film_um: FloatArray
    """Minimum film by the short-bearing form alone [µm]: optimistic, see `short_error`."""
    beyond_table: npt.NDArray[np.bool_]
    """True where the load is beyond the tables (h0/c below 0.03): the film is at most what is given."""

    @property
    def short_error(self) -> FloatArray:
        """How far the short-bearing film lies above the finite one, as a share (0.3 = 30 % too thick)."""
        return np.asarray(self.short_min_film_um / self.min_film_um - 1.0)


# --- closed forms ---------------------------------------------------------------------------------------------------


def short_load_group(eps: npt.ArrayLike) -> FloatArray:
    """W c² / (μ U L³) of the short bearing = ε √(π²(1−ε²) + 16 ε²) / (4 (1−ε²)²) (Ocvirk, half-Sommerfeld)."""
    e = np.asarray(eps, dtype=np.float64)
    return np.asarray(e * np.sqrt(np.pi**2 * (1 - e**2) + 16 * e**2) / (4 * (1 - e**2) ** 2))


def short_sommerfeld(eps: npt.ArrayLike, l_over_d: npt.ArrayLike) -> FloatArray:
    """S = (r/c)² μN/P of the short bearing: with U = 2πrN and P = W/(LD), S = (D/L)² / (4π · load group)."""
    ratio = np.asarray(l_over_d, dtype=np.float64)
    return np.asarray(1.0 / (4.0 * np.pi * ratio**2 * short_load_group(eps)))


def short_attitude_deg(eps: npt.ArrayLike) -> FloatArray:
    """Attitude angle [°] of the short bearing: tan φ = π √(1−ε²) / (4 ε)."""
    e = np.asarray(eps, dtype=np.float64)
    return np.asarray(np.degrees(np.arctan2(np.pi * np.sqrt(1 - e**2), 4 * e)))


def short_eccentricity(sommerfeld: npt.ArrayLike, l_over_d: float) -> FloatArray:
    """ε of the short bearing for S, by interpolation on a fine grid of the closed form (error under 1e-6)."""
    eps = _fine_grid()
    ln_s = np.log(short_sommerfeld(eps, l_over_d))
    return np.asarray(np.interp(-np.log(np.asarray(sommerfeld, dtype=np.float64)), -ln_s, eps))


def petroff_friction(mu_mpas: npt.ArrayLike, rev_s: npt.ArrayLike, p_mpa: npt.ArrayLike, r_over_c: float) -> FloatArray:
    """f = 2π² (μN/P)(r/c), the unloaded bearing (Petroff); μ [mPa·s], N [1/s], P [MPa]."""
    mu, n, p = (np.asarray(v, dtype=np.float64) for v in (mu_mpas, rev_s, p_mpa))
    return np.asarray(2 * np.pi**2 * mu * 1e-3 * n / (p * 1e6) * r_over_c)


def petroff_loss_w(mu_mpas: float, rev_s: float, r_mm: float, length_mm: float, radial_mm: float) -> float:
    """Power 8π³ μ N² r³ L / c [W] of the unloaded bearing."""
    return float(8 * np.pi**3 * mu_mpas * 1e-3 * rev_s**2 * (r_mm * 1e-3) ** 3 * length_mm / radial_mm)


def side_leakage(u: npt.ArrayLike) -> FloatArray:
    """G(u) = (u²/3) / (1 − tanh(u)/u), 1 at u = 0; u [-] at least 0.05."""
    u = np.asarray(u, dtype=np.float64)
    return np.asarray((u**2 / 3.0) / (1.0 - np.tanh(u) / u))


def side_leakage_argument(factor: npt.ArrayLike) -> FloatArray:
    """u from G(u), by interpolation on a fine grid; factor [-] from 1.001."""
    grid = np.geomspace(0.05, 60.0, 6000)
    return np.asarray(np.exp(np.interp(np.log(factor), np.log(side_leakage(grid)), np.log(grid))))


# --- the tables -----------------------------------------------------------------------------------------------------


def film_tables(table: Mapping[str, Any]) -> FilmTables:
    """The `raimondi_boyd` resource, turned into what is interpolated."""
    tables = sorted(table["table"], key=lambda t: float(t["l_over_d"]))
    ratios = tuple(float(t["l_over_d"]) for t in tables)
    data = np.array([sorted(t["rows"], key=lambda row: -row[0]) for t in tables], dtype=np.float64)
    eps = 1.0 - data[0, :, 0]
    S = data[:, :, 1]
    short = np.array([short_sommerfeld(eps, ratio) for ratio in ratios])
    return FilmTables(
        l_over_d=ratios,
        eps=eps,
        leakage=side_leakage_argument(S / short) / np.array(ratios)[:, None],
        friction_ratio=data[:, :, 3] / (2 * np.pi**2 * S),
        flow=data[:, :, 4],
        side=data[:, :, 5],
        pressure=data[:, :, 6],
        phi=data[:, :, 2],
        source=table["source"],
    )


@dataclass(frozen=True, slots=True)
class _Curves:
    """One L/D on a fine grid of ε: everything is read off by ln S."""

    eps: FloatArray
    minus_ln_s: FloatArray
    friction_ratio: FloatArray
    flow: FloatArray
    side: FloatArray
    pressure: FloatArray
    phi: FloatArray


@lru_cache(maxsize=1)
def _fine_grid() -> FloatArray:
    """ε from 0 to 0.97, closer where the film is thin."""
    return np.asarray(EPS_HIGH - (EPS_HIGH - EPS_LOW) * np.linspace(1.0, 0.0, GRID) ** 1.5)


def _lagrange(x: float, nodes: tuple[float, ...]) -> FloatArray:
    """Weights of the polynomial through `nodes`, at x."""
    weights = [
        np.prod([(x - other) / (node - other) for other in nodes if other != node], dtype=np.float64) for node in nodes
    ]
    return np.asarray(weights, dtype=np.float64)


def monotone_cubic(x: FloatArray, y: FloatArray, at: FloatArray) -> FloatArray:
    """Cubic pieces through the points (x ascending, at least three) that rise and fall only where these do, at `at`.
    The outermost pieces go on beyond the ends.

    PCHIP: the slope at a point is the weighted harmonic mean of those on both sides, zero where these turn (F. N.
    Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304, from memory). SciPy has it too, and the tests
    hold the two together; its package takes as long to import as a page takes to be drawn."""
    width, rise = np.diff(x), np.diff(y) / np.diff(x)
    on = np.flatnonzero(rise[:-1] * rise[1:] > 0.0)  # pieces that go on in the next one as they came
    before, after = width[on] + 2.0 * width[on + 1], 2.0 * width[on] + width[on + 1]
    slope = np.zeros(len(x))
    slope[on + 1] = (before + after) / (before / rise[on] + after / rise[on + 1])
    slope[0] = _end_slope(width[0], width[1], rise[0], rise[1])
    slope[-1] = _end_slope(width[-1], width[-2], rise[-1], rise[-2])
    piece = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(width) - 1)
    t, left, right, chord = (at - x[piece]) / width[piece], slope[piece], slope[piece + 1], rise[piece]
    bend, twist = 3.0 * chord - 2.0 * left - right, left + right - 2.0 * chord
    return np.asarray(y[piece] + width[piece] * t * (left + t * (bend + t * twist)))


def _end_slope(width: float, next_width: float, rise: float, next_rise: float) -> float:
    """Slope at an end: that of the parabola through the two pieces beside it, held back where it would overshoot."""
    slope = ((2.0 * width + next_width) * rise - width * next_rise) / (width + next_width)
    if slope * rise <= 0.0:
        return 0.0
    if rise * next_rise < 0.0 and abs(slope) > abs(3.0 * rise):
        return 3.0 * rise
    return slope


@lru_cache(maxsize=256)
def _curves(tables: FilmTables, l_over_d: float) -> _Curves:
    """Across L/D: the parabola in ln(L/D) through the three tables, below the shortest its own value. Across ε: a
    monotone cubic (PCHIP) through the tabulated rows and the known limits of a centred journal."""
    eps = _fine_grid()
    clipped = float(np.clip(l_over_d, tables.l_over_d[0], tables.l_over_d[-1]))
    inner = _lagrange(float(np.log(clipped)), tuple(float(np.log(v)) for v in tables.l_over_d))

    def along(values: FloatArray, weights: FloatArray, at_zero: float | None) -> FloatArray:
        rows = weights @ values
        x, y = tables.eps, rows
        if at_zero is not None:
            x, y = np.concatenate(([0.0], x)), np.concatenate(([at_zero], y))
        return monotone_cubic(x, y, eps)

    kappa = along(tables.leakage, inner, None)
    ln_s = np.log(short_sommerfeld(eps, l_over_d) * side_leakage(kappa * l_over_d))
    return _Curves(
        eps=eps,
        minus_ln_s=-ln_s,
        friction_ratio=along(tables.friction_ratio, inner, 1.0),
        flow=along(tables.flow, inner, float(np.pi)),
        side=along(tables.side, inner, 0.0),
        pressure=along(tables.pressure, inner, None),
        phi=along(tables.phi, inner, 90.0),
    )


# --- the film -------------------------------------------------------------------------------------------------------


def film(
    bearing: Bearing,
    load_n: npt.ArrayLike,
    speed_rpm: npt.ArrayLike,
    mu_mpas: npt.ArrayLike,
    tables: FilmTables,
) -> Film:
    """The film under a steady load; `mu_mpas` is the dynamic viscosity at the film's own temperature [mPa·s].

    Raises BenchProblem for a bearing outside L/D 0.1 to 1, or a load, speed, viscosity or clearance that is not above
    zero. NaN in gives NaN out."""
    check_bearing(bearing)
    load = _positive("bearing load", load_n, "N")
    n = _positive("engine speed", speed_rpm, "rpm") / 60.0
    mu = _positive("oil viscosity", mu_mpas, "mPa·s") * 1e-3
    load, n, mu = np.broadcast_arrays(load, n, mu)
    r, c, length = bearing.diameter_mm * 5e-4, bearing.radial_um * 1e-6, bearing.length_mm * 1e-3
    p = load / (length * 2 * r)
    S = (r / c) ** 2 * mu * n / p
    curves = _curves(tables, bearing.l_over_d)
    x = -np.log(S)
    eps = np.interp(x, curves.minus_ln_s, curves.eps)
    friction = np.interp(x, curves.minus_ln_s, curves.friction_ratio) * 2 * np.pi**2 * S * c / r
    side = np.interp(x, curves.minus_ln_s, curves.side)
    flow = np.interp(x, curves.minus_ln_s, curves.flow) * r * c * n * length
    loss = friction * load * 2 * np.pi * r * n
    short = short_eccentricity(S, bearing.l_over_d)
    return Film(
        sommerfeld=np.asarray(S),
        eccentricity=np.asarray(eps),
        min_film_um=np.asarray(c * (1 - eps) * 1e6),
        attitude_deg=np.asarray(np.interp(x, curves.minus_ln_s, curves.phi)),
        friction=np.asarray(friction),
        loss_w=np.asarray(loss),
        flow_cm3_s=np.asarray(flow * 1e6),
        side_share=np.asarray(side),
        mean_pressure_mpa=np.asarray(p * 1e-6),
        max_pressure_mpa=np.asarray(p * 1e-6 / np.interp(x, curves.minus_ln_s, curves.pressure)),
        rise_k=np.asarray(loss / (flow * (1 - side / 2) * HEAT_J_CM3_K * 1e6)),
        short_min_film_um=np.asarray(c * (1 - short) * 1e6),
        beyond_table=np.asarray(x > curves.minus_ln_s[-1]),
    )


@lru_cache(maxsize=256)
def check_bearing(bearing: Bearing) -> None:
    """Raises BenchProblem for a size that is none or an L/D outside the tables."""
    for what, value in (
        ("journal diameter", bearing.diameter_mm),
        ("bearing length", bearing.length_mm),
        ("bearing clearance", bearing.clearance_mm),
    ):
        _positive(f"{what} of {bearing.name}", value, "mm")
    if bearing.clearance_mm > 0.01 * bearing.diameter_mm:
        raise BenchProblem(
            f"The clearance of {bearing.name} is {bearing.clearance_mm:g} mm on a {bearing.diameter_mm:g} mm journal.",
            "That is ten times what bearings have, so no film was computed: probably a slip of the decimal point.",
            "Enter the diametral clearance in mm; about a thousandth of the diameter is usual.",
        )
    within(
        f"length over diameter of {bearing.name}",
        bearing.l_over_d,
        L_OVER_D_LOW,
        L_OVER_D_HIGH,
        "",
        L_OVER_D_SOURCE,
    )


def _positive(what: str, values: npt.ArrayLike, unit: str) -> FloatArray:
    numbers = np.asarray(values, dtype=np.float64)
    if np.any(numbers <= 0.0) or np.any(np.isinf(numbers)):
        raise BenchProblem(
            f"The {what} is {float(numbers[(numbers <= 0.0) | np.isinf(numbers)].flat[0]):g} {unit}.",
            "No film can be computed for it.",
            f"Enter a {what} above zero.",
        )
    return numbers
