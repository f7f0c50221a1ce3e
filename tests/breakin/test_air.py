"""Power correction: published vectors and what happens outside the range."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.breakin.air import STANDARDS, correction, dry_pressure_kpa, vapour_pressure_kpa
from benchapp.problems import BenchProblem

# Recomputed from the published formulas (SAE J1349 1990 form as quoted by two public codes; ISO 1585 / UN R85 as coded
# in two public test suites); vapour by the World Meteorological Organization formula (CIMO Guide 2008).
VECTORS = [
    (25, 99, 0, 99.00000, 1.00000, 1.00000, True),
    (21, 100, 20, 99.50382, 0.98612, 0.98590, True),
    (25, 101.325, 40, 100.06098, 0.98749, 0.98729, True),
    (30, 101.325, 50, 99.20814, 1.00736, 1.00749, True),
    (40, 101.325, 80, 95.43103, 1.07456, 1.07630, False),
    (35, 95, 60, 91.63229, 1.11609, 1.11919, False),
]


@pytest.mark.parametrize(("air", "pressure", "humidity", "dry", "sae", "iso", "valid"), VECTORS)
def test_published_formulas(air, pressure, humidity, dry, sae, iso, valid):
    said = {"air_c": air, "pressure_kpa": pressure, "humidity_pct": humidity}
    assert dry_pressure_kpa(**said) == pytest.approx(dry, abs=2e-5)
    for standard, wanted in (("SAE J1349", sae), ("ISO 1585", iso)):
        found = correction(standard=standard, **said)
        assert found.factor == pytest.approx(wanted, abs=1.5e-5)
        assert found.valid is valid
        assert bool(found.why) is not valid


@pytest.mark.parametrize(("air", "hpa"), [(20, 23.393), (25, 31.699), (30, 42.470), (40, 73.849)])
def test_vapour_pressure_against_iapws(air, hpa):
    # saturation pressures returned by the public library CoolProp (IAPWS-95), hPa
    assert vapour_pressure_kpa(air) * 10 == pytest.approx(hpa, rel=0.0045)


def test_cold_air_is_kept_but_not_compared():
    found = correction(standard="SAE J1349", air_c=10, pressure_kpa=102.5, humidity_pct=30)
    assert found.factor == pytest.approx(0.93465, abs=1.5e-5)
    assert not found.valid
    assert "10 °C" in found.why


@pytest.mark.parametrize("bad", [{"humidity_pct": 140}, {"pressure_kpa": 1013}, {"air_c": 95}])
def test_air_that_cannot_be_is_refused_in_three_sentences(bad):
    said = {"air_c": 20, "pressure_kpa": 100, "humidity_pct": 40} | bad
    with pytest.raises(BenchProblem) as refused:
        correction(standard="ISO 1585", **said)
    assert "kPa" in refused.value.do
    assert refused.value.means


def test_an_unknown_standard_is_refused():
    with pytest.raises(BenchProblem, match="as measured"):
        correction(standard="made up", air_c=20, pressure_kpa=100, humidity_pct=40)


@given(
    air=st.floats(15, 35), pressure=st.floats(90, 105), humidity=st.floats(0, 100), standard=st.sampled_from(STANDARDS)
)
def test_thinner_air_never_lowers_the_factor(air, pressure, humidity, standard):
    here = correction(standard=standard, air_c=air, pressure_kpa=pressure, humidity_pct=humidity).factor
    thinner = correction(standard=standard, air_c=air, pressure_kpa=pressure - 1, humidity_pct=humidity).factor
    assert thinner >= here
