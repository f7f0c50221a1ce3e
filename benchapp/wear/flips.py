"""Which uncertain input would change a call: the sample judged again with each input at its limits, one at a time.

The build is walked once to the sample. Inputs of the last interval or of the current fill are changed on a copy of what
was known before it; the sump (and the oil of a first fill) reaches further back, so for it the build is walked again.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from benchapp.records import Build, Engine, Fleet, Flip, Reading, Run, Sample
from benchapp.wear import oil_part, side_records
from benchapp.wear.decide import judgement
from benchapp.wear.follow import Follower
from benchapp.wear.gauge import Gauge
from benchapp.wear.judge import FamilyPriors
from benchapp.wear.look import Look
from benchapp.wear.rules import Rules
from benchapp.wear.timeline import SampleStep, Timeline, fill_of, sump_litres, timeline
from benchapp.wear.words import amount

HOURS_SHARE = 0.20
"""How far the hours of the last interval may be off: an hour meter read in a hurry (chosen)."""
SUMP_SHARE = 0.15
"""How far the oil that circulates may be off: coolers and lines not counted (chosen)."""
READING_SDS = 2.0
LAST, FILL, START = "last interval", "this fill", "from the start"


@dataclass(frozen=True, slots=True)
class Case:
    """One input at one limit: what, at which value, the build as it would then be, and from where on it differs."""

    what: str
    at: str
    build: Build
    since: str
    """LAST, FILL or START."""


def flips(
    fleet: Fleet, engine: Engine, build: Build, sample: Sample, rules: Rules, priors: FamilyPriors
) -> tuple[Flip, ...]:
    """Uncertain inputs that would turn the call of `sample`, each with the call that it would then get.

    Hours of the last interval ± 20 %, sump ± 15 %, the last drain of another kind, leaded fuel or not, the oil in the
    sump unknown or the one before, the reading that stands out most ± 2 sd. Empty for a sample that is not of
    `build`."""
    if all(one.code != sample.code for one in build.samples):
        return ()
    known = Known(fleet, engine, build, sample, rules, priors)
    found: dict[tuple[str, str], Flip] = {}
    for case in _cases(known):
        word = known.word_in(case)
        if word and word != known.word:
            found.setdefault((case.what, word), Flip(case.what, case.at, word))
    return tuple(found.values())


class Known:
    """A sample's call as it stands, and the states of knowledge before it to judge it from in another case."""

    def __init__(
        self, fleet: Fleet, engine: Engine, build: Build, sample: Sample, rules: Rules, priors: FamilyPriors
    ) -> None:
        self.fleet, self.engine, self.build, self.sample, self.rules = fleet, engine, build, sample, rules
        self._spread = priors.spread
        self._family = priors.apart(engine, build)
        self._gauge = Gauge(fleet.check_runs, rules)
        follower = self._follower(build)
        walk = [step.sample for step in follower.time.steps if isinstance(step, SampleStep)]
        at = next(i for i, one in enumerate(walk) if one.code == sample.code)
        self.before = walk[at - 1] if at else None
        self.fill = fill_of(build, sample)
        first = at
        while first and fill_of(build, walk[first - 1]) == self.fill:
            first -= 1
        self._states: dict[str, Follower] = {}
        for i in range(at):
            if i == first:
                self._states[FILL] = copy.deepcopy(follower)
            follower.next_look()
        self._states[LAST] = copy.deepcopy(follower)
        self._states.setdefault(FILL, self._states[LAST])
        self._weights = self._side()
        look = follower.next_look()
        self.look, self.word = look, self._said(follower, look)
        self.hidden = follower.additive

    def word_in(self, case: Case) -> str:
        """The call in another case, or empty where the sample cannot be judged."""
        time = timeline(case.build, self.fleet.families.get(self.engine.family), self.fleet.oils, self.rules)
        since = FILL if case.since == START and self._same_until_fill(case.build, time) else case.since
        if since == START:
            follower = self._follower(case.build)
        else:
            follower = copy.deepcopy(self._states[since])
            follower.build, follower.time = case.build, time
        look = follower.next_look()
        while look is not None and look.sample.code != self.sample.code:
            look = follower.next_look()
        return self._said(follower, look)

    def _same_until_fill(self, build: Build, time: Timeline) -> bool:
        """Whether a case differs from the build as it stands in nothing that was walked before this fill."""
        kept = self._states[FILL]
        past = slice(0, kept.walked)
        return (
            kept.walked > 0
            and time.steps[past] == kept.time.steps[past]
            and time.mass_kg == kept.time.mass_kg
            and build.fills[:1] == self.build.fills[:1]
        )

    def _said(self, follower: Follower, look: Look | None) -> str:
        if look is None:
            return ""
        judged = judgement(look, follower, self.rules)
        kinds = {group.kind for group in judged.groups if group.probability >= self.rules.number("table", "say_from")}
        word = side_records.raised(judged.word, *self._weights)
        return oil_part.at_least(word, oil_part.oil_weights(look, follower, self.rules, kinds))

    def _follower(self, build: Build) -> Follower:
        return Follower(self.engine, build, self.fleet, self.rules, self._family, self._spread.copy(), self._gauge)

    def _side(self) -> tuple[side_records.Weight | None, ...]:
        now, since = self.sample.build_h + 1e-6, self.before.build_h if self.before else -1.0
        return side_records.weights(self.build, self.fleet.materials, since, now, self.rules)

    @property
    def start_h(self) -> float:
        """Build hours at which the last interval began [h]."""
        start = max(self.before.build_h if self.before else 0.0, 0.0)
        if self.fill is not None and self.fill.build_h <= self.sample.build_h:
            start = max(start, self.fill.build_h)
        return start


# --- the cases ------------------------------------------------------------------------------------------------------


def _cases(known: Known) -> Iterator[Case]:
    yield from _hours(known)
    yield from _sump(known)
    yield from _drain(known)
    yield from _fuel(known)
    yield from _oil(known)
    yield from _reading(known)


def _with(build: Build, sample: Sample) -> Build:
    samples = tuple(sample if one.code == sample.code else one for one in build.samples)
    return replace(build, samples=samples)


def _hours(known: Known) -> Iterator[Case]:
    sample, build, start = known.sample, known.build, known.start_h
    hours = sample.build_h - start
    if hours <= 0:
        return
    # what came later must stay later, or it would slip in before the sample
    fills = build.fills[: build.fills.index(known.fill) + 1] if known.fill in build.fills else build.fills
    at_once = sample.before_top_up is False
    top_ups = tuple(
        one for one in build.top_ups if one.build_h < sample.build_h or (at_once and one.build_h == sample.build_h)
    )
    changes = tuple(change for change in build.changes if change.build_h < sample.build_h)
    earlier = tuple(one for one in build.samples if one.build_h <= start and one.code != sample.code)
    for share in (1.0 - HOURS_SHARE, 1.0 + HOURS_SHARE):
        moved = hours * (share - 1.0)
        oil_h = None if sample.oil_h is None else max(sample.oil_h + moved, 0.0)
        other = replace(sample, build_h=sample.build_h + moved, oil_h=oil_h)
        changed = replace(build, fills=fills, top_ups=top_ups, changes=changes, samples=(*earlier, other))
        yield Case("hours in this interval", f"{amount(hours * share)} h instead of {amount(hours)} h", changed, LAST)


def _sump(known: Known) -> Iterator[Case]:
    build = known.build
    litres = sump_litres(build, known.fleet.families.get(known.engine.family)) or known.rules.sump_l
    for share in (1.0 - SUMP_SHARE, 1.0 + SUMP_SHARE):
        fills = tuple(
            replace(fill, volume_l=fill.volume_l * share if fill.volume_l else fill.volume_l) for fill in build.fills
        )
        changed = replace(build, sump_l=litres * share, fills=fills)
        yield Case("oil that circulates", f"{litres * share:.1f} L instead of {litres:.1f} L", changed, START)


def _drain(known: Known) -> Iterator[Case]:
    build, fill = known.build, known.fill
    if fill is None or fill not in build.fills[1:]:
        return
    for kind, words in (("hot", "drained hot"), ("cold", "drained cold"), ("part", "only part of it drained")):
        if kind != fill.drain_before:
            fills = tuple(replace(one, drain_before=kind) if one == fill else one for one in build.fills)
            yield Case("the last oil change", words, replace(build, fills=fills), FILL)


def _fuel(known: Known) -> Iterator[Case]:
    build, start, end = known.build, known.start_h, known.sample.build_h
    if known.look is None or "Pb" not in known.look.observed or end <= start:
        return
    runs: list[Run] = []
    at, leaded, seen = 0.0, False, False
    for run in build.runs:
        inside = min(at + max(run.hours, 0.0), end) - max(at, start) > 1e-6
        leaded, seen = leaded or (inside and run.fuel == "leaded"), seen or inside
        runs.append(run)
        at += max(run.hours, 0.0)
    if not seen:  # no session is on record there: one stands in for it
        runs = [Run("", start), Run("", end - start)]
    other = "unleaded" if leaded else "leaded"
    changed, at = [], 0.0
    for run in runs:
        inside = min(at + max(run.hours, 0.0), end) - max(at, start) > 1e-6
        changed.append(replace(run, fuel=other) if inside else run)
        at += max(run.hours, 0.0)
    yield Case("fuel in this interval", other, replace(build, runs=tuple(changed)), LAST)


def _oil(known: Known) -> Iterator[Case]:
    build, fill = known.build, known.fill
    if fill is None or not fill.oil or fill not in build.fills:
        return
    place = build.fills.index(fill)
    others = [("", "not known")]
    if place and build.fills[place - 1].oil not in (fill.oil, ""):
        others.append((build.fills[place - 1].oil, f"{build.fills[place - 1].oil}, as before"))
    for oil, words in others:
        fills = tuple(replace(one, oil=oil) if i == place else one for i, one in enumerate(build.fills))
        yield Case("oil in the sump", words, replace(build, fills=fills), START)


def _reading(known: Known) -> Iterator[Case]:
    look = known.look
    if look is None:
        return
    sd = np.sqrt(np.maximum(look.surprise.covariance.diagonal(), 1e-12))
    best: tuple[float, str] | None = None
    for i, element in enumerate(look.sources.elements):
        one = look.observed.get(element)
        if one is None or one.qualifier or known.hidden[i]:
            continue
        far = float(look.surprise.difference[i] / sd[i])
        if best is None or far > best[0]:
            best = (far, element)
    if best is None:
        return
    element, one = best[1], look.observed[best[1]]
    name = known.rules.elements[element].name.lower()
    for ppm in (max(one.ppm - READING_SDS * one.noise_sd, 0.0), one.ppm + READING_SDS * one.noise_sd):
        kept = [reading for reading in known.sample.readings if reading.measurand != element]
        other = replace(known.sample, readings=(*kept, Reading(element, ppm)))
        words = f"{amount(ppm)} ppm instead of {amount(one.ppm)} ppm"
        yield Case(name, words, _with(known.build, other), LAST)
