"""Own limits, bench blends, fresh values and measured bearings: entered, refused, undone, renamed, merged, carried."""

from __future__ import annotations

import shutil

import pytest

from benchapp.actions import bearing, call, engine, oil, oil_card, safety, workbook
from benchapp.actions.bench import Bench
from benchapp.problems import BenchProblem
from benchapp.records import FuelBlend, Oil, OilLimit, OwnBearing
from tests.actions.making import furnish

NAME = "an invented oil"
BASE = OilLimit("base number", 0.5, 0.4, "own teardowns of two seasons")
BLEND = FuelBlend("petrol", 5.0, 95.0, 11.0)
ROD = OwnBearing("rod bearing", 53.0, 21.0, 0.055, 0.4, "peak cylinder pressure", 26000.0, 7200.0)


def known(bench: Bench) -> Oil:
    return bench.fleet().oils[NAME]


def enter(bench: Bench) -> None:
    oil_card.put(bench, NAME, limits=[BASE], fresh={"Oxidation": 14.0}, blends=[BLEND])
    bearing.put(bench, "E-1", "1", [ROD])


def test_what_is_entered_is_there_and_undone_in_one_step_each(bench):
    enter(bench)
    assert known(bench).limits == (BASE,)
    assert known(bench).fresh_more == {"Oxidation": 14.0}
    assert known(bench).blends == (BLEND,)
    assert bench.build("E-1", "1").bearings == (ROD,)
    assert bench.undo_label == "Bearings of engine E-1, build 1"
    assert bench.undo().engines == {"E-1"}
    assert bench.build("E-1", "1").bearings == ()
    changed = bench.undo()
    assert changed.touches("oil"), "views that show oils follow"
    assert (known(bench).limits, known(bench).blends, dict(known(bench).fresh_more)) == ((), (), {})
    bench.redo()
    assert known(bench).limits == (BASE,)
    assert bench.file.verify() == ()


def test_the_same_again_writes_nothing_and_what_is_left_out_is_taken_out(bench):
    enter(bench)
    assert not oil_card.put(bench, NAME, limits=[BASE], fresh={"Oxidation": 14.0}, blends=[BLEND]).nouns
    assert not bearing.put(bench, "E-1", "1", [ROD]).nouns
    oil_card.put(bench, NAME, blends=[BLEND, FuelBlend("petrol", 5.0, 95.0, 70.0, 40.0)])
    assert known(bench).limits == ()
    assert [blend.at_c for blend in known(bench).blends] == [40.0, 100.0]
    bearing.put(bench, "E-1", "1", [])
    assert bench.build("E-1", "1").bearings == ()
    bearing.put(bench, "E-1", "1", [ROD])
    assert bench.build("E-1", "1").bearings == (ROD,)


@pytest.mark.parametrize(
    ("more", "what"),
    [
        ({"limits": [OilLimit("base number", 1.5, 0.4)]}, "The warning for base number is 1.5, outside 0.05 to 1 as a"),
        ({"limits": [OilLimit("water", 0.1, 9.0)]}, "The limit for water is 9 %, outside 0 % to 5 %."),
        ({"limits": [OilLimit("colour", 1.0, 2.0)]}, 'There is no oil limit "colour".'),
        ({"limits": [OilLimit("water", 0.4, 0.1)]}, "The warning for water (0.4) would come after its limit (0.1)."),
        ({"limits": [BASE, BASE]}, "The same limit stands there twice."),
        ({"fresh": {"Oxidation": 900.0}}, "Fresh oxidation is 900, outside 0 to 200."),
        ({"fresh": {"TBN": 7.0}}, "A fresh value of TBN is not kept here."),
        ({"blends": [FuelBlend("diesel", 5.0, 95.0, 11.0)]}, 'There is no fuel "diesel" for a bench blend.'),
        ({"blends": [FuelBlend("petrol", 5.0, 95.0, 11.0, 60.0)]}, "A bench blend at 60 °C cannot be held"),
        ({"blends": [FuelBlend("petrol", 0.0, 95.0, 11.0)]}, "A bench blend needs an amount of fuel and an amount"),
        ({"blends": [FuelBlend("petrol", 60.0, 40.0, 11.0)]}, "Fuel share of the bench blend is 60 %, outside 0.1 to"),
        ({"blends": [FuelBlend("petrol", 5.0, 95.0, 14.0)]}, "The bench blend at 14 mm²/s is not clearly thinner"),
        ({"blends": [BLEND, BLEND]}, "The same blend of one fuel at one temperature stands there twice."),
    ],
)
def test_what_cannot_be_is_refused_with_its_range_and_nothing_is_written(bench, more, what):
    with pytest.raises(BenchProblem) as refused:
        oil_card.put(bench, NAME, **more)
    assert str(refused.value.what).startswith(what)
    assert refused.value.means
    assert refused.value.do
    assert known(bench).limits == ()


def test_an_oil_that_is_not_there_and_one_without_viscosity(bench):
    with pytest.raises(BenchProblem, match="There is no oil nothing"):
        oil_card.put(bench, "nothing")
    oil.add(bench, Oil("a bare oil"))
    with pytest.raises(BenchProblem, match="The viscosity of fresh a bare oil at 100 °C is not known"):
        oil_card.put(bench, "a bare oil", blends=[BLEND])


@pytest.mark.parametrize(
    ("one", "what"),
    [
        (OwnBearing("rod bearing", 53.0, 60.0), "Length over diameter of rod bearing is 1.1"),
        (OwnBearing("rod bearing", 5.0, 3.0), "Journal diameter is 5 mm, outside 10 to 300 mm."),
        (OwnBearing("rod bearing", 53.0, 21.0, 5.3), "The clearance of rod bearing is 5.3 mm on a 53 mm journal."),
        (OwnBearing("rod bearing", 53.0, 21.0, roughness_um=40.0), "The roughness of rod bearing is 40 µm, outside"),
        (OwnBearing("rod bearing", 53.0, 21.0, load_n=0.0), "The load of rod bearing is 0 N, outside 1 to 1e+06 N."),
        (OwnBearing("", 53.0, 21.0), "The bearing has no name."),
    ],
)
def test_a_bearing_that_cannot_be_is_refused_with_its_range(bench, one, what):
    with pytest.raises(BenchProblem) as refused:
        bearing.put(bench, "E-1", "1", [one])
    assert refused.value.what.startswith(what)
    assert bench.build("E-1", "1").bearings == ()
    with pytest.raises(BenchProblem, match="Two bearings have one name"):
        bearing.put(bench, "E-1", "1", [ROD, ROD])


def test_a_renamed_oil_keeps_its_card_and_a_rebuild_its_bearings(bench):
    enter(bench)
    oil.edit(bench, NAME, Oil("another name", "race", "10W-40", 0.865, 95.0, 14.0))
    assert bench.fleet().oils["another name"].limits == (BASE,)
    assert bench.fleet().oils["another name"].blends == (BLEND,)
    engine.add_build(bench, "E-1")
    assert bench.build("E-1", "2").bearings == (ROD,)
    engine.add_build(bench, "E-1", keep_parts=False)
    assert bench.build("E-1", "3").bearings == ()


def test_it_comes_back_from_a_workbook_and_another_laptop(bench, empty, tmp_path):
    enter(bench)
    workbook.unload(bench, tmp_path / "x.xlsx")
    workbook.load(empty, tmp_path / "x.xlsx")
    assert empty.fleet() == bench.fleet()
    assert not workbook.load(empty, tmp_path / "x.xlsx").changed.nouns, "the same again changes nothing"
    bench.close()
    copy = tmp_path / "other.bench"
    shutil.copy(bench.path, copy)
    with Bench.create(tmp_path / "third.bench") as third:
        safety.merge(third, copy)
        assert third.fleet().oils[NAME].limits == (BASE,)
        assert third.build("E-1", "1").bearings == (ROD,)


def test_a_workbook_with_a_figure_out_of_range_is_refused_whole(bench, empty, tmp_path):
    import openpyxl

    enter(bench)
    workbook.unload(bench, tmp_path / "x.xlsx")
    book = openpyxl.load_workbook(tmp_path / "x.xlsx")
    book["Bearings"]["E2"] = 90.0
    book["Oil limits"]["C2"] = 7.0
    book["Fuel blends"]["F2"] = 13.99
    book["Fresh values"]["C2"] = 999.0
    book.save(tmp_path / "y.xlsx")
    with pytest.raises(workbook.WorkbookRefused) as refused:
        workbook.load(empty, tmp_path / "y.xlsx")
    assert [problem.sheet for problem in refused.value.problems] == [
        "Oil limits", "Fuel blends", "Fresh values", "Bearings"
    ]  # fmt: skip
    assert empty.fleet().engines == ()


def test_an_oil_nobody_described_has_no_card_in_a_workbook(bench, empty, tmp_path):
    import openpyxl

    enter(bench)
    workbook.unload(bench, tmp_path / "x.xlsx")
    book = openpyxl.load_workbook(tmp_path / "x.xlsx")
    book["Oil limits"]["A2"] = "an oil nobody described"
    book.save(tmp_path / "y.xlsx")
    with pytest.raises(workbook.WorkbookRefused, match="there is no oil an oil nobody described"):
        workbook.load(empty, tmp_path / "y.xlsx")


def test_issued_calls_stand_until_a_limit_that_they_rest_on_changes(bench):
    call.issue(bench, "S-1")
    furnish(bench, "E-2")
    oil.add(bench, Oil("an oil of no engine", kv100_cst=12.0))
    oil_card.put(bench, "an oil of no engine", limits=[BASE])
    assert call.issued(bench, "S-1")[0].superseded == ""
    oil_card.put(bench, NAME, limits=[BASE])
    assert "Limits, fresh values and blends" in call.issued(bench, "S-1")[0].superseded
    bench.undo()
    assert call.issued(bench, "S-1")[0].superseded == ""
