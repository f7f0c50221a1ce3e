"""Writes a whole-bench workbook: one sheet a kind, headers first, everything as it is, nothing that runs.

Text is always written as text, also where it begins like a formula (`= + - @`, tab, return): the cell says that it
holds text, so no spreadsheet computes it. The file gets its name only when it is whole.
"""

from __future__ import annotations

import contextlib
import io
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from benchapp.problems import BenchProblem
from benchapp.progress import NOBODY, Progress

Rows = Sequence[Sequence[Any]]

_STARTS_LIKE_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


def write_workbook(
    path: Path, sheets: Mapping[str, tuple[Sequence[str], Rows]], progress: Progress = NOBODY
) -> None:
    """Writes `sheets` (name -> columns, rows) as xlsx. None is a blank cell, a flag is y or n. Stopped: no file.

    Raises BenchProblem for another ending than .xlsx, or where nothing can be written."""
    from openpyxl import Workbook

    if path.suffix.lower() != ".xlsx":
        raise BenchProblem(
            f"{path.name} does not end in .xlsx.",
            "Nothing was written.",
            "Give the workbook a name that ends in .xlsx.",
        )
    book = Workbook(write_only=True)
    for name, (columns, rows) in sheets.items():
        page = book.create_sheet(name)
        page.freeze_panes = "A2"
        page.append([_cell(page, column) for column in columns])
        for number, row in enumerate(rows):
            if number % 256 == 0:
                progress.step(f"Writing sheet {name}", number / len(rows))
            page.append([_cell(page, value) for value in row])
    progress.step("Putting the workbook together")
    whole = io.BytesIO()
    book.save(whole)
    temporary = path.with_name(f".{path.name}.part-{os.getpid()}")
    try:
        temporary.write_bytes(whole.getvalue())
        temporary.replace(path)
    except OSError as error:
        raise BenchProblem(
            f"{path.name} could not be written ({error.strerror or type(error).__name__}).",
            "The bench file is untouched; no workbook was made.",
            "Close the workbook if it is open in a spreadsheet, check the folder and the disk's room, and try again.",
        ) from error
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink()


def _cell(page: Any, value: Any) -> Any:
    if isinstance(value, bool):
        return "y" if value else "n"
    if isinstance(value, float) and float(f"{value:.16g}") != value:
        return _exact(page, value)
    if not isinstance(value, str):
        return value
    if not value:
        return None
    if not value.startswith(_STARTS_LIKE_A_FORMULA):
        return value
    cell = _write_only(page)
    cell._value = value
    cell.data_type = "s"
    cell.quotePrefix = True
    return cell


def _write_only(page: Any) -> Any:
    from openpyxl.cell import WriteOnlyCell

    return WriteOnlyCell(page)


def _exact(page: Any, value: float) -> Any:
    """A number with all its digits: openpyxl would write 16, and a few need 17 to come back as they are."""
    cell = _write_only(page)
    cell._value = repr(value)
    cell.data_type = "n"
    return cell
