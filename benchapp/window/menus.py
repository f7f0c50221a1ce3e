"""The menus of the main window: each item a word, a key and a method. Nothing happens here."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu, QMenuBar

from benchapp.window import theme, units
from benchapp.window.views import Entry


@dataclass(frozen=True, slots=True)
class Item:
    """One line of a menu; `method` is a method of the main window, `needs_file`: grey while no file is open."""

    text: str
    method: str
    key: str = ""
    needs_file: bool = True
    why: str = ""


LINE = None
FILE = (
    Item("&New bench file…", "new_file", "Ctrl+Shift+N", needs_file=False, why="Make an empty bench file"),
    Item("&Open…", "open_file", "Ctrl+O", needs_file=False, why="Open a bench file"),
    LINE,
    Item("Save a &copy…", "save_copy", "Ctrl+Shift+S", why="A whole, checked copy, for a stick or a second laptop"),
    Item("Bac&kups…", "show_backups", needs_file=False, why="Kept copies: make one, restore one, a second folder"),
    Item("&Take in another laptop's file…", "take_in_file", why="What the other bench file has and this one has not"),
    Item("Ed&ited on both laptops…", "show_conflicts", why="Rows to choose between, side by side"),
    LINE,
    Item("&Load workbook…", "load_workbook", why="Take engines, oils, runs and samples from a whole-bench workbook"),
    Item("&Unload as workbook…", "unload_workbook", why="Write the whole bench as a workbook"),
    Item("&Export table…", "export_table", "Ctrl+E", why="Write the table at hand as a spreadsheet"),
    LINE,
    Item("&Print sheet…", "print_sheet", "Ctrl+P", why="The page with the call for the sample at hand"),
    Item("Page of the &day…", "print_day", "Ctrl+Shift+D", why="All cars and their calls on one page"),
    Item("Bottle la&bels…", "print_labels", "Ctrl+Shift+P", why="Labels with a QR code for the engine at hand"),
    Item("Sa&mpling card…", "print_card", why="How to draw a sample and what to note, to hang up"),
    LINE,
    Item("&Quit", "close", "Ctrl+Q", needs_file=False),
)
BENCH = (
    Item("Add &engine…", "add_engine", "Ctrl+N", why="An engine, from a family"),
    Item("New &build…", "add_build", why="The engine at hand was rebuilt"),
    Item("Change a &part…", "override_part", why="This build has another part than its family"),
    LINE,
    Item("Add &fill…", "add_fill", "Ctrl+L", why="Oil went in"),
    Item("Top-&up…", "top_up", "Ctrl+U", why="Oil was added without a drain"),
    Item("Add &run…", "add_run", "Ctrl+R", why="A running session: its hours count"),
    Item("Repeat the &last run…", "repeat_run", "Ctrl+Shift+R", why="Another session like the last one"),
    Item("Oil, tune or part &change…", "add_change", why="A change to compare before and after"),
    Item("F&ilter or magnet…", "add_filter_cut", "Ctrl+Shift+F", why="What the cut-open filter or the magnet held"),
    Item("&Leak-down…", "add_leak_down", why="Leak-down of each cylinder"),
    Item("Oil press&ure…", "add_oil_pressure", "Ctrl+Shift+U", why="Hot, at idle and at speed"),
    Item("Fi&nding…", "add_finding", "Ctrl+Shift+I", why="What was seen when someone looked inside"),
    Item("Part in or o&ut…", "add_fitting", "Ctrl+Shift+G", why="A part with a life went in or came out"),
    LINE,
    Item("Oil and fil&m…", "show_oil", "Ctrl+Shift+M", why="Limits, hours left and films for the sample at hand"),
    Item("&What waits…", "show_due", "Ctrl+Shift+W", why="Engines due, samples to measure, results without an engine"),
    Item("&How good were our calls…", "show_record", why="Calls held against what was seen inside"),
    LINE,
    Item("Add &oil…", "add_oil", why="An oil as it is when new"),
    Item("Limits and blen&ds of an oil…", "oil_card", why="Own limits, bench blends with fuel, fresh oxidation"),
    Item("Bearin&gs…", "bearings", why="Journals and clearances as measured in this build, with their load"),
    Item("Add fa&mily…", "add_family", why="Engines built alike: their parts and materials"),
    Item("Add m&aterial…", "add_material", why="An alloy or coating that is not in the list"),
    Item("Add in&strument…", "add_instrument", why="An instrument or lab that results come from"),
)
HELP = (
    Item("&Keys", "show_help", "F1", needs_file=False),
    Item("&What is this?", "read_here", "Shift+F1", needs_file=False, why="The word at hand in the reading room"),
    Item("&Reading room…", "read_up", needs_file=False, why="Words, elements, materials, rules, with their sources"),
    Item("C&heck this bench file…", "check_file", why="Every record, its history and the file's structure"),
    Item("&Cautions", "show_cautions", needs_file=False),
    Item("&About", "show_about", needs_file=False),
)


class Menus:
    """Builds the menu bar for a main window and keeps its actions by method name."""

    def __init__(self, bar: QMenuBar, window, entries: tuple[Entry, ...]) -> None:
        self.actions: dict[str, QAction] = {}
        self._needs_file: list[QAction] = []
        self._window = window
        file_menu = bar.addMenu("&File")
        self._fill(file_menu, FILE)
        self.recent = QMenu("&Recent", file_menu)
        file_menu.insertMenu(self.actions["save_copy"], self.recent)
        self._edit(bar.addMenu("&Edit"))
        self._fill(bar.addMenu("&Bench"), BENCH)
        self._view(bar.addMenu("&View"), entries)
        self._fill(bar.addMenu("&Help"), HELP)

    def _fill(self, menu: QMenu, items: tuple[Item | None, ...]) -> None:
        menu.setToolTipsVisible(True)
        for item in items:
            if item is LINE:
                menu.addSeparator()
            else:
                menu.addAction(self._action(menu, item))

    def _action(self, menu: QMenu, item: Item) -> QAction:
        action = QAction(item.text, menu)
        if item.key:
            action.setShortcut(QKeySequence(item.key))
        action.setToolTip(item.why)
        action.setStatusTip(item.why)
        action.triggered.connect(getattr(self._window, item.method))
        self.actions[item.method] = action
        if item.needs_file:
            self._needs_file.append(action)
        return action

    def _edit(self, menu: QMenu) -> None:
        self.undo = self._action(menu, Item("&Undo", "undo", "Ctrl+Z"))
        self.redo = self._action(menu, Item("&Redo", "redo", "Ctrl+Shift+Z"))
        self.redo.setShortcuts([QKeySequence("Ctrl+Shift+Z"), QKeySequence("Ctrl+Y")])
        menu.addActions([self.undo, self.redo])
        menu.addSeparator()
        menu.addAction(
            self._action(menu, Item("&Search everything…", "search", "Ctrl+K", why="Engine, sample, oil, part, word"))
        )

    def _view(self, menu: QMenu, entries: tuple[Entry, ...]) -> None:
        for entry in entries:
            action = QAction(entry.title, menu)
            action.setShortcut(QKeySequence(entry.shortcut))
            action.setData(entry.key)
            action.triggered.connect(self._window.view_action)
            self.actions[f"view {entry.key}"] = action
            menu.addAction(action)
        menu.addSeparator()
        words = {"system": "Follow the s&ystem", "sunlight": "&Sunlight", "dark": "&Dark"}
        self.looks = self._choices(menu, [(words[choice], choice) for choice in theme.CHOICES], "look_action")
        menu.addSeparator()
        self.large = QAction("&Large targets", menu)
        self.large.setCheckable(True)
        self.large.setShortcut(QKeySequence("Ctrl+Shift+L"))
        self.large.triggered.connect(self._window.large_action)
        menu.addAction(self.large)
        self.units = self._units(menu.addMenu("&Units"))
        scaling = menu.addMenu("S&caling")
        self.scales = self._choices(scaling, [(f"{scale:.0%}", scale) for scale in theme.SCALES], "scale_action")

    def _units(self, menu: QMenu) -> list[QActionGroup]:
        """A choice of units for each quantity that the forms ask for."""
        groups = []
        for quantity, (word, choices) in units.CHOICES.items():
            names = [(unit.name, (quantity, unit.name)) for unit in choices]
            groups.append(self._choices(menu.addMenu(word), names, "units_action"))
        return groups

    def _choices(self, menu: QMenu, choices: list[tuple[str, object]], method: str) -> QActionGroup:
        group = QActionGroup(menu)
        for text, value in choices:
            action = QAction(text, group)
            action.setCheckable(True)
            action.setData(value)
            menu.addAction(action)
        group.triggered.connect(getattr(self._window, method))
        return group

    def file_open(self, is_open: bool) -> None:
        """Greys what needs a file."""
        for action in self._needs_file:
            action.setEnabled(is_open)

    def name_undo(self, undo: str, redo: str) -> None:
        """Says in words what undo and redo would do."""
        for action, word, label in ((self.undo, "&Undo", undo), (self.redo, "&Redo", redo)):
            action.setText(f"{word}: {label.replace('&', '&&')}" if label else word)
            action.setEnabled(bool(label))

    def tick(self, choice: str, large: bool, scale: float) -> None:
        """Ticks the look in force."""
        self.large.setChecked(large)
        for action in self.looks.actions():
            action.setChecked(action.data() == choice)
        for group in self.units:
            for action in group.actions():
                quantity, name = action.data()
                action.setChecked(units.current(quantity) == name)
        for action in self.scales.actions():
            action.setChecked(abs(action.data() - scale) < 0.01)
