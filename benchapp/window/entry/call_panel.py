"""The call beside the form: mark and word, the sentence, how sure, and the reasons, each opening further.

It shows an `actions.call` record as it is; nothing is worked out here.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from benchapp.records import Call, Reason
from benchapp.window import marks, spacing, units
from benchapp.window.entry import words

BASIS_WORDS = {
    "own history": "It stands on this engine's own history",
    "own ceiling": "It stands on this build's own break-in ceiling",
    "family": "It stands on engines of the same family, not yet on this one",
    "none": "It stands on no history at all",
}
KIND_WORDS = {
    "rate": "rate",
    "sequence": "over several samples",
    "ceiling": "ceiling",
    "trend": "trend",
    "pattern": "pattern",
    "other": "other sign",
}
CAUTION = "A call is advice from an oil sample. The person who signs the car out decides."


def label(text: str = "", role: str = "", parent: QWidget | None = None) -> QLabel:
    """A line of plain words that wraps; words from a file never become markup."""
    made = QLabel(text, parent)
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setWordWrap(True)
    policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
    policy.setHeightForWidth(True)
    made.setSizePolicy(policy)
    if role:
        made.setProperty("role", role)
    return made


def confidence(call: Call) -> str:
    """How much stands behind a call, in words."""
    basis = BASIS_WORDS.get(call.basis, "")
    return f"{basis}: {call.history}." if basis and call.history else f"{basis or call.history}."


def chance(probability: float | None) -> str:
    """A probability in words and figures, '' where there is none."""
    if probability is None:
        return ""
    spoken = next(word for limit, word in _CHANCES if probability >= limit)
    return f"{spoken} ({probability:.0%})"


_CHANCES = ((0.99, "practically certain"), (0.9, "very likely"), (0.7, "likely"), (0.4, "possible"), (-1.0, "unlikely"))


class ReasonRow(QFrame):
    """One reason; Space or a click opens where to look, what would change the call, and the way to its plot."""

    trend_asked = Signal(str)

    def __init__(self, reason: Reason, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.reason = reason
        self.button = QToolButton(self)
        self.button.setCheckable(True)
        self.button.setAutoRaise(True)
        self.button.setArrowType(Qt.ArrowType.RightArrow)
        self.button.setAccessibleName(f"Reason: {reason.text}")
        self.button.setToolTip("Show where to look and what would change the call")
        self.button.toggled.connect(self._open)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        spacing.between(row, 0.5)
        row.addWidget(self.button, 0, Qt.AlignmentFlag.AlignTop)
        column = QVBoxLayout()
        column.setSpacing(2)
        column.addWidget(label(reason.text, parent=self))
        self.more = QWidget(self)
        inner = QVBoxLayout(self.more)
        spacing.around(inner, 0, 0, 0, 0.5)
        inner.setSpacing(2)
        for text in self._lines():
            inner.addWidget(label(text, "quiet", self.more))
        self.trend = QPushButton("Show its trend", self.more)
        self.trend.setAccessibleName(f"Trend of {reason.shown_by}")
        self.trend.setAutoDefault(False)
        self.trend.clicked.connect(self._ask_trend)
        inner.addWidget(self.trend, 0, Qt.AlignmentFlag.AlignLeft)
        self.more.setVisible(False)
        column.addWidget(self.more)
        row.addLayout(column, 1)

    def _lines(self) -> list[str]:
        reason = self.reason
        kind = KIND_WORDS.get(reason.kind, reason.kind)
        sure = chance(reason.probability)
        lines = [f"Source: {reason.topic} · seen by its {kind}" + (f" · {sure}" if sure else "")]
        if reason.parts:
            lines.append(f"Parts: {words.listed(reason.parts)}")
        if reason.look:
            lines.append(f"Where to look: {reason.look}")
        if reason.would_change:
            lines.append(f"What would change it: {reason.would_change}")
        return lines

    def _ask_trend(self) -> None:
        self.trend_asked.emit(self.reason.shown_by)

    def _open(self, opened: bool) -> None:
        self.button.setArrowType(Qt.ArrowType.DownArrow if opened else Qt.ArrowType.RightArrow)
        self.more.setVisible(opened)


class CallPanel(QScrollArea):
    """Shows the call of what is typed, or says what is still missing for one."""

    trend_asked = Signal(str)
    """Show the trend of this source."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.call: Call | None = None
        self.reasons: list[ReasonRow] = []
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setAccessibleName("The call")
        page = QWidget(self)
        column = QVBoxLayout(page)
        spacing.around(column, 1, 0, 1, 0)
        spacing.between(column, 1)
        self.mark = marks.MarkWidget("", times=2.0, parent=page)
        self.word = label("No call yet", "title", page)
        head = QHBoxLayout()
        spacing.between(head, 1)
        head.addWidget(self.mark, 0, Qt.AlignmentFlag.AlignTop)
        head.addWidget(self.word, 1)
        column.addLayout(head)
        self.sentence, self.state = label("", "", page), label("", "quiet", page)
        self.sure, self.next = label("", "quiet", page), label("", "", page)
        for widget in (self.state, self.sentence, self.next, self.sure):
            column.addWidget(widget)
        self.bearing = label("Bearing on", "head", page)
        column.addWidget(self.bearing)
        self.list = QVBoxLayout()
        spacing.between(self.list, 0.5)
        column.addLayout(self.list)
        self.rest = QVBoxLayout()
        spacing.between(self.rest, 0.5)
        column.addLayout(self.rest)
        self.caution = label(CAUTION, "quiet", page)
        column.addWidget(self.caution)
        column.addStretch(1)
        self.setWidget(page)
        self.show_missing("Choose an engine and type its results: the call appears here while you type.")

    def minimumSizeHint(self) -> QSize:
        """As wide as its words need, never cut off at the side."""
        bar = self.verticalScrollBar().sizeHint().width()
        return QSize(self.widget().minimumSizeHint().width() + bar, super().minimumSizeHint().height())

    def show_missing(self, what: str) -> None:
        """There is no call, and why."""
        self.call = None
        self.mark.set_call("")
        self.word.setText("No call yet")
        self._empty(self.list)
        self._empty(self.rest)
        self.reasons = []
        for widget in (self.sentence, self.sure, self.next, self.bearing):
            widget.setVisible(False)
        self._say(what)

    def show_working(self) -> None:
        """The call shown is that of a moment ago; the new one is being worked out."""
        self._say("Working it out …")

    def show_call(self, call: Call, state: str = "") -> None:
        """The call and its reasons, the strongest first. `state`: what it is the call of, in words."""
        opened = {row.reason.topic + row.reason.kind for row in self.reasons if row.button.isChecked()}
        self.call = call
        call = units.call_in_words(call)
        self.mark.set_call(call.call)
        self.word.setText(call.call)
        self._say(state)
        self._text(self.sentence, call.sentence)
        self._text(self.next, f"Next sample after {words.number(call.next_sample_h, 2)} h of running.")
        self._text(self.sure, confidence(call))
        self._show_reasons(call.reasons, opened)
        self._empty(self.rest)
        self._more("Before it goes out", call.before_out)
        self._more("What would flip it", [f"{flip.what} {flip.at}: {flip.call}" for flip in call.flips])
        self._more("Not known", call.unknowns)
        if call.held:
            self._more("The results are held", [call.held])

    def _show_reasons(self, reasons: Sequence[Reason], opened: set[str]) -> None:
        self._empty(self.list)
        self.reasons = [ReasonRow(reason, self.widget()) for reason in reasons]
        self.bearing.setVisible(bool(reasons))
        for row in self.reasons:
            row.trend_asked.connect(self.trend_asked)
            row.button.setChecked(row.reason.topic + row.reason.kind in opened)
            self.list.addWidget(row)

    def _more(self, title: str, lines: Sequence[str]) -> None:
        if not lines:
            return
        self.rest.addWidget(label(title, "head", self.widget()))
        for line in lines:
            self.rest.addWidget(label(f"• {line}", parent=self.widget()))

    def _say(self, text: str) -> None:
        self._text(self.state, text)

    @staticmethod
    def _text(widget: QLabel, text: str) -> None:
        widget.setText(text)
        widget.setVisible(bool(text))

    @staticmethod
    def _empty(layout: QVBoxLayout) -> None:
        while (item := layout.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.setParent(None)
                widget.deleteLater()
