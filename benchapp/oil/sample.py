"""The oil of one sample in its place: fill, run and earlier fills looked up, then judged. What view, call and
sheet show."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

from benchapp.oil.condition import OilVerdict, assess, used_line
from benchapp.oil.film import Bearing, LoadCase
from benchapp.oil.floating import (
    FilmCheck,
    GradeAnswer,
    OilState,
    bearings_of,
    grade_for_film,
    side_by_side,
    usual_clearance_mm,
)
from benchapp.oil.fuel import BenchBlend
from benchapp.oil.life import HoursLeft, hours_left
from benchapp.oil.rules import OilRules
from benchapp.problems import BenchProblem
from benchapp.records import Build, Engine, Fill, Fleet, Oil, OwnBearing, Reading, Run, Sample

USUAL_PRESSURE_MPA = 8.0
"""Steady load on the projected bearing area where none is entered [MPa]. Own default, common practice, no source:
it serves to compare oils and states, and is shown with this origin."""

HOTTEST_GRADE_C = 150.0
"""Oil temperature [°C] up to which the grade question is answered: the span of the plain grades' fit."""

FUELS = {"leaded": "petrol", "unleaded": "petrol", "": "petrol", "ethanol": "ethanol", "methanol": "methanol"}


@dataclass(frozen=True, slots=True)
class BearingFilm:
    """One bearing: in the fresh oil and in the oil as sampled, and which grade keeps it floating."""

    fresh: FilmCheck | None
    """None where the fresh oil's viscosities are not known."""
    now: FilmCheck
    grade: GradeAnswer | None
    """None where the oil is hotter than the grades' fit."""
    load_origin: str
    measured: bool = False
    """Whether sizes, clearance and load were all entered: else it compares oils and proves nothing about a limit."""

    @property
    def lost(self) -> tuple[str, ...]:
        """Limits of the film that the fresh oil kept and the oil as sampled does not."""
        kept = {line.name for line in self.fresh.lines if line.holds} if self.fresh is not None else set()
        return tuple(line.name for line in self.now.lines if not line.holds and line.name in kept)

    def words(self) -> str:
        """'rod bearing: film 5.4 µm fresh, 4.8 µm as sampled, at 112 °C and 7000 rpm; design minimum 7.1 µm'."""
        now = self.now
        thin = "at most " if now.beyond_table else ""
        fresh = f"{self.fresh.min_film_um:.2f} µm fresh, " if self.fresh is not None else ""
        least = next(line.limit for line in now.lines if line.name == "film")
        said = f"{now.bearing.name}: film {fresh}{thin}{now.min_film_um:.2f} µm as sampled"
        where = f"at {now.oil_c:.0f} °C and {now.case.speed_rpm:.0f} rpm"
        return f"{said}, {where}; design minimum {least:.1f} µm ({self.word}; {self.stands_on})"

    @property
    def word(self) -> str:
        """What the film does: 'floating', 'close to touching', 'touching', 'not floating'."""
        return self.now.text.rpartition(": ")[2]

    @property
    def stands_on(self) -> str:
        """'measured', or that a usual load or clearance stands in, which proves nothing."""
        return "measured" if self.measured else "usual load or clearance, to compare only"


@dataclass(frozen=True, slots=True)
class SampleOil:
    """All that is said of the oil of one sample."""

    sample: str
    oil: str
    verdict: OilVerdict
    hours: HoursLeft
    films: tuple[BearingFilm, ...]
    run_text: str
    """Where the oil temperature is from."""
    refused: tuple[str, ...]
    """What was not computed because a value lies outside the range of its formula."""

    def words(self) -> tuple[str, ...]:
        """The oil in a few lines, most important first, for the sheet; its films are in `film_words`."""
        lines = [self.verdict.sentence]
        lines += [f"{line.text} ({line.limit_text})" for line in self.verdict.lines if line.state in ("done", "watch")]
        if self.verdict.grade is not None and self.verdict.grade.in_kv100 is False:
            lines.append(self.verdict.grade.text)
        if self.verdict.fuel is not None and self.verdict.fuel.high_pct >= 1.0:
            lines.append(self.verdict.fuel.text)
        if self.hours.first is not None:
            lines.append(self.hours.text)
        return (*lines, *self.verdict.notes, *self.refused)

    def film_words(self) -> tuple[str, ...]:
        """Each bearing's film before and after, and which grade keeps it, measured ones first."""
        said = []
        for film in sorted(self.films, key=lambda film: (not film.measured, film.now.min_film_um)):
            grade = f" {film.grade.short}." if film.grade is not None else ""
            said.append(f"{film.words()}.{grade}")
        return tuple(said)


def oil_of_sample(
    fleet: Fleet,
    engine: Engine,
    build: Build,
    sample: Sample,
    rules: OilRules,
    *,
    sizes: Mapping[str, float] | None = None,
    bearings: Sequence[Bearing] | None = None,
    load_case: LoadCase | None = None,
    bench: BenchBlend | None = None,
    fresh_more: Mapping[str, float] | None = None,
) -> SampleOil | None:
    """The oil of this sample, or None where its fill or its oil is not recorded.

    Limits, bench blends and fresh values set for the oil, and bearings measured in the build, are those of the
    records. Without such bearings: `sizes` of the family with the rule-of-thumb clearance. `bearings`, `load_case`
    (None: a usual pressure at the run's highest speed), `bench` (at 100 °C) and `fresh_more` stand in front of the
    records. Never raises for a value: see `refused`."""
    fill = next((fill for fill in build.fills if fill.name == sample.fill), None)
    oil = fleet.oils.get(fill.oil) if fill is not None else None
    if fill is None or oil is None:
        return None
    run = run_before(build, sample.build_h)
    rules, unset = rules.for_oil(oil)
    fuel = FUELS.get(run.fuel if run is not None else "", "petrol")
    verdict = assess(
        oil,
        sample.readings,
        rules,
        run_c=run.oil_temp_c if run is not None else None,
        fuel=fuel,
        bench=bench or blend_of(oil, fuel, 100.0),
        bench_40=blend_of(oil, fuel, 40.0),
        fresh_more=fresh_more,
    )
    films, refused = _films_or_why(oil, sample, run, rules, _shells(build, run, rules, sizes, bearings, load_case))
    return SampleOil(
        sample=sample.code,
        oil=oil.name,
        verdict=verdict,
        hours=hours_of_fill(engine, build, fill, oil, rules, sample.build_h),
        films=films,
        run_text=_run_words(run),
        refused=tuple(dict.fromkeys((*unset, *verdict.refused, *refused))),
    )


def hours_of_fill(
    engine: Engine, build: Build, fill: Fill, oil: Oil, rules: OilRules, until_h: float = math.inf
) -> HoursLeft:
    """Hours left on a fill from its samples up to `until_h` build hours and from earlier fills of the same oil."""
    return hours_left(oil, _fill_samples(build, fill, until_h), rules, _earlier(engine, build, fill))


def blend_of(oil: Oil, fuel: str, at_c: float) -> BenchBlend | None:
    """The bench blend of this oil with that fuel, measured at `at_c` [°C]; the last one where there are several."""
    found = [blend for blend in oil.blends if blend.fuel == fuel and blend.at_c == at_c]
    return BenchBlend(found[-1].fuel_pct, found[-1].kv_cst) if found else None


def run_before(build: Build, build_h: float) -> Run | None:
    """The last run that had begun before `build_h` [h] with an oil temperature, else the last one at all."""
    begun = [
        run
        for run, end in zip(build.runs, accumulate(run.hours for run in build.runs), strict=True)
        if end - run.hours < build_h + 1e-6
    ]
    warm = [run for run in begun if run.oil_temp_c is not None]
    if warm or begun:
        return (warm or begun)[-1]
    return None


def _fill_samples(build: Build, fill: Fill, until_h: float) -> list[tuple[float, Sequence[Reading]]]:
    """(hours on the oil, readings) of the samples of a fill up to `until_h` build hours."""
    return [
        (sample.build_h - fill.build_h if sample.oil_h is None else sample.oil_h, sample.readings)
        for sample in build.samples
        if sample.fill == fill.name and sample.build_h <= until_h + 1e-6
    ]


def _earlier(engine: Engine, build: Build, fill: Fill) -> list[list[tuple[float, Sequence[Reading]]]]:
    """Samples of earlier fills of this engine with the same oil, builds before this one included."""
    found = []
    for other in engine.builds:
        own = other.number == build.number
        holder = build if own else other
        fills = [past for past in holder.fills if past.oil == fill.oil and (not own or past.build_h < fill.build_h)]
        found += [_fill_samples(holder, past, math.inf) for past in fills]
        if own:
            break
    return [samples for samples in found if samples]


@dataclass(frozen=True, slots=True)
class _Shell:
    """A bearing with all that its film is reckoned from. `case` None: neither a load case nor a speed is known."""

    bearing: Bearing
    case: LoadCase | None
    load_origin: str
    roughness_um: float | None
    measured: bool


def _shells(
    build: Build,
    run: Run | None,
    rules: OilRules,
    sizes: Mapping[str, float] | None,
    bearings: Sequence[Bearing] | None,
    load_case: LoadCase | None,
) -> Callable[[], list[_Shell]]:
    """What the films are of: given bearings, else those measured in the build, else the family's sizes."""

    def made() -> list[_Shell]:
        if bearings is None and build.bearings:
            return [_own_shell(own, run, rules) for own in build.bearings]
        found = []
        for bearing in bearings_of(sizes or {}, rules) if bearings is None else bearings:
            case, origin = (load_case, "entered") if load_case is not None else _usual_case(bearing, run)
            found.append(_Shell(bearing, case, origin, None, bearings is not None and load_case is not None))
        return found

    return made


def _own_shell(own: OwnBearing, run: Run | None, rules: OilRules) -> _Shell:
    """A measured bearing; what was not measured of it is a default, and then it proves nothing about a limit."""
    clearance, origin = own.clearance_mm, "entered"
    if clearance is None:
        clearance = usual_clearance_mm(own.diameter_mm, rules)[1]
        origin = f"clearance: {rules.bearing.clearance_source}"
    bearing = Bearing(own.name, own.diameter_mm, own.length_mm, clearance, origin)
    speed = own.speed_rpm or (run.max_rpm if run is not None else None)
    if own.load_n is None or not speed:
        case, load_origin = _usual_case(bearing, run, speed)
    else:
        case, load_origin = LoadCase(own.load_case or "entered", own.load_n, speed), own.load_case or "entered"
    measured = own.clearance_mm is not None and own.load_n is not None
    return _Shell(bearing, case, load_origin, own.roughness_um, measured)


def _usual_case(bearing: Bearing, run: Run | None, speed: float | None = None) -> tuple[LoadCase | None, str]:
    """A usual pressure at `speed` [rpm], else at the run's highest; (None, '') where no speed is known."""
    rpm = speed or (run.max_rpm if run is not None else None)
    if rpm is None or rpm <= 0.0:
        return None, ""
    load = USUAL_PRESSURE_MPA * bearing.diameter_mm * bearing.length_mm
    origin = f"{USUAL_PRESSURE_MPA:g} MPa on the projected area: own default, common practice, no source"
    return LoadCase(f"{rpm:.0f} rpm", load, rpm), origin


def _films_or_why(
    oil: Oil, sample: Sample, run: Run | None, rules: OilRules, shells: Callable[[], list[_Shell]]
) -> tuple[tuple[BearingFilm, ...], tuple[str, ...]]:
    """Films, and why there are none of some: one bearing that cannot be does not hide the others."""
    films: list[BearingFilm] = []
    refused: list[str] = []
    try:
        states = _states(oil, sample, rules)
        if run is None or run.oil_temp_c is None or not states:
            return (), ()
        all_shells = shells()
    except BenchProblem as problem:
        return (), (f"{problem.what} {problem.means}",)
    for shell in all_shells:
        if shell.case is None:
            continue
        try:
            films.append(_film(shell, shell.case, states, run.oil_temp_c, rules))
        except BenchProblem as problem:
            refused.append(f"{problem.what} {problem.means}")
    return tuple(films), tuple(refused)


def _film(
    shell: _Shell, case: LoadCase, states: tuple[OilState, ...], oil_c: float, rules: OilRules
) -> BearingFilm:
    """The film of one bearing in each state of the oil, and which grade keeps it."""
    rough = shell.roughness_um
    checks = {c.oil: c for c in side_by_side(shell.bearing, case, states, oil_c, rules, roughness_um=rough)}
    grade = None
    if oil_c <= HOTTEST_GRADE_C:
        grade = grade_for_film(shell.bearing, case, oil_c, rules, roughness_um=rough)
    return BearingFilm(checks.get("fresh"), checks["as sampled"], grade, shell.load_origin, shell.measured)


def _states(oil: Oil, sample: Sample, rules: OilRules) -> tuple[OilState, ...]:
    """Fresh (where known) and as sampled; () where the sample's viscosity cannot be known at the run's temperature."""
    now = {
        name: [r.value for r in sample.readings if r.measurand == name and r.value is not None and not r.qualifier]
        for name in ("KV40", "KV100")
    }
    kv40, kv100 = (sum(v) / len(v) if v else float("nan") for v in now.values())
    fresh40, fresh100 = (float("nan") if v is None else v for v in (oil.kv40_cst, oil.kv100_cst))
    rho = oil.density_15c_kg_l or rules.density_15c_kg_l
    states = []
    for name, a, b in (("fresh", fresh40, fresh100), ("as sampled", kv40, kv100)):
        line = used_line(a, b, fresh40, fresh100)
        if not math.isnan(float(line.A)):
            states.append(OilState(name, line, rho))
    return tuple(states) if any(state.name == "as sampled" for state in states) else ()


def _run_words(run: Run | None) -> str:
    if run is None or run.oil_temp_c is None:
        return "No oil temperature in the run log before this sample."
    return f"Oil at {run.oil_temp_c:.0f} °C in the last run with a temperature ({run.kind})."
