"""What an innocent explanation may not swallow: a steady leak, a fault behind a part that beds in, a large amount.

All histories are invented."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from benchapp.wear.decide import LOOK_INSIDE, PARK, RUN, SHORT_STINT, judgement
from benchapp.wear.follow import Follower
from benchapp.wear.look import Look
from benchapp.wear.rules import least_for_a_look
from benchapp.wear.watch import Watch
from tests.wear.histories import RULES, Story, of_source
from tests.wear.walking import looks_of


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_steady_leak_never_becomes_normal(seed):
    story = Story("E", seed=seed).broken_in().usual(5)
    leak = {element: 14.0 * share for element, share in of_source("coolant").items()}
    for _ in range(10):
        story.fill().run(4.0, extra=leak).sample()
    follower, looks = looks_of(story)
    words = [judgement(look, follower, RULES).word for look in looks[-10:]]
    assert set(words[1:]) <= {LOOK_INSIDE, PARK}, words


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_part_that_beds_in_hides_no_fault_of_another(seed):
    """Pistons that bed in over hours, as surely seen as can be; the bores begin to wear later."""
    story = Story("E", seed=seed).fill()
    for number in range(14):
        story.run(2.0, times={"pistons": bedding(story.hours, 2.0), "bores": 1.0 + 2.0 * max(number - 7, 0)}).sample()
        if number % 4 == 3:
            story.fill()
    _, looks = looks_of(story)
    assert looks[1].evidence.innocent + looks[1].evidence.hard > 0.9
    assert looks[3].evidence.sound > 0.9, "it is so certain by then that it is part of what is expected"
    assert float(looks[7].evidence.probability.sum()) < 0.05
    assert float(looks[-1].evidence.probability.sum()) > 0.5


def bedding(start_h: float, hours: float) -> float:
    """Mean wear over a run in settled rates: ten times as much at first, a third of that after four hours."""
    return 1.0 + 10.0 * 4.0 * (math.exp(-start_h / 4.0) - math.exp(-(start_h + hours) / 4.0)) / hours


def with_fault(look: Look, probability: float, extra_mg_h: float) -> Look:
    """The same look, with one source as likely at fault and shedding as much."""
    evidence = look.evidence
    at = int(np.argmax(look.normal))
    chance, extra = np.zeros_like(evidence.probability), np.zeros_like(evidence.extra)
    chance[at], extra[at] = probability, extra_mg_h
    return replace(look, evidence=replace(evidence, probability=chance, extra=extra))


class Asking:
    """How likely a fault must be at a look before the engine is looked at."""

    def __init__(self, follower: Follower, look: Look) -> None:
        self.follower, self.look = follower, look

    def word(self, chance: float, ppm_h: float) -> str:
        at_fault = with_fault(self.look, chance, ppm_h * self.look.interval.mass_kg)
        return judgement(at_fault, self.follower, RULES).word

    def asked(self, ppm_h: float) -> float:
        """The smallest probability [to 0.001] that has the engine looked at."""
        return next(c / 1000.0 for c in range(1001) if self.word(c / 1000.0, ppm_h) in (LOOK_INSIDE, PARK))

    @property
    def normal(self) -> float:
        """Of the likeliest source [ppm/h]."""
        return float(self.look.normal.max()) / self.look.interval.mass_kg


def test_the_more_metal_the_less_it_takes_to_look():
    follower, looks = looks_of(Story("E").broken_in().usual(6))
    assert looks[-1].history >= RULES.number("table", "look_history")
    asking = Asking(follower, looks[-1])
    at, power = (RULES.number("table", f"look_{name}") for name in ("ppm_h", "power"))
    least, most, probability = (RULES.number("table", f"look_{name}") for name in ("least", "most", "probability"))
    some, wait = max(at, asking.normal), (asking.look.interval.hours / RULES.number("table", "look_wait_h")) ** -0.5
    assert 0.6 < wait < 1.0
    for ppm_h in (some, 1.5 * some):
        assert asking.asked(ppm_h) == pytest.approx(wait * probability * (ppm_h / at) ** -power, abs=0.001)
    assert asking.asked(100.0 * at) == pytest.approx(wait * least, abs=0.001)
    assert asking.word(most + 0.01, 0.5 * asking.normal) == SHORT_STINT, "half of its normal rate more is no reason"
    assert asking.word(0.0, 1.0) == RUN


def test_the_later_the_next_bottle_the_less_it_takes_to_look():
    """Who samples after every session can wait for the next bottle; a fault let pass after ten hours has ten more."""
    follower, looks = looks_of(Story("E").broken_in().usual(6))
    asked = []
    for hours in (0.2, 1.0, 2.0, 4.0, 8.0, 30.0):
        look = replace(looks[-1], interval=replace(looks[-1].interval, hours=hours))
        asked.append(Asking(follower, look).asked(100.0))
    late, soon = RULES.table["table"]["look_wait"]
    least = RULES.number("table", "look_least")
    expected = [soon * least, soon * least, least, least * 0.5**0.5, late * least, late * least]
    assert asked == pytest.approx(expected, abs=0.0011)
    assert asked[-1] >= RULES.number("table", "stint_probability"), "no look is asked for where a stint was none"


def test_nothing_known_of_normal_makes_no_amount_a_reason():
    follower, looks = looks_of(Story("E").broken_in().usual(6))
    for look in looks[:3]:
        assert look.prior.basis == "none"
        asked = Asking(follower, look).asked(100.0)
        assert asked >= RULES.number("table", "look_probability" if look.history else "look_most") - 0.001, look.history
    settled = replace(looks[1].interval, run_in=False)
    family = replace(looks[1], prior=replace(looks[1].prior, basis="family"), interval=settled)
    assert Asking(follower, family).asked(100.0) < RULES.number("table", "look_least")


def test_how_much_a_break_in_sheds_is_no_reason_by_itself():
    """With a family that says what is normal: a break-in sample, and the first of a build while it runs in."""
    follower, looks = looks_of(Story("E").broken_in().usual(6))
    least, probability = (RULES.number("table", f"look_{name}") for name in ("least", "probability"))
    settled = replace(looks[1].interval, run_in=False)
    for break_in, run_in, history, expected in (
        (True, False, 2, probability), (False, True, 0, probability), (False, True, 2, None), (False, False, 0, None),
    ):  # fmt: skip
        look = replace(
            looks[1], prior=replace(looks[1].prior, basis="family"), interval=replace(settled, run_in=run_in),
            sample=replace(looks[1].sample, break_in=break_in), history=history,
        )  # fmt: skip
        asked = Asking(follower, look).asked(100.0)
        assert asked < least if expected is None else asked == pytest.approx(expected, abs=0.002)


def test_parts_found_sound_are_remembered_while_a_look_may_be_asked_for():
    """A large amount is looked at on little probability; what was found then counts on."""
    table = RULES.number
    assert table("table", "stint_probability") <= least_for_a_look(RULES) < table("table", "look_probability")


def splash_then_fault(seed: int, settled: int) -> Story:
    """Pistons that shed 26 times their normal in one fill and never again; four fills later the bores begin to wear."""
    story = Story("E", seed=seed).broken_in().usual(settled)
    story.fill().run(4.0, times={"pistons": 26.0}).sample()
    story.usual(4)
    for number in range(3):
        story.fill().run(4.0, times={"bores": 4.0 + 3.0 * number}).sample()
    return story


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("settled", [1, 4])
def test_a_splash_that_is_past_hides_no_later_fault(seed, settled):
    _, looks = looks_of(splash_then_fault(seed, settled))
    chances = [float(look.evidence.probability.sum()) for look in looks[-8:]]
    assert chances[0] > 0.4, "nobody knows yet that it passes, or whether one reading is a slip"
    assert max(chances[1:5]) < 0.05, "it has passed"
    assert chances[5] > 0.25
    assert min(chances[6:]) > 0.9


def test_what_a_held_excess_shares_with_the_others_is_exact(monkeypatch):
    """Information shared by two hypotheses is the sum over all messages of the product of what they would show."""
    monkeypatch.setattr(Watch, "may_settle", lambda self, column: False)
    follower, _ = looks_of(splash_then_fault(1, 1))
    messages: list[tuple[int, np.ndarray]] = []
    learn = Watch._learn

    def listening(self, gap, difference):
        if self is watch:
            messages.append((self.slots.intervals, gap.copy()))
        learn(self, gap, difference)

    monkeypatch.setattr(Watch, "_learn", listening)
    follower.reset()
    watch = follower.watch
    while follower.next_look() is not None:
        watch = follower.watch
    held = watch.lasting[watch.always :]
    assert len(held), "the splash is held"
    for column, row in zip(held.tolist(), watch.shared[watch.always :], strict=True):
        began = np.maximum(watch.slots.opened[watch.columns.slot], watch.slots.opened[watch.columns.slot[column]])
        along = sum(np.where(interval >= began, gap[:, column] @ gap, 0.0) for interval, gap in messages)
        assert row == pytest.approx(along, rel=1e-9, abs=1e-12)
    assert np.abs(watch.shared[watch.always :]).max() > 1.0
