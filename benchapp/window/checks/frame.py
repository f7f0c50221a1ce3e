"""What stands in the view Bench checks: instruments, answer, charts, tables. What they do is the view's part."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QBoxLayout,
    QComboBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSizePolicy,
    QSplitter,
    QStackedWidget,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from benchapp.actions import checks
from benchapp.window import spacing, theme
from benchapp.window.checks import columns
from benchapp.window.checks.lamp import Lamp
from benchapp.window.checks.plot import CheckPlot
from benchapp.window.tables import RowsModel, Table
from benchapp.window.view import View

EMPTY_HEAD = "No instrument yet."
EMPTY_WORDS = (
    "Enter the instrument, then its check standard, then a check run: a standard and a blank at the start of the day. "
    "Limits and reading noise follow from its own runs."
)
NO_RUNS = "No check run of this instrument yet.\nEnter one (Ctrl+Return), or paste a results table (Ctrl+Shift+V)."
TOO_FEW = "One check run has no scatter.\nThis chart begins with the second run."


def plain(parent: QWidget, role: str = "", *, wrap: bool = True) -> QLabel:
    """A label for text from outside: never read as markup."""
    made = QLabel(parent)
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setWordWrap(wrap)
    if role:
        made.setProperty("role", role)
    return made


class ChecksFrame(View):
    """The widgets of the view and where they stand."""

    def pieces(self) -> Iterator[None]:
        self._make_list()
        self._make_answer()
        yield
        yield from self._make_tabs()
        self._make_empty()
        yield
        yield from self._lay_out()

    # --- making -------------------------------------------------------------------------------------------------------

    def _button(self, text: str, why: str) -> QPushButton:
        button = QPushButton(text, self)
        button.setToolTip(why)
        button.setAutoDefault(False)
        return button

    def _make_list(self) -> None:
        self.instruments = Table(columns.LampModel(columns.INSTRUMENTS, columns.row_key), "Instruments", self)
        self.run_button = self._button("Check &run…", "Type what the instrument found in a standard (Ctrl+Return)")
        self.paste_button = self._button("&Paste checks", "Take the check rows of a copied table (Ctrl+Shift+V)")
        self.standard_button = self._button("&Standard…", "Enter a check standard or a blank, with its lot")
        self.instrument_button = self._button("&Instrument…", "Kind, method, elements, due date of this instrument")
        self.add_button = self._button("Add i&nstrument…", "Enter another instrument")

    def _make_answer(self) -> None:
        self.lamp = Lamp(self)
        self.answer = plain(self, "title")
        self.answer.setAccessibleName("May it be trusted today")
        self.why = plain(self)
        self.due = plain(self, "quiet")
        self.why.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)

    def _make_tabs(self) -> Iterator[None]:
        self.tabs = QTabWidget(self)
        self.tabs.setAccessibleName("Charts, noise, holds and lists")
        self.tabs.tabBar().setAccessibleName(self.tabs.accessibleName())
        self.tabs.setDocumentMode(True)
        self.elements = Table(columns.LampModel(columns.ELEMENTS, columns.element_key), "Elements", self)
        yield
        self.plot = CheckPlot(self)
        yield
        self.picture_button = self._button("Pict&ure", "The control chart as PNG or SVG (Ctrl+Shift+E)")
        self.tabs.setCornerWidget(self.picture_button)
        charts = self._charts_page()
        yield
        self.tabs.addTab(charts, "&Charts")
        yield
        self.noise = Table(RowsModel(columns.NOISE, columns.element_key), "Reading noise by element", self)
        self.noise_said = plain(self)
        self.noise_said.setAccessibleName("The noise of the element at hand")
        page = QWidget(self)
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.noise, 1)
        column.addWidget(self.noise_said)
        self.tabs.addTab(page, "N&oise")
        yield
        self.tabs.addTab(self._held_page(), "&Held")
        yield
        self.apart = Table(RowsModel(columns.APART, columns.apart_key), "Duplicates further apart than r", self)
        self.tabs.addTab(self._or_words(self.apart, "apart"), "&Duplicates")
        yield
        self.tabs.addTab(self._compare_page(), "Co&mpare")
        yield
        self.runs = Table(RowsModel(columns.RUNS, columns.run_key), "Check runs", self)
        self.tabs.addTab(self._runs_page(), "Run&s")
        yield
        self.standards = Table(RowsModel(columns.STANDARDS, columns.standard_key), "Standards and blanks", self)
        self.tabs.addTab(self._or_words(self.standards, "standards"), "S&tandards")
        yield

    def _or_words(self, table: QWidget, name: str) -> QStackedWidget:
        """A table, or in its place what is to be said where it is empty."""
        stack = QStackedWidget(self)
        stack.addWidget(table)
        words = plain(self)
        words.setAlignment(Qt.AlignmentFlag.AlignCenter)
        words.setAccessibleName("Nothing to show")
        stack.addWidget(words)
        setattr(self, f"{name}_stack", stack)
        setattr(self, f"{name}_words", words)
        return stack

    def say_or_show(self, name: str, words: str) -> None:
        """Shows words in place of a table; '' shows the table."""
        getattr(self, f"{name}_words").setText(words)
        getattr(self, f"{name}_stack").setCurrentIndex(1 if words else 0)

    def _charts_page(self) -> QWidget:
        self.chart_box = QComboBox(self)
        self.chart_box.setAccessibleName("Chart")
        self.chart_box.setToolTip("Which chart of the check runs")
        for key, words in checks.CHART_WORDS.items():
            self.chart_box.addItem(words, key)
        self.standard_box = QComboBox(self)
        self.standard_box.setAccessibleName("Standard of the chart")
        self.standard_box.setToolTip("The check runs of which standard")
        self.standard_box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.standard_box.setMinimumContentsLength(12)
        self.said = plain(self)
        self.said.setAccessibleName("The check run at hand and what fired")
        self.said.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.limits_words = plain(self, "quiet")
        right = QWidget(self)
        column = QVBoxLayout(right)
        column.setContentsMargins(0, 0, 0, 0)
        boxes = QHBoxLayout()
        boxes.addWidget(self.chart_box, 2)
        boxes.addWidget(self.standard_box, 2)
        column.addLayout(boxes)
        column.addWidget(self._or_words(self.plot, "plot"), 1)
        column.addWidget(self.said)
        column.addWidget(self.limits_words)
        self.chart_split = split = QSplitter(self)
        split.setChildrenCollapsible(False)
        split.addWidget(self.elements)
        split.addWidget(right)
        split.setStretchFactor(1, 1)
        split.setSizes([330, 10_000])
        return split

    def _held_page(self) -> QWidget:
        self.held = Table(RowsModel(columns.HELD, columns.held_key), "Samples held", self)
        self.again_button = self._button("&Measured again…", "This sample was run again after a good check")
        self.open_button = self._button("Op&en sample", "Correct its readings in sample entry (Enter)")
        page = QWidget(self)
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._or_words(self.held, "held"), 1)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(self.open_button)
        row.addWidget(self.again_button)
        column.addLayout(row)
        return page

    def _compare_page(self) -> QWidget:
        self.other_box = QComboBox(self)
        self.other_box.setAccessibleName("Compare with")
        self.other_box.setToolTip("The other instrument, or the outside lab")
        self.compared = Table(columns.LampModel(columns.COMPARED, columns.compared_key), "Compared by element", self)
        self.compared_said = plain(self)
        label = QLabel("Compare &with", self)
        label.setBuddy(self.other_box)
        page = QWidget(self)
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        row = QHBoxLayout()
        row.addWidget(label)
        row.addWidget(self.other_box, 1)
        row.addStretch(1)
        column.addLayout(row)
        column.addWidget(self._or_words(self.compared, "compared"), 1)
        column.addWidget(self.compared_said)
        return page

    def _runs_page(self) -> QWidget:
        self.void_button = self._button("&Withdraw run", "Hide this reading of a check run; undo brings it back")
        page = QWidget(self)
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._or_words(self.runs, "runs"), 1)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(self.void_button)
        column.addLayout(row)
        return page

    def _make_empty(self) -> None:
        self.empty = QWidget(self)
        head, words = plain(self.empty, "head"), plain(self.empty)
        head.setText(EMPTY_HEAD)
        words.setText(EMPTY_WORDS)
        self.first_button = self._button("Add an &instrument", "Enter the first instrument")
        column = QVBoxLayout(self.empty)
        column.addStretch(2)
        for label in (head, words):
            label.setAlignment(Qt.AlignmentFlag.AlignCenter)
            column.addWidget(label)
        spacing.after(column, 1)
        column.addWidget(self.first_button, 0, Qt.AlignmentFlag.AlignHCenter)
        column.addStretch(3)

    # --- where they stand ---------------------------------------------------------------------------------------------

    def _lay_out(self) -> Iterator[None]:
        head = QHBoxLayout()
        title = QLabel(self.question, self)
        title.setProperty("role", "title")
        title.setWordWrap(True)
        title.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        head.addWidget(title, 1)
        for button in (self.run_button, self.paste_button, self.standard_button):
            head.addWidget(button)
        self.side = side = QWidget(self)
        self.side_row = QBoxLayout(QBoxLayout.Direction.TopToBottom, side)
        self.side_row.setContentsMargins(0, 0, 0, 0)
        self.side_row.addWidget(self.instruments, 1)
        self.side_buttons = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self.side_buttons.addWidget(self.instrument_button)
        self.side_buttons.addWidget(self.add_button)
        self.side_row.addLayout(self.side_buttons)
        card = QFrame(self)
        card.setProperty("role", "card")
        inner = QHBoxLayout(card)
        spacing.around(inner, 2, 1, 2, 1)
        spacing.between(inner, 2)
        inner.addWidget(self.lamp, 0, Qt.AlignmentFlag.AlignTop)
        words = QVBoxLayout()
        spacing.between(words, 0.25)
        for label in (self.answer, self.why, self.due):
            words.addWidget(label)
        inner.addLayout(words, 1)
        body = QWidget(self)
        below = QVBoxLayout(body)
        below.setContentsMargins(0, 0, 0, 0)
        spacing.between(below, 1)
        below.addWidget(card)
        yield
        below.addWidget(self.tabs, 1)
        yield
        self.split = QSplitter(self)
        self.split.setChildrenCollapsible(False)
        spacing.handle(self.split, 1)
        self.split.addWidget(side)
        yield
        self.split.addWidget(body)
        self.split.setStretchFactor(1, 1)
        self.split.setSizes([330, 10_000])
        self.pages = QStackedWidget(self)
        yield
        self.pages.addWidget(self.split)
        self.pages.addWidget(self.empty)
        yield
        whole = QVBoxLayout(self)
        spacing.around(whole, 2, 1, 2, 1)
        spacing.between(whole, 1)
        whole.addLayout(head)
        whole.addWidget(self.pages, 1)
        order: tuple[QWidget, ...] = (self.run_button, self.paste_button, self.standard_button, self.instruments)
        order += (self.instrument_button, self.add_button, self.tabs, self.picture_button, self.elements)
        order += (self.chart_box, self.standard_box)
        order += (self.plot, self.noise, self.held, self.open_button, self.again_button, self.other_box, self.compared)
        order += (self.runs, self.void_button, self.standards)
        for first, second in pairwise(order):
            QWidget.setTabOrder(first, second)
        yield

    # --- room ---------------------------------------------------------------------------------------------------------

    def resizeEvent(self, event) -> None:
        """Where type is large for the window, the instruments stand above the rest instead of beside it."""
        super().resizeEvent(event)
        self.fit()

    def fit(self) -> None:
        """Shares the room by the sizes of the theme in force."""
        look = theme.current()
        narrow = self.width() < look.points * 105
        way = Qt.Orientation.Vertical if narrow else Qt.Orientation.Horizontal
        beside, below = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom
        self.side_row.setDirection(beside if narrow else below)
        self.side_buttons.setDirection(below if narrow else beside)
        self.elements.setMinimumWidth(round(look.points * (15 if narrow else 30)))
        self.instruments.setMinimumHeight(round(look.row_px * 2.6))
        if self.split.orientation() != way:
            self.split.setOrientation(way)
            side = look.row_px * 3 if narrow else round(look.points * 32)
            self.split.setSizes([side, (self.height() if narrow else self.width()) - side])
            elements = round(look.points * (15 if narrow else 32))
            self.chart_split.setSizes([elements, self.width() - elements - (0 if narrow else side)])
        self.plot.setMinimumHeight(round(look.points * 6.5))  # lower than it likes: on a low screen it gives way first
        self.side.setMaximumHeight(round(look.row_px * 3.2) if narrow else 16_777_215)
        self.due.setMaximumHeight(0 if narrow else 16_777_215)
        self.limits_words.setMaximumHeight(0 if narrow else 16_777_215)
        self.lamp.setToolTip(self.due.text())
