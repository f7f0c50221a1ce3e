"""The break-in plan as stages, and where a live break-in stands: a pure state that survives a crash as plain data."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from benchapp.problems import BenchProblem


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage. `rpm_high` 0: up to the engine's own limit; `rpm_target` 0: no single speed. `load`: none, light,
    moderate or full. `event` is what is done at the end, items separated by commas ("drain hot, change filter")."""

    name: str
    minutes: float = 0.0
    rpm_low: float = 0.0
    rpm_high: float = 0.0
    rpm_target: float = 0.0
    load: str = ""
    event: str = ""
    note: str = ""

    @property
    def events(self) -> tuple[str, ...]:
        return tuple(item.strip() for item in self.event.split(",") if item.strip())


@dataclass(frozen=True, slots=True)
class Plan:
    """A break-in plan; none is a standard, so `origin` says where it is from."""

    name: str
    stages: tuple[Stage, ...]
    origin: str = "common practice, no source"
    why: str = ""
    oil_kind: str = "break-in"
    default: bool = False


def plan_from(data: Mapping[str, Any]) -> Plan:
    """A plan from a resource table or from what was kept; raises BenchProblem where it cannot be used."""
    try:
        stages = tuple(Stage(**dict(row)) for row in data.get("stages", ()))
    except TypeError as error:
        raise _unusable(f"A stage of the plan has a field that is not known ({error}).") from error
    plan = Plan(
        str(data.get("name", "")), stages, str(data.get("origin", "")), str(data.get("why", "")),
        str(data.get("oil_kind", "break-in")), bool(data.get("default", False)),
    )  # fmt: skip
    check(plan)
    return plan


def plan_data(plan: Plan) -> dict[str, Any]:
    """A plan as plain data: `plan_from(plan_data(plan)) == plan`."""
    return asdict(plan)


def _unusable(what: str) -> BenchProblem:
    return BenchProblem(what, "The plan was not kept.", "Give it a name and stages of 0 to 1440 minutes each.")


def check(plan: Plan) -> None:
    """A plan needs a name and at least one stage; minutes are neither negative nor longer than a day."""
    wrong = [stage.name for stage in plan.stages if not 0 <= stage.minutes <= 24 * 60]
    if plan.name and plan.stages and not wrong:
        return
    what = f"Stage '{wrong[0]}' has minutes that cannot be right." if wrong else "The plan has no name or no stage."
    raise _unusable(what)


CELLS = ("Stage", "Minutes", "From rpm", "To rpm", "Target rpm", "Load", "Then", "Look out for")
"""An editable row of a plan, cell by cell."""
LOADS = ("none", "light", "moderate", "full")


def cells(plan: Plan) -> list[list[str]]:
    """The stages as rows of texts, in the order of CELLS."""
    return [
        [s.name, f"{s.minutes:g}", *(f"{n:g}" if n else "" for n in (s.rpm_low, s.rpm_high, s.rpm_target)), s.load,
         s.event, s.note]
        for s in plan.stages
    ]  # fmt: skip


def wrong_cell(column: str, text: str) -> str:
    """What is wrong with a cell of an editable plan, or ''."""
    if column == "Stage":
        return "" if text else "every stage needs a name"
    if column == "Minutes":
        return "" if _number(text, 0, 24 * 60) is not None else "minutes from 0 to 1440"
    if column.endswith("rpm"):
        return "" if not text or _number(text, 0, 30_000) is not None else "rpm from 0 to 30000, or nothing"
    if column == "Load":
        return "" if text in ("", *LOADS) else f"one of {', '.join(LOADS)}"
    return ""


def _number(text: str, low: float, high: float) -> float | None:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return None
    return value if low <= value <= high else None


def stages_from_cells(rows: Sequence[Sequence[str]]) -> tuple[Stage, ...]:
    """Stages from rows of texts in the order of CELLS. Raises BenchProblem that names the first cell that is wrong."""
    made = []
    for number, row in enumerate(rows, start=1):
        for column, text in zip(CELLS, row, strict=True):
            said = wrong_cell(column, text)
            if said:
                raise _unusable(f"Row {number}, {column}: {said}.")
        minutes, low, high, target = (_number(text, 0, 30_000) or 0.0 for text in row[1:5])
        made.append(Stage(row[0], minutes, low, high, target, row[5], row[6], row[7]))
    return tuple(made)


def speed_words(stage: Stage) -> str:
    """The speed of a stage in words: "2,500 rpm (2,000 to 3,000)"."""
    top = f"{stage.rpm_high:,.0f}" if stage.rpm_high else "the engine's own limit"
    band = f"{stage.rpm_low:,.0f} to {top}" if stage.rpm_low or stage.rpm_high else ""
    if stage.rpm_target:
        return f"{stage.rpm_target:,.0f} rpm" + (f" ({band})" if band else "")
    return f"{band} rpm" if band else ""


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
    wanted += stage.events
    return tuple(item for item in wanted if item not in standing.ticked)


def asked(plan: Plan, standing: Standing) -> tuple[str, ...]:
    """All that the present stage asks for, ticked or not, in order."""
    return to_do(plan, replace(standing, ticked=()))


def tick(standing: Standing, item: str) -> Standing:
    return standing if item in standing.ticked else replace(standing, ticked=(*standing.ticked, item))


def untick(standing: Standing, item: str) -> Standing:
    return replace(standing, ticked=tuple(one for one in standing.ticked if one != item))


def note(standing: Standing, text: str) -> Standing:
    """Adds a line to the notes; an empty one changes nothing."""
    return replace(standing, notes=(*standing.notes, text.strip())) if text.strip() else standing


def left_s(plan: Plan, standing: Standing, now: dt.datetime) -> float:
    """Seconds left of the present stage's target; below zero once it is past; 0 where it has none."""
    if standing.stage >= len(plan.stages) or not plan.stages[standing.stage].minutes:
        return 0.0
    return plan.stages[standing.stage].minutes * 60 - elapsed_s(standing, now)


def clock_words(seconds: float) -> str:
    """Minutes and seconds as a clock shows them: "12:07", "1:02:07", "−0:30"."""
    sign, whole = ("−" if seconds <= -1 else ""), int(abs(seconds))
    hours, rest = divmod(whole, 3600)
    return f"{sign}{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{sign}{rest // 60}:{rest % 60:02d}"


def previous_stage(standing: Standing) -> Standing:
    """Back to the stage before, its clock at zero and standing."""
    return replace(standing, stage=max(standing.stage - 1, 0), run_s=0.0, since=None, ticked=())


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
    """Plans of a resource table, the default first."""
    plans = [plan_from(row) for row in rows]
    return tuple(sorted(plans, key=lambda plan: not plan.default))
