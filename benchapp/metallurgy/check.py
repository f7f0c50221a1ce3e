"""Is a material or family that a user entered fit to compute with? Where not, a BenchProblem says why."""

from __future__ import annotations

import math
from collections.abc import Container, Mapping

from benchapp.problems import BenchProblem
from benchapp.records import ElementShare, Family, Material, Part

NOMINAL_SUM_PCT = (97.0, 103.0)
"""Nominal shares of an alloy add up to about a hundred [wt %]. Own choice: the library's alloys lie within 0.5."""

RESIN_CARBON_PCT = 5.0
"""From this much carbon on [wt %] a material is a resin whose other elements are not listed: no lower bound then, as
for a contaminant or salt that gives only its metals."""

CONTAMINANT = "contaminant"
MAX_SUMP_L = 200.0
MAX_THICKNESS_UM = 20_000.0
MAX_AREA_CM2 = 100_000.0
MAX_DENSITY_G_CM3 = 23.0


def check_material(material: Material, elements: Container[str]) -> Material:
    """The material itself, if it is fit; `elements` are the known symbols.

    Raises BenchProblem for an empty name, no or unknown or doubled elements, shares outside 0 to 100 %, a nominal
    outside its own range, nominal shares that do not add up to about 100 %, a density that is none."""
    _named(material.id, "material")
    _named(material.name, "material")
    if not material.shares:
        raise _refuse(f'Material "{material.name}" has no elements.', "Enter at least one element and its share.")
    seen: set[str] = set()
    for share in material.shares:
        _check_share(material, share, elements)
        if share.element in seen:
            raise _refuse(
                f'Material "{material.name}" lists {share.element} twice.', "Keep one line for each element."
            )
        seen.add(share.element)
    _check_sum(material)
    density = material.density_g_cm3
    if density is not None and not 0.0 < density <= MAX_DENSITY_G_CM3:
        raise _refuse(
            f'The density of "{material.name}" is {density:g} g/cm³.',
            f"Enter it in g/cm³, above 0 and up to {MAX_DENSITY_G_CM3:g}, or leave it empty.",
        )
    return material


def check_family(family: Family, materials: Mapping[str, Material]) -> Family:
    """The family itself, if it is fit; `materials` id -> Material.

    Raises BenchProblem for an empty name, a sump that is none, parts without name or of one name, a part whose material
    is not in the table, an area or thickness that is none."""
    _named(family.name, "family")
    if family.sump_l is not None and not 0.0 < family.sump_l <= MAX_SUMP_L:
        raise _refuse(
            f'The oil volume of "{family.name}" is {family.sump_l:g} L.',
            f"Enter all the oil that circulates, above 0 and up to {MAX_SUMP_L:g} L.",
        )
    check_parts(family.parts, materials)
    return family


def check_parts(parts: tuple[Part, ...], materials: Mapping[str, Material]) -> tuple[Part, ...]:
    """The parts themselves, if they are fit (of a family or of a build). Raises BenchProblem as `check_family`."""
    seen: set[str] = set()
    for part in parts:
        _named(part.name, "part")
        if part.name.casefold() in seen:
            raise _refuse(f'Two parts are named "{part.name}".', "Give each part its own name.")
        seen.add(part.name.casefold())
        _check_part(part, materials)
    return parts


def _check_part(part: Part, materials: Mapping[str, Material]) -> None:
    if " + " in part.name:
        raise _refuse(
            f'The part name "{part.name}" holds " + ".', 'A call joins parts with " + ": write "and" instead.'
        )
    if part.material not in materials:
        raise _refuse(
            f'Part "{part.name}" is of material "{part.material}", which is not in the materials table.',
            "Choose a material of the list, or add the material first.",
        )
    for what, value, most, unit in (
        ("area", part.area_cm2, MAX_AREA_CM2, "cm²"),
        ("thickness", part.thickness_um, MAX_THICKNESS_UM, "µm"),
    ):
        if value is not None and not 0.0 < value <= most:
            raise _refuse(
                f'The {what} of part "{part.name}" is {value:g} {unit}.',
                f"Enter it in {unit}, above 0 and up to {most:g}, or leave it empty.",
            )


def _check_share(material: Material, share: ElementShare, elements: Container[str]) -> None:
    where = f'{share.element} in "{material.name}"'
    if share.element not in elements:
        raise _refuse(
            f'"{share.element}" in "{material.name}" is not a chemical symbol that is known here.',
            "Write the symbol as in the list of elements (Fe, Cu, Pb …).",
        )
    numbers = [share.min_pct, share.max_pct] + ([] if share.nominal_pct is None else [share.nominal_pct])
    if not all(math.isfinite(number) and 0.0 <= number <= 100.0 for number in numbers):
        raise _refuse(f"A share of {where} is not between 0 and 100 %.", "Enter shares in weight per cent.")
    if share.min_pct > share.max_pct:
        raise _refuse(
            f"The range of {where} runs from {share.min_pct:g} to {share.max_pct:g} %.", "Put the smaller figure first."
        )
    if share.nominal_pct is not None and not share.min_pct <= share.nominal_pct <= share.max_pct:
        raise _refuse(
            f"The nominal share of {where} is {share.nominal_pct:g} %, outside its own range "
            f"{share.min_pct:g} to {share.max_pct:g} %.",
            "Correct the nominal share or the range.",
        )


def _check_sum(material: Material) -> None:
    total = sum(share.nominal_pct or 0.0 for share in material.shares)
    low, high = NOMINAL_SUM_PCT
    carbon = sum(share.nominal_pct or 0.0 for share in material.shares if share.element == "C")
    if material.group == CONTAMINANT or carbon >= RESIN_CARBON_PCT:
        low = 0.0
    if not low <= total <= high:
        raise _refuse(
            f'The nominal shares of "{material.name}" add up to {total:.4g} %.',
            f"The base metal is what the others leave: make them add up to about 100 % ({low:g} to {high:g} is taken).",
        )


def _named(name: str, what: str) -> None:
    if not name.strip():
        raise _refuse(f"The {what} has no name.", "Give it a name.")


def _refuse(what: str, do: str) -> BenchProblem:
    return BenchProblem(what, "Nothing was saved.", do)
