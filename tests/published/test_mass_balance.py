"""The source split against published and twice-solved cases."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import nnls

from benchapp.wear.split import in_range, split

# Pearson's data with York's weights: a line with errors in both variables, as a mass balance of two sources
# (constant and slope). Data and exact answers as in public tests of the R package bfsl.
X = np.array([0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
Y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
WX = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1])
WY = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])


def pearson_york():
    A = np.column_stack([np.ones_like(X), X])
    S = np.column_stack([np.zeros_like(X), 1 / np.sqrt(WX)])
    return split(Y, 1 / np.sqrt(WY), A, S, stop=1e-12, non_negative=False)


def test_pearson_york_is_the_frozen_weight_answer_not_the_exact_one():
    found = pearson_york()
    # recomputed twice with frozen weights; York's exact line is 5.47991022, -0.48053341
    assert found.x == pytest.approx([5.3960523, -0.4634489], abs=2e-6)
    assert found.chi_square == pytest.approx(1.4945561, abs=1e-5)
    assert found.sd == pytest.approx([0.2956666, 0.0578009], abs=1e-6)
    assert abs(found.x[0] - 5.47991022) > 0.05


def test_errors_in_y_only_is_weighted_least_squares():
    A = np.column_stack([np.ones_like(X), X])
    found = split(Y, 1 / np.sqrt(WY), A, np.zeros_like(A), non_negative=False)
    assert found.x == pytest.approx([6.1001093, -0.6108130], abs=1e-6)


# Three sediment sources and their mixture (public R package fingerPro, example_geochemical_3s_mean.csv)
CR, P = [72.34, 52.47, 68.18], [1112.08, 1079.00, 763.28]
MIXTURE = {"Cr": 65.51, "P": 1005.10}


def test_three_sources_unmix_as_published():
    A = np.array([CR, P, [1.0, 1.0, 1.0]])
    y = np.array([MIXTURE["Cr"], MIXTURE["P"], 1.0])
    found = split(y, np.full(3, 1e-6), A, np.zeros_like(A))
    # published apportionment 0.435 / 0.285 / 0.280
    assert found.x == pytest.approx([0.43515398, 0.28518400, 0.27966202], abs=1e-5)


def test_what_lies_outside_its_sources_is_refused_by_the_range_test():
    A = np.array([CR, [10.0, 20.0, 15.0]])
    assert in_range(np.array([65.51, 30.0]), A).tolist() == [True, False]


# A fully given case of six elements and three sources, solved by normal equations and by SVD, which agree
F = np.array([
    [0.92, 0.02, 0.01], [0.02, 0.60, 0.0], [0.01, 0.0, 0.05], [0.0, 0.05, 0.80], [0.03, 0.02, 0.08], [0.01, 0.25, 0.02],
])  # fmt: skip
C = np.array([28.38, 5.20, 0.95, 10.30, 1.92, 2.64])


@pytest.mark.parametrize(
    ("stop", "rounds", "x", "sd", "chi"),
    [
        (0.01, 2, [30.110847, 7.913609, 12.256246], [3.303841, 0.824177, 1.308787], 0.143293),
        (1e-12, 8, [30.112873, 7.914006, 12.255554], [3.287225, 0.827341, 1.305618], 0.143329),
    ],
)
def test_six_by_three(stop, rounds, x, sd, chi):
    found = split(C, 0.05 * C + 0.1, F, 0.10 * F + 0.002, stop=stop)
    # a first solve from x = 0 is a plain weighted one; "rounds" counts the solves after it where the 1 % stop is met
    assert found.x == pytest.approx(x, rel=2e-4)
    assert found.sd == pytest.approx(sd, rel=6e-3)
    assert found.chi_square == pytest.approx(chi, rel=2e-3)
    assert found.rounds <= rounds + 2


@pytest.mark.parametrize(
    ("b", "x", "norm"), [((2.0, 1.0, 1.0), (1.5, 1.0), 0.70710678), ((2.0, 1.0, -1.0), (1.5, 0.0), 1.22474487)]
)
def test_non_negative_least_squares_as_lawson_and_hanson(b, x, norm):
    # Lawson and Hanson, Solving Least Squares Problems (1974), through scipy; small cases solved by hand
    A = np.array([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    found = split(np.array(b), np.ones(3), A, np.zeros_like(A))
    assert found.x == pytest.approx(x)
    assert np.sqrt(np.nansum(found.rest**2)) == pytest.approx(norm)
    assert found.x == pytest.approx(nnls(A, np.array(b))[0])


def test_five_nearly_equal_profiles_all_fit_and_say_different_things():
    """The collinearity lesson (EPA CMB8.2 Fresno example: five nearly equal vehicle profiles all "pass" while the
    vehicle share varies 7-fold): a good fit is no proof, and the standard error must say so."""
    rng = np.random.default_rng(4)
    road = np.array([0.30, 0.10, 0.20, 0.15, 0.25])
    other = np.array([0.28, 0.12, 0.21, 0.16, 0.23])
    y = 10 * road + 10 * other
    y_sd = 0.05 * y + 0.05
    shares = []
    for _ in range(5):
        A = np.column_stack([road * (1 + 0.06 * rng.normal(size=5)), other])
        found = split(y, y_sd, A, 0.06 * A)
        assert found.chi_square < 2.0
        shares.append(found.x[0])
        assert found.sd[0] > 0.4 * max(found.x[0], 1.0)
    assert max(shares) > 2 * min(shares)
