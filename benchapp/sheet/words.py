"""Text from people and files, made safe to draw: one line, no hidden characters, no runaway length."""

from __future__ import annotations

import re
import unicodedata

MORE = "… more in the bench file"

LONGEST = 900
"""Characters of one text that can reach the page; nothing longer could be read there."""

MOST_COMBINING = 4
"""Combining marks on one letter that are kept: more is decoration that runs over the neighbours."""

_JOINERS = "\u200c\u200d"
"""Zero-width joiners: spelling in several scripts, harmless."""


def plain(text: object, longest: int = LONGEST) -> str:
    """Text as one line in which everything can be seen.

    Line ends and tabs become blanks; control characters, direction marks and other invisible characters are written
    out as their code (`\\u202e`), so that a name cannot pose as another one or turn the line round."""
    said = "" if text is None else str(text)
    clipped = len(said) > longest
    made: list[str] = []
    combining = 0
    for character in said[:longest]:
        kind = unicodedata.category(character)
        combining = combining + 1 if kind in ("Mn", "Me") else 0
        if combining > MOST_COMBINING:
            continue
        if character in "\t\n\r\v\f" or kind in ("Zl", "Zp", "Zs"):
            made.append(" ")
        elif kind in ("Cc", "Cf", "Cs", "Co") and character not in _JOINERS:
            made.append(f"\\u{ord(character):04x}")
        else:
            made.append(character)
    line = " ".join("".join(made).split())
    return f"{line} {MORE}" if clipped else line


_UNITS = "%|°C|ppm|mg|h|kPa|kW|rpm|L|mm|µm|cSt|mPa"
_TOGETHER = re.compile(rf"(?<=\d) (?=(?:{_UNITS})(?!\w))|(?<=±) (?=\d)|(?<=\d) (?=± \d)")


def kept_together(text: str) -> str:
    """The text with no line break between a number and its unit, within mg/h, or about a ±: 19 % reads as one piece."""
    return _TOGETHER.sub("\u00a0", text).replace("mg/h", "mg/\u2060h")


def number(value: float, digits: int = 3) -> str:
    """A number with so many significant digits, without an exponent where a person would not write one."""
    if value == 0:
        return "0"
    text = f"{value:.{digits}g}"
    return f"{float(text):,.0f}".replace(",", " ") if "e+" in text else text


def hours(value: float) -> str:
    """Running hours as written on the sheet: `4.0 h`."""
    return f"{value:.1f} h"


def moment(when: object) -> str:
    """A moment as written on the sheet: `2026-05-09 14:30`, or `not recorded`."""
    if when is None:
        return "not recorded"
    written = getattr(when, "strftime", None)
    return str(written("%Y-%m-%d %H:%M")) if written else plain(when)
