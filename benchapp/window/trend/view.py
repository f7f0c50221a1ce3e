"""The Trends view: what is this engine doing? Readings and wear rates of one engine against its hours."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any, ClassVar

from PySide6.QtCore import QEvent, QObject, QSize, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QListWidgetItem

from benchapp.actions import looks as looks_of
from benchapp.actions import photo
from benchapp.actions import sample as sample_verbs
from benchapp.actions import series as data
from benchapp.problems import BenchProblem
from benchapp.sheet import export
from benchapp.window import log_table, pictures, theme, units
from benchapp.window.trend import looks, picture, words
from benchapp.window.trend.chosen import in_chosen_units
from benchapp.window.trend.frame import CALLS_KEY, KEY, MARKS_KEY, TrendFrame

TABLES = "CSV table (*.csv);;Workbook (*.xlsx)"
SHOWN_AT_FIRST = 3


class TrendView(TrendFrame):
    """See the module. The list beside the plot is its legend: tick what to show, the current line is in front."""

    title: ClassVar[str] = "Trends"
    question: ClassVar[str] = "What is this engine doing?"
    keys: ClassVar[tuple[tuple[str, str], ...]] = (
        ("Left, Right", "In the plot or the list: the sample before, the sample after"),
        ("Home, End", "In the plot: the first sample, the last sample"),
        ("Up, Down", "Another line to the front"),
        ("Space", "In the list: show or hide a line"),
        ("Return", "Open the sample in sample entry"),
        ("Page Up, Page Down", "In the plot: the call or event before, the one after"),
        ("+, -, 0", "In the plot: closer, farther, show all"),
        ("Ctrl+J", "The engine's log beside the plot, or away"),
        *log_table.KEYS,
        ("Ctrl+E", "Write what is shown as a table"),
        ("Ctrl+Shift+E", "Write the plot as a picture"),
    )
    help_text: ClassVar[str] = (
        "The plot shows one engine against its running hours. Tick lines in the list; the current one is in front and "
        "has its ceiling, what was expected and its interval. Point at a mark to read it, click it to open its sample. "
        "Readings of different instruments are joined only when you say so: another instrument is not a trend. " + KEY
    )

    def pieces(self) -> Iterator[None]:
        yield from super().pieces()
        self._slots: dict[str, dict[str, int]] = {kind: {} for kind in data.KINDS}
        self._shown: dict[str, list[str]] = {}
        self._entered: dict[str, str] = {}
        self._behind = False
        self._filling = False
        self.series = data.Series("", "", data.PPM)
        self._connect()
        self.session.engine_selected.connect(self._engine_selected)
        theme.WhenSeen(self, self._restyle)
        self._restyle()

    def _connect(self) -> None:
        self.engine_box.activated.connect(self._engine_picked)
        self.build_box.activated.connect(self._build_picked)
        self.kind_box.activated.connect(self._kind_picked)
        self.join_box.toggled.connect(self._join_toggled)
        self.list.itemChanged.connect(self._ticked)
        self.list.currentItemChanged.connect(self._front_changed)
        self.plot.hovered.connect(self._pointed_at)
        self.plot.clicked.connect(self._clicked)
        self.plot.event_hovered.connect(self._pointed_at_event)
        for button, method in (
            (self.all_button, self.show_all),
            (self.picture_button, self.save_picture),
            (self.table_button, self.export_table),
            (self.open_button, self.open_picked),
            (self.oil_button, self.show_oil),
            (self.empty_button, self._new_sample),
        ):
            button.clicked.connect(method)
        within = Qt.ShortcutContext.WidgetWithChildrenShortcut
        QShortcut(QKeySequence("Ctrl+Shift+E"), self, self.save_picture, context=within)
        QShortcut(QKeySequence("Ctrl+J"), self, self.log_button.toggle, context=within)
        self.log_button.toggled.connect(self._log_toggled)
        self.log.picked.connect(self._log_picked)
        for widget in (self.list, self.plot):
            widget.installEventFilter(self)

    def _restyle(self) -> None:
        self.fit_to_theme()
        self._redress_list()

    # --- what the window tells ----------------------------------------------------------------------------------------

    def refresh(self, changed: Any | None) -> None:
        """Reads anew what an action touched; a view in the back waits until it is shown."""
        if changed is not None and not self._concerns(changed):
            return
        self._entered = {}
        if changed is None:
            self._shown = {}
        if self.isVisible() or changed is None:
            self._fill_engines()
        else:
            self._behind = True

    def _concerns(self, changed: Any) -> bool:
        known = [self.engine_box.itemData(i) for i in range(self.engine_box.count())]
        return (
            self.engine in changed.engines
            or changed.touches("engine", "family", "material", "oil", "instrument", "check run")
            or any(engine not in known for engine in changed.engines)
        )

    def calls_arrived(self) -> None:
        """Rates, bands and ceilings are new."""
        self._fill_lines()
        self._fill_log()

    def showEvent(self, event) -> None:
        super().showEvent(event)
        if self._behind:
            self._behind = False
            self._fill_engines()

    def focus_first(self) -> None:
        (self.list if self.list.count() else self.engine_box).setFocus()

    def show_engine(self, engine: str, element: str = "") -> None:
        """Shows this engine; with `element` (an element or a source) that line alone, in front. A source that has no
        rate is shown by what it brings into the oil."""
        self._behind = False
        self._fill_engines(engine)
        if not element:
            return
        if self._show_line(element):
            return
        for each in self.session.look(data.shown_by, engine, self.build, element) or ():
            if self._show_line(each):
                return

    def _show_line(self, name: str) -> bool:
        """Shows this line alone, as a rate where it has one. False where there is none of that name."""
        for kind in (data.SOURCE_RATE, data.PPM, data.ELEMENT_RATE, data.OIL):
            found = self.session.look(data.choices, self.engine, self.build, kind) or ()
            if name in [choice.name for choice in found]:
                self.kind_box.setCurrentIndex(self.kind_box.findData(kind))
                self._shown[kind] = [name]
                self._fill_lines(name)
                return True
        return False

    def show_sample(self, code: str) -> None:
        """Rings this sample on the line in front."""
        for line in self.series.lines:
            if line.name == self.plot.front:
                for entry in self.plot.entries(line.name):
                    if line.samples[entry].code == code:
                        self._pick(line.name, int(entry))

    # --- engine, build, kind ------------------------------------------------------------------------------------------

    @property
    def engine(self) -> str:
        return self.engine_box.currentData() or ""

    @property
    def build(self) -> str:
        return self.build_box.currentData() or ""

    @property
    def kind(self) -> str:
        return self.kind_box.currentData()

    def _fill_engines(self, wanted: str = "") -> None:
        before = self.engine
        wanted = wanted or self.session.selected_engine or before
        self.engine_box.clear()
        for engine in self.session.fleet.engines:
            self.engine_box.addItem(f"{engine.name}, {engine.car}" if engine.car else engine.name, engine.name)
        self.engine_box.setCurrentIndex(max(0, self.engine_box.findData(wanted)))
        self._fill_builds(keep=self.engine == before)

    def _fill_builds(self, *, keep: bool) -> None:
        """Builds of the engine at hand, the last one first; `keep` the one chosen before."""
        wanted = self.build if keep else ""
        numbers = self.session.look(data.builds_of, self.engine) or ()
        self.build_box.clear()
        for number in reversed(numbers):
            self.build_box.addItem(f"{number} (now)" if number == numbers[-1] else number, number)
        if len(numbers) > 1:
            self.build_box.addItem(words.ALL_WORDS, data.ALL_BUILDS)
        self.build_box.setCurrentIndex(max(0, self.build_box.findData(wanted)))
        self._fill_lines()
        self._fill_log()

    def _engine_selected(self, engine: str) -> None:
        if engine and engine != self.engine and self.isVisible():
            self._fill_engines(engine)
        elif engine != self.engine:
            self._behind = True

    def _engine_picked(self, _index: int) -> None:
        self._fill_builds(keep=False)
        self.session.select(self.engine)

    def _build_picked(self, _index: int) -> None:
        self._fill_lines()
        self._fill_log()

    def _kind_picked(self, _index: int) -> None:
        self._fill_lines()

    def _join_toggled(self, joined: bool) -> None:
        self.plot.set_across_instruments(joined)

    # --- lines --------------------------------------------------------------------------------------------------------

    def _fill_lines(self, front: str = "") -> None:
        """The list of lines that could be shown, those shown ticked, then the plot."""
        found = self.session.look(data.choices, self.engine, self.build, self.kind) or ()
        names = [choice.name for choice in found]
        shown = [name for name in self._shown.get(self.kind, []) if name in names] or names[: self._at_first()]
        front = front if front in names else self._front_of(shown, names)
        self._filling = True
        self.list.clear()
        for choice in found:
            item = QListWidgetItem(choice.name)
            item.setData(Qt.ItemDataRole.UserRole, choice.name)
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            item.setCheckState(Qt.CheckState.Checked if choice.name in shown else Qt.CheckState.Unchecked)
            self.list.addItem(item)
            if choice.name == front:
                self.list.setCurrentItem(item)
        self._filling = False
        self._show(shown, front)
        self.list.scrollToItem(self.list.currentItem())

    def _at_first(self) -> int:
        """Lines shown before anything was ticked; oil quantities have each their own unit."""
        return 1 if self.kind == data.OIL else SHOWN_AT_FIRST

    def _front_of(self, shown: list[str], names: list[str]) -> str:
        if self.plot.front in shown:
            return self.plot.front
        return (shown or names or [""])[0]

    def _ticked(self, item: QListWidgetItem) -> None:
        if self._filling:
            return
        shown = self._ticked_names()
        name = item.data(Qt.ItemDataRole.UserRole)
        self._shown[self.kind] = shown
        if name in shown:
            self.list.setCurrentItem(item)
        self._show(shown, name if name in shown else self._front_of(shown, shown), keep_range=True)

    def _ticked_names(self) -> list[str]:
        items = (self.list.item(row) for row in range(self.list.count()))
        return [i.data(Qt.ItemDataRole.UserRole) for i in items if i.checkState() == Qt.CheckState.Checked]

    def _front_changed(self, item: QListWidgetItem | None, _before: QListWidgetItem | None) -> None:
        if self._filling or item is None:
            return
        name = item.data(Qt.ItemDataRole.UserRole)
        if name in self._ticked_names():
            self.plot.set_front(name)
            self._pick_near(name)

    def _show(self, shown: list[str], front: str, *, keep_range: bool = False) -> None:
        build, kind = self.build, self.kind
        found = self.session.look(data.of, self.engine, build, kind, shown)
        same = (self.series.engine, self.series.build, self.series.kind)
        self.series = in_chosen_units(found or data.Series(self.engine, build, kind))
        keep_range = keep_range and same == (self.series.engine, self.series.build, self.series.kind)
        self.plot.show_series(self.series, self._styles(shown), front, keep_range=keep_range)
        self._redress_list()
        self._say_empty()
        several = any("instrument" in line.apart for line in self.series.lines)
        self.join_box.setEnabled(several)
        self.oil_button.setVisible(self.kind == data.OIL)
        self._pick_near(front)

    def _styles(self, shown: list[str]) -> dict[str, looks.Style]:
        """A line keeps its look while it is shown; a new one takes the first free look."""
        slots = self._slots[self.kind]
        for name in [name for name in slots if name not in shown]:
            del slots[name]
        for name in shown:
            if name not in slots:
                slots[name] = next(slot for slot in range(len(shown) + 1) if slot not in slots.values())
        return {name: looks.Style(slot) for name, slot in slots.items()}

    def _redress_list(self) -> None:
        """Legend texts, marks and heights of the rows."""
        self._filling = True
        said = {line.name: words.line_words(line) for line in self.series.lines}
        short = {line.name: words.short_words(line) for line in self.series.lines}
        slots = self._slots[self.kind] if self.kind else {}
        height = theme.current().row_px
        for row in range(self.list.count()):
            item = self.list.item(row)
            name = item.data(Qt.ItemDataRole.UserRole)
            item.setText(short.get(name, name))
            item.setToolTip(said.get(name, f"{name}: tick to show"))
            item.setSizeHint(QSize(0, height))
            item.setData(
                Qt.ItemDataRole.DecorationRole, looks.line_icon(looks.Style(slots[name])) if name in slots else None
            )
        self._filling = False

    def _say_empty(self) -> None:
        said, can_enter = self._empty_words()
        head, _, what_to_do = said.partition("\n")
        self.empty_head.setText(head)
        self.empty.setText(what_to_do)
        self.empty_button.setVisible(can_enter)
        self.stack.setCurrentIndex(1 if said else 0)
        for widget in (self.all_button, self.picture_button, self.table_button):
            widget.setEnabled(not said)
        if said:
            self.words.setText("")
            self.open_button.setEnabled(False)

    def _empty_words(self) -> tuple[str, bool]:
        if not self.engine:
            return "No engine yet.\nAdd one with Ctrl+N, then enter its first sample with Ctrl+2.", False
        if not self.series.spans:
            return f"{self.engine} has no build yet.\nAdd one in the menu Bench, New build.", False
        if not self.list.count() and self.kind == data.PRESSURE:
            return "No oil pressure yet.\nEnter one with Ctrl+Shift+U, hot, at idle and at speed.", False
        judged = self.engine not in self.session.bench.engines_to_judge()
        if not self.list.count() and self.kind == data.OIL:
            return "No oil reading yet.\nEnter viscosity, base number, acid number, water, fuel or oxidation.", True
        if not self.list.count() and self.kind != data.PPM and not judged:
            return "Its samples are being judged. Rates appear here when that is done.", False
        if not self.list.count() and self.kind != data.PPM:
            return (
                "No wear rate yet.\nA rate needs a sample with its hours, fill and sump; readings are under ppm.",
                True,
            )
        if not self.list.count():
            return f"No sample of {self.engine} yet.\nEnter or paste one: its readings appear here.", True
        if not self.series.lines:
            return "No line is ticked.\nTick one in the list: arrow keys, then Space.", False
        return "", False

    # --- the point at hand --------------------------------------------------------------------------------------------

    def _line(self, name: str) -> data.Line | None:
        return next((line for line in self.series.lines if line.name == name), None)

    def _pick_near(self, name: str) -> None:
        """Rings the sample at hand on another line; the last one where it has none there."""
        line, entries = self._line(name), self.plot.entries(name)
        if line is None or not len(entries):
            self._pick("", -1)
            return
        before = self.session.selected_sample
        same = [int(entry) for entry in entries if line.samples[entry].code == before]
        self._pick(name, same[-1] if same else int(entries[-1]))

    def _pick(self, name: str, entry: int) -> None:
        """Rings a point and says what it is, where it is from and who entered it."""
        self.plot.mark(name, entry)
        line = self._line(self.plot.picked[0])
        self.open_button.setEnabled(line is not None)
        if line is not None:
            self.words.setText(self._point_words(line, entry))

    def _point_words(self, line: data.Line, entry: int) -> str:
        sample = line.samples[entry]
        instrument = self.session.fleet.instruments.get(sample.instrument)
        call = next((mark.call for mark in self.series.calls if mark.sample == sample.code), "")
        return words.point_words(line, entry, instrument, call, self._entered_words(sample.code))

    def _entered_words(self, code: str) -> str:
        """Who entered the sample and when (asked once)."""
        if not code:
            return ""
        if code not in self._entered:
            history = self.session.look(sample_verbs.history, code) or ()
            self._entered[code] = words.entered_words(history[0].who, history[0].at) if history else ""
        return self._entered[code]

    def _pointed_at(self, name: str, entry: int) -> None:
        if (name, entry) != self.plot.picked:
            self._pick(name, entry)

    def _pointed_at_event(self, text: str) -> None:
        if text:
            self.words.setText(units.in_words(text))

    def _clicked(self, name: str, entry: int) -> None:
        self._pick(name, entry)
        self.open_picked()

    def open_picked(self) -> None:
        """Opens the sample of the ringed point in sample entry."""
        name, entry = self.plot.picked
        line = self._line(name)
        if line is not None:
            code = line.samples[entry].code
            if not code:  # an oil pressure: corrected in the log
                self.log_button.setChecked(True)
                return
            self.session.select(self.engine, code)
            self.session.open_sample(code)

    def show_oil(self) -> bool:
        """The page "Oil and film" of the ringed sample; False where none is."""
        name, entry = self.plot.picked
        line = self._line(name)
        if line is None or not line.samples[entry].code:
            return False
        from benchapp.window.oil.dialog import OilFilmDialog

        self.session.ask.show(OilFilmDialog(self.session, self, line.samples[entry].code))
        return True

    # --- the log beside the plot -------------------------------------------------------------------------------------

    def _log_toggled(self, shown: bool) -> None:
        self.log.setVisible(shown)
        if shown:
            self._fill_log()
            self.log.setFocus()

    def _fill_log(self) -> None:
        """The log of what the plot shows: the same builds, newest first."""
        if self.log.isHidden():
            return
        calls = self.session.calls_of(self.engine) if self.engine else ()
        photos = self.session.look(photo.of_engine, self.engine) if self.engine else None
        found = looks_of.describe(self.session.fleet, self.engine, calls, photos=photos)
        rows = found.log if found else ()
        whole = self.build == data.ALL_BUILDS
        self.log.show_log(self.engine, [row for row in rows if whole or row.build == self.build])

    def _log_picked(self, key: str) -> None:
        """A sample of the log is ringed in the plot; anything else is read below it."""
        row = self.log.row_at_hand(key)
        if row is None:
            return
        if row.kind == "Sample":
            self.show_sample(row.records[0].code)
        else:
            self.words.setText(f"{row.kind} at {row.build_h:.1f} h of build {row.build}: {units.in_words(row.text)}")

    def _new_sample(self) -> None:
        self.session.new_sample(self.engine)

    # --- keys ---------------------------------------------------------------------------------------------------------

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            steps = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}
            if event.key() in steps:
                self.walk(steps[event.key()])
                return True
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                self.open_picked()
                return True
            if watched is self.plot:
                return self._plot_key(event)
        return super().eventFilter(watched, event)

    def _plot_key(self, event: QKeyEvent) -> bool:
        key = event.key()
        if key in (Qt.Key.Key_Home, Qt.Key.Key_End):
            self.walk(-(10**9) if key == Qt.Key.Key_Home else 10**9)
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self._other_line(-1 if key == Qt.Key.Key_Up else 1)
        elif key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):
            self.plot.walk_marks(-1 if key == Qt.Key.Key_PageUp else 1)
        elif event.text() in ("+", "-"):
            self.plot.zoom(0.7 if event.text() == "+" else 1 / 0.7)
        elif event.text() == "0":
            self.show_all()
        else:
            return False
        return True

    def walk(self, steps: int) -> None:
        """Rings the sample so many steps on, along the line in front; stops at the ends."""
        name = self.plot.front
        entries = list(self.plot.entries(name))
        if not entries:
            return
        picked, entry = self.plot.picked
        at = entries.index(entry) if picked == name and entry in entries else len(entries) - 1
        place = min(max(at + steps, 0), len(entries) - 1)
        self._pick(name, int(entries[place]))

    def _other_line(self, step: int) -> None:
        rows = [row for row in range(self.list.count()) if self.list.item(row).checkState() == Qt.CheckState.Checked]
        if not rows:
            return
        now = self.list.currentRow()
        at = rows.index(now) if now in rows else 0
        self.list.setCurrentRow(rows[(at + step) % len(rows)])

    def show_all(self) -> None:
        """The whole build and everything on it."""
        self.plot.show_all()

    # --- out ----------------------------------------------------------------------------------------------------------

    def save_picture(self) -> None:
        """Writes the plot with title and legend as PNG or SVG."""
        shown = (self.plot, self._styles(self._ticked_names()), self._key_text())
        as_png, as_svg = partial(picture.png, *shown), partial(picture.svg, *shown)
        pictures.write(self.session, self, self._file_name("png"), as_png, as_svg)

    def export_table(self) -> None:
        """Writes what is shown as CSV or xlsx."""
        path = self.session.ask.save_file(self, "Write what is shown as a table", TABLES, self._file_name("csv"))
        if path:
            how = export.write_xlsx if path.lower().endswith(".xlsx") else export.write_csv
            self._write(how, path, *data.table(self.series))

    def _write(self, how, path: str, *args) -> None:
        try:
            how(path, *args)
        except BenchProblem as problem:
            self.session.problem.emit(problem)
            return
        self.session.note.emit("Written.", str(Path(path)), "")

    def _file_name(self, suffix: str) -> str:
        words_in = f"{self.series.engine} {self.series.kind}".replace("/", "-").replace("\\", "-")
        return f"{words_in}.{suffix}"

    def _key_text(self) -> str:
        return "\n".join((MARKS_KEY, CALLS_KEY))
