"""Verbs for oil pressures."""

from __future__ import annotations

from benchapp.actions import events
from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.records import OilPressure


def add(bench: Bench, engine: str, build: str, record: OilPressure, *more: OilPressure) -> Changed:
    """Adds one (or several, all or none) to a build."""
    return events.add(bench, engine, build, record, *more)


def edit(bench: Bench, engine: str, build: str, old: OilPressure, new: OilPressure) -> Changed:
    """Replaces the record equal to `old`. Raises BenchProblem if the build has none like it."""
    return events.edit(bench, engine, build, old, new)


def void(bench: Bench, engine: str, build: str, record: OilPressure, reason: str) -> Changed:
    """Hides the record equal to `record`. Raises BenchProblem if the build has none like it."""
    return events.void(bench, engine, build, record, reason)
