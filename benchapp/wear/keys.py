"""What calls rest on, as keys: two states of a bench that share an engine's key give that engine the same calls.

A key covers all that the judge reads: the rules, the engine's own records, its family, the materials of its parts, all
oils (a strange sample is held against each), the instruments that measured it with their check runs, and the samples
that its family is known from (`known`). What it covers beyond that costs a judging for nothing, never a stale call.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import marshal
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from functools import lru_cache
from operator import attrgetter
from typing import Any

from benchapp.records import Build, Engine, Fleet
from benchapp.wear.known import cut, known_counts, only_what_teaches

_PLAIN = frozenset({str, float, int, bool, type(None), bytes})


@dataclass(frozen=True, slots=True)
class Ground:
    """Keys of one state of a bench. `knowledge`: of what all families say; `engines`: engine -> key of its calls."""

    knowledge: str
    engines: Mapping[str, str]
    known: Fleet
    """The part of the fleet that the knowledge is drawn from."""


class Grounds:
    """Makes the keys of one state after another; what did not change in between is not read again.

    Records are immutable and keep being the same object while they do not change: their digests are kept by object."""

    def __init__(self, rules_key: str) -> None:
        """`rules_key` stands for everything beside the bench file: rules, resources, and the code that judges."""
        self._rules_key = rules_key
        self._digests: dict[int, tuple[Any, bytes]] = {}
        self._cuts: dict[int, tuple[Build, int, Build]] = {}

    def of(self, fleet: Fleet) -> Ground:
        """The keys of a fleet."""
        shared = _Shared(fleet, self)
        known = self._known(fleet)
        knowledge = _hashed([self._rules_key, *(self._engine(engine, shared) for engine in known.engines)])
        engines = {
            engine.name: _hashed([self._rules_key, knowledge, self._engine(engine, shared)])
            for engine in fleet.engines
        }
        self._forget(fleet, known)
        return Ground(knowledge, engines, known)

    def digest(self, record: Any) -> bytes:
        """Of one immutable record, worked out once for the object."""
        held = self._digests.get(id(record))
        if held is None or held[0] is not record:
            held = (record, _digest(record))
            self._digests[id(record)] = held
        return held[1]

    def _engine(self, engine: Engine, shared: _Shared) -> str:
        told: list[Any] = [engine.name, engine.family, shared.oils, shared.family(engine.family)]
        for build in engine.builds:
            told.append(self.digest(build))
            told += [shared.material(part.material) for part in build.parts]
            told += [shared.instrument(name) for name in sorted({sample.instrument for sample in build.samples})]
        return _hashed(told)

    def _known(self, fleet: Fleet) -> Fleet:
        counts = known_counts(fleet)
        engines = []
        for e, engine in enumerate(fleet.engines):
            builds = [self._cut(build, counts[e, b]) for b, build in enumerate(engine.builds) if (e, b) in counts]
            if builds:
                engines.append(Engine(engine.name, engine.family, builds=tuple(builds)))
        return only_what_teaches(fleet, engines)

    def _cut(self, build: Build, count: int) -> Build:
        """As `cut`; the same object where the same is left of a build that has changed since."""
        held = self._cuts.get(id(build))
        if held is None or held[0] is not build or held[1] != count:
            held = (build, count, cut(build, count))
            self._cuts[id(build)] = held
        return held[2]

    def _forget(self, fleet: Fleet, known: Fleet) -> None:
        """Drops what belongs to records that are gone."""
        builds = [build for engine in fleet.engines for build in engine.builds]
        there = {id(one) for one in (*builds, *(b for engine in known.engines for b in engine.builds))}
        there |= {id(one) for one in (*fleet.materials.values(), *fleet.families.values())}
        self._digests = {at: held for at, held in self._digests.items() if at in there}
        ids = set(map(id, builds))
        self._cuts = {at: held for at, held in self._cuts.items() if at in ids}


class _Shared:
    """Digests of what several engines of one state rest on, each when it is first asked for."""

    def __init__(self, fleet: Fleet, grounds: Grounds) -> None:
        self._fleet, self._grounds = fleet, grounds
        self._instruments: dict[str, bytes] = {}
        self._runs: dict[str, list[Any]] = {}
        for run in fleet.check_runs:
            self._runs.setdefault(run.instrument, []).append(run)
        self.oils = _digest(list(fleet.oils.items()))

    def family(self, name: str) -> bytes:
        known = self._fleet.families.get(name)
        return b"" if known is None else self._grounds.digest(known)

    def material(self, name: str) -> bytes:
        known = self._fleet.materials.get(name)
        return b"" if known is None else self._grounds.digest(known)

    def instrument(self, name: str) -> bytes:
        if name not in self._instruments:
            known = self._fleet.instruments.get(name)
            told = (known.kind, known.noise, known.noise_then) if known else ()
            self._instruments[name] = _digest([name, told, self._runs.get(name, [])])
        return self._instruments[name]


def _hashed(parts: Iterable[str | bytes]) -> str:
    return hashlib.blake2b(marshal.dumps(list(parts), 2), digest_size=20).hexdigest()


def _digest(record: Any) -> bytes:
    # version 2 writes no references: equal values give equal bytes, whichever objects they are
    return hashlib.blake2b(marshal.dumps(_plain(record), 2), digest_size=20).digest()


def _plain(value: Any) -> Any:
    """Records as plain tuples, in the order of their fields; mappings in the order of their keys."""
    if type(value) in _PLAIN:
        return value
    if isinstance(value, (tuple, list)):
        return tuple(map(_plain, value))
    if isinstance(value, dt.datetime):
        return ("moment", value.isoformat())
    if isinstance(value, Mapping):
        return ("mapping", *((key, _plain(value[key])) for key in sorted(value)))
    if isinstance(value, float):  # an array library's own kind of it
        return float(value)
    if is_dataclass(value) and not isinstance(value, type):
        return tuple(map(_plain, _fields_of(type(value))(value)))
    raise TypeError(f"no key can be made of a {type(value).__name__}")


@lru_cache(maxsize=64)
def _fields_of(record: type) -> attrgetter[tuple[Any, ...]]:
    """All fields of a record type at once (each has two or more)."""
    return attrgetter(*(field.name for field in fields(record)))
