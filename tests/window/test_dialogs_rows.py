"""The small table to type into, and the service that asks."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester
from PySide6.QtWidgets import QApplication, QLineEdit

from benchapp.window.dialogs.ask import BENCH_FILES, Ask, with_suffix
from benchapp.window.dialogs.rows import Typed, TypedModel, TypedTable


def needs_word(text: str) -> str:
    return "" if text else "missing"


def digits(text: str) -> str:
    return "" if not text or text.isdigit() else "no number"


COLUMNS = (Typed("Name", needs_word), Typed("Count", digits, number=True))


@pytest.fixture
def model(qapp):
    made = TypedModel(COLUMNS)
    made.set_rows([("a", "1"), ("", "x")])
    return made


def test_both_model_testers_agree_while_rows_come_and_go(qtmodeltester, model):
    tester = QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Warning)
    qtmodeltester.check(model)
    model.setData(model.index(2, 0), "b")
    model.remove(0)
    model.paste("c\t3\r\nd\t4\r\n", 0, 0)
    model.set_rows([("z", "9")])
    qtmodeltester.check(model)
    assert tester.model() is model


def test_what_is_wrong_is_said_with_row_and_column(model):
    assert model.problems() == ["Row 2, Name: missing", "Row 2, Count: no number"]
    assert model.data(model.index(1, 1), Qt.ItemDataRole.BackgroundRole) is not None
    assert model.data(model.index(1, 1), Qt.ItemDataRole.ToolTipRole) == "no number"
    assert model.data(model.index(0, 1), Qt.ItemDataRole.BackgroundRole) is None


def test_there_is_always_one_empty_row(model):
    assert model.rowCount() == 3
    model.setData(model.index(2, 1), "7")
    assert model.rowCount() == 4
    model.remove(3)
    assert model.rowCount() == 4
    assert model.rows() == [["a", "1"], ["", "x"], ["", "7"]]


def test_a_pasted_block_keeps_its_empty_first_cell_and_goes_on_below(model):
    model.set_rows([])
    model.paste("\t1\r\nb\t2\tleft out\r\nc", 0, 0)
    assert model.rows() == [["", "1"], ["b", "2"], ["c", ""]]


def test_enter_goes_on_through_the_cells_and_out_of_the_table(qtbot):
    from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

    page = QWidget()
    qtbot.addWidget(page)
    table = TypedTable(COLUMNS, "Things", page)
    button = QPushButton("On", page)
    column = QVBoxLayout(page)
    column.addWidget(table)
    column.addWidget(button)
    page.show()
    table.typed.set_rows([("a", "1")])
    table.setCurrentIndex(table.typed.index(0, 0))
    table.setFocus()
    places = []
    for _ in range(2):
        qtbot.keyClick(table, Qt.Key.Key_Return)
        places.append((table.currentIndex().row(), table.currentIndex().column()))
    assert places == [(0, 1), (1, 0)]
    qtbot.keyClick(table, Qt.Key.Key_Return)
    assert page.focusWidget() is button


def test_typing_in_a_cell_and_delete_empties_it(qtbot):
    table = TypedTable(COLUMNS, "Things")
    qtbot.addWidget(table)
    table.show()
    table.setCurrentIndex(table.typed.index(0, 0))
    qtbot.keyClick(table, "x")
    from PySide6.QtWidgets import QLineEdit

    editor = table.findChild(QLineEdit)
    qtbot.keyClicks(editor, "yz")
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: table.typed.rows() == [["xyz", ""]])
    table.setCurrentIndex(table.typed.index(0, 0))
    qtbot.keyClick(table, Qt.Key.Key_Delete)
    assert table.typed.rows() == []


def test_a_suffix_is_added_where_it_is_missing():
    assert with_suffix("/a/b", BENCH_FILES) == "/a/b.bench"
    assert with_suffix("/a/b.bench", BENCH_FILES) == "/a/b.bench"
    assert with_suffix("", BENCH_FILES) == ""


def test_asking_in_a_test_without_the_service_fails_at_once(qtbot, window):
    with pytest.raises(AssertionError, match=r"session\.ask"):
        Ask().confirm(window, "Really?", "It cannot be undone.", "Do it")
    with pytest.raises(AssertionError, match=r"session\.ask"):
        Ask().open_file(window, "Open", BENCH_FILES)


@pytest.mark.parametrize("kept", [[("z", "9")], []])
def test_rows_replaced_under_an_open_editor_leave_nothing_behind(qtbot, kept):
    table = TypedTable(COLUMNS, "Counts")
    qtbot.addWidget(table)
    table.typed.set_rows([("a", "1"), ("b", "2"), ("c", "3")])
    with qtbot.waitActive(table):
        table.show()
    table.setCurrentIndex(table.typed.index(2, 0))
    gone = table.typed.index(2, 0)
    qtbot.keyClick(table, Qt.Key.Key_F2)
    editor = QApplication.focusWidget()
    assert isinstance(editor, QLineEdit)
    qtbot.keyClicks(editor, "half typed")
    table.typed.set_rows(kept)
    assert table.state() == table.State.NoState
    assert not editor.isVisible()
    qtbot.keyClick(editor, Qt.Key.Key_Return)  # a press that was on its way to it
    assert not table.typed.setData(gone, "half typed")
    assert table.typed.rows() == [list(row) for row in kept]
    table.setCurrentIndex(table.typed.index(0, 0))
    qtbot.keyClick(table, Qt.Key.Key_F2)
    editor = QApplication.focusWidget()
    qtbot.keyClicks(editor, "y")
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    assert table.typed.rows()[0][0] == "y"
