"""From which samples families are known: the earliest ones, anew each time they have grown by a fifth."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from benchapp.records import Build, Change, Engine, Fill, Finding, Fleet, Reading, Run, Sample, TopUp
from benchapp.wear.known import GROWTH, cut, known_counts, known_part, milestone, moments_of

START = dt.datetime(2026, 3, 1, 9)


def a_build(hours: list[float], days: list[float | None]) -> Build:
    samples = tuple(
        Sample(
            f"S-{n}",
            "F1",
            h,
            h,
            None if day is None else START + dt.timedelta(days=day),
            readings=(Reading("Fe", 9.0),),
        )
        for n, (h, day) in enumerate(zip(hours, days, strict=True))
    )
    return Build("1", (), samples=samples)


def a_fleet(*builds: Build) -> Fleet:
    engines = tuple(Engine(f"E-{n}", "a family", builds=(build,)) for n, build in enumerate(builds))
    return Fleet(engines, {}, {}, {})


def test_the_milestones():
    reached = sorted({milestone(n) for n in range(60)})
    assert reached == [0, 1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 18, 22, 27, 33, 40, 48, 58]


@given(st.integers(1, 10**6))
def test_never_more_than_there_is_and_never_a_fifth_less(count):
    reached = milestone(count)
    assert reached <= count < max(reached + 1, reached * GROWTH + 1)


def test_the_earliest_teach_whichever_engine_they_are_of():
    late, early = a_build([2.0, 4.0], [10, 11]), a_build([1.0, 2.0, 3.0, 4.0, 5.0], [1, 2, 3, 4, 12])
    assert known_counts([late, early]) == [2, 4]  # six of seven
    more = replace(early, samples=(*early.samples, replace(early.samples[-1], code="S-9", build_h=6.0)))
    assert known_counts([late, more, Build("1", ())]) == [2, 6, 0]  # eight is a milestone
    assert known_counts([]) == []
    assert [engine.name for engine in known_part(a_fleet(late, Build("1", ()))).engines] == ["E-0"]


def test_a_sample_without_a_moment_counts_from_the_one_before_it():
    build = a_build([1.0, 2.0, 3.0], [5, None, 4])
    assert [moment for moment, _ in moments_of(build)] == [START + dt.timedelta(days=5)] * 3


def test_one_more_of_the_latest_moment_leaves_what_is_known_as_it_is():
    builds = [a_build([float(h) for h in range(1, 13)], list(range(12)))]
    now = known_part(a_fleet(*builds))
    more = a_fleet(*builds, a_build([1.0], [40]))
    assert known_part(more) == now
    assert known_part(a_fleet(*builds, a_build([1.0, 2.0, 3.0], [40, 41, 42]))) != now


def test_what_is_cut_off_comes_after_the_last_sample_that_teaches():
    build = replace(
        a_build([2.0, 4.0, 6.0], [1, 2, 3]),
        notes="a note",
        fills=(Fill("F1", "an oil", 0.0), Fill("F2", "an oil", 5.0)),
        top_ups=(TopUp("F1", 3.0, 0.5), TopUp("F1", 5.5, 0.5)),
        runs=tuple(Run("race", 1.5) for _ in range(5)),
        changes=(Change(1.0, "part"), Change(4.5, "part")),
    )
    left = cut(build, 2)
    assert [sample.code for sample in left.samples] == ["S-0", "S-1"]
    assert [fill.name for fill in left.fills] == ["F1"]
    assert [top_up.build_h for top_up in left.top_ups] == [3.0]
    assert len(left.runs) == 3  # the third is under way at 4 h
    assert [change.build_h for change in left.changes] == [1.0]
    assert left.notes == ""
    held = replace(build, samples=tuple(replace(s, hold="failed check", notes="n") for s in build.samples))
    assert cut(held, 2) == left


def test_a_fill_that_a_sample_names_is_kept_whenever_it_began():
    build = replace(a_build([2.0], [1]), fills=(Fill("F0", "an oil", 0.0), Fill("F1", "an oil", 2.5)))
    assert [fill.name for fill in cut(build, 1).fills] == ["F0", "F1"]


def test_what_was_found_after_the_last_sample_of_all_teaches_and_after_an_earlier_one_not_yet():
    found = (Finding(2.0, "bores", "as new"), Finding(3.0, "rod bearing", "worn out"))
    build = replace(a_build([2.0, 2.5], [1, 2]), findings=found)
    assert cut(build, 2).findings == found
    assert cut(build, 1).findings == found[:1]
