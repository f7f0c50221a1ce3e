"""The reading room: words on the left, what they mean on the right, with source, and what they tell in this engine."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QDialog,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from benchapp.actions import explain
from benchapp.actions.explain import ELEMENT, Topic
from benchapp.problems import BenchProblem
from benchapp.window import theme
from benchapp.window.tables import Column, RowsModel, Table
from benchapp.window.whole import open_at

COLUMNS = (
    Column("Word", lambda topic: topic.title, lambda topic: topic.title, 26, stretch=True),
    Column("Kind", lambda topic: topic.kind, lambda topic: topic.kind, 8, spare=1),
)
LEAD = "Every word, element, material and rule this program uses, and where it is from."


def topic_key(topic: Topic) -> str:
    return topic.key


def topic_words(topic: Topic) -> str:
    """What the filter looks into."""
    return " ".join((topic.title, topic.kind, *topic.names, topic.text))


def sentences_or_why(fleet: Any, engine: str, element: str, materials: Any) -> tuple[str, tuple[str, ...]]:
    """What an element tells in an engine, or why that cannot be said (for the background)."""
    try:
        return explain.in_engine(fleet, engine, element, materials)
    except BenchProblem as problem:
        return engine, (f"{problem.what} {problem.means} {problem.do}",)


class ReadingRoom(QDialog):
    """Shows one topic at a time. `word`: what to open it at."""

    def __init__(self, session: Any, parent: QWidget | None = None, *, word: str = "") -> None:
        super().__init__(parent)
        self.session = session
        self.setWindowTitle("Reading room")
        library = session.library
        self.topics = explain.topics(library, session.fleet if session.bench is not None else None)
        self._asked = ""
        self.filter = QLineEdit(self)
        self.filter.setPlaceholderText("Filter the words")
        self.filter.setAccessibleName("Filter the words")
        self.filter.setClearButtonEnabled(True)
        self.filter.installEventFilter(self)
        self.table = Table(RowsModel(COLUMNS, topic_key, topic_words), "Words", self)
        self.table.rows.set_rows(self.topics)
        self.filter.textChanged.connect(self._filter)
        self.table.picked.connect(self._show)
        self._lay_out()
        found = explain.find(self.topics, word)
        self.table.pick(found.key if found else self.topics[0].key)
        (self.table if found else self.filter).setFocus()

    def _lay_out(self) -> None:
        gap = theme.current().gap_px
        self.title = self._label("title")
        self.text = self._label("")
        self.here = self._label("")
        self.more = self._label("quiet")
        self.source = self._label("quiet")
        page = QWidget(self)
        inner = QVBoxLayout(page)
        inner.setContentsMargins(gap, 0, gap, gap)
        inner.setSpacing(gap)
        for made in (self.title, self.text, self.here, self.source, self.more):
            inner.addWidget(made)
        inner.addStretch(1)
        area = QScrollArea(self)
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setAccessibleName("What the word means")
        area.setWidget(page)
        lead = self._label("quiet")
        lead.setText(LEAD)
        left = QVBoxLayout()
        left.setSpacing(gap)
        for made in (lead, self.filter):
            left.addWidget(made)
        left.addWidget(self.table, 1)
        middle = QHBoxLayout()
        middle.setSpacing(2 * gap)
        middle.addLayout(left, 5)
        middle.addWidget(area, 6)
        back = QPushButton("Back", self)
        back.setAutoDefault(False)
        back.clicked.connect(self.reject)
        column = QVBoxLayout(self)
        column.setContentsMargins(2 * gap, 2 * gap, 2 * gap, 2 * gap)
        column.setSpacing(gap)
        column.addLayout(middle, 1)
        column.addWidget(back, 0, Qt.AlignmentFlag.AlignRight)
        open_at(self, 940, 640)

    def _label(self, role: str) -> QLabel:
        made = QLabel(self)
        made.setTextFormat(Qt.TextFormat.PlainText)
        made.setWordWrap(True)
        made.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        if role:
            made.setProperty("role", role)
        return made

    def shown(self) -> Topic | None:
        """The topic at hand."""
        return next((topic for topic in self.topics if topic.key == self.table.key()), None)

    def _filter(self, text: str) -> None:
        self.table.rows.set_filter(text)
        if not self.table.key() and self.table.rows.rowCount():
            self.table.setCurrentIndex(self.table.rows.index(0, 0))

    def _show(self, _key: str) -> None:
        topic = self.shown()
        for made in (self.title, self.text, self.more, self.source):
            made.setVisible(topic is not None)
        self.here.setVisible(False)
        self._asked = ""
        if topic is None:
            return
        self.title.setText(topic.title)
        self.text.setText(topic.text)
        self.more.setText("\n".join(topic.more))
        self.more.setVisible(bool(topic.more))
        self.source.setText(f"Where this is from: {topic.source}")
        if topic.kind == ELEMENT:
            self._ask_engine(topic)

    def _ask_engine(self, topic: Topic) -> None:
        """What the element tells in the engine at hand; worked out in the background."""
        engine = self.session.selected_engine
        if self.session.bench is None or engine not in [each.name for each in self.session.fleet.engines]:
            return
        self._asked = engine
        self.here.setText(f"In {engine}: being worked out…")
        self.here.setVisible(True)
        args = (self.session.fleet, engine, topic.names[0], self.session.bench.materials())
        self.session.background(sentences_or_why, args, self._found, kind="reading")

    def _found(self, answer: tuple[str, tuple[str, ...]]) -> None:
        engine, said = answer
        if engine == self._asked:
            self.here.setText(f"In {engine}\n" + "\n".join(f"· {line}" for line in said))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Enter or Down in the filter goes to the words."""
        if watched is self.filter and isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Down):
                self.table.setFocus()
                return True
            if event.key() == Qt.Key.Key_Escape and self.filter.text():
                self.filter.clear()
                return True
        return super().eventFilter(watched, event)
