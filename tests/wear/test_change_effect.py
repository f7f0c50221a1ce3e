"""Did that help? False alarms under no change, a true halving found, and what it says of its own reach."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.wear.change_effect import effect, paired_permutation_p, percent, permutation_p, pooled


def rates(rng, n, mean=1.0, spread=0.25):
    return mean * np.exp(rng.normal(0, spread, n))


def share(trials, said):
    return sum(said() for _ in range(trials)) / trials


@pytest.mark.parametrize(("before", "after"), [(4, 4), (3, 3), (8, 6), (2, 4), (4, 1)])
def test_no_change_is_called_a_change_in_at_most_five_of_a_hundred(before, after):
    rng = np.random.default_rng(3)

    def said():
        return effect("Fe", before=rates(rng, before), after=rates(rng, after)).words.startswith("wears")

    assert share(400, said) <= 0.05


def test_rates_within_their_reading_noise_do_not_fake_a_change_either():
    rng = np.random.default_rng(8)

    def said():
        before, after = (rates(rng, 5, 2.0, 0.2) + rng.normal(0, 1.0, 5) for _ in range(2))
        one = np.ones(5)
        return effect("Pb", before=before, after=after, se_before=one, se_after=one).words.startswith("wears")

    assert share(300, said) <= 0.05


def test_a_true_halving_is_seen_with_four_and_four():
    rng = np.random.default_rng(4)

    def seen():
        return effect("Fe", before=rates(rng, 4), after=rates(rng, 4, 0.5)).words.startswith("wears less")

    assert share(300, seen) >= 0.80


def test_the_interval_holds_the_truth_in_nine_of_ten():
    rng = np.random.default_rng(5)

    def holds():
        found = effect("Fe", before=rates(rng, 5), after=rates(rng, 4, 0.7))
        return found.low <= 0.7 <= found.high

    assert 0.85 <= share(300, holds) <= 0.97


def test_what_it_says_it_could_have_seen_is_true():
    rng = np.random.default_rng(6)
    reach = np.median([effect("Fe", before=rates(rng, 6), after=rates(rng, 6)).seen_from for _ in range(60)])

    def seen():
        return effect("Fe", before=rates(rng, 6), after=rates(rng, 6, reach)).words.startswith("wears less")

    assert 0.68 <= share(250, seen) <= 0.92


def test_rates_inside_their_own_error_say_nothing_and_a_fall_into_the_noise_still_counts():
    lost = effect(
        "Sn", before=np.array([0.1, -0.2, 0.3]), after=np.array([0.2, 0.0, -0.1]),
        se_before=np.full(3, 0.4), se_after=np.full(3, 0.4),
    )  # fmt: skip
    assert not lost.said
    assert lost.words == "nothing can be said"
    assert math.isnan(lost.ratio)
    fell = effect(
        "Pb", before=np.array([8.0, 9.0, 8.5, 9.5]), after=np.array([0.3, -0.2, 0.5, 0.1]),
        se_before=np.full(4, 0.5), se_after=np.full(4, 0.5),
    )  # fmt: skip
    assert fell.said
    assert fell.words.startswith("wears less")
    assert fell.high < 0.3


def test_wears_more_and_a_difference_too_small_to_matter():
    rng = np.random.default_rng(2)
    assert effect("Fe", before=rates(rng, 6), after=rates(rng, 6, 3.0)).words == "wears more (probability over 99 %)"
    same = effect("Fe", before=rates(rng, 60, spread=0.05), after=rates(rng, 60, spread=0.05))
    assert same.words == "no difference that matters"


def test_one_interval_in_all_is_no_evidence():
    assert effect("Fe", before=np.array([1.1]), after=np.array([1.2])) is None
    assert effect("Fe", before=np.array([]), after=np.array([1.2, 1.1, 1.3])) is None


@given(st.lists(st.floats(0.3, 3), min_size=2, max_size=6), st.lists(st.floats(0.3, 3), min_size=2, max_size=6))
def test_turned_round_the_ratio_is_inverted(before, after):
    one = effect("x", before=np.array(before), after=np.array(after))
    other = effect("x", before=np.array(after), after=np.array(before))
    assert one.ratio * other.ratio == pytest.approx(1.0, rel=1e-6)
    assert one.probability_less + other.probability_less == pytest.approx(1.0)
    assert one.low <= one.ratio <= one.high


@given(st.floats(0.01, 1000))
def test_the_unit_of_the_rates_does_not_matter(scale):
    before, after = np.array([3.0, 4.0, 3.5]), np.array([2.0, 2.2, 1.5])
    one = effect("x", before=before, after=after)
    other = effect("x", before=before * scale, after=after * scale)
    assert one.ratio == pytest.approx(other.ratio, rel=1e-6)


def test_a_probability_is_never_said_to_be_nothing_or_all():
    assert [percent(p) for p in (0.0, 0.004, 0.5, 0.985, 0.9999)] == [
        "under 1 %",
        "under 1 %",
        "50 %",
        "98 %",
        "over 99 %",
    ]


def test_engines_that_agree_are_pooled_to_a_sharper_answer():
    rng = np.random.default_rng(9)
    effects = [(f"engine {i}", effect("Fe", before=rates(rng, 4), after=rates(rng, 4, 0.6))) for i in range(5)]
    together = pooled(effects)
    widths = [np.log(item.high / item.low) for _, item in effects]
    assert np.log(together.high / together.low) < min(widths)
    assert together.words.startswith("wears less")
    assert together.seen_from < 1
    assert len(together.engines) == 5


def test_pooled_null_changes_are_seldom_called():
    rng = np.random.default_rng(12)

    def said():
        effects = [(str(i), effect("Fe", before=rates(rng, 4), after=rates(rng, 4))) for i in range(3)]
        return pooled(effects).words.startswith("wears")

    assert share(150, said) <= 0.05


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
