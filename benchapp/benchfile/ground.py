"""What was known when a call was issued, and what of that has been edited since.

The audit chain answers it: every row names the rows before it, so what an issued call's own row leads back to is what
was known then, in whichever order two laptops' files were merged. What was added later was not under the call; what was
there and says something else now was.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from benchapp.benchfile.kinds import KINDS, Content

_NOT_UNDER = ("issued_call", "paste_mapping", "photo", "fitting")
"""Kinds that no call rests on."""


@dataclass(frozen=True, slots=True)
class Edited:
    """A document that was there when a call was issued and is not as it was: what it said `then`, what it says `now`.

    `builds`: (engine, build number) that it belonged or belongs to; the number is '' for the engine itself."""

    kind: str
    document: str
    then: Content
    now: Content
    builds: frozenset[tuple[str, str]]

    def differs_in(self) -> frozenset[str]:
        """Names of the columns that say something else ('rows' for the rows)."""
        return frozenset(name for name in {*self.then, *self.now} if self.then.get(name) != self.now.get(name))


def edited_since(connection: sqlite3.Connection, issued: Collection[str]) -> dict[str, tuple[Edited, ...]]:
    """Issued call's id -> what it may rest on and was edited since; only calls that have something such."""
    rows = {call: row for call, row in _issue_rows(connection) if call in issued}
    edits = _edits(connection)
    if not rows or not edits:
        return {}
    chain = _Chain(connection)
    histories: dict[str, _History] = {}
    out = {}
    for call, row in rows.items():
        known = chain.known_at(row)
        touched = {document: kind for audit, kind, document in edits if audit not in known}
        found = []
        for document, kind in touched.items():
            if document not in histories:
                histories[document] = _History(connection, kind, document)
            edited = histories[document].since(known)
            if edited is not None:
                found.append(edited)
        if found:
            out[call] = tuple(found)
    return out


def _issue_rows(connection: sqlite3.Connection) -> list[tuple[str, str]]:
    """(issued call, audit row that brought it)."""
    return connection.execute(
        "SELECT c.document, c.audit FROM audit_changes c JOIN audit a ON a.id = c.audit "
        "WHERE c.kind = 'issued_call' AND c.before = '' AND a.kind != 'merge'"
    ).fetchall()


def _edits(connection: sqlite3.Connection) -> list[tuple[str, str, str]]:
    """(audit row, kind, document) of every change of something that was there before."""
    rows = connection.execute("SELECT audit, kind, document FROM audit_changes WHERE before != ''").fetchall()
    return [row for row in rows if row[1] in KINDS and row[1] not in _NOT_UNDER]


class _Chain:
    """Which audit rows a row leads back to."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        rows = connection.execute("SELECT id, prev, kind FROM audit ORDER BY seq").fetchall()
        self._order = [row[0] for row in rows]
        self._place = {id_: place for place, id_ in enumerate(self._order)}
        self._forked = any(row[2] == "merge" for row in rows)
        self._before = {row[0]: tuple(json.loads(row[1])) for row in rows} if self._forked else {}

    def known_at(self, row: str) -> frozenset[str]:
        """The row and all before it."""
        if not self._forked:
            return frozenset(self._order[: self._place[row] + 1])
        known, ahead = {row}, [row]
        while ahead:
            for before in self._before.get(ahead.pop(), ()):
                if before not in known:
                    known.add(before)
                    ahead.append(before)
        return frozenset(known)


class _History:
    """All states of one document."""

    def __init__(self, connection: sqlite3.Connection, kind: str, document: str) -> None:
        self.kind, self.document = kind, document
        self._states: dict[str, tuple[str, frozenset[str], Any]] = {
            id_: (at, frozenset(json.loads(parents)), json.loads(content))
            for id_, at, parents, content in connection.execute(
                "SELECT id, at, parents, content FROM versions WHERE document = ?", (document,)
            )
        }
        self._brought = connection.execute(
            "SELECT audit, after FROM audit_changes WHERE document = ?", (document,)
        ).fetchall()
        self._builds = _builds(connection, kind, document, (state[2] for state in self._states.values()))

    def since(self, known: frozenset[str]) -> Edited | None:
        """What became of it since, or None where it was not there then or is as it was."""
        then = self._shown({after for audit, after in self._brought if audit in known})
        now = self._shown(set(self._states))
        if then is None or now is None or then == now:
            return None
        return Edited(self.kind, self.document, then, now, self._builds)

    def _shown(self, versions: set[str]) -> Content | None:
        """The state that these versions show: of several that nobody built upon the latest, as a merge shows it."""
        states = {id_: self._states[id_] for id_ in versions if id_ in self._states}
        built_upon = {parent for _, parents, _ in states.values() for parent in parents}
        heads = [(at, id_, content) for id_, (at, _, content) in states.items() if id_ not in built_upon]
        return max(heads, key=lambda head: head[:2])[2] if heads else None


def _builds(
    connection: sqlite3.Connection, kind: str, document: str, contents: Iterable[Content]
) -> frozenset[tuple[str, str]]:
    """(engine, build number), as they are called now, that the states of a document name."""
    named = "SELECT e.name, b.number FROM builds b JOIN engines e ON e.id = b.engine_id WHERE b.id = ?"
    if kind == "engine":
        named, ids = "SELECT name, '' FROM engines WHERE id = ?", {document}
    elif kind == "build":
        ids = {document}
    elif KINDS[kind].linked_to == "build":
        ids = {content["build_id"] for content in contents}
    else:
        return frozenset()
    return frozenset((str(row[0]), str(row[1])) for id_ in ids for row in connection.execute(named, (id_,)))
