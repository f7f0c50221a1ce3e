"""Follows one build through its steps and hands out, sample by sample, everything a call is made of."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.records import Build, Engine, Family, Fleet, NoiseLine, Oil, Sample
from benchapp.wear import noise
from benchapp.wear.evidence import Evidence, weigh
from benchapp.wear.expected import FamilyHistory, RatePrior, interval_units, rate_prior, share_out
from benchapp.wear.gauge import Gauge
from benchapp.wear.rules import Rules
from benchapp.wear.spread import Spread
from benchapp.wear.sources import Sources, build_sources
from benchapp.wear.timeline import ChangeStep, DrainStep, RunStep, SampleStep, Timeline, TopUpStep, timeline
from benchapp.wear.watch import Nuisance, Surprise, Watch

Array = NDArray[np.float64]

_PLAIN_NOISE = NoiseLine(0.5, 0.05, 1.0, "own default: common practice, no source")


@dataclass(frozen=True, slots=True)
class Interval:
    """The interval that ends with a sample, balance and all."""

    hours: float
    mass_kg: float
    shed_mg: Array
    """Metal shed in it [mg per element]."""
    shed_sd_mg: Array
    expected_mg: Array
    """What a sound engine would have shed [mg per element]."""
    expected_sd_mg: Array
    carry_over: float | None
    run_in: bool
    leaded: bool


@dataclass(frozen=True, slots=True)
class Look:
    """Everything known at one sample: the state of knowledge that a call is made of."""

    sample: Sample
    sources: Sources
    observed: Mapping[str, noise.Observed]
    surprise: Surprise
    interval: Interval
    evidence: Evidence
    normal: Array
    """Normal rate per source [mg/h]."""
    rate: Array
    """Normal rate per element [mg/h]."""
    rate_sd: Array
    prior: RatePrior
    history: int
    """Healthy intervals of this build before this sample."""
    ceiling: Mapping[str, noise.Observed]
    ceiling_own: bool
    other_oil: str
    """The oil that the additives point to ('another oil' where none fits), or empty."""
    unknowns: tuple[str, ...]
    hidden: Array
    """Elements that the oil itself holds so much of that wear does not show in them, as a mask."""
    bottle: bool = False
    """Whether this sample seems not to be of this engine's oil and has taught nothing."""
    fault_before: bool = False
    """Whether a fault was already likelier than not before this sample."""


class Follower:
    """Walks a build; `next_look()` gives the next sample's Look, None at the end."""

    def __init__(self, engine: Engine, build: Build, fleet: Fleet, rules: Rules, family: FamilyHistory | None,
                 spread: Spread | None = None, gauge: Gauge | None = None) -> None:
        self.engine, self.build, self.fleet, self.rules = engine, build, fleet, rules
        self.family_history = family
        self.gauge = gauge or Gauge(fleet.check_runs, rules)
        self.spread = spread or Spread(rules.number("spread", "severity"), rules.number("spread", "source"))
        self.family: Family | None = fleet.families.get(engine.family)
        self.time: Timeline = timeline(build, self.family, fleet.oils, rules)
        self.elements = measured_elements(build, rules)
        self.sources = build_sources(build.parts, fleet.materials, self.elements, rules)
        self.additive = self._additives()
        self._unit_cache: Array | None = None
        self.reset()

    # --- set-up

    def reset(self) -> None:
        """Begins at the first start of the build, with what the family knows now."""
        rules = self.rules
        litres = self.time.mass_kg / rules.oil_density_kg_l
        self.prior = rate_prior(self.sources, litres, self.family_history, (self.engine.name, self.build.number),
                                self.additive, rules)
        self.additive = self._additives()
        self.mass = self.time.mass_kg
        index = {element: i for i, element in enumerate(self.elements)}
        self.watch = Watch(
            self.prior.rate,
            self.prior.covariance,
            self._nuisances(index),
            self.sources.fractions,
            int(rules.number("fault", "onsets")),
        )
        self.floor = rules.number("spread", "floor_ppm_h") * self.mass
        self.normal = self.prior.shares
        self.history = 0
        self.ceiling: dict[str, noise.Observed] = {}
        self.instrument: str | None = None
        self.oil = ""
        self.lead_fills = -1
        self.bottles = 0
        self.log_total = 0.0
        self.fault = 0.0
        self._at = 0
        self._unit_cache = None

    def _nuisances(self, index: Mapping[str, int]) -> list[Nuisance]:
        rules, mass, count = self.rules, self.time.mass_kg, len(index)

        def along(**shares: float) -> Array:
            direction = np.zeros(count)
            for element, share in shares.items():
                if element in index:
                    direction[index[element]] = share
            return direction

        sealant = rules.number("nuisance", "sealant_ppm_h") * mass
        leaching = rules.number("nuisance", "leaching_ppm_h") * mass
        cooler = "copper leaching" in self.sources.kinds
        return [
            *(
                Nuisance("run-in", self.prior.rate, rules.number("run_in", f"{name}_h"), *rules.pair("run_in", name))
                for name in ("first", "second", "tail")
            ),
            Nuisance("sealant", along(Si=1.0), rules.number("nuisance", "sealant_h"), 0.3 * sealant, sealant),
            Nuisance(
                "copper leaching", along(Cu=1.0), rules.number("nuisance", "leaching_h"),
                0.2 * leaching if cooler else 0.05 * leaching, leaching if cooler else leaching / 2.0,
            ),
        ]

    def _additives(self) -> Array:
        """Elements that an oil of this build holds much of when new (or may hold, where its content is unknown)."""
        least = self.rules.number("fresh", "additive_from_ppm")
        found = np.zeros(len(self.elements), dtype=bool)
        for name in {fill.oil for fill in self.build.fills}:
            oil = self.fleet.oils.get(name)
            for i, element in enumerate(self.elements):
                listed = oil.fresh_ppm.get(element) if oil else None
                unknown = listed is None and self.rules.elements[element].role == "additive"
                seen = self.spread.oils.get((name, element), (0.0, 0))[0] if listed is None else 0.0
                found[i] |= unknown or (listed is not None and listed > least) or seen > least
        return found

    def _unlisted(self, i: int) -> bool:
        """Whether an element may be in the oil and its record does not say how much."""
        oil = self.fleet.oils.get(self.oil)
        listed = oil.fresh_ppm.get(self.elements[i]) if oil else None
        return listed is None and "additive" in self.rules.elements[self.elements[i]].roles

    def _observe(self, sample: Sample) -> dict[str, noise.Observed]:
        instrument = self.fleet.instruments.get(sample.instrument)
        lines = dict(self.rules.noise_for(instrument.kind if instrument else ""))
        if instrument:
            lines.update(instrument.noise_at(sample.taken_at))
        smallest = self.spread.smallest.setdefault(sample.instrument, {})
        for reading in sample.readings:
            if reading.value is not None and not reading.qualifier and reading.value > 0:
                smallest[reading.measurand] = min(reading.value, smallest.get(reading.measurand, math.inf))
        observed = noise.observe(sample.readings, lines, _PLAIN_NOISE, smallest)
        gains = self.gauge.gains(sample.instrument, sample.taken_at)
        if not gains:
            return observed
        common = gains.get("", 1.0)
        return {element: one.scaled(1.0 / gains.get(element, common)) for element, one in observed.items()}

    # --- the walk

    def next_look(self) -> Look | None:
        """Walks to the next sample and looks at it; None after the last."""
        watch = self.watch
        start = watch.c.copy()
        opened = False
        hours = 0.0
        carry: float | None = None
        run_in = leaded = False
        base = watch.c.copy()
        expected = np.zeros(len(self.elements))
        variance = np.zeros(len(self.elements))
        while self._at < len(self.time.steps):
            step = self.time.steps[self._at]
            self._at += 1
            if isinstance(step, RunStep):
                if not opened:
                    watch.begin_interval(self.history)
                    opened = True
                before = watch.c.copy()
                self._run(step)
                gained = watch.c - before
                expected += gained * step.mass_kg
                each = np.tensordot(self._spreads() ** 2, np.diagonal(self._units(), axis1=1, axis2=2), 1)
                variance += (np.diag(watch.rate_covariance) + each) * step.hours**2
                hours += step.hours
                self.mass = step.mass_kg
                run_in = run_in or step.start_h < self.rules.number("run_in", "history_from_h")
                leaded = leaded or self.lead_fills >= 0
            elif isinstance(step, DrainStep):
                if step.share < 1 and not step.first:
                    carry = step.share
                self._drain(step)
                base = watch.c - 0.0
            elif isinstance(step, TopUpStep):
                fresh, sd = self._fresh(step.oil)
                base = (1 - step.share) * base + step.share * np.where(np.isfinite(fresh), fresh, base)
                watch.dilute(step.share, fresh, sd)
            elif isinstance(step, ChangeStep):
                self._change(step)
            elif isinstance(step, SampleStep):
                if not opened:
                    watch.begin_interval(self.history)
                return self._look(step.sample, hours, expected, variance, carry, run_in, leaded, start)
        return None

    def _units(self) -> Array:
        if self._unit_cache is None:
            self._unit_cache = np.array(interval_units(self.sources, self.watch.rate, self.normal))
        return self._unit_cache

    def _spreads(self) -> Array:
        return np.array([self.spread.severity, self.spread.source])

    def _run(self, step: RunStep) -> None:
        rules, watch = self.rules, self.watch
        shed = np.diag(np.full(len(self.elements), self.floor**2))
        # run-in differs from part to part: the decaying amplitudes are common, their spread is not
        excess = 0.0
        for i, n in enumerate(watch.nuisances):
            if n.name == "run-in":
                amplitude = max(n.mean, float(watch.theta[len(self.elements) + i]))
                excess += amplitude * n.mean_profile(step.start_h, step.hours)
        if excess > 1e-3:
            columns = self.sources.fractions * (rules.number("run_in", "part") * excess * self.prior.shares)
            shed += columns @ columns.T + np.diag((0.5 * excess * np.maximum(self.prior.rate, 0.0)) ** 2)
        if step.leaded:
            self.lead_fills = 0
        if self.lead_fills >= 0 and "Pb" in self.elements:
            i = self.elements.index("Pb")
            share = 1.0 if step.leaded else 0.4**self.lead_fills
            shed[i, i] += (rules.number("nuisance", "lead_ppm_h") * share * step.mass_kg) ** 2
        watch.run(step.start_h, step.hours, step.mass_kg, shed, self._units(), self._spreads(), step.hardness)

    def _drain(self, step: DrainStep) -> None:
        fresh, sd = self._fresh(step.fill.oil)
        if step.first:
            known = np.isfinite(fresh)
            self.watch.c = np.where(known, fresh, 0.0)
            variance = sd**2
            lube = self.rules.number("nuisance", "assembly_ppm") ** 2
            for element in ("Mo", "Zn", "P"):
                if element in self.elements:
                    variance[self.elements.index(element)] += lube
            self.watch.cc = np.diag(variance)
        else:
            self.watch.dilute(1.0 - step.share, fresh, sd, step.error)
            if self.lead_fills >= 0:
                self.lead_fills += 1
            if step.changed_oil:
                self._loosen("drift")
        self.oil = step.fill.oil

    def _change(self, step: ChangeStep) -> None:
        if step.change.kind == "part":
            for nuisance in ("sealant", "copper leaching"):
                for i, n in enumerate(self.watch.nuisances):
                    if n.name == nuisance:
                        self.watch.nuisances[i] = replace(n, since_h=step.change.build_h)
                        at = len(self.elements) + i
                        self.watch.tt[at, at] += n.sd**2
        self._loosen("change")

    def _loosen(self, name: str, times: float = 1.0) -> None:
        share = self.rules.number("spread", name) * times
        self.watch.loosen((share * np.maximum(self.watch.rate, self.floor)) ** 2)

    def _fresh(self, name: str) -> tuple[Array, Array]:
        """Fresh-oil concentrations [ppm] and their sd; never NaN."""
        rules = self.rules
        oil: Oil | None = self.fleet.oils.get(name)
        batch = rules.number("fresh", "batch")
        fresh, sd = np.zeros(len(self.elements)), np.zeros(len(self.elements))
        for i, element in enumerate(self.elements):
            listed = oil.fresh_ppm.get(element) if oil else None
            if listed is not None and math.isfinite(listed):
                fresh[i], sd[i] = listed, batch * listed + 0.2
                continue
            roles = rules.elements[element].roles
            level, count = self.spread.oils.get((name, element), (0.0, 0)) if name else (0.0, 0)
            if count:
                fresh[i], sd[i] = level, 0.06 * level + 1.0
                continue
            role = roles[0]
            key = element if element in rules.table["fresh"] else ("additive" if role == "additive" else "wear")
            fresh[i], sd[i] = rules.pair("fresh", key)
        return fresh, sd

    def _look(
        self,
        sample: Sample,
        hours: float,
        expected: Array,
        variance: Array,
        carry: float | None,
        run_in: bool,
        leaded: bool,
        start: Array,
    ) -> Look:
        rules, watch = self.rules, self.watch
        observed = self._observe(sample)
        reading, noise_variance = np.full(len(self.elements), np.nan), np.ones(len(self.elements))
        for i, element in enumerate(self.elements):
            one = observed.get(element)
            if one is not None:
                reading[i], noise_variance[i] = one.ppm, one.variance
                factor = self.spread.noise_factor(sample.instrument, element)
                if one.qualifier == "<" and one.limit is not None:
                    sd = one.noise_sd * math.sqrt(factor)
                    variance_now = float(watch.cc[i, i]) + sd * sd
                    value, width = noise.truncated(float(watch.c[i]), variance_now, one.limit, -2.0 * sd)
                    reading[i], noise_variance[i] = value, width + sd * sd
                else:
                    noise_variance[i] += one.noise_sd**2 * (factor - 1.0)
        drift = rules.number("nuisance", "instrument_drift")
        noise_variance = noise_variance + (drift * np.nan_to_num(reading)) ** 2
        if self.instrument is not None and sample.instrument != self.instrument:
            gain = rules.number("nuisance", "instrument_gain")
            watch.blur((gain * np.maximum(watch.c, 0.0)) ** 2)
        self.instrument = sample.instrument
        spent = rules.number("fresh", "additive_spent")
        watch.blur(np.where(self.additive, (spent * watch.c) ** 2, 0.0))
        without = watch.c - expected / self.mass
        units = watch.units.copy()
        self.cc_before = watch.cc
        odd = self._odd_oil(reading, noise_variance)
        judged = np.where(self.additive, np.nan, reading) if odd else reading
        for i in range(len(self.elements)):
            # an oil whose record is blank shows in its first sample what it holds
            if not self.additive[i] and reading[i] > rules.number("fresh", "additive_from_ppm") and self._unlisted(i):
                if (self.oil, self.elements[i]) not in self.spread.oils or not self.oil:
                    self.additive[i] = True
                    watch.anchor(np.arange(len(self.elements)) == i, reading, noise_variance)
        gain = rules.number("nuisance", "sample_gain") * np.maximum(watch.c, 0.0)
        surprise = watch.expect(judged, noise_variance, gain)
        tasted = watch.foretaste(surprise)
        evidence = weigh(watch, self.normal, self._fault_prior(), self.mass, rules, tasted)
        bottle = self._wrong_bottle(surprise, evidence, judged, odd)
        if not bottle:
            if odd:
                watch.anchor(self.additive & np.isfinite(reading), reading, noise_variance)
                surprise = watch.expect(judged, noise_variance, gain)
            watch.take(surprise)
            for i, element in enumerate(self.elements):
                if self.oil and self._unlisted(i) and not odd and np.isfinite(reading[i]):
                    self.spread.learn_oil(self.oil, element, max(float(watch.c[i]), 0.0))
        self.bottles = self.bottles + 1 if bottle else 0
        if bottle or odd:
            evidence = weigh(watch, self.normal, self._fault_prior(), self.mass, rules)
        fault_before = self.fault > 0.5
        self.fault = float(evidence.probability.sum())
        self.log_total = evidence.log_total
        shed = np.where(np.isfinite(reading), reading - without, np.nan) * self.mass
        shed_sd = np.sqrt(np.maximum(np.diag(surprise.covariance), 0.0)) * self.mass
        interval = Interval(
            hours, self.mass, shed, shed_sd, expected, np.sqrt(np.maximum(variance, 0.0)), carry, run_in, leaded
        )
        look = Look(
            sample, self.sources, observed, surprise, interval, evidence, self.normal, watch.rate.copy(),
            np.sqrt(np.maximum(np.diag(watch.rate_covariance), 0.0)), self.prior, self.history, dict(self.ceiling),
            bool(self.ceiling), self._oil_name(reading) if odd or bottle else "", self.time.unknowns,
            self.additive.copy(), bottle, fault_before,
        )
        if bottle:
            return look
        if evidence.healthy > 0.5 and not run_in:
            self._learn_spread(look, units, noise_variance)
        self._learn(look, run_in, sample)
        return look

    def _odd_oil(self, reading: Array, variance: Array) -> bool:
        """Whether the additives say that this is not the oil that should be in the sump."""
        mask = self.additive & np.isfinite(reading)
        count = int(mask.sum())
        if count < 2:
            return False
        pick = np.ix_(mask, mask)
        common = self.rules.number("nuisance", "sample_gain") * self.watch.c[mask]
        covariance = self.watch.cc[pick] + np.diag(variance[mask]) + np.outer(common, common)
        difference = (reading - self.watch.c)[mask]
        chi_square = float(difference @ np.linalg.solve(covariance, difference))
        return chi_square > count + 8.0 * math.sqrt(2.0 * count) + 10.0

    def _oil_name(self, reading: Array) -> str:
        """Which oil of the bench file the additives of a sample come nearest to, or 'another oil'.

        Fitted: reading = (1 − f) expected + f n with f between 0 and 1, each element judged to a tenth of its level."""
        mask = self.additive & np.isfinite(reading)
        if mask.sum() < 2:
            return "another oil"
        expected, read = self.watch.c[mask], reading[mask]
        best, found = 3.0, "another oil"
        for name, oil in self.fleet.oils.items():
            fresh = np.array([oil.fresh_ppm.get(e, np.nan) for e, m in zip(self.elements, mask, strict=True) if m])
            known = np.isfinite(fresh)
            if name == self.oil or known.sum() < 2:
                continue
            sd = 0.08 * np.maximum(np.maximum(read, expected), fresh)[known] + 5.0
            away, moved = (fresh - expected)[known] / sd, (read - expected)[known] / sd
            share = float(np.clip(away @ moved / max(float(away @ away), 1e-9), 0.0, 1.0))
            misfit = float(np.sqrt(np.mean((moved - share * away) ** 2)))
            if misfit < best and share > 0.05:
                best, found = misfit, name
        return found

    def _wrong_bottle(self, surprise: Surprise, evidence: Evidence, reading: Array, odd: bool) -> bool:
        """Whether this sample is better explained as not of this engine's oil at all than by wear or any one fault."""
        if self.bottles >= 2:
            return False
        gained = evidence.log_total - self.log_total
        # where the additives already tell of another oil, a fault that nobody has seen yet is no explanation
        model = surprise.log_density + (min(gained, 3.0) if odd else gained)
        read = np.isfinite(reading)
        share, least = self.rules.pair("bottle", "spread")
        wide = (share * np.abs(self.watch.c)) ** 2 + least**2
        best = -math.inf
        for times in (1.0, 6.0, 30.0):
            root = np.linalg.cholesky(surprise.covariance + np.diag(np.where(read, wide * times**2, 0.0)))
            scaled = np.linalg.solve(root, surprise.difference)
            logdet = 2.0 * float(np.sum(np.log(np.diag(root))[read]))
            best = max(best, -0.5 * (float(scaled @ scaled) + logdet))
        chance = self.rules.number("bottle", "odd" if odd else ("again" if self.bottles else "chance"))
        return math.log(chance) + best > model

    def _fault_prior(self) -> Array:
        return self.sources.weight

    def _learn_spread(self, look: Look, units: Array, noise_variance: Array) -> None:
        surprise = look.surprise
        seen = np.array([e in look.observed and not look.observed[e].qualifier for e in self.elements])
        names, squares, rest, method = [], [], [], []
        for i, element in enumerate(self.elements):
            one = look.observed.get(element)
            if one is None or self.additive[i]:
                continue
            difference = surprise.difference[i]
            if one.qualifier:
                # a value below a limit surprises only where more than the limit was expected
                difference = max(surprise.expected[i] - (one.limit or 0.0), 0.0)
                if difference <= 0:
                    continue
            own = one.noise_sd**2
            now = own * self.spread.noise_factor(look.sample.instrument, element)
            names.append(element)
            squares.append(difference**2)
            rest.append(max(surprise.covariance[i, i] - now, 0.2 * own) if not one.qualifier else
                        max(self.cc_before[i, i], 0.2 * own))
            method.append(own)
        if names:
            self.spread.learn_noise(
                look.sample.instrument, names, np.array(squares), np.array(rest), np.array(method)
            )
        wear = seen & ~self.additive
        if look.interval.hours > 0 and wear.any():
            pick = np.ix_(wear, wear)
            rest = surprise.covariance[pick] - np.tensordot(self._spreads() ** 2, units, 1)[pick]
            self.spread.learn(surprise.difference[wear], rest, units[0][pick], units[1][pick])

    def _learn(self, look: Look, run_in: bool, sample: Sample) -> None:
        if sample.break_in:
            for element, one in look.observed.items():
                known = self.ceiling.get(element)
                if known is None or one.ppm > known.ppm:
                    self.ceiling[element] = one
        variance = np.where(self.additive, 1e9, np.diag(self.watch.rate_covariance))
        self.normal = share_out(self.watch.rate, variance, self.sources.fractions, self.prior.shares)
        self._unit_cache = None
        self._loosen("drift", math.sqrt(min(look.interval.hours / 4.0, 4.0)))
        if run_in or look.interval.hours <= 0 or look.evidence.healthy < 0.5:
            return
        self.history += 1
        if self.family_history is not None:
            read = np.isfinite(look.interval.shed_mg)
            metal = np.nan_to_num(look.interval.shed_mg)
            self.family_history.of(self.engine.name, self.build.number).add(
                self.elements, metal, read, look.interval.hours
            )


def measured_elements(build: Build, rules: Rules) -> tuple[str, ...]:
    """Elements read in any sample of a build, in the library's order; what is the oil itself is left out."""
    read = {reading.measurand for sample in build.samples for reading in sample.readings}
    return tuple(symbol for symbol, one in rules.elements.items() if symbol in read and one.role != "matrix")
