"""The six practice exports are read as their makers meant them."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchapp.intake.paste import PasteResult, interpret
from benchapp.intake.read import read_file
from demo.exports import DEFAULT_CODES, ELEMENTS, write_exports


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> list[PasteResult]:
    return [interpret(read_file(path)) for path in write_exports(tmp_path_factory.mktemp("exports"))]


@pytest.mark.parametrize(
    ("number", "shape", "taken", "problems"),
    [(1, "wide", 6 * 17, 0), (2, "wide", 6 * 16, 0), (3, "wide", 4 * 3 * 15, 0), (4, "transposed", 6 * 17, 0), (5, "long", 6 * 17, 0), (6, "wide", 6 * 8 - 2, 1)],  # noqa: E501
)  # fmt: skip
def test_shape_and_counts(results: list[PasteResult], number: int, shape: str, taken: int, problems: int) -> None:
    found = results[number - 1]
    assert (found.mapping.shape, len(found.taken), len(found.problems)) == (shape, taken, problems)
    assert set(found.samples) <= set(DEFAULT_CODES)
    assert set(ELEMENTS[:8]) <= {t.measurand for t in found.taken}


def test_what_each_is_for(results: list[PasteResult]) -> None:
    assert any(t.qualifier == "<" for t in results[0].taken)
    assert results[1].mapping.decimal == ","
    assert all(t.value is not None and t.value > 1000 for t in results[1].taken if t.measurand == "Ca")
    assert {t.replicate for t in results[2].taken} == {1, 2, 3}
    assert len(results[2].left_out) == 12
    assert all(t.value is not None and t.value < 0.1 for t in results[3].taken if t.measurand == "Water")
    assert all(f.taken_at is not None for f in results[4].facts)
    assert {c.kind for c in results[5].check_runs} == {"check", "blank", "calibration"}
    assert [p.cell for p in results[5].problems] == ["OVR"]
    assert {t.mark for t in results[5].taken} == {"", "*", "J"}


def test_other_codes_can_be_given(tmp_path: Path) -> None:
    paths = write_exports(tmp_path / "new", ["00123", "171E2", "3/2", "ENG3/S7"])
    assert len(paths) == 6
    for path in paths:
        assert interpret(read_file(path)).samples == ("00123", "171E2", "3/2", "ENG3/S7")
