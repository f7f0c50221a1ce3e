"""How good calls are, against what really happened."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from benchapp.records import Call, Fleet, Part

from .alloys import ADDITIVES, ELEMENTS, nominal
from .judges import Judge
from .naming import bottles_until, chance_of_right, how_often
from .truth import Fault, SampleTruth, World

ALARMS = ("Look inside", "Park")
ALIKE = 0.035
"""Two metals are the same to a bench if no measured element's share differs by more than this."""


@dataclass(frozen=True)
class FaultResult:
    """What became of one fault. `left` is the share of the window left at the first alarm, None if never called."""

    world: str
    fault: Fault
    samples_in_window: int
    confounders: frozenset[str]
    best_seen_sd: float
    left: float | None = None
    call: Call | None = None
    right: bool = False
    wide: bool = False
    """The true part was named first, but in a group with parts of another metal."""
    right_last: bool = False
    """The true part, or one of the same metal, was named first in the last alarm before the failure."""
    alarms: int = 0
    """Alarms between onset and failure."""
    nameable: float = 0.0
    """Chance that the bottles up to the first alarm name the true part to someone who knows what is normal."""
    short_stint_left: float | None = None
    """The same share for the first `Short stint` or stronger."""


@dataclass(frozen=True)
class FalseAlarm:
    world: str
    call: Call
    truth: SampleTruth


@dataclass
class Score:
    """All results of one judge over one or more worlds."""

    judge: str
    faults: list[FaultResult] = field(default_factory=list)
    healthy: list[tuple[str, SampleTruth]] = field(default_factory=list)
    false_alarms: list[FalseAlarm] = field(default_factory=list)
    short_stints: int = 0
    """`Short stint` on healthy samples."""
    seconds: float = 0.0
    samples: int = 0

    def add(self, other: Score) -> None:
        self.faults += other.faults
        self.healthy += other.healthy
        self.false_alarms += other.false_alarms
        self.short_stints += other.short_stints
        self.seconds += other.seconds
        self.samples += other.samples


@dataclass(frozen=True)
class Figures:
    """The four figures of a score, in per cent, with the counts that they stand on."""

    faults: int
    called_pct: float
    reachable_pct: float
    """Called, of the faults with at least one sample between onset and failure."""
    healthy: int
    false_per_100: float
    left_median_pct: float
    left_mean_pct: float
    right_pct: float
    wide_pct: float
    right_last_pct: float
    """Named right at the last alarm before the failure, when more is known than at the first."""
    nameable_pct: float
    """Named right, of those called, from the same bottles by someone who knows what is normal: see `naming`."""
    true_pct: float
    """Alarms that were true: those between onset and failure, of these and the false ones together."""


def figures(score: Score, keep: Callable[[FaultResult], bool] | None = None) -> Figures:
    """The figures of a score, or of the faults that `keep` keeps."""
    faults = [item for item in score.faults if keep is None or keep(item)]
    called = [item for item in faults if item.left is not None]
    reachable = [item for item in faults if item.samples_in_window > 0]
    left = [item.left for item in called if item.left is not None]
    alarms = sum(item.alarms for item in faults)
    return Figures(
        faults=len(faults),
        called_pct=_pct(len(called), len(faults)),
        reachable_pct=_pct(len(called), len(reachable)),
        healthy=len(score.healthy),
        false_per_100=_pct(len(score.false_alarms), len(score.healthy)),
        left_median_pct=100.0 * float(np.median(left)) if left else float("nan"),
        left_mean_pct=100.0 * float(np.mean(left)) if left else float("nan"),
        right_pct=_pct(sum(item.right for item in called), len(called)),
        wide_pct=_pct(sum(item.wide for item in called), len(called)),
        right_last_pct=_pct(sum(item.right_last for item in called), len(called)),
        nameable_pct=_pct(sum(item.nameable for item in called), len(called)),
        true_pct=_pct(alarms, alarms + len(score.false_alarms)),
    )


def _pct(part: float, whole: int) -> float:
    return 100.0 * part / whole if whole else float("nan")


# --- one world ------------------------------------------------------------------------------------------------------


def score_world(world: World, judge: Judge, name: str) -> Score:
    """Judge one made-up fleet and compare with the truth."""
    label = f"{world.truth.generator}{world.truth.seed}"
    calls = list(judge(world.fleet))
    by_build: dict[tuple[str, str], list[Call]] = defaultdict(list)
    for call in calls:
        by_build[call.engine, call.build].append(call)
    score = Score(judge=name, samples=len(world.truth.samples))
    often = how_often(world.truth, lambda fault: _parts_of(world.fleet, fault))
    for fault in world.truth.faults:
        mine = by_build.get((fault.engine, fault.build), [])
        score.faults.append(_fault_result(label, world, fault, mine, often))
    for call in calls:
        truth = world.truth.samples.get(call.sample)
        if truth is None or not truth.healthy:
            continue
        if call.call in ALARMS:
            score.false_alarms.append(FalseAlarm(label, call, truth))
        score.short_stints += call.call == "Short stint"
    score.healthy += [(label, truth) for truth in world.truth.samples.values() if truth.healthy]
    return score


def _fault_result(label: str, world: World, fault: Fault, calls: list[Call], often: Counter[str]) -> FaultResult:
    truths = [
        truth
        for truth in world.truth.samples.values()
        if (truth.engine, truth.build) == (fault.engine, fault.build) and _within(truth.build_h, fault)
    ]
    flags: frozenset[str] = frozenset().union(*(truth.confounders for truth in truths)) if truths else frozenset()
    inside = sorted((call for call in calls if _within(call.build_h, fault)), key=lambda call: call.build_h)
    alarms = [call for call in inside if call.call in ALARMS]
    first = alarms[0] if alarms else None
    early = next((call for call in inside if call.call != "Run"), None)
    right, wide = names_right(first, fault, world.fleet) if first else (False, False)
    return FaultResult(
        world=label,
        fault=fault,
        samples_in_window=len(truths),
        confounders=flags,
        best_seen_sd=max((truth.seen_sd for truth in truths), default=0.0),
        left=_left(first, fault),
        call=first,
        right=right,
        wide=wide,
        right_last=bool(alarms) and names_right(alarms[-1], fault, world.fleet)[0],
        alarms=len(alarms),
        nameable=_nameable(world, fault, first.build_h, often) if first else 0.0,
        short_stint_left=_left(early, fault),
    )


def _within(build_h: float, fault: Fault) -> bool:
    return fault.onset_h <= build_h < fault.failure_h


def _left(call: Call | None, fault: Fault) -> float | None:
    if call is None:
        return None
    return (fault.failure_h - call.build_h) / (fault.failure_h - fault.onset_h)


def _nameable(world: World, fault: Fault, build_h: float, often: Counter[str]) -> float:
    parts, measured = _parts_of(world.fleet, fault), _measured(world.fleet, fault)
    bottles = bottles_until(world.truth, fault, build_h)
    return chance_of_right(
        fault, bottles, parts, often, lambda one, other: alike(parts[one], parts[other], world.fleet, measured)
    )


# --- the right source -----------------------------------------------------------------------------------------------


def names_right(call: Call, fault: Fault, fleet: Fleet) -> tuple[bool, bool]:
    """(right, wide): right if the first reason names a true part, alone or among parts of truly the same metal."""
    if not call.reasons:
        return False, False
    reason = call.reasons[0]
    if fault.outside:
        return reason.source == fault.outside, False
    parts = _parts_of(fleet, fault)
    named = {part for part in reason.parts if part in parts} or {
        part for part in reason.source.split(" + ") if part in parts
    }
    hit = named & fault.parts
    if not hit:
        return False, False
    measured = _measured(fleet, fault)
    same = all(any(alike(parts[name], parts[true], fleet, measured) for true in fault.parts) for name in named)
    return same, not same


def _parts_of(fleet: Fleet, fault: Fault) -> dict[str, Part]:
    for engine in fleet.engines:
        if engine.name == fault.engine:
            return {part.name: part for build in engine.builds if build.number == fault.build for part in build.parts}
    return {}


def _measured(fleet: Fleet, fault: Fault) -> frozenset[str]:
    return frozenset(
        reading.measurand
        for engine in fleet.engines
        if engine.name == fault.engine
        for build in engine.builds
        if build.number == fault.build
        for sample in build.samples
        for reading in sample.readings
    )


def alike(first: Part, second: Part, fleet: Fleet, measured: frozenset[str]) -> bool:
    """True if the two parts' metals differ by nothing that this bench measures."""
    if first.material == second.material:
        return True
    seen = np.array([el in measured and (el == "Mo" or el not in ADDITIVES) for el in ELEMENTS])
    shares = []
    for part in (first, second):
        vector = nominal(fleet.materials[part.material]) * seen
        shares.append(vector / vector.sum() if vector.sum() > 0 else vector)
    return bool(np.abs(shares[0] - shares[1]).max() <= ALIKE)


# --- tables ---------------------------------------------------------------------------------------------------------


def by_fault(score: Score, key: Callable[[FaultResult], Iterable[str]]) -> list[tuple[str, Figures]]:
    """Figures per group of faults, e.g. `lambda item: [item.fault.kind]`, largest group first."""
    groups = Counter(name for item in score.faults for name in key(item))
    return [(name, figures(score, lambda item, name=name: name in key(item))) for name, _ in groups.most_common()]


def false_by(score: Score, key: Callable[[SampleTruth], Iterable[str]]) -> list[tuple[str, int, int]]:
    """(group, false alarms, healthy samples), e.g. by confounder, worst first."""
    healthy = Counter(name for _, truth in score.healthy for name in key(truth))
    alarms = Counter(name for item in score.false_alarms for name in key(item.truth))
    rows = [(name, alarms[name], count) for name, count in healthy.items()]
    return sorted(rows, key=lambda row: -row[1] / row[2])


def spread(scores: Sequence[Score]) -> dict[str, tuple[float, float]]:
    """Lowest and highest over the seeds of each of the figures."""
    every = [figures(score) for score in scores]
    names = ("called_pct", "false_per_100", "left_median_pct", "right_pct")
    return {name: _low_high([getattr(item, name) for item in every]) for name in names}


def _low_high(values: list[float]) -> tuple[float, float]:
    known = [value for value in values if not np.isnan(value)]
    return (min(known), max(known)) if known else (float("nan"), float("nan"))
