"""The live checklist for the dyno cell: big clock, what is asked, what is next, ticks, notes, cautions.

Every touch is on the disk when it returns; after a crash in mid-stage the clock is found running on."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QApplication,
    QCheckBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from benchapp.actions import breakin
from benchapp.breakin import stages
from benchapp.window import spacing, theme


class Checklist(QWidget):
    """See the module. Tells `touched` with the new standing; the view keeps it."""

    touched = Signal(object)
    start_over_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.plan: stages.Plan | None = None
        self.standing = stages.Standing()
        self.ticks: list[QCheckBox] = []
        self._up_for = -1
        self._clock = QTimer(self)
        self._clock.setInterval(500)
        self._clock.timeout.connect(self._tick_clock)
        self._make()
        self._lay_out()
        theme.follow(self, self.fit)
        self.fit()

    def _label(self, role: str = "", name: str = "") -> QLabel:
        made = QLabel(self)
        made.setTextFormat(Qt.TextFormat.PlainText)
        made.setWordWrap(True)
        if role:
            made.setProperty("role", role)
        if name:
            made.setAccessibleName(name)
        return made

    def _button(self, text: str, why: str, method) -> QPushButton:
        made = QPushButton(text, self)
        made.setToolTip(why)
        made.clicked.connect(method)
        return made

    def _make(self) -> None:
        self.stage_head, self.what = self._label(name="Stage"), self._label()
        self.clock, self.left = self._label(name="Clock of the stage"), self._label()
        self.clock.setWordWrap(False)
        self.look_out, self.following = self._label("quiet"), self._label()
        self.go = self._button(
            "Start the clock", "Starts or stops the clock of this stage (Space)", self.start_or_pause
        )
        self.next = self._button("&Next stage", "This stage is done: on to the next (Ctrl+Right)", self.next_stage)
        self.before = self._button("Stage &before", "Back to the stage before (Ctrl+Left)", self.previous_stage)
        self.again = self._button("Start &over", "The checklist from its first stage; notes stay", self._start_over)
        self.note = QLineEdit(self)
        self.note.setPlaceholderText("Note, then Enter: oil pressure, temperatures, leaks, noises")
        self.note.setAccessibleName("Note")
        self.note.returnPressed.connect(self._add_note)
        self.notes = self._label("", "Notes so far")
        self.cautions = QFrame(self)
        self.cautions.setProperty("role", "card")
        self._caution_column = QVBoxLayout(self.cautions)

    def _lay_out(self) -> None:
        left = QVBoxLayout()
        spacing.between(left, 1)
        left.addWidget(self.stage_head)
        left.addWidget(self.what)
        clock = QHBoxLayout()
        times = QVBoxLayout()
        times.setSpacing(0)
        times.addWidget(self.clock)
        times.addWidget(self.left)
        clock.addLayout(times, 1)
        clock.addWidget(self.go)
        left.addLayout(clock)
        left.addWidget(self.look_out)
        self._tick_column = QVBoxLayout()
        self._tick_column.setSpacing(0)
        left.addLayout(self._tick_column)
        left.addWidget(self.following)
        left.addStretch(1)
        right = QVBoxLayout()
        right.addWidget(self.cautions)
        right.addWidget(self.note)
        right.addWidget(self.notes)
        right.addStretch(1)
        inside = QWidget(self)
        row = QHBoxLayout(inside)
        spacing.around(row, 1, 1, 1, 1)
        spacing.between(row, 3)
        row.addLayout(left, 3)
        row.addLayout(right, 2)
        area = QScrollArea(self)
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setWidget(inside)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(area, 1)
        buttons = QHBoxLayout()
        spacing.around(buttons, 1, 1, 1, 0)
        for button in (self.next, self.before, self.again):
            buttons.addWidget(button)
        buttons.addStretch(1)
        whole.addLayout(buttons)

    def fit(self) -> None:
        """Big type, finger-sized targets whatever the look."""
        now = theme.current()
        for label, times, bold in (
            (self.stage_head, 2.0, True), (self.what, 1.35, False), (self.clock, 4.6, True), (self.left, 1.5, True),
            (self.following, 1.25, False), (self.notes, 1.1, False), (self.look_out, 1.1, False),
        ):  # fmt: skip
            label.setStyleSheet(f"font-size: {now.points * times:.1f}pt; font-weight: {600 if bold else 400};")
        target = max(44, now.target_px)
        self.go.setStyleSheet(f"font-size: {now.points * 1.4:.1f}pt; min-height: {round(target * 1.5)}px;")
        self.go.setMinimumWidth(round(now.points * 22))
        for button in (self.next, self.before, self.again):
            button.setStyleSheet(f"min-height: {target}px;")
        for tick in self.ticks:
            self._fit_tick(tick)

    def _fit_tick(self, tick: QCheckBox) -> None:
        now = theme.current()
        side = round(2.2 * now.points)
        tick.setStyleSheet(
            f"QCheckBox {{ font-size: {now.points * 1.35:.1f}pt; min-height: {max(44, now.target_px)}px; }} "
            f"QCheckBox::indicator {{ width: {side}px; height: {side}px; }}"
        )

    # --- showing ------------------------------------------------------------------------------------------------------

    def show_cautions(self, texts: tuple[str, ...]) -> None:
        """What must be said where hot oil and a running engine are."""
        while self._caution_column.count():
            widget = self._caution_column.takeAt(0).widget()
            if widget is not None:
                widget.deleteLater()
        head = self._label("head")
        head.setText("Caution: hot oil, running engine")
        self._caution_column.addWidget(head)
        for text in texts:
            line = self._label()
            line.setText(text)
            self._caution_column.addWidget(line)

    def show_standing(self, plan: stages.Plan, standing: stages.Standing) -> None:
        """Shows where the break-in stands."""
        same = plan == self.plan and standing.stage == self.standing.stage
        self.plan, self.standing = plan, standing
        over = standing.stage >= len(plan.stages)
        if not same or not self.ticks or over:
            self._make_ticks()
        for tick in self.ticks:
            tick.blockSignals(True)
            tick.setChecked(tick.text() in standing.ticked)
            tick.blockSignals(False)
        if over:
            self._show_over(plan)
        else:
            self._show_stage(plan, plan.stages[standing.stage])
        self.notes.setText("\n".join(f"· {note}" for note in standing.notes))
        self.before.setEnabled(standing.stage > 0)
        self.next.setEnabled(not over)
        self.go.setEnabled(not over)
        self._run_clock()

    def _show_over(self, plan: stages.Plan) -> None:
        self.stage_head.setText("The plan is at its end")
        self.what.setText("Look at the lamps above: they say whether the break-in is done.")
        self.look_out.setText("")
        self.following.setText("")

    def _show_stage(self, plan: stages.Plan, stage: stages.Stage) -> None:
        at = self.standing.stage
        self.stage_head.setText(f"Stage {at + 1} of {len(plan.stages)}: {stage.name}")
        load = f"{stage.load} load" if stage.load and stage.load != "none" else "no load" if stage.load else ""
        minutes = f"{stage.minutes:g} min" if stage.minutes else ""
        self.what.setText(" · ".join(part for part in (minutes, stages.speed_words(stage), load) if part))
        self.look_out.setText(stage.note)
        following = plan.stages[at + 1] if at + 1 < len(plan.stages) else None
        if following is None:
            self.following.setText("Next: nothing, this is the last stage.")
        else:
            minutes = f", {following.minutes:g} min" if following.minutes else ""
            self.following.setText(f"Next: {following.name}{minutes}")

    def _make_ticks(self) -> None:
        for tick in self.ticks:
            self._tick_column.removeWidget(tick)
            tick.deleteLater()
        asked = stages.asked(self.plan, self.standing) if self.plan else ()
        self.ticks = [QCheckBox(item, self) for item in asked]
        first: QWidget = self.go
        for tick in self.ticks:
            self._fit_tick(tick)
            tick.toggled.connect(self._ticked)
            self._tick_column.addWidget(tick)
            QWidget.setTabOrder(first, tick)
            first = tick
        for following in (self.next, self.before, self.again, self.note):
            QWidget.setTabOrder(first, following)
            first = following

    # --- the clock ----------------------------------------------------------------------------------------------------

    def _run_clock(self) -> None:
        running = self.standing.since is not None
        self.go.setText("Stop the clock" if running else "Start the clock")
        if running and self.isVisible():
            self._clock.start()
        else:
            self._clock.stop()
        self._tick_clock()

    def _tick_clock(self) -> None:
        if self.plan is None:
            return
        now = breakin.now()
        over = self.standing.stage >= len(self.plan.stages)
        self.clock.setText("" if over else stages.clock_words(stages.elapsed_s(self.standing, now)))
        self.left.setText(self._left_words(now))
        self.clock.setAccessibleDescription(f"{self.clock.text()} run, {self.left.text()}")

    def _left_words(self, now) -> str:
        if self.plan is None or self.standing.stage >= len(self.plan.stages):
            return ""
        running = "running" if self.standing.since is not None else "standing"
        if not self.plan.stages[self.standing.stage].minutes:
            return f"{running}, no set time"
        left = stages.left_s(self.plan, self.standing, now)
        if left > 0:
            return f"{running}, {stages.clock_words(left)} to go"
        if self._up_for != self.standing.stage and self.standing.since is not None:
            self._up_for = self.standing.stage
            QApplication.beep()
        return f"Time is up, {stages.clock_words(-left)} over ({running})"

    def start_or_pause(self) -> None:
        """Starts or stops the clock."""
        now = breakin.now()
        running = self.standing.since is not None
        self._touch(stages.pause(self.standing, now) if running else stages.start(self.standing, now))

    def next_stage(self) -> None:
        if self.plan is not None:
            self._touch(stages.next_stage(self.plan, self.standing))

    def previous_stage(self) -> None:
        self._touch(stages.previous_stage(self.standing))

    def _start_over(self) -> None:
        self.start_over_asked.emit()

    def start_over(self) -> None:
        """The first stage anew; notes stay."""
        self._touch(stages.Standing(notes=self.standing.notes))

    def _ticked(self, on: bool) -> None:
        tick = self.sender()
        if isinstance(tick, QCheckBox):
            how = stages.tick if on else stages.untick
            self._touch(how(self.standing, tick.text()))

    def _add_note(self) -> None:
        text = self.note.text()
        if text.strip():
            self._touch(stages.note(self.standing, breakin.stamped(text)))
            self.note.clear()

    def _touch(self, standing: stages.Standing) -> None:
        self.touched.emit(standing)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        control = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        if event.key() == Qt.Key.Key_Space and self.go.isEnabled():
            self.start_or_pause()
        elif event.key() == Qt.Key.Key_Right and control and self.next.isEnabled():
            self.next_stage()
        elif event.key() == Qt.Key.Key_Left and control and self.before.isEnabled():
            self.previous_stage()
        else:
            super().keyPressEvent(event)

    def showEvent(self, event) -> None:
        super().showEvent(event)
        self._run_clock()

    def hideEvent(self, event) -> None:
        super().hideEvent(event)
        self._clock.stop()
