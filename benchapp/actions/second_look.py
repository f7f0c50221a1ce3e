"""What in a sample's hours and date does not go with the rest of the record: said beforehand, never refused.

A figure with its point in the wrong place is a number like any other, and hours are what every rate is divided by."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from benchapp.records import Build, Sample

CLOCK_H = 12.0
"""So far apart may two clocks and their time zones be [h]."""
HOURS_APART = 0.5
"""Hours are read off by eye and rounded [h]."""


def odd(build: Build, sample: Sample, now: dt.datetime) -> tuple[str, ...]:
    """One sentence for each thing that does not fit, the gravest first. `now`: local time, without a zone."""
    return tuple(_said(build, sample, now))


def _said(build: Build, sample: Sample, now: dt.datetime) -> Iterator[str]:
    fill = next((one for one in build.fills if one.name == sample.fill), None)
    if fill is not None and sample.build_h < fill.build_h - HOURS_APART:
        yield f"Build hours {sample.build_h:g} lie before fill {fill.name} went in ({fill.build_h:g} h)."
    elif fill is not None and sample.oil_h is not None:
        since = sample.build_h - fill.build_h
        if abs(sample.oil_h - since) > HOURS_APART:
            yield f"Hours on oil are {sample.oil_h:g}; since fill {fill.name} went in it ran {since:.6g} h."
    yield from _out_of_turn(build, sample)
    if sample.taken_at is not None and _local(sample.taken_at) > now + dt.timedelta(hours=CLOCK_H):
        yield f"Taken at {sample.taken_at:%Y-%m-%d} is still to come."


def _out_of_turn(build: Build, sample: Sample) -> Iterator[str]:
    """The nearest sample of the build that was drawn earlier at more hours, or later at fewer."""
    if sample.taken_at is None:
        return
    taken = _local(sample.taken_at)
    for one in build.samples:
        if one.code == sample.code or one.taken_at is None:
            continue
        more, later = one.build_h - sample.build_h, _local(one.taken_at) - taken
        if (more > HOURS_APART and later < dt.timedelta()) or (more < -HOURS_APART and later > dt.timedelta()):
            when = f"{one.taken_at:%Y-%m-%d}"
            yield f"Sample {one.code} of {when} was drawn at {one.build_h:g} h: hours would run backwards."
            return


def _local(moment: dt.datetime) -> dt.datetime:
    return moment.astimezone().replace(tzinfo=None) if moment.tzinfo else moment
