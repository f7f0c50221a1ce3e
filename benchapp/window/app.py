"""Opens the window: `run(path)`."""

from __future__ import annotations

import datetime as dt
import gc
import sys
import traceback
from pathlib import Path

import platformdirs
from PySide6.QtCore import QObject, QTimer
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QStyleFactory

from benchapp.problems import BenchProblem
from benchapp.window import settings
from benchapp.window.main_window import MainWindow, apply_look, change_look
from benchapp.window.session import Session


def run(path: str | None = None, take_over: bool = False) -> int:
    """Shows the window with a bench file (None: the last one, else the first page). Returns the exit code.

    `take_over` disregards the lock that another computer left."""
    app = application(sys.argv)
    session = Session()
    window = MainWindow(session)
    Settled(window)
    sys.excepthook = Unforeseen(session).caught
    app.aboutToQuit.connect(session.close)  # also where the system ends the session without closing the window
    window.show()
    start = path or last_file()
    if start:
        window.open_soon(start, take_over)
    else:
        window.start_page.focus_first()
        QTimer.singleShot(0, window.warm_up)
    return app.exec()


class Settled(QObject):
    """Keeps what is there to stay from being looked through for rubbish again and again, 50 to 100 ms each time.

    Python lays aside the libraries, then what an open file brought, step by step until it is judged and its views are
    made. What is laid aside still goes when nothing holds it any more; only rings of it that were dropped stay."""

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self._ahead, self._session, self._waits = window.ahead, window.session, True
        self._session.opened.connect(self._begin)
        self._session.busy_changed.connect(self._look)
        self._ahead.done.connect(self._look)
        gc.freeze()

    def _begin(self) -> None:
        self._waits = True
        gc.freeze()

    def _look(self, _busy: bool = False) -> None:
        if self._waits:
            gc.freeze()
            self._waits = self._session.bench is None or self._session.busy or self._ahead.running


def application(argv: list[str]) -> QApplication:
    """The one QApplication, with our names, style and look."""
    # Judging is Python work in a pool thread; every Qt call gives the interpreter away, and with the usual 5 ms the
    # window would wait that long for each of them.
    sys.setswitchinterval(0.0005)
    app = QApplication.instance()
    if not isinstance(app, QApplication):
        app = QApplication(argv[:1])
    app.setApplicationName("race-oil-bench")
    app.setApplicationDisplayName("Race Oil Bench")
    app.setStyle(QStyleFactory.create("Fusion"))
    apply_look()
    QGuiApplication.styleHints().colorSchemeChanged.connect(_scheme_changed)
    return app


def _scheme_changed(_scheme) -> None:
    if settings.text("look/theme", "system") == "system":
        change_look()


def last_file() -> str:
    """The bench file of the last time, where it is still there."""
    path = settings.text("last")
    return path if path and Path(path).is_file() else ""


class Unforeseen:
    """Tells of a fault of ours in three sentences and keeps the details in a file."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def caught(self, kind, error, trace) -> None:
        """For sys.excepthook: the details into the log, the sentences into the message bar."""
        if issubclass(kind, KeyboardInterrupt):
            sys.__excepthook__(kind, error, trace)
            return
        log = log_file()
        log.parent.mkdir(parents=True, exist_ok=True)
        with log.open("a", encoding="utf-8") as out:
            out.write(f"--- {dt.datetime.now().isoformat(timespec='seconds')}\n")  # noqa: DTZ005  (local, as read)
            out.write("".join(traceback.format_exception(kind, error, trace)))
        self._session.problem.emit(unforeseen(log))


def log_file() -> Path:
    """Where details of unforeseen faults are kept."""
    return Path(platformdirs.user_log_dir("race-oil-bench", appauthor=False)) / "faults.txt"


def unforeseen(log: Path) -> BenchProblem:
    """The three sentences for a fault of the program itself."""
    return BenchProblem(
        "The program met a fault of its own.",
        "What was confirmed is on the disk; the step just tried may not have happened.",
        f"Look whether it did, and try again. Details for a bug report are in {log}.",
    )
