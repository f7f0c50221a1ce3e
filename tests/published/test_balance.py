"""The sump balance against an ODE solver, and carry-over from tracers.

No published numeric mass-balance case could be read (the theory is D. Lotan, Spectrometric Oil Analysis, SAE 720303,
1972). The numeric cases below are constructed ones whose closed forms agree with an ODE solver to 1e-7; here each is
solved again by scipy. The carry-over case of 80 ppm and 15 % is printed in a trade-press article on residual oil.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from benchapp.wear import balance
from benchapp.wear.carry_over import CarryOver, combine, from_tracers, outside


def by_ode(slope, start, hours):
    """Solves dc/dt = slope(t, c) from `start` [mg/kg] over `hours`."""
    solved = solve_ivp(lambda t, c: [slope(t, c[0])], (0.0, hours), [start], rtol=1e-11, atol=1e-12, method="DOP853")
    return float(solved.y[0, -1])


# --- oil made up all the time, with and without a filter


@pytest.mark.parametrize(
    ("hours", "ppm"), [(10, 17.695937), (20, 31.477547), (40, 50.569645), (80, 69.173177)]
)
def test_oil_made_up_all_the_time(hours, ppm):
    found = balance.concentration(0.0, 8.0, 0.0, 4.0, hours, make_up_kg_h=0.1)
    assert found == pytest.approx(ppm, abs=5e-7)
    assert found == pytest.approx(by_ode(lambda _, c: 8.0 / 4 - 0.1 / 4 * c, 0.0, hours), abs=1e-7)
    # the naive figure forgets what leaves with the oil
    assert balance.concentration(0.0, 8.0, 0.0, 4.0, hours) == pytest.approx(2.0 * hours)
    # and the balance gets the rate back
    assert balance.wear_rate(0.0, found, 0.0, 4.0, hours, 0.1) == pytest.approx(8.0, rel=1e-9)


def test_with_a_filter_that_takes_metal_out():
    found = balance.concentration(5.0, 8.0, 1.0, 4.0, 10.0, make_up_kg_h=0.1, filter_kg_h=0.3)
    assert found == pytest.approx(14.639839, abs=5e-7)
    assert found == pytest.approx(by_ode(lambda _, c: (8.0 + 0.1 * (1.0 - c) - 0.3 * c) / 4, 5.0, 10.0), abs=1e-7)
    # it settles at (m + q n) / (q + eQ) = 20.25
    assert balance.concentration(5.0, 8.0, 1.0, 4.0, 1e4, 0.1, 0.3) == pytest.approx(20.25)


# --- oil lost and nothing added


@pytest.mark.parametrize(("metal_leaves", "ppm"), [(True, 23.014566), (False, 26.666667)])
def test_oil_lost_and_nothing_added(metal_leaves, ppm):
    found = balance.concentration_not_made_up(0.0, 8.0, 4.0, 10.0, 0.1, metal_leaves=metal_leaves)
    assert found == pytest.approx(ppm, abs=5e-7)

    def slope(t, c):
        left = 4.0 - 0.1 * t
        return (8.0 + (0.0 if metal_leaves else 0.1 * c)) / left

    assert found == pytest.approx(by_ode(slope, 0.0, 10.0), abs=1e-7)


def test_a_sump_that_runs_dry_is_refused():
    with pytest.raises(ValueError, match="empty"):
        balance.concentration_not_made_up(0.0, 8.0, 4.0, 41.0, 0.1, metal_leaves=True)


# --- top-ups in batches


def test_lost_hour_by_hour_and_topped_up_every_hour():
    c = 0.0
    for _ in range(10):
        lost = balance.concentration_not_made_up(c, 8.0, 4.0, 1.0, 0.1, metal_leaves=True)
        assert lost == pytest.approx(by_ode(lambda t, _: 8.0 / (4.0 - 0.1 * t), c, 1.0), abs=1e-7)
        c = balance.after_top_up(lost, 0.0, 4.0, 0.1)
    # against 17.695937 where the same oil is added all the time
    assert c == pytest.approx(17.668072, abs=5e-7)


def test_top_ups_one_by_one():
    top_ups = [(7.0, 0.6, 1.0), (2.5, 0.3, 0.0)]  # in any order
    c = balance.after_top_up(by_ode(lambda *_: 2.0, 3.0, 2.5), 0.0, 4.0, 0.3)
    c = balance.after_top_up(by_ode(lambda *_: 2.0, c, 4.5), 1.0, 4.0, 0.6)
    c = by_ode(lambda *_: 2.0, c, 3.0)
    assert balance.batches(3.0, 8.0, 4.0, 10.0, top_ups) == pytest.approx(c, abs=1e-7)
    # oil that goes missing all along but is counted as lost when it is topped up: within 1.5 % of the case above
    hourly = balance.batches(0.0, 8.0, 4.0, 10.0, [(hour, 0.1, 0.0) for hour in range(1, 11)])
    assert hourly == pytest.approx(17.668072, rel=0.015)


def test_wear_between_two_samples_with_half_a_kilo_added():
    naive = balance.wear_rate(12.0, 17.0, 0.0, 4.0, 10.0) * 10
    trapezoid = balance.wear_rate_trapezoid(12.0, 17.0, 4.0, 0.5, 10.0) * 10
    exact = balance.wear_rate(12.0, 17.0, 0.0, 4.0, 10.0, make_up_kg_h=0.05) * 10
    assert (naive, trapezoid) == pytest.approx((20.0, 27.25))
    assert exact == pytest.approx(27.276035, abs=5e-7)
    assert by_ode(lambda _, c: exact / 10 / 4 - 0.05 / 4 * c, 12.0, 10.0) == pytest.approx(17.0, abs=1e-7)


@given(st.floats(0, 100), st.floats(0, 100), st.floats(0.5, 20), st.floats(0.0, 0.33), st.floats(0.5, 30))
def test_trapezoid_stays_within_one_per_cent_of_what_turns_over(c0, c1, mass, share, hours):
    added = share * mass
    exact = balance.wear_rate(c0, c1, 0.0, mass, hours, added / hours)
    close = balance.wear_rate_trapezoid(c0, c1, mass, added, hours)
    assert abs(close - exact) * hours <= 0.01 * mass * (c0 + c1) + 1e-9


# --- drains


def test_what_stays_in_the_engine_through_a_drain():
    # trade-press article on residual oil: 80 ppm iron at the drain, 15 % left, the new fill starts at 12 ppm and a
    # sample after 10 h reads as 1.2 ppm/h though nothing has worn
    start = balance.after_refill(80.0, 0.0, 0.15)
    assert start == pytest.approx(12.0)
    assert start / 10 == pytest.approx(1.2)
    assert balance.wear_rate(start, 12.0, 0.0, 4.0, 10.0) == pytest.approx(0.0, abs=1e-9)


def test_many_equal_fills_settle():
    end = 0.0
    for _ in range(60):
        end = balance.after_refill(end, 2.0, 0.15) + 30.0
    # D/(1 - f) + n
    assert end == pytest.approx(balance.repeated_fills(30.0, 2.0, 0.15))


def test_a_share_removed_every_cycle():
    c = 0.0
    for _ in range(7):
        c = 0.8 * c + 6.0 / 4.0
    assert balance.geometric_level(6.0, 4.0, 0.2, 7) == pytest.approx(c)
    assert balance.geometric_level(6.0, 4.0, 0.2, 500) == pytest.approx(6.0 / (4.0 * 0.2))  # P/(V R)
    assert balance.geometric_level(6.0, 4.0, 0.0, 7) == pytest.approx(10.5)


# --- running in


@pytest.mark.parametrize(
    ("hours", "ppm", "mg"),
    [
        (1, 6.086863, 24.673467),
        (2, 10.114186, 41.606028),
        (5, 16.406890, 70.895750),
        (10, 21.218682, 99.663103),
        (20, 27.653536, 149.997730),
    ],
)
def test_running_in(hours, ppm, mg):
    def rate(t):
        return balance.run_in_rate(t, 5.0, 30.0, 2.0)

    found = balance.run_in_concentration(hours, 5.0, 30.0, 2.0, 4.0, 0.1)
    assert found == pytest.approx(ppm, abs=5e-7)
    assert found == pytest.approx(by_ode(lambda t, c: rate(t) / 4 - 0.1 / 4 * c, 0.0, hours), abs=1e-7)
    metal = balance.run_in_metal(hours, 5.0, 30.0, 2.0)
    assert metal == pytest.approx(mg, abs=5e-7)
    assert metal == pytest.approx(quad(rate, 0.0, hours, epsabs=1e-12)[0], abs=1e-8)


def test_running_in_where_oil_turns_over_as_fast_as_parts_seat():
    # q/V = 1/T: the closed form has a removable singularity there
    near = balance.run_in_concentration(3.0, 5.0, 30.0, 2.0, 4.0, 2.0 * (1 + 1e-7))
    at = balance.run_in_concentration(3.0, 5.0, 30.0, 2.0, 4.0, 2.0)
    slope = by_ode(lambda t, c: balance.run_in_rate(t, 5.0, 30.0, 2.0) / 4 - 0.5 * c, 0.0, 3.0)
    assert at == pytest.approx(slope, abs=1e-7)
    assert near == pytest.approx(at, abs=1e-5)
    assert balance.run_in_concentration(3.0, 5.0, 30.0, 2.0, 4.0, 0.0) == pytest.approx(
        balance.run_in_metal(3.0, 5.0, 30.0, 2.0) / 4.0
    )


def test_mean_of_a_decay():
    assert balance.decay_mean(1.0, 4.0, 3.0) == pytest.approx(quad(lambda t: math.exp(-t / 3.0), 1.0, 5.0)[0] / 4.0)
    assert balance.decay_mean(1.0, 0.0, 3.0) == pytest.approx(math.exp(-1.0 / 3.0))


# --- there and back, and errors


@given(
    st.floats(0, 200), st.floats(0, 100), st.floats(0, 20), st.floats(0.5, 20), st.floats(0.1, 50), st.floats(0, 0.5)
)
def test_the_rate_comes_back(start, rate, fresh, mass, hours, make_up):
    end = balance.concentration(start, rate, fresh, mass, hours, make_up)
    # the rate is a small difference of concentrations once the sump has turned over many times
    assert balance.wear_rate(start, end, fresh, mass, hours, make_up) == pytest.approx(rate, abs=1e-5)


def test_standard_error_against_drawn_errors():
    rng = np.random.default_rng(11)
    found = balance.rate_with_error(
        12.0, 17.0, 1.0, 4.0, 10.0, start_error=0.5, end_error=0.6, fresh_error=0.2, make_up_kg_h=0.05
    )
    drawn = [
        balance.wear_rate(
            rng.normal(12, 0.5), rng.normal(17, 0.6), rng.normal(1, 0.2), rng.normal(4, 0.12), 10.0, 0.05
        )
        for _ in range(4000)
    ]
    assert found.rate_mg_h == pytest.approx(np.mean(drawn), abs=0.02)
    # 4000 draws know a standard deviation to 1.1 %
    assert found.error_mg_h == pytest.approx(np.std(drawn), rel=0.04)


@pytest.mark.parametrize(("mass", "hours"), [(4.0, 0.0), (0.0, 4.0), (4.0, -1.0)])
def test_no_rate_without_hours_or_oil(mass, hours):
    with pytest.raises(ValueError, match="above zero"):
        balance.wear_rate(1.0, 2.0, 0.0, mass, hours)
    with pytest.raises(ValueError, match="above zero"):
        balance.wear_rate_trapezoid(1.0, 2.0, mass, 0.1, hours)


# --- carry-over from the additives

DRAINED = np.array([3200.0, 15.0, 900.0, 820.0, 4.0])  # Ca, Mg, Zn, P, B of a break-in oil; invented
FRESH = np.array([1900.0, 640.0, 1250.0, 1150.0, 120.0])  # of a race oil; invented
ERROR = np.array([45.0, 12.0, 25.0, 25.0, 4.0])


def test_tracers_without_noise_give_the_share():
    start = 0.13 * DRAINED + 0.87 * FRESH
    found = from_tracers(start, DRAINED, FRESH, ERROR)
    assert found.share == pytest.approx(0.13)
    assert found.chi_square == pytest.approx(0.0, abs=1e-9)
    assert found.tracers == 5


def test_tracers_are_weighted_least_squares_and_their_error_is_honest():
    rng = np.random.default_rng(3)
    d = DRAINED - FRESH
    estimates, errors = [], []
    for _ in range(2000):
        c = 0.13 * d + rng.normal(0.0, ERROR)
        found = from_tracers(c + FRESH, DRAINED, FRESH, ERROR)
        by_lstsq = np.linalg.lstsq((d / ERROR)[:, None], c / ERROR, rcond=None)[0][0]
        assert found.share == pytest.approx(by_lstsq, rel=1e-9)
        estimates.append(found.share)
        errors.append(found.error)
    assert np.mean(estimates) == pytest.approx(0.13, abs=4 * np.std(estimates) / math.sqrt(2000))
    assert np.std(estimates) == pytest.approx(errors[0], rel=0.06)


def test_the_same_oil_again_has_no_tracer():
    assert from_tracers(FRESH, FRESH + ERROR, FRESH, ERROR) is None
    assert from_tracers(np.array([np.nan]), DRAINED[:1], FRESH[:1], ERROR[:1]) is None


def test_prior_and_tracers_together():
    alone = combine(0.10, 0.05, None)
    assert (alone.share, alone.error, alone.origin) == (0.10, 0.05, "prior")
    measured = CarryOver(0.20, 0.05, "tracers", 3, 0.9)
    both = combine(0.10, 0.05, measured)
    assert both.share == pytest.approx(0.15)  # equal weights
    assert both.error == pytest.approx(0.05 / math.sqrt(2))
    # tracers that disagree among themselves weigh less (Birge ratio)
    apart = combine(0.10, 0.05, CarryOver(0.20, 0.05, "tracers", 3, 9.0))
    assert apart.share == pytest.approx(0.11)


def test_an_oil_change_that_never_happened_is_seen():
    stayed = from_tracers(DRAINED * 0.97 + FRESH * 0.03, DRAINED, FRESH, ERROR)
    assert outside(0.10, 0.05, stayed)
    done = from_tracers(DRAINED * 0.12 + FRESH * 0.88, DRAINED, FRESH, ERROR)
    assert not outside(0.10, 0.05, done)
