"""A document's content: made clean, written as text one way only, hashed; ids from names.

Two laptops that enter the same thing get the same id and the same hash.
"""

from __future__ import annotations

import hashlib
import json
import math
import re
import uuid
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from benchapp.benchfile.kinds import FLAG, KINDS, LINK, REAL, TEXT, WHOLE, Content, Kind
from benchapp.problems import BenchProblem

_SPACE = uuid.UUID("6b1f0c52-7a3e-5d0b-9a55-0d5b1c1e2a77")
"""Name space of ids made from names; any fixed value does."""

LONGEST_TEXT = 4_096
"""What a spreadsheet cell may hold here, so that everything can be unloaded and loaded again."""

_KEPT_WHOLE = ("mapping", "call")
"""JSON of our own: taken as it is."""


_CONTROLS = re.compile(r"[\x01-\x08\x0b-\x1f\x7f-\x9f\ufffe\uffff]")


def new_id() -> str:
    """Id of something that has no name of its own (an event)."""
    return str(uuid.uuid4())


def id_from(noun: str, *names: Any) -> str:
    """Id of something known by its names, e.g. `id_from('build', engine_id, '2')`.

    A name-based UUID (version 5), put together here: `uuid.uuid5` does the same in four times the time, and a large
    paste needs one for every sample."""
    name = _NAMES.encode([noun, *names]).encode("utf-8")
    made = bytearray(hashlib.sha1(_SPACE.bytes + name, usedforsecurity=False).digest()[:16])
    made[6] = made[6] & 0x0F | 0x50  # version 5
    made[8] = made[8] & 0x3F | 0x80  # variant of RFC 9562
    text = made.hex()
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"


_NAMES = json.JSONEncoder(ensure_ascii=False)
_CHAIN = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), allow_nan=False)
# clean content holds no circles; looking for them costs a quarter of the writing
_ENCODER = json.JSONEncoder(
    ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False, check_circular=False
)


def as_text(content: Content) -> str:
    """The one way a content is written: sorted keys, shortest numbers, no spaces."""
    return _ENCODER.encode(content)


def digest(text: str) -> str:
    """SHA-256 [hex] over text."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def chain(*parts: Any) -> str:
    """SHA-256 [hex] over a list of values, for versions and audit rows."""
    return digest(_CHAIN.encode(parts))


def _refused(noun: str, column: str, why: str) -> BenchProblem:
    return BenchProblem(
        f"{column.replace('_', ' ').capitalize()} of the {noun.replace('_', ' ')} {why}.",
        "Nothing was written.",
        "Correct the value and try again.",
    )


@lru_cache(maxsize=4096)
def _is_clean(text: str) -> bool:
    """True for text that is kept as it is. The same few words (elements, units, marks) come by the thousand."""
    return text.isprintable() and len(text) <= LONGEST_TEXT and text == text.strip()


@lru_cache(maxsize=256)
def _are_clean(texts: frozenset[str]) -> bool:
    """True where every text is kept as it is: asked once for the elements of an instrument, not once a sample."""
    return all(map(_is_clean, texts))


def _clean_text(noun: str, column: str, value: Any) -> str:
    text = "" if value is None else str(value)
    if text.isprintable() and len(text) <= LONGEST_TEXT:  # nearly always
        return text.strip()
    if "\x00" in text or any("\ud800" <= letter <= "\udfff" for letter in text):
        raise _refused(noun, column, "holds characters that cannot be kept")
    if column in _KEPT_WHOLE:
        return text
    text = _CONTROLS.sub(" ", text.replace("\r\n", "\n").replace("\r", "\n")).strip()
    if len(text) > LONGEST_TEXT:
        raise _refused(noun, column, f"is longer than {LONGEST_TEXT} characters")
    return text


def _clean_real(noun: str, column: str, value: Any) -> float | None:
    if value is None:
        return None
    if isinstance(value, (str, bytes, bool)):
        raise _refused(noun, column, f"is no number ({value!r})")
    try:
        number = float(value) + 0.0  # makes -0.0 a plain 0.0, as SQLite does
    except (TypeError, ValueError, OverflowError):
        raise _refused(noun, column, f"is no number ({value!r})") from None
    if not math.isfinite(number):
        raise _refused(noun, column, "is not a finite number")
    return number


def _clean(noun: str, column: str, type_: str, value: Any) -> Any:
    if type_ == TEXT:
        return _clean_text(noun, column, value)
    if type_ == REAL:
        return _clean_real(noun, column, value)
    if type_ in (FLAG, WHOLE):
        return None if value is None else int(value)
    assert type_ == LINK
    return None if value is None else str(value)


def clean(noun: str, content: Content) -> Content:
    """The content with every column present (those added later: where filled) and of its type.

    Raises BenchProblem for text in a number, NaN, infinity, over-long text or characters that cannot be kept; KeyError
    for a column the kind does not have (a bug)."""
    kind = KINDS[noun]
    known = {name for name, _ in kind.columns} | ({"rows"} if kind.row_table else set())
    if strange := set(content) - known:
        raise KeyError(f"{noun} has no {', '.join(sorted(strange))}")
    out: Content = {name: _clean(noun, name, type_, content.get(name)) for name, type_ in kind.columns}
    if kind.row_table:
        rows = content.get("rows", ())
        out["rows"] = list(rows) if _are_kept(kind, rows) else [_clean_row(kind, row) for row in rows]
    return kind.without_empty(out)


def _are_kept(kind: Kind, rows: Sequence[Sequence[Any]]) -> bool:
    """True for rows that cleaning would leave as they are, asked column by column: nearly always, and four times
    faster than value by value."""
    if not rows or set(map(len, rows)) != {len(kind.row_columns)}:
        return False
    return all(
        _is_kept_column(type_, column)
        for (_, type_), column in zip(kind.row_columns, zip(*rows, strict=True), strict=True)
    )


def _is_kept_column(type_: str, values: tuple[Any, ...]) -> bool:
    types = set(map(type, values))
    if type_ == TEXT:
        return types == {str} and _are_clean(frozenset(values))
    if type_ == REAL:  # a sum that is finite has no part that is not
        return types == {float} and 0.0 not in values and math.isfinite(sum(values))
    return types <= {int, type(None)}


def _clean_row(kind: Kind, row: Any) -> list[Any]:
    if len(row) != len(kind.row_columns):
        raise KeyError(f"a row of {kind.noun} has {len(kind.row_columns)} columns, not {len(row)}")
    return [
        value if _is_kept(type_, value) else _clean(kind.noun, name, type_, value)
        for (name, type_), value in zip(kind.row_columns, row, strict=True)
    ]


def _is_kept(type_: str, value: Any) -> bool:
    """True for a value that cleaning would leave as it is: nearly every one, and there may be a hundred thousand."""
    if type_ == TEXT:
        return type(value) is str and _is_clean(value)
    if type_ == REAL:
        return type(value) is float and value != 0.0 and math.isfinite(value)
    return value is None or type(value) is int
