"""What calls rest on, as keys: two states of a bench that share an engine's key give that engine the same calls.

A key covers all that the judge reads: the rules, the engine's own records, its family, the materials of its parts, all
oils (a strange sample is held against each), the instruments that measured it with their check runs, and the samples
that its family is known from (`known`). What it covers beyond that costs a judging for nothing, never a stale call.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import marshal
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import lru_cache, partial
from operator import attrgetter
from typing import Any

from benchapp.records import Engine, Fleet
from benchapp.wear.known import known_counts, known_engine, only_what_teaches, times_of

_PLAIN = frozenset({str, float, int, bool, type(None), bytes})
_PLAIN_FIELDS = frozenset({"str", "float", "int", "bool", "str | None", "float | None", "int | None", "bool | None"})


@dataclass(frozen=True, slots=True)
class Ground:
    """Keys of one state of a bench. `knowledge`: of what all families say; `engines`: engine -> key of its calls."""

    knowledge: str
    engines: Mapping[str, str]
    known: Fleet
    """The part of the fleet that the knowledge is drawn from."""


class Grounds:
    """Makes the keys of one state after another; what did not change in between is not read again.

    Records are immutable and keep being the same object while they do not change: what was worked out is kept by
    object. So one more sample costs the digests of one engine, and a look at each of the others."""

    def __init__(self, rules_key: str) -> None:
        """`rules_key` stands for everything beside the bench file: rules, resources, and the code that judges."""
        self._rules_key = rules_key
        self._kept: dict[tuple[str, int], tuple[Any, Any, Any]] = {}
        """(what, id of a record) -> the record, what else it rests on, and what was worked out of both."""
        self._kept_after_forgetting = 0

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
        """Of one immutable record."""
        found: bytes = self._once("digest", record, None, lambda: _digest(record))
        return found

    def _once(self, what: str, record: Any, rests_on: Any, work_out: Callable[[], Any]) -> Any:
        held = self._kept.get((what, id(record)))
        if held is None or held[0] is not record or held[1] != rests_on:
            held = (record, rests_on, work_out())
            self._kept[what, id(record)] = held
        return held[2]

    def _engine(self, engine: Engine, shared: _Shared) -> str:
        found: str = self._once("engine", engine, shared.version, lambda: self._engine_anew(engine, shared))
        return found

    def _engine_anew(self, engine: Engine, shared: _Shared) -> str:
        told: list[Any] = [engine.name, engine.family, shared.oils, shared.family(engine.family)]
        for build in engine.builds:
            told.append(_digest(replace(build, samples=())))
            told += [self.digest(sample) for sample in build.samples]
            told += [shared.material(part.material) for part in build.parts]
            told += [shared.instrument(name) for name in sorted({sample.instrument for sample in build.samples})]
        return _hashed(told)

    def _known(self, fleet: Fleet) -> Fleet:
        """As `known_part`; an engine of which the same is known stays the same object."""
        builds = [build for engine in fleet.engines for build in engine.builds]
        counts = iter(known_counts(builds, lambda build: self._once("times", build, None, lambda: times_of(build))))
        engines = []
        for engine in fleet.engines:
            mine = [next(counts) for _ in engine.builds]
            engines.append(self._once("known", engine, mine, partial(known_engine, engine, mine)))
        return only_what_teaches(fleet, [engine for engine in engines if engine.builds])

    def _forget(self, fleet: Fleet, known: Fleet) -> None:
        """Drops what belongs to records that are gone, once that may be half of all."""
        if len(self._kept) <= 2 * self._kept_after_forgetting:
            return
        engines = (*fleet.engines, *known.engines)
        builds = [build for engine in engines for build in engine.builds]
        samples = [sample for build in builds for sample in build.samples]
        there = {id(one) for one in (*engines, *builds, *samples)}
        there |= {id(one) for one in (*fleet.materials.values(), *fleet.families.values())}
        self._kept = {at: held for at, held in self._kept.items() if at[1] in there}
        self._kept_after_forgetting = len(self._kept)


class _Shared:
    """Digests of what several engines of one state rest on."""

    def __init__(self, fleet: Fleet, grounds: Grounds) -> None:
        runs: dict[str, list[Any]] = {}
        for run in fleet.check_runs:
            runs.setdefault(run.instrument, []).append(run)
        self._instruments = {}
        for name in {*fleet.instruments, *runs}:
            known = fleet.instruments.get(name)
            noise = (known.kind, known.noise, known.noise_then) if known else ()
            self._instruments[name] = _digest([name, noise, runs.get(name, [])])
        self._families = {name: grounds.digest(one) for name, one in fleet.families.items()}
        self._materials = {name: grounds.digest(one) for name, one in fleet.materials.items()}
        self.oils = _digest(list(fleet.oils.items()))
        told: list[Any] = [self.oils]
        for group in (self._instruments, self._families, self._materials):
            told += [part for pair in sorted(group.items()) for part in pair]
        self.version = _hashed(told)
        """Of all of it: what was worked out of an engine in a state of the same version still holds."""

    def family(self, name: str) -> bytes:
        return self._families.get(name, b"")

    def material(self, name: str) -> bytes:
        return self._materials.get(name, b"")

    def instrument(self, name: str) -> bytes:
        return self._instruments.get(name, b"")


def _hashed(parts: Iterable[str | bytes]) -> str:
    return hashlib.blake2b(marshal.dumps(list(parts), 2), digest_size=20).hexdigest()


def _digest(record: Any) -> bytes:
    # version 2 writes no references: equal values give equal bytes, whichever objects they are
    return hashlib.blake2b(marshal.dumps(_plain(record), 2), digest_size=20).digest()


def _plain(value: Any) -> Any:
    """Records as plain tuples, in the order of their fields; mappings in the order of their keys."""
    kind: Any = type(value)
    if kind in _PLAIN:
        return value
    if kind in (tuple, list):
        kinds: set[Any] = set(map(type, value))
        if len(kinds) == 1 and (flat := _flat(kinds.pop())):
            return tuple(map(flat, value))
        return tuple(map(_plain, value))
    if isinstance(value, dt.datetime):
        return ("moment", value.isoformat())
    if isinstance(value, Mapping):
        return ("mapping", *((key, _plain(value[key])) for key in sorted(value)))
    if isinstance(value, float):  # an array library's own kind of it
        return float(value)
    if is_dataclass(value) and not isinstance(value, type):
        return tuple(map(_plain, _fields_of(kind)(value)))
    raise TypeError(f"no key can be made of a {kind.__name__}")


@lru_cache(maxsize=64)
def _fields_of(record: Any) -> attrgetter[tuple[Any, ...]]:
    """All fields of a record type at once (each has two or more)."""
    return attrgetter(*(field.name for field in fields(record)))


@lru_cache(maxsize=64)
def _flat(record: Any) -> attrgetter[tuple[Any, ...]] | None:
    """All fields at once of a record type that holds plain values alone, as readings do; None for another type."""
    plain = is_dataclass(record) and all(field.type in _PLAIN_FIELDS for field in fields(record))
    return _fields_of(record) if plain else None
