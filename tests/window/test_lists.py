"""What waits and how good the calls were, as a person reads them; repeating the last run."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from benchapp.actions import finding, run
from benchapp.actions import sample as samples
from benchapp.records import Finding, Run, Sample


@pytest.fixture
def quiet(qtbot, no_judging, window):
    qtbot.waitUntil(lambda: not window.session.busy, timeout=30000)
    window.session.select("A1")
    return window


def test_nothing_waits(quiet, ask):
    quiet.menus.actions["show_due"].trigger()
    dialog = ask.shown[-1]
    assert dialog.lead.text().startswith("Nothing waits")
    assert not dialog.table.isVisible()


def test_each_line_goes_to_where_it_is_dealt_with(qtbot, quiet, ask):
    bench = quiet.session.bench
    run.add(bench, "B1", "1", Run("practice", 3.0))
    samples.confirm(bench, "A1", "1", Sample("26-009", "1", 6.0, 6.0))
    quiet.menus.actions["show_due"].trigger()
    dialog = ask.shown[-1]
    assert [(row.kind, row.engine, row.sample) for row in dialog.rows] == [
        ("sample due", "B1", ""),
        ("not measured", "A1", "26-009"),
    ]
    assert dialog.lead.text() == "2 to deal with"
    assert not dialog.grab().isNull()
    qtbot.keyClick(dialog.table, Qt.Key.Key_Return)
    assert quiet.current_key == "entry"
    quiet.menus.actions["show_due"].trigger()
    dialog = ask.shown[-1]
    qtbot.keyClick(dialog.table, Qt.Key.Key_Down)
    qtbot.keyClick(dialog.table, Qt.Key.Key_Return)
    assert quiet.view("entry").entry.code == "26-009"


def test_without_a_finding_it_says_how_to_begin(quiet, ask):
    quiet.menus.actions["show_record"].trigger()
    assert "No finding yet" in ask.shown[-1].explained.text()


def test_calls_are_held_against_findings(qtbot, window, ask):
    bench = window.session.bench
    part = bench.engine("A1").builds[0].parts[0].name
    finding.add(bench, "A1", "1", Finding(6.0, part, "as new", "26-003"), Finding(0.0, part, "as new"))
    window.menus.actions["show_record"].trigger()
    dialog = ask.shown[-1]
    qtbot.waitUntil(lambda: dialog.judged.isVisible(), timeout=30000)
    assert "asked for a look" in dialog.lead.text()
    assert [one.sample for one in dialog.judged.rows.shown()] == ["26-003"]
    assert dialog.left.text() == "1 finding stands before any call of the build."
    assert dialog.scores.rows.rowCount() == 1
    assert not dialog.grab().isNull()
    qtbot.waitUntil(dialog.judged.hasFocus)
    qtbot.keyClick(dialog.judged, Qt.Key.Key_Return)
    assert window.view("entry").entry.code == "26-003"


def test_the_last_run_is_repeated(qtbot, quiet, ask):
    bench = quiet.session.bench
    run.add(bench, "A1", "1", Run("race", 1.25, None, 8200.0, 118.0, "unleaded"))
    quiet.menus.actions["repeat_run"].trigger()
    form = ask.shown[-1]
    assert form.text("hours") == "1.25"
    assert form.text("max_rpm") == "8200"
    assert form.text("oil_temp_c") == "118"
    form.try_commit()
    assert [each.hours for each in bench.engine("A1").builds[0].runs][-2:] == [1.25, 1.25]


def test_repeating_where_nothing_has_run_offers_an_empty_form(quiet, ask):
    quiet.session.select("B1")
    quiet.menus.actions["repeat_run"].trigger()
    assert ask.shown[-1].text("hours") == ""
