"""Sample codes: always text, exactly as on the bottle. What a spreadsheet may have changed is a problem or is said."""

from __future__ import annotations

import re
from typing import NamedTuple

from benchapp.intake.table import DATE, ERROR, FLAG, FORMULA, NUMBER, SHOWN, TYPED

_SCIENTIFIC = re.compile(r"[0-9](?:[.,][0-9]+)?[eE][+-]?[0-9]{1,3}")
_DATE_LIKE = re.compile(
    r"[0-9]{1,2}[-. ](?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*|(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[-. ][0-9]{2,4}",  # noqa: E501
    re.IGNORECASE,
)
_QUOTED_FORMULA = re.compile(r'="([^"]*)"')
_REPLICATE_SUFFIX = re.compile(r"(.*\S)[ _\-]*(?:#|[ _]rep(?:licate)?\.? ?|[ _]burn ?)([1-9][0-9]?)", re.IGNORECASE)

_WHOLE_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}|[0-9]{1,2}[./-][0-9]{1,2}[./-](?:[0-9]{2}|[0-9]{4})")
LONGEST = 100
"""Characters of a sample code."""
_TYPE_IT = "type the code as it is on the bottle"


class Code(NamedTuple):
    """A checked code: the code itself or a problem, and perhaps something to be said."""

    code: str = ""
    problem: str = ""
    notice: str = ""


def check(text: str, kind: str) -> Code:
    """The sample code of a cell by its text and by how the source stored it (see RawTable)."""
    if len(text) > LONGEST:
        return Code(problem=f"longer than {LONGEST} characters: this is no sample code")
    quoted = _QUOTED_FORMULA.fullmatch(text) if text[:1] == "=" else None
    if quoted and quoted[1].strip():
        return Code(quoted[1].strip())
    if kind == TYPED:
        return Code(text)
    if kind == DATE:
        return Code(problem=f"the spreadsheet turned this sample code into a date: {_TYPE_IT}")
    if kind == FORMULA:
        return Code(
            problem="a formula without a stored value: open the file in a spreadsheet, save it, and paste again"
        )
    if kind in (ERROR, FLAG):
        return Code(problem=f"this is not a sample code: {_TYPE_IT}")
    if kind == SHOWN:
        return Code(problem=f"the sheet shows the number {text} with letters or signs of its own: {_TYPE_IT}")
    if kind == NUMBER:
        if not text.isdigit() or len(text) > 15:
            return Code(problem=f"the spreadsheet turned this sample code into a number: {_TYPE_IT}")
        return Code(
            text,
            notice="Sample codes are stored as numbers in the sheet: zeros in front (00123) or an E (171E2) would be "
            "lost. Check them.",
        )
    if text[0] in "=@" or text.startswith(("+=", "-=")):
        return Code(problem=f"a formula is not computed here: {_TYPE_IT}")
    if ("+" in text or "." in text or "," in text) and _SCIENTIFIC.fullmatch(text):
        return Code(problem=f"a spreadsheet seems to have turned this sample code into a number: {_TYPE_IT}")
    between_digits = text[0].isdigit() and text[-1].isdigit()
    if not between_digits and _DATE_LIKE.fullmatch(text):
        return Code(problem=f"a spreadsheet seems to have turned this sample code into a date: {_TYPE_IT}")
    if between_digits and _WHOLE_DATE.fullmatch(text):
        return Code(text, notice=f"The sample code {text} looks like a date: check that no spreadsheet changed it.")
    return Code(text)


def replicate_suffix(text: str) -> tuple[str, int]:
    """Code and replicate number of `KN-07 #2`; number 0 where there is no such mark."""
    if "#" not in text and " " not in text and "_" not in text:
        return text, 0
    match = _REPLICATE_SUFFIX.fullmatch(text)
    return (match[1].strip(), int(match[2])) if match else (text, 0)
