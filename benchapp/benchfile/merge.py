"""Two laptops' files into one: the union of their histories, the same whichever is merged into which and how often.

The other file is never attached and never trusted: a copy of it is checked like a stranger's, then rows are read from
the copy. A document's states form a tree of versions; what nobody built upon are its heads. One head, or several that
say the same: that is the document. Several that differ: an edit on each side, and a person must choose; until then the
later one is shown, in both files the same.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import sqlite3
import tempfile
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from benchapp.benchfile import audit, checks, copies, schema, trouble
from benchapp.benchfile import content as content_
from benchapp.benchfile.file import BenchFile
from benchapp.benchfile.kinds import KINDS, Content
from benchapp.benchfile.write import Step, Write, now_text, show
from benchapp.problems import BenchProblem
from benchapp.progress import NOBODY, Progress

LARGEST_BYTES = 1024 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Head:
    """One of the states that a document was brought to."""

    version: str
    at: str
    who: str
    origin: str
    content: Content


@dataclass(frozen=True, slots=True)
class Conflict:
    """A document that was edited on two sides. `shown` is the version that stands until a person chooses, `here` the
    one that was in this file first."""

    document: str
    kind: str
    words: str
    heads: tuple[Head, ...]
    shown: str
    here: str


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came in: kind -> documents new or changed; the engines concerned; things to look at, in words."""

    came_in: dict[str, int]
    engines: frozenset[str]
    remarks: tuple[str, ...]


def merge(file: BenchFile, other: Path, progress: Progress = NOBODY) -> Outcome:
    """Takes in what `other` has. Nothing new, or stopped: nothing is written."""
    if not other.is_file():
        raise BenchProblem(f"There is no file {other}.", "Nothing was merged.", "Check the name.")
    if other.resolve() == file.path.resolve():
        raise BenchProblem(
            "A bench file cannot be merged with itself.", "Nothing was merged.", "Choose the other file."
        )
    if other.stat().st_size > LARGEST_BYTES:
        raise trouble.not_a_bench_file(other, "it is far too large")
    with tempfile.TemporaryDirectory(prefix="bench-merge-") as folder:
        copy = _checked_copy(other, Path(folder) / "other.bench", progress)
        with contextlib.closing(sqlite3.connect(copies.read_only_uri(copy), uri=True)) as source:
            checks.harden(source, foreign=True)
            return _take_in(file, source, other, progress)


def _checked_copy(other: Path, copy: Path, progress: Progress) -> Path:
    """A copy of the other file, checked as a stranger's and brought up to this version's tables."""
    with trouble.in_words(other):
        with (
            contextlib.closing(sqlite3.connect(copies.read_only_uri(other), uri=True)) as source,
            contextlib.closing(sqlite3.connect(copy, isolation_level=None)) as target,
        ):
            checks.harden(source, foreign=True)
            progress.step(f"Copying {other.name}")
            source.backup(target)
        with contextlib.closing(sqlite3.connect(copy, isolation_level=None)) as target:
            checks.harden(target, foreign=True)
            version = checks.version_of(target, other)
            checks.refuse_strange(target, other, version)
            if found := checks.full(target, progress):
                raise BenchProblem(
                    f"{other.name} is damaged: {found[0]}",
                    "Nothing was merged; this bench file is as it was.",
                    "Restore a sound backup of the other file on its own laptop, and merge that.",
                )
            if version < schema.SCHEMA_VERSION:
                schema.migrate(target)
    return copy


def _take_in(file: BenchFile, source: sqlite3.Connection, other: Path, progress: Progress) -> Outcome:
    with file.transaction() as connection:
        try:
            documents = _new_versions(connection, source, other, progress)
            steps = []
            for number, (kind, document) in enumerate(documents):
                if number % 256 == 0:
                    progress.step("Taking in what is new", number / len(documents))
                step = settle(connection, kind, document)
                if step is not None:
                    steps.append(step)
            audit_came = _new_audit(connection, source)
            _photos(connection, source)
            progress.step("Saving", 1.0)
        except (ValueError, KeyError, TypeError, OverflowError) as error:
            raise trouble.not_a_bench_file(other, f"a value in it cannot be read ({type(error).__name__})") from error
        if audit_came:
            connection.execute("INSERT OR REPLACE INTO settings VALUES ('audit_forked', '1')")
        engines = _engines_of(connection, steps)
        came_in = dict(Counter(step.kind for step in steps if _differs(connection, step)))
        if documents:
            audit.write_entry(
                connection, at=now_text(), who=file.who, origin=file.origin, kind="merge", label=f"Merge {other.name}",
                nouns={step.kind for step in steps}, engines=engines, undoes="", steps=steps,
            )  # fmt: skip
    if documents:
        file.forget_undo()
    remarks = _remarks(file) if documents else ()
    return Outcome(came_in, frozenset(engines), remarks)


def _new_versions(
    connection: sqlite3.Connection, source: sqlite3.Connection, other: Path, progress: Progress
) -> list[tuple[str, str]]:
    """Copies the versions that are not there yet; (kind, document) of each, owners first."""
    have = {row[0] for row in connection.execute("SELECT id FROM versions")}
    touched: dict[tuple[str, str], None] = {}
    rows = source.execute(
        "SELECT id, kind, document, parents, content, content_hash, at, who, origin FROM versions ORDER BY rowid"
    )
    for number, row in enumerate(rows):
        if number % 1024 == 0:
            progress.step("Comparing the two histories")
        id_, noun, document, _, text = row[:5]
        if id_ in have:
            continue
        content = json.loads(text)
        if noun not in KINDS or content_.as_text(content_.clean(noun, content)) != text:
            raise trouble.not_a_bench_file(other, "it holds a value that this program would not have written")
        connection.execute("INSERT INTO versions VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", row)
        touched[noun, document] = None
    order = list(KINDS)
    return sorted(touched, key=lambda pair: order.index(pair[0]))


def heads_of(connection: sqlite3.Connection, document: str) -> list[Head]:
    """The states nobody built upon, in order of version."""
    rows = connection.execute(
        "SELECT id, parents, content, at, who, origin FROM versions WHERE document = ? ORDER BY id", (document,)
    ).fetchall()
    built_upon = {parent for row in rows for parent in json.loads(row[1])}
    return [
        Head(id_, at, who, origin, json.loads(content))
        for id_, _, content, at, who, origin in rows
        if id_ not in built_upon
    ]


def settle(connection: sqlite3.Connection, noun: str, document: str) -> Step | None:
    """Shows what follows from a document's heads; the step taken, or None where it is shown already."""
    heads = heads_of(connection, document)
    if not heads:
        raise ValueError("a document without a state")
    differ = len({content_.as_text(head.content) for head in heads}) > 1
    shown = max(heads, key=lambda head: (head.at, head.version)) if differ else heads[0]
    connection.execute("DELETE FROM conflicts WHERE document = ?", (document,))
    if len(heads) > 1:
        ids = json.dumps([head.version for head in heads])
        connection.execute("INSERT INTO conflicts VALUES (?, ?, ?)", (document, noun, ids))
    kind = KINDS[noun]
    row = connection.execute(f"SELECT version FROM {kind.table} WHERE id = ?", (document,)).fetchone()
    before = "" if row is None else str(row[0])
    if before == shown.version:
        return None
    text = content_.as_text(shown.content)
    show(connection, kind, document, shown.content, shown.version, content_.digest(text), shown.origin)
    return Step(noun, document, before, shown.version)


def _new_audit(connection: sqlite3.Connection, source: sqlite3.Connection) -> bool:
    have = {row[0] for row in connection.execute("SELECT id FROM audit")}
    came = False
    rows = source.execute(
        "SELECT id, prev, at, who, origin, kind, label, nouns, engines, undoes FROM audit ORDER BY seq"
    ).fetchall()
    for row in rows:
        if row[0] in have:
            continue
        came = True
        connection.execute(
            "INSERT INTO audit (id, prev, at, who, origin, kind, label, nouns, engines, undoes) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            row,
        )
        steps = source.execute(
            "SELECT audit, position, kind, document, before, after FROM audit_changes WHERE audit = ?", (row[0],)
        ).fetchall()
        connection.executemany("INSERT INTO audit_changes VALUES (?, ?, ?, ?, ?, ?)", steps)
    return came


def _differs(connection: sqlite3.Connection, step: Step) -> bool:
    """False where both sides had said the same already."""
    rows = connection.execute(
        "SELECT content_hash FROM versions WHERE id IN (?, ?)", (step.before, step.after)
    ).fetchall()
    return len(rows) < 2 or rows[0] != rows[1]


def _photos(connection: sqlite3.Connection, source: sqlite3.Connection) -> None:
    have = {row[0] for row in connection.execute("SELECT sha256 FROM photo_bytes")}
    for sha, data in source.execute("SELECT sha256, bytes FROM photo_bytes"):
        if sha not in have and hashlib.sha256(data).hexdigest() == sha:
            connection.execute("INSERT INTO photo_bytes VALUES (?, ?)", (sha, data))


def _engines_of(connection: sqlite3.Connection, steps: Iterable[Step]) -> set[str]:
    """Names of the engines that the steps touch."""
    out = set()
    for step in steps:
        engine_id: Any = step.document if step.kind == "engine" else None
        kind = KINDS[step.kind]
        build_id: Any = step.document if step.kind == "build" else None
        if kind.linked_to == "build":
            row = connection.execute(f"SELECT build_id FROM {kind.table} WHERE id = ?", (step.document,)).fetchone()
            build_id = row[0]
        if build_id:
            row = connection.execute("SELECT engine_id FROM builds WHERE id = ?", (build_id,)).fetchone()
            engine_id = row[0] if row else None
        if engine_id:
            row = connection.execute("SELECT name FROM engines WHERE id = ?", (engine_id,)).fetchone()
            out |= {str(row[0])} if row else set()
    return out


def _remarks(file: BenchFile) -> tuple[str, ...]:
    """What a merge cannot settle by itself and is no conflict of one document."""
    out = []
    names = Counter(content["name"] for _, content in file.find("engine"))
    out += [
        f"There are {count} engines called {name} now (one of them was renamed or added on the other laptop): "
        "give one another name, or withdraw it."
        for name, count in sorted(names.items())
        if count > 1
    ]
    runs = Counter(
        (content["build_id"], content["started_at"], content["kind"], content["hours"])
        for _, content in file.find("run")
        if content["started_at"]
    )
    twice = sum(count > 1 for count in runs.values())
    if twice:
        out.append(
            f"{twice} run(s) stand there twice with the same start, kind and hours: entered on both laptops? Withdraw "
            "the second one, or its hours count double."
        )
    return tuple(out)


def conflicts(file: BenchFile) -> tuple[Conflict, ...]:
    """Documents that a person must choose about."""
    out = []
    with file.reading() as connection:
        rows = connection.execute("SELECT document, kind FROM conflicts ORDER BY kind, document").fetchall()
        for document, noun in rows:
            heads = heads_of(connection, document)
            if len({content_.as_text(head.content) for head in heads}) > 1:
                shown = Write(connection, "", "").version(noun, document)
                words = checks.name_of(connection, noun, document)
                came = [row[0] for row in connection.execute(
                    "SELECT id FROM versions WHERE document = ? ORDER BY rowid", (document,)
                )]  # fmt: skip
                here = min((head.version for head in heads), key=came.index)
                out.append(Conflict(document, noun, words, tuple(heads), shown, here))
    return tuple(out)
