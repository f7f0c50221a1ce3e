"""How far a sample is believed: whether it is of this engine at all, without what settled in its bottle, without one
reading that is a slip. What is odd here is weighed in `doubts`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from benchapp.wear.appraise import Appraiser
from benchapp.wear.doubts import dregs, foretold, log_foreign, log_large, log_thinned, wild_reading
from benchapp.wear.look import Appraisal, Look
from benchapp.wear.sump_oil import MOSTLY, read_alike
from benchapp.wear.words import read_alone

Array = NDArray[np.float64]

_IN_A_ROW = 2
"""Samples in a row that may be of another engine: what the next one says as well is this engine's (chosen)."""

_FAR_SD = 3.0
"""Standard deviations from which a reading was far from what was expected (chosen)."""

_TOLD = 3
"""Elements that oils are told by, in which a bottle must be another oil's at least (chosen)."""


def of_another(seen: Appraisal, against: Appraiser, bottles: int) -> tuple[bool, float]:
    """Whether a sample is not of this engine's oil, and its log density if so, chance included.

    `bottles`: samples in a row before it that were not."""
    watch, rules = against.now.watch, against.rules
    foreign = _log_foreign(seen, against, bottles)
    foreign = max(foreign, log_thinned(seen, watch.c, against.followed.metal & ~seen.foreign, rules))
    found = (
        bottles < _IN_A_ROW
        and foreign > seen.log_density
        and foreign > log_large(seen, watch, against.sources, rules)
    )
    return found, foreign


def _log_foreign(seen: Appraisal, against: Appraiser, bottles: int) -> float:
    metal = against.followed.metal & ~against.now.oil.additive
    made_of = against.followed.made_of
    return log_foreign(seen, against.now.watch.c, made_of, metal, against.rules, again=bottles > 0)


def in_the_sump(seen: Appraisal, against: Appraiser, before: Look | None) -> Appraisal | None:
    """A sample that looks like another engine's bottle, as one of this engine with another oil in the sump: where the
    bottle before it looked alike, in what oils are told by, and the metals are this engine's. None where it is not so.

    Nobody mixes up two bottles in a row with the same one; whatever was poured in stays."""
    if before is None or not before.bottle:
        return None
    names, watch = against.followed.names, against.now.watch
    known = np.array([one.ppm if (one := before.observed.get(name)) is not None else np.nan for name in names])
    read = np.isfinite(seen.reading) & np.isfinite(known)
    alike = read_alike(seen.reading, known, seen.variance)
    far = read & ~read_alike(seen.reading, watch.c, seen.variance)
    told, metal = far & against.followed.tells, far & against.followed.metal
    if told.sum() < _TOLD or alike[told].mean() < MOSTLY or metal.sum() > 1:
        return None
    mask = told & alike
    against.now.oil.odd_before = known
    judged = np.where(mask | seen.foreign, np.nan, seen.judged)
    return against.again(replace(seen, odd=True, foreign=seen.foreign | mask, judged=judged))


def without_dregs(seen: Appraisal, against: Appraiser, before: Look | None, *, settled: bool) -> Appraisal:
    """The sample; where it is likelier from the sump's bottom or the filter than anything else, its metals tell of
    each other and no more of the sump. Never twice in a row.

    `before`: at the sample before; `settled`: whether the history is long enough to foretell wear."""
    if seen.odd or not settled or (before is not None and before.dregs):
        return seen
    now = against.now
    found = dregs(seen, now.watch, against.followed.metal & ~now.oil.additive, against.rules)
    if found is None or found[1] <= seen.log_density:
        return seen
    return against.again(replace(seen, gain=np.column_stack([seen.gain, found[0]]), dregs=True))


def without_wild(
    seen: Appraisal, against: Appraiser, before: Look | None, bottles: int, *, settled: bool
) -> Appraisal:
    """The sample without one reading that is not believed. What the same element says twice in a row is no slip, and
    where several are off it is rather the bottle.

    `before`: at the sample before; `bottles`: samples in a row before it that were of another engine; `settled`:
    whether the history is long enough to foretell wear."""
    if seen.odd:
        return seen
    elements, oil = against.followed.names, against.now.oil
    may = foretold(seen, oil.additive, settled, elements, against.book.listed(oil.name))
    if before is not None:
        if before.wild:
            may[elements.index(before.wild)] = False
        may &= before.off * seen.surprise.difference <= 0.0  # what is off the same way again is no slip either
        may &= ~_was_far(before)  # and what was far off and is back was the slip before
    slip = wild_reading(seen, may, against.now.watch, against.rules)
    if slip is None:
        return seen
    wild, alone = slip
    if alone <= seen.log_density or alone <= log_large(seen, against.now.watch, against.sources, against.rules):
        return replace(seen, slip=slip)
    if bottles < _IN_A_ROW and _log_foreign(seen, against, bottles) > alone:
        return replace(seen, slip=slip)
    return replace(against.without(wild, seen), wild=wild)


def _was_far(before: Look) -> NDArray[np.bool_]:
    """Elements that a sample read so far from what was expected that the next one may rather put them right."""
    sd = np.sqrt(before.surprise.covariance.diagonal())
    return np.asarray(np.abs(before.surprise.difference) > _FAR_SD * sd)


def not_believed(seen: Appraisal, wild: str) -> list[str]:
    """What is not believed of a sample, in words. `wild`: the element whose reading is not, or empty."""
    said = []
    if seen.dregs:
        said.append(
            "the bottle: all metals are up together, as from the sump's bottom or the filter; draw it midstream"
        )
    if wild:
        said.append(f"{read_alone(wild, seen.observed[wild].ppm)}: measure the bottle again")
    return said
