"""The short form of every fault: a few rounds, and nothing may go wrong. `python -m tests.torture` is the long form."""

from __future__ import annotations

import sys

import pytest

from tests.torture import faults

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals and small disks of POSIX systems")


def nothing_wrong(row: faults.Row) -> None:
    assert row.rounds
    assert (row.losses, row.half_writes, row.unnoticed) == (0, 0, 0), row.details


def test_killed_while_writing(tmp_path):
    nothing_wrong(faults.kill_nine(tmp_path, 4, seed=7))


def test_disk_full(tmp_path):
    nothing_wrong(faults.disk_full(tmp_path, 40, stride=8))


def test_read_only_medium(tmp_path):
    nothing_wrong(faults.read_only_medium(tmp_path, 1))


def test_second_instance(tmp_path):
    nothing_wrong(faults.second_instance(tmp_path, 5))


def test_bit_flips(tmp_path):
    nothing_wrong(faults.bit_flips(tmp_path, 120))


def test_hostile_files(tmp_path):
    nothing_wrong(faults.hostile_files(tmp_path))


def test_clock_backwards(tmp_path):
    nothing_wrong(faults.clock_backwards(tmp_path, 10))


def test_laptops_merged(tmp_path):
    nothing_wrong(faults.merge_orders(tmp_path, 1))


def test_old_versions(tmp_path):
    nothing_wrong(faults.released_files(tmp_path))


def test_fuzzed_pastes(tmp_path):
    nothing_wrong(faults.fuzzed_pastes(tmp_path, 40))


def test_workbooks_with_one_bad_cell(tmp_path):
    nothing_wrong(faults.bad_workbooks(tmp_path, 6))


def test_a_bit_flipped_in_an_index_is_noticed_before_a_sample_is_missed(tmp_path):
    import sqlite3

    from benchapp.actions.bench import Bench
    from tests.torture.made import small_bench, tiny_pages

    path = tiny_pages(small_bench(tmp_path))
    connection = sqlite3.connect(path)
    (page,) = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'samples_of_build'").fetchone()
    connection.close()
    data = bytearray(path.read_bytes())
    key = data.index(b"-", (page - 1) * 512)  # within the first key: a build's id
    assert key < page * 512
    data[key + 1] ^= 1
    path.write_bytes(data)
    with Bench.open(path) as bench:
        assert bench.damaged
        assert "missing from index samples_of_build" in bench.why_read_only
