"""Backups: checked before they are kept, thinned out by age, put back without losing what was there."""

from __future__ import annotations

import datetime as dt
import sqlite3

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.benchfile import copies
from benchapp.benchfile.file import BenchFile
from benchapp.problems import BenchProblem
from tests.benchfile.making import put_run, state

NOW = dt.datetime(2026, 6, 15, 12, tzinfo=dt.UTC)


def test_a_backup_opens_and_says_the_same(file):
    kept = file.back_up()
    other = BenchFile.open(kept.path, read_only=True)
    assert state(other) == state(file)
    assert other.verify() == ()
    other.close()


def test_on_close_only_if_something_changed(file, path):
    file.close()
    folder = copies.backup_folder(path)
    assert len(copies.backups_in(folder, path.stem)) == 1
    BenchFile.open(path).close()
    assert len(copies.backups_in(folder, path.stem)) == 1
    again = BenchFile.open(path)
    put_run(again)
    again.close()
    assert len(copies.backups_in(folder, path.stem)) == 2


def test_due_only_after_half_an_hour(file):
    assert file.back_up_if_changed(dt.timedelta(minutes=30)) is not None
    put_run(file)
    assert file.back_up_if_changed(dt.timedelta(minutes=30)) is None
    assert file.back_up_if_changed(dt.timedelta(0)) is not None
    assert file.back_up_if_changed(dt.timedelta(0)) is None


def test_a_second_folder_gets_one_too(file, tmp_path):
    stick = tmp_path / "stick"
    stick.mkdir()
    file.set_setting("second_folder", str(stick))
    file.back_up()
    assert len(list(stick.glob("*.bench"))) == 1


def test_no_backup_is_kept_of_a_damaged_file(file, path):
    file.close()
    good = len(copies.backups_in(copies.backup_folder(path), path.stem))
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("UPDATE readings SET value = value + 1")
    connection.close()
    again = BenchFile.open(path)
    with pytest.raises(BenchProblem, match="damaged"):
        again.back_up()
    again.close()
    with sqlite3.connect(path) as source, pytest.raises(BenchProblem, match="was not kept"):
        copies.copy_to(source, path.with_name("copy.bench"))
    source.close()
    assert not path.with_name("copy.bench").exists()
    assert len(copies.backups_in(copies.backup_folder(path), path.stem)) == good


def test_a_copy_never_replaces_a_file(file, tmp_path):
    target = tmp_path / "copy.bench"
    file.copy_out(target)
    with pytest.raises(BenchProblem, match="already"):
        file.copy_out(target)


def test_no_folder_for_the_copy(file, tmp_path):
    with pytest.raises(BenchProblem) as caught:
        file.copy_out(tmp_path / "no" / "copy.bench")
    assert caught.value.do


def test_restore_brings_yesterday_back_and_keeps_today_aside(file, path):
    file.close()
    yesterday = BenchFile.open(path)
    was = state(yesterday)
    put_run(yesterday)
    today = state(yesterday)
    yesterday.close()
    oldest = copies.backups_in(copies.backup_folder(path), path.stem)[-1].path
    aside = copies.restore(path, oldest, NOW, "Ann")
    back = BenchFile.open(path)
    assert state(back) == was
    assert not back.read_only
    back.close()
    kept = BenchFile.open(aside, read_only=True)
    assert state(kept) == today
    kept.close()


def test_restore_without_a_choice_takes_the_newest_sound_one(file, path):
    file.close()
    again = BenchFile.open(path)
    put_run(again)
    want = state(again)
    again.close()
    copies.backup_folder(path).joinpath("team 2099-01-01T00-00-00.000Z.bench").write_bytes(b"damaged" * 1000)
    path.unlink()
    assert copies.restore(path, None, NOW, "Ann") is None
    back = BenchFile.open(path)
    assert state(back) == want
    back.close()


def test_restore_refuses_what_is_open_damaged_or_missing(file, path):
    kept = file.back_up()
    with pytest.raises(BenchProblem, match="is open"):
        copies.restore(path, kept.path, NOW, "Bob")
    file.close()
    with pytest.raises(BenchProblem, match="There is no file"):
        copies.restore(path, path.with_name("no.bench"), NOW, "Bob")
    connection = sqlite3.connect(kept.path, isolation_level=None)
    connection.execute("UPDATE samples SET build_h = 99")
    connection.close()
    before = path.read_bytes()
    with pytest.raises(BenchProblem, match="is damaged"):
        copies.restore(path, kept.path, NOW, "Bob")
    assert path.read_bytes() == before


def test_restore_with_no_backup_at_all(tmp_path):
    with pytest.raises(BenchProblem, match="No sound backup"):
        copies.restore(tmp_path / "x.bench", None, NOW, "Ann")


def test_an_unfinished_journal_does_not_spoil_what_is_restored(file, path):
    kept = file.back_up()
    want = state(file)
    file.close()
    journal = path.with_name(path.name + "-journal")
    journal.write_bytes(b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7" + b"\x00" * 504)
    copies.restore(path, kept.path, NOW, "Ann")
    assert not journal.exists()
    back = BenchFile.open(path)
    assert state(back) == want
    back.close()


# --- which stay


def days(*ages):
    return [NOW - dt.timedelta(days=age) for age in ages]


def test_two_days_stay_whole_then_one_a_day_a_week_a_month():
    every_hour = [NOW - dt.timedelta(hours=hour) for hour in range(24 * 400)]
    keep = copies.to_keep(every_hour, NOW)
    recent = {moment for moment in keep if moment > NOW - dt.timedelta(days=2)}
    assert len(recent) == 48
    older = sorted(keep - recent, reverse=True)
    assert len({moment.date() for moment in older}) == len(older)
    assert copies.KEEP_DAILY <= len(older) <= copies.KEEP_DAILY + copies.KEEP_WEEKLY + copies.KEEP_MONTHLY
    assert len({moment.strftime("%Y-%m") for moment in older}) == copies.KEEP_MONTHLY
    # the days are the newest twelve, and of each day the newest stays
    assert [m.date() for m in older[:12]] == [(NOW - dt.timedelta(days=2 + n)).date() for n in range(12)]


def test_the_only_one_stays_whatever_its_age():
    assert copies.to_keep(days(5000), NOW) == set(days(5000))


def test_a_clock_set_back_removes_nothing_of_the_future():
    ahead = days(-400, -399, -1)
    assert copies.to_keep(ahead, NOW) == set(ahead)


@given(st.lists(st.integers(-1000, 20000), max_size=60))
def test_thinning_twice_is_thinning_once(hours):
    moments = [NOW - dt.timedelta(hours=hour) for hour in hours]
    keep = copies.to_keep(moments, NOW)
    assert keep <= set(moments)
    assert copies.to_keep(keep, NOW) == keep
    if moments:
        assert max(moments) in keep


def test_thinning_a_folder(tmp_path):
    for age in (0, 1, 5, 5.01, 5.02, 700):
        (tmp_path / f"team {copies.stamp(NOW - dt.timedelta(days=age))}.bench").touch()
    (tmp_path / "team notes.txt").touch()
    (tmp_path / "other 2026-01-01T00-00-00.000Z.bench").touch()
    copies.thin_out(tmp_path, "team", NOW)
    left = sorted(path.name for path in tmp_path.iterdir())
    assert len(left) == 6
    assert "team notes.txt" in left
    assert "other 2026-01-01T00-00-00.000Z.bench" in left
