from __future__ import annotations

import pytest

from tests.benchfile import making


@pytest.fixture
def path(tmp_path):
    return tmp_path / "team.bench"


@pytest.fixture
def file(path):
    """A small bench file, open; closed afterwards."""
    file = making.small_file(path)
    yield file
    file.close()
