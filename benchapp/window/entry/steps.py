"""One step that can be taken back before anything is confirmed: from one state of the entry screen to another."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtGui import QUndoCommand, QUndoStack


class Step(QUndoCommand):
    """Puts `after` in place; undo puts `before` back. States are immutable, so nothing can go half-way."""

    def __init__(self, label: str, apply: Callable[[Any], None], before: Any, after: Any) -> None:
        super().__init__(label)
        self._apply, self._before, self._after = apply, before, after

    def redo(self) -> None:
        self._apply(self._after)

    def undo(self) -> None:
        self._apply(self._before)


def new_stack(parent: Any, limit: int = 200) -> QUndoStack:
    """An empty stack of steps."""
    stack = QUndoStack(parent)
    stack.setUndoLimit(limit)
    return stack
