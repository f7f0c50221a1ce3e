"""The preview of a pasted sheet: the person's own cells, marked by what they are taken for, to be put right in place.

Nothing is taken before it is confirmed, and then all of it or nothing; taking the rest without the problems is its own
button. What could not be read stays here until someone deals with it.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from PySide6.QtCore import QEvent, QPoint, Qt, Signal
from PySide6.QtGui import QAction, QKeyEvent
from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QMenu,
    QPushButton,
    QSplitter,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from benchapp.actions import paste as verbs
from benchapp.intake.read import read_file, read_text, sheet_names
from benchapp.intake.table import RawTable
from benchapp.problems import BenchProblem
from benchapp.window import settings, theme
from benchapp.window.entry import look, words
from benchapp.window.entry.call_panel import label
from benchapp.window.entry.column_menu import column_menu
from benchapp.window.entry.keeper import PASTE, DraftKeeper
from benchapp.window.entry.preview import KEPT_CELLS, Pasted, Preview, letters, read, read_fitting, whose
from benchapp.window.entry.preview_model import CELL_ROLE, PreviewModel
from benchapp.window.entry.results_pane import plain_block
from benchapp.window.entry.steps import Step, new_stack
from benchapp.window.entry.tables import EntryTable

AT_ONCE_CELLS = 500
"""A sheet of up to so many cells is read at once (a few milliseconds); a larger one in the background."""
LOOKED_AT = 30
"""Rows that the width of a column is taken from."""
MOST_LISTED = 300
DECIMALS = (("as found", ""), ("point, 12.4", "."), ("comma, 12,4", ","))
CELL = int(Qt.ItemDataRole.UserRole)


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
        self._first = RawTable(())
        self._path = ""
        self._pending_fit = False
        self._known: Collection[str] = ()
        self._waiting: Collection[str] = ()
        self._menu: QMenu | None = None
        self.stack = new_stack(self)
        self.keeper = DraftKeeper(session, PASTE, self)
        self.model = PreviewModel(self)
        self.model.cell_edited.connect(self.edit_cell)
        self._build()
        self._list_sheets(())
        self._tell()

    # --- building ----------------------------------------------------------------------------------------------------

    def _build(self) -> None:
        gap = theme.current().gap_px
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(gap)
        self.head = label("", "title", self)
        self.sum = label("", "head", self)
        self.whose = label("", "", self)
        for widget in (self.head, self.sum, self.whose):
            column.addWidget(widget)
        column.addLayout(self._choices())
        self.split = QSplitter(Qt.Orientation.Horizontal, self)
        self.split.addWidget(self._sheet())
        self.split.addWidget(self._lists())
        self.split.setStretchFactor(0, 7)
        self.split.setStretchFactor(1, 3)
        self.split.setHandleWidth(gap)
        letter = self.fontMetrics().averageCharWidth()
        self.split.setSizes([letter * 124, letter * 40])
        column.addWidget(self.split, 1)
        column.addLayout(self._foot())

    def _choices(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(theme.current().gap_px)
        self.instrument = QComboBox(self)
        self.instrument.setEditable(True)
        self.instrument.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.instrument.lineEdit().setPlaceholderText("which instrument or lab")
        self.instrument.setToolTip("What its columns mean is remembered for the next paste from it.")
        self.instrument.setMinimumWidth(self.fontMetrics().averageCharWidth() * 28)
        self.instrument.activated.connect(self._instrument_said)
        self.instrument.lineEdit().editingFinished.connect(self._instrument_said)
        self.decimal = QComboBox(self)
        for text, sign in DECIMALS:
            self.decimal.addItem(text, sign)
        self.decimal.setToolTip("1,234 is 1.234 in one office and 1234 in the next: say it once for this source.")
        self.decimal.activated.connect(self._decimal_said)
        self.sheet = QComboBox(self)
        self.sheet.activated.connect(self._sheet_said)
        for text, widget in (("&Instrument", self.instrument), ("&Decimal sign", self.decimal), ("S&heet", self.sheet)):
            name = QLabel(text, self)
            name.setBuddy(widget)
            widget.setAccessibleName(text.replace("&", ""))
            row.addWidget(name)
            row.addWidget(widget)
            if widget is self.sheet:
                self.sheet_label = name
        row.addStretch(1)
        return row

    def _sheet(self) -> QWidget:
        box = QWidget(self)
        column = QVBoxLayout(box)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.current().gap_px // 2)
        self.table = EntryTable(box)
        self.table.setObjectName("preview")
        self.table.setAccessibleName("Preview of the pasted sheet")
        self.table.setModel(self.model)
        self.table.stack = self.stack
        self.table.paste_asked.connect(self.paste_into)
        self.table.clear_asked.connect(self.clear_picked)
        self.table.installEventFilter(self)
        for header in (self.table.horizontalHeader(), self.table.verticalHeader()):
            header.setSectionsClickable(True)
            header.setHighlightSections(False)
        self.table.horizontalHeader().sectionClicked.connect(self._column_clicked)
        self.table.verticalHeader().sectionClicked.connect(self._row_clicked)
        column.addWidget(self.table, 1)
        column.addLayout(self._legend(box))
        return box

    def _legend(self, parent: QWidget) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(theme.current().gap_px // 2)
        self._marks: dict[str, QLabel] = {}
        for role in ("header", "unit", "sample", "left out", "problem"):
            mark, name = QLabel(parent), QLabel(look.ROLE_WORDS[role], parent)
            self._marks[role] = mark
            name.setProperty("role", "quiet")
            row.addWidget(mark)
            row.addWidget(name)
            row.addSpacing(theme.current().gap_px)
        row.addStretch(1)
        theme.watch().changed.connect(self._paint)
        self._paint()
        return row

    def _paint(self) -> None:
        """The marks of the key in the colours of the look."""
        for role, mark in self._marks.items():
            mark.setPixmap(look.pixmap(role))

    def _lists(self) -> QTabWidget:
        self.tabs = QTabWidget(self)
        self.problems, self.left_out, self.notes = QListWidget(self), QListWidget(self), QListWidget(self)
        for name, widget in (("Problems", self.problems), ("Left out", self.left_out), ("Notes", self.notes)):
            widget.setWordWrap(True)
            widget.setAccessibleName(name)
            widget.itemClicked.connect(self._go_to_item)
            widget.itemActivated.connect(self._go_to_item)
            self.tabs.addTab(widget, name)
        return self.tabs

    def _foot(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(theme.current().gap_px)
        self.state = label("", "", self)
        self.away_button = QPushButton("Put the sheet away", self)
        self.away_button.setToolTip("Close this sheet without taking anything more from it")
        self.back_button = QPushButton("Back  (Esc)", self)
        self.rest_button = QPushButton("Take the rest", self)
        self.rest_button.setToolTip("Take every reading that has no problem; the problems stay here")
        self.confirm_button = QPushButton("Confirm  (Ctrl+Return)", self)
        self.confirm_button.setDefault(True)
        self.away_button.clicked.connect(self.put_away)
        self.back_button.clicked.connect(self.closed)
        self.rest_button.clicked.connect(self.take_the_rest)
        self.confirm_button.clicked.connect(self.confirm)
        row.addWidget(self.state, 1)
        for button in (self.away_button, self.back_button, self.rest_button, self.confirm_button):
            button.setAutoDefault(False)
            row.addWidget(button)
        return row

    # --- a sheet comes in --------------------------------------------------------------------------------------------

    def take_text(self, text: str, name: str = "") -> None:
        """A sheet from the clipboard."""
        self._path = ""
        if len(text) > AT_ONCE_CELLS * 20:
            self.state.setText("Reading the table …")
            self._session.background(read_text, (text, name), self._text_read, kind="read table")
            return
        try:
            self._text_read(read_text(text, name))
        except BenchProblem as problem:
            self._session.problem.emit(problem)

    def _text_read(self, table: RawTable) -> None:
        self._list_sheets(())
        self._take_table(table)

    def take_file(self, path: str, sheet: str | None = None) -> None:
        """A sheet from a file, read in the background."""
        self._path = path
        self.state.setText("Reading the file …")
        self._session.background(_table_and_sheets, (path, sheet), self._file_read, kind="read table")

    def _file_read(self, read_of_file: tuple[RawTable, tuple[str, ...], str]) -> None:
        table, sheets, chosen = read_of_file
        self._list_sheets(sheets, chosen)
        self._take_table(table)

    def _list_sheets(self, names: Collection[str], chosen: str = "") -> None:
        """The sheets of a workbook, to choose from; nothing where there is only one."""
        self.sheet.clear()
        self.sheet.addItems(list(names))
        self.sheet.setCurrentIndex(max(0, self.sheet.findText(chosen)))
        for widget in (self.sheet, self.sheet_label):
            widget.setVisible(len(names) > 1)

    def _take_table(self, table: RawTable) -> None:
        instrument = settings.text("entry/instrument")
        mapping = self._session.look(verbs.mapping_for, instrument) if instrument and self._session.bench else None
        self.instrument.setEditText(instrument)
        self._begin(Pasted(table, mapping) if mapping else Pasted(table))

    def _begin(self, pasted: Pasted) -> None:
        self.stack.clear()
        self._first = pasted.table
        self._pending_fit = True
        self._show(pasted)

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
        self.pasted = pasted
        self.model.show_sheet(pasted, self._first)
        how = read_fitting if self._pending_fit else read
        if pasted.cells <= AT_ONCE_CELLS:
            self._read(how(pasted))
        else:
            self.state.setText("Reading the sheet …")
            self.confirm_button.setEnabled(False)
            self.rest_button.setEnabled(False)
            self._session.background(how, (pasted,), self._read, kind="preview of a sheet")

    def _read(self, preview: Preview) -> None:
        if self.pasted is None or preview.pasted.table is not self.pasted.table:
            return  # the answer to an older state
        first = self._pending_fit
        self._pending_fit = False
        self.pasted = preview.pasted
        self.model.show_preview(preview)
        if first:
            self._fit_columns()
            self.table.horizontalScrollBar().setValue(0)
            self._instrument_of_sheet(preview)
            self._first_look(preview)
        self._keep()
        self._tell()

    def _instrument_of_sheet(self, preview: Preview) -> None:
        """The instrument that the sheet itself names."""
        named = {fact.instrument for fact in preview.result.facts if fact.instrument}
        if len(named) == 1 and not self.instrument.currentText().strip():
            self.instrument.setEditText(named.pop())

    def _first_look(self, preview: Preview) -> None:
        """The cursor on the first problem, or on the first cell."""
        if preview.result.problems:
            self._go_to(preview.result.problems[0].row, preview.result.problems[0].column_number)
        else:
            self.table.setCurrentIndex(self.model.index(0, 0))

    def _fit_columns(self) -> None:
        """Columns as wide as the texts in sight need, within reason."""
        letter = self.table.fontMetrics().averageCharWidth()
        rows = range(min(self.model.rowCount(), LOOKED_AT))
        for column in range(self.model.columnCount()):
            head = str(self.model.headerData(column, Qt.Orientation.Horizontal, int(Qt.ItemDataRole.DisplayRole)))
            texts = [str(self.model.index(row, column).data() or "") for row in rows]
            longest = max(map(len, [*head.split("\n"), *texts]), default=0)
            self.table.setColumnWidth(column, (min(max(longest, 4), 20) + 6) * letter)

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

    def _step(self, words_: str, after: Pasted) -> None:
        self.stack.push(Step(words_, self._show, self.pasted, after))

    def edit_cell(self, row: int, column: int, text: str) -> None:
        """A cell as the person wants it, by the sheet's numbers; the sheet is read again at once."""
        if self.pasted is not None:
            self._step("Change a cell", Pasted(self.pasted.table.with_cell(row, column, text), self.pasted.mapping))

    def paste_into(self, text: str) -> None:
        """A few copied cells go in from the cursor on; a whole sheet takes the place of this one."""
        try:
            rows = plain_block(text) or read_text(text).rows
        except BenchProblem as problem:
            self._session.problem.emit(problem)
            return
        at = self.table.currentIndex()
        if self.pasted is None or not at.isValid() or len(rows) > 3 or max(map(len, rows), default=0) > 3:
            self.take_text(text)
            return
        table = self.pasted.table
        row, column = at.data(CELL_ROLE)
        for down, cells in enumerate(rows):
            for across, cell in enumerate(cells):
                table = table.with_cell(row + down, column + across, cell)
        self._step("Paste cells", Pasted(table, self.pasted.mapping))

    def clear_picked(self) -> None:
        """Empties the selected cells; one step to take back."""
        if self.pasted is None:
            return
        table = self.pasted.table
        for cell in self.table.picked():
            row, column = cell.data(CELL_ROLE)
            if table.cell(row, column):
                table = table.with_cell(row, column, "")
        if table is not self.pasted.table:
            self._step("Clear cells", Pasted(table, self.pasted.mapping))

    def settle(self, number: int, role: str, measurand: str = "", unit: str = "") -> None:
        """What a column (row, where samples stand side by side) means, said by the person."""
        found = self.preview
        meaning = found.meanings.get(number) if found else None
        if meaning is None or self.pasted is None:
            return
        mapping = self.pasted.mapping.with_column(meaning.header, role, measurand, unit, meaning.occurrence)
        self._step("Say what a column is", Pasted(self.pasted.table, mapping))

    def menu_for(self, number: int) -> QMenu | None:
        """The menu of what a column (row) can mean, with what it is now ticked; None where nothing can be said."""
        found = self.preview
        meaning = found.meanings.get(number) if found else None
        if meaning is None:
            return None
        menu = column_menu(meaning, self)
        menu.setProperty("number", number)
        menu.triggered.connect(self._meaning_picked)
        menu.aboutToHide.connect(menu.deleteLater)
        self._menu = menu
        return menu

    def _meaning_picked(self, action: QAction) -> None:
        menu = self.sender()
        if isinstance(menu, QMenu) and action.data():
            self.settle(menu.property("number"), *action.data())

    def _column_clicked(self, section: int) -> None:
        header = self.table.horizontalHeader()
        place = header.mapToGlobal(QPoint(header.sectionViewportPosition(section), header.height()))
        self._open_menu(section + self.model.place(0, 0)[1], place, across=True)

    def _row_clicked(self, section: int) -> None:
        header = self.table.verticalHeader()
        place = header.mapToGlobal(QPoint(header.width(), header.sectionViewportPosition(section)))
        self._open_menu(section + self.model.place(0, 0)[0], place, across=False)

    def open_meaning(self) -> None:
        """Alt+Down: the menu of the column (or row) at the cursor."""
        at = self.table.currentIndex()
        if at.isValid() and self.preview is not None:
            row, column = at.data(CELL_ROLE)
            place = self.table.viewport().mapToGlobal(self.table.visualRect(at).bottomLeft())
            turned = self.preview.turned
            self._open_menu(row if turned else column, place, across=not turned)

    def _open_menu(self, number: int, place: QPoint, *, across: bool) -> None:
        menu = self.menu_for(number) if self.model.has_meanings(across=across) else None
        if menu is not None:
            menu.popup(place)

    def _decimal_said(self, *_: Any) -> None:
        if self.pasted is not None:
            mapping = self.pasted.mapping.with_decimal(str(self.decimal.currentData()))
            self._step("Say the decimal sign", Pasted(self.pasted.table, mapping))

    def _sheet_said(self, *_: Any) -> None:
        if self._path:
            self.take_file(self._path, self.sheet.currentText())

    def _instrument_said(self, *_: Any) -> None:
        """Another instrument: what was settled for it is used, unless this sheet was settled by hand already."""
        name = self.instrument.currentText().strip()
        remembered = self._session.look(verbs.mapping_for, name) if name and self._session.bench else None
        if remembered and self.pasted is not None and not self.stack.canUndo() and remembered != self.pasted.mapping:
            self._pending_fit = True
            self._show(Pasted(self.pasted.table, remembered))
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
        elif found.result.taken or found.result.check_runs:
            self._take(take_the_rest=False)

    def take_the_rest(self) -> None:
        """Takes every reading without a problem; the problems stay here."""
        if self.preview is not None and self.preview.result.taken:
            self._take(take_the_rest=True)

    def _take(self, *, take_the_rest: bool) -> None:
        found = self.preview
        assert found is not None
        instrument = self.instrument.currentText().strip()
        taken = self._session.run(verbs.take, found.result, instrument=instrument or None, take_the_rest=take_the_rest)
        if taken is None:
            return
        settings.keep("entry/instrument", instrument)
        said = f"{words.counted(taken.readings, 'reading')} of {words.counted(len(taken.samples), 'sample')} are saved."
        waits = (
            f"{words.listed(taken.waiting)} {'waits' if len(taken.waiting) == 1 else 'wait'} for an engine."
            if taken.waiting
            else ""
        )
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
        if found is not None and (found.result.problems or found.result.taken):
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
        self.pasted, self._first, self._path = None, RawTable(()), ""
        self.stack.clear()
        self.model.show_preview(None)
        self.model.show_sheet(Pasted(RawTable(())), self._first)
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
        name = self._first.name
        self.head.setText(f"Pasted sheet {name}".strip() if self.pasted else "No sheet is pasted")
        result = found.result if found else None
        if found is not None and result is not None:
            self.sum.setText(found.summary)
            self.whose.setText(whose(found.samples, self._known, self._waiting))
            self._tell_sign(result.mapping.decimal)
        elif self.pasted is None:
            self.sum.setText("")
            self.whose.setText("Copy the cells in the spreadsheet and press Ctrl+V, or open or drop a file.")
        self._fill_lists(found)
        self._name_buttons(found)
        self.held_changed.emit()

    def _tell_sign(self, sign: str) -> None:
        """Shows the decimal sign: as the person said it, or as it was found."""
        said = self.pasted is not None and bool(self.pasted.mapping.decimal)
        name = {".": "point", ",": "comma"}.get(sign, "")
        self.decimal.setItemText(0, f"found: {name}" if name and not said else DECIMALS[0][0])
        self.decimal.setCurrentIndex(max(0, self.decimal.findData(sign if said else "")))

    def _fill_lists(self, found: Preview | None) -> None:
        result = found.result if found else None
        problems = [
            (f"{_where(p.row, p.column_number)}  {p.column}: {p.reason}", p.row, p.column_number)
            for p in (result.problems if result else ())
        ]
        left = [
            (f"{_where(x.row, x.column_number)}  {x.label}: {x.reason}", x.row, x.column_number)
            for x in (result.left_out if result else ())
        ]
        checks = [
            f"{name}: instrument check"
            for name in dict.fromkeys(c.label for c in (result.check_runs if result else ()))
        ]
        notes = [*(self.pasted.table.notes if self.pasted else ()), *(result.notices if result else ()), *checks]
        for number, (widget, title, lines, role) in enumerate(
            (
                (self.problems, "Problems", problems, "problem"),
                (self.left_out, "Left out", left, "left out"),
                (self.notes, "Notes", [(note, 0, 0) for note in notes], "other"),
            )
        ):
            _fill(widget, lines, role)
            self.tabs.setTabText(number, f"{title} {len(lines)}")

    def _name_buttons(self, found: Preview | None) -> None:
        result = found.result if found else None
        problems = len(result.problems) if result else 0
        takes = bool(result and (result.taken or result.check_runs))
        self.confirm_button.setEnabled(takes and not problems)
        self.rest_button.setVisible(problems > 0)
        self.rest_button.setEnabled(takes and problems > 0)
        self.rest_button.setText(f"Take the rest, leave {words.counted(problems, 'problem')}")
        self.away_button.setEnabled(self.pasted is not None)
        if result is None:
            said = "" if self.pasted is None else self.state.text()
        elif result.asks_decimal:
            said = "Say which sign is the decimal sign: it cannot be told from this sheet."
        elif problems:
            said = "Type over the marked cells (F8: next problem), or change what a column means (Alt+Down)."
        elif takes:
            said = "Everything could be read. Check it against the sheet, then confirm."
        else:
            said = "Nothing in this sheet could be taken for results."
        self.state.setText(said)

    # --- moving about ------------------------------------------------------------------------------------------------

    def focus(self) -> None:
        """Puts the keyboard into the sheet."""
        (self.table if self.pasted is not None else self.back_button).setFocus(Qt.FocusReason.ShortcutFocusReason)

    def next_problem(self) -> None:
        """F8: the next cell that needs a person, round and round."""
        found = self.preview
        if found is None or not found.result.problems:
            return
        at = self.table.currentIndex()
        here = at.data(CELL_ROLE) if at.isValid() else (0, 0)
        places = [(p.row, p.column_number) for p in found.result.problems]
        self._go_to(*next((place for place in places if place > here), places[0]))
        self.table.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _go_to_item(self, item: QListWidgetItem) -> None:
        row, column = item.data(CELL)
        if row:
            self._go_to(row, column)
            self.table.setFocus(Qt.FocusReason.OtherFocusReason)

    def _go_to(self, row: int, column: int) -> None:
        index = self.model.index_of(row, column)
        if index.isValid():
            self.table.setCurrentIndex(index)
            self.table.scrollTo(index)

    def eventFilter(self, watched: Any, event: QEvent) -> bool:
        """Alt+Down in the sheet opens the column's meaning."""
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress and watched is self.table:
            alt = event.modifiers() == Qt.KeyboardModifier.AltModifier
            if alt and event.key() == Qt.Key.Key_Down:
                self.open_meaning()
                return True
        return super().eventFilter(watched, event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.closed.emit()
        else:
            super().keyPressEvent(event)


def _where(row: int, column: int) -> str:
    return f"{letters(column)}{row}" if column else f"row {row}"


def _fill(widget: QListWidget, lines: list[tuple[str, int, int]], role: str) -> None:
    widget.clear()
    mark = look.icon(role)
    for text, row, column in lines[:MOST_LISTED]:
        item = QListWidgetItem(mark, text)
        item.setData(CELL, (row, column))
        widget.addItem(item)
    if len(lines) > MOST_LISTED:
        item = QListWidgetItem(f"and {len(lines) - MOST_LISTED} more")
        item.setData(CELL, (0, 0))
        widget.addItem(item)


def _table_and_sheets(path: str, sheet: str | None) -> tuple[RawTable, tuple[str, ...], str]:
    """Reads a file's table and the names of its sheets. For a pool thread."""
    names = tuple(sheet_names(path))
    return read_file(path, sheet), names, sheet or ""
