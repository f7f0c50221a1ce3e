"""Asks why a sample is voided; the reason is kept with it."""

from __future__ import annotations

from typing import Any

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QLineEdit, QVBoxLayout, QWidget

from benchapp.actions import sample as verbs
from benchapp.problems import BenchProblem
from benchapp.window.entry.call_panel import label


class ReasonForm(QDialog):
    """One line and two buttons. Voiding hides the sample; undo brings it back, so nothing more is asked."""

    def __init__(self, session: Any, code: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._code = session, code
        self.setWindowTitle(f"Withdraw sample {code}")
        words = label(
            f"Why withdraw sample {code}? It is hidden from every call and stays in the file with your reason."
        )
        self.reason = QLineEdit(self)
        self.reason.setPlaceholderText("wrong bottle, spilt, read twice …")
        self.reason.setAccessibleName("Reason")
        self.trouble: QLabel = label("", "trouble", self)
        self.trouble.setVisible(False)
        self.buttons = QDialogButtonBox(self)
        self.void_button = self.buttons.addButton("Withdraw it", QDialogButtonBox.ButtonRole.AcceptRole)
        self.void_button.setDefault(True)
        self.buttons.addButton("Back", QDialogButtonBox.ButtonRole.RejectRole)
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        for widget in (words, self.reason, self.trouble, self.buttons):
            column.addWidget(widget)
        self.setMinimumWidth(self.fontMetrics().averageCharWidth() * 60)

    def accept(self) -> None:
        """Voids the sample; where that fails, says so here and stays."""
        reason = self.reason.text().strip()
        if not reason:
            self._say("Write a reason first: someone will ask next season.")
            return
        try:
            self._session.run_or_raise(verbs.void, self._code, reason)
        except BenchProblem as problem:
            self._say(f"{problem.what} {problem.means} {problem.do}")
            return
        super().accept()

    def _say(self, text: str) -> None:
        self.trouble.setText(text)
        self.trouble.setVisible(True)
        self.reason.setFocus()
