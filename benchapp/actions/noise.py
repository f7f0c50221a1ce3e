"""Each instrument's own reading noise, from its check runs and replicates, put into the fleet."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from benchapp.records import CheckRun, Fleet, Instrument, Moment, NoiseLine, Reading, Sample

if TYPE_CHECKING:
    from benchapp.library import Library


def with_noise(fleet: Fleet, library: Library) -> Fleet:
    """The fleet with the noise that each instrument's own data show; a line that a person entered stands in front.

    An instrument without enough runs keeps what is published for its kind (which it takes from the library). A
    detection limit that a person stated takes the place of the line's own."""
    runs, repeated = _gathered(fleet)
    found = dict(fleet.instruments)
    for name in {*runs, *repeated, *found} - {""}:
        known = found.get(name, Instrument(name))
        readings = tuple(sample.readings for sample in repeated[name])
        own = dict(_own_lines(known.kind, name, readings, tuple(runs[name])))
        noise = _with_limits(known, {**own, **known.noise}, library)
        if noise != known.noise or name not in found:
            found[name] = replace(known, noise=MappingProxyType(noise))
    return replace(fleet, instruments=MappingProxyType(found))


def as_known_then(fleet: Fleet, library: Library) -> Fleet:
    """The fleet for judging each sample with only what was known then: no noise line learned from later runs.

    Each instrument gets `noise_then`: what its check runs and replicates said up to a moment, anew each time they have
    grown by a fifth."""
    runs, repeated = _gathered(fleet)
    found = dict(fleet.instruments)
    for name, instrument in fleet.instruments.items():
        entered = {element: line for element, line in instrument.noise.items() if not is_learned(line)}
        if len(entered) == len(instrument.noise):
            continue
        dated = sorted(
            [*((run.run_at, run) for run in runs[name]), *((s.taken_at, s) for s in repeated[name] if s.taken_at)],
            key=lambda pair: pair[0],
        )
        first = dt.datetime.min  # noqa: DTZ901  records keep the person's own local time
        epochs: list[tuple[Moment, Mapping[str, NoiseLine]]] = [(first, MappingProxyType(entered))]
        for upto in _growing([moment for moment, _ in dated]):
            known = [thing for _, thing in dated[:upto]]
            own = _own_lines(
                instrument.kind,
                name,
                tuple(thing.readings for thing in known if isinstance(thing, Sample)),
                tuple(thing for thing in known if isinstance(thing, CheckRun)),
            )
            noise = _with_limits(instrument, {**dict(own), **entered}, library)
            epochs.append((dated[upto - 1][0], MappingProxyType(noise)))
        found[name] = replace(instrument, noise_then=tuple(epochs))
    return replace(fleet, instruments=MappingProxyType(found))


def is_learned(line: NoiseLine) -> bool:
    """True for a line that own data gave, False for one that a person entered."""
    from benchapp.checks.noise import OWN

    return line.origin.startswith(OWN)


def _growing(moments: Sequence[Moment]) -> list[int]:
    """Counts of entries after which to learn anew: each a fifth more than the one before, whole moments only."""
    ends = [n for n in range(1, len(moments) + 1) if n == len(moments) or moments[n] != moments[n - 1]]
    kept, last = [], 0
    for end in ends:
        if end >= last * 1.2:
            kept.append(end)
            last = end
    return kept


def _gathered(fleet: Fleet) -> tuple[dict[str, list[CheckRun]], dict[str, list[Sample]]]:
    """Check runs, and samples with replicates, by instrument."""
    runs: dict[str, list[CheckRun]] = defaultdict(list)
    for run in fleet.check_runs:
        runs[run.instrument].append(run)
    repeated: dict[str, list[Sample]] = defaultdict(list)
    for engine in fleet.engines:
        for build in engine.builds:
            for sample in build.samples:
                if any(reading.replicate > 1 for reading in sample.readings):
                    repeated[sample.instrument].append(sample)
    return runs, repeated


@lru_cache(maxsize=256)
def _own_lines(
    kind: str, name: str, samples: tuple[tuple[Reading, ...], ...], runs: tuple[CheckRun, ...]
) -> tuple[tuple[str, NoiseLine], ...]:
    """The lines that rest on own data, element by element. Kept: the same runs are asked for after every change."""
    if not samples and not runs:
        return ()
    from benchapp.checks.noise import noise_model
    from benchapp.library import load_library

    start = load_library().noise_for(kind)
    model = noise_model(name, samples, runs, start)
    return tuple((element, line) for element, line in model.items() if line != start[element])


def _with_limits(instrument: Instrument, noise: dict[str, NoiseLine], library: Library) -> dict[str, NoiseLine]:
    """The lines with the detection limits that a person stated, those in ppm."""
    stated = {e.element: e.detects_from for e in instrument.elements if e.unit == "ppm" and e.detects_from is not None}
    if not stated:
        return noise
    start = library.noise_for(instrument.kind)
    found = dict(noise)
    for element, limit in stated.items():
        line = found.get(element) or start.get(element)
        if line is not None:
            found[element] = replace(line, limit_ppm=limit)
    return found
