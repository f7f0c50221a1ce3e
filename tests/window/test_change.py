"""The Before / after view: a change of the log, any hour, several engines; page, picture and table."""

from __future__ import annotations

import csv
import subprocess
import sys
from functools import partial

import pytest

pytest.importorskip("PySide6", reason="the window needs Qt", exc_type=ImportError)

from PySide6.QtCore import Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest

from benchapp.actions import effect, engine
from benchapp.sheet import forest
from benchapp.window import theme
from benchapp.window.change.view import ChangeView
from benchapp.window.session import Session
from tests.window import breakin_bench as life
from tests.window import small


@pytest.fixture(scope="module")
def small_file(small_file, tmp_path_factory):
    """The small bench file with a change that halved the wear of B1: this file's tests copy it."""
    halved = partial(life.add_life, rates=life.HALVED, changed_after=7)
    return small.with_more(small_file, tmp_path_factory.mktemp("halved"), halved)


@pytest.fixture
def view(qtbot, session, bench):
    made = ChangeView(session)
    qtbot.addWidget(made)
    made.resize(1250, 800)
    session.changed.connect(made.refresh)  # as the main window does
    made.refresh(None)
    made.show_engine("B1")
    made.show()
    qtbot.waitExposed(made)
    made.focus_first()
    answered(qtbot, made)
    return made


def answered(qtbot, view):
    qtbot.waitUntil(lambda: view.looked is not None or "Comparing" not in view.empty_head.text(), timeout=60_000)


def test_the_change_of_the_log_is_answered_in_a_sentence(view):
    assert view.moment.label == "oil: to the other one at 21 h"
    assert view.sentence.text().startswith("It wears less: 0.")
    assert view.stack.currentIndex() == 0
    names = [row.name for row in view.forest.rows]
    assert names[0] == effect.TOTAL
    assert "Fe" in names
    assert "L00: it belongs to the running-in" in view.behind.text()
    assert "sump balance" in view.behind.text()
    assert f"{effect.TOTAL}: wears less" in view.forest.accessibleDescription()


def test_the_figures_stand_in_a_table_for_keyboard_and_screen_reader(view):
    model = view.table.rows
    assert model.rowCount() == len(view.forest.rows)
    first = [model.data(model.index(0, n)) for n in range(model.columnCount())]
    assert first[0] == effect.TOTAL
    assert "wears less (over 99 %)" in first[3]
    assert "p " in first[3]
    assert "5 + 5" in first[3]
    hollow = next(n for n, row in enumerate(model.shown()) if not row.said)
    assert model.data(model.index(hollow, 1)) == ""
    assert model.data(model.index(hollow, 3)) == "nothing can be said"


def test_any_hour_is_compared_by_typing_it(view, qtbot):
    view.hour.setFocus()
    QTest.keyClicks(view.hour, "15")
    QTest.keyClick(view.hour, Qt.Key.Key_Return)
    answered(qtbot, view)
    assert view.moment.label == "15 h of build 1"
    assert view.moment_box.currentText() == "any hour: 15 h of build 1"
    assert "oil at 21 h" in view.behind.text()
    assert not view.all_box.isEnabled()


def test_an_hour_that_cannot_be_read_is_said(view, qtbot):
    with qtbot.waitSignal(view.session.note) as said:
        view.hour.setText("soon")
        QTest.keyClick(view.hour, Qt.Key.Key_Return)
    assert said.args[0] == "The hour cannot be read."


def test_an_hour_without_samples_after_it_says_why_and_nothing_can_be_written(view, qtbot, ask):
    view.hour.setText("500")
    QTest.keyClick(view.hour, Qt.Key.Key_Return)
    answered(qtbot, view)
    assert "no interval after 500 h" in view.empty_head.text()
    assert "Left out" in view.empty.text()
    for button in (view.print_button, view.picture_button, view.table_button):
        assert not button.isEnabled()
    view.print_page()
    view.save_picture()
    view.export_table()
    assert ask.asked == []


def test_several_engines_are_pooled_with_each_shown(view, bench, qtbot):
    engine.add(bench, "C1", small.PLATED)
    small.fill_in(bench, "C1")
    life.add_life(bench, life.HALVED, "C1", changed_after=7, code="C")
    answered(qtbot, view)
    view.all_box.setFocus()
    QTest.keyClick(view.all_box, Qt.Key.Key_Space)
    answered(qtbot, view)
    assert "over 2 engines" in view.sentence.text()
    assert [row.name for row in view.forest.rows[:3]] == ["B1", "C1", "all together"]
    assert "C1: It wears less" in view.behind.text()
    view.print_page()
    assert view.session.ask.shown[-1].windowTitle() == "Before and after: 2 engines"


def test_only_the_newest_question_is_answered(view, qtbot):
    stale = (view._asked - 1, None, None)
    before = view.sentence.text()
    view._answered(stale)
    assert view.sentence.text() == before


def test_an_engine_without_a_change_offers_to_log_one(view, qtbot, ask):
    view.show_engine("A1")
    answered(qtbot, view)
    assert view.empty_head.text() == "No change of A1 is logged."
    view.change_button.setFocus()
    QTest.keyClick(view.change_button, Qt.Key.Key_Space)
    assert ask.shown[-1].windowTitle().startswith("Add a change: A1")


def test_a_new_sample_is_in_the_next_answer(view, bench, qtbot):
    before = view.looked.total.after
    from benchapp.actions import sample

    sample.void(bench, "L11", "mixed up")
    answered(qtbot, view)
    assert view.looked.total.after == before - 1


def test_a_view_in_the_back_waits(view, bench, qtbot):
    view.hide()
    asked = view._asked
    from benchapp.actions import sample

    sample.void(bench, "L11", "mixed up")
    assert view._asked == asked
    view.show()
    answered(qtbot, view)
    assert view._asked > asked


def test_the_engine_picked_elsewhere_is_shown(view, qtbot):
    view.session.select("A1")
    assert view.engine == "A1"
    view.engine_box.setCurrentIndex(view.engine_box.findData("B1"))
    view._engine_picked(0)
    assert view.session.selected_engine == "B1"
    answered(qtbot, view)


def test_an_empty_bench_says_what_to_do(qtbot, qapp, ask):
    made = ChangeView(Session(ask=ask))
    qtbot.addWidget(made)
    made.refresh(None)
    assert made.empty_head.text() == "No engine yet."
    made.focus_first()


# --- out


def test_picture_and_table_are_written(view, ask, tmp_path):
    ask.path = str(tmp_path / "plot.png")
    QTest.keyClick(view, Qt.Key.Key_E, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    assert not QImage(ask.path).isNull()
    ask.path = str(tmp_path / "plot.svg")
    view.save_picture()
    drawn = (tmp_path / "plot.svg").read_text()
    assert "<svg" in drawn
    ask.path = str(tmp_path / "figures.csv")
    view.export_table()
    with (tmp_path / "figures.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    assert rows[0][:2] == ["what", "ratio"]
    assert rows[1][0] == effect.TOTAL
    assert float(rows[1][1]) == pytest.approx(view.looked.total.ratio, abs=1e-4)
    ask.path = str(tmp_path / "figures.xlsx")
    view.export_table()
    assert (tmp_path / "figures.xlsx").stat().st_size > 1000


def test_a_place_that_cannot_be_written_is_said(view, ask, qtbot, tmp_path):
    ask.path = str(tmp_path / "nowhere" / "figures.csv")
    with qtbot.waitSignal(view.session.problem):
        view.export_table()


def test_the_page_is_seen_and_saved(view, ask, tmp_path):
    view.print_page()
    dialog = ask.shown[-1]
    assert dialog.windowTitle() == "Before and after: B1"
    ask.path = str(tmp_path / "page.pdf")
    dialog.grab()
    dialog.save()
    assert (tmp_path / "page.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize("choice", ["sunlight", "dark"])
def test_every_look_draws(view, choice):
    theme.apply(choice, large=True, scale=1.5)
    for tab in range(2):
        view.tabs.setCurrentIndex(tab)
        assert not view.grab().isNull()


def test_hollow_and_filled_rows_differ_without_colour(qtbot, view):
    row = forest.Row("a", "s", 0.6, 0.5, 0.7, True, "wears less", 0.7)
    nothing = forest.Row("a", "s", float("nan"), float("nan"), float("nan"), False, "nothing can be said", float("nan"))
    pictures = set()
    for one in (row, nothing, forest.Row("a", "s", 0.6, 0.5, 0.7, True, "wears less", 0.7, together=True)):
        view.forest.show_rows((one,))
        image = view.forest.grab().toImage()
        pictures.add(bytes(image.convertToFormat(QImage.Format.Format_Grayscale8).constBits()))
    assert len(pictures) == 3


def test_the_plotting_library_stays_away_until_a_plot_is_shown():
    code = (
        "import sys, benchapp.window.main_window, benchapp.window.change.view; "
        "raise SystemExit('pyqtgraph' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
