"""Verbs for oils."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchapp.actions import naming, oil_card
from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.benchfile import documents
from benchapp.records import Oil

if TYPE_CHECKING:
    from benchapp.benchfile.write import Write


def add(bench: Bench, oil: Oil) -> Changed:
    """Adds an oil."""
    naming.need(oil.name, "oil")

    def body(write: Write) -> None:
        naming.put_new(write, "oil", documents.of_oil(oil), oil.name)

    return bench.do(f"Add oil {oil.name}", body, users(bench, oil.name))


def edit(bench: Bench, name: str, oil: Oil) -> Changed:
    """Replaces oil `name`; a new name is carried to its fills."""
    naming.need(oil.name, "oil")

    def body(write: Write) -> None:
        found = write.find("oil", name=name)
        if not found:
            raise naming.unknown("oil", name)
        if oil.name != name and write.find("oil", name=oil.name):
            raise naming.taken("oil", oil.name)
        document, content = found[0]
        write.put("oil", document, {**documents.of_oil(oil), "notes": content["notes"]})
        if oil.name != name:
            for fill, held in write.find("fill", oil=name):
                write.put("fill", fill, {**held, "oil": oil.name})
            oil_card.renamed(write, name, oil.name)

    return bench.do(f"Edit oil {oil.name}", body, users(bench, name))


def void(bench: Bench, name: str, reason: str) -> Changed:
    """Hides an oil. Fills keep its name; what it was made of is then unknown to their calls."""

    def body(write: Write) -> None:
        found = write.find("oil", name=name)
        if not found:
            raise naming.unknown("oil", name)
        for document, _ in found:
            write.void("oil", document, reason)

    return bench.do(f"Withdraw oil {name}", body, users(bench, name))


def users(bench: Bench, name: str) -> set[str]:
    """Engines that ran on the oil."""
    return {
        engine.name
        for engine in bench.fleet().engines
        if any(fill.oil == name for build in engine.builds for fill in build.fills)
    }
