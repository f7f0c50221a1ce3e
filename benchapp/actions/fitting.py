"""Verbs for parts going in and coming out (their hours follow from the runs)."""

from __future__ import annotations

from benchapp.actions import events
from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.records import Build, Change, Fitting


def add(bench: Bench, engine: str, build: str, record: Fitting, *more: Fitting) -> Changed:
    """Adds one (or several, all or none) to a build."""
    return events.add(bench, engine, build, record, *more)


def add_with_change(bench: Bench, engine: str, build: str, record: Fitting) -> Changed:
    """Adds one and, where it puts other metal into an engine that has run, the change that goes with it, in one step.

    The change lets the wear rates move from there on: a new part sheds otherwise than the one it replaced."""
    change = change_of(bench.build(engine, build), record)
    return events.add(bench, engine, build, record, *([change] if change is not None else []))


def change_of(build: Build, record: Fitting) -> Change | None:
    """The change that a fitting is in substance; None at the first start, for what comes out, or where one of a part
    stands at these hours already."""
    if record.act != "fitted" or record.build_h <= 0.0:
        return None
    if any(each.kind == "part" and abs(each.build_h - record.build_h) < 0.005 for each in build.changes):
        return None
    return Change(record.build_h, "part", ", ".join(filter(None, (f"{record.part} fitted", record.piece))))


def edit(bench: Bench, engine: str, build: str, old: Fitting, new: Fitting) -> Changed:
    """Replaces the record equal to `old`. Raises BenchProblem if the build has none like it."""
    return events.edit(bench, engine, build, old, new)


def void(bench: Bench, engine: str, build: str, record: Fitting, reason: str) -> Changed:
    """Hides the record equal to `record`. Raises BenchProblem if the build has none like it."""
    return events.void(bench, engine, build, record, reason)
