"""What the window's own thread spends at one go, between two waits of the event loop, in the demo's heaviest actions.

While a turn of the loop lasts nothing is painted and no key is taken; 50 ms is where a person begins to notice.
"""

from __future__ import annotations

import gc
import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from PySide6.QtCore import QAbstractEventDispatcher, QEventLoop, QObject, Qt, QTimer

from benchapp.window import theme
from benchapp.window.main_window import MainWindow
from benchapp.window.session import Session
from tests.benchmarks.intake import export_text
from tests.benchmarks.measure import Row
from tests.benchmarks.window import SIZE, let_go

TARGET_MS = 50.0


class LoopWatch(QObject):
    """Longest turn of the event loop since `begin` in this thread's processor time [s]."""

    def __init__(self) -> None:
        super().__init__()
        self.longest = 0.0
        self._since = time.thread_time()
        # some dispatchers work between waking and waiting, others (GLib) while they say that they wait: both count,
        # since a thread that only waits spends nothing
        dispatcher = QAbstractEventDispatcher.instance()
        dispatcher.awake.connect(self._turned)
        dispatcher.aboutToBlock.connect(self._turned)

    def begin(self) -> None:
        self.longest = 0.0
        self._since = time.thread_time()

    def _turned(self) -> None:
        now = time.thread_time()
        self.longest = max(self.longest, now - self._since)
        self._since = now


def until(quiet: Callable[[], bool], least_ms: int = 150) -> None:
    """Runs the event loop until `quiet`, and a little longer for what follows from it."""
    loop = QEventLoop()
    look = QTimer()
    look.setInterval(20)
    since = [time.monotonic()]

    def ask() -> None:
        if not quiet():
            since[0] = time.monotonic()
        elif (time.monotonic() - since[0]) * 1e3 > least_ms:
            loop.quit()

    look.timeout.connect(ask)
    look.start()
    loop.exec()
    look.stop()


def longest_turns(demo: Path, folder: Path) -> list[tuple[str, float]]:
    """(action, longest turn [ms]) of each heavy action on the demo file, in the order a person does them."""
    path = Path(shutil.copy(demo, folder / "watched.bench"))
    gc.collect()
    gc.freeze()  # what whoever measures holds already is not looked through within a turn
    watch = LoopWatch()
    window = MainWindow(Session())
    window.resize(*SIZE)
    window.show()
    until(lambda: True)
    found = []
    for name, action in _actions(window, path):
        watch.begin()
        QTimer.singleShot(0, action)
        until(lambda: not window.session.busy and not window.ahead.running)
        found.append((name, watch.longest * 1e3))
    window.session.close()
    let_go(window)
    gc.unfreeze()
    return found


def _actions(window: MainWindow, path: Path) -> Iterator[tuple[str, Callable[[], object]]]:
    yield "open the demo file, judging and views made ahead included", lambda: window.open_soon(str(path))
    others = [entry.key for entry in window.entries if entry.key != "fleet"]
    for key in others:
        yield f"first look at {key}", lambda key=key: window.show_view(key)
    for key in [*others, "fleet"]:
        yield f"back to {key}", lambda key=key: window.show_view(key)
    table = window.view("fleet").table
    yield "sort the fleet", lambda: table.sortByColumn(1, Qt.SortOrder.AscendingOrder)
    yield "pick another engine", lambda: table.selectRow(2)
    yield "trend of an engine", lambda: window.session.show_trend(window.session.fleet.engines[3].name)
    for look in ("dark", "sunlight"):
        yield f"put the {look} look on", lambda look=look: theme.apply(look)
    yield "paste 1,000 x 24 to preview", lambda: _paste(window)


def _paste(window: MainWindow) -> None:
    window.show_view("entry").paste_text(export_text())


def rows(demo: Path, folder: Path) -> list[Row]:
    return [
        Row(f"longest turn of the loop: {name}", "-", f"{took:.0f} ms", "-", took, TARGET_MS, "ms")
        for name, took in longest_turns(demo, folder)
    ]
