"""Verbs for the printed page."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from benchapp.actions import call as call_verbs
from benchapp.actions.bench import Bench
from benchapp.problems import BenchProblem

if TYPE_CHECKING:
    from benchapp.sheet.content import SheetContent


def content(bench: Bench, code: str) -> SheetContent:
    """All that the page of sample `code` says. Raises BenchProblem if the sample has no call."""
    from benchapp.sheet.content import content_for

    call = bench.call_of(code)
    if call is None:
        raise BenchProblem(
            f"Sample {code} has no call yet.", "There is no page to print.", "Complete the sample and its engine first."
        )
    before = bench.calls_of(call.engine)
    now = dt.datetime.now().replace(microsecond=0)  # noqa: DTZ005  the page shows the person's own local time
    return content_for(bench.fleet(), call, bench.library, before, issued_by=bench.who, issued_at=now)


def write_pdf(bench: Bench, code: str, path: str | Path, paper: str = "A4") -> Path:
    """Writes the page as PDF (`paper`: 'A4' or 'Letter') and, in a writable bench, keeps the call as issued."""
    from benchapp.sheet.page import write_pdf as write_page

    written = write_page(content(bench, code), Path(path), paper)
    if not bench.read_only:
        call_verbs.issue(bench, code)
    return Path(written)
