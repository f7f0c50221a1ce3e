"""The whole way with the keyboard alone: an empty bench, an engine of a family, its oil, a messy export, the call."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QLineEdit

from benchapp.actions import draft
from benchapp.actions.bench import Bench
from benchapp.records import CALL_WORDS
from benchapp.window.main_window import MainWindow
from benchapp.window.session import Session
from tests.window import entry_bench

ENTER, CTRL = Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier

# popups ask for what the offscreen platform has not
pytestmark = pytest.mark.qt_log_ignore("This plugin does not support", extend=True)


@pytest.fixture
def bench(tmp_path):
    """A real, empty bench file, in place of the one in memory."""
    return Bench.create(tmp_path / "keys.bench")


def ctrl(qtbot, window, key):
    qtbot.keyClick(window.focusWidget() or window, key, CTRL)


def enter(qtbot, window, ask, **texts):
    """Types into the form that just opened and enters it with its button."""
    dialog = ask.shown[-1]
    for name, text in texts.items():
        editor = dialog.fields[name].editor
        editor.setFocus()
        line = editor if isinstance(editor, QLineEdit) else editor.lineEdit()
        line.selectAll()
        qtbot.keyClicks(editor, text)
        qtbot.keyClick(editor, ENTER)
    qtbot.keyClick(dialog.save, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: not dialog.isVisible())
    window.activateWindow()


def type_over(qtbot, table, text):
    index = table.currentIndex()
    qtbot.keyClicks(table, text[0])
    editor = next(line for line in table.findChildren(QLineEdit) if line.isVisible())
    qtbot.keyClicks(editor, text[1:])
    qtbot.keyClick(editor, ENTER)
    qtbot.waitUntil(lambda: index.data() == text and table.state() == table.State.NoState)


def test_from_nothing_to_a_call(window, qtbot, ask):
    window.activateWindow()
    ctrl(qtbot, window, Qt.Key.Key_N)
    enter(qtbot, window, ask, name="E1", family=entry_bench.FAMILY)
    ctrl(qtbot, window, Qt.Key.Key_L)  # there is no oil yet: its form comes first
    enter(qtbot, window, ask, name="Example 10W-40")
    ctrl(qtbot, window, Qt.Key.Key_L)
    enter(qtbot, window, ask, build_h="0")
    ctrl(qtbot, window, Qt.Key.Key_R)
    enter(qtbot, window, ask, hours="4,5")

    ctrl(qtbot, window, Qt.Key.Key_2)
    view = window.view("entry")
    assert view.entry.form.editor("code").hasFocus()
    QGuiApplication.clipboard().setText(entry_bench.EXPORT)
    ctrl(qtbot, window, Qt.Key.Key_V)
    table = view.paste_page.table
    assert table.hasFocus()
    type_over(qtbot, table, "12,4")
    qtbot.keyClick(window.focusWidget(), Qt.Key.Key_F8)
    type_over(qtbot, table, "3,3")
    ctrl(qtbot, window, ENTER)
    assert view.entry.head.text() == "Sample 24-017 waits for an engine"
    assert view.entry.form.text().engine == "E1"
    assert view.entry.form.text().build_h == "4.5"
    ctrl(qtbot, window, ENTER)

    qtbot.waitUntil(lambda: view.entry.call_panel.call is not None and view.entry.call_panel.call.sample == "24-017")
    assert view.entry.call_panel.word.text() in CALL_WORDS
    assert view.entry.call_panel.sentence.text() == view.entry.call_panel.call.sentence
    engine, _, found = window.session.bench.find_sample("24-017")
    assert engine.name == "E1"
    assert {item.measurand: item.value for item in found.readings} == {
        "Fe": 18.9, "Cu": 12.4, "Pb": 7.7, "Al": 3.3, "Si": 9.8,
    }  # fmt: skip
    qtbot.waitUntil(lambda: "E1" in window.session.calls)
    assert window.session.calls["E1"].call == view.entry.call_panel.call.call


def test_a_cell_that_is_just_being_typed_is_confirmed_too(bench, window, qtbot):
    entry_bench.with_engine(bench)
    view = window.show_view("entry")
    view.entry.form.focus("code")
    qtbot.keyClicks(view.entry.form.editor("code"), "24-1")
    view.entry.results.focus()
    qtbot.keyClicks(view.entry.results.table, "7")
    editor = next(line for line in view.entry.results.table.findChildren(QLineEdit) if line.isVisible())
    qtbot.keyClicks(editor, ",5")
    qtbot.keyClick(editor, ENTER, CTRL)
    _, _, found = bench.find_sample("24-1")
    assert [item.value for item in found.readings] == [7.5]


def test_now_is_this_minute(bench, window, qtbot):
    entry_bench.with_engine(bench)
    view = window.show_view("entry")
    view.entry.form.focus("taken_at")
    qtbot.keyClicks(view.entry.form.editor("taken_at"), "now")
    assert "reads one way only" in view.entry.form.problem_at("taken_at")
    qtbot.keyClick(view.entry.form.editor("taken_at"), ENTER)
    assert view.entry.form.problem_at("taken_at") == ""
    assert len(view.entry.form.text().taken_at) == len("2026-05-03 14:20")


def test_a_file_that_can_only_be_read_keeps_what_is_typed_and_says_why(qtbot, ask, tmp_path):
    path = tmp_path / "keys.bench"
    entry_bench.with_engine(Bench.create(path)).close()
    session = Session(ask=ask)
    session.use(Bench.open(path, read_only=True))
    window = MainWindow(session)
    qtbot.addWidget(window)
    window.show()
    view = window.show_view("entry")
    view.entry.form.focus("code")
    qtbot.keyClicks(view.entry.form.editor("code"), "24-1")
    view.entry.results.model.set_texts({("Fe", 1): "3"})
    view.may_leave()
    assert draft.get(session.bench, "entry")["form"]["code"] == "24-1"
    with qtbot.waitSignal(session.problem) as told:
        view.confirm()
    assert told.args[0].what
    assert told.args[0].do
    assert view.entry.form.text().code == "24-1"
    session.close()
