"""The keys of F1, the cautions, and what this is."""

from __future__ import annotations

import platform

from PySide6.QtCore import qVersion
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QDialog, QGridLayout, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

import benchapp
from benchapp.window import theme
from benchapp.window.whole import open_at

Sections = tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
EVERYWHERE = (
    ("Tab / Shift+Tab", "Next or previous field, in reading order"),
    ("Enter", "Next field; in a list, open"),
    ("Esc", "Back: close the form or the message"),
    ("Arrow keys", "Move in a table"),
    ("Ctrl+K", "Search everything; a scanner that types a bottle's code opens its sample"),
    ("Shift+F1", "What the word at hand means, with its source; in forms too"),
    ("Ctrl+E", "The table at hand as a spreadsheet, in a list dialog too"),
    ("Menu key", "On a table or the head of a column: what the word means, the table as a spreadsheet"),
)


def keys_text(menus, view) -> Sections:
    """All keys, those of the view at hand first."""
    sections = []
    if view is not None:
        words = ((("", view.help_text),) if view.help_text else ()) + tuple(view.keys)
        if words:
            sections.append((view.title, words))
    sections.append(("Everywhere", EVERYWHERE))
    rows = []
    for action in menus.actions.values():
        keys = " or ".join(key.toString(QKeySequence.SequenceFormat.NativeText) for key in action.shortcuts())
        if keys:
            rows.append((keys, action.text().replace("&", "").rstrip("…")))
    rows.append((menus.large.shortcut().toString(QKeySequence.SequenceFormat.NativeText), "Large targets"))
    sections.append(("Menus", tuple(rows)))
    return tuple(sections)


def caution_text() -> Sections:
    """The cautions of this work."""
    return (
        (
            "Oil",
            (
                ("Heat and skin", "Used engine oil is hot and harms the skin. Wear gloves and keep it off your skin."),
                ("Waste", "Collect it, and hand it in as the local rules require."),
            ),
        ),
        ("Dyno", (("Running engine", "An engine on a dyno can throw parts: guards on, no one in line with it."),)),
        (
            "A call is advice",
            (
                ("What it sees", "Fine metal in an oil sample, nothing else."),
                (
                    "What it cannot see",
                    "A cracked rod, a tired valve spring, a loose nut, or flakes too coarse for the spectrometer.",
                ),
                (
                    "Who decides",
                    "The person who signs the car out, under the rules of the series and with qualified people.",
                ),
            ),
        ),
    )


def about_text() -> Sections:
    """What this program is and stands on."""
    return (
        (
            "Race Oil Bench",
            (
                ("Version", benchapp.__version__),
                ("Does", "Turns oil samples of race engines into a call, with its reasons. No network, ever."),
                ("Licence", "MIT; Qt for Python under the LGPL"),
                ("Stands on", f"Python {platform.python_version()}, Qt {qVersion()}"),
            ),
        ),
    )


class HelpDialog(QDialog):
    """A page of headed lines, read and closed."""

    def __init__(self, title: str, sections: Sections, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        gap = theme.current().gap_px
        body = QWidget(self)
        grid = QGridLayout(body)
        grid.setHorizontalSpacing(3 * gap)
        grid.setVerticalSpacing(gap // 2)
        grid.setColumnStretch(1, 1)
        row = 0
        for head, lines in sections:
            label = QLabel(head, body)
            label.setProperty("role", "head")
            grid.addWidget(label, row, 0, 1, 2)
            row += 1
            for left, right in lines:
                row = self._line(grid, body, row, left, right)
            grid.setRowMinimumHeight(row, gap)
            row += 1
        grid.setRowStretch(row, 1)
        area = QScrollArea(self)
        area.setWidgetResizable(True)
        area.setAccessibleName(title)
        area.setWidget(body)
        close = QPushButton("Close", self)
        close.setDefault(True)
        close.clicked.connect(self.accept)
        column = QVBoxLayout(self)
        column.addWidget(area, 1)
        column.addWidget(close)
        open_at(self, 620, 560)

    def _line(self, grid: QGridLayout, body: QWidget, row: int, left: str, right: str) -> int:
        words = QLabel(right, body)
        words.setWordWrap(True)
        if left:
            key = QLabel(left, body)
            key.setProperty("role", "quiet")
            grid.addWidget(key, row, 0)
            grid.addWidget(words, row, 1)
        else:
            grid.addWidget(words, row, 0, 1, 2)
        return row + 1
