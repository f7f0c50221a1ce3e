"""The checks room against published values; the source stands beside each."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import studentized_range

from benchapp.checks.charts import cusum, ewma, individuals, moving_range, moving_range_sigma
from benchapp.checks.compare import line_both_errors
from benchapp.checks.limits import detection_limits
from benchapp.checks.noise import R_OVER_SD, range_factor

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals chart; public domain)
NIST_INDIVIDUALS = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)
# the same, 6.3.2.4 (EWMA): target 50, sigma 2.0539, weight 0.3
NIST_EWMA = (52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *NIST_INDIVIDUALS)
# the same, 6.3.2.3 (CUSUM): target 325, k 0.3175, h 4.1959
NIST_CUSUM = (
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
    324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
)  # fmt: skip


def test_individuals_chart_of_the_nist_handbook() -> None:
    chart = individuals(NIST_INDIVIDUALS)
    assert chart.centre == pytest.approx(50.81, abs=5e-4)
    assert chart.upper == pytest.approx(55.8041, abs=1e-4)
    assert chart.lower == pytest.approx(45.8159, abs=1e-4)
    assert chart.in_control
    ranges = moving_range(NIST_INDIVIDUALS)
    assert ranges.centre == pytest.approx(1.8778, abs=5e-5)
    assert ranges.upper == pytest.approx(6.1347, abs=1e-4)
    assert [round(r, 1) for r in ranges.statistic[1:]] == [2.0, 2.3, 1.4, 3.5, 3.4, 1.4, 0.2, 1.2, 1.5]
    assert moving_range_sigma(NIST_INDIVIDUALS) == pytest.approx(1.8778 / 1.128, abs=1e-4)


def test_ewma_chart_of_the_nist_handbook() -> None:
    chart = ewma(NIST_EWMA, 50.0, 2.0539, 0.3)
    published = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38,  # noqa: E501
                 49.92, 50.73, 51.23, 51.94, 51.99]  # fmt: skip
    assert [round(z, 2) for z in chart.statistic] == published
    assert chart.upper == pytest.approx(52.5884, abs=1e-4)
    assert chart.lower == pytest.approx(47.4115, abs=1.5e-4)  # the handbook cuts the last digit
    assert chart.in_control


def test_cusum_of_the_nist_handbook() -> None:
    high, low = cusum(NIST_CUSUM, 325.0, 0.635, reference=0.5, decision=4.1959 / 0.635)
    high_published = [0, 0, 0, 0, 0.03, 0, 0, 0, 0, 0, 0, 0, 3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04]
    low_published = [0, 0.01, 0, 0.33, 0, 0, 0.56, 0.72, 0.17, 0.25, 0.31, 0, 0, 0, 0, 0, 0, 0, 0, 0]
    np.testing.assert_allclose(high.statistic, high_published, atol=0.0051)
    np.testing.assert_allclose(low.statistic, low_published, atol=0.0051)
    assert high.fired[0].index == 13  # the fourteenth point
    assert "since run 13" in high.fired[0].text
    assert low.in_control


def test_run_lengths_of_the_cusum() -> None:
    """Two-sided CUSUM k 0.5, h 4: average run length 168 without and 8.38 with a shift of one sigma (Lucas and Crosier,
    Technometrics 24 (1982) 199). Simulated with a fixed seed; four standard errors are allowed."""
    rng = np.random.default_rng(20260418)
    for shift, published, limit in ((0.0, 168.0, 1_200), (1.0, 8.38, 100)):
        lengths = []
        for _ in range(200):
            high, low = cusum(rng.normal(shift, 1.0, limit).tolist(), 0.0, 1.0, 0.5, 4.0)
            firsts = [chart.fired[0].index + 1 for chart in (high, low) if chart.fired]
            lengths.append(min(firsts, default=limit))
        error = float(np.std(lengths) / np.sqrt(len(lengths)))
        assert abs(float(np.mean(lengths)) - published) < 4.0 * error


# Pearson's data with York's weights, as printed in the tests of the R package bfsl and a GUM calculator's documentation
PEARSON_X = (0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4)
PEARSON_Y = (5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5)
WEIGHT_X = (1000.0, 1000.0, 500.0, 800.0, 200.0, 80.0, 60.0, 20.0, 1.8, 1.0)
WEIGHT_Y = (1.0, 1.8, 4.0, 8.0, 20.0, 20.0, 70.0, 70.0, 100.0, 500.0)


def test_line_with_errors_in_both_variables() -> None:
    line = line_both_errors(PEARSON_X, PEARSON_Y, [w**-0.5 for w in WEIGHT_X], [w**-0.5 for w in WEIGHT_Y])
    assert line.intercept == pytest.approx(5.47991022, abs=1e-8)
    assert line.slope == pytest.approx(-0.48053341, abs=1e-8)
    assert line.scatter == pytest.approx(1.48329415, abs=1e-8)
    assert line.intercept_se == pytest.approx(0.29497074, abs=1e-4)
    assert line.slope_se == pytest.approx(0.05798501, abs=1e-5)


# Cadmium calibration, 35 pairs (Gibbons et al. 1997), data and answers as in the help of the R package EnvStats (US EPA)  # noqa: E501
CADMIUM = {
    0.0: (0.88, 1.57, 0.70, 0.80, 0.54, 1.83, 1.34),
    10.0: (10.17, 11.13, 11.66, 10.80, 11.11, 11.95, 11.14),
    20.0: (19.97, 20.28, 23.20, 22.12, 18.01, 24.83, 21.10),
    50.0: (54.78, 49.00, 51.92, 49.00, 54.75, 50.25, 50.03),
    100.0: (97.06, 94.60, 102.54, 101.09, 99.20, 93.71, 100.43),
}


def test_decision_and_detection_limit() -> None:
    amounts = [amount for amount, signals in CADMIUM.items() for _ in signals]
    signals = [signal for group in CADMIUM.values() for signal in group]
    found = detection_limits(amounts, signals, coverage=0.99)
    assert found.decision_reading == pytest.approx(7.677842, abs=1e-6)
    assert found.detection_ppm == pytest.approx(12.364670, abs=1e-6)


def test_the_factor_of_repeatability() -> None:
    """r = 2.77 standard deviations for two results (ASTM D5185 and D6595: 1 case of 20); for more results the studentized
    range, here from scipy."""  # noqa: E501
    assert pytest.approx(1.959964 * 2**0.5, abs=0.002) == R_OVER_SD
    for n in range(2, 11):
        assert range_factor(n) == pytest.approx(float(studentized_range.ppf(0.95, n, 1e6)), abs=0.006)
