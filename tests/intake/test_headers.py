"""Column heads. Wordings: common practice of exports, no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.intake.headers import ELEMENT_NAMES, classify, unit_of
from benchapp.intake.units import conversion, convert, is_unit


@pytest.mark.parametrize(
    ("text", "measurand", "unit"),
    [
        ("Fe", "Fe", ""),
        ("FE", "Fe", ""),
        ("fe", "Fe", ""),
        ("Fe (ppm)", "Fe", "ppm"),
        ("Fe [mg/kg]", "Fe", "mg/kg"),
        ("Fe 238.2 (ppm)", "Fe", "ppm"),
        ("Iron, mg/kg", "Fe", "mg/kg"),
        ("Cu_324", "Cu", ""),
        ("IRON (Fe)", "Fe", ""),
        ("Fe 259.940 nm", "Fe", ""),
        ("Fe259.9", "Fe", ""),
        ("Al 396.152 {85}", "Al", ""),
        ("Fe ppm", "Fe", "ppm"),
        ("ppm Fe", "Fe", "ppm"),
        ("Fe µg/g", "Fe", "µg/g"),
        ("Fe μg/g", "Fe", "μg/g"),
        ("Fe wt %", "Fe", "wt %"),
        ("Fe (Iron) ppm", "Fe", "ppm"),
        ("Mo II 281.6", "Mo", ""),
        ("Aluminum", "Al", ""),
        ("Aluminium", "Al", ""),
        ("Phosphorus", "P", ""),
        ("Sulphur %", "S", "%"),
        ("Fe Kα", "Fe", ""),
        ("Si (wear)", "Si", ""),
        ("KV40", "KV40", ""),
        ("KV 100", "KV100", ""),
        ("Viscosity @ 40 °C", "KV40", ""),
        ("viscosity @ 100°C (cSt)", "KV100", "cSt"),
        ("Kinematic Viscosity 40 °C, mm²/s", "KV40", "mm²/s"),
        ("TBN (mg KOH/g)", "TBN", "mg KOH/g"),
        ("Base number", "TBN", ""),
        ("TAN", "TAN", ""),
        ("Acid No.", "TAN", ""),
        ("Water, ppm", "Water", "ppm"),
        ("Water %", "Water", "%"),
        ("Fuel (%)", "Fuel", "%"),
        ("Fuel dilution", "Fuel", ""),
        ("Oxidation (A/cm)", "Oxidation", "A/cm"),
        ("Nitration", "Nitration", ""),
        ("Soot wt%", "Soot", "wt%"),
        ("Glycol", "Glycol", ""),
        ("PQ Index", "Ferrous index", ""),
        ("Ferrous index", "Ferrous index", ""),
        ("Flash point (°C)", "Flash point", "°C"),
        ("Ferrous debris (ppm)", "Ferrous debris", "ppm"),
        ("Fe\n(ppm)", "Fe", "ppm"),
    ],
)
def test_reading_heads(text: str, measurand: str, unit: str) -> None:
    head = classify(text)
    assert (head.role, head.measurand) == ("reading", measurand)
    assert head.unit == unit.replace("μ", "µ")
    assert not head.problem


@pytest.mark.parametrize(("symbol", "names"), ELEMENT_NAMES.items())
def test_every_element_by_symbol_and_by_each_name(symbol: str, names: str) -> None:
    for text in (symbol, f"{symbol} (ppm)", *names.split(), names.split()[0].capitalize(), names.split()[0].upper()):
        assert classify(text).measurand == symbol, text


@pytest.mark.parametrize(
    ("text", "role"),
    [
        ("Sample", "sample"),
        ("Sample ID", "sample"),
        ("ID", "sample"),
        ("Rep", "replicate"),
        ("Type", "kind"),
        ("Element", "element"),
        ("Analyte", "element"),
        ("Result", "value"),
        ("Units", "unit"),
        ("Engine", "engine"),
        ("Sample date", "taken_at"),
        ("Date", "date"),
        ("Time", "time"),
        ("Instrument", "instrument"),
        ("Hours on oil", "oil_h"),
        ("Engine hours", "build_h"),
        ("Remarks", "note"),
        ("Fe ±", "error"),
        ("± Fe", "error"),
        ("Fe +/-", "error"),
        ("Fe SD", "error"),
        ("Fe_RSD (%)", "error"),
        ("±", "error"),
        ("%RSD", "error"),
        ("Fe Mean", "mean"),
        ("Avg Fe", "mean"),
        ("Operator", "unknown"),
        ("Lead time", "unknown"),
        ("", "unknown"),
        ("NO", "unknown"),
        ("IN", "unknown"),
        ("Os", "unknown"),
    ],
)
def test_other_heads(text: str, role: str) -> None:
    assert classify(text).role == role


def test_replicates_in_the_head() -> None:
    assert (classify("Fe #2").measurand, classify("Fe #2").replicate) == ("Fe", 2)
    assert classify("Fe rep 3 (ppm)").replicate == 3


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Fe mg/L", "density of the oil"),
        ("Fe (cps)", "cannot be converted"),
        ("Viscosity", "at which temperature"),
        ("KV40 (SUS)", "cannot be converted"),
        ("TBN (ppm)", "cannot be converted"),
    ],
)
def test_a_unit_that_cannot_be_converted_is_a_problem(text: str, words: str) -> None:
    assert words in classify(text).problem


@pytest.mark.parametrize(
    ("value", "unit", "measurand", "expected"),
    [
        (0.0012, "%", "Fe", 12.0),
        (12.0, "µg/g", "Fe", 12.0),
        (1200.0, "ppb", "Fe", 1.2),
        (500.0, "ppm", "Water", 0.05),
        (60.5, "mm2/s", "KV40", 60.5),
        (0.605, "St", "KV40", 60.5),
        (392.0, "°F", "Flash point", 200.0),
        (0.2, "abs/0.1mm", "Oxidation", 20.0),
        (860.0, "kg/m3", "Density", 0.86),
    ],
)
def test_conversions_are_those_of_the_definitions(value: float, unit: str, measurand: str, expected: float) -> None:
    factors = conversion(unit, unit_of(measurand))
    assert factors is not None
    assert convert(value, *factors) == pytest.approx(expected)
    assert is_unit(unit)


def test_a_conversion_leaves_no_crumbs() -> None:
    assert convert(0.0012, 1e4, 0.0) == 12.0


@given(st.text(max_size=60))
def test_any_head_is_classified(text: str) -> None:
    assert classify(text).role
