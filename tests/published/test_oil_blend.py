"""Blending and fuel in oil against public formulas and their check values."""

from __future__ import annotations

import pytest

from benchapp.library import load_library
from benchapp.oil.blend import (
    DOUBLE_LOG,
    LN,
    REFUTAS,
    W_TYPE,
    BlendModel,
    blend,
    fraction_of,
    refutas_index,
    refutas_viscosity,
    wright,
)
from benchapp.oil.fuel import dilution_range
from benchapp.oil.rules import rules_from


@pytest.mark.parametrize(
    ("v", "vbn"), [(2.234, 12.4902), (5.0, 19.1736), (20.0, 27.1106), (32.0, 29.1429), (220.0, 35.4777)]
)
def test_refutas_numbers(v: float, vbn: float) -> None:
    """VBN = 14.534 ln ln(v + 0.8) + 10.975 (Maples 2000 as quoted publicly); a calculator site prints 12.492 for
    2.234."""
    assert float(refutas_index(v)) == pytest.approx(vbn, abs=1e-4)
    assert float(refutas_viscosity(vbn)) == pytest.approx(v, rel=1e-4)


@pytest.mark.parametrize(
    ("v1", "v2", "share2", "model", "v"),
    [
        (20.0, 5.0, 0.6, REFUTAS, 8.1085),
        (20.0, 5.0, 0.6, W_TYPE, 8.0813),
        (220.0, 32.0, 0.5, REFUTAS, 75.935),
        (220.0, 32.0, 0.5, W_TYPE, 75.876),
    ],
)
def test_two_component_blends(v1: float, v2: float, share2: float, model: BlendModel, v: float) -> None:
    """Computed from the public formulas; the arithmetic mean of 32 and 220, 126, is the well-known wrong answer."""
    assert float(blend(v1, v2, share2, model)) == pytest.approx(v, rel=2e-4)


@pytest.mark.parametrize(
    ("share", "expected"),
    [
        (0.01, (13.326, 13.367, 13.648, 13.970)),
        (0.02, (12.272, 12.346, 12.857, 13.459)),
        (0.05, (9.699, 9.841, 10.794, 12.037)),
        (0.10, (6.789, 6.979, 8.178, 9.992)),
    ],
)
def test_petrol_in_a_40_grade(share: float, expected: tuple[float, ...]) -> None:
    """14.5 mm²/s at 100 °C with petrol of 0.35: the four models, computed from their formulas."""
    for model, v in zip((REFUTAS, W_TYPE, DOUBLE_LOG, LN), expected, strict=True):
        assert float(blend(14.5, 0.35, share, model)) == pytest.approx(v, abs=6e-4), model.name


@pytest.mark.parametrize(("v", "expected"), [(12.5, (1.77, 1.84, 2.47, 3.99)), (13.05, (1.25, 1.30, 1.75, 2.83))])
def test_fuel_from_a_viscosity_drop(v: float, expected: tuple[float, ...]) -> None:
    """Inverse of the same formulas: the choice of model changes the answer by a factor of two."""
    for model, percent in zip((REFUTAS, W_TYPE, DOUBLE_LOG, LN), expected, strict=True):
        assert float(fraction_of(v, 14.5, 0.35, model)) * 100 == pytest.approx(percent, abs=0.006), model.name
    found = dilution_range(v, 14.5, rules_from(load_library()))
    assert found.low_pct < expected[0]
    assert found.high_pct > expected[3]
    assert found.high_pct > 2 * found.low_pct


@pytest.mark.parametrize(
    ("share", "kv40", "kv100"), [(0.05, 58.59, 10.324), (0.02, 80.21, 12.610), (0.10, 36.18, 7.574)]
)
def test_wright(share: float, kv40: float, kv100: float) -> None:
    """Wright method as ASTM D7152 describes it (equation from memory); oil 100 / 14.5, fuel 0.55 / 0.35 mm²/s."""
    found = wright((100.0, 14.5), (0.55, 0.35), share)
    assert found == pytest.approx((kv40, kv100), rel=2e-4)


def test_five_percent_petrol_is_where_it_becomes_excessive() -> None:
    """Taylor, Lubricants 2021, 9(9), 92: excessive over 3 to 5 %; Ljubas et al.: 5 % the most that could be
    adequate."""
    limit = rules_from(load_library()).limit("fuel")
    assert (limit.watch, limit.done) == (3.0, 5.0)
    assert "Taylor" in limit.source
