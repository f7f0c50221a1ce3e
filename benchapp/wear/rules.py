"""The rules of a call as one immutable value: the call table of the resources and the parts of the library it needs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from benchapp.library import Element, Library, NonWear
from benchapp.oil.rules import OilRules
from benchapp.oil.rules import rules_from as oil_rules_from
from benchapp.records import NoiseLine
from benchapp.wear.words import Words, words_from


@dataclass(frozen=True, slots=True)
class Rules:
    """Everything a call depends on besides the bench file. `table` is section -> name -> value."""

    version: str
    table: Mapping[str, Mapping[str, Any]]
    elements: Mapping[str, Element]
    non_wear: Mapping[str, NonWear]
    noise_for: Callable[[str], Mapping[str, NoiseLine]]
    words: Words
    oil: OilRules
    """What the oil room judges by."""

    def number(self, section: str, name: str) -> float:
        """One number of the table. Raises KeyError for a name that is not in it."""
        return float(self.table[section][name])

    def pair(self, section: str, name: str) -> tuple[float, float]:
        """A mean and its standard deviation."""
        mean, sd = self.table[section][name]
        return float(mean), float(sd)

    @property
    def sump_l(self) -> float:
        return self.number("balance", "sump_l")

    @property
    def oil_density_kg_l(self) -> float:
        return self.number("balance", "oil_density_kg_l")

    def carry_over(self, drain: str, *, first: bool) -> tuple[float, float]:
        """Prior share of old oil after a drain and its standard deviation; nothing is left in a new build."""
        if first:
            return self.pair("carry_over", "none")
        known = drain if drain in self.table["carry_over"] else "unknown"
        return self.pair("carry_over", known)

    def hardness(self, kind: str) -> float:
        """Wear of a kind of session relative to practice; 1 for a kind that is not known."""
        return float(self.table["hardness"].get(kind, 1.0))


def least_for_a_look(rules: Rules) -> float:
    """The probability of a fault under which nobody is ever asked to look [-]."""
    late, _ = rules.pair("table", "look_wait")
    return late * rules.number("table", "look_least")


def rules_from(library: Library) -> Rules:
    """The rules as the resources state them. Raises BenchProblem where the call table is missing or damaged."""
    data = library.data("calls")
    table = {
        section: MappingProxyType({name: entry["value"] for name, entry in entries.items()})
        for section, entries in data.items()
        if isinstance(entries, Mapping)
    }
    words = words_from(library.data("words"))
    version = str(data["version"])
    return Rules(
        version,
        MappingProxyType(table),
        library.elements,
        library.non_wear,
        library.noise_for,
        words,
        oil_rules_from(library),
    )
