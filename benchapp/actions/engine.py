"""Verbs for engines, their builds and the parts of a build."""

from __future__ import annotations

from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.records import Moment, Part


def add(
    bench: Bench,
    name: str,
    family: str,
    car: str = "",
    notes: str = "",
    *,
    build: str = "1",
    sump_l: float | None = None,
    built_on: Moment | None = None,
) -> Changed:
    """Adds an engine and its first build (`build=""`: without one)."""
    raise NotImplementedError


def edit(
    bench: Bench,
    name: str,
    *,
    new_name: str | None = None,
    family: str | None = None,
    car: str | None = None,
    notes: str | None = None,
) -> Changed:
    """Changes what is given; None leaves as it is."""
    raise NotImplementedError


def void(bench: Bench, name: str, reason: str) -> Changed:
    """Hides an engine with all that belongs to it; undo brings it back."""
    raise NotImplementedError


def add_build(
    bench: Bench,
    engine: str,
    number: str = "",
    *,
    sump_l: float | None = None,
    built_on: Moment | None = None,
    notes: str = "",
    keep_parts: bool = True,
) -> Changed:
    """Adds a build after a rebuild (`number=""`: the next one). `keep_parts` carries the last build's overrides over."""
    raise NotImplementedError


def edit_build(
    bench: Bench,
    engine: str,
    number: str,
    *,
    new_number: str | None = None,
    sump_l: float | None = None,
    built_on: Moment | None = None,
    notes: str | None = None,
) -> Changed:
    """Changes what is given; None leaves as it is."""
    raise NotImplementedError


def void_build(bench: Bench, engine: str, number: str, reason: str) -> Changed:
    """Hides a build with all that belongs to it."""
    raise NotImplementedError


def override_part(bench: Bench, engine: str, build: str, part: Part) -> Changed:
    """This build has `part` instead of (or besides) the family's part of that name."""
    raise NotImplementedError


def remove_part(bench: Bench, engine: str, build: str, part: str) -> Changed:
    """This build does not have the family's part of that name."""
    raise NotImplementedError


def restore_part(bench: Bench, engine: str, build: str, part: str) -> Changed:
    """Drops this build's own override: the family's part (if any) holds again."""
    raise NotImplementedError
