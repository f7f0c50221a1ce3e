"""The rail on the left: one large button a view, with mark, word and key."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import QButtonGroup, QFrame, QSizePolicy, QToolButton, QVBoxLayout, QWidget

from benchapp.window import marks, theme
from benchapp.window.views import Entry


class Rail(QFrame):
    """Shows the views and says which one was picked."""

    picked = Signal(str)

    def __init__(self, entries: tuple[Entry, ...], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("role", "rail")
        self.setAccessibleName("Views")
        self._group = QButtonGroup(self)
        self._group.setExclusive(True)
        self._group.idClicked.connect(self._clicked)
        self._entries = entries
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        self.buttons: dict[str, QToolButton] = {}
        for number, entry in enumerate(entries):
            button = self._button(entry)
            self._group.addButton(button, number)
            self.buttons[entry.key] = button
            column.addWidget(button)
        column.addStretch(1)
        theme.follow(self, self._paint)
        self._paint()

    def _button(self, entry: Entry) -> QToolButton:
        button = QToolButton(self)
        button.setProperty("role", "rail")
        button.setText(f" {entry.title}")
        button.setToolTip(f"{entry.title} ({entry.shortcut})")
        button.setAccessibleName(entry.title)
        button.setAccessibleDescription(f"Key {entry.shortcut}")
        button.setCheckable(True)
        button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        button.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        button.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        return button

    def _paint(self) -> None:
        side = round(theme.current().mark_px * 1.25)
        for entry in self._entries:
            button = self.buttons[entry.key]
            button.setIconSize(QSize(side, side))
            button.setIcon(marks.view_icon(entry.shape, side))

    def _clicked(self, number: int) -> None:
        self.picked.emit(self._entries[number].key)

    def set_narrow(self, narrow: bool) -> None:
        """Marks alone where the window has no room for the words beside them."""
        style = Qt.ToolButtonStyle
        wanted = style.ToolButtonIconOnly if narrow else style.ToolButtonTextBesideIcon
        for button in self.buttons.values():
            button.setToolButtonStyle(wanted)

    def set_current(self, key: str) -> None:
        self.buttons[key].setChecked(True)
