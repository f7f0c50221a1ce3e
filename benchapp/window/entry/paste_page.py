"""The preview of a pasted sheet: the person's own cells, marked by what they are taken for, to be put right in place.

Nothing is taken before it is confirmed, and then all of it or nothing; taking the rest without the problems is its own
button. What could not be read stays here until someone deals with it.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from typing import Any

import shiboken6
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QPushButton, QSplitter, QVBoxLayout, QWidget

from benchapp.actions import paste as verbs
from benchapp.intake.mapping import PasteMapping
from benchapp.intake.read import read_file, read_text, sheet_names
from benchapp.intake.table import RawTable
from benchapp.problems import BenchProblem
from benchapp.window import settings, spacing, theme
from benchapp.window.entry import words
from benchapp.window.entry.call_panel import label
from benchapp.window.entry.keeper import PASTE, DraftKeeper
from benchapp.window.entry.paste_lists import PasteLists
from benchapp.window.entry.preview import EMPTY, KEPT_CELLS, Pasted, Preview, engines_said, read, read_fitting, whose
from benchapp.window.entry.results_pane import plain_block
from benchapp.window.entry.sheet_pane import SheetPane
from benchapp.window.entry.steps import Step, new_stack

AT_ONCE_CELLS = 500
"""A sheet of up to so many cells is read at once (a few milliseconds); a larger one in the background."""
AT_ONCE_LETTERS = 10_000
FEW = 3
"""So many rows and columns of copied cells are still a few cells to be put right, not another sheet."""
DECIMALS = (("as found", ""), ("point, 12.4", "."), ("comma, 12,4", ","))
SIGN_WORDS = {".": "point", ",": "comma"}


class PastePage(QWidget):
    """See the module."""

    closed = Signal()
    """Back to the form; the sheet stays here."""
    taken = Signal(object)
    """An `actions.paste.Taken`: everything is in the bench file, the sheet is dealt with."""
    held_changed = Signal()
    """A sheet came or went, or its problems changed."""

    def __init__(self, session: Any, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.pasted: Pasted | None = None
        self.engines_said: dict[str, str] = {}
        """Sample code -> the engine that its export named."""
        self._path = ""
        self._fresh = False
        self._known: Collection[str] = ()
        self._waiting: Collection[str] = ()
        self.stack = new_stack(self)
        self.keeper = DraftKeeper(session, PASTE, self)
        self.sheet = SheetPane(self.stack, self)
        self.model, self.table = self.sheet.model, self.sheet.table
        self.lists = PasteLists(self)
        self._build()
        theme.follow(self, self._fit)
        self._fit()
        self._listen()
        self._list_sheets(())
        self._tell()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._give_tabs_room()

    def _fit(self) -> None:
        self.instrument.setMinimumWidth(self.fontMetrics().averageCharWidth() * 34)
        # with room for what the sheet was found to be written with
        self.decimal.setMinimumContentsLength(len("found: comma"))
        self._give_tabs_room()

    def _give_tabs_room(self) -> None:
        """How much is in each list stands on its tab: all tabs are seen, where the sheet keeps the larger part."""
        tabs = self.lists.tabBar().sizeHint().width()
        room = self.split.width() - self.split.handleWidth()
        if self.lists.width() < tabs <= room * 0.4:
            self.split.setSizes([room - tabs, tabs])

    # --- building ----------------------------------------------------------------------------------------------------

    def _build(self) -> None:
        self.head, self.sum, self.whose = label("", "title", self), label("", "head", self), label("", "", self)
        self.split = QSplitter(Qt.Orientation.Horizontal, self)
        self.split.addWidget(self.sheet)
        self.split.addWidget(self.lists)
        self.split.setStretchFactor(0, 7)
        self.split.setStretchFactor(1, 3)
        spacing.handle(self.split, 1)
        letter = self.fontMetrics().averageCharWidth()
        self.split.setSizes([letter * 124, letter * 40])
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        spacing.between(column, 1)
        for widget in (self.head, self.sum, self.whose):
            column.addWidget(widget)
        column.addLayout(self._choices())
        column.addWidget(self.split, 1)
        foot = self._foot()
        column.addWidget(self.state)
        column.addLayout(foot)

    def _choices(self) -> QHBoxLayout:
        self.instrument, self.decimal, self.part = QComboBox(self), QComboBox(self), QComboBox(self)
        self.instrument.setEditable(True)
        self.instrument.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.instrument.lineEdit().setPlaceholderText("which instrument or lab")
        self.instrument.setToolTip("What its columns mean is remembered for the next paste from it.")
        for text, sign in DECIMALS:
            self.decimal.addItem(text, sign)
        self.decimal.setToolTip("1,234 is 1.234 in one office and 1234 in the next: say it once for this source.")
        self.part.setToolTip("Which sheet of the workbook is shown")
        row = QHBoxLayout()
        spacing.between(row, 1)
        self.part_label = QLabel("S&heet", self)
        names = (QLabel("&Instrument", self), QLabel("&Decimal sign", self), self.part_label)
        for name, widget in zip(names, (self.instrument, self.decimal, self.part), strict=True):
            name.setBuddy(widget)
            widget.setAccessibleName(name.text().replace("&", ""))
            row.addWidget(name)
            row.addWidget(widget)
        row.addStretch(1)
        return row

    def _foot(self) -> QHBoxLayout:
        self.state = label("", "", self)
        self.away_button = QPushButton("Put the sheet away", self)
        self.away_button.setToolTip("Close this sheet without taking anything more from it")
        self.back_button = QPushButton("Back  (Esc)", self)
        self.rest_button = QPushButton("Take the rest", self)
        self.rest_button.setToolTip("Take every reading that has no problem; the problems stay here")
        self.confirm_button = QPushButton("Confirm  (Ctrl+Return)", self)
        row = QHBoxLayout()
        spacing.between(row, 1)
        row.addStretch(1)
        for button in (self.away_button, self.back_button, self.rest_button, self.confirm_button):
            button.setAutoDefault(False)
            row.addWidget(button)
        self.confirm_button.setDefault(True)
        return row

    def _listen(self) -> None:
        self.model.cell_edited.connect(self.edit_cell)
        self.table.paste_asked.connect(self.paste_into)
        self.table.clear_asked.connect(self.clear_picked)
        self.sheet.meaning_picked.connect(self.settle)
        self.lists.cell_picked.connect(self._go_to)
        self.instrument.activated.connect(self._instrument_said)
        self.instrument.lineEdit().editingFinished.connect(self._instrument_said)
        self.decimal.activated.connect(self._decimal_said)
        self.part.activated.connect(self._part_said)
        self.away_button.clicked.connect(self.put_away)
        self.back_button.clicked.connect(self.closed)
        self.rest_button.clicked.connect(self.take_the_rest)
        self.confirm_button.clicked.connect(self.confirm)

    # --- a sheet comes in --------------------------------------------------------------------------------------------

    def take_text(self, text: str, name: str = "") -> None:
        """A sheet from the clipboard."""
        self._path = ""
        if len(text) > AT_ONCE_LETTERS:
            self.state.setText("Reading the table …")
            self._session.background(read_text, (text, name), self._text_read, kind="read table")
            return
        try:
            self._text_read(read_text(text, name))
        except BenchProblem as problem:
            self._session.problem.emit(problem)

    def _text_read(self, table: RawTable) -> None:
        if shiboken6.isValid(self):
            self._list_sheets(())
            self._take_table(table)

    def take_file(self, path: str, part: str | None = None) -> None:
        """A sheet from a file, read in the background. `part`: which sheet of a workbook."""
        self._path = path
        self.state.setText("Reading the file …")
        self._session.background(_table_and_sheets, (path, part), self._file_read, kind="read table")

    def _file_read(self, read_of_file: tuple[RawTable, tuple[str, ...], str] | BenchProblem) -> None:
        if not shiboken6.isValid(self):
            return
        if isinstance(read_of_file, BenchProblem):
            self._session.problem.emit(read_of_file)
            self._tell()  # nothing is being read any more
        else:
            table, parts, chosen = read_of_file
            self._list_sheets(parts, chosen)
            self._take_table(table)

    def _list_sheets(self, names: Collection[str], chosen: str = "") -> None:
        """The sheets of a workbook, to choose from; nothing where there is only one."""
        self.part.clear()
        self.part.addItems(list(names))
        self.part.setCurrentIndex(max(0, self.part.findText(chosen)))
        for widget in (self.part, self.part_label):
            widget.setVisible(len(names) > 1)

    def _take_table(self, table: RawTable) -> None:
        instrument = settings.text("entry/instrument")
        self.instrument.setEditText(instrument)
        self._begin(Pasted(table, self._remembered(instrument) or PasteMapping(), table))

    def _remembered(self, instrument: str) -> PasteMapping | None:
        """What was settled for an instrument before."""
        return self._session.look(verbs.mapping_for, instrument) if instrument and self._session.bench else None

    def _begin(self, pasted: Pasted) -> None:
        """Shows a new sheet; one that was not dealt with yet comes back with Ctrl+Z."""
        self._fresh = True
        if self.pasted is None:
            self.stack.clear()
            self._show(pasted)
        else:
            self._step("Paste a sheet", pasted)

    def restore(self, data: dict[str, Any]) -> bool:
        """Puts a kept sheet back. False where the draft is none."""
        pasted = Pasted.from_draft(data)
        if pasted is None:
            return False
        self.instrument.setEditText(str(data.get("instrument", "")))
        self._list_sheets(())
        self._begin(pasted)
        return True

    # --- reading it --------------------------------------------------------------------------------------------------

    def _show(self, pasted: Pasted) -> None:
        """Shows a state and reads it: at once where that is quick."""
        self._fresh = self._fresh or self.pasted is None or pasted.first is not self.pasted.first
        self.pasted = pasted
        self.model.show_sheet(pasted)
        how = read_fitting if self._fresh else read
        if pasted.cells <= AT_ONCE_CELLS:
            self._read(how(pasted))
        else:
            self.state.setText("Reading the sheet …")
            self.confirm_button.setEnabled(False)
            self.rest_button.setEnabled(False)
            self._session.background(how, (pasted,), self._read, kind="preview of a sheet")

    def _read(self, preview: Preview) -> None:
        if not shiboken6.isValid(self) or self.pasted is None or preview.pasted.table is not self.pasted.table:
            return  # the answer to an older state
        fresh, self._fresh = self._fresh, False
        self.pasted = preview.pasted
        self.model.show_preview(preview)
        if fresh:
            self._first_look(preview)
        self._keep()
        self._tell()

    def _first_look(self, preview: Preview) -> None:
        """Fits the columns, names the instrument that the sheet names, and goes to the first problem."""
        self.sheet.fit()
        if self.isVisible():
            self.focus()
        named = {fact.instrument for fact in preview.result.facts if fact.instrument}
        if len(named) == 1 and not self.instrument.currentText().strip():
            self.instrument.setEditText(named.pop())
        self.table.setCurrentIndex(self.model.index(0, 0))
        if preview.result.problems:
            self.sheet.go_to(preview.result.problems[0].row, preview.result.problems[0].column_number)

    @property
    def preview(self) -> Preview | None:
        """What is read from the sheet as it is now; None while it is being read or there is none."""
        found = self.model.preview
        return found if found is not None and self.pasted is not None and found.pasted is self.pasted else None

    @property
    def holds_sheet(self) -> bool:
        return self.pasted is not None

    def _keep(self) -> None:
        if self.pasted is not None and self.pasted.cells <= KEPT_CELLS:
            self.keeper.keep(self.pasted.as_draft(self.instrument.currentText().strip()))

    def flush(self) -> None:
        """Writes the draft now."""
        self.keeper.flush()

    # --- putting it right --------------------------------------------------------------------------------------------

    def _step(self, what: str, after: Pasted) -> None:
        self.stack.push(Step(what, self._show, self.pasted, after))

    def edit_cell(self, row: int, column: int, text: str) -> None:
        """A cell as the person wants it, by the sheet's numbers; the sheet is read again at once."""
        if self.pasted is not None:
            self._step("Change a cell", replace(self.pasted, table=self.pasted.table.with_cell(row, column, text)))

    def paste_into(self, text: str) -> None:
        """A few copied cells go in from the cursor on; anything larger is another sheet."""
        try:
            rows = plain_block(text) or read_text(text).rows
        except BenchProblem as problem:
            self._session.problem.emit(problem)
            return
        at = self.sheet.here()
        if self.pasted is None or at is None or len(rows) > FEW or max(map(len, rows), default=0) > FEW:
            self.take_text(text)
            return
        table = self.pasted.table
        for down, cells in enumerate(rows):
            for across, cell in enumerate(cells):
                table = table.with_cell(at[0] + down, at[1] + across, cell)
        self._step("Paste cells", replace(self.pasted, table=table))

    def clear_picked(self) -> None:
        """Empties the selected cells; one step to take back."""
        if self.pasted is None:
            return
        table = self.pasted.table
        for row, column in self.sheet.picked():
            if table.cell(row, column):
                table = table.with_cell(row, column, "")
        if table is not self.pasted.table:
            self._step("Clear cells", replace(self.pasted, table=table))

    def settle(self, number: int, role: str, measurand: str = "", unit: str = "") -> None:
        """What a column (row, where samples stand side by side) means, said by the person."""
        found = self.preview
        meaning = found.meanings.get(number) if found else None
        if meaning is not None and self.pasted is not None:
            mapping = self.pasted.mapping.with_column(meaning.header, role, measurand, unit, meaning.occurrence)
            self._step("Say what a column is", replace(self.pasted, mapping=mapping))

    def _decimal_said(self, *_: Any) -> None:
        if self.pasted is not None:
            mapping = self.pasted.mapping.with_decimal(str(self.decimal.currentData()))
            self._step("Say the decimal sign", replace(self.pasted, mapping=mapping))

    def _part_said(self, *_: Any) -> None:
        if self._path:
            self.take_file(self._path, self.part.currentText())

    def _instrument_said(self, *_: Any) -> None:
        """Another instrument: what was settled for it is used, unless this sheet was settled by hand already."""
        remembered = self._remembered(self.instrument.currentText().strip())
        if remembered and self.pasted is not None and not self.stack.canUndo() and remembered != self.pasted.mapping:
            self._fresh = True
            self._show(replace(self.pasted, mapping=remembered))
        else:
            self._keep()

    # --- taking it ---------------------------------------------------------------------------------------------------

    def confirm(self) -> None:
        """Takes everything, or goes to the first problem."""
        found = self.preview
        if found is None:
            return
        if found.result.problems:
            self.next_problem()
        elif found.takes:
            self._take(found, take_the_rest=False)

    def take_the_rest(self) -> None:
        """Takes every reading without a problem; the problems stay here."""
        found = self.preview
        if found is not None and found.takes:
            self._take(found, take_the_rest=True)

    def _take(self, found: Preview, *, take_the_rest: bool) -> None:
        instrument = self.instrument.currentText().strip()
        taken = self._session.run(verbs.take, found.result, instrument=instrument or None, take_the_rest=take_the_rest)
        if taken is None:
            return
        settings.keep("entry/instrument", instrument)
        self.engines_said.update(engines_said(found.result))
        said = f"{words.counted(taken.readings, 'reading')} of {words.counted(len(taken.samples), 'sample')} are saved."
        verb = "waits" if len(taken.waiting) == 1 else "wait"
        waits = f"{words.listed(taken.waiting)} {verb} for an engine." if taken.waiting else ""
        waits = " ".join(text for text in (waits, *words.checks_said(taken.check_runs, taken.checks_left)) if text)
        if found.result.problems:
            left = words.counted(len(found.result.problems), "problem")
            self._session.note.emit(said, waits, f"{left} of the sheet still here: put it right and confirm again.")
            self._tell()
            return
        self._session.note.emit(said, waits, "")
        self._clear()
        self.taken.emit(taken)

    def put_away(self) -> None:
        """Closes the sheet; asks first where something of it was never dealt with."""
        found = self.preview
        if found is not None and (found.result.problems or found.takes):
            agreed = self._session.ask.confirm(
                self,
                "Put this sheet away?",
                "What is not confirmed yet is not taken over, and changes made here are gone. The spreadsheet it came "
                "from is as it was.",
                "Put it away",
            )
            if not agreed:
                return
        self._clear()
        self.closed.emit()

    def _clear(self) -> None:
        self.pasted, self._path = None, ""
        self.stack.clear()
        self.model.show_preview(None)
        self.model.show_sheet(EMPTY)
        self.keeper.drop()
        self._tell()

    # --- saying it ---------------------------------------------------------------------------------------------------

    def set_known(self, codes: Collection[str], waiting: Collection[str], instruments: Collection[str]) -> None:
        """Which sample codes the bench file knows, which wait for an engine; the instruments to choose from."""
        self._known, self._waiting = frozenset(codes), frozenset(waiting)
        kept = self.instrument.currentText()
        self.instrument.clear()
        self.instrument.addItems(sorted(instruments))
        self.instrument.setEditText(kept)
        self._tell()

    def _tell(self) -> None:
        found = self.preview
        if self.pasted is None:
            self.head.setText("No sheet is pasted")
            self.sum.setText("")
            self.whose.setText("Copy the cells in the spreadsheet and press Ctrl+V, or open or drop a file.")
        else:
            self.head.setText(f"Pasted sheet {self.pasted.table.name}".strip())
        if found is not None:
            self.sum.setText(found.summary)
            self.whose.setText(whose(found.samples, self._known, self._waiting))
            self._tell_sign(found)
        self.lists.show_preview(found)
        self._name_buttons(found)
        self.held_changed.emit()

    def _tell_sign(self, found: Preview) -> None:
        """Shows the decimal sign: as the person said it, or as it was found."""
        said = found.pasted.mapping.decimal
        name = SIGN_WORDS.get(found.result.mapping.decimal, "")
        self.decimal.setItemText(0, f"found: {name}" if name and not said else DECIMALS[0][0])
        self.decimal.setCurrentIndex(max(0, self.decimal.findData(said)))

    def _name_buttons(self, found: Preview | None) -> None:
        problems = len(found.result.problems) if found else 0
        takes = found is not None and found.takes
        self.confirm_button.setEnabled(takes and not problems)
        self.rest_button.setVisible(problems > 0)
        self.rest_button.setEnabled(takes and problems > 0)
        self.rest_button.setText(f"Take the rest, leave {words.counted(problems, 'problem')}")
        self.away_button.setEnabled(self.pasted is not None)
        if found is not None:
            self.state.setText(found.advice)
        elif self.pasted is None:
            self.state.setText("")

    # --- moving about ------------------------------------------------------------------------------------------------

    def focus(self) -> None:
        """Puts the keyboard into the sheet."""
        (self.table if self.pasted is not None else self.back_button).setFocus(Qt.FocusReason.ShortcutFocusReason)

    def next_problem(self) -> None:
        """The next cell that needs a person, round and round."""
        found = self.preview
        if found is not None and found.result.problems:
            here = self.sheet.here() or (0, 0)
            places = [(p.row, p.column_number) for p in found.result.problems]
            self._go_to(*next((place for place in places if place > here), places[0]))

    def _go_to(self, row: int, column: int) -> None:
        self.sheet.go_to(row, column)
        self.table.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.closed.emit()
        else:
            super().keyPressEvent(event)


def _table_and_sheets(path: str, part: str | None) -> tuple[RawTable, tuple[str, ...], str] | BenchProblem:
    """Reads a file's table and the names of its sheets; a problem is an answer too. For a pool thread."""
    try:
        names = tuple(sheet_names(path))
        return read_file(path, part), names, part or ""
    except BenchProblem as problem:
        return problem
