"""SQLite's errors in words a person can act on."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from benchapp.problems import BenchProblem

NOTHING_WRITTEN = "Nothing was written; what was saved before is safe."


def disk_full(path: Path) -> BenchProblem:
    return BenchProblem(
        f"The disk that holds {path.name} is full.",
        NOTHING_WRITTEN,
        "Free some space (or copy the bench file out to another disk), then do it again.",
    )


def cannot_write(path: Path) -> BenchProblem:
    return BenchProblem(
        f"{path.name} cannot be written: the file, its folder or the medium is write-protected.",
        NOTHING_WRITTEN,
        "Copy the bench file to a folder of your own and open it there.",
    )


def in_use(path: Path) -> BenchProblem:
    return BenchProblem(
        f"{path.name} is being written by another program just now.",
        NOTHING_WRITTEN,
        "Close the other program (a backup or sync tool, a second window) and do it again.",
    )


def damaged(path: Path, detail: str = "") -> BenchProblem:
    found = f" ({detail})" if detail else ""
    return BenchProblem(
        f"{path.name} is damaged{found}.",
        "Some of what it holds may be lost or wrong; nothing was written to it.",
        "Restore the last backup (benchapp restore), then look through what was entered since.",
    )


def not_a_bench_file(path: Path, detail: str) -> BenchProblem:
    return BenchProblem(
        f"{path.name} is not a bench file: {detail}.",
        "It was left as it is.",
        "Choose another file, or start a new bench file under another name.",
    )


def explain(error: sqlite3.Error, path: Path) -> BenchProblem:
    """The sentence for an SQLite error, by its code and never by its text; a failed CHECK carries its own sentence."""
    name = getattr(error, "sqlite_errorname", "") or ""
    if name.startswith("SQLITE_FULL") or name == "SQLITE_IOERR_WRITE":
        return disk_full(path)
    if name.startswith(("SQLITE_READONLY", "SQLITE_PERM")):
        return cannot_write(path)
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return in_use(path)
    if name == "SQLITE_NOTADB":
        return not_a_bench_file(path, "its contents are something else")
    if name.startswith(("SQLITE_CORRUPT", "SQLITE_FORMAT")):
        return damaged(path)
    if name.startswith("SQLITE_CONSTRAINT"):
        return _refused(error, name)
    if name.startswith("SQLITE_CANTOPEN"):
        return BenchProblem(
            f"{path.name} cannot be opened.",
            "Nothing was changed.",
            "Check that the folder is still there, that it can be written, and that the disk is not full.",
        )
    if name.startswith("SQLITE_IOERR"):
        return BenchProblem(
            f"The disk that holds {path.name} does not answer as it should ({name}).",
            NOTHING_WRITTEN,
            "Check the disk or stick and its cable, then open the file again.",
        )
    return BenchProblem(
        f"{path.name} could not be used ({name or type(error).__name__}).",
        NOTHING_WRITTEN,
        "Close the program and open the file again; if it happens again, run benchapp verify.",
    )


def _refused(error: sqlite3.Error, name: str) -> BenchProblem:
    text = str(error)
    if name == "SQLITE_CONSTRAINT_CHECK" and ": " in text:
        rule = text.split(": ", 1)[1]
        return BenchProblem(f"A value was refused: {rule}.", NOTHING_WRITTEN, "Correct the value and do it again.")
    return BenchProblem(
        "A value was refused because it does not fit the bench file's tables.",
        NOTHING_WRITTEN,
        "Check what was entered for missing names and values, and do it again.",
    )


@contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Turns SQLite's errors into BenchProblem."""
    try:
        yield
    except sqlite3.Error as error:
        raise explain(error, path) from error
    except UnicodeDecodeError as error:
        raise damaged(path, "it holds text that cannot be read") from error
