"""The audit: one row a transaction, chained by hash, and the undo stack that follows from it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from benchapp.benchfile import content as content_
from benchapp.benchfile.write import Step, insert_all

UNDO_STEPS = 200
"""How many steps back a person can go."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One audit row. `kind`: 'do', 'undo', 'redo', 'issue' or 'merge'. `undoes`: what an undo or redo is about."""

    id: str
    prev: tuple[str, ...]
    at: str
    who: str
    origin: str
    kind: str
    label: str
    nouns: tuple[str, ...]
    engines: tuple[str, ...]
    undoes: str
    steps: tuple[Step, ...]


def entry_id(
    prev: Sequence[str],
    at: str,
    who: str,
    origin: str,
    kind: str,
    label: str,
    nouns: Sequence[str],
    engines: Sequence[str],
    undoes: str,
    steps: Iterable[Step],
) -> str:
    """The hash that names an audit row and holds its place in the chain."""
    listed = [[step.kind, step.document, step.before, step.after] for step in steps]
    return content_.chain(list(prev), at, who, origin, kind, label, list(nouns), list(engines), undoes, listed)


def heads(connection: sqlite3.Connection) -> tuple[str, ...]:
    """Audit rows that no other row follows: one, or one of each file after a merge.

    Only the rows since the last merge need looking at: every row names all heads of its time."""
    named: set[str] = set()
    ends: list[str] = []
    cursor = connection.execute("SELECT id, prev FROM audit ORDER BY seq DESC")
    for id_, prev in cursor:
        if id_ not in named:
            ends.append(str(id_))
        named.update(json.loads(prev))
        if len(ends) == 1 and _is_last(connection):
            break
    return tuple(sorted(ends))


def _is_last(connection: sqlite3.Connection) -> bool:
    """True when the last row was written here and not brought in by a merge: it then follows all others."""
    row = connection.execute("SELECT value FROM settings WHERE name = 'audit_forked'").fetchone()
    return row is None or row[0] == ""


def write_entry(
    connection: sqlite3.Connection,
    *,
    at: str,
    who: str,
    origin: str,
    kind: str,
    label: str,
    nouns: Iterable[str],
    engines: Iterable[str],
    undoes: str,
    steps: Sequence[Step],
) -> str:
    """Writes the audit row of a transaction and returns its id."""
    prev = heads(connection)
    noun_list, engine_list = sorted(set(nouns)), sorted(set(engines))
    id_ = entry_id(prev, at, who, origin, kind, label, noun_list, engine_list, undoes, steps)
    connection.execute(
        "INSERT INTO audit (id, prev, at, who, origin, kind, label, nouns, engines, undoes) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (id_, json.dumps(prev), at, who, origin, kind, label, json.dumps(noun_list), json.dumps(engine_list), undoes),
    )
    insert_all(
        connection,
        "INSERT INTO audit_changes",
        [(id_, n, step.kind, step.document, step.before, step.after) for n, step in enumerate(steps)],
    )
    connection.execute("DELETE FROM settings WHERE name = 'audit_forked'")
    return id_


def read_entry(connection: sqlite3.Connection, id_: str) -> Entry:
    """One audit row with its steps."""
    row = connection.execute(
        "SELECT id, prev, at, who, origin, kind, label, nouns, engines, undoes FROM audit WHERE id = ?", (id_,)
    ).fetchone()
    steps = connection.execute(
        "SELECT kind, document, before, after FROM audit_changes WHERE audit = ? ORDER BY position", (id_,)
    ).fetchall()
    prev, nouns, engines = (tuple(json.loads(row[index])) for index in (1, 7, 8))
    return Entry(row[0], prev, row[2], row[3], row[4], row[5], row[6], nouns, engines, row[9],
                 tuple(Step(*step) for step in steps))  # fmt: skip


@dataclass(slots=True)
class UndoStack:
    """(audit row, label) of what can be taken back and done again, the next one last."""

    undo: list[tuple[str, str]]
    redo: list[tuple[str, str]]

    def note(self, id_: str, kind: str, label: str, undoes: str) -> None:
        """Follows one audit row. What a merge brought cannot be undone step by step, nor what was before it."""
        if kind == "do":
            self.undo.append((id_, label))
            self.redo.clear()
            del self.undo[:-UNDO_STEPS]
        elif kind == "undo" and self.undo and self.undo[-1][0] == undoes:
            self.redo.append(self.undo.pop())
        elif kind == "redo" and self.redo and self.redo[-1][0] == undoes:
            self.undo.append(self.redo.pop())
        elif kind == "merge":
            self.undo.clear()
            self.redo.clear()


def undo_stack(connection: sqlite3.Connection) -> UndoStack:
    """The stack as it follows from the audit's last rows: it outlives closing the file."""
    rows = connection.execute(
        "SELECT id, kind, label, undoes FROM audit ORDER BY seq DESC LIMIT ?", (UNDO_STEPS * 4,)
    ).fetchall()
    stack = UndoStack([], [])
    for id_, kind, label, undoes in reversed(rows):
        stack.note(str(id_), str(kind), str(label), str(undoes))
    return stack
