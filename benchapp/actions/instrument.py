"""Verbs for bench instruments and their check runs."""

from __future__ import annotations

from collections.abc import Sequence

from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.records import CheckRun, Instrument


def add(bench: Bench, instrument: Instrument) -> Changed:
    """Adds an instrument."""
    raise NotImplementedError


def edit(bench: Bench, name: str, instrument: Instrument) -> Changed:
    """Replaces instrument `name`; a new name is carried to its samples and check runs."""
    raise NotImplementedError


def void(bench: Bench, name: str, reason: str) -> Changed:
    """Hides an instrument. Its samples keep its name."""
    raise NotImplementedError


def add_check_runs(bench: Bench, check_runs: Sequence[CheckRun]) -> Changed:
    """Adds check-standard and blank runs, all or none."""
    raise NotImplementedError


def void_check_run(bench: Bench, check_run: CheckRun, reason: str) -> Changed:
    """Hides the check run equal to `check_run`."""
    raise NotImplementedError
