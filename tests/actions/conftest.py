from __future__ import annotations

import shutil

import pytest

from benchapp.actions.bench import Bench


@pytest.fixture
def bench(furnished, tmp_path):
    """A bench with engine E-1 and three samples, open; closed afterwards."""
    bench = Bench.open(shutil.copy(furnished, tmp_path / "team.bench"), who="Ann")
    yield bench
    bench.close()


@pytest.fixture
def empty(tmp_path):
    bench = Bench.create(tmp_path / "empty.bench", who="Ann")
    yield bench
    bench.close()
