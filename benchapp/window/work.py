"""A long job that a person waits for: it runs in the pool thread, the window shows how far it is and offers to stop it.

For a moment nothing is shown, since most are over by then; keys and clicks are held off meanwhile, for what they were
meant for may not be there afterwards.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt, QTimer, Signal
from PySide6.QtGui import QCloseEvent
from PySide6.QtWidgets import (
    QApplication,
    QDialog,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from benchapp.progress import Progress
from benchapp.window import theme

SHOW_AFTER_MS = 300
"""A job that is over by then is not shown [ms]."""

_HELD_OFF = frozenset({
    QEvent.Type.KeyPress, QEvent.Type.KeyRelease, QEvent.Type.Shortcut, QEvent.Type.ShortcutOverride,
    QEvent.Type.MouseButtonPress, QEvent.Type.MouseButtonRelease, QEvent.Type.MouseButtonDblClick, QEvent.Type.Wheel,
    QEvent.Type.Drop, QEvent.Type.DragEnter,
})  # fmt: skip


class Work(QObject):
    """A job under way. `told`: words ('' : as before) and the share done, -1 where that is not known.

    It has no parent: the pool thread tells through it until the job has ended, whatever became of the window."""

    told = Signal(str, float)

    def __init__(self, title: str) -> None:
        super().__init__()
        self.title = title
        self.progress = Progress(self._tell)

    def _tell(self, words: str, share: float | None) -> None:
        self.told.emit(words, -1.0 if share is None else share)

    def stop(self) -> None:
        """Asks the job to stop where it can be left without harm."""
        self.progress.stop()


class WorkDialog(QDialog):
    """How far a job is, and a button that stops it. It goes when the job has ended, not before."""

    def __init__(self, work: Work, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.work = work
        self.setWindowTitle(work.title)
        self.setModal(True)
        self.words = QLabel(work.title, self)
        self.words.setTextFormat(Qt.TextFormat.PlainText)
        self.words.setWordWrap(True)
        self.bar = QProgressBar(self)
        self.bar.setRange(0, 0)
        self.bar.setAccessibleName("How far it is")
        self.button = QPushButton("&Stop", self)
        self.button.clicked.connect(self.reject)
        column = QVBoxLayout(self)
        gap = theme.current().gap_px
        column.setContentsMargins(2 * gap, 2 * gap, 2 * gap, 2 * gap)
        column.addWidget(self.words)
        column.addWidget(self.bar)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(self.button)
        column.addLayout(row)
        self.setMinimumWidth(round(420 * theme.current().scale))
        work.told.connect(self._told)

    def _told(self, words: str, share: float) -> None:
        if words and not self.work.progress.stopped:
            self.words.setText(f"{words}…")
        self.bar.setRange(0, 0 if share < 0 else 100)
        if share >= 0:
            self.bar.setValue(round(100 * share))

    def reject(self) -> None:
        """Esc and the button: the job is asked to stop; the dialog stays until it has."""
        self.work.stop()
        self.words.setText("Stopping…")
        self.button.setEnabled(False)

    def closeEvent(self, event: QCloseEvent) -> None:
        event.ignore()
        self.reject()


class Waiting(QObject):
    """Shows the work under way above the window, once it has lasted a moment."""

    def __init__(self, window: QWidget) -> None:
        super().__init__(window)
        self._window = window
        self._work: Work | None = None
        self.dialog: WorkDialog | None = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(SHOW_AFTER_MS)
        self._timer.timeout.connect(self.show)

    def begin(self, work: Work) -> None:
        """Holds keys and clicks off; the dialog follows."""
        self._work = work
        QApplication.instance().installEventFilter(self)
        self._timer.start()

    def show(self) -> None:
        """Shows the dialog now."""
        if self._work is None or self.dialog is not None:
            return
        self._timer.stop()
        QApplication.instance().removeEventFilter(self)
        self.dialog = WorkDialog(self._work, QApplication.activeModalWidget() or self._window)
        self.dialog.show()

    def end(self) -> None:
        """The job has ended."""
        self._work = None
        self._timer.stop()
        QApplication.instance().removeEventFilter(self)
        if self.dialog is not None:
            self.dialog.done(QDialog.DialogCode.Accepted)
            self.dialog.deleteLater()
            self.dialog = None

    def eventFilter(self, _seen: QObject, event: QEvent) -> bool:
        return event.type() in _HELD_OFF
