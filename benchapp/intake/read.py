"""Reading tables: text, bytes or a file into a RawTable. What is hostile or damaged is refused before it is
believed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from benchapp.intake import limits
from benchapp.intake.table import RawTable
from benchapp.intake.text import decode, read_text
from benchapp.problems import BenchProblem

__all__ = ["RawTable", "read_bytes", "read_file", "read_text", "sheet_names"]

_ZIP = b"PK\x03\x04"
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def read_bytes(data: bytes, name: str = "", sheet: str | None = None) -> RawTable:
    """A table from bytes, told by their content, not by the name: a spreadsheet (xlsx, ods, xls) or text in any of the
    usual encodings. Raises BenchProblem."""
    if len(data) > limits.FILE_BYTES:
        raise limits.too_big(name, len(data))
    if data.startswith((_ZIP, _OLE)):
        from benchapp.intake import spreadsheet

        return spreadsheet.read_sheet(data, name, sheet)
    text, encoding = decode(data)
    table = read_text(text, name)
    if encoding in ("cp1252", "latin-1"):
        return replace(
            table, notes=(*table.notes, "Not UTF-8: read as Windows-1252. Check letters with accents and µ.")
        )
    return table


def read_file(path: str | Path, sheet: str | None = None) -> RawTable:
    """A table from a file (xlsx, xls, ods, csv, tsv, txt). Without `sheet` the first sheet that holds anything."""
    path = Path(path)
    return read_bytes(_bytes_of(path), path.name, sheet)


def sheet_names(path: str | Path) -> list[str]:
    """Names of the sheets of a spreadsheet; empty for a text table."""
    path = Path(path)
    data = _bytes_of(path)
    if not data.startswith((_ZIP, _OLE)):
        return []
    from benchapp.intake import spreadsheet

    return spreadsheet.names(data, path.name)


def _bytes_of(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if size > limits.FILE_BYTES:
            raise limits.too_big(path.name, size)
        return path.read_bytes()
    except OSError as error:
        raise BenchProblem(
            f"{path.name} could not be read ({error.strerror or error}).",
            limits.NOTHING_TAKEN,
            "Check that the file is there, is a file, and is not open elsewhere.",
        ) from None
