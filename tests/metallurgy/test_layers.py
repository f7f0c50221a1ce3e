"""Milligrams and micrometres there and back, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.metallurgy.layers import layer_mg, layer_um, oil_ppm
from benchapp.problems import BenchProblem

positive = st.floats(1e-3, 1e3)


@given(positive, positive, st.floats(0.5, 20), st.floats(0.01, 1))
def test_there_and_back(area: float, depth: float, density: float, fraction: float) -> None:
    mg = layer_mg(area, depth, density, fraction)
    assert layer_um(mg, area, density, fraction) == pytest.approx(depth)


def test_arrays_go_through() -> None:
    mg = layer_mg([10.0, 20.0], 1.0, 10.6)
    assert np.allclose(mg, [10.6, 21.2])


@pytest.mark.parametrize("area", [0.0, -1.0, float("nan")])
def test_no_area_no_micrometres(area: float) -> None:
    with pytest.raises(BenchProblem) as caught:
        layer_um(1.0, area, 10.6)
    assert "milligrams stands" in caught.value.means
    assert "wearing area" in caught.value.do


@pytest.mark.parametrize(("name", "at"), [("area", 0), ("density", 2), ("mass fraction", 3)])
def test_negative_inputs_are_refused(name: str, at: int) -> None:
    values = [10.0, 1.0, 10.6, 1.0]
    values[at] = -1.0
    with pytest.raises(BenchProblem, match=f"The {name} is below zero"):
        layer_mg(*values)


def test_no_oil_no_ppm() -> None:
    with pytest.raises(BenchProblem, match="oil volume or its density is not above zero") as caught:
        oil_ppm(1.0, 0.0)
    assert "coolers, lines and tank" in caught.value.do
