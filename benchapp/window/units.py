"""Units as the person reads and types them; the bench file holds °C, kPa, km and L whatever is chosen here.

Forms, log, trends, calls on the screen, tables exported from it and the printed pages of the day, of a break-in and of
a change follow the choice and say the unit; a call's printed page, which others read too, says the unit of the file and
the chosen one; the call as it is kept, the whole-bench workbook and the command line stay in the units of the file."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchapp.records import Call, Flip, Reason
from benchapp.window import settings

if TYPE_CHECKING:
    from benchapp.sheet.reason_plots import SmallPlot


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit beside the one that is stored: stored = shown × `times` + `plus`."""

    name: str
    times: float
    plus: float = 0.0
    decimals: int = 1
    """Decimals in words: no more than a gauge at the track tells."""


CHOICES: dict[str, tuple[str, tuple[Unit, ...]]] = {
    "temperature": ("&Temperature", (Unit("°C", 1.0), Unit("°F", 5.0 / 9.0, -160.0 / 9.0))),
    "pressure": ("&Pressure", (Unit("kPa", 1.0), Unit("psi", 6.894757), Unit("bar", 100.0, 0.0, 2))),
    "volume": ("&Volume", (Unit("L", 1.0), Unit("US qt", 0.946352946, 0.0, 2))),
    "distance": ("&Distance", (Unit("km", 1.0), Unit("mi", 1.609344))),
}
"""Quantity -> its word and its units, the stored one first. Factors: NIST Special Publication 811, appendix B."""

_QUANTITY = {units[0].name: quantity for quantity, (_, units) in CHOICES.items()}
_NUMBER = r"[-−]?\d+(?:\.\d+)?"
_IN_TEXT = re.compile(
    rf"(?<![\w.-])(?:(?P<first>{_NUMBER})(?P<word> to | ?[-–] ?))?"
    rf"(?P<last>{_NUMBER}) (?P<unit>°C|kPa|km|L)(?!\w)"
)
"""A stored value in a text, or a range of two. "Viscosity at 100 °C" is the name of a measurement and stays."""


def chosen(stored_unit: str) -> Unit:
    """The unit to show for what is stored in `stored_unit`; that unit itself where there is no choice."""
    quantity = _QUANTITY.get(stored_unit)
    if quantity is None:
        return Unit(stored_unit, 1.0)
    units = CHOICES[quantity][1]
    wanted = _remembered(settings.settings_file(), quantity)
    return next((unit for unit in units if unit.name == wanted), units[0])


@lru_cache(maxsize=64)
def _remembered(_file: Path, quantity: str) -> str:
    """A log asks this for each number in it: the file is read once."""
    return settings.text(f"units/{quantity}")


def choose(quantity: str, name: str) -> None:
    """Remembers the unit of a quantity."""
    settings.keep(f"units/{quantity}", name)
    _remembered.cache_clear()


def current(quantity: str) -> str:
    """Name of the unit chosen for a quantity."""
    return chosen(CHOICES[quantity][1][0].name).name


def shown(value: float, unit: Unit) -> float:
    """A stored value in a unit."""
    return (value - unit.plus) / unit.times


def stored(value: float, unit: Unit) -> float:
    """A typed value as it is stored."""
    return value * unit.times + unit.plus


def in_words(text: str) -> str:
    """A text in which stored values stand ("oil 118 °C, 6 L") with the chosen units."""
    return _IN_TEXT.sub(_converted, text)


def in_both(text: str) -> str:
    """As `in_words`, with the stored values before the chosen ones: "310 kPa (45 psi)"."""
    return _IN_TEXT.sub(_beside, text)


def call_in_words(call: Call) -> Call:
    """A call to show: its words with the chosen units. What is kept and compared is never this one."""
    return replace(
        call,
        sentence=in_words(call.sentence),
        held=in_words(call.held),
        reasons=tuple(_reason(reason) for reason in call.reasons),
        flips=flips_in_words(call.flips),
        unknowns=tuple(map(in_words, call.unknowns)),
        before_out=tuple(map(in_words, call.before_out)),
    )


def flips_in_words(flips: Sequence[Flip]) -> tuple[Flip, ...]:
    """What could turn a call, with the chosen units."""
    return tuple(replace(flip, what=in_words(flip.what), at=in_words(flip.at)) for flip in flips)


def _reason(reason: Reason) -> Reason:
    return replace(
        reason, text=in_words(reason.text), look=in_words(reason.look), would_change=in_words(reason.would_change)
    )


def rewritten(thing: Any) -> Any:
    """A record of words to show (a printed page, a list), each of its texts with the chosen units."""
    if isinstance(thing, str):
        return in_words(thing)
    if isinstance(thing, tuple):
        return tuple(map(rewritten, thing))
    if is_dataclass(thing) and not isinstance(thing, type):
        return replace(thing, **{field.name: rewritten(getattr(thing, field.name)) for field in fields(thing)})
    return thing


def plot_in_both(plot: SmallPlot) -> SmallPlot:
    """A small plot of the sheet: beside the values of its axis those in the chosen unit, as the sheet's words have."""
    name, found, stored_unit = plot.title.removesuffix("]").rpartition(" [")
    unit = chosen(stored_unit)
    if not found or unit.name == stored_unit:
        return plot
    return replace(plot, title=f"{name} [{stored_unit} ({unit.name})]", beside=partial(_said, unit=unit))


def _beside(found: re.Match[str]) -> str:
    other = _converted(found)
    return found[0] if other == found[0] else f"{found[0]} ({other})"


def _converted(found: re.Match[str]) -> str:
    unit = chosen(found["unit"])
    if unit.name == found["unit"] or found.string[: found.start()].endswith("iscosity at "):
        return found[0]
    before = f"{_said(_value(found['first']), unit)}{found['word']}" if found["first"] else ""
    return f"{before}{_said(_value(found['last']), unit)} {unit.name}"


def _value(text: str) -> float:
    return float(text.replace("−", "-"))


def _said(value: float, unit: Unit) -> str:
    """A stored value in a unit, with as many decimals as its unit is read with."""
    return f"{round(shown(value, unit), unit.decimals) + 0.0:g}"
