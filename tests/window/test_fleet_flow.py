"""The fleet on a real bench file: what a person does there reaches the disk, and undo takes it back."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel

from benchapp.actions import run
from benchapp.actions.bench import Bench
from benchapp.records import Run
from benchapp.window.main_window import MainWindow
from benchapp.window.session import Session
from tests.window.conftest import opened, worked


@pytest.fixture
def view(qtbot, window):
    qtbot.waitUntil(lambda: not window.session.busy, timeout=30000)
    return window.view("fleet")


def texts(widget) -> str:
    return "\n".join(label.text() for label in widget.findChildren(QLabel))


def test_judged_in_the_background_the_engine_has_a_call(view):
    rows = {row.engine: row for row in view.table.rows.shown()}
    assert rows["A1"].call is not None
    assert rows["A1"].call.sample == "26-003"
    assert rows["A1"].build_h == 6.0
    assert rows["B1"].call is None
    assert rows["B1"].reason == "No sample yet"


def test_parts_groups_samples_and_log_are_shown(qtbot, view):
    view.show_engine("A1")
    parts = {row.part: row for row in view.detail.parts.rows.shown()}
    assert parts["main bearing overlay"].material_id == "ovl_pbsn10cu2"
    assert parts["main bearing overlay"].sure == "verified"
    assert "Pb 88 %" in parts["main bearing overlay"].about
    assert [row.code for row in view.detail.samples.rows.shown()] == ["26-003", "26-002", "26-001"]
    assert "practice, 2 h" in {row.text for row in view.detail.log.rows.shown()}
    qtbot.waitUntil(lambda: "Read as one" in texts(view.detail.apart), timeout=30000)
    assert "9 elements measured so far" in texts(view.detail.apart)


def test_groups_are_shown_before_any_sample_exists(qtbot, view):
    view.show_engine("B1")
    qtbot.waitUntil(lambda: "Read as one" in texts(view.detail.apart), timeout=30000)


def test_a_run_adds_hours_and_undo_takes_them_back(qtbot, view, bench):
    session = view.session
    session.run(run.add, "A1", "1", Run("race", 1.5))
    row = next(row for row in view.table.rows.shown() if row.engine == "A1")
    assert (row.build_h, row.since_h) == (7.5, 1.5)
    assert "run" in session.undo_label.lower()
    session.undo()
    row = next(row for row in view.table.rows.shown() if row.engine == "A1")
    assert row.build_h == 6.0
    session.redo()
    assert next(row for row in view.table.rows.shown() if row.engine == "A1").build_h == 7.5
    path = bench.path
    session.close()
    with_disk = Bench.open(path)
    assert sum(r.hours for r in with_disk.build("A1", "1").runs) == 7.5
    with_disk.close()


def test_another_file_takes_the_place_of_the_one_at_hand(qtbot, view, tmp_path):
    window = view.window()
    other = Bench.create(tmp_path / "other.bench")
    other.close()
    window.open_path(str(tmp_path / "other.bench"))
    worked(qtbot, window)
    assert window.view("fleet").table.rows.rowCount() == 0
    assert window.windowTitle().startswith("other.bench")


def test_a_read_only_file_says_so(qtbot, ask, small_path):
    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    window.show()
    opened(qtbot, window, small_path, read_only=True)
    assert window.saved.text() == "Read only: nothing can be changed in this file"
    assert window.messages.isVisible()


def test_a_new_file_is_made_where_the_person_says(qtbot, ask, tmp_path):
    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    ask.path = str(tmp_path / "mine.bench")
    qtbot.mouseClick(window.start_page.buttons["new"], Qt.MouseButton.LeftButton)
    worked(qtbot, window)
    assert (tmp_path / "mine.bench").exists()
    assert window.current_key == "fleet"
    assert window.view("fleet").pages.currentWidget() is window.view("fleet").empty


def test_no_bench_file_is_told_in_three_sentences(qtbot, ask, tmp_path):
    strange = tmp_path / "notes.bench"
    strange.write_text("not a bench file, but long enough to be one " * 40, encoding="utf-8")
    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    window.show()
    window.open_path(str(strange))
    worked(qtbot, window)
    assert window.session.bench is None
    for label in (window.messages.what, window.messages.means, window.messages.do):
        assert label.text()


def test_a_copy_is_made_and_said(qtbot, view, ask, tmp_path):
    ask.path = str(tmp_path / "copy.bench")
    view.window().save_copy()
    worked(qtbot, view.window())
    assert (tmp_path / "copy.bench").exists()
    assert "The copy is on the disk" in view.window().messages.what.text()


def test_the_workbook_goes_out_and_comes_back(qtbot, view, ask, tmp_path):
    window = view.window()
    ask.path = str(tmp_path / "whole.xlsx")
    window.unload_workbook()
    worked(qtbot, window)
    assert (tmp_path / "whole.xlsx").exists()
    ask.path = str(tmp_path / "again.bench")
    window.new_file()
    worked(qtbot, window)
    ask.path = str(tmp_path / "whole.xlsx")
    window.load_workbook()
    worked(qtbot, window)
    assert [row.engine for row in window.view("fleet").table.rows.shown()] == ["A1", "B1"]
    assert "loaded" in window.messages.what.text()


def test_an_engine_of_the_file_before_is_not_looked_for_in_this_one(view, tmp_path, monkeypatch):
    """A view that is on its way out may have its detail due when the next file is open already."""
    assert view.table.pick("A1")
    view._shown = None
    begun = view._detail_pieces()
    next(begun)
    with Bench.create(tmp_path / "other.bench", who="test") as other:
        monkeypatch.setattr(view.session, "bench", other)
        assert next(begun, "over") == "over"
        assert view._shown is None
        view._show_detail()
        assert view._shown is None


def test_a_workbook_that_is_none_is_told(qtbot, view, ask, tmp_path):
    (tmp_path / "x.xlsx").write_bytes(b"PK nothing")
    ask.path = str(tmp_path / "x.xlsx")
    view.window().load_workbook()
    worked(qtbot, view.window())
    assert view.window().messages.isVisible()
    assert view.window().messages.do.text()


@pytest.mark.parametrize("suffix", ["xlsx", "csv"])
def test_the_table_is_exported_as_it_stands(qtbot, view, ask, tmp_path, suffix):
    view.table.sortByColumn(1, Qt.SortOrder.DescendingOrder)
    ask.path = str(tmp_path / f"fleet.{suffix}")
    view.window().export_table()
    if suffix == "csv":
        lines = (tmp_path / "fleet.csv").read_text(encoding="utf-8-sig").splitlines()
        assert lines[0].startswith("Call,Engine,Car")
        assert "B1" in lines[1]
        assert "6.0" in lines[2]
    else:
        import openpyxl

        page = openpyxl.load_workbook(tmp_path / "fleet.xlsx").active
        assert [page.cell(2, 2).value, page.cell(3, 2).value] == ["B1", "A1"]
        assert page.cell(3, 5).value == 6.0


def test_the_sheet_is_shown_and_written(qtbot, view, ask, tmp_path):
    window = view.window()
    view.show_engine("A1")
    window.print_sheet()
    qtbot.waitUntil(lambda: bool(ask.shown), timeout=30000)
    dialog = ask.shown[-1]
    assert "26-003" in dialog.windowTitle()
    assert not dialog.view.grab().isNull()
    dialog.papers.setCurrentText("Letter")
    ask.path = str(tmp_path / "sheet.pdf")
    dialog.save()
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")


def test_a_sheet_that_cannot_be_written_says_so_and_stays(qtbot, view, ask, tmp_path):
    view.show_engine("A1")
    view.window().print_sheet()
    qtbot.waitUntil(lambda: bool(ask.shown), timeout=30000)
    dialog = ask.shown[-1]
    ask.path = str(tmp_path / "nowhere" / "sheet.pdf")
    dialog.save()
    assert dialog.trouble.isVisible()
    assert "could not be written" in dialog.trouble.text()
    dialog.close()


def test_printing_without_a_sample_says_what_to_do(qtbot, view):
    view.show_engine("B1")
    view.window().print_sheet()
    assert view.window().messages.what.text() == "There is no sample at hand to print."


def test_closing_while_judging_waits_and_leaves_no_thread(qtbot, ask, small_path):
    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    opened(qtbot, window, small_path)
    assert window.session.busy
    window.close()
    assert window.session.bench is None


def test_while_an_engine_is_judged_its_row_says_so(qtbot, ask, small_path):
    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    opened(qtbot, window, small_path)
    row = next(row for row in window.view("fleet").table.rows.shown() if row.engine == "A1")
    assert row.reason == "Being judged…"
    assert "being judged" in texts(window.view("fleet").detail.reasons)
    window.print_sheet()
    assert "no sample at hand" in window.messages.what.text() or "still being judged" in window.messages.what.text()
    qtbot.waitUntil(lambda: not window.session.busy, timeout=30000)
    row = next(row for row in window.view("fleet").table.rows.shown() if row.engine == "A1")
    assert row.call is not None


def test_a_file_that_was_judged_before_shows_its_calls_at_once(qtbot, ask, small_path, monkeypatch):
    from benchapp.actions import call

    with Bench.open(small_path) as judged:
        told = judged.calls()
    monkeypatch.setattr(call, "judge", lambda *_: ())  # nothing that is shown can come from it
    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    opened(qtbot, window, small_path)
    assert window.session.calls["A1"] == told[0]
    assert window.session.being_judged() == frozenset()
    row = next(row for row in window.view("fleet").table.rows.shown() if row.engine == "A1")
    assert row.call == told[0]


def test_a_fault_while_judging_is_not_waited_for_for_ever(qtbot, ask, small_path, monkeypatch):
    from benchapp.actions import call
    from benchapp.problems import BenchProblem

    def fail(*_):
        raise BenchProblem("The rules could not be read.", "No call was made.", "Install the program again.")

    monkeypatch.setattr(call, "judge", fail)
    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    opened(qtbot, window, small_path)
    qtbot.waitUntil(lambda: window.messages.what.text() == "The rules could not be read.")
    row = next(row for row in window.view("fleet").table.rows.shown() if row.engine == "A1")
    assert row.reason == "Could not be judged"
