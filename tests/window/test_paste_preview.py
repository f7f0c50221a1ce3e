"""The preview of a pasted sheet as a value and as a table model: the person's own cells, numbers and problems."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from PySide6.QtCore import QModelIndex, Qt
from PySide6.QtTest import QAbstractItemModelTester

from benchapp.intake.mapping import PasteMapping
from benchapp.intake.read import read_text
from benchapp.intake.table import RawTable
from benchapp.window.entry import preview as sheets
from benchapp.window.entry.column_menu import column_menu
from benchapp.window.entry.preview import Meaning, Pasted
from benchapp.window.entry.preview_model import CELL_ROLE, REASON_ROLE, ROLE_ROLE, PreviewModel
from benchapp.window.entry.results_pane import by_name, plain_block
from tests.window.entry_bench import EXPORT

TURNED = "Element\t24-1\t24-2\nFe\t1\t2\nCu\t3\t4\nPb\t5\t6\n"


@pytest.fixture
def model(qapp):
    made = PreviewModel()
    yield made
    made.deleteLater()


def shown(model, text=EXPORT, mapping=None):
    table = read_text(text)
    pasted = Pasted(table, mapping or PasteMapping(), table)
    preview = sheets.read(pasted)
    model.show_sheet(pasted)
    model.show_preview(preview)
    return preview


def test_the_model_keeps_the_rules_of_qt(model, qtmodeltester):
    shown(model)
    qtmodeltester.check(model)


def test_the_model_keeps_the_rules_of_qt_while_it_changes(model):
    tester = QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Warning)
    preview = shown(model)
    changed = replace(preview.pasted, table=preview.pasted.table.with_cell(6, 3, "12,4"))
    model.show_sheet(changed)
    model.show_preview(sheets.read(changed))
    wider = replace(changed, table=changed.table.with_cell(12, 9, "1"))
    model.show_sheet(wider)
    model.show_preview(sheets.read(wider))
    model.show_sheet(sheets.EMPTY)
    tester.deleteLater()


def test_counts_are_zero_below_a_cell(model):
    shown(model)
    inside = model.index(0, 0)
    assert (model.rowCount(inside), model.columnCount(inside)) == (0, 0)
    assert (model.rowCount(QModelIndex()), model.columnCount(QModelIndex())) == (8, 6)


def test_cells_stand_under_the_numbers_of_the_sheet(model):
    table = RawTable((("Sample", "Fe"), ("24-1", "3")), first_row=7, first_column=3)
    pasted = Pasted(table)
    model.show_sheet(pasted)
    model.show_preview(sheets.read(pasted))
    display = Qt.ItemDataRole.DisplayRole
    assert model.headerData(0, Qt.Orientation.Horizontal, display) == "C\nsample code"
    assert model.headerData(1, Qt.Orientation.Horizontal, display) == "D\nFe"
    assert model.headerData(0, Qt.Orientation.Vertical, display) == "7"
    assert model.headerData(1, Qt.Orientation.Vertical, display) == "8  24-1"
    assert model.index(1, 1).data(CELL_ROLE) == (8, 4)
    assert model.index_of(8, 4) == model.index(1, 1)


def test_each_cell_says_its_role_and_a_problem_its_reason(model):
    shown(model)
    roles = [[model.index(row, column).data(ROLE_ROLE) for column in range(6)] for row in range(8)]
    assert roles[2] == ["header"] * 6
    assert roles[3][1:] == ["unit"] * 5
    assert roles[4] == ["left out"] * 6
    assert roles[5] == ["sample", "reading", "problem", "reading", "problem", "reading"]
    assert roles[7] == ["left out"] * 6
    problem = model.index(5, 2)
    assert "12,4,1" in problem.data(REASON_ROLE)
    assert problem.data(Qt.ItemDataRole.ToolTipRole) == f"C6: {problem.data(REASON_ROLE)}"
    assert not problem.data(Qt.ItemDataRole.DecorationRole).isNull()
    assert model.index(5, 1).data(Qt.ItemDataRole.ToolTipRole) == "B6: reading taken"


def test_a_changed_cell_says_what_the_sheet_has(model):
    preview = shown(model)
    changed = replace(preview.pasted, table=preview.pasted.table.with_cell(6, 3, "12,4"))
    model.show_sheet(changed)
    model.show_preview(sheets.read(changed))
    assert model.index(5, 2).data() == "12,4"
    assert model.index(5, 2).data(Qt.ItemDataRole.ToolTipRole).endswith("Changed here; the sheet has “12,4,1”.")


def test_typing_asks_the_page_and_changes_nothing_by_itself(model, qtbot):
    shown(model)
    with qtbot.waitSignal(model.cell_edited) as told:
        assert model.setData(model.index(5, 2), "12,4")
    assert told.args == [6, 3, "12,4"]
    assert model.index(5, 2).data() == "12,4,1"
    with qtbot.assertNotEmitted(model.cell_edited):
        assert model.setData(model.index(5, 2), "12,4,1")


def test_where_samples_stand_side_by_side_rows_have_the_meanings(model):
    preview = shown(model, TURNED)
    assert preview.turned
    display = Qt.ItemDataRole.DisplayRole
    assert model.headerData(1, Qt.Orientation.Vertical, display) == "2  Fe"
    assert model.headerData(1, Qt.Orientation.Horizontal, display) == "B\n24-1"
    assert model.has_meanings(across=False)
    assert not model.has_meanings(across=True)


def test_the_summary_counts_in_words(model):
    preview = shown(model)
    assert sheets.summary(preview.result) == (
        "8 readings of 2 samples taken, 1 instrument check, 2 problems, 2 rows left out."
    )
    one = sheets.read(Pasted(read_text("Sample\tFe\n24-1\t3\n")))
    assert sheets.summary(one.result) == "1 reading of 1 sample taken, no problem, no row left out."


def test_whose_samples_they_are_in_words():
    assert sheets.whose(("a", "b", "c"), {"a"}, {"b"}) == (
        "a: in the bench file. b: waiting for an engine already. c: new, waits for an engine after this."
    )
    assert sheets.whose(("a", "b"), (), ()) == "a and b: new, wait for an engine after this."
    assert sheets.whose((), (), ()) == ""


def test_a_remembered_mapping_that_makes_nothing_of_the_sheet_is_left_aside():
    other = PasteMapping("wide").with_column("Sample", "ignore").with_column("Fe", "ignore").with_column("Cu", "ignore")
    pasted = Pasted(read_text("Sample\tFe\tCu\n24-1\t3\t4\n"), other)
    assert sheets.read(pasted).result.taken == ()
    assert len(sheets.read_fitting(pasted).result.taken) == 2


def test_a_sheet_goes_to_a_draft_and_back():
    table = read_text(EXPORT, "export.txt")
    pasted = Pasted(table.with_cell(6, 3, "12,4"), PasteMapping().with_decimal(","), table)
    again = Pasted.from_draft(json.loads(json.dumps(pasted.as_draft("spark"))))
    assert (again.table, again.mapping) == (pasted.table, pasted.mapping)
    assert again.first.cell(6, 3) == "12,4,1"


@pytest.mark.parametrize(
    "data", [{}, {"rows": 3}, {"rows": [["a"]], "first_row": "x"}, {"rows": [["a"]], "mapping": {"shape": "x"}}]
)
def test_a_broken_draft_is_none(data):
    assert Pasted.from_draft(data) is None


@pytest.mark.parametrize(
    ("number", "name"), [(1, "A"), (26, "Z"), (27, "AA"), (52, "AZ"), (53, "BA"), (702, "ZZ"), (703, "AAA")]
)
def test_columns_are_named_as_spreadsheets_name_them(number, name):
    assert sheets.letters(number) == name


def test_the_menu_of_a_column_ticks_what_it_is_now(qtbot):
    from PySide6.QtWidgets import QWidget

    parent = QWidget()
    qtbot.addWidget(parent)
    menu = column_menu(Meaning("Fe", 1, "reading", "Fe", "ppm"), parent)
    ticked = [action.data() for each in (menu, *submenus(menu)) for action in each.actions() if action.isChecked()]
    assert ticked == [("reading", "Fe", "ppm"), ("reading", "Fe", "ppm")]  # the measurand, and its unit
    menu = column_menu(Meaning("Remark", 1, "unknown"), parent)
    assert menu.actions()[0].text() == "“Remark” is taken for: not used"


def submenus(menu):
    return [action.menu() for action in menu.actions() if action.menu() is not None]


# the acceptance list for blocks pasted into cells: what other programs got wrong


@pytest.mark.parametrize(
    ("text", "block"),
    [
        ("1\r\n2\r\n3\r\n", [["1"], ["2"], ["3"]]),  # no extra row from the last line end
        ("\t7\n", [["", "7"]]),  # an empty first cell keeps the second in its column
        ("1,5\n", [["1,5"]]),  # a decimal comma is no separator
        ("1\t2\n3\n", [["1", "2"], ["3"]]),  # ragged rows
        ("<1\nND\n", [["<1"], ["ND"]]),
        ("1_0\n", [["1_0"]]),  # goes into the cell as it is and is marked there: never 10
        ("False\n", None),
        ("Sample\tFe\n24-1\t3\n", None),
        ("1\t2\t3\t4\n", None),  # too wide for repeats of one bottle
        ("", None),
    ],
)
def test_what_counts_as_a_plain_block(text, block):
    assert plain_block(text) == block


def test_names_with_numbers_are_told_from_heads():
    assert by_name([["Fe", "1"], ["Iron", "2"]]) is None  # one measurand twice: never a silent choice
    assert by_name([["Fe", "Cu"]]) is None
    assert by_name([["Fe ppm", "1"], ["TBN", "7.2"]]) == {("Fe", 1): "1 ppm", ("TBN", 1): "7.2"}
