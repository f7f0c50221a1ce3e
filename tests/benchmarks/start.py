"""Cold starts: each measurement is a process of its own."""

from __future__ import annotations

import math
from pathlib import Path

from tests.benchmarks.measure import Row, child, ratio

_PAINTED = """
import os, sys
from PySide6.QtCore import QEvent, QObject, QTimer
from PySide6.QtWidgets import QApplication, QLabel, QMainWindow
app = QApplication(sys.argv[:1])
class Watch(QObject):
    "Ends the process as soon as a window has painted itself."
    def eventFilter(self, seen, event):
        if event.type() == QEvent.Type.Paint and isinstance(seen, QMainWindow):
            QTimer.singleShot(0, ended)
        return False
def ended():
    os._exit(0)
watch = Watch()
app.installEventFilter(watch)
"""

BARE_WINDOW = (
    _PAINTED
    + """
window = QMainWindow()
window.setCentralWidget(QLabel("bare"))
window.resize(1280, 800)
window.show()
app.exec()
"""
)

OUR_WINDOW = (
    _PAINTED
    + """
from benchapp.cli import main
main(["open", sys.argv[1]])
"""
)

IN_SIGHT = (
    _PAINTED.replace("isinstance(seen, QMainWindow)", "type(seen).__name__ == 'FleetView'")
    + """
from benchapp.cli import main
main(["open", sys.argv[1]])
"""
)

HELP = "import sys; from benchapp.cli import main; sys.exit(main(['--help']))"


def apart(folder: Path) -> dict[str, str]:
    """An environment in which settings, data and logs of whoever runs this stay untouched."""
    return {name: str(folder) for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME")}


def first_window(demo: Path, folder: Path, times: int = 5) -> Row:
    env = apart(folder)
    return ratio(
        "first window painted on the demo file, cold", "a bare PySide6 window",
        lambda: child(OUR_WINDOW, str(demo), env=env), lambda: child(BARE_WINDOW, env=env), 2.5, times,
        "Qt's own style and fonts, our imports (window, argparse, settings), widgets and style sheet",
    )  # fmt: skip


def fleet_in_sight(demo: Path, folder: Path, times: int = 3) -> Row:
    """Beyond the agreed rows: until the demo's engines are in the window."""
    env = apart(folder)
    return ratio(
        "... until its engines are in sight", "a bare PySide6 window",
        lambda: child(IN_SIGHT, str(demo), env=env), lambda: child(BARE_WINDOW, env=env), math.inf, times,
        "importing NumPy and SciPy in the background, opening and checking the file (beyond the agreed rows)",
    )  # fmt: skip


def the_help(times: int = 9) -> Row:
    return ratio(
        "benchapp --help", "a bare Python start", lambda: child(HELP), lambda: child("pass"), 2.0, times,
        "imports of the standard library",
    )  # fmt: skip
