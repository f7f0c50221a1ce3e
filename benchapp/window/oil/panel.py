"""The oil beside what is typed: a lamp, a sentence, each reading against its limit. Shows a value, reckons nothing."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from benchapp.actions import checks
from benchapp.window import spacing, theme, units
from benchapp.window.checks import lamp
from benchapp.window.entry.call_panel import label
from benchapp.window.oil import words

LAMPS = {"done": checks.FAILED, "watch": checks.WATCH, "fine": checks.GOOD, "unknown": checks.NONE}
"""State of the oil -> lamp: a sign in a shape, so that it reads in grey."""


class OilPanel(QScrollArea):
    """The oil of what is typed, or what is missing for it."""

    page_asked = Signal()
    """Show the page "Oil and film" of this sample."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.oil: Any | None = None
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setAccessibleName("The oil")
        page = QWidget(self)
        column = QVBoxLayout(page)
        spacing.around(column, 1, 0, 1, 0)
        spacing.between(column, 1)
        self.lamp = lamp.Lamp(page, 2.0)
        self.head = label("", "head", page)
        row = QHBoxLayout()
        spacing.between(row, 1)
        row.addWidget(self.lamp, 0, Qt.AlignmentFlag.AlignTop)
        row.addWidget(self.head, 1)
        column.addLayout(row)
        self.page_button = QPushButton("&Oil and film…", page)
        self.page_button.setToolTip("Limits, hours left and the film of each bearing before and after, on a page")
        self.page_button.setAutoDefault(False)
        self.page_button.clicked.connect(self.page_asked)
        column.addWidget(self.page_button, 0, Qt.AlignmentFlag.AlignLeft)
        self.list = QVBoxLayout()
        spacing.between(self.list, 0.5)
        column.addLayout(self.list)
        self.run = label("", "quiet", page)
        column.addWidget(self.run)
        column.addStretch(1)
        self.setWidget(page)
        self.show_missing(words.NO_OIL)

    def minimumSizeHint(self) -> QSize:
        bar = self.verticalScrollBar().sizeHint().width()
        return QSize(self.widget().minimumSizeHint().width() + bar, super().minimumSizeHint().height())

    @property
    def state(self) -> str:
        """State of the oil shown, 'unknown' without one."""
        return "unknown" if self.oil is None else str(self.oil.verdict.state)

    def show_missing(self, what: str) -> None:
        """There is no verdict, and why."""
        self.oil = None
        self._empty()
        self.lamp.setVisible(False)
        self.head.setText(what)
        self.run.setVisible(False)
        self.page_button.setVisible(False)

    def show_oil(self, oil: Any) -> None:
        """A `SampleOil`: sentence first, then each section."""
        self.oil = oil
        self._empty()
        self.lamp.setVisible(True)
        self.lamp.set_state(LAMPS[oil.verdict.state])
        self.head.setText(units.in_words(oil.verdict.sentence))
        at_run = f" {oil.verdict.run_text}." if oil.verdict.run_text else ""
        self.run.setText(f"{oil.oil}. {units.in_words(oil.run_text + at_run)} {words.OWN_FRESH}")
        self.run.setVisible(True)
        self.page_button.setVisible(True)
        for section in words.sections(oil):
            self.list.addWidget(label(section.title, "head", self.widget()))
            for line in section.lines:
                self.list.addWidget(self._row(line))
        if oil.films:
            self.list.addWidget(label(words.FILM_CAUTION, "quiet", self.widget()))

    def texts(self) -> list[str]:
        """Every line that is shown, in reading order."""
        return [widget.text() for widget in self.widget().findChildren(QLabel) if widget.text()]

    def _row(self, line: words.OilText) -> QWidget:
        row = QWidget(self.widget())
        beside = QHBoxLayout(row)
        beside.setContentsMargins(0, 0, 0, 0)
        spacing.between(beside, 0.5)
        column = QVBoxLayout()
        column.setSpacing(0)
        said = f"{words.STATE_WORDS[line.state].capitalize()}: {line.text}" if line.state else line.text
        if line.state:
            beside.addWidget(lamp_label(line.state, row), 0, Qt.AlignmentFlag.AlignTop)
        column.addWidget(label(units.in_words(said), "", row))
        if line.quiet:
            column.addWidget(label(units.in_words(line.quiet), "quiet", row))
        beside.addLayout(column, 1)
        return row

    def _empty(self) -> None:
        while (item := self.list.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.setParent(None)
                widget.deleteLater()


def lamp_label(state: str, parent: QWidget) -> QLabel:
    """The small sign of a state."""
    made = QLabel(parent)
    side = theme.current().mark_px
    made.setPixmap(lamp.icon(LAMPS[state]).pixmap(QSize(side, side)))
    made.setAccessibleName(words.STATE_WORDS[state])
    return made
