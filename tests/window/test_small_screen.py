"""A laptop of 1366 x 768: nothing has to be scrolled sideways up to large targets at 150 %, or 200 % without them."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QApplication, QLabel, QStyle, QStyleOptionComboBox, QTabBar

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


def test_a_look_that_was_larger_leaves_nothing_to_scroll_sideways(qtbot, window):
    """The preview and the waiting list, which nobody looks at, take the new look when they are shown."""
    window.resize(1920, 1080)
    view = window.show_view("entry")
    for scale, wide, large in ((1.5, 1920, True), (1.0, 1024, False)):
        window.resize(wide, LAPTOP[1])
        theme.apply("sunlight", large, scale)
        for _ in range(5):
            QApplication.processEvents()
    qtbot.waitUntil(lambda: view.minimumSizeHint().width() <= window.width() - window.rail.width())


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


def all_seen(tabs: QTabBar) -> bool:
    return tabs.tabRect(tabs.count() - 1).right() < tabs.width()


@pytest.mark.parametrize(("large", "scale"), [(False, 1.0), (True, 1.0), (True, 1.25), (False, 1.5)])
@pytest.mark.parametrize("wide", [1100, 1366, 1600, 1920])
def test_the_call_is_never_squeezed_beside_the_results(qtbot, window, large, scale, wide):
    """Call, oil and history: their tabs are all seen, or the call has the whole pane."""
    window.resize(wide, LAPTOP[1])
    entry = window.show_view("entry").entry
    theme.apply("sunlight", large, scale)
    qtbot.waitUntil(lambda: all_seen(entry.side.tabBar()))


@pytest.mark.parametrize(("large", "scale"), [(False, 1.0), (True, 1.0), (False, 1.5)])
def test_the_lists_beside_a_pasted_sheet_say_how_much_is_in_each(qtbot, window, large, scale):
    window.resize(*LAPTOP)
    theme.apply("sunlight", large, scale)
    view = window.show_view("entry")
    view.paste_text("Sample;Fe;Cu\nA-1;12,4,1;3,1\nA-2;12,4;OVR\n")
    page = view.paste_page
    qtbot.waitUntil(lambda: page.lists.tabText(0) == "Problems 2")
    qtbot.waitUntil(lambda: all_seen(page.lists.tabBar()))
    assert page.sheet.width() > page.lists.width()
    field, option = page.decimal, QStyleOptionComboBox()
    field.initStyleOption(option)
    room = field.style().subControlRect(
        QStyle.ComplexControl.CC_ComboBox, option, QStyle.SubControl.SC_ComboBoxEditField, field
    )
    assert field.currentText() == "found: comma"
    assert field.fontMetrics().horizontalAdvance(field.currentText()) <= room.width()


@pytest.mark.parametrize("high", [420, 720])
def test_cautions_beside_a_form_are_never_cut(qtbot, window, ask, high):
    """They are scrolled where there is no room for all."""
    theme.apply("sunlight", True, 1.5)
    window.session.select("A1")
    window.add_fill()
    form = ask.shown[-1]
    form.resize(1000, high)
    said = [label for label in form.findChildren(QLabel) if label.text() in form.cautions()]
    assert len(said) == len(form.cautions()) > 0
    qtbot.waitUntil(lambda: all(label.height() >= label.heightForWidth(label.width()) for label in said))
    form.reject()


@pytest.mark.parametrize(("large", "scale"), [(False, 1.0), (False, 1.5), (True, 1.5)])
def test_the_call_in_a_sentence_is_never_cut_in_the_fleet(qtbot, window, large, scale):
    window.resize(*LAPTOP)
    view = window.show_view("fleet")
    view.show_engine("A1")
    theme.apply("sunlight", large, scale)
    detail = view.detail
    detail.sentence.setText("Park it until someone has looked inside: the bearings are losing their overlay. " * 2)
    detail.stands.setText("Next sample after 2.0 h · 4 sound samples of this build, its own break-in sample. " * 2)
    detail.sentence.show()
    detail.stands.show()
    for label in (detail.sentence, detail.stands):
        qtbot.waitUntil(label.isVisible)
        qtbot.waitUntil(lambda label=label: label.height() >= label.heightForWidth(label.width()))
