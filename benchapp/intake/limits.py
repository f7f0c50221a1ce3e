"""What may come in: sizes that no honest results table reaches. Everything is checked before it is read.

The figures are the house's own choice (see the trust rules): generous for a race team, small for a laptop."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from benchapp.problems import BenchProblem

FILE_BYTES = 10_000_000
ZIP_RATIO = 100
UNZIPPED_BYTES = 200_000_000
ROWS = 20_000
COLUMNS = 300
CELL_CHARACTERS = 4_096

NOTHING_TAKEN = "Nothing was taken over."


def too_big(name: str, size: int) -> BenchProblem:
    return BenchProblem(
        f"{name or 'The table'} is {size / 1e6:.0f} MB; at most {FILE_BYTES / 1e6:.0f} MB is read.",
        NOTHING_TAKEN,
        "Copy the rows you need into a new sheet and paste those.",
    )


def check_shape(name: str, rows: int, columns: int) -> None:
    """Refuse a table with too many rows or columns."""
    if rows > ROWS or columns > COLUMNS:
        raise BenchProblem(
            f"{name or 'The table'} reaches to row {rows}, column {columns}; "
            f"at most {ROWS:,} rows and {COLUMNS} columns are read.",
            NOTHING_TAKEN,
            "Delete empty or stray cells far from the data, or copy the part you need into a new sheet.",
        )


def check_cells(name: str, rows: Iterable[Sequence[str]], first_row: int) -> None:
    """Refuse a cell that is longer than any reading, code or note."""
    for number, row in enumerate(rows, first_row):
        if len("".join(row)) > CELL_CHARACTERS < len(max(row, key=len)):
            raise BenchProblem(
                f"{name or 'The table'} holds a cell with more than {CELL_CHARACTERS:,} characters in row {number}.",
                NOTHING_TAKEN,
                "Shorten that cell, or look for a missing closing quote before it.",
            )
