from __future__ import annotations

import pytest

from benchapp.actions.bench import Bench
from tests.actions import making


@pytest.fixture
def bench(tmp_path):
    """A bench with engine E-1 and three samples, open; closed afterwards."""
    bench = Bench.create(tmp_path / "team.bench", who="Ann")
    making.furnish(bench, samples=3)
    yield bench
    bench.close()


@pytest.fixture
def empty(tmp_path):
    bench = Bench.create(tmp_path / "empty.bench", who="Ann")
    yield bench
    bench.close()
