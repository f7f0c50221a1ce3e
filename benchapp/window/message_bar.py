"""The bar above a view that says what happened, what it means for the data and what to do; it never stops the work."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from benchapp.problems import BenchProblem
from benchapp.window import spacing


class MessageBar(QFrame):
    """Shows one problem or note until it is closed (Esc or the button) or replaced."""

    closed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("role", "message")
        self.what, self.means, self.do = (self._line(name) for name in ("what", "means", "do"))
        self.what.setProperty("role", "head")
        self.button = QPushButton("Close", self)
        self.button.setAccessibleName("Close the message")
        self.button.clicked.connect(self.clear)
        self.offered = QPushButton("Do it", self)
        self.offered.clicked.connect(self._take_offer)
        self.offered.setVisible(False)
        self._offer: Callable[[], None] | None = None
        words = QVBoxLayout()
        words.setSpacing(2)
        for label in (self.what, self.means, self.do):
            words.addWidget(label)
        row = QHBoxLayout(self)
        spacing.around(row, 2, 1, 1, 1)
        row.addLayout(words, 1)
        row.addWidget(self.offered, 0, Qt.AlignmentFlag.AlignTop)
        row.addWidget(self.button, 0, Qt.AlignmentFlag.AlignTop)
        self.setVisible(False)

    def _line(self, name: str) -> QLabel:
        label = QLabel(self)
        label.setObjectName(name)
        label.setTextFormat(Qt.TextFormat.PlainText)  # words from a file never become markup
        label.setWordWrap(True)
        label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        return label

    def show_problem(self, problem: BenchProblem) -> None:
        self._show(problem.what, problem.means, problem.do, trouble=True)

    def show_note(self, what: str, means: str = "", do: str = "") -> None:
        self._show(what, means, do, trouble=False)

    def offer(self, text: str, then: Callable[[], None]) -> None:
        """Puts a button beside the message at hand that deals with it; it has the keyboard."""
        self._offer = then
        self.offered.setText(text)
        self.offered.setVisible(True)
        self.offered.setFocus()

    def _take_offer(self) -> None:
        if self._offer is not None:
            self._offer()

    def _drop_offer(self) -> None:
        self._offer = None
        self.offered.setVisible(False)

    def _show(self, what: str, means: str, do: str, *, trouble: bool) -> None:
        for label, text in ((self.what, what), (self.means, means), (self.do, do)):
            label.setText(text)
            label.setVisible(bool(text))
        self._drop_offer()
        self.setProperty("trouble", "true" if trouble else "false")
        self.style().unpolish(self)
        self.style().polish(self)
        self.setAccessibleName(f"{'Problem' if trouble else 'Note'}: {what} {means} {do}".strip())
        self.setVisible(True)

    def clear_note(self) -> None:
        """Takes a note away that the work has gone past; a problem stays until it is closed."""
        if self.property("trouble") == "false":
            self.clear()

    def clear(self) -> None:
        if not self.isHidden():
            self._drop_offer()
            self.setVisible(False)
            self.closed.emit()
