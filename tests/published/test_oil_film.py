"""The bearing film against Raimondi and Boyd, textbook examples and an independent solution of the Reynolds
equation."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.library import load_library
from benchapp.oil.film import (
    MPA_PER_PSI,
    Bearing,
    Film,
    film,
    petroff_friction,
    petroff_loss_w,
    short_attitude_deg,
    short_eccentricity,
    short_load_group,
    short_sommerfeld,
)
from benchapp.oil.floating import usual_clearance_mm
from benchapp.oil.rules import rules_from

RULES = rules_from(load_library())
TABLES = RULES.film
MM = 25.4
N_PER_LBF = 4.4482216
MPAS_PER_REYN = 6.894757e6


def at_sommerfeld(l_over_d: float, S: float) -> Film:
    """A film at a given Sommerfeld number: r/c 1000, μ and N chosen, the load from S."""
    d, n, mu = 60.0, 50.0, 10.0
    p_pa = 1000.0**2 * mu * 1e-3 * n / S
    return film(Bearing("a bearing", d, d * l_over_d, d / 1000), p_pa * d * d * l_over_d * 1e-6, n * 60, mu, TABLES)


RAIMONDI_BOYD = [
    (1.0, 0.9, 1.33, 79.5, 26.4, 3.37, 0.150, 0.540),
    (1.0, 0.6, 0.264, 63.10, 5.79, 3.99, 0.497, 0.484),
    (1.0, 0.4, 0.121, 50.58, 3.22, 4.33, 0.680, 0.415),
    (1.0, 0.1, 0.0188, 26.45, 1.05, 4.74, 0.919, 0.247),
    (0.5, 0.8, 2.03, 74.94, 40.9, 3.72, 0.318, 0.506),
    (0.5, 0.4, 0.319, 48.14, 8.10, 4.85, 0.730, 0.365),
    (0.5, 0.03, 0.00609, 13.75, 0.610, 5.88, 0.980, 0.126),
    (0.25, 0.6, 2.83, 60.86, 61.1, 4.37, 0.567, 0.415),
    (0.25, 0.2, 0.261, 31.04, 8.80, 5.60, 0.884, 0.240),
]

SOLVER = [
    (0.40, 0.50, 0.7515, 54.6, 17.33, 4.624, 0.650, 0.394),
    (0.40, 0.30, 0.2617, 40.2, 7.460, 5.213, 0.809, 0.311),
    (0.40, 0.20, 0.1247, 32.2, 4.316, 5.506, 0.877, 0.262),
    (0.40, 0.10, 0.0396, 22.8, 1.967, 5.799, 0.939, 0.198),
    (0.75, 0.50, 0.2664, 56.0, 6.278, 4.390, 0.616, 0.431),
    (0.75, 0.20, 0.0576, 34.7, 2.123, 5.062, 0.857, 0.299),
]


@pytest.mark.parametrize("row", RAIMONDI_BOYD + SOLVER, ids=lambda row: f"L/D {row[0]}, h0/c {row[1]}")
def test_film_table(row: tuple[float, ...]) -> None:
    """Rows of Raimondi and Boyd, Trans. ASLE 1 (1958), as reproduced in Shigley, and rows between them from a
    finite-difference solution of the two-dimensional Reynolds equation (mesh-converged to 0.01 %). Tolerance 1.5
    %, P/pmax 3 %, φ 0.6°."""
    l_over_d, h_over_c, S, phi, friction, flow, side, pressure = row
    found = at_sommerfeld(l_over_d, S)
    c_um = 30.0
    assert float(found.sommerfeld) == pytest.approx(S, rel=1e-9)
    assert float(found.min_film_um) / c_um == pytest.approx(h_over_c, rel=0.015)
    assert float(found.attitude_deg) == pytest.approx(phi, abs=0.6)
    assert float(found.friction) * 1000 == pytest.approx(friction, rel=0.015)
    per_rcnl = float(found.flow_cm3_s) / (3.0 * 0.003 * 50.0 * 6.0 * l_over_d)
    assert per_rcnl == pytest.approx(flow, rel=0.015)
    assert float(found.side_share) == pytest.approx(side, abs=0.006)
    assert float(found.mean_pressure_mpa / found.max_pressure_mpa) == pytest.approx(pressure, rel=0.03)


@pytest.mark.parametrize(
    ("l_over_d", "eps", "ratio"),
    [
        (0.25, 0.2, 0.974), (0.25, 0.6, 0.928), (0.25, 0.8, 0.844), (0.25, 0.9, 0.720),
        (0.5, 0.2, 0.908), (0.5, 0.6, 0.783), (0.5, 0.8, 0.605), (0.5, 0.9, 0.424),
        (1.0, 0.2, 0.730), (1.0, 0.6, 0.517), (1.0, 0.8, 0.312), (1.0, 0.9, 0.176),
    ],
)  # fmt: skip
def test_how_far_the_short_bearing_is_off(l_over_d: float, eps: float, ratio: float) -> None:
    """S_short / S_finite of the same finite-difference solution: below 1 means that the short form is too hopeful."""
    S_short = float(short_sommerfeld(eps, l_over_d))
    found = at_sommerfeld(l_over_d, S_short / ratio)
    assert float(found.eccentricity) == pytest.approx(eps, abs=0.006)
    assert float(found.short_error) > 0


def test_ocvirk_example() -> None:
    """Public validation note: ε 0.5 gives the load group 0.750381081812 and φ 53.68°."""
    assert float(short_load_group(0.5)) == pytest.approx(0.750381081812, abs=1e-11)
    assert float(short_attitude_deg(0.5)) == pytest.approx(53.68, abs=0.01)


def test_friswell_example() -> None:
    """Friswell et al., Dynamics of Rotating Machines, ex. 5.5.1: D 100, L 30, c 0.1 mm, 0.1 Pa·s, 525 N, 1500 rpm:
    ε 0.2663."""
    found = film(Bearing("ex. 5.5.1", 100.0, 30.0, 0.2), 525.0, 1500.0, 100.0, TABLES)
    assert float(found.sommerfeld) == pytest.approx(3.571429, rel=1e-6)
    eps = float(short_eccentricity(found.sommerfeld, 0.3))
    assert eps == pytest.approx(0.266298, abs=2e-6)
    assert float(found.short_min_film_um) == pytest.approx(73.37, abs=0.01)
    assert float(short_attitude_deg(eps)) == pytest.approx(70.62, abs=0.01)
    modified = 4 * np.pi * float(short_load_group(eps)) / (4 * np.pi)
    assert np.pi * 0.3**2 * 3.571429 == pytest.approx(1.009798, abs=1e-5)
    assert 1 / (4 * modified) == pytest.approx(1.009798, abs=1e-4)


def test_short_bearing_note() -> None:
    """Public validation note: R 50, L 25, c 0.1 mm, 20 mPa·s, 1000 N, 3000 rpm: ε 0.6757879254, φ 40.58502, h0
    32.421 µm."""
    found = film(Bearing("a note", 100.0, 25.0, 0.2), 1000.0, 3000.0, 20.0, TABLES)
    eps = float(short_eccentricity(found.sommerfeld, 0.25))
    assert eps == pytest.approx(0.6757879254, abs=2e-6)
    assert float(short_attitude_deg(eps)) == pytest.approx(40.58502, abs=2e-4)
    assert float(found.short_min_film_um) == pytest.approx(32.421207, abs=2e-4)


def test_jindal_example_17_4() -> None:
    """U. C. Jindal, Machine Design, ex. 17-4: l = d = 60, c 0.06 mm, 3000 N, 30 cP, 1440 rpm: f 0.00985, h0 0.032 mm,
    Q 0.638 l/min, loss 0.1337 kW. He reads the table linearly; in log S the film is 0.0328, the Reynolds solution
    0.0330."""
    found = film(Bearing("ex. 17-4", 60.0, 60.0, 0.12), 3000.0, 1440.0, 30.0, TABLES)
    assert float(found.sommerfeld) == pytest.approx(0.216, abs=1e-9)
    assert float(found.friction) == pytest.approx(0.00985, rel=0.01)
    assert float(found.min_film_um) == pytest.approx(33.0, rel=0.015)
    assert float(found.flow_cm3_s) * 0.06 == pytest.approx(0.638, rel=0.01)
    assert float(found.loss_w) == pytest.approx(133.7, rel=0.01)


def test_mott_example_16_2() -> None:
    """Mott, Machine Elements, ex. 16-2 (attribution from memory): 1500 lb, D = L = 2.5 in, Cd 0.003 in, 850 rpm,
    required viscosity 3.17e-6 reyn: S 0.135, f(R/c) 3.5, f 0.0042, 7.88 lb·in, 0.106 hp."""
    bearing = Bearing("ex. 16-2", 2.5 * MM, 2.5 * MM, 0.003 * MM)
    found = film(bearing, 1500 * N_PER_LBF, 850.0, 3.17e-6 * MPAS_PER_REYN, TABLES)
    # 3.17e-6 reyn gives S 0.130; the example's 0.135 belongs to the oil's own 3.3e-6
    own = film(bearing, 1500 * N_PER_LBF, 850.0, 3.3e-6 * MPAS_PER_REYN, TABLES)
    assert float(found.mean_pressure_mpa) / MPA_PER_PSI == pytest.approx(240.0, rel=1e-3)
    assert float(own.sommerfeld) == pytest.approx(0.1353, abs=2e-4)
    assert float(own.friction) * 1.25 / 0.0015 == pytest.approx(3.5, rel=0.015)
    assert float(own.friction) == pytest.approx(0.0042, rel=0.015)
    assert float(own.friction) * 1500 * 1.25 == pytest.approx(7.875, rel=0.015)
    assert float(own.loss_w) / 745.7 == pytest.approx(0.106, rel=0.015)
    assert float(own.min_film_um) / bearing.radial_um == pytest.approx(0.428, rel=0.01)


def test_shigley_examples_12_1_to_12_4() -> None:
    """Shigley ex. 12-1 to 12-4 (from memory; figures read off charts): 4 microreyn, 30 rev/s, 500 lbf, r 0.75, c
    0.0015, l 1.5 in: P 222 psi, S 0.135, h0/c 0.42, h0 0.00063 in, f 3.50, 2.62 lbf·in, 4.28, 0.655, P/pmax 0.42."""
    bearing = Bearing("ex. 12-1", 1.5 * MM, 1.5 * MM, 0.003 * MM)
    found = film(bearing, 500 * N_PER_LBF, 1800.0, 4e-6 * MPAS_PER_REYN, TABLES)
    assert float(found.mean_pressure_mpa) / MPA_PER_PSI == pytest.approx(222.0, rel=2e-3)
    assert float(found.sommerfeld) == pytest.approx(0.135, abs=1e-4)
    assert float(found.min_film_um) / bearing.radial_um == pytest.approx(0.42, abs=0.01)
    assert float(found.min_film_um) / (MM * 1000) == pytest.approx(0.00063, abs=0.000015)
    assert float(found.friction) * 500 * 0.75 == pytest.approx(2.62, rel=0.01)
    assert float(found.friction) * 500 == pytest.approx(3.50, rel=0.01)
    assert float(found.side_share) == pytest.approx(0.655, abs=0.008)
    assert float(found.mean_pressure_mpa / found.max_pressure_mpa) == pytest.approx(0.42, abs=0.01)
    q_in3 = float(found.flow_cm3_s) / MM**3 * 1000
    assert q_in3 / (0.75 * 0.0015 * 30 * 1.5) == pytest.approx(4.28, rel=0.01)


def test_petroff() -> None:
    """A public textbook code asserts f = 9.8696e-3 for 20 mPa·s, 25 rev/s, 1 MPa, r/c 1000."""
    assert float(petroff_friction(20.0, 25.0, 1.0, 1000.0)) == pytest.approx(9.8696e-3, rel=1e-5)


def test_petroff_power_of_jindal_example_17_1() -> None:
    """Jindal, ex. 17-1: 7 mPa·s, 20 rev/s, r 25, L 50, c 0.025 mm: 21.7 W."""
    assert petroff_loss_w(7.0, 20.0, 25.0, 50.0, 0.025) == pytest.approx(21.7, abs=0.05)


def test_design_minimum_of_trumpler() -> None:
    """Trumpler as given with Shigley section 12-14: 0.0071 mm for a 53.3 mm journal; 121 °C; 2.07 MPa; load factor
    2."""
    limits = RULES.bearing
    assert limits.min_film_um(53.3) == pytest.approx(7.1, abs=0.05)
    assert (limits.max_oil_c, limits.max_start_mpa, limits.load_factor) == (121.0, 2.07, 2.0)


@pytest.mark.parametrize(("journal_in", "usual_in"), [(2.5, 0.0025), (2.1, 0.0021), (2.375, 0.0024)])
def test_clearance_rule_of_thumb(journal_in: float, usual_in: float) -> None:
    """0.001 inch per inch of journal, diametral, loose and tight 0.0005: common practice (trade magazines)."""
    tight, usual, loose = usual_clearance_mm(journal_in * MM, RULES)
    assert usual / MM == pytest.approx(usual_in, abs=0.00005)
    assert (usual - tight) / MM == pytest.approx(0.0005, abs=1e-6)
    assert (loose - usual) / MM == pytest.approx(0.0005, abs=1e-6)
