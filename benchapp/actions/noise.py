"""Each instrument's own reading noise, from its check runs and replicates, put into the fleet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from benchapp.records import CheckRun, Fleet, Instrument, NoiseLine, Reading

if TYPE_CHECKING:
    from benchapp.library import Library


def with_noise(fleet: Fleet, library: Library) -> Fleet:
    """The fleet with the noise that each instrument's own data show; a line that a person entered stands in front.

    An instrument without enough runs keeps what is published for its kind (which it takes from the library)."""
    runs: dict[str, list[CheckRun]] = defaultdict(list)
    for run in fleet.check_runs:
        runs[run.instrument].append(run)
    repeated: dict[str, list[Sequence[Reading]]] = defaultdict(list)
    for engine in fleet.engines:
        for build in engine.builds:
            for sample in build.samples:
                if any(reading.replicate > 1 for reading in sample.readings):
                    repeated[sample.instrument].append(sample.readings)
    found = dict(fleet.instruments)
    for name in {*runs, *repeated} - {""}:
        known = fleet.instruments.get(name, Instrument(name))
        own = _own_lines(library, known, repeated[name], runs[name])
        if own:
            found[name] = replace(known, noise=MappingProxyType({**own, **known.noise}))
    return replace(fleet, instruments=MappingProxyType(found))


def _own_lines(
    library: Library, instrument: Instrument, samples: list[Sequence[Reading]], runs: list[CheckRun]
) -> dict[str, NoiseLine]:
    """The lines that rest on own data."""
    from benchapp.checks.noise import noise_model

    start = library.noise_for(instrument.kind)
    model = noise_model(instrument.name, samples, runs, start)
    return {element: line for element, line in model.items() if line != start[element]}
