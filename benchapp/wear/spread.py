"""How much sound engines of this bench vary, and how noisy its instruments are: learned from its own surprises.

Every sample of a sound engine is a surprise whose size the model foretells. What it foretells has three scales that no
table can give: how much sessions differ as a whole, how much one source differs from interval to interval, and how the
instrument's real noise compares with its method's. Each starts from the rule table and moves as the bench fills.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from benchapp.wear.in_use import InUse

Array = NDArray[np.float64]

_SEVERITY = np.array([0.05, 0.10, 0.17, 0.28, 0.45])
_HARD, _HARD_SHARE = 0.8, 0.08
"""A hard session: spread of the whole engine's wear in it, and how often there is one (chosen)."""
_SOURCE = np.array([0.06, 0.11, 0.18, 0.30, 0.50])
_FACTORS = np.array([0.08, 0.2, 0.5, 1.0, 2.0, 4.0, 9.0, 20.0])
_FACTOR_PRIOR = -0.5 * (np.log(_FACTORS / 0.8) / 1.2) ** 2
_PAIRS = [(a, b) for a in range(len(_SEVERITY)) for b in range(len(_SOURCE))]


_COMMON = np.array([0.10, 0.20, 0.36, 0.60])
_EACH = np.array([0.14, 0.27, 0.48, 0.80])


@dataclass(slots=True)
class Amplitudes:
    """How much of what dies away (run-in, sealant, a cooler's copper) the bench's builds have shown: name -> sums.

    Each build tells one value with its variance; the rule table's guess counts as `_GUESS` builds."""

    sums: dict[str, tuple[float, float, float]] = field(default_factory=dict)
    """Count, sum of values, sum of squares less what noise adds to them."""

    def learn(self, name: str, value: float, variance: float) -> None:
        count, total, squares = self.sums.get(name, (0.0, 0.0, 0.0))
        self.sums[name] = (count + 1.0, total + value, squares + max(value * value - variance, 0.0))

    def of(self, name: str, mean: float, sd: float) -> tuple[float, float]:
        """Mean and standard deviation, from the table's and from what was shown; never far from the table's."""
        count, total, squares = self.sums.get(name, (0.0, 0.0, 0.0))
        if not count:
            return mean, sd
        weight = _GUESS + count
        centre = (_GUESS * mean + total) / weight
        spread = (_GUESS * (sd * sd + mean * mean) + squares) / weight - centre * centre
        centre = min(max(centre, mean - sd), mean + sd)
        return centre, min(max(math.sqrt(max(spread, 0.0)), 0.3 * sd), 1.5 * sd)


_GUESS = 3.0


@dataclass(slots=True)
class EngineSpread:
    """How much engines of one family differ from each other: as a whole, and source by source (sd of a logarithm)."""

    log_prior: Array
    builds: dict[tuple[str, str], Array] = field(default_factory=dict)
    """Log likelihood of every pair of spreads by build, each from the latest that is known of that build."""
    total: Array = field(default_factory=lambda: np.zeros((4, 4)))

    def learn(self, build: tuple[str, str], log_likelihood: Array) -> None:
        """`log_likelihood`: common × each; a build that was heard before is heard anew. One build's say is bounded."""
        bounded = np.maximum(log_likelihood - log_likelihood.max(), -4.0)
        self.total = self.total + bounded - self.builds.get(build, 0.0)
        self.builds[build] = bounded

    def _weight(self) -> Array:
        log_weight = self.log_prior + self.total
        weight = np.exp(log_weight - log_weight.max())
        return np.asarray(weight / weight.sum())

    @property
    def common(self) -> float:
        return float(np.sqrt(np.sum(self._weight() * _COMMON[:, None] ** 2)))

    @property
    def each(self) -> float:
        return float(np.sqrt(np.sum(self._weight() * _EACH[None, :] ** 2)))

    @staticmethod
    def pairs() -> list[tuple[int, int, float, float]]:
        """Row, column, common and each of every pair of spreads [-]."""
        return [(a, b, float(_COMMON[a]), float(_EACH[b])) for a in range(4) for b in range(4)]


def engine_spread(common: float, each: float) -> EngineSpread:
    """Nothing learned yet: about these two, within a factor of two or so."""
    far = (np.log(_COMMON / common) ** 2)[:, None] + (np.log(_EACH / each) ** 2)[None, :]
    return EngineSpread(-far / (2.0 * 0.6**2))


@dataclass(slots=True)
class Spread:
    """What the bench has learned so far; `severity` and `source` are standard deviations of a logarithm, about."""

    severity_start: float
    source_start: float
    log_weight: Array = field(default_factory=lambda: np.zeros(len(_PAIRS)))
    noise: dict[tuple[str, str], Array] = field(default_factory=dict)
    """(instrument, element) -> log weight of each factor by which the reading variance may differ from the method's."""
    smallest: dict[str, dict[str, float]] = field(default_factory=dict)
    """Instrument -> element -> the smallest value it has printed [ppm]."""
    oils: dict[tuple[str, str], tuple[float, int]] = field(default_factory=dict)
    """(oil, element) -> level seen in use [ppm] and number of samples, for what the oil's own record leaves blank."""
    in_use: InUse = field(default_factory=InUse)
    """What oils read in use, engine by engine."""
    dust: tuple[float, float] = (0.0, 0.0)
    """How often dust came once and harmed nothing, and the hours in which that was counted [h]."""
    unleaded_said: bool = False
    """Whether this bench writes down that a fuel is unleaded: where it never does, a blank says so as well."""
    samples: int = 0
    _now: tuple[float, float] | None = field(default=None, repr=False)
    """Both spreads as the weights have them; None where they have changed since."""
    amplitudes: Amplitudes = field(default_factory=Amplitudes)
    engines: EngineSpread = field(default_factory=lambda: engine_spread(0.36, 0.48))

    def __post_init__(self) -> None:
        for number, (a, b) in enumerate(_PAIRS):
            far = np.log(_SEVERITY[a] / self.severity_start) ** 2 + np.log(_SOURCE[b] / self.source_start) ** 2
            self.log_weight[number] = -far / (2.0 * 0.7**2)

    def copy(self) -> Spread:
        """One that learns by itself. Arrays are never written to once they are here, only replaced: they are shared."""
        other = copy.copy(self)
        other.noise, other.oils, other.in_use = dict(self.noise), dict(self.oils), self.in_use.copy()
        other.smallest = {instrument: dict(values) for instrument, values in self.smallest.items()}
        other.amplitudes = Amplitudes(dict(self.amplitudes.sums))
        other.engines = EngineSpread(self.engines.log_prior, dict(self.engines.builds), self.engines.total)
        return other

    def __deepcopy__(self, memo: object) -> Spread:
        return self.copy()

    @property
    def both(self) -> tuple[float, float]:
        """(severity, source)."""
        if self._now is None:
            weight = np.exp(self.log_weight - self.log_weight.max()).reshape(len(_SEVERITY), len(_SOURCE))
            weight /= weight.sum()
            self._now = (
                math.sqrt(float(weight.sum(axis=1) @ _SEVERITY**2)), math.sqrt(float(weight.sum(axis=0) @ _SOURCE**2))
            )  # fmt: skip
        return self._now

    @property
    def severity(self) -> float:
        return self.both[0]

    @property
    def source(self) -> float:
        return self.both[1]

    def learn(self, difference: Array, rest: Array, severity_unit: Array, source_unit: Array) -> None:
        """One sound sample: the surprise, its covariance without the two spreads, and what each adds per unit².

        What a hard session adds is all elements together, a matrix of rank one: each source spread is factored once
        and the severities follow from it in closed form (Sherman and Morrison's formula)."""
        steps = np.array([*_SEVERITY, _HARD])[:, None] ** 2
        largest = int(np.argmax(severity_unit.diagonal()))
        together = severity_unit[:, largest] / math.sqrt(max(float(severity_unit[largest, largest]), 1e-300))
        roots = np.linalg.cholesky(rest + (_SOURCE**2)[:, None, None] * source_unit)
        both = np.broadcast_to(np.column_stack([difference, together]), (len(_SOURCE), len(difference), 2))
        white = np.linalg.solve(roots, both)
        seen, lifted = white[:, :, 0], white[:, :, 1]
        size, along = np.sum(lifted**2, axis=1), np.sum(seen * lifted, axis=1)
        squares = np.sum(seen**2, axis=1) - steps * along**2 / (1.0 + steps * size)
        logdet = 2.0 * np.sum(np.log(np.diagonal(roots, axis1=1, axis2=2)), axis=1) + np.log1p(steps * size)
        density = -0.5 * (squares + logdet)
        usual, hard = density[:-1] + np.log(1.0 - _HARD_SHARE), density[-1] + np.log(_HARD_SHARE)
        likelihood = np.logaddexp(usual, hard).reshape(-1)
        # one odd sample must not turn the bench's mind: its say is bounded
        self.log_weight = self.log_weight + np.clip(likelihood - likelihood.max(), -2.0, 0.0)
        self._now = None
        self.samples += 1

    def learn_dust(self, once: float, hours: float) -> None:
        """Dust came once with this probability in the interval before; so many hours more are counted [h]."""
        count, before = self.dust
        self.dust = (count + (once if once > 0.5 else 0.0), before + hours)

    def dusty(self, count: float, hours: float) -> float:
        """How often dust comes once and harms nothing [1/h], with so many such cases in so many hours beforehand."""
        return (count + self.dust[0]) / (hours + self.dust[1])

    def learn_oil(self, oil: str, element: str, level: float) -> None:
        """The level of an element that an oil's record leaves blank, from a sample of it [ppm]."""
        mean, count = self.oils.get((oil, element), (0.0, 0))
        count += 1
        self.oils[(oil, element)] = (mean + (level - mean) / min(count, 8), count)

    def learn_noise(
        self, instrument: str, elements: list[str], squares: Array, rest: Array, method: Array, weight: float = 1.0
    ) -> None:
        """Squared surprises of some elements [ppm²], what they owe to all but reading noise, and the method's noise.

        `weight`: how much of a sample's say they have [-]."""
        total = rest[:, None] + method[:, None] * _FACTORS[None, :]
        likelihood = -0.5 * (np.log(total) + squares[:, None] / total)
        likelihood = np.maximum(likelihood - likelihood.max(axis=1, keepdims=True), -3.0)
        for row, element in enumerate(elements):
            key = (instrument, element)
            self.noise[key] = self.noise.get(key, _FACTOR_PRIOR) + weight * likelihood[row]

    def noise_factor(self, instrument: str, element: str) -> float:
        """Real reading variance over the method's, for one element on one instrument [-]."""
        return float(self.noise_factors(instrument, (element,))[0])

    def noise_factors(self, instrument: str, elements: Sequence[str]) -> Array:
        """`noise_factor` of several elements."""
        if not elements:
            return np.zeros(0)
        log_weight = np.array([self.noise.get((instrument, element), _FACTOR_PRIOR) for element in elements])
        weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
        return np.asarray((weight @ _FACTORS) / weight.sum(axis=1))
