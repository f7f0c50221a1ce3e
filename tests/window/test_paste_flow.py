"""From the clipboard to a call, on a real bench file, with the keyboard alone; and what can go wrong on the way."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent, QGuiApplication
from PySide6.QtWidgets import QLineEdit

from benchapp.actions import draft, paste, sample
from benchapp.actions.bench import Bench
from benchapp.window.entry.entry_page import KNOWN, WAITS
from benchapp.window.entry.preview_model import CELL_ROLE
from tests.window import entry_bench
from tests.window.entry_bench import EXPORT

# popups ask for what the offscreen platform has not
pytestmark = pytest.mark.qt_log_ignore("This plugin does not support", extend=True)


@pytest.fixture
def bench(tmp_path):
    """A real, empty bench file, in place of the one in memory."""
    return Bench.create(tmp_path / "flow.bench")


@pytest.fixture
def view(window, qtbot):
    made = window.show_view("entry")
    qtbot.waitExposed(window)
    return made


def press(qtbot, window, key, modifier=Qt.KeyboardModifier.NoModifier):
    qtbot.keyClick(window.focusWidget() or window, key, modifier)


def ctrl(qtbot, window, key):
    press(qtbot, window, key, Qt.KeyboardModifier.ControlModifier)


def pasted(qtbot, window, text):
    """Copies `text` and presses Ctrl+V."""
    QGuiApplication.clipboard().setText(text)
    ctrl(qtbot, window, Qt.Key.Key_V)


def type_over(qtbot, table, text):
    """Types over the cell at the cursor and presses Enter."""
    index = table.currentIndex()
    qtbot.keyClicks(table, text[0])
    editor = next(line for line in table.findChildren(QLineEdit) if line.isVisible())
    qtbot.keyClicks(editor, text[1:])
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: index.data() == text and table.state() == table.State.NoState)


def test_from_an_empty_bench_to_a_call_with_the_keyboard_alone(view, window, qtbot):
    entry_bench.with_engine(window.session.bench)
    view.refresh(None)
    page = view.paste_page

    pasted(qtbot, window, EXPORT)
    assert view.stack.currentWidget() is page
    assert page.sum.text().startswith("8 readings of 2 samples taken")
    assert not page.confirm_button.isEnabled()
    assert page.table.currentIndex().data(CELL_ROLE) == (6, 3)  # the first problem

    type_over(qtbot, page.table, "12,4")
    press(qtbot, window, Qt.Key.Key_F8)
    assert page.table.currentIndex().data(CELL_ROLE) == (6, 5)
    type_over(qtbot, page.table, ">500")
    assert page.lists.tabText(0) == "Problems 0"
    assert page.sum.text().startswith("10 readings of 2 samples taken, 1 instrument check, no problem")
    assert "24-017 and 24-018: new, wait for an engine" in page.whose.text()

    ctrl(qtbot, window, Qt.Key.Key_Return)
    assert view.entry.mode == WAITS
    assert view.entry.head.text() == "Sample 24-017 waits for an engine"
    assert view.entry.form.text().engine == "E1"  # the only one
    qtbot.waitUntil(lambda: view.entry.call_panel.call is not None)

    ctrl(qtbot, window, Qt.Key.Key_Return)
    assert view.entry.mode == KNOWN
    engine, _, found = window.session.bench.find_sample("24-017")
    assert engine.name == "E1"
    readings = {item.measurand: (item.value, item.qualifier) for item in found.readings}
    assert readings == {"Fe": (18.9, ""), "Cu": (12.4, ""), "Pb": (7.7, ""), "Al": (500.0, ">"), "Si": (9.8, "")}
    qtbot.waitUntil(lambda: view.entry.call_panel.call is not None and view.entry.call_panel.call.sample == "24-017")
    assert view.entry.call_panel.word.text() == view.entry.call_panel.call.call
    assert [item.sample.code for item in sample.waiting(window.session.bench)] == ["24-018"]


def test_nothing_is_taken_while_a_problem_stands(view, window, qtbot):
    pasted(qtbot, window, EXPORT)
    ctrl(qtbot, window, Qt.Key.Key_Return)  # goes to the next problem instead
    assert view.stack.currentWidget() is view.paste_page
    assert sample.waiting(window.session.bench) == ()
    assert not view.paste_page.confirm_button.isEnabled()


def test_taking_the_rest_leaves_the_problems_on_the_screen(view, window, qtbot):
    page = view.paste_page
    pasted(qtbot, window, EXPORT)
    assert page.rest_button.text() == "Take the rest, leave 2 problems"
    with qtbot.waitSignal(window.session.note) as told:
        page.rest_button.click()
    assert told.args[0] == "8 readings of 2 samples are saved."
    assert view.stack.currentWidget() is page
    assert page.lists.problems.count() == 2
    assert view.bar.preview.text() == "Pasted sheet (2 problems)"
    assert {item.sample.code: len(item.sample.readings) for item in sample.waiting(window.session.bench)} == {
        "24-017": 3,
        "24-018": 5,
    }
    page.edit_cell(6, 3, "12,4")
    page.edit_cell(6, 5, ">500")
    page.confirm()
    assert {item.sample.code: len(item.sample.readings) for item in sample.waiting(window.session.bench)} == {
        "24-017": 5,
        "24-018": 5,
    }
    assert not page.holds_sheet


def test_a_cell_typed_over_is_taken_back_with_ctrl_z(view, window, qtbot):
    page = view.paste_page
    pasted(qtbot, window, EXPORT)
    type_over(qtbot, page.table, "12,4")
    assert page.lists.problems.count() == 1
    ctrl(qtbot, window, Qt.Key.Key_Z)
    assert page.lists.problems.count() == 2
    assert page.model.index_of(6, 3).data() == "12,4,1"
    ctrl(qtbot, window, Qt.Key.Key_Y)
    assert page.lists.problems.count() == 1


def test_a_click_on_a_problem_goes_to_its_cell(view, window, qtbot):
    page = view.paste_page
    pasted(qtbot, window, EXPORT)
    item = page.lists.problems.item(1)
    place = page.lists.problems.visualItemRect(item).center()
    qtbot.mouseClick(page.lists.problems.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert page.table.currentIndex().data(CELL_ROLE) == (6, 5)
    assert page.table.hasFocus()


def test_a_column_that_is_not_known_is_said_by_the_menu(view, window, qtbot):
    page = view.paste_page
    pasted(qtbot, window, "Sample\tFe\tCol7\n24-1\t3\t4\n24-2\t5\t6\n")
    assert page.preview.result.samples == ("24-1", "24-2")
    assert len(page.preview.result.taken) == 2
    page.table.setCurrentIndex(page.model.index_of(2, 3))
    qtbot.keyClick(page.table, Qt.Key.Key_Down, Qt.KeyboardModifier.AltModifier)
    menu = page.sheet.menu
    assert menu.isVisible()
    wear = next(action.menu() for action in menu.actions() if action.text() == "Wear metals")
    next(action for action in wear.actions() if action.text().startswith("Cu")).trigger()
    menu.close()
    assert {item.measurand for item in page.preview.result.taken} == {"Fe", "Cu"}
    page.stack.undo()
    assert {item.measurand for item in page.preview.result.taken} == {"Fe"}


def test_what_columns_mean_is_remembered_for_the_instrument(view, window, qtbot):
    page = view.paste_page
    sheet = "Sample\tFe\tCol7\n24-{0}\t3\t4\n"
    pasted(qtbot, window, sheet.format(1))
    page.instrument.setEditText("Spark one")
    page.settle(3, "reading", "Cu", "ppm")
    page.confirm()
    assert paste.mapping_for(window.session.bench, "Spark one") is not None
    view.paste_text(sheet.format(2))
    assert page.instrument.currentText() == "Spark one"
    assert {item.measurand for item in page.preview.result.taken} == {"Fe", "Cu"}


def test_the_decimal_sign_is_asked_for_and_said_once(view, window, qtbot):
    page = view.paste_page
    pasted(qtbot, window, "Sample\tCa\tZn\n24-1\t1,234\t1,100\n")
    assert page.preview.result.asks_decimal
    assert "Say which sign is the decimal sign" in page.state.text()
    page.decimal.setCurrentIndex(page.decimal.findData(","))
    page.decimal.activated.emit(page.decimal.currentIndex())
    assert [item.value for item in page.preview.result.taken] == [1.234, 1.1]
    assert page.confirm_button.isEnabled()


def test_a_sheet_survives_a_stop_and_is_offered_again(view, window, qtbot):
    pasted(qtbot, window, EXPORT)
    view.paste_page.edit_cell(6, 3, "12,4")
    assert view.paste_page.keeper.due_ms() < 1000
    qtbot.waitUntil(lambda: draft.get(window.session.bench, "entry paste") is not None)
    view.may_leave()
    window.session.opened.emit()  # as if the file had just been opened again
    again = window.show_view("entry")
    assert again.banner.isVisible()
    assert "A pasted sheet is here" in again.banner.words.text()
    again.banner.go_on.click()
    assert again.stack.currentWidget() is again.paste_page
    assert again.paste_page.lists.problems.count() == 1
    assert again.paste_page.model.index_of(6, 3).data() == "12,4"


def test_going_back_keeps_the_sheet_and_putting_it_away_asks(view, window, qtbot, ask):
    pasted(qtbot, window, EXPORT)
    press(qtbot, window, Qt.Key.Key_Escape)
    assert view.stack.currentIndex() == 0
    assert view.bar.preview.isVisible()
    view.bar.preview.click()
    view.paste_page.away_button.click()
    assert ask.asked[-1][1] == "Put this sheet away?"
    assert view.paste_page.holds_sheet
    ask.agree = True
    view.paste_page.away_button.click()
    assert not view.paste_page.holds_sheet
    assert not view.bar.preview.isVisible()
    assert draft.get(window.session.bench, "entry paste") is None


def test_a_file_is_opened_and_its_sheets_are_offered(view, window, qtbot, ask, tmp_path):
    from openpyxl import Workbook

    book = Workbook()
    book.active.title = "May"
    book.active.append(["Sample", "Fe"])
    book.active.append(["24-1", 3.5])
    june = book.create_sheet("June")
    june.append(["Sample", "Fe"])
    june.append(["24-2", 4.5])
    june.append(["24-3", 5.5])
    path = tmp_path / "invented.xlsx"
    book.save(path)
    ask.path = str(path)
    view.open_table()
    page = view.paste_page
    qtbot.waitUntil(lambda: page.preview is not None)
    assert page.preview.result.samples == ("24-1",)
    assert page.part.isVisible()
    page.part.setCurrentText("June")
    page.part.activated.emit(1)
    qtbot.waitUntil(lambda: page.preview is not None and page.preview.result.samples == ("24-2", "24-3"))
    assert page.part.currentText() == "June"


def test_a_file_that_is_no_table_says_so_and_changes_nothing(view, window, qtbot, tmp_path):
    path = tmp_path / "broken.xlsx"
    path.write_bytes(b"PK\x03\x04 this is not a workbook")
    with qtbot.waitSignal(window.session.problem) as told:
        view.take_table_file(str(path))
    assert told.args[0].what
    assert told.args[0].means
    assert not view.paste_page.holds_sheet
    qtbot.waitUntil(lambda: view.paste_page.state.text() == "", timeout=30000)  # "Reading the file …" is over


def test_text_dragged_from_a_spreadsheet_opens_the_preview(view, window, qtbot):
    mime = QMimeData()
    mime.setText(EXPORT)
    event = QDropEvent(
        QPointF(QPoint(5, 5)), Qt.DropAction.CopyAction, mime, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    )
    view.dropEvent(event)
    assert view.stack.currentWidget() is view.paste_page
    assert view.paste_page.lists.problems.count() == 2


def test_a_file_dropped_on_the_window_opens_the_preview(view, window, qtbot, tmp_path):
    path = tmp_path / "invented.csv"
    path.write_text("Sample;Fe\n24-1;3,5\n", encoding="utf-8")
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path))])
    event = QDropEvent(
        QPointF(QPoint(5, 5)), Qt.DropAction.CopyAction, mime, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    )
    window.dropEvent(event)
    qtbot.waitUntil(lambda: view.paste_page.preview is not None)
    assert view.paste_page.preview.result.samples == ("24-1",)
    assert "invented.csv" in view.paste_page.head.text()


def test_a_table_pasted_while_a_field_has_the_keyboard_opens_the_preview(view, window, qtbot):
    view.entry.form.focus("code")
    pasted(qtbot, window, EXPORT)
    assert view.stack.currentWidget() is view.paste_page
    press(qtbot, window, Qt.Key.Key_Escape)
    view.entry.form.focus("code")
    pasted(qtbot, window, "24-099")
    assert view.entry.form.text().code == "24-099"


def test_known_samples_get_their_readings_and_are_shown_with_their_call(view, window, qtbot):
    entry_bench.with_sample(entry_bench.with_engine(window.session.bench))
    view.refresh(None)
    pasted(qtbot, window, "Sample\tPb\tSn\n24-001\t2.5\tND\n")
    assert "24-001: in the bench file." in view.paste_page.whose.text()
    ctrl(qtbot, window, Qt.Key.Key_Return)
    assert (view.entry.mode, view.entry.code) == (KNOWN, "24-001")
    assert view.entry.results.model.texts()["Pb", 1] == "2.5"
    assert view.entry.results.model.texts()["Sn", 1] == "ND"
    window.undo()
    assert ("Pb", 1) not in view.entry.results.model.texts()


def test_a_reading_that_would_overwrite_another_is_refused_whole(view, window, qtbot):
    entry_bench.with_sample(entry_bench.with_engine(window.session.bench))
    view.refresh(None)
    pasted(qtbot, window, "Sample\tFe\tPb\n24-001\t99\t2.5\n")
    with qtbot.waitSignal(window.session.problem):
        ctrl(qtbot, window, Qt.Key.Key_Return)
    assert view.stack.currentWidget() is view.paste_page
    assert view.paste_page.holds_sheet
    _, _, found = window.session.bench.find_sample("24-001")
    assert {item.measurand for item in found.readings} == {"Fe", "Cu", "Ca"}


def test_a_large_sheet_is_read_in_the_background(view, window, qtbot):
    rows = "".join(f"24-{number:04d}\t{number % 90 + 1}.5\t2.5\t3.5\n" for number in range(900))
    pasted(qtbot, window, "Sample\tFe\tCu\tPb\n" + rows)
    page = view.paste_page
    assert page.preview is None
    assert not page.confirm_button.isEnabled()
    qtbot.waitUntil(lambda: page.preview is not None)
    assert page.sum.text().startswith("2700 readings of 900 samples taken")


def test_a_few_cells_are_pasted_over_cells_of_the_sheet(view, window, qtbot):
    page = view.paste_page
    pasted(qtbot, window, EXPORT)
    page.table.setCurrentIndex(page.model.index_of(6, 3))
    pasted(qtbot, window, "12,4")
    assert page.model.index_of(6, 3).data() == "12,4"
    assert page.lists.problems.count() == 1
    page.table.setCurrentIndex(page.model.index_of(6, 5))
    press(qtbot, window, Qt.Key.Key_Delete)
    assert page.lists.tabText(0) == "Problems 0"


def test_another_sheet_in_place_of_one_not_dealt_with_comes_back_with_undo(view, window, qtbot):
    page = view.paste_page
    pasted(qtbot, window, EXPORT)
    page.edit_cell(6, 3, "12,4")
    view.paste_text("Sample\tFe\n24-99\t3\n")
    assert page.preview.samples == ("24-99",)
    ctrl(qtbot, window, Qt.Key.Key_Z)
    assert page.preview.samples == ("24-017", "24-018")
    assert page.model.index_of(6, 3).data() == "12,4"


def test_a_sheet_without_a_head_says_what_to_do(view, window, qtbot):
    pasted(qtbot, window, "Code\tThis\tThat\n24-1\t3\t4\n")
    page = view.paste_page
    assert page.sum.text() == "0 readings of 0 samples taken, 1 problem, no row left out."
    assert "copy the header, too" in page.lists.problems.item(0).text()
    assert page.lists.problems.item(0).text().startswith("row 1: no column or row names")
    assert not page.confirm_button.isEnabled()
    assert not page.rest_button.isEnabled()


def test_the_engine_that_the_export_names_is_offered(view, window, qtbot):
    entry_bench.with_engine(window.session.bench, "North 1")
    entry_bench.with_engine(window.session.bench, "South 2")
    view.refresh(None)
    pasted(qtbot, window, "Sample\tEngine\tFe\n24-5\tSouth 2\t3\n")
    ctrl(qtbot, window, Qt.Key.Key_Return)
    assert view.entry.mode == WAITS
    assert view.entry.form.text().engine == "South 2"


def test_a_sheet_too_large_to_be_kept_says_so(view, window, qtbot, monkeypatch):
    from benchapp.window.entry import paste_lists

    monkeypatch.setattr(paste_lists, "KEPT_CELLS", 3)
    pasted(qtbot, window, EXPORT)
    notes = view.paste_page.lists.notes
    assert notes.item(0).text() == paste_lists.TOO_LARGE
    assert notes.item(1).text() == "Check 50 ppm: instrument check"
