"""Compositions and their arithmetic against values from outside. The source stands beside each."""

from __future__ import annotations

import pytest
from chemicals.elements import periodic_table

from benchapp.library import load_library
from benchapp.metallurgy.layers import layer_mg, oil_ppm
from benchapp.metallurgy.signature import composition, signature
from benchapp.records import Part

LIB = load_library()


def weight(formula: dict[str, int]) -> float:
    """Molar mass [g/mol] with the IUPAC atomic weights that `chemicals` carries."""
    return float(sum(getattr(periodic_table, element).MW * count for element, count in formula.items()))


def percent(formula: dict[str, int], element: str) -> float:
    return 100 * weight({element: formula[element]}) / weight(formula)


@pytest.mark.parametrize(
    ("material", "element", "formula"),
    [
        ("tel", "Pb", {"Pb": 1, "C": 8, "H": 20}),
        ("mmt", "Mn", {"C": 9, "H": 7, "Mn": 1, "O": 3}),
        ("ferrocene", "Fe", {"C": 10, "H": 10, "Fe": 1}),
        ("mos2", "Mo", {"Mo": 1, "S": 2}),
        ("mos2", "S", {"Mo": 1, "S": 2}),
        ("rtv_pdms", "Si", {"C": 2, "H": 6, "O": 1, "Si": 1}),
        ("salt_borax5", "B", {"Na": 2, "B": 4, "O": 12, "H": 10}),
        ("salt_borax5", "Na", {"Na": 2, "B": 4, "O": 12, "H": 10}),
        ("salt_silicate", "Si", {"Na": 2, "Si": 1, "O": 3}),
        ("salt_molybdate", "Mo", {"Na": 2, "Mo": 1, "O": 6, "H": 4}),
        ("salt_k_2eh", "K", {"C": 8, "H": 15, "K": 1, "O": 2}),
        ("salt_k_phosphate", "K", {"K": 2, "H": 1, "P": 1, "O": 4}),
        ("salt_k_phosphate", "P", {"K": 2, "H": 1, "P": 1, "O": 4}),
    ],
)
def test_compounds_follow_stoichiometry(material: str, element: str, formula: dict[str, int]) -> None:
    """IUPAC atomic weights, from the library `chemicals`."""
    share = composition(LIB.materials[material].shares)[element][0]
    assert share * 100 == pytest.approx(percent(formula, element), abs=0.1)


@pytest.mark.parametrize(
    ("oxide", "element", "atoms", "oxygens", "low", "high"),
    [
        ("SiO2", "Si", 1, 2, 68, 76),
        ("Al2O3", "Al", 2, 3, 10, 15),
        ("Fe2O3", "Fe", 2, 3, 2, 5),
        ("Na2O", "Na", 2, 1, 2, 4),
        ("CaO", "Ca", 1, 1, 2, 5),
        ("MgO", "Mg", 1, 1, 1, 2),
        ("TiO2", "Ti", 1, 2, 0.5, 1.0),
        ("K2O", "K", 2, 1, 2, 5),
    ],
)
def test_dust_follows_its_oxides(oxide: str, element: str, atoms: int, oxygens: int, low: float, high: float) -> None:
    """Oxide ranges: safety data sheet of ISO 12103-1 A1-A4 dusts, 4 April 2012, section 3."""
    fraction = percent({element: atoms, "O": oxygens}, element) / 100
    share = next(s for s in LIB.materials["dust_arizona"].shares if s.element == element)
    assert share.min_pct == pytest.approx(low * fraction, abs=0.02), oxide
    assert share.max_pct == pytest.approx(high * fraction, abs=0.02), oxide


@pytest.mark.parametrize(
    ("material", "element", "low", "high", "source"),
    [
        ("al_4032", "Si", 11.0, 13.5, "Roberge, Handbook of Corrosion Engineering, table E.1"),
        ("al_2618", "Cu", 1.9, 2.7, "Roberge, Handbook of Corrosion Engineering, table E.1"),
        ("steel_52100", "Cr", 1.3, 1.6, "ASTM A295 52100, from memory"),
        ("steel_4340", "Ni", 1.65, 2.0, "AISI 4340, from memory"),
        ("ti_64", "V", 3.5, 4.5, "AMS 4928"),
        ("cu_c93200", "Pb", 6.0, 8.0, "ASTM B505 C93200"),
        ("brg_alsn20cu", "Sn", 17.5, 22.5, "SAE 783, from memory; GOST AO20-1 has 17-23"),
        ("mg_az91d", "Al", 8.3, 9.7, "ASTM B94 AZ91D, from memory"),
    ],
)
def test_limits_agree_with_the_grade(material: str, element: str, low: float, high: float, source: str) -> None:
    """The table's range and the grade's own limits, within one percentage point at each end."""
    share = next(s for s in LIB.materials[material].shares if s.element == element)
    assert share.min_pct == pytest.approx(low, abs=1.0), source
    assert share.max_pct == pytest.approx(high, abs=1.0), source


def test_one_micrometre_of_overlay() -> None:
    """Arithmetic of units: 10 cm² × 1 µm × 10.6 g/cm³ = 10.6 mg; in 6 L at 0.87 kg/L 2.0 ppm, of it 1.8 Pb."""
    overlay = LIB.materials["ovl_pbsn10cu2"]
    assert overlay.density_g_cm3 is not None
    mg = layer_mg(10.0, 1.0, overlay.density_g_cm3)
    assert float(mg) == pytest.approx(10.6, abs=0.001)
    total = float(oil_ppm(mg, 6.0, 0.87))
    share = composition(overlay.shares)
    assert total == pytest.approx(2.0, abs=0.05)
    assert total * share["Pb"][0] == pytest.approx(1.8, abs=0.05)
    assert total * share["Sn"][0] == pytest.approx(0.20, abs=0.01)
    assert total * share["Cu"][0] == pytest.approx(0.04, abs=0.01)


@pytest.mark.parametrize(
    ("material", "element", "ppm"),
    [("brg_sae49", "Cu", 1.3), ("brg_sae49", "Pb", 0.42), ("brg_sae49", "Sn", 0.04), ("iron_gjl250", "Fe", 1.3)],
)
def test_the_same_loss_of_other_metals(material: str, element: str, ppm: float) -> None:
    """Same arithmetic for an SAE 49 lining (9.2 g/cm³) and grey iron (7.2 g/cm³); compositions of the table."""
    found = LIB.materials[material]
    share = composition(found.shares)[element][0]
    mg = layer_mg(10.0, 1.0, found.density_g_cm3 or 0.0, share)
    assert float(oil_ppm(mg, 6.0, 0.87)) == pytest.approx(ppm, abs=0.06)


@pytest.mark.parametrize(
    ("material", "over", "under", "low", "high"),
    [
        ("ovl_pbsn10cu2", "Cu", "Pb", 0.0, 0.14),
        ("brg_sae49", "Cu", "Pb", 2.6, 3.7),
        ("brg_cupb24sn4", "Cu", "Pb", 2.46, 3.6),
        ("dust_arizona", "Si", "Al", 4.0, 6.7),
        ("al_390", "Si", "Al", 0.20, 0.24),
        ("al_4032", "Si", "Al", 0.13, 0.17),
        ("steel_14112", "Fe", "Cr", 4.0, 4.8),
        ("steel_52100", "Fe", "Cr", 59.9, 72.1),
        ("valve_214n", "Fe", "Cr", 2.65, 3.4),
    ],
)
def test_ratios_that_tell_apart(material: str, over: str, under: str, low: float, high: float) -> None:
    """Worst corners of the published ranges (computed): overlay and lining by Cu/Pb, dust and alloys by Si/Al."""
    shares = {s.element: s for s in LIB.materials[material].shares}
    assert shares[over].min_pct / shares[under].max_pct == pytest.approx(low, rel=0.03, abs=0.005)
    assert shares[over].max_pct / shares[under].min_pct == pytest.approx(high, rel=0.03, abs=0.005)


def test_lead_is_attacked_before_copper_so_pb_sn_does_not_tell_overlay_from_lining() -> None:
    """Pb/Sn of overlay and lining overlap (computed), Cu/Pb do not; lead first: SAE 760559."""
    parts = (Part("overlay", "ovl_pbsn10cu2"), Part("lining", "brg_sae49"))
    found = signature(parts, LIB.materials, elements=("Pb", "Sn", "Cu"))
    pb_sn = found.A[0] / found.A[1]
    cu_pb = found.A[2] / found.A[0]
    assert 0.5 < pb_sn[0] / pb_sn[1] < 2.0
    assert cu_pb[1] / cu_pb[0] > 20
