"""The first page: try the demo, start a new bench file, open one; below it the recent ones."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from benchapp.window import settings, spacing, theme

OFFERS = (
    (
        "demo",
        "Try the &demo",
        "An invented team with two seasons of samples. Nothing in it can be broken: it is a copy.",
    ),
    ("new", "Start a &new bench file", "One file on this computer, with your engines, oils and samples in it."),
    ("open", "&Open a bench file", "One that you have, from this computer or from a stick."),
)


class StartPage(QWidget):
    """Says what the person picked: 'demo', 'new', 'open' by `picked`, a recent file by `recent_picked`."""

    picked = Signal(str)
    recent_picked = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Start")
        self._said: list[QLabel] = []
        self._column = QVBoxLayout(self)
        spacing.around(self._column, 6, 5, 6, 4)
        spacing.between(self._column, 1)
        self._column.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        head = QLabel("Race Oil Bench", self)
        head.setProperty("role", "title")
        self._column.addWidget(head)
        self._column.addWidget(self._words("From an oil sample to a call: run it, short stint, look inside, park."))
        spacing.after(self._column, 2)
        self.buttons: dict[str, QPushButton] = {}
        for key, title, why in OFFERS:
            self.buttons[key] = button = self._offer(key, title)
            self._column.addWidget(button)
            self._column.addWidget(self._words(why))
            spacing.after(self._column, 1)
        self._recent_head = QLabel("Recent", self)
        self._recent_head.setProperty("role", "head")
        self._column.addWidget(self._recent_head)
        self._recent: list[QPushButton] = []
        self.refresh()
        theme.follow(self, self._fit)
        self._fit()

    def _fit(self) -> None:
        """Widths grow with the letters."""
        points = theme.current().points / theme.BASE_POINTS
        for button in (*self.buttons.values(), *self._recent):
            button.setMinimumWidth(round(300 * points))
        for words in self._said:
            words.setMinimumWidth(round(min(460 * points, 720)))

    def _words(self, text: str) -> QLabel:
        label = QLabel(text, self)
        label.setProperty("role", "quiet")
        label.setWordWrap(True)
        self._said.append(label)
        return label

    def _offer(self, key: str, title: str) -> QPushButton:
        button = QPushButton(title, self)
        button.setObjectName(key)
        button.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        button.setAutoDefault(True)
        button.clicked.connect(self._offer_clicked)
        return button

    def _offer_clicked(self) -> None:
        self.picked.emit(self.sender().objectName())

    def refresh(self) -> None:
        """Lists the recent files as they are now."""
        for button in self._recent:
            self._column.removeWidget(button)
            button.deleteLater()
        self._recent = []
        paths = settings.recent()
        self._recent_head.setVisible(bool(paths))
        for path in paths:
            button = QPushButton(Path(path).name, self)
            button.setToolTip(path)
            button.setObjectName(path)
            button.setAccessibleName(f"Open {Path(path).name}")
            button.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
            button.clicked.connect(self._recent_clicked)
            self._column.addWidget(button)
            self._recent.append(button)
        self._fit()

    def _recent_clicked(self) -> None:
        self.recent_picked.emit(self.sender().objectName())

    def focus_first(self) -> None:
        first = self._recent[0] if self._recent else self.buttons["demo"]
        first.setFocus()
