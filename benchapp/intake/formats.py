"""Number formats that make a spreadsheet show something else than it stores: 0.05 shown as 5 %, 123 shown as 00123.

Only formats that change the meaning count here; decimals, thousands and dates do not."""

from __future__ import annotations

import re

from benchapp.intake.table import PERCENT, SHOWN

_QUOTED = re.compile(r'"[^"]*"|\\.|\[[^\]]*\]|_.|\*.')
_ZEROS = re.compile(r"0{2,}")
_LITERAL = re.compile(r'"([^"]+)"|\\(.)')
_DATE = re.compile(r"[ymdhs]", re.IGNORECASE)
PERCENT_FORMATS = (9, 10)
"""Built-in formats 0% and 0.00% of ECMA-376 and of the older binary files."""


def meaning(code: str) -> str:
    """PERCENT, SHOWN (letters or digits around the number), 'z5' (zeros in front to five) or empty for a plain one."""
    first = code.split(";", 1)[0]
    bare = _QUOTED.sub("", first)
    if "%" in bare:
        return PERCENT
    if _DATE.search(bare.replace("General", "").replace("Standard", "")):
        return ""
    if _ZEROS.fullmatch(bare) and bare == first:
        return f"z{len(bare)}"
    literals = "".join(a or b for a, b in _LITERAL.findall(first))
    if any(c.isalnum() or c == "%" for c in literals):
        return SHOWN
    return SHOWN if _ZEROS.fullmatch(re.sub(r"[-/ ]", "", bare)) and re.search(r"[-/ ]", bare) else ""


def shown(value: float, kind: str) -> tuple[str, str]:
    """Text as the person sees it and its kind: 't' when padded with zeros, 'n' for a percentage, SHOWN otherwise."""
    if kind == PERCENT:
        return f"{value * 100.0:.12g} %", "n"
    if kind.startswith("z") and value >= 0 and float(value).is_integer():
        return str(int(value)).zfill(int(kind[1:])), "t"
    return (str(int(value)) if float(value).is_integer() and abs(value) < 1e15 else repr(value)), SHOWN
