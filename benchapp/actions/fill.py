"""Verbs for oil fills and top-ups."""

from __future__ import annotations

from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.records import Fill, TopUp


def add(bench: Bench, engine: str, build: str, fill: Fill) -> Changed:
    """Adds a fill (an oil change)."""
    raise NotImplementedError


def edit(bench: Bench, engine: str, build: str, name: str, fill: Fill) -> Changed:
    """Replaces fill `name`; a new name is carried to its samples and top-ups."""
    raise NotImplementedError


def void(bench: Bench, engine: str, build: str, name: str, reason: str) -> Changed:
    """Hides a fill. Raises BenchProblem while samples were drawn from it."""
    raise NotImplementedError


def top_up(bench: Bench, engine: str, build: str, top_up: TopUp) -> Changed:
    """Adds a top-up to a fill."""
    raise NotImplementedError


def void_top_up(bench: Bench, engine: str, build: str, top_up: TopUp, reason: str) -> Changed:
    """Hides the top-up equal to `top_up`."""
    raise NotImplementedError
