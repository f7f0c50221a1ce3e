"""The whole-bench workbook of the contract, typed column by column."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from benchapp.intake.workbook import SHEETS, WorkbookTables, read_workbook
from benchapp.problems import BenchProblem


def load(tmp_path: Path, sheets: dict[str, list[list[Any]]]) -> WorkbookTables:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    path = tmp_path / "bench.xlsx"
    book.save(path)
    return read_workbook(path)


def problems(tables: WorkbookTables) -> list[tuple[str, int, str, str]]:
    return [(p.sheet, p.row, p.column, p.cell) for p in tables.problems]


def test_every_sheet_of_the_contract_is_known() -> None:
    assert [s.sheet for s in SHEETS[:16]] == [
        "Families",
        "Family parts",
        "Engines",
        "Builds",
        "Build parts",
        "Oils",
        "Fills",
        "Top-ups",
        "Runs",
        "Samples",
        "Results",
        "Pulls",
        "Leak-down",
        "Filter cuts",
        "Changes",
        "Check runs",
    ]
    columns = {s.sheet: [c.name for c in s.columns] for s in SHEETS}
    assert columns["Runs"][:10] == [
        "engine",
        "build",
        "started_at",
        "kind",
        "hours",
        "max_rpm",
        "oil_temp_c",
        "fuel",
        "coolant",
        "notes",
    ]
    assert columns["Samples"][:8] == ["sample", "engine", "build", "fill", "taken_at", "build_h", "oil_h", "drawn"]
    assert columns["Check runs"] == ["instrument", "run_at", "standard", "element", "expected_ppm", "found_ppm"]


def test_codes_dates_flags_and_numbers(tmp_path: Path) -> None:
    tables = load(
        tmp_path,
        {
            "Samples": [
                [
                    "sample",
                    "engine",
                    "build",
                    "fill",
                    "taken_at",
                    "build_h",
                    "oil_h",
                    "drawn",
                    "before_top_up",
                    "instrument",
                    "break_in",
                    "notes",
                ],
                [12.0, "E1", 1, 2, dt.datetime(2026, 3, 4, 14, 30), 12.5, None, "Hot", "y", "RDE 1", "n", "note"],
                ["00123", "E1", "1", "2", "2026-03-04T15:00", "12.5", 3, None, True, None, "N", None],
                [None] * 12,
            ]
        },
    )
    assert not tables.problems
    first, second = tables.samples
    assert dict(first.values) == {
        "sample": "12",
        "engine": "E1",
        "build": "1",
        "fill": "2",
        "taken_at": dt.datetime(2026, 3, 4, 14, 30),
        "build_h": 12.5,
        "oil_h": None,
        "drawn": "hot",
        "before_top_up": True,
        "instrument": "RDE 1",
        "break_in": False,
        "notes": "note",
        "hold": "",
    }
    assert (second["sample"], second["taken_at"], second["build_h"], second["drawn"], second["break_in"]) == (
        "00123",
        dt.datetime(2026, 3, 4, 15),
        12.5,
        "",
        False,
    )
    assert second.get("nothing", 5) == 5
    assert tables.counts == {"Samples": 2}


def test_bad_cells_are_problems_with_sheet_row_column_text_and_reason(tmp_path: Path) -> None:
    tables = load(
        tmp_path,
        {
            "Runs": [
                ["engine", "build", "started_at", "kind", "hours", "fuel"],
                ["E1", 1, "25/03/2026", "racing", "lots", "unleaded"],
                ["E1", 1, "2026-03-25", "race", -1, "diesel"],
                ["E1", None, "2026-03-25", "race", "=1+1", None],
                [1.5, dt.date(2026, 1, 1), "2026-03-25", "race", "1.234", None],
                ["E1", 1, 5, "race", 1, True],
            ],
            "Samples": [["sample", "before_top_up", "break_in"], ["A", "maybe", dt.date(2026, 1, 1)], ["A", "y", "n"]],
        },
    )
    assert problems(tables) == [
        ("Runs", 2, "started_at", "25/03/2026"),
        ("Runs", 2, "kind", "racing"),
        ("Runs", 2, "hours", "lots"),
        ("Runs", 3, "hours", "-1"),
        ("Runs", 3, "fuel", "diesel"),
        ("Runs", 4, "build", ""),
        ("Runs", 4, "hours", "=1+1"),
        ("Runs", 5, "engine", "1.5"),
        ("Runs", 5, "build", "2026-01-01"),
        ("Runs", 5, "hours", "1.234"),
        ("Runs", 6, "started_at", "5"),
        ("Runs", 6, "fuel", "TRUE"),
        ("Samples", 2, "before_top_up", "maybe"),
        ("Samples", 2, "break_in", "2026-01-01"),
        ("Samples", 3, "sample", "A"),
    ]
    assert all(p.reason for p in tables.problems)
    assert "must be one of" in tables.problems[1].reason
    assert "already in a row above" in tables.problems[-1].reason


def test_results(tmp_path: Path) -> None:
    tables = load(
        tmp_path,
        {
            "Results": [
                ["sample", "Fe", "Cu", "Water", "KV40", "TBN"],
                ["A", 12.4, "<1", 0.05, 60.5, "6.1 J"],
                [12.0, "ND", None, None, "OVR", -1],
                ["B", 1, 2, 3, 4, 5],
                ["B", 1, 2, 3, 4, 5],
                [None, 1, None, None, None, None],
            ]
        },
    )
    found = {(r.sample, r.measurand): (r.value, r.unit, r.qualifier, r.mark, r.row, r.column) for r in tables.results}
    assert found == {
        ("A", "Fe"): (12.4, "ppm", "", "", 2, 2),
        ("A", "Cu"): (1.0, "ppm", "<", "", 2, 3),
        ("A", "Water"): (0.05, "%", "", "", 2, 4),
        ("A", "KV40"): (60.5, "cSt", "", "", 2, 5),
        ("A", "TBN"): (6.1, "mg KOH/g", "", "J", 2, 6),
        ("12", "Fe"): (None, "ppm", "<", "", 3, 2),
    }
    assert problems(tables) == [
        ("Results", 6, "sample", ""),
        ("Results", 4, "sample", "B"),
        ("Results", 5, "sample", "B"),
        ("Results", 3, "KV40", "OVR"),
        ("Results", 3, "TBN", "-1"),
    ]


def test_results_with_replicates_and_units_in_the_head(tmp_path: Path) -> None:
    tables = load(
        tmp_path,
        {
            "Results": [
                ["sample", "replicate", "Fe (%)", "Pb (mg/L)"],
                ["A", 1, 0.001, 1],
                ["A", 2, 0.002, 1],
                ["A", "x", 1, 1],
            ]
        },
    )
    assert [(r.replicate, r.value) for r in tables.results] == [(1, 10.0), (2, 20.0)]
    assert problems(tables) == [("Results", 1, "Pb (mg/L)", "Pb (mg/L)"), ("Results", 4, "replicate", "x")]


def test_oils_with_element_columns(tmp_path: Path) -> None:
    tables = load(
        tmp_path,
        {
            "Oils": [
                ["oil", "kind", "kv40_cst", "tan", "Ca", "Zn"],
                ["R", "race", 60.5, 1.5, 2400, ">1"],
                ["S", "Break-in", None, None, None, 0],
            ]
        },
    )
    first, second = tables.oils
    assert (first["kv40_cst"], first["tan"], dict(first.elements)) == (60.5, 1.5, {"Ca": 2400.0})
    assert (second["kind"], dict(second.elements)) == ("break-in", {"Zn": 0.0})
    assert problems(tables) == [("Oils", 2, "Zn", ">1")]


def test_amounts_below_a_limit_in_oils_and_check_runs(tmp_path: Path) -> None:
    """A laboratory reports fresh oil and blanks like any sample: half the limit is taken, and nothing is lost."""
    tables = load(
        tmp_path,
        {
            "Oils": [["oil", "kind", "Ca", "Zn", "Pb"], ["R", "race", 2400, "<1", "ND"], ["S", "race", 2000, 900, 0]],
            "Check runs": [
                ["instrument", "run_at", "standard", "element", "expected_ppm", "found_ppm"],
                ["lab", "2031-01-05T08:00", "blank", "Fe", 0, "<0.3"],
                ["lab", "2031-01-05T08:00", "blank", "Cu", "<0.3", 0.1],
            ],
        },
    )
    first, second = tables.oils
    assert dict(first.elements) == {"Ca": 2400.0, "Zn": 0.5}
    assert dict(first.extra) == {"Zn": "<1", "Pb": "ND"}
    assert dict(second.extra) == {}
    assert tables.check_runs[0]["found_ppm"] == 0.15
    assert dict(tables.check_runs[0].extra) == {"found_ppm": "<0.3"}
    assert problems(tables) == [("Check runs", 3, "expected_ppm", "<0.3")], "what a standard holds is known"
    assert [told.count("half the limit") for told in tables.notices] == [1, 1], "once a sheet"


def test_unknown_columns_and_sheets_are_kept_and_told(tmp_path: Path) -> None:
    tables = load(
        tmp_path,
        {
            "Engines": [["engine", "family", "car", "notes", "Colour"], ["E1", "F", 7, "old", "red"]],
            "Leak-down": [["engine", "build", "build_h", "cylinder", "percent", "Gauge"], ["E1", 1, 2, 3, 4.5, "B"]],
            "Stock list": [["a", 1]],
            "results": [["sample", "Fe", "Wobble"], ["A", 1.5, "big"]],
        },
    )
    assert not tables.problems
    assert tables.engines[0]["notes"] == "old; Colour: red"
    assert tables.engines[0]["car"] == "7"
    assert dict(tables.leak_downs[0].extra) == {"Gauge": "B"}
    assert tables.leak_downs[0]["cylinder"] == "3"
    assert tables.unknown_sheets == {"Stock list": (("a", "1"),)}
    told = " ".join(tables.notices)
    assert "“Colour”" in told
    assert "“Gauge”" in told
    assert "“Stock list”" in told
    assert "row 2 (A): Wobble: big" in told


def test_missing_and_double_columns(tmp_path: Path) -> None:
    tables = load(
        tmp_path,
        {
            "Engines": [["engine", "notes"], ["E1", ""]],
            "Builds": [["engine", "build", "build"], ["E1", 1, 2]],
            "Oils": [["oil", None], ["R", "x"]],
        },
    )
    reasons = [(p.sheet, p.reason) for p in tables.problems]
    assert ("Engines", "the column “family” is missing") in reasons
    assert ("Builds", "a second column for build") in reasons
    assert ("Oils", "a column without a head: name it or empty it") in reasons
    assert tables.engines == ()


def test_our_own_extension_sheets(tmp_path: Path) -> None:
    tables = load(
        tmp_path,
        {
            "Family parts": [
                ["family", "part", "material", "role", "area_cm2", "thickness_um"],
                ["F", "main bearing", "x", "bearing", 120, 15],
            ],
            "Materials": [
                ["id", "name", "element", "nominal_pct", "min_pct", "max_pct", "source", "status"],
                ["x", "X", "Cu", 10, 9, 11, "s", "own"],
                ["x", "X", "Sn", None, 0, 1, "s", "own"],
            ],
            "Instruments": [
                ["instrument", "kind", "element", "a_ppm", "b", "limit_ppm"],
                ["RDE 1", "rotating-disc", "Fe", 0.2, 0.03, 0.5],
            ],
            "Findings": [
                ["engine", "build", "build_h", "part", "condition"],
                ["E1", 1, 12, "main bearing", "worn out"],
            ],
        },
    )
    assert not tables.problems
    assert tables.family_parts[0]["area_cm2"] == 120.0
    assert [m["element"] for m in tables.materials] == ["Cu", "Sn"]
    assert tables.instruments[0]["b"] == 0.03
    assert tables.findings[0]["condition"] == "worn out"


def test_numbers_shown_as_something_else(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    pulls, results = book.active, book.create_sheet("Results")
    pulls.title = "Pulls"
    pulls.append(["engine", "build", "pull", "build_h", "power_kw", "humidity_pct"])
    pulls.append([7, 1, 2, 3.5, 0.5, 0.45])
    results.append(["sample", "Water", "Fe"])
    results.append(["A", 0.0005, 12])
    pulls["A2"].number_format = "000"
    pulls["B2"].number_format = '"B"0'
    pulls["E2"].number_format = "0%"
    pulls["F2"].number_format = "0%"
    results["B2"].number_format = "0.00%"
    results["C2"].number_format = '0" ppm"'
    path = tmp_path / "bench.xlsx"
    book.save(path)
    tables = read_workbook(path)
    assert (tables.pulls[0]["engine"], tables.pulls[0]["humidity_pct"]) == ("007", 45.0)
    assert [(r.measurand, r.value) for r in tables.results] == [("Water", 0.05), ("Fe", 12.0)]
    assert problems(tables) == [("Pulls", 2, "build", "1"), ("Pulls", 2, "power_kw", "50 %")]
    assert "not what it stores" in tables.problems[0].reason


def test_what_is_no_bench_workbook(tmp_path: Path) -> None:
    with pytest.raises(BenchProblem, match="none of the sheets"):
        load(tmp_path, {"Sheet1": [["a"]]})
    (tmp_path / "x.csv").write_text("sample,Fe")
    with pytest.raises(BenchProblem, match="is not a spreadsheet"):
        read_workbook(tmp_path / "x.csv")
    with pytest.raises(BenchProblem, match="could not be read"):
        read_workbook(tmp_path / "none.xlsx")
