"""Dyno pulls from cells: columns found, units converted, each cell that cannot be read named; all or nothing."""

from __future__ import annotations

import pytest

from benchapp.actions import pull_table
from benchapp.intake.read import read_text
from benchapp.problems import BenchProblem
from benchapp.records import Pull

EXPORT = (
    "Run\tEngine hours\tPower [hp]\tIAT (F)\tBaro (inHg)\tRH %\tNote\n"
    "1\t2.5\t366\t71\t29.80\t45\tfirst\n"
    "2\t2.75\t368,5\t72\t29.78\t46\t\n"
)


def rows_of(text):
    return [list(row) for row in pull_table.arrange(read_text(text)).rows]


def test_an_export_is_arranged_by_its_heads_and_says_what_it_left_out():
    arranged = pull_table.arrange(read_text(EXPORT))
    assert arranged.rows[0] == ("1", "2.5", "366 hp", "71 F", "29.80 inHg", "45")
    assert arranged.left_out == ("Note",)
    first, second = pull_table.pulls([list(row) for row in arranged.rows])
    assert first.power_kw == pytest.approx(366 * 0.7457, rel=1e-4)
    assert first.air_c == pytest.approx(21.67, abs=0.01)
    assert first.pressure_kpa == pytest.approx(100.914, abs=0.01)
    assert (first.build_h, first.humidity_pct) == (2.5, 45.0)
    assert second.power_kw == pytest.approx(368.5 * 0.7457, rel=1e-4)


def test_a_row_of_units_below_the_heads_is_taken_as_units():
    rows = rows_of("pull,hours,power,air,pressure\n-,h,PS,°C,hPa\nA,1.5,400,21,1009\n")
    only = pull_table.pulls(rows)[0]
    assert only.power_kw == pytest.approx(400 * 0.7355, rel=1e-4)
    assert only.pressure_kpa == pytest.approx(100.9)
    assert only.humidity_pct is None


def test_without_heads_the_order_is_that_of_the_table():
    only = pull_table.pulls(rows_of("P1\t1.5\t250\t21\t101.3\t40\n"))[0]
    assert only == Pull("P1", 1.5, 250.0, 21.0, 101.3, 40.0)


# 1 hp = 550 ft·lbf/s = 745.70 W, 1 PS = 75 kgf·m/s = 735.50 W (definitions); 1 inHg = 3.38639 kPa (conventional)
@pytest.mark.parametrize(("text", "kw"), [
    ("100", 100.0), ("100 kW", 100.0), ("100 hp", 74.570), ("100 bhp", 74.570), ("100PS", 73.550), ("100 cv", 73.550),
])  # fmt: skip
def test_power(text, kw):
    assert pull_table.read_power(text) == pytest.approx(kw, abs=0.001)


def test_a_bare_power_takes_the_unit_that_was_chosen():
    assert pull_table.read_power("100", "hp") == pytest.approx(74.570, abs=0.001)


@pytest.mark.parametrize(("text", "kpa"), [
    ("101.3", 101.3), ("1013", 101.3), ("1013 mbar", 101.3), ("1013 hPa", 101.3), ("29.92", 101.321),
    ("29.92 inHg", 101.321), ("760 mmHg", 101.325), ("", None), ("n/a", None),
])  # fmt: skip
def test_pressure(text, kpa):
    found = pull_table.read_pressure(text)
    assert found == (None if kpa is None else pytest.approx(kpa, abs=0.01))


@pytest.mark.parametrize(("text", "celsius"), [("21", 21.0), ("70 F", 21.11), ("-5", -5.0), ("21 °C", 21.0)])
def test_air(text, celsius):
    assert pull_table.read_air(text) == pytest.approx(celsius, abs=0.01)


@pytest.mark.parametrize(("column", "text", "said"), [
    ("hours", "", "needed"), ("hours", "2 d", "not hours"), ("hours", "-1", "cannot be right"),
    ("power", "", "needed"), ("power", "abc", "not a number"), ("power", "300 Nm", "not a unit of power"),
    ("power", "<300", "not a limit"), ("power", "0.2", "cannot be right"), ("air", "75", "write 75 F"),
    ("air", "20 K", "not °C"), ("air", "200 F", "cannot be right"), ("pressure", "400", "no air pressure"),
    ("pressure", "14 psi", "not a unit of pressure"), ("pressure", "3 kPa", "cannot be right"),
    ("humidity", "140", "cannot be right"), ("humidity", "40 g", "not %"),
])  # fmt: skip
def test_what_is_wrong_with_a_cell_is_said(column, text, said):
    assert said in pull_table.wrong(column, text)


def test_one_bad_cell_and_no_pull_is_taken():
    rows = [["1", "2.5", "366 hp", "21", "101", "40"], ["2", "", "370 hp", "21", "101", "140"]]
    with pytest.raises(BenchProblem, match=r"2 cells.*Row 2, Hours.*Row 2, Humidity") as refused:
        pull_table.pulls(rows)
    assert refused.value.means == "No pull was taken."
    rows[1][1] = "2.7"
    with pytest.raises(BenchProblem, match="1 cell of the pulls"):
        pull_table.pulls(rows)


def test_no_row_and_a_pull_that_is_there_already_are_refused():
    with pytest.raises(BenchProblem, match="no pull to take"):
        pull_table.pulls([])
    with pytest.raises(BenchProblem, match="Pull 1 at these hours is in the bench file already"):
        pull_table.pulls([["1", "2.5", "300", "", "", ""]], known=[Pull("1", 2.5, 299.0)])


def test_a_pull_without_a_name_takes_its_number():
    assert pull_table.pulls([["", "2.5", "300", "", "", ""]], known=[Pull("P1", 1.0, 299.0)])[0].pull == "P2"
