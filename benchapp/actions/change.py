"""Verbs for change events: oil, tune, interval, part or fuel."""

from __future__ import annotations

from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.records import Change


def add(bench: Bench, engine: str, build: str, record: Change) -> Changed:
    """Adds one to a build."""
    raise NotImplementedError


def edit(bench: Bench, engine: str, build: str, old: Change, new: Change) -> Changed:
    """Replaces the record equal to `old`. Raises BenchProblem if the build has none like it."""
    raise NotImplementedError


def void(bench: Bench, engine: str, build: str, record: Change, reason: str) -> Changed:
    """Hides the record equal to `record`. Raises BenchProblem if the build has none like it."""
    raise NotImplementedError
