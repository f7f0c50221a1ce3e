"""What parts have run: followed from fittings and runs through all builds, in every unit."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.actions import due, parts
from benchapp.records import Build, Engine, Fitting, Fleet, Run

SPRINGS = Fitting(0.0, "valve springs", "set 2", life=20.0, life_unit="h")


def fleet(*engines: Engine) -> Fleet:
    return Fleet(engines, {}, {}, {})


def engine(name: str, *builds: Build) -> Engine:
    return Engine(name, "family", builds=builds)


def build(number: str, *fittings: Fitting, hours=(1.0, 2.0, 3.0), **more) -> Build:
    runs = tuple(Run("race", h, **more) for h in hours)
    return Build(number, (), runs=runs, fittings=tuple(sorted(fittings, key=lambda f: f.build_h)))


def only(*engines: Engine) -> parts.PartUse:
    (use,) = parts.uses(fleet(*engines))
    return use


def test_a_part_has_run_what_the_engine_ran_since_it_went_in():
    assert only(engine("E", build("1", SPRINGS))).used["h"] == 6.0
    late = Fitting(1.5, "valve springs")
    use = only(engine("E", build("1", late, distance_km=100.0, laps=20.0, starts=1.0)))
    assert use.used["h"] == 4.5
    assert use.used["km"] == pytest.approx(0.75 * 100.0 + 100.0)  # the run it went in during, by its share of the hours
    assert use.used["laps"] == pytest.approx(35.0)
    assert use.used["starts"] == pytest.approx(1.75)


def test_a_piece_keeps_its_hours_in_another_build_and_in_another_engine():
    first = engine("E", build("1", SPRINGS), build("2", hours=(9.0,)))
    again = engine("F", build("1", Fitting(0.0, "Valve springs", "SET 2"), hours=(4.0,)))
    use = only(first, again)
    assert (use.engine, use.used["h"], use.life, use.share) == ("F", 10.0, 20.0, 0.5)
    other = engine("F", build("1", Fitting(0.0, "valve springs", "set 3"), hours=(4.0,)))
    assert only(first, other).used["h"] == 4.0


def test_it_stays_where_it_is_until_it_comes_out_or_another_takes_its_place():
    out = Fitting(3.0, "valve springs", "set 2", "taken out")
    assert parts.uses(fleet(engine("E", build("1", SPRINGS, out)))) == ()
    new = Fitting(3.0, "valve springs", "set 3")
    use = only(engine("E", build("1", SPRINGS, new)))
    assert (use.piece, use.used["h"]) == ("set 3", 3.0)
    back = engine("E", build("1", SPRINGS, out), build("2", Fitting(0.0, "valve springs", "set 2"), hours=(2.0,)))
    assert only(back).used["h"] == 5.0
    both = engine("E", build("1", Fitting(0.0, "rod", "a"), Fitting(0.0, "rod", "b")))
    assert [use.piece for use in parts.uses(fleet(both))] == ["a", "b"]


def test_what_it_had_run_before_counts_once_and_in_its_own_unit():
    used = Fitting(0.0, "rods", "r", life=500.0, life_unit="km", used_before=100.0)
    again = Fitting(0.0, "rods", "r", used_before=100.0, life_unit="km")
    first = engine("E", build("1", used, distance_km=50.0), build("2", again, hours=(1.0,), distance_km=25.0))
    use = only(first)
    assert use.used["km"] == pytest.approx(100.0 + 150.0 + 25.0)
    assert use.used["h"] == 7.0
    assert use.words() == "275 km of 500 km"


def test_runs_that_say_no_distance_make_it_a_lower_bound():
    runs = (Run("race", 2.0, distance_km=200.0), Run("race", 1.5))
    gone = Fitting(0.0, "tyres of the rig", life=220.0, life_unit="km")
    use = only(engine("E", Build("1", (), runs=runs, fittings=(gone,))))
    assert use.words() == "at least 200 km of 220 km (1.5 h of runs not noted)"
    assert use.near
    assert use.all_words() == "tyres of the rig: 3.5 h, 200 km. Fitted at 0 h of build 1."
    assert only(engine("E", build("1", Fitting(0.0, "x"), hours=()))).all_words().startswith("x: not run yet.")


@given(st.lists(st.floats(0.01, 5.0), max_size=8), st.floats(0.0, 40.0))
def test_no_part_runs_more_than_its_engine(hours, at):
    use = only(engine("E", build("1", Fitting(at, "x"), hours=tuple(hours))))
    assert use.used["h"] == pytest.approx(max(0.0, sum(hours) - at), abs=1e-6)


# hours as they are written down, to the hundredth: a picosecond of running is dust of the arithmetic
@given(st.integers(0, 600).map(lambda hundredths: hundredths / 100.0))
def test_two_that_follow_one_another_share_the_hours(at):
    one, two = Fitting(0.0, "x", "a"), Fitting(at, "x", "b")
    later = build("2", Fitting(0.0, "x", "a"), Fitting(0.0, "y", "b"), hours=())
    found = {use.piece: use.used["h"] for use in parts.uses(fleet(engine("E", build("1", one, two), later)))}
    assert found["a"] == pytest.approx(at if at > 0 else 6.0)


def test_a_life_that_ends_is_told_in_what_waits():
    now = dt.datetime(2026, 5, 3)
    lives = (("springs", "s", 6.5), ("rods", "", 5.0), ("pump", "", 60.0))
    some = build(
        "1", *(Fitting(0.0, part, piece, life=life, life_unit="h") for part, piece, life in lives), Fitting(0.0, "x")
    )
    found = [each for each in due.due(fleet(engine("E", some)), {}, (), now) if each.kind == due.PART_LIFE]
    assert [(each.part, each.text) for each in found] == [
        ("rods", "rods: 6 h of 5 h, 1.0 h past its life"),
        ("springs, s", "springs, s: 6 h of 6.5 h, 0.5 h left"),
    ]
    assert all(each.todo and each.key for each in found)
    assert due.counted(found) == "2 near the end of life"
    assert due.counted(()) == ""


def test_a_piece_that_is_known_brings_its_life_along():
    known = fleet(engine("E", build("1", SPRINGS)))
    assert parts.last_of(known, "Valve springs", "set 2") == SPRINGS
    assert parts.last_of(known, "valve springs", "") is None
    assert parts.last_of(known, "rods", "set 2") is None
