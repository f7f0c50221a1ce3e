"""Follows one build through its steps and hands out, sample by sample, everything a call is made of."""

from __future__ import annotations

import copy
import math
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchapp.records import Build, Engine, Family, Finding, Fleet, NoiseLine, Oil, Sample
from benchapp.wear import noise
from benchapp.wear.carry_over import combine, from_tracers, outside
from benchapp.wear.evidence import Evidence, Weights, faults_per_hour, weigh
from benchapp.wear.expected import (
    FamilyHistory,
    FamilyMean,
    RatePrior,
    family_mean,
    interval_units,
    news_of,
    rate_prior,
    share_out,
    told_by,
)
from benchapp.wear.gauge import Gauge
from benchapp.wear.other_oil import Error, Poured, nearest, poured
from benchapp.wear.rules import Rules
from benchapp.wear.sources import COOLANT, DUST, WEAR, Sources, build_sources
from benchapp.wear.spread import Spread
from benchapp.wear.timeline import (
    ChangeStep,
    DrainStep,
    FindingStep,
    RunStep,
    SampleStep,
    Step,
    Timeline,
    TopUpStep,
    timeline,
)
from benchapp.wear.watch import Known, Nuisance, Surprise, Watch, per_spread

Array = NDArray[np.float64]

_PLAIN_NOISE = NoiseLine(0.5, 0.05, 1.0, "own default: common practice, no source")


SOUND = ("as new", "worn as expected")
"""Conditions of a finding that clear a part."""

_MILESTONES = (3, 6, 12, 24, 48)
"""Healthy intervals after which a build teaches how much engines differ."""

_WILD_WIDTHS = np.array([0.1, 1.0, 36.0, 900.0])
"""How far off a wild reading may be: variances, in those of a wrong bottle (chosen: from somewhat to absurd)."""

_WITH_SEALANT = ("Si", "Ti")
_FROM_OUTSIDE = ("Na", "K", "B", "Si")


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
    refuted: bool = False
    """Whether this sample shows that the one before it was not of this engine."""
    wild: str = ""
    """The element whose reading is not believed until it is measured again, or empty."""
    lead_unsaid: bool = False
    """Whether lead is taken for fuel's though no fuel is on record."""


@dataclass(frozen=True, slots=True)
class Walked:
    """What was walked from one sample to the next."""

    hours: float
    expected_mg: Array
    variance_mg2: Array
    carry_over: float | None
    run_in: bool
    leaded: bool


@dataclass(frozen=True, slots=True)
class Appraisal:
    """A sample held against one state of knowledge, before it is taken."""

    reading: Array
    variance: Array
    judged: Array
    """The readings that count: without the additives where they are of another oil."""
    odd: bool
    gain: Array
    surprise: Surprise
    tasted: Known
    """What every hypothesis would be worth if the sample were taken."""
    weights: Weights
    log_density: float
    """Log density of the sample under all hypotheses of the state together."""
    wild: int | None = None
    """The element whose reading is not believed: alone, far off, and explained by nothing."""
    foreign: Array = field(default_factory=lambda: np.zeros(0))
    """Elements that another oil would move, as a mask."""
    oil: str = ""
    """The oil of the bench file that explains the sample, where one does."""
    oil_share: float = 0.0
    """Its part of what was sampled [-]."""


@dataclass(frozen=True, slots=True)
class Drained:
    """What went before the last drain [ppm], what came, and what share the kind of drain is thought to leave."""

    old: Array
    fresh: Array
    fresh_sd: Array
    share: float
    error: float


@dataclass(frozen=True, slots=True)
class Fork:
    """The state of knowledge without a sample that surprised: if the next sample knows nothing of what that one said,
    that one was not of this engine (metal does not leave oil within a fill)."""

    watch: Watch
    log_weight: float
    log_total: float
    fault: float


_SHARED = frozenset({
    "fleet", "engine", "build", "rules", "family", "time", "sources", "gauge", "prior", "family_history", "told",
})  # fmt: skip
"""What copies of a follower have in common."""


_OF_A_WALK = ("watch", "log_total", "fault", "oil", "lead_fills", "mass", "drains", "drained", "oils_seen", "additive",
              "toward")
"""What a walk from one sample to the next changes in a follower: with doubt about a sample, two are walked."""


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
        self._unit_cache: Array | None = None
        self._at = 0
        self._again = False
        """Whether samples are walked once more that have taught their lesson already."""
        self._measure(measured_elements(build.samples[:1], rules))
        self.reset()

    # --- set-up

    def _measure(self, elements: tuple[str, ...]) -> None:
        """Which elements are followed: those read so far. What is not read yet belongs to the future."""
        self.elements = elements
        self.made_of = np.array([element not in _FROM_OUTSIDE for element in elements], dtype=bool)
        roles = self.rules.elements
        tells = ["additive" in roles[element].roles and element not in _WITH_SEALANT for element in elements]
        self.oil_tells = np.array(tells, dtype=bool)
        """Elements that oils are told by."""
        self.sources = build_sources(self.build.parts, self.fleet.materials, elements, self.rules)

    def _grow(self, elements: tuple[str, ...]) -> None:
        """Elements that were not read before: the build is walked again with them, up to where it was."""
        at, self._again = self._at, True
        before = sum(isinstance(step, SampleStep) for step in self.time.steps[: at - 1])
        self._measure(elements)
        self.reset()
        for _ in range(before):
            self.next_look()
        self._at, self._again = at, False

    def reset(self) -> None:
        """Begins at the first start of the build, with what the family knows now."""
        rules = self.rules
        self.floor = rules.number("spread", "floor_ppm_h") * self.time.mass_kg
        self.oils_seen = {fill.oil for fill in self.build.fills[:1]}
        self.additive = self._additives()
        self.prior = self._prior_now()
        self.mass = self.time.mass_kg
        self.watch = Watch(
            self.prior.rate,
            self.prior.covariance,
            self._nuisances(),
            self.sources.fractions,
            int(rules.number("fault", "onsets")),
            np.array([kind == COOLANT for kind in self.sources.kinds], dtype=bool),
            self._pure("Cu")[:, None],  # copper alone, from a cooler that nobody wrote down
            np.array([kind == DUST for kind in self.sources.kinds], dtype=bool),
            rules.number("nuisance", "leaching_h"),
        )
        self.told = told_by(self.prior, self.additive)
        self.heard = self._others()
        self.normal = self.prior.shares
        self.history = 0
        self.ceiling: dict[str, noise.Observed] = {}
        self.instrument: str | None = None
        self.oil = ""
        self.lead_fills = -1
        self.lead_unsaid: bool | None = None
        """Whether lead is taken for fuel's though no fuel is on record; None before a sample has told."""
        self.drains = 0
        self.drains_known = 0
        """Oil changes until the latest sample of the oil on record."""
        self.ceiling_drains = -1
        """Oil changes until the latest break-in sample."""
        self.drained: Drained | None = None
        self.found_sound: set[str] = set()
        self.extra = np.zeros(len(self.sources.names))
        """What each source shed beside its normal at the last sample, were it at fault [mg/h]."""
        self.renewed_h: float | None = None
        self.bottles = 0
        self.log_total = 0.0
        self.fault = 0.0
        self.fork: Fork | None = None
        self.fork_main = 0.0
        self.odd_before: Array | None = None
        self.toward: Array | None = None
        """What the sump would hold more if the last sample's other oil is in it, and not in the bottle alone [ppm]."""
        self.wild_before: int | None = None
        self._at = 0
        self._unit_cache = None

    def __deepcopy__(self, memo: dict[int, object]) -> Follower:
        """One that may walk on by itself; what never changes, and what families know, is shared."""
        other = copy.copy(self)
        memo[id(self)] = other
        for name, value in vars(self).items():
            if name == "ceiling":  # its records never change
                other.ceiling = dict(self.ceiling)
            elif name not in _SHARED:
                setattr(other, name, copy.deepcopy(value, memo))
        return other

    @property
    def key(self) -> tuple[str, str]:
        return self.engine.name, self.build.number

    @property
    def walked(self) -> int:
        """Steps of `time` that are behind."""
        return self._at

    def _prior_now(self) -> RatePrior:
        engines = self.spread.engines
        mean = family_mean(self.elements, self.family_history, self.key, self.floor)
        return self._prior_about(mean, engines.common, engines.each)

    def _prior_about(self, mean: FamilyMean, common: float, each: float) -> RatePrior:
        litres = self.time.mass_kg / self.rules.oil_density_kg_l
        return rate_prior(self.sources, litres, mean, self.additive, self.rules, (common, each))

    def _others(self) -> int:
        """Healthy intervals that the family's other builds have taught so far."""
        family = self.family_history
        if family is None:
            return 0
        own = family.builds.get(self.key)
        return family.intervals - (own.intervals if own else 0)

    def _hear_family(self) -> None:
        """What the family has learned since this build began is told to its filter, as it comes.

        A season's engines run side by side: the first of them begin with nothing and would never hear of the others."""
        others = self._others()
        if others < max(1.5 * self.heard, self.heard + 2):
            return
        self.heard = others
        now = self._prior_now()
        if now.basis == "none":
            return
        news = news_of(self.told, now, self.additive)
        self.prior = now
        if news is None:
            return
        self.told = news.told
        self.watch.hear(news.rows, news.value, np.diag(news.variance) + (news.rows * self.watch.loosened) @ news.rows.T)
        self._unit_cache = None

    def _nuisances(self) -> list[Nuisance]:
        rules, mass = self.rules, self.time.mass_kg
        sealant = rules.number("nuisance", "sealant_ppm_h")
        leaching = rules.number("nuisance", "leaching_ppm_h")
        cooler = "copper leaching" in self.sources.kinds
        about = (0.2 * leaching, leaching) if cooler else (0.05 * leaching, leaching / 2.0)
        source = "cooler" if cooler else "copper"
        guesses = {name: rules.pair("run_in", name) for name in ("first", "second", "tail")}
        guesses |= {"sealant": (0.3 * sealant, sealant), source: about}
        now = {name: self.spread.amplitudes.of(name, *guess) for name, guess in guesses.items()}
        self.amplitudes = [(name, mean, sd) for name, (mean, sd) in now.items()]
        copper = now[source]
        return [
            *(
                Nuisance("run-in", self.prior.rate, rules.number("run_in", f"{name}_h"), *now[name])
                for name in ("first", "second", "tail")
            ),
            Nuisance("sealant", self._pure("Si"), rules.number("nuisance", "sealant_h"), now["sealant"][0] * mass,
                     now["sealant"][1] * mass),
            Nuisance("copper leaching", self._pure("Cu"), rules.number("nuisance", "leaching_h"), copper[0] * mass,
                     copper[1] * mass),
        ]

    def _teach_amplitudes(self) -> None:
        """What died away in this build's first hours tells what to expect of the next ones."""
        count, mass = len(self.elements), self.time.mass_kg
        for i, (name, mean, sd) in enumerate(self.amplitudes):
            unit = 1.0 if i < 3 else mass
            value = float(self.watch.theta[count + i]) / unit
            variance = float(self.watch.tt[count + i, count + i]) / unit**2
            own = 1.0 / max(variance, 1e-12) - 1.0 / sd**2
            if own * sd**2 > 0.5:
                self.spread.amplitudes.learn(name, (value / variance - mean / sd**2) / own, 1.0 / own)

    def _pure(self, element: str) -> Array:
        """One element alone, as a direction; zero where it is not followed."""
        return np.array([float(one == element) for one in self.elements])

    def _additives(self) -> Array:
        """Elements that an oil of this build so far holds much of when new (or may, its content unknown)."""
        least = self.rules.number("fresh", "additive_from_ppm")
        found = np.zeros(len(self.elements), dtype=bool)
        for name in sorted(self.oils_seen):
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
        steps: list[Step] = []
        while self._at < len(self.time.steps):
            step = self.time.steps[self._at]
            self._at += 1
            if isinstance(step, SampleStep):
                elements = measured_elements((step.sample,), self.rules, self.elements if self.watch.intervals else ())
                if not set(elements) <= set(self.elements):
                    self._grow(elements)
                look = self._look(step.sample, steps)
                self._find_at_the_end()
                return look
            steps.append(step)
        return None

    def _find_at_the_end(self) -> None:
        """What was found worn after a build's last sample has no date: the family learns of it then.

        The build itself is not touched: with a further sample these steps are walked on the way to it."""
        rest = self.time.steps[self._at :]
        if not any(isinstance(step, SampleStep) for step in rest):
            for step in rest:
                if isinstance(step, FindingStep) and step.finding.condition not in SOUND:
                    self._teach_worn(step.finding.part)

    def _walk(self, steps: Sequence[Step]) -> Walked:
        """Walks the watch over the steps between two samples."""
        watch = self.watch
        count = len(self.elements)
        hours, carry, run_in, leaded = 0.0, None, False, False
        expected, variance = np.zeros(count), np.zeros(count)
        watch.begin_interval(self.history)
        self.drained = None
        for step in steps:
            if isinstance(step, RunStep):
                before = watch.c.copy()
                self._run(step)
                expected += (watch.c - before) * step.mass_kg
                each = (self._spreads() ** 2) @ np.diagonal(self._units(), axis1=1, axis2=2)
                variance += (watch.rate_covariance.diagonal() + each) * step.hours**2
                hours += step.hours
                self.mass = step.mass_kg
                run_in = run_in or step.start_h < self.rules.number("run_in", "history_from_h")
                leaded = leaded or self.lead_fills >= 0
            elif isinstance(step, DrainStep):
                carry = carry if step.first else step.share
                self._drain(step)
            elif isinstance(step, TopUpStep):
                watch.dilute(step.share, *self._fresh(step.oil))
                self.drained = None  # the top-up has thinned what the drain left
            elif isinstance(step, ChangeStep):
                self._change(step)
            elif isinstance(step, FindingStep):
                self._find(step.finding)
        return Walked(hours, expected, variance, carry, run_in, leaded)

    def _units(self) -> Array:
        if self._unit_cache is None:
            self._unit_cache = np.array(interval_units(self.sources, self.watch.rate, self.normal))
        return self._unit_cache

    def _spreads(self) -> Array:
        return np.array(self.spread.both)

    def _run(self, step: RunStep) -> None:
        rules, watch = self.rules, self.watch
        shed = np.diag(np.full(len(self.elements), self.floor**2))
        # run-in differs from part to part: the decaying amplitudes are common, their spread is not
        excess = 0.0
        for i, n in enumerate(watch.nuisances):
            if n.name == "run-in":
                amplitude = max(n.mean, float(watch.theta[len(self.elements) + i]))
                excess += amplitude * n.mean_profile(step.start_h, step.hours)
        if self.renewed_h is not None:
            # new parts run in again, and nobody knows how much
            since, hours = step.start_h - self.renewed_h, self.rules.number("run_in", "second_h")
            excess += rules.pair("run_in", "second")[0] * math.exp(-max(since, 0.0) / hours)
        if excess > 1e-3:
            columns = self.sources.fractions * (rules.number("run_in", "part") * excess * self.prior.shares)
            shed += columns @ columns.T + np.diag((0.5 * excess * np.maximum(self.prior.rate, 0.0)) ** 2)
        leaded = self.lead_unsaid if step.leaded is None else step.leaded
        if leaded:
            self.lead_fills = 0
        if self.lead_fills >= 0 and "Pb" in self.elements:
            i = self.elements.index("Pb")
            share = 1.0 if leaded else 0.4**self.lead_fills
            shed[i, i] += (rules.number("nuisance", "lead_ppm_h") * share * step.mass_kg) ** 2
        watch.run(step.start_h, step.hours, step.mass_kg, shed, self._units(), self._spreads(), step.hardness)

    def _new_oil(self, name: str) -> None:
        """An oil that was not in this build before may hide other elements: of those no rate can be told any more."""
        if name in self.oils_seen:
            return
        self.oils_seen = self.oils_seen | {name}
        hides = np.logical_and(self._additives(), np.logical_not(self.additive))
        if hides.any():
            self.additive = np.logical_or(self.additive, hides)
            self.watch.silence(hides, self.floor)
            self._unit_cache = None

    def _drain(self, step: DrainStep) -> None:
        self.drains += 1
        self._new_oil(step.fill.oil)
        fresh, sd = self._fresh(step.fill.oil)
        if step.first:
            known = np.isfinite(fresh)
            self.watch.empty()
            self.watch.c = np.where(known, fresh, 0.0)
            variance = sd**2
            lube = self.rules.number("nuisance", "assembly_ppm") ** 2
            for element in ("Mo", "Zn", "P"):
                if element in self.elements:
                    variance[self.elements.index(element)] += lube
            self.watch.cc = np.diag(variance)
        else:
            # two drains in one interval leave shares that no sample can tell apart
            self._may_leave_other_oil()
            self.drained = Drained(self.watch.c.copy(), fresh, sd, step.share, step.error) if step.changed_oil else None
            self.watch.dilute(1.0 - step.share, fresh, sd, step.error)
            if self.lead_fills >= 0:
                self.lead_fills += 1
            if step.changed_oil:
                self._loosen("drift")
        self.oil = step.fill.oil

    def _change(self, step: ChangeStep) -> None:
        if step.change.kind == "part":
            self.renewed_h = step.change.build_h
            cooler = "cooler" in step.change.notes.lower()
            for i, n in enumerate(self.watch.nuisances):
                if n.name in ("sealant", "copper leaching"):
                    sd = n.sd
                    if n.name == "copper leaching" and cooler:
                        sd = self.rules.number("nuisance", "leaching_new_ppm_h") * self.mass
                    self.watch.nuisances[i] = replace(n, since_h=step.change.build_h)
                    at = len(self.elements) + i
                    self.watch.tt[at, at] += sd**2
        self._loosen("change")

    def _find(self, finding: Finding) -> None:
        """Parts found sound clear their source; one found worn out or damaged makes its like in the family suspect.

        Parts of one metal are one source: it is cleared when all of them have been found sound while it was suspect.
        Dust or coolant whose way in was looked for and not found is cleared the same way; one
        that was found is this engine's alone and makes no other suspect."""
        if finding.condition not in SOUND:
            self.found_sound.discard(finding.part)
            self._teach_worn(finding.part)
            return
        self.found_sound.add(finding.part)
        for j, (name, parts) in enumerate(zip(self.sources.names, self.sources.parts, strict=True)):
            names = {part.name for part in parts} or {name}
            found = finding.part if parts else finding.part.strip().casefold()
            if found in names and names <= {*self.found_sound, found}:
                self._clear(j)

    def _teach_worn(self, name: str) -> None:
        part = next((part for parts in self.sources.parts for part in parts if part.name == name), None)
        if part is not None and self.family_history is not None and not self._again:
            self.family_history.found_worn(self.key, part.name, part.role or part.name)

    def _clear(self, source: int) -> None:
        self.watch.clear(source, max(float(self.normal[source]), float(self.extra[source]), self.floor))
        self._unit_cache = None

    def _shares(self) -> Array:
        """How often each source is at fault: the table's shares, and more for what was found worn in the family."""
        if self.family_history is None or not self.family_history.worn:
            return self.sources.weight
        found = Counter(self.family_history.worn.values())
        each, most = self.rules.pair("fault", "found_worn")
        times = [
            min(1.0 + each * sum(found[role] for role in {part.role or part.name for part in parts}), most)
            for parts in self.sources.parts
        ]
        return np.asarray(self.sources.weight * np.array(times))

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

    def _look(self, sample: Sample, steps: Sequence[Step]) -> Look:
        self._hear_family()
        before = self._standing()
        walked = self._walk(steps)
        observed = self._observe(sample)
        walked = self._ask_lead(walked, steps, observed)
        seen = self._appraise(sample, observed)
        refuted = False
        if self.fork is not None:
            main = self._standing()
            self._stand(before)
            self.watch, self.log_total, self.fault = self.fork.watch, self.fork.log_total, self.fork.fault
            walked_apart = self._walk(steps)
            apart = self._appraise(sample, observed)
            refuted = self.fork.log_weight + apart.log_density > self.fork_main + seen.log_density
            if refuted:
                walked, seen = walked_apart, apart
            else:
                self._stand(main)
            self.fork = None
        seen = self._without_wild(seen, observed)
        return self._take(sample, observed, walked, seen, refuted)

    def _standing(self) -> tuple[Any, ...]:
        """What a walk changes, to come back to; none of it is written into, each change puts something new in its place
        (but a watch, which walks on by itself)."""
        return tuple(getattr(self, name) for name in _OF_A_WALK)

    def _stand(self, at: tuple[Any, ...]) -> None:
        for name, value in zip(_OF_A_WALK, at, strict=True):
            setattr(self, name, value)
        self._unit_cache = None

    def _ask_lead(
        self, walked: Walked, steps: Sequence[Step], observed: Mapping[str, noise.Observed]
    ) -> Walked:
        """Where no fuel is on record, so much lead in a build's first sample is taken for the fuel's.

        No bearing that runs sheds as much; one that comes apart in its first hours would be hidden, which is said."""
        lead = observed.get("Pb")
        if self.lead_unsaid is not None or lead is None or walked.hours <= 0:
            return walked
        unsaid = all(step.leaded is None for step in steps if isinstance(step, RunStep))
        hours = walked.hours
        per_hour, least = self.rules.pair("nuisance", "lead_unsaid")
        self.lead_unsaid = unsaid and lead.ppm >= max(least, per_hour * hours)
        if not self.lead_unsaid:
            return walked
        self.lead_fills = 0
        self.watch.blur(self._pure("Pb") * (self.rules.number("nuisance", "lead_ppm_h") * hours) ** 2)
        return replace(walked, leaded=True)

    def _readings(self, sample: Sample, observed: Mapping[str, noise.Observed]) -> tuple[Array, Array]:
        """Readings and their variances over the elements; NaN where nothing was read."""
        watch = self.watch
        reading, variance = np.full(len(self.elements), np.nan), np.ones(len(self.elements))
        factors = self.spread.noise_factors(sample.instrument, self.elements).tolist()
        for i, element in enumerate(self.elements):
            one = observed.get(element)
            if one is None:
                continue
            reading[i], variance[i] = one.ppm, one.variance
            factor = factors[i]
            if one.qualifier == "<" and one.limit is not None:
                sd = one.noise_sd * math.sqrt(factor)
                variance_now = float(watch.cc[i, i]) + sd * sd
                value, width = noise.truncated(float(watch.c[i]), variance_now, one.limit, -2.0 * sd)
                reading[i], variance[i] = value, width + sd * sd
            else:
                variance[i] += one.noise_sd**2 * (factor - 1.0)
        drift = self.rules.number("nuisance", "instrument_drift")
        return reading, variance + (drift * np.nan_to_num(reading)) ** 2

    def _appraise(self, sample: Sample, observed: Mapping[str, noise.Observed]) -> Appraisal:
        """Holds a sample against the watch as it is; only what is not known of instrument and oil is added to it."""
        rules, watch = self.rules, self.watch
        if self.instrument is not None and sample.instrument != self.instrument:
            share = rules.number("nuisance", "instrument_gain")
            watch.blur((share * np.maximum(watch.c, 0.0)) ** 2)
        spent = rules.number("fresh", "additive_spent")
        watch.blur(np.where(self.additive, (spent * watch.c) ** 2, 0.0))
        reading, variance = self._readings(sample, observed)
        other = self._poured(reading, variance)
        odd = other is not None or self._odd_oil(reading, variance)
        self._find_additives(reading, variance)
        foreign = self.additive.copy()
        if other is not None:
            foreign[other.moved] = True
        judged = np.where(foreign, np.nan, reading) if odd else reading
        gain = rules.number("nuisance", "sample_gain") * np.maximum(watch.c, 0.0)
        surprise = watch.expect(judged, variance, gain)
        tasted = watch.foretaste(surprise)
        weights = weigh(watch, self.normal, self._shares(), self.mass, rules, tasted)
        gained = weights.log_total - self.log_total
        # where the additives already tell of another oil, a fault that nobody has seen yet is no explanation
        density = surprise.log_density + (min(gained, 3.0) if odd else gained)
        oil, share = (other.name, other.share) if other is not None else ("", 0.0)
        return Appraisal(
            reading, variance, judged, odd, gain, surprise, tasted, weights, density, foreign=foreign, oil=oil,
            oil_share=share,
        )  # fmt: skip

    def _without_wild(self, seen: Appraisal, observed: Mapping[str, noise.Observed]) -> Appraisal:
        """The sample without one reading that is likelier a bad burn or a slip of the pen than anything in the engine.

        What the same element says twice in a row is no slip."""
        number, surprise = self.rules.number, seen.surprise
        before, self.wild_before = self.wild_before, None
        if seen.odd:
            return seen
        may = self._foretold(seen.judged, observed)
        if before is not None:
            may[before] = False
        if not may.any():
            return seen
        inverse = surprise.white.T @ surprise.white
        pull, own = inverse @ surprise.difference, inverse.diagonal()
        share, least = self.rules.pair("bottle", "spread")
        width = (share * np.abs(self.watch.c) + least)[:, None] ** 2 * _WILD_WIDTHS
        gain = 0.5 * width * pull[:, None] ** 2 / (1.0 + width * own[:, None])
        gain = (gain - 0.5 * np.log1p(width * own[:, None])).max(axis=1)
        worth = np.where(may, gain + math.log(number("bottle", "wild") / len(may)), -np.inf)
        i = int(np.argmax(worth))
        alone = surprise.log_density + worth[i]
        if alone <= seen.log_density or alone <= self._log_large(seen):
            return seen
        self.wild_before = i
        judged = seen.judged.copy()
        judged[i] = np.nan
        left = self.watch.expect(judged, seen.variance, seen.gain)
        tasted = self.watch.foretaste(left)
        weights = weigh(self.watch, self.normal, self._shares(), self.mass, self.rules, tasted)
        density = left.log_density + weights.log_total - self.log_total
        return replace(
            seen, judged=judged, surprise=left, tasted=tasted, weights=weights, log_density=density, wild=i
        )

    def _foretold(self, reading: Array, observed: Mapping[str, noise.Observed]) -> NDArray[np.bool_]:
        """Readings of which is known what they should be: of wear from this engine's history, of an additive from the
        oil's record; nothing is odd before."""
        oil = self.fleet.oils.get(self.oil)
        listed = oil.fresh_ppm if oil else {}
        old_enough = self.history >= _MILESTONES[0]
        return np.array([
            np.isfinite(reading[i]) and not observed[element].qualifier
            and (element in listed if self.additive[i] else old_enough)
            for i, element in enumerate(self.elements)
        ], dtype=bool)  # fmt: skip

    def _find_additives(self, reading: Array, variance: Array) -> None:
        """An oil whose record is blank shows in its first sample what it holds."""
        least = self.rules.number("fresh", "additive_from_ppm")
        for i, element in enumerate(self.elements):
            new = not self.additive[i] and reading[i] > least and self._unlisted(i)
            if new and ((self.oil, element) not in self.spread.oils or not self.oil):
                self.additive = self.additive | (np.arange(len(self.elements)) == i)
                self.watch.anchor(np.arange(len(self.elements)) == i, reading, variance)

    def _take(
        self, sample: Sample, observed: Mapping[str, noise.Observed], walked: Walked, seen: Appraisal, refuted: bool
    ) -> Look:
        """Decides whether the sample is this engine's, learns from it and hands out the look."""
        watch = self.watch
        self.instrument = sample.instrument
        units = watch.units.copy()
        self.cc_before = watch.cc
        without = watch.c - walked.expected_mg / self.mass
        foreign = self._log_foreign(seen)
        bottle = self.bottles < 2 and foreign > seen.log_density and foreign > self._log_large(seen)
        surprise, evidence = seen.surprise, seen.weights.gathered()
        fault_before, total_before = self.fault, self.log_total
        settled: float | None = None
        if bottle:
            if seen.odd:
                self._settle_odd_oil(seen)
            evidence = weigh(watch, self.normal, self._shares(), self.mass, self.rules).gathered()
        else:
            jumped = float(evidence.probability.sum()) - fault_before > self.rules.number("bottle", "doubt_from")
            # what cannot be another engine's needs no state without it
            if (jumped or evidence.innocent > 0.5) and foreign > -math.inf:
                self.fork = Fork(watch.copy(), foreign, total_before, fault_before)
                self.fork_main = seen.log_density
            self._settle_odd_oil(seen)
            watch.take(surprise, seen.tasted)
            settled = self._settle(evidence)
            if settled is None:
                watch.hold(evidence.passing)
            self._learn_oil(seen)
        self.bottles = self.bottles + 1 if bottle else 0
        self.fault = float(evidence.probability.sum())
        self.log_total = evidence.log_total if settled is None else settled
        self.extra = evidence.extra
        if float(evidence.probability.sum()) < self.rules.number("table", "look_least"):
            self.found_sound.clear()
        look = self._as_look(sample, observed, walked, seen, evidence, without, bottle, fault_before, refuted)
        if not bottle:
            if evidence.teaches and not walked.run_in and not self._again:
                self._learn_spread(look, units)
            self._learn(look, walked.run_in, sample, seen.variance)
        return look

    def _as_look(
        self,
        sample: Sample,
        observed: Mapping[str, noise.Observed],
        walked: Walked,
        seen: Appraisal,
        evidence: Evidence,
        without: Array,
        bottle: bool,
        fault_before: float,
        refuted: bool,
    ) -> Look:
        watch = self.watch
        left, doubt = (walked.carry_over, "") if bottle or seen.odd else self._left(seen, walked.carry_over)
        shed = np.where(np.isfinite(seen.reading), seen.reading - without, np.nan) * self.mass
        interval = Interval(
            walked.hours,
            self.mass,
            shed,
            np.sqrt(np.maximum(seen.surprise.covariance.diagonal(), 0.0)) * self.mass,
            walked.expected_mg,
            np.sqrt(np.maximum(walked.variance_mg2, 0.0)),
            left,
            walked.run_in,
            walked.leaded,
        )
        wild = self.elements[seen.wild] if seen.wild is not None else ""
        oil = (seen.oil or self._nearest_oil(seen.reading)[0]) if seen.odd or bottle else ""
        unknowns = (*self.time.unknowns, doubt) if doubt else self.time.unknowns
        if self.lead_unsaid and walked.leaded:
            unknowns = (*unknowns, "the fuel: none is on record, and so much lead at the start is taken for the fuel's")
        if wild:
            reading = f"{observed[wild].ppm:.3g} ppm"
            doubt = f"{wild} was read as {reading}, alone and far from the rest: measure the bottle again"
            unknowns = (*unknowns, doubt)
        return Look(
            sample, self.sources, observed, seen.surprise, interval, evidence, self.normal, watch.rate.copy(),
            np.sqrt(np.maximum(watch.rate_covariance.diagonal(), 0.0)), self.prior, self.history, dict(self.ceiling),
            bool(self.ceiling), oil, unknowns, self.additive.copy(), bottle, fault_before > 0.5, refuted, wild,
            bool(self.lead_unsaid),
        )  # fmt: skip

    def _left(self, seen: Appraisal, prior: float | None) -> tuple[float | None, str]:
        """Share of old oil that the last drain left, by the additives where the oil changed; what is odd in it."""
        drained = self.drained
        if drained is None:
            return prior, ""
        tracers = np.asarray(self.additive & self.made_of & np.isfinite(seen.reading), dtype=bool)
        spent = self.rules.number("fresh", "additive_spent") * np.maximum(drained.old, drained.fresh)
        error = np.sqrt(seen.variance + drained.fresh_sd**2 + spent**2)
        measured = from_tracers(np.where(tracers, seen.reading, np.nan), drained.old, drained.fresh, error)
        if measured is None:
            return prior, ""
        both = combine(drained.share, drained.error, measured)
        if not outside(drained.share, drained.error, measured):
            return both.share, ""
        share = min(max(measured.share, 0.0), 1.0)
        return share, (
            f"the additives say that {100 * share:.0f} % of the old oil stayed in, where such a drain leaves about "
            f"{100 * drained.share:.0f} %: was it drained as written, and with this oil?"
        )

    def _settle(self, evidence: Evidence) -> float | None:
        """A passing excess that is all but certain, with no fault in sight, becomes part of the state.

        Returns the log of all weights beside it, or None where nothing is as certain."""
        certain, no_fault = self.rules.pair("fault", "settled")
        if float(evidence.probability.sum()) > no_fault:
            return None
        for given in evidence.given:
            if given.probability > certain and self.watch.may_settle(given.column):
                self.watch.settle(given.column, given.scale)
                return weigh(self.watch, self.normal, self._shares(), self.mass, self.rules).log_total
        return None

    def _settle_odd_oil(self, seen: Appraisal) -> None:
        """Additives of another oil once may be the bottle; twice alike, they are what is in the sump."""
        mask = np.logical_and(seen.foreign, np.isfinite(seen.reading))
        if not seen.odd:
            self.odd_before, self.toward, self.drains_known = None, None, self.drains
            return
        toward = self._toward(seen, mask)
        known = self.odd_before
        if known is not None:
            apart = np.maximum(0.15 * np.maximum(np.abs(known), 20.0), 3.0 * np.sqrt(2.0 * seen.variance))
            if (np.abs(seen.reading - known) < apart)[mask].mean() > 0.7:
                self.watch.anchor(mask, seen.reading, seen.variance)
                self.watch.c = self.watch.c + np.where(mask, 0.0, toward)
                toward = np.zeros(len(toward))
        self.odd_before, self.toward = seen.reading.copy(), toward

    def _toward(self, seen: Appraisal, mask: NDArray[np.bool_]) -> Array:
        """From what the sump should hold to what it holds if the sample's other oil is in it [ppm]: the additives as
        they were read, and what the record of a known oil says of elements that were not judged."""
        toward = np.where(mask, seen.reading - self.watch.c, 0.0)
        name, share = (seen.oil, seen.oil_share) if seen.oil else self._nearest_oil(seen.reading)
        there, here = self.fleet.oils.get(name), self.fleet.oils.get(self.oil)
        if there is None or here is None:
            return toward
        for i in np.flatnonzero(~mask).tolist():
            new, old = there.fresh_ppm.get(self.elements[i]), here.fresh_ppm.get(self.elements[i])
            if new is not None and old is not None:
                toward[i] = share * (new - old)
        return toward

    def _may_leave_other_oil(self) -> None:
        """A drain after one sample of another oil: nobody knows whether it was in the sump, of which some stays."""
        if self.toward is not None:
            self.watch.c = self.watch.c + 0.5 * self.toward
            self.watch.cc = self.watch.cc + np.outer(0.5 * self.toward, 0.5 * self.toward)
            self.toward = None

    def _learn_oil(self, seen: Appraisal) -> None:
        if not self.oil or seen.odd or self._again:
            return
        for i in np.flatnonzero(np.isfinite(seen.reading)).tolist():
            element = self.elements[i]
            if self._unlisted(i):
                self.spread.learn_oil(self.oil, element, max(float(self.watch.c[i]), 0.0))

    def _poured(self, reading: Array, variance: Array) -> Poured | None:
        """Which other oil of the bench file the sample's additives are, coolant and dust being its rivals."""
        c = self.watch.c
        told = np.logical_and(self.oil_tells, np.sqrt(self.watch.cc.diagonal()) < 0.3 * np.abs(c) + 5.0)
        outside = np.array([kind in (DUST, COOLANT) for kind in self.sources.kinds], dtype=bool)
        share, least, gain = (self.rules.number("bottle", f"oil_{name}") for name in ("share", "least", "gain"))
        return poured(
            self.elements, self.fleet.oils, self.oil, reading, variance, c, told, self.sources.fractions[:, outside],
            Error(share, least), gain, self.drains > self.drains_known,
        )

    def _odd_oil(self, reading: Array, variance: Array) -> bool:
        """Whether the additives say that this is not the oil that should be in the sump.

        Only what oils are made of counts: sodium, potassium, boron and silicon are coolant and sealant as well."""
        mask = self.additive & np.isfinite(reading) & self.made_of
        count = int(mask.sum())
        if count < 2:
            return False
        pick = np.ix_(mask, mask)
        common = self.rules.number("nuisance", "sample_gain") * self.watch.c[mask]
        covariance = self.watch.cc[pick] + np.diag(variance[mask]) + np.outer(common, common)
        difference = (reading - self.watch.c)[mask]
        weighted = np.linalg.solve(covariance, difference)
        chi_square = float(difference @ weighted)
        limit = count + 8.0 * math.sqrt(2.0 * count) + 10.0
        if chi_square <= limit:
            return False
        # coolant and dust bring boron, phosphorus or calcium too: what one of them explains is no other oil
        for j, kind in enumerate(self.sources.kinds):
            if kind in (DUST, COOLANT):
                column = self.sources.fractions[mask, j]
                scale, along = float(column @ np.linalg.solve(covariance, column)), float(column @ weighted)
                if scale > 1e-12 and along > 0 and chi_square - along**2 / scale <= limit:
                    return False
        return True

    def _nearest_oil(self, reading: Array) -> tuple[str, float]:
        """Which oil of the bench file the additives of a sample come nearest to, or 'another oil', and its part."""
        additives = np.where(self.additive, reading, np.nan)
        return nearest(self.elements, self.fleet.oils, self.oil, additives, self.watch.c)

    def _log_foreign(self, seen: Appraisal) -> float:
        """Log density of a sample, chance included, if it is not of this engine's oil at all (mixed, swapped)."""
        read = np.isfinite(seen.judged)
        beyond = np.abs(seen.surprise.difference) > 3.0 * np.sqrt(seen.surprise.covariance.diagonal())
        if int((read & beyond & self.made_of).sum()) < 2 and not seen.odd:
            return -math.inf  # one element that is off is no proof of another engine's bottle
        share, least = self.rules.pair("bottle", "spread")
        wide = (share * np.abs(self.watch.c)) ** 2 + least**2
        best = -math.inf
        for times in (1.0, 6.0, 30.0):
            root = np.linalg.cholesky(seen.surprise.covariance + np.diag(np.where(read, wide * times**2, 0.0)))
            scaled = np.linalg.solve(root, seen.surprise.difference)
            logdet = 2.0 * float(np.sum(np.log(root.diagonal())[read]))
            best = max(best, -0.5 * (float(scaled @ scaled) + logdet))
        chance = self.rules.number("bottle", "odd" if seen.odd else ("again" if self.bottles else "chance"))
        return math.log(chance) + best

    def _log_large(self, seen: Appraisal) -> float:
        """Log density of a sample, chance included, if one source has shed very much in this interval.

        Very much of an alloy is never exactly the table's composition: the tolerance grows with the amount, which the
        filter's fixed directions do not know. Without it a large fault would pass for another engine's bottle."""
        if seen.odd:
            return -math.inf
        number, sources = self.rules.number, self.sources
        surprise = seen.surprise
        read = np.isfinite(seen.judged)
        hours = float(max(self.watch.span_h[self.watch.current], 0.2))
        life = self.watch.age_h[[self.watch.whole, self.watch.current]]
        often = faults_per_hour(float(life[0] - life[1]), self.rules, np.array(sources.kinds) != WEAR)
        white = surprise.white @ np.where(read[:, None], sources.fractions, 0.0)
        along, strength = (surprise.white @ surprise.difference) @ white, np.sum(white**2, axis=0)
        best = -math.inf
        for j in np.flatnonzero((along > 0) & (strength > 0)).tolist():
            amount = float(along[j] / strength[j])
            column = sources.fractions[:, j]
            tolerance = sources.tolerance[:, j] + number("spread", "composition") * column
            covariance = surprise.covariance + np.outer(column, column) * amount**2
            covariance = covariance + np.diag(np.where(read, (tolerance * amount) ** 2, 0.0))
            root = np.linalg.cholesky(covariance)
            scaled = np.linalg.solve(root, surprise.difference)
            logdet = 2.0 * float(np.sum(np.log(root.diagonal())[read]))
            chance = float(often[j]) * hours * float(sources.weight[j])
            best = max(best, math.log(max(chance, 1e-300)) - 0.5 * (float(scaled @ scaled) + logdet))
        return best

    def _learn_spread(self, look: Look, units: Array) -> None:
        surprise = look.surprise
        seen = np.array([e in look.observed and not look.observed[e].qualifier for e in self.elements], dtype=bool)
        names, squares, rest, method = [], [], [], []
        factors = self.spread.noise_factors(look.sample.instrument, self.elements).tolist()
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
            now = own * factors[i]
            names.append(element)
            squares.append(difference**2)
            rest.append(max(surprise.covariance[i, i] - now, 0.2 * own) if not one.qualifier else
                        max(self.cc_before[i, i], 0.2 * own))
            method.append(own)
        if names:
            self.spread.learn_noise(
                look.sample.instrument, names, np.array(squares), np.array(rest), np.array(method)
            )
        wear = seen & ~np.asarray(self.additive, dtype=bool)
        if look.interval.hours > 0 and wear.any():
            pick = np.ix_(wear, wear)
            others = surprise.covariance[pick] - per_spread(self._spreads(), units)[pick]
            self.spread.learn(surprise.difference[wear], others, units[0][pick], units[1][pick])

    def _teach_spread(self) -> None:
        """How far this engine is from what its family foretold teaches how much engines differ."""
        known = ~np.asarray(self.additive, dtype=bool)
        pick = np.ix_(known, known)
        precision = np.linalg.inv(self.watch.rate_covariance[pick])
        own = precision - self.told.precision[pick]
        pull = precision @ self.watch.rate[known] - self.told.pull[known]
        values, vectors = np.linalg.eigh((own + own.T) / 2.0)
        kept = values > 1e-9 * max(float(values.max(initial=0.0)), 1e-300)
        own = (vectors[:, kept] * values[kept]) @ vectors[:, kept].T
        pull = vectors[:, kept] @ (vectors[:, kept].T @ pull)
        found = np.zeros((4, 4))
        mean = family_mean(self.elements, self.family_history, self.key, self.floor)
        for a, b, common, each in self.spread.engines.pairs():
            prior = self._prior_about(mean, common, each)
            between = prior.covariance[pick]
            middle = np.eye(len(own)) + between @ own
            away = pull - own @ prior.rate[known]
            found[a, b] = 0.5 * float(away @ np.linalg.solve(middle, between @ away))
            found[a, b] -= 0.5 * float(np.linalg.slogdet(middle)[1])
        self.spread.engines.learn(self.key, found)

    def _learn(self, look: Look, run_in: bool, sample: Sample, reading_variance: Array) -> None:
        if sample.break_in:
            self.ceiling_drains = self.drains
            for element, one in look.observed.items():
                known = self.ceiling.get(element)
                if known is None or one.ppm > known.ppm:
                    self.ceiling[element] = one
        variance = np.where(self.additive, 1e9, self.watch.rate_covariance.diagonal())
        self.normal = share_out(self.watch.rate, variance, self.sources.fractions, self.prior.shares)
        self._unit_cache = None
        self._loosen("drift", math.sqrt(min(look.interval.hours / 4.0, 4.0)))
        if run_in or look.interval.hours <= 0 or not look.evidence.teaches:
            return
        self.history += 1
        if self.history == _MILESTONES[0] and self.renewed_h is None and not self._again:
            self._teach_amplitudes()
        if self.history in _MILESTONES and self.prior.builds and not self._again:
            self._teach_spread()
        if self.family_history is not None and not self._again:
            noise_mg2 = reading_variance * look.interval.mass_kg**2
            self.family_history.learn(
                self.key, self.elements, look.interval.shed_mg, noise_mg2, look.interval.hours
            )


def measured_elements(samples: Sequence[Sample], rules: Rules, known: Collection[str] = ()) -> tuple[str, ...]:
    """Elements read in these samples or `known`, in the library's order; what is the oil itself is left out.

    Iron where none was read yet, so that there is always something to expect."""
    read = {reading.measurand for sample in samples for reading in sample.readings}.union(known)
    found = tuple(symbol for symbol, one in rules.elements.items() if symbol in read and one.role != "matrix")
    return found or ("Fe",)
