"""One write transaction: documents put or voided, their versions kept, what changed remembered for the audit."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import sqlite3
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain
from typing import Any

from benchapp.benchfile import content as content_
from benchapp.benchfile.kinds import KINDS, Content, Kind


def now_text() -> str:
    """Now, ISO 8601 in UTC [ms]."""
    return dt.datetime.now(dt.UTC).isoformat(timespec="milliseconds")


@dataclass(frozen=True, slots=True)
class Step:
    """One document's change: version ids before ('' for a new one) and after."""

    kind: str
    document: str
    before: str
    after: str


@dataclass(slots=True)
class Write:
    """The open transaction. `steps` grows as documents are put; the audit row is written from it at the end."""

    connection: sqlite3.Connection
    who: str
    origin: str
    at: str = field(default_factory=now_text)
    steps: list[Step] = field(default_factory=list)
    nouns: set[str] = field(default_factory=set)
    """What to say has changed, besides the kinds of the documents put."""
    engines: set[str] = field(default_factory=set)
    """Names of the engines that changed."""

    # --- reading inside the transaction

    def get(self, noun: str, document: str) -> Content | None:
        """Content of a document as it is now (also a void one), or None."""
        return read_document(self.connection, KINDS[noun], document)

    def get_all(self, noun: str, documents: Collection[str]) -> dict[str, Content]:
        """Id -> content of those of the documents that there are (also void ones)."""
        return read_documents(self.connection, KINDS[noun], documents)

    def version(self, noun: str, document: str) -> str:
        """Id of the visible version, or ''."""
        row = self.connection.execute(f"SELECT version FROM {KINDS[noun].table} WHERE id = ?", (document,)).fetchone()
        return "" if row is None else str(row[0])

    def find(self, noun: str, **values: Any) -> list[tuple[str, Content]]:
        """(id, content) of the documents that are not void and have these values, oldest first."""
        kind = KINDS[noun]
        known = {name for name, _ in kind.columns}
        assert set(values) <= known, f"{noun} has no {set(values) - known}"
        where = "".join(f" AND {name} IS ?" for name in values)
        rows = self.connection.execute(
            f"SELECT id FROM {kind.table} WHERE void = ''{where} ORDER BY rowid", tuple(values.values())
        ).fetchall()
        found = [(str(row[0]), self.get(noun, str(row[0]))) for row in rows]
        return [(document, content) for document, content in found if content is not None]

    # --- writing

    def put(self, noun: str, document: str, content: Content) -> bool:
        """Writes the document's new state as a version of its own. False when it is the state it has already."""
        kind = KINDS[noun]
        fresh = content_.clean(noun, content)
        text = content_.as_text(fresh)
        content_hash = content_.digest(text)
        row = self.connection.execute(
            f"SELECT version, row_hash FROM {kind.table} WHERE id = ?", (document,)
        ).fetchone()
        heads = self._heads(document) if row is not None else None
        if row is not None and row[1] == content_hash and heads is None:
            return False
        before = "" if row is None else str(row[0])
        parents = sorted(heads) if heads else ([before] if before else [])
        version = content_.chain(noun, document, parents, content_hash, self.at, self.who, self.origin)
        self.connection.execute(
            "INSERT OR IGNORE INTO versions VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (version, noun, document, json.dumps(parents), text, content_hash, self.at, self.who, self.origin),
        )
        if heads:
            self.connection.execute("DELETE FROM conflicts WHERE document = ?", (document,))
        show(self.connection, kind, document, fresh, version, content_hash, self.origin, new=row is None)
        self.steps.append(Step(noun, document, before, version))
        return True

    def put_all(self, noun: str, contents: Mapping[str, Content]) -> None:
        """Many documents of one kind, by id: as `put` with each, in a third of the time for those that are new."""
        kind = KINDS[noun]
        known = existing(self.connection, kind, contents)
        fresh = []
        for document, content in contents.items():
            if document in known:
                self.put(noun, document, content)
            else:
                clean = content_.clean(noun, content)
                text = content_.as_text(clean)
                content_hash = content_.digest(text)
                version = content_.chain(noun, document, [], content_hash, self.at, self.who, self.origin)
                fresh.append(_Fresh(document, clean, text, content_hash, version))
        insert_all(
            self.connection,
            "INSERT OR IGNORE INTO versions",
            [
                (new.version, noun, new.document, "[]", new.text, new.content_hash, self.at, self.who, self.origin)
                for new in fresh
            ],
        )
        _show_fresh(self.connection, kind, fresh, self.origin)
        self.steps += [Step(noun, new.document, "", new.version) for new in fresh]

    def void(self, noun: str, document: str, reason: str) -> bool:
        """Hides a document; nothing is destroyed."""
        content = self.get(noun, document)
        if content is None:
            return False
        return self.put(noun, document, {**content, "void": reason or "void"})

    def keep_bytes(self, data: bytes) -> str:
        """Keeps the bytes of a photo by their hash (once, however often they come); the hash [hex]."""
        sha256 = hashlib.sha256(data).hexdigest()
        self.connection.execute("INSERT OR IGNORE INTO photo_bytes VALUES (?, ?)", (sha256, data))
        return sha256

    def _heads(self, document: str) -> list[str] | None:
        row = self.connection.execute("SELECT heads FROM conflicts WHERE document = ?", (document,)).fetchone()
        return None if row is None else list(json.loads(row[0]))


@dataclass(frozen=True, slots=True)
class _Fresh:
    """A document that was not there before, ready to be written."""

    document: str
    content: Content
    text: str
    content_hash: str
    version: str


def existing(connection: sqlite3.Connection, kind: Kind, documents: Collection[str]) -> frozenset[str]:
    """Those of the ids under which the file holds a document (also a void one)."""
    wanted, found = list(documents), set[str]()
    for start in range(0, len(wanted), _AT_ONCE):
        some = wanted[start : start + _AT_ONCE]
        marks = ", ".join("?" * len(some))
        found.update(row[0] for row in connection.execute(f"SELECT id FROM {kind.table} WHERE id IN ({marks})", some))
    return frozenset(found)


_AT_ONCE = 500
"""Ids in one question: below what every SQLite takes (999)."""


def _show_fresh(connection: sqlite3.Connection, kind: Kind, fresh: Sequence[_Fresh], origin: str) -> None:
    """Writes the visible state of new documents: in the order they came, as `find` tells them by age; their rows in
    the order of their table's key, so that each goes onto the page where the one before it went."""
    names = ", ".join(name for name, _ in kind.columns)
    insert_all(
        connection,
        f"INSERT INTO {kind.table} (id, origin, version, row_hash, {names})",
        [(new.document, origin, new.version, new.content_hash, *kind.filled(new.content)) for new in fresh],
    )
    if kind.row_table:
        by_key = sorted(fresh, key=lambda new: new.document)
        _insert_rows(connection, kind, [(new.document, new.content["rows"]) for new in by_key])


def _insert_rows(connection: sqlite3.Connection, kind: Kind, rows_of: Sequence[tuple[str, list[list[Any]]]]) -> None:
    """The rows of documents, given as (id, rows)."""
    names = ", ".join(name for name, _ in kind.row_columns)
    insert_all(
        connection,
        f"INSERT INTO {kind.row_table} (owner, position, {names})",
        [(document, position, *row) for document, rows in rows_of for position, row in enumerate(rows)],
    )


_VALUES_AT_ONCE = 999
"""Values that every SQLite takes in one statement."""


def insert_all(connection: sqlite3.Connection, insert: str, rows: Sequence[Sequence[Any]]) -> None:
    """Inserts rows of one width. `insert`: the statement up to its values.

    Each statement takes as many rows as it may: most of what an insert costs is beginning and ending a statement, and
    one for each row takes nearly twice the time."""
    if not rows:
        return
    width = len(rows[0])
    row_marks = f"({', '.join('?' * width)})"
    at_once = _VALUES_AT_ONCE // width
    for start in range(0, len(rows), at_once):
        some = rows[start : start + at_once]
        marks = ", ".join([row_marks] * len(some))
        connection.execute(f"{insert} VALUES {marks}", list(chain.from_iterable(some)))


def show(
    connection: sqlite3.Connection,
    kind: Kind,
    document: str,
    content: Content,
    version: str,
    content_hash: str,
    origin: str,
    *,
    new: bool = False,
) -> None:
    """Writes a document's visible state into its tables. `new`: nothing of it is there yet."""
    names = [name for name, _ in kind.columns]
    values = kind.filled(content)
    updates = ", ".join(f"{name} = excluded.{name}" for name in ("origin", "version", "row_hash", *names))
    marks = ", ".join("?" * (4 + len(names)))
    connection.execute(
        f"INSERT INTO {kind.table} (id, origin, version, row_hash, {', '.join(names)}) VALUES ({marks}) "
        f"ON CONFLICT (id) DO UPDATE SET {updates}",
        (document, origin, version, content_hash, *values),
    )
    if not kind.row_table:
        return
    if not new:
        connection.execute(f"DELETE FROM {kind.row_table} WHERE owner = ?", (document,))
    _insert_rows(connection, kind, [(document, content["rows"])])


def read_document(connection: sqlite3.Connection, kind: Kind, document: str) -> Content | None:
    """Content of one document from its tables, or None."""
    names = [name for name, _ in kind.columns]
    row = connection.execute(f"SELECT {', '.join(names)} FROM {kind.table} WHERE id = ?", (document,)).fetchone()
    if row is None:
        return None
    out: Content = kind.without_empty(dict(zip(names, row, strict=True)))
    if kind.row_table:
        row_names = ", ".join(name for name, _ in kind.row_columns)
        rows = connection.execute(
            f"SELECT {row_names} FROM {kind.row_table} WHERE owner = ? ORDER BY position", (document,)
        ).fetchall()
        out["rows"] = [list(each) for each in rows]
    return out


def read_documents(connection: sqlite3.Connection, kind: Kind, documents: Collection[str]) -> dict[str, Content]:
    """Id -> content of those of the documents that there are."""
    found = {id_: read_document(connection, kind, id_) for id_ in existing(connection, kind, documents)}
    return {id_: content for id_, content in found.items() if content is not None}
