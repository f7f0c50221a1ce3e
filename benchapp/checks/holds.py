"""Which results are held because a check failed, and what releases them. Nothing is deleted.

A measurement is trusted when the check before it and the check after it are good. A failed check holds every
measurement since the last good one, and all that follow until a good check. Held samples are released by measuring
them again after a good check (fail, standardise, check again, rerun: follows the practice of ASTM D6595)."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from benchapp.checks.charts import Tolerance
from benchapp.records import CheckRun


@dataclass(frozen=True, slots=True)
class Check:
    """All elements of one check run of an instrument: `failed` element -> what was found, in words."""

    instrument: str
    run_at: dt.datetime
    standard: str
    elements: tuple[str, ...]
    failed: Mapping[str, str]

    @property
    def good(self) -> bool:
        return not self.failed


@dataclass(frozen=True, slots=True)
class Measured:
    """One measurement of a sample; a rerun is another one of the same code."""

    sample: str
    instrument: str
    measured_at: dt.datetime
    elements: tuple[str, ...] = ()
    """Elements read; empty: all."""


@dataclass(frozen=True, slots=True)
class Held:
    """One sample that is held: by which elements, since which check, and why, in words for the call."""

    sample: str
    instrument: str
    measured_at: dt.datetime
    elements: tuple[str, ...]
    text: str


def checks_of(runs: Iterable[CheckRun], tolerances: Mapping[str, Tolerance], other: Tolerance) -> tuple[Check, ...]:
    """Check runs gathered by instrument, moment and standard, judged by the tolerance of their instrument, by time."""
    groups: dict[tuple[dt.datetime, str, str], list[CheckRun]] = defaultdict(list)
    for run in runs:
        groups[(run.run_at, run.instrument, run.standard)].append(run)
    found = []
    for (run_at, instrument, standard), group in sorted(groups.items()):
        tolerance = tolerances.get(instrument, other)
        failed = {
            run.element: f"{run.element} {run.found_ppm:.3g} ppm for {run.expected_ppm:.3g} ppm"
            for run in group
            if not tolerance.passes(run.expected_ppm, run.found_ppm, run.element)
        }
        found.append(Check(instrument, run_at, standard, tuple(run.element for run in group), failed))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Span:
    """From `start` up to but not including `end` the measurements of one element rest on a failed check."""

    start: dt.datetime
    end: dt.datetime
    check: Check


class HoldBook:
    """Which measurements rest on a failed check: made once from the checks, asked for many samples.

    `later=False`: only the check before a measurement counts, for judging with what was known then."""

    def __init__(self, checks: Iterable[Check], *, later: bool = True) -> None:
        histories: dict[tuple[str, str, str], list[Check]] = defaultdict(list)
        for check in sorted(checks, key=lambda c: c.run_at):
            for element in check.elements:
                histories[(check.instrument, element, check.standard)].append(check)
        self._spans: dict[str, dict[str, list[Span]]] = {}
        for (instrument, element, _), history in histories.items():
            spans = _spans(history, element, later)
            if spans:
                self._spans.setdefault(instrument, {}).setdefault(element, []).extend(spans)
        self._any = {name: _merged(spans) for name, spans in self._spans.items()}

    def near(self, instrument: str, when: dt.datetime | None) -> bool:
        """Whether any element of a measurement at that moment rests on a failed check: a quick first question."""
        merged = self._any.get(instrument)
        if merged is None or when is None:
            return False
        place = bisect_right(merged[0], when) - 1
        return place >= 0 and when < merged[1][place]

    def __bool__(self) -> bool:
        """True where any check failed."""
        return bool(self._spans)

    def failed(self, instrument: str, when: dt.datetime | None, elements: Iterable[str] = ()) -> dict[str, Check]:
        """Element -> the failed check that a measurement at that moment rests on. `elements` empty: all."""
        spans = self._spans.get(instrument)
        if not spans or when is None or not self.near(instrument, when):
            return {}
        found = {}
        for element in dict.fromkeys(elements) or spans:
            for span in spans.get(element, ()):
                if span.start <= when < span.end:
                    found[element] = span.check
                    break
        return found

    def words(self, one: Measured) -> str:
        """Why a measurement is held, in words for the call, or ''."""
        reasons = self.failed(one.instrument, one.measured_at, one.elements)
        return _words(one, reasons) if reasons else ""


def _merged(spans: Mapping[str, Sequence[Span]]) -> tuple[list[dt.datetime], list[dt.datetime]]:
    """Starts and ends of the times that any span covers, in order, none overlapping."""
    starts: list[dt.datetime] = []
    ends: list[dt.datetime] = []
    for start, end in sorted((span.start, span.end) for each in spans.values() for span in each):
        if ends and start <= ends[-1]:
            ends[-1] = max(ends[-1], end)
        else:
            starts.append(start)
            ends.append(end)
    return starts, ends


def _spans(history: Sequence[Check], element: str, later: bool) -> list[Span]:
    """Where the failed checks of one element and standard reach: back to the check before, on to the check after."""
    found = []
    for place, check in enumerate(history):
        if element in check.failed:
            before = history[place - 1].run_at if place else dt.datetime.min  # noqa: DTZ901
            end = history[place + 1].run_at if place + 1 < len(history) else dt.datetime.max  # noqa: DTZ901
            found.append(Span(before if later else check.run_at, end, check))
    return found


def held_samples(checks: Iterable[Check], measured: Iterable[Measured]) -> tuple[Held, ...]:
    """The samples whose latest measurement cannot be trusted, by time.

    Elements and standards are judged one by one: a sample is held when any of its elements is, and a good blank does
    not clear a failed standard."""
    book = HoldBook(checks)
    latest: dict[str, Measured] = {}
    for one in measured:
        if one.sample not in latest or one.measured_at >= latest[one.sample].measured_at:
            latest[one.sample] = one
    found = []
    for one in sorted(latest.values(), key=lambda m: (m.measured_at, m.sample)):
        reasons = book.failed(one.instrument, one.measured_at, one.elements)
        if reasons:
            found.append(
                Held(one.sample, one.instrument, one.measured_at, tuple(sorted(reasons)), _words(one, reasons))
            )
    return tuple(found)


WHAT_TO_DO = "Standardise, run the standard again, then this sample."
"""How every hold that comes from a failed check ends: it is worked out anew each time, never kept in the file."""


def _words(one: Measured, reasons: Mapping[str, Check]) -> str:
    check = min(reasons.values(), key=lambda c: c.run_at)
    what = "; ".join(check.failed[e] for e in sorted(reasons) if e in check.failed)
    return f"The check of {one.instrument} on {check.run_at:%Y-%m-%d %H:%M} failed ({what}). {WHAT_TO_DO}"


@dataclass(frozen=True, slots=True)
class Due:
    """Whether a check is due on an instrument, and why, in words."""

    due: bool
    text: str


CHECK_EVERY_SAMPLES = 25
CHECK_EVERY_HOURS = 1.0
"""Every hour in continuous, every 25 samples in intermittent operation: ASTM D6595, sections 8.2 and 13.3."""


def check_due(checks: Sequence[Check], measured: Iterable[Measured], instrument: str, now: dt.datetime) -> Due:
    """Is a check due on this instrument at this moment?"""
    own = [c for c in checks if c.instrument == instrument and c.run_at <= now]
    if not own:
        return Due(True, f"{instrument} has no check yet: run a standard and a blank before the first sample.")
    last = max(own, key=lambda c: c.run_at)
    if not last.good:
        return Due(True, f"The last check of {instrument} failed: standardise and run the standard again.")
    since = sum(1 for m in measured if m.instrument == instrument and last.run_at < m.measured_at <= now)
    hours = (now - last.run_at).total_seconds() / 3600.0
    if since >= CHECK_EVERY_SAMPLES:
        return Due(True, f"{since} samples since the last check of {instrument}: run the standard.")
    if hours >= CHECK_EVERY_HOURS and (since > 0 or last.run_at.date() != now.date()):
        when = f"{hours:.0f} h" if hours < 48 else f"{hours / 24:.0f} days"
        return Due(True, f"The last check of {instrument} is {when} old: run the standard before the next sample.")
    return Due(False, f"{instrument} is checked: {since} samples since.")
