"""One reading far off and alone is measured again before an engine is opened; said twice, it is believed."""

from __future__ import annotations

from benchapp.library import load_library
from benchapp.records import Call
from benchapp.wear.judge import judge_fleet
from benchapp.wear.rules import rules_from
from tests.wear.histories import Story, fleet_of


def calls(story: Story) -> list[Call]:
    fleet = fleet_of(story)
    return [call for call in judge_fleet(fleet, rules_from(load_library()), each=True) if call.engine == "E"]


def test_a_bad_burn_is_measured_again_and_teaches_nothing() -> None:
    story = Story("E").broken_in().usual(8)
    story.fill().run(4.0)
    story.sample(gains={"Fe": 6.0})
    odd, after = calls(story)[-1], calls(story.usual(2))[-1]
    assert odd.call == "Short stint"
    assert any(line.startswith("Fe was read as") and "again" in line for line in odd.unknowns)
    assert after.call == "Run"
    assert not [line for line in after.unknowns if "was read as" in line]


def test_what_is_read_twice_is_believed() -> None:
    story = Story("E").broken_in().usual(8)
    for _ in range(2):
        story.fill().run(4.0)
        story.sample(gains={"Fe": 6.0})
    assert calls(story)[-1].call in ("Look inside", "Park")
