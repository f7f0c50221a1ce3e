"""What happened to a build, whatever kind it is: added, replaced, hidden. An event is known by what it says."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.benchfile import documents
from benchapp.benchfile.content import clean, new_id
from benchapp.benchfile.documents import Event
from benchapp.problems import BenchProblem

if TYPE_CHECKING:
    from benchapp.benchfile.kinds import Content
    from benchapp.benchfile.write import Write

WORDS = {
    "top_up": "top-up",
    "run": "run",
    "pull": "pull",
    "leak_down": "leak-down",
    "filter_cut": "filter cut",
    "change": "change",
    "finding": "finding",
    "oil_pressure": "oil pressure",
    "fitting": "fitting",
}


def add(bench: Bench, engine: str, build: str, *records: Event) -> Changed:
    """Adds events of one kind to a build, all or none."""
    build_id = bench.build_id(engine, build)
    noun = documents.of_event(records[0], build_id)[0]

    def body(write: Write) -> None:
        for record in records:
            put_new(write, record, build_id)

    many = f" ({len(records)})" if len(records) > 1 else ""
    return bench.do(f"Add {WORDS[noun]} to engine {engine}{many}", body, {engine})


def put_new(write: Write, record: Event, build_id: str) -> tuple[str, str]:
    """Writes a new event within a transaction; its kind and its id."""
    noun, content = documents.of_event(record, build_id)
    if noun == "run":
        content["place"] = next_place(write, build_id)
    document = new_id()
    write.put(noun, document, content)
    return noun, document


def found(write: Write, record: Event, build_id: str) -> tuple[str, str]:
    """Kind and id of the event equal to `record`. Raises BenchProblem if the build has none like it."""
    return documents.of_event(record, build_id)[0], _found(write, record, build_id)[0]


def next_place(write: Write, build_id: str) -> int:
    """The place of a new run: behind those that are there."""
    return max((content["place"] for _, content in write.find("run", build_id=build_id)), default=0) + 1


def edit(bench: Bench, engine: str, build: str, old: Event, new: Event) -> Changed:
    """Replaces the event equal to `old`. Raises BenchProblem if the build has none like it."""
    build_id = bench.build_id(engine, build)
    noun, content = documents.of_event(new, build_id)

    def body(write: Write) -> None:
        document, held = _found(write, old, build_id)
        if noun == "run":
            content["place"] = held["place"]
        if "notes" not in documents.of_event(new, build_id)[1]:
            content["notes"] = held["notes"]
        write.put(noun, document, content)

    return bench.do(f"Edit {WORDS[noun]} of engine {engine}", body, {engine})


def void(bench: Bench, engine: str, build: str, record: Event, reason: str) -> Changed:
    """Hides the event equal to `record`. Raises BenchProblem if the build has none like it."""
    build_id = bench.build_id(engine, build)
    noun, _ = documents.of_event(record, build_id)

    def body(write: Write) -> None:
        document, _ = _found(write, record, build_id)
        write.void(noun, document, reason)

    return bench.do(f"Withdraw {WORDS[noun]} of engine {engine}", body, {engine})


def replace(
    bench: Bench, engine: str, build: str, old: Sequence[Event], new: Sequence[Event], reason: str = "corrected"
) -> Changed:
    """Puts events in the place of others of their kind that were entered together, in one step; fewer new than old
    withdraws the rest. Raises BenchProblem if the build has not all of `old`."""
    build_id = bench.build_id(engine, build)
    noun = documents.of_event(old[0], build_id)[0]

    def body(write: Write) -> None:
        held = [_found(write, record, build_id) for record in old]
        for (document, content), record in zip(held, new, strict=False):
            _, fresh = documents.of_event(record, build_id)
            fresh.pop("place", None)  # a run stays behind the one it was entered after
            write.put(noun, document, {**content, **fresh})
        for document, _ in held[len(new) :]:
            write.void(noun, document, reason)
        for record in new[len(held) :]:
            put_new(write, record, build_id)

    return bench.do(f"Edit {WORDS[noun]} of engine {engine}", body, {engine})


def void_all(bench: Bench, engine: str, build: str, records: Sequence[Event], reason: str) -> Changed:
    """Hides events that were entered together, in one step."""
    build_id = bench.build_id(engine, build)
    noun = documents.of_event(records[0], build_id)[0]

    def body(write: Write) -> None:
        for record in records:
            write.void(noun, _found(write, record, build_id)[0], reason)

    return bench.do(f"Withdraw {WORDS[noun]} of engine {engine}", body, {engine})


def _found(write: Write, record: Event, build_id: str) -> tuple[str, Content]:
    noun, given = documents.of_event(record, build_id)
    wanted = clean(noun, given)
    for document, content in write.find(noun, build_id=build_id):
        if all(content.get(key) == wanted.get(key) for key in given if key != "place"):
            return document, content
    raise BenchProblem(
        f"This {WORDS[noun]} is no longer as it was shown.",
        "Nothing was changed.",
        "Look at the list again: it may have been edited or withdrawn meanwhile.",
    )
