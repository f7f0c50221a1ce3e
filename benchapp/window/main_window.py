"""The main window: rail of views, message bar, the view at hand, a status bar that says what is on the disk."""

from __future__ import annotations

import datetime as dt
import importlib
from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtCore import QByteArray, QEvent, Qt, QTimer
from PySide6.QtGui import QAction, QCloseEvent, QDragEnterEvent, QDropEvent, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QApplication,
    QHBoxLayout,
    QLabel,
    QMainWindow,
    QPushButton,
    QStackedWidget,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from benchapp.library import load_library
from benchapp.problems import BenchProblem
from benchapp.window import settings, theme, units, views
from benchapp.window.ahead import USED_LATER, Ahead, hold_tables, load
from benchapp.window.dialogs import ask, forms
from benchapp.window.dialogs.help import HelpDialog, about_text, caution_text, keys_text
from benchapp.window.errands import Errands
from benchapp.window.keeping import Keeping
from benchapp.window.menus import Menus
from benchapp.window.message_bar import MessageBar
from benchapp.window.rail import Rail
from benchapp.window.session import Session
from benchapp.window.start_page import StartPage
from benchapp.window.tables import Table
from benchapp.window.view import View
from benchapp.window.whole import Whole
from benchapp.window.work import Waiting

NARROW_EM = 100.0
"""A window of less than so many times its type [px a pt] has no room for words in the rail."""
TABLE_SUFFIXES = (".xlsx", ".xlsm", ".xls", ".ods", ".csv", ".tsv", ".txt")


class MainWindow(QMainWindow, Errands, Keeping):
    """See the module. Everything it shows comes from the session; everything it changes goes through it."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        session.setParent(self)
        self.entries = views.in_rail()
        self.made: dict[str, View] = {}
        self.current_key = ""
        self._to_open = ""
        self._in_no_hurry = False
        """The program itself is up: views are made ahead, and one that a person picks comes a piece at a time."""
        self._going = ""
        self.ahead = Ahead(self._begin_view, self._place_view, self)
        self._take_over = False
        self._behind: set[str] = set()
        self._build()
        self.menus = Menus(self.menuBar(), self, self.entries)
        self.menus.recent.aboutToShow.connect(self._fill_recent)
        self.setAcceptDrops(True)
        self._listen()
        self._keep_safe()
        self._restore()
        self._file_changed()

    def _build(self) -> None:
        self.rail = Rail(self.entries, self)
        self.rail.picked.connect(self.go_to)
        self.messages = MessageBar(self)
        self.start_page = StartPage(self)
        self.start_page.picked.connect(self._start_picked)
        self.start_page.recent_picked.connect(self.open_path)
        self.stack = QStackedWidget(self)
        self.stack.addWidget(self.start_page)
        right = QVBoxLayout()
        right.setSpacing(0)
        right.addWidget(self.messages)
        right.addWidget(Whole(self.stack, self), 1)
        middle = QWidget(self)
        row = QHBoxLayout(middle)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.rail)
        row.addLayout(right, 1)
        self.setCentralWidget(middle)
        self.saved = QLabel(self)
        self.saved.setAccessibleName("Saved state")
        self.judging = QLabel(self)
        self.stop_backup = QPushButton("S&top the backup", self)
        self.stop_backup.setAutoDefault(False)
        self.stop_backup.setAccessibleDescription("Leaves the backup that is being made; no half copy is kept")
        self.stop_backup.clicked.connect(self.leave_backup)
        self.stop_backup.hide()
        self.waits = QPushButton(self)
        self.waits.setFlat(True)
        self.waits.setAutoDefault(False)
        self.waits.setAccessibleDescription("Opens the list of what waits, each line where it is dealt with")
        self.waits.clicked.connect(self.show_due)
        self.statusBar().addPermanentWidget(self.stop_backup)
        self.statusBar().addPermanentWidget(self.waits)
        self.statusBar().addPermanentWidget(self.judging)
        self.statusBar().addPermanentWidget(self.saved)

    def _listen(self) -> None:
        session = self.session
        session.opened.connect(self._file_changed)
        session.opened_read_only.connect(self._name_undo)
        session.opened_read_only.connect(self._say_saved)
        session.changed.connect(self._refresh)
        session.calls_arrived.connect(self._calls_arrived)
        session.busy_changed.connect(self._busy)
        self.waiting = Waiting(self)
        session.work_began.connect(self.waiting.begin)
        session.work_ended.connect(self.waiting.end)
        session.problem.connect(self.messages.show_problem)
        session.note.connect(self.messages.show_note)
        session.sample_asked.connect(self._show_sample)
        session.entry_asked.connect(self._show_entry)
        session.trend_asked.connect(self._show_trend)
        session.engine_asked.connect(self._show_engine)
        session.part_asked.connect(self._show_part)
        theme.follow(self, self._tick_look)
        theme.follow(self.stop_backup, self._fit_status)

    def _restore(self) -> None:
        place = settings.settings().value("window/geometry")
        if isinstance(place, QByteArray):
            self.restoreGeometry(place)
        else:
            room = self.screen().availableGeometry().size()
            self.resize(min(1280, room.width()), min(800, room.height() - 32))  # 32: the title bar
        self.setMinimumSize(800, 500)
        self._tick_look()

    # --- file ---------------------------------------------------------------------------------------------------------

    def _file_changed(self) -> None:
        bench = self.session.bench
        is_open = bench is not None
        self.ahead.stop()
        self._going = ""
        for view in self.made.values():
            self.stack.removeWidget(view)
            view.deleteLater()
        self.made = {}
        self.rail.setVisible(is_open)
        self.menus.file_open(is_open)
        self._name_undo()
        self._say_saved()
        self._say_waits()
        name = Path(str(bench.path)).name if is_open else ""
        self.setWindowTitle(f"{name} - Race Oil Bench" if name else "Race Oil Bench")
        if not is_open:
            self.start_page.refresh()
            self.stack.setCurrentWidget(self.start_page)
            self.start_page.focus_first()
            return
        settings.remember_file(str(bench.path))
        first = self.current_key or self.entries[0].key
        if not self._in_no_hurry:
            self.show_view(first)
            return
        self._going = first
        self.ahead.begin(entry for entry in self.entries if entry.key == first)
        modules = (*(entry.module for entry in self.entries if views.is_there(entry)), *USED_LATER)
        self.session.background(load, (modules,), self._make_ahead, "ahead")

    def _make_ahead(self, _loaded: int) -> None:
        self.ahead.begin(entry for entry in self.entries if entry.key not in self.made)

    def open_path(self, path: str, take_over: bool = False) -> None:
        """Opens a bench file in the background, in place of the one at hand."""
        if self._views_let_go():
            self.messages.clear()
            self.session.open(path, take_over=take_over, then=partial(self._opened, path))

    def _opened(self, path: str, is_open: bool) -> None:
        if not is_open:
            self.offer_backups(path)

    def open_soon(self, path: str, take_over: bool = False) -> None:
        """Opens a bench file once the window is painted; `take_over`: see `Session.open`."""
        self._to_open, self._take_over = path, take_over
        self.statusBar().showMessage(f"Opening {Path(path).name}…")
        QTimer.singleShot(0, self.warm_up)

    def warm_up(self) -> None:
        """Loads what opening a file needs in the background, then opens the file that waits for it."""
        self._in_no_hurry = True
        self.session.background(warm, (), self._open_now, "warm")

    def _open_now(self, _loaded: int) -> None:
        if not self._to_open:
            return
        self.statusBar().clearMessage()
        path, self._to_open = self._to_open, ""
        self.open_path(path, self._take_over)

    def new_file(self) -> None:
        path = self.session.ask.save_file(self, "Start a new bench file", ask.BENCH_FILES, "bench.bench")
        if path and self._views_let_go():
            self.messages.clear()
            self.session.create(path)

    def open_file(self) -> None:
        path = self.session.ask.open_file(self, "Open a bench file", ask.BENCH_FILES, self._folder())
        if path:
            self.open_path(path)

    def _start_picked(self, which: str) -> None:
        {"demo": self.open_demo, "new": self.new_file, "open": self.open_file}[which]()

    def open_demo(self) -> None:
        """Builds the demo bench file in the background (it takes some seconds, and may be stopped) and opens it."""
        from benchapp.actions import demo

        self.session.work("Building the demo bench file", demo.build, (demo_place(),), self._demo_built)

    def _demo_built(self, path: Path) -> None:
        self.open_path(str(path))

    def save_copy(self) -> None:
        from benchapp.actions import safety

        path = self.session.ask.save_file(self, "Save a copy", ask.BENCH_FILES, f"copy of {self._stem()}.bench")
        if path:
            self.session.work_on_bench("Saving a copy", safety.copy_out, (path,), self._copy_saved)

    def _copy_saved(self, path: Path) -> None:
        self.session.note.emit("The copy is on the disk and was read back.", str(path), "")

    def load_workbook(self) -> None:
        from benchapp.actions import workbook

        path = self.session.ask.open_file(self, "Load a whole-bench workbook", ask.WORKBOOKS, self._folder())
        if path:
            self.session.work_on_bench(f"Loading {Path(path).name}", workbook.load, (path,), self._workbook_loaded)

    def _workbook_loaded(self, loaded: Any) -> None:
        counts = ", ".join(f"{sheet} {rows}" for sheet, rows in loaded.counts.items() if rows)
        self.session.note.emit(
            "The workbook is loaded and on the disk. Undo takes all of it back.",
            f"Rows taken: {counts}." if counts else "It had nothing new.",
            " ".join(loaded.kept_as_notes),
        )

    def unload_workbook(self) -> None:
        from benchapp.actions import workbook

        path = self.session.ask.save_file(self, "Unload as a workbook", ask.WORKBOOKS, f"{self._stem()}.xlsx")
        if path:
            told = partial(self._workbook_written, path)
            self.session.work_on_bench(f"Writing {Path(path).name}", workbook.unload, (path,), told)

    def _workbook_written(self, path: str, counts: Any) -> None:
        from benchapp.actions.workbook import PHOTOS_STAY

        photos = (counts or {}).get(PHOTOS_STAY, 0)
        stay = "1 photo stays" if photos == 1 else f"{photos} photos stay"
        left = f"{stay} in the bench file: a workbook holds none. Save a copy to take them along." if photos else ""
        self.session.note.emit("The whole bench is written as a workbook.", path, left)

    def export_table(self) -> None:
        table = QApplication.focusWidget()
        if isinstance(table, Table):
            self.export_shown(table)
            return
        view = self.made.get(self.current_key)
        export = getattr(view, "export_table", None)
        shown = [each for each in (view.findChildren(QTableView) if view else ()) if each.isVisible()]
        if export is not None and not isinstance(table, QTableView):
            export()
        elif isinstance(table, QTableView) or shown:
            from benchapp.window.dialogs.export import export_view

            asked = table if isinstance(table, QTableView) else shown[0]
            export_view(self.session, self, asked.accessibleName() or self.entry_title(), asked)
        else:
            self.session.note.emit(
                "Nothing here is a table to export.", "", "Go to the fleet (Ctrl+1) and export there."
            )

    def entry_title(self) -> str:
        """The word of the view at hand."""
        return next((entry.title for entry in self.entries if entry.key == self.current_key), "Table")

    def print_sheet(self) -> None:
        print_page = getattr(self.made.get(self.current_key), "print_page", None)
        if print_page is not None:  # a view with a page of its own
            print_page()
            return
        code = self.session.selected_sample or self._latest_sample()
        if not code:
            self.session.note.emit(
                "There is no sample at hand to print.", "", "Pick an engine with a sample in the fleet (Ctrl+1) first."
            )
            return
        from benchapp.actions import call

        try:
            engine, build, _ = self.session.bench.find_sample(code)
            if engine.name in self.session.bench.engines_to_judge():
                self.session.note.emit(
                    "This sample is still being judged.", "", "Print it in a moment, when it has a call."
                )
                return
        except BenchProblem as problem:
            self.session.problem.emit(problem)
            return
        asked = (self.session.fleet, engine.name, build.number, code)
        if call.flips_known(*asked) is None:  # what could turn the call is judged ten times over: behind the window
            self.session.background(call.flips_in, asked, partial(self._show_sheet, code), "sheet")
        else:
            self._show_sheet(code)

    def _show_sheet(self, code: str, _flips: Any = None) -> None:
        from benchapp.window.dialogs.sheet import SheetDialog

        try:
            dialog = SheetDialog(self.session, code, self)
        except BenchProblem as problem:
            self.session.problem.emit(problem)
            return
        QTimer.singleShot(1, dialog, partial(self.session.ask.show, dialog))  # drawn in a turn of its own

    def _latest_sample(self) -> str:
        call = self.session.calls.get(self.session.selected_engine)
        return call.sample if call is not None else ""

    def _folder(self) -> str:
        bench = self.session.bench
        return str(Path(str(bench.path)).parent) if bench is not None else ""

    def _stem(self) -> str:
        return Path(str(self.session.bench.path)).stem

    def _fill_recent(self) -> None:
        menu = self.menus.recent
        menu.clear()
        for path in settings.recent():
            action = menu.addAction(Path(path).name)
            action.setToolTip(path)
            action.setData(path)
            action.triggered.connect(self._recent_action)
        if menu.isEmpty():
            menu.addAction("None yet").setEnabled(False)

    def _recent_action(self) -> None:
        action = self.sender()
        if isinstance(action, QAction):
            self.open_path(action.data())

    # --- views --------------------------------------------------------------------------------------------------------

    def go_to(self, key: str) -> None:
        """Brings a view to the front; where it is not made yet it comes a piece at a time, and the window lives on."""
        if key not in self.made and self.ahead.prefer(key):
            self._going = key
            self.rail.set_current(key)
        else:
            self.show_view(key)

    def _begin_view(self, entry: views.Entry) -> View:
        return views.make(entry, self.session, self.stack, staged=True)

    def _place_view(self, key: str, view: View) -> None:
        self.made[key] = view
        self.stack.addWidget(view)
        self._behind.discard(key)
        if self._going == key:
            let_paint = hold_tables(view)
            self.show_view(key)
            let_paint()

    def show_view(self, key: str) -> View:
        """Brings a view to the front, made when first shown."""
        self._going = ""
        entry = next(entry for entry in self.entries if entry.key == key)
        self.ahead.take(key)
        if key not in self.made:
            view = views.make(entry, self.session, self.stack)
            view.refresh(None)
            self._place_view(key, view)
        elif key in self._behind:
            self._behind.discard(key)
            self.made[key].calls_arrived()
        self.current_key = key
        self.rail.set_current(key)
        theme.dresser().hurry(self.made[key])
        self.stack.setCurrentWidget(self.made[key])
        self.made[key].focus_first()
        return self.made[key]

    def view(self, key: str) -> View | None:
        """The view of this key, where it was shown before."""
        return self.made.get(key)

    def view_action(self) -> None:
        action = self.sender()
        if isinstance(action, QAction) and self.session.bench is not None:
            self.go_to(action.data())

    def _show_sample(self, code: str) -> None:
        self.show_view("entry").show_sample(code)

    def _show_entry(self, engine: str) -> None:
        self.show_view("entry").show_engine(engine)

    def _show_trend(self, engine: str, element: str) -> None:
        if "trend" in self.made:  # out of sight first, so that it is not shown with another engine before
            self.made["trend"].show_engine(engine, element)
            self.show_view("trend")
        else:
            self.show_view("trend").show_engine(engine, element)

    def _show_engine(self, engine: str) -> None:
        self.show_view("fleet").show_engine(engine)

    def _show_part(self, engine: str, part: str) -> None:
        view = self.show_view("fleet")
        view.show_engine(engine)
        view.show_part(part)

    def _refresh(self, changed) -> None:
        self.messages.clear_note()
        for view in self.made.values():
            view.refresh(changed)
        self._name_undo()
        self._say_saved()
        self._say_waits()
        if changed.label:
            self.statusBar().showMessage(changed.label, 8000)

    def _calls_arrived(self) -> None:
        for key, view in self.made.items():
            if key == self.current_key:
                view.calls_arrived()
            else:
                self._behind.add(key)  # a view in the back catches up when it comes to the front

    def _catch_up(self) -> None:
        """One view in the back takes the new calls, where nobody waits; the next one in another turn."""
        key = next((key for key in self._behind if key in self.made and key != self.current_key), "")
        if key and self._in_no_hurry and not self.session.busy:
            self._behind.discard(key)
            self.made[key].calls_arrived()
            QTimer.singleShot(1, self._catch_up)

    def _busy(self, busy: bool) -> None:
        if not busy:
            QTimer.singleShot(1, self._catch_up)
        self.judging.setText("Judging…" if busy else "")
        if not busy:
            self._say_waits()

    def _name_undo(self) -> None:
        self.menus.name_undo(self.session.undo_label, self.session.redo_label)

    def _say_saved(self) -> None:
        bench = self.session.bench
        if bench is None:
            self.saved.setText("")
        elif bench.read_only:
            self.saved.setText("Read only: nothing can be changed in this file")
        else:
            self.saved.setText("Everything is on the disk")

    def _say_waits(self) -> None:
        """What waits, counted in the status bar; Enter or a click there opens the list."""
        from benchapp.actions import due, sample

        bench = self.session.bench
        said = ""
        if bench is not None:
            now = dt.datetime.now()  # noqa: DTZ005  (the person's clock)
            waiting = self.session.look(sample.waiting) or ()
            said = due.counted(due.due(self.session.fleet, self.session.calls, waiting, now))
        self.waits.setText(f"Waits: {said}" if said else "Nothing waits")
        self.waits.setAccessibleName(self.waits.text())
        self.waits.setVisible(bench is not None)

    def undo(self) -> None:
        self.session.undo()

    def redo(self) -> None:
        self.session.redo()

    # --- bench --------------------------------------------------------------------------------------------------------

    def add_engine(self) -> None:
        self._form(forms.ENGINE)

    def add_build(self) -> None:
        self._form(forms.BUILD)

    def override_part(self) -> None:
        self._form(forms.PART)

    def add_fill(self) -> None:
        self._form(forms.FILL)

    def top_up(self) -> None:
        self._form(forms.TOP_UP)

    def add_run(self) -> None:
        self._form(forms.RUN)

    def repeat_run(self) -> None:
        forms.show(forms.RUN, self.session, self, repeat=True)

    def add_change(self) -> None:
        self._form(forms.CHANGE)

    def add_filter_cut(self) -> None:
        self._form(forms.FILTER_CUT)

    def add_leak_down(self) -> None:
        self._form(forms.LEAK_DOWN)

    def add_oil_pressure(self) -> None:
        self._form(forms.PRESSURE)

    def add_fitting(self) -> None:
        self._form(forms.FITTING)

    def add_finding(self) -> None:
        self._form(forms.FINDING)

    def add_instrument(self) -> None:
        self._form(forms.INSTRUMENT)

    def add_oil(self) -> None:
        self._form(forms.OIL)

    def oil_card(self) -> None:
        self._form("oil_card")

    def bearings(self) -> None:
        self._form("bearings")

    def add_family(self) -> None:
        self._form(forms.FAMILY)

    def add_material(self) -> None:
        self._form(forms.MATERIAL)

    def _form(self, which: str) -> None:
        forms.show(which, self.session, self)

    # --- look ---------------------------------------------------------------------------------------------------------

    def look_action(self, action: QAction) -> None:
        settings.keep("look/theme", action.data())
        change_look()

    def large_action(self, checked: bool) -> None:
        settings.keep("look/large", checked)
        change_look()

    def scale_action(self, action: QAction) -> None:
        settings.keep("look/scale", action.data())
        change_look()

    def units_action(self, action: QAction) -> None:
        units.choose(*action.data())
        self._tick_look()
        for view in self.made.values():
            view.show_units()

    def _tick_look(self) -> None:
        self._fit_rail()
        now = theme.current()
        self.menus.tick(theme.choice(), now.large, now.scale)

    def _fit_status(self) -> None:
        """The status bar is as high as all that is in it, and what is hidden there does not tell it of a new look."""
        QApplication.postEvent(self.statusBar(), QEvent(QEvent.Type.LayoutRequest))

    # --- help ---------------------------------------------------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit_rail()

    def _fit_rail(self) -> None:
        self.rail.set_narrow(self.width() < NARROW_EM * theme.current().points)

    def show_help(self) -> None:
        self.session.ask.show(HelpDialog("Keys", keys_text(self.menus, self.made.get(self.current_key)), self))

    def show_cautions(self) -> None:
        self.session.ask.show(HelpDialog("Cautions", caution_text(), self))

    def show_about(self) -> None:
        self.session.ask.show(HelpDialog("About", about_text(), self))

    # --- events -------------------------------------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.messages.isVisible():
            self.messages.clear()
            return
        super().keyPressEvent(event)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if self.session.bench is not None and dropped_table(event.mimeData()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        path = dropped_table(event.mimeData())
        if path and self.session.bench is not None:
            event.acceptProposedAction()
            self.take_table(path)

    def take_table(self, path: str) -> None:
        """Hands a spreadsheet to sample entry."""
        if not self.show_view("entry").take_table_file(path):
            self.session.problem.emit(
                BenchProblem(
                    "Sample entry did not take the file.", "Nothing was changed.", "Copy its cells and paste them."
                )
            )

    def _views_let_go(self) -> bool:
        return all(view.may_leave() for view in self.made.values())

    def closeEvent(self, event: QCloseEvent) -> None:
        self.session.stop_work()
        if not self._views_let_go():
            event.ignore()
            return
        settings.keep("window/geometry", self.saveGeometry())
        self.backup_timer.stop()
        self.ahead.stop()
        self.hide()  # at once; a family that is being judged is waited for out of sight
        self.session.close()
        event.accept()


def dropped_table(mime) -> str:
    """Path of the first spreadsheet among what is dragged, or ''."""
    for url in mime.urls():
        path = url.toLocalFile()
        if path.lower().endswith(TABLE_SUFFIXES):
            return path
    return ""


NEEDED = (
    "benchapp.actions.bench",
    "benchapp.actions.call",
    "benchapp.benchfile.file",
    "benchapp.wear.judge",
    "benchapp.window.fleet.view",
)
"""What opening a file loads: a second of work on a small laptop, most of it libraries."""


def warm() -> int:
    """Loads the libraries and the tables that opening a file needs, clears what a killed building of the demo left.

    Returns how many modules it loaded."""
    from benchapp.actions import demo

    for name in NEEDED:
        importlib.import_module(name)
    load_library()
    demo.clear_left(demo_place().parent)
    return len(NEEDED)


def demo_place() -> Path:
    """Where the demo bench file is built."""
    return settings.data_folder() / "demo" / "demo.bench"


def apply_look() -> None:
    """Puts the remembered look in force, before there is a window."""
    theme.apply(*_chosen_look())


def change_look() -> None:
    """Puts the remembered look in force in the running program, which goes on meanwhile."""
    theme.change(*_chosen_look())


def _chosen_look() -> tuple[str, bool, float]:
    return settings.text("look/theme", "system"), settings.flag("look/large"), settings.number("look/scale", 1.0)
