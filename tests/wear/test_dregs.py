"""A bottle from the sump's bottom or the filter, where metal settles: it is known as such, told, and leaves nothing
behind; what only looks like it is not taken for it. All histories are invented."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from benchapp.wear.decide import RUN, SHORT_STINT, call_for, judgement
from benchapp.wear.follow import Follower
from benchapp.wear.look import Look
from benchapp.wear.report import Book
from tests.wear.histories import RULES, SOUND, Story
from tests.wear.walking import each_look, follower_of

METALS = ("Fe", "Cr", "Ni", "Al", "Cu", "Pb", "Sn")
SETTLED = dict.fromkeys(METALS, 1.6)
NEXT_TO_IRON_ALONE = {
    **SOUND, "pistons": 0.05, "top ring face": 0.05, "main bearing overlay": 0.02, "main bearing lining": 0.03,
}  # fmt: skip
SEEDS = [1, 2, 3, 4, 5, 6]


def followed(story: Story) -> tuple[Follower, list[Look], list[str]]:
    """The follower at the end, every look, and every call's word."""
    follower, looks, words = follower_of(story), [], []
    for look in each_look(follower):
        looks.append(look)
        words.append(judgement(look, follower, RULES).word)
    return follower, looks, words


def long_fill(seed: int, rates: Mapping[str, float] = SOUND) -> Story:
    """Three usual fills, then one that is sampled as it ages: its level is far over what a few laps can add."""
    story = Story("E", rates=rates, seed=seed).broken_in().usual(3).fill()
    for _ in range(6):
        story.run(4.0).sample()
    return story


def soon_after(story: Story, gains: Mapping[str, float] | None = None) -> Story:
    return story.run(0.25).sample(gains=gains)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_bottle_of_dregs_is_told_and_leaves_nothing(seed):
    follower, looks, words = followed(soon_after(soon_after(long_fill(seed), SETTLED)))
    dregs, after = looks[-2:]
    assert dregs.history >= 3
    assert dregs.dregs
    assert not dregs.bottle
    assert words[-2:] == [SHORT_STINT, RUN]
    assert any("midstream" in line for line in dregs.unknowns)
    assert not after.dregs
    assert not any("midstream" in line for line in after.unknowns)
    # the same engine with that bottle drawn as it should be
    sound, _, _ = followed(soon_after(soon_after(long_fill(seed))))
    at = [follower.elements.index(element) for element in ("Fe", "Al", "Cu", "Pb")]
    sd = np.sqrt(sound.watch.rate_covariance.diagonal())[at]
    assert np.all(np.abs(follower.watch.rate[at] - sound.watch.rate[at]) < 0.3 * sd)
    assert follower.watch.c[at] == pytest.approx(sound.watch.c[at], rel=0.05)


def test_the_call_says_to_draw_midstream():
    story = soon_after(long_fill(1), SETTLED)
    follower, book = follower_of(story), Book()
    calls = [call_for(look, follower, RULES, book) for look in each_look(follower)]
    assert calls[-1].call == SHORT_STINT
    assert any("midstream" in line for line in calls[-1].unknowns)
    assert not any("midstream" in line for call in calls[:-1] for line in call.unknowns)
    assert "the sump's bottom or the filter" in calls[-1].sentence
    assert [("midstream" in step) for step in calls[-1].before_out] == [False, True, False]
    assert not any("midstream" in step for call in calls[:-1] for step in call.before_out)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("times", [1.6, 2.0])
@pytest.mark.parametrize("element", ["Fe", "Al"])
def test_one_metal_alone_is_no_dregs(seed, times, element):
    """The others must say it too: it is a part's, or a slip."""
    _, looks, _ = followed(soon_after(long_fill(seed), {element: times}))
    assert not looks[-1].dregs


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("times", [1.3, 1.6, 2.0])
def test_iron_alone_is_no_dregs_where_there_is_hardly_another_metal(seed, times):
    """Here the others are too little to speak against it: they must speak for it."""
    _, looks, _ = followed(soon_after(long_fill(seed, NEXT_TO_IRON_ALONE), {"Fe": times}))
    assert not looks[-1].dregs


@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_dissolved_does_not_settle(seed):
    """Only an additive, sodium and boron up by as much is something else."""
    _, looks, _ = followed(soon_after(long_fill(seed), dict.fromkeys(("Zn", "P", "Ca", "Na", "B"), 1.6)))
    assert not looks[-1].dregs


@pytest.mark.parametrize("seed", SEEDS)
def test_metals_down_together_are_no_dregs(seed):
    _, looks, _ = followed(soon_after(long_fill(seed), dict.fromkeys(METALS, 0.6)))
    assert not looks[-1].dregs


@pytest.mark.parametrize("seed", SEEDS)
def test_twice_in_a_row_is_no_dregs_the_second_time(seed):
    """Nobody draws badly twice in the same way: what stays up is in the oil."""
    story = soon_after(soon_after(long_fill(seed), SETTLED), SETTLED)
    _, looks, _ = followed(story)
    assert [look.dregs for look in looks[-2:]] == [True, False]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_later_bottle_may_be_of_dregs_again(seed):
    story = soon_after(soon_after(long_fill(seed), SETTLED))
    _, looks, _ = followed(soon_after(story, SETTLED))
    assert [look.dregs for look in looks[-3:]] == [True, False, True]


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("times", [1.6, 2.5])
def test_without_history_nothing_is_dregs(seed, times):
    """Three intervals that taught what is normal are what it takes: two are too few."""
    story = Story("E", seed=seed).broken_in().run(10.0).sample().run(6.0).sample().run(6.0).sample()
    _, looks, _ = followed(soon_after(story, dict.fromkeys(METALS, times)))
    assert looks[-1].history < 3
    assert not looks[-1].dregs
