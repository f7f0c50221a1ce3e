"""Spreadsheets: true row numbers, stored kinds, formulas without a value. Files are written here by other libraries."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import xlwt
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

from benchapp.intake.formats import meaning
from benchapp.intake.paste import interpret
from benchapp.intake.read import read_bytes, read_file, sheet_names
from benchapp.intake.spreadsheet import number_text
from benchapp.problems import BenchProblem


def xlsx(path: Path, cells: dict[str, Any], title: str = "Results") -> Path:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = title
    for place, value in cells.items():
        sheet[place] = value
        if isinstance(value, str) and value.startswith("#"):
            sheet[place].data_type = "e"
    book.save(path)
    return path


def test_rows_and_columns_keep_their_numbers(tmp_path: Path) -> None:
    path = xlsx(tmp_path / "a.xlsx", {"C5": "Sample", "D5": "Fe", "C6": "A", "D6": 12.4, "C9": "B", "D9": "OVR"})
    table = read_file(path)
    assert (table.first_row, table.first_column) == (1, 1)
    assert table.cell(6, 4) == "12.4"
    result = interpret(table)
    assert [(t.row, t.column) for t in result.taken] == [(6, 4)]
    assert [(p.row, p.column_number) for p in result.problems] == [(9, 4)]


def test_what_the_sheet_did_to_codes_is_told(tmp_path: Path) -> None:
    path = xlsx(
        tmp_path / "a.xlsx",
        {
            "A1": "Sample",
            "B1": "Fe",
            "A2": 123,
            "B2": 1.5,
            "A3": dt.date(2026, 2, 3),
            "B3": 2,
            "A4": 12.5,
            "B4": 3,
            "A5": True,
            "B5": 4,
            "A6": "00123",
            "B6": 5,
        },
    )
    result = interpret(read_file(path))
    assert result.samples == ("123", "00123")
    assert [p.row for p in result.problems] == [3, 4, 5]


def test_formulas_without_a_value_and_errors_are_problems(tmp_path: Path) -> None:
    path = xlsx(
        tmp_path / "a.xlsx",
        {
            "A1": "Sample",
            "B1": "Fe",
            "C1": "Cu",
            "A2": "A",
            "B2": "=1+1",
            "C2": 1.5,
            "A3": "B",
            "B3": "#DIV/0!",
            "C3": dt.date(2026, 3, 2),
        },
    )
    result = interpret(read_file(path))
    assert [(p.row, p.column, p.cell) for p in result.problems] == [
        (2, "Fe", "=1+1"),
        (3, "Fe", "#DIV/0!"),
        (3, "Cu", "2026-03-02"),
    ]
    assert "without a stored value" in result.problems[0].reason
    assert "into a date" in result.problems[2].reason
    fixed = interpret(read_file(path).with_cell(2, 2, "2.0").with_cell(3, 2, "ND").with_cell(3, 3, "3.2"))
    assert not fixed.problems


def test_stored_numbers_do_not_join_the_decimal_question(tmp_path: Path) -> None:
    path = xlsx(tmp_path / "a.xlsx", {"A1": "Sample", "B1": "Fe", "C1": "Cu", "A2": "A", "B2": 1.234, "C2": "<1,5"})
    result = interpret(read_file(path))
    assert [(t.value, t.qualifier) for t in result.taken] == [(1.234, ""), (1.5, "<")]


def test_sheets_by_name_and_the_first_filled_one(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.title = "Empty"
    book.create_sheet("Two")["A1"] = "x"
    book.create_sheet("Three")["A1"] = "y"
    path = tmp_path / "a.xlsx"
    book.save(path)
    assert sheet_names(path) == ["Empty", "Two", "Three"]
    assert read_file(path).rows == (("x",),)
    assert read_file(path, sheet="Three").rows == (("y",),)
    with pytest.raises(BenchProblem, match="has no sheet") as caught:
        read_file(path, sheet="Four")
    assert "Two" in caught.value.do
    (tmp_path / "a.csv").write_text("a,b")
    assert sheet_names(tmp_path / "a.csv") == []


def test_xls(tmp_path: Path) -> None:
    book = xlwt.Workbook()
    sheet = book.add_sheet("S")
    for i, row in enumerate([("Sample", "Fe", "Cu"), ("00123", 12.4, "<1"), (12.0, 1.0, "ND")]):
        for j, value in enumerate(row):
            sheet.write(i + 2, j + 1, value)
    path = tmp_path / "a.xls"
    book.save(str(path))
    result = interpret(read_file(path))
    assert [(t.sample, t.measurand, t.value, t.row) for t in result.taken][:2] == [
        ("00123", "Fe", 12.4, 4),
        ("00123", "Cu", 1.0, 4),
    ]
    assert sheet_names(path) == ["S"]


def test_xls_formulas_and_errors_are_not_read_as_blank(tmp_path: Path) -> None:
    book = xlwt.Workbook()
    book.add_sheet("First").write(0, 0, "x")
    sheet = book.add_sheet("S")
    for j, value in enumerate(["Sample", "Fe", "Cu"]):
        sheet.write(0, j, value)
    sheet.write(1, 0, "A")
    sheet.write(1, 1, xlwt.Formula("1+1"))
    sheet.row(1).set_cell_error(2, 0x07)
    path = tmp_path / "a.xls"
    book.save(str(path))
    result = interpret(read_file(path, sheet="S"))
    assert [(p.row, p.column) for p in result.problems] == [(2, "Fe"), (2, "Cu")]


def ods(path: Path, rows: list[list[Any]], lead: int = 0) -> Path:
    document = OpenDocumentSpreadsheet()
    table = Table(name="S")
    if lead:
        line = TableRow(numberrowsrepeated=lead)
        line.addElement(TableCell(numbercolumnsrepeated=16384))
        table.addElement(line)
    for row in rows:
        line = TableRow()
        for value in row:
            if hasattr(value, "qname"):
                line.addElement(value)
                continue
            cell = (
                TableCell(valuetype="string") if isinstance(value, str) else TableCell(valuetype="float", value=value)
            )
            cell.addElement(P(text=str(value)))
            line.addElement(cell)
        table.addElement(line)
    tail = TableRow(numberrowsrepeated=1_000_000)
    tail.addElement(TableCell(numbercolumnsrepeated=16384))
    table.addElement(tail)
    document.spreadsheet.addElement(table)
    document.save(str(path))
    return path


def test_ods_with_repeated_empty_cells(tmp_path: Path) -> None:
    path = ods(
        tmp_path / "a.ods",
        [["Element", "T1", "T2"], ["Fe", 12.4, "<1"], ["Cu", TableCell(formula="of:=1+1"), 2.0]],
        lead=3,
    )
    result = interpret(read_file(path))
    assert [(t.sample, t.value, t.row, t.column) for t in result.taken] == [
        ("T1", 12.4, 5, 2),
        ("T2", 1.0, 5, 3),
        ("T2", 2.0, 6, 3),
    ]
    assert [(p.row, p.column_number, p.cell) for p in result.problems] == [(6, 2, "of:=1+1")]


def test_numbers_are_read_as_the_person_sees_them(tmp_path: Path) -> None:
    """0.0005 shown as 0.05 % is 0.05 %; 123 shown as 00123 is 00123; 17 shown as T-17 is asked for."""
    book = openpyxl.Workbook()
    sheet = book.active
    for row in [["Sample", "Water (%)", "Fe"], [123, 0.0005, 12.5], [17, 0.05, 1.5], [18, 0.06, 2.5]]:
        sheet.append(row)
    sheet["A2"].number_format = "00000"
    sheet["B2"].number_format = "0.00%"
    sheet["C2"].number_format = "#,##0.00"
    sheet["A3"].number_format = '"T-"0'
    sheet["C3"].number_format = '0.0" ppm"'
    path = tmp_path / "a.xlsx"
    book.save(path)
    result = interpret(read_file(path))
    assert {(t.sample, t.measurand): t.value for t in result.taken} == {
        ("00123", "Water"): 0.05,
        ("00123", "Fe"): 12.5,
        ("18", "Water"): 0.06,
        ("18", "Fe"): 2.5,
    }
    assert [(p.row, p.column) for p in result.problems] == [(3, "Sample")]
    assert "letters or signs of its own" in result.problems[0].reason
    fixed = interpret(read_file(path).with_cell(3, 1, "T-17"))
    assert {t.value for t in fixed.taken if t.sample == "T-17"} == {0.05, 1.5}


def test_percentages_in_ods(tmp_path: Path) -> None:
    share = TableCell(valuetype="percentage", value=0.0005)
    share.addElement(P(text="0.05%"))
    result = interpret(read_file(ods(tmp_path / "a.ods", [["Sample", "Water (%)"], ["A", share]])))
    assert [t.value for t in result.taken] == [0.05]


def test_percentages_and_padded_codes_in_xls(tmp_path: Path) -> None:
    book = xlwt.Workbook()
    sheet = book.add_sheet("S")
    for i, row in enumerate([("Sample", "Water (%)", "Fe"), (123, 0.0005, 3), (17, 0.05, 2)]):
        for j, value in enumerate(row):
            sheet.write(i, j, value)
    sheet2 = book.add_sheet("T")
    for j, value in enumerate(("Sample", "Water (%)")):
        sheet2.write(0, j, value)
    sheet2.write(1, 0, 123, xlwt.easyxf(num_format_str="00000"))
    sheet2.write(1, 1, 0.0005, xlwt.easyxf(num_format_str="0.00%"))
    sheet2.write(2, 0, 17, xlwt.easyxf(num_format_str='"T-"0'))
    sheet2.write(2, 1, 1.5)
    path = tmp_path / "a.xls"
    book.save(str(path))
    assert len(interpret(read_file(path, sheet="S")).taken) == 4
    result = interpret(read_file(path, sheet="T"))
    assert [(t.sample, t.value) for t in result.taken] == [("00123", 0.05)]
    assert [p.row for p in result.problems] == [3]


@pytest.mark.parametrize(
    ("code", "what"),
    [
        ("General", ""), ("0.00", ""), ("#,##0.0", ""), ("yyyy-mm-dd", ""), ("0%", "p"), ("0.0%;-0.0%", "p"), ("000", "z3"),  # noqa: E501
        ('"T-"0', "l"), ('0" ppm"', "l"), ('0.0"%"', "l"), ("000-000", "l"), ("[Red]0.0", ""), ("0.00E+00", ""), ("h:mm", ""),  # noqa: E501
    ],
)  # fmt: skip
def test_number_formats(code: str, what: str) -> None:
    assert meaning(code) == what


def test_cells_without_a_place_follow_the_one_before(tmp_path: Path) -> None:
    import zipfile

    path = xlsx(tmp_path / "a.xlsx", {"A1": "Sample", "B1": "Fe", "A2": "A", "B2": "=1+1"})
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    for place in ("A1", "B1", "A2", "B2"):
        part = "xl/worksheets/sheet1.xml"
        parts[part] = parts[part].replace(f' r="{place}"'.encode(), b"")
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    assert [(p.row, p.column_number) for p in interpret(read_file(path)).problems] == [(2, 2)]


def test_content_not_the_name_tells_the_kind(tmp_path: Path) -> None:
    data = xlsx(tmp_path / "a.xlsx", {"A1": "Sample"}).read_bytes()
    assert read_bytes(data, "a.csv").rows == (("Sample",),)
    assert read_bytes(b"Sample\tFe\nA\t1\n", "a.xls").rows[1] == ("A", "1")


def test_stored_numbers_as_text() -> None:
    assert [number_text(v) for v in (12.0, 12.4, 0.1, 1e-7, -3.0, 1e20)] == [
        "12",
        "12.4",
        "0.1",
        "0.0000001",
        "-3",
        "1e+20",
    ]
