"""A series as the person reads it: lines stored in kPa or °C in the unit that was chosen for them."""

from __future__ import annotations

from dataclasses import replace

from benchapp.actions import series as data
from benchapp.records import Reading
from benchapp.window import units
from benchapp.window.units import Unit


def in_chosen_units(series: data.Series) -> data.Series:
    """The series with each line in its chosen unit; itself where there is no choice."""
    return replace(series, lines=tuple(_line(line, units.chosen(line.unit)) for line in series.lines))


def _line(line: data.Line, unit: Unit) -> data.Line:
    if unit.name == line.unit:
        return line
    columns = {
        name: tuple(_shown(value, unit) for value in getattr(line, name))
        for name in ("y", "low", "high", "band_low", "band_high", "ceiling")
    }
    reach = line.reach and replace(line.reach, y=_shown(line.reach.y, unit), text=units.in_words(line.reach.text))
    readings = tuple(_reading(one, line.unit, unit) for one in line.readings)
    return replace(line, unit=unit.name, readings=readings, reach=reach, **columns)


def _reading(one: Reading | None, stored: str, unit: Unit) -> Reading | None:
    if one is None or one.unit != stored:
        return one
    return replace(one, value=_shown(one.value, unit), unit=unit.name)


def _shown(value: float | None, unit: Unit) -> float | None:
    return None if value is None else units.shown(value, unit)
