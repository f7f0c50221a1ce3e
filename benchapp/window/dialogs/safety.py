"""Dialogs that keep a bench file safe: its backups, rows edited on two laptops, the full check."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

from benchapp.actions import safety
from benchapp.problems import BenchProblem
from benchapp.progress import Progress
from benchapp.window import theme
from benchapp.window.dialogs.ask import BENCH_FILES
from benchapp.window.dialogs.lists import ListDialog
from benchapp.window.entry.words import clock
from benchapp.window.tables import Column, RowsModel, Table

BEING_CHECKED = "being checked…"
SOUND = "sound"
NO_BACKUP = "No backup is kept yet. One is made when the file is closed, and every 30 minutes while something changes."
CHECK_FOUND = (
    "Some of what the file holds may be lost or wrong. Nothing is written to it any more. Keep a copy of the file as "
    "it is, and restore the last backup that is sound."
)
CHECK_GOOD = (
    "Looked at: the file's structure, what belongs to what, every record against the hash that was saved with it, and "
    "the history link by link."
)


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the list of backups. `state`: what its check found, in words."""

    backup: safety.Backup
    where: str
    state: str = BEING_CHECKED


def size(octets: int) -> str:
    """A size [bytes] in words."""
    return f"{octets / 1e6:.1f} MB" if octets >= 100_000 else f"{octets / 1e3:.0f} kB"


BACKUPS = (
    Column(
        "Made",
        lambda row: clock(row.backup.made_at),
        lambda row: row.backup.path.name,
        21,
        tip=lambda row: str(row.backup.path),
    ),
    Column("Check", lambda row: row.state, lambda row: row.state, 30, stretch=True),
    Column("Kept", lambda row: row.where, lambda row: row.where, 16),
    Column("Size", lambda row: size(row.backup.size), lambda row: float(row.backup.size), 9, number=True, spare=1),
)


def row_key(row: Row) -> str:
    return str(row.backup.path)


def button(parent: QWidget, text: str, method: Any) -> QPushButton:
    """A push button that Enter elsewhere does not press."""
    made = QPushButton(text, parent)
    made.setAutoDefault(False)
    made.clicked.connect(method)
    return made


class BackupsDialog(ListDialog):
    """The kept backups of a bench file, checked one by one; Enter restores the one at hand."""

    restore_asked = Signal(str, str)
    """Path of the bench file, path of the backup that shall stand in its place."""

    def __init__(self, session: Any, path: str, parent: QWidget | None = None) -> None:
        super().__init__(session, parent, f"Backups of {Path(path).name}")
        self.path = path
        self.checking = Progress()
        self.finished.connect(self.checking.stop)
        self.rows: tuple[Row, ...] = ()
        self.table = Table(RowsModel(BACKUPS, row_key), "Kept backups", self)
        self.table.opened.connect(self._restore)
        self.column.addWidget(self.table, 1)
        self.second = self.words("quiet")
        self.trouble = self.words("trouble")
        self._buttons()
        self.refresh()

    def _buttons(self) -> None:
        self.make = button(self, "&Make one now", self.make_one)
        self.folder = button(self, "&Second folder…", self.choose_folder)
        self.no_folder = button(self, "&No second folder", self.drop_folder)
        self.restore = button(self, "&Restore the one at hand…", self.restore_at_hand)
        self.elsewhere = button(self, "Restore &another file…", self.restore_elsewhere)
        upper, lower = QHBoxLayout(), QHBoxLayout()
        for each in (self.make, self.folder, self.no_folder):
            upper.addWidget(each)
        for each in (self.restore, self.elsewhere):
            lower.addWidget(each)
        lower.addWidget(button(self, "Back", self.reject), 1, Qt.AlignmentFlag.AlignRight)
        upper.addStretch(1)
        self.column.addLayout(upper)
        self.column.addLayout(lower)

    @property
    def _open_here(self) -> bool:
        bench = self.session.bench
        return bench is not None and str(bench.path) == self.path

    def refresh(self) -> None:
        """Reads the list anew and checks what is not checked yet."""
        second = (self.session.look(safety.second_folder) or "") if self._open_here else ""
        known = {row_key(row): row.state for row in self.rows}
        kept = safety.backups(self.path, second)
        rows = (Row(each, "second folder" if each.path.parent == Path(second) else "beside the file") for each in kept)
        self._show(tuple(replace(row, state=known.get(row_key(row), row.state)) for row in rows))
        if self.rows and not self.table.key():
            self.table.setCurrentIndex(self.table.rows.index(0, 0))
        (self.table if self.rows else self.make).setFocus()
        self._say(second)
        self._check_next()

    def _show(self, rows: tuple[Row, ...]) -> None:
        self.rows = rows
        self.table.rows.set_rows(rows)
        self.table.setVisible(bool(rows))
        self.restore.setEnabled(bool(rows))

    def _say(self, second: str) -> None:
        count = len(self.rows)
        kept = "1 backup is kept." if count == 1 else f"{count} backups are kept."
        self.lead.setText(kept if self.rows else NO_BACKUP)
        bench = self.session.bench
        writable = self._open_here and not bench.read_only
        self.make.setEnabled(self._open_here and not bench.damaged)
        self.folder.setEnabled(writable)
        self.no_folder.setVisible(writable and bool(second))
        there = "" if not second or Path(second).is_dir() else " It is not there now: plug the stick in."
        self.second.setText(f"A second copy goes to {second}.{there}" if second else "There is no second folder.")
        self.second.setVisible(self._open_here)
        self._tell(None)

    # --- checking, one after the other in the background --------------------------------------------------------------

    def _check_next(self) -> None:
        waits = next((row for row in self.rows if row.state == BEING_CHECKED), None)
        if waits is not None:
            self.session.background(check, (str(waits.backup.path), self.checking), self.checked, "backup check")

    def checked(self, found: tuple[str, tuple[str, ...]]) -> None:
        """What the check of one backup found."""
        path, words = found
        state = f"damaged: {words[0]}" if words else SOUND
        self._show(tuple(replace(row, state=state) if row_key(row) == path else row for row in self.rows))
        self._check_next()

    # --- doing -------------------------------------------------------------------------------------------------------

    def make_one(self) -> None:
        """A backup now."""
        self.session.work_on_bench("Making a backup", safety.backup, (), self._made, self._tell)

    def _made(self, _backup: safety.Backup) -> None:
        self.refresh()

    def choose_folder(self) -> None:
        """Where a second copy of each backup goes: a stick, another disk."""
        folder = self.session.ask.folder(self, "Where shall a second copy of each backup go?")
        if folder:
            self._set_folder(folder)

    def drop_folder(self) -> None:
        """No second copy from now on."""
        self._set_folder("")

    def _set_folder(self, folder: str) -> None:
        try:
            self.session.run_or_raise(safety.set_second_folder, folder)
        except BenchProblem as problem:
            self._tell(problem)
            return
        self.refresh()

    def restore_at_hand(self) -> None:
        """Asks for the backup at hand to be restored."""
        self._restore(self.table.key())

    def restore_elsewhere(self) -> None:
        """Asks for a file from elsewhere, a stick, to be put in place."""
        path = self.session.ask.open_file(self, "Restore which bench file?", BENCH_FILES)
        if path:
            self._leave_for(path)

    def _restore(self, key: str) -> None:
        row = next((row for row in self.rows if row_key(row) == key), None)
        if row is None:
            return
        if row.state not in (SOUND, BEING_CHECKED):
            self._tell(BenchProblem(f"This backup is {row.state}", "Nothing was changed.", "Choose an earlier one."))
            return
        self._leave_for(key)

    def _leave_for(self, backup: str) -> None:
        self.accept()
        self.restore_asked.emit(self.path, backup)

    def _tell(self, problem: BenchProblem | None) -> None:
        tell(self.trouble, problem)


def check(path: str, progress: Progress) -> tuple[str, tuple[str, ...]]:
    """A worker's job: the path and what the check of that file found."""
    return path, safety.check_file(path, progress)


def check_at_hand(path: str, progress: Progress) -> tuple[str, tuple[str, ...]] | BenchProblem:
    """A worker's job: as `check`, or the problem why the file could not be looked at."""
    try:
        return path, safety.look_for_damage(path, progress)
    except BenchProblem as problem:
        return problem


def tell(label: QLabel, problem: BenchProblem | None) -> None:
    """Shows a problem's three sentences, or nothing."""
    label.setText("" if problem is None else f"{problem.what}\n{problem.means}\n{problem.do}")
    label.setVisible(problem is not None)


# --- two laptops ------------------------------------------------------------------------------------------------------


def taken_in(merged: safety.Merged) -> str:
    """What a merge brought, in words."""
    if not merged.came_in:
        return "There was nothing new in the other file."
    parts = [f"{noun.replace('_', ' ')} {count}" for noun, count in merged.came_in.items()]
    return f"Taken in and on the disk: {', '.join(parts)}."


def choices(conflict: safety.Conflict) -> tuple[str, ...]:
    """What each version of a conflict is called, in the order of its versions."""
    others = ("The other", *(f"Other {number}" for number in range(2, len(conflict.versions))))
    return ("This file", *others)[: len(conflict.versions)]


def shown_name(conflict: safety.Conflict) -> str:
    """Which of its versions stands now."""
    pairs = zip(conflict.versions, choices(conflict), strict=True)
    return next((name for version, name in pairs if version.key == conflict.shown), "")


CONFLICTS = (
    Column("Edited in both", lambda conflict: conflict.what, lambda conflict: conflict.what, 20),
    Column(
        "Differs in",
        lambda conflict: ", ".join(name for name, _ in conflict.versions[0].values),
        None,
        14,
        stretch=True,
    ),
    Column("Shown now", lambda conflict: shown_name(conflict), None, 12, spare=1),
)
NO_CONFLICT = "No row waits for a choice: nothing was edited on both laptops, or all of it is settled."


def conflict_key(conflict: safety.Conflict) -> str:
    return conflict.key


class ConflictsDialog(ListDialog):
    """Rows edited on two laptops, one at a time side by side; the keys 1, 2, … settle the one at hand."""

    def __init__(self, session: Any, parent: QWidget | None = None, merged: safety.Merged | None = None) -> None:
        super().__init__(session, parent, "Edited on both laptops")
        self.brought = self.words("")
        self.brought.setText("\n".join((taken_in(merged), *merged.remarks)) if merged else "")
        self.brought.setVisible(merged is not None)
        self.table = Table(RowsModel(CONFLICTS, conflict_key), "Rows edited on both laptops", self)
        self.table.picked.connect(self._show_sides)
        self.column.addWidget(self.table, 2)
        self.sides = self._make_sides()
        self.column.addWidget(self.sides, 3)
        self.hint = self.words("quiet")
        self.trouble = self.words("trouble")
        self.keep: list[QPushButton] = []
        self.row = QHBoxLayout()
        self.row.addStretch(1)
        self.row.addWidget(button(self, "Back", self.reject))
        self.column.addLayout(self.row)
        self.conflicts: tuple[safety.Conflict, ...] = ()
        for number in range(1, 10):  # plain keys; a table would take them for a search
            QShortcut(QKeySequence(str(number)), self).activated.connect(self._key_pressed)
        self.refresh()

    def _make_sides(self) -> QTableWidget:
        made = QTableWidget(self)
        made.setAccessibleName("The row at hand, side by side")
        made.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        made.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        made.setAlternatingRowColors(True)
        made.setTabKeyNavigation(False)
        made.setCornerButtonEnabled(False)
        made.verticalHeader().hide()
        made.verticalHeader().setMinimumSectionSize(theme.current().row_px)
        made.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        made.horizontalHeader().setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        made.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        made.horizontalHeader().setHighlightSections(False)
        return made

    def refresh(self) -> None:
        """Reads anew what waits for a choice; the first row is at hand."""
        self.conflicts = self.session.look(safety.conflicts) or ()
        self.table.rows.set_rows(self.conflicts)
        tell(self.trouble, None)
        count = len(self.conflicts)
        head = "1 row waits for a choice" if count == 1 else f"{count} rows wait for a choice"
        self.lead.setText(f"{head}. Until then the later edit stands." if count else NO_CONFLICT)
        for widget in (self.table, self.sides, self.hint):
            widget.setVisible(bool(count))
        if count:
            self.table.setCurrentIndex(self.table.rows.index(0, 0))
            self.table.setFocus()
        else:
            self._offer(())
        self._show_sides(self.table.key())

    def at_hand(self) -> safety.Conflict | None:
        """The conflict that is shown side by side."""
        key = self.table.key()
        return next((each for each in self.conflicts if each.key == key), None)

    def _show_sides(self, _key: str) -> None:
        conflict = self.at_hand()
        if conflict is None:
            return
        names = choices(conflict)
        heads = [
            f"{name}{' (now)' if version.key == conflict.shown else ''}\n{version.who}\n{clock(version.at)}"
            for name, version in zip(names, conflict.versions, strict=True)
        ]
        fields = [name for name, _ in conflict.versions[0].values]
        self.sides.setColumnCount(1 + len(heads))
        self.sides.setRowCount(len(fields))
        self.sides.setHorizontalHeaderLabels(["Field", *heads])
        for place, field in enumerate(fields):
            self._put(place, 0, field, field)
            for column, (name, version) in enumerate(zip(names, conflict.versions, strict=True), start=1):
                value = version.values[place][1]
                self._put(place, column, value or "(empty)", f"{field}, {name}: {value or 'empty'}")
        self.sides.horizontalHeader().setSectionResizeMode(0, QHeaderView.ResizeMode.ResizeToContents)
        self._offer(names)

    def _put(self, row: int, column: int, text: str, spoken: str) -> None:
        item = QTableWidgetItem(text)
        item.setToolTip(text)
        item.setData(Qt.ItemDataRole.AccessibleTextRole, spoken)
        self.sides.setItem(row, column, item)

    def _offer(self, names: Sequence[str]) -> None:
        """One button for each version."""
        if [each.property("version") for each in self.keep] == list(names):
            return
        for each in self.keep:
            self.row.removeWidget(each)
            each.deleteLater()
        self.keep = []
        for number, name in enumerate(names, start=1):
            made = button(self, f"Keep &{number}: {name[0].lower()}{name[1:]}", self._button_pressed)
            made.setProperty("version", name)
            self.row.insertWidget(number - 1, made)
            self.keep.append(made)
        self.hint.setText(f"Keys {' or '.join(str(n) for n in range(1, len(names) + 1))} settle the row at hand.")

    def _button_pressed(self) -> None:
        self.settle(self.keep.index(self.sender()))

    def _key_pressed(self) -> None:
        self.settle(int(self.sender().key().toString()) - 1)

    def settle(self, number: int) -> None:
        """Settles the row at hand for one of its versions (from 0) and goes on to the next."""
        conflict = self.at_hand()
        if conflict is None or number >= len(conflict.versions):
            return
        try:
            self.session.run_or_raise(safety.choose, conflict.key, conflict.versions[number].key)
        except BenchProblem as problem:
            tell(self.trouble, problem)
            return
        self.refresh()


# --- the check --------------------------------------------------------------------------------------------------------


class CheckDialog(ListDialog):
    """The full check of the file at hand, in the background; what it found in words."""

    backups_asked = Signal()

    def __init__(self, session: Any, parent: QWidget | None = None) -> None:
        super().__init__(session, parent, "Check this bench file")
        path = str(session.bench.path)
        self.lead.setText(f"{Path(path).name} is being checked…")
        self.means = self.words("")
        self.found = Table(RowsModel(FOUND, str), "What the check found", self)
        self.found.setVisible(False)
        self.column.addWidget(self.found, 1)
        self.column.addStretch(0)
        row = QHBoxLayout()
        self.backups = button(self, "&Backups…", self._to_backups)
        self.back = button(self, "Back", self.reject)
        row.addWidget(self.backups)
        row.addStretch(1)
        row.addWidget(self.back)
        self.column.addLayout(row)
        self.back.setFocus()
        scale = theme.current().scale
        self.resize(min(self.width(), round(720 * scale)), min(self.height(), round(360 * scale)))
        self.checking = Progress()
        self.finished.connect(self.checking.stop)
        session.background(check_at_hand, (path, self.checking), self.checked, "check")

    def checked(self, found: tuple[str, tuple[str, ...]] | BenchProblem) -> None:
        """Shows what the check found; a file that is damaged is not written to any more."""
        if isinstance(found, BenchProblem):
            self.lead.setText("The file could not be checked.")
            self.means.setText(f"{found.what}\n{found.means}\n{found.do}")
            return
        path, words = found
        name = Path(path).name
        count = "1 thing was" if len(words) == 1 else f"{len(words)} things were"
        self.lead.setText(f"{name} is damaged: {count} found." if words else f"{name} is sound: nothing is damaged.")
        self.means.setText(CHECK_FOUND if words else CHECK_GOOD)
        self.found.rows.set_rows(words)
        self.found.setVisible(bool(words))
        if words:
            self.session.found_damaged(path, words)
            self.backups.setFocus()

    def _to_backups(self) -> None:
        self.accept()
        self.backups_asked.emit()


FOUND = (Column("What was found", str, str, 40, stretch=True),)
