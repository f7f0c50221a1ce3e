"""Sample entry on a real bench file, driven as a person would: keys, mouse, clipboard."""

from __future__ import annotations

import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QComboBox, QDialog, QLineEdit

from benchapp.actions import draft, sample
from benchapp.actions.bench import Bench
from benchapp.window.entry.entry_page import KNOWN, NEW, WAITS
from benchapp.window.entry.results_model import VALUE
from tests.window import entry_bench

ROOT = Path(__file__).resolve().parents[2]

# a completer's popup asks for what the offscreen platform has not
pytestmark = pytest.mark.qt_log_ignore("This plugin does not support", extend=True)


@pytest.fixture
def bench(tmp_path):
    """A real, empty bench file, in place of the one in memory."""
    return Bench.create(tmp_path / "flow.bench")


@pytest.fixture
def with_engine(bench):
    return entry_bench.with_engine(bench)


@pytest.fixture
def view(window, qtbot):
    made = window.show_view("entry")
    qtbot.waitExposed(window)
    return made


def press(qtbot, window, key, modifier=Qt.KeyboardModifier.NoModifier):
    """A key to whatever has the keyboard."""
    qtbot.keyClick(window.focusWidget() or window, key, modifier)


def ctrl(qtbot, window, key):
    press(qtbot, window, key, Qt.KeyboardModifier.ControlModifier)


def write(qtbot, window, text):
    """Types into whatever has the keyboard."""
    qtbot.keyClicks(window.focusWidget(), text)


def judged(view):
    return view.entry.call_panel.call is not None


def fill_form(view, qtbot, window, code="24-002"):
    """Types a code and goes on with Enter to the results."""
    view.entry.form.focus("code")
    write(qtbot, window, code)
    for _ in range(12):
        press(qtbot, window, Qt.Key.Key_Return)
    assert view.entry.results.table.hasFocus()


def type_result(qtbot, view, text):
    """Types over the cell at the cursor and presses Enter."""
    table = view.entry.results.table
    before = table.currentIndex()
    qtbot.keyClicks(table, text[0])
    editor = next(line for line in table.findChildren(QLineEdit) if line.isVisible())
    qtbot.keyClicks(editor, text[1:])
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: table.currentIndex() != before or table.state() == table.State.NoState)
    qtbot.waitUntil(lambda: table.currentIndex() != before)


def test_an_empty_bench_says_what_to_do_first(view):
    assert "Add one from a family first" in view.entry.call_panel.state.text()


def test_the_form_offers_engine_fill_and_hours(with_engine, view):
    text = view.entry.form.text()
    assert (text.engine, text.build, text.fill, text.build_h, text.oil_h) == ("E1", "1", "1", "4.5", "4.5")
    assert not view.entry.touched


def test_typed_with_the_keyboard_from_code_to_call(with_engine, view, window, qtbot):
    fill_form(view, qtbot, window)
    for text in ("12,4", "<1", "2,0*"):
        type_result(qtbot, view, text)
    assert view.entry.results.model.texts() == {("Fe", 1): "12,4", ("Cu", 1): "<1", ("Pb", 1): "2,0*"}
    qtbot.waitUntil(lambda: judged(view))
    assert view.entry.call_panel.word.text() in ("Run", "Short stint", "Look inside", "Park")
    ctrl(qtbot, window, Qt.Key.Key_Return)
    _, _, found = window.session.bench.find_sample("24-002")
    assert {item.measurand: (item.value, item.qualifier, item.mark) for item in found.readings} == {
        "Fe": (12.4, "", ""),
        "Cu": (1.0, "<", ""),
        "Pb": (2.0, "", "*"),
    }
    assert (found.fill, found.build_h, found.oil_h) == ("1", 4.5, 4.5)
    assert view.entry.mode == KNOWN
    assert view.entry.head.text() == "Sample 24-002"
    assert draft.get(window.session.bench, "entry") is None


def test_confirm_goes_to_what_is_missing(with_engine, view, window, qtbot):
    view.entry.results.model.set_texts({("Fe", 1): "3"})
    ctrl(qtbot, window, Qt.Key.Key_Return)
    assert view.entry.form.editor("code").hasFocus()
    assert "no code yet" in view.entry.form.problem_at("code")
    assert window.session.bench.fleet().engines[0].builds[0].samples == ()


def test_hours_that_do_not_go_with_the_record_are_said_and_may_be_confirmed(with_engine, view, window, qtbot):
    fill_form(view, qtbot, window)
    type_result(qtbot, view, "12")
    view.entry.form.focus("oil_h")
    view.entry.form.editor("oil_h").selectAll()
    write(qtbot, window, "45")
    assert view.entry.missing.text() == (
        "Ready to confirm. Look twice: Hours on oil are 45; since fill 1 went in it ran 4.5 h."
    )
    assert view.entry.confirm_button.isEnabled()
    view.entry.form.editor("oil_h").selectAll()
    write(qtbot, window, "4.5")
    assert view.entry.missing.text() == "Ready to confirm."


def test_in_a_file_that_can_only_be_read_nothing_is_ready_to_confirm(with_engine, view, window, qtbot):
    fill_form(view, qtbot, window)
    type_result(qtbot, view, "12")
    assert view.entry.missing.text() == "Ready to confirm."
    window.session.found_damaged(str(window.session.bench.path), ["made up"])
    assert view.entry.missing.text().startswith("This file is open to read only: what is typed has its call")
    assert not view.entry.confirm_button.isEnabled()
    qtbot.waitUntil(lambda: judged(view))
    assert not view.entry.confirm_button.isEnabled()


def test_a_cell_that_cannot_be_read_stops_the_confirming_and_is_shown(with_engine, view, window, qtbot):
    fill_form(view, qtbot, window)
    view.entry.results.model.set_texts({("Fe", 1): "12,4,1"})
    assert view.entry.results.problems.count() == 1
    assert "Fe" in view.entry.missing.text()
    ctrl(qtbot, window, Qt.Key.Key_Return)
    assert view.entry.mode == NEW
    assert view.entry.results.table.currentIndex() == view.entry.results.model.index(
        view.entry.results.model.row_of("Fe"), VALUE
    )


def test_what_is_typed_is_a_draft_on_the_disk_within_a_second(with_engine, view, window, qtbot):
    view.entry.form.focus("code")
    write(qtbot, window, "24-0")
    assert view.keeper.due_ms() < 1000
    qtbot.waitUntil(lambda: draft.get(window.session.bench, "entry") is not None)
    kept = draft.get(window.session.bench, "entry")
    assert kept["form"]["code"] == "24-0"


def test_the_draft_is_offered_again_and_continued(with_engine, view, window, qtbot):
    view.entry.form.focus("code")
    write(qtbot, window, "24-009")
    view.entry.results.model.set_texts({("Fe", 1): "3,3", ("Cu", 1): "OVR"})
    view.may_leave()
    window.session.opened.emit()  # as if the file had just been opened again
    again = window.show_view("entry")
    assert again is not view
    assert again.banner.isVisible()
    assert "sample 24-009 of E1, 2 results" in again.banner.words.text()
    assert again.banner.go_on.hasFocus()
    press(qtbot, window, Qt.Key.Key_Space)
    assert not again.banner.isVisible()
    assert again.entry.form.text().code == "24-009"
    assert again.entry.results.model.texts() == {("Fe", 1): "3,3", ("Cu", 1): "OVR"}


def test_a_draft_that_is_put_away_waits_in_the_list(with_engine, view, window, qtbot):
    view.entry.form.focus("code")
    write(qtbot, window, "24-009")
    ctrl(qtbot, window, Qt.Key.Key_B)
    assert view.entry.form.text().code == ""
    assert view.bar.waiting.text() == "Waiting (1)"
    assert draft.get(window.session.bench, "entry") is None
    ctrl(qtbot, window, Qt.Key.Key_W)
    assert view.stack.currentWidget() is view.waiting_page
    press(qtbot, window, Qt.Key.Key_Return)
    assert view.entry.form.text().code == "24-009"
    assert view.bar.waiting.text() == "Waiting"


def test_a_draft_is_forgotten_only_after_a_yes(with_engine, view, window, qtbot, ask):
    view.entry.form.focus("code")
    write(qtbot, window, "24-009")
    ctrl(qtbot, window, Qt.Key.Key_B)
    ctrl(qtbot, window, Qt.Key.Key_W)
    view.waiting_page.remove()
    assert ask.asked[-1][0] == "confirm"
    assert view.bar.waiting.text() == "Waiting (1)"
    ask.agree = True
    view.waiting_page.remove()
    assert view.bar.waiting.text() == "Waiting"


def test_a_sample_is_found_corrected_and_the_correction_taken_back(with_engine, view, window, qtbot):
    entry_bench.with_sample(window.session.bench)
    view.refresh(None)
    ctrl(qtbot, window, Qt.Key.Key_F)
    write(qtbot, window, "24-001")
    press(qtbot, window, Qt.Key.Key_Return)
    assert view.entry.mode == KNOWN
    assert view.entry.results.model.texts() == {("Fe", 1): "8", ("Cu", 1): "<1", ("Ca", 1): "1790"}
    assert not view.entry.confirm_button.isEnabled()
    view.entry.results.model.set_texts({("Fe", 1): "9"})
    assert view.entry.confirm_button.text().startswith("Confirm correction")
    ctrl(qtbot, window, Qt.Key.Key_Return)
    assert iron(window, "24-001") == 9.0
    assert any("Fe: 8 ppm → 9 ppm" in view.entry.history.item(n).text() for n in range(view.entry.history.count()))
    window.undo()
    assert iron(window, "24-001") == 8.0
    assert view.entry.results.model.texts()["Fe", 1] == "8"
    window.redo()
    assert iron(window, "24-001") == 9.0


def test_a_call_that_was_handed_over_stands_in_the_history_with_what_changed_under_it(with_engine, view, window):
    from benchapp.actions import call

    bench = window.session.bench
    entry_bench.with_sample(bench)
    call.issue(bench, "24-001")
    view.show_sample("24-001")
    word = call.issued(bench, "24-001")[0].call.call
    assert history(view)[-1].endswith(f": handed over the call {word}")
    sample.confirm(bench, *placed(bench), correct=True)
    view.show_sample("24-001")
    view.entry.open_known("24-001")
    assert "Superseded: Correct sample 24-001" in history(view)[-1]


def history(view) -> list[str]:
    return [view.entry.history.item(n).text() for n in range(view.entry.history.count())]


def placed(bench):
    """Engine, build and the sample with another reading."""
    engine, build, found = bench.find_sample("24-001")
    return engine.name, build.number, replace(found, oil_h=(found.oil_h or 1.0) + 1.0)


def iron(window, code):
    _, _, found = window.session.bench.find_sample(code)
    return next(item.value for item in found.readings if item.measurand == "Fe")


def test_a_code_that_is_taken_is_said_at_once(with_engine, view, window, qtbot):
    entry_bench.with_sample(window.session.bench)
    view.refresh(None)
    view.entry.form.focus("code")
    write(qtbot, window, "24-001")
    assert "in the bench file already" in view.entry.form.problem_at("code")
    assert not view.entry.confirm_button.isEnabled()


def test_a_sample_moves_to_the_engine_it_belongs_to(with_engine, view, window, qtbot):
    entry_bench.with_sample(window.session.bench)
    entry_bench.with_engine(window.session.bench, "E2")
    view.refresh(None)
    view.show_sample("24-001")
    box = view.entry.form.editor("engine")
    assert isinstance(box, QComboBox)
    box.setCurrentText("E2")
    view.entry.results.model.set_texts({("Fe", 1): "9"})
    ctrl(qtbot, window, Qt.Key.Key_Return)
    engine, _, found = window.session.bench.find_sample("24-001")
    assert engine.name == "E2"
    assert iron(window, "24-001") == 9.0
    assert found.build_h == 2.0


def test_a_sample_is_voided_with_a_reason_and_undo_brings_it_back(with_engine, view, window, qtbot, ask):
    entry_bench.with_sample(window.session.bench)
    view.refresh(None)
    view.show_sample("24-001")
    view.entry.void_button.click()
    form = ask.shown[-1]
    qtbot.keyClick(form.reason, Qt.Key.Key_Return)
    assert "Write a reason first" in form.trouble.text()
    qtbot.keyClicks(form.reason, "wrong bottle")
    qtbot.keyClick(form.reason, Qt.Key.Key_Return)
    assert form.result() == QDialog.DialogCode.Accepted
    assert window.session.bench.fleet().engines[0].builds[0].samples == ()
    assert view.entry.mode == NEW
    window.undo()
    assert len(window.session.bench.fleet().engines[0].builds[0].samples) == 1


def test_typing_is_taken_back_with_ctrl_z_before_what_was_confirmed(with_engine, view, window, qtbot):
    fill_form(view, qtbot, window)
    type_result(qtbot, view, "5")
    label = window.session.undo_label
    ctrl(qtbot, window, Qt.Key.Key_Z)
    assert view.entry.results.model.texts() == {}
    assert window.session.undo_label == label


def test_a_column_of_numbers_is_pasted_into_the_cells(with_engine, view, window, qtbot):
    fill_form(view, qtbot, window)
    QGuiApplication.clipboard().setText("12,4\r\n<1\r\n\r\n3\r\n")
    ctrl(qtbot, window, Qt.Key.Key_V)
    assert view.entry.results.model.texts() == {("Fe", 1): "12,4", ("Cu", 1): "<1", ("Sn", 1): "3"}


def test_names_with_numbers_go_to_their_own_rows_from_anywhere(with_engine, view, window, qtbot):
    view.entry.form.focus("code")
    QGuiApplication.clipboard().setText("Iron\t12.4\nCa (%)\t0.18\nBi\t1\n")
    view.bar.paste.click()
    assert view.entry.results.model.texts() == {("Fe", 1): "12.4", ("Ca", 1): "0.18 %", ("Bi", 1): "1"}
    assert {item.measurand: item.value for item in view.entry.results.model.readings()} == {
        "Fe": 12.4,
        "Ca": 1800.0,
        "Bi": 1.0,
    }


def test_a_block_that_does_not_fit_is_refused_whole(with_engine, view, window, qtbot):
    fill_form(view, qtbot, window)
    model = view.entry.results.model
    view.entry.results.table.setCurrentIndex(model.index(model.rowCount() - 1, VALUE))
    QGuiApplication.clipboard().setText("1\n2\n3\n")
    with qtbot.waitSignal(window.session.problem) as told:
        ctrl(qtbot, window, Qt.Key.Key_V)
    assert "3 rows; only 1 fit" in told.args[0].what
    assert model.texts() == {}


def test_an_empty_clipboard_says_so(with_engine, view, window, qtbot):
    QGuiApplication.clipboard().setText("")
    with qtbot.waitSignal(window.session.problem) as told:
        view.paste_clipboard()
    assert "no table on the clipboard" in told.args[0].what


def test_f6_goes_round_form_results_call(with_engine, view, window, qtbot):
    view.entry.form.focus("code")
    press(qtbot, window, Qt.Key.Key_F6)
    assert view.entry.results.table.hasFocus()
    press(qtbot, window, Qt.Key.Key_F6)
    assert view.entry.form.editor("code").hasFocus()


def test_the_engine_is_found_by_a_part_of_its_name(bench, view, window, qtbot):
    entry_bench.with_engine(window.session.bench, "North car 1")
    entry_bench.with_engine(window.session.bench, "South car 2")
    view.refresh(None)
    view.entry.form.focus("engine")
    editor = view.entry.form.editor("engine").lineEdit()
    editor.selectAll()
    qtbot.keyClicks(view.entry.form.editor("engine"), "south")
    press(qtbot, window, Qt.Key.Key_Return)
    assert view.entry.form.text().engine == "South car 2"
    assert view.entry.form.text().build == "1"
    assert window.session.selected_engine == "South car 2"


def test_build_hours_typed_bring_the_hours_on_the_oil(with_engine, view, window, qtbot):
    view.entry.form.focus("build_h")
    write(qtbot, window, "6,2")
    press(qtbot, window, Qt.Key.Key_Return)
    assert view.entry.form.text().oil_h == "6.2"


def test_a_waiting_sample_is_given_its_engine(with_engine, view, window, qtbot):
    assert sample.waiting(window.session.bench) == ()
    QGuiApplication.clipboard().setText("Sample\tFe\tCu\n24-020\t3,5\t1,5\n")
    ctrl(qtbot, window, Qt.Key.Key_V)
    assert view.stack.currentWidget() is view.paste_page
    ctrl(qtbot, window, Qt.Key.Key_Return)
    assert view.entry.mode == WAITS
    assert view.entry.form.editor("engine").hasFocus()
    qtbot.waitUntil(lambda: judged(view))
    ctrl(qtbot, window, Qt.Key.Key_Return)
    engine, _, found = window.session.bench.find_sample("24-020")
    assert engine.name == "E1"
    assert len(found.readings) == 2
    assert sample.waiting(window.session.bench) == ()


def test_a_new_sample_never_drops_the_draft_that_is_offered(with_engine, view, window, qtbot):
    view.entry.form.focus("code")
    write(qtbot, window, "24-009")
    view.may_leave()
    window.session.opened.emit()
    again = window.show_view("entry")
    again.new_sample()
    assert not again.banner.isVisible()
    assert again.bar.waiting.text() == "Waiting (1)"
    window.session.opened.emit()
    once_more = window.show_view("entry")
    assert once_more.bar.waiting.text() == "Waiting (1)"
    once_more.show_waiting()
    once_more.waiting_page.open()
    assert once_more.entry.form.text().code == "24-009"


def test_typing_on_puts_the_draft_that_is_offered_away(with_engine, view, window, qtbot):
    view.entry.form.focus("code")
    write(qtbot, window, "24-009")
    view.may_leave()
    window.session.opened.emit()
    again = window.show_view("entry")
    again.entry.form.focus("code")
    with qtbot.waitSignal(window.session.note) as told:
        write(qtbot, window, "2")
    assert told.args == ["The draft was put away.", "Nothing is lost.", "Find it under Waiting (Ctrl+W)."]
    assert not again.banner.isVisible()
    assert again.entry.form.text().code == "2"


def test_a_fill_added_meanwhile_is_taken_with_its_hours(bench, view, window, qtbot):
    from benchapp.actions import engine, fill, oil, run
    from benchapp.records import Fill, Run

    oil.add(bench, entry_bench.OIL)
    window.session.run(engine.add, name="E1", family=entry_bench.FAMILY)
    view.entry.form.focus("code")
    write(qtbot, window, "24-1")
    view.entry.results.model.set_texts({("Fe", 1): "3"})
    assert "Say which oil went in first" in view.entry.missing.text()
    window.session.run(run.add, "E1", "1", Run("practice", 3.0, entry_bench.DAY))
    window.session.run(fill.add, "E1", "1", Fill("1", entry_bench.OIL.name, 0.0, 6.0))
    assert (view.entry.form.text().code, view.entry.form.text().fill) == ("24-1", "1")
    assert view.entry.form.text().oil_h == "3"
    assert view.entry.confirm_button.isEnabled()


def test_the_search_says_when_there_is_no_such_sample(with_engine, view, window, qtbot):
    with qtbot.waitSignal(window.session.problem) as told:
        view.show_sample("nowhere")
    assert told.args[0].what == "No sample is called “nowhere”."


def test_a_reason_leads_to_its_trend(with_engine, view, window, qtbot):
    from tests.window import fakes

    engine = window.session.fleet.engines[0]
    call = fakes.call(engine, fakes.sample("x", 4.0, 9.0, 4.0), "Look inside")
    view.entry.call_panel.show_call(call)
    view.entry.side.setCurrentWidget(view.entry.call_panel)
    row = view.entry.call_panel.reasons[0]
    qtbot.waitUntil(row.button.isVisible)
    assert not row.more.isVisible()
    row.button.setFocus()
    press(qtbot, window, Qt.Key.Key_Space)
    assert row.more.isVisible()
    with qtbot.waitSignal(window.session.trend_asked) as told:
        row.trend.click()
    assert told.args == ["E1", "main bearing overlay"]
    assert "very likely (97%)" in row._lines()[0]
    assert view.entry.call_panel.sure.text().startswith("It stands on engines of the same family")


def test_a_killed_program_leaves_its_draft(tmp_path):
    """The generator stops in the middle of a word: what stood there a second before is offered again."""
    path = tmp_path / "killed.bench"
    entry_bench.with_engine(Bench.create(path)).close()
    script = f"""
import os, signal
from pathlib import Path
from PySide6.QtWidgets import QApplication
from benchapp.window import settings
settings.settings_file = lambda: Path({str(tmp_path / "window.ini")!r})
app = QApplication([])
from PySide6.QtCore import QEventLoop, QTimer
from PySide6.QtTest import QTest
from benchapp.actions import draft
from benchapp.window.main_window import MainWindow
from benchapp.window.session import Session
loop = QEventLoop()  # not QTest.qWait, which keeps the interpreter to itself while it waits
session = Session()
session.work_ended.connect(loop.quit)
session.open({str(path)!r})
loop.exec()
assert session.working is None
assert session.bench is not None
window = MainWindow(session)
view = window.show_view("entry")
QTest.keyClicks(view.entry.form.editor("code"), "24-0")
view.entry.results.model.set_texts({{("Fe", 1): "12,4"}})
look = QTimer()
look.timeout.connect(lambda: draft.get(session.bench, "entry") is None or os.kill(os.getpid(), signal.SIGKILL))
look.start(20)
QTimer.singleShot(20_000, loop.quit)
loop.exec()
"""
    done = subprocess.run([sys.executable, "-c", script], check=False, cwd=ROOT, capture_output=True, timeout=60)
    assert done.returncode == -signal.SIGKILL, done.stderr.decode()
    with Bench.open(path) as again:
        kept = draft.get(again, "entry")
    assert kept["form"]["code"] == "24-0"
    assert kept["results"] == [["Fe", 1, "12,4"]]
