"""Ctrl+K and the reading room, by keyboard alone."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QContextMenuEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QMenu

from benchapp.window.reading import where


@pytest.fixture
def quiet(qtbot, no_judging, window):
    qtbot.waitUntil(lambda: not window.session.busy, timeout=30000)
    window.session.select("A1")
    return window


def search(qtbot, window, ask, text: str):
    window.menus.actions["search"].trigger()
    dialog = ask.shown[-1]
    qtbot.keyClicks(dialog.line, text)
    return dialog


def test_the_key_is_ctrl_k(quiet):
    assert quiet.menus.actions["search"].shortcut() == QKeySequence("Ctrl+K")


def test_a_scanned_bottle_opens_its_sample(qtbot, quiet, ask):
    dialog = search(qtbot, quiet, ask, "26-002")
    qtbot.keyClick(dialog.line, Qt.Key.Key_Return)
    assert not dialog.isVisible()
    assert quiet.current_key == "entry"
    assert quiet.view("entry").entry.code == "26-002"


def test_a_scan_into_sample_entrys_own_search_opens_it_too(qtbot, quiet):
    view = quiet.show_view("entry")
    qtbot.keyClicks(view.bar.find, "26-001")
    qtbot.keyClick(view.bar.find, Qt.Key.Key_Return)
    assert view.entry.code == "26-001"


def test_a_bottle_labelled_beforehand_begins_its_sample(qtbot, quiet, ask):
    quiet.session.select("B1")
    dialog = search(qtbot, quiet, ask, "26-004")
    assert dialog.at_hand().title == "New sample 26-004"
    qtbot.keyClick(dialog.line, Qt.Key.Key_Return)
    assert quiet.current_key == "entry"
    text = quiet.view("entry").entry.form.text()
    assert (text.code, text.engine) == ("26-004", "A1")


def test_arrows_pick_while_one_goes_on_typing(qtbot, quiet, ask):
    dialog = search(qtbot, quiet, ask, "26-0")
    first = dialog.at_hand()
    qtbot.keyClick(dialog.line, Qt.Key.Key_Down)
    assert dialog.at_hand() != first
    qtbot.keyClick(dialog.line, Qt.Key.Key_Up)
    qtbot.keyClick(dialog.line, Qt.Key.Key_Up)
    assert dialog.at_hand() == first
    qtbot.keyClick(dialog.line, Qt.Key.Key_PageDown)
    assert dialog.at_hand() == dialog.model.hits[min(10, len(dialog.model.hits) - 1)]
    assert not dialog.list.grab().isNull()


def test_an_engine_a_view_a_part_and_an_action(qtbot, quiet, ask):
    qtbot.keyClick(search(qtbot, quiet, ask, "B1").line, Qt.Key.Key_Return)
    assert quiet.session.selected_engine == "B1"
    qtbot.keyClick(search(qtbot, quiet, ask, "trends").line, Qt.Key.Key_Return)
    assert quiet.current_key == "trend"
    dialog = search(qtbot, quiet, ask, "crank")
    part = next(n for n, hit in enumerate(dialog.model.hits) if hit.kind == "part" and hit.about.startswith("A1"))
    for _ in range(part):
        qtbot.keyClick(dialog.line, Qt.Key.Key_Down)
    qtbot.keyClick(dialog.line, Qt.Key.Key_Return)
    assert quiet.current_key == "fleet"
    assert "crank" in quiet.view("fleet").detail.parts.key()
    qtbot.keyClick(search(qtbot, quiet, ask, "add engine").line, Qt.Key.Key_Return)
    assert ask.shown[-1].windowTitle() == "Add an engine"


def test_nothing_found_says_so_and_opens_nothing(qtbot, quiet, ask):
    dialog = search(qtbot, quiet, ask, "zzz")
    assert "Nothing here is called “zzz”" in dialog.words.text()
    qtbot.keyClick(dialog.line, Qt.Key.Key_Return)
    assert dialog.isVisible()
    qtbot.keyClick(dialog.line, Qt.Key.Key_Escape)
    assert not dialog.isVisible()


def test_a_click_opens(qtbot, quiet, ask):
    dialog = search(qtbot, quiet, ask, "oxidation")
    place = dialog.list.visualRect(dialog.model.index(0)).center()
    qtbot.mouseClick(dialog.list.viewport(), Qt.MouseButton.LeftButton, pos=place)
    room = ask.shown[-1]
    assert room.shown().title == "oxidation"
    assert "ASTM E2412" in room.source.text()


# --- the reading room


def test_an_element_says_what_it_tells_in_this_engine(qtbot, quiet, ask):
    quiet.read_about("Fe")
    room = ask.shown[-1]
    assert room.shown().title == "iron (Fe)"
    qtbot.waitUntil(lambda: "can come from" in room.here.text())
    assert room.here.text().startswith("In A1")
    assert not room.grab().isNull()


def test_what_is_this_at_a_cell(qtbot, quiet, ask):
    table = quiet.view("fleet").table
    table.setFocus()
    column = next(n for n, c in enumerate(table.rows.columns) if c.title == "Of ceiling")
    table.setCurrentIndex(table.rows.index(0, column))
    qtbot.waitUntil(table.hasFocus)
    quiet.menus.actions["read_here"].trigger()
    assert ask.shown[-1].shown().title == "ceiling"


def test_the_menu_of_a_head_and_of_a_cell(qtbot, quiet, ask, tmp_path):
    table = quiet.view("fleet").table
    head = table.horizontalHeader()
    column = next(n for n, c in enumerate(table.rows.columns) if c.title == "Of ceiling")
    head.customContextMenuRequested.emit(head.rect().center().__class__(head.sectionViewportPosition(column) + 4, 4))
    menu = table.findChild(QMenu)
    menu.actions()[0].trigger()
    menu.close()
    assert ask.shown[-1].shown().title == "ceiling"
    ask.path = str(tmp_path / "engines.csv")
    at = table.rect().center()
    table.contextMenuEvent(QContextMenuEvent(QContextMenuEvent.Reason.Keyboard, at, table.mapToGlobal(at)))
    menu = [made for made in table.findChildren(QMenu) if made.isVisible()][-1]
    menu.actions()[-1].trigger()
    menu.close()
    assert "A1" in (tmp_path / "engines.csv").read_text(encoding="utf-8-sig")


def test_ctrl_e_exports_the_table_under_the_keyboard(qtbot, quiet, ask, tmp_path):
    parts = quiet.view("fleet").detail.parts
    quiet.view("fleet").detail.tabs.setCurrentWidget(parts)
    parts.setFocus()
    qtbot.waitUntil(parts.hasFocus)
    ask.path = str(tmp_path / "parts.csv")
    quiet.menus.actions["export_table"].trigger()
    assert "Material" in (tmp_path / "parts.csv").read_text(encoding="utf-8-sig")


def test_the_room_is_read_by_keyboard(qtbot, quiet, ask):
    quiet.menus.actions["read_up"].trigger()
    room = ask.shown[-1]
    qtbot.keyClicks(room.filter, "carry-over")
    assert room.shown().title == "carry-over"
    qtbot.keyClick(room.filter, Qt.Key.Key_Return)
    qtbot.waitUntil(room.table.hasFocus)
    room.filter.setFocus()
    room.filter.setText("zzz")
    assert room.shown() is None
    qtbot.keyClick(room.filter, Qt.Key.Key_Escape)
    assert room.filter.text() == ""
    assert room.isVisible()


def test_what_is_this_in_a_form(qtbot, quiet, ask):
    quiet.add_oil()
    form = ask.shown[-1]
    form.fields["hths_mpas"].editor.setFocus()
    qtbot.waitUntil(form.fields["hths_mpas"].editor.hasFocus)
    form.read_here()
    room = ask.shown[-1]
    assert room.shown().title == "HTHS"
    assert room.parent() is form


def test_words_at_a_place(qtbot, quiet):
    assert where.words_at(None) == ()
    table = quiet.view("fleet").table
    assert where.words_of_cell(table, -1, 0) == ("Call",)
    assert where.words_at(quiet.view("fleet").filter) == ("Filter the engines",)


def test_without_a_file_the_room_opens_too(qtbot, ask):
    from benchapp.window.main_window import MainWindow
    from benchapp.window.session import Session

    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    window.menus.actions["read_up"].trigger()
    assert ask.shown[-1].topics


def test_no_key_of_a_view_is_also_a_key_of_the_menus(quiet):
    """Qt runs neither of two that are equal."""
    menus = {key.toString() for action in quiet.menus.actions.values() for key in action.shortcuts()}
    assert "Ctrl+K" in menus
    for entry in quiet.entries:
        view = quiet.show_view(entry.key)
        own = {shortcut.key().toString() for shortcut in view.findChildren(QShortcut)}
        assert not own & menus, f"{entry.title}: {own & menus}"


def test_all_keys_of_the_menus_differ(quiet):
    keys = [key.toString() for action in quiet.menus.actions.values() for key in action.shortcuts()]
    assert len(keys) == len(set(keys))
