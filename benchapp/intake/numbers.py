"""One parser of numbers for typing, pasting and files.

A cell becomes a value with qualifier and mark, or "missing", or a problem in words; nothing is ever guessed. The
decimal sign is declared per source or found from the whole block of cells; where the block does not decide, the
answer is a problem, because `1,234` is 1.234 in one office and 1234 in the next."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple


class Parsed(NamedTuple):
    """What one cell says. Exactly one of: a value or a bare qualifier; `missing`; a `problem` in words."""

    value: float | None = None
    qualifier: str = ""
    """'' (a value), '<' (below) or '>' (above)."""
    mark: str = ""
    """A mark behind the number (`*`, `J`)."""
    unit: str = ""
    """A unit written inside the cell, as it stands there."""
    missing: bool = False
    problem: str = ""
    ask_decimal: bool = False
    """The problem goes away once the decimal sign of the source is declared."""


MISSING = Parsed(missing=True)
LONGEST = 60
"""Characters; no reading with its qualifier, unit and mark is longer."""

_MISSING_WORDS = frozenset(
    ["", "n/a", "na", "n.a.", "n.a", "not measured", "not tested", "n.m.", "nm", "null", "n/t", "nt"]
)
_DASHES = re.compile(r"[-–—−_.\s]*[-–—−][-–—−\s]*")
_BELOW_WORDS = frozenset(
    [
        "nd",
        "n.d.",
        "n.d",
        "n/d",
        "bdl",
        "bld",
        "b.d.l.",
        "bql",
        "bloq",
        "blq",
        "lod",
        "loq",
        "mdl",
        "trace",
        "traces",
        "tr",
        "tr.",
        "below detection",
        "below detection limit",
        "below limit",
        "below lod",
        "below loq",
        "below limit of detection",
        "not detected",
        "non detect",
        "non-detect",
        "nondetect",
        "none detected",
        "undetected",
        "under limit",
        "below range",
    ]
)
_LIMIT_WORDS = frozenset(["lod", "loq", "mdl", "dl", "d.l.", "lld", "limit", "detection limit", "l.o.d.", "rl", "mql"])
_OVER_WORDS = frozenset(["ovr", "over", "overrange", "over range", "ovrflw", "overflow", "sat", "saturated", "high"])

_SPACES = str.maketrans(
    {"\u00a0": " ", "\u2007": " ", "\u202f": " ", "\u2009": " ", "\t": " ", "\n": " ", "−": "-", "＜": "<", "＞": ">"}
)
_HARD_SPACES = re.compile("(?<=[0-9])[\u00a0\u2007\u202f\u2009'’](?=[0-9]{3}(?![0-9]))")

# the number itself, then whatever stands behind it
_NUMBER = re.compile(
    r"([+-]?)([0-9][0-9., ]*[0-9]|[0-9]|[.,][0-9]+|[0-9][0-9., ]*[.,](?![0-9]))([eE][+-][0-9]{1,2})?(.*)", re.DOTALL
)
_MARK = re.compile(r"\s*(\*{1,3}|[†‡#^§~!])(.*)|(\s+)?([A-Z][+-]?|JB|BJ|NJ|JN|[a-d])")
_NOT_A_MARK = frozenset("UKMGT")  # 'U' may mean "not detected", the others multiply
_PLAIN = re.compile(r"[0-9]+")


class _Reading(NamedTuple):
    """How a digit string can be read: with '.', with ',' as decimal sign, and whether it needs no sign at all."""

    point: float | None
    comma: float | None


def _as_number(digits: str, decimal: str) -> float | None:
    """Value of a digit string under one decimal sign, groups of three allowed only with the other sign or a blank."""
    group = "," if decimal == "." else "."
    whole, sign, part = digits.partition(decimal)
    if decimal in part or (sign and part and not _PLAIN.fullmatch(part)):
        return None
    if group in whole or " " in whole:
        if group in whole and " " in whole:
            return None
        pieces = whole.split(group if group in whole else " ")
        if (
            not 1 <= len(pieces[0]) <= 3
            or any(len(p) != 3 for p in pieces[1:])
            or not all(map(_PLAIN.fullmatch, pieces))
        ):
            return None
        if pieces[0].startswith("0"):
            return None
        if len(pieces) == 2 and not sign and " " in whole:
            return None  # "1 234" without a decimal part may be two numbers
        whole = "".join(pieces)
    elif whole and not _PLAIN.fullmatch(whole):
        return None
    if not whole and not part:
        return None
    return float(f"{whole or '0'}.{part or '0'}")


def evidence(digits: str) -> str:
    """Which decimal sign a digit string proves: '.', ',', 'both' (it can be read either way) or '' (no sign, or no
    number)."""
    if "." not in digits and "," not in digits:
        return ""
    point, comma = _as_number(digits, "."), _as_number(digits, ",")
    if point is not None and comma is not None:
        return "" if point == comma else "both"
    if point is not None:
        return "."
    return "," if comma is not None else ""


_DIGITS_WITH_SIGN = re.compile(r"[0-9.,' \u00a0\u2007\u202f\u2009’]*[.,][0-9.,]*")
# cells that only a decimal point (comma) can explain, and cells that can be read both ways
_SURE_POINT = re.compile(
    r"(?<![0-9.,])(?:[0-9]*\.(?:[0-9]{1,2}|[0-9]{4,})|0[0-9]*\.[0-9]+|[0-9]{4,}\.[0-9]+|[0-9]{1,3}(?:,[0-9]{3})+\.[0-9]+)(?![0-9.,])"
)
_SURE_COMMA = re.compile(
    r"(?<![0-9.,])(?:[0-9]*,(?:[0-9]{1,2}|[0-9]{4,})|0[0-9]*,[0-9]+|[0-9]{4,},[0-9]+|[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+)(?![0-9.,])"
)


class Decimal(NamedTuple):
    """What a block of cells says about its decimal sign."""

    sign: str
    """'.' or ',' where the block decides (or needs none: '.'); '' where a person must say."""
    mixed: bool
    """Both signs are proved somewhere in the block: only cells that can be read one way are read."""


def find_decimal(cells: Iterable[str]) -> Decimal:
    """Decimal sign of a whole block. A sign is proved by cells that no thousands separator explains (`12.4`,
    `0.123`)."""
    joined = "\n".join(cells)
    has_point, has_comma = "." in joined, "," in joined
    if not has_point and not has_comma:
        return Decimal(".", mixed=False)
    if not has_comma:
        return Decimal("." if _SURE_POINT.search(joined) else "", mixed=False)
    if not has_point:
        return Decimal("," if _SURE_COMMA.search(joined) else "", mixed=False)
    points, commas = len(_SURE_POINT.findall(joined)), len(_SURE_COMMA.findall(joined))
    if points and not commas:
        return Decimal(".", mixed=False)
    if commas and not points:
        return Decimal(",", mixed=False)
    if points and commas:
        if points >= 10 * commas:
            return Decimal(".", mixed=True)
        if commas >= 10 * points:
            return Decimal(",", mixed=True)
    return Decimal("", mixed=bool(points and commas))


def parse_number(text: str, decimal: str = "", mixed: bool = False) -> Parsed:
    """What a cell says. `decimal` is '.' or ',' as declared or found for the source. With '' the cell stands on its
    own: `12.4` and `12,4` can be read one way only, for `1.234` it asks. `mixed`: the source has proved both signs,
    so that with '' every cell with a sign is asked for, and a cell that could be read two ways always is."""
    stripped = text.strip()
    if len(stripped) > LONGEST:
        return Parsed(problem=f"“{stripped[:20]}…” is too long to be a number")
    if "\u00a0" in stripped or "’" in stripped or "'" in stripped or "\u202f" in stripped or "\u2009" in stripped:
        stripped = _HARD_SPACES.sub("", stripped) if ("." in stripped or "," in stripped or decimal) else stripped
    cell = stripped.translate(_SPACES).strip()
    lower = cell.lower()
    if lower in _MISSING_WORDS or _DASHES.fullmatch(cell):
        return MISSING
    if lower in _BELOW_WORDS:
        return Parsed(qualifier="<")
    if lower in _OVER_WORDS:
        return Parsed(
            problem=f"“{cell}” is a word, not a number: the instrument was out of range. Dilute and repeat, or write > and its upper limit"  # noqa: E501
        )
    if cell.startswith(("=", "@")):
        return Parsed(problem="a formula is not computed here: paste its value")
    qualifier, rest = _qualifier(cell)
    if qualifier:
        if rest.lower().strip(" .()") in _LIMIT_WORDS or (not rest and qualifier == "<"):
            return Parsed(qualifier=qualifier) if qualifier == "<" else Parsed(problem=f"“{cell}” gives no number")
        if rest.endswith(")") and "(" not in rest:
            rest = rest[:-1]
    match = _NUMBER.fullmatch(rest)
    if match is None:
        return Parsed(problem=f"“{cell}” is not a number")
    sign, digits, exponent, behind = match.groups()
    value, problem, ask = _value(cell, digits, decimal, mixed)
    if problem:
        return Parsed(problem=problem, ask_decimal=ask)
    if exponent:
        value *= 10.0 ** int(exponent[1:])
        if not value < 1e12:
            return Parsed(problem=f"“{cell}” is too large to be a reading")
    mark, unit, problem = _behind(cell, behind)
    if problem:
        return Parsed(problem=problem)
    if sign == "-" and value != 0.0:
        return Parsed(problem=f"“{cell}” is negative: write ND if it was not detected")
    return Parsed(value=value, qualifier=qualifier, mark=mark, unit=unit)


_QUALIFIER = re.compile(
    r"(<=|=<|≤|<|>=|=>|≥|>|nd\b|n\.d\.|bdl\b|not detected\b)\s*[(<]?\s*<?\s*(.*)", re.IGNORECASE | re.DOTALL
)


def _qualifier(cell: str) -> tuple[str, str]:
    match = _QUALIFIER.fullmatch(cell)
    if match is None:
        return "", cell
    return (">" if ">" in match[1] or "≥" in match[1] else "<"), match[2].strip()


def _value(cell: str, digits: str, decimal: str, mixed: bool) -> tuple[float, str, bool]:
    """Value of the digits, or a problem and whether declaring the decimal sign would settle it."""
    if _PLAIN.fullmatch(digits):
        return float(digits), "", False
    proof = evidence(digits)
    asks = f"“{cell}”: is the comma or the point the decimal sign? Say it once for this source"
    if not decimal:
        if proof == "both" or (proof and mixed):
            return 0.0, asks, True
        value = _as_number(digits, proof or ".")
        return (value, "", False) if value is not None else (0.0, f"“{cell}” is not a number", False)
    value = _as_number(digits, decimal)
    other = "," if decimal == "." else "."
    if value is None:
        if proof == other:
            return 0.0, f"“{cell}” has “{other}” where this source writes “{decimal}” as decimal sign", False
        return 0.0, f"“{cell}” is not a number", False
    if proof == "both" and (mixed or other in digits):
        # 1.234 in a source with decimal commas: a thousand, or a number from elsewhere
        return 0.0, f"“{cell}” can be read two ways: write it without thousands separator", False
    return value, "", False


def _behind(cell: str, behind: str) -> tuple[str, str, str]:
    """Mark, unit and problem of what stands behind the number."""
    text = behind.strip()
    if text in ("", ")"):
        return "", "", ""
    match = _MARK.fullmatch(behind.rstrip())
    if match is not None and not (match[2] or "").strip():
        if match[1]:
            return match[1], "", ""
        letter = match[4]
        if letter == "E" and not match[3]:
            return "", "", f"“{cell}” is not a number"
        if letter == "U":
            return (
                "",
                "",
                f"“{cell}”: U may mean “not detected at this limit”. Write < before the number, or remove the U",
            )
        if letter[0] not in _NOT_A_MARK and letter != "C":
            return letter, "", ""
    star = re.fullmatch(r"\s*([a-zA-Zµμ%/°².³ ]+?[a-zA-Z%²³])\s*(\*{0,3})", behind)
    if star is not None and (behind[0] in " %µμ°" or len(text) > 2):
        from benchapp.intake.units import is_unit

        if is_unit(star[1]):
            return star[2], star[1].strip(), ""
    return "", "", f"“{cell}” is not a number: “{text}” behind it is not understood"
