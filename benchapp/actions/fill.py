"""Verbs for oil fills and top-ups."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchapp.actions import events, naming
from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.benchfile import documents
from benchapp.problems import BenchProblem
from benchapp.records import Fill, TopUp

if TYPE_CHECKING:
    from benchapp.benchfile.write import Write


def add(bench: Bench, engine: str, build: str, fill: Fill) -> Changed:
    """Adds a fill (an oil change)."""
    naming.need(fill.name, "fill")
    build_id = bench.build_id(engine, build)

    def body(write: Write) -> None:
        if write.find("fill", build_id=build_id, name=fill.name):
            raise naming.taken("fill", f"{fill.name} in build {build} of engine {engine}")
        write.put("fill", naming.free_id(write, "fill", build_id, fill.name), documents.of_fill(fill, build_id))

    return bench.do(f"Add fill {fill.name} to engine {engine}", body, {engine})


def edit(bench: Bench, engine: str, build: str, name: str, fill: Fill) -> Changed:
    """Replaces fill `name`; a new name is carried to its samples and top-ups."""
    naming.need(fill.name, "fill")
    build_id = bench.build_id(engine, build)

    def body(write: Write) -> None:
        found = write.find("fill", build_id=build_id, name=name)
        if not found:
            raise naming.unknown("fill", name)
        if fill.name != name and write.find("fill", build_id=build_id, name=fill.name):
            raise naming.taken("fill", fill.name)
        document, content = found[0]
        write.put("fill", document, {**documents.of_fill(fill, build_id), "notes": content["notes"]})
        if fill.name != name:
            for noun in ("sample", "top_up"):
                for other, held in write.find(noun, build_id=build_id, fill=name):
                    write.put(noun, other, {**held, "fill": fill.name})

    return bench.do(f"Edit fill {fill.name} of engine {engine}", body, {engine})


def void(bench: Bench, engine: str, build: str, name: str, reason: str) -> Changed:
    """Hides a fill. Raises BenchProblem while samples were drawn from it."""
    build_id = bench.build_id(engine, build)

    def body(write: Write) -> None:
        found = write.find("fill", build_id=build_id, name=name)
        if not found:
            raise naming.unknown("fill", name)
        drawn = [content["code"] for _, content in write.find("sample", build_id=build_id, fill=name)]
        if drawn:
            raise BenchProblem(
                f"Samples were drawn from fill {name}: {', '.join(drawn[:5])}.",
                "Nothing was changed.",
                "Put these samples on another fill, or withdraw them, first.",
            )
        write.void("fill", found[0][0], reason)
        for document, _ in write.find("top_up", build_id=build_id, fill=name):
            write.void("top_up", document, reason)

    return bench.do(f"Withdraw fill {name} of engine {engine}", body, {engine})


def top_up(bench: Bench, engine: str, build: str, top_up: TopUp) -> Changed:
    """Adds a top-up to a fill."""
    if all(fill.name != top_up.fill for fill in bench.build(engine, build).fills):
        raise naming.unknown("fill", top_up.fill)
    return events.add(bench, engine, build, top_up)


def edit_top_up(bench: Bench, engine: str, build: str, old: TopUp, new: TopUp) -> Changed:
    """Replaces the top-up equal to `old`."""
    if all(fill.name != new.fill for fill in bench.build(engine, build).fills):
        raise naming.unknown("fill", new.fill)
    return events.edit(bench, engine, build, old, new)


def void_top_up(bench: Bench, engine: str, build: str, top_up: TopUp, reason: str) -> Changed:
    """Hides the top-up equal to `top_up`."""
    return events.void(bench, engine, build, top_up, reason)
