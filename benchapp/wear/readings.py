"""A sample's readings as the filter takes them: through the instrument's noise and gain, over the elements."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from benchapp.records import Instrument, NoiseLine, Sample
from benchapp.wear import noise
from benchapp.wear.gauge import Gauge
from benchapp.wear.noise import Observed
from benchapp.wear.rules import Rules
from benchapp.wear.spread import Spread
from benchapp.wear.watch import Watch

Array = NDArray[np.float64]

_PLAIN_NOISE = NoiseLine(0.5, 0.05, 1.0, "own default: common practice, no source")


def observed_in(
    sample: Sample, instrument: Instrument | None, gauge: Gauge, spread: Spread, rules: Rules
) -> dict[str, Observed]:
    """Element -> what was observed in a sample, put right by the gain of its instrument on the day.

    The smallest values that the instrument has printed are kept in `spread`."""
    lines = dict(rules.noise_for(instrument.kind if instrument else ""))
    if instrument:
        lines.update(instrument.noise_at(sample.taken_at))
    smallest = spread.smallest.setdefault(sample.instrument, {})
    for reading in sample.readings:
        if reading.value is not None and not reading.qualifier and reading.value > 0:
            smallest[reading.measurand] = min(reading.value, smallest.get(reading.measurand, math.inf))
    observed = noise.observe(sample.readings, lines, _PLAIN_NOISE, smallest)
    gains = gauge.gains(sample.instrument, sample.taken_at)
    if not gains:
        return observed
    common = gains.get("", 1.0)
    return {element: one.scaled(1.0 / gains.get(element, common)) for element, one in observed.items()}


def over_elements(
    observed: Mapping[str, Observed], elements: tuple[str, ...], factors: Array, watch: Watch, drift: float
) -> tuple[Array, Array]:
    """Readings [ppm] and their variances [ppm²] over the elements; NaN where nothing was read.

    `factors`: real reading variance over the method's, per element [-]; `watch`: what was expected, which a value below
    a limit is held against; `drift` of the instrument between checks, as a share of the reading [-]."""
    reading, variance = np.full(len(elements), np.nan), np.ones(len(elements))
    for i, (element, factor) in enumerate(zip(elements, factors.tolist(), strict=True)):
        one = observed.get(element)
        if one is None:
            continue
        reading[i], variance[i] = one.ppm, one.variance
        if one.qualifier == "<" and one.limit is not None:
            sd = one.noise_sd * math.sqrt(factor)
            variance_now = float(watch.cc[i, i]) + sd * sd
            value, width = noise.truncated(float(watch.c[i]), variance_now, one.limit, -2.0 * sd)
            reading[i], variance[i] = value, width + sd * sd
        else:
            variance[i] += one.noise_sd**2 * (factor - 1.0)
    return reading, variance + (drift * np.nan_to_num(reading)) ** 2
