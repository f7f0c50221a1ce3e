"""The window's settings apart from those of whoever runs the tests; no word of what the offscreen platform lacks."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest

from tests.benchmarks.measure import nothing_else_collected


def pytest_configure(config) -> None:
    config.addinivalue_line("qt_log_ignore", "This plugin does not support propagateSizeHints")


@pytest.fixture(scope="session")
def folder(tmp_path_factory) -> Path:
    """A folder that all rows share, so that the demo file is built once."""
    return tmp_path_factory.mktemp("speed")


@pytest.fixture
def own_settings(tmp_path, monkeypatch) -> None:
    settings = pytest.importorskip("benchapp.window.settings")
    monkeypatch.setattr(settings, "settings_file", partial(Path, tmp_path / "window.ini"))
    monkeypatch.setattr(settings, "data_folder", partial(Path, tmp_path / "data"))


@pytest.fixture(autouse=True)
def nothing_of_pytest_is_collected() -> Iterator[None]:
    with nothing_else_collected():
        yield
