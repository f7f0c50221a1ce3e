"""Text tables: clipboard, CSV, TSV, TXT. Finds the encoding and the separator; keeps every cell as it was written."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter

from benchapp.intake import limits
from benchapp.intake.table import RawTable
from benchapp.problems import BenchProblem

_SEPARATORS = ("\t", ";", "|", ",")
_WORDS = {"\t": "tab", ";": "semicolon", "|": "bar", ",": "comma"}
_SNIFF_LINES = 200
_GAPS = re.compile(r"(?<=\S)(?: {2,}|\s*\t\s*)(?=\S)")


def decode(data: bytes) -> tuple[str, str]:
    """Text of bytes and the name of the encoding found: a byte-order mark is believed, UTF-16 without a mark is known
    by its zero bytes, then UTF-8 if it is valid, else Windows-1252."""
    for mark, encoding in (
        (b"\xef\xbb\xbf", "utf-8-sig"),
        (b"\xff\xfe\x00\x00", "utf-32"),
        (b"\x00\x00\xfe\xff", "utf-32"),
        (b"\xff\xfe", "utf-16"),
        (b"\xfe\xff", "utf-16"),
    ):
        if data.startswith(mark):
            return _strict(data, encoding)
    head = data[:4000]
    if head:
        even, odd = head[0::2].count(0), head[1::2].count(0)
        if odd > len(head) // 5 and even * 4 < odd:
            return _strict(data, "utf-16-le")
        if even > len(head) // 5 and odd * 4 < even:
            return _strict(data, "utf-16-be")
    try:
        return data.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        pass
    try:
        return data.decode("cp1252"), "cp1252"
    except UnicodeDecodeError:
        return data.decode("latin-1"), "latin-1"


def _strict(data: bytes, encoding: str) -> tuple[str, str]:
    try:
        return data.decode(encoding), encoding
    except UnicodeDecodeError:
        raise BenchProblem(
            f"The text says it is {encoding.upper()}, but some of it is not.",
            limits.NOTHING_TAKEN,
            "Export it again, or open it in a spreadsheet, check it and copy it from there.",
        ) from None


def read_text(text: str, name: str = "") -> RawTable:
    """A text table as RawTable: clipboard (tabs, quoted line breaks) or comma, semicolon, bar, tab or column-aligned
    text.

    Raises BenchProblem for hostile sizes and for text that is not a table at all (binary, a web page)."""
    if len(text) > limits.FILE_BYTES:
        raise limits.too_big(name, len(text))
    if "\0" in text:
        raise BenchProblem(
            f"{name or 'The text'} holds zero bytes: it is not a text table.",
            limits.NOTHING_TAKEN,
            "Export it again as CSV or xlsx.",
        )
    start = text[:500].lstrip("\ufeff \r\n\t").lower()
    if start.startswith(("<!doctype", "<html", "<?xml", "<table")):
        raise BenchProblem(
            f"{name or 'The text'} is a web page or XML, not a table of text.",
            limits.NOTHING_TAKEN,
            "Open it in a spreadsheet and save it as xlsx, or copy the cells from there.",
        )
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    notes: list[str] = []
    separator, text = _declared_separator(text)
    if not separator:
        separator = _find_separator(text)
    rows = _split(text, separator, notes, name)
    while rows and not any(cell.strip() for cell in rows[-1]):
        rows.pop()
    limits.check_shape(name, len(rows), max(map(len, rows), default=0))
    limits.check_cells(name, rows, 1)
    if separator in _WORDS and name:
        notes.insert(0, f"Columns separated by {_WORDS[separator]}.")
    return RawTable(rows=tuple(rows), name=name, notes=tuple(notes))


def _declared_separator(text: str) -> tuple[str, str]:
    """A first line `sep=;`, which spreadsheets obey and do not count as a row."""
    line, _, rest = text.partition("\n")
    line = line.strip().strip('"').lower()
    if len(line) == 5 and line.startswith("sep=") and line[4] in _SEPARATORS:
        return line[4], rest
    if line == "sep=" and text[:8].lower().strip('"').startswith("sep=\t"):
        return "\t", rest
    return "", text


def _find_separator(text: str) -> str:
    """The separator that gives most lines one and the same width; '' for one column, ' ' for aligned columns."""
    lines = [line for line in text.split("\n", _SNIFF_LINES)[:_SNIFF_LINES] if line.strip()]
    if not lines:
        return ""
    best, best_score = "", 0.0
    for separator in _SEPARATORS:
        if separator not in text:
            continue
        try:
            widths = [len(row) for row in csv.reader(lines, delimiter=separator)]
        except csv.Error:
            widths = [line.count(separator) + 1 for line in lines]
        several = Counter(width for width in widths if width > 1)
        if not several:
            continue
        # a width close to the commonest counts half: ragged rows are common, stray separators in titles are not
        score = several.most_common(1)[0][1] + 0.5 * (sum(several.values()) - several.most_common(1)[0][1])
        if separator == "\t":
            score *= 2  # nobody writes a tab inside a cell
        if score > best_score:
            best, best_score = separator, score
    if best_score * 2 < len(lines):
        gaps = sum(1 for line in lines if _GAPS.search(line.strip()))
        if gaps * 2 > len(lines):
            return " "
    return best


def _split(text: str, separator: str, notes: list[str], name: str) -> list[tuple[str, ...]]:
    if separator == " ":
        notes.append("Columns found by the gaps between them: check that empty cells did not shift anything.")
        return _aligned(text)
    if not separator:
        return [(line,) for line in text.split("\n")]
    if '"' not in text:
        return _cut(text, separator)
    try:
        return list(map(tuple, csv.reader(io.StringIO(text), delimiter=separator, strict=True)))
    except csv.Error:
        # an inch mark or an unclosed quote must not swallow the rows behind it
        notes.append("Quotes are not closed somewhere: they were read as plain characters.")
        return _cut(text, separator)


def _cut(text: str, separator: str) -> list[tuple[str, ...]]:
    return [tuple(line.split(separator)) if line else () for line in text.split("\n")]


def _aligned(text: str) -> list[tuple[str, ...]]:
    """Columns that are only aligned by blanks: cut where a run of at least two blanks stands in every line, so that an
    empty cell does not shift the ones behind it."""
    lines = [line.expandtabs() for line in text.split("\n")]
    table = [line for line in lines if _GAPS.search(line.strip())]
    width = max((len(line) for line in table), default=0)
    used = bytearray(width)
    for line in table:
        for match in re.finditer(r"\S+(?: \S+)*", line):
            used[match.start() : match.end()] = b"\1" * (match.end() - match.start())
    spans = [match.span() for match in re.finditer(rb"\x01+(?:\x00\x01+)*", bytes(used))]
    rows: list[tuple[str, ...]] = []
    for line in lines:
        if not _GAPS.search(line.strip()):
            rows.append((line.strip(),) if line.strip() else ())
        else:
            rows.append(tuple(line[a:b].strip() for a, b in spans))
    return rows
