"""One file of every released version is kept: each opens, is brought up to date, and says what it said."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest

from benchapp.actions import call, draft, sample
from benchapp.actions.bench import Bench
from benchapp.benchfile import copies, schema
from benchapp.problems import BenchProblem

RELEASED = sorted((Path(__file__).parent / "released").glob("version-*.bench.gz"))


def version_of(kept: Path) -> int:
    return int(kept.name.split("-")[1].split(".")[0])


@pytest.fixture(params=RELEASED, ids=[kept.name for kept in RELEASED])
def released(request, tmp_path):
    """A released file, unpacked, and its version."""
    path = tmp_path / "team.bench"
    path.write_bytes(gzip.decompress(request.param.read_bytes()))
    return path, version_of(request.param)


def test_every_older_version_is_kept():
    assert {version_of(kept) for kept in RELEASED} >= set(range(1, schema.SCHEMA_VERSION))


def look(bench):
    """What the released files are known to hold."""
    assert [engine.name for engine in bench.fleet().engines] == ["E-1", "E-2"]
    assert [s.code for s in bench.build("E-1", "1").samples] == ["S-1", "S-2", "S-3", "007"]
    assert next(r.value for r in bench.find_sample("S-1")[2].readings if r.measurand == "Fe") == 55.0
    assert [w.sample.code for w in sample.waiting(bench)] == ["W-1"]
    assert len(sample.history(bench, "S-1")) == 2
    assert draft.get(bench, "entry") == {"code": "S-9"} or bench.read_only
    assert len(call.issued(bench, "S-2")) == 1
    assert bench.file.verify() == ()


def test_it_is_brought_up_to_date_with_a_backup_before(released):
    path, version = released
    with Bench.open(path) as bench:
        assert not bench.read_only
        look(bench)
        assert bench.undo_label == "Withdraw sample S-3" or bench.redo_label == "Withdraw sample S-3"
        bench.redo()
        assert len(bench.build("E-1", "1").samples) == 3
        bench.undo()
        with bench.file.reading() as connection:
            assert connection.execute("PRAGMA user_version").fetchone()[0] == schema.SCHEMA_VERSION
    kept = copies.backups_in(copies.backup_folder(path), path.stem)
    assert len(kept) == (2 if version < schema.SCHEMA_VERSION else 1)
    with Bench.open(path) as bench:
        look(bench)


def test_read_only_it_is_left_as_it_is(released):
    path, _ = released
    before = path.read_bytes()
    with Bench.open(path, read_only=True) as bench:
        look(bench)
    assert path.read_bytes() == before


def test_it_can_be_merged(released, tmp_path):
    from benchapp.actions import safety

    path, _ = released
    with Bench.create(tmp_path / "new.bench") as bench:
        safety.merge(bench, path)
        assert [engine.name for engine in bench.fleet().engines] == ["E-1", "E-2"]
        assert bench.file.verify() == ()


@pytest.mark.skipif(schema.SCHEMA_VERSION < 2, reason="there is nothing to migrate yet")
def test_a_migration_that_fails_leaves_the_file_as_it_was(tmp_path, monkeypatch):
    path = tmp_path / "team.bench"
    path.write_bytes(gzip.decompress(RELEASED[0].read_bytes()))
    before = path.read_bytes()
    real, calls = schema.migrate, []

    def stops_the_second_time(connection, *arguments):
        calls.append(1)
        if len(calls) == 2:  # the first is the trial in a copy
            connection.execute("BEGIN")
            connection.execute("CREATE TABLE half (x)")
            connection.execute("ROLLBACK")
            raise BenchProblem("The power went.", "", "")
        real(connection, *arguments)

    monkeypatch.setattr(schema, "migrate", stops_the_second_time)
    with pytest.raises(BenchProblem, match="power went"):
        Bench.open(path)
    assert path.read_bytes() == before
    monkeypatch.setattr(schema, "migrate", real)
    with Bench.open(path) as bench:
        look(bench)
