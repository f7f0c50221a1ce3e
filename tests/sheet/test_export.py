"""Exports: whole or not at all, and nothing in them that a spreadsheet would run."""

from __future__ import annotations

import csv
import datetime as dt
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from benchapp.benchfile.lock import lock_path
from benchapp.problems import BenchProblem
from benchapp.sheet import export

NASTY = ["=1+1", "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\t=1", "\r=1", " =1+1", "＝1+1"]


@pytest.mark.parametrize("text", NASTY)
def test_text_that_a_spreadsheet_would_run_gets_an_apostrophe(text):
    assert export.safe_text(text) == "'" + text


@pytest.mark.parametrize("text", ["Alder 3", "26-015", "a=b", "", "<1", "5W-40"])
def test_ordinary_text_is_left_alone(text):
    assert export.safe_text(text) == text


@given(st.text(max_size=30))
def test_no_cell_ever_begins_a_formula(text):
    rows = list(csv.reader(io.StringIO(export.table_csv(["a"], [[text]]), newline="")))
    shown = rows[1][0] if rows[1:] and rows[1] else ""
    assert not shown.lstrip(" \u00a0").startswith(tuple("=+-@\t\r\n＝＋－＠"))


def test_numbers_stay_numbers_and_moments_are_iso():
    text = export.table_csv(["h", "when", "flag", "none"], [[-1.5, dt.datetime(2026, 5, 9, 14, 30), True, None]])
    assert text == "h,when,flag,none\r\n-1.5,2026-05-09T14:30:00,y,\r\n"
    assert export.csv_cell(float("nan")) == ""


def test_csv_file_is_read_as_utf8_by_spreadsheets(tmp_path):
    path = export.write_csv(tmp_path / "t.csv", ["µ"], [["é"]])
    assert path.read_bytes() == "\ufeffµ\r\né\r\n".encode()


def test_xlsx_keeps_text_to_the_letter_as_text(tmp_path):
    path = export.write_xlsx(tmp_path / "t.xlsx", ["name", "value"], [[text, -1.5] for text in ["=1+1", "26-015"]])
    sheet = load_workbook(path).active
    assert [(c.value, c.data_type) for c in sheet["A"]] == [("name", "s"), ("=1+1", "s"), ("26-015", "s")]
    assert sheet["B2"].value == -1.5
    assert sheet["A2"].quotePrefix
    assert not sheet["A3"].quotePrefix


def test_an_unwritable_place_is_said(tmp_path):
    with pytest.raises(BenchProblem) as caught:
        export.write_csv(tmp_path / "nowhere" / "t.csv", ["a"], [])
    assert "could not be written" in caught.value.what
    assert "unchanged" in caught.value.means
    (tmp_path / "t.csv").mkdir()
    with pytest.raises(BenchProblem):
        export.write_csv(tmp_path / "t.csv", ["a"], [])
    assert [p.name for p in tmp_path.iterdir()] == ["t.csv"]


@pytest.mark.parametrize("name", ["season.bench", "Season.BENCH", "open elsewhere"])
def test_no_table_or_page_takes_the_place_of_a_bench_file(tmp_path, name):
    """Also one that has another ending and is open: its lock lies beside it."""
    target = tmp_path / name
    target.write_bytes(b"years of samples")
    if target.suffix == "":
        lock_path(target).write_bytes(b"")
    with pytest.raises(BenchProblem, match="is a bench file") as caught:
        export.write_xlsx(target, ["a"], [[1]])
    assert caught.value.means == "Nothing was written; the bench file is unchanged."
    assert target.read_bytes() == b"years of samples"
    assert not list(tmp_path.glob(".export-*"))
