"""What a spreadsheet file is before anything in it is believed: sizes, macros, links, entities, stray cells.

xlsx and ods are zip packages of XML. Every part is unpacked here once within the limits and packed anew without
compression, so that the reader behind sees exactly the bytes that were checked, whatever the zip's own headers
claim."""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from dataclasses import dataclass, field
from typing import Any

from benchapp.intake import biff, formats, limits
from benchapp.intake.table import ERROR, FORMULA, PERCENT
from benchapp.problems import BenchProblem

_MACRO_PARTS = re.compile(r"vbaproject|macrosheets|(^|/)basic/|(^|/)scripts/|activex", re.IGNORECASE)
_LINK_PARTS = re.compile(
    r"(^|/)externallinks/|(^|/)connections\.xml|(^|/)querytables/|oleobject|embeddings/", re.IGNORECASE
)
_XML_PART = re.compile(r"\.(xml|rels)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Package:
    """A checked spreadsheet: the bytes for the reader, and the cells it would report as empty though they are not."""

    kind: str
    """'xlsx', 'ods' or 'xls'."""
    data: bytes
    odd_cells: dict[str, dict[tuple[int, int], tuple[str, str]]] = field(default_factory=dict)
    """Sheet -> (row, column from 1) -> (kind, text to show); the text of a number shown as something else is made
    from its value."""


def damaged(name: str) -> BenchProblem:
    return BenchProblem(
        f"{name or 'The file'} is damaged or not a spreadsheet that is known here.",
        limits.NOTHING_TAKEN,
        "Open it in a spreadsheet, save it anew as xlsx, and try that file.",
    )


def refused(name: str, what: str) -> BenchProblem:
    return BenchProblem(
        f"{name or 'The file'} {what}.",
        f"{limits.NOTHING_TAKEN} Such files are not opened here.",
        "Copy the cells into a new spreadsheet and save that as xlsx, or paste them.",
    )


def check_zip(data: bytes, name: str) -> Package:
    """Check an xlsx or ods package. Raises BenchProblem for macros, external links, entities, bombs and damage."""
    try:
        parts = _unpack(data, name)
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        OSError,
        NotImplementedError,
        RuntimeError,
        ValueError,
        UnicodeError,
    ):
        raise damaged(name) from None
    for part in parts:
        if _MACRO_PARTS.search(part):
            raise refused(name, "holds macros")
        if _LINK_PARTS.search(part):
            raise refused(name, "holds links to other files")
    for part, content in parts.items():
        if _XML_PART.search(part):
            _check_xml(content, name)
    if b"macroEnabled" in parts.get("[Content_Types].xml", b""):
        raise refused(name, "holds macros")
    if "xl/workbook.xml" in parts:
        return Package("xlsx", _repack(parts), _odd_cells_xlsx(parts, name))
    if "content.xml" in parts and b"opendocument.spreadsheet" in parts.get(
        "mimetype", parts.get("META-INF/manifest.xml", b"")
    ):
        return Package("ods", _repack(parts), _odd_cells_ods(parts, name))
    if any(part.endswith("workbook.bin") for part in parts):
        raise refused(name, "is a binary workbook (xlsb)")
    if "xl/" in "".join(parts):
        raise damaged(name)
    raise damaged(name)


def check_ole(data: bytes, name: str) -> Package:
    """Check an xls file: macro storages are named in its directory, the rest stands in its records."""
    for word in ("_VBA_PROJECT", "Macros"):
        if word.encode("utf-16-le") in data:
            raise refused(name, "holds macros")
    if "EncryptedPackage".encode("utf-16-le") in data:
        raise locked(name)
    try:
        return Package("xls", data, biff.odd_cells(data, name))
    except biff.HostileError as found:
        raise (locked(name) if str(found) == "locked" else refused(name, str(found))) from None
    except biff.BiffError:
        raise damaged(name) from None


def locked(name: str) -> BenchProblem:
    return BenchProblem(
        f"{name or 'The file'} is locked with a password.",
        limits.NOTHING_TAKEN,
        "Save a copy without password, or copy the cells and paste them.",
    )


def _unpack(data: bytes, name: str) -> dict[str, bytes]:
    """All parts, each unpacked within the limits."""
    parts: dict[str, bytes] = {}
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        infos = archive.infolist()
        total = sum(info.file_size for info in infos)
        if total > limits.UNZIPPED_BYTES or total > limits.ZIP_RATIO * max(len(data), 1) or len(infos) > 5_000:
            raise refused(name, f"unpacks to {total / 1e6:,.0f} MB, far more than a results table needs")
        for info in infos:
            if info.flag_bits & 0x1:
                raise locked(name)
            if info.filename in parts:
                raise damaged(name)
            if info.is_dir():
                continue
            if _MACRO_PARTS.search(info.filename) or _LINK_PARTS.search(info.filename):
                parts[info.filename] = b""
                continue
            if info.file_size > 1_000_000 and info.file_size > limits.ZIP_RATIO * max(info.compress_size, 1):
                raise refused(name, f"unpacks to {info.file_size / 1e6:,.0f} MB, far more than a results table needs")
            parts[info.filename] = archive.read(info)
    return parts


def _repack(parts: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for part, content in parts.items():
            if not part.startswith(("xl/media/", "Pictures/", "Thumbnails/")):
                archive.writestr(zipfile.ZipInfo(part), content)
    return out.getvalue()


def _check_xml(content: bytes, name: str) -> None:
    """No document types or entities; only UTF-8, so that this check and the reader see the same text."""
    if content[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in content[:200]:
        raise refused(name, "holds XML in an unusual encoding")
    declared = re.match(rb"\s*<\?xml[^>]*encoding=[\"']([^\"']+)", content[:300].removeprefix(b"\xef\xbb\xbf"))
    if declared and declared[1].lower() not in (b"utf-8", b"us-ascii", b"ascii"):
        raise refused(name, "holds XML in an unusual encoding")
    if b"<!DOCTYPE" in content or b"<!ENTITY" in content:
        raise refused(name, "holds XML entities, which results tables never do")


def _parse(content: bytes, name: str) -> Any:
    from xml.etree.ElementTree import ParseError

    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    try:
        return fromstring(content, forbid_dtd=True)
    except (ParseError, DefusedXmlException, ValueError, RecursionError):
        raise damaged(name) from None


# --- xlsx ---

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_REL = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_CELL_REFERENCES = re.compile(rb'<(?:\w+:)?c [^>]*?r="([A-Z]{1,4})([0-9]{1,9})"')
_COLUMNS_USED = re.compile(rb' r="([A-Z]{1,4})[0-9]')
_ROWS_USED = re.compile(rb' r="(?:[A-Z]{1,4})?([0-9]{1,9})"')
_ODD = re.compile(rb'<(?:\w+:)?f[ >/]|t="e"')
_CELL = re.compile(r"([A-Z]{1,4})([0-9]{1,9})")


def column_number(letters: str) -> int:
    """Number of a column by its letters, from 1."""
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number


def _sheet_parts(parts: dict[str, bytes], name: str) -> dict[str, str]:
    """Sheet name -> part of an xlsx package."""
    targets = {}
    for relation in _parse(parts.get("xl/_rels/workbook.xml.rels", b"<r/>"), name):
        target = relation.get("Target", "")
        targets[relation.get("Id")] = target.removeprefix("/") if target.startswith("/") else f"xl/{target}"
    sheets = {}
    for sheet in _parse(parts["xl/workbook.xml"], name).iter():
        if sheet.tag.rpartition("}")[2] == "sheet":
            relation = next((v for k, v in sheet.attrib.items() if k.endswith("}id")), "")
            sheets[sheet.get("name", "")] = targets.get(relation, "")
    return sheets


def _odd_cells_xlsx(parts: dict[str, bytes], name: str) -> dict[str, dict[tuple[int, int], tuple[str, str]]]:
    """Formulas without a stored value, stored errors and numbers shown as something else, per sheet.

    Refuses cells far out of any table."""
    odd: dict[str, dict[tuple[int, int], tuple[str, str]]] = {}
    styles = _styles_xlsx(parts, name)
    for sheet, part in _sheet_parts(parts, name).items():
        content = parts.get(part, b"")
        if not content:
            continue
        columns = {column_number(c.decode()) for c in set(_COLUMNS_USED.findall(content))}
        rows = max(map(int, _ROWS_USED.findall(content)), default=0)
        limits.check_shape(f"{name}, sheet {sheet}", rows, max(columns, default=0))
        limits.check_shape(f"{name}, sheet {sheet}", content.count(b"<row"), 0)
        if _ODD.search(content) or any(f' s="{number}"'.encode() in content for number in styles):
            odd[sheet] = _odd_in_sheet(content, name, styles)
    return odd


def _odd_in_sheet(content: bytes, name: str, styles: dict[str, str]) -> dict[tuple[int, int], tuple[str, str]]:
    """Cells may leave out their place: then they follow the one before."""
    found: dict[tuple[int, int], tuple[str, str]] = {}
    row_number = 0
    for row in _parse(content, name).iter():
        if row.tag.rpartition("}")[2] != "row":
            continue
        text = row.get("r", "")
        row_number = int(text) if text.isascii() and text.isdigit() else row_number + 1
        column = 0
        for cell in row:
            place = _CELL.fullmatch(cell.get("r", ""))
            column = column_number(place[1]) if place else column + 1
            what = _odd_xlsx_cell(cell, styles)
            if what is not None:
                found[(row_number, column)] = what
    return found


def _odd_xlsx_cell(cell: Any, styles: dict[str, str]) -> tuple[str, str] | None:
    inner = {child.tag.rpartition("}")[2]: (child.text or "") for child in cell}
    kind = cell.get("t", "n")
    if kind == "e":
        return ERROR, inner.get("v", "") or "#ERROR"
    if "f" in inner and not inner.get("v") and "is" not in inner and kind != "str":
        return FORMULA, f"={inner['f']}"
    style = styles.get(cell.get("s", ""), "")
    return (style, "") if style and kind == "n" and inner.get("v") else None


def _styles_xlsx(parts: dict[str, bytes], name: str) -> dict[str, str]:
    """Style number -> meaning, only of styles that show something else than is stored (see `formats`)."""
    content = parts.get("xl/styles.xml", b"")
    if not content:
        return {}
    codes: dict[str, str] = {}
    styles: dict[str, str] = {}
    root = _parse(content, name)
    for element in root.iter():
        if element.tag.rpartition("}")[2] == "numFmt":
            codes[element.get("numFmtId", "")] = formats.meaning(element.get("formatCode", ""))
    for element in root:
        if element.tag.rpartition("}")[2] == "cellXfs":
            for number, style in enumerate(element):
                identity = style.get("numFmtId", "0")
                what = codes.get(identity) or (PERCENT if identity in ("9", "10") else "")
                if what:
                    styles[str(number)] = what
    return styles


# --- ods ---

_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_CALC = "{urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0}"
_CELL_TAGS = (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell")


def _repeat(element: Any, what: str) -> int:
    text = element.get(f"{_TABLE}number-{what}-repeated", "1")
    return min(int(text), 10_000_000) if text.isascii() and text.isdigit() else 1


def _odd_cells_ods(parts: dict[str, bytes], name: str) -> dict[str, dict[tuple[int, int], tuple[str, str]]]:
    """As for xlsx; repeated cells are counted, so that a short file cannot unfold to millions of cells."""
    content = parts["content.xml"]
    if b"table-source" in content or b"dde-source" in content or b"dde-link" in content:
        raise refused(name, "holds links to other files")
    odd: dict[str, dict[tuple[int, int], tuple[str, str]]] = {}
    for table in _parse(content, name).iter(f"{_TABLE}table"):
        sheet = table.get(f"{_TABLE}name", "")
        row_number, last_row, last_column = 0, 0, 0
        for row in table.iter(f"{_TABLE}table-row"):
            times = _repeat(row, "rows")
            column, filled = 0, 0
            for cell in row:
                if cell.tag not in _CELL_TAGS:
                    continue
                span = _repeat(cell, "columns")
                if len(cell) or cell.get(f"{_OFFICE}value-type") or cell.get(f"{_TABLE}formula"):
                    filled = column + span
                    what = _odd_ods_cell(cell)
                    if what and filled <= limits.COLUMNS and row_number < limits.ROWS:
                        for k in range(span):
                            odd.setdefault(sheet, {})[(row_number + 1, column + k + 1)] = what
                column += span
            if filled:
                last_row, last_column = row_number + times, max(last_column, filled)
            row_number += times
        limits.check_shape(f"{name}, sheet {sheet}", last_row, last_column)
    return odd


def _odd_ods_cell(cell: Any) -> tuple[str, str] | None:
    text = " ".join("".join(cell.itertext()).split())
    formula = cell.get(f"{_TABLE}formula", "")
    value_type = cell.get(f"{_OFFICE}value-type", "")
    if cell.get(f"{_CALC}value-type") == "error" or (formula and text.startswith(("#", "Err:"))):
        return (ERROR, text or "#ERROR")
    if formula and (not value_type or (value_type == "float" and not cell.get(f"{_OFFICE}value"))):
        return (FORMULA, formula)
    return (PERCENT, "") if value_type == "percentage" else None
