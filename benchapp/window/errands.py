"""What the main window opens for the menus that is no view: labels, the day's page, the search, the reading room."""

from __future__ import annotations

from typing import Any

from benchapp.problems import BenchProblem

NO_ENGINE = "No engine is picked."


class Errands:
    """Methods of the main window, named by its menus. Each opens one dialog, loaded when first asked for."""

    session: Any

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
