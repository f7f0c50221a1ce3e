"""A real bench file for the flows of sample entry: one invented engine with oil, fill and a running session.

Names and numbers are invented."""

from __future__ import annotations

import datetime as dt

from benchapp.actions import engine, fill, oil, run, sample
from benchapp.actions.bench import Bench
from benchapp.records import Fill, Oil, Reading, Run, Sample

FAMILY = "V8 pushrod, iron block, flat tappet, wet sump"
OIL = Oil("Example 10W-40", "race", "10W-40", kv100_cst=14.0, fresh_ppm={"Ca": 1800.0, "Zn": 1200.0, "P": 1000.0})
DAY = dt.datetime(2026, 5, 1, 9, 0)

EXPORT = (
    "Bench export, invented\t\t\t\t\t\r\n"
    "\t\t\t\t\t\r\n"
    "Sample ID\tFe\tCu\tPb\tAl\tSi\r\n"
    "\tppm\tppm\tppm\tppm\tppm\r\n"
    "Check 50 ppm\t49,8\t50,3\t50,9\t48,7\t50,2\r\n"
    "24-017\t18,9\t12,4,1\t7,7\tOVR\t9,8\r\n"
    "24-018\t9,6\t2,2\t<1\t3,1*\t5,8\r\n"
    "Mean\t14,2\t2,2\t7,7\t3,1\t7,8\r\n"
)
"""A messy export: a title, an empty row, units, a check, two cells that cannot be read, a mean."""


def with_engine(bench: Bench, name: str = "E1") -> Bench:
    """Adds an engine with its first fill and 4.5 h of running."""
    if OIL.name not in bench.fleet().oils:
        oil.add(bench, OIL)
    engine.add(bench, name=name, family=FAMILY)
    fill.add(bench, name, "1", Fill("1", OIL.name, 0.0, 6.0, DAY, "none", True))
    run.add(bench, name, "1", Run("practice", 4.5, DAY))
    return bench


def with_sample(bench: Bench, code: str = "24-001", engine_name: str = "E1", build_h: float = 2.0) -> Bench:
    """Adds a confirmed sample."""
    readings = (Reading("Fe", 8.0), Reading("Cu", 1.0, qualifier="<"), Reading("Ca", 1790.0))
    sample.confirm(bench, engine_name, "1", Sample(code, "1", build_h, build_h, DAY, "hot", True, readings=readings))
    return bench
