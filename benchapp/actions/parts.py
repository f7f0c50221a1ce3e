"""What parts have run, in hours, kilometres, laps and starts: worked out from fittings and runs, never from a total.

A piece that went from one build into another keeps what it ran in the first: its fittings are followed through the
whole fleet. Pure; everything follows from the records."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from benchapp.records import Build, Engine, Fitting, Fleet, Run

UNITS = ("h", "km", "laps", "starts")
NEAR = 0.9
"""Share of a life from which on it is told: about one event before the end for a part that lasts a season. Chosen."""


@dataclass(frozen=True, slots=True)
class PartUse:
    """One part that is in an engine now. `used`: unit -> what it has run, everywhere, since it was new as far as known.

    `unknown_h`: unit -> hours [h] of runs that do not say how many of that unit they were: `used` is then at least so
    much. `life` in `life_unit`, None where no limit was entered."""

    engine: str
    build: str
    part: str
    piece: str
    fitting: Fitting
    used: Mapping[str, float]
    unknown_h: Mapping[str, float]
    life: float | None
    life_unit: str

    @property
    def share(self) -> float | None:
        """What has been run as a share of the life, or None without a limit."""
        return self.used[self.life_unit] / self.life if self.life else None

    @property
    def near(self) -> bool:
        """The end of its life is near, or past."""
        return self.share is not None and self.share >= NEAR

    def words(self) -> str:
        """What it has run, in words: against its life where it has one."""
        unit = self.life_unit if self.life else "h"
        said = f"{_amount(self.used[unit])} {unit}"
        if self.life:
            said += f" of {_amount(self.life)} {unit}"
        if self.unknown_h[unit]:
            said = f"at least {said} ({self.unknown_h[unit]:.1f} h of runs not noted)"
        return said

    def all_words(self) -> str:
        """What it has run in every unit that is known, for a hover."""
        known = [f"{_amount(self.used[unit])} {unit}" for unit in UNITS if self.used[unit]]
        name = f"{self.part}, {self.piece}" if self.piece else self.part
        since = f"Fitted at {self.fitting.build_h:g} h of build {self.build}."
        return f"{name}: {', '.join(known) or 'not run yet'}. {since}"


def _amount(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


@dataclass(frozen=True, slots=True)
class _Stay:
    """One stay of a piece in one build, from its fitting to its end [h]."""

    engine: str
    build: Build
    fitting: Fitting
    until_h: float
    here: bool
    """It is still in, and the build is the engine's last."""


def uses(fleet: Fleet) -> tuple[PartUse, ...]:
    """Every part that is in an engine now and was entered as fitted, in order of engine and part."""
    stays: dict[tuple[str, ...], list[_Stay]] = defaultdict(list)
    for engine in fleet.engines:
        for build in engine.builds:
            for stay in _stays(engine, build):
                stays[_identity(stay)].append(stay)
    found = [_use(stay, many) for many in stays.values() for stay in many if stay.here]
    places = {engine.name: place for place, engine in enumerate(fleet.engines)}
    return tuple(sorted(found, key=lambda use: (places[use.engine], use.part.casefold(), use.piece)))


def of_engine(fleet: Fleet, engine: str) -> tuple[PartUse, ...]:
    """Those of one engine."""
    return tuple(use for use in uses(fleet) if use.engine == engine)


def last_of(fleet: Fleet, part: str, piece: str) -> Fitting | None:
    """The latest fitting of a piece anywhere, for the form: its life need not be typed again."""
    if not piece:
        return None
    found = [
        fitting
        for engine in fleet.engines
        for build in engine.builds
        for fitting in build.fittings
        if fitting.act == "fitted" and _same(fitting.part, part) and _same(fitting.piece, piece)
    ]
    return found[-1] if found else None


def _same(one: str, other: str) -> bool:
    return one.strip().casefold() == other.strip().casefold()


def _identity(stay: _Stay) -> tuple[str, ...]:
    """A named piece is the same wherever it goes; one without a name is known by where it was fitted."""
    fitting = stay.fitting
    if fitting.piece:
        return fitting.part.strip().casefold(), fitting.piece.strip().casefold()
    return fitting.part.strip().casefold(), "", stay.engine, stay.build.number, repr(fitting)


def _stays(engine: Engine, build: Build) -> Iterable[_Stay]:
    last = build is engine.builds[-1]
    for fitting in build.fittings:
        if fitting.act == "fitted":
            ends = [later.build_h for later in build.fittings if _ends(later, fitting)]
            until = min(ends, default=float("inf"))
            yield _Stay(engine.name, build, fitting, until, last and not ends)


def _ends(later: Fitting, fitting: Fitting) -> bool:
    """True where `later` takes the piece out, or puts another one in its place at later hours."""
    if not _same(later.part, fitting.part) or later is fitting:
        return False
    if later.act == "taken out":
        return later.build_h >= fitting.build_h and (not later.piece or _same(later.piece, fitting.piece))
    return later.build_h > fitting.build_h


def _use(stay: _Stay, many: list[_Stay]) -> PartUse:
    used = dict.fromkeys(UNITS, 0.0)
    unknown = dict.fromkeys(UNITS, 0.0)
    for each in many:
        for run, share in _runs_within(each.build, each.fitting.build_h, each.until_h):
            for unit, amount in _of_run(run).items():
                if amount is None:
                    unknown[unit] += run.hours * share
                else:
                    used[unit] += amount * share
    limits = [each.fitting for each in many if each.fitting.life]
    life, unit = (limits[-1].life, limits[-1].life_unit or "h") if limits else (None, "h")
    before = next((each.fitting for each in many if each.fitting.used_before), None)
    if before is not None:
        used[before.life_unit or unit] += before.used_before or 0.0
    return PartUse(
        stay.engine, stay.build.number, stay.fitting.part, stay.fitting.piece, stay.fitting, used, unknown, life, unit
    )


def _of_run(run: Run) -> dict[str, float | None]:
    return {"h": run.hours, "km": run.distance_km, "laps": run.laps, "starts": run.starts}


def _runs_within(build: Build, from_h: float, until_h: float) -> Iterable[tuple[Run, float]]:
    """Runs of a build between two build hours [h], each with the share of it that lies between."""
    at = 0.0
    for run in build.runs:
        inside = min(at + run.hours, until_h) - max(at, from_h)
        if run.hours > 0 and inside > 1e-9:
            yield run, inside / run.hours
        at += run.hours
