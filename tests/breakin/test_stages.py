"""The live checklist: clocks, ticks, and coming back after a crash."""

from __future__ import annotations

import datetime as dt

import pytest

from benchapp.breakin import stages
from benchapp.library import load_library
from benchapp.problems import BenchProblem

PLAN = stages.Plan("Two steps", (
    stages.Stage("First run", 20, rpm_target=2500, load="none", event="drain hot, change filter, cut it open"),
    stages.Stage("Load", 30, rpm_low=2500, rpm_high=5000, load="moderate"),
))  # fmt: skip
NOON = dt.datetime(2026, 3, 1, 12, 0)


def minutes(n):
    return dt.timedelta(minutes=n)


def test_the_clock_runs_pauses_and_survives_a_crash_in_mid_stage():
    standing = stages.start(stages.Standing(), NOON)
    standing = stages.pause(standing, NOON + minutes(5))
    standing = stages.start(standing, NOON + minutes(8))
    again = stages.resumed(stages.kept(standing))
    assert again == standing
    assert stages.elapsed_s(again, NOON + minutes(10)) == 7 * 60


def test_a_clock_set_back_is_never_negative_time():
    standing = stages.start(stages.Standing(run_s=60.0), NOON)
    assert stages.elapsed_s(standing, NOON - minutes(30)) == 60.0


def test_what_is_still_to_do_shrinks_as_it_is_ticked():
    standing = stages.tick(stages.Standing(), "run 20 min")
    assert stages.to_do(PLAN, standing) == ("drain hot", "change filter", "cut it open")
    assert stages.to_do(PLAN, stages.next_stage(PLAN, standing)) == ("run 30 min",)


def test_after_the_last_stage_nothing_is_asked():
    standing = stages.next_stage(PLAN, stages.next_stage(PLAN, stages.Standing()))
    assert standing.stage == 2
    assert stages.next_stage(PLAN, standing).stage == 2
    assert stages.to_do(PLAN, standing) == ()


@pytest.mark.parametrize("bad", [
    {"name": "", "stages": [{"name": "a", "minutes": 5}]},
    {"name": "x", "stages": []},
    {"name": "x", "stages": [{"name": "a", "minutes": -5}]},
    {"name": "x", "stages": [{"name": "a", "speed": 5}]},
])  # fmt: skip
def test_a_plan_that_cannot_be_used_is_refused(bad):
    with pytest.raises(BenchProblem) as refused:
        stages.plan_from(bad)
    assert "not kept" in refused.value.means


def test_a_plan_survives_as_plain_data():
    assert stages.plan_from(stages.plan_data(PLAN)) == PLAN


def test_the_plans_of_the_library_can_be_used_and_name_their_origin():
    plans = stages.plans_from(load_library().data("breakin")["plan"])
    assert plans[0].default
    assert len(plans) >= 3
    assert all(plan.origin for plan in plans)
    first = plans[0].stages[0]
    # common practice, no source: about 20 minutes near 2,500 rpm, then drain hot and change the filter
    assert (first.minutes, first.rpm_target) == (20, 2500)
    assert {"drain hot", "change filter"} <= set(first.events)
