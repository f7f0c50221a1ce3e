"""Views are made ahead, a piece a turn of the event loop, and are the same as those made at once."""

from __future__ import annotations

import shutil

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QTableView, QWidget

from benchapp.window import views
from benchapp.window.ahead import hold_tables
from benchapp.window.main_window import MainWindow
from benchapp.window.session import Session
from tests.window.conftest import TIMEOUT_MS


@pytest.fixture
def unhurried(qtbot, ask, small_path, no_judging):
    """A window as the program opens it, its first view in front, the others still to come."""
    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    window.show()
    window.open_soon(str(small_path))
    qtbot.waitUntil(lambda: window.current_key == "fleet", timeout=TIMEOUT_MS)
    return window


def test_the_first_view_is_whole_once_it_is_shown(qtbot, unhurried):
    tables = unhurried.view("fleet").findChildren(QTableView)
    qtbot.waitUntil(lambda: all(table.updatesEnabled() for table in tables))


def all_made(qtbot, window) -> None:
    qtbot.waitUntil(lambda: len(window.made) == len(window.entries) and not window.ahead.running, timeout=TIMEOUT_MS)


def shape(widget: QWidget) -> list[str]:
    """Every widget in it, in words, whoever was made first."""
    return sorted(f"{type(each).__name__} {each.accessibleName()}" for each in widget.findChildren(QWidget))


def test_the_other_views_are_made_while_nobody_waits(qtbot, unhurried):
    all_made(qtbot, unhurried)
    assert unhurried.current_key == "fleet"
    assert unhurried.stack.currentWidget() is unhurried.view("fleet")
    trend = unhurried.view("trend")
    assert trend.engine  # filled, and out of sight
    assert not trend.isVisible()


@pytest.mark.parametrize("entry", views.in_rail(), ids=lambda entry: entry.key)
def test_a_view_made_in_pieces_is_the_view_made_at_once(window, entry):
    at_once = views.make(entry, window.session, window.stack)
    at_once.refresh(None)
    pieces = views.make(entry, window.session, window.stack, staged=True)
    assert shape(pieces) == []
    turns = 0
    while pieces.build_next():
        turns += 1
    assert turns >= 3
    for _ in pieces.fill():
        pass
    assert shape(pieces) == shape(at_once)


def test_a_view_that_a_person_picks_comes_next(qtbot, unhurried):
    qtbot.waitUntil(lambda: unhurried.ahead.running or len(unhurried.made) > 1, timeout=TIMEOUT_MS)
    unhurried.go_to("checks")
    qtbot.waitUntil(lambda: unhurried.current_key == "checks", timeout=TIMEOUT_MS)
    assert unhurried.stack.currentWidget() is unhurried.view("checks")
    all_made(qtbot, unhurried)
    assert unhurried.current_key == "checks"  # those that came later stayed in the back


def test_what_is_needed_at_once_is_completed_at_once(qtbot, unhurried):
    qtbot.waitUntil(lambda: unhurried.ahead.running or len(unhurried.made) > 1, timeout=TIMEOUT_MS)
    view = unhurried.show_view("change")
    assert unhurried.view("change") is view
    assert unhurried.stack.currentWidget() is view
    all_made(qtbot, unhurried)
    assert unhurried.view("change") is view


def test_another_file_starts_again(qtbot, unhurried, tmp_path):
    from benchapp.actions.bench import Bench

    Bench.create(tmp_path / "other.bench").close()
    unhurried.open_path(str(tmp_path / "other.bench"))
    qtbot.waitUntil(lambda: unhurried.session.bench.path.name == "other.bench", timeout=TIMEOUT_MS)
    all_made(qtbot, unhurried)
    assert not unhurried.session.fleet.engines


def test_closing_in_the_midst_of_it_leaves_nothing(qtbot, unhurried):
    unhurried.close()
    assert not unhurried.ahead.running


def test_an_engine_picked_elsewhere_is_at_hand_when_the_fleet_comes_back(qtbot, window, no_judging):
    window.show_view("trend")
    window.session.select("B1")
    fleet = window.show_view("fleet")
    assert fleet.table.key() == "B1"
    qtbot.keyClick(fleet.table, Qt.Key.Key_Up)
    assert window.session.selected_engine == fleet.table.key()


def test_what_a_file_brought_is_laid_aside_until_its_views_are_made(
    qtbot, unhurried, monkeypatch, tmp_path, small_path
):
    from benchapp.window import app

    all_made(qtbot, unhurried)
    qtbot.waitUntil(lambda: not unhurried.session.busy, timeout=TIMEOUT_MS)
    aside = []
    monkeypatch.setattr(app.gc, "freeze", lambda: aside.append(len(unhurried.made)))
    settled = app.Settled(unhurried)
    shutil.copy(small_path, tmp_path / "other.bench")
    unhurried.open_path(str(tmp_path / "other.bench"))
    qtbot.waitUntil(lambda: not settled._waits, timeout=TIMEOUT_MS)
    assert aside[-1] == len(unhurried.entries)
    assert min(aside) < len(unhurried.entries), "nothing was laid aside before the views were made"
    then = len(aside)
    unhurried.session.background(int, (), str)
    qtbot.waitUntil(lambda: not unhurried.session.busy, timeout=TIMEOUT_MS)
    assert len(aside) == then, "a job of later is none of the file's"


def test_the_tables_of_a_view_are_painted_after_it(qtbot):
    view = QWidget()
    qtbot.addWidget(view)
    row = QHBoxLayout(view)
    tables = [QTableView(view) for _ in range(3)]
    for table in tables:
        row.addWidget(table)
    let_paint = hold_tables(view)
    view.show()
    assert not any(table.updatesEnabled() for table in tables)
    let_paint()
    qtbot.waitUntil(lambda: all(table.updatesEnabled() for table in tables))
