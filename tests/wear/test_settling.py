"""A passing excess that becomes part of the state: held against a filter that had it in its state from the start.

All figures are invented."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.wear import watch as room
from benchapp.wear.fading import Nuisance
from benchapp.wear.hypotheses import BLIP, FADE, FADE_H, Harmless, Origins
from benchapp.wear.watch import Watch
from tests.wear.histories import Story
from tests.wear.walking import looks_of

ELEMENTS, MASS = 4, 5.0
DIRECTIONS = np.array([[1.0, 0.1, 0.0], [0.0, 0.8, 0.1], [0.1, 0.0, 0.9], [0.0, 0.0, 0.2]])
HARMLESS = np.array([0.0, 0.0, 1.0, 0.0])
SCALE = 3.0
HOURS = (2.0, 1.5, 3.0, 2.5)
ONSET = 1
"""The interval in which the excess begins."""


def watch_of(*more: Nuisance) -> Watch:
    tail = Nuisance("tail", np.full(ELEMENTS, 0.5), 6.0, 0.4, 0.3)
    rate = np.array([2.0, 1.0, 0.5, 0.2])
    origins = Origins(DIRECTIONS, harmless=(Harmless(HARMLESS, 12.0, 0.01, 0.001, 1.5),))
    return Watch(rate, np.diag(rate**2), (tail, *more), origins, 5)


def walked(watch: Watch, readings: np.ndarray, blip: np.ndarray | None = None) -> Watch:
    """Through one interval for each reading; `blip`: covariance of what may have been shed in the one of the onset."""
    start_h = 0.0
    for number, (hours, reading) in enumerate(zip(HOURS, readings, strict=False)):
        watch.begin_interval(3)
        noise = np.diag(np.full(ELEMENTS, 0.01))
        if blip is not None and number == ONSET:
            noise = noise + blip
        watch.run(start_h, hours, MASS, noise, np.zeros((2, ELEMENTS, ELEMENTS)), np.zeros(2))
        watch.take(watch.expect(reading, np.full(ELEMENTS, 0.04), np.zeros(ELEMENTS)))
        start_h += hours
    return watch


def readings(count: int) -> np.ndarray:
    """Rising, with 6 ppm more of the third element from the onset on [ppm]."""
    rng = np.random.default_rng(3)
    level = np.cumsum(np.array(HOURS))[:count, None] * np.array([0.5, 0.25, 0.12, 0.05])
    level[ONSET:, 2] += 6.0
    return level + 0.2 * rng.standard_normal((count, ELEMENTS))


def column_of(watch: Watch, shape: int, source: int) -> int:
    slot = int(np.flatnonzero(watch.slots.opened[:-1] == ONSET + 1)[0])
    columns = watch.columns
    return int(np.flatnonzero((columns.slot == slot) & (columns.shape == shape) & (columns.source == source))[0])


def settled(watch: Watch, shape: int, source: int) -> tuple[Watch, int]:
    column = column_of(watch, shape, source)
    watch.hold(np.array([column]))
    assert watch.may_settle(column)
    watch.settle(column, SCALE)
    return watch, column


def same_beside(one: Watch, other: Watch, column: int) -> None:
    """The state of both, and what every hypothesis is worth but the one that has become part of one state."""
    # a hard session lifts the rates as they were thought to be when it began, which differs
    rest = (np.arange(len(one.columns.slot)) != column) & (one.pull == other.pull).all(axis=0)
    assert rest.sum() >= len(rest) - 2
    for name in ("c", "cc", "theta", "tt", "ct"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-7, abs=1e-9), name
    for name in ("information", "score"):
        assert getattr(one, name)[rest] == pytest.approx(getattr(other, name)[rest], rel=1e-7, abs=1e-9), name
    assert one.seen_c[:, rest] == pytest.approx(other.seen_c[:, rest], rel=1e-7, abs=1e-9)
    assert one.seen_t[:, rest] == pytest.approx(other.seen_t[:, rest], rel=1e-7, abs=1e-9)
    rows = np.flatnonzero(rest[one.lasting[: one.always]])
    assert one.shared[np.ix_(rows, rest)] == pytest.approx(other.shared[np.ix_(rows, rest)], rel=1e-6, abs=1e-8)


@pytest.mark.parametrize("source", [1, 3])
def test_what_fades_is_as_if_it_had_been_a_state_from_its_onset(source, monkeypatch):
    """A part's, or copper of a cooler: mean, covariance and the worth of all other hypotheses agree, also later on."""
    monkeypatch.setattr(room, "_ABOUT", 0.0)
    direction = np.column_stack([DIRECTIONS, HARMLESS])[:, source]
    fade_h = 12.0 if source == 3 else FADE_H
    asked = Nuisance("asked", direction, fade_h, 0.0, SCALE, since_h=HOURS[0])
    one, column = settled(walked(watch_of(), readings(3)), FADE, source)
    other = walked(watch_of(asked), readings(3))
    same_beside(one, other, column)
    for watch in (one, other):
        watch.run(sum(HOURS[:3]), HOURS[3], MASS, np.zeros((ELEMENTS, ELEMENTS)), np.zeros((2, 4, 4)), np.zeros(2))
        watch.take(watch.expect(readings(4)[3], np.full(ELEMENTS, 0.04), np.zeros(ELEMENTS)))
    assert one.c == pytest.approx(other.c, rel=1e-7)
    assert one.theta == pytest.approx(other.theta, rel=1e-7)


def test_what_was_shed_in_one_interval_is_as_if_it_had_been_allowed_for(monkeypatch):
    monkeypatch.setattr(room, "_BELOW", np.inf)  # what is cut at zero depends on what is known by then
    pull = DIRECTIONS[:, 2]
    one, column = settled(walked(watch_of(), readings(3)), BLIP, 2)
    other = walked(watch_of(), readings(3), blip=SCALE**2 * np.outer(pull, pull))
    same_beside(one, other, column)


def test_a_settled_excess_is_weighed_no_more_and_its_row_is_gone():
    watch, column = settled(walked(watch_of(), readings(3)), FADE, 3)
    assert watch.cleared[column]
    assert not watch.may_settle(column)
    assert len(watch.lasting) == watch.always


@pytest.mark.parametrize("shape", [BLIP, FADE])
def test_what_is_held_after_a_settling_is_as_if_it_had_been_held_before(shape):
    """Dust that came in the interval in which older dust became a fact may be true and a fault beside it."""
    first = walked(watch_of(), readings(3))
    second = walked(watch_of(), readings(3))
    settling = column_of(first, FADE, 3)
    begun = first.slots.opened[first.columns.slot]
    held = np.flatnonzero((first.columns.shape == shape) & (first.columns.source == 1) & (begun >= ONSET + 1))
    first.hold(np.append(held, settling))
    first.settle(settling, SCALE)
    second.hold(np.array([settling]))
    second.settle(settling, SCALE)
    second.hold(held)
    assert set(held) <= set(second.lasting.tolist())
    rest = np.arange(len(first.columns.slot)) != settling
    for column in held.tolist():
        one = first.shared[first.lasting.tolist().index(column)]
        two = second.shared[second.lasting.tolist().index(column)]
        assert np.abs(one).max() > 0.1
        assert one[rest] == pytest.approx(two[rest], rel=1e-7, abs=1e-9)


def test_what_has_faded_is_a_state_no_longer():
    watch, _ = settled(walked(watch_of(), readings(3)), FADE, 3)
    states = len(watch.theta)
    assert watch.nuisances[-1].name == room.PASSING
    start_h = sum(HOURS[:3])
    for _ in range(10):
        watch.begin_interval(3)
        watch.run(start_h, 8.0, MASS, np.zeros((ELEMENTS, ELEMENTS)), np.zeros((2, 4, 4)), np.zeros(2))
        start_h += 8.0
    assert len(watch.theta) == len(watch.tt) == watch.ct.shape[1] == len(watch.seen_t) == states - 1
    assert all(one.name != room.PASSING for one in watch.nuisances)


def cooler_renewed(seed: int) -> Story:
    """Copper alone, much of it, that fades in five hours; nobody wrote the new cooler down. The fill is a long one."""
    story = Story("E", seed=seed).broken_in().usual(8).fill()
    for number in range(16):
        story.run(1.5, extra={"Cu": 25.0 * 0.75**number}).sample()
    return story


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_state_follows_a_long_fill_with_a_new_cooler(seed):
    """After a few samples the copper is part of what is expected, and it stays so when its slot is given up."""
    _, looks = looks_of(cooler_renewed(seed))
    at = looks[-1].sources.elements.index("Cu")
    for look in looks[-9:]:
        reading = look.observed["Cu"].ppm
        assert abs(look.surprise.difference[at]) < 0.25 * reading, look.sample.code
        assert float(look.evidence.probability.sum()) < 0.25, look.sample.code
