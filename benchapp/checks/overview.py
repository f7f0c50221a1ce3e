"""May I trust the instrument today? Everything the check runs of one instrument say, in one record."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from benchapp.checks.charts import (
    Chart,
    Tolerance,
    cusum,
    ewma,
    individuals,
    method_limits,
    moving_range,
    moving_range_sigma,
    tolerance_for,
)
from benchapp.checks.drift import Drift, drift, recoveries
from benchapp.checks.holds import Check, Due, Held, Measured, check_due, checks_of, held_samples
from benchapp.checks.noise import noise_model
from benchapp.records import CheckRun, Fleet, Instrument, NoiseLine

OWN_LIMITS_FROM = 8
"""Check runs of one standard from which its own scatter sets the limits; before, a third of the method's tolerance
stands for the standard deviation (own choice, the same number as for the noise model)."""


@dataclass(frozen=True, slots=True)
class StandardCharts:
    """All charts of one element of one standard, one entry per check run in `moments`; moving range None below two
    runs."""

    element: str
    standard: str
    expected_ppm: float
    moments: tuple[dt.datetime, ...]
    method: Chart
    individuals: Chart
    moving_range: Chart | None
    ewma: Chart
    cusum_high: Chart
    cusum_low: Chart
    sigma_origin: str

    @property
    def all(self) -> tuple[Chart, ...]:
        """Every chart there is, the method's own limits first."""
        every = (self.method, self.individuals, self.moving_range, self.ewma, self.cusum_high, self.cusum_low)
        return tuple(chart for chart in every if chart is not None)

    @property
    def said(self) -> tuple[str, ...]:
        """What fired on the latest check run, in words."""
        last = len(self.moments) - 1
        texts = [
            f"{self.element}, {self.standard}: {f.text}" for chart in self.all for f in chart.fired if f.index == last
        ]
        return tuple(dict.fromkeys(texts))


@dataclass(frozen=True, slots=True)
class InstrumentState:
    """One instrument at one moment. `trusted`: the last check of every standard was good and none is due."""

    instrument: str
    kind: str
    tolerance: Tolerance
    due: Due
    checks: tuple[Check, ...]
    charts: tuple[StandardCharts, ...]
    drifts: tuple[Drift, ...]
    held: tuple[Held, ...]
    noise: Mapping[str, NoiseLine]

    @property
    def trusted(self) -> bool:
        latest: dict[str, Check] = {check.standard: check for check in self.checks}
        return bool(latest) and all(check.good for check in latest.values()) and not self.due.due

    @property
    def warnings(self) -> tuple[str, ...]:
        """What a person should know before the next sample, in words."""
        said = [text for charts in self.charts for text in charts.said]
        said += [d.text for d in self.drifts if d.found]
        return tuple(([self.due.text] if self.due.due else []) + said)


def standard_charts(runs: Iterable[CheckRun], tolerance: Tolerance) -> tuple[StandardCharts, ...]:
    """Charts of every element of every standard of one instrument's check runs, by element and standard."""
    groups: dict[tuple[str, str, float], list[CheckRun]] = defaultdict(list)
    for run in runs:
        groups[(run.element, run.standard, run.expected_ppm)].append(run)
    found = []
    for (element, standard, expected), group in sorted(groups.items()):
        group.sort(key=lambda run: run.run_at)
        values = [run.found_ppm for run in group]
        own = len(values) >= OWN_LIMITS_FROM
        sigma = moving_range_sigma(values) if own else tolerance.width_ppm(expected, element) / 3.0
        sigma = max(sigma, 0.01 * tolerance.width_ppm(expected, element))  # equal readings are not a perfect instrument
        centre = sum(values) / len(values) if own else expected
        high, low = cusum(values, expected, sigma)
        found.append(
            StandardCharts(
                element,
                standard,
                expected,
                tuple(run.run_at for run in group),
                method_limits(expected, values, tolerance, element),
                individuals(values, centre, sigma),
                moving_range(values) if len(values) >= 2 else None,
                ewma(values, expected, sigma),
                high,
                low,
                f"own scatter of {len(values)} check runs" if own else tolerance.origin,
            )
        )
    return tuple(found)


def measurements(fleet: Fleet, measured_at: Mapping[str, dt.datetime] | None = None) -> tuple[Measured, ...]:
    """The samples of a fleet as measurements. `measured_at`: sample code -> when it was measured, where that is
    known; else the moment of sampling stands for it. Samples without any moment are left out: no check can be set
    against them."""
    times = measured_at or {}
    found = []
    for engine in fleet.engines:
        for build in engine.builds:
            for sample in build.samples:
                when = times.get(sample.code, sample.taken_at)
                if when is not None and sample.instrument:
                    elements = tuple(dict.fromkeys(reading.measurand for reading in sample.readings))
                    found.append(Measured(sample.code, sample.instrument, when, elements))
    return tuple(found)


def instrument_state(
    fleet: Fleet,
    instrument: Instrument,
    start: Mapping[str, NoiseLine],
    now: dt.datetime,
    measured_at: Mapping[str, dt.datetime] | None = None,
) -> InstrumentState:
    """Everything one instrument's check runs say at the moment `now`. `start`: published noise lines of its kind."""
    name = instrument.name
    tolerance = tolerance_for(instrument.kind, start)
    runs = tuple(run for run in fleet.check_runs if run.instrument == name and run.run_at <= now)
    checks = checks_of(runs, {name: tolerance}, tolerance)
    measured = [m for m in measurements(fleet, measured_at) if m.instrument == name]
    elements = sorted({run.element for run in runs})
    readings = [s.readings for e in fleet.engines for b in e.builds for s in b.samples if s.instrument == name]
    return InstrumentState(
        name,
        instrument.kind,
        tolerance,
        check_due(checks, measured, name, now),
        checks,
        standard_charts(runs, tolerance),
        tuple(drift(element, recoveries(runs, name, element)) for element in elements),
        held_samples(checks, measured),
        noise_model(name, readings, runs, start),
    )
