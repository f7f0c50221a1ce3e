"""Spreadsheets: xlsx, ods and xls through calamine, after `package` has checked them. Cells become text; formulas are
never evaluated; rows and columns keep the sheet's own numbers."""

from __future__ import annotations

import datetime as dt
import io
from typing import Any

from benchapp.intake import formats, limits
from benchapp.intake.package import Package, check_ole, check_zip, damaged, locked
from benchapp.intake.table import DATE, ERROR, FLAG, FORMULA, NUMBER, TEXT, RawTable
from benchapp.problems import BenchProblem

_ZIP = b"PK\x03\x04"


class Workbook:
    """An opened, checked spreadsheet."""

    def __init__(self, data: bytes, name: str) -> None:
        if len(data) > limits.FILE_BYTES:
            raise limits.too_big(name, len(data))
        self.name = name
        self.package: Package = check_zip(data, name) if data.startswith(_ZIP) else check_ole(data, name)
        self._book = _guarded(name, _open, self.package.data)

    @property
    def sheets(self) -> list[str]:
        return list(self._book.sheet_names)

    def values(self, sheet: str) -> list[list[Any]]:
        """Cells of a sheet as the file stores them, from A1 on: str, float, bool, dates and times; '' for empty."""
        where = f"{self.name}, sheet {sheet}"
        found = _guarded(self.name, self._book.get_sheet_by_name, sheet)
        limits.check_shape(where, found.total_height, found.total_width)
        rows: list[list[Any]] = _guarded(self.name, lambda: found.to_python(skip_empty_area=False))
        return rows

    def odd(self, sheet: str) -> dict[tuple[int, int], tuple[str, str]]:
        """Formulas without a value and stored errors: (row, column) -> (kind, text)."""
        return self.package.odd_cells.get(sheet, {})

    def table(self, sheet: str) -> RawTable:
        """One sheet as a raw table."""
        texts: list[list[str]] = []
        kinds: list[str] = []
        for row in self.values(sheet):
            texts.append([_text(v) for v in row])
            kinds.append("".join([_KIND.get(type(v), TEXT) for v in row]))
        for (row, column), (kind, text) in self.odd(sheet).items():
            if kind not in (FORMULA, ERROR) and not _is_number(kinds, row, column):
                continue
            while len(texts) < row:
                texts.append([])
                kinds.append("")
            line = texts[row - 1]
            line += [""] * (column - len(line))
            letters = kinds[row - 1].ljust(len(line), TEXT)
            if kind not in (FORMULA, ERROR):
                text, kind = formats.shown(float(line[column - 1]), kind)
            line[column - 1] = text
            kinds[row - 1] = letters[: column - 1] + kind + letters[column:]
        while texts and not any(texts[-1]):
            texts.pop()
            kinds.pop()
        limits.check_cells(f"{self.name}, sheet {sheet}", texts, 1)
        notes = (f"Sheet “{sheet}” of {len(self.sheets)}.",) if len(self.sheets) > 1 else ()
        return RawTable(tuple(map(tuple, texts)), 1, 1, self.name, notes, tuple(kinds))


def _is_number(kinds: list[str], row: int, column: int) -> bool:
    return row <= len(kinds) and kinds[row - 1][column - 1 : column] == NUMBER


def read_sheet(data: bytes, name: str, sheet: str | None = None) -> RawTable:
    """One sheet of a spreadsheet; without `sheet` the first that holds anything."""
    book = Workbook(data, name)
    if sheet is not None:
        if sheet not in book.sheets:
            raise BenchProblem(
                f"{name or 'The file'} has no sheet “{sheet}”.",
                limits.NOTHING_TAKEN,
                f"Choose one of: {', '.join(book.sheets)}.",
            )
        return book.table(sheet)
    table = RawTable((), name=name)
    for candidate in book.sheets:
        table = book.table(candidate)
        if table.rows:
            return table
    return table


def names(data: bytes, name: str) -> list[str]:
    """Names of the sheets, in the workbook's order."""
    return Workbook(data, name).sheets


def _open(data: bytes) -> Any:
    from python_calamine import CalamineWorkbook

    return CalamineWorkbook.from_filelike(io.BytesIO(data))


def _guarded(name: str, job: Any, *args: Any) -> Any:
    """Run a reader call; whatever it raises about the file becomes a sentence."""
    from python_calamine import CalamineError, PasswordError

    try:
        return job(*args)
    except PasswordError:
        raise locked(name) from None
    except (CalamineError, OSError, ValueError, OverflowError):
        raise damaged(name) from None
    except BaseException as error:
        # the reader is compiled code; a panic inside it arrives as its own kind of BaseException
        if type(error).__name__ == "PanicException":
            raise damaged(name) from None
        raise


_KIND = {
    float: NUMBER,
    int: NUMBER,
    bool: FLAG,
    dt.date: DATE,
    dt.datetime: DATE,
    dt.time: DATE,
    dt.timedelta: DATE,
}


def _text(value: Any) -> str:
    """A stored value as text: whole numbers without .0, dates in ISO 8601."""
    if type(value) is str:
        return value
    if type(value) is float:
        return number_text(value)
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, dt.datetime):
        return value.isoformat(" ", "minutes" if not value.second and not value.microsecond else "seconds")
    if isinstance(value, (dt.date, dt.time)):
        return value.isoformat()
    if isinstance(value, dt.timedelta):
        return str(value)
    return str(value)


def number_text(value: float) -> str:
    """A stored number as a person writes it: 12.0 -> '12', no exponent as long as it can be avoided."""
    if value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    text = repr(value)
    return text if "e" not in text else f"{value:.15f}".rstrip("0").rstrip(".") if abs(value) < 1 else text
