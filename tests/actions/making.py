"""An invented engine, its oil and its samples, for tests of the verbs and of the command line."""

from __future__ import annotations

import datetime as dt

from benchapp.actions import engine, fill, oil, run, sample
from benchapp.actions.bench import Bench
from benchapp.records import Fill, Oil, Reading, Run, Sample

WHEN = dt.datetime(2026, 5, 3, 10, 30)


def a_family(bench: Bench) -> str:
    """The library's first family by name."""
    return min(bench.library.families)


def a_sample(code: str = "S-1", build_h: float = 3.0, fe: float = 12.0, **more) -> Sample:
    readings = (
        Reading("Fe", fe), Reading("Cu", 3.0), Reading("Pb", 2.0), Reading("Sn", 1.0, qualifier="<"),
        Reading("Al", 4.0), Reading("Cr", None, qualifier="<"), Reading("Si", 5.0), Reading("Na", 2.0, mark="*"),
        Reading("KV100", 12.1, "cSt"),
    )  # fmt: skip
    more = {"taken_at": WHEN + dt.timedelta(days=build_h), "instrument": "Bench disc", **more}
    return Sample(code, "F1", build_h, build_h, readings=readings, **more)


def furnish(bench: Bench, name: str = "E-1", samples: int = 1) -> None:
    """One engine with a fill, runs and samples S-1, S-2, … of E-1 (code prefix: the engine's name elsewhere)."""
    if "an invented oil" not in bench.fleet().oils:
        fresh = {"Zn": 1200.0, "P": 1000.0, "Ca": 2500.0}
        oil.add(bench, Oil("an invented oil", "race", "10W-40", 0.865, 95.0, 14.0, 4.0, 8.0, 2.0, fresh))
    engine.add(bench, name, a_family(bench), car="Car 7")
    fill.add(bench, name, "1", Fill("F1", "an invented oil", 0.0, 6.0, WHEN, "none", True))
    for n in range(1, samples + 1):
        run.add(bench, name, "1", Run("race", 3.0, WHEN + dt.timedelta(days=3 * n - 1), 9000.0, 105.0, "unleaded"))
        code = f"S-{n}" if name == "E-1" else f"{name}/S-{n}"
        sample.confirm(bench, name, "1", a_sample(code, 3.0 * n, 10.0 + n))
