"""Verbs for the break-in: plans, the live checklist, and whether it is done.

The live checklist is kept as a draft: it is on the disk when a touch returns, and a crash in mid-stage loses nothing.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from benchapp.actions import draft
from benchapp.actions.bench import Bench
from benchapp.breakin import air, done, run_in, stages
from benchapp.records import Build, Call

STANDARDS = air.STANDARDS


@dataclass(frozen=True, slots=True)
class BreakInLook:
    """All that the Break-in view shows of one build."""

    engine: str
    build: str
    plans: tuple[stages.Plan, ...]
    plan: stages.Plan
    standing: stages.Standing
    state: done.BreakInState
    ceilings: tuple[run_in.Ceiling, ...]
    wear_h: tuple[float, ...]
    wear_mg_h: tuple[float, ...]
    wear_se_mg_h: tuple[float, ...]
    leak_downs: tuple[tuple[float, str, float], ...]
    """(build hours [h], cylinder, leak [%])."""
    cautions: tuple[str, ...]


def look(bench: Bench, engine: str, number: str, standard: str = "SAE J1349") -> BreakInLook:
    """Plan, standing and the three lamps of one build. Raises BenchProblem where there is no such build."""
    build = bench.build(engine, number)
    calls = tuple(call for call in bench.calls_of(engine) if call.build == number)
    hours, rates, errors = wear_rates(build, calls)
    state = done.judge(
        pulls=build.pulls, leak_downs=build.leak_downs, rates_mg_h=rates, errors_mg_h=errors, standard=standard
    )
    return BreakInLook(
        engine, number, plans(bench, engine), plan_of(bench, engine, number), standing_of(bench, engine, number), state,
        _ceilings(bench, build), tuple(hours), tuple(rates), tuple(errors),
        tuple((test.build_h, test.cylinder, test.percent) for test in build.leak_downs), _cautions(bench),
    )  # fmt: skip


def wear_rates(build: Build, calls: tuple[Call, ...]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Build hours [h], total rate of the wear sources [mg/h] and its standard error, sample by sample.

    Taken from the calls: the sum over what each call found for parts, not for dust, coolant and the like."""
    hours: list[float] = []
    rates: list[float] = []
    errors: list[float] = []
    for call in calls:
        parts = [source for source in call.sources if source.parts]
        if not parts:
            continue
        hours.append(call.build_h)
        rates.append(sum(source.rate_mg_h for source in parts))
        spread = [(source.high_mg_h - source.low_mg_h) / (2 * 1.645) for source in parts]
        errors.append(float(np.hypot.reduce(spread)))
    return np.array(hours), np.array(rates), np.array(errors)


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
    return run_in.ceilings(breaking, noise, wear_elements=wear)


def _cautions(bench: Bench) -> tuple[str, ...]:
    """Hot oil and the dyno: what must be said where a break-in is run."""
    lines = bench.library.data("cautions")["caution"]
    return tuple(str(line["text"]) for line in lines if {"dyno", "drain"} & set(line["where"]))


# --- plans ----------------------------------------------------------------------------------------------------------


def plans(bench: Bench, engine: str) -> tuple[stages.Plan, ...]:
    """The family's own plan first where it has one, then those that come with the program, the default first."""
    own = draft.get(bench, _plan_key(bench, engine))
    standard = stages.plans_from(bench.library.data("breakin")["plan"])
    return (stages.plan_from(own), *standard) if own else standard


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
