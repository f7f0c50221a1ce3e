"""Each verb: what it changes, what it says it changed, that undo takes it back, what it refuses."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.actions import (
    change,
    engine,
    events,
    family,
    fill,
    filter_cut,
    finding,
    fitting,
    instrument,
    leak_down,
    material,
    oil,
    oil_pressure,
    pull,
    run,
    sample,
)
from benchapp.actions.noise import with_noise
from benchapp.problems import BenchProblem
from benchapp.records import (
    Change,
    CheckRun,
    ElementShare,
    Family,
    Fill,
    FilterCut,
    Finding,
    Fitting,
    Instrument,
    LeakDown,
    Material,
    NoiseLine,
    Oil,
    OilPressure,
    Part,
    Pull,
    Run,
    TopUp,
)
from tests.actions.making import WHEN, a_family, a_sample, furnish

AN_ALLOY = Material(
    "my_alloy", "My alloy", "own", "tests", (ElementShare("Fe", 90.0, 85.0, 95.0, "own", "own"),), 7.8, "own"
)
AN_INSTRUMENT = Instrument(
    "Bench disc", "rotating-disc", "", {"Fe": NoiseLine(0.5, 0.04, 0.8, "own check runs, n = 14")}
)


def build_of(bench, name="E-1", number="1"):
    return bench.build(name, number)


def read_anew(bench):
    return with_noise(bench.file.read_fleet(bench.library.families, bench.library.materials), bench.library)


# verb, its arguments, what it must say it touches
STEPS = {
    "engine.add": (engine.add, ("E-2", "FAMILY"), "engine"),
    "engine.edit": (lambda b: engine.edit(b, "E-1", car="Car 8", notes="new car"), (), "engine"),
    "engine rename": (lambda b: engine.edit(b, "E-1", new_name="E-9"), (), "engine"),
    "engine.void": (engine.void, ("E-1", "sold"), "engine"),
    "engine.add_build": (engine.add_build, ("E-1",), "build"),
    "engine.edit_build": (
        lambda b: engine.edit_build(b, "E-1", "1", sump_l=7.5, built_on=WHEN, notes="n"), (), "build",
    ),
    "engine.void_build": (engine.void_build, ("E-1", "1", "never ran"), "build"),
    "engine.remove_part": (lambda b: engine.remove_part(b, "E-1", "1", build_of(b).parts[0].name), (), "build"),
    "engine.override_part": (
        lambda b: engine.override_part(b, "E-1", "1", Part("a part of its own", min(b.materials()))), (), "build",
    ),
    "family.add": (family.add, (Family("My family", "V4", 5.0, (Part("bore", "ni_sic_plate"),), "own"),), "family"),
    "family.edit": (
        lambda b: family.edit(b, a_family(b), replace(b.families()[a_family(b)], sump_l=9.0)), (), "family",
    ),
    "material.add": (material.add, (AN_ALLOY,), "material"),
    "oil.add": (oil.add, (Oil("Another oil", fresh_ppm={"Ca": 1.0}),), "oil"),
    "oil.edit": (oil.edit, ("an invented oil", Oil("an invented oil", tbn=9.0)), "oil"),
    "oil.void": (oil.void, ("an invented oil", "wrong data"), "oil"),
    "fill.add": (fill.add, ("E-1", "1", Fill("F2", "an invented oil", 9.0)), "fill"),
    "fill.edit": (fill.edit, ("E-1", "1", "F1", Fill("F1", "an invented oil", 0.0, 5.5)), "fill"),
    "fill.top_up": (fill.top_up, ("E-1", "1", TopUp("F1", 4.0, 0.5)), "top_up"),
    "run.add": (run.add, ("E-1", "1", Run("dyno", 0.4)), "run"),
    "two runs": (run.add, ("E-1", "1", Run("dyno", 0.4), Run("dyno", 0.4)), "run"),
    "pull.add": (pull.add, ("E-1", "1", Pull("1", 0.3, 220.0, 21.0, 99.5, 40.0)), "pull"),
    "leak_down.add": (leak_down.add, ("E-1", "1", LeakDown(0.3, "1", 8.0, "T", 690.0)), "leak_down"),
    "filter_cut.add": (filter_cut.add, ("E-1", "1", FilterCut(3.0, "few", "none", 0.3, "n")), "filter_cut"),
    "change.add": (change.add, ("E-1", "1", Change(3.0, "oil", "another oil")), "change"),
    "a magnet": (
        filter_cut.add,
        ("E-1", "1", FilterCut(3.0, "9", "", None, "", "magnet", "slivers", "grey", "small")), "filter_cut",
    ),
    "a long run": (run.add, ("E-1", "1", Run("race", 0.4, distance_km=61.5, laps=12.0, starts=1.0)), "run"),
    "oil_pressure.add": (
        oil_pressure.add, ("E-1", "1", OilPressure(3.0, 420.0, 6000.0, 104.0, "dash")), "oil_pressure",
    ),
    "fitting.add": (
        fitting.add, ("E-1", "1", Fitting(0.0, "valve springs", "set 2", life=20.0, life_unit="h")), "fitting",
    ),
    "finding.add": (finding.add, ("E-1", "1", Finding(9.0, "ring", "worn out", "S-3")), "finding"),
    "instrument.add": (instrument.add, (AN_INSTRUMENT,), "instrument"),
    "check runs": (instrument.add_check_runs, ([CheckRun("Bench disc", WHEN, "50", "Fe", 50.0, 51.0)],), "check_run"),
    "sample.confirm": (lambda b: sample.confirm(b, "E-1", "1", a_sample("S-9", 9.5)), (), "sample"),
    "a correction": (lambda b: sample.confirm(b, "E-1", "1", a_sample("S-3", 9.0, 99.0), correct=True), (), "sample"),
    "sample.void": (sample.void, ("S-3", "mixed-up bottle"), "sample"),
    "sample.hold": (sample.hold, ("S-3", "check failed"), "sample"),
}  # fmt: skip


@pytest.mark.parametrize("name", STEPS)
def test_a_verb_is_seen_undone_and_done_again(bench, name):
    verb, arguments, noun = STEPS[name]
    told = []
    bench.subscribe(told.append)
    before = bench.fleet()
    changed = verb(bench, *(a_family(bench) if each == "FAMILY" else each for each in arguments))
    after = bench.fleet()
    assert after != before
    assert noun in changed.nouns
    assert told == [changed]
    assert changed.label == bench.undo_label
    assert after == read_anew(bench)
    differ = {e.name for e in before.engines} ^ {e.name for e in after.engines}
    differ |= {a.name for a in before.engines for b in after.engines if a.name == b.name and a != b}
    assert differ <= changed.engines
    undone = bench.undo()
    assert bench.fleet() == before
    assert undone.engines == changed.engines
    assert undone.label == f"Undo: {changed.label}"
    redone = bench.redo()
    assert bench.fleet() == after
    assert redone.label == f"Redo: {changed.label}"
    assert bench.file.verify() == ()


REFUSED = {
    "no such family": (lambda b: engine.add(b, "E-2", "no such family"), "There is no family 'no such family'"),
    "name taken": (lambda b: engine.add(b, "E-1", a_family(b)), "There is an engine E-1 already"),
    "no name": (lambda b: engine.add(b, " ", a_family(b)), "has no name"),
    "a hidden sign": (lambda b: engine.add(b, "E-2\u202e", a_family(b)), "cannot be seen"),
    "a formula": (lambda b: engine.add(b, "=E-2", a_family(b)), "begins with ="),
    "no such engine": (lambda b: run.add(b, "E-7", "1", Run("race", 1.0)), "There is no engine 'E-7'"),
    "no such build": (lambda b: run.add(b, "E-1", "7", Run("race", 1.0)), "has no build '7'"),
    "build taken": (lambda b: engine.add_build(b, "E-1", "1"), "build 1 of engine E-1 already"),
    "rename onto another": (lambda b: (furnish(b, "E-2"), engine.edit(b, "E-2", new_name="E-1")), "E-1 already"),
    "no such material": (lambda b: engine.override_part(b, "E-1", "1", Part("x", "unobtainium")), "no material"),
    "fill taken": (lambda b: fill.add(b, "E-1", "1", Fill("F1", "o", 0.0)), "already"),
    "fill in use": (lambda b: fill.void(b, "E-1", "1", "F1", "x"), "Samples were drawn from fill F1: S-1, S-2, S-3"),
    "unknown fill": (lambda b: fill.edit(b, "E-1", "1", "F7", Fill("F7", "o", 0.0)), "no fill F7"),
    "top-up of no fill": (lambda b: fill.top_up(b, "E-1", "1", TopUp("F7", 1.0, 1.0)), "no fill F7"),
    "no such run": (lambda b: run.void(b, "E-1", "1", Run("race", 77.0), "x"), "no longer as it was shown"),
    "no such check": (
        lambda b: instrument.void_check_run(b, CheckRun("I", WHEN, "50", "Fe", 50.0, 51.0), "x"), "no longer as it was"
    ),
    "no such act": (
        lambda b: fitting.add(b, "E-1", "1", Fitting(0.0, "rod", act="lost")), "either fitted or taken out"
    ),
    "a life in days": (
        lambda b: fitting.add(b, "E-1", "1", Fitting(0.0, "rod", life=9.0, life_unit="d")), "counted in h"
    ),
    "no pressure at all": (lambda b: oil_pressure.add(b, "E-1", "1", OilPressure(3.0, -5.0)), "oil pressure .kPa."),
    "negative hours": (lambda b: run.add(b, "E-1", "1", Run("race", -1.0)), "hours of a run"),
    "unknown oil": (lambda b: oil.edit(b, "no oil", Oil("no oil")), "no oil no oil"),
    "unknown oil to void": (lambda b: oil.void(b, "no oil", "x"), "no oil no oil"),
    "oil taken": (lambda b: oil.add(b, Oil("an invented oil")), "already"),
    "unknown instrument": (lambda b: instrument.edit(b, "I", Instrument("I")), "no instrument I"),
    "unknown instrument to void": (lambda b: instrument.void(b, "I", "x"), "no instrument I"),
    "unknown family": (lambda b: family.edit(b, "no", Family("no")), "no family no"),
    "library family to void": (lambda b: family.void(b, a_family(b), "x"), "no family"),
    "family of no material": (
        lambda b: family.add(b, Family("F", parts=(Part("bore", "unobtainium"),))), "no material 'unobtainium'"
    ),
    "material in use": (
        lambda b: (material.add(b, AN_ALLOY), engine.override_part(b, "E-1", "1", Part("x", "my_alloy")),
                   material.void(b, "my_alloy", "x")), "my_alloy is used by",
    ),
    "unknown material": (lambda b: material.edit(b, replace(AN_ALLOY, id="no")), "no material no"),
    "material to void": (lambda b: material.void(b, "no", "x"), "no material no"),
    "sample again": (lambda b: sample.confirm(b, "E-1", "1", a_sample()), "has a sample S-1 already"),
    "sample of another": (
        lambda b: (furnish(b, "E-2"), sample.confirm(b, "E-2", "1", a_sample())), "belongs to engine E-1, build 1"
    ),
    "sample of no fill": (
        lambda b: sample.confirm(b, "E-1", "1", replace(a_sample("S-9"), fill="F7")), "has no fill 'F7'"
    ),
    "two readings of one": (
        lambda b: sample.confirm(b, "E-1", "1", replace(a_sample("S-9"), readings=a_sample().readings[:1] * 2)),
        "two readings of Fe",
    ),
    "unknown sample": (lambda b: sample.void(b, "S-77", "x"), "no sample S-77"),
    "find unknown": (lambda b: b.find_sample("S-77"), "no sample S-77"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_a_refusal_says_so_and_changes_nothing(bench, name):
    verb, says = REFUSED[name]
    with pytest.raises(BenchProblem, match=says) as caught:
        verb(bench)
    assert caught.value.means
    assert caught.value.do
    assert "S-1" in {s.code for s in build_of(bench).samples}
    assert bench.fleet() == read_anew(bench)


def test_parts_of_a_build(bench):
    first = build_of(bench).parts[0]
    engine.override_part(bench, "E-1", "1", Part(first.name.upper(), min(bench.materials())))
    mine = build_of(bench).parts[0]
    assert mine.material == min(bench.materials())
    assert (mine.role, mine.area_cm2) == (first.role, first.area_cm2)
    engine.remove_part(bench, "E-1", "1", first.name)
    assert first.name not in {part.name for part in build_of(bench).parts}
    engine.add_build(bench, "E-1")
    assert build_of(bench, number="2").parts == build_of(bench).parts
    engine.restore_part(bench, "E-1", "1", first.name)
    assert build_of(bench).parts[0] == first


def test_renaming_carries_what_hangs_on_the_name(bench):
    oil.edit(bench, "an invented oil", Oil("a better name"))
    assert build_of(bench).fills[0].oil == "a better name"
    fill.top_up(bench, "E-1", "1", TopUp("F1", 4.0, 0.5))
    fill.edit(bench, "E-1", "1", "F1", Fill("F-one", "a better name", 0.0))
    assert {s.fill for s in build_of(bench).samples} == {"F-one"} == {t.fill for t in build_of(bench).top_ups}
    instrument.add(bench, AN_INSTRUMENT)
    instrument.edit(bench, "Bench disc", replace(AN_INSTRUMENT, name="Disc 2"))
    assert {s.instrument for s in build_of(bench).samples} == {"Disc 2"}
    family.add(bench, Family("Mine", parts=(Part("bore", "ni_sic_plate"),)))
    engine.edit(bench, "E-1", family="Mine")
    family.edit(bench, "Mine", Family("Ours"))
    assert bench.engine("E-1").family == "Ours"
    with pytest.raises(BenchProblem, match="is used by E-1"):
        family.void(bench, "Ours", "x")


def test_events_are_edited_and_withdrawn_by_what_they_say(bench):
    first = build_of(bench).runs[0]
    run.edit(bench, "E-1", "1", first, replace(first, hours=2.5))
    assert build_of(bench).runs[0].hours == 2.5
    run.void(bench, "E-1", "1", replace(first, hours=2.5), "entered twice")
    assert len(build_of(bench).runs) == 2
    top_up = TopUp("F1", 4.0, 0.5)
    fill.top_up(bench, "E-1", "1", top_up)
    fill.void_top_up(bench, "E-1", "1", top_up, "x")
    assert build_of(bench).top_ups == ()
    check = CheckRun("Bench disc", WHEN, "50", "Fe", 50.0, 51.0)
    instrument.add_check_runs(bench, [check, check])
    instrument.void_check_run(bench, check, "wrong bottle")
    assert bench.fleet().check_runs == (check,)


def test_what_a_later_version_added_is_edited_and_taken_away_again(bench):
    plain = FilterCut(3.0, "few", "none", 0.3, "n")
    full = replace(plain, taken_from="filter", form="flakes", colour="copper", size_class="small")
    filter_cut.add(bench, "E-1", "1", plain, full)
    filter_cut.edit(bench, "E-1", "1", full, replace(full, colour=""))
    assert set(build_of(bench).filter_cuts) == {plain, replace(full, colour="")}
    filter_cut.edit(bench, "E-1", "1", replace(full, colour=""), plain)
    assert build_of(bench).filter_cuts == (plain, plain)
    bench.undo()
    bench.undo()
    assert build_of(bench).filter_cuts == (plain, full)
    filter_cut.void(bench, "E-1", "1", plain, "x")
    assert build_of(bench).filter_cuts == (full,)
    assert bench.file.verify() == ()


def test_entries_made_together_are_corrected_and_withdrawn_together(bench):
    first = (LeakDown(0.3, "1", 8.0, "T"), LeakDown(0.3, "2", 7.5, "T"), LeakDown(0.3, "3", 7.0, "T"))
    leak_down.add(bench, "E-1", "1", *first)
    fewer = (replace(first[0], percent=4.0), first[1])
    changed = events.replace(bench, "E-1", "1", first, fewer)
    assert changed.label == "Edit leak-down of engine E-1"
    assert set(build_of(bench).leak_downs) == set(fewer)
    events.replace(bench, "E-1", "1", fewer, (*fewer, first[2]))
    assert len(build_of(bench).leak_downs) == 3
    with pytest.raises(BenchProblem, match="no longer as it was shown"):
        events.replace(bench, "E-1", "1", first, fewer)
    events.void_all(bench, "E-1", "1", build_of(bench).leak_downs, "wrong engine")
    assert build_of(bench).leak_downs == ()
    bench.undo()
    assert len(build_of(bench).leak_downs) == 3
    runs = build_of(bench).runs
    events.replace(bench, "E-1", "1", runs[:1], (replace(runs[0], hours=2.5),))
    assert [run.hours for run in build_of(bench).runs] == [2.5, 3.0, 3.0]  # and it keeps its place
    top_up = TopUp("F1", 4.0, 0.5)
    fill.top_up(bench, "E-1", "1", top_up)
    fill.edit_top_up(bench, "E-1", "1", top_up, replace(top_up, litres=0.7))
    assert build_of(bench).top_ups[0].litres == 0.7
    with pytest.raises(BenchProblem, match="no fill F7"):
        fill.edit_top_up(bench, "E-1", "1", replace(top_up, litres=0.7), replace(top_up, fill="F7"))


def test_own_material_and_family_stand_in_front_of_the_library(bench):
    id_ = min(bench.library.materials)
    material.edit(bench, replace(AN_ALLOY, id=id_))
    assert bench.materials()[id_].name == "My alloy"
    material.void(bench, id_, "no")
    assert bench.materials()[id_] == bench.library.materials[id_]
    family.edit(bench, a_family(bench), Family(a_family(bench), "own"))
    assert build_of(bench).parts == ()
    family.void(bench, a_family(bench), "no")
    assert build_of(bench).parts


def test_a_withdrawn_code_may_be_used_again(bench):
    sample.void(bench, "S-3", "mixed-up bottle")
    sample.confirm(bench, "E-1", "1", a_sample("S-3", 9.2))
    assert build_of(bench).samples[-1].build_h == 9.2
    engine.void(bench, "E-1", "sold")
    furnish(bench, "E-1", samples=1)
    assert [s.code for s in build_of(bench).samples] == ["S-1"]


def test_history_says_who_did_what(bench):
    bench.who = "Bob"
    sample.confirm(bench, "E-1", "1", a_sample("S-1", 3.0, 99.0), correct=True)
    sample.void(bench, "S-1", "mixed-up bottle")
    bench.undo()
    lines = sample.history(bench, "S-1")
    assert [(line.who, line.label) for line in lines] == [
        ("Ann", "Confirm sample S-1"),
        ("Bob", "Correct sample S-1"),
        ("Bob", "Withdraw sample S-1"),
        ("Bob", "Undo: Withdraw sample S-1"),
    ]
    assert lines[1].differences == (("Fe", "11 ppm", "99 ppm"),)
    assert lines[2].differences == (("withdrawn", "", "mixed-up bottle"),)
    first = {what: now for what, _, now in lines[0].differences}
    assert first["engine"] == "E-1, build 1"
    assert first["Sn"] == "<1 ppm"
    assert first["Cr"] == "not detected"
    assert first["Na"] == "2 ppm *"


def test_a_held_sample(bench):
    sample.hold(bench, "S-2", "the check standard was 20 % off")
    assert build_of(bench).samples[1].hold == "the check standard was 20 % off"
    sample.hold(bench, "S-2", "")
    assert build_of(bench).samples[1].hold == ""


def test_listeners_end(bench):
    told = []
    end = bench.subscribe(told.append)
    end()
    end()
    engine.edit(bench, "E-1", car="x")
    assert told == []


def test_nothing_changed_is_said_as_nothing(bench):
    changed = engine.edit(bench, "E-1", car=bench.engine("E-1").car)
    assert changed.nouns == frozenset()
    assert not changed.touches("engine")


def test_build_numbers(bench):
    engine.add_build(bench, "E-1")
    engine.add_build(bench, "E-1", "10")
    engine.add_build(bench, "E-1")
    assert [b.number for b in bench.engine("E-1").builds] == ["1", "2", "10", "11"]
    assert bench.current_build("E-1").number == "11"
    engine.edit_build(bench, "E-1", "11", new_number="11b")
    engine.add(bench, "E-3", a_family(bench), build="")
    assert bench.current_build("E-3") is None
