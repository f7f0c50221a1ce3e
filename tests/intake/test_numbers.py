"""The one number parser. Cell shapes: common practice of exports, no source."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.intake.numbers import evidence, find_decimal, parse_number


@pytest.mark.parametrize(
    ("text", "decimal", "value", "qualifier", "mark"),
    [
        ("12.4", ".", 12.4, "", ""),
        ("12,4", ",", 12.4, "", ""),
        (" 12 ", "", 12.0, "", ""),
        ("0", "", 0.0, "", ""),
        (".5", ".", 0.5, "", ""),
        ("1 234,5", ",", 1234.5, "", ""),
        ("1.234,5", ",", 1234.5, "", ""),
        ("1,234.5", ".", 1234.5, "", ""),
        ("1\u00a0234,5", ",", 1234.5, "", ""),
        ("1'234.5", ".", 1234.5, "", ""),
        ("1,234,567", ".", 1234567.0, "", ""),
        ("<1", "", 1.0, "<", ""),
        ("< 0.5", ".", 0.5, "<", ""),
        ("≤5", "", 5.0, "<", ""),
        (">500", "", 500.0, ">", ""),
        ("<0,5*", ",", 0.5, "<", "*"),
        ("12.4*", ".", 12.4, "", "*"),
        ("12.4 **", ".", 12.4, "", "**"),
        ("6.1 J", ".", 6.1, "", "J"),
        ("6.1J", ".", 6.1, "", "J"),
        ("7 B", "", 7.0, "", "B"),
        ("ND (1.0)", ".", 1.0, "<", ""),
        ("nd <2", "", 2.0, "<", ""),
        ("1.2E-03", ".", 0.0012, "", ""),
        ("12.4", "", 12.4, "", ""),
        ("12,4", "", 12.4, "", ""),
    ],
)
def test_what_has_one_reading_is_read(text: str, decimal: str, value: float, qualifier: str, mark: str) -> None:
    found = parse_number(text, decimal)
    assert (found.value, found.qualifier, found.mark) == (pytest.approx(value), qualifier, mark)
    assert not found.problem
    assert not found.missing


@pytest.mark.parametrize(
    "text",
    [
        "ND",
        "n.d.",
        "nd",
        "BDL",
        "trace",
        "tr.",
        "< LOD",
        "<LOQ",
        "< MDL",
        "below detection",
        "Not Detected",
        "below detection limit",
    ],
)
def test_not_detected_is_below_and_never_zero(text: str) -> None:
    found = parse_number(text)
    assert found.qualifier == "<"
    assert found.value is None
    assert not found.missing


@pytest.mark.parametrize("text", ["", "  ", "- - -", "-", "--", "—", "n/a", "N/A", "NA", "n.m.", "\u00a0"])
def test_blank_is_missing_not_zero(text: str) -> None:
    assert parse_number(text).missing
    assert parse_number(text).value is None


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("12,4,1", "is not a number"),
        ("OVR", "out of range"),
        ("err", "is not a number"),
        ("nan", "is not a number"),
        ("inf", "is not a number"),
        ("-inf", "is not a number"),
        ("1_000", "not understood"),
        ("１２", "is not a number"),
        ("171E2", "not understood"),
        ("1e5", "not understood"),
        ("12.4E", "is not a number"),
        ("3/2", "not understood"),
        ("12:30", "not understood"),
        ("=1+1", "formula"),
        ("@sum", "formula"),
        ("-0.3", "negative"),
        ("6.1 U", "not detected at this limit"),
        ("5 M", "not understood"),
        ("1 234", "is not a number"),
        ("True", "is not a number"),
        ("#DIV/0!", "is not a number"),
        ("> LOD", "gives no number"),
        ("9.9E+90", "too large"),
        ("1..2", "is not a number"),
    ],
)
def test_what_is_no_number_is_a_problem_in_words(text: str, words: str) -> None:
    found = parse_number(text, ".")
    assert words in found.problem
    assert found.value is None


def test_a_number_that_can_be_read_two_ways_asks() -> None:
    for text in ("1.234", "1,234", "<1.234", "12,345*"):
        found = parse_number(text)
        assert found.ask_decimal, text
        assert "decimal sign" in found.problem
    assert parse_number("1.234", ".").value == 1.234
    assert parse_number("1,234", ",").value == 1.234


def test_the_other_sign_than_the_declared_one_is_a_problem() -> None:
    assert "where this source writes" in parse_number("12,4", ".").problem
    assert "where this source writes" in parse_number("12.4", ",").problem
    assert "two ways" in parse_number("1,234", ".").problem
    assert "two ways" in parse_number("1.234", ",").problem


@pytest.mark.parametrize(
    ("cells", "sign", "mixed"),
    [
        (["1", "2"], ".", False),
        (["1.5", "1.234"], ".", False),
        (["1,5", "1,234"], ",", False),
        (["0.123", "1.234"], ".", False),
        (["1.234", "2.345"], "", False),
        (["1,234"], "", False),
        (["1.234,5", "7"], ",", False),
        (["1,234.5"], ".", False),
        (["1.5", "2,5"], "", True),
        (["1.5"] * 20 + ["2,5"], ".", True),
        (["<1,5", "ND"], ",", False),
    ],
)
def test_the_block_decides_the_decimal_sign_or_nobody_does(cells: list[str], sign: str, mixed: bool) -> None:
    assert find_decimal(cells) == (sign, mixed)


def test_in_a_mixed_block_the_odd_cells_are_problems() -> None:
    assert parse_number("2,5", ".", mixed=True).problem
    assert parse_number("1.234", ".", mixed=True).problem
    assert parse_number("2.5", ".", mixed=True).value == 2.5
    assert parse_number("2.5", "", mixed=True).ask_decimal


def test_a_unit_inside_the_cell_is_handed_on() -> None:
    assert parse_number("12.4 ppm", ".")[:4] == (12.4, "", "", "ppm")
    assert parse_number("0,5 %", ",")[:4] == (0.5, "", "", "%")
    assert parse_number("12.4 mg/kg *", ".")[:4] == (12.4, "", "*", "mg/kg")


@given(st.text(max_size=40), st.sampled_from(["", ".", ","]), st.booleans())
def test_any_text_gives_a_finite_value_a_missing_mark_or_a_problem(text: str, decimal: str, mixed: bool) -> None:
    found = parse_number(text, decimal, mixed)
    if found.value is not None:
        assert math.isfinite(found.value)
        assert found.value >= 0
        assert not found.problem
        assert not found.missing
    elif not found.qualifier:
        assert bool(found.problem) != found.missing


@given(st.floats(0, 1e6, allow_nan=False).map(lambda v: round(v, 2)), st.sampled_from([".", ","]))
def test_written_with_either_sign_the_value_comes_back(value: float, sign: str) -> None:
    text = f"{value:.2f}".replace(".", sign)
    assert evidence(text) == sign
    assert parse_number(text, sign).value == pytest.approx(value)
    assert parse_number(f"<{text} *", sign)[:3] == (pytest.approx(value), "<", "*")
