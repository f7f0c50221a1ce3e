"""Verbs for oils."""

from __future__ import annotations

from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.records import Oil


def add(bench: Bench, oil: Oil) -> Changed:
    """Adds an oil."""
    raise NotImplementedError


def edit(bench: Bench, name: str, oil: Oil) -> Changed:
    """Replaces oil `name`; a new name is carried to its fills."""
    raise NotImplementedError


def void(bench: Bench, name: str, reason: str) -> Changed:
    """Hides an oil."""
    raise NotImplementedError
