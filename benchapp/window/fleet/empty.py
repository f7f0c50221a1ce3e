"""What the fleet shows while there is no engine: the four steps from here to a first call."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QPushButton, QSizePolicy, QVBoxLayout, QWidget

from benchapp.window import spacing
from benchapp.window.fleet.reasons import label

STEPS = (
    "1  Add an engine from a family: its parts and their metals come with it (Ctrl+N).",
    "2  Add the oil and the fill it went in with (Ctrl+L), then its runs (Ctrl+R).",
    "3  Paste or type the results of a sample (Ctrl+2). The call is there as you type.",
    "4  Print the sheet with the call (Ctrl+P).",
)


class EmptyFleet(QWidget):
    """Offers the next step."""

    add_asked = Signal()
    load_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        column = QVBoxLayout(self)
        spacing.around(column, 2, 1, 2, 1)
        spacing.between(column, 1)
        column.setAlignment(Qt.AlignmentFlag.AlignTop)
        column.addWidget(label("No engine in this bench file yet", self, "head"))
        for step in STEPS:
            column.addWidget(label(step, self))
        spacing.after(column, 1)
        self.add = self._button("Add an &engine…", self.add_asked)
        self.load = self._button("Load a &workbook…", self.load_asked)
        column.addWidget(self.add)
        column.addWidget(self.load)
        column.addWidget(label("A workbook brings engines, oils, runs and samples all at once.", self, "quiet"))

    def _button(self, text: str, signal) -> QPushButton:
        button = QPushButton(text, self)
        button.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        button.setMinimumWidth(240)
        button.setAutoDefault(True)
        button.clicked.connect(signal)
        return button
