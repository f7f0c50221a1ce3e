"""The call while typing: worked out in the background a moment after the last key, on an immutable fleet."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import shiboken6
from PySide6.QtCore import QObject, QTimer, Signal

from benchapp.problems import BenchProblem
from benchapp.records import Call, Fleet, Sample
from benchapp.window.session import Session

WAIT_MS = 250
"""Pause after the last key before a call is worked out [ms]."""


def worked_out(fleet: Fleet, engine: str, build: str, sample: Sample) -> Call | BenchProblem | None:
    """The call the sample would get; a BenchProblem says why there is none. Pure, for a pool thread."""
    from benchapp.actions.call import preview_in

    try:
        return preview_in(fleet, engine, build, sample)
    except BenchProblem as problem:
        return problem


def oil_worked_out(fleet: Fleet, engine: str, build: str, sample: Sample) -> Any | None:
    """The oil of the sample as typed, or None where its oil is not recorded. Pure, for a pool thread."""
    from benchapp.actions.oil_look import of_sample

    return of_sample(fleet, engine, build, sample)


class LiveCall(QObject):
    """Asks for the call (or what `work` gives) of what is typed; only the latest question is answered."""

    started = Signal()
    arrived = Signal(object)
    """A Call, a BenchProblem that says why there is none, or None."""

    def __init__(
        self,
        session: Session,
        parent: QObject | None = None,
        work: Callable[..., Any] = worked_out,
        kind: str = "preview",
    ) -> None:
        super().__init__(parent)
        self._session, self._work, self._kind = session, work, kind
        self._question: tuple[Any, ...] | None = None
        self._asked: tuple[Any, ...] | None = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(WAIT_MS)
        self._timer.timeout.connect(self._go)

    def ask(self, engine: str, build: str, sample: Sample) -> None:
        """Wants the call of this sample, soon."""
        self._question = (engine, build, sample)
        self.started.emit()
        self._timer.start()

    def drop(self) -> None:
        """Wants nothing any more."""
        self._question = self._asked = None
        self._timer.stop()

    def _go(self) -> None:
        if self._question is not None and self._session.bench is not None:
            self._asked = self._question
            self._session.background(self._work, (self._session.fleet, *self._question), self._done, kind=self._kind)

    def _done(self, result: Call | BenchProblem | None) -> None:
        if shiboken6.isValid(self) and self._asked is not None and self._asked == self._question:
            self.arrived.emit(result)
