"""SAE J300 and ISO 3448: which grade is it, and is it still the grade it was sold as."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from benchapp.problems import BenchProblem

LIGHT_WINTER = ("0W", "5W", "10W")
"""Winter grades with the lower HTHS minimum of a 40."""


@dataclass(frozen=True, slots=True)
class HotGrade:
    """A hot grade. KV100 from `kv100_min` up to below `kv100_below` [mm²/s], HTHS from `hths_min` [mPa·s]."""

    grade: str
    kv100_min: float
    kv100_below: float
    hths_min: float
    hths_min_light_winter: float

    def hths_for(self, winter: str) -> float:
        """HTHS minimum [mPa·s] with this winter grade ('' for a straight oil)."""
        return self.hths_min_light_winter if winter in LIGHT_WINTER else self.hths_min


@dataclass(frozen=True, slots=True)
class WinterGrade:
    grade: str
    kv100_min: float
    ccs_max_mpas: float
    ccs_c: float
    mrv_max_mpas: float
    mrv_c: float


@dataclass(frozen=True, slots=True)
class Grades:
    """The J300 table and the ISO 3448 midpoints, with edition and source."""

    hot: tuple[HotGrade, ...]
    winter: tuple[WinterGrade, ...]
    edition: str
    source: str
    iso_grades: tuple[int, ...]
    iso_midpoints: tuple[float, ...]
    iso_tolerance: float


@dataclass(frozen=True, slots=True)
class GradeCheck:
    """Against its own grade. None where a value to judge by is missing."""

    grade: str
    in_kv100: bool | None
    in_hths: bool | None
    is_now: tuple[str, ...]
    """Hot grades whose KV100 range holds the reading; low grades overlap, so there can be two."""
    text: str


def grades_from(table: Mapping[str, Any]) -> Grades:
    """The `grades` resource as a dataclass."""
    j300, iso = table["j300"], table["iso3448"]
    return Grades(
        hot=tuple(
            HotGrade(
                row["grade"],
                row["kv100_min"],
                row["kv100_below"],
                row["hths_min"],
                row.get("hths_min_light_winter", row["hths_min"]),
            )
            for row in j300["hot"]
        ),
        winter=tuple(WinterGrade(**row) for row in j300["winter"]),
        edition=j300["edition"],
        source=j300["source"],
        iso_grades=tuple(iso["grades"]),
        iso_midpoints=tuple(float(v) for v in iso["midpoints"]),
        iso_tolerance=iso["tolerance"],
    )


def split_grade(text: str) -> tuple[str, str]:
    """'10W-40' -> ('10W', '40'); 'SAE 30' -> ('', '30'); '10W60' -> ('10W', '60').

    Raises BenchProblem where it is not an SAE engine-oil grade."""
    found = re.fullmatch(r"\s*(?:SAE\s*)?(?:(\d{1,2})\s*W)?\s*[-/ ]?\s*(\d{1,2})?\s*", text, re.IGNORECASE)
    if not found or not (found[1] or found[2]):
        raise BenchProblem(
            f'"{text}" is not an SAE engine-oil grade.',
            "The oil cannot be checked against its grade; everything else is.",
            "Write it as on the can, for example 10W-40, 0W-20 or SAE 30.",
        )
    return (f"{int(found[1])}W" if found[1] else "", found[2] or "")


def hot_grades(kv100: float, grades: Grades) -> tuple[str, ...]:
    """Hot grades whose range holds this KV100 [mm²/s], thinnest first; () where none does."""
    return tuple(g.grade for g in grades.hot if g.kv100_min <= kv100 < g.kv100_below)


def check_grade(text: str, kv100: float | None, hths: float | None, grades: Grades) -> GradeCheck:
    """An oil of grade `text` with KV100 [mm²/s] and HTHS [mPa·s], each None if not measured, against SAE J300.

    Raises BenchProblem for a grade J300 does not have."""
    winter, hot = split_grade(text)
    own = next((g for g in grades.hot if g.grade == hot), None)
    cold = next((g for g in grades.winter if g.grade == winter), None)
    if (hot and own is None) or (winter and cold is None):
        raise BenchProblem(
            f'SAE J300 has no grade "{text}" ({grades.edition}).',
            "The oil cannot be checked against its grade; everything else is.",
            f"Winter grades are {', '.join(g.grade for g in grades.winter)}, "
            f"hot grades {', '.join(g.grade for g in grades.hot)}.",
        )
    label = f"{winter}-{hot}" if winter and hot else hot or winter
    in_kv = None if kv100 is None else _in_kv100(kv100, own, cold)
    in_hths = None if hths is None or own is None else hths >= own.hths_for(winter)
    now = () if kv100 is None else hot_grades(kv100, grades)
    return GradeCheck(label, in_kv, in_hths, now, _grade_words(label, kv100, in_kv, in_hths, now, grades))


def iso_vg(kv40: float, grades: Grades) -> int | None:
    """ISO 3448 viscosity grade whose limits (midpoint ± 10 %) hold KV40 [mm²/s], or None between two grades."""
    for grade, middle in zip(grades.iso_grades, grades.iso_midpoints, strict=True):
        if abs(kv40 - middle) <= middle * grades.iso_tolerance * (1 + 1e-9):  # the limit itself belongs to the grade
            return grade
    return None


def _in_kv100(kv100: float, own: HotGrade | None, cold: WinterGrade | None) -> bool:
    """A winter grade asks for its own minimum too; without a hot grade that is all it asks."""
    if cold is not None and kv100 < cold.kv100_min:
        return False
    return own is None or own.kv100_min <= kv100 < own.kv100_below


def _grade_words(
    label: str, kv100: float | None, in_kv: bool | None, in_hths: bool | None, now: tuple[str, ...], grades: Grades
) -> str:
    edition = grades.edition
    if kv100 is None or in_kv is None:
        words = f"Grade {label} not checked: no viscosity at 100 °C"
    elif in_kv:
        words = f"Still in grade {label} at {kv100:.3g} mm²/s"
    else:
        is_now = f"now that of a {' or '.join(now)}" if now else "in no hot grade"
        words = f"Out of grade {label}: {kv100:.3g} mm²/s is {is_now}"
    if in_hths is False:
        words += "; high-shear viscosity below the grade's minimum"
    return f"{words} ({edition})."
