"""Which rows of an export are no samples: calibration, blanks, check standards, means and other summaries.

The words are common practice, no source. A label must match as a whole: `Check 50 ppm` is a check standard, `Checkered
flag` is a sample code. Whatever is recognised here is listed to the person, never dropped in silence."""

from __future__ import annotations

import re
from functools import lru_cache

SAMPLE = "sample"
REASONS = {
    "calibration": "calibration row",
    "blank": "blank row",
    "check": "check standard row",
    "summary": "summary row",
    "limits": "detection limit row",
}
"""Kind of row -> reason in the list of what was left out."""

_NUMBER = r"([ _\-#]*[0-9]+([.,][0-9]+)?)?( ?(ppm|mg/kg|mg/l))?"
_ORDER = r"([ _\-#]*[0-9]{1,3}|[ _\-]+[a-d])?"
_LABELS = (
    (
        "summary",
        re.compile(
            r"(mean|avg\.?|average|ave\.?|median|min(imum)?|max(imum)?|range|std\.? ?dev(iation)?\.?|stdev[ps]?|st\.? ?dev\.?|standard deviation|"  # noqa: E501
            r"s\.?d\.?|%? ?rsd ?%?|r\.?s\.?d\.?( ?%)?|rel\.? ?std\.? ?dev\.?|cv ?%?|% ?cv|total|totals|sum|grand total|count|n ?=|number of samples|variance)"  # noqa: E501
            r"( (of|for) .{1,40}| ?\(?n ?= ?[0-9]+\)?| ?%| ?\(?ppm\)?)?|(mean|avg\.?|average|totals?) ?[0-9]{1,3}|total [0-9]+ (samples|rows)"  # noqa: E501
        ),
    ),
    (
        "limits",
        re.compile(
            r"(lod|loq|mdl|lld|dl|detection limits?|limits? of detection|reporting limits?|limits?|quantification limits?|lower limit|upper limit)( ?\(?.{0,12}\)?)?"  # noqa: E501
        ),
    ),
    (
        "blank",
        re.compile(
            rf"(reagent |method |base[ -]?oil |oil |cal(ibration)? |instrument |solvent )?(blank|blk|blank oil|base oil|base oil blank|zero)( (oil|check|std|standard))?{_ORDER}( ?ppm)?"  # noqa: E501
        ),
    ),
    (
        "check",
        re.compile(
            rf"(ck|chk|check|checks|check[ _-]?(std|standard|sample|oil)|qc|qc[ _-]?(check|std|standard|sample|oil)|q\.c\.|control|control[ _-]?(sample|oil|std|standard)|ccv|icv|ccb|"  # noqa: E501
            rf"drift([ _-]?(check|monitor|std|standard|sample|correction))?|verification|verify|reference oil|ref(erence)? (std|standard)|crm|srm|monitor){_NUMBER}{_ORDER}"  # noqa: E501
        ),
    ),
    (
        "calibration",
        re.compile(
            rf"(cal|cals|calib|calib\.|calibration|calibrate|standardi[sz]ation|cal[ _-]?(std|standard|point|check)|std|stds|standard|standards|s\.t\.d\.|high std|low std|wear[ _-]?metal std){_NUMBER}{_ORDER}"  # noqa: E501
        ),
    ),
)
_KINDS = {
    "sample": [
        "rd",
        "read",
        "reading",
        "readings",
        "sample",
        "samples",
        "smp",
        "smpl",
        "unk",
        "unknown",
        "s",
        "u",
        "routine",
        "normal",
        "measurement",
        "meas",
        "run",
    ],
    "calibration": ["cl", "cal", "calib", "calibration", "std", "standard", "standardization", "standardisation", "c"],
    "check": ["ck", "chk", "check", "qc", "ccv", "icv", "control", "cs", "ctl", "drift", "check standard", "check std"],
    "blank": ["bl", "bk", "blk", "blank", "zero", "b"],
    "summary": ["avg", "mean", "average", "sd", "rsd", "%rsd", "std dev", "stdev", "summary", "total"],
}
_BY_WORD = {word: kind for kind, words in _KINDS.items() for word in words}
_SUFFIX = re.compile(
    r"(.+?)[ _\-:/]+\(?(mean|avg\.?|average|%? ?rsd ?%?|std\.? ?dev\.?|stdev|st\.? ?dev\.?)\)?", re.IGNORECASE
)
_WEAK_SUFFIX = re.compile(r"(.+?)[ _\-:/]+\(?(s\.?d\.?|min|max|range|median|total|sum|cv ?%?|ave)\)?", re.IGNORECASE)
_LETTER = re.compile(r"[^\W0-9_]")
_SUFFIX_WORD = re.compile(r"mean|avg|average|rsd|dev")
_EXPECTED = re.compile(r"([0-9]+(?:[.,][0-9]+)?) ?(?:ppm|mg/kg)", re.IGNORECASE)


@lru_cache(maxsize=8192)
def of_label(label: str) -> str:
    """Kind of row by its label alone: 'sample', 'calibration', 'blank', 'check', 'summary' or 'limits'."""
    text = " ".join(label.replace("\u00a0", " ").split()).lower().strip(" :.;*")
    if not text or len(text) > 80 or not _LETTER.search(text) or (text[0].isdigit() and not _SUFFIX_WORD.search(text)):
        return SAMPLE
    for kind, pattern in _LABELS:
        if pattern.fullmatch(text):
            return kind
    if _SUFFIX.fullmatch(text):
        return "summary"
    return SAMPLE


def stem_of_summary(label: str) -> str:
    """For `KN-07 SD`: `KN-07`. A summary only if a sample of that code is in the table; '' if there is no such
    suffix."""
    if len(label) > 80 or label[-1:].isdigit():
        return ""
    match = _WEAK_SUFFIX.fullmatch(" ".join(label.split()))
    return match[1] if match else ""


def of_code(text: str) -> str:
    """Kind of row by its code in a kind column (`RD`, `CK`, …), or '' when the code is not known."""
    return _BY_WORD.get(" ".join(text.split()).lower().strip(" .:"), "")


def expected_ppm(label: str) -> float | None:
    """The nominal value that a standard's label states (`Check 50 ppm`), or None [ppm]."""
    match = _EXPECTED.search(label)
    return float(match[1].replace(",", ".")) if match else None
