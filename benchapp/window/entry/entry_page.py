"""The form, its results and the call beside them: one sample being typed, corrected or given its engine."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QIcon, QResizeEvent
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QListWidget,
    QPushButton,
    QSplitter,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from benchapp.actions import call as calls
from benchapp.actions import sample as verbs
from benchapp.actions import second_look
from benchapp.problems import BenchProblem
from benchapp.records import Build, Call, Engine, Fill, Sample
from benchapp.window import settings, spacing, theme
from benchapp.window.checks import lamp
from benchapp.window.entry import offers, words
from benchapp.window.entry.call_panel import CallPanel
from benchapp.window.entry.form import SampleForm
from benchapp.window.entry.form_text import (
    FieldProblem,
    FormRead,
    FormText,
    find_build,
    find_engine,
    find_fill,
    for_preview,
    instrument_names,
    previous_sample,
    read_form,
    text_of,
)
from benchapp.window.entry.live import LiveCall, oil_worked_out
from benchapp.window.entry.reason_form import ReasonForm
from benchapp.window.entry.results_pane import ResultsPane
from benchapp.window.oil import words as oil_words
from benchapp.window.oil.panel import LAMPS, OilPanel

NEW, KNOWN, WAITS = "new", "known", "waits"
"""What the form holds: a sample to be made, one of the bench file, or one that waits for an engine."""

ABOUT_SAMPLE = ("fill", "build_h", "oil_h", "taken_at", "drawn", "before_top_up", "break_in", "notes")
"""What a sample brings along when it moves to another engine, besides its readings."""
CONFIRM_WORDS = {NEW: "Confirm sample", KNOWN: "Confirm correction", WAITS: "Confirm engine"}
OIL_READINGS = frozenset(
    {"KV40", "KV100", "HTHS", "TBN", "TAN", "Oxidation", "Nitration", "Water", "Glycol", "Soot", "Fuel", "Flash point"}
)
"""Measurands from which on the oil is judged beside the metals."""
ROOM_BESIDE = 116.0
"""A page of less than so many times its type [px a pt] has no room for the call beside the results."""
ONLY_READ = "This file is open to read only: what is typed has its call, but is not on the disk and cannot be kept."
AS_IT_IS = "As it is in the bench file. Change something to correct it; what it was stays in its history."


class EntryPage(QWidget):
    """See the module. Whatever differs from how the form was put in place is `touched`."""

    edited = Signal()
    """A person changed something."""
    sheet_pasted = Signal(str)
    confirmed = Signal(str, bool)
    """The sample of this code is in the bench file; True: it had been waiting for an engine."""

    def __init__(self, session: Any, parent: QWidget | None = None, *, staged: bool = False) -> None:
        """`staged`: whoever makes it goes through `pieces`."""
        super().__init__(parent)
        self._session = session
        self.mode, self.code = NEW, ""
        self._original: Sample | None = None
        self._narrow = False
        self._baseline: tuple[FormText, dict[tuple[str, int], str]] = (FormText(), {})
        self.live = LiveCall(session, self)
        self.live_oil = LiveCall(session, self, oil_worked_out, "oil preview")
        if not staged:
            for _ in self.pieces():
                pass

    def pieces(self) -> Iterator[None]:
        """Makes the page, with a `yield` wherever the window may have a turn."""
        yield from self._build()
        self._listen()
        theme.follow(self, self._fit)
        self._baseline = self._typed()
        yield

    # --- building ----------------------------------------------------------------------------------------------------

    def _build(self) -> Iterator[None]:
        self.head = QLabel(self)
        self.head.setProperty("role", "title")
        self.head.setTextFormat(Qt.TextFormat.PlainText)
        self.form = SampleForm(self)
        yield
        self.results = ResultsPane(self)
        yield
        self.call_panel = CallPanel(self)
        self.history = QListWidget(self)
        self.history.setWordWrap(True)
        self.history.setAccessibleName("History of this sample")
        self.side = QTabWidget(self)
        self.side.setAccessibleName("Call, oil and history")
        self.side.tabBar().setAccessibleName(self.side.accessibleName())
        self.oil_panel = OilPanel(self)
        self.side.addTab(self.call_panel, "Call")
        self.side.addTab(self.oil_panel, "Oil")
        self.side.addTab(self.history, "History")
        self.work, self.splitter = QSplitter(self), QSplitter(self)
        for splitter, parts in (
            (self.work, ((self.results, 6), (self.side, 3))),
            (self.splitter, ((self.form, 1), (self.work, 9))),
        ):
            for number, (widget, share) in enumerate(parts):
                splitter.addWidget(widget)
                splitter.setStretchFactor(number, share)
            splitter.setChildrenCollapsible(False)
            spacing.handle(splitter, 1)
            yield
        letter = self.fontMetrics().averageCharWidth()
        self._share_work()
        self.splitter.setSizes([letter * 30, letter * 130])
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        spacing.between(column, 1)
        column.addWidget(self.head)
        column.addWidget(self.splitter, 1)
        column.addLayout(self._foot())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Where type is large for the window, results and call share one pane; the call's word is on its tab."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        narrow = self.width() < theme.current().points * ROOM_BESIDE
        if narrow == self._narrow:
            return
        self._narrow = narrow
        if narrow:
            self.side.insertTab(0, self.results, "Results")
            self.side.setCurrentWidget(self.results)
        else:
            self.work.insertWidget(0, self.results)
            self.results.setVisible(True)
            self._share_work()
        self._name_call()

    def _share_work(self) -> None:
        letter = self.fontMetrics().averageCharWidth()
        self.work.setSizes([letter * 96, letter * 34])

    def _name_call(self) -> None:
        """The word of the call, where results may stand in front of it."""
        said = f"Call: {self.call_panel.call.call}" if self._narrow and self.call_panel.call else "Call"
        self.side.setTabText(self.side.indexOf(self.call_panel), said)

    def _foot(self) -> QHBoxLayout:
        row = QHBoxLayout()
        spacing.between(row, 1)
        self.missing = QLabel(self)
        self.missing.setWordWrap(True)
        self.missing.setTextFormat(Qt.TextFormat.PlainText)
        self.void_button = QPushButton("Withdraw…", self)
        self.void_button.setToolTip("Hide this sample; it stays in the file with your reason. Undo brings it back.")
        self.confirm_button = QPushButton("Confirm", self)
        self.confirm_button.setToolTip("Write the sample into the bench file (Ctrl+Return)")
        self.confirm_button.setDefault(True)
        row.addWidget(self.missing, 1)
        row.addWidget(self.void_button)
        row.addWidget(self.confirm_button)
        return row

    def _listen(self) -> None:
        self.confirm_button.clicked.connect(self.confirm)
        self.void_button.clicked.connect(self.void)
        self.form.edited.connect(self._edited)
        self.form.whose_changed.connect(self._whose_changed)
        self.form.hours_typed.connect(self._hours_typed)
        self.form.done.connect(self.results.focus)
        self.form.sheet_pasted.connect(self.sheet_pasted)
        self.results.model.edited.connect(self._edited)
        self.results.sheet_pasted.connect(self.sheet_pasted)
        self.results.refused.connect(self._session.problem)
        self.call_panel.trend_asked.connect(self._show_trend)
        self.live.started.connect(self.call_panel.show_working)
        self.live.arrived.connect(self._call_arrived)
        self.live_oil.arrived.connect(self._oil_arrived)
        self.oil_panel.page_asked.connect(self.show_oil)
        self._session.opened_read_only.connect(self._tell)

    # --- what comes into the form ------------------------------------------------------------------------------------

    def start_new(self, engine: str = "") -> None:
        """An empty form, for `engine` or the one at hand."""
        self._start(self._blank(engine))

    def open_known(self, code: str) -> bool:
        """A sample of the bench file, to look at or to correct. False where there is none."""
        found = self._session.fleet.find_sample(code)
        if found is None:
            return False
        engine, build, sample = found
        self._start(text_of(engine.name, build.number, sample), sample, KNOWN)
        self._session.select(engine.name, sample.code)
        return True

    def open_waiting(self, sample: Sample, engine: str = "") -> None:
        """A waiting sample, to be given its engine. `engine`: the one that its export named."""
        text = offers.of_waiting(self._session.fleet, sample, self._at_hand(engine), settings.text("entry/instrument"))
        self._start(text, sample, WAITS)

    def take_draft(self, data: dict[str, Any], waiting: Sequence[Sample]) -> None:
        """A draft back in the form, letter for letter."""
        code, mode = str(data.get("code", "")), str(data.get("mode", NEW))
        known = self._session.fleet.find_sample(code) if mode == KNOWN else None
        waits = next((item for item in waiting if item.code == code), None) if mode == WAITS else None
        original = known[2] if known else waits
        text = text_of(known[0].name, known[1].number, known[2]) if known else self._blank()
        self._start(text, original, mode if original else NEW)
        self.form.set_text(FormText.from_draft(data.get("form") or {}))
        self.results.model.replace_all(results_of(data), units_of(data))
        self._after_start()
        self.edited.emit()

    def draft(self) -> dict[str, Any]:
        """Everything typed, as JSON can say it."""
        model = self.results.model
        return {
            "mode": self.mode,
            "code": self.code,
            "form": self.form.text().as_draft(),
            "results": [[measurand, replicate, text] for (measurand, replicate), text in model.texts().items()],
            "units": model.units(),
        }

    def reread(self, waiting: Sequence[Sample]) -> None:
        """After a change elsewhere: the lists of the form, and the sample at hand where nobody is typing in it."""
        self.form.set_fleet(self._session.fleet, instrument_names(self._session.fleet))
        if not self.touched and self.mode != WAITS:
            if self.mode == NEW or not self.open_known(self.code):
                self.start_new()
            return
        if self.mode == WAITS and all(item.code != self.code for item in waiting):
            self.mode, self.code = NEW, ""  # given to an engine, or gone: what is typed stays as a new sample
        self._pick_fill()
        self._after_start()

    def _at_hand(self, engine: str = "") -> tuple[str, ...]:
        """Names of engines that a sample may be of, the likeliest first."""
        return engine, self._session.selected_engine, settings.text("entry/engine")

    def _blank(self, engine: str = "") -> FormText:
        return offers.blank(self._session.fleet, self._at_hand(engine), settings.text("entry/instrument"))

    def _start(self, text: FormText, original: Sample | None = None, mode: str = NEW) -> None:
        """Puts a form in place as one that nobody has touched yet."""
        self.mode, self._original = mode, original
        self.code = original.code if original else ""
        self.form.set_fleet(self._session.fleet, instrument_names(self._session.fleet))
        self.form.set_text(text)
        self.results.model.show_readings(original.readings if original else ())
        self._baseline = self._typed()
        self._after_start()

    def _after_start(self) -> None:
        heads = {KNOWN: f"Sample {self.code}", WAITS: f"Sample {self.code} waits for an engine"}
        self.head.setText(heads.get(self.mode, "New sample"))
        self.void_button.setVisible(self.mode != NEW)
        self.results.tell()
        self._show_history()
        self._beside()
        self._tell()

    def _typed(self) -> tuple[FormText, dict[tuple[str, int], str]]:
        return self.form.text(), self.results.model.texts()

    @property
    def touched(self) -> bool:
        """Something differs from how the form was put in place."""
        return self._baseline != self._typed()

    # --- where the keyboard goes -------------------------------------------------------------------------------------

    def focus(self) -> None:
        """To where the work begins: the code, the engine of a sample that waits, the results of one that is known."""
        if self.mode == KNOWN:
            self.results.focus_first()
        else:
            self.form.focus("engine" if self.mode == WAITS else "code")

    def next_pane(self) -> None:
        """Form, results, call, and round again."""
        at = self.window().focusWidget() or self
        if self.form.isAncestorOf(at):
            self.results.focus()
        elif self.results.isAncestorOf(at) and self.call_panel.reasons:
            self.side.setCurrentWidget(self.call_panel)
            self.call_panel.reasons[0].button.setFocus(Qt.FocusReason.ShortcutFocusReason)
        else:
            self.form.focus("code")

    # --- typing ------------------------------------------------------------------------------------------------------

    def read(self) -> FormRead:
        """What form and results say together, with every problem."""
        hold = self._original.hold if self._original else ""
        read = read_form(self.form.text(), self.results.model.readings(), self._session.fleet, hold)
        taken = self._taken_by(self.form.text().code.strip())
        if taken:
            return replace(read, sample=None, problems=(*read.problems, FieldProblem("code", taken)))
        return read

    def _taken_by(self, code: str) -> str:
        """Why a code cannot be given to this sample, or ''."""
        if not code or code == self.code:
            return ""
        if self.mode != NEW:
            return f"The code stays “{self.code}”. Withdraw this sample and enter a new one if the code was wrong."
        found = self._session.fleet.find_sample(code)
        if found:
            return f"“{code}” is in the bench file already, on {found[0].name}. Open it there to correct it (Ctrl+F)."
        return ""

    def _edited(self) -> None:
        self.edited.emit()
        self._tell()

    def _tell(self) -> None:
        """Marks what cannot be read, says what is missing, asks for the call."""
        read = self.read()
        untouched = self.mode == NEW and not self.touched
        self.form.set_problems(() if untouched else self._loud(read.problems))
        reasons = self._missing(read)
        if self.mode == KNOWN and not self.touched:
            said = AS_IT_IS
        elif self._read_only:
            said = ONLY_READ
        else:
            said = missing_words(reasons) if reasons else f"Ready to confirm.{self._second_look(read)}"
        self.missing.setText(said)
        self.confirm_button.setText(f"{CONFIRM_WORDS[self.mode]}  (Ctrl+Return)")
        may = not reasons and not self._read_only
        self.confirm_button.setEnabled(may and (self.touched or self.mode == WAITS))
        self._ask_call()

    def _second_look(self, read: FormRead) -> str:
        """What does not go with the rest of the record, where there is something."""
        _, build, _ = self._whose(self.form.text())
        if build is None or read.sample is None:
            return ""
        said = second_look.odd(build, read.sample, dt.datetime.now())  # noqa: DTZ005
        return " ".join((" Look twice:", *said)) if said else ""

    @property
    def _read_only(self) -> bool:
        return self._session.bench is not None and self._session.bench.read_only

    def _loud(self, problems: tuple[FieldProblem, ...]) -> tuple[FieldProblem, ...]:
        """Problems to mark in the form: not yet those of fields that are simply still empty."""
        text = self.form.text()
        return tuple(problem for problem in problems if getattr(text, problem.field).strip())

    def _missing(self, read: FormRead) -> list[str]:
        """What stands between this and a sample, in words."""
        reasons = [problem.reason for problem in read.problems]
        reasons += [f"{cell.measurand} “{cell.text}” cannot be read yet." for cell in self.results.model.problems()]
        return reasons or ([] if self.results.model.readings() else ["There are no results yet."])

    # --- whose it is -------------------------------------------------------------------------------------------------

    def _whose(self, text: FormText) -> tuple[Engine | None, Build | None, Fill | None]:
        engine = find_engine(self._session.fleet, text.engine)
        build = find_build(engine, text.build)
        return engine, build, find_fill(build, text.fill)

    def _whose_changed(self) -> None:
        """Another engine, build or fill: its hours are offered where nobody typed any."""
        text = self.form.text()
        engine, build, fill = self._whose(text)
        if engine is not None:
            self._session.select(engine.name)
        if self.mode != KNOWN:
            offered = offers.with_offers(text, build, fill)
            for name in ("build_h", "oil_h"):
                self._offer(name, getattr(offered, name))
        self._beside()

    def _hours_typed(self) -> None:
        """Build hours were typed: the hours on the oil follow where nobody typed them."""
        read = for_preview(self.form.text(), (), self._session.fleet)
        if read.sample is not None and self.mode != KNOWN:
            _, _, fill = self._whose(self.form.text())
            self._offer("oil_h", offers.oil_hours(read.sample.build_h, fill))
            self._tell()
        self._beside()

    def _offer(self, name: str, text: str) -> None:
        """Puts an offer into a field that nobody typed into, as if it had been there from the start."""
        now, before = getattr(self.form.text(), name), getattr(self._baseline[0], name)
        if not now or now == before:
            self.form.set_field(name, text)
            self._baseline = (replace(self._baseline[0], **{name: text}), self._baseline[1])

    def _pick_fill(self) -> None:
        """A fill that was added while the sample was being typed is taken for it, with its hours."""
        _, build, fill = self._whose(self.form.text())
        if build is not None and build.fills and fill is None:
            self.form.set_field("fill", build.fills[-1].name)
            self._whose_changed()

    def _beside(self) -> None:
        """The sample before and the fresh oil, beside what is typed."""
        text, fleet = self.form.text(), self._session.fleet
        _, build, fill = self._whose(text)
        read = for_preview(text, (), fleet)
        hours = read.sample.build_h if read.sample else None
        self.results.model.set_beside(
            previous_sample(build, self.code, hours), fleet.oils.get(fill.oil) if fill else None
        )

    # --- the live call -----------------------------------------------------------------------------------------------

    def _ask_call(self) -> None:
        readings = self.results.model.readings()
        read = for_preview(self.form.text(), readings, self._session.fleet)
        if read.sample is None or not readings:
            self.live.drop()
            self.live_oil.drop()
            self._no_oil(oil_words.NO_OIL)
            self._no_call(why_no_call(self._session.fleet.engines, read, bool(readings)))
        else:
            self.live.ask(read.engine, read.build, read.sample)
            self._ask_oil(read, read.sample)

    def _ask_oil(self, read: FormRead, sample: Sample) -> None:
        """The oil is judged where something of it is typed."""
        if {reading.measurand for reading in sample.readings} & OIL_READINGS:
            self.live_oil.ask(read.engine, read.build, sample)
        else:
            self.live_oil.drop()
            self._no_oil(oil_words.NO_OIL)

    def _no_oil(self, why: str) -> None:
        self.oil_panel.show_missing(why)
        self._name_oil_tab()

    def _oil_arrived(self, oil: Any | None) -> None:
        if oil is None:
            self._no_oil(oil_words.NO_FILL)
        else:
            self.oil_panel.show_oil(oil)
            self._name_oil_tab()

    def _name_oil_tab(self) -> None:
        """The tab's sign says how the oil stands, whichever tab is in front; its hover says it in words."""
        place, state = self.side.indexOf(self.oil_panel), self.oil_panel.state
        there = self.oil_panel.oil is not None
        self.side.setTabIcon(place, lamp.icon(LAMPS[state]) if there else QIcon())
        self.side.setTabToolTip(place, f"The oil: {oil_words.STATE_WORDS[state]}" if there else "The oil")

    def show_oil(self) -> bool:
        """The page "Oil and film" of what is typed. False where there is no verdict of it."""
        if self.oil_panel.oil is None:
            return False
        from benchapp.window.oil.dialog import OilFilmDialog

        code = self.code or self.form.text().code.strip()
        self._session.ask.show(OilFilmDialog(self._session, self, code, self.oil_panel.oil))
        return True

    def _no_call(self, why: str) -> None:
        self.results.model.set_call(None)
        self.call_panel.show_missing(why)
        self._name_call()

    def _call_arrived(self, result: Call | BenchProblem | None) -> None:
        if isinstance(result, BenchProblem):
            self._no_call(f"{result.what} {result.means} {result.do}")
        elif result is None:
            self._no_call("These results cannot be judged yet. They can be confirmed all the same.")
        else:
            as_it_is = self.mode == KNOWN and not self.touched
            self.results.model.set_call(result)
            self.call_panel.show_call(
                result, "The call as the bench file stands now." if as_it_is else "If it is confirmed like this:"
            )
            self._name_call()

    def _show_trend(self, source: str) -> None:
        if self.call_panel.call is not None:
            self._session.show_trend(self.call_panel.call.engine, source)

    def _show_history(self) -> None:
        self.history.clear()
        lines = self._session.look(verbs.history, self.code) or () if self.code and self._session.bench else ()
        for line in lines:
            self.history.addItem(history_words(line))
        handed_over = self._session.look(calls.issued, self.code) or () if lines else ()
        for issued in handed_over:
            self.history.addItem(issued_words(issued))
        if not lines:
            self.history.addItem("Nothing is in the bench file yet: this is not confirmed.")

    def show_units(self) -> None:
        """Other units were chosen: call and oil are shown in them, what is typed stays."""
        if self.call_panel.call is not None:
            self._call_arrived(self.call_panel.call)
        if self.oil_panel.oil is not None:
            self._oil_arrived(self.oil_panel.oil)

    # --- confirming --------------------------------------------------------------------------------------------------

    def confirm(self) -> None:
        """Writes the sample, all of it or nothing; where something is missing, goes there."""
        self.results.commit()
        read = self.read()
        if self._read_only and read.sample is not None:
            self._write(read, read.sample)  # refused, and why
            return
        if not self.confirm_button.isEnabled() or read.sample is None:
            self._go_to_first_problem(read)
            return
        waited = self.mode == WAITS
        if self._write(read, read.sample):
            settings.keep("entry/engine", read.engine)
            settings.keep("entry/instrument", read.sample.instrument)
            self.open_known(read.sample.code)
            self.confirmed.emit(read.sample.code, waited)

    def _write(self, read: FormRead, sample: Sample) -> bool:
        """Writes the sample; one that was on another engine is moved first. False (and a message) where it failed."""
        before = self._baseline[0]
        if self.mode == KNOWN and (before.engine, before.build) != (read.engine, read.build):
            about = {name: getattr(sample, name) for name in ABOUT_SAMPLE}
            if self._session.run(verbs.assign, sample.code, read.engine, read.build, **about) is None:
                return False
            if sample.readings == (self._original.readings if self._original else ()):
                return True
        correct = self.mode == KNOWN
        return self._session.run(verbs.confirm, read.engine, read.build, sample, correct=correct) is not None

    def _go_to_first_problem(self, read: FormRead) -> None:
        """Confirming was refused: marks every field that lacks something and goes to the first."""
        self.form.set_problems(read.problems)
        cells = self.results.model.problems()
        if read.problems:
            self.form.focus(read.problems[0].field)
        elif cells:
            self.results.go_to(cells[0].measurand, cells[0].replicate)
        elif not self.results.model.readings():
            self.results.focus()

    def void(self) -> None:
        """Hides the sample at hand, with a reason."""
        self.ask_void(self.code)

    def ask_void(self, code: str) -> None:
        """Asks why a sample is void, and voids it."""
        self._session.ask.show(ReasonForm(self._session, code, self))


# --- words and drafts ------------------------------------------------------------------------------------------------


def missing_words(reasons: Sequence[str]) -> str:
    """The first two things that are missing, and how many more there are."""
    more = len(reasons) - 2
    said = "Before it can be confirmed: " + " ".join(reasons[:2])
    return f"{said} And {words.counted(more, 'more thing')}." if more > 0 else said


def history_words(line: verbs.HistoryLine) -> str:
    """One step of a sample's history: when, who, what, and each value before and after."""
    head = f"{words.clock(line.at)}  {line.who}: {line.label}"
    new = [f"{name} {moment_words(after)}" for name, before, after in line.differences if not before]
    changes = [
        f"{name}: {moment_words(before)} → {moment_words(after) or 'nothing'}"
        for name, before, after in line.differences
        if before
    ]
    return "\n".join([head, *changes, *([", ".join(new)] if new else [])])


def issued_words(issued: calls.Issued) -> str:
    """A call that was handed over: when, who, which, and what has changed under it since."""
    head = f"{words.clock(issued.issued_at)}  {issued.who}: handed over the call {issued.call.call}"
    return f"{head}\n{issued.superseded}" if issued.superseded else head


def moment_words(text: str) -> str:
    """A value of the history; a moment in it as the form writes it."""
    return re.sub(r"^(\d{4}-\d\d-\d\d)T(\d\d:\d\d)\S*$", r"\1 \2", text)


def why_no_call(engines: tuple[Engine, ...], read: FormRead, has_readings: bool) -> str:
    """What is still missing for a call, in words."""
    if not engines:
        return "There is no engine on this bench yet. Add one from a family first (Ctrl+N); then its samples get calls."
    if not has_readings:
        return "Type or paste results: the call appears here while you type."
    return " ".join(problem.reason for problem in read.problems[:2])


def results_of(data: dict[str, Any]) -> dict[tuple[str, int], str]:
    """The typed results of a draft; a line that is none is passed over."""
    found = {}
    for line in data.get("results") or ():
        if isinstance(line, list) and len(line) == 3 and isinstance(line[1], int):
            found[str(line[0]), line[1]] = str(line[2])
    return found


def units_of(data: dict[str, Any]) -> dict[str, str]:
    """The units of a draft that differ from the usual ones."""
    units = data.get("units")
    return {str(name): str(unit) for name, unit in units.items()} if isinstance(units, dict) else {}
