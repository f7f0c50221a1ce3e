"""Reads resources/ (data that is not code) into records; the pure rooms are handed what it returns.

In a checkout resources/ lies beside the package, in an installed wheel inside it; nothing else differs.
"""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from benchapp.problems import BenchProblem
from benchapp.records import ElementShare, Family, Material, NoiseLine, Part

OTHER_ELEMENT = "other"
"""Name of the noise line that serves every element without a line of its own."""

MATRIX_ROLE = "matrix"
"""Role of an element that is the oil itself and is not read (C, O, N, F)."""


def resources_dir() -> Path:
    """Folder of the resources: inside the installed package, else beside it in a checkout."""
    inside = Path(__file__).parent / "resources"
    return inside if inside.is_dir() else Path(__file__).parent.parent / "resources"


@dataclass(frozen=True, slots=True)
class Element:
    """A chemical element as it is met in oil."""

    symbol: str
    name: str
    aliases: tuple[str, ...]
    """Other spellings in lower case ('aluminum', 'plumbum')."""
    number: int
    """Atomic number."""
    role: str
    """What it is first thought to be: 'wear', 'additive', 'contaminant' or 'matrix' (the oil itself, not read)."""
    roles: tuple[str, ...]
    """All that it can be, the default first."""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Variant:
    """One composition that a non-wear source can have."""

    name: str
    shares: tuple[ElementShare, ...]
    """Empty where the variant leaves no metal at all (a pure-water coolant)."""
    note: str = ""
    unit_text: str = ""
    """What the shares are a percentage of, where it differs from the source's own."""


@dataclass(frozen=True, slots=True)
class NonWear:
    """Where metal can come from without a part wearing. `shares` are those of the default variant, the first."""

    name: str
    variants: tuple[Variant, ...]
    basis: str
    """What the shares are wt % of, so what a rate in mg/h of this source counts."""
    in_calls: bool
    """Whether a call may name it (one of records.NON_WEAR_SOURCES); the rest are hints."""
    when: str = ""
    """When it is to be thought of, in words."""
    tell: str = ""
    """What tells it from wear, in words, with its origin."""

    @property
    def shares(self) -> tuple[ElementShare, ...]:
        return self.variants[0].shares


@dataclass(frozen=True, slots=True)
class Library:
    """Everything read from resources/, immutable."""

    materials: Mapping[str, Material]
    families: Mapping[str, Family]
    non_wear: Mapping[str, NonWear]
    elements: Mapping[str, Element]
    roles: Mapping[str, str]
    """Role of a part -> one line on what it is."""

    def noise_for(self, kind: str) -> Mapping[str, NoiseLine]:
        """Element -> default reading noise of a kind of instrument ('icp', 'rotating-disc', 'xrf', 'lab', '').

        Every element of the library has a line; an unknown kind is read as the empty one. Origins are in the lines."""
        return _noise_for(kind)

    def sizes_of(self, family: str) -> Mapping[str, float]:
        """Cylinders, bore, stroke and bearing sizes [mm] of a family of the library, estimates; empty for another."""
        for table in _data("families")["family"]:
            if table["name"] == family:
                return MappingProxyType(dict(table.get("sizes", {})))
        return MappingProxyType({})

    def data(self, name: str) -> Mapping[str, Any]:
        """The resource table `name`.toml as a plain dict, read once; it is shared, so never change it.

        Raises BenchProblem where there is no such table or it cannot be read."""
        return _data(name)


@lru_cache(maxsize=1)
def load_library() -> Library:
    """Reads the resources once and hands out the same immutable value ever after.

    Raises BenchProblem where a resource is missing or damaged."""
    materials = _materials()
    families = _data("families")
    return Library(
        materials=materials,
        families=MappingProxyType({family.name: family for family in map(_family, families["family"])}),
        non_wear=_non_wear(materials),
        elements=_elements(),
        roles=MappingProxyType(dict(families["roles"])),
    )


# --- files ----------------------------------------------------------------------------------------------------------


def _damaged(name: str, why: object) -> BenchProblem:
    return BenchProblem(
        f"The resource {name} could not be read ({why}).",
        "The bench file is untouched, but nothing can be computed without this table.",
        "Install the program again.",
    )


@lru_cache(maxsize=64)
def _data(name: str) -> Mapping[str, Any]:
    try:
        with (resources_dir() / f"{name}.toml").open("rb") as file:
            return MappingProxyType(tomllib.load(file))
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise _damaged(f"{name}.toml", error) from error


def _rows(name: str) -> list[dict[str, str]]:
    try:
        with (resources_dir() / name).open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))
    except (OSError, UnicodeDecodeError) as error:
        raise _damaged(name, error) from error


# --- records --------------------------------------------------------------------------------------------------------


def _share(row: Mapping[str, str]) -> ElementShare:
    return ElementShare(
        element=row["element"],
        nominal_pct=float(row["nominal_pct"]) if row["nominal_pct"] else None,
        min_pct=float(row["min_pct"]),
        max_pct=float(row["max_pct"]),
        source=row["source"],
        status=row["status"],
    )


def _materials() -> Mapping[str, Material]:
    """id -> material, in the order of the table; its rows are grouped by id."""
    densities = {row["id"]: row for row in _rows("densities.csv")}
    grouped: dict[str, list[dict[str, str]]] = {}
    for row in _rows("materials.csv"):
        grouped.setdefault(row["id"], []).append(row)
    materials = {}
    for key, rows in grouped.items():
        density = densities.get(key)
        materials[key] = Material(
            id=key,
            name=rows[0]["name"],
            group=rows[0]["group"],
            used_for=rows[0]["used_for"],
            shares=tuple(_share(row) for row in rows),
            density_g_cm3=float(density["density_g_cm3"]) if density else None,
            density_status=density["status"] if density else "",
        )
    return MappingProxyType(materials)


def _family(table: Mapping[str, Any]) -> Family:
    parts = tuple(
        Part(
            name=part["name"],
            material=part["material"],
            role=part.get("role", ""),
            area_cm2=part.get("area_cm2"),
            thickness_um=part.get("thickness_um"),
        )
        for part in table["parts"]
    )
    return Family(table["name"], table["layout"], table["sump_l"], parts, table["notes"])


def _elements() -> Mapping[str, Element]:
    elements = (
        Element(
            symbol=row["symbol"],
            name=row["name"],
            aliases=tuple(row["aliases"]),
            number=row["number"],
            role=row["roles"][0],
            roles=tuple(row["roles"]),
            note=row.get("note", ""),
        )
        for row in _data("elements")["element"]
    )
    return MappingProxyType({element.symbol: element for element in elements})


def _variant(table: Mapping[str, Any], materials: Mapping[str, Material]) -> Variant:
    """A variant names a material of the table, or gives its shares itself as element = [nominal, min, max]."""
    if "material" in table:
        shares = materials[table["material"]].shares
    else:
        shares = tuple(
            ElementShare(element, float(nominal), float(low), float(high), table["source"], table["status"])
            for element, (nominal, low, high) in table.get("shares", {}).items()
        )
    return Variant(table["name"], shares, table.get("note", ""), table.get("unit_text", ""))


def _non_wear(materials: Mapping[str, Material]) -> Mapping[str, NonWear]:
    sources = (
        NonWear(
            name=table["name"],
            variants=tuple(_variant(variant, materials) for variant in table["variants"]),
            basis=table["basis"],
            in_calls=table["in_calls"],
            when=table["when"],
            tell=table["tell"],
        )
        for table in _data("non_wear")["source"]
    )
    return MappingProxyType({source.name: source for source in sources})


@lru_cache(maxsize=16)
def _noise_for(kind: str) -> Mapping[str, NoiseLine]:
    precision = _data("precision")
    table = precision.get(kind) or precision["unknown"]
    times = 1.0
    if "same_as" in table:
        times = table["times"]
        table = precision[table["same_as"]]
    symbols: Iterable[str] = _elements()
    return MappingProxyType({symbol: _noise_line(symbol, table, times) for symbol in symbols})


def _noise_line(symbol: str, table: Mapping[str, Any], times: float) -> NoiseLine:
    line = table.get(symbol, table[OTHER_ELEMENT])
    a_ppm = line["a_ppm"] * times
    origin = table["origin"]
    if line["r"]:
        origin = f"{table['origin_with_r']}, r = {line['r']}"
    if times != 1.0:
        origin = f"{origin}; times {times:g}, own default"
    return NoiseLine(a_ppm=a_ppm, b=line["b"] * times, limit_ppm=table["limit_from_a"] * a_ppm, origin=origin)
