"""Control charts: which rules fire, and what they say."""

from __future__ import annotations

import pytest

from benchapp.checks.charts import (
    METHOD_TOLERANCE,
    Tolerance,
    cusum,
    ewma,
    individuals,
    method_limits,
    moving_range,
    tolerance_for,
)


def rules(values: list[float]) -> set[tuple[str, int]]:
    return {(f.rule, f.index) for f in individuals(values, centre=0.0, sigma=1.0).fired}


def test_each_rule_and_only_it() -> None:
    assert rules([0.5, -0.5, 0.9, -0.9]) == set()
    assert rules([0.0, 3.1]) == {("outside", 1)}
    assert rules([0.0, -3.1]) == {("outside", 1)}
    assert rules([2.1, -0.1, 2.1]) == {("two of three", 2)}
    assert rules([2.1, 2.1]) == set()
    assert rules([1.1, 1.1, -0.1, 1.1, 1.1]) == {("four of five", 4)}
    assert rules([0.1] * 8) == {("eight in a row", 7)}
    assert rules([0.1] * 7 + [-0.1]) == set()


def test_what_fires_is_said_in_words() -> None:
    for fired in individuals([2.5, 2.5, 2.5, 3.5, 2.5, 0.5, 0.5, 0.5], centre=0.0, sigma=1.0).fired:
        assert "check run" in fired.text
        assert "above" in fired.text
    assert "below" in individuals([-4.0, 0.0], centre=0.0, sigma=1.0).fired[0].text
    assert "jump" in moving_range([1.0, 1.1, 1.0, 1.1, 9.0, 1.0, 1.1, 1.0, 1.1, 1.0]).fired[0].text
    assert "drifted above" in ewma([1.0] * 9, 0.0, 0.5).fired[0].text
    assert "drifted below" in ewma([-1.0] * 9, 0.0, 0.5).fired[0].text
    high, low = cusum([0.0, 0.0, -2.0, -2.0, -2.0, -2.0], 0.0, 1.0)
    assert high.in_control
    assert low.fired[0].text == "the check runs read low since run 3: a lasting shift"


def test_limits_can_come_from_outside_the_values() -> None:
    chart = individuals([50.0, 51.0], centre=50.0, sigma=2.0)
    assert (chart.lower, chart.centre, chart.upper) == (44.0, 50.0, 56.0)
    assert individuals([50.0, 50.0, 50.0, 50.0]).in_control
    assert individuals([5.0], centre=4.0, sigma=0.0).fired[0].rule == "outside"


def test_the_methods_own_limits() -> None:
    chart = method_limits(50.0, [50.0, 55.0, 55.1, 44.9], tolerance_for("rotating-disc"))
    assert [f.index for f in chart.fired] == [2, 3]
    assert "55.1 ppm found where 50 ± 5 ppm is allowed" in chart.fired[0].text
    assert (chart.lower, chart.upper) == (45.0, 55.0)
    assert tolerance_for("icp").percent == 5.0
    assert "WK63902" in METHOD_TOLERANCE["icp"].origin
    assert "no source" in tolerance_for("anything").origin


def test_a_blank_is_judged_by_the_floor() -> None:
    tolerance = Tolerance(10.0, 1.0, "")
    assert tolerance.passes(0.0, 0.9)
    assert not tolerance.passes(0.0, 1.1)
    assert tolerance.passes(50.0, 55.0)


def test_what_is_no_series_is_refused() -> None:
    for job in (
        lambda: individuals([]),
        lambda: individuals([1.0]),
        lambda: moving_range([1.0]),
        lambda: individuals([float("nan"), 1.0]),
    ):
        with pytest.raises(ValueError, match="finite values"):
            job()
    with pytest.raises(ValueError, match="weight"):
        ewma([1.0], 0.0, 1.0, weight=0.0)
