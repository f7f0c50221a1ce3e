"""Backups, restoring, merging, taking over, checking: as a person does it at the window."""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import shutil
import sqlite3
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from benchapp.actions import call, engine, safety
from benchapp.actions.bench import Bench
from benchapp.problems import BenchProblem
from benchapp.window import keeping
from benchapp.window.dialogs.safety import BEING_CHECKED, NO_BACKUP, NO_CONFLICT, SOUND, size, taken_in
from benchapp.window.entry.words import clock
from benchapp.window.main_window import MainWindow
from benchapp.window.session import Session
from tests.window.conftest import no_calls

TIMEOUT_MS = 30_000


@pytest.fixture
def quiet(qtbot, no_judging, window):
    settled(qtbot, window)
    return window


@pytest.fixture
def opened(qtbot, qapp, ask, monkeypatch):
    """Opens a file in a window of its own."""
    monkeypatch.setattr(call, "judge", no_calls)
    made = []

    def do(path):
        session = Session(ask=ask)
        window = MainWindow(session)
        qtbot.addWidget(window)
        window.show()
        made.append(window)
        window.open_path(str(path))
        settled(qtbot, window)
        return window

    return do


def settled(qtbot, window) -> None:
    qtbot.waitUntil(lambda: not window.session.busy, timeout=TIMEOUT_MS)


def trigger(qtbot, window, method: str):
    """The dialog that a menu item opens, its background work done."""
    window.menus.actions[method].trigger()
    settled(qtbot, window)
    return window.session.ask.shown[-1]


def texts(table) -> list[list[str]]:
    model = table.model()
    return [[model.index(r, c).data() for c in range(model.columnCount())] for r in range(model.rowCount())]


def change(bench, number: int = 1) -> None:
    engine.edit(bench, "B1", car=f"spare {number}")


def spoil(path: Path) -> None:
    """A sample's code is another than was saved, which SQLite itself does not mind."""
    with contextlib.closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE samples SET code = '26-802' WHERE code = '26-002'")


def tear(path: Path) -> None:
    """The file's head is gone."""
    octets = bytearray(path.read_bytes())
    octets[:64] = bytes(64)
    path.write_bytes(octets)


# --- by the clock


def test_the_clock_makes_a_backup_only_where_something_changed(qtbot, quiet):
    path = quiet.session.bench.path
    assert quiet.backup_timer.isActive()
    assert quiet.backup_timer.interval() == keeping.LOOK_EVERY_MS
    change(quiet.session.bench)
    settled(qtbot, quiet)
    quiet.backup_timer.timeout.emit()
    settled(qtbot, quiet)
    assert len(safety.backups(path)) == 1
    assert quiet.statusBar().currentMessage().startswith("Backup made: ")
    quiet.backup_timer.timeout.emit()
    settled(qtbot, quiet)
    assert len(safety.backups(path)) == 1


def test_no_backup_while_samples_are_judged(qtbot, quiet, monkeypatch):
    change(quiet.session.bench)
    settled(qtbot, quiet)
    monkeypatch.setattr(Session, "busy", property(lambda _self: True))
    quiet.backup_timer.timeout.emit()
    monkeypatch.undo()
    settled(qtbot, quiet)
    assert not safety.backups(quiet.session.bench.path)


def test_a_backup_that_fails_says_so_once_and_waits(qtbot, quiet):
    path = quiet.session.bench.path
    path.with_name(f"{path.stem} backups").write_text("a file where the folder should be", encoding="utf-8")
    change(quiet.session.bench)
    settled(qtbot, quiet)
    quiet.backup_timer.timeout.emit()
    settled(qtbot, quiet)
    assert "No copy could be written" in quiet.messages.what.text()
    assert quiet.backup_timer.interval() == keeping.AFTER_TROUBLE_MS


def test_the_clock_stands_still_without_a_file_and_for_one_to_read(qtbot, quiet, small_path):
    path = str(quiet.session.bench.path)
    quiet.session.use(None)
    assert not quiet.backup_timer.isActive()
    quiet.backup_timer.timeout.emit()
    quiet.session.open(path, read_only=True)
    settled(qtbot, quiet)
    assert quiet.session.bench.read_only
    assert not quiet.backup_timer.isActive()


# --- backups and restoring


def test_no_backup_yet_then_one_by_keyboard(qtbot, quiet):
    dialog = trigger(qtbot, quiet, "show_backups")
    assert dialog.lead.text() == NO_BACKUP
    assert not dialog.table.isVisible()
    assert not dialog.restore.isEnabled()
    qtbot.keyClick(dialog.make, Qt.Key.Key_Space)
    settled(qtbot, quiet)
    assert dialog.lead.text() == "1 backup is kept."
    assert dialog.table.accessibleName() == "Kept backups"
    row = texts(dialog.table)[0]
    assert row[1:3] == [SOUND, "beside the file"]
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert not dialog.isVisible()


def test_a_damaged_backup_is_named_and_refused(qtbot, quiet, ask):
    kept = safety.backup(quiet.session.bench)
    spoil(kept.path)
    dialog = trigger(qtbot, quiet, "show_backups")
    assert texts(dialog.table)[0][1].startswith("damaged: ")
    qtbot.keyClick(dialog.table, Qt.Key.Key_Return)
    assert dialog.isVisible()
    assert "This backup is damaged: " in dialog.trouble.text()
    assert "Choose an earlier one." in dialog.trouble.text()
    assert not ask.asked


def test_restoring_asks_first_and_keeps_what_was_there(qtbot, quiet, ask):
    session = quiet.session
    path = session.bench.path
    safety.backup(session.bench)
    change(session.bench)
    settled(qtbot, quiet)
    dialog = trigger(qtbot, quiet, "show_backups")
    qtbot.keyClick(dialog.table, Qt.Key.Key_Return)
    assert ask.asked[-1][0] == "confirm"
    assert "what was entered since is no longer in it" in ask.asked[-1][2]
    assert session.bench.engine("B1").car == "spare 1"  # the person turned back
    ask.agree = True
    dialog = trigger(qtbot, quiet, "show_backups")
    qtbot.keyClick(dialog.table, Qt.Key.Key_Return)
    settled(qtbot, quiet)
    assert session.bench.path == path
    assert session.bench.engine("B1").car == "1"
    aside = next(path.parent.glob("small set aside *.bench"))
    assert quiet.messages.means.text() == f"The file as it was is kept as {aside.name}."
    with Bench.open(aside, read_only=True) as before:
        assert before.engine("B1").car == "spare 1"


def test_a_second_folder_is_set_shown_and_dropped(qtbot, quiet, ask, tmp_path):
    stick = tmp_path / "stick"
    stick.mkdir()
    dialog = trigger(qtbot, quiet, "show_backups")
    assert dialog.second.text() == "There is no second folder."
    assert not dialog.no_folder.isVisible()
    ask.path = str(stick)
    qtbot.keyClick(dialog.folder, Qt.Key.Key_Space)
    qtbot.keyClick(dialog.make, Qt.Key.Key_Space)
    settled(qtbot, quiet)
    assert sorted(row[2] for row in texts(dialog.table)) == ["beside the file", "second folder"]
    shutil.rmtree(stick)
    dialog.refresh()
    settled(qtbot, quiet)
    assert "plug the stick in" in dialog.second.text()
    qtbot.keyClick(dialog.folder, Qt.Key.Key_Space)
    assert dialog.trouble.text().startswith("There is no folder")
    qtbot.keyClick(dialog.no_folder, Qt.Key.Key_Space)
    assert dialog.second.text() == "There is no second folder."


def test_a_damaged_file_leads_to_its_backups(qtbot, opened, ask, small_path):
    with Bench.open(small_path) as bench:
        safety.backup(bench)
    spoil(small_path)
    window = opened(small_path)
    assert window.session.bench.damaged
    assert window.messages.offered.text() == "&Restore a backup…"
    ask.agree = True
    qtbot.keyClick(window.messages.offered, Qt.Key.Key_Space)
    settled(qtbot, window)
    dialog = ask.shown[-1]
    assert not dialog.make.isEnabled()  # a damaged file is not worth a backup
    qtbot.keyClick(dialog.table, Qt.Key.Key_Return)
    settled(qtbot, window)
    assert not window.session.bench.read_only, window.messages.what.text()
    assert window.session.bench.find_sample("26-002")
    assert "is in the place of small.bench" in window.messages.what.text()


def test_a_file_that_does_not_open_leads_to_its_backups(qtbot, opened, ask, small_path):
    with Bench.open(small_path) as bench:
        safety.backup(bench)
    tear(small_path)
    window = opened(small_path)
    assert window.session.bench is None
    assert window.messages.offered.isVisible()
    ask.agree = True
    qtbot.keyClick(window.messages.offered, Qt.Key.Key_Space)
    settled(qtbot, window)
    qtbot.keyClick(ask.shown[-1].table, Qt.Key.Key_Return)
    settled(qtbot, window)
    assert window.session.bench.find_sample("26-002")


def test_without_backups_nothing_is_offered(opened, small_path):
    tear(small_path)
    window = opened(small_path)
    assert not window.messages.offered.isVisible()


def test_a_restore_that_cannot_be_leaves_the_file_open(qtbot, quiet, ask, tmp_path):
    strange = tmp_path / "strange.bench"
    strange.write_text("no bench file", encoding="utf-8")
    ask.agree, ask.path = True, str(strange)
    dialog = trigger(qtbot, quiet, "show_backups")
    qtbot.keyClick(dialog.elsewhere, Qt.Key.Key_Space)
    settled(qtbot, quiet)
    assert "strange.bench is not a bench file" in quiet.messages.what.text()
    assert quiet.session.bench.find_sample("26-002")


def test_the_backups_of_a_file_that_is_not_open(qtbot, opened, ask, small_path, tmp_path):
    window = opened(tmp_path / "none.bench")
    window.menus.actions["show_backups"].trigger()
    assert not ask.shown
    ask.path = str(small_path)
    dialog = trigger(qtbot, window, "show_backups")
    assert dialog.windowTitle() == "Backups of small.bench"
    assert not dialog.make.isEnabled()
    assert not dialog.second.isVisible()


# --- in use elsewhere


def left_lock(path: Path, host: str) -> Path:
    lock = path.with_name(path.name + "-lock")
    said = {"who": "anna", "host": host, "pid": 1, "since": "2026-04-03T09:00:00+00:00"}
    lock.write_text(json.dumps(said), encoding="utf-8")
    return lock


def test_a_lock_left_by_another_computer_may_be_taken_over(qtbot, opened, ask, small_path):
    left_lock(small_path, "pit laptop of old")
    window = opened(small_path)
    assert "anna on pit laptop of old" in window.messages.means.text()
    qtbot.keyClick(window.messages.offered, Qt.Key.Key_Space)
    assert window.session.bench.read_only
    assert "anna on pit laptop of old" in ask.asked[-1][1]
    ask.agree = True
    qtbot.keyClick(window.messages.offered, Qt.Key.Key_Space)
    settled(qtbot, window)
    assert not window.session.bench.read_only
    assert "checked in full" in window.messages.means.text()


def test_a_file_in_use_here_is_not_offered(opened, small_path):
    with Bench.open(small_path):
        window = opened(small_path)
        assert window.session.bench.read_only
        assert not window.messages.offered.isVisible()
        window.take_over()
        assert window.messages.what.text() == "The lock cannot be taken over now."


# --- two laptops


@pytest.fixture
def other(bench, tmp_path):
    """The other laptop's file: the same row edited, one engine more."""
    path = safety.copy_out(bench, tmp_path / "other.bench")
    with Bench.open(path, who="ben") as there:
        engine.edit(there, "B1", car="the other's")
        engine.edit(there, "A1", car="the other's too")
        engine.add(there, "C1", there.engine("A1").family, car="C")
    return path


def test_merging_then_choosing_by_keyboard(qtbot, quiet, ask, other):
    session = quiet.session
    engine.edit(session.bench, "B1", car="ours")
    engine.edit(session.bench, "A1", car="ours too")
    ask.path, ask.agree = str(other), True
    dialog = trigger(qtbot, quiet, "take_in_file")
    assert dialog.brought.text().startswith("Taken in and on the disk: engine ")
    assert dialog.lead.text() == "2 rows wait for a choice. Until then the later edit stands."
    heads = [dialog.sides.horizontalHeaderItem(column).text() for column in range(3)]
    assert heads[0] == "Field"
    assert heads[1].replace(" (now)", "").startswith("This file\ntest\n2")
    assert heads[2].replace(" (now)", "").startswith("The other\nben\n2")
    assert sum("(now)" in head for head in heads) == 1
    first = dialog.at_hand().what
    car = {"engine A1": ("ours too", "the other's too"), "engine B1": ("ours", "the other's")}
    assert texts(dialog.sides) == [["car", *car[first]]]
    assert dialog.sides.item(0, 1).data(Qt.ItemDataRole.AccessibleTextRole) == f"car, This file: {car[first][0]}"
    with qtbot.waitActive(dialog):
        dialog.activateWindow()
    qtbot.keyClick(dialog.table, Qt.Key.Key_1)
    second = dialog.at_hand().what
    assert second != first
    qtbot.keyClick(dialog.table, Qt.Key.Key_2)
    assert dialog.lead.text() == NO_CONFLICT
    assert not dialog.table.isVisible()
    assert not dialog.keep
    assert session.bench.engine(first[-2:]).car == car[first][0]
    assert session.bench.engine(second[-2:]).car == car[second][1]
    assert session.bench.engine("C1")
    assert safety.backups(session.bench.path)  # made before the merge
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    session.undo()
    assert len(safety.conflicts(session.bench)) <= 1


def test_merging_what_brings_no_choice_says_so_in_the_bar(qtbot, quiet, ask, other):
    ask.path, ask.agree = str(other), True
    quiet.menus.actions["take_in_file"].trigger()
    settled(qtbot, quiet)
    assert not ask.shown
    assert quiet.messages.what.text() == "Taken in and on the disk: engine 3, build 1."
    quiet.menus.actions["take_in_file"].trigger()
    settled(qtbot, quiet)
    assert quiet.messages.what.text() == "There was nothing new in the other file."


def test_merging_a_damaged_file_changes_nothing(qtbot, quiet, ask, other):
    spoil(other)
    ask.path, ask.agree = str(other), True
    quiet.menus.actions["take_in_file"].trigger()
    settled(qtbot, quiet)
    assert "Nothing was merged" in quiet.messages.means.text()
    assert not safety.conflicts(quiet.session.bench)


def test_turning_back_from_a_merge(qtbot, quiet, ask, other):
    ask.path = str(other)
    quiet.menus.actions["take_in_file"].trigger()
    assert [asked[0] for asked in ask.asked] == ["open", "confirm"]
    assert "Undo does not take this back" in ask.asked[-1][2]
    with pytest.raises(BenchProblem):
        quiet.session.bench.engine("C1")


def test_nothing_edited_on_both(qtbot, quiet):
    dialog = trigger(qtbot, quiet, "show_conflicts")
    assert dialog.lead.text() == NO_CONFLICT
    assert not dialog.sides.isVisible()
    dialog.settle(0)  # nothing at hand: nothing happens
    assert not dialog.trouble.isVisible()


def test_a_choice_in_a_file_to_read_says_why_not(qtbot, quiet, ask, other):
    session = quiet.session
    engine.edit(session.bench, "B1", car="ours")
    safety.merge(session.bench, other)
    path = str(session.bench.path)
    session.use(None)
    session.open(path, read_only=True)
    settled(qtbot, quiet)
    dialog = trigger(qtbot, quiet, "show_conflicts")
    qtbot.keyClick(dialog.keep[1], Qt.Key.Key_Space)
    assert "open read-only" in dialog.trouble.text()
    assert len(dialog.conflicts) == 1


# --- the check


def test_the_check_of_a_sound_file(qtbot, quiet):
    dialog = trigger(qtbot, quiet, "check_file")
    assert dialog.lead.text() == "small.bench is sound: nothing is damaged."
    assert not dialog.found.isVisible()
    qtbot.keyClick(dialog.back, Qt.Key.Key_Space)
    assert not dialog.isVisible()


def test_the_check_of_a_damaged_file_leads_to_its_backups(qtbot, opened, ask, small_path):
    spoil(small_path)
    window = opened(small_path)
    dialog = trigger(qtbot, window, "check_file")
    assert dialog.lead.text().startswith("small.bench is damaged: ")
    assert texts(dialog.found) == [["sample 26-802 is not as it was saved."]]
    qtbot.keyClick(dialog.backups, Qt.Key.Key_Space)
    assert ask.shown[-1].windowTitle() == "Backups of small.bench"


def test_damage_found_while_the_file_is_open_makes_it_read_only_at_once(qtbot, opened, ask, small_path):
    window = opened(small_path)
    session = window.session
    change(session.bench)
    window.show_view("breakin")
    assert window.view("breakin").pulls_button.isEnabled()
    assert window.menus.actions["undo"].isEnabled()
    spoil(small_path)
    trigger(qtbot, window, "check_file")
    assert session.bench.read_only
    assert session.bench.damaged
    assert window.messages.isVisible()
    assert window.messages.what.text() == "small.bench is damaged: sample 26-802 is not as it was saved."
    assert "From now on" in window.messages.means.text()
    assert "Restore a backup" in window.messages.offered.text()
    assert not window.view("breakin").pulls_button.isEnabled()
    assert "Read only" in window.saved.text()
    assert not window.menus.actions["undo"].isEnabled()
    assert not window.backup_timer.isActive()
    with pytest.raises(BenchProblem, match="is open read-only"):
        change(session.bench)
    trigger(qtbot, window, "check_file")  # again: it is known already, and said once
    assert len(session.bench.file.damage) == 1
    session.use(None)
    settled(qtbot, window)
    window.open_path(str(small_path))
    settled(qtbot, window)
    assert session.bench.damaged


def test_a_file_that_cannot_be_looked_at_is_not_called_damaged(qtbot, quiet):
    path = quiet.session.bench.path
    away = path.rename(path.with_suffix(".away"))
    dialog = trigger(qtbot, quiet, "check_file")
    away.rename(path)
    assert dialog.lead.text() == "The file could not be checked."
    assert "small.bench cannot be opened." in dialog.means.text()
    assert not quiet.session.bench.read_only
    assert safety.check_file(path.with_name("none.bench")) == ("none.bench cannot be opened.",)


def test_the_check_does_not_stand_in_the_way_of_a_change(qtbot, quiet):
    quiet.menus.actions["check_file"].trigger()
    change(quiet.session.bench)
    settled(qtbot, quiet)
    assert "is sound" in quiet.session.ask.shown[-1].lead.text()


# --- words


def test_moments_sizes_and_counts_in_words():
    now = dt.datetime(2026, 4, 3, 9, 0, tzinfo=dt.UTC)
    assert clock(now.isoformat()) == now.astimezone().strftime("%Y-%m-%d %H:%M")
    assert clock("some day") == "some day"
    assert (size(400), size(2_340_000)) == ("0 kB", "2.3 MB")
    merged = safety.Merged(None, {"check_run": 2, "sample": 1}, (), ())
    assert taken_in(merged) == "Taken in and on the disk: check run 2, sample 1."
    assert BEING_CHECKED != SOUND


def test_restoring_over_a_lock_that_another_computer_left_says_whose(qtbot, opened, ask, small_path, tmp_path):
    with Bench.open(small_path) as bench:
        safety.backup(bench)
    window = opened(tmp_path / "none.bench")
    left_lock(small_path, "pit laptop of old")
    ask.path, ask.agree = str(small_path), True
    dialog = trigger(qtbot, window, "show_backups")
    qtbot.keyClick(dialog.table, Qt.Key.Key_Return)
    settled(qtbot, window)
    assert "anna on pit laptop of old" in ask.asked[-1][2]
    assert "left a lock on it" in ask.asked[-1][2]
    assert not window.session.bench.read_only
    assert window.messages.what.text().endswith("is in the place of small.bench.")
