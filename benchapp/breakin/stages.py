"""The break-in plan as stages, and where a live break-in stands: a pure state that survives a crash as plain data."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from benchapp.problems import BenchProblem


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage: target minutes, rpm and load in words, the oil in the engine, and what follows it."""

    name: str
    minutes: float = 0.0
    rpm: str = ""
    load: str = ""
    oil: str = ""
    drain_after: str = ""
    """'hot', 'cold', 'part' or empty for none."""
    filter_after: bool = False
    look_after: bool = False
    """Cut the filter open and look."""
    caution: str = ""


@dataclass(frozen=True, slots=True)
class Plan:
    name: str
    stages: tuple[Stage, ...]
    origin: str = "common practice, no source"
    notes: str = ""


def plan_from(data: Mapping[str, Any]) -> Plan:
    """A plan from a resource table or from what was kept; raises BenchProblem where it cannot be used."""
    stages = tuple(Stage(**dict(row)) for row in data.get("stages", ()))
    plan = Plan(str(data.get("name", "")), stages, str(data.get("origin", "")), str(data.get("notes", "")))
    check(plan)
    return plan


def check(plan: Plan) -> None:
    """A plan needs a name and at least one stage; minutes are neither negative nor longer than a day."""
    wrong = [stage.name for stage in plan.stages if not 0 <= stage.minutes <= 24 * 60]
    if plan.name and plan.stages and not wrong:
        return
    what = f"Stage '{wrong[0]}' has minutes that cannot be right." if wrong else "The plan has no name or no stage."
    raise BenchProblem(what, "The plan was not kept.", "Give it a name and stages of 0 to 1440 minutes each.")


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a live break-in stands. `run_s` running seconds of the present stage before `since`; `since` is when the
    clock was last started, or None while it stands."""

    stage: int = 0
    run_s: float = 0.0
    since: dt.datetime | None = None
    ticked: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def elapsed_s(standing: Standing, now: dt.datetime) -> float:
    """Running seconds of the present stage. A clock that was set back counts as no time, never as negative."""
    if standing.since is None:
        return standing.run_s
    return standing.run_s + max(0.0, (now - standing.since).total_seconds())


def start(standing: Standing, now: dt.datetime) -> Standing:
    return standing if standing.since else replace(standing, since=now)


def pause(standing: Standing, now: dt.datetime) -> Standing:
    return replace(standing, run_s=elapsed_s(standing, now), since=None)


def to_do(plan: Plan, standing: Standing) -> tuple[str, ...]:
    """What the present stage still asks for, in order, without what is ticked."""
    if standing.stage >= len(plan.stages):
        return ()
    stage = plan.stages[standing.stage]
    wanted = [f"run {stage.minutes:g} min"] if stage.minutes else []
    if stage.drain_after:
        wanted.append(f"drain {stage.drain_after}")
    if stage.filter_after:
        wanted.append("change the filter")
    if stage.look_after:
        wanted.append("cut the filter open and look")
    return tuple(item for item in wanted if item not in standing.ticked)


def tick(standing: Standing, item: str) -> Standing:
    return standing if item in standing.ticked else replace(standing, ticked=(*standing.ticked, item))


def next_stage(plan: Plan, standing: Standing) -> Standing:
    """The next stage with its clock at zero and standing; the last stage's end is len(stages)."""
    return replace(standing, stage=min(standing.stage + 1, len(plan.stages)), run_s=0.0, since=None, ticked=())


def kept(standing: Standing) -> dict[str, Any]:
    """As plain data for the draft that survives a crash."""
    return {
        "stage": standing.stage, "run_s": standing.run_s, "ticked": list(standing.ticked),
        "notes": list(standing.notes), "since": standing.since.isoformat() if standing.since else None,
    }  # fmt: skip


def resumed(data: Mapping[str, Any]) -> Standing:
    """From plain data. A clock that was running when the laptop died is taken to have run on: the engine did."""
    since = data.get("since")
    return Standing(
        int(data.get("stage", 0)), float(data.get("run_s", 0.0)), dt.datetime.fromisoformat(since) if since else None,
        tuple(data.get("ticked", ())), tuple(data.get("notes", ())),
    )  # fmt: skip


def plans_from(rows: Sequence[Mapping[str, Any]]) -> tuple[Plan, ...]:
    return tuple(plan_from(row) for row in rows)
