"""Keeps what is being typed on the disk, so that a generator that stops takes nothing with it.

The draft at hand lies under `CURRENT`; one that was put away to make room for other work lies under a number of its own
and can be taken up again from the list of waiting work.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QObject, QTimer

from benchapp.actions import draft
from benchapp.window.session import Session

CURRENT = "entry"
PASTE = "entry paste"
PUT_AWAY = "entry/"
WAIT_MS = 400
"""Pause after the last key before the draft is written [ms]; well within a second."""


@dataclass(frozen=True, slots=True)
class PutAway:
    """A draft that was put away: where it lies and what it is."""

    key: str
    data: dict[str, Any]

    @property
    def title(self) -> str:
        return title_of(self.data)


def title_of(data: Mapping[str, Any]) -> str:
    """What a draft is, in words."""
    form = data.get("form") or {}
    code, engine = str(form.get("code", "")).strip(), str(form.get("engine", "")).strip()
    count = len(data.get("results") or ())
    name = f"sample {code}" if code else "a sample without a code"
    return f"{name}{f' of {engine}' if engine else ''}, {count} {'result' if count == 1 else 'results'}"


class DraftKeeper(QObject):
    """Writes the draft a moment after the last key, and at once when told to."""

    def __init__(self, session: Session, key: str = CURRENT, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session, self._key = session, key
        self._data: dict[str, Any] | None = None
        self._bench: Any = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(WAIT_MS)
        self._timer.timeout.connect(self.flush)

    def keep(self, data: Mapping[str, Any]) -> None:
        """Wants `data` on the disk within a second."""
        self._data, self._bench = dict(data), self._session.bench
        if not self._timer.isActive():  # a person who never pauses is kept, too
            self._timer.start()

    def due_ms(self) -> int:
        """Until the draft is written [ms]; -1 where nothing waits to be."""
        return self._timer.remainingTime()

    def flush(self) -> None:
        """Writes what is wanted now."""
        self._timer.stop()
        if self._session.working is not None:  # the file is handed over: a moment later
            self._timer.start()
            return
        if self._data is not None and self._session.bench is self._bench:  # never into another file
            data, self._data = self._data, None
            self._session.look(draft.keep, self._key, data)

    def found(self) -> dict[str, Any] | None:
        """What was kept, or None."""
        return self._session.look(draft.get, self._key)

    def drop(self) -> None:
        """Forgets the draft: what it held is in the bench file now, or put away."""
        self._timer.stop()
        self._data = None
        self._session.look(draft.drop, self._key)

    def put_away(self, data: Mapping[str, Any]) -> None:
        """Lays `data` aside under a number of its own, then frees the place of the draft at hand."""
        taken = set(self._session.look(draft.keys) or ())
        number = next(n for n in range(1, len(taken) + 2) if f"{PUT_AWAY}{n}" not in taken)
        self._session.look(draft.keep, f"{PUT_AWAY}{number}", dict(data))
        self.drop()

    def put_aside(self) -> tuple[PutAway, ...]:
        """The drafts that were put away, the latest first."""
        keys = [key for key in self._session.look(draft.keys) or () if key.startswith(PUT_AWAY)]
        found = ((key, self._session.look(draft.get, key)) for key in keys)
        return tuple(PutAway(key, data) for key, data in found if data)

    def take_up(self, key: str) -> dict[str, Any] | None:
        """A draft that was put away; its place is freed once it is the one at hand."""
        data = self._session.look(draft.get, key)
        if data:
            self._session.look(draft.keep, self._key, data)
            self._session.look(draft.drop, key)
        return data
