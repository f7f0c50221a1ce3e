"""The bar above sample entry: what can be begun, what waits, and the search for a sample."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QCompleter, QFrame, QHBoxLayout, QLabel, QLineEdit, QPushButton, QWidget

from benchapp.window import spacing, theme
from benchapp.window.entry import words


def button(text: str, why: str, parent: QWidget) -> QPushButton:
    """A button that says why it is there."""
    made = QPushButton(text, parent)
    made.setToolTip(why)
    made.setAccessibleDescription(why)
    made.setAutoDefault(False)
    return made


class Bar(QWidget):
    """The buttons and the search."""

    sought = Signal(str)
    """Enter in the search, with this code."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.new = button("New sample", "An empty form (Ctrl+B). What is typed now is put away as a draft.", self)
        self.paste = button("Paste results", "From the clipboard (Ctrl+V)", self)
        self.file = button("Open table…", "A spreadsheet or text file of results (Ctrl+Shift+O)", self)
        self.preview = button("Pasted sheet", "Back to the sheet that is not dealt with yet", self)
        self.waiting = button("Waiting", "Samples that wait for an engine, and drafts (Ctrl+W)", self)
        self.find = QLineEdit(self)
        self.find.setPlaceholderText("Find a sample by its code")
        self.find.setAccessibleName("Find a sample by its code")
        self.find.setToolTip("Type a part of the code and press Enter (Ctrl+F)")
        self.find.returnPressed.connect(self._seek)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        spacing.between(row, 1)
        for widget in (self.new, self.paste, self.file, self.preview, self.waiting):
            row.addWidget(widget)
        row.addStretch(1)
        row.addWidget(self.find, 1)
        self.tell_sheet(there=False, problems=0)
        theme.follow(self, self._fit)
        self._fit()

    def _fit(self) -> None:
        self.find.setMaximumWidth(self.fontMetrics().averageCharWidth() * 34)

    def tell_sheet(self, *, there: bool, problems: int) -> None:
        """Shows the way back to a pasted sheet, for as long as there is one."""
        self.preview.setVisible(there)
        self.preview.setText(f"Pasted sheet ({words.counted(problems, 'problem')})" if problems else "Pasted sheet")

    def tell_waiting(self, count: int) -> None:
        """How much waits."""
        self.waiting.setText(f"Waiting ({count})" if count else "Waiting")

    def offer_codes(self, codes: Sequence[str]) -> None:
        """The codes that the search completes."""
        completer = QCompleter(list(codes), self.find)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        completer.setFilterMode(Qt.MatchFlag.MatchContains)
        self.find.setCompleter(completer)

    def _seek(self) -> None:
        code = self.find.text().strip()
        if code:
            self.find.clear()
            self.sought.emit(code)


class Banner(QFrame):
    """Offers what was typed or pasted when the window last closed."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("role", "message")
        self.words = QLabel(self)
        self.words.setTextFormat(Qt.TextFormat.PlainText)
        self.words.setWordWrap(True)
        self.go_on = button("Continue", "Put it back where it was", self)
        self.put_away = button("Put away", "Keep the draft in the list of waiting work and start afresh", self)
        row = QHBoxLayout(self)
        row.addWidget(self.words, 1)
        row.addWidget(self.go_on)
        row.addWidget(self.put_away)
        self.setVisible(False)

    def offer(self, draft: str, *, sheet: bool) -> None:
        """Offers a draft (what it is, in words, or '') and says whether a pasted sheet is back."""
        said = [f"A draft is here: {draft}. It was typed before the window closed."] if draft else []
        if sheet:
            said.append("A pasted sheet is here that was not dealt with before the window closed.")
        self.words.setText(" ".join([*said, "Nothing of it is confirmed."]))
        self.put_away.setVisible(bool(draft))
        self.setVisible(bool(said))
