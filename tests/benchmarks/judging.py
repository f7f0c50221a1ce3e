"""Judging a large file, beside NumPy solving the same systems by least squares with no model at all."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np

from benchapp.actions import call
from benchapp.records import Fleet
from benchapp.wear.judge import judge_fleet
from benchapp.wear.sources import build_sources
from tests.benchmarks import fleets
from tests.benchmarks.measure import Row, cpu

SAMPLES_EACH = 40
WHOLE = 20_000
"""Samples of the full table."""
_REMAINS = (
    "per sample, in order of time because one teaches the next: a state of concentrations, rates and run-in carried "
    "through every run and drain, some 1,500 hypotheses weighed against each other, a source split, the record of the "
    "call; hundreds of calls of NumPy on small arrays, where the limit solves all systems in a few"
)


def whole_fleet(samples: int = WHOLE, smaller: int = 5_000) -> list[Row]:
    """Every sample as of its day, against batched least squares; and how the time grows with four times the data."""
    rules = call.rules()
    few, many = (fleets.plain_fleet(count // SAMPLES_EACH, SAMPLES_EACH) for count in (smaller, samples))
    for_few = cpu(lambda: judge_fleet(few, rules, each=True))
    for_many = cpu(lambda: judge_fleet(many, rules, each=True))
    # few systems stay within the processor's own memory and are done in less time each: the limit is that of many
    turns = max(1, WHOLE // samples)
    fractions, readings = (np.concatenate([block] * turns) for block in systems(many))
    limit = min(cpu(lambda: least_squares(fractions, readings)) for _ in range(3)) / turns
    growth = for_many / for_few * (4.0 * smaller / samples)
    return [
        Row(
            f"judge the whole fleet as of each sample, {samples:,}", "NumPy, the same systems, batched least squares",
            f"{for_many:,.1f} s", f"{limit * 1e3:,.0f} ms", for_many / limit, 20.0, "x",
            f"{for_many / samples * 1e3:.2f} ms a sample; {_REMAINS}",
        ),
        Row(
            "... 4 times the data", f"the time for {smaller:,} samples", f"{for_many:,.1f} s", f"{for_few:,.1f} s",
            growth, 4.4,
        ),
    ]  # fmt: skip


def systems(fleet: Fleet) -> tuple[np.ndarray, np.ndarray]:
    """(samples x elements x sources, samples x elements): what least squares is told of every sample."""
    rules = call.rules()
    blocks, readings = [], []
    for engine in fleet.engines:
        for build in engine.builds:
            columns = build_sources(build.parts, fleet.materials, fleets.ELEMENTS, rules).fractions
            blocks.append(np.broadcast_to(columns, (len(build.samples), *columns.shape)))
            readings += [[reading.value for reading in sample.readings] for sample in build.samples]
    return np.concatenate(blocks), np.array(readings)


def least_squares(fractions: np.ndarray, readings: np.ndarray) -> np.ndarray:
    """Unconstrained weighted least squares of every system at once, by its normal equations [-].

    Parts alike make the equations near singular: a small ridge keeps them solvable, as anyone's plain code would."""
    weights = 1.0 / (0.2 + 0.04 * readings)
    weighted = fractions * weights[:, :, None]
    transposed = weighted.transpose(0, 2, 1)
    normal = transposed @ weighted + 1e-6 * np.eye(fractions.shape[2])
    return np.linalg.solve(normal, transposed @ (readings * weights)[:, :, None])[:, :, 0]


def one_new_sample(engines: int = 500, few: int = 125, times: int = 5) -> list[Row]:
    """The call of one new sample as it is typed, with what the families say already known, in a large and a small file.

    The first asking follows the build from its first start and keeps it; it is told apart."""
    small, _, small_again = _one_new(fleets.plain_fleet(few, SAMPLES_EACH), times)
    large, first, again = _one_new(fleets.plain_fleet(engines, SAMPLES_EACH), times)
    return [
        Row(
            f"judge one new sample among {engines * SAMPLES_EACH:,}", "-", f"{large * 1e3:,.0f} ms", "-", large * 1e3,
            30.0, "ms",
            f"one sample of the walk and its report; the first asking, which follows {SAMPLES_EACH} samples, takes "
            f"{first * 1e3:,.0f} ms",
        ),
        Row(
            "... flat in fleet size", f"the same among {few * SAMPLES_EACH:,}", f"{large * 1e3:,.0f} ms",
            f"{small * 1e3:,.0f} ms", large / small, 1.2,
        ),
        Row(
            f"its engine judged once it is confirmed, among {engines * SAMPLES_EACH:,}", "-", f"{again * 1e3:,.0f} ms",
            "-", again * 1e3, 30.0, "ms",
            "one sample, and the keys of all engines twice (before and after it); among "
            f"{few * SAMPLES_EACH:,}: {small_again * 1e3:,.0f} ms",
        ),
    ]  # fmt: skip


def _one_new(fleet: Fleet, times: int) -> tuple[float, float, float]:
    """(least time of the call of a new sample, time of the first asking, least time to judge its engine again once it
    is confirmed) [s]."""
    engine = fleet.engines[-1]
    last = engine.builds[-1].samples[-1]
    later = last.taken_at + dt.timedelta(days=1)
    new = replace(last, code="new", build_h=last.build_h + 1.0, oil_h=(last.oil_h or 0.0) + 1.0, taken_at=later)
    call._priors(fleet)
    took = [cpu(lambda: call.preview_in(fleet, engine.name, "1", new)) for _ in range(times + 1)]
    assert call.preview_in(fleet, engine.name, "1", new) is not None
    known = {engine.name: (call.keys(fleet)[engine.name], call.judge(fleet, [engine.name]))}
    build = replace(engine.builds[-1], samples=(*engine.builds[-1].samples, new))
    confirmed = replace(engine, builds=(build,))
    after = [replace(fleet, engines=(*fleet.engines[:-1], confirmed)) for _ in range(times)]
    again = [cpu(lambda now=now: call.judge(now, [engine.name], known=known)) for now in after]
    assert call.judge(after[0], [engine.name], known=known)[-1] == call.preview_in(fleet, engine.name, "1", new)
    return min(took[1:]), took[0], min(again)
