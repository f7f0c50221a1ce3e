"""The Break-in view: is it done? Three lamps with their evidence, the live checklist, the ceilings."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any, ClassVar

from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetrics, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QStackedWidget,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from benchapp.actions import breakin
from benchapp.actions import series as data
from benchapp.breakin import stages
from benchapp.sheet import breakin_page
from benchapp.window import pictures, spacing, theme, units
from benchapp.window.breakin.checklist import Checklist
from benchapp.window.breakin.lamps import LampCard
from benchapp.window.breakin.page_dialog import PageDialog
from benchapp.window.breakin.plots import LeakPlot, PowerPlot, WearPlot
from benchapp.window.dialogs import forms
from benchapp.window.tables import Column, RowsModel, Table
from benchapp.window.view import View
from benchapp.window.whole import Upright

CEILINGS = (
    Column("Element", lambda c: c.element, width=8),
    Column("Ceiling [ppm]", lambda c: f"{c.ppm:.4g}", lambda c: c.ppm, 14, number=True, why="Highest break-in reading"),
    Column("Noise [ppm]", lambda c: f"± {c.sd_ppm:.2g}", lambda c: c.sd_ppm, 12, number=True, why="One standard error"),
    Column("Sample", lambda c: c.sample, width=14),
    Column("Believed", lambda c: "yes" if c.believed else "marked, not believed", width=22),
    Column("Why not", lambda c: c.why_not, stretch=True),
)


def _element(ceiling) -> str:
    return ceiling.element


class BreakInView(View):
    """See the module."""

    title: ClassVar[str] = "Break-in"
    question: ClassVar[str] = "Is it done?"
    keys: ClassVar[tuple[tuple[str, str], ...]] = (
        ("Ctrl+D", "Add dyno pulls: type or paste"),
        ("Ctrl+Shift+K", "Add a leak-down"),
        ("Space", "Checklist: start or stop the clock (where no tick or field has the keyboard)"),
        ("Ctrl+Right, Ctrl+Left", "Checklist: next stage, stage before"),
        ("Alt+E, Alt+C, Alt+I", "Evidence, checklist, ceilings"),
        ("Ctrl+P", "Print the break-in page"),
        ("Ctrl+Shift+E", "Write the three plots as a picture"),
        ("Ctrl+E", "Write pulls and leak-downs, or the ceilings in front, as a table"),
    )
    help_text: ClassVar[str] = (
        "Three lamps say whether the break-in is done: corrected power has stopped rising, leak-down has settled, the "
        "wear rate has fallen. A full disc is settled, an empty ring is not yet, a dash is no evidence. Any of them "
        "may be missing; the sentence says which stood. " + breakin.TESTERS
    )

    def pieces(self) -> Iterator[None]:
        self.look: breakin.BreakInLook | None = None
        self._behind = False
        self._make_head()
        yield
        yield from self._make_body()
        yield from self._lay_out()
        self._connect()
        theme.follow(self, self._fit)
        self.session.opened_read_only.connect(self._offer_entry)
        self._fit()

    # --- making -------------------------------------------------------------------------------------------------------

    def _box(self, name: str, why: str) -> QComboBox:
        made = QComboBox(self)
        made.setAccessibleName(name)
        made.setToolTip(why)
        made.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        made.setMinimumContentsLength(6)
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
        self.engine_box = self._box("Engine", "Which engine")
        self.build_box = self._box("Build", "Between which rebuilds")
        self.standard_box = self._box("Correction", "How power is corrected to standard air")
        self.standard_box.addItems(breakin.STANDARDS)
        self.print_button = self._button(
            "&Print…", "The break-in page: see it, print it, save it as PDF (Ctrl+P)", self.print_page
        )
        self.sentence = self._words("title", "Is it done?")

    def _make_body(self) -> Iterator[None]:
        self.tabs = QTabWidget(self)
        self.tabs.setAccessibleName("Evidence, checklist, ceilings")
        self.tabs.tabBar().setAccessibleName(self.tabs.accessibleName())
        self.tabs.setDocumentMode(True)
        page = QWidget(self)
        self.cards = {name: LampCard(name, page) for name in ("power", "leak-down", "wear rate")}
        self.plots: dict[str, PowerPlot | LeakPlot | WearPlot] = {}
        for name, kind in (("power", PowerPlot), ("leak-down", LeakPlot), ("wear rate", WearPlot)):
            yield
            self.plots[name] = kind(page)
        yield
        self._lay_out_evidence(page)
        yield
        self.tabs.addTab(Upright(page), "&Evidence")
        yield
        self.tabs.addTab(self._live(), "&Checklist")
        yield
        self.tabs.addTab(self._ceilings(), "Ceil&ings")
        self.picture_button = self._button("Pict&ure", "The plots as PNG or SVG (Ctrl+Shift+E)", self.save_picture)
        self.tabs.setCornerWidget(self.picture_button)
        yield

    def _lay_out_evidence(self, page: QWidget) -> None:
        grid = QGridLayout(page)
        spacing.around(grid, 0, 1, 0, 1)
        self.pulls_button = self._button("Add p&ulls…", "Dyno pulls, typed or pasted (Ctrl+D)", self.add_pulls)
        self.leak_button = self._button("Add &leak-down…", "A leak-down test (Ctrl+Shift+K)", self.add_leak_down)
        self.sample_button = self._button("Add &sample…", "A break-in sample gives a wear rate", self._new_sample)
        for place, name in enumerate(self.cards):
            grid.addWidget(self.cards[name], 0, place)
            grid.addWidget(self.plots[name], 1, place)
            grid.setColumnStretch(place, 1)
        for place, button in enumerate((self.pulls_button, self.leak_button, self.sample_button)):
            grid.addWidget(button, 2, place)
        self.left_out = self._words("quiet", "What was left out")
        grid.addWidget(self.left_out, 3, 0, 1, 3)
        grid.setRowStretch(1, 1)

    def _live(self) -> QWidget:
        page = QWidget(self)
        self.plan_box = self._box("Plan", "Which way of breaking in; none is a standard")
        self.plan_box.setMinimumContentsLength(20)
        self.edit_button = self._button("E&dit the stages…", "Change this plan for the family", self.edit_plan)
        self.original_button = self._button("Back to the &original", "Forget the family's own plan", self.drop_plan)
        self.origin = self._words("quiet", "Where the plan is from")
        self.checklist = Checklist(page)
        row = QHBoxLayout()
        label = QLabel("Pla&n", page)
        label.setBuddy(self.plan_box)
        row.addWidget(label)
        row.addWidget(self.plan_box)
        row.addWidget(self.edit_button)
        row.addWidget(self.original_button)
        row.addStretch(1)
        column = QVBoxLayout(page)
        column.addLayout(row)
        column.addWidget(self.origin)
        column.addWidget(self.checklist, 1)
        return page

    def _ceilings(self) -> QWidget:
        page = QWidget(self)
        self.ceilings = Table(RowsModel(CEILINGS, _element), "Ceilings of this build")
        self.ceiling_words = self._words("quiet")
        column = QVBoxLayout(page)
        column.addWidget(self.ceiling_words)
        column.addWidget(self.ceilings, 1)
        return page

    def _lay_out(self) -> Iterator[None]:
        head = QHBoxLayout()
        boxes = (("En&gine", self.engine_box, 3), ("&Build", self.build_box, 2), ("Correc&tion", self.standard_box, 3))
        for said, box, share in boxes:
            label = QLabel(said, self)
            label.setBuddy(box)
            head.addWidget(label)
            head.addWidget(box, share)
            spacing.after(head, 1)
        head.addWidget(self.print_button)
        self.empty = self._words()
        self.empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        body = QWidget(self)
        column = QVBoxLayout(body)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.sentence)
        column.addWidget(self.tabs, 1)
        yield
        self.stack = QStackedWidget(self)
        self.stack.addWidget(body)
        self.stack.addWidget(self.empty)
        yield
        whole = QVBoxLayout(self)
        spacing.around(whole, 1, 1, 1, 1)
        whole.addLayout(head)
        whole.addWidget(self.stack, 1)
        order = (self.engine_box, self.build_box, self.standard_box, self.print_button, self.tabs.tabBar())
        order += (self.picture_button, self.pulls_button, self.leak_button, self.sample_button)
        for first, second in pairwise(order):
            QWidget.setTabOrder(first, second)
        yield

    def _connect(self) -> None:
        self.engine_box.activated.connect(self._engine_picked)
        self.build_box.activated.connect(self._show)
        self.standard_box.activated.connect(self._show)
        self.plan_box.activated.connect(self._plan_picked)
        self.checklist.touched.connect(self._keep)
        self.checklist.start_over_asked.connect(self._start_over)
        self.session.engine_selected.connect(self._engine_selected)
        within = Qt.ShortcutContext.WidgetWithChildrenShortcut
        for key, method in (
            ("Ctrl+D", self.add_pulls),
            ("Ctrl+Shift+K", self.add_leak_down),
            ("Ctrl+Shift+E", self.save_picture),
        ):
            QShortcut(QKeySequence(key), self, method, context=within)

    def _fit(self) -> None:
        line = QFontMetrics(self.font()).lineSpacing()
        for card in self.cards.values():
            card.setMinimumHeight(round(line * 5.2))
        for name in self.cards:
            self.plots[name].setMinimumHeight(round(theme.current().points * 12))

    # --- what the window tells ----------------------------------------------------------------------------------------

    def refresh(self, changed: Any | None) -> None:
        """Reads anew what an action touched; a view in the back waits until it is shown."""
        known = [self.engine_box.itemData(i) for i in range(self.engine_box.count())]
        concerns = (
            changed is None
            or self.engine in changed.engines
            or changed.touches("engine", "family", "material", "oil", "instrument", "check run")
            or any(engine not in known for engine in changed.engines)
        )
        if not concerns:
            return
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
        if self.look is None:
            self.engine_box.setFocus()
        elif self.tabs.currentIndex() == 1:
            self.checklist.go.setFocus()
        else:
            self.tabs.tabBar().setFocus()

    def show_engine(self, engine: str, element: str = "") -> None:
        self._fill_engines(engine)

    def _engine_selected(self, engine: str) -> None:
        if engine and engine != self.engine:
            if self.isVisible():
                self._fill_engines(engine)
            else:
                self._behind = True

    # --- engine, build, standard --------------------------------------------------------------------------------------

    @property
    def engine(self) -> str:
        return self.engine_box.currentData() or ""

    @property
    def build(self) -> str:
        return self.build_box.currentData() or ""

    def fill(self) -> Iterator[None]:
        self._list_builds(keep=self._list_engines())
        yield
        yield from self._showing()

    def _fill_engines(self, wanted: str = "") -> None:
        self._fill_builds(keep=self._list_engines(wanted))

    def _list_engines(self, wanted: str = "") -> bool:
        """Lists the engines; True where the same one is at hand as before."""
        before = self.engine
        wanted = wanted or self.session.selected_engine or before
        self.engine_box.clear()
        for engine in self.session.fleet.engines:
            self.engine_box.addItem(f"{engine.name}, {engine.car}" if engine.car else engine.name, engine.name)
        self.engine_box.setCurrentIndex(max(0, self.engine_box.findData(wanted)))
        return self.engine == before

    def _fill_builds(self, *, keep: bool) -> None:
        self._list_builds(keep=keep)
        self._show()

    def _list_builds(self, *, keep: bool) -> None:
        wanted = self.build if keep else ""
        numbers = (self.session.look(data.builds_of, self.engine) if self.engine else ()) or ()
        self.build_box.clear()
        for number in reversed(numbers):
            self.build_box.addItem(f"{number} (now)" if number == numbers[-1] else number, number)
        self.build_box.setCurrentIndex(max(0, self.build_box.findData(wanted)))

    def _engine_picked(self, _index: int) -> None:
        self._fill_builds(keep=False)
        self.session.select(self.engine)

    # --- showing ------------------------------------------------------------------------------------------------------

    def _show(self, _index: int = 0) -> None:
        for _ in self._showing():
            pass

    def _showing(self) -> Iterator[None]:
        self.look = None
        if self.build:
            self.look = self.session.look(breakin.look, self.engine, self.build, self.standard_box.currentText())
        self.stack.setCurrentIndex(0 if self.look else 1)
        self.print_button.setEnabled(self.look is not None)
        if self.look is None:
            what = "No engine yet.\nAdd one with Ctrl+N; its break-in is followed here."
            self.empty.setText(
                what if not self.engine else f"{self.engine} has no build yet.\nAdd one: Bench, New build."
            )
            return
        look = self.look
        yield
        yield from self._show_evidence(look)
        self._show_live(look)
        yield
        self._show_ceilings(look)
        yield

    def _show_evidence(self, look: breakin.BreakInLook) -> Iterator[None]:
        self.sentence.setText(look.state.sentence)
        for lamp in look.state.lamps:
            self.cards[lamp.name].show_lamp(lamp.state, lamp.reason)
            self.plots[lamp.name].show_look(look)
            yield
        said = [f"Left out of {look.standard}: {'; '.join(look.state.left_out)}."] if look.state.left_out else []
        self.left_out.setText(units.in_words(" ".join([*said, breakin.RANGES, breakin.TESTERS])))
        self._offer_entry()

    def _offer_entry(self) -> None:
        """What is entered belongs to the build of now, in a file that may be written."""
        bench = self.session.bench
        may = bench is not None and not bench.read_only and self.build_box.currentIndex() == 0
        for button in (self.pulls_button, self.leak_button, self.sample_button):
            button.setEnabled(may)

    def _show_live(self, look: breakin.BreakInLook) -> None:
        self.plan_box.clear()
        for plan in look.plans:
            self.plan_box.addItem(plan.name, plan.name)
            last = self.plan_box.count() - 1
            self.plan_box.setItemData(last, breakin.origin_words(plan), Qt.ItemDataRole.ToolTipRole)
        self.plan_box.setCurrentIndex(max(0, self.plan_box.findData(look.plan.name)))
        why = f" {look.plan.why}" if look.plan.why else ""
        self.origin.setText(f"{breakin.origin_words(look.plan)}{why} Oil: {look.plan.oil_kind} oil.")
        self.original_button.setEnabled(bool(self.session.look(breakin.has_own_plan, look.engine)))
        self.checklist.show_cautions(look.cautions)
        self.checklist.show_standing(look.plan, look.standing)

    def _show_ceilings(self, look: breakin.BreakInLook) -> None:
        self.ceilings.rows.set_rows(look.ceilings)
        if look.ceilings:
            self.ceiling_words.setText(
                "The highest break-in reading of each wear metal: a sound engine should not come there again. Metals "
                "that a first drain can hold with nothing worn are marked, not believed."
            )
        else:
            self.ceiling_words.setText(
                f"{look.engine} build {look.build} has no break-in sample, so it has no ceiling of its own. "
                "Take one before the break-in oil is drained and tick it as break-in."
            )

    # --- the checklist ------------------------------------------------------------------------------------------------

    def _keep(self, standing: stages.Standing) -> None:
        """On the disk before it is shown."""
        if self.look is None:
            return
        self.session.look(breakin.keep_standing, self.engine, self.build, self.look.plan, standing)
        self.checklist.show_standing(self.look.plan, standing)

    def _start_over(self) -> None:
        means = "Clock and ticks begin anew; notes, pulls and samples stay."
        if self.session.ask.confirm(self, "Start the checklist over?", means, "Start over"):
            self.checklist.start_over()

    def _plan_picked(self, _index: int) -> None:
        self.session.look(breakin.choose_plan, self.engine, self.build, self.plan_box.currentData())
        self._show()

    def edit_plan(self) -> None:
        """The stages as a table, kept for the family."""
        from benchapp.window.breakin.forms import PlanForm

        if self.look is not None:
            self.session.select(self.engine)
            form = PlanForm(self.session, self, plan=self.look.plan)
            form.accepted.connect(self._plan_kept)
            self.session.ask.show(form)

    def _plan_kept(self) -> None:
        own = (self.session.look(breakin.plans, self.engine) or ())[0]
        self.session.look(breakin.choose_plan, self.engine, self.build, own.name)
        self._show()

    def drop_plan(self) -> None:
        """Back to the plans that come with the program."""
        self.session.look(breakin.drop_plan, self.engine)
        self._show()

    # --- entering -----------------------------------------------------------------------------------------------------

    def add_pulls(self) -> None:
        """Dyno pulls, typed or pasted."""
        from benchapp.window.breakin.forms import PullsForm

        if self.look is not None and self.pulls_button.isEnabled():
            self.session.select(self.engine)
            self.session.ask.show(PullsForm(self.session, self))

    def add_leak_down(self) -> None:
        if self.look is not None and self.leak_button.isEnabled():
            self.session.select(self.engine)
            forms.show(forms.LEAK_DOWN, self.session, self)

    def _new_sample(self) -> None:
        self.session.new_sample(self.engine)

    def save_picture(self) -> None:
        """Writes the plots of the evidence as PNG or SVG."""
        if self.look is not None:
            plots = [(plot.name, plot.graphics) for plot in self.plots.values()]
            pictures.save(self.session, self, plots, f"break-in {self.engine}")

    def export_table(self) -> None:
        """Writes the ceilings where they are in front, else pulls and leak-downs as they were read."""
        if self.look is None:
            return
        from benchapp.window.dialogs import export as exports

        if self.tabs.currentIndex() == self.tabs.count() - 1:
            exports.export_rows(self.session, self, "Ceilings", self.ceilings)
            return
        build = self.session.bench.build(self.engine, self.look.build)
        rows = [("Pull", each.pull, each.build_h, each.power_kw, "kW as read") for each in build.pulls]
        rows += [("Leak-down", each.cylinder, each.build_h, each.percent, "%") for each in build.leak_downs]
        heads = ("What", "Name", "Hours [h]", "Value", "Unit")
        exports.write_rows(self.session, self, "Break-in evidence", heads, rows)

    def print_page(self) -> None:
        """The break-in page, seen before it is printed or saved."""
        if self.look is not None:
            page = self.session.look(breakin.page, self.look)
            self.session.ask.show(PageDialog(self.session, page, breakin_page, self))
