"""What stands in the Trends view: boxes, list, plot, words. Which of them does what is the view's part."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QPushButton,
    QScrollArea,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from benchapp.window import marks, spacing, theme
from benchapp.window.log_table import LogTable
from benchapp.window.trend import looks, words
from benchapp.window.trend.plot import TrendPlot
from benchapp.window.view import View

ROOM_FOR_KEY = 12.0
"""Type up to this size [pt] leaves room for the key below the list from the start."""

KEY = (
    "Filled mark: a value. Hollow mark: below what the instrument sees. "
    "Thin dots: on to the next fill. Heavy line: the one in front, with its ceiling (dashed), what was expected "
    "(filled band) and its interval (bars). Of an oil quantity: its limit (dashed), where nothing is warned of (band), "
    "and when the limit is met (diamond, with its interval along the limit)."
)
_EVENT_MARKS = {
    "fill": "▼",
    "top-up": "✚",
    "change": "◆",
    "filter cut": "✖",
    "looked inside": "●",
    "leak-down": "▬",
    "part": "▲",
    "instrument": "⧓",
    "hold": "■",
}
_EVENT_WORDS = {"part": "part in or out", "instrument": "other instrument", "hold": "held"}
MARKS_KEY = "   ".join(f"{mark} {_EVENT_WORDS.get(kind, kind)}" for kind, mark in _EVENT_MARKS.items())
CALLS_KEY = "   ".join(marks.words(call) for call in looks.CALLS)


def kept_together(text: str) -> str:
    """The text with no line end inside an entry: entries are three blanks apart."""
    return "   ".join(entry.replace(" ", "\u00a0") for entry in text.split("   "))


class TrendFrame(View):
    """The widgets of the Trends view and where they stand."""

    def pieces(self) -> Iterator[None]:
        self._make_head()
        yield
        self._make_side()
        yield
        self.plot = TrendPlot(self, staged=True)
        yield from self.plot.pieces()
        self._make_body()
        yield
        self._lay_out()
        yield

    def _make_head(self) -> None:
        self.engine_box = self._box("Engine", "Which engine", 7)
        self.build_box = self._box("Build", "Between which rebuilds", 5)
        self.kind_box = self._box("Show", "What to show: readings, or rates of wear", 6)
        for kind, said in words.KIND_WORDS.items():
            self.kind_box.addItem(said, kind)
        self.join_box = QCheckBox("&Join instruments", self)
        self.join_box.setToolTip("Draw a line from one instrument's reading to another's, as read")
        self.all_button = self._button("Show &all", "The whole build and everything on it (0)")
        self.picture_button = self._button("&Picture", "Write the plot as PNG or SVG (Ctrl+Shift+E)")
        self.table_button = self._button("&Table", "Write what is shown as CSV or xlsx (Ctrl+E)")
        self.log_button = self._button("&Log", "The engine's log as a time line beside the plot (Ctrl+J)")
        self.log_button.setCheckable(True)

    def _box(self, name: str, why: str, letters: int) -> QComboBox:
        box = QComboBox(self)
        box.setAccessibleName(name)
        box.setToolTip(why)
        box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        box.setMinimumContentsLength(letters)
        return box

    def _button(self, text: str, why: str) -> QPushButton:
        button = QPushButton(text, self)
        button.setToolTip(why)
        return button

    def _make_side(self) -> None:
        self.list = QListWidget(self)
        self.list.setAccessibleName("Lines")
        self.list.setToolTip("Tick what to show; the current line is in front")
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setTextElideMode(Qt.TextElideMode.ElideRight)
        self.key_label = QLabel("\n".join((KEY, kept_together(MARKS_KEY), kept_together(CALLS_KEY))), self)
        self.key_label.setWordWrap(True)
        self.key_label.setProperty("role", "quiet")
        self.key_area = QScrollArea(self)
        self.key_area.setWidgetResizable(True)
        self.key_area.setFrameShape(QFrame.Shape.NoFrame)
        self.key_area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.key_area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.key_area.setWidget(self.key_label)
        self.key_button = QPushButton("&Key", self)
        self.key_button.setCheckable(True)
        self.key_button.setToolTip("What the marks mean")
        self.key_button.toggled.connect(self.key_area.setVisible)
        self.key_area.setVisible(False)
        self._room_for_key = False

    def _make_body(self) -> None:
        self.empty_head, self.empty = QLabel(self), QLabel(self)
        self.empty_head.setProperty("role", "head")
        for label in (self.empty_head, self.empty):
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setWordWrap(True)
            label.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.empty_button = QPushButton("Enter a &sample", self)
        page = QWidget(self)
        column = QVBoxLayout(page)
        column.addStretch(2)
        column.addWidget(self.empty_head)
        column.addWidget(self.empty)
        spacing.after(column, 1)
        column.addWidget(self.empty_button, 0, Qt.AlignmentFlag.AlignHCenter)
        column.addStretch(3)
        self.log = LogTable(self.session, "Log of this engine", self)
        self.log.setVisible(False)
        self.stack = QStackedWidget(self)
        self.stack.addWidget(self.plot)
        self.stack.addWidget(page)
        self.words = QLabel(self)
        self.words.setTextFormat(Qt.TextFormat.PlainText)
        self.words.setWordWrap(True)
        self.words.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.words.setAccessibleName("The point at hand")
        self.words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.open_button = self._button("&Open sample", "Open the sample of this point in sample entry")
        self.oil_button = self._button("Oil and &film…", "Limits, hours left and films of this sample (Ctrl+Shift+M)")

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        boxes = (("En&gine", self.engine_box, 3), ("B&uild", self.build_box, 2), ("Sho&w", self.kind_box, 4))
        for said, box, share in boxes:
            label = QLabel(said, self)
            label.setBuddy(box)
            head.addWidget(label)
            head.addWidget(box, share)
            spacing.after(head, 0.5)
        head.addWidget(self.all_button)
        head.addWidget(self.log_button)
        side = QWidget(self)
        column = QVBoxLayout(side)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.list, 3)
        column.addWidget(self.join_box)
        out = QHBoxLayout()
        for button in (self.key_button, self.picture_button, self.table_button):
            out.addWidget(button)
        column.addLayout(out)
        column.addWidget(self.key_area, 2)
        foot = QHBoxLayout()
        foot.addWidget(self.words, 1)
        foot.addWidget(self.oil_button, 0, Qt.AlignmentFlag.AlignTop)
        foot.addWidget(self.open_button, 0, Qt.AlignmentFlag.AlignTop)
        self.splitter = QSplitter(self)
        self.splitter.addWidget(side)
        self.splitter.addWidget(self.stack)
        self.splitter.addWidget(self.log)
        self.splitter.setStretchFactor(1, 1)
        self.splitter.setChildrenCollapsible(False)
        self.splitter.setSizes([300, 10_000, 420])
        whole = QVBoxLayout(self)
        spacing.around(whole, 1, 1, 1, 1)
        whole.addLayout(head)
        whole.addWidget(self.splitter, 1)
        whole.addLayout(foot)
        order: tuple[QWidget, ...] = (self.engine_box, self.build_box, self.kind_box, self.all_button)
        order += (self.log_button, self.list)
        order += (self.join_box, self.key_button, self.picture_button, self.table_button, self.plot, self.log)
        order += (self.oil_button, self.open_button)
        for first, second in pairwise(order):
            QWidget.setTabOrder(first, second)

    def fit_to_theme(self) -> None:
        """Takes the sizes and colours of the theme in force."""
        look = theme.current()
        mark = QSize(round(look.mark_px * 2.4), look.mark_px)
        self.list.setIconSize(mark)
        room = look.points <= ROOM_FOR_KEY
        if room != self._room_for_key:  # what a person chose stays as long as the room does
            self._room_for_key = room
            self.key_button.setChecked(room)
        self.list.setMinimumWidth(round(look.points * 22))
        self.list.setMaximumWidth(round(look.points * 40))
        self.words.setFixedHeight(3 * QFontMetrics(self.font()).lineSpacing() + 2)
        self.plot.restyle()
