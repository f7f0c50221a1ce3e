"""Running-in against published data: `metalwear` of Meeker and Escobar, Statistical Methods for Reliability Data."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.breakin.run_in import power_law

CYCLES = np.array([2, 5, 10, 20, 50, 100, 200, 500], dtype=float)
# mean wear in microns over the four units, by applied load
MEAN = {
    10: [2.65150, 3.41625, 3.84800, 3.97875, 5.08675, 5.78775, 6.61175, 8.29150],
    50: [7.45450, 8.41775, 9.33100, 11.05925, 13.39050, 14.78825, 15.77750, 18.34525],
    100: [12.0500, 14.5125, 17.1425, 19.1850, 23.1300, 27.4450, 30.9850, 38.0775],
}
# slope and intercept recomputed from all 32 readings of each load; the means of a balanced set give a line that differs
# only by the curvature of the logarithm over the spread between units
LINES = {10: (0.197512, 0.848379), 50: (0.168334, 1.881558), 100: (0.207413, 2.343113)}


@pytest.mark.parametrize("load", [10, 50, 100])
def test_wear_rises_as_a_power_well_below_one(load):
    found = power_law(amount=np.array(MEAN[load]), cycles=CYCLES)
    slope, intercept = LINES[load]
    assert found.slope == pytest.approx(slope, abs=0.004)
    assert found.intercept == pytest.approx(intercept, abs=0.02)
    assert found.sigma < 0.06
