"""Metal does not leave the oil of a fill: what falls is reading noise, and is learned as such even while an excess is
suspected; what a drain, a top-up, a bottle or another instrument makes fall is not. All histories are invented."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
import pytest

from benchapp.wear import follow
from benchapp.wear.decide import LOOK_INSIDE, PARK, judgement
from benchapp.wear.look import Look
from benchapp.wear.noise import Observed
from benchapp.wear.spread import Spread
from benchapp.wear.teaching import teach_fall
from tests.wear.histories import RULES, Story
from tests.wear.walking import each_look, follower_of, looks_of

OURS = "the bench's own"
FALLEN = 0.2


# --- two looks


def bench() -> Spread:
    """One that has learned nothing."""
    return Spread(RULES.number("spread", "severity"), RULES.number("spread", "source"))


@pytest.fixture(scope="module")
def before() -> Look:
    """A look late in a long fill."""
    return looks_of(Story("E").broken_in().usual(3).fill().run(30.0).sample())[1][-1]


def now_after(before: Look, times: Mapping[str, float], **changed: object) -> Look:
    """A look at the next sample: some elements read so many times what they did, the others rose by a tenth."""
    observed = {
        element: replace(one, ppm=one.ppm * times.get(element, 1.1)) for element, one in before.observed.items()
    }
    return replace(before, observed=observed, **changed)  # type: ignore[arg-type]


def with_reading(look: Look, element: str, **changed: object) -> Look:
    one: Observed = replace(look.observed[element], **changed)  # type: ignore[arg-type]
    return replace(look, observed={**look.observed, element: one})


def learned(before: Look, now: Look) -> Spread:
    spread = bench()
    teach_fall(spread, before, now)
    return spread


@pytest.mark.parametrize("element", ["Fe", "Al", "Cu"])
def test_what_fell_far_is_noise(before, element):
    spread = learned(before, now_after(before, {element: FALLEN}))
    assert spread.noise_factor(OURS, element) > 1.3 * bench().noise_factor(OURS, element)
    assert set(spread.noise) == {(OURS, element)}


def test_a_fall_that_a_bottle_explains_is_no_noise(before):
    """A tenth less, again and again: a top-up nobody wrote down is as good a reason."""
    spread = bench()
    for _ in range(10):
        teach_fall(spread, before, now_after(before, {"Fe": 0.9}))
    assert spread.noise_factor(OURS, "Fe") < 1.3 * bench().noise_factor(OURS, "Fe")


def test_what_rose_says_nothing(before):
    assert learned(before, now_after(before, {"Fe": 3.0})).noise == {}


def test_another_instrument_says_nothing(before):
    other = replace(before.sample, instrument="a lab")
    assert learned(before, now_after(before, {"Fe": FALLEN}, sample=other)).noise == {}


def test_a_sample_that_refutes_the_one_before_says_nothing(before):
    assert learned(before, now_after(before, {"Fe": FALLEN}, refuted=True)).noise == {}


@pytest.mark.parametrize("doubt", [{"bottle": True}, {"other_oil": "another oil"}, {"dregs": True}])
def test_after_a_sample_that_is_not_believed_a_fall_says_nothing(before, doubt):
    assert learned(replace(before, **doubt), now_after(before, {"Fe": FALLEN})).noise == {}


def test_what_was_wild_before_says_nothing(before):
    """It falls back from a slip; the other says what it has to say."""
    spread = learned(replace(before, wild="Fe"), now_after(before, {"Fe": FALLEN, "Al": FALLEN}))
    assert set(spread.noise) == {(OURS, "Al")}


@pytest.mark.parametrize("qualified", ["was", "is"])
def test_a_value_below_a_limit_says_nothing(before, qualified):
    now, below = now_after(before, {"Fe": FALLEN}), {"qualifier": "<", "limit": 40.0}
    if qualified == "was":
        before = with_reading(before, "Fe", **below)
    else:
        now = with_reading(now, "Fe", **below)
    assert learned(before, now).noise == {}


def test_an_additive_says_nothing(before):
    assert before.hidden[before.sources.elements.index("Zn")]
    assert learned(before, now_after(before, {"Zn": FALLEN})).noise == {}


def test_two_that_fall_far_are_noise_three_are_the_bottle(before):
    two = now_after(before, dict.fromkeys(("Fe", "Al"), FALLEN))
    assert set(learned(before, two).noise) == {(OURS, "Fe"), (OURS, "Al")}
    three = now_after(before, dict.fromkeys(("Fe", "Al", "Cu"), FALLEN))
    assert learned(before, three).noise == {}


def test_three_of_which_one_fell_a_little_are_noise(before):
    now = now_after(before, {"Fe": FALLEN, "Al": FALLEN, "Cu": 0.97})
    assert set(learned(before, now).noise) == {(OURS, "Fe"), (OURS, "Al"), (OURS, "Cu")}


# --- on the way


def taught_by_the_last(then: Callable[[Story], Story], seed: int, **sampled: object) -> float:
    """Times by which the noise of aluminium rises at a sample that reads little of it, a crank being suspected."""
    story = Story("E", seed=seed).broken_in().usual(4).fill()
    for _ in range(8):
        story.run(1.0, times={"crank": 20.0}).sample()
    then(story).run(1.0, times={"crank": 20.0}).sample(gains={"Al": FALLEN}, **sampled)  # type: ignore[arg-type]
    follower = follower_of(story)
    for _ in story.samples[:-1]:
        follower.next_look()
    instrument = story.samples[-1].instrument
    factor = follower.spread.noise_factor(instrument, "Al")
    look = follower.next_look()
    assert look is not None
    assert not look.evidence.teaches
    return follower.spread.noise_factor(instrument, "Al") / factor


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_fall_within_a_fill_teaches_and_one_after_a_drain_or_a_top_up_does_not(seed):
    assert taught_by_the_last(lambda story: story, seed) > 1.05
    for then in (lambda story: story.fill(), lambda story: story.top_up(0.5)):
        assert taught_by_the_last(then, seed) == pytest.approx(1.0, abs=1e-12)
    assert taught_by_the_last(lambda story: story, seed, instrument="a lab") == pytest.approx(1.0, abs=1e-12)


# --- an instrument that reads aluminium badly


def badly_read(name: str, seed: int, fills: int, samples: int, hours: float, crank: float) -> Story:
    """A long fill of which aluminium is read with ten times the method's noise."""
    story = Story(name, seed=seed).broken_in().usual(fills).fill()
    line, rng = RULES.noise_for("icp")["Al"], np.random.default_rng(900 + seed)
    for _ in range(samples):
        story.run(hours, times={"crank": crank})
        true = story.ppm["Al"]
        read = max(true + rng.normal(0.0, 10.0 * line.sd_ppm(true)), 0.0)
        story.sample(gains={"Al": read / true})
    return story


def after_a_season(seed: int) -> tuple[float, float, int, float]:
    """After a crank that was suspected for a whole fill: noise factor of aluminium, share of that fill's samples that
    taught nothing; and of a sound engine after it: loud calls, and what aluminium's parts were suspected of in all."""
    first, looks = looks_of(badly_read("E", seed, 4, 40, 1.0, 20.0))
    suspected = [not look.evidence.teaches for look in looks[5:]]
    factor = first.spread.noise_factor(OURS, "Al")
    second = follower_of(badly_read("F", seed + 20, 1, 15, 2.0, 1.0), spread=first.spread)
    loud, chance = 0, 0.0
    for look in each_look(second):
        loud += judgement(look, second, RULES).word in (LOOK_INSIDE, PARK)
        of_aluminium = look.sources.fractions[look.sources.elements.index("Al")] > 0.5
        chance += float(look.evidence.probability[of_aluminium].sum())
    return factor, float(np.mean(suspected)), loud, chance


@pytest.mark.parametrize("seed", [1, 2, 3, 4, 5])
def test_a_bad_element_is_known_for_it_though_something_was_suspected_all_the_time(seed, monkeypatch):
    """The next engine is not suspected for what its instrument reads badly. Without the falls it is."""
    factor, suspected, loud, chance = after_a_season(seed)
    assert suspected > 0.9
    assert factor > 3.0
    monkeypatch.setattr(follow, "teach_fall", lambda *_: None)
    ignorant, _, louder, feared = after_a_season(seed)
    assert ignorant < 0.5 * factor
    assert loud == 0
    assert louder > 0
    assert feared > 3.0 * chance


def noise_around_the_last(story: Story) -> tuple[dict, dict, list[Look]]:
    """What is known of noise before the last sample and after it, and the looks."""
    follower, looks, known = follower_of(story), [], {}
    for _ in story.samples:
        known = dict(follower.spread.noise)
        look = follower.next_look()
        assert look is not None
        looks.append(look)
    return known, follower.spread.noise, looks


def test_what_falls_back_after_a_bottle_of_dregs_teaches_nothing():
    story = Story("E").broken_in().usual(4).fill().run(30.0).sample()
    for _ in range(4):
        story.run(2.0, times={"crank": 20.0}).sample()
    settled = dict.fromkeys(("Fe", "Cr", "Ni", "Al", "Cu", "Pb", "Sn"), 1.5)
    story.run(0.1, times={"crank": 20.0}).sample(gains=settled).run(0.1, times={"crank": 20.0}).sample()
    known, after, looks = noise_around_the_last(story)
    assert looks[-2].dregs
    assert not looks[-1].evidence.teaches
    assert all(np.array_equal(known[key], after[key]) for key in after)


def test_a_build_that_is_walked_again_teaches_no_fall_twice():
    """An element is read for the first time in the last sample, after a drain."""
    story = badly_read("E", 1, 4, 10, 1.0, 20.0)
    unread = [replace(one, readings=tuple(r for r in one.readings if r.measurand != "Sn")) for one in story.samples]
    story.samples[:] = unread
    story.fill().run(1.0, times={"crank": 20.0}).sample()
    known, after, looks = noise_around_the_last(story)
    assert not looks[-1].evidence.teaches
    assert np.array_equal(known[(OURS, "Al")], after[(OURS, "Al")])
