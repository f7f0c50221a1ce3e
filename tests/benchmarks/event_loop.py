"""What the window's own thread spends at one go, between two waits of the event loop, in the demo's heaviest actions.

While a turn of the loop lasts nothing is painted and no key is taken; 50 ms is where a person begins to notice.
"""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from PySide6.QtCore import QAbstractEventDispatcher, QEventLoop, QObject, Qt, QTimer
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QComboBox, QDialog

from benchapp.window import theme
from benchapp.window.app import Settled
from benchapp.window.main_window import MainWindow
from benchapp.window.session import Session
from tests.benchmarks.intake import export_text
from tests.benchmarks.measure import Row, nothing_else_collected
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


def until(quiet: Callable[[], bool], least_ms: int = 60) -> None:
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
    with nothing_else_collected():
        return _watched(Path(shutil.copy(demo, folder / "watched.bench")))


def _watched(path: Path) -> list[tuple[str, float]]:
    watch = LoopWatch()
    window = MainWindow(Session())
    Settled(window)  # as the program does
    window.resize(*SIZE)
    window.show()
    until(lambda: True)
    found = []
    for name, action in _actions(window, path):
        watch.begin()
        QTimer.singleShot(0, action)
        until(lambda: not window.session.busy and not window.ahead.running and not theme.dresser().running)
        found.append((name, watch.longest * 1e3))
    window.session.close()
    let_go(window)
    return found


Actions = Iterator[tuple[str, Callable[[], object]]]


def _actions(window: MainWindow, path: Path) -> Actions:
    yield "open the demo file, judging and views made ahead included", lambda: window.open_soon(str(path))
    yield from _views(window)
    yield from _fleet(window)
    yield from _trend(window)
    window.show_view("fleet")
    yield from _looks(window)
    yield from _pages(window)
    yield from _search(window)
    yield "paste 1,000 x 24 to preview", lambda: _paste(window)
    yield "put large targets on (preview of a paste)", window.menus.large.trigger
    yield "put large targets off (preview of a paste)", window.menus.large.trigger


def _views(window: MainWindow) -> Actions:
    others = [entry.key for entry in window.entries if entry.key != "fleet"]
    for key in others:
        yield f"first look at {key}", lambda key=key: window.menus.actions[f"view {key}"].trigger()
    for key in [*others, "fleet"]:
        yield f"back to {key}", lambda key=key: window.menus.actions[f"view {key}"].trigger()


def _fleet(window: MainWindow) -> Actions:
    fleet = window.view("fleet")
    yield "sort the fleet", lambda: fleet.table.sortByColumn(1, Qt.SortOrder.AscendingOrder)
    yield "pick another engine", lambda: fleet.table.selectRow(2)
    for text in ("e", "en", "lk-0", "nothing is called so", ""):
        yield f"filter the fleet by '{text}'", lambda text=text: fleet.filter.setText(text)


def _trend(window: MainWindow) -> Actions:
    """The trend of the engine with most to draw, of another one, and each kind of quantity."""
    engines = window.session.fleet.engines
    busy = max(engines, key=lambda engine: sum(len(build.samples) for build in engine.builds)).name
    for name, engine in (("the busiest engine", busy), ("another engine", engines[3].name), ("it again", busy)):
        yield f"trend of {name}", lambda engine=engine: window.session.show_trend(engine)
    box = window.view("trend").kind_box
    for number in range(box.count()):
        yield f"trend: {box.itemText(number)}", lambda number=number: _pick(box, number)


def _pick(box: QComboBox, number: int) -> None:
    box.setCurrentIndex(number)
    box.activated.emit(number)


def _looks(window: MainWindow) -> Actions:
    """Every entry of the menu that changes the look, each from another one; of the scalings the ends."""
    menus = window.menus
    for look in ("dark", "sunlight"):
        yield f"put the {look} look on", _entry(menus.looks.actions(), look).trigger
    yield "put large targets on", menus.large.trigger
    yield "put the dark look on, large", _entry(menus.looks.actions(), "dark").trigger
    yield "put the system's look on, large", _entry(menus.looks.actions(), "system").trigger
    for scale in (theme.SCALES[-1], theme.SCALES[0]):
        yield f"put {scale:.0%} on, large", _entry(menus.scales.actions(), scale).trigger
    yield "put large targets off", menus.large.trigger


def _entry(actions: Sequence[QAction], data: object) -> QAction:
    return next(action for action in actions if action.data() == data)


def _pages(window: MainWindow) -> Actions:
    for name, method in (("sheet", "print_sheet"), ("page of the day", "print_day"), ("keys", "show_help")):
        yield f"open the {name}", window.menus.actions[method].trigger
        yield f"close the {name}", lambda: _dialog(window).reject()


def _search(window: MainWindow) -> Actions:
    yield "open the search", window.menus.actions["search"].trigger
    for text in ("l", "le", "lk-01", ""):
        yield f"search for '{text}'", lambda text=text: _dialog(window).line.setText(text)
    yield "close the search", lambda: _dialog(window).reject()


def _dialog(window: MainWindow) -> QDialog:
    """The dialog that is open."""
    return next(each for each in window.findChildren(QDialog) if each.isVisible())


def _paste(window: MainWindow) -> None:
    window.show_view("entry").paste_text(export_text())


def rows(demo: Path, folder: Path) -> list[Row]:
    return [
        Row(f"longest turn of the loop: {name}", "-", f"{took:.0f} ms", "-", took, TARGET_MS, "ms")
        for name, took in longest_turns(demo, folder)
    ]
