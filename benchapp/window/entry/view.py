"""Sample entry: are these numbers right, and whose are they?

Three pages in one place: the form with its results and the live call; the preview of a pasted sheet; work that waits.
Everything typed is a draft on the disk within a second; nothing is a sample before it is confirmed.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, ClassVar

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QAction, QDragEnterEvent, QDropEvent, QGuiApplication, QKeySequence
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchapp.actions import draft
from benchapp.actions import paste as paste_verbs
from benchapp.actions import sample as verbs
from benchapp.problems import BenchProblem
from benchapp.records import Sample
from benchapp.window import settings, spacing
from benchapp.window.dialogs import ask
from benchapp.window.entry import words
from benchapp.window.entry.bar import Banner, Bar
from benchapp.window.entry.entry_page import KNOWN, EntryPage
from benchapp.window.entry.form_text import instrument_names
from benchapp.window.entry.keeper import DraftKeeper, title_of
from benchapp.window.entry.paste_page import PastePage
from benchapp.window.entry.waiting_page import WaitingPage, rows_of
from benchapp.window.view import View
from benchapp.window.whole import PageAtHand

NOT_SHOWN = frozenset({"draft", "mapping", "paste_mapping", "issued_call", "photo"})
"""Nouns that nothing on this screen shows."""


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

    def pieces(self) -> Iterator[None]:
        session = self.session
        self._offered: dict[str, Any] | None = None
        self._waiting: tuple[Sample, ...] = ()
        self.keeper = DraftKeeper(session, parent=self)
        self.bar, self.banner = Bar(self), Banner(self)
        yield
        self.entry = EntryPage(session, self, staged=True)
        yield from self.entry.pieces()
        self.paste_page = PastePage(session, self)
        yield
        self.waiting_page = WaitingPage(self)
        self.stack = PageAtHand(self)
        yield
        for page in (self.entry, self.paste_page, self.waiting_page):
            self.stack.addWidget(page)
            yield
        column = QVBoxLayout(self)
        spacing.around(column, 2, 1, 2, 1)
        spacing.between(column, 1)
        column.addWidget(self.bar)
        column.addWidget(self.banner)
        column.addWidget(self.stack, 1)
        self._listen()
        self._add_keys()
        self.setAcceptDrops(True)

    def _listen(self) -> None:
        self.bar.new.clicked.connect(self.new_sample)
        self.bar.paste.clicked.connect(self.paste_clipboard)
        self.bar.file.clicked.connect(self.open_table)
        self.bar.preview.clicked.connect(self.show_preview)
        self.bar.waiting.clicked.connect(self.show_waiting)
        self.bar.sought.connect(self.show_sample)
        self.banner.go_on.clicked.connect(self.continue_draft)
        self.banner.put_away.clicked.connect(self.put_draft_away)
        self.entry.edited.connect(self._edited)
        self.entry.sheet_pasted.connect(self.paste_text)
        self.entry.confirmed.connect(self._confirmed)
        self.paste_page.held_changed.connect(self._name_preview)
        self.paste_page.closed.connect(self.show_form)
        self.paste_page.taken.connect(self._taken)
        self.waiting_page.closed.connect(self.show_form)
        self.waiting_page.sample_opened.connect(self.open_waiting)
        self.waiting_page.draft_opened.connect(self.open_draft)
        self.waiting_page.sample_voided.connect(self.entry.ask_void)
        self.waiting_page.draft_forgotten.connect(self._forget_draft)

    def _add_keys(self) -> None:
        for key, method in (
            ("Ctrl+V", self.paste_clipboard),
            ("Ctrl+Return", self.confirm),
            ("Ctrl+Enter", self.confirm),
            ("Ctrl+B", self.new_sample),
            ("Ctrl+F", self.bar.find.setFocus),
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
            self.entry.start_new()
        elif changed.nouns - NOT_SHOWN:
            self._read_lists()
            self.entry.reread(self._waiting)

    def show_units(self) -> None:
        self.entry.show_units()

    def calls_arrived(self) -> None:
        """Nothing here hangs on the fleet's calls: the call of what is typed is worked out by itself."""

    def focus_first(self) -> None:
        if self.stack.currentWidget() is self.entry and self.banner.isVisible():
            self.banner.go_on.setFocus()
        else:
            self._page().focus()

    def show_engine(self, engine: str, element: str = "") -> None:
        """A new sample of this engine."""
        self._make_room()
        self.entry.start_new(engine)
        self.show_form()

    def show_sample(self, code: str) -> None:
        """Opens a sample to look at or to correct; '' starts a new one."""
        if not code:
            self.new_sample()
        elif code == self.entry.code and self.entry.mode == KNOWN:
            self.show_form()
        elif any(item.code == code for item in self._waiting):
            self.open_waiting(code)
        else:
            self._open_known(code)

    def take_table_file(self, path: str) -> bool:
        """A spreadsheet dropped on the window: straight into the preview."""
        self.paste_page.take_file(path)
        self.show_preview()
        return True

    def may_leave(self) -> bool:
        """What is typed is on the disk as a draft before the window goes."""
        self.entry.results.commit()
        self.keeper.flush()
        self.paste_page.flush()
        return True

    # --- pages -------------------------------------------------------------------------------------------------------

    def _page(self) -> Any:
        return self.stack.currentWidget()

    def _show(self, page: QWidget) -> None:
        self.stack.setCurrentWidget(page)
        self._page().focus()

    def show_form(self) -> None:
        """The form, its results and the call."""
        self._show(self.entry)

    def show_preview(self) -> None:
        """The pasted sheet that is not dealt with yet."""
        self._show(self.paste_page)

    def show_waiting(self) -> None:
        """Samples that wait for an engine, and drafts."""
        self._read_lists()
        self._show(self.waiting_page)

    def next_pane(self) -> None:
        """F6: form, results, call, and round again."""
        if self._page() is self.entry:
            self.entry.next_pane()
        else:
            self._page().focus()

    def confirm(self) -> None:
        """Writes what is shown, all of it or nothing: the form's sample, or on the preview what was pasted."""
        if self._page() is not self.waiting_page:
            self._page().confirm()

    def show_oil(self) -> bool:
        """The page "Oil and film" of what is typed; False where the form is not in front or has no verdict."""
        return self._page() is self.entry and self.entry.show_oil()

    def _name_preview(self) -> None:
        found = self.paste_page.preview
        self.bar.tell_sheet(there=self.paste_page.holds_sheet, problems=len(found.result.problems) if found else 0)

    def _read_lists(self) -> None:
        """Reads what waits and which codes there are, for the list, the search and the preview."""
        is_open = self.session.bench is not None
        waiting = self.session.look(verbs.waiting) or () if is_open else ()
        drafts = self.keeper.put_aside() if is_open else ()
        self._waiting = tuple(item.sample for item in waiting)
        self.waiting_page.show_rows(rows_of(waiting, drafts))
        self.bar.tell_waiting(len(waiting) + len(drafts))
        fleet = self.session.fleet
        known = [item.code for engine in fleet.engines for build in engine.builds for item in build.samples]
        waits = [item.code for item in self._waiting]
        self.bar.offer_codes([*known, *waits])
        self.paste_page.set_known(known, waits, instrument_names(fleet))

    # --- starting, opening -------------------------------------------------------------------------------------------

    def new_sample(self) -> None:
        """An empty form for the engine at hand; what was typed is put away as a draft, never lost."""
        self._make_room()
        self.entry.start_new()
        self.show_form()

    def _open_known(self, code: str) -> None:
        self._make_room()
        if self.entry.open_known(code):
            self.show_form()
            return
        self.session.problem.emit(
            BenchProblem(
                f"No sample is called “{code}”.",
                "Nothing was changed.",
                "Check the code on the bottle, or start a new sample (Ctrl+B).",
            )
        )

    def open_waiting(self, code: str) -> None:
        """Brings a waiting sample into the form, to be given its engine."""
        item = next((item for item in self._waiting if item.code == code), None)
        if item is not None:
            self._make_room()
            self.entry.open_waiting(item, self.paste_page.engines_said.get(code, ""))
            self.show_form()

    def _confirmed(self, code: str, waited: bool) -> None:
        self.keeper.drop()
        self._read_lists()
        left = len(self._waiting)
        more = f" {words.counted(left, 'sample')} still to be given an engine (Ctrl+W)." if waited and left else ""
        self.session.note.emit(f"Sample {code} is saved.", f"Its call stands on the right.{more}", "")
        self.entry.focus()

    # --- drafts ------------------------------------------------------------------------------------------------------

    def _edited(self) -> None:
        if not self.entry.touched:
            if self._offered is None:
                self.keeper.drop()
            return
        if self._offered is not None:  # someone types on: the draft that was found is kept aside, not lost
            self._lay_aside()
            self.session.note.emit("The draft was put away.", "Nothing is lost.", "Find it under Waiting (Ctrl+W).")
        self.keeper.keep(self.entry.draft())

    def _make_room(self) -> None:
        """Puts what is typed away as a draft before something else comes into the form."""
        self.entry.results.commit()
        self._lay_aside()
        if self.entry.touched:
            self.keeper.put_away(self.entry.draft())
            self.session.note.emit(
                "What you had typed was put away as a draft.", "Nothing is lost.", "Find it under Waiting (Ctrl+W)."
            )
        else:
            self.keeper.drop()
        self._read_lists()

    def _offer_draft(self) -> None:
        """What was typed or pasted when the window last closed is offered again; a pasted sheet is put back at once."""
        sheet = self.paste_page.keeper.found()
        back = bool(sheet) and self.paste_page.restore(sheet)
        self._name_preview()
        self._offered = self.keeper.found() or None
        self.banner.offer(title_of(self._offered) if self._offered else "", sheet=back)

    def continue_draft(self) -> None:
        """Puts the draft that was found back into the form; without one, goes to the pasted sheet."""
        data, self._offered = self._offered, None
        self.banner.setVisible(False)
        if data is not None:
            self._put_draft(data)
        elif self.paste_page.holds_sheet:
            self.show_preview()

    def put_draft_away(self) -> None:
        """Lays the draft that was found into the list of waiting work."""
        self._lay_aside()
        self._read_lists()
        self.show_form()

    def _lay_aside(self) -> None:
        data, self._offered = self._offered, None
        self.banner.setVisible(False)
        if data is not None:
            self.keeper.put_away(data)

    def open_draft(self, key: str) -> None:
        """Takes up a draft that was put away."""
        self._make_room()
        data = self.keeper.take_up(key)
        if data:
            self._put_draft(data)
        self._read_lists()

    def _put_draft(self, data: dict[str, Any]) -> None:
        self.entry.take_draft(data, self._waiting)
        self._show(self.entry)
        self.entry.results.focus()

    def _forget_draft(self, key: str) -> None:
        agreed = self.session.ask.confirm(
            self, "Forget this draft?", "What was typed in it is gone for good; it was never confirmed.", "Forget it"
        )
        if agreed:
            self.session.look(draft.drop, key)
            self._read_lists()

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
        elif self._page() is self.entry:
            self.entry.results.paste(text)
        else:
            self.paste_text(text)

    def paste_text(self, text: str) -> None:
        """Shows a copied sheet in the preview."""
        self.paste_page.take_text(text)
        self.show_preview()

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
            self._open_known(known[-1])
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
            self.entry.results.commit()
        return super().event(event)
