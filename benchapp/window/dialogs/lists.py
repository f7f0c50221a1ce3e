"""Two lists that are read and acted on: what waits, and how good the calls were."""

from __future__ import annotations

import datetime as dt
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QLabel, QPushButton, QVBoxLayout, QWidget

from benchapp.actions import due, findings, sample
from benchapp.actions.due import Due
from benchapp.actions.findings import MEANS, OUTCOMES, FamilyScore, Judged, Record
from benchapp.window import theme, units
from benchapp.window.tables import Column, RowsModel, Table
from benchapp.window.whole import open_at

DUE = (
    Column("What", lambda row: row.kind, lambda row: row.kind, 13),
    Column("Engine", lambda row: row.engine, lambda row: row.engine or None, 10, most=16),
    Column("Sample", lambda row: row.sample, lambda row: row.sample or None, 12, most=22),
    Column("Why", lambda row: units.in_words(row.text), lambda row: row.text, 34, stretch=True),
    Column("Since", lambda row: row.since, lambda row: row.since or None, 11, spare=2),
    Column("To do", lambda row: row.todo, lambda row: row.todo, 32, spare=1),
)
JUDGED = (
    Column("Call", lambda one: one.call, lambda one: one.call, 12, mark=lambda one: one.call),
    Column("Engine", lambda one: one.engine, lambda one: one.engine, 9, most=16),
    Column("Sample", lambda one: one.sample, lambda one: one.sample, 12, most=22),
    Column("It was", lambda one: one.outcome, lambda one: one.outcome, 18, tip=lambda one: MEANS[one.outcome]),
    Column("Seen", lambda one: "; ".join(one.seen), None, 26, stretch=True),
    Column("Named", lambda one: ", ".join(one.named), None, 22, spare=1, why="Parts, dust or coolant that it named"),
)
SHORT = (("Right", 0), ("Other part", 2), ("Needless", 0), ("Missed", 0), ("Left alone", 1), ("Not seen", 3))
"""Head of each outcome's column, and which are left out first where there is no room."""
SCORES = (
    Column("Family", lambda score: score.family or "all", lambda score: score.family, 22),
    *(
        Column(
            short, lambda score, name=name: str(score.counts.get(name, 0)),
            lambda score, name=name: float(score.counts.get(name, 0)), 6, number=True, why=MEANS[name], spare=spare,
            stretch=name == OUTCOMES[-1],
        )
        for name, (short, spare) in zip(OUTCOMES, SHORT, strict=True)
    ),
)  # fmt: skip
NOTHING_DUE = "Nothing waits: no engine is due, every sample has its results and its engine."
NO_FINDING = (
    "No finding yet. When someone has looked inside, enter what was seen (menu Bench, Finding) with the sample that "
    "asked for it: then this page says how good the calls were."
)
RECORD_LEAD = (
    "Calls made with what was known then, held against what was seen. A missed fault may be one that no oil sample "
    "shows: a cracked rod, a tired spring, a loose nut."
)


def due_key(row: Due) -> str:
    return row.key


def judged_key(one: Judged) -> str:
    return one.sample


def score_key(score: FamilyScore) -> str:
    return score.family or "all"


class ListDialog(QDialog):
    """A dialog with a sentence above and tables below; Back closes."""

    def __init__(self, session: Any, parent: QWidget | None, title: str) -> None:
        super().__init__(parent)
        self.session = session
        self.setWindowTitle(title)
        gap = theme.current().gap_px
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(2 * gap, 2 * gap, 2 * gap, 2 * gap)
        self.column.setSpacing(gap)
        self.lead = self.words("head")
        open_at(self, 1080, 620)

    def words(self, role: str) -> QLabel:
        """A line of text in the dialog."""
        made = QLabel(self)
        made.setTextFormat(Qt.TextFormat.PlainText)
        made.setWordWrap(True)
        made.setProperty("role", role)
        self.column.addWidget(made)
        return made

    def add_back(self) -> None:
        """The button at the bottom."""
        back = QPushButton("Back", self)
        back.setAutoDefault(False)
        back.clicked.connect(self.reject)
        self.column.addWidget(back, 0, Qt.AlignmentFlag.AlignRight)


class DueDialog(ListDialog):
    """What waits; Enter goes to where it is dealt with."""

    def __init__(self, session: Any, parent: QWidget | None = None) -> None:
        super().__init__(session, parent, "What waits")
        self.table = Table(RowsModel(DUE, due_key), "What waits", self)
        self.table.opened.connect(self._open)
        self.column.addWidget(self.table, 1)
        hint = self.words("quiet")
        hint.setText("Enter goes to where it is dealt with.")
        self.add_back()
        now = dt.datetime.now()  # noqa: DTZ005  (the person's clock)
        waiting = session.look(sample.waiting) or ()
        self.rows = due.due(session.fleet, session.calls, waiting, now)
        self.table.rows.set_rows(self.rows)
        self.lead.setText(f"{len(self.rows)} to deal with" if self.rows else NOTHING_DUE)
        for widget in (self.table, hint):
            widget.setVisible(bool(self.rows))
        if self.rows:
            self.table.setCurrentIndex(self.table.rows.index(0, 0))
            self.table.setFocus()
        else:
            self.column.addStretch(1)

    def _open(self, key: str) -> None:
        row = next(row for row in self.rows if row.key == key)
        self.accept()
        if row.part:
            self.session.show_part(row.engine, row.part)
        elif row.sample:
            self.session.open_sample(row.sample)
        else:
            self.session.new_sample(row.engine)


class RecordDialog(ListDialog):
    """How good were our calls; Enter opens the sample."""

    def __init__(self, session: Any, parent: QWidget | None = None) -> None:
        super().__init__(session, parent, "How good were our calls")
        self.explained = self.words("quiet")
        self.scores = Table(RowsModel(SCORES, score_key), "Calls and findings of each family", self)
        self.judged = Table(RowsModel(JUDGED, judged_key), "Calls and what was seen", self)
        self.judged.opened.connect(self._open)
        self.column.addWidget(self.scores, 2)
        self.column.addWidget(self.judged, 3)
        self.left = self.words("quiet")
        self.add_back()
        self._show_tables(False)
        if not findings.with_findings(session.fleet):
            self.lead.setText("How good were our calls?")
            self.explained.setText(NO_FINDING)
            self.column.addStretch(1)
            return
        self.lead.setText("Being worked out…")
        session.background(findings.record_of, (session.fleet,), self.show_record, kind="record")

    def _show_tables(self, shown: bool) -> None:
        for widget in (self.scores, self.judged, self.left):
            widget.setVisible(shown)

    def show_record(self, found: Record) -> None:
        """Shows the record."""
        self.lead.setText(found.sentence())
        self.explained.setText(RECORD_LEAD)
        self.scores.rows.set_rows(found.families)
        self.judged.rows.set_rows(tuple(reversed(found.judged)))
        many = "1 finding stands" if found.without == 1 else f"{found.without} findings stand"
        self.left.setText(f"{many} before any call of the build." if found.without else "")
        self._show_tables(True)
        self.left.setVisible(bool(found.without))
        if found.judged:
            self.judged.setCurrentIndex(self.judged.rows.index(0, 0))
            self.judged.setFocus()

    def _open(self, code: str) -> None:
        self.accept()
        self.session.open_sample(code)
