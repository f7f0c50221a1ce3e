"""What the reader of old xls files does not tell: formulas without a value, stored errors, macros, links, stray cells.

Walks the records of the workbook stream only; layout as published in Microsoft's [MS-XLS] and [MS-CFB] (record
numbers from memory, checked against files written by another library in the tests)."""

from __future__ import annotations

import struct
from collections.abc import Iterator

from benchapp.intake import formats, limits
from benchapp.intake.table import ERROR, FORMULA, PERCENT

OddCells = dict[str, dict[tuple[int, int], tuple[str, str]]]

_ERRORS = {0: "#NULL!", 7: "#DIV/0!", 15: "#VALUE!", 23: "#REF!", 29: "#NAME?", 36: "#NUM!", 42: "#N/A"}
_END = 0xFFFFFFF0
"""Sector numbers from here on are marks (end of chain, free), not sectors."""


class BiffError(Exception):
    """The file is damaged: a chain or record leads outside it."""


class HostileError(Exception):
    """The file holds what is refused; the text says what."""


def workbook_stream(data: bytes) -> bytes:
    """The stream named Workbook (or Book) of a compound file."""
    try:
        return _workbook_stream(data)
    except (struct.error, IndexError, KeyError, OverflowError, MemoryError):
        raise BiffError from None


def _workbook_stream(data: bytes) -> bytes:
    sector_shift, mini_shift = struct.unpack_from("<HH", data, 30)
    fat_count, directory = struct.unpack_from("<II", data, 44)[0], struct.unpack_from("<I", data, 48)[0]
    cutoff, mini_fat_start = struct.unpack_from("<I", data, 56)[0], struct.unpack_from("<I", data, 60)[0]
    difat_next = struct.unpack_from("<I", data, 68)[0]
    if sector_shift not in (9, 12) or mini_shift != 6:
        raise BiffError
    size = 1 << sector_shift
    sectors = len(data) // size

    def sector(number: int) -> bytes:
        if number >= sectors:
            raise BiffError
        return data[(number + 1) * size : (number + 2) * size]

    fat_sectors = list(struct.unpack_from("<109I", data, 76))
    seen = 0
    while difat_next < _END and seen <= sectors:
        block = struct.unpack(f"<{size // 4}I", sector(difat_next).ljust(size, b"\xff"))
        fat_sectors += block[:-1]
        difat_next, seen = block[-1], seen + 1
    fat: list[int] = []
    for number in [n for n in fat_sectors if n < _END][: max(fat_count, 0)]:
        fat += struct.unpack(f"<{size // 4}I", sector(number).ljust(size, b"\xff"))

    def chain(start: int) -> bytes:
        parts, number = [], start
        while number < _END:
            if len(parts) > sectors:
                raise BiffError
            parts.append(sector(number))
            number = fat[number]
        return b"".join(parts)

    entries = chain(directory)
    streams = {}
    root_start = root_size = 0
    for at in range(0, len(entries) - 127, 128):
        length = struct.unpack_from("<H", entries, at + 64)[0]
        name = entries[at : at + max(min(length, 64) - 2, 0)].decode("utf-16-le", "replace")
        kind = entries[at + 66]
        start, stream_size = (
            struct.unpack_from("<I", entries, at + 116)[0],
            struct.unpack_from("<I", entries, at + 120)[0],
        )
        if kind == 5:
            root_start, root_size = start, stream_size
        elif kind == 2:
            streams[name.lower()] = (start, stream_size)
    start, stream_size = streams.get("workbook") or streams["book"]
    if stream_size >= cutoff:
        return chain(start)[:stream_size]
    mini = chain(root_start)[:root_size]
    mini_fat_bytes = chain(mini_fat_start)
    mini_fat = struct.unpack(f"<{len(mini_fat_bytes) // 4}I", mini_fat_bytes)
    parts, number = [], start
    while number < _END:
        if len(parts) > len(mini_fat):
            raise BiffError
        parts.append(mini[number * 64 : number * 64 + 64])
        number = mini_fat[number]
    return b"".join(parts)[:stream_size]


def _records(stream: bytes, start: int) -> Iterator[tuple[int, int, int]]:
    """(record number, offset of its data, length) from a position to the end of that substream."""
    depth = 0
    while start + 4 <= len(stream):
        number, length = struct.unpack_from("<HH", stream, start)
        yield number, start + 4, length
        if number in (0x809, 0x409, 0x209, 0x009):
            depth += 1
        elif number == 0x0A:
            depth -= 1
            if depth <= 0:
                return
        start += 4 + length


def odd_cells(data: bytes, name: str) -> OddCells:
    """Formulas without a value and stored errors, by sheet and cell (from 1). Raises BiffError, HostileError,
    BenchProblem."""
    stream = workbook_stream(data)
    try:
        sheets, styles = _sheets(stream)
        found = {sheet: _odd_in_sheet(stream, at, f"{name}, sheet {sheet}", styles) for sheet, at in sheets}
        return {sheet: cells for sheet, cells in found.items() if cells}
    except (struct.error, IndexError, UnicodeDecodeError):
        raise BiffError from None


def _sheets(stream: bytes) -> tuple[list[tuple[str, int]], dict[int, str]]:
    """Sheets with their positions; style number -> meaning, only of styles that show something else than is stored."""
    sheets = []
    modern = True
    codes = dict.fromkeys(formats.PERCENT_FORMATS, PERCENT)
    used: list[int] = []
    for number, at, length in _records(stream, 0):
        if number == 0x809:
            modern = struct.unpack_from("<H", stream, at)[0] >= 0x600
        elif number == 0x2F:
            raise HostileError("locked")
        elif number == 0x1AE and length >= 4 and stream[at + 2 : at + 4] not in (b"\x01\x04", b"\x01\x3a"):
            raise HostileError("holds links to other files")
        elif number == 0xE0 and length >= 4:
            used.append(struct.unpack_from("<H", stream, at + 2)[0])
        elif number == 0x41E and length >= 5 and modern:
            identity, letters = struct.unpack_from("<HH", stream, at)
            wide = stream[at + 4] & 1
            text = stream[at + 5 : at + 5 + letters * (1 + wide)].decode("utf-16-le" if wide else "latin-1")
            codes[identity] = formats.meaning(text)
        elif number == 0x85:
            position, _, kind, letters = struct.unpack_from("<IBBB", stream, at)
            if kind in (1, 6):
                raise HostileError("holds macros")
            if modern and stream[at + 7] & 1:
                text = stream[at + 8 : at + 8 + 2 * letters].decode("utf-16-le")
            else:
                text = stream[at + 7 + modern : at + 7 + modern + letters].decode("cp1252", "replace")
            if kind == 0:
                sheets.append((text, position))
    return sheets, {number: codes[identity] for number, identity in enumerate(used) if codes.get(identity)}


_FILLED = frozenset([0x06, 0xFD, 0x203, 0x204, 0x205, 0x27E, 0xBD, 0xD6])
"""Records of filled cells: formula, shared string, number, label, bool/error, RK, multiple RK, rich string."""


def _odd_in_sheet(
    stream: bytes, start: int, where: str, styles: dict[int, str]
) -> dict[tuple[int, int], tuple[str, str]]:
    found: dict[tuple[int, int], tuple[str, str]] = {}
    waiting: tuple[int, int] | None = None
    last_row = last_column = 0
    for number, at, length in _records(stream, start):
        if waiting is not None:
            if number in (0x4BC, 0x221, 0x236):  # shared formula, array, table: the string comes behind them
                continue
            if number != 0x207:
                found[waiting] = (FORMULA, "formula")
            waiting = None
        if number not in _FILLED or length < 6:
            continue
        row, column = struct.unpack_from("<HH", stream, at)
        place = (row + 1, column + 1)
        last_row, last_column = max(last_row, place[0]), max(last_column, place[1])
        if number in (0x203, 0x27E, 0x06) and (style := styles.get(struct.unpack_from("<H", stream, at + 4)[0])):
            found[place] = (style, "")
        if number == 0xBD:
            last_column = max(last_column, struct.unpack_from("<H", stream, at + length - 2)[0] + 1)
            for k in range((length - 6) // 6):
                style = styles.get(struct.unpack_from("<H", stream, at + 4 + 6 * k)[0])
                if style:
                    found[(row + 1, column + 1 + k)] = (style, "")
        elif number == 0x205 and stream[at + 7] == 1:
            found[place] = (ERROR, _ERRORS.get(stream[at + 6], "#ERROR"))
        elif number == 0x06 and stream[at + 12 : at + 14] == b"\xff\xff":
            kind = stream[at + 6]
            if kind == 2:
                found[place] = (ERROR, _ERRORS.get(stream[at + 8], "#ERROR"))
            elif kind == 3:
                found[place] = (FORMULA, "formula")
            elif kind == 0:
                waiting = place
    limits.check_shape(where, last_row, last_column)
    return found
