"""Expected rates: prediction limits, shrinkage and the hierarchical model against published values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm, t

from benchapp.wear.expected import hierarchy, predict_next, shrink

# Rubin's eight schools (Gelman et al., Bayesian Data Analysis): estimates and their standard errors
Y = (28, 8, -3, 7, -1, 1, 18, 12)
SE = (15, 10, 16, 11, 9, 11, 10, 18)


def test_eight_schools_against_posteriordb():
    # posteriordb, eight_schools_noncentered, gold-standard draws: mu ~ N(0, 5), tau ~ half-Cauchy(0, 5); their Monte
    # Carlo standard errors are .03 to .06
    found = hierarchy(Y, SE, centre_sd=5.0, between_scale=5.0, between_max=2000.0, steps=40000)
    mcse = 0.06
    assert found.centre == pytest.approx(4.4105, abs=2 * mcse)
    assert found.between == pytest.approx(3.6021, abs=2 * mcse)
    published = (6.1505, 4.9396, 3.9059, 4.7960, 3.6144, 4.0511, 6.3172, 4.8840)
    assert found.theta == pytest.approx(published, abs=2 * mcse)
    # our own second solution, by another grid, to the digits it was printed with
    assert (found.centre, found.between) == pytest.approx((4.3969, 3.5970), abs=2e-3)
    assert found.theta == pytest.approx(
        (6.2116, 4.9401, 3.9271, 4.7571, 3.6157, 4.0427, 6.2964, 4.8542), abs=2e-3
    )


def test_the_default_grid_is_good_enough():
    coarse = hierarchy(Y, SE, centre_sd=5.0, between_scale=5.0)
    fine = hierarchy(Y, SE, centre_sd=5.0, between_scale=5.0, between_max=2000.0, steps=40000)
    assert coarse.theta == pytest.approx(fine.theta, abs=0.05)


def test_eight_schools_with_flat_priors():
    # flat in mu and tau, as Gelman et al. print them (rounded): recomputed twice
    found = hierarchy(Y, SE, between_max=600.0, steps=20000)
    assert (found.centre, found.centre_sd) == pytest.approx((7.932, 5.178), abs=0.02)
    assert found.theta == pytest.approx((11.400, 7.895, 6.131, 7.645, 5.127, 6.139, 10.667, 8.457), abs=0.02)
    assert found.theta_sd == pytest.approx((8.341, 6.275, 7.765, 6.546, 6.357, 6.710, 6.785, 7.888), abs=0.02)


def test_eight_schools_shrunk_by_a_known_spread():
    total = np.square(SE) + 5.0**2
    centre = float(np.sum(Y / total) / np.sum(1.0 / total))
    assert centre == pytest.approx(7.8510, abs=5e-5)
    shrunk = [shrink(y, se**2, centre, 5.0**2) for y, se in zip(Y, SE, strict=True)]
    assert shrunk == pytest.approx((9.87, 7.88, 6.89, 7.71, 5.76, 6.68, 9.88, 8.15), abs=5e-3)


def test_no_spread_pools_all():
    # common mean 7.7 with standard error 4.1 in the book; 7.6856 and 4.0719 recomputed
    found = hierarchy(Y, SE, between_max=1e-4, steps=50)
    assert (found.centre, found.centre_sd) == pytest.approx((7.6856, 4.0719), abs=5e-5)
    assert found.theta == pytest.approx([found.centre] * 8, abs=1e-4)


@given(st.floats(-50, 50), st.floats(0.01, 100), st.floats(-50, 50), st.floats(0.01, 100))
def test_shrinkage_lies_between_and_nearer_to_the_surer(value, variance, centre, between):
    found = shrink(value, variance, centre, between)
    assert min(value, centre) - 1e-9 <= found <= max(value, centre) + 1e-9
    assert shrink(value, 1e-12, centre, between) == pytest.approx(value, abs=1e-6)


# --- prediction of the next value


def with_moments(count, mean, sd):
    """Values that have just this mean and standard deviation."""
    plain = np.arange(float(count))
    return mean + sd * (plain - plain.mean()) / plain.std(ddof=1)


def test_prediction_interval_of_envstats():
    # R package EnvStats, help of predIntNorm: n 20, mean 9.792856, s 1.821286, 95 %
    found = predict_next(with_moments(20, 9.792856, 1.821286))
    reach = t.ppf(0.975, found.freedom) * found.scale
    assert (found.location - reach, found.location + reach) == pytest.approx((5.886723, 13.698988), abs=2e-6)


def of_mean(scale, count, m):
    """Scale of the mean of the next m values, from that of the next one."""
    return scale * math.sqrt((1 / m + 1 / count) / (1 + 1 / count))


def test_three_means_of_two_by_bonferroni():
    # same help page: upper 99 % limit for three means of two, Bonferroni
    found = predict_next(with_moments(20, 9.792856, 1.821286))
    upper = found.location + t.ppf(1 - 0.01 / 3, found.freedom) * of_mean(found.scale, 20, 2)
    assert upper == pytest.approx(13.905367, abs=2e-6)


def test_epa_chrysene():
    # US EPA Unified Guidance 2009, example 18-2: chrysene [ppb], upper 99 % limit for the mean of the next four
    logs = np.log([6.9, 27.3, 10.8, 8.9, 15.1, 7.2, 48.4, 7.8])
    found = predict_next(logs)
    upper = math.exp(found.location + t.ppf(0.99, found.freedom) * of_mean(found.scale, 8, 4))
    assert upper == pytest.approx(46.9661, abs=1e-4)


def test_with_a_prior():
    # constructed case: m0 10, k0 2, a0 3, b0 4; values 12 9 11 14
    values, centre, weight, shape, rate = (12, 9, 11, 14), 10.0, 2.0, 3.0, 4.0
    found = predict_next(values, centre, weight, shape, rate)
    assert (found.location, found.scale, found.freedom) == pytest.approx((11.0, 1.673320, 10.0), abs=1e-6)
    low, high = t.ppf((0.025, 0.975), found.freedom) * found.scale + found.location
    assert (low, high) == pytest.approx((7.271611, 14.728389), abs=1e-6)
    beyond = t.sf((15.0 - found.location) / found.scale, found.freedom)
    assert beyond == pytest.approx(0.0189644857, abs=1e-9)
    # the same by integrating the normal over its variance: precision ~ Gamma(an, bn), mean ~ N(mn, var / kn)
    an, bn, kn = 5.0, 12.0, 6.0

    def density(precision):
        gamma = bn**an / math.gamma(an) * precision ** (an - 1) * math.exp(-bn * precision)
        return gamma * norm.sf(15.0, 11.0, math.sqrt((1 + 1 / kn) / precision))

    assert quad(density, 0, 12, epsabs=1e-12)[0] == pytest.approx(beyond, abs=1e-9)


def test_nothing_known_has_no_prediction():
    with pytest.raises(ValueError, match="prior"):
        predict_next([])
    with pytest.raises(ValueError, match="prior"):
        predict_next([3.0])
    alone = predict_next([], 10.0, 2.0, 3.0, 4.0)
    assert (alone.location, alone.freedom) == (10.0, 6.0)


@given(st.lists(st.floats(-100, 100), min_size=3, max_size=12))
def test_more_of_the_same_narrows_the_prediction(values):
    one, two = predict_next(values), predict_next([*values, *values, *values])
    assert t.ppf(0.95, two.freedom) * two.scale <= t.ppf(0.95, one.freedom) * one.scale + 1e-9
