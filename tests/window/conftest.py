"""What all window tests share: settings apart, no dialog that blocks, no leak left behind, a bench to look at."""

from __future__ import annotations

import gc
import shutil
from functools import partial
from pathlib import Path

import pytest

pytest.importorskip("PySide6", reason="the window needs Qt")

from PySide6.QtCore import QCoreApplication, QEvent, QThread, QThreadPool, QTimer
from PySide6.QtWidgets import QApplication, QDialog, QFileDialog, QMessageBox

from benchapp.window import settings, theme, views
from benchapp.window.main_window import MainWindow
from benchapp.window.session import Session
from tests.window import fakes, small


def pytest_configure(config) -> None:
    # the offscreen platform has no window manager to tell sizes to, and says so with every window
    config.addinivalue_line("qt_log_ignore", "This plugin does not support propagateSizeHints")
    config.addinivalue_line("qt_log_ignore", "This plugin does not support (raise|grabbing the (keyboard|mouse))")


@pytest.fixture(autouse=True)
def own_settings(tmp_path, monkeypatch):
    """Settings never touch those of whoever runs the tests."""
    monkeypatch.setattr(settings, "settings_file", partial(Path, tmp_path / "settings" / "window.ini"))
    monkeypatch.setattr(settings, "data_folder", partial(Path, tmp_path / "data"))


def _raise(*_args, **_kwargs):
    raise AssertionError("A dialog that blocks was opened: ask through session.ask.")


@pytest.fixture(autouse=True)
def no_blocking_dialog(monkeypatch):
    """A modal dialog would hang the tests: opening one fails the test instead."""
    monkeypatch.setattr(QDialog, "exec", _raise)
    monkeypatch.setattr(QMessageBox, "exec", _raise)
    for name in ("information", "question", "warning", "critical", "about"):
        monkeypatch.setattr(QMessageBox, name, _raise)
    for name in ("getOpenFileName", "getOpenFileNames", "getSaveFileName", "getExistingDirectory"):
        monkeypatch.setattr(QFileDialog, name, _raise)


@pytest.fixture(autouse=True)
def nothing_left_behind(request):
    """After a test that used Qt: no running thread, busy pool, live timer or window without an owner."""
    if "qapp" not in request.fixturenames and "qtbot" not in request.fixturenames:
        yield
        return
    app = request.getfixturevalue("qapp")
    _begin_in_sunlight(app)
    before = set(map(id, app.topLevelWidgets()))
    gc.freeze()  # what is there already is not looked through again: only what this test makes
    yield
    _let_go()
    leaks = [
        f"window {w!r} {w.windowTitle()!r}: qtbot.addWidget(it)" for w in app.topLevelWidgets() if id(w) not in before
    ]
    if QThreadPool.globalInstance().activeThreadCount():
        leaks.append("the global thread pool is busy: wait for it in close()")
    for held in gc.get_objects():
        if isinstance(held, QThread) and _alive(held) and held is not app.thread() and held.isRunning():
            leaks.append(f"thread {held!r} runs: quit it and wait")
        if isinstance(held, QTimer) and _alive(held) and held.isActive():
            leaks.append(f"timer {held!r} of {held.parent()!r} runs: stop it in close()")
    assert not leaks, "\n".join(leaks)


def _begin_in_sunlight(app) -> None:
    """Every test begins in the same look; putting on what is on already would take longer than many a test."""
    now = theme.current()
    on = (theme.choice(), now.large, now.scale, app.styleSheet(), theme.dresser().running)
    if on != ("sunlight", False, 1.0, theme.stylesheet(now), False):
        theme.apply("sunlight")


def _alive(held) -> bool:
    import shiboken6

    return shiboken6.isValid(held)


def _let_go() -> None:
    for _ in range(3):
        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        QApplication.processEvents()
    gc.collect()


TIMEOUT_MS = 30_000


def worked(qtbot, window) -> None:
    """Waits until what the person waits for (opening, loading, a backup) is over; judging may go on."""
    qtbot.waitUntil(lambda: window.session.working is None, timeout=TIMEOUT_MS)


def opened(qtbot, window, path, **how) -> None:
    """Opens a bench file in the window and waits until it is there."""
    window.session.open(str(path), **how)
    worked(qtbot, window)
    assert window.session.bench is not None, window.messages.what.text()


@pytest.fixture
def ask() -> fakes.FakeAsk:
    """The Ask of the session, which the test answers."""
    return fakes.FakeAsk()


@pytest.fixture
def fake_bench() -> fakes.FakeBench:
    """Four invented engines in memory, one call of each kind but the last, which has no sample."""
    return fakes.FakeBench(fakes.fleet(4))


@pytest.fixture(scope="session")
def small_file(tmp_path_factory):
    """A small bench file made through actions: two invented engines with fills, runs and samples. Copy it."""
    from benchapp.actions.bench import Bench

    path = tmp_path_factory.mktemp("small") / "small.bench"
    small.fill(Bench.create(path, who="test")).close()
    return path


@pytest.fixture
def small_path(small_file, tmp_path):
    """This test's own copy of the small bench file, closed."""
    return Path(shutil.copy(small_file, tmp_path / "small.bench"))


@pytest.fixture
def bench(small_path):
    """The small bench file, open."""
    from benchapp.actions.bench import Bench

    made = Bench.open(small_path, who="test")
    yield made
    made.close()


@pytest.fixture
def no_judging(monkeypatch):
    """No sample is judged: for tests that ask nothing of a call, which takes its time."""
    from benchapp.actions import call

    monkeypatch.setattr(call, "judge", no_calls)


def no_calls(_fleet, _engines=None, each=False, known=None) -> tuple:
    return ()


@pytest.fixture
def only_fleet(monkeypatch):
    """The other views stay away: for a bench in memory, which has no file for them to read."""
    monkeypatch.setattr(views, "is_there", is_fleet)


def is_fleet(entry) -> bool:
    return entry.key == "fleet"


@pytest.fixture
def session(qapp, bench, ask):
    """A session on `bench`."""
    made = Session(ask=ask)
    made.use(bench)
    yield made
    import shiboken6

    if shiboken6.isValid(made):
        made.close()


@pytest.fixture
def window(qtbot, session):
    """The main window on `session`, shown."""
    made = MainWindow(session)
    qtbot.addWidget(made)
    made.show()
    return made
