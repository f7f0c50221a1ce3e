"""The oil of a sample in its place: fill, run, earlier fills, films, and the words for the sheet."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from benchapp.library import load_library
from benchapp.oil.film import Bearing, LoadCase
from benchapp.oil.rules import rules_from
from benchapp.oil.sample import oil_of_sample, run_before
from benchapp.records import Build, Engine, Fill, Fleet, Oil, Reading, Run, Sample

LIB = load_library()
RULES = rules_from(LIB)
FAMILY = "V8 pushrod, iron block, flat tappet, wet sump"
OIL = Oil("Invented 10W-40", "race", "10W-40", 0.87, 100.0, 14.5, 4.0, 8.0, 1.5)


def sample(code: str, fill: str, build_h: float, oil_h: float | None, **values: float) -> Sample:
    return Sample(code, fill, build_h, oil_h, readings=tuple(Reading(name, value) for name, value in values.items()))


WORN = sample("S-3", "F-2", 20.0, 10.0, KV40=75.0, KV100=11.5, TBN=4.4, Fuel=3.4)
BUILD = Build(
    "1",
    (),
    fills=(Fill("F-1", OIL.name, 0.0), Fill("F-2", OIL.name, 10.0)),
    runs=(
        Run("practice", 10.0, dt.datetime(2026, 3, 1), 6500.0, 100.0, "leaded"),
        Run("race", 8.0, dt.datetime(2026, 3, 8), 7000.0, 112.0, "unleaded"),
        Run("race", 4.0, dt.datetime(2026, 3, 9), 7200.0, None, "unleaded"),
    ),
    samples=(
        sample("S-1", "F-1", 10.0, 10.0, TBN=5.0),
        sample("S-2", "F-2", 15.0, None, TBN=6.4),
        WORN,
        sample("S-4", "F-2", 22.0, 12.0, TBN=1.0),
    ),
)
ENGINE = Engine("No. 7", FAMILY, builds=(BUILD,))
FLEET = Fleet((ENGINE,), {}, {}, {OIL.name: OIL})


def test_everything_of_one_sample() -> None:
    found = oil_of_sample(FLEET, ENGINE, BUILD, WORN, RULES, sizes=LIB.sizes_of(FAMILY))
    assert found is not None
    assert found.verdict.state == "watch"
    assert found.verdict.run_c == 112.0
    assert found.run_text == "Oil at 112 °C in the last run with a temperature (race)."
    base = next(line for line in found.hours.lines if line.name == "base number")
    assert (base.samples, base.earlier_fills) == (2, 1), "S-4 is later, S-1 is of an earlier fill"
    assert [film.now.bearing.name for film in found.films] == ["main bearing", "rod bearing"]
    rod = found.films[1]
    assert rod.fresh is not None
    assert rod.now.min_film_um < rod.fresh.min_film_um
    assert rod.now.case.name == "7000 rpm"
    assert "own default" in rod.load_origin
    assert rod.grade is not None
    assert found.refused == ()


def test_the_words_for_the_sheet() -> None:
    found = oil_of_sample(FLEET, ENGINE, BUILD, WORN, RULES)
    assert found is not None
    words = found.words()
    assert words[0].startswith("The oil is still usable, but ")
    assert any(line.startswith("base number 4.4") and "made for heavy diesels" in line for line in words)
    assert any(line.startswith("Out of grade 10W-40") for line in words)
    assert any("% fuel" in line for line in words)
    assert any(line.startswith("First limit ahead: ") for line in words)
    assert found.films == (), "no sizes, no bearings"


def test_a_touching_film_is_said_on_the_sheet() -> None:
    rod = Bearing("rod bearing", 53.0, 21.0, 0.15)
    found = oil_of_sample(
        FLEET, ENGINE, BUILD, WORN, RULES, bearings=[rod], load_case=LoadCase("entered", 60000.0, 300.0)
    )
    assert found is not None
    assert found.films[0].load_origin == "entered"
    assert any(line.startswith("rod bearing: film ") and "not floating" in line for line in found.film_words())


def test_a_bearing_that_cannot_be_does_not_hide_the_oil() -> None:
    bad = Bearing("rod bearing", 53.0, 100.0, 0.053)
    found = oil_of_sample(FLEET, ENGINE, BUILD, WORN, RULES, bearings=[bad])
    assert found is not None
    assert found.films == ()
    assert found.refused[0].startswith("Length over diameter of rod bearing is ")
    assert found.refused[0] in found.words()


@pytest.mark.parametrize("fleet", [replace(FLEET, oils={}), FLEET])
def test_without_oil_or_fill_there_is_nothing_to_say(fleet: Fleet) -> None:
    lost = replace(WORN, fill="F-9") if fleet is FLEET else WORN
    assert oil_of_sample(fleet, ENGINE, BUILD, lost, RULES) is None


def test_only_metals_and_no_runs() -> None:
    metals = sample("S-3", "F-2", 20.0, 10.0, Fe=12.0)
    bare = replace(BUILD, runs=(), samples=(metals,))
    found = oil_of_sample(FLEET, ENGINE, bare, metals, RULES, sizes=LIB.sizes_of(FAMILY))
    assert found is not None
    assert found.verdict.state == "unknown"
    assert found.films == ()
    assert found.run_text.startswith("No oil temperature in the run log")
    assert found.words() == (found.verdict.sentence,)


def test_earlier_builds_count_and_later_ones_do_not() -> None:
    first = replace(
        BUILD, number="0", fills=(Fill("F-0", OIL.name, 0.0),), samples=(sample("S-0", "F-0", 9.0, 9.0, TBN=5.5),)
    )
    later = replace(
        BUILD, number="2", fills=(Fill("F-8", OIL.name, 0.0),), samples=(sample("S-8", "F-8", 9.0, 9.0, TBN=1.0),)
    )
    engine = replace(ENGINE, builds=(first, BUILD, later))
    found = oil_of_sample(FLEET, engine, BUILD, WORN, RULES)
    assert found is not None
    assert next(line for line in found.hours.lines if line.name == "base number").earlier_fills == 2


def test_the_run_before_a_sample() -> None:
    assert run_before(BUILD, 5.0) is BUILD.runs[0]
    assert run_before(BUILD, 22.0) is BUILD.runs[1], "the last one has no temperature"
    assert run_before(replace(BUILD, runs=BUILD.runs[2:]), 3.0) is BUILD.runs[2]
    assert run_before(replace(BUILD, runs=()), 3.0) is None


def test_a_hot_run_has_no_grade_answer() -> None:
    hot = replace(BUILD, runs=(replace(BUILD.runs[1], hours=20.0, oil_temp_c=155.0),))
    found = oil_of_sample(FLEET, ENGINE, hot, WORN, RULES, sizes=LIB.sizes_of(FAMILY))
    assert found is not None
    assert found.films[0].grade is None


def test_no_speed_in_the_run_log_is_no_film() -> None:
    still = replace(BUILD, runs=(replace(BUILD.runs[1], hours=20.0, max_rpm=None),))
    found = oil_of_sample(FLEET, ENGINE, still, WORN, RULES, sizes=LIB.sizes_of(FAMILY))
    assert found is not None
    assert found.films == ()
