"""A sample that is believed and may be wrong: the build is followed without it as well, until the next one tells."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from benchapp.wear.appraise import Appraiser
from benchapp.wear.evidence import Evidence
from benchapp.wear.look import Appraisal
from benchapp.wear.walk import Standing
from benchapp.wear.watch import Watch


@dataclass(frozen=True, slots=True)
class Fork:
    """The state of knowledge without a sample that surprised, or without one of its readings: if the next sample knows
    nothing of what was said, it was not of this engine, or a slip (metal does not leave oil within a fill)."""

    watch: Watch
    log_weight: float
    """Log density of that sample, chance included, if it was of another engine or one of its readings a slip."""
    log_main: float
    """Log density of that sample if it was of this one."""
    log_total: float
    fault: float
    bottles: int
    """Samples in a row that were of another engine, up to that one; none where one of its readings was a slip."""
    said: str
    """What is not known of that sample if this proves true, in words."""

    def standing(self, before: Standing) -> Standing:
        """Where the build stands if this is true. `before`: where it stood when the next interval began."""
        return replace(before, watch=self.watch, log_total=self.log_total, fault=self.fault)

    def is_likelier(self, main: Appraisal, apart: Appraisal) -> bool:
        """Whether the next sample, held against both states, says that this one is true."""
        return self.log_weight + apart.log_density > self.log_main + main.log_density


def fork_at(seen: Appraisal, against: Appraiser, evidence: Evidence, foreign: float, bottles: int) -> Fork | None:
    """The state without a sample that is about to be taken, where there is doubt about it.

    `foreign`: log density of the sample if it is of another engine; `bottles`: samples in a row before it that were."""
    now = against.now
    jumped = float(evidence.probability.sum()) - now.fault > against.rules.number("bottle", "doubt_from")
    # what cannot be another engine's needs no state without it
    if (jumped or evidence.innocent > 0.5) and foreign > -math.inf:
        return Fork(
            now.watch.copy(), foreign, seen.log_density, now.log_total, now.fault, bottles + 1,
            f"{_before(seen)}: what has come since does not bear it out, it was hardly of this engine's oil",
        )  # fmt: skip
    if jumped and seen.slip is not None:
        return _without_slip(*seen.slip, seen, against)
    return None


def _without_slip(wild: int, alone: float, seen: Appraisal, against: Appraiser) -> Fork:
    """The state of knowledge if one reading of a sample is a slip, which nobody can tell before the next.

    `alone`: log density of the sample if it is, with nothing at fault."""
    left, watch = against.without(wild, seen), against.now.watch.copy()
    evidence = left.weights.gathered()
    watch.take(left.surprise, left.tasted)
    watch.hold(evidence.passing)
    log_total, fault = left.weights.log_total, float(evidence.probability.sum())
    return Fork(
        watch, alone + log_total - against.now.log_total, seen.log_density, log_total, fault, 0,
        f"{against.followed.names[wild]} of {_before(seen)}: what has come since does not bear it out",
    )  # fmt: skip


def _before(seen: Appraisal) -> str:
    """A sample's name when the next one has come."""
    return f"the sample before ({seen.sample.code})" if seen.sample.code else "the sample before"


def doubted(evidence: Evidence, fork: Fork | None) -> Evidence:
    """The evidence of a sample so far as all its readings are believed, else what is known without the doubtful one.

    A sample that may be another engine's is believed in whole until the next one tells."""
    if fork is None or fork.bottles:
        return evidence
    fault = float(evidence.probability.sum())
    without = min(1.0 / (1.0 + math.exp(min(fork.log_main - fork.log_weight, 700.0))), 0.5)
    share = ((1.0 - without) * fault + without * fork.fault) / max(fault, 1e-300)
    return replace(evidence, probability=evidence.probability * share)
