"""Plain invented fleets of any size: engines alike, a sample every two hours, readings with noise and no story."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from benchapp.library import load_library
from benchapp.records import Build, Engine, Family, Fill, Fleet, Instrument, Material, Oil, Reading, Run, Sample

ELEMENTS = (
    "Fe", "Cr", "Pb", "Cu", "Sn", "Al", "Ni", "Ag", "Ti", "V", "Mn", "Si", "B", "Na", "K", "Mg", "Ca", "P", "Zn", "Mo",
)  # fmt: skip
FIRST_DAY = dt.datetime(2026, 1, 10, 9, 0)
STINT_H = 2.0
FILL_EVERY = 4
"""Samples from one fill."""
_FRESH = {"B": 120.0, "Mg": 90.0, "Ca": 2200.0, "P": 1000.0, "Zn": 1150.0, "Mo": 80.0}
_WEAR_PPM = {"Fe": 3.0, "Cr": 0.4, "Pb": 0.8, "Cu": 1.2, "Sn": 0.3, "Al": 1.0, "Ni": 0.2, "Si": 1.2, "Mn": 0.1}
INSTRUMENT = "an invented disc"


@cache
def the_family() -> Family:
    """The library's family with the median number of parts."""
    ranked = sorted(load_library().families.values(), key=lambda family: (len(family.parts), family.name))
    return ranked[len(ranked) // 2]


def materials() -> dict[str, Material]:
    return dict(load_library().materials)


def plain_fleet(engines: int, samples_each: int, seed: int = 1) -> Fleet:
    """`engines` engines of one family with `samples_each` samples of 20 elements in one build."""
    rng = np.random.default_rng(seed)
    made = tuple(_engine(f"N{number + 1:04d}", number, samples_each, rng) for number in range(engines))
    family = the_family()
    oil = Oil("an invented oil", "race", "10W-40", 0.865, 95.0, 14.0, 4.0, 8.0, 2.0, {**_FRESH, "Si": 4.0})
    instrument = Instrument(INSTRUMENT, "rotating-disc")
    return Fleet(made, {family.name: family}, materials(), {oil.name: oil}, {INSTRUMENT: instrument})


def _engine(name: str, number: int, samples: int, rng: np.random.Generator) -> Engine:
    family = the_family()
    start = FIRST_DAY + dt.timedelta(hours=number % 24)
    fills = tuple(
        Fill(f"F{n + 1}", "an invented oil", n * FILL_EVERY * STINT_H, 6.0, start + dt.timedelta(days=n * FILL_EVERY),
             "hot" if n else "none", True)
        for n in range(-(-samples // FILL_EVERY))
    )  # fmt: skip
    runs = tuple(
        Run("practice", STINT_H, start + dt.timedelta(days=n), 9000.0, 105.0, "unleaded") for n in range(samples)
    )
    taken = _samples(name, samples, start, rng)
    build = Build("1", family.parts, 6.0, start, fills=fills, runs=runs, samples=taken)
    return Engine(name, family.name, f"car of {name}", builds=(build,))


def _samples(name: str, count: int, start: dt.datetime, rng: np.random.Generator) -> tuple[Sample, ...]:
    fresh = np.array([_FRESH.get(element, 0.0) for element in ELEMENTS])
    wear = np.array([_WEAR_PPM.get(element, 0.05) for element in ELEMENTS]) * rng.lognormal(0.0, 0.2)
    out = []
    for n in range(count):
        since = n % FILL_EVERY + 1
        run_in = 1.0 + (8.0 if n == 0 else 0.0)
        ppm = fresh + wear * since * STINT_H * run_in / 2.0
        ppm = np.round(np.maximum(ppm + rng.normal(0.0, 0.2 + 0.04 * ppm), 0.0), 1)
        readings = tuple(Reading(element, float(value)) for element, value in zip(ELEMENTS, ppm, strict=True))
        out.append(
            Sample(
                f"{name}-{n + 1:04d}",
                f"F{n // FILL_EVERY + 1}",
                (n + 1) * STINT_H,
                since * STINT_H,
                start + dt.timedelta(days=n, hours=3),
                "hot",
                True,
                INSTRUMENT,
                n == 0,
                readings=readings,
            )
        )
    return tuple(out)


MOST_ENGINES = 250
"""Engines in one workbook: 20,000 rows of a sheet are the most that is read."""


def bench_file(path: Path, fleet: Fleet) -> Path:
    """The fleet as a bench file, written through whole-bench workbooks as anyone would."""
    from benchapp.actions import workbook
    from benchapp.actions.bench import Bench
    from tests.simulated.workbook import write_workbook

    book = path.with_suffix(".xlsx")
    with Bench.create(path, who="speed") as bench:
        for first in range(0, len(fleet.engines), MOST_ENGINES):
            write_workbook(replace(fleet, engines=fleet.engines[first : first + MOST_ENGINES]), book)
            workbook.load(bench, book)
    return path
