"""load(unload(x)) = x; all or nothing; problems with sheet, row and column; nothing that a spreadsheet would run."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import openpyxl
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from benchapp.actions import (
    change,
    engine,
    family,
    fill,
    filter_cut,
    finding,
    fitting,
    instrument,
    leak_down,
    material,
    oil_pressure,
    paste,
    pull,
    run,
    sample,
    workbook,
)
from benchapp.actions.bench import Bench
from benchapp.benchfile import documents
from benchapp.benchfile.content import id_from
from benchapp.intake.paste import interpret
from benchapp.intake.read import read_text
from benchapp.problems import BenchProblem
from benchapp.records import (
    Change,
    CheckRun,
    Family,
    Fill,
    FilterCut,
    Finding,
    Fitting,
    Instrument,
    InstrumentElement,
    LeakDown,
    NoiseLine,
    OilPressure,
    Part,
    Pull,
    Reading,
    Run,
    Standard,
    TopUp,
)
from tests.actions.making import WHEN, a_sample, furnish
from tests.actions.test_verbs import AN_ALLOY, AN_INSTRUMENT

CONTRACT = {
    "Families": "family, layout, sump_l, notes",
    "Family parts": "family, part, material, role",
    "Engines": "engine, family, car, notes",
    "Builds": "engine, build, built_on, sump_l, notes",
    "Build parts": "engine, build, part, material, role",
    "Oils": "oil, kind, sae_grade, density_15c_kg_l, kv40_cst, kv100_cst, hths_mpas, tbn, tan",
    "Fills": "engine, build, fill, filled_at, build_h, oil, volume_l, drain_before, filter_changed",
    "Top-ups": "engine, build, fill, build_h, litres",
    "Runs": "engine, build, started_at, kind, hours, max_rpm, oil_temp_c, fuel, coolant, notes",
    "Samples": "sample, engine, build, fill, taken_at, build_h, oil_h, drawn, before_top_up, instrument, break_in, "
    "notes",
    "Results": "sample",
    "Pulls": "engine, build, pull, build_h, power_kw, air_c, pressure_kpa, humidity_pct",
    "Leak-down": "engine, build, build_h, cylinder, percent",
    "Filter cuts": "engine, build, build_h, ferrous, non_ferrous, largest_mm, notes",
    "Changes": "engine, build, build_h, kind, notes",
    "Check runs": "instrument, run_at, standard, element, expected_ppm, found_ppm",
}
"""The contract's sheets and columns, in its order."""


def everything(bench: Bench) -> None:
    """One of everything that a bench can hold."""
    material.add(bench, AN_ALLOY)
    own = Part("bore", "my_alloy", "bore", 320.5, 12.0)
    family.add(bench, Family("+My family", "V4", 5.0, (own, Part("ring", "ni_sic_plate")), "+ a note"))
    engine.add(bench, "E-2", "+My family", car="@car", notes="-dash\nand a second line")
    engine.add_build(bench, "E-2", sump_l=5.5, built_on=WHEN)
    engine.remove_part(bench, "E-2", "2", "ring")
    engine.override_part(bench, "E-2", "2", Part("sleeve", "my_alloy"))
    fill.add(bench, "E-2", "2", Fill("A", "an oil nobody described", 0.0, None, None, "cold", False))
    fill.top_up(bench, "E-1", "1", TopUp("F1", 4.0, 0.5))
    run.add(bench, "E-1", "1", Run("race", 0.5), Run("race", 0.5), Run("road", 0.25, coolant="water", notes="n"))
    pull.add(bench, "E-1", "1", Pull("1", 0.3, 220.1, 21.0, 99.5, 40.0), Pull("2", 0.4, 221.0))
    leak_down.add(bench, "E-1", "1", LeakDown(0.3, "1", 8.0, "T", 690.0), LeakDown(0.3, "2", 7.5))
    filter_cut.add(bench, "E-1", "1", FilterCut(3.0, "12", "none", 0.3, "n"))
    filter_cut.add(bench, "E-1", "1", FilterCut(3.0, "few", "", None, "", "magnet", "slivers", "grey", "small"))
    run.add(bench, "E-1", "1", Run("race", 0.5, distance_km=88.5, laps=21.0, starts=2.0))
    oil_pressure.add(bench, "E-1", "1", OilPressure(3.0, 420.5, 6000.0, 104.0, "dash", "n"), OilPressure(3.0, 95.0))
    springs = Fitting(0.0, "springs", "set 2", life=20.0, life_unit="h", used_before=3.5, notes="n")
    fitting.add(bench, "E-1", "1", springs, Fitting(9.0, "springs", "set 2", "taken out"), Fitting(9.0, "rods"))
    change.add(bench, "E-1", "1", Change(3.0, "oil", "another oil"))
    finding.add(bench, "E-1", "1", Finding(9.0, "ring", "worn out", "S-3", "seen", "gap 0.6 mm"))
    instrument.add(bench, AN_INSTRUMENT)
    instrument.add(bench, Instrument("Lab by post", "lab", "a method", {"Pb": NoiseLine(1.0, 0.1, 1.5, "own")}))
    check = CheckRun("Bench disc", WHEN + dt.timedelta(seconds=7), "50", "Fe", 50.0, 51.25)
    blank = replace(check, standard="Blank", expected_ppm=0.0, found_ppm=-0.1)  # a blank may read below zero
    instrument.add_check_runs(bench, [check, check, replace(check, element="Cu"), blank])
    cell = InstrumentElement("Fe", "ppm", 0.4), InstrumentElement("Na")
    standard = Standard("Check 50", "standard", "L7", WHEN, {"Fe": 50.0, "Cu": 49.5}, "opened in May")

    def cards(write):
        write.put("standard", id_from("standard", "Check 50"), documents.of_standard(standard))
        write.put("standard", id_from("standard", "Blank"), documents.of_standard(Standard("Blank", "blank")))
        card = documents.of_card(replace(AN_INSTRUMENT, elements=cell, due_on=WHEN, due_for="service"))
        write.put("instrument_card", id_from("instrument_card", "Bench disc"), card)
        measured = {"sample": "S-1", "measured_at": documents.moment_text(WHEN)}
        write.put("measurement", id_from("measurement", "S-1"), measured)

    bench.do("Cards", cards)
    readings = (*a_sample().readings, replace(a_sample().readings[0], replicate=2, value=0.1 + 0.2))
    more = {"notes": "=1+1", "drawn": "hot", "before_top_up": True, "break_in": True, "hold": "check failed"}
    sample.confirm(bench, "E-1", "1", replace(a_sample("007", 9.5), readings=readings, **more))
    paste.take(bench, interpret(read_text("sample\tFe\tCu\nW-1\t5\t<1\n")))


def test_the_whole_bench_comes_back(bench, empty, tmp_path):
    everything(bench)
    counts = workbook.unload(bench, tmp_path / "x.xlsx")
    loaded = workbook.load(empty, tmp_path / "x.xlsx")
    assert empty.fleet() == bench.fleet()
    assert empty.fleet().measured == {"S-1": WHEN}
    assert [w.sample for w in sample.waiting(empty)] == [w.sample for w in sample.waiting(bench)]
    assert counts["Engines"] == 2
    assert loaded.counts["Samples"] == 5
    workbook.unload(empty, tmp_path / "y.xlsx")
    assert book_of(tmp_path / "x.xlsx") == book_of(tmp_path / "y.xlsx")
    assert empty.file.verify() == ()


def book_of(path):
    book = openpyxl.load_workbook(path)
    return {page.title: [[cell.value for cell in row] for row in page.iter_rows()] for page in book}


def test_loading_it_again_changes_nothing(bench, tmp_path):
    everything(bench)
    workbook.unload(bench, tmp_path / "x.xlsx")
    before = bench.fleet()
    again = workbook.load(bench, tmp_path / "x.xlsx")
    assert again.changed.nouns == frozenset()
    assert bench.fleet() == before


def test_runs_without_a_start_are_never_taken_for_others(bench, tmp_path):
    from tests.torture.made import BATCH, batch_workbook

    for n in (1, 2):
        workbook.load(bench, batch_workbook(tmp_path, n))
        workbook.load(bench, batch_workbook(tmp_path, n))
    assert sum(r.notes == "batch 1" for r in bench.build("E-1", "1").runs) == BATCH
    assert sum(r.notes == "batch 2" for r in bench.build("E-1", "1").runs) == BATCH


def test_loading_is_one_step_back(bench, empty, tmp_path):
    workbook.unload(bench, tmp_path / "x.xlsx")
    workbook.load(empty, tmp_path / "x.xlsx")
    assert empty.undo_label == "Load workbook x.xlsx"
    empty.undo()
    assert empty.fleet().engines == ()
    empty.redo()
    assert empty.fleet() == bench.fleet()


def test_the_contracts_sheets_and_columns_in_its_order(bench, empty, tmp_path):
    workbook.unload(bench, tmp_path / "x.xlsx")
    book = book_of(tmp_path / "x.xlsx")
    assert list(book)[: len(CONTRACT)] == list(CONTRACT)
    for sheet, columns in CONTRACT.items():
        listed = columns.split(", ")
        assert book[sheet][0][: len(listed)] == listed
    assert book["Fills"][1][3] == "2026-05-03T10:30:00"
    assert book["Fills"][1][-1] == "y"
    workbook.unload(empty, tmp_path / "y.xlsx")
    assert list(book_of(tmp_path / "y.xlsx")) == list(CONTRACT)


def test_no_cell_is_a_formula(bench, tmp_path):
    everything(bench)
    for start in "=+-@":
        engine.edit(bench, "E-1", notes=f"{start}cmd|' /C calc'!A0")
        workbook.unload(bench, tmp_path / "x.xlsx")
        cells = [
            cell for page in openpyxl.load_workbook(tmp_path / "x.xlsx") for row in page.iter_rows() for cell in row
        ]
        risky = [cell for cell in cells if isinstance(cell.value, str) and cell.value[:1] in "=+-@"]
        assert risky
        assert all(cell.data_type == "s" and cell.quotePrefix for cell in risky)


def edited(bench, tmp_path, change_book):
    """The bench's workbook with one thing changed."""
    path = tmp_path / "x.xlsx"
    workbook.unload(bench, path)
    book = openpyxl.load_workbook(path)
    change_book(book)
    book.save(path)
    return path


def put(sheet, row, column, value):
    def do(book):
        page = book[sheet]
        names = [cell.value for cell in page[1]]
        page.cell(row, names.index(column) + 1).value = value

    return do


PROBLEMS = {
    "family": (put("Engines", 2, "family", "nowhere"), "“Engines”, row 2, family ('nowhere')", "nor in the library"),
    "engine": (put("Builds", 2, "engine", "E-7"), "“Builds”, row 2, engine ('E-7')", "no engine E-7"),
    "fill's build": (put("Fills", 2, "build", "7"), "“Fills”, row 2, build ('7')", "has no build 7"),
    "sample's fill": (put("Samples", 3, "fill", "F7"), "“Samples”, row 3, fill ('F7')", "no fill F7"),
    "no hours": (
        lambda b: (put("Samples", 2, "build_h", None)(b), put("Samples", 2, "oil_h", None)(b)), "build_h", "needs",
    ),
    "number": (put("Runs", 2, "hours", "three"), "“Runs”, row 2, hours ('three')", "number"),
    "word": (put("Fills", 2, "drain_before", "warm"), "drain_before ('warm')", "must be one of"),
    "top-up": (
        lambda b: b["Top-ups"].append(["E-1", "1", "F7", 1, 1]), "“Top-ups”, row 2, fill ('F7')", "no fill F7",
    ),
    "part": (
        lambda b: b["Build parts"].append(["E-1", "1", "x", "unobtainium", ""]),
        "material ('unobtainium')",
        "no material",
    ),
    "family part": (
        lambda b: b["Family parts"].append(["none such", "x", "ni_sic_plate", ""]), "“Family parts”", "no family",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", PROBLEMS)
def test_a_problem_is_told_with_its_place_and_nothing_is_loaded(bench, empty, tmp_path, name):
    change_book, where, why = PROBLEMS[name]
    path = edited(bench, tmp_path, change_book)
    with pytest.raises(workbook.WorkbookRefused) as caught:
        workbook.load(empty, path)
    told = [workbook.said(problem) for problem in caught.value.problems]
    assert any(where in line and why in line for line in told), told
    assert where in caught.value.what
    assert caught.value.means == "Nothing was loaded."
    assert empty.fleet().engines == ()
    assert empty.undo_label == ""


def test_a_value_that_the_tables_refuse_takes_all_back(bench, empty, tmp_path):
    path = edited(bench, tmp_path, put("Runs", 2, "hours", 2e6))
    with pytest.raises(BenchProblem, match="hours of a run"):
        workbook.load(empty, path)
    assert empty.fleet().engines == ()


def test_many_problems_are_counted(bench, empty, tmp_path):
    path = edited(
        bench,
        tmp_path,
        lambda b: [put("Runs", n, "hours", "x")(b) for n in (2, 3, 4)] + [put("Fills", 2, "build_h", "x")(b)],
    )
    with pytest.raises(workbook.WorkbookRefused, match=r"has 4 problems: .*; and 1 more"):
        workbook.load(empty, path)


def test_unknown_columns_are_kept_and_told(bench, empty, tmp_path):
    def more(book):
        for sheet in ("Engines", "Oils", "Fills"):
            page = book[sheet]
            page.cell(1, page.max_column + 1, "paint")
            page.cell(2, page.max_column, "red")

    loaded = workbook.load(empty, edited(bench, tmp_path, more))
    assert sum("paint" in line for line in loaded.kept_as_notes) == 3
    assert empty.engine("E-1").notes == "paint: red"
    workbook.unload(empty, tmp_path / "y.xlsx")
    book = book_of(tmp_path / "y.xlsx")
    assert book["Fills"][0][-1] == "notes"
    assert book["Fills"][1][-1] == "paint: red"
    assert "paint: red" in book["Oils"][1]


def test_what_is_blank_follows_and_is_told(bench, empty, tmp_path):
    def blank(book):
        put("Samples", 2, "fill", None)(book)
        put("Samples", 3, "build_h", None)(book)

    loaded = workbook.load(empty, edited(bench, tmp_path, blank))
    assert empty.fleet().engines == bench.fleet().engines
    assert any("fill taken as F1" in line for line in loaded.kept_as_notes)
    assert any("build hours taken as 6 h" in line for line in loaded.kept_as_notes)


def test_results_without_a_sample_wait(bench, empty, tmp_path):
    loaded = workbook.load(empty, edited(bench, tmp_path, lambda b: b["Samples"].delete_rows(2)))
    assert [w.sample.code for w in sample.waiting(empty)] == ["S-1"]
    assert any("S-1 has results but no row" in line for line in loaded.kept_as_notes)


def test_a_corrected_value_supersedes(bench, tmp_path):
    path = edited(bench, tmp_path, lambda b: put("Results", 2, "Fe", 77)(b))
    workbook.load(bench, path)
    assert bench.find_sample("S-1")[2].readings[3] == Reading("Fe", 77.0)
    assert sample.history(bench, "S-1")[-1].differences == (("Fe", "11 ppm", "77 ppm"),)


def test_where_a_workbook_cannot_be_written(bench, tmp_path):
    with pytest.raises(BenchProblem, match=r"does not end in \.xlsx"):
        workbook.unload(bench, tmp_path / "x.ods")
    with pytest.raises(BenchProblem, match="could not be written"):
        workbook.unload(bench, tmp_path / "no" / "x.xlsx")
    with pytest.raises(BenchProblem, match="bench file's own name"):
        workbook.unload(bench, bench.path)
    assert list(tmp_path.glob(".*")) == []


QUICK = (Phase.explicit, Phase.reuse, Phase.generate)
"""Every example makes two files; shrinking would take minutes."""

number = st.floats(0, 1e6, allow_nan=False)
unknown_number = st.none() | number


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=12, phases=QUICK)
@given(
    st.lists(
        st.tuples(number, unknown_number, st.sampled_from(["race", "dyno"]), st.none() | st.datetimes()), max_size=5
    ),
    st.lists(
        st.tuples(st.floats(1e-6, 1e6), st.sampled_from(["", "<", ">"]), st.sampled_from(["", "*", "J"])), max_size=3
    ),
    st.text("abc =+-@'\"\n;,é水", max_size=30),
)
def test_any_bench_comes_back(tmp_path_factory, runs, values, notes):
    folder = tmp_path_factory.mktemp("any")
    with Bench.create(folder / "a.bench") as one, Bench.create(folder / "b.bench") as two:
        furnish(one, samples=0)
        engine.edit(one, "E-1", notes=notes)
        for hours, rpm, kind, start in runs:
            run.add(one, "E-1", "1", Run(kind, hours, start, None if rpm is None else min(rpm, 1e5)))
        readings = tuple(
            Reading(el, v, "ppm", q, 1, m) for el, (v, q, m) in zip(["Fe", "Cu", "Pb"], values, strict=False)
        )
        sample.confirm(one, "E-1", "1", replace(a_sample("S", 3.0), readings=readings))
        workbook.unload(one, folder / "x.xlsx")
        workbook.load(two, folder / "x.xlsx")
        assert two.fleet() == one.fleet()
