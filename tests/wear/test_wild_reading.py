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
    assert after.call == "Run"
    assert not [line for line in after.unknowns if "was read as" in line]


def test_what_is_read_twice_is_no_slip() -> None:
    last = calls(bad_burn("Cr", 14.0, 2))[-1]
    assert not [line for line in last.unknowns if "was read as" in line]
    assert last.call != "Run"
