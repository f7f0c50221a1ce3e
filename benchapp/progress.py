"""How far a long job is, told to whoever waits for it, and how they ask it to stop.

A job calls `step` where it may still be left without harm. Once somebody asked it to stop, the next step raises
`Stopped`, and what the job had begun is taken back on the way out (a transaction, a temporary file).
"""

from __future__ import annotations

from collections.abc import Callable


class Stopped(Exception):
    """The job was stopped because a person asked for it; nothing was changed."""


class Progress:
    """`told` hears the words and the share done (0 to 1; None: not known), in the thread of the job."""

    def __init__(self, told: Callable[[str, float | None], None] | None = None) -> None:
        self._told = told
        self._stop = False

    def stop(self) -> None:
        """Asks the job to stop; from any thread."""
        self._stop = True

    @property
    def stopped(self) -> bool:
        """True once somebody asked."""
        return self._stop

    def step(self, words: str = "", share: float | None = None) -> None:
        """Tells where the job is ('' : as before). Raises Stopped once somebody asked for it."""
        if self._stop:
            raise Stopped
        if self._told is not None:
            self._told(words, share)


NOBODY = Progress()
"""Nobody waits: nothing is told, and the job cannot be stopped."""
