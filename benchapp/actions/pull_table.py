"""Dyno pulls as people have them: typed or pasted cells with their units, turned into pulls, with a problem per cell.

Power in kW, hp or PS; air in °C or °F; pressure in kPa, hPa, mbar, inHg or mmHg (told by its size where no unit is
written: the ranges do not overlap); humidity in %. Factors are definitions: 1 hp = 550 ft·lbf/s, 1 PS = 75 kgf·m/s,
1 inHg = 3.386389 kPa, 1 mmHg = 0.133322 kPa."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from benchapp.intake import numbers
from benchapp.intake.table import RawTable
from benchapp.problems import BenchProblem
from benchapp.records import Pull

COLUMNS = ("pull", "hours", "power", "air", "pressure", "humidity")
TITLES = {
    "pull": "Pull", "hours": "Hours [h]", "power": "Power", "air": "Air", "pressure": "Pressure",
    "humidity": "Humidity [%]",
}  # fmt: skip
POWER_UNITS = {"kW": 1.0, "hp": 0.745699872, "PS": 0.73549875}
_POWER = {
    "kw": 1.0, "hp": POWER_UNITS["hp"], "bhp": POWER_UNITS["hp"], "whp": POWER_UNITS["hp"], "ps": POWER_UNITS["PS"],
    "cv": POWER_UNITS["PS"], "ch": POWER_UNITS["PS"], "pk": POWER_UNITS["PS"], "w": 1e-3,
}  # fmt: skip
_PRESSURE = {"kpa": 1.0, "hpa": 0.1, "mbar": 0.1, "mb": 0.1, "inhg": 3.386389, "mmhg": 0.133322387, "bar": 100.0}
_LIKELY_KPA = (50.0, 120.0)
_UNSAID_PRESSURE = (("kpa", 50, 120), ("hpa", 500, 1200), ("inhg", 15, 35))
_CELSIUS = ("c", "°c", "degc", "deg c", "º c", "ºc")
_FAHRENHEIT = ("f", "°f", "degf", "deg f", "ºf")

_NAMES: dict[str, tuple[str, ...]] = {
    "hours": ("build hours", "engine hours", "build h", "hours", "build_h", "hour", "time h"),
    "humidity": ("humidity", "rel humidity", "relative humidity", "rh", "hum", "humidity_pct"),
    "pressure": ("pressure", "baro", "barometer", "air pressure", "atm", "ambient pressure", "pressure_kpa"),
    "air": ("air", "air temp", "air temperature", "intake temp", "inlet temp", "inlet air", "temp", "temperature",
            "iat", "air_c"),
    "power": ("power", "measured power", "observed power", "peak power", "max power", "power_kw", "kw", "hp", "ps",
              "bhp"),
    "pull": ("pull", "run", "pull no", "run no", "pull number", "name", "no", "test", "#"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Arranged:
    """Cells in the order of COLUMNS, units of the heads behind them; columns left out, in words."""

    rows: tuple[tuple[str, ...], ...]
    left_out: tuple[str, ...]


def arrange(table: RawTable) -> Arranged:
    """Puts the columns of a pasted or read table in order. Without heads the order is that of COLUMNS."""
    rows = [tuple(cell.strip() for cell in row) for row in table.rows if any(cell.strip() for cell in row)]
    at, places, units, unknown = _head(rows)
    if places is None:
        cut = tuple(tuple((row + ("",) * len(COLUMNS))[: len(COLUMNS)]) for row in rows)
        wide = any(len(row) > len(COLUMNS) for row in rows)
        return Arranged(cut, (f"columns beyond the {len(COLUMNS)}th",) if wide else ())
    body = rows[at + 1 :]
    if body and _is_unit_row(body[0]):
        units = {name: units.get(name) or _cell(body[0], place) for name, place in places.items()}
        body = body[1:]
    made = tuple(
        tuple(_with_unit(_cell(row, places.get(name)), units.get(name, "")) for name in COLUMNS) for row in body
    )
    return Arranged(made, tuple(unknown))


def _head(
    rows: Sequence[tuple[str, ...]],
) -> tuple[int, dict[str, int] | None, dict[str, str], list[str]]:
    """Row of the heads, column -> place, column -> unit, heads that are not known; None where there are no heads."""
    for at, row in enumerate(rows[:10]):
        places: dict[str, int] = {}
        units: dict[str, str] = {}
        unknown: list[str] = []
        for place, cell in enumerate(row):
            name, unit = _column(cell)
            if name and name not in places:
                places[name], units[name] = place, unit
            elif cell:
                unknown.append(cell)
        if len(places) >= 2 and "power" in places:
            return at, places, units, unknown
    return 0, None, {}, []


def _column(cell: str) -> tuple[str, str]:
    """Column and unit of a head: "Power [hp]", "Baro (inHg)", "power_kw"."""
    match = re.fullmatch(r"(.*?)[\s_,]*[\[(]([^\])]*)[\])]\s*", cell)
    head, unit = (match[1], match[2]) if match else (cell, "")
    words = re.sub(r"[\s_.:/-]+", " ", head).strip().casefold()
    if not unit:
        parts = words.split(" ")
        if len(parts) > 1 and parts[-1] in {*_POWER, *_PRESSURE, "c", "f", "°c", "°f", "pct", "%", "h"}:
            unit, words = parts[-1], " ".join(parts[:-1])
        elif words in _POWER:
            unit = words
    for name, known in _NAMES.items():
        if words in known or words in {re.sub("_", " ", one) for one in known}:
            return name, unit
    return "", ""


def _is_unit_row(row: tuple[str, ...]) -> bool:
    known = {*_POWER, *_PRESSURE, *_CELSIUS, *_FAHRENHEIT, "%", "h", "rpm", "nm", "-", "#"}
    filled = [cell.strip("[]() ").casefold() for cell in row if cell]
    return bool(filled) and all(cell in known for cell in filled)


def _cell(row: Sequence[str], place: int | None) -> str:
    return row[place] if place is not None and place < len(row) else ""


def _with_unit(cell: str, unit: str) -> str:
    unit = unit.strip("[]() ")
    plain = bool(cell) and not re.search(r"[A-Za-z°%º]", cell)
    return f"{cell} {unit}" if plain and unit and unit.casefold() not in ("%", "h", "pct", "-") else cell


# --- one cell -------------------------------------------------------------------------------------------------------


class WrongCellError(ValueError):
    """What is wrong with a cell, in words."""


def _number(text: str) -> tuple[float | None, str]:
    """Value and unit of a cell; None for an empty one."""
    match = re.fullmatch(r"\s*([<>]?\s*[-+]?[\d.,\s]*\d)\s*([^\d\s].*)?", text)
    if match is None:
        if not text.strip():
            return None, ""
        found = numbers.parse_number(text)
        if found.missing:
            return None, ""
        raise WrongCellError(found.problem or f"“{text}” is not a number")
    if re.fullmatch(r"-\s*\d+(?:[.,]\d+)?", match[1]):
        return -(numbers.parse_number(match[1].lstrip("- ")).value or 0.0), (match[2] or "").strip()
    found = numbers.parse_number(match[1])
    if found.problem:
        raise WrongCellError(found.problem)
    if found.qualifier:
        raise WrongCellError("a pull needs a value, not a limit")
    return found.value, (match[2] or "").strip()


def _within(value: float, low: float, high: float, unit: str) -> float:
    if not low <= value <= high:
        raise WrongCellError(f"{value:.5g} {unit} cannot be right: {low:g} to {high:g} {unit} is possible")
    return value


def read_hours(text: str) -> float:
    """Build hours [h]. Raises WrongCellError."""
    value, unit = _number(text)
    if value is None:
        raise WrongCellError("the hours of the build are needed")
    if unit.casefold() not in ("", "h", "hr", "hrs", "hours"):
        raise WrongCellError(f"“{unit}” is not hours")
    return _within(value, 0.0, 10_000.0, "h")


def read_power(text: str, unsaid: str = "kW") -> float:
    """Power [kW]; `unsaid` is the unit of a bare number. Raises WrongCellError."""
    value, unit = _number(text)
    if value is None:
        raise WrongCellError("the power is needed")
    factor = _POWER.get((unit or unsaid).casefold())
    if factor is None:
        raise WrongCellError(f"“{unit}” is not a unit of power known here: kW, hp or PS")
    return _within(round(value * factor, 3), 1.0, 5_000.0, "kW")


def read_air(text: str) -> float | None:
    """Air temperature [°C]. Raises WrongCellError."""
    value, unit = _number(text)
    if value is None:
        return None
    name = unit.casefold()
    if name in _FAHRENHEIT:
        value = round((value - 32) / 1.8, 2)
    elif name not in ("", *_CELSIUS):
        raise WrongCellError(f"“{unit}” is not °C or °F")
    if not name and value > 60:
        raise WrongCellError(f"{value:g} °C is too hot for air: write {value:g} F if it is °F")
    return _within(value, -30.0, 60.0, "°C")


def read_pressure(text: str) -> float | None:
    """Air pressure [kPa]. Raises WrongCellError."""
    value, unit = _number(text)
    if value is None:
        return None
    name = re.sub(r"[\s.]", "", unit.casefold().replace('"', "in"))
    if not name:
        name = next((one for one, low, high in _UNSAID_PRESSURE if low <= value <= high), "")
        if not name:
            raise WrongCellError(f"{value:g} is no air pressure in kPa, hPa (mbar) or inHg")
    if name not in _PRESSURE:
        raise WrongCellError(f"“{unit}” is not a unit of pressure known here: kPa, hPa, mbar or inHg")
    return _within(round(value * _PRESSURE[name], 3), *_LIKELY_KPA, "kPa")


def read_humidity(text: str) -> float | None:
    """Relative humidity [%]. Raises WrongCellError."""
    value, unit = _number(text)
    if value is None:
        return None
    if unit not in ("", "%", "% RH", "%RH"):
        raise WrongCellError(f"“{unit}” is not %")
    return _within(value, 0.0, 100.0, "%")


def wrong(column: str, text: str, power_unit: str = "kW") -> str:
    """What is wrong with a cell of this column, or ''."""
    try:
        if column == "hours":
            read_hours(text)
        elif column == "power":
            read_power(text, power_unit)
        elif column != "pull":
            {"air": read_air, "pressure": read_pressure, "humidity": read_humidity}[column](text)
    except WrongCellError as problem:
        return str(problem)
    return ""


def pulls(rows: Sequence[Sequence[str]], power_unit: str = "kW", known: Sequence[Pull] = ()) -> tuple[Pull, ...]:
    """All rows as pulls, or none. A pull without a name takes its number.

    Raises BenchProblem that names the first cells that cannot be read, or a pull that is in the file already."""
    problems = problems_of(rows, power_unit)
    if not rows or problems:
        what = f"{len(problems)} cells of the pulls cannot be read." if problems else "There is no pull to take."
        if len(problems) == 1:
            what = "1 cell of the pulls cannot be read."
        raise BenchProblem(what, "No pull was taken.", " ".join(problems[:4]) or "Type or paste at least one pull.")
    taken = len(known)
    made = tuple(
        Pull(
            row[0].strip() or f"P{taken + number}", read_hours(row[1]), read_power(row[2], power_unit),
            read_air(row[3]), read_pressure(row[4]), read_humidity(row[5]),
        )
        for number, row in enumerate(rows, start=1)
    )  # fmt: skip
    there = {(pull.pull, pull.build_h) for pull in known}
    twice = [pull.pull for pull in made if (pull.pull, pull.build_h) in there]
    if twice:
        raise BenchProblem(
            f"Pull {twice[0]} at these hours is in the bench file already.",
            "No pull was taken.",
            "Take the row out, or give it another name.",
        )
    return made


def problems_of(rows: Sequence[Sequence[str]], power_unit: str = "kW") -> list[str]:
    """Every cell that cannot be read, with its row and column, in reading order."""
    found = []
    for number, row in enumerate(rows, start=1):
        for column, cell in zip(COLUMNS, row, strict=True):
            said = wrong(column, cell, power_unit)
            if said:
                found.append(f"Row {number}, {TITLES[column]}: {said}.")
    return found
