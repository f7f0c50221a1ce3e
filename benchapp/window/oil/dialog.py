"""The page "Oil and film" of one sample: limits, hours left, and each bearing's film before and after."""

from __future__ import annotations

import math
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QLabel, QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from benchapp.actions import oil_look
from benchapp.window import theme, units
from benchapp.window.dialogs.lists import ListDialog
from benchapp.window.oil import words
from benchapp.window.tables import Column, RowsModel, Table
from benchapp.window.whole import open_at

NO_OIL = "The oil of this sample is not recorded: enter its fill and that oil first."
NO_FILM = (
    "No film was reckoned: it needs a viscosity of this sample, an oil temperature and a speed in the run log, and the "
    "sizes of the bearings (menu Bench, Bearings)."
)


def _number(value: float | None) -> str:
    """Three figures, no exponent: 1690, 14.5, 0.12."""
    return "" if value is None else f"{value:.0f}" if abs(value) >= 100.0 else f"{value:.3g}"


def _limit(line: Any, level: float | None) -> str:
    if level is None:
        return ""
    return f"{100 * level:.0f} %" if "of fresh" in line.limit_text else _number(level)


LINES = (
    Column("State", lambda line: words.STATE_WORDS[line.state], lambda line: line.state, 14),
    Column("Property", lambda line: line.name + (" (diesel limit)" if line.diesel else ""), lambda line: line.name, 26,
           stretch=True),
    Column("Reading", lambda line: f"{line.qualifier}{_number(line.value)} {line.unit}".strip(),
           lambda line: line.value, 14, number=True),
    Column("Fresh", lambda line: _number(line.fresh), lambda line: line.fresh, 8, number=True,
           why="Of this oil when new"),
    Column("Warning", lambda line: _limit(line, line.watch), lambda line: line.watch, 9, number=True,
           tip=lambda line: line.limit_text),
    Column("Limit", lambda line: _limit(line, line.done), lambda line: line.done, 9, number=True,
           tip=lambda line: line.limit_text),
    Column("Where the limit is from", lambda line: line.source, None, 24, spare=1),
)  # fmt: skip
HOURS = (
    Column("To the limit of", lambda line: line.name, lambda line: line.name, 26, stretch=True),
    Column("Hours left", lambda line: hours_text(line.hours), lambda line: line.hours, 11, number=True),
    Column("At least", lambda line: hours_text(line.low), lambda line: line.low, 10, number=True,
           why="Lower end of the 90 % interval"),
    Column("At most", lambda line: hours_text(line.high), lambda line: line.high, 10, number=True,
           why="Upper end of the 90 % interval"),
    Column("Stands on", lambda line: line.text.rpartition("(")[2].rstrip(")"), None, 30, spare=1),
)  # fmt: skip
FILMS = (
    Column("Bearing", lambda film: film.now.bearing.name, lambda film: film.now.bearing.name, 16, stretch=True,
           tip=lambda film: film.now.bearing.origin),
    Column("Fresh [µm]", lambda film: "" if film.fresh is None else f"{film.fresh.min_film_um:.2f}",
           lambda film: None if film.fresh is None else film.fresh.min_film_um, 9, number=True,
           why="Least film in the fresh oil"),
    Column("Now [µm]", lambda film: f"{film.now.min_film_um:.2f}", lambda film: film.now.min_film_um, 9, number=True,
           why="Least film in the oil as sampled"),
    Column("Design [µm]", lambda film: f"{design_minimum(film):.1f}", lambda film: design_minimum(film), 10,
           number=True, why="Least film by the published design limits of general machinery",
           tip=lambda film: film.now.lines[0].source),
    Column("State", lambda film: film.word, None, 12, tip=lambda film: units.in_words(film.now.text)),
    Column("Stands on", lambda film: film.stands_on, None, 12, spare=2, tip=lambda film: film.load_origin),
    Column("× roughness", lambda film: f"{film.now.lines[1].value:.1f}", lambda film: film.now.lines[1].value, 10,
           number=True, spare=3, why="Film over roughness; 3 keeps surfaces apart (common practice, no source)"),
    Column("Load", lambda film: f"{film.now.case.load_n:.0f} N, {film.load_origin}", None, 16, spare=1),
)  # fmt: skip


def hours_text(hours: float) -> str:
    """'4.7 h', 'reached', 'no end'."""
    return "no end" if math.isinf(hours) else "reached" if hours <= 0.0 else f"{hours:.1f} h"


def design_minimum(film: Any) -> float:
    """Least film by design [µm]."""
    return float(film.now.lines[0].limit)


def _keep_whole(said: QLabel) -> None:
    """The tables give way, not the words."""
    policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
    policy.setHeightForWidth(True)
    said.setSizePolicy(policy)


def line_key(line: Any) -> str:
    return str(line.property)


def hours_key(line: Any) -> str:
    return str(line.name)


def film_key(film: Any) -> str:
    return str(film.now.bearing.name)


class OilFilmDialog(ListDialog):
    """See the module. `oil`: a value that is known already (of what is typed); else it is worked out for `code`."""

    def __init__(self, session: Any, parent: QWidget | None = None, code: str = "", oil: Any | None = None) -> None:
        super().__init__(session, parent, f"Oil and film of sample {code or getattr(oil, 'sample', '')}")
        self.oil: Any | None = None
        outer, self.column = self.column, self._page()
        self.explained = self.words("quiet")
        self.lines = Table(RowsModel(LINES, line_key), "Oil against its limits", self)
        self.hours = Table(RowsModel(HOURS, hours_key), "Hours left", self)
        self.films = Table(RowsModel(FILMS, film_key), "Film of the bearings, before and after", self)
        self.titles = []
        for title, table in (
            ("Film of the bearings, fresh and as sampled", self.films),
            ("Against its limits", self.lines),
            ("Hours left to each limit", self.hours),
        ):
            head = self.words("head")
            head.setText(title)
            self.titles.append(head)
            self.column.addWidget(table)
            if table is self.films:
                self.grades = self.words("")
        self.more = self.words("")
        self.caution = self.words("quiet")
        self.column.addStretch(1)
        self.column = outer
        self.add_back()
        for said in (self.lead, self.explained, self.grades, self.more, self.caution):
            _keep_whole(said)
        open_at(self, 1120, 800)
        self._show_tables(False)
        if oil is not None:
            self.show_oil(oil)
        else:
            self.lead.setText("Being worked out…")
            session.background(oil_look.of_code, (session.fleet, code), self.show_oil, kind="oil page")

    def _page(self) -> QVBoxLayout:
        """Everything but the lead and the button scrolls: on a small screen words and tables stay whole."""
        area, page = QScrollArea(self), QWidget(self)
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.StrongFocus)  # what stands below the tables is reached by keys too
        area.setFrameShape(QFrame.Shape.NoFrame)
        inner = QVBoxLayout(page)
        inner.setContentsMargins(0, 0, theme.current().gap_px, 0)
        inner.setSpacing(theme.current().gap_px)
        area.setWidget(page)
        self.column.addWidget(area, 1)
        return inner

    def _show_tables(self, shown: bool) -> None:
        for widget in (*self.titles, self.lines, self.hours, self.films, self.grades, self.more, self.caution):
            widget.setVisible(shown)

    def show_oil(self, oil: Any | None) -> None:
        """Shows a `SampleOil`; None: the oil is not recorded."""
        self.oil = oil
        if oil is None:
            self.lead.setText(NO_OIL)
            return
        self._show_tables(True)
        self.lead.setText(units.in_words(oil.verdict.sentence))
        at_run = f" {oil.verdict.run_text}." if oil.verdict.run_text else ""
        self.explained.setText(f"{oil.oil}. {units.in_words(oil.run_text + at_run)} {words.OWN_FRESH}")
        self.lines.rows.set_rows(oil.verdict.lines)
        self.hours.rows.set_rows(oil.hours.lines)
        self.films.rows.set_rows(oil.films)
        for title, table in zip(self.titles, (self.films, self.lines, self.hours), strict=True):
            there = table.rows.rowCount()
            title.setVisible(bool(there))
            table.setVisible(bool(there))
            row = table.verticalHeader().defaultSectionSize()
            bar = table.horizontalScrollBar().sizeHint().height()
            table.setFixedHeight(row * there + table.horizontalHeader().sizeHint().height() + bar + 6)
        beside = ("Fuel or shear", "To know", "Not computed", "Not known")
        said = [line.text for section in words.sections(oil) if section.title in beside for line in section.lines]
        if not oil.films:
            said.append(NO_FILM)
        self.more.setText(units.in_words("\n".join(said)))
        answers = [film.grade.text for film in oil.films if film.grade is not None]
        self.grades.setText(units.in_words("\n".join(f"Which grade? {answer}" for answer in answers)))
        self.grades.setVisible(bool(self.grades.text()))
        self.caution.setText(words.FILM_CAUTION)
        self.caution.setVisible(bool(oil.films))
        first = next((table for table in (self.films, self.lines, self.hours) if table.rows.rowCount()), None)
        if first is not None:
            first.setCurrentIndex(first.rows.index(0, 0))
            first.setFocus()
