"""Why the call is what it is: one line a reason, each opening into where to look and what would change it."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QLayout,
    QPushButton,
    QScrollArea,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from benchapp.actions.looks import capital
from benchapp.records import Call, Flip, Reason
from benchapp.window import spacing, theme, units
from benchapp.window.fleet.columns import sure

BASIS_WORDS = {
    "own history": "this engine's own history",
    "own ceiling": "this build's own ceiling",
    "family": "engines of its family",
    "none": "nothing but this sample",
}

NO_CALL = "Enter a sample (Ctrl+2): the call is there as you type."


def label(text: str, parent: QWidget, role: str = "") -> QLabel:
    """A wrapped plain-text label; words from a file never become markup."""
    made = QLabel(text, parent)
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setWordWrap(True)
    made.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    if role:
        made.setProperty("role", role)
    return made


class ReasonLine(QFrame):
    """One reason. Enter, Space or a click opens it; from there its trend is one step away."""

    trend_asked = Signal(str)

    def __init__(self, number: int, reason: Reason, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.reason = reason
        self.arrow = QToolButton(self)
        self.arrow.setText(str(number))
        self.arrow.setProperty("role", "opener")
        self.arrow.setCheckable(True)
        self.arrow.setArrowType(Qt.ArrowType.RightArrow)
        self.arrow.setAccessibleName(f"Reason {number}: {reason.text}")
        self.arrow.setAccessibleDescription("Opens where to look and what would change the call")
        self.arrow.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonIconOnly)
        self.arrow.toggled.connect(self._open)
        self.text = label(capital(reason.text), self)
        head = QHBoxLayout()
        spacing.between(head, 0.5)
        head.addWidget(self.arrow, 0, Qt.AlignmentFlag.AlignTop)
        head.addWidget(self.text, 1)
        self.more = QWidget(self)
        self._fill_more()
        self.more.setVisible(False)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(head)
        column.addWidget(self.more)
        theme.follow(self, self._fit)
        self._fit()

    def _fit(self) -> None:
        """Room for a finger on the arrow; what it opens begins where the text does."""
        target, gap = theme.current().target_px, theme.current().gap_px
        self.arrow.setFixedSize(target, target)
        self.more.layout().setContentsMargins(target + gap // 2, 0, 0, gap)

    def _fill_more(self) -> None:
        inside = QVBoxLayout(self.more)
        spacing.between(inside, 0.5)
        reason = self.reason
        if reason.probability is not None:
            inside.addWidget(label(f"How sure: {sure(reason.probability)}.", self.more, "quiet"))
        for head, text in (("Where to look", reason.look), ("What would change this call", reason.would_change)):
            if text:
                inside.addWidget(label(f"{head}: {text}", self.more))
        if reason.topic:
            self.trend = QPushButton(f"Trend of {reason.shown_by}", self.more)
            self.trend.clicked.connect(self._ask_trend)
            inside.addWidget(self.trend, 0, Qt.AlignmentFlag.AlignLeft)

    def stops(self) -> list[QWidget]:
        """Where Tab stops in it."""
        return [self.arrow, self.trend] if self.reason.topic else [self.arrow]

    def _open(self, is_open: bool) -> None:
        self.arrow.setArrowType(Qt.ArrowType.DownArrow if is_open else Qt.ArrowType.RightArrow)
        self.more.setVisible(is_open)

    def _ask_trend(self) -> None:
        self.trend_asked.emit(self.reason.shown_by)

    def mouseReleaseEvent(self, event) -> None:
        if self.text.geometry().contains(event.position().toPoint()):
            self.arrow.toggle()
        super().mouseReleaseEvent(event)


class ReasonList(QScrollArea):
    """All that stands behind one call, strongest first."""

    trend_asked = Signal(str)

    def __init__(self, parent: QWidget | None = None, above: Sequence[QWidget] = ()) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName("Bearing on")
        page = QWidget()
        self._column = QVBoxLayout(page)
        self._column.setContentsMargins(0, 0, 0, 0)
        spacing.between(self._column, 0.5)
        for widget in above:
            self._column.addWidget(widget)
        self._body: QWidget | None = None
        self.setWidget(page)
        self.lines: list[ReasonLine] = []
        self._turns: QWidget | None = None
        self.show_call(None)

    def show_call(self, call: Call | None, why_none: str = NO_CALL) -> None:
        """Shows the reasons of a call; None: why there is none, or what to do to get one."""
        body = QWidget()
        column = QVBoxLayout(body)
        spacing.around(column, 0, 0, 1, 0)
        spacing.between(column, 0.5)
        self.lines, self._turns = [], None
        if call is None:
            column.addWidget(label(why_none, body, "quiet"))
        else:
            self._fill(body, column, call)
        column.addStretch(1)
        if self._body is not None:
            self._body.hide()
            self._column.removeWidget(self._body)
            self._body.deleteLater()
        self._body = body
        self._column.addWidget(body, 1)
        body.show()
        self.verticalScrollBar().setValue(0)

    def _fill(self, body: QWidget, column: QVBoxLayout, call: Call) -> None:
        if call.held:
            column.addWidget(label(f"Held: {call.held}", body, "trouble"))
        if call.superseded:
            column.addWidget(label(f"Superseded: {call.superseded}", body, "trouble"))
        column.addWidget(label("Bearing on", body, "head"))
        for number, reason in enumerate(call.reasons, start=1):
            line = ReasonLine(number, reason, body)
            line.trend_asked.connect(self.trend_asked)
            self.lines.append(line)
            column.addWidget(line)
        if not call.reasons:
            column.addWidget(label("Nothing found that speaks against running.", body))
        for head, lines in (("Before it goes out", call.before_out), ("Not known", call.unknowns)):
            _section(body, column, head, lines)
        self._turns = QWidget(body)
        QVBoxLayout(self._turns).setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._turns)
        self.show_flips(call.flips)

    def show_flips(self, flips: Sequence[Flip]) -> None:
        """Shows which uncertain inputs could turn the call; they are worked out later than the call itself."""
        if self._turns is None:
            return
        column = self._turns.layout()
        while column.count():
            old = column.takeAt(0).widget()
            old.hide()
            old.deleteLater()
        lines = [f"{f.what} {f.at}: {f.call}" for f in units.flips_in_words(flips)]
        _section(self._turns, column, "What could turn the call", lines)
        self._turns.setVisible(bool(flips))


def _section(body: QWidget, column: QLayout, head: str, lines: Sequence[str]) -> None:
    """A head and its lines, or nothing where there are none."""
    if lines:
        column.addWidget(label(head, body, "head"))
        for text in lines:
            column.addWidget(label(f"· {text}", body))


def stands_on(call: Call) -> str:
    """What the call stands on, in one quiet line."""
    words = [f"Next sample after {call.next_sample_h:.1f} h", call.history]
    words.append(f"judged against {BASIS_WORDS.get(call.basis, call.basis)}")
    if call.severity is not None:
        words.append(f"session severity × {call.severity:.2g}")
    return " · ".join(filter(None, words))
