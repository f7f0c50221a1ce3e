"""What a drain left is measured by the additives where the oil changed, and said where it contradicts the record."""

from __future__ import annotations

import pytest

from benchapp.library import load_library
from benchapp.records import Call
from benchapp.wear.judge import judge_fleet
from benchapp.wear.rules import rules_from
from tests.wear.histories import ROAD, Story, fleet_of

OTHER = ROAD


def calls(story: Story) -> list[Call]:
    fleet = fleet_of(story)
    return [call for call in judge_fleet(fleet, rules_from(load_library()), each=True) if call.engine == "E"]


@pytest.mark.parametrize("left", [0.05, 0.17])
def test_the_additives_measure_what_a_drain_left(left: float) -> None:
    story = Story("E").broken_in().usual(2)
    story.fill(OTHER, "hot", left=left).run(3.0).sample()
    last = calls(story)[-1]
    assert last.carry_over == pytest.approx(left, abs=0.03)
    assert not [line for line in last.unknowns if "additives" in line]


@pytest.mark.parametrize("left", [0.35, 0.6])
def test_a_drain_that_was_none_is_said(left: float) -> None:
    story = Story("E").broken_in().usual(2)
    story.fill(OTHER, "hot", left=left).run(3.0).sample()
    last = calls(story)[-1]
    doubts = [line for line in last.unknowns if "additives" in line]
    assert doubts or "other oil" in {reason.source for reason in last.reasons}


def test_without_a_change_of_oil_the_kind_of_drain_stands() -> None:
    story = Story("E").broken_in().usual(2)
    assert calls(story)[-1].carry_over == pytest.approx(0.10)
