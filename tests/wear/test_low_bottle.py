"""A bottle of the right oil and far too little metal: a sister engine's, no slip of the pen. Histories invented."""

from __future__ import annotations

import pytest

from tests.wear.histories import Story
from tests.wear.walking import looks_of

METALS = ("Fe", "Cr", "Ni", "Al", "Cu", "Pb", "Sn")


def with_less(seed: int, left: float) -> Story:
    """Late in a fill one bottle holds only this share of every metal; the two after it are this engine's again."""
    story = Story("E", seed=seed).broken_in().usual(6).fill()
    for _ in range(3):
        story.run(2.0).sample()
    story.run(0.5).sample(bottle={**story.ppm, **{metal: left * story.ppm[metal] for metal in METALS}})
    story.run(1.0).sample()
    return story.run(2.0).sample()


@pytest.mark.parametrize("seed", range(1, 7))
def test_metals_that_are_down_together_are_another_engines(seed):
    """Metal does not leave oil within a fill: no fault and no wear explains it, and one slip only the largest."""
    _, looks = looks_of(with_less(seed, 0.15))
    odd, *after = looks[-3:]
    assert odd.bottle
    assert odd.wild == "", "the bottle, not one of its readings"
    for look in after:
        assert not look.bottle
        assert not look.dregs, "the bottles after it are no richer than they should be"
        assert float(look.evidence.probability.sum()) < 0.05


@pytest.mark.parametrize("seed", range(1, 7))
def test_a_little_less_of_everything_is_this_engines(seed):
    """As after a top-up that nobody wrote down."""
    _, looks = looks_of(with_less(seed, 0.85))
    assert not any(look.bottle for look in looks[-3:])
