"""One open bench file and what the window is looking at: the only object that views share.

A view never talks to another view: it asks the session (`select`, `open_sample`, `show_trend`), and the session tells
whoever listens. Every change goes through `run`, which calls a verb of `actions/`, tells what changed and starts the
judging anew. Judging works on an immutable `Fleet` in a pool thread, so the window never waits for it.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import Any

import shiboken6
from PySide6.QtCore import QObject, QRunnable, QThreadPool, Signal, Slot

from benchapp.problems import BenchProblem
from benchapp.progress import Progress, Stopped
from benchapp.records import Call, Fleet
from benchapp.window.dialogs.ask import Ask
from benchapp.window.work import Work

NOTHING: MappingProxyType[str, Any] = MappingProxyType({})
EMPTY = Fleet(engines=(), families=NOTHING, materials=NOTHING, oils=NOTHING)
"""The fleet while no file is open."""

NO_FILE = BenchProblem("No bench file is open.", "Nothing was changed.", "Open or make a bench file first.")


def open_bench(path: str, read_only: bool, take_over: bool, *, progress: Progress) -> Any:
    """A worker's job: the bench file opened, checked and read."""
    from benchapp.actions.bench import Bench

    bench = Bench.open(path, read_only=read_only, take_over=take_over, progress=progress)
    return _read(bench, progress)


def create_bench(path: str, *, progress: Progress) -> Any:
    """A worker's job: an empty bench file, open."""
    from benchapp.actions.bench import Bench

    return _read(Bench.create(path), progress)


def _read(bench: Any, progress: Progress) -> Any:
    try:
        progress.step("Reading it", 1.0)
        bench.kept_calls()  # and with them the fleet
    except Stopped:
        bench.close()
        raise
    except BenchProblem:
        pass  # what cannot be read is told where it is asked for
    return bench


def on_bench(bench: Any, verb: Callable[..., Any], args: tuple[Any, ...], *, progress: Progress) -> Any:
    """A worker's job: a verb on a bench that was handed over."""
    with bench.telling_later():
        return verb(bench, *args, progress=progress)


class _Report(QObject):
    """Carries a job's result from the pool thread to the window's thread."""

    done = Signal(object, object, object)  # job, result, exception or None


class _Job(QRunnable):
    """One function on immutable values, in a pool thread."""

    def __init__(self, kind: str, function: Callable[..., Any], args: tuple[Any, ...]) -> None:
        super().__init__()
        self.setAutoDelete(False)
        self.kind = kind
        self.then: Callable[[Any], None] | None = None
        self.report = _Report()
        self.finished = False
        self.result: Any = None
        self._function, self._args = function, args

    def run(self) -> None:
        error = None
        try:
            self.result = self._function(*self._args)
        except Exception as caught:  # noqa: BLE001  (handed to the window's thread, which raises or tells it)
            error = caught
        self.report.done.emit(self, self.result, error)
        self.finished = True


IN_TURN = ("judge", "close", "work")
"""Kinds of job that run in the order in which they were asked for: a file is closed before it is restored or opened
again. (An idle pool takes a job up without its priority, and one of a higher priority would overtake it.)"""

_under_way: dict[_Job, Session] = {}
"""Jobs and their sessions from start to end: the pool keeps no Python reference, so a window that is closed and left
while its job runs or waits would be collected under the pool's feet (seen once as a crash in the tests)."""


class Session(QObject):
    """See the module. `bench` is an `actions.bench.Bench` or None while no file is open."""

    opened = Signal()
    """Another bench file is open (or none): everything may be different."""
    changed = Signal(object)
    """An action's `Changed`."""
    calls_arrived = Signal()
    """`calls` hold more than before (while `busy`, engines may still be missing)."""
    busy_changed = Signal(bool)
    """Judging or another background job is under way."""
    problem = Signal(object)
    """A `BenchProblem` to show in the message bar."""
    note = Signal(str, str, str)
    """What happened, what it means, what to do: news that is no problem."""
    work_began = Signal(object)
    """A `Work`: a long job that the person waits for."""
    work_ended = Signal()
    opened_read_only = Signal()
    """The file that was opened, or is open, can only be read from now on; its note was told."""
    engine_selected = Signal(str)
    sample_selected = Signal(str)
    sample_asked = Signal(str)
    """Open this sample in sample entry ('' for a new one)."""
    entry_asked = Signal(str)
    """Start a new sample for this engine."""
    trend_asked = Signal(str, str)
    """Show this engine, and this element or source ('' for all), in trends."""
    engine_asked = Signal(str)
    """Show this engine in the fleet."""
    part_asked = Signal(str, str)
    """Show this engine and this part of it in the fleet."""

    def __init__(self, parent: QObject | None = None, ask: Ask | None = None) -> None:
        super().__init__(parent)
        self.bench: Any | None = None
        self.ask = ask or Ask()
        self.selected_engine = ""
        self.selected_sample = ""
        self.calls: MappingProxyType[str, Call] = NOTHING
        """Engine -> the latest call of its current build, as of the last judging."""
        self._unsubscribe: Callable[[], None] | None = None
        self._pool = QThreadPool()
        self._pool.setMaxThreadCount(1)
        self._jobs: set[_Job] = set()
        self._judging: _Job | None = None
        self._judged_fleet: Fleet = EMPTY
        self._judged_engines: frozenset[str] = frozenset()
        self._again = False
        self._judging_failed = False
        self.working: Work | None = None
        """The long job that the person waits for, if there is one; nothing else touches the file meanwhile."""
        self._work_job: _Job | None = None
        self._work_then: Callable[[Any], None] | None = None
        self._work_failed: Callable[[BenchProblem | None], None] | None = None

    # --- the file ---------------------------------------------------------------------------------------------------

    def open(
        self,
        path: str,
        *,
        read_only: bool = False,
        take_over: bool = False,
        then: Callable[[bool], None] | None = None,
    ) -> None:
        """Opens a bench file in place of the one at hand, in the background; `then` hears whether it is open now.

        Where that fails a message says why, and the file at hand stays. `take_over` disregards a lock that another
        computer left."""
        if self.bench is not None and Path(path).resolve() == Path(str(self.bench.path)).resolve():
            self.use(None)  # it cannot be opened beside itself
        self._open_by(open_bench, (path, read_only, take_over), f"Opening {Path(path).name}", then)

    def create(self, path: str, then: Callable[[bool], None] | None = None) -> None:
        """Makes an empty bench file and opens it, in the background; `then` hears whether it is open now."""
        self._open_by(create_bench, (path,), f"Making {Path(path).name}", then)

    def _open_by(
        self, how: Callable[..., Any], args: tuple[Any, ...], title: str, then: Callable[[bool], None] | None
    ) -> None:
        def taken(bench: Any) -> None:
            self.use(bench)
            if then is not None:
                then(True)

        def failed(problem: BenchProblem | None) -> None:
            if problem is None:
                return  # the person turned back
            self.problem.emit(problem)
            if then is not None:
                then(False)

        self.work(title, how, args, taken, failed)

    def use(self, bench: Any | None) -> None:
        """Takes an open bench in place of the one at hand, which is closed in the background: a backup takes time."""
        self._forget()
        if self.bench is not None and self.bench is not bench:
            self._start("close", self.bench.close, (), None)
        self.bench = bench
        if bench is not None:
            self._unsubscribe = bench.subscribe(self._tell)
            with contextlib.suppress(BenchProblem):  # what cannot be read is told where it is asked for
                kept = bench.kept_calls()
                self.calls = MappingProxyType({engine: call for engine, call in kept.items() if call is not None})
        self.opened.emit()
        self._say_notices()
        self.judge()

    def _say_notices(self) -> None:
        if self.bench is None:
            return
        notices = " ".join(self.bench.notices)
        if self.bench.read_only:
            self.note.emit("This file is open to read only.", self.bench.why_read_only, notices)
            self.opened_read_only.emit()
        elif notices:
            self.note.emit("Something to know about this file.", notices, "")

    def found_damaged(self, path: str, found: Sequence[str]) -> None:
        """A check of a file found damage: where it is the one at hand it can only be read from now on."""
        from benchapp.actions import safety

        if self.bench is None or str(self.bench.path) != path or self.bench.damaged:
            return
        safety.stop_writing(self.bench, found)
        more = f" (and {len(found) - 1} more)" if len(found) > 1 else ""
        self.problem.emit(
            BenchProblem(
                f"{self.bench.path.name} is damaged: {found[0]}{more}",
                "From now on it can be looked at, but nothing is written to it.",
                "Restore the last backup, then look through what was entered since.",
            )
        )
        self.opened_read_only.emit()

    def close(self) -> None:
        """Waits for the background and closes the file."""
        self.stop_work()
        self._forget()
        self._pool.waitForDone()
        opened = [job.result for job in self._jobs if job.kind == "work" and hasattr(job.result, "close")]
        for bench in (self.bench, *opened):
            if bench is not None:
                bench.close()
        self.bench = None

    def _forget(self) -> None:
        self._judging, self._again = None, False
        for job in self._jobs:
            job.then = None
        if self._unsubscribe is not None:
            self._unsubscribe()
            self._unsubscribe = None
        self.calls = NOTHING
        self.selected_engine = self.selected_sample = ""

    @property
    def fleet(self) -> Fleet:
        """The fleet as it is now; empty while no file is open."""
        return self.bench.fleet() if self.bench is not None else EMPTY

    @property
    def library(self) -> Any:
        """The library: materials, families, elements, with their sources."""
        from benchapp.library import load_library

        return load_library()

    # --- changing and reading -----------------------------------------------------------------------------------------

    def run(self, verb: Callable[..., Any], *args: Any, **kwargs: Any) -> Any | None:
        """Calls a verb of `actions/` as verb(bench, …) and tells what it changed.

        Returns what the verb returned; None (and a message with its three sentences) where it met a problem."""
        try:
            return self.run_or_raise(verb, *args, **kwargs)
        except BenchProblem as problem:
            self.problem.emit(problem)
            return None

    def run_or_raise(self, verb: Callable[..., Any], *args: Any, **kwargs: Any) -> Any:
        """As `run`, for a dialog that shows the problem itself. Raises BenchProblem."""
        if self.bench is None:
            raise NO_FILE
        return verb(self.bench, *args, **kwargs)

    def look(self, query: Callable[..., Any], *args: Any, **kwargs: Any) -> Any | None:
        """Calls a read-only query as query(bench, …); None (and a message) where it met a problem or none is open."""
        if self.bench is None:
            return None
        try:
            return query(self.bench, *args, **kwargs)
        except BenchProblem as problem:
            self.problem.emit(problem)
            return None

    def undo(self) -> None:
        """Takes back the last action."""
        self._step("undo")

    def redo(self) -> None:
        """Does again what was taken back."""
        self._step("redo")

    def _step(self, which: str) -> None:
        if self.bench is None:
            return
        try:
            getattr(self.bench, which)()
        except BenchProblem as problem:
            self.problem.emit(problem)

    @property
    def undo_label(self) -> str:
        """What undo would take back, or ''."""
        return (self.bench.undo_label or "") if self.bench is not None else ""

    @property
    def redo_label(self) -> str:
        """What redo would do again, or ''."""
        return (self.bench.redo_label or "") if self.bench is not None else ""

    def _tell(self, changed: Any) -> None:
        """The bench told of a change: this is the one place from which views hear of it."""
        self.changed.emit(changed)
        self.judge()

    # --- the background -----------------------------------------------------------------------------------------------

    @property
    def busy(self) -> bool:
        return bool(self._jobs)

    def being_judged(self) -> frozenset[str]:
        """Engines whose calls are still to come; empty where judging failed."""
        if self.bench is None or self._judging_failed:
            return frozenset()
        return frozenset(self.bench.engines_to_judge() - self.bench.kept_calls().keys())

    def judge(self) -> None:
        """Starts judging what is not judged yet, family by family, that of the engine at hand first.

        `calls_arrived` follows each time. Asked again meanwhile, it goes on with what is new."""
        if self.bench is None or self.working is not None:
            return
        from benchapp.actions import call, looks

        if self._judging is not None:
            self._again = True
            return
        self._judging_failed = False
        engines = looks.next_to_judge(self.bench, self.selected_engine)
        if not engines:
            self._take_calls()
            return
        fleet = self.bench.fleet()
        self._judged_fleet, self._judged_engines = fleet, engines
        before = self.bench.judged_before(engines)
        self._judging = self._start("judge", call.judge, (fleet, engines, False, before), self._judged)

    def _judged(self, calls: tuple[Call, ...]) -> None:
        """One family is judged: its calls are shown, then the next one is begun."""
        self._judging = None
        taken = self.bench.take_calls(self._judged_fleet, calls, self._judged_engines)
        self._take_calls()
        if taken or self._again:
            self._again = False
            self.judge()

    def _take_calls(self) -> None:
        from benchapp.actions import looks

        self.calls = MappingProxyType(looks.latest_calls(self.bench))
        self.calls_arrived.emit()

    def calls_of(self, engine: str) -> tuple[Call, ...]:
        """The call of every sample of an engine, in order of build and hours; () while it is being judged."""
        if self.bench is None or engine in self.bench.engines_to_judge():
            return ()
        return self.bench.calls_of(engine)

    # --- long work that a person waits for ----------------------------------------------------------------------------

    def work(
        self,
        title: str,
        function: Callable[..., Any],
        args: tuple[Any, ...] = (),
        then: Callable[[Any], None] | None = None,
        failed: Callable[[BenchProblem | None], None] | None = None,
    ) -> None:
        """Runs function(*args, progress=…) in the pool thread while the person waits and may stop it.

        `then` gets its result; `failed` the BenchProblem that it met, or None where the person stopped it (without
        `failed` the problem goes to the message bar). Nothing is judged and no draft is written meanwhile. Where
        something else is under way that is said, and nothing is begun."""
        if self.working is not None:
            self.note.emit(f"{self.working.title}: this is still under way.", "", "Wait for it, or stop it.")
            return
        self._judging = None  # what is being judged is judged anew afterwards
        self.working = Work(title)
        self._work_then, self._work_failed = then, failed
        self._work_job = self._start("work", partial(function, progress=self.working.progress), args, None)
        self.work_began.emit(self.working)

    def work_on_bench(
        self,
        title: str,
        verb: Callable[..., Any],
        args: tuple[Any, ...] = (),
        then: Callable[[Any], None] | None = None,
        failed: Callable[[BenchProblem | None], None] | None = None,
    ) -> None:
        """As `work`, for a verb of `actions/`: verb(bench, *args, progress=…). The bench is handed over to the pool
        thread until it has ended; then what it changed is told."""
        if self.bench is None:
            self.problem.emit(NO_FILE)
            return
        with contextlib.suppress(BenchProblem):
            self.bench.fleet()  # nothing is left to be read here while the verb has the file
        self.work(title, on_bench, (self.bench, verb, args), then, failed)

    def _work_done(self, result: Any, error: Exception | None) -> None:
        then, failed = self._work_then, self._work_failed
        self._work_over()
        if self.bench is not None:
            self.bench.tell_now()
        if isinstance(error, Stopped):
            self.note.emit("Stopped, as you asked.", "Nothing was changed.", "")
            error = None
            if failed is not None and _lives(failed):
                failed(None)
        elif isinstance(error, BenchProblem):
            told = failed if failed is not None and _lives(failed) else self.problem.emit
            told(error)
            error = None
        elif error is None and then is not None and _lives(then):
            then(result)
        self.judge()
        if error is not None:
            raise error

    def _work_over(self) -> None:
        self.working = self._work_job = self._work_then = self._work_failed = None
        self.work_ended.emit()

    def stop_work(self) -> None:
        """Stops what the person waits for and waits until it has ended: before the window closes."""
        if self.working is not None:
            self.working.stop()
            self._pool.waitForDone()
            self._work_over()

    # --- jobs in the pool ---------------------------------------------------------------------------------------------

    def background(
        self, function: Callable[..., Any], args: tuple[Any, ...], then: Callable[[Any], None], kind: str = "other"
    ) -> None:
        """Runs a pure function on immutable values in a pool thread and hands its result to `then` in this thread.

        Never hand it the bench: its file belongs to this thread. `then` must be a method of a living object. A
        BenchProblem is shown in the message bar. A newer job of the same kind (but 'other') makes an older one void."""
        if kind != "other":
            for job in self._jobs:
                if job.kind == kind:
                    job.then = None
        self._start(kind, function, args, then)

    def _start(
        self, kind: str, function: Callable[..., Any], args: tuple[Any, ...], then: Callable[[Any], None] | None
    ) -> _Job:
        job = _Job(kind, function, args)
        job.then = then
        job.report.done.connect(self._job_done)
        self._jobs.add(job)
        for old in [one for one in _under_way if one.finished]:
            del _under_way[old]
        _under_way[job] = self
        if len(self._jobs) == 1:
            self.busy_changed.emit(True)
        self._pool.start(job, 0 if kind in IN_TURN else 1)  # what a person waits for goes before the next family
        return job

    @Slot(object, object, object)
    def _job_done(self, job: _Job, result: Any, error: Exception | None) -> None:
        self._jobs.discard(job)
        if not self._jobs:
            self.busy_changed.emit(False)
        if job.kind == "work":
            if job is self._work_job:
                self._work_done(result, error)
            return
        if isinstance(error, Stopped):
            return  # whoever asked for it waits for nothing
        if job.kind == "judge" and job is not self._judging:
            return  # another file was opened meanwhile
        if error is not None:
            if job is self._judging:
                self._judging, self._judging_failed = None, True
                self.calls_arrived.emit()  # the views must not wait for what will not come
            if not isinstance(error, BenchProblem):
                raise error
            self.problem.emit(error)
        elif job.then is not None and _lives(job.then):
            job.then(result)

    # --- between views ------------------------------------------------------------------------------------------------

    def select(self, engine: str, sample: str = "") -> None:
        """Makes this engine (and sample) the one at hand in every view."""
        if engine != self.selected_engine:
            self.selected_engine = engine
            self.engine_selected.emit(engine)
        if sample != self.selected_sample:
            self.selected_sample = sample
            self.sample_selected.emit(sample)

    def open_sample(self, code: str) -> None:
        """Sends the person to this sample in sample entry."""
        self.sample_asked.emit(code)

    def new_sample(self, engine: str = "") -> None:
        """Sends the person to a new sample of this engine in sample entry."""
        self.entry_asked.emit(engine)

    def show_trend(self, engine: str, element: str = "") -> None:
        """Sends the person to this engine's trend."""
        self.trend_asked.emit(engine, element)
        self.select(engine)  # then only: a view that is left need not show the engine before it goes

    def show_engine(self, engine: str) -> None:
        """Sends the person to this engine in the fleet."""
        self.select(engine)
        self.engine_asked.emit(engine)

    def show_part(self, engine: str, part: str) -> None:
        """Sends the person to this part of the engine in the fleet."""
        self.select(engine)
        self.part_asked.emit(engine, part)


def _lives(method: Callable[..., Any]) -> bool:
    """False for a method of a widget that is gone meanwhile."""
    owner = getattr(method, "__self__", None)
    return not isinstance(owner, QObject) or shiboken6.isValid(owner)
