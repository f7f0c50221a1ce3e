"""Did that help? False alarms under no change, a true halving found, and exact published permutations."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.wear.change_effect import effect, paired_permutation_p, permutation_p, pooled


def rates(rng, n, mean=1.0, spread=0.25):
    return np.log(mean) + rng.normal(0, spread, n)


@pytest.mark.parametrize(("before", "after"), [(4, 4), (3, 3), (8, 6), (2, 4)])
def test_no_change_is_called_a_change_in_at_most_five_of_a_hundred(before, after):
    rng = np.random.default_rng(3)
    trials = 600
    found = [effect("Fe", before=rates(rng, before), after=rates(rng, after)) for _ in range(trials)]
    false = sum(item.words.startswith("wears") for item in found)
    assert false / trials <= 0.05


def test_a_true_halving_is_seen_with_four_and_four():
    rng = np.random.default_rng(4)
    trials = 300
    seen = sum(
        effect("Fe", before=rates(rng, 4), after=rates(rng, 4, 0.5)).words.startswith("wears less")
        for _ in range(trials)
    )
    assert seen / trials >= 0.80


def test_what_it_says_it_could_have_seen_is_true():
    rng = np.random.default_rng(6)
    trials = 300
    reach = np.median([effect("Fe", before=rates(rng, 6), after=rates(rng, 6)).seen_from for _ in range(50)])
    seen = sum(
        effect("Fe", before=rates(rng, 6), after=rates(rng, 6, reach)).words.startswith("wears less")
        for _ in range(trials)
    )
    assert 0.70 <= seen / trials <= 0.92


def test_one_interval_in_all_is_no_evidence():
    assert effect("Fe", before=np.array([0.1]), after=np.array([0.2])) is None
    assert effect("Fe", before=np.array([]), after=np.array([0.2, 0.1, 0.3])) is None


@given(st.lists(st.floats(-1, 1), min_size=2, max_size=6), st.lists(st.floats(-1, 1), min_size=2, max_size=6))
def test_turned_round_the_ratio_is_inverted(before, after):
    one = effect("x", before=np.array(before), after=np.array(after))
    other = effect("x", before=np.array(after), after=np.array(before))
    assert one.ratio * other.ratio == pytest.approx(1.0)
    assert one.probability_less + other.probability_less == pytest.approx(1.0)
    assert one.low <= one.ratio <= one.high


def test_engines_that_agree_are_pooled_to_a_sharper_answer():
    rng = np.random.default_rng(9)
    effects = [
        (f"engine {i}", effect("Fe", before=rates(rng, 4), after=rates(rng, 4, 0.6))) for i in range(5)
    ]
    together = pooled(effects)
    widths = [np.log(item.high / item.low) for _, item in effects]
    assert np.log(together.high / together.low) < min(widths)
    assert together.high < 1
    assert len(together.engines) == 5


def test_one_engine_is_not_pooled():
    assert pooled([]) is None


def test_random_regrouping_is_named_as_such():
    rng = np.random.default_rng(1)
    p, exact = permutation_p(rng.normal(0, 1, 14), rng.normal(0, 1, 14))
    assert not exact
    assert 0 < p <= 1


def test_too_many_pairs_are_refused():
    with pytest.raises(ValueError, match="20 pairs"):
        paired_permutation_p(np.zeros(21))
