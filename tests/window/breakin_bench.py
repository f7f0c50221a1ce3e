"""Puts a break-in and a change of oil into the small bench file: invented, with rates that are known."""

from __future__ import annotations

import dataclasses
import datetime as dt

from benchapp.actions import change, leak_down, pull, run, sample
from benchapp.actions import fill as fills
from benchapp.records import Change, Fill, LeakDown, Pull, Reading, Run, Sample

DAY = dt.datetime(2026, 5, 1, 9, 0)
OIL = "Example race oil"
AIR = {"air_c": 22.0, "pressure_kpa": 100.0, "humidity_pct": 45.0}
RISING = (280.0, 284.5, 287.0, 288.4)
FLAT = (300.0, 300.3, 299.8, 300.1, 299.9, 300.2, 300.0, 300.1)


def add_pulls(bench, powers=RISING, engine="B1"):
    """Pulls every half hour."""
    made = [Pull(f"P{n + 1}", 0.5 * (n + 1), kw, **AIR) for n, kw in enumerate(powers)]
    pull.add(bench, engine, "1", *made)


def add_leak_downs(bench, engine="B1", tester="T1", at=(1.0, 2.0)):
    """Two tests of two cylinders, half a point apart."""
    tests = [
        LeakDown(hours, str(cylinder), 4.0 + 0.25 * n, tester, 690.0)
        for n, hours in enumerate(at)
        for cylinder in (1, 2)
    ]
    leak_down.add(bench, engine, "1", *tests)


def add_life(bench, rates, engine="B1", changed_after=None, kind="oil", notes="to the other one", code="L"):
    """Samples every 3 h that shed so many mg/h of iron, aluminium, copper and lead, in fills of 6 h of 7 L; the
    change is logged after so many of them. The first interval is a break-in sample."""
    ppm = dict.fromkeys(("Fe", "Al", "Cu", "Pb"), 0.3)
    share = {"Fe": 0.5, "Al": 0.25, "Cu": 0.15, "Pb": 0.1}
    kg = 7.0 * 0.87
    held = bench.build(engine, "1")
    fill, hours = held.fills[-1].name, 0.0
    for n, rate in enumerate(rates):
        if n and n % 2 == 0:
            fill = str(int(fill) + 1)
            drained = Fill(fill, OIL, hours, 7.0, DAY + dt.timedelta(days=n, hours=1), "hot", True)
            fills.add(bench, engine, "1", drained)
            ppm = {e: 0.10 * value + 0.9 * 0.3 for e, value in ppm.items()}
        run.add(bench, engine, "1", Run("practice", 3.0, DAY + dt.timedelta(days=n)))
        hours += 3.0
        ppm = {e: value + rate * share[e] * 3.0 / kg for e, value in ppm.items()}
        readings = tuple(Reading(e, round(value, 2)) for e, value in ppm.items())
        taken = DAY + dt.timedelta(days=n, hours=5)
        one = Sample(f"{code}{n:02d}", fill, hours, None, taken, "hot", True, "disc", readings=readings)
        sample.confirm(bench, engine, "1", dataclasses.replace(one, break_in=n == 0))
        if changed_after is not None and n == changed_after - 1:
            change.add(bench, engine, "1", Change(hours, kind, notes))


HALVED = (80.0, 30.0, 21.0, 19.0, 22.0, 18.5, 20.5, 9.5, 10.5, 11.0, 9.0, 10.0)
"""Break-in, then about 20 mg/h, then about 10 mg/h from the eighth sample on."""
EVEN = (80.0, 30.0, 21.0, 19.0, 22.0, 18.5, 20.5, 20.5, 19.0, 22.0, 18.0, 20.0)
