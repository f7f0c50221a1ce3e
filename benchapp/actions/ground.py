"""What a call rests on: when is an issued one no longer what would be handed over?

Two looks together. A hash over the call's own ground (its build up to the sample, family, materials, oils, instrument)
sees every change there, also what was added into its past. For what the call learned from elsewhere (the history of
engines built alike, the instrument's own records) the audit chain is asked: what was there when the call was issued and
was edited since? What merely came later (the next car's sample, tomorrow's check run) was not under it.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from benchapp.benchfile.ground import Edited
from benchapp.benchfile.kinds import OF_AN_OIL
from benchapp.records import Build, Engine, Fleet, Sample

Place = tuple[Engine, Build, Sample]

_MARK = "2:"
"""Stands before a hash of `inputs_hash`; an older one is not worked out: its ground is judged by the audit alone."""

_OF_THE_FAMILY = ("engine", "build", "fill", "top_up", "run", "sample", "change", "finding")
"""Kinds from which a family's history is learned."""
_SHARED = ("family", "material", "oil", *OF_AN_OIL)
_OF_THE_INSTRUMENT = {"instrument": "name", "instrument_card": "instrument", "check_run": "instrument"}
"""Kinds that tell of an instrument, and the column that names it."""
_SAYS_NOTHING = frozenset({"notes", "car", "place", "distance_km", "laps", "starts", "fittings"})
"""Columns, and fields of records, that no call is computed from."""


@dataclass(frozen=True, slots=True)
class Issue:
    """An issued call as far as its ground goes: its id, sample, engine, the hash it was stored with, its mark or ''."""

    id: str
    sample: str
    engine: str
    ground: str
    mark: str


def places(fleet: Fleet) -> dict[str, Place]:
    """Sample code -> where it is."""
    return {
        sample.code: (engine, build, sample)
        for engine in fleet.engines
        for build in engine.builds
        for sample in build.samples
    }


def stands(fleet: Fleet, place: Place | None, issue: Issue, edited: Iterable[Edited]) -> bool:
    """False when something under the issued call has changed. `edited`: what was, since it was issued."""
    if place is None:
        return False
    hashed = issue.ground.startswith(_MARK)
    if hashed and inputs_hash(fleet, *place) != issue.ground:
        return False
    return not any(_was_under(fleet, place, each, hashed) for each in edited)


def _was_under(fleet: Fleet, place: Place, edited: Edited, hashed: bool) -> bool:
    """True for an edit of something that the call rests on and that its hash (where it has one) does not cover."""
    engine, build, sample = place
    if not edited.differs_in() - _SAYS_NOTHING:
        return False
    if edited.kind in _OF_THE_INSTRUMENT:
        return edited.then.get(_OF_THE_INSTRUMENT[edited.kind]) == sample.instrument
    if edited.kind == "measurement":
        return edited.then.get("sample") == sample.code
    if edited.kind in _SHARED:
        named = {engine.family, *(part.material for part in build.parts), *(fill.oil for fill in build.fills)}
        return not hashed and edited.then.get("oil" if edited.kind in OF_AN_OIL else "name") in named
    own = (engine.name, build.number)
    if edited.kind not in _OF_THE_FAMILY:
        return not hashed and own in edited.builds
    if edited.kind == "engine" and engine.family in (edited.then.get("family"), edited.now.get("family")):
        return "family" in edited.differs_in() or "void" in edited.differs_in()
    if hashed and edited.builds == {own}:  # hashed, or later than the sample and not under its call
        return False
    alike = {each.name for each in fleet.engines if each.family == engine.family}
    return any(name in alike for name, _ in edited.builds)


# --- the hash over a call's own ground


def inputs_hash(fleet: Fleet, engine: Engine, build: Build, sample: Sample) -> str:
    """A mark and the SHA-256 [hex] over a call's own ground: the build up to the sample, its family, materials, oils
    and kind of instrument. Fields at their defaults are left out, so that a field which a later version
    of this program adds to a record does not change the hash of what was there before."""
    seen = _up_to(build, sample.build_h)
    samples, rest = seen.samples, replace(seen, samples=())
    ground = "\n".join((
        engine.name,
        engine.family,
        said(rest),
        *map(_said_sample, samples),
        said(fleet.families.get(engine.family)),
        *(said(fleet.materials.get(part.material)) for part in build.parts),
        *(said(fleet.oils.get(fill.oil)) for fill in seen.fills),
        getattr(fleet.instruments.get(sample.instrument), "kind", ""),
    ))  # fmt: skip
    return _MARK + hashlib.sha256(ground.encode("utf-8", "backslashreplace")).hexdigest()


def _up_to(build: Build, upto: float) -> Build:
    """The build with what had happened by `upto` [build h]."""

    def before(records: Iterable[Any]) -> tuple[Any, ...]:
        return tuple(record for record in records if getattr(record, "build_h", upto) <= upto)  # some have no hour

    hours, runs = 0.0, []
    for run in build.runs:
        if hours >= upto:
            break
        runs.append(run)
        hours += run.hours
    dated = {
        field.name: before(getattr(build, field.name))
        for field in dataclasses.fields(build)
        if field.name not in ("parts", "runs") and isinstance(getattr(build, field.name), tuple)
    }
    return replace(build, runs=tuple(runs), **dated)


@lru_cache(maxsize=4096)
def _said_sample(sample: Sample) -> str:
    return said(sample)


def said(value: Any) -> str:
    """A record as text, one way only: fields by name, without those at their defaults and those that say nothing."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        told = (
            f"{field.name}={said(getattr(value, field.name))}"
            for field in dataclasses.fields(value)
            if field.name not in _SAYS_NOTHING and getattr(value, field.name) != _default(field)
        )
        return f"{type(value).__name__}({','.join(told)})"
    if isinstance(value, Mapping):
        return "{" + ",".join(f"{said(key)}:{said(held)}" for key, held in sorted(value.items())) + "}"
    if isinstance(value, (tuple, list)):
        return "[" + ",".join(map(said, value)) + "]"
    return value.isoformat() if isinstance(value, dt.datetime) else repr(value)


_NO_DEFAULT = object()


def _default(field: dataclasses.Field[Any]) -> Any:
    if field.default is not dataclasses.MISSING:
        return field.default
    return field.default_factory() if field.default_factory is not dataclasses.MISSING else _NO_DEFAULT
