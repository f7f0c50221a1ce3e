"""What the oil of a sample says, in sections of short lines: the panel shows them, a reader hears them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

STATE_WORDS = {"done": "over its limit", "watch": "near its limit", "fine": "fine", "unknown": "not judged"}
"""Each state of a line or of the oil as a person says it."""

NO_OIL = "No oil reading yet: type KV40, KV100, TBN, TAN, water, fuel, oxidation or soot, and the oil is judged here."
NO_FILL = "The oil of this sample is not known: pick the fill it was drawn from, and enter that oil (menu Bench)."
OWN_FRESH = "Against the fresh oil's own values. A limit made for heavy diesels is marked so and proves little here."
FILM_CAUTION = (
    "A steady load on a rigid, round, aligned bearing: it compares oils and states, and proves nothing safe. Plain "
    "oils answer the grade question; a multigrade thins under shear."
)


@dataclass(frozen=True, slots=True)
class OilText:
    """One line; `state` a key of STATE_WORDS or '', `quiet`: said under it."""

    text: str
    quiet: str = ""
    state: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    title: str
    lines: tuple[OilText, ...]


def sections(oil: Any) -> tuple[Section, ...]:
    """Everything of a `SampleOil`, the most urgent first; empty sections are left out."""
    verdict = oil.verdict
    found = (
        Section("Against its limits", tuple(_line(line) for line in verdict.lines)),
        Section("Fuel or shear", _fuel(verdict)),
        Section("Hours left", _hours(oil.hours)),
        Section("Film of the bearings", tuple(_film(film) for film in oil.films)),
        Section("To know", tuple(OilText(_capital(note)) for note in (*verdict.notes, *_grade(verdict)))),
        Section("Not computed", tuple(OilText(why) for why in oil.refused)),
        Section("Not known", tuple(OilText(_capital(what)) for what in verdict.unknowns)),
    )
    return tuple(section for section in found if section.lines)


def _line(line: Any) -> OilText:
    text = line.text.rpartition(": ")[0]
    return OilText(_capital(text), f"{_capital(line.limit_text)} · {line.source}", line.state)


def _grade(verdict: Any) -> tuple[str, ...]:
    return (verdict.grade.text,) if verdict.grade is not None and verdict.grade.in_kv100 is False else ()


def _fuel(verdict: Any) -> tuple[OilText, ...]:
    fuel = verdict.fuel
    if fuel is None:
        return ()
    models = ", ".join(f"{name} {pct:.1f} %" for name, pct in fuel.by_model)
    return (OilText(fuel.text, f"At the reading itself: {models}"), *(OilText(other) for other in fuel.other))


def _hours(hours: Any) -> tuple[OilText, ...]:
    if hours.first is None:
        return (OilText(hours.text),)
    ahead = [line for line in hours.lines[1:] if math.isfinite(line.hours)]
    return (OilText(hours.text), *(OilText(_capital(line.text) + ".") for line in ahead))


def _film(film: Any) -> OilText:
    grade = film.grade.text if film.grade is not None else ""
    quiet = [grade, f"Load: {film.load_origin}", f"Clearance: {film.now.bearing.origin}"]
    lost = f" Lost against fresh: {', '.join(film.lost)}." if film.lost else ""
    state = "done" if not film.now.floats else "watch" if film.lost else ""
    return OilText(f"{_capital(film.words())}.{lost}", " · ".join(part for part in quiet if part), state)


def _capital(text: str) -> str:
    """The first letter large, but for what begins with a symbol or a unit of its own."""
    return text[:1].upper() + text[1:]
