"""Verbs for materials: alloys, coatings and contaminants of the file's own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchapp.actions import naming
from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.benchfile import documents
from benchapp.problems import BenchProblem
from benchapp.records import Material

if TYPE_CHECKING:
    from benchapp.benchfile.write import Write


def add(bench: Bench, material: Material) -> Changed:
    """Adds a material of the file's own. One with a library material's id stands in front of it."""
    naming.need(material.id, "material")

    def body(write: Write) -> None:
        naming.put_new(write, "material", documents.of_material(material), material.id)

    return bench.do(f"Add material {material.id}", body, users(bench, material.id))


def edit(bench: Bench, material: Material) -> Changed:
    """Replaces the material of that id (a library material gets an own copy)."""
    naming.need(material.id, "material")

    def body(write: Write) -> None:
        found = write.find("material", name=material.id)
        if not found and material.id not in bench.library.materials:
            raise naming.unknown("material", material.id)
        document = found[0][0] if found else naming.free_id(write, "material", material.id)
        kept = {"notes": found[0][1]["notes"]} if found else {}
        write.put("material", document, {**documents.of_material(material), **kept})

    return bench.do(f"Edit material {material.id}", body, users(bench, material.id))


def void(bench: Bench, material_id: str, reason: str) -> Changed:
    """Hides a material of the file's own; a library material of that id holds again.

    Raises BenchProblem while parts are of it and no library material stands in."""
    used = users(bench, material_id) | {
        f"family {family.name}"
        for family in bench.families().values()
        if any(part.material == material_id for part in family.parts)
    }
    if used and material_id not in bench.library.materials:
        raise BenchProblem(
            f"Material {material_id} is used by {', '.join(sorted(used)[:5])}.",
            naming.UNCHANGED,
            "Give these parts another material first.",
        )

    def body(write: Write) -> None:
        found = write.find("material", name=material_id)
        if not found:
            raise naming.unknown("material", material_id)
        for document, _ in found:
            write.void("material", document, reason)

    return bench.do(f"Withdraw material {material_id}", body, users(bench, material_id))


def users(bench: Bench, material_id: str) -> set[str]:
    """Engines with a part of that material in one of their builds."""
    return {
        engine.name
        for engine in bench.fleet().engines
        if any(part.material == material_id for build in engine.builds for part in build.parts)
    }
