"""Verbs for the printed page."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchapp.actions import call as call_verbs
from benchapp.actions import oil_look
from benchapp.actions.bench import Bench
from benchapp.problems import BenchProblem

if TYPE_CHECKING:
    from benchapp.sheet.content import SheetContent

Said = Callable[[str], str]
"""A line of the page -> the line as its reader wants it."""
Drawn = Callable[[Any], Any]
"""A small plot of the page (`sheet.reason_plots.SmallPlot`) -> the plot as its reader wants it."""
_WITH_UNITS = ("before_out", "look", "oil", "film", "unknowns", "flips")
"""Lists of lines in which a value with its unit may stand."""


def content(
    bench: Bench, code: str, *, issued: bool = False, said: Said = str, drawn: Drawn | None = None
) -> SheetContent:
    """All that the page of sample `code` says; a preview, and marked as one, unless it is `issued`.

    `said` has the last word on a line that may hold units, `drawn` on a reason's small plot. Raises BenchProblem if the
    sample has no call."""
    from benchapp.sheet.content import content_for

    call = bench.call_of(code)
    if call is None:
        raise BenchProblem(
            f"Sample {code} has no call yet.", "There is no page to print.", "Complete the sample and its engine first."
        )
    before = bench.calls_of(call.engine)
    call = replace(call, flips=call_verbs.flips(bench, code))
    now = dt.datetime.now().replace(microsecond=0)  # noqa: DTZ005  the page shows the person's own local time
    oil = oil_look.of_code(bench.fleet(), code)
    who = bench.who if issued else ""
    made = content_for(
        bench.fleet(),
        call,
        bench.library,
        before,
        issued_by=who,
        issued_at=now,
        oil_lines=oil.words() if oil is not None else (),
        film_lines=oil.film_words() if oil is not None else (),
    )
    return _said(made, said, drawn)


def _said(made: SheetContent, said: Said, drawn: Drawn | None) -> SheetContent:
    lists = {name: tuple(map(said, getattr(made, name))) for name in _WITH_UNITS}
    reasons = tuple(
        replace(reason, text=said(reason.text), plot=drawn(reason.plot) if drawn and reason.plot else reason.plot)
        for reason in made.reasons
    )
    return replace(made, sentence=said(made.sentence), reasons=reasons, **lists)


def write_pdf(
    bench: Bench, code: str, path: str | Path, paper: str = "A4", said: Said = str, drawn: Drawn | None = None
) -> Path:
    """Writes the page as PDF (`paper`: 'A4' or 'Letter') and, in a writable bench, keeps the call as issued.

    From a bench that is read only the call cannot be kept: its page is marked as a preview."""
    from benchapp.sheet.page import write_pdf as write_page

    made = content(bench, code, issued=not bench.read_only, said=said, drawn=drawn)
    written = write_page(made, Path(path), paper)
    if not bench.read_only:
        call_verbs.issue(bench, code)
    return Path(written)
