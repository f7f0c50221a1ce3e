"""What the oil bears on a call: at most what the call table says, nothing where it was not read, coolant only once."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import pytest

from benchapp.records import Build, Call, Fleet, OilLimit, OwnBearing, Reading, Run
from benchapp.wear.flips import flips
from benchapp.wear.judge import family_priors, judge_fleet
from tests.wear.histories import OILS, RACE, RULES, Story, fleet_of, of_source

FRESH = {"kv40_cst": 100.0, "kv100_cst": 14.5, "tbn": 8.0, "tan": 1.5, "density_15c_kg_l": 0.87}
UNITS = {"KV40": "cSt", "KV100": "cSt", "TBN": "mg KOH/g", "Water": "%", "Fuel": "%", "Glycol": "%"}
ROD = OwnBearing("rod bearing", 53.0, 21.0, 0.045, 0.3, "steady share of the peak load", 3700.0, 6500.0)


def a_fleet(*, bearings: tuple[OwnBearing, ...] = (), story: Story | None = None, **read: float) -> Fleet:
    """A sound engine whose last sample also has these oil readings."""
    fleet = fleet_of(story or Story("E").broken_in().usual(6))
    engine = fleet.engines[0]
    build = engine.builds[-1]
    more = tuple(Reading(name, value, UNITS[name]) for name, value in read.items())
    last = replace(build.samples[-1], readings=(*build.samples[-1].readings, *more))
    hot = tuple(replace(run, max_rpm=6500.0, oil_temp_c=115.0) for run in build.runs)
    build = replace(build, samples=(*build.samples[:-1], last), runs=hot, bearings=bearings)
    oils = MappingProxyType({**OILS, RACE: replace(OILS[RACE], **FRESH)})
    return replace(fleet, engines=(replace(engine, builds=(build,)), *fleet.engines[1:]), oils=oils)


def call_of(fleet: Fleet) -> Call:
    return judge_fleet(fleet, RULES, engines=["E"])[-1]


def test_without_oil_readings_nothing_changes() -> None:
    plain = call_of(fleet_of(Story("E").broken_in().usual(6)))
    assert call_of(a_fleet(bearings=(ROD,))) == plain
    assert all(reason.about not in ("oil", "oil film", "water in the oil") for reason in plain.reasons)


def test_an_oil_that_is_fine_is_not_spoken_of() -> None:
    assert call_of(a_fleet(KV40=95.0, KV100=13.9, TBN=7.0, Fuel=1.0, Water=0.02)) == call_of(a_fleet())


def test_thin_oil_with_fuel_asks_for_a_short_stint_and_says_why() -> None:
    call = call_of(a_fleet(KV100=10.5, Fuel=6.2))
    assert call.call == "Short stint"
    assert call.next_sample_h == 2.0
    assert call.sentence.startswith("Short stint: it may go, but sample again after 2.0 h. Why: the oil is over its")
    reason = call.reasons[0]
    assert (reason.about, reason.kind, reason.parts) == ("oil", "other", ())
    assert reason.source == "main bearing overlay + main bearing lining"  # what a done oil puts at risk
    assert "Fuel 6.2 %" in reason.text
    assert "The viscosity drop would take" in reason.text
    assert "sheared polymer" in reason.would_change
    assert call.before_out[0].startswith("Drain it hot")
    assert "next sample" in call.before_out[-1]


def test_near_its_limit_it_runs_and_the_oil_is_told() -> None:
    call = call_of(a_fleet(KV100=12.5))
    assert call.call == "Run"
    said = "Run, but mind the oil: the oil is near its limit in viscosity at 100 °C (thinner)."
    assert call.sentence.startswith(said)
    assert call.reasons[-1].about == "oil"
    assert call.next_sample_h == call_of(a_fleet()).next_sample_h


def test_a_limit_made_for_diesels_raises_nothing_until_it_is_set_for_this_oil() -> None:
    fleet = a_fleet(TBN=3.0)
    call = call_of(fleet)
    assert call.call == "Run"
    assert "made for heavy diesels" in call.reasons[-1].text
    own = replace(fleet.oils[RACE], limits=(OilLimit("base number", 0.6, 0.45, "own teardowns"),))
    call = call_of(replace(fleet, oils=MappingProxyType({**fleet.oils, RACE: own})))
    assert call.call == "Short stint"
    assert "made for heavy diesels" not in call.reasons[0].text


def test_water_and_glycol() -> None:
    wet = call_of(a_fleet(Water=0.5))
    assert (wet.call, wet.reasons[0].about, wet.reasons[0].source) == ("Short stint", "water in the oil", "coolant")
    glycol = call_of(a_fleet(Glycol=0.1))
    assert glycol.call == "Look inside"
    assert glycol.sentence.startswith("Look inside before it goes out: glycol in the oil.")
    assert any("cooling system" in step for step in glycol.before_out)


def test_coolant_that_the_metals_show_is_not_counted_twice() -> None:
    leak = {element: 400.0 * share for element, share in of_source("coolant").items()}
    story = Story("E").broken_in().usual(5)
    for _ in range(2):
        story.fill().run(4.0, extra=leak).sample()
    alone, both = (call_of(a_fleet(story=story, **read)) for read in ({}, {"Glycol": 0.1, "Water": 0.6}))
    assert any(reason.source == "coolant" for reason in alone.reasons)
    assert both.call == alone.call
    assert both.reasons[:-1] == alone.reasons
    assert "It goes with the coolant that the metals show." in both.reasons[-1].text


def test_a_measured_bearing_that_loses_its_film_is_looked_at() -> None:
    assert call_of(a_fleet(bearings=(ROD,), KV40=98.0, KV100=14.3)).call == "Run"
    call = call_of(a_fleet(bearings=(ROD,), KV40=62.0, KV100=9.9))
    film = next(reason for reason in call.reasons if reason.about == "oil film")
    assert "Lost against the fresh oil" in film.text
    assert call.call == "Look inside"
    assert "rod bearing" in call.sentence


@pytest.mark.parametrize("missing", ["clearance_mm", "load_n"])
def test_a_film_with_a_usual_load_or_clearance_proves_nothing(missing: str) -> None:
    usual = replace(ROD, **{missing: None})
    call = call_of(a_fleet(bearings=(usual,), KV40=62.0, KV100=9.9))
    assert call.call == "Short stint", "for the viscosity alone"
    assert all("to compare only" in reason.text for reason in call.reasons if reason.about == "oil film")


def test_a_bottle_of_another_oil_says_nothing_of_this_one() -> None:
    story = Story("E").broken_in().usual(5)
    story.fill().run(4.0)
    road = OILS["an invented road oil"].fresh_ppm
    story.sample(bottle={element: 0.3 * ppm + 0.7 * road.get(element, 0.0) for element, ppm in story.ppm.items()})
    call = call_of(a_fleet(story=story, KV100=9.0))
    assert any(reason.source == "other oil" for reason in call.reasons)
    assert all(reason.about != "oil" for reason in call.reasons)


def test_flips_count_with_the_oil_too() -> None:
    fleet = a_fleet(KV100=10.5)
    engine = fleet.engines[0]
    build: Build = engine.builds[0]
    found = flips(fleet, engine, build, build.samples[-1], RULES, family_priors(fleet, RULES))
    assert all(flip.call != "Short stint" for flip in found), "that is the call already"
    assert ("oil in the sump", "Run") in {(flip.what, flip.call) for flip in found}, "without its fresh values"


def test_a_film_that_stood_just_over_its_limit_is_told_and_no_more() -> None:
    edge = replace(ROD, load_n=4700.0)
    call = call_of(a_fleet(bearings=(edge,), KV40=96.0, KV100=14.0))
    assert [reason.about for reason in call.reasons if reason.kind == "other"] == ["oil film"]
    assert call.call == "Run"
    assert call.sentence.startswith("Run, but mind the oil: the oil no longer keeps the film of the rod bearing")


def test_a_run_log_without_temperature_has_no_film_and_no_harm() -> None:
    fleet = a_fleet(bearings=(ROD,), KV100=10.5)
    build = replace(fleet.engines[0].builds[0], runs=(Run("race", 40.0),))
    bare = replace(fleet, engines=(replace(fleet.engines[0], builds=(build,)), *fleet.engines[1:]))
    assert [reason.about for reason in call_of(bare).reasons if reason.kind == "other"] == ["oil"]


def test_that_nothing_is_known_of_the_engine_stays_said_first() -> None:
    fleet = a_fleet(KV100=12.5)
    build = fleet.engines[0].builds[0]
    only = replace(fleet.engines[0], builds=(replace(build, samples=build.samples[-1:]),))
    call = call_of(replace(fleet, engines=(only,)))
    assert call.sentence.startswith("Run, but nothing is known")
    assert call.reasons[-1].about == "oil"
