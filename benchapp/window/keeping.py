"""What the main window does to keep a bench file safe: backups by the clock, restoring, merging, checking."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtCore import QTimer

from benchapp.problems import BenchProblem
from benchapp.progress import Progress, Stopped
from benchapp.window.dialogs import ask
from benchapp.window.work import Work

LOOK_EVERY_MS = 60_000
"""How often it is asked whether a backup is due [ms]."""
AFTER_TROUBLE_MS = 30 * 60_000
"""How long a backup that failed or was stopped is left alone: it must not come back every minute [ms]."""
RESTORE_MEANS = (
    "The bench file goes back to how it was then; what was entered since is no longer in it. The file as it is now is "
    "kept beside it under another name. Look through what was entered since, and enter it again."
)
MERGE_MEANS = (
    "What it has and this file has not comes in; a row that was edited in both is shown side by side. The other file "
    "stays as it is. Undo does not take this back, but a backup of this file is made first and can be restored."
)
TAKE_OVER_MEANS = (
    "Only where that computer is off, or has the file closed: two that write at once can spoil it. The file is checked "
    "in full first."
)
LOCK_LEFT = (
    "{holder} left a lock on it: go on only where that computer is off, or has the file closed; the lock is taken over."
)


def back_up_if_due(bench: Any, progress: Progress) -> Any:
    """A worker's job: the backup made, the problem it met, the Stopped it met, or None where none was due."""
    from benchapp.actions import safety

    try:
        return safety.backup_if_due(bench, progress)
    except (BenchProblem, Stopped) as met:
        return met


class Keeping:
    """Methods of the main window, named by its menus."""

    session: Any
    messages: Any
    backup_timer: QTimer
    stop_backup: Any
    _backing_up: Work | None = None

    def _keep_safe(self) -> None:
        self.backup_timer = QTimer(self)
        self.backup_timer.setInterval(LOOK_EVERY_MS)
        self.backup_timer.timeout.connect(self.back_up_when_due)
        self.session.opened.connect(self._watch_file)
        self.session.opened_read_only.connect(self._watch_file)
        self.session.opened_read_only.connect(self._offer_way_out)
        self._watch_file()

    def _watch_file(self) -> None:
        bench = self.session.bench
        self._backup_over()
        self.backup_timer.setInterval(LOOK_EVERY_MS)
        if bench is not None and not bench.read_only:
            self.backup_timer.start()
        else:
            self.backup_timer.stop()

    # --- backups ------------------------------------------------------------------------------------------------------

    def back_up_when_due(self) -> None:
        """Makes a backup in the background where something changed long enough ago; not while samples are judged."""
        if self.session.bench is None or self.session.busy:
            return
        # The file's own lock lets a worker copy it: a change that is made meanwhile waits for the copy.
        self._backing_up = Work("Making a backup")
        self._backing_up.told.connect(self._show_backing_up)
        arguments = (self.session.bench, self._backing_up.progress)
        self.session.background(back_up_if_due, arguments, self._backed_up, "backup")

    def _show_backing_up(self, _words: str, share: float) -> None:
        """Told only where a backup is due. Nobody waits for it, so it speaks in the status bar alone."""
        if self._backing_up is None or self._backing_up.progress.stopped:
            return
        done = f" {100 * share:.0f} %" if share >= 0 else ""
        self.statusBar().showMessage(f"Making a backup…{done}")
        self.stop_backup.show()

    def leave_backup(self) -> None:
        """Stops the backup under way."""
        if self._backing_up is not None:
            self._backing_up.stop()
            self.stop_backup.hide()
            self.statusBar().showMessage("Stopping the backup…")

    def _backup_over(self) -> None:
        if self._backing_up is not None:
            self._backing_up = None
            self.stop_backup.hide()
            self.statusBar().clearMessage()

    def _backed_up(self, made: Any) -> None:
        self._backup_over()
        failed = isinstance(made, BenchProblem | Stopped)
        if isinstance(made, Stopped):
            self.session.note.emit(
                "The backup was stopped, as you asked.",
                "No half copy was kept; earlier backups are as they were.",
                "It is tried again in half an hour. File, then Backups, makes one now.",
            )
        elif failed:
            self.session.problem.emit(made)
        elif made is not None:
            self.statusBar().showMessage(f"Backup made: {made.path.name}", 8000)
        self.backup_timer.setInterval(AFTER_TROUBLE_MS if failed else LOOK_EVERY_MS)

    def show_backups(self) -> None:
        """The kept backups of the file at hand, or of one that the person picks."""
        bench = self.session.bench
        path = (
            str(bench.path)
            if bench is not None
            else self.session.ask.open_file(self, "Backups of which bench file?", ask.BENCH_FILES)
        )
        if path:
            self.show_backups_of(path)

    def show_backups_of(self, path: str) -> None:
        """The kept backups of a bench file, which need not open."""
        from benchapp.window.dialogs.safety import BackupsDialog

        dialog = BackupsDialog(self.session, path, self)
        dialog.restore_asked.connect(self.restore)
        self.session.ask.show(dialog)

    def offer_backups(self, path: str) -> None:
        """Beside the message why a file cannot be opened: its backups, where it has any."""
        from benchapp.actions import safety

        if safety.backups(path):
            self.messages.offer("&Backups of it…", _Call(self.show_backups_of, path))

    def _offer_way_out(self) -> None:
        """Beside the note that the file can only be read: what may be done about it."""
        from benchapp.actions import safety

        bench = self.session.bench
        if bench.damaged:
            self.messages.offer("&Restore a backup…", self.show_backups)
        elif safety.left_by(bench.path):
            self.messages.offer("&Take over…", self.take_over)

    def restore(self, path: str, backup: str) -> None:
        """Puts a backup in the place of a bench file, once the person agreed, and opens it."""
        from benchapp.actions import safety

        name, holder = Path(path).name, safety.left_by(path)
        means = f"{RESTORE_MEANS} {LOCK_LEFT.format(holder=holder)}" if holder else RESTORE_MEANS
        if not self._views_let_go() or not self.session.ask.confirm(
            self, f"Put {Path(backup).name} in the place of {name}?", means, "Restore"
        ):
            return
        self.session.use(None)
        self.messages.clear()
        self.session.work(
            f"Restoring {name}", safety.restore, (path, backup, "", bool(holder)),
            partial(self._restored, path, backup), partial(self._not_restored, path),
        )  # fmt: skip

    def _restored(self, path: str, backup: str, aside: Path) -> None:
        self.session.open(path, then=partial(self._say_restored, path, backup, aside))

    def _say_restored(self, path: str, backup: str, aside: Path, is_open: bool) -> None:
        if is_open and not self.session.bench.read_only:
            kept = f"The file as it was is kept as {aside.name}." if aside != Path(path) else ""
            self.session.note.emit(
                f"{Path(backup).name} is in the place of {Path(path).name}.",
                kept,
                "Look through what was entered since.",
            )

    def _not_restored(self, path: str, problem: BenchProblem | None) -> None:
        """The file as it was is opened again; then the person hears why."""
        if Path(path).exists():
            self.session.open(path, then=partial(self._say_not_restored, problem))
        else:
            self._say_not_restored(problem, False)

    def _say_not_restored(self, problem: BenchProblem | None, _is_open: bool) -> None:
        if problem is not None:
            self.session.problem.emit(problem)

    # --- in use elsewhere ---------------------------------------------------------------------------------------------

    def take_over(self) -> None:
        """Opens the file at hand for writing although another computer left its lock."""
        from benchapp.actions import safety

        path = self.session.bench.path
        holder = safety.left_by(path)
        if not holder:
            self.session.note.emit(
                "The lock cannot be taken over now.", "The file is in use.", "Close it there, then open it here again."
            )
        elif self.session.ask.confirm(self, f"Take {path.name} over from {holder}?", TAKE_OVER_MEANS, "Take over"):
            self.messages.clear()
            self.session.open(str(path), take_over=True)

    # --- two laptops --------------------------------------------------------------------------------------------------

    def take_in_file(self) -> None:
        """Merges another laptop's bench file into this one."""
        from benchapp.actions import safety

        path = self.session.ask.open_file(self, "Take in which bench file?", ask.BENCH_FILES)
        if not path or not self.session.ask.confirm(self, f"Take in {Path(path).name}?", MERGE_MEANS, "Take in"):
            return
        self.session.work_on_bench(f"Taking in {Path(path).name}", safety.merge, (path,), self._show_merged)

    def _show_merged(self, merged: Any) -> None:
        from benchapp.window.dialogs.safety import ConflictsDialog, taken_in

        if merged.conflicts or merged.remarks:
            self.session.ask.show(ConflictsDialog(self.session, self, merged))
        else:
            self.session.note.emit(taken_in(merged), "Nothing was edited on both laptops.", "")

    def show_conflicts(self) -> None:
        """Rows that were edited on both laptops and wait for a choice."""
        from benchapp.window.dialogs.safety import ConflictsDialog

        self.session.ask.show(ConflictsDialog(self.session, self))

    # --- checking -----------------------------------------------------------------------------------------------------

    def check_file(self) -> None:
        """Checks the file at hand in full, in the background."""
        from benchapp.window.dialogs.safety import CheckDialog

        dialog = CheckDialog(self.session, self)
        dialog.backups_asked.connect(self.show_backups)
        self.session.ask.show(dialog)


class _Call:
    """A function with its argument, for a button."""

    def __init__(self, function: Any, argument: str) -> None:
        self._function, self._argument = function, argument

    def __call__(self) -> None:
        self._function(self._argument)
