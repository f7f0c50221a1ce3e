"""Viscosity with temperature as physics would have it, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.oil.density import density_at, dynamic_viscosity, volume_factor
from benchapp.oil.viscosity import line_40_100, rounded_index, temperature_line, v_of, viscosity_index, z_of
from benchapp.problems import BenchProblem

kv100 = st.floats(3.0, 30.0)
thinning = st.floats(3.0, 12.0)
celsius = st.floats(-30.0, 180.0)


@given(kv100, thinning, celsius, st.floats(0.5, 20.0))
def test_hotter_is_thinner(v: float, ratio: float, t: float, step: float) -> None:
    line = line_40_100(v * ratio, v)
    assert float(line.at(t)) > float(line.at(t + step))


@given(kv100, thinning)
def test_the_line_goes_through_its_points(v: float, ratio: float) -> None:
    line = line_40_100(v * ratio, v)
    assert float(line.at(40.0)) == pytest.approx(v * ratio, rel=1e-4)
    assert float(line.at(100.0)) == pytest.approx(v, rel=1e-3)


@given(kv100, thinning, celsius, celsius)
def test_any_two_points_of_a_line_give_it_back(v: float, ratio: float, a: float, b: float) -> None:
    if abs(a - b) < 5.0:
        return
    line = line_40_100(v * ratio, v)
    points = [float(line.at(t)) for t in (a, b)]
    if min(points) < 2.0 or max(points) > 1e6:
        return
    again = temperature_line(points[0], a, points[1], b)
    assert float(again.at(80.0)) == pytest.approx(float(line.at(80.0)), rel=0.01)


@given(st.floats(0.25, 1e5))
def test_z_there_and_back(v: float) -> None:
    assert float(v_of(z_of(v))) == pytest.approx(v, rel=4e-4)


@given(kv100, thinning)
def test_less_thinning_is_a_higher_index(v: float, ratio: float) -> None:
    assert float(viscosity_index(v * ratio, v)) > float(viscosity_index(v * ratio * 1.05, v))


def test_arrays_go_through_and_unknown_stays_unknown() -> None:
    line = line_40_100([100.0, np.nan, 90.0], [14.5, 14.5, 12.0])
    at = line.at(100.0)
    assert np.isnan(at).tolist() == [False, True, False]
    index = viscosity_index([100.0, np.nan], [14.5, 14.5])
    assert np.isnan(index).tolist() == [False, True]


def test_index_is_reported_to_the_even_whole_number() -> None:
    assert (rounded_index(92.5), rounded_index(93.5)) == (92, 94)


@given(st.floats(0.81, 1.1), celsius, st.floats(0.5, 20.0))
def test_hotter_is_lighter(rho: float, t: float, step: float) -> None:
    assert float(density_at(rho, t)) > float(density_at(rho, t + step))


@given(st.floats(0.81, 1.1))
def test_density_at_fifteen_is_itself(rho: float) -> None:
    assert float(density_at(rho, 15.0)) == pytest.approx(rho, rel=1e-9)


def test_dynamic_is_kinematic_times_density() -> None:
    assert dynamic_viscosity([10.0, 20.0], 0.8).tolist() == [8.0, 16.0]


@pytest.mark.parametrize(
    ("call", "what", "source"),
    [
        (lambda: line_40_100(0.1, 0.05), "Viscosity is 0.1 mm²/s, outside 0.21 to 2e+07 mm²/s.", "ASTM D341"),
        (lambda: line_40_100(100, 14).at(250), "Oil temperature is 250 °C, outside -40 to 200 °C.", "own bound"),
        (lambda: viscosity_index(5, 1.9), "Viscosity at 100 °C is 1.9 mm²/s, outside 2 to 2e+07 mm²/s.", "ASTM D2270"),
        (lambda: density_at(0.7, 40), "Oil density is 0.7 kg/L, outside 0.8009 to 1.1635 kg/L.", "ASTM D1250-04"),
        (lambda: volume_factor(0.87, -50), "Oil temperature is -50 °C, outside -40 to 200 °C.", "own bound"),
    ],
)
def test_out_of_range_is_refused_with_range_and_source(call: object, what: str, source: str) -> None:
    with pytest.raises(BenchProblem) as caught:
        call()  # type: ignore[operator]
    assert caught.value.what == what
    assert source in caught.value.means
    assert "nothing was computed" in caught.value.means
    assert caught.value.do.startswith("Check the ")


def test_exchanged_viscosities_are_refused() -> None:
    with pytest.raises(BenchProblem, match="not thinner at the higher temperature") as caught:
        line_40_100(14.5, 100.0)
    assert caught.value.do == "Check KV40 and KV100."


def test_two_points_at_one_temperature_are_refused() -> None:
    with pytest.raises(BenchProblem, match="Both viscosities are given at one temperature") as caught:
        temperature_line(100.0, 40.0, 90.0, 40.0)
    assert "two temperatures" in caught.value.do
