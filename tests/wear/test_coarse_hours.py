"""Two meters: a sample's tenth and a drain's hundredth of an hour are one moment. All figures are invented."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from benchapp.records import Build, Fleet
from benchapp.wear.judge import judge_fleet
from benchapp.wear.timeline import DrainStep, SampleStep, TopUpStep, timeline
from tests.wear.histories import OILS, ROAD, RULES, Story, fleet_of

COARSE_H = 0.04
"""By how much the drain's hour is before that of the sample which was drawn before it [h]."""


def told() -> Story:
    return Story("E", seed=7).broken_in().usual(3).fill(ROAD).run(4.0).sample().usual(3)


def with_fills_moved(build: Build, by: float, *, dated: bool = True) -> Build:
    moved = [replace(fill, build_h=max(fill.build_h + by, 0.0)) for fill in build.fills]
    return replace(build, fills=tuple(fill if dated else replace(fill, filled_at=None) for fill in moved))


def names(build: Build) -> list[str]:
    """Fills, samples and top-ups in the order in which they are walked."""
    found = []
    for step in timeline(build, None, OILS, RULES).steps:
        if isinstance(step, DrainStep):
            found.append(step.fill.name)
        elif isinstance(step, SampleStep):
            found.append(step.sample.code)
        elif isinstance(step, TopUpStep):
            found.append("top-up")
    return found


@pytest.mark.parametrize("dated", [True, False])
@pytest.mark.parametrize("by", [-COARSE_H, COARSE_H, -0.1, 0.1])
def test_a_sample_stays_in_its_fill(by, dated):
    build = told().build()
    assert names(with_fills_moved(build, by, dated=dated)) == names(build)


def test_dates_tell_where_a_sample_belongs_whose_hour_is_mistyped():
    build = told().build()
    fourth = build.samples[3]
    mistyped = replace(fourth, build_h=fourth.build_h + 2.0)
    other = replace(build, samples=(*build.samples[:3], mistyped, *build.samples[4:]))
    assert names(other) == names(build)
    undated = replace(mistyped, taken_at=None)
    assert names(replace(other, samples=(*build.samples[:3], undated, *build.samples[4:]))) != names(build)


def test_where_hours_and_dates_both_contradict_the_fill_its_name_is_the_wrong_word():
    build = told().build()
    fourth = build.samples[3]
    later = build.fills[5].filled_at + dt.timedelta(hours=5)
    slip = replace(fourth, build_h=fourth.build_h + 2.0, taken_at=later)
    walked = names(replace(build, samples=(*build.samples[:3], slip, *build.samples[4:])))
    assert walked.index(fourth.code) > walked.index(build.fills[5].name)


def test_a_top_up_stays_in_its_fill():
    story = Story("E", seed=7).broken_in().usual(2)
    build = story.top_up(0.5).fill().run(4.0).sample().build()
    assert "top-up" in names(build)
    assert names(with_fills_moved(build, -COARSE_H)) == names(build)


def called(fleet: Fleet) -> dict[str, str]:
    return {call.sample: call.call for call in judge_fleet(fleet, RULES, each=True, engines=["E"])}


def test_calls_do_not_hang_on_the_last_digit_of_a_meter():
    fleet = fleet_of(told())
    build = with_fills_moved(fleet.engines[0].builds[0], -COARSE_H)
    other = replace(fleet, engines=(replace(fleet.engines[0], builds=(build,)), *fleet.engines[1:]))
    assert called(other) == called(fleet)
    assert set(called(fleet).values()) == {"Run"}, "an oil change on the way is no reason for anything"
