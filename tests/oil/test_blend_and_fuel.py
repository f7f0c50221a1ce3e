"""Blends lie between their parts; fuel is a range that a bench blend narrows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.library import load_library
from benchapp.oil.blend import MODELS, BlendModel, blend, fraction_of, wright
from benchapp.oil.fuel import SHEAR, BenchBlend, dilution_bounds, dilution_range, fuel_percent
from benchapp.oil.rules import rules_from
from benchapp.problems import BenchProblem

RULES = rules_from(load_library())
thick = st.floats(5.0, 40.0)
thin = st.floats(0.3, 2.0)
share = st.floats(0.0, 1.0)
model = st.sampled_from(MODELS)


@given(thick, thin, share, model)
def test_a_blend_lies_between_its_parts(v1: float, v2: float, x: float, rule: BlendModel) -> None:
    assert v2 * 0.999 <= float(blend(v1, v2, x, rule)) <= v1 * 1.001


@given(thick, thin, st.floats(0.0, 0.9), st.floats(0.01, 0.1), model)
def test_more_fuel_is_thinner(v1: float, v2: float, x: float, more: float, rule: BlendModel) -> None:
    assert float(blend(v1, v2, x + more, rule)) < float(blend(v1, v2, x, rule))


@given(thick, thin, st.floats(0.0, 0.5), model)
def test_there_and_back(v1: float, v2: float, x: float, rule: BlendModel) -> None:
    assert float(fraction_of(blend(v1, v2, x, rule), v1, v2, rule)) == pytest.approx(x, abs=2e-3)


@given(st.floats(0.0, 0.3))
def test_wright_lies_between_its_parts(x: float) -> None:
    kv40, kv100 = wright((100.0, 14.5), (0.55, 0.35), x)
    assert 0.5 <= kv40 <= 100.01
    assert 0.3 <= kv100 <= 14.51


def test_one_range_holds_all_models() -> None:
    found = dilution_range(12.5, 14.5, RULES)
    percents = [pct for _, pct in found.by_model]
    assert [name for name, _ in found.by_model] == ["Refutas", "W-type", "double-log", "ln"]
    assert found.low_pct <= min(percents)
    assert found.high_pct >= max(percents)
    assert found.text == "The viscosity drop would take 1.4 to 4.7 % fuel (over four blend models)."
    assert SHEAR in found.other
    assert any("D7152" in source for source in found.sources)


def test_a_bench_blend_narrows_the_range_and_goes_through_itself() -> None:
    bench = BenchBlend(fuel_pct=3.0, viscosity=11.9)
    wide, narrow = dilution_range(12.5, 14.5, RULES), dilution_range(12.5, 14.5, RULES, bench=bench)
    assert narrow.narrowed
    assert narrow.high_pct - narrow.low_pct < 0.4 * (wide.high_pct - wide.low_pct)
    assert "by the bench blend" in narrow.text
    assert np.allclose(fuel_percent(11.9, 14.5, 0.35, bench), 3.0)


@given(st.floats(8.0, 14.4), st.floats(0.5, 6.0), st.sampled_from(MODELS))
def test_a_bench_blend_made_by_any_model_is_read_back(v: float, pct: float, rule: BlendModel) -> None:
    """Whichever model nature follows, the pinned range holds the truth."""
    bench = BenchBlend(4.0, float(blend(14.5, 0.35, 0.04, rule)))
    truth = float(fraction_of(v, 14.5, 0.35, rule)) * 100
    low, high = dilution_bounds(v, 14.5, RULES.fuels["petrol"], bench)
    assert float(low) <= truth <= float(high)


def test_a_measured_value_that_fits() -> None:
    found = dilution_range(12.5, 14.5, RULES, measured_pct=2.4)
    assert found.agrees
    assert found.text.endswith("the measured 2.4 % fits.")


def test_too_little_measured_fuel_points_to_shear() -> None:
    found = dilution_range(12.5, 14.5, RULES, measured_pct=0.5)
    assert found.agrees is False
    assert found.text.endswith("the measured 0.5 % is less than that.")
    assert any("the rest is shear" in line for line in found.other)


def test_too_much_measured_fuel_points_to_thickening() -> None:
    found = dilution_range(14.2, 14.5, RULES, measured_pct=6.0)
    assert found.agrees is False
    assert any("thickens against it" in line for line in found.other)


@pytest.mark.parametrize(("change", "points"), [(-10.0, "points to sheared polymer"), (8.0, "points to fuel")])
def test_the_index_tells_shear_from_fuel(change: float, points: str) -> None:
    found = dilution_range(12.5, 14.5, RULES, vi_change=change)
    assert any(points in line for line in found.other)
    quiet = dilution_range(12.5, 14.5, RULES, vi_change=1.0)
    assert not any("points to" in line for line in quiet.other)


def test_fuel_raises_the_index_and_so_the_hint_is_physics() -> None:
    from benchapp.oil.viscosity import viscosity_index

    fresh = float(viscosity_index(100.0, 14.5))
    assert float(viscosity_index(*wright((100.0, 14.5), (0.55, 0.35), 0.05))) > fresh + 4


def test_a_field_viscometer_at_40_reads_much_the_same_fuel() -> None:
    kv40, kv100 = wright((100.0, 14.5), (0.55, 0.35), 0.03)
    cold, hot = dilution_range(kv40, 100.0, RULES, at_c=40.0), dilution_range(kv100, 14.5, RULES)
    assert cold.low_pct < 3.0 < cold.high_pct
    assert hot.low_pct < 3.0 < hot.high_pct
    with pytest.raises(BenchProblem, match="from viscosity at 40 or 100 °C, not at 50 °C"):
        dilution_range(kv40, 100.0, RULES, at_c=50.0)


def test_thicker_than_fresh_is_no_fuel() -> None:
    found = dilution_range(15.0, 14.5, RULES)
    assert (found.low_pct, found.high_pct) == (0.0, 0.0)
    assert found.text == "No fuel seen: the oil is not thinner than fresh."
    assert found.other == ()


def test_ethanol_and_methanol_are_known_and_another_fuel_is_refused() -> None:
    assert dilution_range(12.5, 14.5, RULES, fuel="ethanol").high_pct > 0
    assert dilution_range(12.5, 14.5, RULES, fuel="methanol").high_pct > 0
    with pytest.raises(BenchProblem, match='The fuel "diesel" is not one') as caught:
        dilution_range(12.5, 14.5, RULES, fuel="diesel")
    assert "petrol, ethanol, methanol" in caught.value.do


def test_bounds_of_many_samples_keep_the_unknown_unknown() -> None:
    low, high = dilution_bounds([12.0, np.nan, 15.5], 14.5, RULES.fuels["petrol"])
    assert np.isnan(low).tolist() == [False, True, False]
    assert low[2] == high[2] == 0.0


@pytest.mark.parametrize(
    ("bench", "what"),
    [
        (BenchBlend(0.0, 12.0), "Fuel share of the bench blend is 0 %"),
        (BenchBlend(60.0, 12.0), "Fuel share of the bench blend is 60 %"),
        (BenchBlend(3.0, 0.1), "Viscosity of the bench blend is 0.1 mm²/s"),
        (BenchBlend(3.0, 14.4), "The bench blend at 14.4 mm²/s is not clearly thinner than the fresh oil."),
    ],
)
def test_a_bench_blend_that_cannot_be(bench: BenchBlend, what: str) -> None:
    with pytest.raises(BenchProblem) as caught:
        dilution_range(12.5, 14.5, RULES, bench=bench)
    assert caught.value.what.startswith(what)


def test_a_share_beyond_the_whole_is_refused() -> None:
    with pytest.raises(BenchProblem, match=r"Share of the second fluid is 1\.5, outside 0 to 1"):
        blend(14.5, 0.35, 1.5)
