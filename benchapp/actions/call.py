"""Verbs for calls: judge, preview while typing, issue."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.records import Call, Fleet, Sample


@dataclass(frozen=True, slots=True)
class Issued:
    """A call as it was handed over. `superseded` says what changed under it since, or is ''."""

    call: Call
    issued_at: str
    who: str
    superseded: str


def judge(fleet: Fleet, engines: Iterable[str] | None = None, each: bool = False) -> tuple[Call, ...]:
    """Judges every sample of `engines` (None: all). Pure: touches no file, fit for a worker thread.

    `each`: every sample with only what was known then. () as long as the wear room cannot judge."""
    raise NotImplementedError


def preview(bench: Bench, engine: str, build: str, sample: Sample) -> Call | None:
    """The call that `sample` would get if it were confirmed now; nothing is written. None if it cannot be judged."""
    raise NotImplementedError


def preview_in(fleet: Fleet, engine: str, build: str, sample: Sample) -> Call | None:
    """As `preview`, on a fleet: pure, for a worker thread."""
    raise NotImplementedError


def issue(bench: Bench, code: str) -> Changed:
    """Stores the sample's call as handed over: with its inputs' hash and rule version, never rewritten."""
    raise NotImplementedError


def issued(bench: Bench, code: str) -> tuple[Issued, ...]:
    """Calls issued for a sample, oldest first."""
    raise NotImplementedError
