"""The film behaves as physics would have it, and says what it stands on."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.library import load_library
from benchapp.oil.film import (
    Bearing,
    LoadCase,
    film,
    monotone_cubic,
    short_eccentricity,
    short_sommerfeld,
    side_leakage,
)
from benchapp.oil.floating import (
    OilState,
    bearings_of,
    check_film,
    gas_load_n,
    grade_for_film,
    inertia_load_n,
    oil_film,
    side_by_side,
    usual_clearance_mm,
)
from benchapp.oil.rules import rules_from
from benchapp.oil.viscosity import line_40_100
from benchapp.problems import BenchProblem

LIB = load_library()
RULES = rules_from(LIB)
ROD = Bearing("rod bearing", 53.0, 21.0, 0.053)
CASE = LoadCase("7,000 rpm", 9000.0, 7000.0)
FRESH = OilState("fresh", line_40_100(100.0, 14.5), 0.87)
USED = OilState("as sampled", line_40_100(75.0, 11.0), 0.87)

ratio = st.floats(0.15, 1.0)
load = st.floats(200.0, 30000.0)
speed = st.floats(800.0, 12000.0)
mu = st.floats(2.0, 60.0)


@settings(max_examples=40, deadline=None)
@given(ratio, load, speed, mu)
def test_more_load_or_less_viscosity_or_speed_is_a_thinner_film(l_d: float, w: float, n: float, m: float) -> None:
    bearing = Bearing("a bearing", 50.0, 50.0 * l_d, 0.05)
    base, loaded, thin, slow = (
        float(film(bearing, *args, RULES.film).min_film_um)
        for args in ((w, n, m), (w * 1.3, n, m), (w, n, m / 1.3), (w, n / 1.3, m))
    )
    assert loaded <= base
    assert thin <= base
    assert slow <= base
    assert 0.0 < base <= 25.0


@settings(max_examples=40, deadline=None)
@given(ratio, load, speed, mu)
def test_the_finite_film_is_never_thicker_than_the_short_one(l_d: float, w: float, n: float, m: float) -> None:
    found = film(Bearing("a bearing", 50.0, 50.0 * l_d, 0.05), w, n, m, RULES.film)
    if not found.beyond_table:
        assert float(found.min_film_um) <= float(found.short_min_film_um) * 1.002


@settings(max_examples=30, deadline=None)
@given(st.floats(0.05, 0.96), ratio)
def test_short_form_there_and_back(eps: float, l_d: float) -> None:
    assert float(short_eccentricity(short_sommerfeld(eps, l_d), l_d)) == pytest.approx(eps, abs=1e-5)


def test_the_finite_film_tends_to_the_short_one() -> None:
    assert float(side_leakage(0.05)) == pytest.approx(1.0, abs=0.002)
    found = film(Bearing("a narrow bearing", 50.0, 5.0, 0.05), 300.0, 3000.0, 10.0, RULES.film)
    assert float(found.short_error) < 0.05


def test_arrays_go_through() -> None:
    found = film(ROD, 9000.0, [3000.0, 6000.0], [[8.0, 9.0], [10.0, 11.0]], RULES.film)
    assert found.min_film_um.shape == (2, 2)
    assert np.all(np.diff(found.min_film_um, axis=1) > 0)


def test_unknown_viscosity_gives_unknown_film() -> None:
    assert np.isnan(film(ROD, 9000.0, 6000.0, np.nan, RULES.film).min_film_um)


def test_beyond_the_tables_is_marked() -> None:
    found = film(ROD, 300000.0, 1000.0, 3.0, RULES.film)
    assert bool(found.beyond_table)
    check = check_film(ROD, LoadCase("absurd", 300000.0, 1000.0), USED, 110.0, RULES)
    assert check.text.endswith("the load is beyond the tables: not floating")
    assert not check.floats
    wide = check_film(Bearing("wide", 53.0, 21.0, 0.3), LoadCase("absurd", 300000.0, 1000.0), USED, 110.0, RULES)
    assert wide.min_film_um > 3 * RULES.bearing.roughness_um, "an upper bound that would pass for a film"
    assert not wide.floats


@pytest.mark.parametrize(
    ("bearing", "what"),
    [
        (Bearing("b", 0.0, 20.0, 0.05), "The journal diameter of b is 0 mm."),
        (Bearing("b", 50.0, -1.0, 0.05), "The bearing length of b is -1 mm."),
        (Bearing("b", 50.0, 20.0, 0.0), "The bearing clearance of b is 0 mm."),
        (Bearing("b", 50.0, 20.0, 2.0), "The clearance of b is 2 mm on a 50 mm journal."),
        (Bearing("b", 50.0, 80.0, 0.05), "Length over diameter of b is 1.6, outside 0.1 to 1."),
    ],
)
def test_a_bearing_that_cannot_be(bearing: Bearing, what: str) -> None:
    with pytest.raises(BenchProblem) as caught:
        film(bearing, 9000.0, 6000.0, 9.0, RULES.film)
    assert caught.value.what == what
    assert caught.value.means
    assert caught.value.do


@pytest.mark.parametrize(
    ("w", "n", "m", "what"),
    [
        (0.0, 6000.0, 9.0, "The bearing load is 0 N."),
        (9000.0, -5.0, 9.0, "The engine speed is -5 rpm."),
        (9000.0, 6000.0, float("inf"), "The oil viscosity is inf mPa·s."),
    ],
)
def test_a_load_that_cannot_be(w: float, n: float, m: float, what: str) -> None:
    with pytest.raises(BenchProblem) as caught:
        film(ROD, w, n, m, RULES.film)
    assert caught.value.what == what
    assert caught.value.means == "No film can be computed for it."


def test_before_and_after_dilution_side_by_side() -> None:
    fresh, used = side_by_side(ROD, CASE, (FRESH, USED), 110.0, RULES)
    assert (fresh.oil, used.oil) == ("fresh", "as sampled")
    assert used.min_film_um < fresh.min_film_um
    assert used.mu_mpas < fresh.mu_mpas
    assert fresh.text.startswith("rod bearing, fresh: ")
    assert fresh.text.endswith(": floating")


def test_the_words_for_a_film_that_is_near_or_gone() -> None:
    near = check_film(ROD, CASE, USED, 110.0, RULES, roughness_um=2.5)
    gone = check_film(ROD, CASE, USED, 110.0, RULES, roughness_um=20.0)
    assert near.text.endswith("close to touching")
    assert gone.text.endswith("touching")
    assert not gone.floats


def test_every_limit_is_a_line_with_its_source() -> None:
    found = check_film(ROD, CASE, FRESH, 130.0, RULES, start_load_n=5000.0)
    names = [line.name for line in found.lines]
    assert names == [
        "film",
        "film over roughness",
        "film at overload",
        "oil temperature",
        "thick film",
        "start pressure",
    ]
    assert all(line.source and line.text for line in found.lines)
    hot = found.lines[3]
    assert not hot.holds
    assert hot.text == "oil at 130 °C, design maximum 121 °C"
    assert not found.lines[5].holds
    assert not found.within_design
    assert found.floats


def test_the_films_own_heat_thins_it() -> None:
    cool = check_film(ROD, CASE, FRESH, 110.0, RULES)
    warm = check_film(ROD, CASE, FRESH, 110.0, RULES, own_heat=True)
    assert warm.film_c > 110.0 == cool.film_c
    assert warm.min_film_um < cool.min_film_um
    assert warm.film_c == pytest.approx(110.0 + warm.rise_k / 2, abs=0.5), "the passes have settled"


def test_hotter_oil_is_a_thinner_film() -> None:
    found, _ = oil_film(ROD, 9000.0, 7000.0, FRESH, np.array([90.0, 110.0, 130.0]), RULES)
    assert np.all(np.diff(found.min_film_um) < 0)


def test_a_roughness_that_cannot_be() -> None:
    with pytest.raises(BenchProblem, match="The combined roughness is 0 µm"):
        check_film(ROD, CASE, FRESH, 110.0, RULES, roughness_um=0.0)


def test_which_grade_keeps_the_film() -> None:
    found = grade_for_film(ROD, CASE, 110.0, RULES)
    films = [row.min_film_um for row in found.rows]
    assert films == sorted(films)
    assert found.thinnest is not None
    floats = [row.grade for row in found.rows if row.floats]
    assert found.thinnest == floats[0]
    assert "at 0.053 mm clearance and 110 °C" in found.text
    assert found.text.endswith("to compare, not to prove.")
    hotter = grade_for_film(ROD, CASE, 140.0, RULES)
    assert [r.grade for r in hotter.rows if r.floats] == [] or hotter.thinnest >= found.thinnest


def test_a_light_bearing_reaches_the_design_minimum_with_a_grade() -> None:
    found = grade_for_film(Bearing("main bearing", 60.0, 25.0, 0.08), LoadCase("light", 1500.0, 5000.0), 90.0, RULES)
    assert found.thinnest_by_design is not None
    assert f"SAE {found.thinnest_by_design} reaches the design minimum" in found.text


def test_no_grade_keeps_a_hopeless_bearing() -> None:
    found = grade_for_film(ROD, LoadCase("hopeless", 90000.0, 1500.0), 140.0, RULES)
    assert found.thinnest is None
    assert "no grade up to SAE 60 keeps the surfaces apart" in found.text


def test_grades_are_refused_beyond_their_fit() -> None:
    with pytest.raises(BenchProblem, match="Oil temperature is 170 °C, outside 10 to 150 °C"):
        grade_for_film(ROD, CASE, 170.0, RULES)


def test_bearings_of_every_family_can_be_computed() -> None:
    plain = 0
    for family in LIB.data("families")["family"]:
        for bearing in bearings_of(family["sizes"], RULES):
            plain += 1
            assert bearing.clearance_mm == pytest.approx(bearing.diameter_mm / 1000)
            assert "common practice" in bearing.origin
            assert check_film(bearing, LoadCase("a case", 4000.0, 6000.0), FRESH, 100.0, RULES).min_film_um > 0
    assert plain >= 20
    assert bearings_of({}, RULES) == ()


def test_clearance_of_a_journal_that_is_none() -> None:
    with pytest.raises(BenchProblem, match="Journal diameter is 5 mm, outside 10 to 300 mm"):
        usual_clearance_mm(5.0, RULES)


def test_loads_of_a_crank() -> None:
    """Areas and circles: 100 bar on 100 mm is 78.5 kN; 1 kg on a 50 mm crank at 6,000 rpm with a very long rod
    19.7 kN."""
    assert gas_load_n(100.0, 100.0) == pytest.approx(78539.8, rel=1e-5)
    assert inertia_load_n(1.0, 0.0, 100.0, 6000.0, 1e9) == pytest.approx(0.05 * (2 * np.pi * 100) ** 2, rel=1e-6)
    assert inertia_load_n(1.0, 0.5, 100.0, 6000.0) > inertia_load_n(1.0, 0.0, 100.0, 6000.0, 1e9)


@pytest.mark.parametrize("seed", range(20))
def test_the_monotone_cubic_is_scipys_pchip(seed):
    from scipy.interpolate import PchipInterpolator

    rng = np.random.default_rng(seed)
    x = np.cumsum(rng.uniform(0.05, 2.0, 3 + seed))
    y = np.round(rng.normal(size=len(x)), seed % 3)  # rounded: some pieces are level
    at = np.linspace(x[0] - 1.0, x[-1] + 1.0, 301)
    assert monotone_cubic(x, y, at) == pytest.approx(PchipInterpolator(x, y, extrapolate=True)(at), abs=1e-9, rel=1e-9)
    rising = np.sort(y)
    inside = np.linspace(x[0], x[-1], 301)
    assert (np.diff(monotone_cubic(x, rising, inside)) >= -1e-12).all()
