"""Verbs for the break-in: plans, the live checklist, and whether it is done.

The live checklist is kept as a draft: it is on the disk when a touch returns, and a crash in mid-stage loses nothing.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from benchapp.actions import draft, effect, pull, pull_table
from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.breakin import air, done, run_in, stages
from benchapp.breakin.intervals import Interval
from benchapp.records import Build, LeakDown

STANDARDS = air.STANDARDS


WEAR_UNTIL_H = 20.0
"""Wear rates up to this many build hours say whether the running-in is over; later ones say how the engine wears [h].
Friction goes on settling for about this long (a 1998 ring-friction study, abstract)."""
TESTERS = (
    "Leak-down figures of different testers or pressures are not comparable: two tests count only on the same tester, "
    "at the same pressure, on a warm engine."
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
