"""Is the bearing still floating: the film of a build's bearings at the run's oil temperature, held against limits.

`film` computes; here its result meets the oil (fresh, used, diluted), the design limits and the words for a person. A
steady-load model of a rigid, aligned bearing: it compares oils and states, it proves nothing safe.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from benchapp.oil.bounds import FloatArray, within
from benchapp.oil.density import density_at, dynamic_viscosity
from benchapp.oil.film import MPA_PER_PSI, Bearing, Film, LoadCase, film
from benchapp.oil.rules import OilRules, StraightGrade
from benchapp.oil.viscosity import T_HIGH, T_LOW, T_SOURCE, TemperatureLine
from benchapp.problems import BenchProblem

MPAS_PER_MICROREYN = 6.894757
CLEARANCE_STEP_MM = 0.0127
"""Loose and tight about the rule of thumb: 0.0005 inch."""

FULL_FILM = 3.0
"""Film over combined roughness from which surfaces stay apart: common practice, no source."""
MIXED_FILM = 1.0
"""... below which they touch: common practice, no source."""

FLOATING_LINES = ("film over roughness", "film at overload")
HEAT_PASSES = 7
"""Each pass halves the step and the film answers against it: seven settle the temperature within 0.1 K."""
STRAIGHT_LOW, STRAIGHT_HIGH = 10.0, 150.0
STRAIGHT_SOURCE = "span of Shigley fig. 12-13, from memory"
CAUTION = (
    "A steady load on a rigid, round, aligned bearing: a real big end is none of these. Use it to compare oils and "
    "states, not as proof of safety."
)


@dataclass(frozen=True, slots=True)
class OilState:
    """An oil in one state ('fresh', 'as sampled', '5 % fuel')."""

    name: str
    line: TemperatureLine
    density_15c_kg_l: float


@dataclass(frozen=True, slots=True)
class FilmLine:
    """One limit and how the film stands to it."""

    name: str
    text: str
    value: float
    limit: float
    unit: str
    source: str
    holds: bool


@dataclass(frozen=True, slots=True)
class FilmCheck:
    """One bearing, one load case, one oil."""

    bearing: Bearing
    case: LoadCase
    oil: str
    oil_c: float
    film_c: float
    """Temperature at which the viscosity was taken [°C]: the oil's own, or that plus half its rise in the bearing."""
    mu_mpas: float
    min_film_um: float
    short_min_film_um: float
    short_error: float
    """How far the short-bearing film lies above the finite one, as a share."""
    rise_k: float
    loss_w: float
    mean_pressure_mpa: float
    max_pressure_mpa: float
    beyond_table: bool
    lines: tuple[FilmLine, ...]
    floats: bool
    """Whether the film clears the roughness, at the load and at the load factor."""
    within_design: bool
    """Whether every published design limit holds: they are general machinery's, and race bearings run below them."""
    text: str


@dataclass(frozen=True, slots=True)
class GradeRow:
    """Film of a plain oil of one SAE grade; 0 µm where the load is beyond the tables."""

    grade: str
    mu_mpas: float
    min_film_um: float
    floats: bool
    within_design: bool


@dataclass(frozen=True, slots=True)
class GradeAnswer:
    """Which SAE grade keeps the film at this clearance and temperature."""

    rows: tuple[GradeRow, ...]
    thinnest: str | None
    """Thinnest grade on which the bearing floats, None where none does."""
    thinnest_by_design: str | None
    """Thinnest grade that also keeps the design minimum of general machinery."""
    text: str
    short: str
    """The answer in a few words, for a page: 'Floats from SAE 30 on'."""
    source: str


# --- bearings and loads ---------------------------------------------------------------------------------------------


def usual_clearance_mm(diameter_mm: float, rules: OilRules) -> tuple[float, float, float]:
    """Diametral clearance (tight, usual, loose) [mm] by the rule of thumb: a thousandth of the journal, ± 0.0005 inch.

    Common practice (trade magazines). Raises BenchProblem for a diameter outside 10 to 300 mm."""
    d = float(within("journal diameter", diameter_mm, 10.0, 300.0, "mm", "journals of engines"))
    usual = d * rules.bearing.clearance_per_diameter
    return max(usual - CLEARANCE_STEP_MM, 0.0), usual, usual + CLEARANCE_STEP_MM


def bearings_of(sizes: Mapping[str, float], rules: OilRules) -> tuple[Bearing, ...]:
    """Main, rod and rotor bearings of a family from its `sizes` table [mm], with the rule-of-thumb clearance.

    Empty where the family has no plain bearings."""
    found = []
    for which in ("main", "rod", "rotor"):
        diameter, length = sizes.get(f"{which}_diameter_mm"), sizes.get(f"{which}_length_mm")
        if diameter and length:
            clearance = usual_clearance_mm(diameter, rules)[1]
            found.append(Bearing(f"{which} bearing", diameter, length, clearance, rules.bearing.clearance_source))
    return tuple(found)


def gas_load_n(bore_mm: float, peak_bar: float) -> float:
    """Gas force on the piston [N]: peak cylinder pressure [bar] times bore area."""
    return math.pi / 4.0 * (bore_mm * 1e-3) ** 2 * peak_bar * 1e5


def inertia_load_n(
    reciprocating_kg: float, rotating_kg: float, stroke_mm: float, speed_rpm: float, rod_ratio: float = 3.5
) -> float:
    """Inertia force at top dead centre [N]: (m_rec (1 + r/l) + m_rot) r ω², first two orders of the slider crank.

    `rod_ratio` rod length over crank radius l/r [-]. Textbook mechanics."""
    r, omega = stroke_mm * 5e-4, speed_rpm * 2.0 * math.pi / 60.0
    return (reciprocating_kg * (1.0 + 1.0 / rod_ratio) + rotating_kg) * r * omega**2


# --- the film at the run's temperature ------------------------------------------------------------------------------


def oil_film(
    bearing: Bearing,
    load_n: npt.ArrayLike,
    speed_rpm: npt.ArrayLike,
    oil: OilState,
    oil_c: npt.ArrayLike,
    rules: OilRules,
    *,
    own_heat: bool = False,
) -> tuple[Film, FloatArray]:
    """Film and the temperature [°C] its viscosity was taken at, for arrays of samples.

    `own_heat`: the film runs at the oil's temperature plus half its rise in the bearing (settled by repeated passes);
    else at the oil's temperature, as the run log has it. Raises BenchProblem as `film` and outside −40 to 200 °C."""
    entry = within("oil temperature", oil_c, T_LOW, T_HIGH, "°C", T_SOURCE, or_nan=True)
    at = np.asarray(entry)
    found = film(bearing, load_n, speed_rpm, _mu(oil, at), rules.film)
    for _ in range(HEAT_PASSES if own_heat else 0):
        at = np.minimum(0.5 * at + 0.5 * (entry + found.rise_k / 2.0), T_HIGH)
        found = film(bearing, load_n, speed_rpm, _mu(oil, at), rules.film)
    return found, at


def check_film(
    bearing: Bearing,
    case: LoadCase,
    oil: OilState,
    oil_c: float,
    rules: OilRules,
    *,
    roughness_um: float | None = None,
    start_load_n: float | None = None,
    own_heat: bool = False,
) -> FilmCheck:
    """One bearing in one oil against roughness and the published design limits.

    `roughness_um` combined roughness of journal and shell [µm] (None: the default of the rules); `start_load_n` load
    while the engine is cranked [N]. Raises BenchProblem as `oil_film`."""
    loads = np.array([case.load_n, case.load_n * rules.bearing.load_factor])
    both, temperatures = oil_film(bearing, loads, case.speed_rpm, oil, oil_c, rules, own_heat=own_heat)
    at = float(temperatures.flat[0])
    found, overload = _one(both, 0), _one(both, 1)
    h = float(found.min_film_um)
    mu = float(_mu(oil, at))
    rough = rules.bearing.roughness_um if roughness_um is None else roughness_um
    lines = _film_lines(bearing, case, (found, overload), mu, oil_c, rough, rules)
    if start_load_n is not None:
        lines.append(_start_line(bearing, start_load_n, rules))
    return FilmCheck(
        bearing=bearing,
        case=case,
        oil=oil.name,
        oil_c=oil_c,
        film_c=at,
        mu_mpas=mu,
        min_film_um=h,
        short_min_film_um=float(found.short_min_film_um),
        short_error=float(found.short_error),
        rise_k=float(found.rise_k),
        loss_w=float(found.loss_w),
        mean_pressure_mpa=float(found.mean_pressure_mpa),
        max_pressure_mpa=float(found.max_pressure_mpa),
        beyond_table=bool(found.beyond_table),
        lines=tuple(lines),
        floats=all(line.holds for line in lines if line.name in FLOATING_LINES),
        within_design=all(line.holds for line in lines),
        text=_film_text(bearing, oil.name, h, h / rough, bool(found.beyond_table)),
    )


def side_by_side(
    bearing: Bearing, case: LoadCase, oils: Sequence[OilState], oil_c: float, rules: OilRules, **options: float | None
) -> tuple[FilmCheck, ...]:
    """The same bearing and load in several oils (fresh, as sampled, diluted); `options` as in `check_film`."""
    roughness, start = options.get("roughness_um"), options.get("start_load_n")
    return tuple(
        check_film(bearing, case, oil, oil_c, rules, roughness_um=roughness, start_load_n=start) for oil in oils
    )


def straight_mu_mpas(grade: StraightGrade, celsius: npt.ArrayLike) -> FloatArray:
    """Dynamic viscosity [mPa·s] of a plain oil of an SAE grade at `celsius` [°C].

    μ = mu0 exp(b / (T_F + 95)) microreyn (Seireg and Dandage, with Shigley fig. 12-13). Raises BenchProblem outside 10
    to 150 °C, about the span of that figure."""
    t = within("oil temperature", celsius, STRAIGHT_LOW, STRAIGHT_HIGH, "°C", STRAIGHT_SOURCE, or_nan=True)
    return np.asarray(grade.mu0 * np.exp(grade.b / (t * 1.8 + 32.0 + 95.0)) * MPAS_PER_MICROREYN)


def grade_for_film(
    bearing: Bearing, case: LoadCase, oil_c: float, rules: OilRules, *, roughness_um: float | None = None
) -> GradeAnswer:
    """Which SAE grade keeps the film, the film's own heat counted.

    A grade floats the bearing where the film keeps `FULL_FILM` times the roughness at the load factor of the rules;
    beside it the grade that also keeps the design minimum at the load itself. By plain oils of each grade: a multigrade
    thins under shear, so it needs its measured high-shear viscosity. Raises BenchProblem as `film` and
    `straight_mu_mpas`."""
    rough = rules.bearing.roughness_um if roughness_um is None else roughness_um
    least = rules.bearing.min_film_um(bearing.diameter_mm)
    loads = np.array([case.load_n, case.load_n * rules.bearing.load_factor])
    at = np.full((len(rules.straight), 2), float(oil_c))
    for _ in range(HEAT_PASSES):
        mu = np.array([straight_mu_mpas(grade, t) for grade, t in zip(rules.straight, at, strict=True)])
        found = film(bearing, loads, case.speed_rpm, mu, rules.film)
        at = np.minimum(0.5 * at + 0.5 * (oil_c + found.rise_k / 2.0), STRAIGHT_HIGH)
    films = np.where(found.beyond_table, 0.0, found.min_film_um)
    rows = [
        GradeRow(
            grade=grade.grade,
            mu_mpas=float(mu[n, 0]),
            min_film_um=float(films[n, 0]),
            floats=bool(films[n, 1] >= FULL_FILM * rough),
            within_design=bool(films[n, 0] >= least),
        )
        for n, grade in enumerate(rules.straight)
    ]
    thinnest = next((row.grade for row in rows if row.floats), None)
    by_design = next((row.grade for row in rows if row.within_design), None)
    text = _grade_text(bearing, oil_c, thinnest, by_design, least, rows[-1].grade)
    short = _grade_short(thinnest, by_design, rows[-1].grade)
    return GradeAnswer(tuple(rows), thinnest, by_design, text, short, rules.straight_source)


def _grade_short(thinnest: str | None, by_design: str | None, thickest: str) -> str:
    if thinnest is None:
        return f"No plain grade up to SAE {thickest} keeps the surfaces apart at twice the load"
    design = f"none up to SAE {thickest} keeps" if by_design is None else f"from SAE {by_design} on it keeps"
    return f"Grade: from SAE {thinnest} on it floats at twice the load, {design} the design minimum"


def _grade_text(
    bearing: Bearing, oil_c: float, thinnest: str | None, by_design: str | None, least_um: float, thickest: str
) -> str:
    where = f"{bearing.name} at {bearing.clearance_mm:.3f} mm clearance and {oil_c:.0f} °C"
    if thinnest is None:
        return f"{where}: no grade up to SAE {thickest} keeps the surfaces apart at twice the load."
    design = f"no grade up to SAE {thickest} reaches" if by_design is None else f"SAE {by_design} reaches"
    return (
        f"{where}: from SAE {thinnest} on the surfaces stay apart at twice the load; {design} the design minimum of "
        f"{least_um:.1f} µm. A steady-load model: to compare, not to prove."
    )


# --- inside ---------------------------------------------------------------------------------------------------------


def _mu(oil: OilState, celsius: npt.ArrayLike) -> FloatArray:
    return dynamic_viscosity(oil.line.at(celsius), density_at(oil.density_15c_kg_l, celsius))


def _one(films: Film, at: int) -> Film:
    """The film of one of several loads."""
    return Film(**{field.name: np.asarray(getattr(films, field.name)[at]) for field in fields(Film)})


def _film_lines(
    bearing: Bearing,
    case: LoadCase,
    films: tuple[Film, Film],
    mu: float,
    oil_c: float,
    rough_um: float,
    rules: OilRules,
) -> list[FilmLine]:
    if not rough_um > 0.0:
        raise BenchProblem(
            f"The combined roughness is {rough_um:g} µm.",
            "The film cannot be held against it.",
            "Enter a roughness above zero, or leave it empty for the default.",
        )
    limits = rules.bearing
    found, overload = films
    # beyond the tables the film is only known to be at most what is given: nothing holds then
    known, known_over = not bool(found.beyond_table), not bool(overload.beyond_table)
    h, least = float(found.min_film_um), limits.min_film_um(bearing.diameter_mm)
    over_um = float(overload.min_film_um)
    thick = mu * case.speed_rpm / (float(found.mean_pressure_mpa) / MPA_PER_PSI)
    most = limits.max_oil_c
    factor = limits.load_factor
    return [
        FilmLine(
            "film",
            f"film {h:.2f} µm, design minimum {least:.2f} µm",
            h,
            least,
            "µm",
            limits.source,
            known and h >= least,
        ),
        FilmLine(
            "film over roughness",
            f"film {h / rough_um:.1f} times the roughness of {rough_um:.2g} µm, wanted {FULL_FILM:g}",
            h / rough_um,
            FULL_FILM,
            "",
            f"common practice, no source; {limits.roughness_source}",
            known and h / rough_um >= FULL_FILM,
        ),
        FilmLine(
            "film at overload",
            f"film {over_um:.2f} µm at {factor:g} times the load, wanted {MIXED_FILM:g} roughness",
            over_um,
            MIXED_FILM * rough_um,
            "µm",
            f"load factor: {limits.source}; touching: common practice, no source",
            known_over and over_um >= MIXED_FILM * rough_um,
        ),
        FilmLine(
            "oil temperature",
            f"oil at {oil_c:.0f} °C, design maximum {most:.0f} °C",
            oil_c,
            most,
            "°C",
            limits.source,
            oil_c <= most,
        ),
        FilmLine(
            "thick film",
            f"μN/P {thick:.0f} cP·rpm/psi, thick film from {limits.thick_film_mu_n_p:.0f}",
            thick,
            limits.thick_film_mu_n_p,
            "cP·rpm/psi",
            "boundary of thick film as given with Shigley",
            thick >= limits.thick_film_mu_n_p,
        ),
    ]


def _start_line(bearing: Bearing, start_load_n: float, rules: OilRules) -> FilmLine:
    pressure = start_load_n / (bearing.diameter_mm * bearing.length_mm)
    most = rules.bearing.max_start_mpa
    text = f"{pressure:.2f} MPa while cranking, design maximum {most:.2f} MPa"
    return FilmLine("start pressure", text, pressure, most, "MPa", rules.bearing.source, pressure <= most)


def _film_text(bearing: Bearing, oil: str, h: float, over: float, beyond: bool) -> str:
    if beyond:
        return f"{bearing.name}, {oil}: at most {h:.2f} µm of film, the load is beyond the tables: not floating"
    if over >= FULL_FILM:
        word = "floating"
    elif over >= MIXED_FILM:
        word = "close to touching"
    else:
        word = "touching"
    return f"{bearing.name}, {oil}: {h:.2f} µm of film, {over:.1f} times roughness: {word}"
