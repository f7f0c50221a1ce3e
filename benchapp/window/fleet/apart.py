"""Which parts the bench can tell apart, and which it reads as one: shown before any sample exists."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QLabel, QScrollArea, QVBoxLayout, QWidget

from benchapp.actions.looks import TellApart
from benchapp.window import spacing
from benchapp.window.fleet.reasons import label

LEAD = "Parts that stand alone can be named by a call; parts in one group are named together."


class ApartPanel(QScrollArea):
    """Groups as lines, each with the elements that show it; below it what else was found."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName("What can be told apart")
        self.show_found(None)

    def show_found(self, found: TellApart | None, trouble: str = "") -> None:
        """Shows what was found; None: what is missing (`trouble`), or that it is being worked out."""
        body = QWidget()
        column = QVBoxLayout(body)
        spacing.around(column, 1, 1, 1, 1)
        spacing.between(column, 0.5)
        if found is None:
            column.addWidget(label(trouble or "Being worked out…", body, "trouble" if trouble else "quiet"))
        else:
            self._fill(body, column, found)
        column.addStretch(1)
        self.setWidget(body)

    def _fill(self, body: QWidget, column: QVBoxLayout, found: TellApart) -> None:
        column.addWidget(label(LEAD, body, "quiet"))
        alone = [group for group in found.groups if len(group) == 1]
        together = [group for group in found.groups if len(group) > 1]
        column.addWidget(label("Read as one", body, "head"))
        for group in together:
            column.addWidget(_group(body, " + ".join(group), _shown(found, group)))
        if not together:
            column.addWidget(label("Nothing: every part stands alone.", body))
        column.addWidget(label("Stand alone", body, "head"))
        for group in alone:
            column.addWidget(_group(body, group[0], _shown(found, group)))
        if not alone:
            column.addWidget(label("None.", body))
        more = [line for line in found.words if not line.startswith(("Told apart:", "Cannot be told apart:"))]
        if more:
            column.addWidget(label("Mind", body, "head"))
            for line in more:
                column.addWidget(label(f"· {line}", body))
        column.addWidget(label(f"Asked with {found.with_what}.", body, "quiet"))


def _shown(found: TellApart, group: tuple[str, ...]) -> str:
    seen: dict[str, None] = {}
    for source in group:
        seen.update(dict.fromkeys(found.elements.get(source, ())[:4]))
    return " ".join(list(seen)[:6])


def _group(body: QWidget, name: str, elements: str) -> QFrame:
    frame = QFrame(body)
    column = QVBoxLayout(frame)
    spacing.around(column, 1, 0, 0, 0)
    column.setSpacing(0)
    words = f"{name}  [{elements}]" if elements else name
    made: QLabel = label(words, frame)
    column.addWidget(made)
    return frame
