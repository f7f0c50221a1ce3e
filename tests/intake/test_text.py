"""Reading text: the clipboard is a format, not a string. Shapes: common practice of exports, no source."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.intake.read import read_bytes, read_file, read_text
from benchapp.intake.table import RawTable
from benchapp.intake.text import decode
from benchapp.problems import BenchProblem


def test_spreadsheet_clipboard_with_crlf_and_quoted_line_breaks() -> None:
    table = read_text('Sample\t"Fe\n(ppm)"\r\nA\t1\r\n"B ""x"""\t2\r\n')
    assert table.rows == (("Sample", "Fe\n(ppm)"), ("A", "1"), ('B "x"', "2"))


def test_an_empty_first_cell_shifts_nothing() -> None:
    assert read_text("\t7\n\n1\t2\n").rows == (("", "7"), (), ("1", "2"))


def test_no_row_is_invented_behind_the_last_line_break() -> None:
    assert len(read_text("a\tb\r\n1\t2\r\n").rows) == 2
    assert len(read_text("a\tb\r\n1\t2").rows) == 2


def test_ragged_rows_stay_as_they_are() -> None:
    table = read_text("a\tb\tc\n1\n1\t2\t3\t4\n")
    assert [len(r) for r in table.rows] == [3, 1, 4]
    assert table.width == 4
    assert table.cell(2, 3) == ""
    assert table.cell(99, 99) == ""


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("S;Fe;Cu\nA;1,5;2\nB;1,6;3", (("S", "Fe", "Cu"), ("A", "1,5", "2"), ("B", "1,6", "3"))),
        ("S,Fe,Cu\nA,1.5,2", (("S", "Fe", "Cu"), ("A", "1.5", "2"))),
        ("S|Fe\nA|1", (("S", "Fe"), ("A", "1"))),
        ("sep=;\nS;Fe\nA;1,5", (("S", "Fe"), ("A", "1,5"))),
        (
            "Report, with a comma; and more\nS\tFe\nA\t1,5\n",
            (("Report, with a comma; and more",), ("S", "Fe"), ("A", "1,5")),
        ),
        ("one\ntwo", (("one",), ("two",))),
        ("", ()),
        ('S,Fe\nA,"1,5"', (("S", "Fe"), ("A", "1,5"))),
        (
            "Sample      Fe    Cu\nT1 a      12.4     1\nT2 b               2",
            (("Sample", "Fe", "Cu"), ("T1 a", "12.4", "1"), ("T2 b", "", "2")),
        ),
    ],
)
def test_separators_are_found(text: str, rows: tuple[tuple[str, ...], ...]) -> None:
    assert read_text(text).rows == rows


def test_an_unclosed_quote_does_not_swallow_the_rows_behind_it() -> None:
    table = read_text('S\tFe\n"5 inch\t1\nB\t2')
    assert table.rows[1:] == (('"5 inch', "1"), ("B", "2"))
    assert any("Quotes are not closed" in n for n in table.notes)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "utf-32"])
def test_encodings(encoding: str) -> None:
    text = "Sample;Fe (µg/g);Remarks\nÅ1;12,4;über 40 °C\n"
    assert read_bytes(text.encode(encoding)).rows[1] == ("Å1", "12,4", "über 40 °C")


def test_windows_1252_is_said() -> None:
    assert any("Windows-1252" in n for n in read_bytes("µ;1\nx;2".encode("cp1252")).notes)
    assert decode(b"\x81a")[1] == "latin-1"


def test_files_and_their_names(tmp_path: Path) -> None:
    path = tmp_path / "results.tsv"
    path.write_text("S\tFe\nA\t1\n")
    assert read_file(path).name == "results.tsv"
    with pytest.raises(BenchProblem, match="could not be read"):
        read_file(tmp_path / "nowhere.csv")
    with pytest.raises(BenchProblem, match="could not be read"):
        read_file(tmp_path)


def test_fixing_a_cell_in_place_keeps_the_rest() -> None:
    table = read_text("S\tFe\nA\tOVR\n")
    fixed = table.with_cell(2, 2, "12.4")
    assert fixed.cell(2, 2) == "12.4"
    assert fixed.kind(2, 2) == "e"
    assert fixed.kind(2, 1) == "t"
    assert table.cell(2, 2) == "OVR"
    assert table.with_cell(4, 3, "x").rows[3] == ("", "", "x")
    shifted = RawTable((("a",),), first_row=5, first_column=3)
    assert shifted.with_cell(5, 3, "b").cell(5, 3) == "b"
    with pytest.raises(ValueError, match="before the table"):
        shifted.with_cell(1, 1, "x")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ("a\tb\n" * 20_001, "at most 20,000 rows"),
        ("a\t" * 301, "300 columns"),
        ("x" * 4_097, "more than 4,096 characters"),
        ("a" * 10_000_001, "at most 10 MB"),
        ("a\0b", "zero bytes"),
        ("<html><table>", "web page"),
        ('"' + "x\n" * 100_000 + '"', "more than 4,096|at most"),
    ],
)
def test_what_is_no_results_table_is_refused(data: str, words: str) -> None:
    with pytest.raises(BenchProblem, match=words) as caught:
        read_text(data, "paste")
    assert caught.value.means
    assert caught.value.do


def test_broken_utf16_is_refused_in_words() -> None:
    with pytest.raises(BenchProblem, match="UTF-16"):
        read_bytes(b"\xff\xfea\x00b")
    with pytest.raises(BenchProblem, match="at most 10 MB"):
        read_bytes(b"a" * 10_000_001)


@given(
    st.lists(
        st.lists(
            st.text(st.characters(exclude_characters='\0\r"\t\n\ufeff', exclude_categories=["Cs"]), max_size=8),
            min_size=2,
            max_size=5,
        ),
        min_size=1,
        max_size=8,
    )
)
def test_tab_separated_text_comes_back_cell_by_cell(rows: list[list[str]]) -> None:
    rows[0][0] = "head"
    rows[-1][-1] = "end"
    table = read_text("\n".join("\t".join(r) for r in rows))
    assert [list(r) for r in table.rows] == rows


@given(st.binary(max_size=300))
def test_any_bytes_give_a_table_or_a_sentence(data: bytes) -> None:
    try:
        read_bytes(data, "x")
    except BenchProblem as problem:
        assert problem.what  # noqa: PT017 - a sentence or a table, both are right
