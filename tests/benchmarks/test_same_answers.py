"""What was made faster still gives what the plain way gives."""

from __future__ import annotations

import gc
import json
import uuid

from hypothesis import given
from hypothesis import strategies as st

from benchapp.benchfile import content
from benchapp.benchfile.kinds import KINDS
from benchapp.intake.paste import interpret
from benchapp.intake.read import read_text

NAMES = st.lists(st.one_of(st.text(st.characters(exclude_categories=("Cs",))), st.floats(allow_nan=False), st.none()))


@given(NAMES)
def test_ids_from_names_are_those_of_the_standard_library(names) -> None:
    plain = uuid.uuid5(content._SPACE, json.dumps(["sample", *names], ensure_ascii=False))
    assert content.id_from("sample", *names) == str(plain)


WORDS = st.one_of(st.none(), st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=12))


@given(WORDS, st.one_of(st.none(), st.floats(-1e9, 1e9), st.integers(-9, 9)), WORDS, st.integers(1, 9))
def test_rows_are_cleaned_as_single_values_are(word, value, mark, replicate) -> None:
    kind, row = KINDS["sample"], [word, value, "ppm", "", replicate, mark]
    plain = [content._clean("sample", n, t, v) for (n, t), v in zip(kind.row_columns, row, strict=True)]
    quick = content._clean_row(kind, row)
    assert quick == plain
    assert list(map(repr, quick)) == list(map(repr, plain))  # 0.0 and -0.0, 1 and 1.0 differ on paper


def test_the_collector_works_again_after_a_paste() -> None:
    assert gc.isenabled()
    interpret(read_text("Sample\tFe\n24-1\t3\n"))
    assert gc.isenabled()
