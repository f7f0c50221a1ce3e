"""The smaller pieces of sample entry: waiting list, call panel, banner, table keys, marks."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QModelIndex, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QAbstractItemModelTester

from benchapp.actions.sample import Waiting
from benchapp.records import Flip, Reading, Sample
from benchapp.window import theme
from benchapp.window.entry import call_panel, look
from benchapp.window.entry.bar import Banner
from benchapp.window.entry.call_panel import CallPanel, chance, confidence
from benchapp.window.entry.keeper import PutAway
from benchapp.window.entry.results_pane import ResultsPane
from benchapp.window.entry.waiting_page import KEY_ROLE, WaitingModel, WaitingPage, rows_of
from tests.window import fakes

ENGINE = fakes.engine("E1")
CALL = fakes.call(ENGINE, ENGINE.builds[0].samples[-1], "Look inside")
WAITS = Waiting(Sample("24-1", "", 0.0, None, readings=(Reading("Fe", 1.0), Reading("Cu", 2.0))), "2026-05-03T14:20:11")
AWAY = PutAway("entry/1", {"form": {"code": "24-2"}, "results": [1]})


def test_the_waiting_model_keeps_the_rules_of_qt(qapp, qtmodeltester):
    model = WaitingModel()
    tester = QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Warning)
    model.show(rows_of((WAITS,), (AWAY,)))
    qtmodeltester.check(model)
    model.show(())
    assert model.rowCount(QModelIndex()) == 0
    tester.deleteLater()
    model.deleteLater()


def test_the_waiting_list_says_what_each_line_is_and_acts_by_its_key(qtbot):
    page = WaitingPage()
    qtbot.addWidget(page)
    page.show_rows(())
    assert page.words.text().startswith("Nothing waits.")
    assert not page.open_button.isEnabled()
    page.show_rows(rows_of((WAITS,), (AWAY,)))
    texts = [[page.model.index(row, column).data() for column in range(4)] for row in range(2)]
    assert texts == [
        ["waits for an engine", "24-1", "2 readings: Fe and Cu", "2026-05-03 14:20"],
        ["draft", "sample 24-2, 1 result", "typed, not confirmed", ""],
    ]
    assert page.open_button.text().startswith("Give it an engine")
    page.table.setCurrentIndex(page.model.index(1, 0))
    assert page.open_button.text().startswith("Continue the draft")
    assert page.table.currentIndex().data(KEY_ROLE) == ("draft", "entry/1")
    with qtbot.waitSignal(page.draft_opened) as told:
        qtbot.keyClick(page.table, Qt.Key.Key_Return)
    assert told.args == ["entry/1"]
    page.show_rows(rows_of((), (AWAY,)))  # a line above went: the same draft stays picked
    with qtbot.waitSignal(page.draft_forgotten):
        qtbot.keyClick(page.table, Qt.Key.Key_Delete)
    with qtbot.waitSignal(page.closed):
        qtbot.keyClick(page.table, Qt.Key.Key_Escape)


def test_a_waiting_sample_is_opened_and_removed_by_its_code(qtbot):
    page = WaitingPage()
    qtbot.addWidget(page)
    page.show_rows(rows_of((WAITS,), ()))
    with qtbot.waitSignal(page.sample_opened) as told:
        page.open_button.click()
    assert told.args == ["24-1"]
    with qtbot.waitSignal(page.sample_voided) as told:
        page.remove_button.click()
    assert told.args == ["24-1"]


def test_the_call_panel_says_everything_of_a_call(qtbot):
    panel = CallPanel()
    qtbot.addWidget(panel)
    panel.show()
    held = replace(CALL, held="the check standard was off", flips=(Flip("hours on oil", "3 h", "Run"),))
    panel.show_call(held, "If it is confirmed like this:")
    said = [widget.text() for widget in panel.findChildren(call_panel.QLabel)]
    for text in (
        "Look inside",
        "Look inside: a made-up call.",
        "If it is confirmed like this:",
        "Next sample after 4 h of running.",
        "Where to look: Drop one main bearing cap; look for a polished or flaking surface.",
        "What would change it: A second sample after two hours at the old rate.",
        "• Drop one main bearing cap.",
        "• hours on oil 3 h: Run",
        "• sump mass is taken from the family",
        "• the check standard was off",
        call_panel.CAUTION,
    ):
        assert text in said


def test_an_opened_reason_stays_open_when_the_call_is_worked_out_again(qtbot):
    panel = CallPanel()
    qtbot.addWidget(panel)
    panel.show_call(CALL)
    panel.reasons[0].button.setChecked(True)
    panel.show_working()
    assert panel.state.text() == "Working it out …"
    panel.show_call(CALL)
    assert panel.reasons[0].button.isChecked()
    panel.show_missing("No results.")
    assert panel.call is None
    assert panel.reasons == []
    assert panel.word.text() == "No call yet"


@pytest.mark.parametrize(
    ("probability", "said"),
    [
        (None, ""),
        (0.999, "practically certain (100%)"),
        (0.95, "very likely (95%)"),
        (0.75, "likely (75%)"),
        (0.5, "possible (50%)"),
        (0.1, "unlikely (10%)"),
    ],
)
def test_a_probability_in_words(probability, said):
    assert chance(probability) == said


@pytest.mark.parametrize("basis", [*call_panel.BASIS_WORDS, "something new"])
def test_how_sure_a_call_is_in_words(basis):
    said = confidence(replace(CALL, basis=basis))
    assert said.endswith("2 samples of history, no break-in sample.")


def test_the_banner_offers_what_there_is(qtbot):
    banner = Banner()
    qtbot.addWidget(banner)
    banner.offer("", sheet=False)
    assert not banner.isVisible()
    banner.offer("sample 24-1, 3 results", sheet=True)
    assert banner.isVisible()
    assert banner.words.text() == (
        "A draft is here: sample 24-1, 3 results. It was typed before the window closed. A pasted sheet is here that "
        "was not dealt with before the window closed. Nothing of it is confirmed."
    )
    banner.offer("", sheet=True)
    assert not banner.put_away.isVisible()


@pytest.fixture
def pane(qtbot):
    made = ResultsPane()
    qtbot.addWidget(made)
    made.resize(900, 500)
    made.show()
    made.focus()
    return made


def test_results_are_copied_as_a_spreadsheet_takes_them(pane, qtbot):
    pane.model.set_texts({("Fe", 1): "12,4", ("Cu", 1): "<1"})
    table = pane.table
    table.setCurrentIndex(pane.model.index(1, 0))
    qtbot.keyClick(table, Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    for _ in range(2):
        qtbot.keyClick(table, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    qtbot.keyClick(table, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    assert QGuiApplication.clipboard().text() == "Fe  iron\tppm\t12,4\nCu  copper\tppm\t<1"


def test_del_clears_what_is_picked_as_one_step(pane, qtbot):
    pane.model.set_texts({("Fe", 1): "1", ("Cu", 1): "2", ("Pb", 1): "3"})
    pane.focus_first()
    qtbot.keyClick(pane.table, Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    qtbot.keyClick(pane.table, Qt.Key.Key_Delete)
    assert pane.model.texts() == {("Pb", 1): "3"}
    qtbot.keyClick(pane.table, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert len(pane.model.texts()) == 3


def test_the_rarer_and_the_repeated_are_a_choice_away(pane, qtbot):
    at = next(n for n in range(pane.more.count()) if pane.more.itemData(n) == "Bi")
    pane.more.setCurrentIndex(at)
    pane.more.activated.emit(at)
    assert pane.model.lines[pane.table.currentIndex().row()].measurand == "Bi"
    assert pane.more.findData("Bi") < 0
    pane.repeat.click()
    assert pane.model.repeats == 2
    assert pane.table.currentIndex().column() == 3


def test_the_decimal_sign_is_offered_when_it_must_be_asked_and_remembered(pane, qtbot):
    assert not pane.decimal.isVisible()
    pane.model.set_texts({("Ca", 1): "1,234"})
    assert pane.decimal.isVisible()
    assert pane.problems.count() == 1
    pane.decimal.setCurrentIndex(2)
    pane.decimal.activated.emit(2)
    assert pane.problems.count() == 0
    again = ResultsPane()
    qtbot.addWidget(again)
    again.model.set_texts({("Ca", 1): "1,234"})
    assert again.model.readings()[0].value == 1.234


def test_a_click_on_a_problem_opens_its_cell(pane, qtbot):
    pane.model.set_texts({("Sn", 1): "OVR"})
    item = pane.problems.item(0)
    qtbot.mouseClick(
        pane.problems.viewport(), Qt.MouseButton.LeftButton, pos=pane.problems.visualItemRect(item).center()
    )
    assert pane.model.lines[pane.table.currentIndex().row()].measurand == "Sn"
    assert pane.table.state() == pane.table.State.EditingState


def test_every_role_has_a_mark_of_its_own_in_both_looks(qapp):
    for name in ("sunlight", "dark"):
        theme.apply(name)
        pictures = [
            look.pixmap(role, 24).toImage() for role in ("header", "unit", "sample", "left out", "problem", "reading")
        ]
        assert all(a != b for n, a in enumerate(pictures) for b in pictures[n + 1 :])
    assert look.ground("problem").color() != look.ground("reading").color()


HOSTILE = '<img src="file:///etc/hostname"> & <b>bold</b>'


def test_words_from_outside_never_become_markup(qtbot):
    from benchapp.intake.read import read_text
    from benchapp.window.entry import preview, words
    from benchapp.window.entry.column_menu import column_menu
    from benchapp.window.entry.form import SampleForm
    from benchapp.window.entry.form_text import FieldProblem
    from benchapp.window.entry.preview_model import PreviewModel
    from benchapp.window.entry.results_model import ResultsModel

    tip = Qt.ItemDataRole.ToolTipRole
    model = ResultsModel()
    model.set_texts({("Fe", 1): HOSTILE})
    assert "<img" not in model.index(1, 2).data(tip)
    sheet = PreviewModel()
    table = read_text(f"Sample\tFe\n24-1\t{HOSTILE}\n")
    pasted = preview.Pasted(table, first=table)
    sheet.show_sheet(pasted)
    sheet.show_preview(preview.read(pasted))
    assert "<img" not in sheet.index(1, 1).data(tip)
    assert sheet.index(1, 1).data() == HOSTILE
    waiting = WaitingModel()
    waiting.show(rows_of((replace(WAITS, sample=Sample(HOSTILE, "", 0.0, None)),), ()))
    assert "<img" not in waiting.index(0, 1).data(tip)
    form = SampleForm()
    qtbot.addWidget(form)
    form.set_problems((FieldProblem("code", HOSTILE),))
    assert form._whys["code"].textFormat() == Qt.TextFormat.PlainText
    menu = column_menu(preview.Meaning("A & B" * 40, 1, "unknown"), form)
    assert menu.actions()[0].text().startswith("“A && B")
    assert len(menu.actions()[0].text()) < 160
    assert words.hover("plain\nlines") == "plain\nlines"
    for made in (model, sheet, waiting):
        made.deleteLater()
