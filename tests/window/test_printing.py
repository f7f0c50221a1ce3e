"""Labels, the day and the card as a person prints them; the preview of a sheet is marked as one."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QPainter

from benchapp.sheet import page


@pytest.fixture
def judged(qtbot, window):
    qtbot.waitUntil(lambda: not window.session.busy, timeout=30000)
    window.session.select("A1", "26-002")
    return window


def test_labels_for_the_next_bottles_and_for_ticked_samples(qtbot, judged, ask, tmp_path):
    judged.menus.actions["print_labels"].trigger()
    dialog = ask.shown[-1]
    assert dialog.codes() == ["26-002"]
    qtbot.keyClick(dialog.next, Qt.Key.Key_Up)
    assert dialog.next.value() == 1
    qtbot.keyClick(dialog.list, Qt.Key.Key_Home)
    qtbot.keyClick(dialog.list, Qt.Key.Key_Space)
    assert dialog.codes() == ["26-003", "26-002"]
    assert not dialog.view.grab().isNull()
    ask.path = str(tmp_path / "labels.pdf")
    dialog.card.setChecked(True)
    qtbot.mouseClick(dialog.pdf, Qt.MouseButton.LeftButton)
    assert b"/Count 2" in (tmp_path / "labels.pdf").read_bytes()
    assert "written" in judged.messages.what.text()


def test_single_labels_turn_page_by_page(qtbot, judged, ask):
    judged.print_labels()
    dialog = ask.shown[-1]
    dialog.next.setValue(2)
    dialog.paper.setCurrentText("single label")
    assert len(dialog.view.pages) == 3
    qtbot.keyClick(dialog.view, Qt.Key.Key_PageDown)
    qtbot.keyClick(dialog.view, Qt.Key.Key_PageDown)
    qtbot.keyClick(dialog.view, Qt.Key.Key_PageDown)
    assert dialog.view.number == 2
    qtbot.keyClick(dialog.view, Qt.Key.Key_PageUp)
    assert dialog.view.number == 1
    assert not dialog.view.grab().isNull()


def test_nothing_to_label_leaves_the_buttons_grey(judged, ask):
    judged.session.select("A1", "")
    judged.print_labels()
    dialog = ask.shown[-1]
    dialog.next.setValue(0)
    assert not dialog.print.isEnabled()
    assert not dialog.pdf.isEnabled()


def test_without_an_engine_it_says_what_to_do(judged, ask):
    judged.session.select("")
    judged.print_labels()
    assert "No engine is picked" in judged.messages.what.text()
    assert not ask.shown


def test_the_page_of_the_day_and_the_card(qtbot, judged, ask, tmp_path):
    judged.menus.actions["print_day"].trigger()
    dialog = ask.shown[-1]
    assert [row.engine for row in dialog.day.rows] == ["A1", "B1"]
    ask.path = str(tmp_path / "day.pdf")
    dialog.save()
    assert (tmp_path / "day.pdf").read_bytes().startswith(b"%PDF")
    judged.menus.actions["print_card"].trigger()
    assert not ask.shown[-1].view.grab().isNull()
    ask.path = str(tmp_path / "nowhere" / "card.pdf")
    ask.shown[-1].save()
    assert "could not be written" in ask.shown[-1].trouble.text()


def test_the_day_waits_for_the_calls(window, ask, monkeypatch):
    monkeypatch.setattr(window.session, "being_judged", lambda: frozenset({"A1"}))
    window.print_day()
    assert "still being judged" in window.messages.what.text()
    assert not ask.shown


def test_the_preview_of_a_sheet_is_marked_and_the_paper_is_not(qtbot, judged, ask, monkeypatch):
    judged.print_sheet()
    qtbot.waitUntil(lambda: bool(ask.shown), timeout=30_000)
    dialog = ask.shown[-1]
    assert dialog.content.stamps == ("PREVIEW: this call has not been issued.",)
    printed = []
    monkeypatch.setattr(page, "print_sheet", lambda content, printer: printed.append(content))
    dialog._printer = QPainter  # stands in for a printer: nothing is drawn on it
    dialog._printer_chosen()
    assert printed[0].stamps == ()
    assert printed[0].issued.startswith("Issued by test")
