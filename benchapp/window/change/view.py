"""The Before / after view: did that help? One change of one engine, any hour, or one change over several engines."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import pairwise
from typing import Any, ClassVar

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QSplitter,
    QStackedWidget,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from benchapp.actions import breakin, effect
from benchapp.actions import series as data
from benchapp.problems import BenchProblem
from benchapp.sheet import effect_page, export
from benchapp.window import pictures, spacing, theme
from benchapp.window.breakin.page_dialog import PageDialog
from benchapp.window.change import plot
from benchapp.window.dialogs import forms
from benchapp.window.dialogs.form import FieldError, read_number
from benchapp.window.tables import Column, RowsModel, Table
from benchapp.window.view import View

TABLES = "CSV table (*.csv);;Workbook (*.xlsx)"
ANY_HOUR = "any hour"


def _said(row, value: float) -> str:
    return f"{value:.2f}" if row.said and value == value else ""


COLUMNS = (
    Column("What", lambda r: r.name, width=34, stretch=True),
    Column("Ratio", lambda r: _said(r, r.ratio), lambda r: r.ratio if r.said else None, 7, number=True,
           why="Wear after / wear before"),
    Column("90 % interval", lambda r: f"{r.low:.2f} to {r.high:.2f}" if r.said else "", width=15),
    Column("In words, permutation p, intervals", lambda r: r.words, width=46),
    Column("Would have seen", lambda r: _said(r, r.seen_from), lambda r: r.seen_from if r.said else None, 15,
           number=True, why="Smallest lowering that this much data would have seen in 4 of 5 cases"),
)  # fmt: skip


def _key(row) -> str:
    return f"{row.section}: {row.name}"


class ChangeView(View):
    """See the module. Comparing runs in the background; the newest question wins."""

    title: ClassVar[str] = "Before / after"
    question: ClassVar[str] = "Did it help?"
    keys: ClassVar[tuple[tuple[str, str], ...]] = (
        ("Alt+A", "The change to look at"),
        ("Alt+R", "Compare around any hour: type it, then Enter"),
        ("Alt+V", "Over all engines that had the same change"),
        ("Alt+P, Alt+F", "Plot, figures"),
        ("Ctrl+P", "Print the before-and-after page"),
        ("Ctrl+E", "Write the figures as a table"),
        ("Ctrl+Shift+E", "Write the plot as a picture"),
    )
    help_text: ClassVar[str] = (
        "Pick a logged change, or type any hour of the build. Each row is wear after over wear before with its 90 % "
        "interval: left of the upright line wears less, right of it more. A hollow ring: nothing can be said. "
        + effect.HOW
        + " "
        + effect.MANY
    )

    def pieces(self) -> Iterator[None]:
        self.looked: effect.EffectLook | effect.AlikeLook | None = None
        self._moments: tuple[effect.Moment, ...] = ()
        self._asked = 0
        self._behind = False
        self._make_head()
        yield
        self._make_body()
        yield
        self._lay_out()
        self._connect()
        theme.follow(self, self._fit)
        self._fit()
        yield

    def _fit(self) -> None:
        self.hour.setMinimumWidth(round(theme.current().points * 6))
        self.hour.setMaximumWidth(round(theme.current().points * 9))

    # --- making -------------------------------------------------------------------------------------------------------

    def _box(self, name: str, why: str, letters: int) -> QComboBox:
        made = QComboBox(self)
        made.setAccessibleName(name)
        made.setToolTip(why)
        made.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        made.setMinimumContentsLength(letters)
        return made

    def _button(self, text: str, why: str, method) -> QPushButton:
        made = QPushButton(text, self)
        made.setToolTip(why)
        made.clicked.connect(method)
        return made

    def _words(self, role: str = "", name: str = "") -> QLabel:
        made = QLabel(self)
        made.setTextFormat(Qt.TextFormat.PlainText)
        made.setWordWrap(True)
        if role:
            made.setProperty("role", role)
        if name:
            made.setAccessibleName(name)
        return made

    def _make_head(self) -> None:
        self.engine_box = self._box("Engine", "Which engine", 9)
        self.moment_box = self._box("Change", "A change in the log, or any hour of a build", 22)
        self.hour = QLineEdit(self)
        self.hour.setAccessibleName("Build hours to compare around [h]")
        self.hour.setToolTip("Any hour of the build: Enter compares before against after it")
        self.hour.setPlaceholderText("31.5")
        self.build_box = self._box("Build", "The build that the hour belongs to", 4)
        self.all_box = QCheckBox("Se&veral engines", self)
        self.all_box.setToolTip("All engines with the same kind of change and the same words: the common answer")
        self.print_button = self._button("Pr&int…", "See, print or save the page (Ctrl+P)", self.print_page)
        self.picture_button = self._button("Pict&ure", "The plot as PNG or SVG (Ctrl+Shift+E)", self.save_picture)
        self.table_button = self._button("&Table", "The figures as CSV or xlsx (Ctrl+E)", self.export_table)
        self.sentence = self._words("title", "Did it help?")

    def _make_body(self) -> None:
        self.forest = plot.ForestPlot(self)
        area = QScrollArea(self)
        area.setWidgetResizable(True)
        area.setWidget(self.forest)
        area.setAccessibleName("Forest plot")
        self.area = area
        self.table = Table(RowsModel(COLUMNS, _key), "Figures of the comparison")
        self.tabs = QTabWidget(self)
        self.tabs.setAccessibleName("Plot and figures")
        self.tabs.tabBar().setAccessibleName(self.tabs.accessibleName())
        self.tabs.setDocumentMode(True)
        self.tabs.addTab(area, "&Plot")
        self.tabs.addTab(self.table, "&Figures")
        self.behind = self._words("", "What stands behind it")
        self.behind.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.behind.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        side = QScrollArea(self)
        side.setWidgetResizable(True)
        side.setWidget(self.behind)
        side.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        side.setAccessibleName("What was left out, adjusted and how it was compared")
        self.splitter = QSplitter(Qt.Orientation.Vertical, self)
        self.splitter.addWidget(self.tabs)
        self.splitter.addWidget(side)
        self.splitter.setStretchFactor(0, 3)
        self.splitter.setStretchFactor(1, 1)
        self.splitter.setChildrenCollapsible(False)
        self.splitter.setSizes([540, 170])
        self.key_label = self._words("quiet")
        self.key_label.setText(plot.forest.KEY)
        self.empty_head, self.empty = self._words("head"), self._words()
        for label in (self.empty_head, self.empty):
            label.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.change_button = self._button("Log a &change…", "Oil, tune, interval, part or fuel", self.log_change)
        page = QWidget(self)
        column = QVBoxLayout(page)
        column.addStretch(2)
        column.addWidget(self.empty_head)
        column.addWidget(self.empty)
        column.addWidget(self.change_button, 0, Qt.AlignmentFlag.AlignHCenter)
        column.addStretch(3)
        answer = QWidget(self)
        column = QVBoxLayout(answer)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.sentence)
        column.addWidget(self.splitter, 1)
        column.addWidget(self.key_label)
        self.stack = QStackedWidget(self)
        self.stack.addWidget(answer)
        self.stack.addWidget(page)

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        second = QHBoxLayout()
        for row, said, field, share in (
            (head, "En&gine", self.engine_box, 3),
            (head, "Ch&ange", self.moment_box, 5),
            (second, "Hou&r [h]", self.hour, 0),
            (second, "&Build", self.build_box, 0),
        ):
            label = QLabel(said, self)
            label.setBuddy(field)
            row.addWidget(label)
            row.addWidget(field, share)
        second.addWidget(self.all_box)
        second.addStretch(1)
        for button in (self.print_button, self.picture_button, self.table_button):
            second.addWidget(button)
        whole = QVBoxLayout(self)
        spacing.around(whole, 1, 1, 1, 1)
        whole.addLayout(head)
        whole.addLayout(second)
        whole.addWidget(self.stack, 1)
        order: tuple[QWidget, ...] = (self.engine_box, self.moment_box, self.hour, self.build_box, self.all_box)
        order += (self.print_button, self.picture_button, self.table_button, self.tabs.tabBar(), self.area, self.table)
        for first, following in pairwise(order):
            QWidget.setTabOrder(first, following)

    def _connect(self) -> None:
        self.engine_box.activated.connect(self._engine_picked)
        self.moment_box.activated.connect(self._compare)
        self.build_box.activated.connect(self._hour_entered)
        self.hour.returnPressed.connect(self._hour_entered)
        self.all_box.toggled.connect(self._several_toggled)
        self.session.engine_selected.connect(self._engine_selected)
        within = Qt.ShortcutContext.WidgetWithChildrenShortcut
        QShortcut(QKeySequence("Ctrl+Shift+E"), self, self.save_picture, context=within)

    # --- what the window tells ----------------------------------------------------------------------------------------

    def refresh(self, changed: Any | None) -> None:
        """Compares anew what an action touched; a view in the back waits until it is shown."""
        if self.isVisible() or changed is None:
            self._fill_engines()
        else:
            self._behind = True

    def showEvent(self, event) -> None:
        super().showEvent(event)
        if self._behind:
            self._behind = False
            self._fill_engines()

    def focus_first(self) -> None:
        (self.moment_box if self._moments else self.engine_box).setFocus()

    def show_engine(self, engine: str, element: str = "") -> None:
        self._fill_engines(engine)

    def _engine_selected(self, engine: str) -> None:
        if engine and engine != self.engine:
            if self.isVisible():
                self._fill_engines(engine)
            else:
                self._behind = True

    # --- which moment -------------------------------------------------------------------------------------------------

    @property
    def engine(self) -> str:
        return self.engine_box.currentData() or ""

    @property
    def moment(self) -> effect.Moment | None:
        """What is asked about; None where no change is logged and no hour typed."""
        return self.moment_box.currentData()

    def _fill_engines(self, wanted: str = "") -> None:
        before, moment = self.engine, self.moment
        wanted = wanted or self.session.selected_engine or before
        self.engine_box.clear()
        for engine in self.session.fleet.engines:
            self.engine_box.addItem(f"{engine.name}, {engine.car}" if engine.car else engine.name, engine.name)
        self.engine_box.setCurrentIndex(max(0, self.engine_box.findData(wanted)))
        self._fill_moments(moment if self.engine == before else None)

    def _fill_moments(self, keep: effect.Moment | None = None) -> None:
        self._moments = (self.session.look(effect.moments, self.engine) if self.engine else ()) or ()
        self.moment_box.clear()
        for moment in self._moments:
            self.moment_box.addItem(f"{moment.label} (build {moment.build})", moment)
        if keep is not None and keep not in self._moments:
            self.moment_box.addItem(f"{ANY_HOUR}: {keep.label}", keep)
        place = next((n for n in range(self.moment_box.count()) if self.moment_box.itemData(n) == keep), 0)
        self.moment_box.setCurrentIndex(place if self.moment_box.count() else -1)
        numbers = (self.session.look(data.builds_of, self.engine) if self.engine else ()) or ()
        self.build_box.clear()
        for number in reversed(numbers):
            self.build_box.addItem(str(number), number)
        self._compare()

    def _engine_picked(self, _index: int) -> None:
        self._fill_moments()
        self.session.select(self.engine)

    def _hour_entered(self, _index: int = 0) -> None:
        try:
            hour = read_number(self.hour.text().strip(), 0.0, 100_000.0, "h", needed=True)
        except FieldError as wrong:
            if self.hour.text().strip():
                self.session.note.emit("The hour cannot be read.", str(wrong), "Type build hours such as 31.5.")
            return
        if hour is None or not self.build_box.currentData():
            return
        self._fill_at(effect.at(self.engine, self.build_box.currentData(), hour))

    def _fill_at(self, moment: effect.Moment) -> None:
        while self.moment_box.count() > len(self._moments):
            self.moment_box.removeItem(self.moment_box.count() - 1)
        self.moment_box.addItem(f"{ANY_HOUR}: {moment.label}", moment)
        self.moment_box.setCurrentIndex(self.moment_box.count() - 1)
        self._compare()

    def _several_toggled(self, _on: bool) -> None:
        self._compare()

    # --- comparing ----------------------------------------------------------------------------------------------------

    def _compare(self, _index: int = 0) -> None:
        """Asks in the background; what comes back is shown only if nothing newer was asked."""
        self._asked += 1
        self.looked = None
        self._out(False)
        moment = self.moment
        self.all_box.setEnabled(moment is not None and bool(moment.what))
        if moment is None:
            self._say_empty(*self._why_empty())
            return
        self._say_empty("Comparing…", f"{moment.engine}: {moment.label}")
        several = self.all_box.isChecked() and self.all_box.isEnabled()
        args = (self._asked, self.session.fleet, moment, several)
        self.session.background(ask_effect, args, self._answered, kind="before and after")

    def _why_empty(self) -> tuple[str, str]:
        if not self.engine:
            return "No engine yet.", "Add one with Ctrl+N. Log what you change: its effect is compared here."
        return (
            f"No change of {self.engine} is logged.",
            "Log one (oil, tune, interval, part or fuel), or type any hour of the build above and press Enter.",
        )

    def _say_empty(self, head: str, words: str) -> None:
        self.empty_head.setText(head)
        self.empty.setText(words)
        self.change_button.setVisible(self.moment is None and bool(self.engine))
        self.stack.setCurrentIndex(1)

    def _answered(self, answer: tuple[int, Any, BenchProblem | None]) -> None:
        asked, looked, problem = answer
        if asked != self._asked:
            return
        if problem is not None:
            self._say_empty(problem.what, f"{problem.means}\n{problem.do}")
            return
        self.looked = looked
        alike = isinstance(looked, effect.AlikeLook)
        rows = effect.forest_alike(looked) if alike else effect.forest(looked)
        behind = effect.alike_blocks(looked) if alike else effect.blocks(looked)
        self.sentence.setText(looked.sentence)
        self.forest.show_rows(rows)
        self.table.rows.set_rows(rows)
        self.behind.setText(
            "\n\n".join(title + "\n" + "\n".join(f"· {line}" for line in lines) for title, lines in behind)
        )
        self.stack.setCurrentIndex(0)
        self._out(True)

    def _out(self, there: bool) -> None:
        for button in (self.print_button, self.picture_button, self.table_button):
            button.setEnabled(there)

    def log_change(self) -> None:
        """Enters a change for the engine at hand."""
        self.session.select(self.engine)
        forms.show(forms.CHANGE, self.session, self)

    # --- out ----------------------------------------------------------------------------------------------------------

    def _name(self) -> str:
        moment = self.moment
        return f"{moment.engine} {moment.label}" if moment is not None else "before and after"

    def _file(self, suffix: str) -> str:
        return f"before and after {self.engine}.{suffix}"

    def print_page(self) -> None:
        """The page, seen before it is printed or saved."""
        if self.looked is None:
            return
        now = breakin.now()
        if isinstance(self.looked, effect.AlikeLook):
            made = effect.page_alike(self.looked, now)
        else:
            made = effect.page(self.session.fleet, self.looked, now)
        self.session.ask.show(PageDialog(self.session, made, effect_page, self))

    def save_picture(self) -> None:
        """Writes the plot with its sentence as PNG or SVG."""
        if self.looked is None:
            return
        shown = (self._name(), self.looked.sentence, self.forest.rows)
        pictures.write(self.session, self, self._file("png"), partial(plot.png, *shown), partial(plot.svg, *shown))

    def export_table(self) -> None:
        """Writes the figures as CSV or xlsx."""
        if self.looked is None:
            return
        path = self.session.ask.save_file(self, "Write the figures as a table", TABLES, self._file("csv"))
        if path:
            how = export.write_xlsx if path.lower().endswith(".xlsx") else export.write_csv
            alike = isinstance(self.looked, effect.AlikeLook)
            self._write(how, path, *(effect.alike_table(self.looked) if alike else effect.table(self.looked)))

    def _write(self, how, path: str, *args) -> None:
        try:
            how(path, *args)
        except BenchProblem as problem:
            self.session.problem.emit(problem)
            return
        self.session.note.emit("Written.", path, "")


def ask_effect(asked: int, fleet, moment: effect.Moment, several: bool) -> tuple[int, Any, BenchProblem | None]:
    """Compares in the background; a problem is an answer too."""
    try:
        how = effect.compare_alike if several else effect.compare
        return asked, how(fleet, moment), None
    except BenchProblem as problem:
        return asked, None, problem
