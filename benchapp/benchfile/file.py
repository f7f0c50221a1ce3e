"""An open bench file: opening with all checks, reading, one write transaction at a time, undo, drafts, settings.

`journal_mode=DELETE`, `synchronous=EXTRA`, one connection: what `write` has committed is on the disk. One lock of our
own serialises use from several threads (a backup or a check may run in a worker).
"""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import json
import os
import socket
import sqlite3
import threading
import time
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from benchapp.benchfile import audit, checks, copies, ground, place, read, schema, trouble
from benchapp.benchfile import content as content_
from benchapp.benchfile.kinds import KINDS, Content
from benchapp.benchfile.lock import Lock, user_name
from benchapp.benchfile.write import Step, Write, now_text, read_document, read_documents
from benchapp.problems import BenchProblem
from benchapp.progress import NOBODY, Progress
from benchapp.records import Family, Fleet, Material, Sample

BACKUP_EVERY = dt.timedelta(minutes=30)
_CLOCK_SLACK = dt.timedelta(minutes=2)


@dataclass(frozen=True, slots=True)
class Past:
    """One state of a document: who wrote it when and by what deed, and its content before ({} for none) and after."""

    at: str
    who: str
    label: str
    before: Content
    after: Content


class BenchFile:
    """See the module. Made by `create` or `open`."""

    def __init__(self, path: Path, connection: sqlite3.Connection, lock: Lock | None, who: str) -> None:
        self.path = path
        self.who = who or user_name()
        self.origin = socket.gethostname()
        self.why_read_only = ""
        self.damage: tuple[str, ...] = ()
        """What the check at start found, or one since, in words."""
        self.notices: tuple[str, ...] = ()
        self._connection: sqlite3.Connection | None = connection
        self._lock = lock
        self._mutex = threading.RLock()
        self._copying = threading.RLock()
        """Held over a whole copy, which lets go of `_mutex` between its steps; taken before `_mutex`."""
        self._stack = audit.UndoStack([], [])
        self._backed_up_seq = 0
        self._backed_up_at: dt.datetime | None = None

    # --- opening and closing

    @classmethod
    def create(cls, path: Path, who: str = "") -> BenchFile:
        """A new, empty bench file. It gets its name only when it is whole."""
        _refuse_existing(path)
        temporary = path.with_name(f".{path.name}.new-{os.getpid()}")
        try:
            with trouble.in_words(path), contextlib.closing(_connect(temporary, "rwc")) as connection:
                checks.harden(connection)
                schema.migrate(connection)
                connection.executemany(
                    "INSERT INTO settings VALUES (?, ?)",
                    [("created_at", now_text()), ("created_by", who or user_name())],
                )
            copies.flush_file(temporary)
            _refuse_existing(path)
            temporary.rename(path)
            copies.flush_folder(path.parent)
        except OSError as error:
            raise BenchProblem(
                f"{path} could not be made ({error.strerror or type(error).__name__}).",
                "Nothing was written.",
                "Choose a folder of your own on a disk with room.",
            ) from error
        finally:
            for left in (temporary, temporary.with_name(temporary.name + "-journal")):
                with contextlib.suppress(OSError):
                    left.unlink()
        return cls.open(path, who=who)

    @classmethod
    def open(
        cls,
        path: Path,
        read_only: bool = False,
        who: str = "",
        take_over: bool = False,
        progress: Progress = NOBODY,
    ) -> BenchFile:
        """Opens, locks and checks a bench file; see `actions.bench.Bench.open`."""
        _refuse_no_file(path)
        lock, why, unclean = _take_lock(path, read_only, who or user_name(), take_over)
        connection: sqlite3.Connection | None = None
        try:
            with trouble.in_words(path):
                connection = _connect(path, "rw" if lock else "ro")
                out = cls(path, connection, lock, who)
                out._begin(why, unclean, progress)
                return out
        except BaseException:
            if connection is not None:
                connection.close()
            if lock is not None:
                lock.give_back(clean=not unclean)
            raise

    def _begin(self, why: str, unclean: bool, progress: Progress) -> None:
        """Checks first, then settings, then what a person should know."""
        connection = self._conn
        checks.harden(connection)
        version = checks.version_of(connection, self.path)
        checks.refuse_strange(connection, self.path, version)
        with self._reading():
            found = self._check_at_start(unclean, progress)
        self.damage = tuple(found)
        self.why_read_only = why
        if found:
            self.why_read_only = _damage_words(self.path, found)
        if not self.read_only:
            connection.execute("PRAGMA journal_mode = DELETE")
            connection.execute("PRAGMA synchronous = EXTRA")
        if version < schema.SCHEMA_VERSION:
            progress.step("Bringing it up to this version")
            self._bring_up(version)
        if not found:
            self._stack = audit.undo_stack(self._conn)
        kept = copies.backups_in(copies.backup_folder(self.path), self.path.stem)
        known = bool(kept) and not unclean
        self._backed_up_seq = self._last_seq() if known else 0
        self.notices = tuple(self._notices(unclean))

    def _check_at_start(self, unclean: bool, progress: Progress) -> list[str]:
        if unclean:
            return checks.full(self._conn, progress)
        try:
            self._last_entry()
            return checks.at_start(self._conn, progress)
        except (sqlite3.DatabaseError, ValueError, TypeError, OverflowError) as error:
            return [f"The file could not be read to the end ({type(error).__name__})."]

    def _notices(self, unclean: bool) -> Iterator[str]:
        if unclean and not self.damage:
            yield (
                f"{self.path.name} was not closed properly last time. It was checked in full: nothing is damaged, and "
                "everything that was saved is there. What was being typed is offered again."
            )
        for words in (place.low_space(self.path), place.doubtful_place(self.path), self._clock()):
            if words:
                yield words

    def _last_entry(self) -> dt.datetime | None:
        """When the last entry was made. Raises ValueError where that cannot be read."""
        row = self._conn.execute("SELECT at FROM audit ORDER BY seq DESC LIMIT 1").fetchone()
        return None if row is None else dt.datetime.fromisoformat(row[0]).astimezone(dt.UTC)

    def _clock(self) -> str:
        """A warning when this computer's clock is behind the last entry."""
        if self.damage:
            return ""
        last = self._last_entry()
        if last is None or last <= dt.datetime.now(dt.UTC) + _CLOCK_SLACK:
            return ""
        return (
            f"This computer's clock is behind the last entry ({last:%Y-%m-%d %H:%M} UTC). Nothing is lost: "
            "entries keep their order, but new ones carry a wrong time. Set the clock, then open the file again."
        )

    def _bring_up(self, version: int) -> None:
        """An older file: migrated in a copy first, backed up, then migrated; a read-only one in memory."""
        trial = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
        self._conn.backup(trial)
        schema.migrate(trial)
        if found := checks.full(trial):
            trial.close()
            raise trouble.damaged(self.path, found[0])
        if self.read_only:
            self._conn.close()
            self._connection = trial
            return
        trial.close()
        copies.back_up(self._conn, self.path, copies.backup_folder(self.path), dt.datetime.now(dt.UTC))
        schema.migrate(self._conn)

    @property
    def read_only(self) -> bool:
        return bool(self.why_read_only)

    @property
    def _conn(self) -> sqlite3.Connection:
        if self._connection is None:
            raise BenchProblem(f"{self.path.name} is closed.", "Nothing was changed.", "Open it again.")
        return self._connection

    def close(self) -> None:
        """Backs up if something changed, closes, gives the lock back. Safe to call twice."""
        with self._copying, self._mutex:
            if self._connection is None:
                return
            with contextlib.suppress(BenchProblem):
                self.back_up_if_changed()
            self._connection.close()
            self._connection = None
            if self._lock is not None:
                self._lock.give_back(clean=not self.damage)
                self._lock = None

    # --- reading

    def read_fleet(
        self,
        families: Mapping[str, Family] = MappingProxyType({}),
        materials: Mapping[str, Material] = MappingProxyType({}),
        old: Fleet | None = None,
        engines: Collection[str] | None = None,
    ) -> Fleet:
        """The whole file as records (`old` with `engines`: only these are read again); the library's `families` and
        `materials` stand behind the file's own."""
        with self._reading() as connection:
            return read.read_fleet(connection, families, materials, old, engines)

    @contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        """Where another program may be writing, all that is read is of one moment."""
        with self._mutex, trouble.in_words(self.path):
            connection = self._conn
            alone = self._lock is not None or connection.in_transaction
            if not alone:
                connection.execute("BEGIN")
            try:
                yield connection
            except (ValueError, TypeError, OverflowError) as error:
                raise trouble.damaged(self.path, f"a value cannot be read: {type(error).__name__}") from error
            finally:
                if not alone and connection.in_transaction:
                    connection.execute("ROLLBACK")

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """The connection for reading by this room's other modules, errors in words."""
        with self._reading() as connection:
            yield connection

    def forget_undo(self) -> None:
        """After a merge nothing before it can be undone step by step."""
        self._stack = audit.undo_stack(self._conn)

    def waiting(self) -> tuple[tuple[Sample, str], ...]:
        """Samples waiting for an engine and since when, oldest first."""
        with self._reading() as connection:
            return read.read_waiting(connection)

    def engine_ids(self) -> dict[str, str]:
        """Shown name -> id of every engine."""
        with self._reading() as connection:
            return read.engine_ids(connection)

    def get(self, noun: str, document: str) -> Content | None:
        """Content of a document (also a void one), or None."""
        with self._reading() as connection:
            return read_document(connection, KINDS[noun], document)

    def get_all(self, noun: str, documents: Collection[str]) -> dict[str, Content]:
        """Id -> content of those of the documents that there are (also void ones)."""
        with self._reading() as connection:
            return read_documents(connection, KINDS[noun], documents)

    def find(self, noun: str, **values: Any) -> list[tuple[str, Content]]:
        """(id, content) of the documents that are not void and have these values."""
        with self._reading() as connection:
            return Write(connection, self.who, self.origin).find(noun, **values)

    def all_of(self, noun: str) -> list[tuple[str, Content]]:
        """(id, content) of every document of a kind that is not void, in a few queries."""
        kind = KINDS[noun]
        names = [name for name, _ in kind.columns]
        with self._reading() as connection:
            found = {
                str(id_): kind.without_empty(dict(zip(names, values, strict=True)))
                for id_, *values in connection.execute(
                    f"SELECT id, {', '.join(names)} FROM {kind.table} WHERE void = '' ORDER BY rowid"
                )
            }
            if kind.row_table:
                row_names = ", ".join(name for name, _ in kind.row_columns)
                for content in found.values():
                    content["rows"] = []
                for owner, *row in connection.execute(
                    f"SELECT owner, {row_names} FROM {kind.row_table} ORDER BY owner, position"
                ):
                    if owner in found:
                        found[owner]["rows"].append(row)
        return list(found.items())

    def bytes_of(self, sha256: str) -> bytes:
        """The bytes kept under a hash [hex]. Raises BenchProblem where they are missing or not what was saved."""
        with self._reading() as connection:
            row = connection.execute("SELECT bytes FROM photo_bytes WHERE sha256 = ?", (sha256,)).fetchone()
        if row is None or hashlib.sha256(row[0]).hexdigest() != sha256:
            raise BenchProblem(
                "This photo is missing in the bench file." if row is None else "This photo is not as it was saved.",
                "The entry it belongs to is untouched; the picture cannot be shown.",
                "Check the bench file (menu Help), and restore a backup that still has it.",
            )
        return bytes(row[0])

    def past(self, document: str) -> tuple[Past, ...]:
        """Every audited change of a document, oldest first."""
        with self._reading() as connection:
            rows = connection.execute(
                "SELECT a.at, a.who, a.label, b.content, v.content FROM audit_changes c JOIN audit a ON a.id = c.audit "
                "LEFT JOIN versions b ON b.id = c.before JOIN versions v ON v.id = c.after "
                "WHERE c.document = ? ORDER BY a.at, a.seq",
                (document,),
            ).fetchall()
            return tuple(
                Past(at, who, label, json.loads(before) if before else {}, json.loads(after))
                for at, who, label, before, after in rows
            )

    # --- writing

    def stop_writing(self, found: Sequence[str]) -> None:
        """After a check that found damage: from now on nothing is written, nor a backup made of what is damaged.

        The lock is left as after an unclean stop, so that the file is checked in full when it is opened next."""
        self.damage = tuple(found)
        self.why_read_only = _damage_words(self.path, list(found))

    def _must_write(self) -> None:
        if self.read_only:
            raise BenchProblem(f"{self.path.name} is open read-only.", "Nothing was written.", self.why_read_only)

    @contextmanager
    def transaction(self) -> Iterator[sqlite3.Connection]:
        """One write transaction: all or nothing, errors in words."""
        self._must_write()
        with self._mutex, trouble.in_words(self.path):
            connection = self._conn
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield connection
                connection.execute("COMMIT")
            except BaseException:
                if connection.in_transaction:
                    with contextlib.suppress(sqlite3.Error):
                        connection.execute("ROLLBACK")
                raise

    @contextmanager
    def write(self, label: str, kind: str = "do", undoes: str = "", engines: Iterable[str] = ()) -> Iterator[Write]:
        """One audited write transaction. Nothing put: nothing written, not even an audit row."""
        id_ = ""
        with self.transaction() as connection:
            out = Write(connection, self.who, self.origin, engines=set(engines))
            yield out
            if out.steps:
                out.nouns |= {step.kind for step in out.steps}
                id_ = audit.write_entry(
                    connection, at=out.at, who=self.who, origin=self.origin, kind=kind, label=label, nouns=out.nouns,
                    engines=out.engines, undoes=undoes, steps=out.steps,
                )  # fmt: skip
        if id_:
            self._stack.note(id_, kind, label, undoes)

    # --- undo

    @property
    def undo_label(self) -> str:
        return self._stack.undo[-1][1] if self._stack.undo and not self.read_only else ""

    @property
    def redo_label(self) -> str:
        return self._stack.redo[-1][1] if self._stack.redo and not self.read_only else ""

    @contextmanager
    def undoing(self) -> Iterator[tuple[Write, audit.Entry]]:
        """Takes the last step back, in a transaction of its own."""
        with self._again("undo", self._stack.undo, "There is nothing to undo.") as (write, entry):
            for step in reversed(entry.steps):
                self._expect(write, step, step.after)
                before = self._content_of(step.before)
                if before is None:
                    write.put(step.kind, step.document, {**self._content_of_certain(step.after), "void": "undone"})
                else:
                    write.put(step.kind, step.document, before)
            yield write, entry

    @contextmanager
    def redoing(self) -> Iterator[tuple[Write, audit.Entry]]:
        """Does again what was last undone."""
        with self._again("redo", self._stack.redo, "There is nothing to do again.") as (write, entry):
            for step in entry.steps:
                write.put(step.kind, step.document, self._content_of_certain(step.after))
            yield write, entry

    @contextmanager
    def _again(self, kind: str, stack: list[tuple[str, str]], none: str) -> Iterator[tuple[Write, audit.Entry]]:
        self._must_write()
        if not stack:
            raise BenchProblem(none, "Nothing was changed.", "Go on.")
        id_, label = stack[-1]
        with self._reading() as connection:
            entry = audit.read_entry(connection, id_)
        with self.write(f"{kind.capitalize()}: {label}", kind, id_, entry.engines) as write:
            write.nouns |= set(entry.nouns)
            yield write, entry

    def _content_of(self, version: str) -> Content | None:
        row = self._conn.execute("SELECT content FROM versions WHERE id = ?", (version,)).fetchone()
        return None if row is None else json.loads(row[0])

    def _content_of_certain(self, version: str) -> Content:
        content = self._content_of(version)
        if content is None:
            raise trouble.damaged(self.path, "an earlier state is missing")
        return content

    def _expect(self, write: Write, step: Step, version: str) -> None:
        now = write.get(step.kind, step.document)
        if now != self._content_of(version):
            raise BenchProblem(
                f"This step can no longer be undone: {step.kind.replace('_', ' ')} has changed since.",
                "Nothing was changed.",
                "Correct it by hand; its history shows what it was.",
            )

    # --- drafts and settings (not part of the data: no audit, not merged)

    def keep_draft(self, name: str, data: str) -> None:
        """Keeps a draft; on the disk when this returns."""
        with self.transaction() as connection:
            connection.execute("INSERT OR REPLACE INTO drafts VALUES (?, ?, ?)", (name, data, now_text()))

    def draft(self, name: str) -> str | None:
        with self._reading() as connection:
            row = connection.execute("SELECT data FROM drafts WHERE name = ?", (name,)).fetchone()
            return None if row is None else str(row[0])

    def drop_draft(self, name: str) -> None:
        with self.transaction() as connection:
            connection.execute("DELETE FROM drafts WHERE name = ?", (name,))

    def draft_names(self) -> tuple[str, ...]:
        with self._reading() as connection:
            rows = connection.execute("SELECT name FROM drafts ORDER BY kept_at DESC, rowid DESC").fetchall()
            return tuple(str(row[0]) for row in rows)

    def setting(self, name: str) -> str:
        with self._reading() as connection:
            row = connection.execute("SELECT value FROM settings WHERE name = ?", (name,)).fetchone()
            return "" if row is None else str(row[0])

    def set_setting(self, name: str, value: str) -> None:
        with self.transaction() as connection:
            connection.execute("INSERT OR REPLACE INTO settings VALUES (?, ?)", (name, value))

    # --- the latest calls, kept so that opening shows them at once: no audit, not merged, may be dropped at any time

    def kept_calls(self) -> dict[str, tuple[str, str]]:
        """Engine -> (key of what it rests on, its latest call as text or ''). Rows that are not as they were written
        are left out: they cost a judging, nothing else."""
        with self._reading() as connection:
            rows = connection.execute("SELECT engine, key, call, row_hash FROM kept_calls").fetchall()
        return {
            engine: (key, call) for engine, key, call, row_hash in rows if row_hash == _kept_hash(engine, key, call)
        }

    def keep_calls(self, calls: Mapping[str, tuple[str, str]]) -> None:
        """Puts these in the place of all that were kept."""
        with self.transaction() as connection:
            connection.execute("DELETE FROM kept_calls")
            connection.executemany(
                "INSERT INTO kept_calls VALUES (?, ?, ?, ?)",
                [(engine, key, call, _kept_hash(engine, key, call)) for engine, (key, call) in calls.items()],
            )

    # --- issued calls: kept for good, only their mark changes

    def issued_inputs(self) -> list[tuple[str, str, str, str, str]]:
        """(id, sample, engine, hash of the inputs, why superseded or '') of every issued call."""
        with self._reading() as connection:
            return connection.execute(
                "SELECT c.id, c.sample, c.engine, c.inputs_hash, coalesce(s.reason, '') FROM issued_calls c "
                "LEFT JOIN superseded_calls s ON s.issued = c.id WHERE c.void = '' ORDER BY c.issued_at, c.id"
            ).fetchall()

    def edited_since(self, issued: Collection[str]) -> dict[str, tuple[ground.Edited, ...]]:
        """Issued call's id -> what was there when it was issued and was edited since."""
        with self._reading() as connection:
            return ground.edited_since(connection, issued)

    def mark_superseded(self, reasons: Mapping[str, str]) -> None:
        """Sets ('' clears) why issued calls are superseded."""
        with self.transaction() as connection:
            for issued, reason in reasons.items():
                connection.execute("DELETE FROM superseded_calls WHERE issued = ?", (issued,))
                if reason:
                    connection.execute("INSERT INTO superseded_calls VALUES (?, ?)", (issued, reason))

    # --- safety

    def _last_seq(self) -> int:
        try:
            with self._mutex:
                row = self._conn.execute("SELECT max(seq) FROM audit").fetchone()
        except sqlite3.DatabaseError:
            return 0
        return int(row[0] or 0)

    def verify(self) -> tuple[str, ...]:
        """Full check; what was found, in words."""
        with self._reading() as connection:
            strange = schema.strange_things(connection, int(connection.execute("PRAGMA user_version").fetchone()[0]))
            found = [f"The file holds something this program did not make, or lacks it: {name}." for name in strange]
            return (*found, *checks.full(connection))

    def back_up(self, folder: Path | None = None, progress: Progress = NOBODY) -> copies.Kept:
        """A checked backup now: beside the file and in the second folder, or only in `folder`."""
        now = dt.datetime.now(dt.UTC)
        with self._copying:
            if self.damage:
                raise trouble.damaged(self.path, self.damage[0])
            seq = self._last_seq()
            second = self.setting("second_folder") if folder is None else ""
            kept = self._copy_into(folder or copies.backup_folder(self.path), now, progress)
            if folder is None:
                self._backed_up_seq, self._backed_up_at = seq, now
                if second and Path(second).is_dir():
                    self._copy_into(Path(second), now, progress)
            return kept

    def _copy_into(self, folder: Path, now: dt.datetime, progress: Progress) -> copies.Kept:
        return copies.back_up(self._conn, self.path, folder, now, progress, self._let_others, lambda: self._mutex)

    def _let_others(self) -> None:
        """Between two steps of a copy: a change or a look that waits goes first."""
        self._mutex.release()
        try:
            time.sleep(0.0005)  # without it this thread would take the lock again before anyone woke up
        finally:
            self._mutex.acquire()

    def back_up_if_changed(
        self, every: dt.timedelta | None = None, progress: Progress = NOBODY
    ) -> copies.Kept | None:
        """A backup if something was written since the last one (`every`: and that one is so old)."""
        with self._copying:
            if self.read_only or self.damage or self._last_seq() == self._backed_up_seq:
                return None
            if every and self._backed_up_at and dt.datetime.now(dt.UTC) - self._backed_up_at < every:
                return None
            return self.back_up(progress=progress)

    def copy_out(self, target: Path, progress: Progress = NOBODY) -> Path:
        """A checked copy under another name."""
        with self._copying:
            return copies.copy_to(self._conn, target, progress, self._let_others, lambda: self._mutex)


def _kept_hash(engine: str, key: str, call: str) -> str:
    return content_.digest(content_.as_text({"engine": engine, "key": key, "call": call}))


def sqlite_version() -> str:
    """Version of the SQLite library in use."""
    return sqlite3.sqlite_version


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    uri = path.resolve().as_uri() + f"?mode={mode}"
    return sqlite3.connect(uri, uri=True, isolation_level=None, check_same_thread=False)


def _refuse_existing(path: Path) -> None:
    if path.exists():
        raise BenchProblem(f"There is a file {path.name} already.", "It was left as it is.", "Choose another name.")


def _refuse_no_file(path: Path) -> None:
    if path.is_dir():
        raise BenchProblem(f"{path} is a folder.", "Nothing was changed.", "Choose the bench file in it.")
    if not path.exists():
        raise BenchProblem(
            f"There is no file {path}.",
            "Nothing was changed.",
            "Check the name, or start a new bench file (benchapp new).",
        )
    if path.stat().st_size == 0:
        raise trouble.not_a_bench_file(path, "it is empty")


def _take_lock(path: Path, read_only: bool, who: str, take_over: bool) -> tuple[Lock | None, str, bool]:
    """(lock or None, why read-only, left by an unclean stop)."""
    if read_only:
        return None, "It was opened for reading only. Open it normally to change it.", False
    if not os.access(path, os.W_OK):
        return None, _PROTECTED, False
    lock = Lock(path)
    try:
        if lock.take(who, take_over):
            return lock, "", lock.unclean
    except OSError:
        return None, _PROTECTED, False
    holder = lock.holder.words() if lock.holder else "another program"
    return (
        None,
        f"It is open elsewhere already ({holder}). Work there, or close it there and open it here again.",
        False,
    )


_PROTECTED = (
    "The file or its folder is write-protected. Copy the bench file to a folder of your own and open it there to "
    "change it."
)


def _damage_words(path: Path, found: list[str]) -> str:
    more = f" (and {len(found) - 1} more)" if len(found) > 1 else ""
    return (
        f"{path.name} is damaged: {found[0]}{more} It can be looked at, but nothing is written to it. "
        "Restore the last backup (benchapp restore), then look through what was entered since."
    )
