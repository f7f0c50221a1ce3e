"""An open bench: the bench file, the library, the fleet read from it and the calls computed on that fleet.

Fleet and calls are cached; after a change only the engines that it touched are read again, and only those judged again
whose key says that something they rest on is new. The latest calls stay in the file under their keys, so that opening
it shows them at once. Everything that `fleet()` returns is immutable, so a worker thread may judge it
(`actions.call.judge`) without touching the file.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from benchapp.actions.changed import Changed
from benchapp.benchfile.kinds import OF_AN_OIL
from benchapp.problems import BenchProblem
from benchapp.progress import NOBODY, Progress
from benchapp.records import Build, Call, Engine, Family, Fleet, Material, Sample

if TYPE_CHECKING:
    from benchapp.benchfile.file import BenchFile
    from benchapp.benchfile.write import Write
    from benchapp.library import Library

_SHARED = frozenset({"family", "material", "oil", *OF_AN_OIL})
"""What several engines rest on: a change of these is read anew for all engines."""

OF_THE_INSTRUMENTS = frozenset({"instrument", "check_run", "instrument_card", "measurement"})
"""Changes of these touch every call (noise, gain, holds) but no engine's own records: no engine is read anew."""

_NOT_OF_THE_FLEET = frozenset({"issued_call", "paste_mapping", "photo", "draft"})
"""Changes of these alone leave the fleet, and with it every call, as it is."""

_NOT_JUDGED = frozenset({*_NOT_OF_THE_FLEET, "standard"})
"""Changes of these alone leave every call as it is."""


class Bench:
    """An open bench file. Make one with `Bench.create` or `Bench.open`; `close()` it, or use it in a `with`."""

    def __init__(self, file: BenchFile) -> None:
        from benchapp.library import load_library

        self.file = file
        self.library: Library = load_library()
        self._fleet: Fleet | None = None
        self._stale: set[str] = set()
        self._dirty = False
        self._calls: dict[str, tuple[str, tuple[Call, ...]]] = {}
        """Engine -> (key of what they rest on, calls of all its samples)."""
        self._kept: dict[str, tuple[str, str]] | None = None
        """Engine -> (key, latest call as text) as the file keeps them; None while they were not asked for."""
        self._read: dict[str, Call | None] = {}
        """Of `_kept`, what was read so far."""
        self._listeners: list[Callable[[Changed], None]] = []
        self._later = False
        self._untold: list[Changed] = []

    # --- opening and closing

    @classmethod
    def create(cls, path: str | Path, who: str = "") -> Bench:
        """A new, empty bench file at `path`. Raises BenchProblem if something is there already."""
        from benchapp.benchfile.file import BenchFile

        return cls(BenchFile.create(Path(path), who))

    @classmethod
    def open(
        cls,
        path: str | Path,
        read_only: bool = False,
        who: str = "",
        take_over: bool = False,
        progress: Progress = NOBODY,
    ) -> Bench:
        """Opens a bench file, checks it and takes its lock.

        Never fails for what can still be read: where the file is in use, damaged or on a read-only medium the bench is
        `read_only` and `why_read_only` says so in plain sentences. `take_over` disregards a lock left by another
        computer. Raises BenchProblem for a file that is no bench file, newer than this program, or unreadable."""
        from benchapp.benchfile.file import BenchFile

        return cls(BenchFile.open(Path(path), read_only, who, take_over, progress))

    @property
    def path(self) -> Path:
        return self.file.path

    @property
    def who(self) -> str:
        """Who is written into the audit: the name given, else the system's user name. May be set."""
        return self.file.who

    @who.setter
    def who(self, name: str) -> None:
        if name.strip():
            self.file.who = name.strip()

    @property
    def read_only(self) -> bool:
        return self.file.read_only

    @property
    def why_read_only(self) -> str:
        """Plain sentences, empty when the bench can be written."""
        return self.file.why_read_only

    @property
    def notices(self) -> tuple[str, ...]:
        """What a person should know after opening (unclean stop, low disk, network folder), in plain sentences."""
        return self.file.notices

    @property
    def damaged(self) -> bool:
        """True when the check at start, or one since, found damage: lead through `safety.restore`."""
        return bool(self.file.damage)

    def close(self) -> None:
        """Keeps the latest calls, backs up if something changed, gives the lock back. Safe to call twice."""
        with contextlib.suppress(BenchProblem):
            self._keep_calls()
        self.file.close()

    def __enter__(self) -> Bench:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # --- reading

    def fleet(self) -> Fleet:
        """Everything in the file as one immutable value (cached; re-read by engine after a change)."""
        if self._fleet is not None and not self._dirty:
            return self._fleet
        from benchapp.actions.holds import with_holds
        from benchapp.actions.noise import with_noise

        again = None if self._fleet is None else frozenset(self._stale)
        read = self.file.read_fleet(self.library.families, self.library.materials, self._fleet, again)
        self._fleet = with_holds(with_noise(read, self.library), before=self._fleet)
        self._stale.clear()
        self._dirty = False
        return self._fleet

    def families(self) -> Mapping[str, Family]:
        """The library's families and the file's own (the file's win), by name."""
        return self.fleet().families

    def materials(self) -> Mapping[str, Material]:
        """The library's materials and the file's own (the file's win), by id."""
        return self.fleet().materials

    def engine(self, name: str) -> Engine:
        """Raises BenchProblem if there is none of that name."""
        for engine in self.fleet().engines:
            if engine.name == name:
                return engine
        raise BenchProblem(
            f"There is no engine {name!r} in this bench file.", "Nothing was changed.", "Check its name, or add it."
        )

    def build(self, engine: str, number: str) -> Build:
        """Raises BenchProblem if there is none."""
        for build in self.engine(engine).builds:
            if build.number == number:
                return build
        raise BenchProblem(
            f"Engine {engine} has no build {number!r}.", "Nothing was changed.", "Check the number, or add the build."
        )

    def current_build(self, engine: str) -> Build | None:
        """The last build of the engine, or None if it has none yet."""
        builds = self.engine(engine).builds
        return builds[-1] if builds else None

    def find_sample(self, code: str) -> tuple[Engine, Build, Sample]:
        """Where a sample is. Raises BenchProblem if no engine has it (it may be waiting: `sample.waiting`)."""
        found = self.fleet().find_sample(code)
        if found is not None:
            return found
        waits = any(sample.code == code for sample, _ in self.file.waiting())
        raise BenchProblem(
            f"Sample {code} is waiting for an engine." if waits else f"There is no sample {code} in this bench file.",
            "It cannot be judged yet." if waits else "Nothing was changed.",
            "Give it its engine, fill and hours." if waits else "Check its code.",
        )

    # --- calls

    def calls(self) -> tuple[Call, ...]:
        """The latest call of each engine's current build, in order of engine name. Engines without a sample have none.

        Computed lazily, engine by engine; () as long as nothing can be judged."""
        self._judge(self.engines_to_judge() - self.kept_calls().keys())
        found = {**self.kept_calls(), **self._latest()}
        latest = (found.get(engine.name) for engine in self.fleet().engines)
        return tuple(call for call in latest if call is not None)

    def _latest(self) -> dict[str, Call | None]:
        """Engine -> the latest call of its current build, None where there is none, for the engines judged in full."""
        keys, out = self._keys(), dict[str, Call | None]()
        for engine in self.fleet().engines:
            key, calls = self._calls.get(engine.name, ("", ()))
            if key == keys[engine.name]:
                current = engine.builds[-1].number if engine.builds else None
                out[engine.name] = next((call for call in reversed(calls) if call.build == current), None)
        return out

    def kept_calls(self) -> dict[str, Call | None]:
        """As the file keeps them from when it was last closed, for the engines where all still stands that they rest
        on: engine -> the latest call of its current build, None where there is none. Judges nothing."""
        from benchapp.actions import call_text

        if self._kept is None:
            self._kept, self._read = {}, {}
            with contextlib.suppress(BenchProblem):
                self._kept = self.file.kept_calls()
        keys, out = self._keys(), dict[str, Call | None]()
        for name, (key, text) in self._kept.items():
            if keys.get(name) == key:
                if name not in self._read:
                    self._read[name] = call_text.read(text) if text else None
                out[name] = self._read[name]
        return out

    def _keep_calls(self) -> None:
        """Writes the latest calls into the file, those that it does not have yet."""
        from benchapp.actions import call_text

        if self.read_only or self._dirty or self._fleet is None or not self._calls:
            return
        keys, kept = self._keys(), self.file.kept_calls()
        latest = self._latest()
        now = {name: held for name, held in kept.items() if keys.get(name) == held[0]}
        new = {name: call for name, call in latest.items() if name not in now}
        now |= {name: (keys[name], call_text.keep(call) if call else "") for name, call in new.items()}
        if now != kept:
            self.file.keep_calls(now)

    def calls_of(self, engine: str) -> tuple[Call, ...]:
        """Every sample of the engine judged with all that is known, in order of build and build hours."""
        self.engine(engine)
        if self._calls.get(engine, ("", ()))[0] != self._keys()[engine]:
            self._judge({engine})
        return self._calls.get(engine, ("", ()))[1]

    def call_of(self, code: str) -> Call | None:
        """The call of one sample, or None if it cannot be judged."""
        engine, _, _ = self.find_sample(code)
        return next((call for call in self.calls_of(engine.name) if call.sample == code), None)

    def engines_to_judge(self) -> frozenset[str]:
        """Names of the engines whose calls are not computed yet (for a worker: judge them on `fleet()`)."""
        held = self._calls
        return frozenset(name for name, key in self._keys().items() if name not in held or held[name][0] != key)

    def _keys(self) -> Mapping[str, str]:
        from benchapp.actions import call

        return call.keys(self.fleet())

    def _judge(self, engines: Iterable[str]) -> None:
        from benchapp.actions import call

        wanted = frozenset(engines)
        if wanted:
            fleet = self.fleet()
            self.take_calls(fleet, call.judge(fleet, wanted, known=self.judged_before(wanted)), wanted)

    def judged_before(self, engines: Iterable[str]) -> dict[str, tuple[str, tuple[Call, ...]]]:
        """What was judged of these engines, now stale or not, for `call.judge` to go on from."""
        return {name: self._calls[name] for name in engines if name in self._calls}

    def take_calls(self, fleet: Fleet, calls: Iterable[Call], engines: Iterable[str]) -> bool:
        """Keeps calls that a worker computed on `fleet` for `engines`. Engines that changed since are left out.

        True when at least one engine's calls were taken."""
        from benchapp.actions import call

        then, now = call.keys(fleet), self._keys()
        found: dict[str, list[Call]] = {name: [] for name in engines if name in then and then[name] == now.get(name)}
        for each in calls:
            if each.engine in found:
                found[each.engine].append(each)
        self._calls.update({name: (then[name], tuple(listed)) for name, listed in found.items()})
        return bool(found)

    # --- undo

    @property
    def undo_label(self) -> str:
        """What `undo()` would take back, or ''."""
        return self.file.undo_label

    @property
    def redo_label(self) -> str:
        """What `redo()` would do again, or ''."""
        return self.file.redo_label

    def undo(self) -> Changed:
        """Takes the last step back: an audited transaction of its own. Raises BenchProblem if there is nothing."""
        with self.file.undoing() as (write, entry):
            pass
        return self._tell(Changed(frozenset(write.nouns), frozenset(write.engines), f"Undo: {entry.label}"))

    def redo(self) -> Changed:
        """Does again what was last undone. Raises BenchProblem if there is nothing."""
        with self.file.redoing() as (write, entry):
            pass
        return self._tell(Changed(frozenset(write.nouns), frozenset(write.engines), f"Redo: {entry.label}"))

    # --- for views and verbs

    def subscribe(self, listener: Callable[[Changed], None]) -> Callable[[], None]:
        """`listener` is told of every change. Returns a function that ends it."""
        self._listeners.append(listener)

        def end() -> None:
            with contextlib.suppress(ValueError):
                self._listeners.remove(listener)

        return end

    def do(
        self, label: str, body: Callable[[Write], None], engines: Iterable[str] = (), kind: str = "do"
    ) -> Changed:
        """One verb: `body` writes within one audited transaction; what it changed is told to all views.

        `body` may add to the write's `engines` and `nouns`. When it raises, nothing is written."""
        with self.file.write(label, kind=kind, engines=engines) as write:
            body(write)
        if not write.steps:
            return Changed(frozenset(), frozenset(), label)
        return self._tell(Changed(frozenset(write.nouns), frozenset(write.engines), label))

    def told(self, changed: Changed) -> Changed:
        """For a change that did not go through `do` (a merge): views and caches follow it."""
        return self._tell(changed)

    @contextlib.contextmanager
    def telling_later(self) -> Iterator[None]:
        """For a verb in a worker: what it changes is told by `tell_now`, in the thread whose views listen.

        Until then `fleet()` and the calls are those from before."""
        self._later = True
        try:
            yield
        finally:
            self._later = False

    def tell_now(self) -> None:
        """Tells what was changed while telling waited."""
        untold, self._untold = self._untold, []
        for changed in untold:
            self._tell(changed)

    def _tell(self, changed: Changed) -> Changed:
        if self._later:
            self._untold.append(changed)
            return changed
        self.refresh(changed)
        for listener in tuple(self._listeners):
            listener(changed)
        return changed

    def refresh(self, changed: Changed) -> None:
        """Forgets what the change made stale; issued calls that rest on it are marked superseded."""
        if changed.nouns <= _NOT_OF_THE_FLEET:
            return
        self._dirty = True  # which calls still stand follows from their keys
        if changed.nouns <= _NOT_JUDGED:
            return
        kin: set[str] = set()
        if changed.touches(*_SHARED):
            self._fleet = None
        elif not changed.nouns <= OF_THE_INSTRUMENTS:
            self._stale |= changed.engines
            kin = self._kin(changed.engines)
        from benchapp.actions import call

        call.mark_superseded(self, changed, kin)

    def _kin(self, engines: Iterable[str]) -> set[str]:
        """The engines and those built alike, before and after the change: their calls rest on one another's history."""
        names = set(engines)
        before = () if self._fleet is None else self._fleet.engines
        families = {engine.family for engine in (*before, *self.fleet().engines) if engine.name in names}
        return names | {engine.name for engine in self.fleet().engines if engine.family in families}

    # --- ids, for verbs

    def engine_id(self, name: str) -> str:
        """Id of the engine shown under that name."""
        self.engine(name)
        return self.file.engine_ids()[name]

    def build_id(self, engine: str, number: str) -> str:
        """Id of an engine's build."""
        self.build(engine, number)
        return self.file.find("build", engine_id=self.engine_id(engine), number=number)[0][0]
