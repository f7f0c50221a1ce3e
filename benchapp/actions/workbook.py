"""Verbs for whole-bench workbooks."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed


@dataclass(frozen=True, slots=True)
class Loaded:
    """`counts`: sheet name -> rows taken. `kept_as_notes`: unknown columns kept as notes, in words."""

    changed: Changed
    counts: dict[str, int]
    kept_as_notes: tuple[str, ...]


def load(bench: Bench, path: str | Path) -> Loaded:
    """Loads a whole-bench workbook: all or nothing, one undoable step, a backup before it.

    Rows are matched by their names (engine, build, fill, sample, …): what is there already is corrected, what is equal
    is left alone. Raises BenchProblem listing every problem with sheet, row and column."""
    raise NotImplementedError


def unload(bench: Bench, path: str | Path) -> dict[str, int]:
    """Writes the whole bench as a workbook (sheet name -> rows); loading it into an empty file gives the same bench."""
    raise NotImplementedError
