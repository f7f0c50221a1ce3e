"""Damage and hostile files are noticed before they are believed."""

from __future__ import annotations

import sqlite3

import pytest

from benchapp.benchfile import schema
from benchapp.benchfile.file import BenchFile
from benchapp.problems import BenchProblem
from tests.benchfile.making import a_sample, put_run, put_sample


def tamper(path, *statements):
    """Changes a closed file behind the program's back."""
    connection = sqlite3.connect(path, isolation_level=None)
    for statement in statements:
        connection.execute(statement)
    connection.close()


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("UPDATE readings SET value = 13.5 WHERE measurand = 'Fe'", "sample S-1 is not as it was saved"),
        ("UPDATE readings SET qualifier = '>' WHERE measurand = 'Fe'", "sample S-1 is not as it was saved"),
        ("DELETE FROM readings WHERE measurand = 'Fe'", "sample S-1 is not as it was saved"),
        ("UPDATE readings SET position = 9 WHERE position = 2", "sample S-1 is not as it was saved"),
        ("UPDATE samples SET build_h = 4", "sample S-1 is not as it was saved"),
        ("UPDATE samples SET row_hash = 'x'", "sample S-1 is not as it was saved"),
        ("UPDATE samples SET version = 'x'", "sample S-1 is not as it was saved"),
        ("UPDATE engines SET name = 'E-2'", "engine E-2 is not as it was saved"),
    ],
)
def test_a_changed_row_makes_the_file_read_only_at_start(file, path, statement, says):
    file.close()
    tamper(path, statement)
    again = BenchFile.open(path)
    assert again.read_only
    assert says in again.why_read_only
    assert "restore" in again.why_read_only
    assert any(says in line for line in again.verify())
    with pytest.raises(BenchProblem, match="read-only"):
        put_run(again)
    again.close()


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("UPDATE audit SET who = 'Bob' WHERE seq = 1", "audit row"),
        ("UPDATE audit SET label = 'nothing' WHERE seq = 2", "audit row"),
        ("DELETE FROM audit_changes WHERE position = 1", "audit row"),
        ("PRAGMA foreign_keys = OFF; DELETE FROM audit WHERE seq = 2", "not accounted for"),
        ("PRAGMA foreign_keys = OFF; DELETE FROM audit WHERE seq = 1", "missing from the chain"),
        ("UPDATE versions SET content = replace(content, '12.5', '13.5')", "not as they were written"),
        ("UPDATE versions SET who = 'Bob'", "not as they were written"),
        ("DELETE FROM versions WHERE kind = 'fill'", "not accounted for"),
    ],
)
def test_a_changed_history_is_found(file, path, statement, says):
    put_sample(file, a_sample(fe=14.0))
    file.close()
    tamper(path, *statement.split("; "))
    again = BenchFile.open(path)
    assert any(says in line for line in again.verify()), again.verify()
    assert again.read_only  # and the start met it already
    assert any(says in line for line in again.damage)
    again.close()


@pytest.mark.parametrize(
    "statement",
    [
        "CREATE TRIGGER t AFTER INSERT ON samples BEGIN DELETE FROM readings; END",
        "CREATE VIEW v AS SELECT * FROM samples",
        "CREATE TABLE more (x)",
        "ALTER TABLE samples ADD COLUMN more TEXT",
        "DROP TABLE photos",
        "CREATE INDEX i ON samples (hold)",
        "PRAGMA application_id = 7",
    ],
)
def test_what_this_program_did_not_make_is_refused(file, path, statement):
    file.close()
    tamper(path, statement)
    with pytest.raises(BenchProblem, match="not a bench file") as caught:
        BenchFile.open(path)
    assert "left as it is" in caught.value.means


def test_a_newer_file_is_refused_kindly(file, path):
    file.close()
    tamper(path, f"PRAGMA user_version = {schema.SCHEMA_VERSION + 1}")
    with pytest.raises(BenchProblem, match="newer version") as caught:
        BenchFile.open(path)
    assert "nothing is lost" in caught.value.means
    assert "Install the newer version" in caught.value.do


def test_a_row_without_its_owner_is_found(file, path):
    file.close()
    tamper(path, "PRAGMA foreign_keys = OFF", "DELETE FROM builds")
    again = BenchFile.open(path, read_only=True)
    assert any("belong to something that is missing" in line for line in again.verify())
    again.close()


def test_an_unreadable_time_of_the_last_entry(file, path):
    file.close()
    tamper(path, "UPDATE audit SET at = 'x' || at")
    again = BenchFile.open(path)
    assert again.read_only
    assert "could not be read to the end" in again.why_read_only
    again.close()


def test_a_file_cut_short(file, path):
    file.close()
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    with pytest.raises(BenchProblem, match="is damaged"):
        BenchFile.open(path)
