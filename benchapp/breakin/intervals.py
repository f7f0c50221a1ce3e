"""Wear rate of every element over every sampling interval of a build, from the sump balance alone.

What a call says of a source leans on what was expected of it, and so would hide a change. For break-in and for before
and after, rates are therefore reckoned from two readings and what happened between them, with no expectation in them.
Between two samples the concentration is a straight line in the wear rate w: c = k c0 + b + g w, where runs add to g,
top-ups and drains shrink all three (the method's sump balance with its carry-over); w = (c1 − k c0 − b) / g.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from benchapp.records import Build, Family, NoiseLine, Oil, Sample
from benchapp.wear import noise
from benchapp.wear.rules import Rules
from benchapp.wear.timeline import DrainStep, RunStep, SampleStep, Step, TopUpStep, sump_litres, timeline

Array = npt.NDArray[np.float64]

_PLAIN_NOISE = NoiseLine(0.5, 0.05, 1.0, "own default: common practice, no source")


@dataclass(frozen=True, slots=True)
class Span:
    """A running stretch of an interval: from `start_h` to `end_h` of the build [h], and how much it counts [h/kg]."""

    start_h: float
    end_h: float
    gain: float


@dataclass(frozen=True, slots=True, eq=False)
class Interval:
    """From the sample before (or the first start) to this sample. `rate` and `error` [mg/h] stand by `elements`; NaN
    where either reading is missing. `hardness` is what kind of sessions were run, relative to practice [-]."""

    sample: Sample
    elements: tuple[str, ...]
    rate: Array
    error: Array
    hours: float
    spans: tuple[Span, ...]
    mass_kg: float
    oil: str
    hardness: float
    carry_over: float | None
    """Share of old oil that a drain in this interval left, where there was one [-]."""

    @property
    def start_h(self) -> float:
        return self.spans[0].start_h if self.spans else self.sample.build_h

    def share_after(self, build_h: float) -> float:
        """How much of what this interval shows was shed after `build_h` [-]."""
        whole = sum(span.gain for span in self.spans)
        after = sum(span.gain * _share_after(span, build_h) for span in self.spans)
        return after / whole if whole > 0 else math.nan

    def of(self, element: str) -> tuple[float, float]:
        """Rate and its standard error of one element [mg/h]; NaN where it was not read."""
        if element not in self.elements:
            return math.nan, math.nan
        at = self.elements.index(element)
        return float(self.rate[at]), float(self.error[at])


def _share_after(span: Span, build_h: float) -> float:
    return min(max((span.end_h - build_h) / max(span.end_h - span.start_h, 1e-9), 0.0), 1.0)


@dataclass(slots=True)
class _State:
    """c = keep c0 + base + gain w, element by element, and the variance of what is not a reading."""

    keep: float
    base: Array
    variance: Array
    gain: float
    start_variance: Array
    """Of c0 [ppm²]."""
    start: Array
    rate_guess: Array
    spans: list[Span]
    hardness: float = 0.0
    carried: float | None = None

    def now(self) -> Array:
        """About what the sump holds [ppm]."""
        return self.keep * self.start + self.base + self.gain * self.rate_guess

    def shrink(self, kept: float, fresh: Array, fresh_sd: Array) -> None:
        self.keep *= kept
        self.base = kept * self.base + (1 - kept) * fresh
        self.variance = kept**2 * self.variance + ((1 - kept) * fresh_sd) ** 2
        self.gain *= kept
        self.spans = [Span(span.start_h, span.end_h, span.gain * kept) for span in self.spans]


def intervals(
    build: Build,
    family: Family | None,
    oils: Mapping[str, Oil],
    rules: Rules,
    noise_of: Callable[[str], Mapping[str, NoiseLine]],
    elements: Sequence[str],
) -> tuple[Interval, ...]:
    """The intervals of a build that have running hours, in order. `noise_of(instrument)` -> element -> noise.

    Held samples are passed over: the next interval then begins at the last sample that stands. Errors hold both
    readings, fresh oil, carry-over and the sump's mass."""
    walk = _Walk(oils, rules, noise_of, tuple(elements))
    walk.mass_share = rules.number(
        "balance", "mass_error" if sump_litres(build, family) is not None else "mass_error_unknown"
    )
    for step in timeline(build, family, oils, rules).steps:
        walk.take(step)
    return tuple(walk.found)


class _Walk:
    """Walks over the steps of a build and closes an interval at every sample."""

    def __init__(
        self,
        oils: Mapping[str, Oil],
        rules: Rules,
        noise_of: Callable[[str], Mapping[str, NoiseLine]],
        elements: tuple[str, ...],
    ) -> None:
        self.oils, self.rules, self.noise_of, self.elements = oils, rules, noise_of, elements
        self.found: list[Interval] = []
        self.oil = ""
        self.mass = 1.0
        self.mass_share = 0.03
        zero = np.zeros(len(elements))
        self.rate = zero.copy()
        self.state = self._begin(zero, zero)

    def _begin(self, start: Array, variance: Array) -> _State:
        zero = np.zeros(len(self.elements))
        return _State(1.0, zero.copy(), zero.copy(), 0.0, variance, start, self.rate, [])

    def take(self, step: Step) -> None:
        if isinstance(step, RunStep):
            self.mass = step.mass_kg
            self.state.gain += step.hours / step.mass_kg
            self.state.spans.append(Span(step.start_h, step.start_h + step.hours, step.hours / step.mass_kg))
            self.state.hardness += step.hours * step.hardness
        elif isinstance(step, TopUpStep):
            self.state.shrink(1 - step.share, *self._fresh(step.oil))
        elif isinstance(step, DrainStep):
            self._drain(step)
        elif isinstance(step, SampleStep) and not step.sample.hold:
            self._close(step.sample)

    def _drain(self, step: DrainStep) -> None:
        fresh, sd = self._fresh(step.fill.oil)
        if step.first:
            self.state = self._begin(fresh, sd**2)
        else:
            before = self.state.now() - fresh
            self.state.shrink(step.share, fresh, sd)
            self.state.variance = self.state.variance + (before * step.error) ** 2
            self.state.carried = step.share
        self.oil = step.fill.oil

    def _fresh(self, name: str) -> tuple[Array, Array]:
        """Content of the new oil [ppm] and its standard deviation."""
        oil, rules = self.oils.get(name), self.rules
        fresh, sd = np.zeros(len(self.elements)), np.zeros(len(self.elements))
        for at, element in enumerate(self.elements):
            listed = oil.fresh_ppm.get(element) if oil else None
            if listed is not None and math.isfinite(listed):
                fresh[at], sd[at] = listed, rules.number("fresh", "batch") * listed + 0.2
            else:
                fresh[at], sd[at] = rules.pair("fresh", element if element in rules.table["fresh"] else "wear")
        return fresh, sd

    def _close(self, sample: Sample) -> None:
        seen = noise.observe(sample.readings, self.noise_of(sample.instrument), _PLAIN_NOISE)
        ppm = np.array([seen[e].ppm if e in seen else math.nan for e in self.elements])
        variance = np.array([seen[e].variance if e in seen else math.nan for e in self.elements])
        state = self.state
        hours = sum(span.end_h - span.start_h for span in state.spans)
        if state.gain > 1e-9:
            rate = (ppm - state.keep * state.start - state.base) / state.gain
            spread = variance + state.keep**2 * state.start_variance + state.variance
            error = np.sqrt(spread / state.gain**2 + (self.mass_share * rate) ** 2)
            hardness = state.hardness / hours if hours > 0 else 1.0
            self.found.append(
                Interval(
                    sample, self.elements, rate, error, hours, tuple(state.spans), self.mass, self.oil, hardness,
                    state.carried,
                )
            )  # fmt: skip
            self.rate = np.where(np.isfinite(rate), np.maximum(rate, 0.0), self.rate)
        known = np.isfinite(ppm)
        expected = state.now()
        self.state = self._begin(np.where(known, ppm, expected), np.where(known, variance, (0.3 * expected) ** 2 + 1.0))
