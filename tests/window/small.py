"""A small real bench file: two invented engines of two families, an oil, fills, runs, samples with readings."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable
from pathlib import Path
from types import MappingProxyType

from benchapp.actions import engine, instrument, oil, run, sample
from benchapp.actions import fill as fills
from benchapp.actions.bench import Bench
from benchapp.records import Fill, Instrument, Oil, Reading, Run, Sample

IRON = "V8 pushrod, iron block, flat tappet, wet sump"
PLATED = "V8 overhead cam, Ni-SiC bores, dry sump"
OIL = Oil("Example race oil", "race", "10W-40", fresh_ppm=MappingProxyType({"Zn": 1200.0, "P": 1050.0, "Ca": 1800.0}))
DAY = dt.datetime(2026, 4, 3, 9, 0)
LEVELS = {"Fe": 4.0, "Cu": 1.5, "Pb": 2.0, "Al": 1.8, "Si": 3.0, "Sn": 0.6, "Zn": 1195.0, "Ca": 1805.0}
"""Readings of the first sample [ppm]; wear metals grow with the hours."""


def readings(hours: float) -> tuple[Reading, ...]:
    """Readings after `hours` on this oil [h]."""
    grown = {e: v if v > 100 else round(v * (1.0 + hours / 5.0), 2) for e, v in LEVELS.items()}
    return (*(Reading(e, v) for e, v in grown.items()), Reading("Ni", None, qualifier="<"))


def fill(bench: Bench) -> Bench:
    """Puts the engines in: A1 with three samples, B1 with none."""
    oil.add(bench, OIL)
    instrument.add(bench, Instrument("disc", "rotating-disc"))
    for name, family in (("A1", IRON), ("B1", PLATED)):
        engine.add(bench, name, family, car=name[-1])
        fill_in(bench, name)
    for number, hours in enumerate((2.0, 4.0, 6.0), start=1):
        run.add(bench, "A1", "1", Run("practice", 2.0, DAY + dt.timedelta(days=number)))
        sample.confirm(
            bench,
            "A1",
            "1",
            Sample(
                f"26-{number:03d}", "1", hours, hours, DAY + dt.timedelta(days=number, hours=3), "hot", True, "disc",
                readings=readings(hours),
            ),
        )  # fmt: skip
    return bench


def fill_in(bench: Bench, name: str) -> None:
    """The first fill of an engine."""
    fills.add(bench, name, "1", Fill("1", OIL.name, 0.0, 7.0, DAY, "none", True))


def with_more(file: Path, folder: Path, put: Callable[[Bench], None]) -> Path:
    """A copy of a bench file in `folder`, with what `put` enters."""
    path = Path(shutil.copy(file, folder))
    with Bench.open(path, who="test") as bench:
        put(bench)
    return path
