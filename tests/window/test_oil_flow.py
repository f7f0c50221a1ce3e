"""The oil, by keyboard: typed at its limit it stands in the call, beside it, on its page and on the sheet.

The engine, its oil and every figure are invented."""

from __future__ import annotations

import datetime as dt

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication

from benchapp.actions import bearing, engine, fill, oil, oil_card, run
from benchapp.actions.bench import Bench
from benchapp.records import Fill, FuelBlend, Oil, OilLimit, OwnBearing, Run
from benchapp.window.dialogs.sheet import SheetDialog
from benchapp.window.oil import words
from benchapp.window.oil.dialog import NO_FILM, OilFilmDialog
from tests.window import entry_bench

ENTER, CTRL, SHIFT = Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
DAY = dt.datetime(2026, 5, 1, 9, 0)
FRESH = Oil("Example 10W-40", "race", "10W-40", 0.87, 95.0, 14.0, 4.0, 8.0, 1.5)
ROD = OwnBearing("rod bearing", 53.0, 21.0, 0.045, 0.3, "steady share of the peak", 3700.0, 6500.0)

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support", extend=True)


@pytest.fixture
def bench(tmp_path):
    """One engine with an oil, a fill and a hot run; no sample yet."""
    made = Bench.create(tmp_path / "oil.bench")
    oil.add(made, FRESH)
    engine.add(made, "E1", entry_bench.FAMILY)
    fill.add(made, "E1", "1", Fill("1", FRESH.name, 0.0, 6.0, DAY, "none", True))
    run.add(made, "E1", "1", Run("practice", 4.5, DAY, 6500.0, 115.0, "unleaded"))
    return made


def typed(qtbot, window, code: str, block: str):
    """A sample of E1 at 4.5 h: its code typed, its results pasted as names with numbers."""
    window.activateWindow()
    qtbot.keyClick(window.focusWidget() or window, Qt.Key.Key_2, CTRL)
    entry = window.view("entry").entry
    qtbot.keyClicks(entry.form.editor("code"), code)
    QGuiApplication.clipboard().setText(block)
    entry.results.focus()
    qtbot.keyClick(entry.results.table, Qt.Key.Key_V, CTRL)
    return entry


def test_an_oil_over_its_limit_is_seen_while_typing_in_the_call_and_on_the_sheet(window, qtbot, ask):
    bearing.put(window.session.bench, "E1", "1", [ROD])
    entry = typed(qtbot, window, "24-1", "Fe\t6\nKV40\t62\nKV100\t9.6\nTBN\t3.1\nFuel\t6.2\n")
    qtbot.waitUntil(lambda: entry.oil_panel.oil is not None and entry.call_panel.call is not None)
    assert entry.side.tabToolTip(entry.side.indexOf(entry.oil_panel)) == "The oil: over its limit"
    assert not entry.side.tabIcon(entry.side.indexOf(entry.oil_panel)).isNull()
    said = entry.oil_panel.texts()
    assert any(text.startswith("Over its limit: Viscosity at 100 °C (thinner) 9.6 cSt, 69 % of") for text in said)
    assert any("made for heavy diesels" in text for text in said), "the base number's limit is marked"
    assert any("over four blend models" in text and "the measured 6.2 %" in text for text in said)
    assert any("cut by shear" in text and "flash point" in text for text in said)
    assert any(text.startswith("Over its limit: Fuel 6.2 %") for text in said)
    assert any("Near its limit: Rod bearing: film" in text and "Lost against fresh: film" in text for text in said)
    assert any("First limit ahead" in text for text in said)
    reason = next(row.reason for row in entry.call_panel.reasons if row.reason.topic == "oil film")
    assert reason.kind == "other"
    assert entry.call_panel.call.call == "Look inside"

    qtbot.keyClick(window.focusWidget(), ENTER, CTRL)
    qtbot.waitUntil(lambda: "E1" in window.session.calls and window.session.calls["E1"].call == "Look inside")
    qtbot.keyClick(window.focusWidget(), Qt.Key.Key_M, CTRL | SHIFT)
    page = ask.shown[-1]
    assert isinstance(page, OilFilmDialog)
    qtbot.waitUntil(lambda: page.oil is not None)
    assert page.lead.text().startswith("The oil is done: ")
    assert page.focusWidget() is page.films
    films = page.films.rows
    shown = [films.index(0, column).data() for column in range(films.columnCount())]
    assert shown[0] == "rod bearing"
    assert float(shown[1]) > float(shown[2]), "before and after, side by side"
    assert "measured" in shown
    assert "Which grade? rod bearing at 0.045 mm clearance and 115 °C: from SAE " in page.grades.text()
    page.reject()
    window.activateWindow()

    qtbot.keyClick(window.focusWidget(), Qt.Key.Key_P, CTRL)
    qtbot.waitUntil(lambda: isinstance(ask.shown[-1], SheetDialog))
    sheet = ask.shown[-1].content
    assert sheet.call == "Look inside"
    assert any("oil no longer keeps the film" in text for text in (sheet.sentence,))
    assert any(line.startswith("Rod bearing: film ") and "µm fresh" in line for line in sheet.film)
    assert any("First limit ahead" in line for line in sheet.oil)
    ask.shown[-1].reject()


def test_only_metals_leave_the_oil_tab_quiet(window, qtbot):
    entry = typed(qtbot, window, "24-1", "Fe\t6\nCu\t2\n")
    qtbot.waitUntil(lambda: entry.call_panel.call is not None)
    assert entry.oil_panel.oil is None
    assert words.NO_OIL in entry.oil_panel.texts()
    assert entry.side.tabIcon(entry.side.indexOf(entry.oil_panel)).isNull()
    assert not entry.show_oil()


def test_without_bearings_run_or_viscosity_the_page_says_what_is_missing(window, qtbot, ask):
    entry = typed(qtbot, window, "24-1", "Fe\t6\nTBN\t7.5\n")
    qtbot.waitUntil(lambda: entry.oil_panel.oil is not None)
    assert entry.side.tabToolTip(entry.side.indexOf(entry.oil_panel)) == "The oil: fine"
    entry.side.setCurrentWidget(entry.oil_panel)
    qtbot.keyClick(entry.oil_panel.page_button, Qt.Key.Key_Space)
    page = ask.shown[-1]
    assert NO_FILM in page.more.text()
    assert not page.films.isVisibleTo(page)
    assert page.windowTitle() == "Oil and film of sample 24-1"
    page.reject()


def test_a_fill_with_an_oil_nobody_described(qtbot, window, ask):
    bench = window.session.bench
    fill.add(bench, "E1", "1", Fill("2", "an oil nobody described", 4.5, 6.0, DAY, "hot", True))
    entry = typed(qtbot, window, "24-1", "KV100\t9.6\n")
    qtbot.waitUntil(lambda: words.NO_FILL in entry.oil_panel.texts())
    qtbot.keyClick(window.focusWidget(), ENTER, CTRL)
    window.session.select("E1", "24-1")
    window.show_oil()
    page = ask.shown[-1]
    qtbot.waitUntil(lambda: "not recorded" in page.lead.text())
    page.reject()


def test_the_page_needs_a_sample(window, qtbot):
    with qtbot.waitSignal(window.session.note) as told:
        window.show_oil()
    assert told.args[0] == "There is no sample at hand."


# --- the forms --------------------------------------------------------------------------------------------------------


def fill_row(qtbot, table, *texts: str) -> None:
    """A row from a spreadsheet, pasted at the cell at hand."""
    QGuiApplication.clipboard().setText("\t".join(texts))
    qtbot.keyClick(table, Qt.Key.Key_V, CTRL)


def test_limits_and_blends_are_entered_by_keyboard_and_refused_with_the_range(window, qtbot, ask):
    window.activateWindow()
    window.session.select("E1")
    window.menus.actions["oil_card"].trigger()
    form = ask.shown[-1]
    assert form.fields["oil"].editor.currentText() == FRESH.name
    assert form.focusWidget() is form.limits
    fill_row(qtbot, form.limits, "base number", "0.6", "4.5", "own teardowns")
    form.fields["Oxidation"].editor.setFocus()
    qtbot.keyClicks(form.fields["Oxidation"].editor, "14")
    form.blends.setFocus()
    fill_row(qtbot, form.blends, "petrol", "5", "95", "100", "11.2")
    qtbot.keyClick(form.save, Qt.Key.Key_Space)
    assert form.isVisible()
    assert "The limit for base number is 4.5, outside 0.05 to 1 as a share of fresh." in form.trouble.text()
    assert "no source" in form.trouble.text()
    form.limits.typed.setData(form.limits.typed.index(0, 2), "0.45")
    qtbot.keyClick(form.save, Qt.Key.Key_Space)
    assert not form.isVisible()
    known = window.session.fleet.oils[FRESH.name]
    assert known.limits == (OilLimit("base number", 0.6, 0.45, "own teardowns"),)
    assert known.blends == (FuelBlend("petrol", 5.0, 95.0, 11.2),)
    assert known.fresh_more == {"Oxidation": 14.0}
    assert window.session.undo_label.startswith("Limits, fresh values and blends")

    window.menus.actions["oil_card"].trigger()
    again = ask.shown[-1]
    assert again.limits.typed.rows() == [["base number", "0.6", "0.45", "own teardowns"]]
    assert again.blends.typed.rows() == [["petrol", "5", "95", "100", "11.2"]]
    again.limits.setCurrentIndex(again.limits.typed.index(0, 1))
    assert "0.05 to 1; in the table 0.65 and 0.5 (made for heavy diesels)." in again.measure.text()
    again.blends.typed.setData(again.blends.typed.index(0, 0), "diesel")
    qtbot.keyClick(again.save, Qt.Key.Key_Space)
    assert "Choose petrol, ethanol or methanol." in again.trouble.text()
    again.reject()


def test_bearings_are_entered_by_keyboard_and_a_long_one_is_refused(window, qtbot, ask):
    window.session.select("E1")
    window.menus.actions["bearings"].trigger()
    form = ask.shown[-1]
    fill_row(qtbot, form.table, "rod bearing", "53", "60", "0.055", "0.4", "3700", "6500", "steady share")
    qtbot.keyClick(form.save, Qt.Key.Key_Space)
    assert "outside 0.1 to 1" in form.trouble.text()
    assert "Raimondi and Boyd" in form.trouble.text()
    form.table.typed.setData(form.table.typed.index(0, 2), "21")
    qtbot.keyClick(form.save, Qt.Key.Key_Space)
    assert not form.isVisible()
    own = OwnBearing("rod bearing", 53.0, 21.0, 0.055, 0.4, "steady share", 3700.0, 6500.0)
    assert window.session.bench.build("E1", "1").bearings == (own,)
    window.session.undo()
    assert window.session.bench.build("E1", "1").bearings == ()


def test_a_table_cell_that_is_no_number_is_said(window, qtbot, ask):
    window.session.select("E1")
    window.menus.actions["bearings"].trigger()
    form = ask.shown[-1]
    form.table.typed.set_rows([("", "53", "", "wide", "", "", "", "")])
    qtbot.keyClick(form.save, Qt.Key.Key_Space)
    assert "Row 1, Bearing: It needs a name." in form.trouble.text()
    assert "Row 1, Length [mm]: This is needed." in form.trouble.text()
    form.reject()


def test_an_oil_is_added_and_its_card_comes_next(window, qtbot, ask):
    window.menus.actions["add_oil"].trigger()
    form = ask.shown[-1]
    qtbot.keyClicks(form.fields["name"].editor, "Second oil")
    form.fields["more"].editor.setChecked(True)
    qtbot.keyClick(form.save, Qt.Key.Key_Space)
    card = ask.shown[-1]
    assert card is not form
    assert card.fields["oil"].editor.currentText() == "Second oil"
    card.reject()


def test_an_engine_is_added_and_its_bearings_come_next(window, qtbot, ask):
    window.menus.actions["add_engine"].trigger()
    form = ask.shown[-1]
    form.fields["name"].editor.setText("E2")
    form.fields["family"].editor.setCurrentText(entry_bench.FAMILY)
    form.fields["bearings"].editor.setChecked(True)
    qtbot.keyClick(form.save, Qt.Key.Key_Space)
    assert ask.shown[-1].windowTitle().startswith("Bearings: E2")
    ask.shown[-1].reject()


def test_a_bench_without_oils_asks_for_one_first(qtbot, window, ask):
    oil.void(window.session.bench, FRESH.name, "test")
    with qtbot.waitSignal(window.session.note):
        window.menus.actions["oil_card"].trigger()
    assert ask.shown[-1].windowTitle() == "Add an oil"
    ask.shown[-1].reject()


def test_the_card_of_a_shared_oil_changes_what_is_typed(window, qtbot):
    entry = typed(qtbot, window, "24-1", "TBN\t3.8\n")
    qtbot.waitUntil(lambda: entry.oil_panel.oil is not None)
    assert entry.oil_panel.state == "done"
    window.session.run(oil_card.put, FRESH.name, limits=[OilLimit("base number", 0.4, 0.3)])
    qtbot.waitUntil(lambda: entry.oil_panel.state == "fine")


def test_other_units_are_shown_at_once_and_take_nothing_that_was_typed_away(window, qtbot, ask):
    bearing.put(window.session.bench, "E1", "1", [ROD])
    entry = typed(qtbot, window, "24-1", "Fe\t6\nKV40\t62\nKV100\t9.6\n")
    qtbot.waitUntil(lambda: entry.oil_panel.oil is not None and entry.call_panel.call is not None)
    before = (entry.form.text(), entry.results.model.texts())
    fahrenheit = next(g for g in window.menus.units if g.actions()[0].text() == "°C").actions()[1]
    fahrenheit.trigger()
    assert (entry.form.text(), entry.results.model.texts()) == before
    assert entry.touched
    said = "\n".join(entry.oil_panel.texts())
    assert "Oil at 239 °F in the last run" in said
    assert "at 239 °F and 6500 rpm" in said
    assert "iscosity at 100 °C (thinner)" in said, "the name of a measurement"
    assert "115 °C" not in said
    window.show_oil()
    page = ask.shown[-1]
    qtbot.waitUntil(lambda: page.oil is not None)
    shown = " ".join((page.lead.text(), page.explained.text(), page.grades.text(), page.more.text()))
    assert "Oil at 239 °F" in shown
    assert "clearance and 239 °F" in shown
    assert "115 °C" not in shown
