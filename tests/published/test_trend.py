"""Theil-Sen and Kendall against published examples."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.wear.trend import hours_to, theil_sen


def test_kendall_count_and_slope_of_a_rising_series():
    # worked by hand: all 15 pairs of six rising points rise, the median of their slopes is 2
    x = np.arange(6.0)
    found = theil_sen(x, 2 * x + 1)
    assert found.slope == pytest.approx(2.0)
    assert found.s == 15
    # variance of S for n = 6 without ties is n (n-1) (2n+5) / 18 = 28.333 (US EPA Unified Guidance 2009, section 17.3)
    assert found.z == pytest.approx(14 / np.sqrt(6 * 5 * 17 / 18))


def test_ties_lower_the_variance():
    found = theil_sen(np.arange(4.0), np.array([1.0, 1.0, 2.0, 3.0]))
    # n = 4 with one pair tied: (4*3*13 - 2*1*9) / 18 = 7.6667 (same section)
    assert found.s == 5
    assert found.z == pytest.approx(4 / np.sqrt(7.666667), rel=1e-6)


def test_too_few_points_have_no_slope():
    assert theil_sen(np.array([1.0, 2.0]), np.array([1.0, 2.0])) is None
    assert theil_sen(np.ones(4), np.arange(4.0)) is None


@pytest.mark.parametrize(("now", "slope", "hours"), [(20.0, 2.0, 5.0), (31.0, 2.0, 0.0), (20.0, 0.0, None)])
def test_hours_to_a_ceiling(now, slope, hours):
    assert hours_to(30.0, now, slope) == hours


@given(st.lists(st.floats(-50, 50), min_size=4, max_size=12), st.floats(-3, 3))
def test_an_added_slope_is_found(values, slope):
    x, y = np.arange(float(len(values))), np.array(values)
    flat, tilted = theil_sen(x, y), theil_sen(x, y + slope * x)
    assert tilted.slope == pytest.approx(flat.slope + slope, abs=1e-6)
    assert flat.low <= flat.slope <= flat.high
