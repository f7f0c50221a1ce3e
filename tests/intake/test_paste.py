"""From table to typed readings. Shapes: common practice of exports, no source; the paste acceptance list of other
tools' failures (first cell empty, CRLF, ragged rows, decimal comma, `1_0`, codes turned into numbers) is in here."""

from __future__ import annotations

import datetime as dt
import json

import pytest

from benchapp.intake.paste import PasteMapping, PasteResult, interpret, parse_moment
from benchapp.intake.read import read_text
from benchapp.intake.table import RawTable
from benchapp.problems import BenchProblem


def paste(text: str, mapping: PasteMapping | None = None, decimal: str | None = None) -> PasteResult:
    return interpret(read_text(text), mapping, decimal)


def values(result: PasteResult) -> dict[tuple[str, str, int], tuple[float | None, str]]:
    return {(t.sample, t.measurand, t.replicate): (t.value, t.qualifier) for t in result.taken}


# --- the contract ---


def test_the_contracts_example() -> None:
    text = "Sample\tFe\tCu\nT1\t12.4\t1\nT2\t12,4,1\t2\n\n\n\n\n\nMean\t1\t2\n"
    found = paste(text).to_json(committed=False)
    assert found == {
        "taken": [
            {"sample": "T1", "measurand": "Fe", "value": 12.4, "unit": "ppm", "qualifier": None, "replicate": 1},
            {"sample": "T1", "measurand": "Cu", "value": 1.0, "unit": "ppm", "qualifier": None, "replicate": 1},
            {"sample": "T2", "measurand": "Cu", "value": 2.0, "unit": "ppm", "qualifier": None, "replicate": 1},
        ],
        "problems": [{"row": 3, "column": "Fe", "cell": "12,4,1", "reason": "“12,4,1” is not a number"}],
        "left_out": [{"row": 9, "label": "Mean", "reason": "summary row"}],
        "committed": False,
    }
    assert json.loads(json.dumps(found)) == found


def test_a_bare_not_detected_has_no_value() -> None:
    (entry,) = paste("Sample\tFe\nA\tND").to_json(committed=True)["taken"]
    assert (entry["value"], entry["qualifier"]) == (None, "<")


def test_marks_are_kept_and_words_are_problems() -> None:
    result = paste("Sample\tFe\tCu\tPb\tSn\nA\t12.4*\t6.1 J\tOVR\terr\n")
    assert [(t.measurand, t.value, t.mark) for t in result.taken] == [("Fe", 12.4, "*"), ("Cu", 6.1, "J")]
    assert [(p.row, p.column, p.column_number, p.cell) for p in result.problems] == [
        (2, "Pb", 4, "OVR"),
        (2, "Sn", 5, "err"),
    ]


# --- shapes ---


def test_titles_units_and_wavelengths_around_the_head() -> None:
    result = paste(
        "Report\nInstrument x\n\nSample\tFe\tCu\tPb\n\tppm\tmg/kg\t%\n\t238.2\t324.7\t220.3\nA\t1.5\t2.5\t0.0003\n"
    )
    assert values(result) == {("A", "Fe", 1): (1.5, ""), ("A", "Cu", 1): (2.5, ""), ("A", "Pb", 1): (3.0, "")}
    assert result.taken[0].row == 7
    assert not result.problems
    assert not any("No unit" in n for n in result.notices)


def test_wavelength_row_over_the_head() -> None:
    assert values(paste("\t259.9\t324.7\nSample\tFe (ppm)\tCu (ppm)\nA\t1.5\t2.5\n"))[("A", "Fe", 1)] == (1.5, "")


def test_the_head_of_the_code_column_may_stand_a_row_higher() -> None:
    result = paste("Sample ID\tWear\t\n\tFe\tCu\nA\t1.5\t2\n")
    assert result.samples == ("A",)
    assert not result.problems


def test_a_code_column_without_a_head_is_said() -> None:
    result = paste("\tFe\tCu\nA\t1.5\t2\n")
    assert result.samples == ("A",)
    assert any("read as the sample code" in n for n in result.notices)


def test_transposed() -> None:
    result = paste("Element\tUnit\tT1\tT2\nFe\tppm\t12.4\t<1\nCu\tppm\t3.5\tx\nKV40\tcSt\t60.1\t\n")
    assert values(result) == {
        ("T1", "Fe", 1): (12.4, ""),
        ("T2", "Fe", 1): (1.0, "<"),
        ("T1", "Cu", 1): (3.5, ""),
        ("T1", "KV40", 1): (60.1, ""),
    }
    assert [(p.row, p.column, p.column_number, p.cell) for p in result.problems] == [(3, "T2", 4, "x")]
    assert [(t.row, t.column) for t in result.taken if t.measurand == "KV40"] == [(4, 3)]
    assert result.mapping.shape == "transposed"


def test_transposed_with_a_mean_column() -> None:
    result = paste("Element\tT1\tT2\tMean\nFe\t12.4\t1\t6.7\nCu\t3.5\t2\t2.7\nSn\t3\t2\t2.5\n")
    assert result.samples == ("T1", "T2")
    assert [(x.label, x.reason, x.column_number) for x in result.left_out] == [("Mean", "summary row", 4)]


def test_long() -> None:
    text = "Sample,Element,Result,Unit\nA,Fe,12.4,ppm\nA,Iron 238,1,ppm\nA,Cu,3,mg/L\nB,Fe,ND,ppm\nB,Xx,3,ppm\nB,Water,500,ppm\n"  # noqa: E501
    result = paste(text)
    assert values(result) == {("B", "Fe", 1): (None, "<"), ("B", "Water", 1): (0.05, "")}
    reasons = {p.row: p.reason for p in result.problems}
    assert "2 rows for Fe of A" in reasons[2]
    assert "2 rows for Fe of A" in reasons[3]
    assert "density" in reasons[4]
    assert "not known as an element" in reasons[6]


# --- codes ---


@pytest.mark.parametrize(
    "code", ["00123", "171E2", "3/2", "24-017", "ENG3/S7", "1-2", "12.0", "007.10", "TRUE", "1e5", "NA", "+A1"]
)
def test_sample_codes_stay_text(code: str) -> None:
    assert paste(f"Sample\tFe\n{code}\t1.5\n").samples == (code,)


def test_a_quoted_code_formula_is_the_code() -> None:
    assert paste('Sample,Fe\n="00123",1.5\n').samples == ("00123",)


@pytest.mark.parametrize(
    ("code", "words"),
    [("1.71E+04", "into a number"), ("02-Mar", "into a date"), ("Mar-26", "into a date"), ("=A1", "formula")],
)
def test_codes_that_a_spreadsheet_changed_are_problems(code: str, words: str) -> None:
    result = paste(f"Sample\tFe\n{code}\t1.5\n")
    assert words in result.problems[0].reason
    assert not result.taken
    typed = interpret(read_text(f"Sample\tFe\n{code}\t1.5\n").with_cell(2, 1, "02-Mar"))
    assert typed.samples == ("02-Mar",)


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("2026-02-03", "d", "into a date"),
        ("12.5", "n", "into a number"),
        ("TRUE", "b", "not a sample code"),
        ("=A1", "f", "without a stored value"),
    ],
)
def test_codes_stored_as_something_else_are_problems(text: str, kind: str, words: str) -> None:
    table = RawTable((("Sample", "Fe"), (text, "1.5")), kinds=("tt", f"{kind}n"))
    result = interpret(table)
    assert words in result.problems[0].reason
    assert interpret(table.with_cell(2, 1, "S1")).samples == ("S1",)


def test_a_code_stored_as_a_whole_number_is_taken_and_said() -> None:
    result = interpret(RawTable((("Sample", "Fe"), ("12", "1.5")), kinds=("tt", "nn")))
    assert result.samples == ("12",)
    assert any("stored as numbers" in n for n in result.notices)


# --- decimal sign ---


def test_decimal_comma_of_the_whole_block() -> None:
    result = paste("Sample;Fe;Cu\nA;12,4;1.234,5\nB;<0,5;1,234\n")
    assert values(result)[("A", "Cu", 1)] == (1234.5, "")
    assert values(result)[("B", "Cu", 1)] == (1.234, "")
    assert result.mapping.decimal == ","


def test_nothing_decides_the_decimal_sign_then_it_asks() -> None:
    text = "Sample\tFe\tCu\nA\t1.234\t5\n"
    result = paste(text)
    assert result.asks_decimal
    assert values(result) == {("A", "Cu", 1): (5.0, "")}
    assert result.problems[0].cell == "1.234"
    assert values(paste(text, decimal="."))[("A", "Fe", 1)] == (1.234, "")
    assert paste(text, decimal=".").mapping.decimal == "."
    assert any("decimal sign" in n for n in result.notices)


def test_both_signs_in_one_block_ask() -> None:
    result = paste("Sample\tFe\tCu\nA\t12.4\t12,5\nB\t3\t4\n")
    assert result.asks_decimal
    assert len(result.problems) == 2
    assert any("both signs" in n for n in result.notices)


def test_the_remembered_sign_holds_against_the_block() -> None:
    result = paste("Sample\tFe\nA\t12.4\n", PasteMapping(decimal=","))
    assert not result.taken
    assert "where this source writes" in result.problems[0].reason


# --- never a silent choice ---


def test_two_columns_for_one_element() -> None:
    text = "Sample\tFe 238.2\tFe 259.9\tCu\nA\t1.5\t1.6\t2\n"
    result = paste(text)
    assert set(values(result)) == {("A", "Cu", 1)}
    assert [p.column_number for p in result.problems] == [2, 3]
    assert "2 columns for Fe" in result.problems[0].reason
    settled = result.mapping.with_column("Fe 259.9", "ignore")
    again = paste(text, settled)
    assert values(again)[("A", "Fe", 1)] == (1.5, "")
    assert not again.problems
    assert ("Fe 259.9", "set to ignore") in [(x.label, x.reason) for x in again.left_out]


def test_two_rows_for_one_sample_without_a_mark() -> None:
    result = paste("Sample\tFe\nA\t1.5\nB\t2\nA\t1.6\n")
    assert result.samples == ("B",)
    assert [p.row for p in result.problems] == [2, 4]
    assert "no replicate mark" in result.problems[0].reason


def test_one_of_two_rows_marked_is_still_a_problem() -> None:
    result = paste("Sample\tFe\nA\t1.5\nA #2\t1.6\nA #2\t1.7\n")
    assert [p.row for p in result.problems] == [2, 3, 4]
    assert not result.taken


def test_replicates_by_suffix_column_and_head() -> None:
    assert set(values(paste("Sample\tFe\nA #1\t1.5\nA #2\t1.6\nB #1\t3\n"))) == {
        ("A", "Fe", 1),
        ("A", "Fe", 2),
        ("B", "Fe", 1),
    }
    assert set(values(paste("Sample\tRep\tFe\nA\t1\t1.5\nA\t2\t1.6\n"))) == {("A", "Fe", 1), ("A", "Fe", 2)}
    assert set(values(paste("Sample\tFe #1\tFe #2\tFe Mean\nA\t1.5\t1.6\t1.55\n"))) == {("A", "Fe", 1), ("A", "Fe", 2)}
    assert "not a replicate number" in paste("Sample\tRep\tFe\nA\tx\t1.5\n").problems[0].reason
    assert set(values(paste("Sample\tRep\tFe\nA\t1\t1.5\n\t2\t1.6\n"))) == {("A", "Fe", 1), ("A", "Fe", 2)}
    alone = paste("Sample\tFe\nENG #3\t1.5\n")
    assert set(values(alone)) == {("ENG", "Fe", 3)}
    assert any("replicate 3 of ENG" in n for n in alone.notices)


def test_a_unit_that_cannot_be_converted() -> None:
    result = paste("Sample\tFe (mg/L)\tCu (ppm)\tViscosity\nA\t1.5\t2\t60\n")
    assert set(values(result)) == {("A", "Cu", 1)}
    assert [(p.row, p.column) for p in result.problems] == [(1, "Fe (mg/L)"), (1, "Viscosity")]


def test_no_unit_is_said() -> None:
    assert any("No unit is given for Fe: read as ppm" in n for n in paste("Sample\tFe\nA\t1.5").notices)


def test_two_code_columns_ask() -> None:
    result = paste("ID\tCode\tFe\nA\tx\t1.5\n")
    assert "which of these columns" in result.problems[0].reason
    assert not result.taken
    assert paste("ID\tCode\tFe\nA\tx\t1.5\n", PasteMapping().with_column("Code", "sample")).samples == ("x",)
    assert paste("Lab no.\tSample ID\tFe\nA\tx\t1.5\n").samples == ("x",)


def test_readings_without_a_code() -> None:
    result = paste("Sample\tFe\nA\t1.5\n\t2.5\n")
    assert [(p.row, p.reason) for p in result.problems] == [(3, "readings without a sample code")]


def test_more_than_there_can_be() -> None:
    assert "more than there can be" in paste("Sample\tFe (%)\tCu\nA\t250\t2000000\n").problems[0].reason


def test_nothing_to_find() -> None:
    assert "names an element" in paste("a\tb\n1\t2\n").problems[0].reason
    assert "empty" in paste("").problems[0].reason
    assert "no column is known" in paste("Fe\tCu\n1.5\t2\n").problems[0].reason


def test_cells_that_shifted_past_the_heads_are_not_believed() -> None:
    result = paste("Sample,Fe,Cu\nA,12,4,3,1\nB,5,6\n")
    assert result.samples == ("B",)
    assert [(p.row, p.column_number) for p in result.problems] == [(2, 4)]
    assert "shifted" in result.problems[0].reason


def test_flags_in_a_column_of_their_own() -> None:
    result = paste("Sample\tFe\tFlag\tCu\tCu Q\tSn\nA\t0.5\t<\t6.1\tJ\t3\nB\t1.5\tU\t2\t\t1\nC\t\tND\t3\t=\t2\n")
    found = {(t.sample, t.measurand): (t.value, t.qualifier, t.mark) for t in result.taken}
    assert found[("A", "Fe")] == (0.5, "<", "")
    assert found[("A", "Cu")] == (6.1, "", "J")
    assert found[("C", "Fe")] == (None, "<", "")
    assert found[("C", "Cu")] == (3.0, "", "")
    assert [(p.row, p.column) for p in result.problems] == [(3, "Fe")]
    assert "not detected at this limit" in result.problems[0].reason
    long = paste("Sample\tElement\tResult\tQualifier\nA\tFe\t0.5\t<\nA\tCu\t0.5\tND\n")
    assert values(long) == {("A", "Fe", 1): (0.5, "<"), ("A", "Cu", 1): (0.5, "<")}
    assert "which column" in paste("Sample\tFlag\tFe\nA\t<\t1.5\n").problems[0].reason


def test_two_units_for_one_column_are_a_problem() -> None:
    assert "two units" in paste("Sample\tFe (ppm)\n\t%\nA\t1.5\n").problems[0].reason
    assert not paste("Sample\tFe (ppm)\n\tmg/kg\nA\t1.5\n").problems
    assert "two units" in paste("Sample\tElement\tResult\tUnit\nA\tFe (ppm)\t1.5\t%\n").problems[0].reason


def test_errors_named_under_an_empty_head() -> None:
    result = paste("Sample\tFe\t\tCu\t\n\tppm\t±\tppm\t±\nA\t1.5\t0.1\t2\t0.2\n")
    assert values(result) == {("A", "Fe", 1): (1.5, ""), ("A", "Cu", 1): (2.0, "")}
    assert [x.reason for x in result.left_out] == ["error column of Fe", "error column of Cu"]
    assert not result.problems


def test_a_summary_word_in_a_column_before_the_code() -> None:
    result = paste("No.\tSample\tFe\n1\tA\t1.5\n2\tB\t2\nMean\tA\t1.7\nSD\t\t0.2\n")
    assert result.samples == ("A", "B")
    assert [(x.row, x.label) for x in result.left_out if x.reason == "summary row"] == [(4, "Mean A"), (5, "SD")]


def test_blank_rows_under_the_head_and_repeated_heads() -> None:
    result = paste("Sample\tFe\n\n\tppm\nA\t1.5\nSample\tFe\n\tppm\nB\t2\n")
    assert result.samples == ("A", "B")
    assert [(x.row, x.reason) for x in result.left_out] == [(5, "header repeated"), (6, "unit row repeated")]
    assert not result.problems


def test_codes_that_look_like_dates_or_are_too_long() -> None:
    result = paste("Sample\tFe\n2026-02-03\t1.5\n")
    assert result.samples == ("2026-02-03",)
    assert any("looks like a date" in n for n in result.notices)
    assert "longer than 100" in paste(f"Sample\tFe\n{'x' * 101}\t1.5\n").problems[0].reason
    assert "too long" in paste(f"Sample\tFe\nA\t{'1' * 61}\n").problems[0].reason


# --- rows and columns that are no results ---


@pytest.mark.parametrize(
    ("label", "reason"),
    [
        ("Mean", "summary row"),
        ("Avg", "summary row"),
        ("Average", "summary row"),
        ("SD", "summary row"),
        ("Std Dev", "summary row"),
        ("%RSD", "summary row"),
        ("RSD %", "summary row"),
        ("Total", "summary row"),
        ("Max", "summary row"),
        ("Mean of 3", "summary row"),
        ("Blank", "blank row"),
        ("Blank oil", "blank row"),
        ("BLK 2", "blank row"),
        ("Cal 1", "calibration row"),
        ("STD 100", "calibration row"),
        ("Calibration", "calibration row"),
        ("CK", "check standard row"),
        ("Check 50 ppm", "check standard row"),
        ("QC", "check standard row"),
        ("CCV", "check standard row"),
        ("Drift standard", "check standard row"),
        ("LOD", "detection limit row"),
        ("Detection limit", "detection limit row"),
        ("A Avg", "summary row"),
        ("A SD", "summary row"),
        ("A %RSD", "summary row"),
    ],
)
def test_rows_that_are_no_samples(label: str, reason: str) -> None:
    result = paste(f"Sample\tFe\nA\t1.5\n{label}\t50\n")
    assert [(x.row, x.label, x.reason) for x in result.left_out] == [(3, label, reason)]
    assert result.samples == ("A",)


@pytest.mark.parametrize(
    "code",
    ["Checkered flag", "Meander 3", "CALVIN-1", "Standfast", "KN-07 SD", "T1-SD", "SD-12", "N", "Maxi 4", "Blanka"],
)
def test_codes_that_only_look_like_it_are_samples(code: str) -> None:
    assert paste(f"Sample\tFe\n{code}\t1.5\n").samples == (code,)


def test_check_runs_are_listed_with_their_values() -> None:
    text = "Type,Label,Date,Time,Instrument,Fe,Fe ±\nCK,Check 50 ppm,2026-04-18,08:15,RDE 1,49.1,0.5\nBL,Blank,2026-04-18,08:20,RDE 1,<1,\nRD,A,2026-04-18,08:30,RDE 1,12.4,0.3\nCK,Check,2026-04-18,09:00,RDE 1,OVR,\n"  # noqa: E501
    result = paste(text)
    first, second = result.check_runs
    assert (first.label, first.kind, first.measurand, first.value, first.expected) == (
        "Check 50 ppm",
        "check",
        "Fe",
        49.1,
        50.0,
    )
    assert (first.run_at, first.instrument, first.row) == (dt.datetime(2026, 4, 18, 8, 15), "RDE 1", 2)
    assert (second.kind, second.qualifier) == ("blank", "<")
    assert result.samples == ("A",)
    assert not result.problems
    assert any("This check reading is left out" in n for n in result.notices)
    assert ("Fe ±", "error column of Fe") in [(x.label, x.reason) for x in result.left_out]


def test_an_unknown_row_code_is_a_problem() -> None:
    assert "kind of row" in paste("Type,Sample,Fe\nRD,A,1.5\nQZ,B,2\n").problems[0].reason


def test_unknown_columns_and_footnotes_are_listed() -> None:
    result = paste("Sample\tOperator\tFe\nA\tx\t1.5\n* estimated\n\nSample\tOperator\tFe\n")
    assert [(x.row, x.label, x.reason) for x in result.left_out] == [
        (1, "Operator", "not known as a measurand"),
        (3, "* estimated", "no readings in this row"),
        (5, "Sample", "header repeated"),
    ]


# --- facts, mapping, preview ---


def test_what_else_the_export_says() -> None:
    text = "Sample\tEngine\tSampling date\tHours on oil\tEngine hours\tRemarks\tFe\nA\tE7\t25.03.2026 14:30\t3.5\t12\thot\t1.5\nB\tE7\t03/04/2026\tx\t\t\t2.5\n"  # noqa: E501
    result = paste(text)
    first, second = result.facts
    assert first == ("A", 2, "E7", dt.datetime(2026, 3, 25, 14, 30), None, "", 12.0, 3.5, "hot")
    assert second.taken_at is None
    assert any("two ways" in n for n in result.notices)
    assert [(p.row, p.column) for p in result.problems] == [(3, "Hours on oil")]


@pytest.mark.parametrize(
    ("text", "day_first", "expected"),
    [
        ("2026-03-25", None, dt.datetime(2026, 3, 25)),
        ("2026-03-25T14:30", None, dt.datetime(2026, 3, 25, 14, 30)),
        ("25.03.2026", None, dt.datetime(2026, 3, 25)),
        ("25/03/2026", None, dt.datetime(2026, 3, 25)),
        ("03/25/2026", None, dt.datetime(2026, 3, 25)),
        ("03/04/2026", None, None),
        ("03/04/2026", True, dt.datetime(2026, 4, 3)),
        ("03/04/2026", False, dt.datetime(2026, 3, 4)),
        ("31.02.2026", None, None),
        ("soon", None, None),
    ],
)
def test_dates_that_can_be_read_one_way(text: str, day_first: bool | None, expected: dt.datetime | None) -> None:
    assert parse_moment(text, day_first) == expected


def test_the_mapping_is_remembered() -> None:
    first = paste("Bottle\tEisen\tFe 238 (ppm)\nA\t1\t1.5\n").mapping
    again = PasteMapping.from_json(first.with_column("Eisen", "ignore").to_json())
    assert again == first.with_column("Eisen", "ignore")
    other = paste("Fe 238\tBottle\nx\tB\n", again)
    assert other.problems[0].column == "Fe 238"
    mapped = PasteMapping().with_column("Eisen", "reading", "Fe", "ppm")
    assert values(paste("Sample\tEisen\tCu\nA\t1.5\t2\n", mapped))[("A", "Fe", 1)] == (1.5, "")
    assert any("not in this table" in n for n in paste("Sample\tCu\nA\t2\n", mapped).notices)


def test_the_tables_own_unit_wins_over_the_remembered_one() -> None:
    mapping = paste("Sample\tPb\n\tppm\nA\t1.5\n").mapping
    result = paste("Sample\tPb\n\t%\nA\t0.5\n", mapping)
    assert values(result)[("A", "Pb", 1)] == (5000.0, "")
    assert any("is in % here, in ppm before" in n for n in result.notices)


@pytest.mark.parametrize(
    "text", ["", "[]", "{", '{"shape": "round"}', '{"columns": [1]}', '{"columns": [{"header": "x", "role": "king"}]}']
)
def test_a_broken_mapping_is_told(text: str) -> None:
    with pytest.raises(BenchProblem, match="cannot be understood"):
        PasteMapping.from_json(text)


def test_a_mapping_takes_known_words_only() -> None:
    with pytest.raises(ValueError, match="unknown role"):
        PasteMapping().with_column("x", "king")
    with pytest.raises(ValueError, match="unknown decimal"):
        PasteMapping().with_decimal(";")


def test_the_preview_marks_every_cell() -> None:
    table = read_text("Title\n\nSample\tFe\t±\n\tppm\t\nA\t1.5\t0.1\nB\tOVR\t\nMean\t1\t\n")
    roles = interpret(table).cell_roles
    assert roles[(1, 1)] == "title"
    assert roles[(3, 2)] == "header"
    assert roles[(4, 2)] == "unit"
    assert roles[(5, 1)] == "sample"
    assert roles[(5, 2)] == "reading"
    assert roles[(5, 3)] == "left out"
    assert roles[(6, 2)] == "problem"
    assert roles[(7, 2)] == "left out"
    assert len(roles) == 7 * 3
    assert "out of range" in interpret(table).reason(6, 2)
    assert interpret(table).reason(5, 2) == ""
    fixed = interpret(table.with_cell(6, 2, ">900"))
    assert fixed.role(6, 2) == "reading"
    assert not fixed.problems


def test_the_preview_of_a_transposed_table() -> None:
    result = interpret(read_text("Element\tT1\tMean\nFe\t12.4\t1\nCu\tx\t2\nSn\t1\t2\n"))
    assert result.role(1, 2) == "sample"
    assert result.role(2, 1) == "header"
    assert result.role(2, 2) == "reading"
    assert result.role(3, 2) == "problem"
    assert result.role(2, 3) == "left out"


def test_rows_and_columns_are_the_sheets_own() -> None:
    table = RawTable((("Sample", "Fe"), ("A", "OVR"), ("B", "1.5")), first_row=10, first_column=4)
    result = interpret(table)
    assert [(p.row, p.column_number) for p in result.problems] == [(11, 5)]
    assert [(t.row, t.column) for t in result.taken] == [(12, 5)]
    assert result.role(11, 5) == "problem"


# --- the rest of the sentences ---


@pytest.mark.parametrize(
    ("text", "mapping", "words"),
    [
        ("Sample\tFe\nA\t1.5\n", PasteMapping(shape="long"), "a long table needs a column with the element"),
        ("Sample\tElement\tResult\tValue\nA\tFe\t1\t2\n", PasteMapping(), "2 columns of values"),
        ("Sample\tRep\tFe\nA\t1\t1.5\nA\t1\t1.6\n", PasteMapping(), "2 rows for A with the replicate mark 1"),
        ("Sample\tFe\tTBN\nA\t1.5\t3.5 ppm\n", PasteMapping(), "“ppm” cannot be converted to mg KOH/g"),
        ("Sample\tFe\tKV40\nA\t1.5 mg/L\t60\n", PasteMapping(), "density of the oil"),
        ("Sample\tX\tFe\nA\t1\t2.5\n", PasteMapping().with_column("X", "reading"), "which element or measurand is this"),  # noqa: E501
        ("Sample\tPart\tFe\nA\t1\t2.5\n", PasteMapping().with_column("Part", "reading", "Cu", "cps"), "cannot be converted"),  # noqa: E501
        ("Sample\tElement\tResult\nA\tViscosity\t60\n", PasteMapping(), "at which temperature"),
    ],
)  # fmt: skip
def test_other_problems(text: str, mapping: PasteMapping, words: str) -> None:
    assert any(words in p.reason for p in paste(text, mapping).problems), paste(text, mapping).problems


def test_a_mean_alone_is_taken_and_said() -> None:
    result = paste("Sample\tFe Mean\tFe SD\nA\t1.5\t0.1\n")
    assert values(result) == {("A", "Fe", 1): (1.5, "")}
    assert any("is a mean: it is taken as one reading" in n for n in result.notices)
    both = paste("Sample\tFe\tFe Mean\nA\t1.5\t1.6\n")
    assert [x.reason for x in both.left_out] == ["mean of the Fe columns"]


def test_two_dead_ends_of_facts() -> None:
    result = paste("Sample\tSampling date\tFe\nA\t02/30/2026\t1.5\n")
    assert result.facts[0].taken_at is None
    assert any("not taken over" in n for n in result.notices)


def test_a_long_table_with_errors_and_summaries_in_it() -> None:
    result = paste("Sample\tElement\tResult\nA\tFe\t1.5\nA\tFe SD\t0.1\nMean\tFe\t1.5\nCheck 50 ppm\tFe\t49.5\nB\t\t\n")
    assert values(result) == {("A", "Fe", 1): (1.5, "")}
    assert [(x.row, x.reason) for x in result.left_out] == [
        (3, "error row"),
        (4, "summary row"),
        (5, "check standard row"),
        (6, "no readings in this row"),
    ]
    assert [(c.measurand, c.value, c.expected) for c in result.check_runs] == [("Fe", 49.5, 50.0)]


def test_a_replicate_of_one_alone_needs_no_word() -> None:
    result = paste("Sample\tFe\nENG #1\t1.5\n")
    assert set(values(result)) == {("ENG", "Fe", 1)}
    assert not any("replicate" in n for n in result.notices)
