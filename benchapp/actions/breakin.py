"""Verbs for the break-in: plans, the live checklist, and whether it is done.

The live checklist is kept as a draft: it is on the disk when a touch returns, and a crash in mid-stage loses nothing.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

import numpy as np

from benchapp.actions import draft, effect, pull, pull_table
from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.breakin import air, done, run_in, stages
from benchapp.breakin.intervals import Interval
from benchapp.records import Build, LeakDown

STANDARDS = air.STANDARDS
LIT, NOT_YET, MISSING = done.LIT, done.NOT_YET, done.MISSING


WEAR_UNTIL_H = 20.0
"""Wear rates up to this many build hours say whether the running-in is over; later ones say how the engine wears [h].
Friction goes on settling for about this long (a 1998 ring-friction study, abstract)."""
TESTERS = (
    "Leak-down figures of different testers or pressures are not comparable: two tests count only on the same tester, "
    "at the same pressure, on a warm engine."
)


RANGES = (
    f"A correction is used only with a factor of {air.FACTOR_RANGE[0]:g} to {air.FACTOR_RANGE[1]:g}, air of "
    f"{air.AIR_C_RANGE[0]:g} to {air.AIR_C_RANGE[1]:g} °C and {air.PRESSURE_KPA_RANGE[0]:g} to "
    f"{air.PRESSURE_KPA_RANGE[1]:g} kPa."
)


@dataclass(frozen=True, slots=True)
class BreakInLook:
    """All that the Break-in view shows of one build."""

    engine: str
    build: str
    family: str
    plans: tuple[stages.Plan, ...]
    plan: stages.Plan
    standing: stages.Standing
    standard: str
    state: done.BreakInState
    ceilings: tuple[run_in.Ceiling, ...]
    wear_h: tuple[float, ...]
    """End of each interval [h]."""
    wear_from_h: tuple[float, ...]
    wear_mg_h: tuple[float, ...]
    wear_se_mg_h: tuple[float, ...]
    run_in: run_in.RunIn | None
    leak_downs: tuple[LeakDown, ...]
    cautions: tuple[str, ...]
    hours: float
    """Build hours so far [h]."""


def look(bench: Bench, engine: str, number: str, standard: str = "SAE J1349") -> BreakInLook:
    """Plan, standing and the three lamps of one build. Raises BenchProblem where there is no such build."""
    from benchapp.actions.looks import build_hours

    build = bench.build(engine, number)
    found = effect.build_intervals(bench.fleet(), engine, number)
    starts, hours, rates, errors = wear_rates(found)
    state = done.judge(
        pulls=build.pulls, leak_downs=build.leak_downs, rates_mg_h=rates, errors_mg_h=errors, standard=standard
    )
    return BreakInLook(
        engine, number, bench.engine(engine).family, plans(bench, engine), plan_of(bench, engine, number),
        standing_of(bench, engine, number), standard, state, _ceilings(bench, build), tuple(hours.tolist()),
        tuple(starts.tolist()), tuple(rates.tolist()), tuple(errors.tolist()), run_in_curve(starts, hours, rates),
        build.leak_downs, cautions(bench), build_hours(build),
    )  # fmt: skip


def wear_rates(found: tuple[Interval, ...]) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Start and end of each interval [h], rate of all wear metals together [mg/h] and its standard error.

    From the sump balance; only metals that every interval read and that are clearly there."""
    early = [one for one in found if one.start_h < WEAR_UNTIL_H]
    empty = np.zeros(0)
    if not early:
        return empty, empty, empty, empty
    rates, errors = np.array([one.rate for one in early]), np.array([one.error for one in early])
    read = np.isfinite(rates).all(axis=0)
    read &= np.where(read, rates, 0.0).max(axis=0) > 2 * np.where(read, errors, 1.0).min(axis=0)
    if not read.any():
        return empty, empty, empty, empty
    total, error = rates[:, read].sum(axis=1), np.sqrt((errors[:, read] ** 2).sum(axis=1))
    starts = np.array([one.start_h for one in early])
    return starts, np.array([one.sample.build_h for one in early]), total, error


def run_in_curve(starts: np.ndarray, hours: np.ndarray, rates: np.ndarray) -> run_in.RunIn | None:
    """The running-in curve through metal lost so far; None with fewer than three intervals from the first start on."""
    if len(hours) < 3 or starts[0] > 0.5:
        return None
    lost = np.cumsum(np.maximum(rates, 0.0) * (hours - starts))
    return run_in.fit(hours=hours, lost_mg=lost)


def _ceilings(bench: Bench, build: Build) -> tuple[run_in.Ceiling, ...]:
    fleet, library = bench.fleet(), bench.library
    breaking = [sample for sample in build.samples if sample.break_in]
    if not breaking:
        return ()
    instrument = fleet.instruments.get(breaking[-1].instrument)
    noise = dict(library.noise_for(instrument.kind if instrument else ""))
    if instrument:
        noise.update(instrument.noise)
    wear = [symbol for symbol, element in library.elements.items() if element.role == "wear"]
    found = run_in.ceilings(breaking, noise, wear_elements=wear)
    oils = [fleet.oils[fill.oil] for fill in build.fills if fill.oil in fleet.oils]
    from_oil = {symbol for oil in oils for symbol, ppm in oil.fresh_ppm.items() if ppm > 25.0}
    return tuple(one for one in found if (one.believed or one.why_not) and one.element not in from_oil)


def cautions(bench: Bench) -> tuple[str, ...]:
    """Hot oil and the dyno: what must be said where a break-in is run."""
    lines = bench.library.data("cautions")["caution"]
    return tuple(str(line["text"]) for line in lines if {"dyno", "drain"} & set(line["where"]))


def take_pulls(bench: Bench, engine: str, number: str, rows: list[list[str]], power_unit: str = "kW") -> Changed:
    """Reads typed or pasted cells (in the order of `pull_table.COLUMNS`) and adds all pulls, or none. BenchProblem."""
    known = bench.build(engine, number).pulls
    return pull.add(bench, engine, number, *pull_table.pulls(rows, power_unit, known))


def withdraw_last_pull(bench: Bench, engine: str, number: str, reason: str) -> Changed | None:
    """Hides the last pull of a build; None where it has none."""
    held = bench.build(engine, number).pulls
    return pull.void(bench, engine, number, held[-1], reason) if held else None


# --- plans ----------------------------------------------------------------------------------------------------------


def plans(bench: Bench, engine: str) -> tuple[stages.Plan, ...]:
    """The family's own plan first where it has one, then those that come with the program, the default first."""
    own = draft.get(bench, _plan_key(bench, engine))
    standard = stages.plans_from(bench.library.data("breakin")["plan"])
    return (stages.plan_from(own), *standard) if own else standard


def origin_words(plan: stages.Plan) -> str:
    """Where a plan is from, and that none is a standard."""
    return f"Common practice, not a standard. Origin: {plan.origin}."


def has_own_plan(bench: Bench, engine: str) -> bool:
    """Whether the engine's family has a plan of its own."""
    return draft.get(bench, _plan_key(bench, engine)) is not None


def own_plan(bench: Bench, engine: str, original: stages.Plan, rows: list[list[str]]) -> stages.Plan:
    """An edited plan for the engine's family, from cells in the order of `stages.CELLS`. Raises BenchProblem."""
    family = bench.engine(engine).family
    origin = original.origin if original.origin.startswith("own") else f"own, after: {original.name}"
    made = stages.Plan(f"Own plan of {family}", stages.stages_from_cells(rows), origin, original.why, original.oil_kind)
    stages.check(made)
    return made


def choose_plan(bench: Bench, engine: str, number: str, name: str) -> None:
    """Chooses the plan of a build; the checklist starts anew where it is another one."""
    chosen = next(plan for plan in plans(bench, engine) if plan.name == name)
    standing = standing_of(bench, engine, number)
    if plan_of(bench, engine, number).name != name:
        standing = stages.Standing(notes=standing.notes)
    keep_standing(bench, engine, number, chosen, standing)


def keep_plan(bench: Bench, engine: str, plan: stages.Plan) -> None:
    """Keeps an edited plan for the engine's family. Raises BenchProblem where it cannot be used."""
    stages.check(plan)
    draft.keep(bench, _plan_key(bench, engine), stages.plan_data(plan))


def drop_plan(bench: Bench, engine: str) -> None:
    """Back to the plans that come with the program."""
    draft.drop(bench, _plan_key(bench, engine))


def plan_of(bench: Bench, engine: str, number: str) -> stages.Plan:
    """The plan chosen for this build, else the first."""
    offered = plans(bench, engine)
    chosen = (draft.get(bench, _live_key(engine, number)) or {}).get("plan", "")
    return next((plan for plan in offered if plan.name == chosen), offered[0])


def _plan_key(bench: Bench, engine: str) -> str:
    return f"break-in plan of {bench.engine(engine).family}"


# --- the live checklist ---------------------------------------------------------------------------------------------


def standing_of(bench: Bench, engine: str, number: str) -> stages.Standing:
    """Where the live break-in of this build stands."""
    data = draft.get(bench, _live_key(engine, number))
    return stages.resumed(data["standing"]) if data and "standing" in data else stages.Standing()


def keep_standing(bench: Bench, engine: str, number: str, plan: stages.Plan, standing: stages.Standing) -> None:
    """On the disk when this returns."""
    draft.keep(bench, _live_key(engine, number), {"plan": plan.name, "standing": stages.kept(standing)})


def _live_key(engine: str, number: str) -> str:
    return f"break-in of {engine} build {number}"


def now() -> dt.datetime:
    """The laptop's clock, as the person reads it."""
    return dt.datetime.now().replace(microsecond=0)  # noqa: DTZ005


# --- what the plots show --------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Band:
    """A curve [kW] over hours [h] with a band about it."""

    hours: np.ndarray
    low: np.ndarray
    middle: np.ndarray
    high: np.ndarray


def curve_of(looked: BreakInLook) -> Band | None:
    """The fit of corrected power with the pull-to-pull noise (one sd) about it; None where there is no fit."""
    found = looked.state.plateau
    if found is None:
        return None
    return Band(found.curve_h, found.curve_kw - found.noise_kw, found.curve_kw, found.curve_kw + found.noise_kw)


@dataclass(frozen=True, slots=True)
class LeakLine:
    """Leak-down of one cylinder: hours [h], percents [%], and the stretches that may be joined by a line."""

    cylinder: str
    hours: list[float]
    percents: list[float]
    joined: list[list[tuple[float, float]]]


def leak_lines(looked: BreakInLook) -> tuple[LeakLine, ...]:
    """One line a cylinder, in order of their names; two tests are joined only where tester and pressure agree."""
    by: dict[str, list[LeakDown]] = {}
    for test in sorted(looked.leak_downs, key=lambda one: one.build_h):
        by.setdefault(test.cylinder, []).append(test)
    made = []
    for cylinder in sorted(by, key=lambda name: (len(name), name)):
        tests = by[cylinder]
        joined: list[list[tuple[float, float]]] = []
        for before, test in zip([None, *tests], tests, strict=False):
            same = before is not None and (before.tester, before.pressure_kpa) == (test.tester, test.pressure_kpa)
            if not same:
                joined.append([])
            joined[-1].append((test.build_h, test.percent))
        lines = [part for part in joined if len(part) > 1]
        made.append(LeakLine(cylinder, [t.build_h for t in tests], [t.percent for t in tests], lines))
    return tuple(made)


def leak_labels(lines: tuple[LeakLine, ...]) -> list[tuple[str, float, float]]:
    """(cylinders, hours [h], percent [%]) of the last tests; those that lie on each other share a label."""
    if not lines:
        return []
    near = 0.05 * max(max(line.percents) for line in lines)
    found: list[tuple[list[str], float, list[float]]] = []
    for line in sorted(lines, key=lambda one: (one.hours[-1], one.percents[-1])):
        if found and found[-1][1] == line.hours[-1] and line.percents[-1] - found[-1][2][0] < near:
            found[-1][0].append(line.cylinder)
            found[-1][2].append(line.percents[-1])
        else:
            found.append(([line.cylinder], line.hours[-1], [line.percents[-1]]))
    return [(", ".join(sorted(names)), hours, sum(at) / len(at)) for names, hours, at in found]


@dataclass(frozen=True, slots=True)
class WearBar:
    """Wear rate of one interval [mg/h] with its 90 % bounds, from `start_h` to `end_h` [h]."""

    start_h: float
    end_h: float
    rate: float
    low: float
    high: float

    @property
    def middle_h(self) -> float:
        return (self.start_h + self.end_h) / 2


def wear_bars(looked: BreakInLook) -> tuple[tuple[WearBar, ...], tuple[np.ndarray, np.ndarray] | None]:
    """The intervals of the running-in and the running-in curve (hours [h], rate [mg/h]) where one could be fitted."""
    bars = tuple(
        WearBar(start, end, rate, rate - 1.645 * error, rate + 1.645 * error)
        for start, end, rate, error in zip(
            looked.wear_from_h, looked.wear_h, looked.wear_mg_h, looked.wear_se_mg_h, strict=True
        )
    )
    fit = looked.run_in
    if fit is None or not bars:
        return bars, None
    hours = np.linspace(bars[0].start_h, bars[-1].end_h, 80)
    top = 1.5 * max(bar.high for bar in bars)
    rate = run_in.rate(hours=hours, first=fit.first, settled=fit.settled, tau_h=fit.tau_h)
    return bars, (hours[rate <= top], rate[rate <= top])


def stamped(text: str) -> str:
    """A note with the time of day before it: "14:20 oil pressure 4.1 bar"."""
    return f"{now():%H:%M} {text.strip()}"


# --- on paper -------------------------------------------------------------------------------------------------------


def page(bench: Bench, looked: BreakInLook) -> Any:
    """The break-in page (`sheet.breakin_page`) of what is looked at."""
    from benchapp.sheet import breakin_page

    car = bench.engine(looked.engine).car
    about = [f"car {car}"] if car else []
    about += [f"build {looked.build}", f"{looked.hours:.1f} h on this build", looked.family]
    return breakin_page.page_of(
        engine=looked.engine, about=" · ".join(about), sentence=looked.state.sentence, lamps=looked.state.lamps,
        plots=(_power_plot(looked), _leak_plot(looked), _wear_plot(looked)), blocks=_page_blocks(looked),
        cautions=looked.cautions, written_at=now(),
    )  # fmt: skip


def _pairs(x: Any, y: Any) -> tuple[tuple[float, ...], tuple[float, ...]]:
    return tuple(map(float, x)), tuple(map(float, y))


def _power_plot(looked: BreakInLook) -> Any:
    from benchapp.sheet.breakin_page import Plot

    fit = curve_of(looked)
    dots = tuple(zip(*_pairs(looked.state.corrected_h, looked.state.corrected_kw), strict=True))
    if fit is None:
        return Plot("kW", dots, from_zero=False)
    band = tuple((float(x), float(a), float(b)) for x, a, b in zip(fit.hours, fit.low, fit.high, strict=True))
    return Plot("kW", dots, (_pairs(fit.hours, fit.middle),), band=band, from_zero=False)


def _leak_plot(looked: BreakInLook) -> Any:
    from benchapp.sheet.breakin_page import Plot

    lines = leak_lines(looked)
    dots = tuple(pair for line in lines for pair in zip(line.hours, line.percents, strict=True))
    joined = tuple(_pairs(*zip(*part, strict=True)) for line in lines for part in line.joined)
    words = tuple((hours, percent, said) for said, hours, percent in leak_labels(lines))
    return Plot("% leak-down", dots, joined, words=words)


def _wear_plot(looked: BreakInLook) -> Any:
    from benchapp.sheet.breakin_page import Plot

    bars, curve = wear_bars(looked)
    lines = [((bar.start_h, bar.end_h), (bar.rate, bar.rate)) for bar in bars]
    lines += [((bar.middle_h, bar.middle_h), (bar.low, bar.high)) for bar in bars]
    return Plot("mg/h of wear metal", (), tuple(lines), (_pairs(*curve),) if curve is not None else ())


def _page_blocks(looked: BreakInLook) -> list[tuple[str, list[str]]]:
    believed = [f"{one.element} {one.ppm:.3g} ppm" for one in looked.ceilings if one.believed]
    marked = [f"{one.element} {one.ppm:.3g} ppm: {one.why_not}" for one in looked.ceilings if not one.believed]
    ceiling = (
        [f"From break-in samples: {', '.join(believed)}."] if believed else ["No break-in sample: no own ceiling."]
    )
    ceiling += [f"Marked, not believed: {text}." for text in marked]
    tests = {(test.tester, test.pressure_kpa) for test in looked.leak_downs}
    said = [
        f"{tester or 'tester not named'}{f' at {kpa:g} kPa' if kpa else ''}" for tester, kpa in sorted(tests, key=str)
    ]
    left = list(looked.state.left_out)
    return [
        ("Ceiling of this build", ceiling),
        ("How it was judged", [f"Power: {looked.standard}. {RANGES}", *([f"Leak-down: {', '.join(said)}. {TESTERS}"])]),
        ("Left out", left),
        (f"Plan: {looked.plan.name}", _plan_lines(looked)),
        ("Notes from the dyno cell", list(looked.standing.notes)),
    ]


def _plan_lines(looked: BreakInLook) -> list[str]:
    """How far the live checklist came; nothing where it was not used."""
    if looked.standing == stages.Standing():
        return []
    done_now = looked.standing.stage
    marks = [f"{'done' if n < done_now else 'open'}: {s.name}" for n, s in enumerate(looked.plan.stages)]
    return [origin_words(looked.plan), "; ".join(marks) + "."]
