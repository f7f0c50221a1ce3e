"""Verbs for engines, their builds and the parts of a build."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from benchapp.actions import bearing, naming
from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.benchfile import documents
from benchapp.benchfile.read import REMOVED, same_part
from benchapp.problems import BenchProblem
from benchapp.records import Moment, Part

if TYPE_CHECKING:
    from benchapp.benchfile.kinds import Content
    from benchapp.benchfile.write import Write


def add(
    bench: Bench,
    name: str,
    family: str,
    car: str = "",
    notes: str = "",
    *,
    build: str = "1",
    sump_l: float | None = None,
    built_on: Moment | None = None,
) -> Changed:
    """Adds an engine and its first build (`build=""`: without one)."""
    naming.need(name, "engine")
    _need_family(bench, family)

    def body(write: Write) -> None:
        content = {"name": name, "family": family, "car": car, "notes": notes}
        engine_id = naming.put_new(write, "engine", content, name)
        if build:
            _put_build(write, engine_id, build, sump_l=sump_l, built_on=built_on)

    return bench.do(f"Add engine {name}", body, {name})


def _need_family(bench: Bench, family: str) -> None:
    if family not in bench.families():
        raise BenchProblem(
            f"There is no family {family!r}.",
            "Nothing was changed.",
            "Choose one of the list, or add the family first.",
        )


def _put_build(
    write: Write, engine_id: str, number: str, *, sump_l: float | None, built_on: Moment | None, notes: str = "",
    rows: list[list] | None = None,
) -> str:  # fmt: skip
    document = naming.free_id(write, "build", engine_id, number)
    write.put(
        "build",
        document,
        {
            "engine_id": engine_id,
            "number": number,
            "built_on": documents.moment_text(built_on),
            "sump_l": sump_l,
            "notes": notes,
            "rows": rows or [],
        },
    )
    return document


def edit(
    bench: Bench,
    name: str,
    *,
    new_name: str | None = None,
    family: str | None = None,
    car: str | None = None,
    notes: str | None = None,
) -> Changed:
    """Changes what is given; None leaves as it is."""
    engine_id = bench.engine_id(name)
    if new_name is not None:
        naming.need(new_name, "engine")
    if family is not None:
        _need_family(bench, family)
    given = {"name": new_name, "family": family, "car": car, "notes": notes}

    def body(write: Write) -> None:
        if new_name is not None and new_name != name and write.find("engine", name=new_name):
            raise naming.taken("engine", new_name)
        content = _certain(write, "engine", engine_id)
        write.put("engine", engine_id, {**content, **{key: value for key, value in given.items() if value is not None}})

    return bench.do(f"Edit engine {name}", body, {name, new_name or name})


def _certain(write: Write, noun: str, document: str) -> Content:
    content = write.get(noun, document)
    assert content is not None
    return content


def void(bench: Bench, name: str, reason: str) -> Changed:
    """Hides an engine with all that belongs to it; undo brings it back."""
    engine_id = bench.engine_id(name)

    def body(write: Write) -> None:
        write.void("engine", engine_id, reason)

    return bench.do(f"Withdraw engine {name}", body, {name})


def add_build(
    bench: Bench,
    engine: str,
    number: str = "",
    *,
    sump_l: float | None = None,
    built_on: Moment | None = None,
    notes: str = "",
    keep_parts: bool = True,
) -> Changed:
    """Adds a build after a rebuild (`number=""`: the next one). `keep_parts` carries the last build's overrides and
    measured bearings over, and its sump where none is given."""
    engine_id = bench.engine_id(engine)
    builds = bench.engine(engine).builds
    new = number or _next_number([build.number for build in builds])
    naming.need(new, "build")

    def body(write: Write) -> None:
        if write.find("build", engine_id=engine_id, number=new):
            raise naming.taken("build", f"{new} of engine {engine}")
        last = write.find("build", engine_id=engine_id, number=builds[-1].number) if builds else []
        rows = last[0][1]["rows"] if last and keep_parts else []
        sump = last[0][1]["sump_l"] if last and sump_l is None else sump_l
        document = _put_build(write, engine_id, new, sump_l=sump, built_on=built_on, notes=notes, rows=rows)
        if builds and keep_parts:
            bearing.put_all(write, document, builds[-1].bearings)

    return bench.do(f"Add build {new} of engine {engine}", body, {engine})


def _next_number(numbers: list[str]) -> str:
    """One more than the last number that is plain digits, else the count plus one."""
    plain = [int(number) for number in numbers if re.fullmatch(r"[0-9]{1,9}", number)]
    return str(max(plain) + 1 if plain else len(numbers) + 1)


def edit_build(
    bench: Bench,
    engine: str,
    number: str,
    *,
    new_number: str | None = None,
    sump_l: float | None = None,
    built_on: Moment | None = None,
    notes: str | None = None,
) -> Changed:
    """Changes what is given; None leaves as it is."""
    engine_id, build_id = bench.engine_id(engine), bench.build_id(engine, number)
    if new_number is not None:
        naming.need(new_number, "build")
    given = {
        "number": new_number,
        "sump_l": sump_l,
        "built_on": None if built_on is None else documents.moment_text(built_on),
        "notes": notes,
    }

    def body(write: Write) -> None:
        if new_number not in (None, number) and write.find("build", engine_id=engine_id, number=new_number):
            raise naming.taken("build", f"{new_number} of engine {engine}")
        content = _certain(write, "build", build_id)
        write.put("build", build_id, {**content, **{key: value for key, value in given.items() if value is not None}})

    return bench.do(f"Edit build {number} of engine {engine}", body, {engine})


def void_build(bench: Bench, engine: str, number: str, reason: str) -> Changed:
    """Hides a build with all that belongs to it."""
    build_id = bench.build_id(engine, number)

    def body(write: Write) -> None:
        write.void("build", build_id, reason)

    return bench.do(f"Withdraw build {number} of engine {engine}", body, {engine})


def override_part(bench: Bench, engine: str, build: str, part: Part) -> Changed:
    """This build has `part` instead of (or besides) the family's part of that name."""
    naming.need_material(bench, part)
    return _set_part(bench, engine, build, part.name, part, f"Set part {part.name} of engine {engine}")


def remove_part(bench: Bench, engine: str, build: str, part: str) -> Changed:
    """This build does not have the family's part of that name."""
    return _set_part(bench, engine, build, part, Part(part, REMOVED), f"Remove part {part} of engine {engine}")


def restore_part(bench: Bench, engine: str, build: str, part: str) -> Changed:
    """Drops this build's own override: the family's part (if any) holds again."""
    return _set_part(bench, engine, build, part, None, f"Restore part {part} of engine {engine}")


def _set_part(bench: Bench, engine: str, build: str, name: str, part: Part | None, label: str) -> Changed:
    build_id = bench.build_id(engine, build)

    def body(write: Write) -> None:
        content = _certain(write, "build", build_id)
        rows = [row for row in content["rows"] if not same_part(row[0], name)]
        if part is not None:
            rows.append(documents.part_row(part))
        write.put("build", build_id, {**content, "rows": rows})

    return bench.do(label, body, {engine})
