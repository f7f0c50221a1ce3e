"""Bench checks on a real bench file: lamp, charts, typing a check run with the keyboard, holds, paste, empty states."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import MappingProxyType

import pytest

pytest.importorskip("PySide6", reason="the window needs Qt", exc_type=ImportError)

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication, QPixmap
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLineEdit

from benchapp.actions import checks, instrument
from benchapp.records import Instrument, InstrumentElement, Standard
from benchapp.window import theme
from benchapp.window.checks import frame, lamp
from benchapp.window.checks.view import NO_OTHER, NO_PAIR, NOT_HELD
from tests.window.small import DAY

TODAY = DAY + dt.timedelta(days=4)
STANDARD = Standard("Check 50", "standard", "L-7", None, MappingProxyType({"Cu": 50.0, "Fe": 50.0}))


def run(bench, days: float, fe: float, cu: float = 50.0) -> None:
    checks.add_runs(bench, "disc", DAY + dt.timedelta(days=days), "Check 50", {"Fe": fe, "Cu": cu})


@pytest.fixture
def standard(bench):
    checks.put_standard(bench, "", STANDARD)
    return bench


@pytest.fixture
def view(no_judging, standard, window, qtbot):
    """Bench checks in front, four days after the first fill."""
    qtbot.waitUntil(window.isActiveWindow, timeout=30_000)
    QTest.keyClick(window, Qt.Key.Key_6, Qt.KeyboardModifier.ControlModifier)
    made = window.view("checks")
    made.now = lambda: TODAY
    settle(made, qtbot)
    return made


def settle(view, qtbot) -> None:
    """Waits until the lamps and the instrument at hand are as the file has them."""
    view._look()
    qtbot.waitUntil(lambda: not view.session.busy, timeout=30_000)


# --- lamp and words


def test_without_a_check_the_lamp_is_open_and_says_what_to_do(view):
    assert view.lamp.state == checks.NONE
    assert view.lamp.accessibleName() == "Lamp: Not known"
    assert view.answer.text() == "disc: Not known"
    assert "run a standard and a blank before the first sample" in view.why.text()
    assert view.plot_words.text() == frame.NO_RUNS
    assert view.runs_words.text() == frame.NO_RUNS
    assert view.held_words.text() == NOT_HELD
    assert view.other_box.count() == 0
    assert view.compared_words.text() == NO_OTHER


def test_a_failed_check_is_a_cross_and_its_samples_are_listed(view, qtbot):
    run(view.session.bench, 0.1, 50.5)
    run(view.session.bench, 3.5, 58.0)
    settle(view, qtbot)
    assert view.lamp.state == checks.FAILED
    assert view.answer.text() == "disc: Do not trust it"
    assert "Fe 58 ppm for 50 ppm. Standardise, run it again." in view.why.text()
    assert view.tabs.tabText(2) == "&Held 3"
    assert [row.sample for row in view.held.rows.shown()] == ["26-003", "26-002", "26-001"]
    assert view.held.rows.index(0, 3).data().startswith("The check of disc on 2026-04-06 21:00 failed")
    # a good run now frees nothing that was read before the failed one, and the lamp turns
    run(view.session.bench, 3.9, 50.0)
    settle(view, qtbot)
    assert view.lamp.state == checks.GOOD
    assert view.tabs.tabText(2) == "&Held 3"


def test_a_held_sample_is_released_by_measuring_it_again(view, qtbot, ask):
    run(view.session.bench, 0.1, 50.5)
    run(view.session.bench, 3.5, 58.0)
    run(view.session.bench, 3.9, 50.0)
    settle(view, qtbot)
    view.tabs.setCurrentIndex(2)
    assert view.held.key() == "26-003"
    view.again_button.click()
    assert "26-003 measured again" in ask.asked[-1][1]
    assert view.tabs.tabText(2) == "&Held 3"  # the person turned back
    ask.agree = True
    view.again_button.click()
    settle(view, qtbot)
    assert view.tabs.tabText(2) == "&Held 2"
    view.session.undo()
    settle(view, qtbot)
    assert view.tabs.tabText(2) == "&Held 3"


def test_enter_opens_the_held_sample_in_sample_entry(view, qtbot, window):
    run(view.session.bench, 3.5, 58.0)
    settle(view, qtbot)
    view.tabs.setCurrentIndex(2)
    QTest.keyClick(view.held, Qt.Key.Key_Return)
    assert window.current_key == "entry"


# --- charts


def test_charts_walk_with_the_keyboard_and_say_what_fired(view, qtbot):
    for n in range(10):
        run(view.session.bench, 1 + n / 10, 50.0 + 0.2 * (n % 2))
    run(view.session.bench, 3.9, 53.0)
    settle(view, qtbot)
    assert [line.element for line in view.elements.rows.shown()] == ["Cu", "Fe"]
    view.elements.pick("Fe")
    assert view.standard_box.currentText() == "Check 50, 50 ppm"
    assert view.said.text().startswith("2026-04-07 06:36: 53 ppm.\n")
    assert "above its limit of three standard deviations" in view.said.text()
    assert "±10 %" in view.limits_words.text()
    QTest.keyClick(view.plot, Qt.Key.Key_Left)
    assert view.said.text() == "2026-04-05 06:36: 50.2 ppm.\nEight check runs in a row are below the centre."
    QTest.keyClick(view.plot, Qt.Key.Key_Home)
    assert view.plot.at == 0
    assert view.said.text() == "2026-04-04 09:00: 50 ppm.\nNo rule fired here."
    QTest.keyClick(view.plot, Qt.Key.Key_Left)
    assert view.plot.at == 0
    QTest.keyClick(view.plot, Qt.Key.Key_End)
    assert view.plot.at == 10
    for place in range(view.chart_box.count()):
        view.chart_box.setCurrentIndex(place)
        view.chart_box.activated.emit(place)
        assert view.plot.lines
        assert view.plot_stack.currentIndex() == 0
    assert view.limits_words.text() == "Limits: own scatter of 11 check runs."
    assert len(view.plot.lines) == 2  # both sides of the CUSUM


def test_one_run_has_no_moving_range(view, qtbot):
    run(view.session.bench, 3.9, 50.0)
    settle(view, qtbot)
    view.chart_box.setCurrentIndex(view.chart_box.findData("moving range"))
    view.chart_box.activated.emit(view.chart_box.currentIndex())
    assert view.plot_words.text() == frame.TOO_FEW


def test_noise_is_said_in_words(view, qtbot):
    for n in range(10):
        run(view.session.bench, 1 + n / 10, 50.0 + n % 3)
    settle(view, qtbot)
    view.tabs.setCurrentIndex(1)
    view.noise.pick("Fe")
    assert view.noise_said.text().startswith("Fe: one reading scatters by √(")
    assert "It started from" in view.noise_said.text()
    index = view.noise.rows.index_of("Fe")
    last = view.noise.rows.columnCount() - 1
    assert index.siblingAtColumn(last).data() == "own runs"


# --- entering


def test_a_check_run_is_typed_with_the_keyboard_alone(view, qtbot, ask):
    QTest.keyClick(view, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    form = ask.shown[-1]
    qtbot.addWidget(form)
    form.set_text("standard", "Check 50")
    form.set_text("run_at", "2026-04-07 08:00")
    assert form.table.typed.rows() == [["Cu", "50", ""], ["Fe", "50", ""]]
    table = form.table
    table.setFocus()
    for text in ("49,6", "-0.1"):  # below zero, as a blank may read
        QTest.keyClick(table, text[0])
        editor = table.findChild(QLineEdit)
        QTest.keyClicks(editor, text[1:])
        QTest.keyClick(editor, Qt.Key.Key_Return)
        qtbot.waitUntil(lambda: table.findChild(QLineEdit) is None)
    qtbot.waitUntil(lambda: form.focusWidget() is form.save)
    assert [row[2] for row in table.typed.rows()] == ["49,6", "-0.1"]
    QTest.keyClick(form, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    runs = view.session.fleet.check_runs
    assert [(r.element, r.found_ppm) for r in runs] == [("Cu", 49.6), ("Fe", -0.1)]
    settle(view, qtbot)
    assert view.lamp.state == checks.FAILED
    assert "Fe -0.1 ppm for 50 ppm" in view.why.text()


def test_a_check_run_that_cannot_be_read_stays_in_the_form(view, qtbot, ask):
    view.enter_run()
    form = ask.shown[-1]
    qtbot.addWidget(form)
    form.set_text("standard", "Check 50")
    form.try_commit()
    assert form.trouble.text().startswith("No element was typed.")
    form.table.typed.set_rows([("Fe", "50", "x")])
    form.try_commit()
    assert "Row 1, Found [ppm]" in form.trouble.text()
    form.table.typed.set_rows([("Fe", "50", "50"), ("Fe", "50", "51")])
    form.try_commit()
    assert form.trouble.text() == "Fe stands in two rows. Keep one."
    form.table.typed.set_rows([("Xx", "50", "50")])
    form.try_commit()
    assert "no element's symbol" in form.trouble.text()
    assert view.session.fleet.check_runs == ()


def test_a_standard_is_entered_and_edited(view, qtbot, ask):
    view.standard_button.click()
    form = ask.shown[-1]
    qtbot.addWidget(form)
    form.set_text("name", "Check 100")
    form.set_text("lot", "L-9")
    form.set_text("expires_on", "2027-03-01")
    form.try_commit()
    assert form.trouble.text() == "A standard needs at least one certified value."
    form.table.typed.set_rows([("Fe", "100"), ("Fe", "")])
    form.try_commit()
    assert form.trouble.text() == "" or "two rows" in form.trouble.text()
    form.table.typed.set_rows([("Fe", "100"), ("Ni", "")])
    form.try_commit()
    assert view.session.fleet.standards["Check 100"].ppm == {"Fe": 100.0}
    settle(view, qtbot)
    view.tabs.setCurrentIndex(6)
    assert view.standards.pick("Check 100")
    QTest.keyClick(view.standards, Qt.Key.Key_Return)
    again = ask.shown[-1]
    qtbot.addWidget(again)
    assert again.text("lot") == "L-9"
    again.set_text("lot", "L-10")
    again.try_commit()
    assert view.session.fleet.standards["Check 100"].lot == "L-10"


def test_the_card_of_an_instrument(view, qtbot, ask):
    QTest.keyClick(view.instruments, Qt.Key.Key_Return)
    form = ask.shown[-1]
    qtbot.addWidget(form)
    assert form.text("name") == "disc"
    form.set_text("due_on", "2026-04-01")
    form.set_text("due_for", "Calibration")
    form.table.typed.set_rows([("Fe", "ppm", "0,5"), ("K", "g", "")])
    form.try_commit()
    assert "neither ppm nor %" in form.trouble.text()
    form.table.typed.set_rows([("Fe", "ppm", "0,5"), ("K", "%", "")])
    form.try_commit()
    found = view.session.fleet.instruments["disc"]
    assert found.elements == (InstrumentElement("Fe", "ppm", 0.5), InstrumentElement("K", "%", None))
    assert found.due_for == "Calibration"
    run(view.session.bench, 3.99, 50.0)
    settle(view, qtbot)
    assert view.lamp.state == checks.DUE
    assert view.why.text() == "Overdue: Calibration, since 2026-04-01."


def test_paste_takes_the_check_rows_and_says_what_it_left(view, qtbot, window):
    QGuiApplication.clipboard().setText(
        "Sample\tDate\tFe [ppm]\tCu [ppm]\nCheck 50\t2026-04-07\t50.4\t49.9\nW-1\t2026-04-07\t12\t3\n"
    )
    QTest.keyClick(view, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    assert [(r.element, r.found_ppm) for r in view.session.fleet.check_runs] == [("Cu", 49.9), ("Fe", 50.4)]
    assert window.messages.what.text() == "2 check readings were taken."
    assert "1 sample: paste it in sample entry" in window.messages.do.text()
    QGuiApplication.clipboard().setText("nothing of the kind")
    view.paste_button.click()
    assert window.messages.isVisible()
    assert len(view.session.fleet.check_runs) == 2


def test_a_check_run_is_withdrawn_and_comes_back(view, qtbot):
    run(view.session.bench, 3.9, 58.0)
    settle(view, qtbot)
    view.tabs.setCurrentIndex(5)
    fe = next(r for r in view.runs.rows.shown() if r.element == "Fe")
    from benchapp.window.checks.columns import run_key

    view.runs.pick(run_key(fe))
    view.void_button.click()
    assert [r.element for r in view.session.fleet.check_runs] == ["Cu"]
    view.session.undo()
    assert len(view.session.fleet.check_runs) == 2


def test_the_table_in_front_is_written(view, qtbot, ask, tmp_path):
    run(view.session.bench, 3.9, 50.0)
    settle(view, qtbot)
    view.tabs.setCurrentIndex(5)
    ask.path = str(tmp_path / "runs.csv")
    view.export_table()
    text = (tmp_path / "runs.csv").read_text(encoding="utf-8-sig")
    assert "Certified [ppm]" in text
    assert "Check 50" in text


# --- two instruments


def test_two_instruments_are_compared(view, qtbot):
    bench = view.session.bench
    instrument.add(bench, Instrument("lab", "lab"))
    settle(view, qtbot)
    view.tabs.setCurrentIndex(4)
    qtbot.waitUntil(lambda: not view.session.busy, timeout=30_000)
    assert view.compared_words.text() == NO_PAIR
    for day in range(4):
        run(bench, day, 50.0 + 0.1 * day)
        checks.add_runs(bench, "lab", DAY + dt.timedelta(days=day, hours=2), "Check 50", {"Fe": 54.0 + 0.1 * day})
    settle(view, qtbot)
    qtbot.waitUntil(lambda: view.compared.rows.rowCount() == 1, timeout=30_000)
    assert view.compared.rows.index(0, 0).data() == "Fe"
    assert view.compared.rows.index(0, 4).data() == ""  # one level carries no slope
    assert "lab reads higher than disc by 4 ppm" in view.compared_said.text()
    view.instruments.pick("lab")
    qtbot.waitUntil(lambda: view.answer.text().startswith("lab"), timeout=30_000)
    settle(view, qtbot)
    assert view.due.text().startswith(checks.LAB_DUE)


# --- looks and words


def test_an_empty_bench_leads_to_the_first_instrument(qtbot, ask, tmp_path, no_judging):
    from benchapp.actions.bench import Bench
    from benchapp.window.main_window import MainWindow
    from benchapp.window.session import Session

    session = Session(ask=ask)
    session.use(Bench.create(tmp_path / "new.bench", who="test"))
    window = MainWindow(session)
    qtbot.addWidget(window)
    window.show()
    qtbot.waitUntil(window.isActiveWindow, timeout=30_000)
    QTest.keyClick(window, Qt.Key.Key_6, Qt.KeyboardModifier.ControlModifier)
    view = window.view("checks")
    assert view.pages.currentWidget() is view.empty
    assert not view.run_button.isEnabled()
    view.focus_first()
    assert view.first_button.hasFocus()
    view.enter_run()
    form = ask.shown[-1]
    qtbot.addWidget(form)
    form.set_text("name", "disc")
    form.try_commit()
    settle(view, qtbot)
    assert view.pages.currentWidget() is view.split
    assert view.name == "disc"
    session.close()


def test_every_widget_that_takes_the_keyboard_has_a_name(view):
    for widget in (
        view.instruments, view.elements, view.noise, view.held, view.apart, view.compared, view.runs, view.standards,
        view.chart_box, view.standard_box, view.other_box, view.plot,
    ):  # fmt: skip
        assert widget.accessibleName()


def test_help_names_its_keys(view):
    said = dict(view.keys)
    assert said["Ctrl+Return"] == "Type a check run"
    assert "Drift is not wear" in view.help_text


@pytest.mark.parametrize("state", list(checks.WORDS))
def test_each_lamp_has_its_own_shape(qapp, state):
    pictures = {each: lamp.icon(each, 32).pixmap(32, 32).toImage() for each in checks.WORDS}
    assert all(pictures[state] != picture for each, picture in pictures.items() if each != state)
    assert lamp.words(state).endswith(checks.WORDS[state])
    assert len({lamp.SIGNS[each] for each in checks.WORDS}) == len(checks.WORDS)


@pytest.mark.parametrize("look", ["sunlight", "dark"])
@pytest.mark.parametrize("large", [False, True])
def test_looks(view, qtbot, look, large):
    run(view.session.bench, 3.9, 50.0)
    settle(view, qtbot)
    theme.apply(look, large=large, scale=1.25 if large else 1.0)
    view.window().resize(1280, 800)
    assert view.grab().toImage() != QPixmap(view.size()).toImage()
    assert view.split.orientation() == (Qt.Orientation.Vertical if large else Qt.Orientation.Horizontal)


def test_boxes_to_tick_are_seen_in_every_look():
    for look in (theme.SUNLIGHT, theme.DARK, replace(theme.DARK, large=True)):
        sheet = theme.stylesheet(look)
        assert "QCheckBox::indicator, QAbstractItemView::indicator" in sheet
        assert f"border: {look.line_px}px solid {look.line}; background: {look.paper}" in sheet


def test_sample_entry_says_what_became_of_the_check_rows():
    from benchapp.window.entry.words import checks_said

    assert checks_said(0, ()) == ()
    assert checks_said(4, ("a", "b", "c", "d")) == (
        "4 check readings went to Bench checks.", "a", "b", "And 2 more check rows like these.",
    )  # fmt: skip


def test_day_and_hour_of_a_run_are_shown_whole(view):
    assert not view.runs.isColumnHidden(0)
    for table in (view.runs, view.held):
        number = next(n for n, column in enumerate(table.rows.columns) if column.title in ("When", "Measured"))
        said = table.fontMetrics().horizontalAdvance("2026-09-25 07:30")
        assert table.isColumnHidden(number) or table.columnWidth(number) >= said + 2 * theme.current().gap_px


def test_the_keyboard_begins_in_the_list_while_it_is_still_worked_out(no_judging, standard, window, qtbot):
    """Not on the button of the page for a bench without instruments, which nobody sees."""
    qtbot.waitUntil(window.isActiveWindow, timeout=30_000)
    QTest.keyClick(window, Qt.Key.Key_6, Qt.KeyboardModifier.ControlModifier)
    made = window.view("checks")
    assert made.instruments.hasFocus()
    qtbot.waitUntil(lambda: not window.session.busy, timeout=30_000)
    assert made.instruments.hasFocus()
    assert made.instruments.currentIndex().isValid()
