"""Verbs for pasted result tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed

if TYPE_CHECKING:
    from benchapp.intake.paste import PasteResult


@dataclass(frozen=True, slots=True)
class Taken:
    """What a paste did. `samples`: codes that got readings; `waiting`: those of them that wait for an engine."""

    changed: Changed
    samples: tuple[str, ...]
    waiting: tuple[str, ...]
    readings: int
    check_runs: int


def take(
    bench: Bench,
    result: PasteResult,
    engine: str | None = None,
    instrument: str | None = None,
    take_the_rest: bool = False,
) -> Taken:
    """Takes a paste's readings into the file in one transaction and remembers its mapping for the instrument.

    A table with problems is refused (BenchProblem) unless `take_the_rest`. Readings of a sample that the file knows go
    to it; unknown codes wait for an engine. `engine`: only samples of that engine (and unknown codes) are taken, a code
    that belongs to another engine is a problem. A measurand the sample already has with another value is a problem,
    never overwritten in silence (correct it in sample entry)."""
    raise NotImplementedError


def mapping_for(bench: Bench, instrument: str) -> Any | None:
    """The mapping last used for this instrument (an `intake` mapping), or None."""
    raise NotImplementedError


_Mapping = Mapping
