"""A `tmp_path` on the disk, for tests of what is on the disk after a kill, a fault or a full disk.

`python3 -m tests` keeps what other tests write in memory (tests/__main__.py). A conftest imports the fixture.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.fixture
def tmp_path() -> Iterator[Path]:
    """A new empty folder where the system keeps temporary files, removed afterwards."""
    with tempfile.TemporaryDirectory(prefix="bench-test-", ignore_cleanup_errors=True) as folder:
        yield Path(folder)
