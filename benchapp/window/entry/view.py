"""Sample entry: are these numbers right, and whose are they?

Three pages in one place: the form with its results and the live call; the preview of a pasted sheet; work that waits.
Everything typed is a draft on the disk within a second; nothing is a sample before it is confirmed.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, ClassVar

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QAction, QDragEnterEvent, QDropEvent, QGuiApplication, QKeySequence
from PySide6.QtWidgets import (
    QCompleter,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QPushButton,
    QSplitter,
    QStackedWidget,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from benchapp.actions import draft, suggest
from benchapp.actions import paste as paste_verbs
from benchapp.actions import sample as verbs
from benchapp.problems import BenchProblem
from benchapp.records import Build, Call, Engine, Fill, Sample
from benchapp.window import settings, theme
from benchapp.window.dialogs import ask
from benchapp.window.entry import words
from benchapp.window.entry.call_panel import CallPanel
from benchapp.window.entry.form import SampleForm
from benchapp.window.entry.form_text import (
    FieldProblem,
    FormRead,
    FormText,
    find_build,
    find_engine,
    find_fill,
    find_sample,
    for_preview,
    instrument_names,
    previous_sample,
    read_form,
    text_of,
)
from benchapp.window.entry.keeper import DraftKeeper, title_of
from benchapp.window.entry.live import LiveCall
from benchapp.window.entry.paste_page import PastePage
from benchapp.window.entry.reason_form import ReasonForm
from benchapp.window.entry.results_pane import ResultsPane
from benchapp.window.entry.waiting_page import WaitingPage, rows_of
from benchapp.window.view import View

NEW, KNOWN, WAITS = "new", "known", "waits"
"""What the form holds: a sample to be made, one of the bench file, or one that waits for an engine."""

NOT_SHOWN = frozenset({"draft", "mapping", "paste_mapping", "issued_call", "photo"})
"""Nouns that nothing on this screen shows."""
ABOUT_SAMPLE = ("fill", "build_h", "oil_h", "taken_at", "drawn", "before_top_up", "break_in", "notes")
"""What a sample brings along when it moves to another engine, besides its readings."""


class EntryView(View):
    """See the module."""

    title: ClassVar[str] = "Sample entry"
    question: ClassVar[str] = "Are these numbers right, and whose are they?"
    keys: ClassVar[tuple[tuple[str, str], ...]] = (
        ("Ctrl+V", "Paste results: a block into the grid, or a whole sheet into the preview"),
        ("Ctrl+Return", "Confirm the sample, or take what the preview shows"),
        ("Ctrl+B", "New sample"),
        ("Ctrl+F", "Find a sample by its code"),
        ("Ctrl+W", "Samples that wait for an engine, and drafts"),
        ("Ctrl+Shift+O", "Open a spreadsheet or text table of results"),
        ("Enter", "Next field, next result"),
        ("F6", "Form, results, call, and round again"),
        ("Del", "Clear the selected results"),
        ("Ctrl+Z", "Take back the last step: typing first, then what was confirmed"),
        ("Alt+Down", "In the preview: what the column at the cursor means"),
        ("F8", "In the preview: next problem"),
        ("Esc", "Back from the preview or the list; what was pasted stays"),
    )
    help_text: ClassVar[str] = (
        "Type a sample, or paste what the instrument or the lab exports. Nothing counts before you confirm it, and "
        "everything you type is kept as a draft. Cells that cannot be read are marked where they stand and wait. "
        "The call on the right is worked out while you type."
    )

    def __init__(self, session: Any, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.mode, self.code = NEW, ""
        self._original: Sample | None = None
        self._baseline: tuple[Any, ...] = ()
        self._offered: dict[str, Any] | None = None
        self._waiting: tuple[verbs.Waiting, ...] = ()
        self.keeper = DraftKeeper(session, parent=self)
        self.live = LiveCall(session, self)
        self._build()
        self._listen()
        self._add_keys()
        self.setAcceptDrops(True)
        self._name_preview()
        self._set_baseline()

    # --- building ----------------------------------------------------------------------------------------------------

    def _build(self) -> None:
        gap = theme.current().gap_px
        column = QVBoxLayout(self)
        column.setContentsMargins(gap * 2, gap, gap * 2, gap)
        column.setSpacing(gap)
        column.addLayout(self._bar())
        column.addWidget(self._banner())
        self.stack = QStackedWidget(self)
        self.paste_page = PastePage(self.session, self)
        self.waiting_page = WaitingPage(self)
        for page in (self._entry_page(), self.paste_page, self.waiting_page):
            self.stack.addWidget(page)
        column.addWidget(self.stack, 1)

    def _bar(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(theme.current().gap_px)
        self.new_button = self._button(
            "New sample", "An empty form (Ctrl+B). What is typed now is put away as a draft."
        )
        self.paste_button = self._button("Paste results", "From the clipboard (Ctrl+V)")
        self.file_button = self._button("Open table…", "A spreadsheet or text file of results (Ctrl+Shift+O)")
        self.preview_button = self._button("Pasted sheet", "Back to the sheet that is not dealt with yet")
        self.waiting_button = self._button("Waiting", "Samples that wait for an engine, and drafts (Ctrl+W)")
        self.find = QLineEdit(self)
        self.find.setPlaceholderText("Find a sample by its code")
        self.find.setAccessibleName("Find a sample by its code")
        self.find.setToolTip("Type a part of the code and press Enter (Ctrl+F)")
        self.find.setMaximumWidth(self.fontMetrics().averageCharWidth() * 34)
        for widget in (self.new_button, self.paste_button, self.file_button, self.preview_button, self.waiting_button):
            row.addWidget(widget)
        row.addStretch(1)
        row.addWidget(self.find, 1)
        return row

    def _button(self, text: str, why: str) -> QPushButton:
        button = QPushButton(text, self)
        button.setToolTip(why)
        button.setAccessibleDescription(why)
        button.setAutoDefault(False)
        return button

    def _banner(self) -> QFrame:
        self.banner = QFrame(self)
        self.banner.setProperty("role", "message")
        self.banner_words = QLabel(self.banner)
        self.banner_words.setTextFormat(Qt.TextFormat.PlainText)
        self.banner_words.setWordWrap(True)
        self.continue_button = self._button("Continue", "Put the draft into the form")
        self.put_away_button = self._button("Put away", "Keep the draft in the list of waiting work and start afresh")
        row = QHBoxLayout(self.banner)
        row.addWidget(self.banner_words, 1)
        row.addWidget(self.continue_button)
        row.addWidget(self.put_away_button)
        self.banner.setVisible(False)
        return self.banner

    def _entry_page(self) -> QWidget:
        page = QWidget(self)
        self.head = QLabel(page)
        self.head.setProperty("role", "title")
        self.head.setTextFormat(Qt.TextFormat.PlainText)
        self.form = SampleForm(page)
        self.results = ResultsPane(page)
        self.call_panel = CallPanel(page)
        self.history = QListWidget(page)
        self.history.setWordWrap(True)
        self.history.setAccessibleName("History of this sample")
        self.side = QTabWidget(page)
        self.side.addTab(self.call_panel, "Call")
        self.side.addTab(self.history, "History")
        self.splitter = QSplitter(Qt.Orientation.Horizontal, page)
        for number, (widget, share) in enumerate(((self.form, 1), (self.results, 6), (self.side, 3))):
            self.splitter.addWidget(widget)
            self.splitter.setStretchFactor(number, share)
            self.splitter.setCollapsible(number, False)
        letter = self.fontMetrics().averageCharWidth()
        self.splitter.setSizes([letter * 30, letter * 96, letter * 34])
        self.splitter.setHandleWidth(theme.current().gap_px)
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.current().gap_px)
        column.addWidget(self.head)
        column.addWidget(self.splitter, 1)
        column.addLayout(self._foot())
        return page

    def _foot(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(theme.current().gap_px)
        self.missing = QLabel(self)
        self.missing.setWordWrap(True)
        self.missing.setTextFormat(Qt.TextFormat.PlainText)
        self.void_button = self._button(
            "Void…", "Hide this sample; it stays in the file with your reason. Undo brings it back."
        )
        self.confirm_button = self._button("Confirm", "Write the sample into the bench file (Ctrl+Return)")
        self.confirm_button.setDefault(True)
        row.addWidget(self.missing, 1)
        row.addWidget(self.void_button)
        row.addWidget(self.confirm_button)
        return row

    def _listen(self) -> None:
        self.new_button.clicked.connect(self.new_sample)
        self.paste_button.clicked.connect(self.paste_clipboard)
        self.file_button.clicked.connect(self.open_table)
        self.waiting_button.clicked.connect(self.show_waiting)
        self.preview_button.clicked.connect(self.show_preview)
        self.paste_page.held_changed.connect(self._name_preview)
        self.find.returnPressed.connect(self._find)
        self.continue_button.clicked.connect(self.continue_draft)
        self.put_away_button.clicked.connect(self.put_draft_away)
        self.confirm_button.clicked.connect(self.confirm)
        self.void_button.clicked.connect(self.void)
        self.form.edited.connect(self._edited)
        self.form.whose_changed.connect(self._whose_changed)
        self.form.hours_typed.connect(self._offer_oil_hours)
        self.form.done.connect(self.results.focus)
        self.form.sheet_pasted.connect(self.paste_text)
        self.results.model.edited.connect(self._edited)
        self.results.sheet_pasted.connect(self.paste_text)
        self.results.refused.connect(self.session.problem)
        self.live.started.connect(self.call_panel.show_working)
        self.live.arrived.connect(self._call_arrived)
        self.paste_page.closed.connect(self.show_form)
        self.paste_page.taken.connect(self._taken)
        self.waiting_page.closed.connect(self.show_form)
        self.waiting_page.sample_opened.connect(self.open_waiting)
        self.waiting_page.draft_opened.connect(self.open_draft)
        self.waiting_page.sample_voided.connect(self._ask_void)
        self.waiting_page.draft_forgotten.connect(self._forget_draft)

    def _add_keys(self) -> None:
        for key, method in (
            ("Ctrl+V", self.paste_clipboard),
            ("Ctrl+Return", self.confirm),
            ("Ctrl+Enter", self.confirm),
            ("Ctrl+B", self.new_sample),
            ("Ctrl+F", self.find.setFocus),
            ("Ctrl+W", self.show_waiting),
            ("Ctrl+Shift+O", self.open_table),
            ("F6", self.next_pane),
            ("F8", self.paste_page.next_problem),
        ):
            action = QAction(self)
            action.setShortcut(QKeySequence(key))
            action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            action.triggered.connect(method)
            self.addAction(action)

    # --- what the window asks of every view --------------------------------------------------------------------------

    def refresh(self, changed: Any | None) -> None:
        if changed is None:
            self._read_lists()
            self._offer_draft()
            self._start(self._blank())
        elif changed.nouns - NOT_SHOWN:
            self._read_lists()
            self._reread()
            self._edited_or_not()

    def calls_arrived(self) -> None:
        """Nothing here hangs on the fleet's calls: the call of what is typed is worked out by itself."""

    def focus_first(self) -> None:
        if self.stack.currentWidget() is self.paste_page:
            self.paste_page.focus()
        elif self.stack.currentWidget() is self.waiting_page:
            self.waiting_page.focus()
        elif self.banner.isVisible():
            self.continue_button.setFocus()
        else:
            self.form.focus("code")

    def show_engine(self, engine: str, element: str = "") -> None:
        """A new sample of this engine."""
        self.new_sample()
        if engine:
            self._start(self._blank(engine))
            self.form.focus("code")

    def show_sample(self, code: str) -> None:
        """Opens a sample to look at or to correct; '' starts a new one."""
        if not code:
            self.new_sample()
        elif code != self.code or self.mode != KNOWN:
            self._open_code(code)
        self.show_form()

    def take_table_file(self, path: str) -> bool:
        """A spreadsheet dropped on the window: straight into the preview."""
        self.paste_page.take_file(path)
        self._show(self.paste_page)
        return True

    def may_leave(self) -> bool:
        """What is typed is on the disk as a draft before the window goes."""
        self.results.commit()
        self.keeper.flush()
        self.paste_page.flush()
        return True

    # --- pages -------------------------------------------------------------------------------------------------------

    def _show(self, page: QWidget) -> None:
        self.stack.setCurrentWidget(page)
        self.focus_first()

    def show_form(self) -> None:
        """The form, its results and the call."""
        self._show(self.stack.widget(0))

    def show_preview(self) -> None:
        """The pasted sheet that is not dealt with yet."""
        self._show(self.paste_page)

    def _name_preview(self) -> None:
        """The way back to a pasted sheet, for as long as there is one."""
        found = self.paste_page.preview
        problems = len(found.result.problems) if found else 0
        self.preview_button.setVisible(self.paste_page.holds_sheet)
        self.preview_button.setText(
            f"Pasted sheet ({words.counted(problems, 'problem')})" if problems else "Pasted sheet"
        )

    def show_waiting(self) -> None:
        """Samples that wait for an engine, and drafts."""
        self._read_lists()
        self._show(self.waiting_page)

    def next_pane(self) -> None:
        """F6: form, results, call, and round again."""
        if self.stack.currentWidget() is not self.stack.widget(0):
            self.focus_first()
        elif self.form.isAncestorOf(self.focusWidget() or self):
            self.results.focus()
        elif self.results.isAncestorOf(self.focusWidget() or self) and self.call_panel.reasons:
            self.side.setCurrentWidget(self.call_panel)
            self.call_panel.reasons[0].button.setFocus(Qt.FocusReason.ShortcutFocusReason)
        else:
            self.form.focus("code")

    # --- starting, opening -------------------------------------------------------------------------------------------

    def new_sample(self) -> None:
        """An empty form for the engine at hand; what was typed is put away as a draft, never lost."""
        self._make_room()
        self._start(self._blank())
        self.show_form()
        self.form.focus("code")

    def _blank(self, engine: str = "") -> FormText:
        """A new form: the engine at hand, its current build and fill, the hours its runs add up to."""
        fleet = self.session.fleet
        known = [name for name in (engine, self.session.selected_engine, settings.text("entry/engine")) if name]
        found = next((item for item in (find_engine(fleet, name) for name in known) if item), None)
        if found is None and len(fleet.engines) == 1:
            found = fleet.engines[0]
        text = FormText(engine=found.name if found else "", instrument=settings.text("entry/instrument"))
        return self._with_offers(text, found, found.builds[-1] if found and found.builds else None)

    def _with_offers(
        self, text: FormText, engine: Engine | None, build: Build | None, fill: Fill | None = None
    ) -> FormText:
        if build is None:
            return text
        fill = fill or (build.fills[-1] if build.fills else None)
        offer = suggest.hours(build, fill)
        return replace(
            text,
            build=build.number,
            fill=fill.name if fill else "",
            build_h=words.exact(offer.build_h),
            oil_h=words.exact(offer.oil_h),
        )

    def _start(self, text: FormText, original: Sample | None = None, mode: str = NEW) -> None:
        """Puts a form in place as one that nobody has touched yet."""
        self.mode, self._original = mode, original
        self.code = original.code if original else ""
        self.form.set_fleet(self.session.fleet, instrument_names(self.session.fleet))
        self.form.set_text(text)
        self.results.model.show_readings(original.readings if original else ())
        self._set_baseline()
        self._after_start()

    def _set_baseline(self) -> None:
        self._baseline = (self.form.text(), self.results.model.texts())

    def _after_start(self) -> None:
        heads = {
            NEW: "New sample",
            KNOWN: f"Sample {self.code}",
            WAITS: f"Sample {self.code} waits for an engine",
        }
        self.head.setText(heads[self.mode])
        self.void_button.setVisible(self.mode != NEW)
        self.results.tell()
        self._show_history()
        self._beside()
        self._edited_or_not()

    @property
    def touched(self) -> bool:
        """Something differs from how the form was put in place."""
        return self._baseline != (self.form.text(), self.results.model.texts())

    def _make_room(self) -> None:
        """Puts what is typed away as a draft before something else comes into the form."""
        self.results.commit()
        if self.touched:
            self.keeper.put_away(self._draft())
            self.session.note.emit(
                "What you had typed was put away as a draft.", "Nothing is lost.", "Find it under Waiting (Ctrl+W)."
            )
        else:
            self.keeper.drop()
        self._read_lists()

    def _open_code(self, code: str) -> None:
        found = find_sample(self.session.fleet, code)
        if found is not None:
            self._make_room()
            engine, build, sample = found
            self._start(text_of(engine.name, build.number, sample), sample, KNOWN)
            self.session.select(engine.name, sample.code)
        elif any(item.sample.code == code for item in self._waiting):
            self.open_waiting(code)
        else:
            self.session.problem.emit(
                BenchProblem(
                    f"No sample is called “{code}”.",
                    "The form is as it was.",
                    "Check the code on the bottle, or start a new sample (Ctrl+B).",
                )
            )

    def open_waiting(self, code: str) -> None:
        """Brings a waiting sample into the form, to be given its engine."""
        item = next((item for item in self._waiting if item.sample.code == code), None)
        if item is None:
            return
        self._make_room()
        offer = self._blank()
        own = text_of("", "", item.sample)
        text = replace(
            offer,
            code=own.code,
            taken_at=own.taken_at,
            drawn=own.drawn,
            before_top_up=own.before_top_up,
            instrument=own.instrument or offer.instrument,
            notes=own.notes,
            break_in=own.break_in,
        )
        self._start(text, item.sample, WAITS)
        self.show_form()
        self.form.focus("engine")

    def _find(self) -> None:
        code = self.find.text().strip()
        if code:
            self.show_sample(code)
            self.find.clear()

    # --- drafts ------------------------------------------------------------------------------------------------------

    def _draft(self) -> dict[str, Any]:
        model = self.results.model
        return {
            "mode": self.mode,
            "code": self.code,
            "form": self.form.text().as_draft(),
            "results": [[measurand, replicate, text] for (measurand, replicate), text in model.texts().items()],
            "units": model.units(),
        }

    def _offer_draft(self) -> None:
        """What was typed or pasted when the window last closed is offered again; a pasted sheet is put back at once."""
        sheet = self.paste_page.keeper.found()
        back = bool(sheet) and self.paste_page.restore(sheet)
        self._name_preview()
        self._offered = self.keeper.found() or None
        self.banner.setVisible(self._offered is not None or back)
        self.put_away_button.setVisible(self._offered is not None)
        said = []
        if self._offered is not None:
            said.append(f"A draft is here: {title_of(self._offered)}. It was typed before the window closed.")
        if back:
            said.append("A pasted sheet is here that was not dealt with before the window closed.")
        self.banner_words.setText(" ".join([*said, "Nothing of it is confirmed."]))

    def continue_draft(self) -> None:
        """Puts the draft that was found back into the form, letter for letter."""
        data, self._offered = self._offered, None
        self.banner.setVisible(False)
        if data is not None:
            self._put_draft(data)
        elif self.paste_page.holds_sheet:
            self.show_preview()

    def put_draft_away(self) -> None:
        """Lays the draft that was found into the list of waiting work."""
        data, self._offered = self._offered, None
        self.banner.setVisible(False)
        if data is not None:
            self.keeper.put_away(data)
            self._read_lists()
        self.form.focus("code")

    def open_draft(self, key: str) -> None:
        """Takes up a draft that was put away."""
        self._make_room()
        data = self.keeper.take_up(key)
        if data:
            self._put_draft(data)
        self._read_lists()

    def _put_draft(self, data: dict[str, Any]) -> None:
        code = str(data.get("code", ""))
        mode = str(data.get("mode", NEW))
        known = find_sample(self.session.fleet, code) if mode == KNOWN else None
        waits = (
            next((item.sample for item in self._waiting if item.sample.code == code), None) if mode == WAITS else None
        )
        original = known[2] if known else waits
        self._start(self._blank(), original, mode if original else NEW)
        self.form.set_text(FormText.from_draft(data.get("form") or {}))
        self.results.model.replace_all(results_of(data), units_of(data))
        self._after_start()
        self._edited()
        self.show_form()
        self.results.focus()

    def _forget_draft(self, key: str) -> None:
        agreed = self.session.ask.confirm(
            self, "Forget this draft?", "What was typed in it is gone for good; it was never confirmed.", "Forget it"
        )
        if agreed:
            self.session.look(draft.drop, key)
            self._read_lists()

    # --- typing ------------------------------------------------------------------------------------------------------

    def read(self) -> FormRead:
        """What form and results say together, with every problem."""
        read = read_form(self.form.text(), self.results.model.readings(), self.session.fleet, self._hold())
        taken = self._taken_by(self.form.text().code.strip())
        if taken:
            return replace(read, sample=None, problems=(*read.problems, FieldProblem("code", taken)))
        return read

    def _hold(self) -> str:
        return self._original.hold if self._original else ""

    def _taken_by(self, code: str) -> str:
        """Why a code cannot be given to this sample, or ''."""
        if not code or code == self.code:
            return ""
        if self.mode != NEW:
            return f"The code stays “{self.code}”. Void this sample and enter a new one if the code was wrong."
        found = find_sample(self.session.fleet, code)
        if found:
            return f"“{code}” is in the bench file already, on {found[0].name}. Open it there to correct it (Ctrl+F)."
        return ""

    def _edited(self) -> None:
        if self._offered is not None and self.touched:  # someone types on: the draft found is kept aside, not lost
            self.put_draft_away()
        if self.touched:
            self.keeper.keep(self._draft())
        else:
            self.keeper.drop()
        self._edited_or_not()

    def _edited_or_not(self) -> None:
        read = self.read()
        untouched = self.mode == NEW and not self.touched
        self.form.set_problems(() if untouched else self._loud(read.problems))
        self._say_missing(read)
        self._ask_call()

    def _loud(self, problems: tuple[FieldProblem, ...]) -> tuple[FieldProblem, ...]:
        """Problems to mark in the form: not yet those of fields that are simply still empty."""
        text = self.form.text()
        return tuple(problem for problem in problems if getattr(text, problem.field).strip())

    def _say_missing(self, read: FormRead) -> None:
        cells = self.results.model.problems()
        changed = self.touched or self.mode == WAITS
        reasons = [problem.reason for problem in read.problems]
        reasons += [f"{cell.measurand} “{cell.text}” cannot be read yet." for cell in cells]
        if not reasons and not self.results.model.readings():
            reasons = ["There are no results yet."]
        ready = changed and not reasons
        if self.mode == KNOWN and not self.touched:
            said = "As it is in the bench file. Change something to correct it; what it was stays in its history."
        elif reasons:
            said = "Before it can be confirmed: " + " ".join(reasons[:2])
            said += f" And {words.counted(len(reasons) - 2, 'more thing')}." if len(reasons) > 2 else ""
        else:
            said = "Ready to confirm."
        self.missing.setText(said)
        self.confirm_button.setText(self._confirm_words())
        self.confirm_button.setEnabled(ready)

    def _confirm_words(self) -> str:
        return {NEW: "Confirm sample", KNOWN: "Confirm correction", WAITS: "Confirm engine"}[
            self.mode
        ] + "  (Ctrl+Return)"

    def _whose_changed(self) -> None:
        """Another engine, build or fill: its hours are offered where nobody typed any."""
        text = self.form.text()
        engine = find_engine(self.session.fleet, text.engine)
        build = find_build(engine, text.build)
        if engine is not None:
            self.session.select(engine.name)
        if self.mode != KNOWN:
            offered = self._with_offers(text, engine, build, find_fill(build, text.fill))
            before = self._baseline[0] if self._baseline else FormText()
            for name in ("build_h", "oil_h"):
                if getattr(text, name) == getattr(before, name) or not getattr(text, name):
                    self.form.set_field(name, getattr(offered, name))
                    before = replace(before, **{name: getattr(offered, name)})
            self._baseline = (before, *self._baseline[1:])
        self._beside()

    def _offer_oil_hours(self) -> None:
        """Build hours were typed: the hours on the oil follow where nobody typed them."""
        read = for_preview(self.form.text(), (), self.session.fleet)
        text = self.form.text()
        untyped = not text.oil_h or text.oil_h == self._baseline[0].oil_h
        if read.sample is not None and untyped and self.mode != KNOWN:
            fill = self._fill(text)
            offered = words.exact(suggest.oil_hours(read.sample.build_h, fill))
            self.form.set_field("oil_h", offered)
            self._baseline = (replace(self._baseline[0], oil_h=offered), *self._baseline[1:])

    def _fill(self, text: FormText) -> Fill | None:
        build = find_build(find_engine(self.session.fleet, text.engine), text.build)
        return find_fill(build, text.fill)

    def _beside(self) -> None:
        """The sample before and the fresh oil, beside what is typed."""
        text, fleet = self.form.text(), self.session.fleet
        build = find_build(find_engine(fleet, text.engine), text.build)
        read = for_preview(text, (), fleet)
        hours = read.sample.build_h if read.sample else None
        fill = find_fill(build, text.fill)
        fresh = fleet.oils.get(fill.oil) if fill else None
        self.results.model.set_beside(previous_sample(build, self.code, hours), fresh)

    # --- the live call -----------------------------------------------------------------------------------------------

    def _ask_call(self) -> None:
        readings = self.results.model.readings()
        read = for_preview(self.form.text(), readings, self.session.fleet)
        if read.sample is None or not readings:
            self.live.drop()
            self.results.model.set_call(None)
            self.call_panel.show_missing(why_no_call(self.session.fleet.engines, read, bool(readings)))
            return
        self.live.ask(read.engine, read.build, read.sample)

    def _call_arrived(self, result: Call | BenchProblem | None) -> None:
        if isinstance(result, BenchProblem):
            self.results.model.set_call(None)
            self.call_panel.show_missing(f"{result.what} {result.means} {result.do}")
        elif result is None:
            self.results.model.set_call(None)
            self.call_panel.show_missing("These results cannot be judged yet. They can be confirmed all the same.")
        else:
            self.results.model.set_call(result)
            self.call_panel.show_call(result, self._call_state())

    def _call_state(self) -> str:
        if self.mode == KNOWN and not self.touched:
            return "The call as the bench file stands now."
        return "If it is confirmed like this:"

    # --- lists and history -------------------------------------------------------------------------------------------

    def _read_lists(self) -> None:
        self._waiting = self.session.look(verbs.waiting) or () if self.session.bench else ()
        drafts = self.keeper.put_aside() if self.session.bench else ()
        self.waiting_page.show_rows(rows_of(self._waiting, drafts))
        count = len(self._waiting) + len(drafts)
        self.waiting_button.setText(f"Waiting ({count})" if count else "Waiting")
        codes = [
            sample.code for engine in self.session.fleet.engines for build in engine.builds for sample in build.samples
        ]
        completer = QCompleter(codes + [item.sample.code for item in self._waiting], self.find)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        completer.setFilterMode(Qt.MatchFlag.MatchContains)
        self.find.setCompleter(completer)
        self.paste_page.set_known(
            codes, [item.sample.code for item in self._waiting], instrument_names(self.session.fleet)
        )

    def _reread(self) -> None:
        """After a change elsewhere: the lists of the form, and the sample at hand where nobody is typing in it."""
        self.form.set_fleet(self.session.fleet, instrument_names(self.session.fleet))
        if self.mode == KNOWN and not self.touched:
            found = find_sample(self.session.fleet, self.code)
            if found is None:
                self._start(self._blank())
            else:
                self._start(text_of(found[0].name, found[1].number, found[2]), found[2], KNOWN)
        elif self.mode == NEW and not self.touched:
            self._start(self._blank())
        elif self.mode == WAITS and all(item.sample.code != self.code for item in self._waiting):
            self.mode = NEW
            self._after_start()
        else:
            self._pick_fill()
            self._beside()

    def _pick_fill(self) -> None:
        """A fill that was added while the sample was being typed is taken for it, with its hours."""
        text = self.form.text()
        build = find_build(find_engine(self.session.fleet, text.engine), text.build)
        if build is not None and build.fills and find_fill(build, text.fill) is None:
            self.form.set_field("fill", build.fills[-1].name)
            self._whose_changed()

    def _show_history(self) -> None:
        self.history.clear()
        lines = self.session.look(verbs.history, self.code) or () if self.code and self.session.bench else ()
        for line in lines:
            what = "; ".join(
                f"{name}: {before or 'nothing'} → {after or 'nothing'}" for name, before, after in line.differences
            )
            self.history.addItem(
                f"{line.at[:16].replace('T', ' ')}  {line.who}: {line.label}" + (f"\n{what}" if what else "")
            )
        if not lines:
            self.history.addItem("Nothing is in the bench file yet: this is not confirmed.")

    # --- confirming --------------------------------------------------------------------------------------------------

    def confirm(self) -> None:
        """Writes what is shown, all of it or nothing: the form's sample, or on the preview what was pasted."""
        if self.stack.currentWidget() is self.paste_page:
            self.paste_page.confirm()
            return
        if self.stack.currentWidget() is not self.stack.widget(0):
            return
        self.results.commit()
        read = self.read()
        if not self.confirm_button.isEnabled() or read.sample is None:
            self._go_to_first_problem(read)
            return
        if self._write(read):
            self._confirmed(read)

    def _write(self, read: FormRead) -> bool:
        """Writes the sample; one that was on another engine is moved first. False (and a message) where it failed."""
        sample = read.sample
        assert sample is not None
        before = self._baseline[0]
        if self.mode == KNOWN and (before.engine, before.build) != (read.engine, read.build):
            about = {name: getattr(sample, name) for name in ABOUT_SAMPLE}
            if self.session.run(verbs.assign, sample.code, read.engine, read.build, **about) is None:
                return False
            if sample.readings == (self._original.readings if self._original else ()):
                return True
        correct = self.mode == KNOWN
        return self.session.run(verbs.confirm, read.engine, read.build, sample, correct=correct) is not None

    def _confirmed(self, read: FormRead) -> None:
        assert read.sample is not None
        waited = self.mode == WAITS
        self.keeper.drop()
        settings.keep("entry/engine", read.engine)
        settings.keep("entry/instrument", read.sample.instrument)
        self._read_lists()
        found = find_sample(self.session.fleet, read.sample.code)
        if found:
            self._start(text_of(found[0].name, found[1].number, found[2]), found[2], KNOWN)
            self.session.select(found[0].name, found[2].code)
        left = (
            f"{words.counted(len(self._waiting), 'sample')} still to be given an engine (Ctrl+W)."
            if self._waiting
            else ""
        )
        self.session.note.emit(
            f"Sample {read.sample.code} is saved.",
            f"Its call stands on the right. {left if waited else ''}".strip(),
            "",
        )
        self.results.focus()

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
        self._ask_void(self.code)

    def _ask_void(self, code: str) -> None:
        self.session.ask.show(ReasonForm(self.session, code, self))

    # --- pasting -----------------------------------------------------------------------------------------------------

    def paste_clipboard(self) -> None:
        """Takes what is on the clipboard: into the grid where it is a plain block, else into the preview."""
        text = QGuiApplication.clipboard().text()
        if not text.strip():
            self.session.problem.emit(
                BenchProblem(
                    "There is no table on the clipboard.",
                    "Nothing was changed.",
                    "Copy the cells in the spreadsheet first.",
                )
            )
        elif self.stack.currentWidget() is self.stack.widget(0):
            self.results.paste(text)
        else:
            self.paste_text(text)

    def paste_text(self, text: str) -> None:
        """Shows a copied sheet in the preview."""
        self.paste_page.take_text(text)
        self._show(self.paste_page)

    def open_table(self) -> None:
        """Asks for a table file and shows it in the preview."""
        path = self.session.ask.open_file(self, "Open a table of results", ask.TABLES, settings.text("entry/folder"))
        if path:
            self.take_table_file(path)

    def _taken(self, taken: paste_verbs.Taken) -> None:
        """What was pasted is in the bench file: on to the sample with its call, or to the first that waits."""
        self._read_lists()
        known = [code for code in taken.samples if code not in taken.waiting]
        if known:
            self._open_code(known[-1])
            self.show_form()
            self.results.focus()
        elif taken.waiting:
            self.open_waiting(taken.waiting[0])
        else:
            self.show_form()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if event.mimeData().hasText() and not event.mimeData().hasUrls():
            event.acceptProposedAction()  # cells dragged from a spreadsheet; files are the window's

    def dropEvent(self, event: QDropEvent) -> None:
        text = event.mimeData().text()
        if text.strip():
            event.acceptProposedAction()
            self.paste_text(text)

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Hide:
            self.results.commit()
        return super().event(event)


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
    units = data.get("units")
    return {str(name): str(unit) for name, unit in units.items()} if isinstance(units, dict) else {}
