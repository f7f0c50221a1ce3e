"""Grades as they are written on cans, and what is said of them."""

from __future__ import annotations

import pytest

from benchapp.library import load_library
from benchapp.oil.grade import check_grade, hot_grades, split_grade
from benchapp.oil.rules import rules_from
from benchapp.problems import BenchProblem

GRADES = rules_from(load_library()).grades


@pytest.mark.parametrize(
    ("text", "split"),
    [
        ("10W-40", ("10W", "40")),
        ("SAE 30", ("", "30")),
        ("sae 5w30", ("5W", "30")),
        ("0W/20", ("0W", "20")),
        ("15 W 50", ("15W", "50")),
        ("10W60", ("10W", "60")),
        (" 20W ", ("20W", "")),
    ],
)
def test_ways_to_write_a_grade(text: str, split: tuple[str, str]) -> None:
    assert split_grade(text) == split


@pytest.mark.parametrize("text", ["", "thick", "10W-", "VG 46", "10W-40-60"])
def test_what_is_no_grade_is_refused(text: str) -> None:
    if text == "10W-":
        assert split_grade(text) == ("10W", "")
        return
    with pytest.raises(BenchProblem, match="is not an SAE engine-oil grade") as caught:
        split_grade(text)
    assert "10W-40" in caught.value.do


def test_a_grade_that_j300_does_not_have_is_refused_with_the_edition() -> None:
    with pytest.raises(BenchProblem, match=r'SAE J300 has no grade "10W-45" \(SAE J300, January 2015') as caught:
        check_grade("10W-45", 14.0, None, GRADES)
    assert "hot grades 8, 12, 16, 20, 30, 40, 50, 60" in caught.value.do


def test_in_grade_in_words() -> None:
    found = check_grade("10W-40", 14.5, 3.9, GRADES)
    assert (found.in_kv100, found.in_hths) == (True, True)
    assert found.text == "Still in grade 10W-40 at 14.5 mm²/s (SAE J300, January 2015 (J300_201501))."


def test_out_of_grade_in_words() -> None:
    found = check_grade("10W-60", 12.0, 3.0, GRADES)
    assert (found.in_kv100, found.in_hths) == (False, False)
    assert found.text.startswith("Out of grade 10W-60: 12 mm²/s is now that of a 30; high-shear viscosity below")
    assert "in no hot grade" in check_grade("10W-60", 30.0, None, GRADES).text


def test_without_a_reading_nothing_is_said_of_the_grade() -> None:
    found = check_grade("10W-60", None, None, GRADES)
    assert (found.in_kv100, found.in_hths, found.is_now) == (None, None, ())
    assert found.text.startswith("Grade 10W-60 not checked")


def test_a_winter_grade_alone_asks_only_its_minimum() -> None:
    assert check_grade("25W", 9.3, None, GRADES).in_kv100
    assert not check_grade("25W", 9.2, None, GRADES).in_kv100


def test_a_winter_grade_asks_its_own_minimum_of_a_multigrade_too() -> None:
    assert not check_grade("25W-20", 9.0, None, GRADES).in_kv100


def test_no_hot_grade_below_and_above_all() -> None:
    assert hot_grades(3.0, GRADES) == ()
    assert hot_grades(30.0, GRADES) == ()
