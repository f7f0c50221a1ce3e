"""Verbs for the printed page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from benchapp.actions.bench import Bench

if TYPE_CHECKING:
    from benchapp.sheet.content import SheetContent


def content(bench: Bench, code: str) -> SheetContent:
    """All that the page of sample `code` says. Raises BenchProblem if the sample has no call."""
    raise NotImplementedError


def write_pdf(bench: Bench, code: str, path: str | Path, paper: str = "A4") -> Path:
    """Writes the page as PDF (`paper`: 'A4' or 'Letter') and, in a writable bench, keeps the call as issued."""
    raise NotImplementedError
