"""What a build teaches the bench: how samples scatter, how much engines differ, what is normal for the family."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from benchapp.wear.expected import FamilyHistory
from benchapp.wear.fading import Guess
from benchapp.wear.from_family import FromFamily
from benchapp.wear.look import Appraisal, Before, Look
from benchapp.wear.oil_book import OF_COOLANT, OilBook
from benchapp.wear.spread import Amplitudes, Spread
from benchapp.wear.walk import Standing
from benchapp.wear.watch import Watch, per_spread

Array = NDArray[np.float64]

_MAY_FALL = 0.15
"""Share of a reading by which the next may be less for other reasons: a top-up nobody wrote down, a bottle (chosen)."""

_FAR, _TOGETHER = 3.0, 3
"""Standard deviations that are far, and elements that fall so far together: that was the bottle, no noise (chosen)."""

_CLEAN = 2
"""Oil changes after which a build's oil tells of the oil itself (chosen)."""

MILESTONES = (3, 6, 12, 24, 48)
"""Healthy intervals after which a build teaches how much engines differ."""


def teach_scatter(spread: Spread, look: Look, before: Before, off_before: Array) -> None:
    """How far a sound sample was from the expected teaches reading noise, and how much sessions and sources vary.

    `off_before`: of the elements of the sample before, 1 where it read clearly more than was expected, -1 less."""
    _teach_noise(spread, look, before, off_before)
    elements, surprise = look.sources.elements, look.surprise
    read = np.array([e in look.observed and not look.observed[e].qualifier for e in elements], dtype=bool)
    wear = read & ~look.hidden
    if look.interval.hours > 0 and wear.any():
        pick = np.ix_(wear, wear)
        others = surprise.covariance[pick] - per_spread(np.array(spread.both), before.units)[pick]
        spread.learn(surprise.difference[wear], others, before.units[0][pick], before.units[1][pick])


def _teach_noise(spread: Spread, look: Look, before: Before, off_before: Array) -> None:
    """Noise knows nothing of the sample before: what reads too high again is in the sump, and no noise."""
    surprise, instrument = look.surprise, look.sample.instrument
    names, squares, rest, method = [], [], [], []
    factors = spread.noise_factors(instrument, look.sources.elements).tolist()
    for i, element in enumerate(look.sources.elements):
        one = look.observed.get(element)
        if one is None or look.hidden[i] or min(off_before[i], look.off[i]) > 0.0:
            continue
        own = one.noise_sd**2
        if one.qualifier:
            # a value below a limit surprises only where more than the limit was expected
            difference = max(surprise.expected[i] - (one.limit or 0.0), 0.0)
            if difference <= 0:
                continue
            others = before.covariance[i, i]
        else:
            difference = surprise.difference[i]
            others = surprise.covariance[i, i] - own * factors[i]
        names.append(element)
        squares.append(difference**2)
        rest.append(max(others, 0.2 * own))
        method.append(own)
    if names:
        spread.learn_noise(instrument, names, np.array(squares), np.array(rest), np.array(method))


def teach_fall(spread: Spread, before: Look, now: Look) -> None:
    """Metal does not leave the oil of a fill: what reads less than in the sample before is reading noise, also where an
    excess is suspected and the sample teaches nothing else. What rose says nothing here.

    Without it an element that an instrument reads badly would be suspected again and again and never known for it."""
    instrument = now.sample.instrument
    doubtful = before.bottle or before.other_oil or before.dregs or now.refuted
    if before.sample.instrument != instrument or doubtful:
        return
    names, squares, rest, method = [], [], [], []
    for i, element in enumerate(now.sources.elements):
        was, one = before.observed.get(element), now.observed.get(element)
        if was is None or one is None or was.qualifier or one.qualifier or now.hidden[i] or one.ppm >= was.ppm:
            continue
        if element == before.wild:
            continue
        names.append(element)
        squares.append((was.ppm - one.ppm) ** 2)
        rest.append((_MAY_FALL * was.ppm) ** 2)
        method.append(was.noise_sd**2 + one.noise_sd**2)
    fallen, expected, noise = np.array(squares), np.array(rest), np.array(method)
    if names and int((fallen > _FAR**2 * (expected + noise)).sum()) < _TOGETHER:
        # each reading is in two pairs
        spread.learn_noise(instrument, names, fallen, expected, noise, 0.5)


def teach_amplitudes(learned: Amplitudes, guesses: Sequence[Guess], watch: Watch, mass_kg: float) -> None:
    """What died away in a build's first hours tells what to expect of the next ones."""
    for i, guess in enumerate(guesses):
        unit = guess.unit(mass_kg)
        value = float(watch.theta[watch.count + i]) / unit
        variance = float(watch.tt[watch.count + i, watch.count + i]) / unit**2
        own = 1.0 / max(variance, 1e-12) - 1.0 / guess.sd**2
        if own * guess.sd**2 > 0.5:
            learned.learn(guess.name, (value / variance - guess.mean / guess.sd**2) / own, 1.0 / own)


def teach_engines(
    spread: Spread, watch: Watch, word: FromFamily, mass_kg: float, additive: NDArray[np.bool_]
) -> None:
    """How far this engine is from what its family foretold teaches how much engines differ."""
    known = ~additive
    pick = np.ix_(known, known)
    precision = np.linalg.inv(watch.rate_covariance[pick])
    own = precision - word.told.precision[pick]
    pull = precision @ watch.rate[known] - word.told.pull[known]
    values, vectors = np.linalg.eigh((own + own.T) / 2.0)
    kept = values > 1e-9 * max(float(values.max(initial=0.0)), 1e-300)
    own = (vectors[:, kept] * values[kept]) @ vectors[:, kept].T
    pull = vectors[:, kept] @ (vectors[:, kept].T @ pull)
    found, mean = np.zeros((4, 4)), word.mean()
    for a, b, common, each in spread.engines.pairs():
        prior = word.prior_about(mean, mass_kg, additive, (common, each))
        between = prior.covariance[pick]
        middle = np.eye(len(own)) + between @ own
        away = pull - own @ prior.rate[known]
        found[a, b] = 0.5 * float(away @ np.linalg.solve(middle, between @ away))
        found[a, b] -= 0.5 * float(np.linalg.slogdet(middle)[1])
    spread.engines.learn(word.key, found)


def teach_family(family: FamilyHistory, build: tuple[str, str], look: Look, reading_variance: Array) -> None:
    """A healthy interval of a build (engine, number) is what is normal in its family. `reading_variance` [ppm²]."""
    interval, elements = look.interval, look.sources.elements
    fuel = np.array([interval.leaded and element == "Pb" for element in elements], dtype=bool)
    shed = np.where(fuel, np.nan, interval.shed_mg)  # lead of the fuel is no part's
    family.learn(build, elements, shed, reading_variance * interval.mass_kg**2, interval.hours)


def teach_oil(spread: Spread, oil: str, seen: Appraisal, concentration: Array, book: OilBook) -> None:
    """What an oil's record leaves blank is learned from samples of it. `concentration` in the sump now [ppm]."""
    if not oil or seen.odd:
        return
    for i in np.flatnonzero(np.isfinite(seen.reading)).tolist():
        element = book.followed.names[i]
        if book.blank(oil, element):
            spread.learn_oil(oil, element, max(float(concentration[i]), 0.0))


def teach_level(spread: Spread, engine: str, look: Look, now: Standing, book: OilBook) -> None:
    """What the level of the new oil seems to be by this engine's sample: the reading without what was shed since.

    The first fills of a build hold assembly lube and what washes out, and tell nothing of the oil."""
    oil, watch = now.oil, now.watch
    if not oil.name or oil.drains < _CLEAN:
        return
    hours = max(watch.now_h - oil.filled_h, 0.0)
    held, _ = book.held(oil.name)
    for i, element in enumerate(look.sources.elements):
        one = look.observed.get(element)
        if element not in OF_COOLANT or one is None or element == look.wild or one.qualifier not in ("", "<"):
            continue
        shed = max(float(watch.rate[i]), 0.0) * hours / now.mass
        level = max(one.ppm - shed, 0.0)
        if one.qualifier:
            # not seen: what the oil was held to have, where that cannot be seen; of two oils that read 2 ppm where four
            # read below 2 nothing follows
            level = min(float(held[i]), one.limit or 0.0)
        spread.in_use.learn(oil.name, look.sample.instrument, element, engine, level, float(held[i]))
