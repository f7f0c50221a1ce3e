"""Tables and workbooks: reading them, and getting them onto the disk."""

from __future__ import annotations

import io
import itertools
import random
import sqlite3
from pathlib import Path

import openpyxl
import pandas

from benchapp.actions import paste, workbook
from benchapp.actions.bench import Bench
from benchapp.intake.paste import interpret
from benchapp.intake.read import read_text
from benchapp.intake.workbook import read_workbook
from tests.benchmarks import fleets
from tests.benchmarks.measure import Row, cpu, ratio
from tests.simulated.workbook import write_workbook

ELEMENTS = (*fleets.ELEMENTS, "Cd", "Ba", "Sb", "Bi")


def export_text(rows: int = 1000) -> str:
    """An instrument's export: `rows` samples by 24 elements, tabs, one cell in twenty below the limit."""
    rng = random.Random(1)
    head = "\t".join(["Sample", *(f"{element} (ppm)" for element in ELEMENTS)])
    lines = [
        "\t".join([f"24-{k:04d}", *("<1" if rng.random() < 0.05 else f"{rng.random() * 90:.1f}" for _ in ELEMENTS)])
        for k in range(rows)
    ]
    return "\n".join([head, *lines])


def preview(times: int = 7) -> list[Row]:
    """Paste to preview: the list of typed readings and problems."""
    text = export_text()
    assert len(interpret(read_text(text)).taken) == 24_000

    def ours() -> float:
        return cpu(lambda: interpret(read_text(text)))

    remains = "each cell typed, checked and placed (number, limit, mark, unit, sample, row) as one record per reading"
    return [
        ratio(
            "paste 1,000 x 24 to preview", "pandas.read_csv, told the separator", ours,
            lambda: cpu(lambda: pandas.read_csv(io.StringIO(text), sep="\t")), 5.0, times, remains,
        ),
        ratio(
            "... the same", "pandas.read_csv that finds the separator itself", ours,
            lambda: cpu(lambda: pandas.read_csv(io.StringIO(text), sep=None, engine="python")), 5.0, times,
        ),
    ]  # fmt: skip


def confirm(folder: Path, times: int = 5) -> Row:
    """The same paste confirmed: 24,000 readings of 1,000 samples, on the disk."""
    result = interpret(read_text(export_text()))
    number = itertools.count()

    def ours() -> float:
        with Bench.create(folder / f"paste {next(number)}.bench", who="speed") as bench:
            bench.fleet()
            return cpu(lambda: paste.take(bench, result))

    samples = sorted({reading.sample for reading in result.taken})
    rows = [(r.sample, n, r.measurand, r.value, r.unit, r.qualifier or "", r.replicate, r.mark)
            for n, r in enumerate(result.taken)]  # fmt: skip

    def bare() -> float:
        path = folder / f"bare {next(number)}.bench"
        Bench.create(path, who="speed").close()
        connection = sqlite3.connect(path, isolation_level=None)
        connection.execute("PRAGMA journal_mode = DELETE")
        connection.execute("PRAGMA synchronous = EXTRA")
        connection.execute("PRAGMA foreign_keys = ON")
        seconds = cpu(lambda: _insert(connection, samples, rows))
        assert connection.execute("SELECT count(*) FROM readings").fetchone() == (24_000,)
        connection.close()
        return seconds

    return ratio(
        "confirm that paste, durable", "the same rows by executemany and commit, same pragmas", ours, bare, 2.0, times,
        "a version of each sample as JSON with its hash, the audit row and its chain; cells made clean",
    )  # fmt: skip


def _insert(connection: sqlite3.Connection, samples: list[str], rows: list[tuple]) -> None:
    connection.execute("BEGIN IMMEDIATE")
    connection.executemany(
        "INSERT INTO samples (id, origin, version, row_hash, code, break_in, fill, taken_at, drawn, instrument, hold) "
        "VALUES (?, '', '', '', ?, 0, '', '', '', '', '')",
        [(code, code) for code in samples],
    )
    connection.executemany("INSERT INTO readings VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)
    connection.execute("COMMIT")


def whole_workbook(folder: Path, samples: int = 3500, times: int = 2) -> list[Row]:
    """A whole-bench workbook of 3,500 samples: only read, and loaded to the durable commit."""
    book = folder / f"whole {samples}.xlsx"
    write_workbook(fleets.plain_fleet(samples // 50, 50), book)
    assert len(read_workbook(book).samples) == samples
    number = itertools.count()

    def load() -> float:
        with Bench.create(folder / f"load {next(number)}.bench", who="speed") as bench:
            bench.fleet()
            return cpu(lambda: workbook.load(bench, book))

    def openpyxl_alone() -> float:
        return cpu(lambda: _read_all(book))

    return [
        ratio(
            f"load a whole-bench workbook, {samples:,} samples", "openpyxl, read-only, reading the cells alone", load,
            openpyxl_alone, 1.0, times,
            "reading with calamine and typing the cells; then versions, hashes, audit and 10 tables in one commit",
        ),
        ratio(
            "... only read, typed and checked", "openpyxl, read-only, reading the cells alone",
            lambda: cpu(lambda: read_workbook(book)), openpyxl_alone, 1.0, times,
        ),
    ]  # fmt: skip


def _read_all(book: Path) -> int:
    opened = openpyxl.load_workbook(book, read_only=True)
    count = sum(1 for sheet in opened for row in sheet.iter_rows(values_only=True) for _ in row)
    opened.close()
    return count
