"""Checked copies of a bench file: backups with rotation, copies for another laptop, restoring one.

A copy is made through SQLite's backup interface into a temporary file in the target folder, flushed, opened again
read-only and checked, and only then given its name. The live file is never opened by hand.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import re
import sqlite3
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path

from benchapp.benchfile import checks, trouble
from benchapp.benchfile.lock import Lock
from benchapp.problems import BenchProblem
from benchapp.progress import NOBODY, Progress

_STAMP = re.compile(r"^(?P<stem>.*) (?P<stamp>\d{4}-\d\d-\d\dT\d\d-\d\d-\d\d)(\.\d+)?Z\.bench$")

KEEP_ALL_DAYS = 2
KEEP_DAILY = 12
KEEP_WEEKLY = 10
KEEP_MONTHLY = 9


@dataclass(frozen=True, slots=True)
class Kept:
    """A kept copy and when it was made (UTC)."""

    path: Path
    made_at: dt.datetime


def backup_folder(path: Path) -> Path:
    """The folder of a bench file's backups, beside it."""
    return path.with_name(f"{path.stem} backups")


def read_only_uri(path: Path) -> str:
    """How SQLite is told to open a file without ever writing to it."""
    return path.resolve().as_uri() + "?mode=ro"


def flush_folder(folder: Path) -> None:
    """Flushes a folder's entries to the disk (where the system can)."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def flush_file(path: Path) -> None:
    """Flushes a closed file that no database connection of ours has open."""
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


PAGES_AT_ONCE = 128
"""Pages that a copy takes before others may go on (half a megabyte)."""


def look_through(path: Path, progress: Progress = NOBODY) -> list[str]:
    """Full check of a file that nobody writes (a copy): what was found, in words. Raises BenchProblem if it is none."""
    with trouble.in_words(path), contextlib.closing(sqlite3.connect(read_only_uri(path), uri=True)) as connection:
        checks.harden(connection, foreign=True)
        version = checks.version_of(connection, path)
        checks.refuse_strange(connection, path, version)
        return checks.full(connection, progress)


def look_through_live(path: Path, progress: Progress = NOBODY) -> list[str]:
    """As `look_through`, of a file that may be written meanwhile: a copy in memory is checked, of one moment.

    A file that is none at all is a finding; BenchProblem where it could not be looked at (in use, no disk)."""
    try:
        return _look_through_copy(path, progress)
    except BenchProblem as problem:
        if isinstance(problem.__cause__, sqlite3.OperationalError):  # says nothing about what the file holds
            raise
        return [problem.what]


def _look_through_copy(path: Path, progress: Progress) -> list[str]:
    with (
        trouble.in_words(path),
        contextlib.closing(sqlite3.connect(read_only_uri(path), uri=True)) as source,
        contextlib.closing(sqlite3.connect(":memory:", isolation_level=None)) as copy,
    ):
        checks.harden(source, foreign=True)
        version = checks.version_of(source, path)
        progress.step("Taking a copy to check")
        source.backup(copy)
        checks.harden(copy, foreign=True)
        checks.refuse_strange(copy, path, version)
        return checks.full(copy, progress)


def _temporary(target: Path) -> Path:
    return target.with_name(f".{target.name}.part-{os.getpid()}")


def _remove(temporary: Path) -> None:
    for path in (temporary, temporary.with_name(temporary.name + "-journal")):
        with contextlib.suppress(OSError):
            path.unlink()


def copy_to(
    source: sqlite3.Connection,
    target: Path,
    progress: Progress = NOBODY,
    between: Callable[[], None] | None = None,
    alone: Callable[[], AbstractContextManager[object]] = contextlib.nullcontext,
) -> Path:
    """Copies an open bench file to `target`, checked before it gets that name (and never over an existing file).

    `alone`: held while the source is read; `between`: called after every half megabyte of it. What is written to the
    source meanwhile, through the same connection, is in the copy too."""
    if target.exists():
        raise BenchProblem(
            f"There is a file {target.name} already.", "It was left as it is.", "Choose another name."
        )
    temporary = _temporary(target)
    _remove(temporary)
    try:
        with trouble.in_words(target):
            with contextlib.closing(sqlite3.connect(temporary, isolation_level=None)) as copy:
                with alone():
                    source.backup(copy, pages=PAGES_AT_ONCE, progress=_stepping(progress, between))
                copy.execute("PRAGMA journal_mode = DELETE")
            flush_file(temporary)
            found = look_through(temporary, progress)
        if found:
            raise BenchProblem(
                f"The copy {target.name} was not kept: {found[0]}",
                "The bench file itself, the disk or the stick may be damaged; earlier backups were left alone.",
                "Run benchapp verify on the bench file, and restore the last good backup if it finds anything.",
            )
        temporary.rename(target)
        flush_folder(target.parent)
    except OSError as error:
        raise _cannot_keep(target, error) from error
    finally:
        _remove(temporary)
    return target


def _stepping(progress: Progress, between: Callable[[], None] | None) -> Callable[[int, int, int], None]:
    """What is called between two steps of a copy."""

    def stepped(_status: int, remaining: int, total: int) -> None:
        progress.step("Copying", 1.0 - remaining / total if total else 1.0)
        if between is not None:
            between()

    return stepped


def _cannot_keep(target: Path, error: OSError) -> BenchProblem:
    return BenchProblem(
        f"No copy could be written to {target.parent} ({error.strerror or type(error).__name__}).",
        "The bench file itself is untouched.",
        "Check that the folder is there and that its disk has room, then try again.",
    )


def stamp(moment: dt.datetime) -> str:
    """A moment as it stands in a backup's name: sortable, allowed on every file system."""
    return moment.astimezone(dt.UTC).strftime("%Y-%m-%dT%H-%M-%S.%f")[:-3] + "Z"


def backups_in(folder: Path, stem: str) -> list[Kept]:
    """Backups of the bench file called `stem` in a folder, the newest first."""
    if not folder.is_dir():
        return []
    out = []
    for path in folder.iterdir():
        found = _STAMP.match(path.name)
        if found and found["stem"] == stem:
            with contextlib.suppress(ValueError):
                when = dt.datetime.strptime(found["stamp"], "%Y-%m-%dT%H-%M-%S").replace(tzinfo=dt.UTC)
                out.append(Kept(path, when))
    return sorted(out, key=lambda kept: kept.path.name, reverse=True)


def to_keep(moments: Iterable[dt.datetime], now: dt.datetime) -> set[dt.datetime]:
    """Which backups stay: all of two days, then the newest of each of 12 days, 10 weeks and 9 months.

    The newest of all stays whatever its age; one dated in the future (a clock set back) stays too."""
    ordered = sorted(set(moments), reverse=True)
    keep = {moment for moment in ordered if moment > now - dt.timedelta(days=KEEP_ALL_DAYS)} | set(ordered[:1])
    older = [moment for moment in ordered if moment <= now - dt.timedelta(days=KEEP_ALL_DAYS)]
    for label, many in (("%Y-%m-%d", KEEP_DAILY), ("%G-%V", KEEP_WEEKLY), ("%Y-%m", KEEP_MONTHLY)):
        newest: dict[str, dt.datetime] = {}
        for moment in older:
            newest.setdefault(moment.strftime(label), moment)
        keep |= set(list(newest.values())[:many])
    return keep


def thin_out(folder: Path, stem: str, now: dt.datetime) -> None:
    """Removes the backups that need not stay."""
    kept = backups_in(folder, stem)
    keep = to_keep((each.made_at for each in kept), now)
    for each in kept:
        if each.made_at not in keep:
            with contextlib.suppress(OSError):
                each.path.unlink()


def back_up(
    source: sqlite3.Connection,
    path: Path,
    folder: Path,
    now: dt.datetime,
    progress: Progress = NOBODY,
    between: Callable[[], None] | None = None,
    alone: Callable[[], AbstractContextManager[object]] = contextlib.nullcontext,
) -> Kept:
    """Makes a checked backup of the open bench file `path` in `folder`, then thins the folder out; see `copy_to`."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _cannot_keep(folder / path.name, error) from error
    target = folder / f"{path.stem} {stamp(now)}.bench"
    if target.exists():  # two within one millisecond, or a clock set back
        return Kept(target, now)
    copy_to(source, target, progress, between, alone)
    thin_out(folder, path.stem, now)
    return Kept(target, now)


def restore(
    path: Path,
    backup: Path | None,
    now: dt.datetime,
    who: str,
    take_over: bool = False,
    progress: Progress = NOBODY,
) -> Path | None:
    """Puts a backup (None: the newest that checks out) in the place of `path`; see `actions.safety.restore`.

    What was there goes aside under a name of its own, with its journal. Returns where it is."""
    chosen = backup or _newest_good(path, progress)
    if not chosen.is_file():
        raise BenchProblem(
            f"There is no file {chosen}.", "Nothing was changed.", "Choose one of the kept backups."
        )
    if found := look_through(chosen, progress):
        raise BenchProblem(
            f"The backup {chosen.name} is damaged: {found[0]}",
            "Nothing was changed.",
            "Choose an earlier backup.",
        )
    lock = Lock(path)
    try:
        if not lock.take(who, take_over):
            holder = lock.holder.words() if lock.holder else "another program"
            raise BenchProblem(
                f"{path.name} is open ({holder}).", "Nothing was changed.", "Close it there, then restore."
            )
        try:
            return _put_in_place(path, chosen, now, progress)
        finally:
            lock.give_back()
    except OSError as error:
        raise BenchProblem(
            f"The backup could not be put in place ({error.strerror or type(error).__name__}).",
            "The bench file and its backups are still there.",
            "Check that the folder can be written and its disk has room, then try again.",
        ) from error


def _newest_good(path: Path, progress: Progress) -> Path:
    for kept in backups_in(backup_folder(path), path.stem):
        with contextlib.suppress(BenchProblem):
            if not look_through(kept.path, progress):
                return kept.path
    raise BenchProblem(
        f"No sound backup of {path.name} was found in {backup_folder(path).name}.",
        "Nothing was changed.",
        "Look for a copy on the second folder or stick, and restore that one (--from).",
    )


def _put_in_place(path: Path, chosen: Path, now: dt.datetime, progress: Progress) -> Path | None:
    """May be stopped until the backup is whole beside the file; from the first change of a name on it goes through."""
    temporary = _temporary(path)
    _remove(temporary)
    try:
        with trouble.in_words(path):
            with (
                contextlib.closing(sqlite3.connect(read_only_uri(chosen), uri=True)) as source,
                contextlib.closing(sqlite3.connect(temporary, isolation_level=None)) as copy,
            ):
                source.backup(copy, pages=PAGES_AT_ONCE, progress=_stepping(progress, None))
            flush_file(temporary)
            if found := look_through(temporary, progress):
                raise trouble.damaged(temporary, found[0])
        aside = _set_aside(path, now) if path.exists() else None
        temporary.replace(path)
        flush_folder(path.parent)
    finally:
        _remove(temporary)
    return aside


def _set_aside(path: Path, now: dt.datetime) -> Path:
    """Gives the present file a second name. Its unfinished journal goes along: it must not spoil the backup."""
    aside = path.with_name(f"{path.stem} set aside {stamp(now)}.bench")
    try:
        os.link(path, aside)
    except OSError:  # no hard links here (a USB stick)
        path.rename(aside)
    journal = path.with_name(path.name + "-journal")
    if journal.exists():
        journal.rename(aside.with_name(aside.name + "-journal"))
    return aside
