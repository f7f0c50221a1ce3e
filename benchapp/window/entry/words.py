"""Numbers and lists as words for the entry screen: how a value is written, never what it is."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from html import escape

from benchapp.records import Reading


def number(value: float | None, digits: int = 3) -> str:
    """`value` with up to `digits` significant digits, without an exponent or idle zeros; '' for None."""
    if value is None:
        return ""
    text = f"{value:.{digits}g}"
    if "e" in text:
        text = f"{value:.0f}"
    return text


def clock(at: str) -> str:
    """A moment of the file (ISO 8601, UTC) by this computer's clock, to the minute; as it stands where it is none."""
    try:
        return dt.datetime.fromisoformat(at).astimezone().strftime("%Y-%m-%d %H:%M")
    except ValueError:
        return at


def reading(item: Reading | None) -> str:
    """A reading as it would be typed: `12.4`, `<1`, `ND`, `6.1*`."""
    if item is None:
        return ""
    if item.value is None:
        return "ND"
    return f"{item.qualifier}{exact(item.value)}{item.mark}"


def exact(value: float | None) -> str:
    """`value` so that reading it again gives the same number; '' for None."""
    if value is None:
        return ""
    return repr(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)


def counted(count: int, one: str, many: str = "") -> str:
    """`1 reading`, `3 readings`."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def hover(text: str) -> str:
    """A text for a hover note; words from a file never become markup there."""
    return f"<qt>{escape(text).replace(chr(10), '<br>')}</qt>" if "<" in text or "&" in text else text


def listed(items: Sequence[str], most: int = 4) -> str:
    """`a, b and c`; more than `most`: `a, b, c, d and 3 more`."""
    items = list(items)
    if len(items) > most:
        items = [*items[:most], f"{len(items) - most} more"]
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


def with_error(value: float | None, error: float | None) -> str:
    """`12.0 ± 1.5`: the value to the places that its error gives it; '' for None."""
    if value is None:
        return ""
    if error is None:
        return number(value)
    spread = number(error, 2)
    places = len(spread.partition(".")[2])
    return f"{round(value, places) + 0.0:.{places}f} ± {spread}"  # + 0.0: never "-0.0"


def checks_said(count: int, left: tuple[str, ...]) -> tuple[str, ...]:
    """What became of the check rows of a sheet: how many readings were taken, and why the first others were not."""
    taken = (f"{counted(count, 'check reading')} went to Bench checks.",) if count else ()
    more = (f"And {counted(len(left) - 2, 'more check row')} like these.",) if len(left) > 2 else ()
    return (*taken, *left[:2], *more)
