"""Shared by every test: the Qt-less run, the `gui` mark, and what keeps a run repeatable."""

from __future__ import annotations

import importlib.abc
import os
import sys

import pytest

import benchapp  # noqa: F401  first: it says how many threads NumPy may take, which counts only before NumPy is loaded

from hypothesis import HealthCheck, settings  # isort: skip

WITHOUT_QT = bool(os.environ.get("BENCH_WITHOUT_QT"))

# Two cores and other work beside it: time is no property of the code under test.
settings.register_profile("bench", deadline=None, suppress_health_check=[HealthCheck.too_slow], max_examples=60)
settings.load_profile("bench")


class NoQt(importlib.abc.MetaPathFinder):
    """Refuses Qt as an uninstalled package would."""

    def find_spec(self, fullname, path=None, target=None):
        if fullname.split(".")[0] in {"PySide6", "shiboken6", "pyqtgraph", "pytestqt"}:
            raise ModuleNotFoundError(f"No module named {fullname!r} (this run is without Qt)", name=fullname)


if WITHOUT_QT:
    sys.meta_path.insert(0, NoQt())
else:
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")


@pytest.fixture(scope="session")
def furnished(tmp_path_factory):
    """A bench file with engine E-1 and three samples, closed: tests copy it."""
    from benchapp.actions.bench import Bench
    from tests.actions import making

    path = tmp_path_factory.mktemp("furnished") / "team.bench"
    with Bench.create(path, who="Ann") as bench:
        making.furnish(bench, samples=3)
    return path


def pytest_collection_modifyitems(items):
    """Whatever uses a QApplication is marked `gui` without being asked."""
    for item in items:
        if {"qapp", "qtbot"} & set(getattr(item, "fixturenames", ())):
            item.add_marker(pytest.mark.gui)


def pytest_ignore_collect(collection_path, config):
    """Ratios of speed have a run of their own: beside a full test run they would measure the other tests."""
    asked = any("benchmarks" in str(argument) for argument in config.invocation_params.args)
    return True if collection_path.name == "benchmarks" and not asked else None


_asked_again: set[str] = set()


@pytest.hookimpl(optionalhook=True)
def pytest_handlecrashitem(crashitem, report, sched):
    """A test process that died has said nothing about the test: it is asked once more, in a fresh one, and told of."""
    if crashitem in _asked_again:
        return
    _asked_again.add(crashitem)
    sys.stderr.write(f"\nA test process died during {crashitem}; it is run once more.\n")
    sched.mark_test_pending(crashitem)
    report.outcome = "rerun"
