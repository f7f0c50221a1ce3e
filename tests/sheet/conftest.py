"""Shared by the sheet's tests: a small real bench file."""

from __future__ import annotations

import pytest

from benchapp.actions.bench import Bench
from tests.window import small


@pytest.fixture(scope="module")
def small_bench(tmp_path_factory):
    with small.fill(Bench.create(tmp_path_factory.mktemp("sheet") / "small.bench", who="A. Invented")) as bench:
        yield bench
