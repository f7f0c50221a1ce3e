"""Lead alone in an engine of which nobody has written down what it burns, on a bench that writes it down for others.

All histories are invented."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.records import CALL_WORDS, Call, Engine, Fleet
from benchapp.wear.judge import judge_fleet
from tests.wear.histories import RULES, Story, fleet_of

RUN, SHORT, LOOK, PARK = CALL_WORDS
GRAVITY = {word: number for number, word in enumerate(CALL_WORDS)}
MILDER = {RUN: RUN, SHORT: SHORT, LOOK: SHORT, PARK: LOOK}

LEAD = {"Pb": 1.0}
LINING = {"Cu": 0.74, "Pb": 0.24, "Sn": 0.02}


def written(engine: Engine, fuel: str, sessions: slice = slice(None)) -> Engine:
    """The same engine with this fuel written down for some of its sessions, and none for the others."""
    builds = []
    for build in engine.builds:
        chosen = range(len(build.runs))[sessions]
        runs = tuple(replace(run, fuel=fuel if i in chosen else "") for i, run in enumerate(build.runs))
        builds.append(replace(build, runs=runs))
    return replace(engine, builds=tuple(builds))


def shedding(seed: int, metal: dict[str, float]) -> Fleet:
    """A sound engine and its sisters; in the last three fills it sheds more and more of this metal."""
    story = Story("E", seed=seed).broken_in().usual(6)
    for times in (1.0, 2.0, 3.0):
        extra = {element: 20.0 * times * share for element, share in metal.items()}
        story.fill().run(4.0, "race", extra=extra).sample()
    return fleet_of(story)


def words(fleet: Fleet, own: str, others: str, sessions: slice = slice(None)) -> list[str]:
    """The words of `calls`."""
    return [call.call for call in calls(fleet, own, others, sessions)]


def calls(fleet: Fleet, own: str, others: str, sessions: slice = slice(None)) -> list[Call]:
    """The last three calls of the engine, with what was known then. `own`, `others`: the fuel that is written down."""
    engines = tuple(written(one, own, sessions) if one.name == "E" else written(one, others) for one in fleet.engines)
    told = replace(fleet, engines=engines)
    return list(judge_fleet(told, RULES, each=True, engines=["E"]))[-3:]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_lead_alone_where_no_fuel_is_on_record_is_a_word_milder(seed):
    """Leaded fuel would show the same, and the person who filled the tank knows."""
    fleet = shedding(seed, LEAD)
    known = words(fleet, "unleaded", "unleaded")
    assert GRAVITY[known[1]] >= GRAVITY[LOOK]
    unsaid = words(fleet, "", "unleaded")
    assert unsaid == [MILDER[word] for word in known]
    assert unsaid[1] == SHORT


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_who_was_asked_twice_and_wrote_nothing_down_is_asked_no_more(seed):
    """A bearing goes on, and nobody says that the fuel was leaded: from the third sample in a row it is the call."""
    story = Story("E", seed=seed).broken_in().usual(6)
    for times in (1.0, 2.0, 3.0, 4.0, 5.0):
        story.fill().run(4.0, "race", extra={"Pb": 20.0 * times}).sample()
    fleet = fleet_of(story)
    engines = tuple(written(one, "" if one.name == "E" else "unleaded") for one in fleet.engines)
    told = [call.call for call in judge_fleet(replace(fleet, engines=engines), RULES, each=True, engines=["E"])][-5:]
    known = tuple(written(one, "unleaded") for one in fleet.engines)
    plain = [call.call for call in judge_fleet(replace(fleet, engines=known), RULES, each=True, engines=["E"])][-5:]
    assert SHORT in told, "asked first"
    assert told[-1] == plain[-1]
    assert GRAVITY[told[-1]] >= GRAVITY[LOOK]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_one_session_with_its_fuel_on_record_is_enough(seed):
    fleet = shedding(seed, LEAD)
    assert words(fleet, "unleaded", "unleaded", slice(0, 1)) == words(fleet, "unleaded", "unleaded")


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_on_a_bench_that_writes_no_fuel_down_a_blank_says_nothing(seed):
    """Nobody there burns leaded fuel, or nobody writes it: a bearing's lead is a bearing's."""
    fleet = shedding(seed, LEAD)
    assert words(fleet, "", "") == words(fleet, "unleaded", "")
    assert words(fleet, "", "leaded") == words(fleet, "unleaded", "leaded")


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_is_copper_above_all_is_no_fuel(seed):
    fleet = shedding(seed, LINING)
    known = words(fleet, "unleaded", "unleaded")
    assert GRAVITY[known[-1]] >= GRAVITY[LOOK]
    assert words(fleet, "", "unleaded") == known


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_fuel_that_is_not_on_record_stands_among_what_is_not_known(seed):
    """Once, and only where lead is suspected."""

    def fuel_lines(metal: dict[str, float], own: str) -> list[int]:
        told = calls(shedding(seed, metal), own, "unleaded")
        return [sum(line.startswith("the fuel: none is on record") for line in call.unknowns) for call in told]

    assert fuel_lines(LEAD, "")[1:] == [1, 1]
    assert fuel_lines(LEAD, "unleaded") == [0, 0, 0]
    assert fuel_lines(LINING, "")[1:] == [0, 0]
