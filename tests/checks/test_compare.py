"""Two instruments on the same samples."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.checks.compare import compare, line_both_errors
from benchapp.checks.limits import detection_limits


def test_a_bias_is_found_and_said() -> None:
    rng = np.random.default_rng(1)
    truth = np.linspace(2, 60, 15)
    first = truth + rng.normal(0, 0.3, 15)
    second = 1.15 * truth + rng.normal(0, 0.3, 15)
    found = compare(
        first.tolist(), second.tolist(), [0.3] * 15, [0.3] * 15, names=("RDE 1", "the laboratory"), element="Fe"
    )
    assert found.differs
    assert found.ratio == pytest.approx(1.15, abs=0.03)
    assert found.line is not None
    assert abs(found.line.slope - 1.15) < 3 * found.line.slope_se
    assert "the laboratory reads higher than RDE 1" in found.text
    assert "Do not join" in found.text
    back = compare(second.tolist(), first.tolist(), [0.3] * 15, [0.3] * 15)
    assert "reads lower" in back.text
    assert back.bias_ppm == pytest.approx(-found.bias_ppm)


def test_no_difference_is_said_with_its_interval() -> None:
    found = compare([10.0, 20.0, 30.0], [10.2, 19.9, 30.1], [0.3] * 3, [0.3] * 3)
    assert not found.differs
    assert "no difference seen" in found.text
    assert found.bias_low_ppm < 0 < found.bias_high_ppm


def test_the_interval_holds_the_true_bias_as_often_as_it_says() -> None:
    rng = np.random.default_rng(5)
    hits = 0
    for _ in range(400):
        truth = rng.uniform(5, 50, 6)
        found = compare(
            (truth + rng.normal(0, 1, 6)).tolist(), (truth + 2 + rng.normal(0, 1, 6)).tolist(), [1.0] * 6, [1.0] * 6
        )
        hits += found.bias_low_ppm <= 2.0 <= found.bias_high_ppm
    assert 340 <= hits <= 380  # 90 % of 400, about three standard errors either way


def test_zeros_and_equal_samples_give_no_ratio_or_line() -> None:
    found = compare([0.0, 5.0, 5.0], [1.0, 5.0, 5.0], [0.3] * 3, [0.3] * 3)
    assert found.ratio is None
    assert compare([5.0, 5.0, 5.0], [5.1, 5.2, 5.0], [0.3] * 3, [0.3] * 3).line is None
    assert compare([5.0, 6.0], [5.1, 6.2], [0.3] * 2, [0.3] * 2).line is None


def test_what_cannot_be_compared_is_refused() -> None:
    with pytest.raises(ValueError, match="two finite pairs"):
        compare([1.0], [1.0], [1.0], [1.0])
    with pytest.raises(ValueError, match="standard deviation above zero"):
        compare([1.0, 2.0], [1.0, 2.0], [0.0, 1.0], [1.0, 1.0])
    with pytest.raises(ValueError, match="three finite pairs"):
        line_both_errors([1.0, 2.0], [1.0, 2.0], [1.0, 1.0], [1.0, 1.0])
    with pytest.raises(ValueError, match="alike"):
        line_both_errors([1.0] * 3, [1.0, 2.0, 3.0], [1.0] * 3, [1.0] * 3)


def test_the_line_turns_over_with_its_axes() -> None:
    x, y = [1.0, 2.0, 3.5, 5.0], [2.1, 3.9, 7.2, 9.8]
    straight, turned = line_both_errors(x, y, [0.1] * 4, [0.2] * 4), line_both_errors(y, x, [0.2] * 4, [0.1] * 4)
    assert straight.slope * turned.slope == pytest.approx(1.0)
    assert straight.scatter == pytest.approx(turned.scatter)


def test_detection_limits() -> None:
    amounts, signals = [0.0, 0.0, 10.0, 10.0, 20.0, 20.0], [0.1, -0.1, 10.2, 9.9, 20.1, 19.8]
    found = detection_limits(amounts, signals)
    assert 0 < found.decision_ppm < found.detection_ppm < 10
    assert found.decision_reading == pytest.approx(found.intercept + found.slope * found.decision_ppm)
    exact = detection_limits([0.0, 1.0, 2.0, 3.0], [1.0, 2.0, 3.0, 4.0])
    assert exact.detection_ppm == exact.decision_ppm == pytest.approx(0.0, abs=1e-9)
    for bad, words in [
        (([0.0, 1.0], [0.0, 1.0]), "four"),
        (([1.0] * 4, [1.0] * 4), "different"),
        (([0.0, 1.0, 2.0, 3.0], [3.0, 2.0, 1.0, 0.0]), "rise"),
    ]:
        with pytest.raises(ValueError, match=words):
            detection_limits(*bad)
    with pytest.raises(ValueError, match="too loose"):
        detection_limits([0.0, 0.0, 1.0, 1.0], [0.0, 9.0, 1.0, 9.0])
