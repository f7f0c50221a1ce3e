"""What a point, a line and an axis say in words."""

from __future__ import annotations

import datetime as dt
from typing import Any

from benchapp.actions import series as data
from benchapp.records import Instrument
from benchapp.window import marks

KIND_WORDS = {
    data.PPM: "ppm of each element",
    data.ELEMENT_RATE: "mg/h of each element",
    data.SOURCE_RATE: "mg/h of each source",
    data.OIL: "oil: viscosity, numbers, water, fuel",
    data.PRESSURE: "oil pressure at each speed",
}
ALL_WORDS = "All builds"
LONGEST_ON_AXIS = 24
"""Characters of a name that the y axis has room for."""


def number(value: float | None) -> str:
    """A number as read: three significant digits, '?' for unknown."""
    return "?" if value is None else f"{value:.3g}" if abs(value) < 1000 else f"{value:.0f}"


def ceiling_words(line: data.Line, ceiling: float) -> str:
    """What stands at the dashed line: 'ceiling Fe 22 ppm', for an oil quantity 'limit TBN 4 mg KOH/g'."""
    return f"{'limit' if line.kind == data.OIL else 'ceiling'} {line.name} {number(ceiling)} {line.unit}"


def value_words(line: data.Line, entry: int) -> str:
    """The value with its name, qualifier and unit; for a rate its interval and what was expected."""
    reading = line.readings[entry]
    if reading is not None:
        return f"{line.name} {_reading_words(reading)}"
    said = f"{line.name} {number(line.y[entry])} {line.unit}"
    if line.low[entry] is not None and line.high[entry] is not None:
        span = "90 % interval" if line.kind == data.SOURCE_RATE else "give or take one standard error"
        said += f", {span} {number(line.low[entry])} to {number(line.high[entry])}"
    if line.band_low[entry] is not None and line.band_high[entry] is not None:
        said += f"; expected {number(line.band_low[entry])} to {number(line.band_high[entry])}"
    return said


def _reading_words(reading: Any) -> str:
    if reading.value is None:
        return "not detected" if reading.qualifier == "<" else "no value"
    mark = f" (marked {reading.mark})" if reading.mark else ""
    again = f", replicate {reading.replicate}" if reading.replicate > 1 else ""
    return f"{reading.qualifier}{number(reading.value)} {reading.unit}{mark}{again}"


def point_words(line: data.Line, entry: int, instrument: Instrument | None, call: str = "", entered: str = "") -> str:
    """Everything that is known about one point, in two lines: the value and where it is from."""
    sample = line.samples[entry]
    oil = "" if sample.oil_h is None else f", {sample.oil_h:.1f} h on the oil"
    what = f"sample {sample.code}" if sample.code else line.kind
    where = f"{what} at {sample.build_h:.1f} h of build {line.builds[entry]}{oil}"
    with_what = sample.instrument or ("instrument" if sample.code else "gauge") + " not recorded"
    if instrument is not None and instrument.kind:
        with_what += f" ({instrument.kind})"
    taken = "" if sample.taken_at is None else f"taken {sample.taken_at:%Y-%m-%d %H:%M}"
    held = f"HELD: {sample.hold}" if sample.hold else ""
    left = line.reach.text if line.reach is not None and entry == _last(line) else ""
    first = [value_words(line, entry), left, f"call {marks.words(call)}" if call else "", held]
    second = [where, with_what, taken, entered]
    return "\n".join(" · ".join(part for part in row if part) for row in (first, second))


def entered_words(who: str, at: str) -> str:
    """Who entered a sample and when, in local time."""
    try:
        when = dt.datetime.fromisoformat(at)
    except ValueError:
        return f"entered by {who}, {at}"
    local = when.astimezone() if when.tzinfo else when
    return f"entered by {who}, {local:%Y-%m-%d %H:%M}"


def tag_words(line: data.Line, entry: int) -> str:
    """What stands beside the ringed point: value and sample."""
    sample = line.samples[entry]
    reading = line.readings[entry]
    value = f"{line.name} {_reading_words(reading)}" if reading else f"{line.name} {number(line.y[entry])} {line.unit}"
    return f"{value}\n{f'{sample.code}, ' if sample.code else ''}{sample.build_h:.1f} h"


def axis_words(series: data.Series) -> str:
    """Text of the y axis, its unit in it."""
    names = [line.name for line in series.lines]
    units = {line.unit for line in series.lines}
    if series.kind == data.OIL and len(units) != 1:
        return "Reading, each in its unit"
    unit = units.pop() if len(units) == 1 else data.UNITS[series.kind]
    if len(names) == 1 and len(names[0]) <= LONGEST_ON_AXIS:
        return f"{names[0]} [{unit}]"
    said = {data.PPM: "Reading", data.OIL: "Reading", data.PRESSURE: "Oil pressure"}.get(series.kind, "Wear rate")
    return f"{said} [{unit}]"


def hours_words(series: data.Series) -> str:
    """Text of the x axis."""
    return "Engine hours, all builds [h]" if series.build == data.ALL_BUILDS else f"Hours of build {series.build} [h]"


def title_words(series: data.Series) -> str:
    """What the plot shows, for the head of a picture."""
    build = "all builds" if series.build == data.ALL_BUILDS else f"build {series.build}"
    return f"{series.engine}, {build}: {KIND_WORDS[series.kind]}"


def short_words(line: data.Line) -> str:
    """A line in the list: its name and last value; the unit stands at the axis."""
    last = _last(line)
    unit = f" {line.unit}" if line.kind == data.OIL else ""
    return line.name if last is None else f"{line.name}, {_sign(line, last)}{number(line.y[last])}{unit}"


def line_words(line: data.Line) -> str:
    """A line in the legend of a picture: its name and last value with unit."""
    last = _last(line)
    if last is None:
        return f"{line.name}, no value"
    return f"{line.name}, last {_sign(line, last)}{number(line.y[last])} {line.unit}"


def _last(line: data.Line) -> int | None:
    return next((i for i in reversed(range(len(line.y))) if line.y[i] is not None), None)


def _sign(line: data.Line, entry: int) -> str:
    return "<" if line.hollow[entry] else ""
