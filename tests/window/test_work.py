"""Long work that a person waits for: the window stays alive, shows how far it is, and stopping it leaves no harm."""

from __future__ import annotations

import contextlib
import threading
from pathlib import Path

import pytest
from PySide6.QtCore import Qt, QTimer

from benchapp.actions import engine, run, safety
from benchapp.actions.bench import Bench
from benchapp.benchfile import checks, copies
from benchapp.problems import BenchProblem
from benchapp.progress import Progress, Stopped
from benchapp.records import Run
from benchapp.window import keeping, settings
from benchapp.window import session as session_
from benchapp.window.main_window import MainWindow
from benchapp.window.session import Session
from demo import build as demo_build
from tests.window.conftest import TIMEOUT_MS, opened, worked


class Gate:
    """Holds a worker up at a step of its work until the test lets it go."""

    def __init__(self) -> None:
        self.reached, self.free = threading.Event(), threading.Event()

    def hold(self) -> None:
        self.reached.set()
        assert self.free.wait(TIMEOUT_MS / 1000)


@pytest.fixture
def gate(monkeypatch):
    """Every check of a whole file (of a backup, of another laptop's file, at start) waits here."""
    made, references = Gate(), checks.references

    def held(connection):
        made.hold()
        return references(connection)

    monkeypatch.setattr(checks, "references", held)
    yield made
    made.free.set()


@pytest.fixture
def quiet(qtbot, no_judging, window):
    qtbot.waitUntil(lambda: not window.session.busy, timeout=TIMEOUT_MS)
    return window


def reached(qtbot, window, gate) -> None:
    """The worker stands at the gate, the dialog is shown, and the event loop turns meanwhile."""
    turns = []
    timer = QTimer()
    timer.timeout.connect(lambda: turns.append(1))
    timer.start(0)
    qtbot.waitUntil(gate.reached.is_set, timeout=TIMEOUT_MS)
    qtbot.waitUntil(lambda: window.waiting.dialog is not None, timeout=TIMEOUT_MS)
    before = len(turns)
    qtbot.waitUntil(lambda: len(turns) > before + 20, timeout=TIMEOUT_MS)
    timer.stop()
    assert window.session.working is not None


def stop(qtbot, window, gate) -> None:
    """Stops the work by keyboard; the dialog goes when it has ended."""
    dialog = window.waiting.dialog
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert dialog.words.text() == "Stopping…"
    assert not dialog.button.isEnabled()
    assert dialog.isVisible()
    gate.free.set()
    worked(qtbot, window)
    assert window.waiting.dialog is None
    assert window.messages.what.text() == "Stopped, as you asked."
    assert window.messages.means.text() == "Nothing was changed."


def left_over(folder: Path) -> list[str]:
    return [path.name for path in folder.rglob("*") if ".part-" in path.name or path.name.endswith("-journal")]


def do_backup(window, ask, tmp_path):
    window.session.work_on_bench("Making a backup", safety.backup)


def do_merge(window, ask, tmp_path):
    ask.path, ask.agree = str(tmp_path / "other.bench"), True
    window.take_in_file()


def do_copy(window, ask, tmp_path):
    ask.path = str(tmp_path / "copy.bench")
    window.save_copy()


def do_load(window, ask, tmp_path):
    ask.path = str(tmp_path / "whole.xlsx")
    window.load_workbook()


@pytest.fixture
def beside(bench, tmp_path):
    """Another laptop's file with an engine more, and a workbook of it."""
    from benchapp.actions import workbook

    other = safety.copy_out(bench, tmp_path / "other.bench")
    with Bench.open(other, who="ben") as there:
        engine.add(there, "C1", there.engine("A1").family)
        workbook.unload(there, tmp_path / "whole.xlsx")
    return other


@pytest.mark.parametrize("job", [do_backup, do_merge, do_copy, do_load])
def test_the_window_lives_meanwhile_and_stopping_changes_nothing(qtbot, quiet, ask, beside, gate, tmp_path, job):
    session = quiet.session
    run.add(session.bench, "A1", "1", Run("race", 1.0))  # there is something to back up
    before, undo = session.bench.fleet(), session.undo_label
    kept = safety.backups(session.bench.path)
    job(quiet, ask, tmp_path)
    reached(qtbot, quiet, gate)
    stop(qtbot, quiet, gate)
    read = session.bench.file.read_fleet(session.bench.library.families, session.bench.library.materials)
    assert [each.builds for each in read.engines] == [each.builds for each in before.engines]
    assert (session.bench.fleet(), session.undo_label) == (before, undo)
    assert safety.backups(session.bench.path) == kept
    assert not (tmp_path / "copy.bench").exists()
    assert left_over(tmp_path) == []
    assert safety.verify(session.bench) == ()
    run.add(session.bench, "A1", "1", Run("race", 1.0))  # and the file is ours again


@pytest.mark.parametrize("job", [do_merge, do_load])
def test_what_it_changed_is_told_in_the_windows_thread(qtbot, quiet, ask, beside, tmp_path, job):
    threads = []
    quiet.session.changed.connect(lambda _changed: threads.append(threading.current_thread()))
    job(quiet, ask, tmp_path)
    worked(qtbot, quiet)
    assert threads == [threading.main_thread()]
    assert quiet.session.bench.engine("C1")
    assert "C1" in [row.engine for row in quiet.view("fleet").table.rows.shown()]


def test_stopping_in_the_middle_of_writing_takes_it_back(bench, beside):
    before = bench.fleet()
    for steps in range(1, 40):
        progress = Countdown(steps)
        try:
            safety.merge(bench, beside, progress)
        except Stopped:
            assert bench.file.read_fleet(bench.library.families, bench.library.materials).engines == before.engines
            assert safety.conflicts(bench) == ()
        else:
            break
    assert bench.engine("C1")
    assert steps > 8  # it could be stopped in many places
    assert safety.verify(bench) == ()


class Countdown(Progress):
    """Asks to stop at the n-th step."""

    def __init__(self, steps: int) -> None:
        super().__init__()
        self._left = steps

    def step(self, words: str = "", share: float | None = None) -> None:
        self._left -= 1
        if self._left <= 0:
            self.stop()
        super().step(words, share)


def test_a_restore_that_is_stopped_leaves_the_file_and_opens_it(qtbot, quiet, ask, gate):
    gate.free.set()
    session = quiet.session
    path, kept = str(session.bench.path), safety.backup(session.bench)
    engine.edit(session.bench, "B1", car="since then")
    ask.agree = True
    gate.free.clear()
    gate.reached.clear()
    quiet.restore(path, str(kept.path))
    reached(qtbot, quiet, gate)
    qtbot.keyClick(quiet.waiting.dialog, Qt.Key.Key_Escape)
    gate.free.set()
    qtbot.waitUntil(lambda: session.bench is not None, timeout=TIMEOUT_MS)
    assert session.bench.engine("B1").car == "since then"
    assert not session.bench.read_only
    assert not list(Path(path).parent.glob("* set aside *"))


def test_opening_can_be_stopped_and_the_file_at_hand_stays(qtbot, quiet, beside, gate):
    at_hand = quiet.session.bench
    quiet.open_path(str(beside))
    reached(qtbot, quiet, gate)
    stop(qtbot, quiet, gate)
    assert quiet.session.bench is at_hand
    with Bench.open(beside) as there:  # its lock was given back
        assert not there.read_only


def test_the_file_that_is_open_is_opened_anew(qtbot, quiet):
    path = quiet.session.bench.path
    opened(qtbot, quiet, path)
    assert quiet.session.bench.path == path
    assert not quiet.session.bench.read_only


def test_closing_the_window_stops_what_is_under_way(qtbot, quiet, beside, gate, ask, tmp_path):
    do_merge(quiet, ask, tmp_path)
    reached(qtbot, quiet, gate)
    path = quiet.session.bench.path
    threading.Timer(0.01, gate.free.set).start()
    quiet.close()
    assert quiet.session.bench is None
    with Bench.open(path) as again, pytest.raises(BenchProblem):
        again.engine("C1")


def test_closing_while_a_file_is_being_opened_gives_its_lock_back(qtbot, ask, small_path, monkeypatch):
    made, plain = Gate(), session_.open_bench

    def late(*args, progress):
        bench = plain(*args, progress=progress)
        made.hold()  # whole and open, and nobody will take it
        return bench

    monkeypatch.setattr(session_, "open_bench", late)
    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    window.show()
    window.open_path(str(small_path))
    qtbot.waitUntil(made.reached.is_set, timeout=TIMEOUT_MS)
    made.free.set()
    window.close()
    with Bench.open(small_path) as again:
        assert not again.read_only
        assert not again.notices


def test_a_second_job_waits_for_the_first(qtbot, quiet, gate, ask, tmp_path):
    do_backup(quiet, ask, tmp_path)
    reached(qtbot, quiet, gate)
    do_copy(quiet, ask, tmp_path)
    assert quiet.messages.what.text() == "Making a backup: this is still under way."
    gate.free.set()
    worked(qtbot, quiet)
    assert not (tmp_path / "copy.bench").exists()


def test_keys_are_held_off_before_the_dialog_is_shown(qtbot, quiet, gate, ask, tmp_path):
    quiet.show_view("fleet")
    do_backup(quiet, ask, tmp_path)
    qtbot.keyClick(quiet, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    assert quiet.current_key == "fleet"
    gate.free.set()
    worked(qtbot, quiet)
    with qtbot.waitActive(quiet):
        quiet.activateWindow()
    qtbot.keyClick(quiet, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    assert quiet.current_key != "fleet"


def test_a_draft_is_not_written_while_the_file_is_handed_over(qtbot, quiet, gate, ask, tmp_path):
    from benchapp.actions import draft

    view = quiet.show_view("entry")
    qtbot.keyClicks(view.entry.form.editor("code"), "24-9")
    do_backup(quiet, ask, tmp_path)
    reached(qtbot, quiet, gate)
    view.keeper.flush()
    assert draft.get(quiet.session.bench, "entry") is None
    gate.free.set()
    worked(qtbot, quiet)
    qtbot.waitUntil(lambda: draft.get(quiet.session.bench, "entry") is not None, timeout=TIMEOUT_MS)


# --- without a window


def test_a_change_goes_between_two_steps_of_a_backup(bench, monkeypatch):
    """A backup under way does not hold a change up, and the change is in it."""
    monkeypatch.setattr(copies, "PAGES_AT_ONCE", 1)
    done = threading.Event()

    def change() -> None:
        engine.edit(bench, "B1", car="while it was copied")
        done.set()

    class Meanwhile(Progress):
        def step(self, words: str = "", share: float | None = None) -> None:
            if words == "Copying" and share is not None and 0.3 < share < 0.9 and not self.begun:
                self.begun = True
                threading.Thread(target=change).start()

        begun = False

    kept = safety.backup(bench, progress=Meanwhile())
    assert done.wait(TIMEOUT_MS / 1000)
    assert copies.look_through(kept.path) == []
    with contextlib.closing(Bench.open(kept.path, read_only=True)) as then:
        assert then.engine("B1").car == "while it was copied"


def test_a_check_is_stopped_within_a_statement(bench):
    progress = Progress()
    progress.stop()
    with bench.file.reading() as connection, pytest.raises(Stopped):
        endless(connection, progress)


def endless(connection, progress: Progress) -> None:
    with checks.stoppable(connection, progress):
        connection.execute("WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT sum(i) FROM n")


# --- the demo


@pytest.fixture
def before_file(qtbot, ask):
    """A window on its first page, no file open."""
    made = MainWindow(Session(ask=ask))
    qtbot.addWidget(made)
    made.show()
    return made


@pytest.fixture
def photos_wait(monkeypatch):
    """The demo's builder waits here with a bench file that holds everything but its photos."""
    made = Gate()
    monkeypatch.setattr(demo_build, "add_photos", lambda _bench, _diary: made.hold())
    yield made
    made.free.set()


def test_a_demo_that_is_stopped_leaves_no_half_file(qtbot, before_file, gate):
    folder = settings.data_folder() / "demo"
    qtbot.mouseClick(before_file.start_page.buttons["demo"], Qt.MouseButton.LeftButton)
    reached(qtbot, before_file, gate)
    assert before_file.waiting.dialog.windowTitle() == "Building the demo bench file"
    stop(qtbot, before_file, gate)
    assert before_file.session.bench is None
    assert list(folder.iterdir()) == []


def test_a_demo_that_is_stopped_late_leaves_the_one_before_as_it_was(qtbot, before_file, photos_wait):
    folder = settings.data_folder() / "demo"
    folder.mkdir(parents=True)
    with Bench.create(folder / "demo.bench", who="demo"):
        pass
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    qtbot.mouseClick(before_file.start_page.buttons["demo"], Qt.MouseButton.LeftButton)
    reached(qtbot, before_file, photos_wait)
    stop(qtbot, before_file, photos_wait)
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before
    assert [path.name for path in folder.iterdir() if path.name.startswith(".building")] == []


# --- the backup by the clock


def clock_backs_up(qtbot, window, gate) -> None:
    run.add(window.session.bench, "A1", "1", Run("race", 1.0))
    qtbot.waitUntil(lambda: not window.session.busy, timeout=TIMEOUT_MS)
    window.backup_timer.timeout.emit()
    qtbot.waitUntil(gate.reached.is_set, timeout=TIMEOUT_MS)
    qtbot.waitUntil(window.stop_backup.isVisible, timeout=TIMEOUT_MS)


def test_the_backup_by_the_clock_can_be_stopped(qtbot, quiet, gate, tmp_path):
    kept = safety.backups(quiet.session.bench.path)
    clock_backs_up(qtbot, quiet, gate)
    assert quiet.statusBar().currentMessage().startswith("Making a backup…")
    qtbot.mouseClick(quiet.stop_backup, Qt.MouseButton.LeftButton)
    assert quiet.statusBar().currentMessage() == "Stopping the backup…"
    gate.free.set()
    qtbot.waitUntil(lambda: not quiet.session.busy, timeout=TIMEOUT_MS)
    assert quiet.messages.what.text() == "The backup was stopped, as you asked."
    assert quiet.messages.means.text() == "No half copy was kept; earlier backups are as they were."
    assert not quiet.stop_backup.isVisible()
    assert quiet.statusBar().currentMessage() == ""
    assert quiet.backup_timer.interval() == keeping.AFTER_TROUBLE_MS
    assert safety.backups(quiet.session.bench.path) == kept
    assert left_over(tmp_path) == []


def test_the_backup_by_the_clock_that_nobody_stops_is_kept(qtbot, quiet, gate):
    clock_backs_up(qtbot, quiet, gate)
    gate.free.set()
    qtbot.waitUntil(lambda: not quiet.session.busy, timeout=TIMEOUT_MS)
    assert not quiet.stop_backup.isVisible()
    assert quiet.statusBar().currentMessage().startswith("Backup made: ")
    assert len(safety.backups(quiet.session.bench.path)) == 1
