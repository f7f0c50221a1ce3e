"""What a typed cell says: the intake's one number parser, with the typed text kept beside what was understood."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from benchapp.intake.numbers import Decimal, find_decimal, parse_number
from benchapp.intake.units import conversion, convert

UNDECIDED = Decimal("", mixed=False)


@dataclass(frozen=True, slots=True)
class Entered:
    """One typed cell. Blank, or a value (a bare qualifier for "not detected"), or a problem in words."""

    text: str
    value: float | None = None
    qualifier: str = ""
    mark: str = ""
    blank: bool = False
    problem: str = ""
    ask_decimal: bool = False
    """The problem goes away once the decimal sign is said."""


def decimal_of(texts: Iterable[str], declared: str = "") -> Decimal:
    """The decimal sign of everything typed so far: as declared, else as the cells prove it."""
    return Decimal(declared, mixed=False) if declared else find_decimal(texts)


def read_value(text: str, unit: str = "", decimal: Decimal | None = None) -> Entered:
    """What `text` says, in `unit`. Without `decimal` the text alone must show its decimal sign."""
    sign = find_decimal([text]) if decimal is None else decimal
    parsed = parse_number(text, sign.sign, sign.mixed)
    if parsed.missing:
        return Entered(text, blank=True)
    if parsed.problem:
        return Entered(text, problem=parsed.problem, ask_decimal=parsed.ask_decimal)
    value = parsed.value
    if parsed.unit and value is not None:
        factors = conversion(parsed.unit, unit)
        if factors is None:
            return Entered(text, problem=f"“{parsed.unit}” cannot be turned into {unit or 'a plain number'}")
        value = convert(value, *factors)
    return Entered(text, value, parsed.qualifier, parsed.mark)
