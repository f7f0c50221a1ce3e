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


@pytest.mark.parametrize(("large", "scale"), [(False, 1.0), (True, 1.0), (True, 1.25)])
def test_bench_checks_need_no_scrolling_up_to_large_at_125(window, large, scale):
    window.resize(*LAPTOP)
    checks = window.show_view("checks")
    theme.apply("sunlight", large, scale)
    checks.pages.setCurrentWidget(checks.split)
    checks.why.setText("The last check of this instrument is 63 days old: run the standard before the next sample.")
    checks.said.setText("2026-09-25 07:30: 50 ppm.\nNo rule fired here.")
    for _ in range(5):
        QApplication.processEvents()
    assert checks.isVisible()
    assert checks.minimumSizeHint().height() <= checks.height()
    assert checks.height() <= window.centralWidget().height()


@pytest.mark.parametrize(("large", "scale"), [(False, 1.0), (True, 1.5), (False, 2.0)])
def test_a_lamp_of_the_break_in_shows_all_its_lines(window, large, scale):
    window.resize(*LAPTOP)
    view = window.show_view("breakin")
    many = "the next pull should bring 1.5 kW (0.7 to 2.1), not yet below the pull-to-pull noise of 0.8 kW " * 2
    view.cards["power"].show_lamp("not yet", many)
    theme.apply("sunlight", large, scale)
    for _ in range(5):
        QApplication.processEvents()
    card, plot = view.cards["power"], view.plots["power"]
    assert card.reason.height() >= card.reason.heightForWidth(card.reason.width())
    assert card.geometry().bottom() < plot.geometry().top()


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
