"""An open bench: the bench file, the library, the fleet read from it and the calls computed on that fleet.

Fleet and calls are cached; after a change only the engines that it touched are read and judged again. Everything that
`fleet()` returns is immutable, so a worker thread may judge it (`actions.call.judge`) without touching the file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from benchapp.actions.changed import Changed
from benchapp.records import Build, Call, Engine, Family, Fleet, Material, Sample


class Bench:
    """An open bench file. Make one with `Bench.create` or `Bench.open`; `close()` it, or use it in a `with`."""

    # --- opening and closing

    @classmethod
    def create(cls, path: str | Path, who: str = "") -> Bench:
        """A new, empty bench file at `path`. Raises BenchProblem if something is there already."""
        raise NotImplementedError

    @classmethod
    def open(cls, path: str | Path, read_only: bool = False, who: str = "", take_over: bool = False) -> Bench:
        """Opens a bench file, checks it and takes its lock.

        Never fails for what can still be read: where the file is in use, damaged or on a read-only medium the bench is
        `read_only` and `why_read_only` says so in plain sentences. `take_over` disregards a lock left by another
        computer. Raises BenchProblem for a file that is no bench file, newer than this program, or unreadable."""
        raise NotImplementedError

    path: Path
    who: str
    """Who is written into the audit: the name given, else the system's user name."""
    read_only: bool
    why_read_only: str
    """Plain sentences, empty when the bench can be written."""
    notices: tuple[str, ...]
    """What a person should know after opening (unclean stop, low disk, network folder), in plain sentences."""

    def close(self) -> None:
        """Backs up if something changed, gives the lock back. Safe to call twice."""
        raise NotImplementedError

    # --- reading

    def fleet(self) -> Fleet:
        """Everything in the file as one immutable value (cached; re-read by engine after a change)."""
        raise NotImplementedError

    def families(self) -> Mapping[str, Family]:
        """The library's families and the file's own (the file's win), by name."""
        raise NotImplementedError

    def materials(self) -> Mapping[str, Material]:
        """The library's materials and the file's own (the file's win), by id."""
        raise NotImplementedError

    def engine(self, name: str) -> Engine:
        """Raises BenchProblem if there is none of that name."""
        raise NotImplementedError

    def build(self, engine: str, number: str) -> Build:
        """Raises BenchProblem if there is none."""
        raise NotImplementedError

    def current_build(self, engine: str) -> Build | None:
        """The last build of the engine, or None if it has none yet."""
        raise NotImplementedError

    def find_sample(self, code: str) -> tuple[Engine, Build, Sample]:
        """Where a sample is. Raises BenchProblem if no engine has it (it may be waiting: `sample.waiting`)."""
        raise NotImplementedError

    # --- calls

    def calls(self) -> tuple[Call, ...]:
        """The latest call of each engine's current build, in order of engine name. Engines without a sample have none.

        Computed lazily, engine by engine; () as long as nothing can be judged."""
        raise NotImplementedError

    def calls_of(self, engine: str) -> tuple[Call, ...]:
        """Every sample of the engine judged with all that is known, in order of build and build hours."""
        raise NotImplementedError

    def call_of(self, code: str) -> Call | None:
        """The call of one sample, or None if it cannot be judged."""
        raise NotImplementedError

    def engines_to_judge(self) -> frozenset[str]:
        """Names of the engines whose calls are not computed yet (for a worker: judge them on `fleet()`)."""
        raise NotImplementedError

    def take_calls(self, fleet: Fleet, calls: Iterable[Call], engines: Iterable[str]) -> bool:
        """Keeps calls that a worker computed on `fleet` for `engines`. Engines that changed since are left out.

        True when at least one engine's calls were taken."""
        raise NotImplementedError

    # --- undo

    @property
    def undo_label(self) -> str:
        """What `undo()` would take back, or ''."""
        raise NotImplementedError

    @property
    def redo_label(self) -> str:
        """What `redo()` would do again, or ''."""
        raise NotImplementedError

    def undo(self) -> Changed:
        """Takes the last step back: an audited transaction of its own. Raises BenchProblem if there is nothing."""
        raise NotImplementedError

    def redo(self) -> Changed:
        """Does again what was last undone. Raises BenchProblem if there is nothing."""
        raise NotImplementedError

    # --- for views and verbs

    def subscribe(self, listener: Callable[[Changed], None]) -> Callable[[], None]:
        """`listener` is told of every change. Returns a function that ends it."""
        raise NotImplementedError
