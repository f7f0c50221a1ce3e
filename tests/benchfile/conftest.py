from __future__ import annotations

import pytest

from tests import on_disk
from tests.benchfile import making

tmp_path = on_disk.tmp_path  # the bench file promises what is on the disk


@pytest.fixture
def path(tmp_path):
    return tmp_path / "team.bench"


@pytest.fixture
def file(path):
    """A small bench file, open; closed afterwards."""
    file = making.small_file(path)
    yield file
    file.close()
