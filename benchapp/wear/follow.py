"""Follows one build through its steps and hands out, sample by sample, everything a call is made of.

Here is in which order a sample is looked at, doubted and learned from; `walk` is the way from one to the next."""

from __future__ import annotations

import copy
import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from benchapp.records import Build, Engine, Family, Fleet, Sample
from benchapp.wear.appraise import Appraiser
from benchapp.wear.believed import in_the_sump, not_believed, of_another, without_dregs, without_wild
from benchapp.wear.doubts import off
from benchapp.wear.elements import followed, measured_elements
from benchapp.wear.evidence import Evidence
from benchapp.wear.expected import FamilyHistory, RatePrior, share_out
from benchapp.wear.fading import first_guesses, harmless_of, nuisances_of
from benchapp.wear.findings import SOUND, fault_shares, part_named
from benchapp.wear.fork import Fork, doubted, fork_at
from benchapp.wear.from_family import FromFamily
from benchapp.wear.gauge import Gauge
from benchapp.wear.hypotheses import Origins
from benchapp.wear.look import Appraisal, Before, Look, Walked, interval_of
from benchapp.wear.noise import Observed
from benchapp.wear.oil_book import OilBook
from benchapp.wear.readings import observed_in
from benchapp.wear.rules import Rules, least_for_a_look
from benchapp.wear.sources import COOLANT, DUST, LEACHING, build_sources
from benchapp.wear.spread import Spread
from benchapp.wear.sump_oil import SumpOil
from benchapp.wear.teaching import (
    MILESTONES,
    teach_amplitudes,
    teach_engines,
    teach_fall,
    teach_family,
    teach_level,
    teach_oil,
    teach_scatter,
)
from benchapp.wear.timeline import FindingStep, RunStep, SampleStep, Step, Timeline, timeline
from benchapp.wear.walk import About, Standing, Walk
from benchapp.wear.watch import Watch

Array = NDArray[np.float64]

_SHARED = frozenset({
    "fleet", "engine", "build", "rules", "family", "time", "followed", "sources", "rivals", "guesses", "gauge",
    "family_history", "last",
})  # fmt: skip
"""What copies of a follower have in common."""


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
        self._at = 0
        self._again = False
        """Whether samples are walked once more that have taught their lesson already."""
        self._measure(measured_elements(build.samples[:1], rules))
        self.reset()

    # --- set-up

    def _measure(self, elements: tuple[str, ...]) -> None:
        """Which elements are followed: those read so far. What is not read yet belongs to the future."""
        self.followed = followed(elements, self.rules)
        self.sources = build_sources(self.build.parts, self.fleet.materials, elements, self.rules)
        outside = np.array([kind in (DUST, COOLANT) for kind in self.sources.kinds], dtype=bool)
        self.rivals = self.sources.fractions[:, outside]
        """What may bring an oil's elements and is no oil: elements × dusts and coolants."""

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
        self.instrument: str | None = None
        floor = self.rules.number("spread", "floor_ppm_h") * self.time.mass_kg
        oils = frozenset(fill.oil for fill in self.build.fills[:1])
        oil = SumpOil("", oils, self._oil_book().additives(oils))
        self.word = FromFamily(self.family_history, self.key, self.sources, floor, self.rules)
        self.word.begin(self.time.mass_kg, oil.additive, self.spread.engines)
        self.guesses = first_guesses(self.spread.amplitudes, LEACHING in self.sources.kinds, self.rules)
        prior = self.word.prior
        now = Standing(self._new_watch(prior), oil, self.time.mass_kg)
        self.walk = Walk(self.followed, self.sources, floor, self.rules, now, prior.shares)
        self.history = 0
        self.ceiling: dict[str, Observed] = {}
        """What break-in samples read over what their new oil held."""
        self.ceiling_drains = -1
        """Oil changes until the latest break-in sample."""
        self.bottles = 0
        self.fork: Fork | None = None
        self.last: Look | None = None
        """At the sample before."""
        self._at = 0

    def _new_watch(self, prior: RatePrior) -> Watch:
        rules, kinds = self.rules, self.sources.kinds
        origins = Origins(
            self.sources.fractions,
            leak=np.array([kind == COOLANT for kind in kinds], dtype=bool),
            breathed=np.array([kind == DUST for kind in kinds], dtype=bool),
            harmless=harmless_of(self.followed, rules),
        )
        nuisances = nuisances_of(self.guesses, prior.rate, self.followed, self.time.mass_kg, rules)
        return Watch(prior.rate, prior.covariance, nuisances, origins, int(rules.number("fault", "onsets")))

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

    # --- what stands now

    @property
    def key(self) -> tuple[str, str]:
        return self.engine.name, self.build.number

    @property
    def elements(self) -> tuple[str, ...]:
        """The elements that are followed: those read so far."""
        return self.followed.names

    @property
    def walked(self) -> int:
        """Steps of `time` that are behind."""
        return self._at

    @property
    def now(self) -> Standing:
        return self.walk.now

    @property
    def watch(self) -> Watch:
        return self.now.watch

    @property
    def mass(self) -> float:
        """Oil in the sump [kg]."""
        return self.now.mass

    @property
    def additive(self) -> NDArray[np.bool_]:
        """Elements that the oil itself holds so much of that wear does not show in them, as a mask."""
        return self.now.oil.additive

    @property
    def drains(self) -> int:
        """Oil changes so far."""
        return self.now.oil.drains

    def _oil_book(self) -> OilBook:
        spread = self.spread
        return OilBook(self.followed, self.fleet.oils, spread.oils, self.rules, spread.in_use, self.instrument or "")

    def _against(self) -> Appraiser:
        """What holds samples against what is known now."""
        shares = fault_shares(self.sources, self.family_history, self.rules)
        dusty = self.spread.dusty(*self.rules.pair("fault", "dusty"))
        return Appraiser(
            self.now, self.followed, self.sources, self.rivals, self.walk.normal, shares, dusty, self._oil_book(),
            self.rules,
        )  # fmt: skip

    # --- the walk

    def next_look(self) -> Look | None:
        """Walks to the next sample and looks at it; None after the last."""
        steps: list[Step] = []
        while self._at < len(self.time.steps):
            step = self.time.steps[self._at]
            self._at += 1
            if isinstance(step, SampleStep):
                known = self.elements if self.watch.slots.intervals else ()
                elements = measured_elements((step.sample,), self.rules, known)
                if not set(elements) <= set(self.elements):
                    self._grow(elements)
                look = self._look(step.sample, steps)
                self._find_at_the_end()
                return look
            steps.append(step)
        return None

    def _walk(self, steps: Sequence[Step]) -> Walked:
        about = About(self._oil_book(), self.word.prior, np.array(self.spread.both), self.history)
        walked = self.walk.on(steps, about)
        for part in walked.worn:
            self._teach_worn(part)
        self.spread.unleaded_said |= any(isinstance(step, RunStep) and step.leaded is False for step in steps)
        return walked

    def _find_at_the_end(self) -> None:
        """What was found worn after a build's last sample has no date: the family learns of it then.

        The build itself is not touched: with a further sample these steps are walked on the way to it."""
        rest = self.time.steps[self._at :]
        if not any(isinstance(step, SampleStep) for step in rest):
            for step in rest:
                if isinstance(step, FindingStep) and step.finding.condition not in SOUND:
                    self._teach_worn(step.finding.part)

    def _teach_worn(self, name: str) -> None:
        part = part_named(name, self.sources)
        if part is not None and self.family_history is not None and not self._again:
            self.family_history.found_worn(self.key, part.name, part.role or part.name)

    # --- a look at a sample

    def _look(self, sample: Sample, steps: Sequence[Step]) -> Look:
        self._hear_family()
        self.now.oil.hear(self.watch, self._oil_book())
        before = self.now.before_walk()
        instrument = self.fleet.instruments.get(sample.instrument)
        observed = observed_in(sample, instrument, self.gauge, self.spread, self.rules)
        walked, seen = self._walk_to(sample, observed, steps)
        refuted = ""
        if self.fork is not None:
            main, fork = self.now, self.fork
            self.walk.stand(fork.standing(before))
            walked_apart, apart = self._walk_to(sample, observed, steps)
            if fork.is_likelier(seen, apart):
                refuted = fork.said
                walked, seen, self.bottles = walked_apart, apart, fork.bottles
            else:
                self.walk.stand(main)
            self.fork = None
        against = self._against()
        return self._take(walked, self._as_far_as_believed(seen, against), against, refuted)

    def _walk_to(
        self, sample: Sample, observed: Mapping[str, Observed], steps: Sequence[Step]
    ) -> tuple[Walked, Appraisal]:
        """Walks to a sample from where the build stands, and holds the sample against what is known there."""
        walked = self.walk.ask_lead(self._walk(steps), steps, observed.get("Pb"))
        factors = self.spread.noise_factors(sample.instrument, self.elements)
        changed = self.instrument is not None and sample.instrument != self.instrument
        return walked, self._against().appraise(sample, observed, factors, instrument_changed=changed)

    def _as_far_as_believed(self, seen: Appraisal, against: Appraiser) -> Appraisal:
        """The sample without dregs and without a wild reading."""
        settled = self.history >= MILESTONES[0]
        seen = without_dregs(seen, against, self.last, settled=settled)
        return without_wild(seen, against, self.last, self.bottles, settled=settled)

    def _hear_family(self) -> None:
        """What the family has learned since this build began is told to its filter, as it comes."""
        news = self.word.news(self.time.mass_kg, self.additive, self.spread.engines)
        if news is not None:
            self.walk.hear(news)

    # --- what is made of it

    def _take(self, walked: Walked, seen: Appraisal, against: Appraiser, refuted: str) -> Look:
        """Decides whether the sample is this engine's, learns from it and hands out the look."""
        now, watch = self.now, self.watch
        self.instrument = seen.sample.instrument
        now.oil.sampled = True
        before = Before(watch.cc, watch.units.copy(), watch.c - walked.expected_mg / now.mass, now.fault)
        bottle, foreign = of_another(seen, against, self.bottles)
        poured = in_the_sump(seen, against, self.last) if bottle else None
        if poured is not None:
            bottle, seen = False, poured
        evidence = self._set_aside(seen, against) if bottle else self._believe(seen, against, foreign)
        self.bottles = self.bottles + 1 if bottle else 0
        self.walk.extra = evidence.extra
        if now.fault < least_for_a_look(self.rules):
            now.found_sound = frozenset()
        look = self._as_look(walked, seen, evidence, before, bottle, refuted)
        if not bottle:
            if evidence.teaches and not walked.run_in and not self._again:
                teach_scatter(self.spread, look, before, self.last.off if self.last else np.zeros(len(look.off)))
            elif walked.closed and self.last is not None and not self._again:
                teach_fall(self.spread, self.last, look)
            self._learn(look, seen)
            if not self._again:
                self.spread.learn_dust(look.evidence.dust_once, look.interval.hours)
        self.last = look
        return look

    def _set_aside(self, seen: Appraisal, against: Appraiser) -> Evidence:
        """The sample seems not to be of this engine's oil and teaches nothing."""
        now = self.now
        if seen.odd:
            now.oil.settle(seen, now.watch, against.book)
        evidence = against.weigh().gathered()
        now.fault, now.log_total = float(evidence.probability.sum()), evidence.log_total
        return evidence

    def _believe(self, seen: Appraisal, against: Appraiser, foreign: float) -> Evidence:
        """The sample is this engine's: the filter learns from it. Where there is doubt, the state without it is kept.

        `foreign`: log density of the sample if it is of another engine."""
        now, watch, book = self.now, self.watch, against.book
        evidence = seen.weights.gathered()
        self.fork = fork_at(seen, against, evidence, foreign, self.bottles)
        now.oil.settle(seen, watch, book)
        watch.take(seen.surprise, seen.tasted)
        settled = self._settle(evidence, against)
        if settled is None:
            watch.hold(evidence.passing)
        if not self._again:
            teach_oil(self.spread, now.oil.name, seen, watch.c, book)
        now.fault = float(evidence.probability.sum())
        now.suspected = now.suspected + 1 if now.fault > 0.5 else 0
        now.log_total = evidence.log_total if settled is None else settled
        return doubted(evidence, self.fork)

    def _settle(self, evidence: Evidence, against: Appraiser) -> float | None:
        """A passing excess that is all but certain, with no fault in sight, becomes part of the state.

        Returns the log of all weights beside it, or None where nothing is as certain."""
        certain, no_fault = self.rules.pair("fault", "settled")
        after_h = self.rules.number("fault", "settled_alike_h")
        if float(evidence.probability.sum()) > no_fault:
            return None
        for given in evidence.given:
            old = self.watch.age_of(given.column) > after_h
            if (given.alike if old else given.probability) > certain and self.watch.may_settle(given.column):
                self.watch.settle(given.column, given.scale)
                return against.weigh().log_total
        return None

    def _as_look(
        self, walked: Walked, seen: Appraisal, evidence: Evidence, before: Before, bottle: bool, refuted: str
    ) -> Look:
        now, watch, book = self.now, self.watch, self._oil_book()
        left, doubt = walked.carry_over, ""
        if not bottle and not seen.odd:
            left, doubt = now.oil.left(seen, walked.carry_over, book)
        oil = seen.other.name if seen.other is not None else ""
        if not oil and (seen.odd or bottle):
            oil = now.oil.nearest(seen.reading, watch.c, book)[0]
        wild = self.elements[seen.wild] if seen.wild is not None else ""
        return Look(
            sample=seen.sample,
            sources=self.sources,
            observed=seen.observed,
            surprise=seen.surprise,
            off=off(seen),
            interval=interval_of(walked, seen, before, now.mass, left),
            evidence=evidence,
            normal=self.walk.normal,
            rate=watch.rate.copy(),
            rate_sd=np.sqrt(np.maximum(watch.rate_covariance.diagonal(), 0.0)),
            prior=self.word.prior,
            history=self.history,
            ceiling=self._ceiling_now(),
            ceiling_own=bool(self.ceiling),
            other_oil=oil,
            unknowns=self._unknowns(walked, doubt, seen, wild, refuted),
            hidden=now.oil.additive,
            bottle=bottle,
            fault_before=before.fault > 0.5,
            refuted=bool(refuted),
            dregs=seen.dregs,
            wild=wild,
            suspected=now.suspected,
            fuel_unsaid=now.fuel_unsaid and self.spread.unleaded_said,
            lead_unsaid=bool(now.lead_unsaid),
        )

    def _unknowns(
        self, walked: Walked, doubt: str, seen: Appraisal, wild: str, refuted: str
    ) -> tuple[str, ...]:
        said = [*self.time.unknowns, doubt]
        if self.now.lead_unsaid and walked.leaded:
            said.append("the fuel: none is on record, and so much lead at the start is taken for the fuel's")
        said += self.now.oil.told_otherwise(self._oil_book())
        return tuple(one for one in (*said, *not_believed(seen, wild), refuted) if one)

    def _learn(self, look: Look, seen: Appraisal) -> None:
        """What the build itself, its family and the bench make of a sample that is this engine's."""
        if look.sample.break_in:
            self._raise_ceiling(look)
        watch, prior = self.watch, self.word.prior
        if not self._again and not seen.odd:
            teach_level(self.spread, self.engine.name, look, self.now, self._oil_book())
        variance = np.where(self.additive, 1e9, watch.rate_covariance.diagonal())
        self.walk.settle_normal(share_out(watch.rate, variance, self.sources.fractions, prior.shares))
        self.walk.loosen("drift", math.sqrt(min(look.interval.hours / 4.0, 4.0)))
        if look.interval.run_in or look.interval.hours <= 0 or not look.evidence.teaches:
            return
        self.history += 1
        if self._again:
            return
        if self.history == MILESTONES[0] and self.now.renewed_h is None:
            teach_amplitudes(self.spread.amplitudes, self.guesses, watch, self.time.mass_kg)
        if self.history in MILESTONES and prior.builds:
            teach_engines(self.spread, watch, self.word, self.time.mass_kg, self.additive)
        if self.family_history is not None:
            teach_family(self.family_history, self.key, look, seen.variance)

    def _raise_ceiling(self, look: Look) -> None:
        self.ceiling_drains = self.drains
        for element, one in look.observed.items():
            over = one.raised(-self._fresh_of(element))
            known = self.ceiling.get(element)
            if known is None or over.ppm > known.ppm:
                self.ceiling[element] = over

    def _ceiling_now(self) -> dict[str, Observed]:
        """What break-in reached, as it would read in the oil that is in now."""
        return {element: over.raised(self._fresh_of(element)) for element, over in self.ceiling.items()}

    def _fresh_of(self, element: str) -> float:
        """What the oil that is in held of an element when new [ppm]; what was not followed counts as none."""
        fresh = self.now.oil.fresh
        return float(fresh[self.elements.index(element)]) if fresh is not None and element in self.elements else 0.0
