"""Verbs for families: engines built alike."""

from __future__ import annotations

from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.records import Family


def add(bench: Bench, family: Family) -> Changed:
    """Adds a family of the file's own. One with a library family's name stands in front of it."""
    raise NotImplementedError


def edit(bench: Bench, name: str, family: Family) -> Changed:
    """Replaces family `name` (a library family gets an own copy). A new name is carried to its engines."""
    raise NotImplementedError


def void(bench: Bench, name: str, reason: str) -> Changed:
    """Hides a family of the file's own. Raises BenchProblem while engines use it and no library family stands in."""
    raise NotImplementedError
