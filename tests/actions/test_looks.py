"""Read-only looks: rows for the views, from records alone."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.actions import looks
from benchapp.library import load_library
from benchapp.problems import BenchProblem
from benchapp.records import (
    Build,
    Call,
    Change,
    ElementShare,
    Engine,
    Family,
    Fill,
    FilterCut,
    Finding,
    Fleet,
    LeakDown,
    Part,
    Pull,
    Reading,
    Run,
    Sample,
    TopUp,
)

NOW = dt.datetime(2026, 5, 10, 12, 0)
PART = Part("bores", "iron_grey_cyl_block", "bore")
FAMILY = Family("Example family", sump_l=6.0, parts=(PART,))
SAMPLE = Sample("26-001", "1", 4.0, 4.0, dt.datetime(2026, 5, 8, 12, 0), readings=(Reading("Fe", 5.0),))
BUILD = Build(
    "1",
    (PART, Part("rods", "steel_4340", "rod")),
    fills=(Fill("1", "Example oil", 0.0, 6.0, drain_before="hot", filter_changed=True),),
    top_ups=(TopUp("1", 2.0, 0.3),),
    runs=(Run("practice", 3.0, dt.datetime(2026, 5, 1)), Run("race", 2.5, dt.datetime(2026, 5, 9), 8200.0, 120.0)),
    samples=(SAMPLE,),
    pulls=(Pull("A", 1.0, 300.0),),
    leak_downs=(LeakDown(1.0, "1", 3.0), LeakDown(1.0, "2", 4.5)),
    filter_cuts=(FilterCut(4.0, "few", "none", 0.4), FilterCut(4.5)),
    changes=(Change(4.0, "oil", "another product"), Change(5.0, "tune")),
    findings=(Finding(5.0, "bores", "as new"),),
)
ENGINE = Engine("E1", FAMILY.name, "12", builds=(BUILD,))
LIBRARY = load_library()
FLEET = Fleet((ENGINE,), {FAMILY.name: FAMILY}, LIBRARY.materials, {})


def call(**more) -> Call:
    """A made-up call for the one sample."""
    values = {
        "rule_version": "made up", "engine": "E1", "build": "1", "sample": "26-001", "build_h": 4.0, "taken_at": None,
        "call": "Run", "sentence": "Run it.", "next_sample_h": 4.0, "basis": "none", "history": "no history",
        "history_samples": 0, "severity": None,
    }  # fmt: skip
    return Call(**{**values, **more})


def with_build(**more) -> Fleet:
    build = dataclasses.replace(BUILD, **more)
    return dataclasses.replace(FLEET, engines=(dataclasses.replace(ENGINE, builds=(build,)),))


def test_a_row_counts_hours_age_and_hours_since():
    (row,) = looks.fleet_rows(FLEET, {"E1": call()}, NOW)
    assert row.build_h == 5.5
    assert row.since_h == 1.5
    assert row.age_d == 2.0
    assert (row.next_h, row.due) == (4.0, False)
    assert row.reason == "Nothing found"


def test_a_sample_is_due_once_its_hours_are_run():
    (row,) = looks.fleet_rows(FLEET, {"E1": call(next_sample_h=1.5)}, NOW)
    assert row.due


def test_a_call_for_an_older_sample_or_build_is_not_shown():
    for other in (call(sample="26-000"), call(build="0")):
        (row,) = looks.fleet_rows(FLEET, {"E1": other}, NOW)
        assert row.call is None
        assert row.reason == "Could not be judged"
    (row,) = looks.fleet_rows(FLEET, {}, NOW, judging=("E1",))
    assert row.reason == "Being judged…"


def test_what_is_missing_is_said_in_the_row():
    (row,) = looks.fleet_rows(with_build(samples=()), {}, NOW)
    assert (row.reason, row.age_d, row.since_h) == ("No sample yet", None, None)
    bare = dataclasses.replace(FLEET, engines=(Engine("E1", FAMILY.name),))
    (row,) = looks.fleet_rows(bare, {}, NOW)
    assert (row.build, row.build_h, row.reason) == ("", None, "No build yet: add one")


def test_a_held_call_says_so_first():
    assert looks.strongest(call(held="check standard failed")) == "Held: check standard failed"


def test_hours_follow_the_furthest_entry_where_runs_are_missing():
    assert looks.build_hours(BUILD) == 5.5
    assert looks.build_hours(dataclasses.replace(BUILD, runs=())) == 5.0
    assert looks.build_hours(Build("1", ())) == 0.0


@given(st.lists(st.floats(0.01, 10.0), max_size=8))
def test_hours_are_never_less_than_the_runs(hours):
    build = Build("1", (), runs=tuple(Run("race", h) for h in hours))
    assert looks.build_hours(build) == pytest.approx(sum(hours))


def test_an_engine_is_described_in_words():
    look = looks.describe(FLEET, "E1", (call(),))
    assert look.oil == "Example oil, 5.5 h"
    assert look.sump == "6 L (from the family)"
    assert looks.describe(with_build(sump_l=7.5), "E1").sump == "7.5 L (this build's own)"
    assert look.samples[0].call == "Run"
    assert looks.describe(FLEET, "nobody") is None
    bare = dataclasses.replace(FLEET, engines=(Engine("E1", "unknown family"),))
    assert looks.describe(bare, "E1").sump == "not known: rates cannot be computed until it is"


def test_parts_say_where_they_are_from_and_how_sure_their_figures_are():
    rows = {row.part: row for row in looks.describe(FLEET, "E1").parts}
    assert rows["bores"].origin == "family"
    assert rows["rods"].origin == "this build"
    assert rows["bores"].sure in ("verified", "from memory", "verified / from memory")
    assert "(iron_grey_cyl_block)" in rows["bores"].about
    assert rows["bores"].shown_by.startswith("Fe")


def test_a_part_of_an_unknown_material_is_said():
    fleet = with_build(parts=(Part("mystery", "unobtainium"),))
    (row,) = looks.describe(fleet, "E1").parts
    assert "not in the list" in row.material
    assert row.about == "No material has the id unobtainium."
    with pytest.raises(BenchProblem, match="unobtainium"):
        looks.tell_apart_engine(fleet, "E1", LIBRARY.materials)


def test_every_material_of_the_library_can_be_told_in_plain_lines():
    for material in LIBRARY.materials.values():
        lines = looks.about_material(material).splitlines()
        assert lines[0] == f"{material.name} ({material.id})"
        assert len(lines) >= 1 + len(material.shares)
        assert looks.sureness(material) != "no elements"


def test_the_log_holds_everything_newest_first():
    log = looks.describe(FLEET, "E1").log
    assert [row.build_h for row in log] == sorted((row.build_h for row in log), reverse=True)
    said = {(row.kind, row.text) for row in log}
    assert ("Fill", "1: Example oil, 6 L, drained hot before, new filter") in said
    assert ("Top-up", "0.3 L into fill 1") in said
    assert ("Run", "race, 2.5 h, to 8200 rpm, oil 120 °C") in said
    assert ("Change", "oil: another product") in said
    assert ("Change", "tune") in said
    assert ("Filter cut", "magnetic few, not magnetic none, largest 0.4 mm") in said
    assert ("Filter cut", "nothing noted") in said
    assert ("Leak-down", "1: 3 %, 2: 4.5 %") in said
    assert ("Pull", "A: 300 kW as read") in said
    assert ("Finding", "bores: as new") in said
    assert ("Sample", SAMPLE.code) in said
    assert len({row.key for row in log}) == len(log)


def test_a_sample_stands_in_the_log_with_its_call():
    def said(look):
        return [row.text for row in look.log if row.kind == "Sample"]

    assert said(looks.describe(with_build(samples=(SAMPLE,)), "E1", (call(),))) == [f"{SAMPLE.code}: {call().call}"]
    bare = dataclasses.replace(SAMPLE, readings=())
    assert said(looks.describe(with_build(samples=(bare,)), "E1")) == [f"{SAMPLE.code}: not measured yet"]


def test_remarks_of_a_sample():
    held = dataclasses.replace(SAMPLE, hold="drift", break_in=True)
    look = looks.describe(with_build(samples=(held,)), "E1", (call(superseded="corrected"),))
    assert look.samples[0].remark == "break-in, held, superseded"


# --- what can be told apart -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", list(LIBRARY.families))
def test_every_family_says_what_can_be_told_apart(name):
    family = LIBRARY.families[name]
    found = looks.tell_apart(family.parts, LIBRARY.materials)
    grouped = {source for group in found.groups for source in group}
    backs = {part.name for part in family.parts if part.role == "bearing back"}
    assert {part.name for part in family.parts} - backs <= grouped
    assert "no sample yet" in found.with_what


def test_asked_with_what_was_measured():
    assert looks.measured_elements(FLEET, "E1") == ("Fe",)
    other = dataclasses.replace(ENGINE, name="E2", builds=(dataclasses.replace(BUILD, samples=()),))
    both = dataclasses.replace(FLEET, engines=(ENGINE, other))
    assert looks.measured_elements(both, "E2") == ("Fe",)  # the bench's, where the engine has none
    assert looks.measured_elements(with_build(samples=()), "E1") == ()
    assert not looks.is_element("KV100")
    found = looks.tell_apart_engine(FLEET, "E1", LIBRARY.materials)
    assert found.with_what == "1 elements measured so far: Fe"
    assert looks.tell_apart_engine(FLEET, "nobody", LIBRARY.materials) is None


# --- a material's shares taken together -----------------------------------------------------------------------------


def share(element: str, nominal: float | None, low: float, high: float) -> ElementShare:
    return ElementShare(element, nominal, low, high, "", "own")


@pytest.mark.parametrize(
    ("shares", "said"),
    [
        ((), "at least one element"),
        ((share("Cu", 90, 88, 92), share("Cu", 5, 4, 6)), "two rows"),
        ((share("Cu", 90, 95, 92),), "above the highest"),
        ((share("Cu", 80, 88, 92),), "outside its own range"),
        ((share("Cu", None, 0, 0),), "Leave the element out"),
        ((share("Cu", None, 70, 92), share("Sn", None, 40, 50)), "lowest shares add up to 110 %"),
        ((share("Cu", 90, 80, 92), share("Sn", 15, 10, 20)), "usual shares add up to 105 %"),
    ],
)
def test_shares_that_cannot_be_are_said(shares, said):
    assert said in looks.shares_trouble(shares)


def test_shares_that_can_be_pass():
    assert looks.shares_trouble((share("Cu", 88, 86, 90), share("Sn", 12, 10, 14), share("Fe", None, 0, 0.5))) == ""
