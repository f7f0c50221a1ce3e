"""The view Bench checks: may I trust the instrument today? One lamp an instrument, its charts, what it holds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from math import isnan
from typing import Any, ClassVar

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication, QKeySequence, QShortcut

from benchapp.actions import checks
from benchapp.actions import instrument as instruments
from benchapp.actions.checks import Look
from benchapp.window import pictures
from benchapp.window.checks.forms import CheckRunForm, InstrumentCardForm, StandardForm
from benchapp.window.checks.frame import NO_RUNS, TOO_FEW, ChecksFrame

NOT_HELD = "No sample of this instrument is held."
NOT_APART = "No duplicates of this instrument are further apart than two burns of one sample should be."
NO_PAIR = (
    "No oil was read on both yet.\nRead one sample on both (two codes, the same engine and hours), or run the same "
    "standard on both on one day."
)
NO_OTHER = "There is only one instrument.\nEnter the other one, or the lab, to compare them."
NO_STANDARD = "No standard yet.\nEnter one with its lot and certified values: button Standard, above."
LOOKING = "Looking…"


def now() -> dt.datetime:
    """The moment at hand, as a person would write it."""
    return dt.datetime.now()  # noqa: DTZ005  (local, as entered)


class ChecksView(ChecksFrame):
    """See the module."""

    title: ClassVar[str] = "Bench checks"
    question: ClassVar[str] = "May I trust the instrument today?"
    keys: ClassVar[tuple[tuple[str, str], ...]] = (
        ("Ctrl+Return", "Type a check run"),
        ("Ctrl+Shift+V", "Take the check rows of a copied table"),
        ("Ctrl+E", "Write the table in front as a spreadsheet"),
        ("Ctrl+Shift+E", "Write the control chart as a picture"),
        ("Enter", "On an instrument: its card. On an element: its chart. On a held sample: open it"),
        ("Left, Right, Home, End", "In the chart: the check run before, after, first, last"),
        ("Alt and the letter", "A tab or a button by its underlined letter"),
    )
    help_text: ClassVar[str] = (
        "Run a standard and a blank before the first sample, each hour in continuous work or each 25 samples, and at "
        "the end. A failed check holds the samples since the last good one: standardise, run the standard again, then "
        "the samples. Nothing is deleted. Limits come from the method until there are eight runs of a standard, then "
        "from the instrument's own scatter; the method's limits stay beside them. Drift is not wear."
    )

    def pieces(self) -> Iterator[None]:
        yield from super().pieces()
        self.now = now
        self.looked: Look | None = None
        self._behind = True
        self._wanted = ""
        self._chosen = False
        """The person chose a standard to look at: it is kept from element to element."""
        self._connect()

    def _connect(self) -> None:
        self.instruments.picked.connect(self._picked)
        self.instruments.opened.connect(self.edit_instrument)
        self.elements.picked.connect(self._element_picked)
        self.elements.opened.connect(self._element_opened)
        self.chart_box.activated.connect(self._chart_picked)
        self.standards.opened.connect(self.edit_standard)
        self.standard_box.activated.connect(self._chart_picked)
        self.plot.walked.connect(self._say_run)
        self.held.opened.connect(self.session.open_sample)
        self.apart.opened.connect(self._open_apart)
        self.other_box.activated.connect(self._compare)
        self.compared.picked.connect(self._compared_picked)
        self.noise.picked.connect(self._noise_picked)
        self.tabs.currentChanged.connect(self._tab_changed)
        for button, method in (
            (self.run_button, self.enter_run),
            (self.paste_button, self.paste_runs),
            (self.standard_button, self.enter_standard),
            (self.instrument_button, self._edit_clicked),
            (self.add_button, self.add_instrument),
            (self.first_button, self.add_instrument),
            (self.open_button, self._open_held),
            (self.again_button, self.measured_again),
            (self.void_button, self.withdraw_run),
        ):
            button.clicked.connect(method)
        self.picture_button.clicked.connect(self.save_picture)
        for keys, method in (
            ("Ctrl+Return", self.enter_run),
            ("Ctrl+Shift+V", self.paste_runs),
            ("Ctrl+Shift+E", self.save_picture),
        ):
            shortcut = QShortcut(QKeySequence(keys), self)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.activated.connect(method)

    # --- what the window tells ----------------------------------------------------------------------------------------

    def refresh(self, changed: Any | None) -> None:
        """Looks anew at what an action touched; a view in the back waits until it is shown."""
        if changed is not None and not changed.touches(
            "check_run", "instrument", "instrument_card", "standard", "measurement", "sample", "engine", "build"
        ):
            return
        self._behind = True
        if self.isVisible():
            self._look()

    def showEvent(self, event) -> None:
        super().showEvent(event)
        if self._behind:
            self._look()

    def focus_first(self) -> None:
        # by the page in front: the list of instruments may still be worked out
        (self.first_button if self.pages.currentWidget() is self.empty else self.instruments).setFocus()

    def _look(self) -> None:
        """Asks for the lamps; the charts follow with the instrument at hand."""
        self._behind = False
        fleet = self.session.fleet
        there = bool(checks.instruments_of(fleet))
        self.pages.setCurrentWidget(self.split if there else self.empty)
        for button in (self.run_button, self.paste_button):
            button.setEnabled(there)
        if there:
            self.session.background(
                checks.rows, (fleet, self.session.library, self.now()), self._rows_found, kind="bench checks"
            )

    def _rows_found(self, rows: tuple[checks.Row, ...]) -> None:
        before = self.instruments.key()
        self.instruments.rows.set_rows(rows)
        if not self.instruments.key() and rows:
            self.instruments.pick(self._wanted or rows[0].name)
        if self.instruments.key() == before:
            self._describe()

    # --- one instrument -----------------------------------------------------------------------------------------------

    @property
    def name(self) -> str:
        """The instrument at hand, or ''."""
        return self.instruments.key()

    def _picked(self, name: str) -> None:
        self._wanted = name or self._wanted
        self._chosen = False
        self._describe()

    def _describe(self) -> None:
        row = next((row for row in self.instruments.rows.shown() if row.name == self.name), None)
        if row is None:
            return
        self.lamp.set_state(row.state)
        self.answer.setText(f"{row.name}: {checks.WORDS[row.state]}")
        self.why.setText(row.why)
        args = (self.session.fleet, self.session.library, self.name, self.now())
        self.session.background(checks.describe, args, self._described, kind="bench check")

    def _described(self, look: Look) -> None:
        if look.row.name != self.name:
            return
        self.looked = look
        self.lamp.set_state(look.row.state)
        self.answer.setText(f"{look.row.name}: {checks.WORDS[look.row.state]}")
        others = [text for text in look.warnings if text != look.row.why]
        self.why.setText(look.row.why)
        self.why.setToolTip("\n".join(others))
        more = f"{len(others)} more rule{'s' if len(others) > 1 else ''} fired: see Charts." if others else ""
        self.due.setText("  ".join(text for text in (look.due if look.due != look.row.why else "", more) if text))
        self.due.setVisible(bool(self.due.text()))
        self.elements.rows.set_rows(look.elements)
        self.noise.rows.set_rows(look.elements)
        self._pick_first(self.elements)
        self._pick_first(self.noise)
        self._noise_picked(self.noise.key())
        self.held.rows.set_rows(look.held)
        self._pick_first(self.held)
        self.apart.rows.set_rows(look.apart)
        self.runs.rows.set_rows(look.runs)
        self.standards.rows.set_rows(checks.standard_rows(self.session.fleet, self.now()))
        self.say_or_show("standards", "" if self.standards.rows.rowCount() else NO_STANDARD)
        self.say_or_show("held", "" if look.held else NOT_HELD)
        self.say_or_show("apart", "" if look.apart else NOT_APART)
        self.say_or_show("runs", "" if look.runs else NO_RUNS)
        for button in (self.open_button, self.again_button):
            button.setEnabled(bool(look.held))
        self.void_button.setEnabled(bool(look.runs))
        counts = {2: ("&Held", len(look.held)), 3: ("&Duplicates", len(look.apart)), 5: ("Run&s", len(look.runs))}
        for tab, (word, count) in counts.items():
            self.tabs.setTabText(tab, f"{word} {count}" if count else word)
        self._fill_standards()
        self._fill_others()

    @staticmethod
    def _pick_first(table) -> None:
        if not table.key() and table.rows.rowCount():
            table.setCurrentIndex(table.rows.index(0, 0))

    # --- charts -------------------------------------------------------------------------------------------------------

    def _element_picked(self, _element: str) -> None:
        self._fill_standards()

    def _element_opened(self, _element: str) -> None:
        self.plot.setFocus()

    def _fill_standards(self) -> None:
        """The standards that the element at hand was checked with."""
        charts = self._charts()
        before = self.standard_box.currentData()
        self.standard_box.clear()
        for chart in charts:
            self.standard_box.addItem(
                f"{chart.standard}, {chart.expected_ppm:g} ppm", (chart.standard, chart.expected_ppm)
            )
        places = [n for n, chart in enumerate(charts) if (chart.standard, chart.expected_ppm) == before]
        latest = checks.latest_chart(charts)
        self.standard_box.setCurrentIndex(places[0] if places and self._chosen else latest)
        self._show_chart()

    def _charts(self) -> list[Any]:
        element = self.elements.key()
        return [chart for chart in self.looked.charts if chart.element == element] if self.looked else []

    def _chart(self) -> Any | None:
        charts = self._charts()
        place = self.standard_box.currentIndex()
        return charts[place] if 0 <= place < len(charts) else None

    def _chart_picked(self, _index: int) -> None:
        self._chosen = self._chosen or self.sender() is self.standard_box
        self._show_chart()

    def _show_chart(self) -> None:
        chart = self._chart()
        lines = checks.chart_lines(chart, self.chart_box.currentData()) if chart else ()
        self.say_or_show("plot", "" if lines else (TOO_FEW if chart else NO_RUNS))
        if not lines:
            self.said.setText("")
            self.limits_words.setText("")
            return
        when = [f"{moment:%Y-%m-%d %H:%M}" for moment in chart.moments]
        self.plot.show_lines(lines, when, f"{chart.element} [ppm]")
        method = self.chart_box.currentData() == "method"
        self.limits_words.setText(
            f"Limits: {self.looked.tolerance if method else chart.sigma_origin}.".replace("..", ".")
        )
        self.chart_box.setToolTip(self.limits_words.text())
        self.chart_box.setAccessibleDescription(self.limits_words.text())
        self._say_run(self.plot.at)

    def _say_run(self, at: int) -> None:
        """The check run at hand, and what fired there on any chart."""
        chart = self._chart()
        if chart is None or not 0 <= at < len(chart.moments):
            return
        values = [line.values[at] for line in self.plot.lines]
        shown = ", ".join("none" if isnan(value) else f"{value:.3g}" for value in values)
        said = checks.fired_at(chart, at)
        head = f"{self.plot.when[at]}: {shown} ppm."
        self.said.setText("\n".join([head, *(said or ("No rule fired here.",))][:4]))

    def _noise_picked(self, element: str) -> None:
        line = next((each for each in self.noise.rows.shown() if each.element == element), None)
        self.noise_said.setText(checks.noise_words(line) if line else "")

    # --- two instruments ----------------------------------------------------------------------------------------------

    def _fill_others(self) -> None:
        before = self.other_box.currentData()
        others = [name for name in checks.instruments_of(self.session.fleet) if name != self.name]
        self.other_box.clear()
        for name in others:
            self.other_box.addItem(name, name)
        self.other_box.setCurrentIndex(max(0, self.other_box.findData(before)) if others else -1)
        self._compare()

    def _tab_changed(self, _tab: int) -> None:
        self._compare()

    def _compare(self, _index: int = 0) -> None:
        """Asked only while its tab is in front."""
        other = self.other_box.currentData()
        self.compared_said.setText("")
        if not other:
            self.say_or_show("compared", NO_OTHER)
        elif self.tabs.currentIndex() == COMPARE_TAB:
            self.say_or_show("compared", LOOKING)
            args = (self.session.fleet, self.session.library, self.name, other)
            self.session.background(checks.compare, args, self._compared, kind="compare")

    def _compared(self, found: tuple[checks.Compared, ...]) -> None:
        self.compared.rows.set_rows(found)
        self.say_or_show("compared", "" if found else NO_PAIR)
        self._pick_first(self.compared)

    def _compared_picked(self, element: str) -> None:
        found = next((each for each in self.compared.rows.shown() if each.element == element), None)
        self.compared_said.setText(found.result.text if found else "")

    # --- what the person does -----------------------------------------------------------------------------------------

    def enter_run(self) -> None:
        """The form for a check run, on the instrument at hand."""
        if checks.instruments_of(self.session.fleet):
            self.session.ask.show(CheckRunForm(self.session, self.window(), name=self.name))
        else:
            self.add_instrument()

    def enter_standard(self) -> None:
        """The form for a new standard or blank."""
        self.session.ask.show(StandardForm(self.session, self.window()))

    def edit_standard(self, name: str) -> None:
        """The card of a standard; one that only check runs name so far is entered."""
        self.session.ask.show(StandardForm(self.session, self.window(), name=name))

    def add_instrument(self) -> None:
        """The form for another instrument."""
        self.session.ask.show(InstrumentCardForm(self.session, self.window()))

    def edit_instrument(self, name: str) -> None:
        """The card of an instrument."""
        if name:
            self.session.ask.show(InstrumentCardForm(self.session, self.window(), name=name))

    def _edit_clicked(self) -> None:
        self.edit_instrument(self.name)

    def paste_runs(self) -> None:
        """Takes the check rows of the table on the clipboard, for the instrument at hand."""
        if not self.name:
            return
        taken = self.session.run(checks.take_pasted, QGuiApplication.clipboard().text(), self.name)
        if taken is not None:
            self.session.note.emit(*checks.pasted_words(taken))

    def _open_held(self) -> None:
        if self.held.key():
            self.session.open_sample(self.held.key())

    def _open_apart(self, key: str) -> None:
        self.session.open_sample(key.partition("\n")[0])

    def measured_again(self) -> None:
        """Says that the held sample at hand was measured again just now."""
        code = self.held.key()
        if code and self.session.ask.confirm(
            self.window(),
            f"Was sample {code} measured again after a good check, and are its new readings entered?",
            "It is released once the checks around the new measurement are good. Its earlier readings stay in its "
            "history.",
            "Measured again just now",
        ):
            self.session.run(checks.measured_again, code, self.now())

    def withdraw_run(self) -> None:
        """Hides the reading of a check run at hand; undo brings it back."""
        run = next((run for run in self.runs.rows.shown() if self._is_at_hand(run)), None)
        if run is not None:
            self.session.run(instruments.void_check_run, run, "withdrawn in Bench checks")

    def _is_at_hand(self, run: Any) -> bool:
        from benchapp.window.checks.columns import run_key

        return run_key(run) == self.runs.key()

    def save_picture(self) -> None:
        """Writes the control chart as PNG or SVG."""
        name = f"{self.instruments.key()} {self.elements.key()}".strip() or "control chart"
        pictures.save(self.session, self, [(f"Control chart: {name}", self.plot.graphics)], name.replace("/", "-"))

    def export_table(self) -> None:
        """Writes the table in front as it stands."""
        from benchapp.window.dialogs.export import export_rows

        tables = (self.elements, self.noise, self.held, self.apart, self.compared, self.runs, self.standards)
        place = self.tabs.currentIndex()
        name = self.tabs.tabText(place).replace("&", "").rstrip(" 0123456789")
        export_rows(self.session, self.window(), f"Bench checks {name.lower()}", tables[place])


COMPARE_TAB = 4
