"""The one way a room tells a person that something went wrong: what happened, what it means, what to do."""

from __future__ import annotations


class BenchProblem(Exception):
    """A problem a person can act on. Never a traceback: the window and the command line print the three sentences.

    `what` happened, what it `means` for the data, what to `do`, in that order."""

    def __init__(self, what: str, means: str, do: str) -> None:
        super().__init__(f"{what} {means} {do}")
        self.what = what
        self.means = means
        self.do = do
