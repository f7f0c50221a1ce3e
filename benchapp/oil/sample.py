"""The oil of one sample in its place: fill, run and earlier fills looked up, then judged. What view, call and
sheet show."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

from benchapp.oil.condition import OilVerdict, assess, used_line
from benchapp.oil.film import Bearing, LoadCase
from benchapp.oil.floating import FilmCheck, GradeAnswer, OilState, bearings_of, grade_for_film, side_by_side
from benchapp.oil.fuel import BenchBlend
from benchapp.oil.life import HoursLeft, hours_left
from benchapp.oil.rules import OilRules
from benchapp.problems import BenchProblem
from benchapp.records import Build, Engine, Fill, Fleet, Oil, Reading, Run, Sample

USUAL_PRESSURE_MPA = 8.0
"""Steady load on the projected bearing area where none is entered [MPa]. Own default, common practice, no source:
it serves to compare oils and states, and is shown with this origin."""

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
        """The oil in a few lines, most important first, for the sheet."""
        lines = [self.verdict.sentence]
        lines += [f"{line.text} ({line.limit_text})" for line in self.verdict.lines if line.state in ("done", "watch")]
        if self.verdict.grade is not None and self.verdict.grade.in_kv100 is False:
            lines.append(self.verdict.grade.text)
        if self.verdict.fuel is not None and self.verdict.fuel.high_pct >= 1.0:
            lines.append(self.verdict.fuel.text)
        if self.hours.first is not None:
            lines.append(self.hours.text)
        lines += [f"{film.now.text}." for film in self.films if not film.now.floats]
        return (*lines, *self.verdict.notes, *self.refused)


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

    `sizes` of the family (for bearings with the rule-of-thumb clearance) or the build's own `bearings`;
    `load_case` (None: a usual pressure at the run's highest speed); `bench` and `fresh_more` as in
    `condition.assess`. Never raises for a value: see `refused`."""
    fill = next((fill for fill in build.fills if fill.name == sample.fill), None)
    oil = fleet.oils.get(fill.oil) if fill is not None else None
    if fill is None or oil is None:
        return None
    run = run_before(build, sample.build_h)
    run_c = run.oil_temp_c if run is not None else None
    verdict = assess(
        oil,
        sample.readings,
        rules,
        run_c=run_c,
        fuel=FUELS.get(run.fuel if run is not None else "", "petrol"),
        bench=bench,
        fresh_more=fresh_more,
    )
    films, refused = _films_or_why(oil, sample, run, rules, sizes, bearings, load_case)
    return SampleOil(
        sample=sample.code,
        oil=oil.name,
        verdict=verdict,
        hours=hours_left(oil, _fill_samples(build, fill, sample.build_h), rules, _earlier(engine, build, fill)),
        films=films,
        run_text=_run_words(run),
        refused=tuple(dict.fromkeys((*verdict.refused, *refused))),
    )


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


def _films_or_why(
    oil: Oil,
    sample: Sample,
    run: Run | None,
    rules: OilRules,
    sizes: Mapping[str, float] | None,
    bearings: Sequence[Bearing] | None,
    load_case: LoadCase | None,
) -> tuple[tuple[BearingFilm, ...], tuple[str, ...]]:
    try:
        return _films(oil, sample, run, rules, sizes, bearings, load_case), ()
    except BenchProblem as problem:
        return (), (f"{problem.what} {problem.means}",)


def _films(
    oil: Oil,
    sample: Sample,
    run: Run | None,
    rules: OilRules,
    sizes: Mapping[str, float] | None,
    bearings: Sequence[Bearing] | None,
    load_case: LoadCase | None,
) -> tuple[BearingFilm, ...]:
    states = _states(oil, sample, rules)
    if run is None or run.oil_temp_c is None or not states:
        return ()
    shells = bearings_of(sizes or {}, rules) if bearings is None else bearings
    found = []
    for bearing in shells:
        case, origin = _case(bearing, run, load_case)
        if case is None:
            continue
        checks = {check.oil: check for check in side_by_side(bearing, case, states, run.oil_temp_c, rules)}
        grade = grade_for_film(bearing, case, run.oil_temp_c, rules) if run.oil_temp_c <= 150.0 else None
        found.append(BearingFilm(checks.get("fresh"), checks["as sampled"], grade, origin))
    return tuple(found)


def _case(bearing: Bearing, run: Run, load_case: LoadCase | None) -> tuple[LoadCase | None, str]:
    if load_case is not None:
        return load_case, "entered"
    if run.max_rpm is None or run.max_rpm <= 0.0:
        return None, ""
    load = USUAL_PRESSURE_MPA * bearing.diameter_mm * bearing.length_mm
    origin = f"{USUAL_PRESSURE_MPA:g} MPa on the projected area: own default, common practice, no source"
    return LoadCase(f"{run.max_rpm:.0f} rpm", load, run.max_rpm), origin


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
