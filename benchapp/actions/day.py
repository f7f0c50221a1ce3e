"""The day at a glance: all engines with their calls, for one page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchapp.actions import looks
from benchapp.actions.bench import Bench
from benchapp.records import CALL_WORDS, Call, Moment

if TYPE_CHECKING:
    from benchapp.sheet.day_page import Day, DayRow


def page(bench: Bench, now: Moment) -> Day:
    """All that the page of the day says, on the calls as they are. Judges what is not judged yet."""
    from benchapp.sheet.content import CAUTIONS
    from benchapp.sheet.day_page import Day, in_order
    from benchapp.sheet.words import moment, plain

    calls = {call.engine: call for call in bench.calls()}
    rows = in_order([_row(row) for row in looks.fleet_rows(bench.fleet(), calls, now)])
    return Day(
        f"All cars, {now:%Y-%m-%d}",
        counts(rows),
        rows,
        CAUTIONS,
        f"Written {moment(now)} by {plain(bench.who)}. A list, not an issued call: each car's own sheet is.",
    )


def counts(rows: tuple[DayRow, ...]) -> str:
    """How many engines have which call, gravest first, in words."""
    words = [row.call for row in rows]
    said = [f"{word}: {words.count(word)}" for word in reversed(CALL_WORDS) if word in words]
    return "   ".join([*said, *([f"no call: {words.count('')}"] if "" in words else [])])


def _row(row: looks.FleetRow) -> DayRow:
    from benchapp.sheet.day_page import DayRow
    from benchapp.sheet.words import hours, plain

    call = row.call
    next_sample = ""
    if call is not None:
        next_sample = "before it runs" if call.next_sample_h <= 0 else f"{hours(call.next_sample_h)} from the last"
    if row.due:
        next_sample = "due now"
    return DayRow(
        plain(row.engine),
        plain(row.car),
        call.call if call else "",
        "" if row.build_h is None else f"build {plain(row.build)}, {hours(row.build_h)}",
        plain(row.reason),
        _to_do(call) if call else (),
        next_sample,
        plain(row.sample),
        f"{row.sampled_at:%Y-%m-%d}" if row.sampled_at else "",
    )


def _to_do(call: Call) -> tuple[str, ...]:
    """What to do before it goes out, then where to look (a car that runs needs no look), each once."""
    from benchapp.sheet.words import plain

    look_at = [] if call.call == "Run" else [reason.look for reason in call.reasons]
    said = [*call.before_out, *look_at]
    return tuple(dict.fromkeys(looks.capital(plain(text)) for text in said if text))


def write_pdf(bench: Bench, path: str, now: Moment, paper: str = "A4") -> str:
    """Writes the page of the day as PDF and returns where it is. Raises BenchProblem."""
    from benchapp.sheet.day_page import pages
    from benchapp.sheet.page import page_mm
    from benchapp.sheet.paper import write_pages

    day = page(bench, now)
    return str(write_pages(pages(day), page_mm(paper), day.title, path))
