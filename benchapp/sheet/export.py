"""Tables for other people's spreadsheets: CSV and xlsx in which no text is ever run as a formula."""

from __future__ import annotations

import csv
import io
import os
import tempfile
from collections.abc import Iterable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from benchapp.benchfile.lock import lock_path
from benchapp.problems import BenchProblem

_STARTS_A_FORMULA = "=+-@\t\r\n＝＋－＠"
"""First characters on which some spreadsheet takes a text for a formula; the wide forms too (CWE-1236)."""


def safe_text(text: str) -> str:
    """A text as it may stand in a CSV cell: one that a spreadsheet would run gets an apostrophe before it."""
    start = text.lstrip(" \u00a0")
    return f"'{text}" if start[:1] and start[0] in _STARTS_A_FORMULA else text


def csv_cell(value: Any) -> Any:
    """One value as written to CSV: numbers as they are, None empty, moments in ISO 8601, text made safe."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "y" if value else "n"
    if isinstance(value, int | float):
        return "" if value != value else value
    written = getattr(value, "isoformat", None)
    return written() if written else safe_text(str(value))


def table_csv(header: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """A table as CSV text (comma, CRLF, quoted where needed)."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([csv_cell(name) for name in header])
    writer.writerows([csv_cell(value) for value in row] for row in rows)
    return out.getvalue()


def write_csv(path: str | os.PathLike[str], header: Sequence[str], rows: Iterable[Sequence[Any]]) -> Path:
    """Writes a table as CSV (UTF-8 with its mark, which spreadsheets need). Raises BenchProblem."""
    return write_whole(path, table_csv(header, rows).encode("utf-8-sig"))


def write_xlsx(
    path: str | os.PathLike[str], header: Sequence[str], rows: Iterable[Sequence[Any]], sheet: str = "Table"
) -> Path:
    """Writes a table as xlsx; text stays exactly as it is, as a text cell that is never run. Raises BenchProblem."""
    from openpyxl import Workbook

    book = Workbook(write_only=False)
    page = book.active
    page.title = sheet[:31]
    for number, row in enumerate([header, *rows], start=1):
        for column, value in enumerate(row, start=1):
            _put(page.cell(number, column), value)
    out = io.BytesIO()
    book.save(out)
    return write_whole(path, out.getvalue())


def _put(cell: Any, value: Any) -> None:
    if isinstance(value, str):
        text = "".join(c for c in value if c in "\t\n\r" or ord(c) >= 32)
        cell.value = text
        cell.data_type = "s"
        if text[:1] and text[0] in _STARTS_A_FORMULA:
            cell.quotePrefix = True
        return
    if isinstance(value, bool):
        value = "y" if value else "n"
    cell.value = None if isinstance(value, float) and value != value else value


def write_whole(path: str | os.PathLike[str], data: bytes) -> Path:
    """Writes a file whole or not at all: into a temporary one beside it, then renamed; never over a bench file.

    Raises BenchProblem."""
    target = Path(path)
    if target.suffix.lower() == ".bench" or lock_path(target).exists():
        # by name and lock alone: whoever opens a live file to look at it lets go of its locks
        raise BenchProblem(
            f"{target.name} is a bench file: nothing else is written in its place.",
            "Nothing was written; the bench file is unchanged.",
            "Choose another name.",
        )
    name = ""
    try:
        handle, name = tempfile.mkstemp(prefix=".export-", dir=target.parent)
        with os.fdopen(handle, "wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        Path(name).replace(target)
    except OSError as error:
        raise BenchProblem(
            f"The file {target} could not be written ({error.strerror or error}).",
            "The bench file is unchanged; a file that was there before is still there.",
            "Choose a folder you may write to, with room on the disk, and close the file in other programs.",
        ) from error
    finally:
        if name:
            with suppress(OSError):
                Path(name).unlink(missing_ok=True)
    return target
