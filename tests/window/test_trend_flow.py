"""Trends on a real bench file: what is confirmed appears, what is undone goes, each point says who entered it."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

pytest.importorskip("PySide6", reason="the window needs Qt", exc_type=ImportError)

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from benchapp.actions import change, filter_cut, sample
from benchapp.actions import series as data
from benchapp.records import Change, FilterCut, Reading, Sample
from tests.window.small import DAY, readings


@pytest.fixture
def view(window, qtbot):
    """Trends in the main window, with the calls of the file judged."""
    if window.session.bench.engines_to_judge():
        with qtbot.waitSignal(window.session.calls_arrived, timeout=60_000):
            pass
    QTest.keyClick(window, Qt.Key.Key_3, Qt.KeyboardModifier.ControlModifier)
    return window.view("trend")


def values(view, name: str) -> tuple[float | None, ...]:
    return next(line.y for line in view.series.lines if line.name == name)


def show_only(view, name: str) -> None:
    view.show_engine("A1", name)


def test_readings_of_the_file_are_shown_with_who_entered_them(view):
    show_only(view, "Fe")
    assert view.kind == data.PPM
    assert values(view, "Fe") == tuple(r.value for h in (2.0, 4.0, 6.0) for r in readings(h) if r.measurand == "Fe")
    assert "sample 26-003 at 6.0 h of build 1, 6.0 h on the oil" in view.words.text()
    assert "disc (rotating-disc)" in view.words.text()
    assert "entered by test, " in view.words.text()


def test_a_bare_not_detected_stands_at_the_limit_of_the_kind_of_instrument(view):
    show_only(view, "Ni")
    known = view.session.library.noise_for("rotating-disc")["Ni"].limit_ppm
    assert set(values(view, "Ni")) == {known}
    assert all(view.series.lines[0].hollow)


def test_a_confirmed_sample_appears_and_goes_again_with_undo(view, qtbot):
    show_only(view, "Fe")
    session = view.session
    new = Sample(
        "26-004", "1", 8.0, 8.0, DAY + dt.timedelta(days=5), "hot", True, "disc", readings=(Reading("Fe", 99.0),)
    )
    with qtbot.waitSignal(session.calls_arrived, timeout=60_000):
        session.run(sample.confirm, "A1", "1", new)
    assert values(view, "Fe")[-1] == 99.0
    with qtbot.waitSignal(session.calls_arrived, timeout=60_000):
        session.undo()
    assert len(values(view, "Fe")) == 3


def test_a_correction_moves_the_point(view):
    show_only(view, "Fe")
    session = view.session
    _, _, held = session.bench.find_sample("26-002")
    fixed = tuple(dataclasses.replace(r, value=50.0) if r.measurand == "Fe" else r for r in held.readings)
    session.run(sample.confirm, "A1", "1", dataclasses.replace(held, readings=fixed), correct=True)
    assert values(view, "Fe")[1] == 50.0


def test_events_of_the_file_are_marks(view):
    show_only(view, "Fe")
    view.session.run(change.add, "A1", "1", Change(4.0, "tune", "leaner"))
    view.session.run(filter_cut.add, "A1", "1", FilterCut(6.0, "none", "few"))
    said = [event.text for event in view.series.events]
    assert "Change of tune: leaner" in said
    assert "Filter cut: ferrous none, non-ferrous few" in said
    assert "Fill 1: Example race oil, 7 L, new filter" in said


def test_rates_of_sources_come_from_the_calls(view):
    calls = view.session.bench.calls_of("A1")
    name = calls[-1].sources[0].source
    show_only(view, name)
    assert view.kind == data.SOURCE_RATE
    known = [next((s.rate_mg_h for s in c.sources if s.source == name), None) for c in calls]
    assert values(view, name) == tuple(rate for rate in known if rate is not None)
    assert [mark.call for mark in view.series.calls] == [c.call for c in calls]


def test_a_source_without_a_rate_is_shown_by_what_it_brings_into_the_oil(view, monkeypatch):
    monkeypatch.setattr(data, "_source_choices", lambda _calls: ())
    show_only(view, "dust")
    assert view.kind == data.PPM
    assert [line.name for line in view.series.lines] == ["Si"]


def test_an_engine_without_a_sample_leads_to_sample_entry(view, window):
    view.show_engine("B1")
    assert view.empty_head.text() == "No sample of B1 yet."
    view.empty_button.setFocus()
    QTest.keyClick(view.empty_button, Qt.Key.Key_Space)
    assert window.current_key == "entry"
