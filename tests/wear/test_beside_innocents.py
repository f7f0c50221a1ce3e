"""What an innocent explanation may not swallow: a steady leak, a fault behind a part that beds in, a large amount.

All histories are invented."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from benchapp.wear.decide import LOOK_INSIDE, PARK, RUN, SHORT_STINT, judgement
from benchapp.wear.follow import Follower, Look
from tests.wear.histories import RULES, Story, fleet_of, of_source


def looks_of(story: Story) -> tuple[Follower, list[Look]]:
    """A build walked to its end, with nothing known of its family."""
    fleet = fleet_of(story, sisters=0)
    engine = fleet.engines[0]
    follower = Follower(engine, engine.builds[0], fleet, RULES, None)
    looks = []
    while (look := follower.next_look()) is not None:
        looks.append(look)
    return follower, looks


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
    assert looks[7].evidence.innocent > 0.9
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


def test_a_large_amount_is_looked_at_on_less():
    follower, looks = looks_of(Story("E").broken_in().usual(3))
    look = looks[-1]
    normal = float(look.normal.max())
    table = RULES.number

    def word(probability: float, times: float) -> str:
        return judgement(with_fault(look, probability, (times - 1.0) * normal), follower, RULES).word

    likely, large = table("table", "large_probability"), table("table", "large_times")
    assert likely < table("table", "look_probability")
    assert word(likely + 0.01, large + 0.1) == LOOK_INSIDE
    assert word(likely + 0.01, large - 0.1) == SHORT_STINT
    assert word(likely - 0.01, large + 0.1) == SHORT_STINT
    assert word(table("table", "look_probability") + 0.01, 2.0) == LOOK_INSIDE
    assert word(0.0, 1.0) == RUN
