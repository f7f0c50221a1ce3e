"""Lead that washes out for hours after the last leaded fuel. All histories are invented."""

from __future__ import annotations

import math

import pytest

from benchapp.wear.judge import judge_fleet
from benchapp.wear.rules import Rules
from tests.wear.histories import RULES, Story, fleet_of, rules_with
from tests.wear.test_confounders import loud


def changed_over(seed: int, lead: float, bearing: float = 0.0) -> Story:
    """Five fills on leaded fuel and eight on unleaded, into which `lead` mg/h wash out, a third after fifteen hours; in
    the last five a bearing sheds `bearing` mg/h more each time."""
    story = Story("E", seed=seed).broken_in()
    for _ in range(5):
        story.fill().run(3.0, "race", fuel="leaded", extra={"Pb": 90.0}).sample()
    for number in range(8):
        worn = bearing * max(number - 3, 0)
        washed = lead * math.exp(-(3.0 * number + 1.5) / 15.0)
        story.fill().run(3.0, "race", extra={"Pb": washed + 0.24 * worn, "Cu": 0.74 * worn, "Sn": 0.02 * worn}).sample()
    return story


def loud_calls(story: Story, rules: Rules = RULES) -> list[str]:
    return loud({call.sample: call for call in judge_fleet(fleet_of(story), rules, each=True, engines=[story.name])})


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("lead", [10.0, 40.0])
def test_lead_that_washes_out_opens_no_engine(seed, lead):
    assert not loud_calls(changed_over(seed, lead))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_by_the_drains_alone_it_would(seed):
    _, wash_h = RULES.table["nuisance"]["lead_stays"]
    at_once = rules_with("nuisance", lead_stays=[0.0, wash_h])
    assert loud_calls(changed_over(seed, 40.0), at_once)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_bearing_is_called_meanwhile_by_its_copper(seed):
    assert loud_calls(changed_over(seed, 10.0, bearing=12.0))
