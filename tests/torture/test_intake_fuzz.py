"""Fuzzed pastes and workbooks: no exception escapes but a BenchProblem, nothing is taken that is not in the table."""

from __future__ import annotations

import io
import json
import math
import random
from pathlib import Path

import openpyxl
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchapp.intake.mapping import PasteMapping
from benchapp.intake.paste import PasteResult, interpret
from benchapp.intake.read import read_text
from benchapp.intake.table import RawTable
from benchapp.intake.workbook import SHEETS, read_workbook
from benchapp.problems import BenchProblem

HEADS = [
    "Sample",
    "Fe",
    "Cu",
    "Fe 238.2",
    "Iron (ppm)",
    "Pb %",
    "±",
    "Fe ±",
    "Rep",
    "Type",
    "Element",
    "Result",
    "Unit",
    "KV40",
    "TBN",
    "Date",
    "Hours",
    "Engine",
    "",
    "Operator",
    "Viscosity",
    "ppm",
    "Mean",
    "ID",
    "Fe #1",
    "Fe #2",
    "Water, ppm",
]
CELLS = [
    "",
    "A",
    "B",
    "A #1",
    "12.4",
    "12,4",
    "1.234",
    "1,234",
    "<1",
    "ND",
    "OVR",
    "- - -",
    "Mean",
    "CK",
    "Blank",
    "00123",
    "171E2",
    "3/2",
    "ppm",
    "%",
    "mg/L",
    "238.2",
    "n/a",
    "6.1 J",
    "12.4*",
    "=1+1",
    "-1",
    "1_0",
    "nan",
    "inf",
    "１２",
    "2026-03-04",
    "RD",
    "1",
    "2",
    "9e999",
    "1" * 30,
    "\x00",
    "\ufeff",
    "A\nB",
    "Fe",
    "Cu",
    "1e-400",
]
cell = st.one_of(st.sampled_from(CELLS), st.sampled_from(HEADS), st.text(max_size=6))
tables = st.lists(st.lists(cell, max_size=7), max_size=9)
kinds = st.text("tndbxfe", min_size=7, max_size=7)


def check(result: PasteResult, table: RawTable) -> None:
    seen = set()
    for t in result.taken:
        assert table.cell(t.row, t.column).strip(), "a reading comes from a filled cell"
        assert t.value is None or (math.isfinite(t.value) and t.value >= 0)
        assert t.value is not None or t.qualifier
        assert t.sample.strip()
        assert t.replicate >= 1
        key = (t.sample, t.measurand, t.replicate)
        assert key not in seen, "one reading a sample, measurand and replicate"
        seen.add(key)
    for p in result.problems:
        assert p.reason
        assert p.row >= table.first_row
    json.dumps(result.to_json(committed=False))
    assert PasteMapping.from_json(result.mapping.to_json()) == result.mapping
    assert len(result.cell_roles) == len(table.rows) * table.width


@settings(max_examples=200, deadline=None)
@given(
    tables,
    st.sampled_from(["", ".", ","]),
    st.one_of(st.none(), kinds),
    st.sampled_from(["", "wide", "transposed", "long"]),
)
def test_any_table(rows: list[list[str]], decimal: str, letters: str | None, shape: str) -> None:
    table = RawTable(
        tuple(map(tuple, rows)),
        first_row=3,
        first_column=2,
        kinds=tuple(letters[: len(r)] for r in rows) if letters else (),
    )
    check(interpret(table, PasteMapping(shape=shape), decimal or None), table)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.sampled_from(HEADS), min_size=1, max_size=7), tables)
def test_any_body_under_a_likely_head(head: list[str], rows: list[list[str]]) -> None:
    table = RawTable((tuple(head), *map(tuple, rows)))
    first = interpret(table)
    check(first, table)
    check(interpret(table, first.mapping), table)


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=200))
def test_any_clipboard_text(text: str) -> None:
    try:
        table = read_text(text)
    except BenchProblem as problem:
        assert problem.do  # noqa: PT017 - a sentence or a table, both are right
        return
    check(interpret(table), table)


def test_ten_thousand_pastes() -> None:
    """Plain chance over the traits of real exports; a fixed seed, so that a failure can be repeated."""
    rng = random.Random(20260418)
    for _ in range(10_000):
        width = rng.randint(1, 5)
        rows = [tuple(rng.choice(HEADS) for _ in range(width))]
        rows += [
            tuple(rng.choice(CELLS) for _ in range(rng.randint(max(width - 1, 1), width)))
            for _ in range(rng.randint(1, 4))
        ]
        table = RawTable(tuple(rows))
        result = interpret(table)
        keys = [(t.sample, t.measurand, t.replicate) for t in result.taken]
        assert len(set(keys)) == len(keys), rows
        assert all(t.value is not None or t.qualifier for t in result.taken), rows
        assert all(p.reason for p in result.problems), rows


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 10**6))
def test_any_workbook(tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    book = openpyxl.Workbook()
    for spec in rng.sample(SHEETS, 4):
        sheet = book.create_sheet(spec.sheet)
        heads = [c.name for c in spec.columns] + rng.sample(["Fe", "Cu", "KV40", "Colour", "Fe", "Pb (mg/L)"], 2)
        rng.shuffle(heads)
        sheet.append(heads[: rng.randint(1, len(heads))])
        for _ in range(4):
            row = [
                rng.choice(
                    [None, 1, 12.5, True, -3, 1e300, "y", "race", "2026-03-04", *[c for c in CELLS if c.isprintable()]]
                )
                for _ in heads
            ]
            sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    path = tmp_path / "fuzz.xlsx"
    path.write_bytes(out.getvalue())
    found = read_workbook(path)
    for p in found.problems:
        assert p.sheet
        assert p.row >= 1
        assert p.reason
    for r in found.results:
        assert r.value is None or (math.isfinite(r.value) and r.value >= 0)
