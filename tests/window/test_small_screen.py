"""A laptop of 1366 x 768: nothing has to be scrolled sideways up to large targets at 150 %, or 200 % without them."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QApplication

from benchapp.window import theme

pytestmark = pytest.mark.usefixtures("no_judging")
LAPTOP = (1366, 736)
"""What a title bar leaves of the screen."""


@pytest.mark.parametrize(("large", "scale"), [(False, 1.0), (True, 1.0), (True, 1.25), (True, 1.5), (False, 2.0)])
def test_no_view_is_wider_than_the_screen(window, large, scale):
    window.resize(*LAPTOP)
    theme.apply("sunlight", large, scale)
    wide = {}
    for entry in window.entries:
        view = window.show_view(entry.key)
        for _ in range(5):
            QApplication.processEvents()
        wanted, room = view.minimumSizeHint().width(), window.width() - window.rail.width()
        if wanted > room:
            wide[entry.key] = (wanted, room)
    assert window.size().toTuple() == LAPTOP
    assert wide == {}


def test_results_and_call_share_a_pane_where_there_is_no_room_beside(qtbot, window):
    window.resize(*LAPTOP)
    entry = window.show_view("entry").entry
    assert entry.side.indexOf(entry.results) < 0
    assert entry.side.tabText(0) == "Call"
    theme.apply("sunlight", True, 1.5)
    QApplication.processEvents()
    assert entry.side.tabText(0) == "Results"
    assert entry.results.isVisible()
    entry.side.setCurrentWidget(entry.call_panel)
    entry.results.focus()
    assert entry.results.isVisible()
    assert entry.results.table.hasFocus()
    theme.apply("sunlight")
    QApplication.processEvents()
    assert entry.side.indexOf(entry.results) < 0
    assert entry.results.isVisible()
    assert entry.call_panel.isVisible()
    assert entry.results.x() < entry.side.x()
