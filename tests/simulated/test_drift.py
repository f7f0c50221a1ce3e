"""Drift that looks like wear: an instrument that drifts by 15 % on one element over a season must not send anyone to
look inside. Judged by the bench's own judge, on a season made here and on the made-up fleets."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from benchapp.actions import call, holds
from benchapp.actions.noise import with_noise
from benchapp.checks.drift import drift, recoveries
from benchapp.library import load_library
from benchapp.records import Build, CheckRun, Engine, Fill, Fleet, Instrument, Oil, Reading, Run, Sample

from .generators import GENERATORS

START = dt.datetime(2031, 3, 7, 8)
WEEKS = 24
DISC = "drifting disc"
RATES_PPM_H = {"Fe": 1.9, "Cu": 0.35, "Pb": 0.5, "Al": 0.45, "Si": 0.3, "Cr": 0.08, "Sn": 0.1, "Ni": 0.06, "Na": 0.1}
"""Wear of a sound invented engine [ppm per running hour]."""
SD = 0.03
"""Reading noise as a share; and 0.2 ppm [-]."""


def gain(moment: dt.datetime, total: float, shape: str = "straight") -> float:
    """A straight drift from 1 at the first race to 1 + total at the last, or a step in mid season."""
    if shape == "step":
        return 1.0 + total * (moment > START + dt.timedelta(weeks=WEEKS // 2))
    share = (moment - START) / dt.timedelta(weeks=WEEKS)
    return 1.0 + total * min(max(share, 0.0), 1.0)


def season(element: str, total: float, *, checked: bool, fault_from: int = 99, shape: str = "straight") -> Fleet:
    """One engine of a library family, a fill every fourth race, a sample and a check each race; `element` drifts.

    `fault_from`: from this race on the bore sheds five times as much iron."""
    rng = np.random.default_rng(11)
    library = load_library()
    family = next(f for name, f in library.families.items() if "iron block, flat tappet" in name)
    ppm = dict.fromkeys(RATES_PPM_H, 0.0)
    fills, runs, samples, checks = [], [], [], []
    for race in range(WEEKS):
        day = START + dt.timedelta(weeks=race)
        hours = 3.0 * race
        if race % 4 == 0:
            ppm = {e: 0.06 * v for e, v in ppm.items()}
            name = f"F{race // 4 + 1}"
            fills.append(Fill(name, "race oil", hours, 6.0, day, "hot" if race else "none", True))
        runs.append(Run("race", 3.0, day + dt.timedelta(hours=4), 7000.0, 105.0, "unleaded"))
        hard = float(np.exp(rng.normal(0.0, 0.1)))
        for e, rate in RATES_PPM_H.items():
            times = 5.0 if race >= fault_from and e == "Fe" else 1.0
            ppm[e] += rate * 3.0 * hard * times * float(np.exp(rng.normal(0.0, 0.06)))
        if race == 0:
            ppm = {e: v + 6.0 * RATES_PPM_H[e] for e, v in ppm.items()}
        at = day + dt.timedelta(hours=9)
        samples.append(
            Sample(
                f"S{race + 1:02d}", fills[-1].name, hours + 3.0, hours + 3.0 - fills[-1].build_h, at, "hot", True, DISC,
                break_in=race == 0,
                readings=tuple(
                    Reading(e, round(read(v, e, at, element, total, rng, shape), 1)) for e, v in ppm.items()
                ),
            )
        )  # fmt: skip
        if checked:
            checks += [
                CheckRun(DISC, day, "invented 50", e, 50.0, round(read(50.0, e, day, element, total, rng, shape), 1))
                for e in RATES_PPM_H
            ]
    build = Build("1", family.parts, 6.0, START, "", tuple(fills), (), tuple(runs), tuple(samples))
    oil = Oil("race oil", "race", "20W-50", fresh_ppm=dict.fromkeys(RATES_PPM_H, 0.0))
    fleet = Fleet(
        (Engine("E1", family.name, builds=(build,)),), library.families, library.materials, {"race oil": oil},
        {DISC: Instrument(DISC, "rotating-disc")}, tuple(checks),
    )  # fmt: skip
    return holds.with_holds(with_noise(fleet, library))


def read(ppm: float, element: str, moment: dt.datetime, drifting: str, total: float, rng, shape: str) -> float:
    """What the instrument prints."""
    seen = ppm * (gain(moment, total, shape) if element == drifting else 1.0)
    return max(seen + float(rng.normal()) * float(np.hypot(0.2, SD * seen)), 0.0)


def grave(fleet: Fleet, **how) -> dict[str, str]:
    """Sample -> call, where it is grave."""
    return {c.sample: c.call for c in call.judge(fleet, **how) if c.call in ("Look inside", "Park")}


@pytest.mark.parametrize("checked", [True, False], ids=["checked", "never checked"])
@pytest.mark.parametrize("element", ["Fe", "Cu", "Pb", "Al"])
@pytest.mark.parametrize("total", [0.15, -0.15])
def test_a_season_with_15_percent_drift_on_one_element_opens_no_engine(element, total, checked):
    fleet = season(element, total, checked=checked)
    assert grave(fleet) == {}
    assert grave(fleet, each=True) == {}


@pytest.mark.parametrize("checked", [True, False], ids=["checked", "never checked"])
@pytest.mark.parametrize("element", ["Fe", "Cu", "Pb", "Al"])
def test_nor_does_a_step_of_15_percent(element, checked):
    assert grave(season(element, 0.15, checked=checked, shape="step")) == {}


def test_a_step_of_half_fools_the_judge_only_where_nobody_checks():
    assert grave(season("Fe", 0.5, checked=False, shape="step"))
    assert grave(season("Fe", 0.5, checked=True, shape="step")) == {}


@pytest.mark.parametrize("checked", [True, False])
def test_the_same_season_with_a_worn_bore_is_still_called(checked):
    found = grave(season("Fe", 0.15, checked=checked, fault_from=14))
    assert found
    assert min(found) <= "S18"


def test_the_drift_itself_is_seen_in_the_check_runs_and_nowhere_else():
    fleet = season("Fe", 0.15, checked=True)
    seen = {e: drift(e, recoveries(fleet.check_runs, DISC, e)) for e in RATES_PPM_H}
    assert [e for e, d in seen.items() if d.found] == ["Fe"]
    assert seen["Fe"].total_pct == pytest.approx(15.0, abs=4.0)


def test_beyond_the_methods_limit_the_results_are_held_and_their_calls_say_so():
    fleet = season("Fe", 0.15, checked=True)
    held = [c.sample for c in call.judge(fleet) if c.held]
    assert held
    assert held[0] > "S08"  # ±10 % is passed late in the season
    assert all("The check of drifting disc" in c.held for c in call.judge(fleet) if c.held)


def with_drift(fleet: Fleet, element: str, total: float) -> Fleet:
    """A made-up fleet read by instruments that drift on one element, their checks with them."""
    times = [s.taken_at for e in fleet.engines for b in e.builds for s in b.samples if s.taken_at]
    first, last = min(times), max(times)

    def reads(moment: dt.datetime | None) -> float:
        return 1.0 if moment is None else 1.0 + total * ((moment - first) / (last - first))

    def drifted(sample: Sample) -> Sample:
        scaled = tuple(
            replace(r, value=r.value * reads(sample.taken_at)) if r.measurand == element and r.value else r
            for r in sample.readings
        )
        return replace(sample, readings=scaled)

    engines = tuple(
        replace(e, builds=tuple(replace(b, samples=tuple(map(drifted, b.samples))) for b in e.builds))
        for e in fleet.engines
    )
    names = {s.instrument for e in fleet.engines for b in e.builds for s in b.samples} - {""}
    days = sorted({t.date() for t in times})
    rng = np.random.default_rng(3)
    runs = tuple(
        CheckRun(name, at, "invented 50", e, 50.0, 50.0 * (reads(at) if e == element else 1.0) * rng.normal(1.0, 0.03))
        for name in sorted(names)
        for at in (dt.datetime.combine(day, dt.time(7)) for day in days)
        for e in ("Fe", "Cu", "Pb", "Al", "Si", "Sn")
    )
    return replace(fleet, engines=engines, check_runs=runs)


@pytest.mark.parametrize("element", ["Fe", "Al"])
def test_no_sound_engine_of_a_made_up_fleet_is_opened_for_a_drift(element):
    world = GENERATORS["b"](5, 12)
    sound = {code for code, truth in world.truth.samples.items() if truth.healthy}
    before = set(grave(world.fleet)) & sound
    after = set(grave(with_drift(world.fleet, element, 0.15))) & sound
    assert after <= before
