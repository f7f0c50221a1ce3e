"""What the main window opens for the menus that is no view: labels, the day's page, the search, the reading room."""

from __future__ import annotations

from functools import partial
from typing import Any

from PySide6.QtWidgets import QApplication

from benchapp.problems import BenchProblem

NO_ENGINE = "No engine is picked."


class Errands:
    """Methods of the main window, named by its menus. Each opens one dialog, loaded when first asked for."""

    session: Any
    menus: Any
    entries: Any
    made: Any
    current_key: Any
    _latest_sample: Any

    # --- paper --------------------------------------------------------------------------------------------------------

    def print_labels(self) -> None:
        """Bottle labels for the engine at hand."""
        if not self._engine_at_hand():
            return
        from benchapp.window.dialogs.labels import LabelsDialog

        self._show(LabelsDialog, code=self.session.selected_sample)

    def print_day(self) -> None:
        """All cars and their calls on one page."""
        if not self.session.fleet.engines:
            self.session.note.emit("There is no engine in this bench file yet.", "", "Add one first (Ctrl+N).")
            return
        if self.session.being_judged():
            self.session.note.emit("Some samples are still being judged.", "", "Print the day in a moment.")
            return
        from benchapp.window.dialogs.day import DayDialog

        self._show(DayDialog)

    def print_card(self) -> None:
        """The sampling card."""
        from benchapp.window.dialogs.day import CardDialog

        self._show(CardDialog)

    # --- lists --------------------------------------------------------------------------------------------------------

    def show_due(self) -> None:
        """Engines due, samples to measure, results without an engine."""
        from benchapp.window.dialogs.lists import DueDialog

        self._show(DueDialog)

    def show_oil(self) -> None:
        """Oil and film of the sample at hand: of what is typed, where sample entry is in front."""
        asked = getattr(self.made.get(self.current_key), "show_oil", None)
        if asked is not None and asked():
            return
        code = self.session.selected_sample or self._latest_sample()
        if not code:
            self.session.note.emit(
                "There is no sample at hand.", "", "Pick an engine with a sample in the fleet (Ctrl+1) first."
            )
            return
        from benchapp.window.oil.dialog import OilFilmDialog

        self._show(OilFilmDialog, code=code)

    def show_record(self) -> None:
        """How good were our calls."""
        from benchapp.window.dialogs.lists import RecordDialog

        self._show(RecordDialog)

    # --- search -------------------------------------------------------------------------------------------------------

    def search(self) -> None:
        """Search everything (Ctrl+K)."""
        from benchapp.actions import explain, sample, search
        from benchapp.window.search import SearchDialog

        waiting = self.session.look(sample.waiting) or ()
        hits = (
            *search.of_fleet(self.session.fleet, [line.sample.code for line in waiting]),
            *(search.Hit(search.VIEW, each.key, each.title, each.shortcut) for each in self.entries),
            *self._action_hits(),
            *search.of_topics(explain.topics(self.session.library, self.session.fleet)),
        )
        codes = [hit.key for hit in hits if hit.kind == search.SAMPLE]
        may_write = self.session.bench is not None and not self.session.bench.read_only
        last = partial(search.new_sample, known=codes) if may_write else None
        self.session.ask.show(SearchDialog(search.Index(hits), self.open_hit, self, last))

    def _action_hits(self) -> list[Any]:
        from benchapp.actions.search import ACTION, Hit

        return [
            Hit(ACTION, method, action.text().replace("&", "").rstrip("…"), action.toolTip())
            for method, action in self.menus.actions.items()
            if action.isEnabled() and not method.startswith("view ") and method != "search"
        ]

    def open_hit(self, hit: Any) -> None:
        """Opens what was picked in the search, where one works on it."""
        from benchapp.actions import search

        if hit.kind == search.SAMPLE:
            self.session.open_sample(hit.key)
        elif hit.kind == search.NEW:
            self._new_sample(hit.key)
        elif hit.kind == search.ENGINE:
            self.session.show_engine(hit.key)
        elif hit.kind == search.VIEW:
            self.show_view(hit.key)
        elif hit.kind == search.ACTION:
            self.menus.actions[hit.key].trigger()
        elif hit.kind == search.PART:
            engine, _, part = hit.key.partition("/")
            self.session.show_engine(engine)
            self.view("fleet").show_part(part)
        else:
            self.read_about(hit.key)

    def _new_sample(self, code: str) -> None:
        """A new sample with the code of its bottle, for the engine whose codes go on so."""
        from benchapp.actions import labels

        self.session.new_sample(labels.engine_of(self.session.bench, code) or self.session.selected_engine)
        form = self.view("entry").entry.form
        form.set_field("code", code)
        form.edited.emit()

    # --- reading room -------------------------------------------------------------------------------------------------

    def read_up(self) -> None:
        """The reading room, from its beginning."""
        self.read_about("")

    def read_here(self) -> None:
        """The reading room at the word under the keyboard."""
        from benchapp.window.reading import where

        self.read_about(*where.words_at(QApplication.focusWidget()))

    def read_about(self, *words: str, above: Any = None) -> None:
        """The reading room at the first of these words that it has, above a form where one is open."""
        from benchapp.actions import explain
        from benchapp.window.reading.dialog import ReadingRoom

        fleet = self.session.fleet if self.session.bench is not None else None
        topics = explain.topics(self.session.library, fleet)
        word = next((word for word in words if explain.find(topics, word)), "")
        self.session.ask.show(ReadingRoom(self.session, above or self, word=word))

    # --- tables -------------------------------------------------------------------------------------------------------

    def export_shown(self, table: Any) -> None:
        """Writes any table as it stands on the screen."""
        from benchapp.window.dialogs.export import export_rows

        export_rows(self.session, table.window(), table.accessibleName(), table)

    def _engine_at_hand(self) -> bool:
        names = [engine.name for engine in self.session.fleet.engines]
        if self.session.selected_engine in names:
            return True
        self.session.note.emit(NO_ENGINE, "", "Pick the engine in the fleet (Ctrl+1), or add one (Ctrl+N).")
        return False

    def _show(self, kind: Any, **more: Any) -> None:
        try:
            dialog = kind(self.session, self, **more)
        except BenchProblem as problem:
            self.session.problem.emit(problem)
            return
        self.session.ask.show(dialog)
