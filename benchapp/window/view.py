"""What every view is: a widget that answers one question and refreshes by what an action says it changed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, ClassVar

from PySide6.QtWidgets import QWidget

if TYPE_CHECKING:
    from benchapp.window.session import Session


class View(QWidget):
    """A view of the main window, made as `SomeView(session, parent)`; subclasses make their widgets in `pieces`.

    `refresh(changed)` is called after every action with its `Changed` (None: everything may be different, for example
    another file); `calls_arrived()` when the judging in the background has new calls; `focus_first()` when the view
    comes to the front; `show_engine`, `show_sample` when another view sends the person here."""

    title: ClassVar[str] = ""
    question: ClassVar[str] = ""
    """The one question the view answers."""
    keys: ClassVar[tuple[tuple[str, str], ...]] = ()
    """Its own keys for F1: (("Ctrl+Return", "Confirm the sample"), …)."""
    help_text: ClassVar[str] = ""
    """A few plain sentences for F1."""

    def __init__(self, session: Session, parent: QWidget | None = None, *, staged: bool = False) -> None:
        """`staged`: nothing is made yet; `build_next` makes a piece at a time, so that the window is never held up."""
        super().__init__(parent)
        self.session = session
        self.setAccessibleName(self.title)
        self._pieces = self.pieces()
        if not staged:
            self.finish()

    def pieces(self) -> Iterator[None]:
        """Makes the view, with a `yield` wherever the window may have a turn."""
        yield from ()

    def fill(self) -> Iterator[None]:
        """Shows everything for the first time, with a `yield` wherever the window may have a turn."""
        self.refresh(None)
        yield

    def build_next(self) -> bool:
        """Makes the next piece. False: the view is whole."""
        return next(self._pieces, self) is not self

    def finish(self) -> None:
        """Makes what is left to make."""
        while self.build_next():
            pass

    def refresh(self, changed: Any | None) -> None:
        """Shows what an action changed. `changed` is an `actions.changed.Changed`, or None for everything."""

    def show_units(self) -> None:
        """Other units were chosen: shows everything in them. What is typed stays."""
        self.refresh(None)

    def calls_arrived(self) -> None:
        """The calls in `session.calls` are new."""

    def focus_first(self) -> None:
        """Puts the keyboard where the work begins."""
        self.setFocus()

    def show_engine(self, engine: str, element: str = "") -> None:
        """Shows this engine (and, in a plot, this element or source)."""

    def show_sample(self, code: str) -> None:
        """Shows this sample."""

    def take_table_file(self, path: str) -> bool:
        """Takes a spreadsheet dropped on the window. True where the view did."""
        return False

    def may_leave(self) -> bool:
        """False to keep the window open (something typed would be lost)."""
        return True
