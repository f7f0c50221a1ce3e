"""What in a sample's hours and date does not go with the rest of the record."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from benchapp.actions.second_look import odd
from benchapp.records import Build, Fill, Sample

DAY = dt.datetime(2026, 5, 3, 14, 0)
NOW = dt.datetime(2026, 5, 9, 18, 0)
BEFORE = Sample("26-001", "1", 20.0, 20.0, DAY - dt.timedelta(days=30))
LAST = Sample("26-002", "2", 58.0, 4.0, DAY - dt.timedelta(days=3))
BUILD = Build("1", (), 6.0, fills=(Fill("1", "an oil", 0.0), Fill("2", "an oil", 54.0)), samples=(BEFORE, LAST))
FITS = Sample("26-003", "2", 60.25, 6.25, DAY)


def test_what_fits_is_not_spoken_of():
    assert odd(BUILD, FITS, NOW) == ()
    assert odd(BUILD, replace(FITS, oil_h=6.0, build_h=60.3), NOW) == (), "read off by eye"
    assert odd(BUILD, replace(FITS, taken_at=None, oil_h=None), NOW) == ()
    assert odd(BUILD, replace(FITS, fill="9"), NOW) == ()
    assert odd(replace(BUILD, fills=(), samples=()), FITS, NOW) == ()


def test_a_sample_that_is_corrected_is_not_held_against_itself():
    assert odd(BUILD, replace(LAST, taken_at=DAY, build_h=59.0, oil_h=5.0), NOW) == ()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"build_h": 6.025}, "Build hours 6.025 lie before fill 2 went in (54 h)."),
        ({"oil_h": 62.5}, "Hours on oil are 62.5; since fill 2 went in it ran 6.25 h."),
        ({"build_h": 56.0, "oil_h": 2.0}, "Sample 26-002 of 2026-04-30 was drawn at 58 h: hours would run backwards."),
        (
            {"taken_at": DAY.replace(year=2025)},
            "Sample 26-001 of 2026-04-03 was drawn at 20 h: hours would run backwards.",
        ),
        ({"taken_at": DAY.replace(year=2027)}, "Taken at 2027-05-03 is still to come."),
    ],
)
def test_what_does_not_fit_is_said(changes, said):
    assert said in odd(BUILD, replace(FITS, **changes), NOW)


def test_a_moment_with_its_zone_is_compared_by_the_local_clock():
    there = dt.timezone(dt.timedelta(hours=11))
    taken = NOW.astimezone().astimezone(there)
    assert odd(BUILD, replace(FITS, taken_at=taken), NOW) == ()
    assert odd(BUILD, replace(FITS, taken_at=taken + dt.timedelta(days=1)), NOW)
