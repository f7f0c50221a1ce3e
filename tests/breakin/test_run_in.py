"""The running-in curve, against its closed form, and the ceiling of a build."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.breakin import run_in
from benchapp.records import NoiseLine, Reading, Sample


def test_lost_is_the_integral_of_the_rate():
    # own case, checked two ways: w0 30, ws 5, T 2 h (closed form and an ODE solver agree)
    hours = np.array([1.0, 2, 5, 10, 20])
    found = run_in.lost(hours=hours, first=30, settled=5, tau_h=2)
    assert found == pytest.approx([24.673467, 41.606028, 70.895750, 99.663103, 149.997730], abs=1e-6)


def test_the_fit_finds_its_own_curve():
    hours = np.array([0.3, 0.7, 1.5, 3, 6, 12])
    mass = run_in.lost(hours=hours, first=40, settled=4, tau_h=1.5)
    found = run_in.fit(hours=hours, lost_mg=mass)
    assert found.tau_h == pytest.approx(1.5, rel=0.06)
    assert found.settled == pytest.approx(4, rel=0.05)
    assert found.first == pytest.approx(40, rel=0.06)


def test_two_points_are_not_fitted():
    assert run_in.fit(hours=np.array([1.0, 2.0]), lost_mg=np.array([10.0, 12.0])) is None


def test_the_ceiling_is_the_highest_break_in_reading_and_known_harmless_metal_is_marked():
    readings = (Reading("Fe", 88.0), Reading("Cu", 300.0), Reading("Pb", 2.0, qualifier="<"))
    samples = [
        Sample("a", "1", 1.0, 1.0, break_in=True, readings=readings),
        Sample("b", "1", 2.0, 2.0, break_in=True, readings=(Reading("Fe", 61.0),)),
        Sample("c", "2", 9.0, 1.0, readings=(Reading("Fe", 999.0),)),
    ]
    noise = {"Fe": NoiseLine(0.3, 0.04, 0.5, "made up")}
    found = {line.element: line for line in run_in.ceilings(samples, noise, wear_elements=("Fe", "Cu", "Pb"))}
    assert set(found) == {"Fe", "Cu"}
    assert found["Fe"].ppm == 88.0
    assert found["Fe"].sd_ppm == pytest.approx(np.hypot(0.3, 0.04 * 88))
    assert found["Fe"].believed
    assert not found["Cu"].believed
    assert "cooler" in found["Cu"].why_not
