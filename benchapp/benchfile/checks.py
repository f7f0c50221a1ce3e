"""Is this file what it says it is, and whole? Looks before anything in it is believed.

`integrity_check` alone finds about half of random bit flips in a small file and lets a third through as changed data;
so every document carries a hash over its content, every version over its content and its origins, every audit row over
what went before it.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from benchapp.benchfile import audit, schema, trouble
from benchapp.benchfile import content as content_
from benchapp.benchfile.kinds import KINDS, Kind
from benchapp.problems import BenchProblem
from benchapp.progress import NOBODY, Progress


def harden(connection: sqlite3.Connection, foreign: bool = False) -> None:
    """Settings for every connection, before anything is read; must run outside a transaction."""
    connection.execute("PRAGMA trusted_schema = OFF")
    connection.execute("PRAGMA cell_size_check = ON")
    connection.execute("PRAGMA mmap_size = 0")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA busy_timeout = 5000")
    connection.execute("PRAGMA recursive_triggers = OFF")
    connection.setlimit(sqlite3.SQLITE_LIMIT_ATTACHED, 0)
    connection.setlimit(sqlite3.SQLITE_LIMIT_TRIGGER_DEPTH, 1)
    if foreign:
        connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, 64 * 1024 * 1024)
        connection.setlimit(sqlite3.SQLITE_LIMIT_SQL_LENGTH, 1024 * 1024)
        connection.setlimit(sqlite3.SQLITE_LIMIT_COLUMN, 100)


def version_of(connection: sqlite3.Connection, path: Path) -> int:
    """Schema version of a bench file. Raises BenchProblem for another program's file, or a newer one's."""
    mark = connection.execute("PRAGMA application_id").fetchone()[0]
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    if mark != schema.APPLICATION_ID:
        raise trouble.not_a_bench_file(path, "it belongs to another program")
    if version > schema.SCHEMA_VERSION:
        raise BenchProblem(
            f"{path.name} was written by a newer version of this program.",
            "It was left as it is; nothing is lost.",
            "Install the newer version on this computer, then open the file again.",
        )
    return version


def refuse_strange(connection: sqlite3.Connection, path: Path, version: int) -> None:
    """Raises BenchProblem when the file holds triggers, views, tables or columns that this program did not make."""
    strange = schema.strange_things(connection, version)
    if strange:
        shown = ", ".join(name[:60] for name in strange[:3]) + ("…" if len(strange) > 3 else "")
        raise trouble.not_a_bench_file(path, f"it holds things that this program did not make, or lacks some ({shown})")


def at_start(connection: sqlite3.Connection, progress: Progress = NOBODY) -> list[str]:
    """What every start looks at: structure, indexes, references, present states and the whole history with its audit
    chain; found things in words.

    SQLite's quick check would be too little: it leaves indexes out, and one flipped bit in an index can hide a sample
    (seen in the bit-flip sweep). The history costs a third of this again, and without it damage there would only be met
    when somebody asks for the full check."""
    with stoppable(connection, progress):
        progress.step("Checking its structure", 0.0)
        found = _pragma(connection, "integrity_check")
        return found or list(_looks(connection, progress))


def full(connection: sqlite3.Connection, progress: Progress = NOBODY) -> list[str]:
    """Everything: structure, references, hashes, audit chain. What was found, in words; empty is good."""
    with stoppable(connection, progress):
        progress.step("Checking its structure", 0.0)
        found = _pragma(connection, "integrity_check")
        found += _read_to_the_end(connection, progress)
    return found


@contextmanager
def stoppable(connection: sqlite3.Connection, progress: Progress) -> Iterator[None]:
    """SQLite is interrupted within a statement once somebody asked to stop. Raises Stopped at the end then."""
    if progress is not NOBODY:
        connection.set_progress_handler(lambda: progress.stopped, 50_000)
    try:
        yield
    finally:
        connection.set_progress_handler(None, 0)
        progress.step()


def _looks(connection: sqlite3.Connection, progress: Progress) -> Iterator[str]:
    """What the looks beyond the structure find; the shares are those of their time in a large file."""
    for words, share, look in (
        ("Checking what belongs to what", 0.10, references),
        ("Checking every record against its hash", 0.15, documents),
        ("Checking the history", 0.75, versions),
        ("Checking the audit chain", 0.90, audit_chain),
    ):
        progress.step(words, share)
        yield from look(connection)


def _read_to_the_end(connection: sqlite3.Connection, progress: Progress) -> list[str]:
    found = []
    try:
        found += _looks(connection, progress)
        progress.step("Checking the photos", 0.95)
        found += photos(connection)
    except sqlite3.DatabaseError as error:
        found.append(f"The file could not be read to the end ({getattr(error, 'sqlite_errorname', 'error')}).")
    except (ValueError, TypeError, OverflowError) as error:
        found.append(f"The file holds a value that cannot be read ({type(error).__name__}).")
    return found


def _pragma(connection: sqlite3.Connection, check: str) -> list[str]:
    try:
        rows = connection.execute(f"PRAGMA {check}").fetchall()
    except sqlite3.DatabaseError as error:
        return [f"The file's structure cannot be read ({getattr(error, 'sqlite_errorname', 'error')})."]
    except (ValueError, OverflowError):  # a message about garbage that is no text
        return ["The file's structure is damaged."]
    return [f"The file's structure: {row[0]}." for row in rows if row[0] != "ok"]


def references(connection: sqlite3.Connection) -> list[str]:
    """Rows whose owner is missing (`integrity_check` does not look for that)."""
    rows = connection.execute("PRAGMA foreign_key_check").fetchall()
    counts: dict[str, int] = {}
    for table, *_ in rows:
        counts[str(table)] = counts.get(str(table), 0) + 1
    return [f"{count} row(s) of {table} belong to something that is missing." for table, count in counts.items()]


def _contents(connection: sqlite3.Connection, kind: Kind) -> Iterator[tuple[str, str, str, str, str]]:
    """(id, origin, version, row_hash as stored, hash over what is there) of every document of a kind."""
    there = {row[1] for row in connection.execute(f"PRAGMA table_info({kind.table})")}
    names = [name for name, _ in kind.columns if name in there or name not in kind.added]  # an older file lacks some
    rows: dict[str, list[list[object]]] = {}
    moved: set[str] = set()
    if kind.row_table:
        row_names = ", ".join(name for name, _ in kind.row_columns)
        for owner, position, *row in connection.execute(
            f"SELECT owner, position, {row_names} FROM {kind.row_table} ORDER BY owner, position"
        ):
            listed = rows.setdefault(owner, [])
            if position != len(listed):  # no hash covers it: rows are numbered from 0 without a gap
                moved.add(owner)
            listed.append(row)
    cursor = connection.execute(f"SELECT id, origin, version, row_hash, {', '.join(names)} FROM {kind.table}")
    for id_, origin, version, row_hash, *values in cursor:
        content = kind.without_empty(dict(zip(names, values, strict=True)))
        if kind.row_table:
            content["rows"] = rows.pop(id_, [])
        hash_now = content_.digest(content_.as_text(content)) if id_ not in moved else "rows out of place"
        yield id_, origin, version, row_hash, hash_now
    for owner in rows:
        yield owner, "", "", "", "rows without an owner"


def documents(connection: sqlite3.Connection) -> list[str]:
    """Documents whose present state is not what was saved. A sample's hash covers all its readings."""
    saved = {
        row[0]: row[1:] for row in connection.execute("SELECT id, document, content_hash, origin FROM versions")
    }
    found = []
    there = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    for noun, kind in KINDS.items():
        if kind.table not in there:  # a file of an older version; `refuse_strange` knows what must be there
            continue
        for id_, origin, version, row_hash, hash_now in _contents(connection, kind):
            if hash_now != row_hash or saved.get(version) != (id_, row_hash, origin):
                found.append(f"{name_of(connection, noun, id_)} is not as it was saved.")
    return found


def photos(connection: sqlite3.Connection) -> list[str]:
    """Photos whose bytes are not those that their hash names, or are missing."""
    bad, there = 0, set()
    for sha256, data in connection.execute("SELECT sha256, bytes FROM photo_bytes"):
        bad += hashlib.sha256(data).hexdigest() != sha256
        there.add(sha256)
    lost = {row[0] for row in connection.execute("SELECT sha256 FROM photos")} - there
    found = [f"{bad} photo(s) are not as they were saved."] if bad else []
    return [*found, *([f"The bytes of {len(lost)} photo(s) are missing."] if lost else [])]


def name_of(connection: sqlite3.Connection, noun: str, document: str) -> str:
    """A document in words ('sample 24-017')."""
    kind = KINDS[noun]
    last = kind.names[-1] if noun in ("fill", "build") else kind.names[0]
    word = noun.replace("_", " ")
    if last == "build_id":
        return f"a {word}"
    try:
        row = connection.execute(f"SELECT {last} FROM {kind.table} WHERE id = ?", (document,)).fetchone()
    except sqlite3.DatabaseError:
        row = None
    return f"a {word}" if row is None else f"{word} {row[0]}"


def versions(connection: sqlite3.Connection) -> list[str]:
    """Versions whose content or place in the history is not as it was written, or is missing."""
    found = []
    parents_of: dict[str, list[str]] = {}
    bad = 0
    cursor = connection.execute(
        "SELECT id, kind, document, parents, content, content_hash, at, who, origin FROM versions"
    )
    for id_, noun, document, parents_text, content, content_hash, at, who, origin in cursor:
        parents = [] if parents_text == "[]" else json.loads(parents_text)  # most have none
        parents_of[id_] = parents
        if content_.digest(content) != content_hash or id_ != content_.chain(
            noun, document, parents, content_hash, at, who, origin
        ):
            bad += 1
    missing = {parent for parents in parents_of.values() for parent in parents} - parents_of.keys()
    if bad:
        found.append(f"{bad} earlier state(s) in the history are not as they were written.")
    if missing:
        found.append(f"{len(missing)} earlier state(s) are missing from the history.")
    return found


def audit_chain(connection: sqlite3.Connection) -> list[str]:
    """Audit rows altered, missing or out of the chain; states that no audit row accounts for."""
    found = []
    ids: set[str] = set()
    bad = missing = 0
    steps: dict[str, list[audit.Step]] = {}
    for id_, *step in connection.execute(
        "SELECT audit, kind, document, before, after FROM audit_changes ORDER BY audit, position"
    ):
        steps.setdefault(id_, []).append(audit.Step(*step))
    cursor = connection.execute(
        "SELECT id, prev, at, who, origin, kind, label, nouns, engines, undoes FROM audit ORDER BY seq"
    )
    for id_, prev, at, who, origin, kind, label, nouns, engines, undoes in cursor:
        before = json.loads(prev)
        missing += sum(each not in ids for each in before)
        ids.add(id_)
        if id_ != audit.entry_id(
            before, at, who, origin, kind, label, json.loads(nouns), json.loads(engines), undoes, steps.pop(id_, [])
        ):
            bad += 1
    if bad:
        found.append(f"{bad} audit row(s) are not as they were written.")
    if missing:
        found.append(f"{missing} audit row(s) are missing from the chain.")
    loose = connection.execute(
        "SELECT count(*) FROM versions WHERE id NOT IN (SELECT after FROM audit_changes)"
    ).fetchone()[0]
    lost = connection.execute(
        "SELECT count(*) FROM audit_changes WHERE after NOT IN (SELECT id FROM versions)"
    ).fetchone()[0]
    if steps or loose or lost:
        found.append(f"{len(steps) + loose + lost} change(s) are not accounted for by the audit.")
    return found
