"""Writing the page is issuing the call: both or neither."""

from __future__ import annotations

import pytest

pytest.importorskip("PySide6.QtGui", reason="this run is without Qt", exc_type=ImportError)

from benchapp.actions import call as calls
from benchapp.actions import sheets
from benchapp.problems import BenchProblem


def test_writing_the_page_keeps_the_call_as_issued(small_bench, tmp_path, qapp):
    path = sheets.write_pdf(small_bench, "26-002", tmp_path / "sheet.pdf", "Letter")
    assert path.read_bytes().startswith(b"%PDF")
    issued = calls.issued(small_bench, "26-002")
    assert [one.call.call for one in issued] == [small_bench.call_of("26-002").call]
    assert issued[0].who == "A. Invented"


def test_a_page_that_cannot_be_written_is_not_issued(small_bench, tmp_path, qapp):
    with pytest.raises(BenchProblem):
        sheets.write_pdf(small_bench, "26-001", tmp_path / "nowhere" / "sheet.pdf")
    assert calls.issued(small_bench, "26-001") == ()
