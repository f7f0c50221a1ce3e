"""Dates of a results table: taken only where they can be read one way."""

from __future__ import annotations

import datetime as dt
import re

SLASHED = re.compile(r"([0-9]{1,2})[/-]([0-9]{1,2})[/-]([0-9]{4})")
_DOTTED = re.compile(r"([0-9]{1,2})\.([0-9]{1,2})\.([0-9]{4})")


def parse_moment(text: str, day_first: bool | None = None) -> dt.datetime | None:
    """A date with or without a time: ISO 8601, `25.03.2026`, or with slashes where day and month cannot be mistaken (or
    `day_first` says which). None when it cannot be read one way only."""
    text = text.strip()
    day, _, clock = text.partition("T") if "T" in text else text.partition(" ")
    match = _DOTTED.fullmatch(day) or SLASHED.fullmatch(day)
    if match:
        a, b, year = int(match[1]), int(match[2]), int(match[3])
        if "." not in day:
            if a > 12 or a == b:
                day_first = True
            elif b > 12:
                day_first = False
            if day_first is None:
                return None
            if not day_first:
                a, b = b, a
        day = f"{year:04d}-{b:02d}-{a:02d}"
    try:
        moment = dt.datetime.fromisoformat(f"{day} {clock.strip()}" if clock.strip() else day)
    except ValueError:
        return None
    return moment.replace(tzinfo=None)
