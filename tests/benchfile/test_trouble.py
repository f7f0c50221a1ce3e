"""Every SQLite error becomes three sentences, chosen by its code."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from benchapp.benchfile import trouble

PATH = Path("team.bench")


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("SQLITE_FULL", "is full"),
        ("SQLITE_READONLY_DBMOVED", "cannot be written"),
        ("SQLITE_PERM", "cannot be written"),
        ("SQLITE_BUSY", "by another program just now"),
        ("SQLITE_LOCKED_SHAREDCACHE", "by another program just now"),
        ("SQLITE_NOTADB", "not a bench file"),
        ("SQLITE_CORRUPT_INDEX", "is damaged"),
        ("SQLITE_CANTOPEN_ISDIR", "cannot be opened"),
        ("SQLITE_IOERR_FSYNC", "does not answer"),
        ("SQLITE_CONSTRAINT_FOREIGNKEY", "does not fit"),
        ("SQLITE_NOMEM", "could not be used (SQLITE_NOMEM)"),
        ("", "could not be used (OperationalError)"),
    ],
)
def test_words(name, says):
    error = sqlite3.OperationalError("text that is not looked at")
    error.sqlite_errorname = name
    problem = trouble.explain(error, PATH)
    assert says in problem.what
    assert problem.means
    assert problem.do


def test_a_failed_rule_says_itself():
    error = sqlite3.IntegrityError("CHECK constraint failed: rpm must lie between 0 and 100000")
    error.sqlite_errorname = "SQLITE_CONSTRAINT_CHECK"
    assert trouble.explain(error, PATH).what == "A value was refused: rpm must lie between 0 and 100000."


def test_details_of_damage():
    assert trouble.damaged(PATH, "page 3").what == "team.bench is damaged (page 3)."
