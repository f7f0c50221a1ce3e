"""Verbs for samples: confirm, correct, void, assign, and the history of one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.records import Moment, Sample


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """One step in the history of a sample: who did what when, and what it was before and after.

    `differences`: (what, before, after) in words, one per value that changed."""

    at: str
    who: str
    label: str
    differences: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Waiting:
    """A sample whose results are in the file but which no engine claims yet. `sample.fill` is '' and
    `sample.build_h` 0 until it is assigned."""

    sample: Sample
    since: str


def confirm(bench: Bench, engine: str, build: str, sample: Sample, *, correct: bool = False) -> Changed:
    """Writes the sample with its readings in one audited transaction.

    A sample of that code that is waiting for an engine is taken over. One that an engine already has is a correction:
    only with `correct=True`, the earlier state stays in the history. Raises BenchProblem otherwise."""
    raise NotImplementedError


def void(bench: Bench, code: str, reason: str) -> Changed:
    """Hides a sample (it stays in the file with the reason); undo brings it back."""
    raise NotImplementedError


def assign(
    bench: Bench,
    code: str,
    engine: str,
    build: str,
    *,
    fill: str,
    build_h: float,
    oil_h: float | None = None,
    taken_at: Moment | None = None,
    drawn: str = "",
    before_top_up: bool | None = None,
    break_in: bool = False,
    notes: str = "",
) -> Changed:
    """Gives a waiting sample its engine (or moves a sample that was put on the wrong one)."""
    raise NotImplementedError


def waiting(bench: Bench) -> tuple[Waiting, ...]:
    """Samples waiting for an engine, oldest first."""
    raise NotImplementedError


def history(bench: Bench, code: str) -> tuple[HistoryLine, ...]:
    """Who entered, corrected, voided the sample, oldest first, with before and after."""
    raise NotImplementedError


def hold(bench: Bench, code: str, reason: str) -> Changed:
    """Holds a sample's results (`reason`), or frees them (`reason=""`)."""
    raise NotImplementedError


def codes(bench: Bench) -> Mapping[str, tuple[str, str]]:
    """Sample code -> (engine, build); ('', '') for a sample that is waiting."""
    raise NotImplementedError


_Any = Any
