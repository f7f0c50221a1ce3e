"""Verbs for running sessions."""

from __future__ import annotations

from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.records import Run


def add(bench: Bench, engine: str, build: str, record: Run) -> Changed:
    """Adds one to a build."""
    raise NotImplementedError


def edit(bench: Bench, engine: str, build: str, old: Run, new: Run) -> Changed:
    """Replaces the record equal to `old`. Raises BenchProblem if the build has none like it."""
    raise NotImplementedError


def void(bench: Bench, engine: str, build: str, record: Run, reason: str) -> Changed:
    """Hides the record equal to `record`. Raises BenchProblem if the build has none like it."""
    raise NotImplementedError
