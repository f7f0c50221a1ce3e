"""The walk of one build from sample to sample: runs, drains, top-ups, changes, and what was found inside."""

from __future__ import annotations

import copy
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.records import Change, Finding
from benchapp.wear.elements import Followed
from benchapp.wear.expected import News, RatePrior, interval_units
from benchapp.wear.fading import COPPER, RUN_IN, SEALANT
from benchapp.wear.findings import SOUND, cleared_by
from benchapp.wear.look import Drained, Walked
from benchapp.wear.noise import Observed
from benchapp.wear.oil_book import OilBook
from benchapp.wear.rules import Rules
from benchapp.wear.sources import Sources
from benchapp.wear.sump_oil import SumpOil
from benchapp.wear.timeline import ChangeStep, DrainStep, FindingStep, RunStep, Step, TopUpStep
from benchapp.wear.watch import Watch

Array = NDArray[np.float64]

_ASSEMBLY_LUBE = ("Mo", "Zn", "P")


@dataclass(slots=True)
class Standing:
    """Where a build stands: all that a walk from one sample to the next changes. With doubt about a sample, two are
    walked."""

    watch: Watch
    oil: SumpOil
    mass: float
    """Oil in the sump [kg]."""
    lead_fills: int = -1
    """Fills since leaded fuel was burnt last; below zero where it never was."""
    lead_h: float = 0.0
    """Running hours since then [h]."""
    log_total: float = 0.0
    """Log of the weights of all hypotheses against "nothing is wrong", at the last sample."""
    fault: float = 0.0
    """Probability of a fault at the last sample [-]."""
    suspected: int = 0
    """Samples in a row, up to the last one, in which a fault was likelier than not."""
    found_sound: frozenset[str] = frozenset()
    """Parts found sound since something was suspect."""
    renewed_h: float | None = None
    """Build hours at which a part was changed last [h]."""
    lead_unsaid: bool | None = None
    """Whether lead is taken for fuel's though no fuel is on record; None before a sample has told."""
    fuel_unsaid: bool = True
    """Whether no fuel is on record for any session so far."""

    def before_walk(self) -> Standing:
        """One to come back to, but for the watch, which walks on: who comes back brings another."""
        return replace(self, oil=self.oil.copy())

    def __deepcopy__(self, memo: object) -> Standing:
        return replace(self, watch=self.watch.copy(), oil=self.oil.copy())


@dataclass(frozen=True, slots=True)
class About:
    """What is known beside the build while it walks from one sample to the next."""

    book: OilBook
    prior: RatePrior
    """What the family says of the build's rates."""
    spreads: Array
    """How much sessions and sources vary (severity, source), as the bench has it."""
    history: int
    """Healthy intervals of the build so far."""


class Walk:
    """One build on its way. `now` is where it stands; `normal` and `extra` change at samples only."""

    def __init__(
        self, followed: Followed, sources: Sources, floor: float, rules: Rules, now: Standing, normal: Array
    ) -> None:
        """`floor`: smallest rate that is spoken of [mg/h]; `normal`: rate per source [mg/h]."""
        self.followed, self.sources, self.floor, self.rules = followed, sources, floor, rules
        self.now = now
        self.normal = normal
        self.extra = np.zeros(len(sources.names))
        """What each source shed beside its normal at the last sample, were it at fault [mg/h]."""
        self._unit_cache: Array | None = None

    def __deepcopy__(self, memo: object) -> Walk:
        """One that goes on by itself; arrays are never written into, only replaced: they are shared."""
        other = copy.copy(self)
        other.now = copy.deepcopy(self.now)
        return other

    def stand(self, at: Standing) -> None:
        """Goes on from there."""
        self.now, self._unit_cache = at, None

    def settle_normal(self, normal: Array) -> None:
        """What is normal from now on, per source [mg/h]."""
        self.normal, self._unit_cache = normal, None

    def hear(self, news: News) -> None:
        """What the family has learned is told to the filter."""
        watch = self.now.watch
        moved = (news.rows * watch.loosened) @ news.rows.T
        watch.hear(news.rows, news.value, np.diag(news.variance) + moved)
        self._unit_cache = None

    def on(self, steps: Sequence[Step], about: About) -> Walked:
        """Walks over the steps between two samples."""
        watch, count = self.now.watch, len(self.followed.names)
        hours, carry, run_in, leaded = 0.0, None, False, False
        expected, variance = np.zeros(count), np.zeros(count)
        worn: list[str] = []
        watch.begin_interval(about.history)
        self.now.oil.drained = None
        for step in steps:
            if isinstance(step, RunStep):
                before = watch.c.copy()
                self._run(step, about)
                expected += (watch.c - before) * step.mass_kg
                each = (about.spreads**2) @ np.diagonal(self._units(), axis1=1, axis2=2)
                variance += (watch.rate_covariance.diagonal() + each) * step.hours**2
                hours += step.hours
                self.now.mass = step.mass_kg
                run_in = run_in or step.start_h < self.rules.number("run_in", "history_from_h")
                leaded = leaded or self.now.lead_fills >= 0
            elif isinstance(step, DrainStep):
                carry = carry if step.first else step.share
                self._drain(step, about.book)
            elif isinstance(step, TopUpStep):
                watch.dilute(step.share, *about.book.fresh(step.oil))
                self.now.oil.drained = None  # the top-up has thinned what the drain left
            elif isinstance(step, ChangeStep):
                self._change(step.change)
            elif isinstance(step, FindingStep):
                worn += self._find(step.finding)
        closed = not any(isinstance(step, DrainStep | TopUpStep) for step in steps)
        return Walked(hours, expected, variance, carry, run_in, leaded, tuple(worn), closed)

    def _run(self, step: RunStep, about: About) -> None:
        shed = np.diag(np.full(len(self.followed.names), self.floor**2))
        excess = self._run_in_excess(step)
        if excess > 1e-3:
            prior = about.prior
            columns = self.sources.fractions * (self.rules.number("run_in", "part") * excess * prior.shares)
            shed += columns @ columns.T + np.diag((0.5 * excess * np.maximum(prior.rate, 0.0)) ** 2)
        self._burn(step, shed)
        watch = self.now.watch
        watch.run(step.start_h, step.hours, step.mass_kg, shed, self._units(), about.spreads, step.hardness)

    def _units(self) -> Array:
        if self._unit_cache is None:
            self._unit_cache = np.array(interval_units(self.sources, self.now.watch.rate, self.normal))
        return self._unit_cache

    def _run_in_excess(self, step: RunStep) -> float:
        """What run-in sheds in a step beside the settled rate, as a multiple of it [-].

        Run-in differs from part to part: the decaying amplitudes are common, their spread is not."""
        watch, renewed_h, excess = self.now.watch, self.now.renewed_h, 0.0
        for i, n in enumerate(watch.nuisances):
            if n.name == RUN_IN:
                amplitude = max(n.mean, float(watch.theta[watch.count + i]))
                excess += amplitude * n.mean_profile(step.start_h, step.hours)
        if renewed_h is not None:
            # new parts run in again, and nobody knows how much
            since, hours = step.start_h - renewed_h, self.rules.number("run_in", "second_h")
            excess += self.rules.pair("run_in", "second")[0] * math.exp(-max(since, 0.0) / hours)
        return excess

    def _burn(self, step: RunStep, shed: Array) -> None:
        """Lead of the fuel, into what a step sheds (its covariance, [mg²/h²]); some of it stays through drains."""
        now = self.now
        leaded = now.lead_unsaid if step.leaded is None else step.leaded
        now.fuel_unsaid &= step.leaded is None
        if leaded:
            now.lead_fills, now.lead_h = 0, 0.0
        else:
            now.lead_h += step.hours
        if now.lead_fills >= 0 and "Pb" in self.followed.names:
            i = self.followed.names.index("Pb")
            share = 1.0 if leaded else self._lead_left()
            shed[i, i] += (self.rules.number("nuisance", "lead_ppm_h") * share * step.mass_kg) ** 2

    def _lead_left(self) -> float:
        """What still comes of lead after the last leaded fuel, as a share of what came with it [-]: what old oil holds
        goes with the drains, what has settled in the engine washes out with hours."""
        stays, wash_h = self.rules.pair("nuisance", "lead_stays")
        return float(0.4**self.now.lead_fills + stays * math.exp(-self.now.lead_h / wash_h))

    def _drain(self, step: DrainStep, book: OilBook) -> None:
        now = self.now
        hides = now.oil.renew(step.fill.oil, book)
        if hides.any():
            # of what an oil hides no rate can be told any more
            now.watch.silence(hides, self.floor)
            self._unit_cache = None
        fresh, sd = book.fresh(step.fill.oil)
        now.oil.pour(fresh, now.watch.now_h)
        if step.first:
            self._first_fill(fresh, sd, book)
            return
        # two drains in one interval leave shares that no sample can tell apart
        now.oil.drain_other(now.watch)
        left = Drained(now.watch.c.copy(), fresh, sd, step.share, step.error)
        now.oil.drained = left if step.changed_oil else None
        lasting = self._oil_differs(fresh, book)
        if step.changed_oil:
            now.watch.new_oil(lasting)
        else:
            now.watch.same_oil(self.rules.number("fresh", "another_batch") * lasting)
        now.watch.drain(step.share, step.error, fresh, sd)
        if now.lead_fills >= 0:
            now.lead_fills += 1
        if step.changed_oil:
            self.loosen("drift")

    def _first_fill(self, fresh: Array, sd: Array, book: OilBook) -> None:
        """A dry engine is filled: nothing of before is in it but assembly lube."""
        watch = self.now.watch
        lube = self.rules.number("nuisance", "assembly_ppm") ** 2
        watch.new_oil(self._oil_differs(fresh, book))
        watch.first_fill(fresh, sd**2 + sum(lube * self.followed.pure(element) for element in _ASSEMBLY_LUBE))

    def _oil_differs(self, fresh: Array, book: OilBook) -> Array:
        """By how much an oil may hold more or less than is known of it, at every change alike [ppm]; of what it hides
        nothing is asked."""
        share, least = self.rules.pair("fresh", "differs")
        sure = np.where(book.borne_out(self.now.oil.name, fresh), self.rules.number("fresh", "borne_out"), 1.0)
        return np.where(self.now.oil.additive, 0.0, sure * (share * fresh + least))

    def _change(self, change: Change) -> None:
        watch = self.now.watch
        if change.kind == "part":
            self.now.renewed_h = change.build_h
            cooler = "cooler" in change.notes.lower()
            for i, n in enumerate(watch.nuisances):
                if n.name in (SEALANT, COPPER):
                    sd = n.sd
                    if n.name == COPPER and cooler:
                        sd = self.rules.number("nuisance", "leaching_new_ppm_h") * self.now.mass
                    watch.nuisances[i] = replace(n, since_h=change.build_h)
                    watch.tt[watch.count + i, watch.count + i] += sd**2
        self.loosen("change")

    def loosen(self, name: str, times: float = 1.0) -> None:
        """Rates may have moved, by a share of them that is `times` the table's for `name`."""
        share, watch = self.rules.number("spread", name) * times, self.now.watch
        watch.loosen((share * np.maximum(watch.rate, self.floor)) ** 2)

    def _find(self, finding: Finding) -> list[str]:
        """Parts found sound clear their source; one found worn out or damaged makes its like in the family suspect
        (returned).

        Dust or coolant that was found is this engine's alone and makes no other suspect."""
        now = self.now
        if finding.condition not in SOUND:
            now.found_sound -= {finding.part}
            return [finding.part]
        now.found_sound |= {finding.part}
        for source in cleared_by(finding.part, now.found_sound, self.sources):
            more = max(float(self.normal[source]), float(self.extra[source]), self.floor)
            now.watch.clear(source, more)
            self._unit_cache = None
        return []

    def ask_lead(self, walked: Walked, steps: Sequence[Step], lead: Observed | None) -> Walked:
        """Where no fuel is on record, so much lead in a build's first sample is taken for the fuel's.

        No bearing that runs sheds as much; one that comes apart in its first hours would be hidden, which is said."""
        now = self.now
        if now.lead_unsaid is not None or lead is None or walked.hours <= 0:
            return walked
        unsaid = all(step.leaded is None for step in steps if isinstance(step, RunStep))
        per_hour, least = self.rules.pair("nuisance", "lead_unsaid")
        now.lead_unsaid = unsaid and lead.ppm >= max(least, per_hour * walked.hours)
        if not now.lead_unsaid:
            return walked
        now.lead_fills = 0
        sd = self.rules.number("nuisance", "lead_ppm_h") * walked.hours
        now.watch.blur(self.followed.pure("Pb") * sd**2)
        return replace(walked, leaded=True)
