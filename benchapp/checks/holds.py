"""Which results are held because a check failed, and what releases them. Nothing is deleted.

A measurement is trusted when the check before it and the check after it are good. A failed check holds every
measurement since the last good one, and all that follow until a good check. Held samples are released by measuring
them again after a good check (fail, standardise, check again, rerun: follows the practice of ASTM D6595)."""

from __future__ import annotations

import datetime as dt
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
            if not tolerance.passes(run.expected_ppm, run.found_ppm)
        }
        found.append(Check(instrument, run_at, standard, tuple(run.element for run in group), failed))
    return tuple(found)


def held_samples(checks: Sequence[Check], measured: Iterable[Measured]) -> tuple[Held, ...]:
    """The samples whose latest measurement cannot be trusted, by time.

    Elements and standards are judged one by one: a sample is held when any of its elements is, and a good blank does
    not clear a failed standard."""
    histories: dict[tuple[str, str, str], list[Check]] = defaultdict(list)
    for check in sorted(checks, key=lambda c: c.run_at):
        for element in check.elements:
            histories[(check.instrument, element, check.standard)].append(check)
    latest: dict[str, Measured] = {}
    for one in measured:
        if one.sample not in latest or one.measured_at >= latest[one.sample].measured_at:
            latest[one.sample] = one
    found = []
    for one in sorted(latest.values(), key=lambda m: (m.measured_at, m.sample)):
        reasons: dict[str, Check] = {}
        for (instrument, element, _), history in histories.items():
            if instrument == one.instrument and (not one.elements or element in one.elements):
                failed = _failed_around(history, one.measured_at, element)
                if failed is not None:
                    reasons[element] = failed
        if reasons:
            found.append(
                Held(one.sample, one.instrument, one.measured_at, tuple(sorted(reasons)), _words(one, reasons))
            )
    return tuple(found)


def _failed_around(history: Sequence[Check], when: dt.datetime, element: str) -> Check | None:
    """The failed check next before or next after a moment, or None."""
    before: Check | None = None
    after: Check | None = None
    for check in history:
        if check.run_at <= when:
            before = check
        elif after is None:
            after = check
    return next((c for c in (before, after) if c is not None and element in c.failed), None)


def _words(one: Measured, reasons: Mapping[str, Check]) -> str:
    check = min(reasons.values(), key=lambda c: c.run_at)
    what = "; ".join(check.failed[e] for e in sorted(reasons) if e in check.failed)
    return (
        f"Held: the check of {one.instrument} on {check.run_at:%Y-%m-%d %H:%M} failed ({what}). "
        "Standardise, run the standard again, then this sample."
    )


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
