"""One reading far off and alone is measured again before an engine is opened; said twice, it is believed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.library import load_library
from benchapp.records import Call
from benchapp.wear.judge import judge_fleet
from benchapp.wear.rules import rules_from
from tests.wear.histories import Story, fleet_of


def calls(story: Story) -> list[Call]:
    fleet = fleet_of(story)
    return [call for call in judge_fleet(fleet, rules_from(load_library()), each=True) if call.engine == "E"]


def bad_burn(element: str, ppm: float, times: int) -> Story:
    """Sound for ten fills, then one element alone is read so much higher, so many times in a row."""
    story = Story("E").broken_in().usual(8)
    for _ in range(times):
        story.fill().run(4.0)
        story.sample(gains={element: ppm / max(story.ppm[element], 1e-6)})
    return story


def test_a_bad_burn_is_measured_again_and_teaches_nothing() -> None:
    # chromium alone: no part of this engine sheds it without far more iron
    story = bad_burn("Cr", 14.0, 1)
    odd, after = calls(story)[-1], calls(story.usual(2))[-1]
    assert odd.call == "Short stint"
    assert any(line.startswith("Cr was read as") and "again" in line for line in odd.unknowns)
    assert "Why: chromium was misread, perhaps." in odd.sentence
    step = next(step for step in odd.before_out if "again: Cr was read as" in step)
    assert any(line.startswith(step.partition(": ")[2].rstrip(".")) for line in odd.unknowns), "the same figure"
    assert after.call == "Run"
    assert not [step for step in after.before_out if "was read as" in step]
    assert not [line for line in after.unknowns if "was read as" in line]


def test_what_is_read_twice_is_no_slip() -> None:
    last = calls(bad_burn("Cr", 14.0, 2))[-1]
    assert not [line for line in last.unknowns if "was read as" in line]
    assert last.call != "Run"


def misread_additive(element: str, times: float) -> Story:
    """An oil additive read so many times too high, once and alone, in the first fill after the break-in."""
    return Story("E").broken_in().fill().run(4.0).sample(gains={element: times})


@pytest.mark.parametrize(("element", "times"), [("B", 3.0), ("Ca", 1.7), ("P", 1.7), ("Mo", 3.0)])
def test_an_additive_that_is_misread_is_told_and_is_no_reason(element: str, times: float) -> None:
    """What it should be stands in the oil's record, so no history is needed; of wear it says nothing."""
    odd, *after = calls(misread_additive(element, times).usual(4))[-5:]
    assert any(line.startswith(f"{element} was read as") and "again" in line for line in odd.unknowns)
    assert [call.call for call in (odd, *after)] == ["Run"] * 5


def test_an_additive_of_an_oil_without_a_record_is_not_misread() -> None:
    """Nobody knows what should be in it: what the first sample shows is taken for the oil's."""
    fleet = fleet_of(misread_additive("B", 3.0))
    blank = {name: replace(oil, fresh_ppm={}) for name, oil in fleet.oils.items()}
    found = judge_fleet(replace(fleet, oils=blank), rules_from(load_library()), each=True)
    last = [call for call in found if call.engine == "E"][-1]
    assert not [line for line in last.unknowns if line.startswith("B was read as")]
