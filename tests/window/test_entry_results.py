"""The results grid: what is typed stays as typed, what cannot be read is marked where it stands."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QModelIndex, Qt
from PySide6.QtTest import QAbstractItemModelTester

from benchapp.records import Call, ElementRate, Oil, Reading, Sample
from benchapp.window.entry import lines, words
from benchapp.window.entry.results_model import (
    HEADING_ROLE,
    KEY_ROLE,
    NAME,
    PROBLEM_ROLE,
    UNIT,
    VALUE,
    ResultsModel,
    fresh_value,
)


@pytest.fixture
def model(qapp):
    made = ResultsModel()
    yield made
    made.deleteLater()


@pytest.fixture
def watched(model):
    tester = QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Warning)
    yield model
    tester.deleteLater()


def cell(model, measurand, column=VALUE):
    return model.index(model.row_of(measurand), column)


def type_in(model, measurand, text, column=VALUE):
    assert model.setData(cell(model, measurand, column), text)


def test_the_model_keeps_the_rules_of_qt(model, qtmodeltester):
    qtmodeltester.check(model)


def test_counts_are_zero_below_a_cell(model):
    inside = model.index(1, 0)
    assert model.rowCount(inside) == 0
    assert model.columnCount(inside) == 0
    assert model.rowCount(QModelIndex()) == len(model.lines)


def test_rows_come_in_groups_wear_first(model):
    headings = [line.group for line in model.lines if line.is_heading]
    assert headings == [lines.WEAR, lines.CONTAMINANT, lines.ADDITIVE, lines.OIL]
    assert model.index(0, NAME).data() == "Wear metals"
    assert model.index(0, NAME).data(HEADING_ROLE) is True
    assert model.lines[1].measurand == "Fe"
    assert not model.flags(model.index(0, VALUE)) & Qt.ItemFlag.ItemIsSelectable


@pytest.mark.parametrize(
    ("text", "value", "qualifier", "mark"),
    [
        ("12.4", 12.4, "", ""),
        ("12,4", 12.4, "", ""),
        ("<1", 1.0, "<", ""),
        ("ND", None, "<", ""),
        ("bdl", None, "<", ""),
        ("12.4*", 12.4, "", "*"),
        ("6.1 J", 6.1, "", "J"),
        (">500", 500.0, ">", ""),
    ],
)
def test_a_typed_cell_is_read_and_kept_as_typed(watched, text, value, qualifier, mark):
    type_in(watched, "Fe", text)
    assert cell(watched, "Fe").data() == text
    assert watched.readings() == (Reading("Fe", value, "ppm", qualifier, 1, mark),)
    assert watched.problems() == ()


def test_a_percentage_in_a_ppm_cell_is_converted_and_said(watched):
    type_in(watched, "Ca", "0.2 %")
    assert watched.readings()[0].value == pytest.approx(2000)
    assert cell(watched, "Ca").data(Qt.ItemDataRole.ToolTipRole) == "2000 ppm"


@pytest.mark.parametrize("text", ["OVR", "12,4,1", "abc", "-3", "=1+1", "1_0", "nan", "inf"])
def test_what_cannot_be_read_stays_with_its_reason(watched, text):
    type_in(watched, "Cu", text)
    assert watched.readings() == ()
    (problem,) = watched.problems()
    assert (problem.measurand, problem.text) == ("Cu", text)
    assert problem.reason
    assert cell(watched, "Cu").data() == text
    assert cell(watched, "Cu").data(PROBLEM_ROLE) == problem.reason
    assert cell(watched, "Cu").data(Qt.ItemDataRole.ToolTipRole) == problem.reason
    assert not cell(watched, "Cu").data(Qt.ItemDataRole.DecorationRole).isNull()


def test_a_number_with_two_meanings_is_asked_for_and_another_cell_can_settle_it(watched):
    type_in(watched, "Ca", "1,234")
    assert watched.asks_decimal
    assert "decimal sign" in watched.problems()[0].reason
    type_in(watched, "Fe", "12,4")
    assert not watched.asks_decimal
    assert {item.measurand: item.value for item in watched.readings()} == {"Fe": 12.4, "Ca": 1.234}


def test_the_decimal_sign_can_be_said(watched):
    type_in(watched, "Ca", "1,234")
    watched.declare_decimal(".")
    assert "thousands" in watched.problems()[0].reason
    watched.declare_decimal(",")
    assert watched.readings()[0].value == 1.234


def test_typing_is_taken_back_step_by_step(watched):
    type_in(watched, "Fe", "1")
    type_in(watched, "Fe", "2")
    watched.set_texts({("Cu", 1): "3", ("Pb", 1): "4"})
    watched.stack.undo()
    assert watched.texts() == {("Fe", 1): "2"}
    watched.stack.undo()
    assert watched.texts() == {("Fe", 1): "1"}
    watched.stack.redo()
    watched.stack.redo()
    assert watched.texts() == {("Fe", 1): "2", ("Cu", 1): "3", ("Pb", 1): "4"}


def test_the_same_text_again_is_no_step(watched):
    type_in(watched, "Fe", "1")
    type_in(watched, "Fe", "1")
    assert watched.stack.count() == 1


def test_only_results_can_be_typed_into(model):
    for column in (NAME, UNIT, VALUE + 1):
        assert not model.setData(cell(model, "Fe", column), "1")
    assert model.texts() == {}


def test_a_rarer_measurand_gets_a_row_in_its_group(watched):
    row = watched.add_line("Bi")
    assert watched.lines[row].measurand == "Bi"
    assert watched.lines[row].group == lines.WEAR
    watched.set_texts({("Gadget", 1): "3"})
    assert watched.lines[watched.row_of("Gadget")].group == lines.OTHER


def test_a_repeat_gets_a_column_of_its_own(watched):
    column = watched.add_repeat()
    assert watched.headerData(column, Qt.Orientation.Horizontal, Qt.ItemDataRole.DisplayRole) == "Reading 2"
    type_in(watched, "Fe", "5", column)
    assert watched.readings() == (Reading("Fe", 5.0, "ppm", "", 2, ""),)


def test_readings_of_the_bench_file_come_back_unchanged(watched):
    readings = (
        Reading("Fe", 12.4, "ppm", "", 1, "*"),
        Reading("Fe", 13.0, "ppm", "", 2),
        Reading("Cu", 1.0, "ppm", "<"),
        Reading("Pb", None, "ppm", "<"),
        Reading("Sn", 0.123456789, "ppm"),
        Reading("KV100", 9.87, "cSt"),
        Reading("Oxidation", 12.0, "A/0.1mm"),
    )
    watched.show_readings(readings)
    by_key = {(item.measurand, item.replicate): item for item in watched.readings()}
    assert by_key == {(item.measurand, item.replicate): item for item in readings}


def test_enter_skips_the_headings(model):
    last_wear = model.row_of("V")
    assert model.next_row(last_wear) == model.row_of("Si")
    assert model.next_row(model.row_of("Si"), -1) == last_wear
    assert model.next_row(model.rowCount() - 1) == model.rowCount() - 1


def test_beside_the_results_stands_what_is_known(watched):
    before = Sample("A", "1", 3.0, 3.0, readings=(Reading("Fe", 9.0), Reading("Cu", 1.0, qualifier="<")))
    oil = Oil("Invented 5W-40", kv100_cst=14.2, fresh_ppm={"Ca": 2500.0})
    call = Call(
        "t", "E", "1", "B", 6.0, None, "Run", "Run it.", 4.0, "family", "1 sample", 1, None,
        elements=(ElementRate("Fe", 12.0, "", 3.21, 0.5, 88.0, 0.1),),
    )  # fmt: skip
    watched.set_beside(before, oil)
    watched.set_call(call)
    assert [cell(watched, "Fe", VALUE + n).data() for n in (1, 2, 3, 4)] == ["9", "", "3.2 ± 0.5", "88"]
    assert cell(watched, "Cu", VALUE + 1).data() == "<1"
    assert cell(watched, "Ca", VALUE + 2).data() == "2500"
    assert cell(watched, "KV100", VALUE + 2).data() == "14.2"
    assert cell(watched, "Fe", NAME).data(KEY_ROLE) == "Fe"
    watched.set_call(None)
    assert cell(watched, "Fe", VALUE + 3).data() == ""


def test_fresh_oil_that_is_not_known_is_no_number():
    assert fresh_value(None, "Ca") is None
    assert fresh_value(Oil("x"), "Ca") is None
    assert fresh_value(Oil("x"), "TBN") is None


def test_numbers_in_words():
    assert words.number(None) == ""
    assert words.number(1234567.0) == "1234567"
    assert words.number(0.00123) == "0.00123"
    assert words.exact(3.0) == "3"
    assert words.exact(0.123456789) == "0.123456789"
    assert words.counted(1, "reading") == "1 reading"
    assert words.counted(2, "reading") == "2 readings"
    assert words.listed([]) == ""
    assert words.listed(["a"]) == "a"
    assert words.listed(["a", "b"]) == "a and b"
    assert words.listed(list("abcdef")) == "a, b, c, d and 2 more"
    assert words.with_error(None, 1.0) == ""
    assert words.with_error(2.0, None) == "2"
    assert words.with_error(12.34, 1.5) == "12.3 ± 1.5"
    assert words.with_error(-0.093, 1.54) == "-0.1 ± 1.5"
    assert words.with_error(-0.003, 1.54) == "0.0 ± 1.5"
    assert words.with_error(1234.0, 120.0) == "1234 ± 120"


def test_where_room_is_scarce_units_stand_behind_the_names(model):
    model.show_short(True)
    assert cell(model, "Fe", NAME).data() == "Fe  iron"
    assert cell(model, "KV40", NAME).data() == "KV40  at 40 °C [cSt]"
    model.show_short(False)
    assert cell(model, "KV40", NAME).data() == "KV40  at 40 °C"


def test_every_measurand_stands_once():
    names = [line.measurand for line in (*lines.USUAL, *lines.RARE)]
    assert len(names) == len(set(names))
    assert lines.can_be_added(lines.USUAL) == lines.RARE
