"""What comes back at every oil change of one build is learned: the share of old oil that stays, copper taken up.

The step of the filter is held against the step it stands for, differentiated by numbers. All figures are invented."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchapp.records import Call, Part
from benchapp.wear.decide import RUN, judgement
from benchapp.wear.fading import CARRY_OVER, FRESH, REFILL, Nuisance
from benchapp.wear.follow import Follower
from benchapp.wear.hypotheses import Origins
from benchapp.wear.look import Look
from benchapp.wear.watch import Watch
from tests.wear.histories import COOLER, IRON_V8, RULES, Story, fleet_of, rules_with
from tests.wear.test_confounders import judged, loud
from tests.wear.walking import looks_of

ELEMENTS, MASS = 4, 5.0
COPPER = np.array([0.0, 0.0, 1.0, 0.0])
SODIUM = np.array([0.0, 0.0, 0.0, 1.0])
NEW, NEW_SD = np.array([0.4, 0.2, 0.3, 0.1]), np.array([0.1, 0.05, 0.2, 0.02])
LEFT, ERROR = 0.12, 0.05


def watch_of(carry_sd: float, refill_sd: float, refill: float = 0.0, fresh_sd: float = 0.0) -> Watch:
    nothing = np.zeros(ELEMENTS)
    states = (
        Nuisance("tail", np.full(ELEMENTS, 0.5), 6.0, 0.4, 0.3),
        Nuisance(CARRY_OVER, nothing, math.inf, 0.0, carry_sd),
        Nuisance(FRESH, SODIUM, math.inf, 0.0, fresh_sd),
        Nuisance(REFILL, COPPER, math.inf, refill, refill_sd),
    )
    rate = np.array([2.0, 1.0, 0.5, 0.2])
    directions = np.array([[1.0, 0.1], [0.0, 0.8], [0.1, 0.0], [0.0, 0.2]])
    return Watch(rate, np.diag(rate**2), states, Origins(directions), 4)


def walked(watch: Watch, drains: int = 2) -> Watch:
    """Through intervals with a sample at the end of each and a drain behind it: all states know of each other."""
    level = np.array([6.0, 3.0, 2.5, 1.0])
    for number in range(drains + 1):
        watch.begin_interval(3)
        watch.run(3.0 * number, 3.0, MASS, 0.01 * np.eye(ELEMENTS), np.full((2, 4, 4), 0.02), np.array([0.2, 0.1]))
        watch.take(watch.expect(level * (1.0 + 0.2 * number), np.full(ELEMENTS, 0.04), np.zeros(ELEMENTS)))
        if number < drains:
            watch.drain(LEFT, ERROR, NEW, NEW_SD)
    return watch


def test_states_that_are_certain_leave_the_plain_step():
    one, other = walked(watch_of(0.0, 0.0)), walked(watch_of(0.0, 0.0))
    one.drain(LEFT, ERROR, NEW, NEW_SD)
    other.dilute(1.0 - LEFT, NEW, NEW_SD, ERROR)
    for name in ("c", "cc", "theta", "tt", "ct", "units", "amount", "seen_c", "seen_t"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-12, abs=1e-14), name


def test_copper_that_is_certain_comes_with_the_fresh_oil():
    one, other = walked(watch_of(0.0, 0.0, refill=0.8), 0), walked(watch_of(0.0, 0.0), 0)
    for watch in (one, other):
        watch.drain(LEFT, ERROR, NEW, NEW_SD)
    assert one.c - other.c == pytest.approx(0.8 * COPPER)
    assert one.cc == pytest.approx(other.cc)


def after_a_drain(state: np.ndarray) -> np.ndarray:
    """Concentrations after a drain from a joint state (concentrations, rates and amplitudes)."""
    c, carry, more, taken = state[:ELEMENTS], *state[-3:]
    new = NEW + more * SODIUM
    return new + LEFT * (1.0 + carry) * (c - new) + taken * COPPER


def slopes(state: np.ndarray) -> np.ndarray:
    """Of the joint state after a drain against that before it, by central differences."""
    found = np.eye(len(state))
    for i in range(len(state)):
        step = np.zeros(len(state))
        step[i] = 1e-5
        found[:ELEMENTS, i] = (after_a_drain(state + step) - after_a_drain(state - step)) / 2e-5
    return found


def joint(watch: Watch) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(state, covariance, what every hypothesis has taught it)."""
    covariance = np.block([[watch.cc, watch.ct], [watch.ct.T, watch.tt]])
    return np.concatenate([watch.c, watch.theta]), covariance, np.vstack([watch.seen_c, watch.seen_t])


def test_what_is_known_after_a_drain_is_the_first_order_of_the_step():
    """Mean, covariance of all states together and the answer of the filter to each hypothesis."""
    watch = walked(watch_of(0.25, 0.5, fresh_sd=0.3))
    state, covariance, seen = joint(watch)
    assert np.abs(state[-3:]).min() > 0.01, "all three have been learned of"
    assert np.abs(covariance[:ELEMENTS, -3:]).max(axis=0).min() > 0.005
    assert np.abs(seen[-3:]).max(axis=1).min() > 1e-4
    slope = slopes(state)
    # the part of the kind's error that is no engine's own, and the fresh oil's
    away = state[:ELEMENTS] - NEW - state[-2] * SODIUM
    odd = (ERROR**2 - (0.25 * LEFT) ** 2) * np.outer(away, away)
    fresh = np.diag(((1.0 - LEFT * (1.0 + state[-3])) * NEW_SD) ** 2)
    noise = np.zeros_like(covariance)
    noise[:ELEMENTS, :ELEMENTS] = odd + fresh
    watch.drain(LEFT, ERROR, NEW, NEW_SD)
    after, known, told = joint(watch)
    assert after[:ELEMENTS] == pytest.approx(after_a_drain(state), rel=1e-9)
    assert after[ELEMENTS:] == pytest.approx(state[ELEMENTS:], rel=1e-12)
    assert known == pytest.approx(slope @ covariance @ slope.T + noise, rel=1e-7, abs=1e-10)
    assert told == pytest.approx(slope @ seen, rel=1e-7, abs=1e-10)


def test_a_dry_engine_is_filled_with_what_the_oil_holds_more():
    """Before and after another drain of the same oil, and with an oil that was not in it before."""
    watch = watch_of(0.0, 0.0, fresh_sd=0.3)
    watch.first_fill(NEW, NEW_SD**2)
    at = watch.count + 2
    assert watch.cc[3, 3] == pytest.approx(NEW_SD[3] ** 2 + 0.3**2)
    assert watch.ct[3, at] == pytest.approx(0.3**2)
    watch.take(watch.expect(NEW + 1.5 * SODIUM, np.full(ELEMENTS, 0.01), np.zeros(ELEMENTS)))
    more = float(watch.theta[at])
    assert more == pytest.approx(1.5 * 0.3**2 / (0.3**2 + NEW_SD[3] ** 2 + 0.01), rel=0.01)
    watch.same_oil(0.1 * np.ones(ELEMENTS))
    assert watch.theta[at] == pytest.approx(more)
    watch.drain(LEFT, ERROR, NEW, NEW_SD)
    assert watch.c[3] == pytest.approx(NEW[3] + more, abs=LEFT * 0.5)
    watch.new_oil(0.2 * np.ones(ELEMENTS))
    assert watch.theta[at] == 0.0
    assert watch.tt[at, at] == pytest.approx(0.2**2)
    assert not watch.ct[:, at].any()
    watch.drain(LEFT, ERROR, NEW, NEW_SD)
    assert watch.c[3] == pytest.approx(NEW[3], abs=LEFT * 2.0)


# --- stories


def state_of(follower: Follower, name: str) -> float:
    """What is thought of one of the states now."""
    watch = follower.watch
    return float(watch.theta[watch.count + next(i for i, n in enumerate(watch.nuisances) if n.name == name)])


def drains_badly(seed: int) -> Story:
    """Lines and a cooler that never drain: every drain leaves a fifth of the old oil, where a tenth is usual. Long
    fills, each sampled soon after the drain and at its end."""
    story = Story("E", seed=seed).broken_in()
    for _ in range(8):
        story.fill(left=0.20).run(0.5).sample().run(9.5).sample()
    return story


def off_after_drains(looks: list[Look]) -> float:
    """How far the first samples of the last four fills are from what was expected, in metal (root mean square, ppm)."""
    at = [looks[-1].sources.elements.index(e) for e in ("Fe", "Al", "Cu", "Pb")]
    return float(np.sqrt(np.mean([np.sum(look.surprise.difference[at] ** 2) for look in looks[-8::2]])))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_an_engine_that_drains_badly_is_known_for_it(seed):
    story = drains_badly(seed)
    follower, looks = looks_of(story)
    _, stiff = looks_of(story, rules_with("spread", carry_over=1e-4))
    assert state_of(follower, CARRY_OVER) > 0.25
    assert off_after_drains(looks) < 0.75 * off_after_drains(stiff)
    assert all(judgement(look, follower, RULES).word == RUN for look in looks)


def copper_at_every_change(
    seed: int, parts: tuple[Part, ...] = IRON_V8, element: str = "Cu", ppm: float = 1.0
) -> Story:
    """Fresh oil takes 1 ppm of copper off the cooler at once, at every oil change alike; or holds more of an element
    than its record says."""
    story = Story("E", parts=parts, seed=seed).broken_in()
    for _ in range(8):
        story.fill()
        story.ppm[element] += ppm
        story.run(4.0).sample()
    return story


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_copper_that_comes_with_every_oil_change_is_learned_and_is_no_fault(seed):
    story = copper_at_every_change(seed)
    follower, _ = looks_of(story)
    assert 0.5 < state_of(follower, REFILL) < 1.2
    assert not loud(judged(fleet_of(story), "E"))


def last_call(story: Story) -> Call:
    return list(judged(fleet_of(story), "E").values())[-1]


def said_at_the_end(story: Story, start: str) -> list[str]:
    """What the calls of an engine say last among what is not known, of lines that begin so."""
    return [line for line in last_call(story).unknowns if line.startswith(start)]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_copper_that_comes_with_every_oil_change_is_told_once(seed):
    (said,) = said_at_the_end(copper_at_every_change(seed), "copper: ")
    assert "with new oil at every change" in said
    assert "none is on record" in said
    (known,) = said_at_the_end(copper_at_every_change(seed, (*IRON_V8, COOLER)), "copper: ")
    assert "none is on record" not in known
    assert not said_at_the_end(copper_at_every_change(seed, ppm=0.0), "copper: ")


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_an_oil_that_holds_more_than_its_record_is_told_once(seed):
    (said,) = said_at_the_end(copper_at_every_change(seed, element="Si", ppm=3.0), "the oil: new")
    assert "ppm Si more than was to be expected" in said
    assert not said_at_the_end(copper_at_every_change(seed, element="Si", ppm=0.0), "the oil: new")


def leaking(seed: int) -> Story:
    """Coolant that gets in, more and more."""
    story = Story("E", seed=seed).broken_in().usual(5)
    for rate in (20.0, 40.0, 60.0):
        story.fill().run(4.0, extra={"Na": 0.6 * rate, "K": 0.4 * rate}).sample()
    return story


def test_with_a_fault_in_sight_nothing_is_taken_for_the_oil():
    last = last_call(leaking(1))
    assert last.call != RUN
    assert not [line for line in last.unknowns if line.startswith(("copper: ", "the oil: new"))]
