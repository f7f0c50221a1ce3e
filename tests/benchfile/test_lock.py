"""One writer; an unclean stop is noticed; a second one reads and is told who writes."""

from __future__ import annotations

import datetime as dt
import json
import os
import socket
import stat

import pytest

from benchapp.benchfile import copies
from benchapp.benchfile import lock as lock_
from benchapp.benchfile.file import BenchFile
from benchapp.benchfile.lock import Holder, Lock, left_elsewhere, lock_path
from benchapp.problems import BenchProblem
from tests.benchfile.making import put_run


def test_the_second_reads_only_and_is_told_who_writes(file, path):
    second = BenchFile.open(path, who="Bob")
    assert second.read_only
    assert "open elsewhere already (Ann on this computer, since " in second.why_read_only
    assert len(second.read_fleet().engines) == 1
    with pytest.raises(BenchProblem):
        put_run(second)
    put_run(file)
    assert len(second.read_fleet().engines[0].builds[0].runs) == 1
    second.close()
    assert lock_.lock_path(path).exists()
    file.close()
    assert not lock_.lock_path(path).exists()


def test_after_closing_the_next_may_write(file, path):
    file.close()
    again = BenchFile.open(path)
    assert not again.read_only
    assert again.notices == ()
    again.close()


def left_behind(path, host):
    text = json.dumps({"who": "Cy", "host": host, "pid": 1, "since": "2026-05-03T10:00:00+00:00"})
    lock_.lock_path(path).write_text(text)


def test_an_unclean_stop_is_told_and_checked(file, path):
    file.close()
    left_behind(path, socket.gethostname())
    again = BenchFile.open(path)
    assert not again.read_only
    assert "was not closed properly last time" in again.notices[0]
    again.close()


def test_another_computers_lock_is_respected_until_taken_over(file, path):
    file.close()
    left_behind(path, "another-laptop")
    again = BenchFile.open(path)
    assert "Cy on another-laptop, since 2026-05-03" in again.why_read_only
    again.close()
    mine = BenchFile.open(path, take_over=True)
    assert not mine.read_only
    mine.close()


def test_a_restore_respects_another_computers_lock_until_told_otherwise(file, path):
    kept = file.back_up()
    file.close()
    left_behind(path, "another-laptop")
    now = dt.datetime.now(dt.UTC)
    with pytest.raises(BenchProblem, match="Cy on another-laptop"):
        copies.restore(path, kept.path, now, "Ann", take_over=False)
    assert copies.restore(path, kept.path, now, "Ann", take_over=True)
    BenchFile.open(path).close()


def test_a_lock_file_of_garbage_is_an_unclean_stop(file, path):
    file.close()
    lock_.lock_path(path).write_bytes(b"\xff\x00{")
    again = BenchFile.open(path)
    assert not again.read_only
    assert again.notices
    again.close()


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="the superuser may write everything")
def test_a_write_protected_folder_opens_read_only(file, path):
    file.close()
    path.parent.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        again = BenchFile.open(path)
        assert "write-protected" in again.why_read_only
        again.close()
    finally:
        path.parent.chmod(stat.S_IRWXU)


def test_a_lock_that_cannot_be_made_means_read_only(file, path, monkeypatch):
    file.close()

    def refused(*_, **__):
        raise PermissionError(13, "no")

    monkeypatch.setattr(Lock, "take", refused)
    again = BenchFile.open(path)
    assert "write-protected" in again.why_read_only
    again.close()


def test_words_for_a_holder():
    since = dt.datetime(2026, 5, 3, 10, 0, 27).astimezone()
    for zone in (None, dt.UTC, dt.timezone(dt.timedelta(hours=9))):
        told = Holder("Cy", "another-laptop", 1, since.astimezone(zone).isoformat()).words()
        assert told == "Cy on another-laptop, since 2026-05-03 10:00"
    assert Holder("Cy", "x", 1, "noon").words() == "Cy on x, since noon"
    assert Holder("", "", 0, "").words() == "someone on another computer, since an unknown time"


def test_a_user_without_a_name(monkeypatch):
    def unknown():
        raise KeyError("no such user")

    monkeypatch.setattr(lock_.getpass, "getuser", unknown)
    assert lock_.user_name() == "unknown"


def test_a_lock_left_elsewhere_is_told_from_one_that_is_held(tmp_path):
    path = tmp_path / "x.bench"
    assert left_elsewhere(path) is None
    text = json.dumps({"who": "anna", "host": "another", "pid": 1, "since": "2026-04-03"})
    lock_path(path).write_text(text, encoding="utf-8")
    assert left_elsewhere(path) == Holder("anna", "another", 1, "2026-04-03")
    held = Lock(path)
    assert held.take("ben", take_over=True)
    assert left_elsewhere(path) is None  # held here, now
    assert not Lock(path).take("carl")  # and looking did not loosen it
    held.give_back(clean=False)
    assert left_elsewhere(path) is None  # left by this computer: the next start takes it by itself
