"""The table of the window: typed sorting, filter, keys that stay true, and Qt's own model testers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QModelIndex, Qt
from PySide6.QtTest import QAbstractItemModelTester

from benchapp.window import tables, theme
from benchapp.window.tables import Column, KeyRole, RowsModel, SortRole, Table, natural, sorted_places

UP, DOWN = Qt.SortOrder.AscendingOrder, Qt.SortOrder.DescendingOrder


@dataclass(frozen=True)
class Thing:
    name: str
    hours: float | None


THINGS = (Thing("E10", 100.0), Thing("E9", 9.5), Thing("E2", None), Thing("e1", 10.2))
COLUMNS = (
    Column("Name", lambda row: row.name, lambda row: row.name),
    Column("Hours", lambda row: "" if row.hours is None else f"{row.hours:.1f}", lambda row: row.hours, number=True),
)


def thing_key(row: Thing) -> str:
    return row.name


@pytest.fixture
def model(qapp):
    made = RowsModel(COLUMNS, thing_key)
    made.set_rows(THINGS)
    return made


def names(model: RowsModel) -> list[str]:
    return [row.name for row in model.shown()]


@pytest.mark.parametrize("words", ["", "e"])
@pytest.mark.parametrize("column", [-1, 0, 1])
@pytest.mark.parametrize("order", [UP, DOWN])
def test_both_model_testers_agree_sorted_and_filtered(qtmodeltester, model, words, column, order):
    tester = QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Warning)
    model.sort(column, order)
    model.set_filter(words)
    model.set_rows(THINGS[1:])
    model.set_rows(THINGS)
    qtmodeltester.check(model)
    assert tester.model() is model


def test_numbers_sort_as_numbers_and_the_unknown_comes_last(model):
    model.sort(1, UP)
    assert names(model) == ["E9", "e1", "E10", "E2"]
    model.sort(1, DOWN)
    assert names(model) == ["E10", "e1", "E9", "E2"]


def test_names_sort_with_their_numbers(model):
    model.sort(0, UP)
    assert names(model) == ["e1", "E2", "E9", "E10"]
    assert natural("E9") < natural("E10")


def test_without_a_column_rows_stand_as_they_came(model):
    model.sort(0, UP)
    model.sort(-1, UP)
    assert names(model) == [thing.name for thing in THINGS]


def test_the_filter_wants_every_word(model):
    model.set_filter("e1 10")
    assert names(model) == ["E10", "e1"]
    model.set_filter("E1 100.0")
    assert names(model) == ["E10"]
    model.set_filter("nothing like it")
    assert model.rowCount() == 0
    assert not model.index_of("E10").isValid()


def test_a_persistent_index_follows_its_record(model):
    from PySide6.QtCore import QPersistentModelIndex

    held = QPersistentModelIndex(model.index_of("E9"))
    model.sort(0, DOWN)
    assert held.data(KeyRole) == "E9"


def test_a_valid_parent_has_no_rows(model):
    inside = model.index(0, 0)
    assert model.rowCount(inside) == 0
    assert model.columnCount(inside) == 0
    assert model.data(QModelIndex()) is None


def test_roles_keep_number_key_and_words_apart(model):
    index = model.index(0, 1)
    assert index.data() == "100.0"
    assert index.data(SortRole) == 100.0
    assert index.data(KeyRole) == "E10"
    assert index.data(Qt.ItemDataRole.AccessibleTextRole) == "Hours: 100.0"


@given(st.lists(st.one_of(st.none(), st.floats(-1e6, 1e6)), max_size=30), st.sampled_from([UP, DOWN]))
def test_sorted_places_is_a_permutation_in_order(values, order):
    places = sorted_places(values, order)
    assert sorted(places) == list(range(len(values)))
    found = [values[place] for place in places]
    known = [value for value in found if value is not None]
    assert known == sorted(known, reverse=order == DOWN)
    assert all(value is None for value in found[len(known) :])


def test_sorting_is_stable():
    assert list(sorted_places([1.0, 0.0, 1.0, 0.0], UP)) == [1, 3, 0, 2]
    assert list(sorted_places([1.0, 0.0, 1.0, 0.0], DOWN)) == [0, 2, 1, 3]
    assert np.array_equal(sorted_places([], UP), [])


@pytest.fixture
def table(qtbot, model):
    made = Table(model, "Things")
    qtbot.addWidget(made)
    made.resize(500, 300)
    made.show()
    return made


def test_sorted_and_filtered_the_key_is_that_of_the_row_at_hand(qtbot, table):
    picked = []
    table.picked.connect(picked.append)
    table.pick("E9")
    table.sortByColumn(0, DOWN)
    assert table.key() == "E9"
    table.rows.set_filter("e")
    assert table.key() == "E9"
    table.rows.set_rows(THINGS[::-1])
    assert table.key() == "E9"
    assert picked == ["E9"]


def test_a_filter_that_hides_the_row_at_hand_lets_it_go(table):
    picked = []
    table.pick("E9")
    table.picked.connect(picked.append)
    table.rows.set_filter("E10")
    assert table.key() == ""
    assert picked == [""]


def test_enter_opens_the_row_at_hand(qtbot, table):
    table.sortByColumn(1, DOWN)
    table.pick("e1")
    with qtbot.waitSignal(table.opened) as opened:
        qtbot.keyClick(table, Qt.Key.Key_Return)
    assert opened.args == ["e1"]


def test_a_double_click_opens_the_row_under_it(qtbot, table):
    table.sortByColumn(0, UP)
    at = table.visualRect(table.rows.index_of("E10")).center()
    qtbot.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, pos=at)
    with qtbot.waitSignal(table.opened) as opened:
        qtbot.mouseDClick(table.viewport(), Qt.MouseButton.LeftButton, pos=at)
    assert opened.args == ["E10"]


def test_spare_columns_give_way_first(qtbot, qapp):
    columns = (
        Column("Name", lambda row: row.name, width=20, stretch=True),
        Column("Second", lambda row: row.name, width=20, spare=1),
        Column("Third", lambda row: row.name, width=20, spare=2),
    )
    made = Table(RowsModel(columns, thing_key), "Things")
    qtbot.addWidget(made)
    made.resize(2000, 200)
    made.show()
    assert [made.isColumnHidden(n) for n in range(3)] == [False, False, False]
    made.resize(480, 200)
    assert [made.isColumnHidden(n) for n in range(3)] == [False, False, True]
    made.resize(120, 200)
    assert [made.isColumnHidden(n) for n in range(3)] == [False, True, True]


def test_names_that_tell_rows_apart_are_shown_whole_up_to_a_limit(qtbot, qapp):
    columns = (
        Column("Code", lambda row: row.name, width=6, most=20),
        Column("Hours", lambda row: f"{row.hours}", width=30, spare=1),
        Column("Why", lambda row: "nothing", width=10, stretch=True),
    )
    rows = RowsModel(columns, thing_key)
    made = Table(rows, "Things")
    qtbot.addWidget(made)
    made.resize(700, 200)
    made.show()
    letter = made.fontMetrics().averageCharWidth()
    narrow = made.columnWidth(0)
    rows.set_rows((Thing("DREGS-1-1-11", 1.0), Thing("DREGS-1-1-12", 1.0)))
    whole = made.columnWidth(0)
    assert whole > narrow
    assert whole >= made.fontMetrics().horizontalAdvance("DREGS-1-1-12") + 2 * theme.current().gap_px
    rows.set_filter("none of them")
    assert made.columnWidth(0) == whole, "what is filtered out does not make columns jump"
    made.setColumnWidth(0, whole + 7)
    rows.set_rows((Thing("DREGS-1-1-12", 1.0),))
    assert made.columnWidth(0) == whole + 7, "as the person set it"
    rows.set_rows((Thing("W" * 400, 1.0),))
    assert whole < made.columnWidth(0) < 26 * letter + 40
    theme.apply("sunlight", True, 1.5)
    assert made.columnWidth(0) > 20 * made.fontMetrics().averageCharWidth()
    theme.apply("sunlight")


def test_titles_have_room(table):
    for number, column in enumerate(table.rows.columns):
        assert table.columnWidth(number) > table.fontMetrics().horizontalAdvance(column.title)


def test_no_sort_goes_through_the_text_of_cells():
    assert tables.SortRole != Qt.ItemDataRole.DisplayRole
