"""Verbs for families: engines built alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchapp.actions import naming
from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.benchfile import documents
from benchapp.problems import BenchProblem
from benchapp.records import Family

if TYPE_CHECKING:
    from benchapp.benchfile.write import Write


def add(bench: Bench, family: Family) -> Changed:
    """Adds a family of the file's own. One with a library family's name stands in front of it."""
    naming.need(family.name, "family")
    for part in family.parts:
        naming.need_material(bench, part)

    def body(write: Write) -> None:
        naming.put_new(write, "family", documents.of_family(family), family.name)

    return bench.do(f"Add family {family.name}", body, users(bench, family.name))


def edit(bench: Bench, name: str, family: Family) -> Changed:
    """Replaces family `name` (a library family gets an own copy). A new name is carried to its engines."""
    naming.need(family.name, "family")
    for part in family.parts:
        naming.need_material(bench, part)
    engines = users(bench, name)

    def body(write: Write) -> None:
        found = write.find("family", name=name)
        if not found and name not in bench.library.families:
            raise naming.unknown("family", name)
        if family.name != name and (write.find("family", name=family.name) or family.name in bench.library.families):
            raise naming.taken("family", family.name)
        document = found[0][0] if found else naming.free_id(write, "family", family.name)
        write.put("family", document, {**documents.of_family(family), "rows": _rows(family, found)})
        if family.name != name:
            for engine, content in write.find("engine", family=name):
                write.put("engine", engine, {**content, "family": family.name})

    return bench.do(f"Edit family {family.name}", body, engines)


def _rows(family: Family, found: list[tuple[str, dict]]) -> list[list]:
    """The parts, each with the notes that stood beside the part of that name."""
    notes = {row[0]: row[5] for _, content in found[:1] for row in content["rows"]}
    return [documents.part_row(part, notes.get(part.name, "")) for part in family.parts]


def void(bench: Bench, name: str, reason: str) -> Changed:
    """Hides a family of the file's own. Raises BenchProblem while engines use it and no library family stands in."""
    engines = users(bench, name)
    if engines and name not in bench.library.families:
        raise BenchProblem(
            f"Family {name} is used by {', '.join(sorted(engines)[:5])}.",
            "Nothing was changed.",
            "Give these engines another family first.",
        )

    def body(write: Write) -> None:
        found = write.find("family", name=name)
        if not found:
            raise naming.unknown("family", name)
        for document, _ in found:
            write.void("family", document, reason)

    return bench.do(f"Withdraw family {name}", body, engines)


def users(bench: Bench, name: str) -> set[str]:
    """Engines of a family."""
    return {engine.name for engine in bench.fleet().engines if engine.family == name}
