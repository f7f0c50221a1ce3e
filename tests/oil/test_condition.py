"""The oil of a sample: lines against fresh values, what a bound may say, and the sentence."""

from __future__ import annotations

import timeit

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.library import load_library
from benchapp.oil.condition import (
    STATES,
    OilLine,
    OilVerdict,
    amounts,
    assess,
    is_quiet,
    run_viscosity,
    season_states,
    states,
)
from benchapp.oil.film import Bearing, film
from benchapp.oil.fuel import dilution_bounds
from benchapp.oil.rules import rules_from
from benchapp.oil.viscosity import viscosity_index
from benchapp.problems import BenchProblem
from benchapp.records import Oil, Reading

RULES = rules_from(load_library())
OIL = Oil("Invented 10W-40", "race", "10W-40", 0.87, 100.0, 14.5, 4.0, 8.0, 1.5, {"Zn": 1500.0, "P": 1300.0})


def read(measurand: str, value: float | None, unit: str = "", qualifier: str = "", replicate: int = 1) -> Reading:
    return Reading(measurand, value, unit, qualifier, replicate)


def line(verdict: OilVerdict, measurand: str) -> OilLine:
    return next(line for line in verdict.lines if line.property == measurand)


def test_a_fresh_oil_is_fit() -> None:
    found = assess(OIL, [read("KV40", 100.0), read("KV100", 14.5), read("TBN", 8.0), read("TAN", 1.5)], RULES)
    assert found.state == "fine"
    assert found.sentence.startswith("The oil is fit by viscosity at 100 °C (thinner)")
    assert found.grade is not None
    assert found.grade.in_kv100


def test_base_number_against_its_own_fresh_value() -> None:
    found = line(assess(OIL, [read("TBN", 4.5, "mg KOH/g")], RULES), "TBN")
    assert found.state == "watch"
    assert found.amount == pytest.approx(4.5 / 8)
    assert found.text == "base number 4.5 mg KOH/g, 56 % of fresh 8: watch"
    assert found.limit_text == "below 65 % of fresh watch, below 50 % of fresh done (made for heavy diesels)"
    assert found.diesel
    assert "SEBU6251-06" in found.source


def test_the_worst_line_leads_and_names_the_reason() -> None:
    found = assess(OIL, [read("KV100", 14.4), read("TBN", 3.0), read("Water", 0.2)], RULES)
    assert found.state == "done"
    assert [entry.state for entry in found.lines] == ["done", "watch", "fine"]
    assert found.sentence == "The oil is done: base number (by a limit made for heavy diesels)."


def test_on_the_way_in_words() -> None:
    found = assess(OIL, [read("KV100", 12.5), read("TAN", 3.3)], RULES)
    assert found.sentence == (
        "The oil is still usable, but viscosity at 100 °C (thinner) and acid number are on the way."
    )
    one = assess(OIL, [read("TAN", 3.3)], RULES)
    assert one.sentence == "The oil is still usable, but acid number is on the way."


def test_metals_alone_leave_the_oil_not_judged() -> None:
    found = assess(OIL, [read("Fe", 12.0, "ppm")], RULES)
    assert found.state == "unknown"
    assert found.sentence.startswith("The oil was not judged")
    assert found.unknowns == ("viscosity at 100 °C of the sample", "oil temperature of the run")


def test_without_a_fresh_value_nothing_is_judged_and_it_is_said() -> None:
    bare = Oil("Unknown oil")
    found = assess(bare, [read("KV100", 12.0), read("TBN", 5.0)], RULES)
    assert found.state == "unknown"
    assert line(found, "TBN").text == "base number 5, fresh value not known: not judged"
    assert "viscosity at 100 °C of fresh Unknown oil" in found.unknowns
    assert "base number of fresh Unknown oil" in found.unknowns
    assert found.grade is None
    assert found.fuel is None


def test_oxidation_needs_its_own_fresh_value() -> None:
    found = assess(OIL, [read("Oxidation", 22.0, "A/cm")], RULES)
    assert line(found, "Oxidation").state == "unknown"
    assert found.notes[0].startswith("Oxidation and nitration need this oil's own fresh value")
    known = assess(OIL, [read("Oxidation", 22.0, "A/cm")], RULES, fresh_more={"Oxidation": 8.0})
    assert line(known, "Oxidation").state == "watch"
    assert line(known, "Oxidation").text == "oxidation 22 A/cm, +14 on fresh 8: watch"
    assert known.notes == ()


@pytest.mark.parametrize(
    ("reading", "state"),
    [
        (read("Water", None, "%", "<"), "fine"),
        (read("Water", 0.05, "%", "<"), "fine"),
        (read("Water", 0.5, "%", "<"), "unknown"),
        (read("Water", 0.2, "%", ">"), "watch"),
        (read("Water", 0.05, "%", ">"), "unknown"),
        (read("Water", 1.0, "%", ">"), "done"),
        (read("Glycol", 0.05, "%", "<"), "fine"),
        (read("Glycol", None, "%", "<"), "fine"),
        (read("Glycol", 0.01, "%"), "done"),
        (read("TBN", 1.0, "", "<"), "done"),
        (read("TBN", 7.0, "", "<"), "unknown"),
        (read("TBN", 7.0, "", ">"), "fine"),
        (read("TBN", 4.2, "", ">"), "unknown"),
        (read("TBN", None, "", ">"), "unknown"),
    ],
)
def test_a_bound_is_judged_only_where_it_is_sure(reading: Reading, state: str) -> None:
    assert line(assess(OIL, [reading], RULES), reading.measurand).state == state


def test_replicates_are_averaged_and_a_value_outweighs_a_bound() -> None:
    found = assess(OIL, [read("TBN", 4.0), read("TBN", 5.0, replicate=2)], RULES)
    assert line(found, "TBN").value == 4.5
    mixed = assess(OIL, [read("Water", None, "%", "<"), read("Water", 0.4, "%", replicate=2)], RULES)
    assert line(mixed, "Water").value == 0.4


def test_thickening_is_told_as_thickening() -> None:
    found = assess(OIL, [read("KV100", 20.0)], RULES)
    assert line(found, "KV100").name == "viscosity at 100 °C (thicker)"
    assert line(found, "KV100").state == "done"


def test_crossing_of_base_and_acid_number_is_a_note_with_its_doubt() -> None:
    found = assess(OIL, [read("TBN", 3.0), read("TAN", 3.1)], RULES)
    assert "contested" in found.notes[0]
    assert "no standard found" in found.notes[0]


def test_an_additive_is_read_against_the_fresh_oil() -> None:
    found = line(assess(OIL, [read("Zn", 1000.0, "ppm")], RULES), "Zn")
    assert found.state == "watch"
    assert found.text == "zinc of the anti-wear additive 1000 ppm, 67 % of fresh 1500: watch"


def test_viscosity_at_the_run_from_two_from_one_and_from_none() -> None:
    two = assess(OIL, [read("KV40", 80.0), read("KV100", 12.2)], RULES, run_c=110.0)
    one = assess(OIL, [read("KV100", 12.2)], RULES, run_c=110.0)
    field = assess(OIL, [read("KV40", 80.0)], RULES, run_c=110.0)
    none = assess(OIL, [read("TBN", 8.0)], RULES, run_c=110.0)
    assert two.run_mpas is not None
    assert one.run_mpas == pytest.approx(two.run_mpas, rel=0.03)
    assert field.run_mpas == pytest.approx(two.run_mpas, rel=0.05)
    assert none.run_mpas is None
    assert none.run_text == ""
    assert two.run_fresh_mpas is not None
    assert two.run_mpas < two.run_fresh_mpas
    assert two.run_text == "8.0 mPa·s at 110 °C, fresh 9.4 (85 %)"


def test_run_viscosity_without_fresh_values_has_no_comparison() -> None:
    found = assess(Oil("Unknown oil"), [read("KV40", 80.0), read("KV100", 12.2)], RULES, run_c=110.0)
    assert found.run_text == "8.0 mPa·s at 110 °C"


def test_fuel_from_a_field_viscometer() -> None:
    found = assess(OIL, [read("KV40", 80.0), read("Fuel", 2.0)], RULES)
    assert found.fuel is not None
    assert found.fuel.high_pct > 1.0
    assert found.fuel.measured_pct == 2.0
    assert assess(OIL, [read("Fuel", 2.0)], RULES).fuel is None


def test_fuel_and_index_come_along() -> None:
    found = assess(OIL, [read("KV40", 80.0), read("KV100", 12.2), read("Fuel", 2.4, "%")], RULES)
    assert found.fuel is not None
    assert found.fuel.measured_pct == 2.4
    assert found.vi == pytest.approx(148.7, abs=0.1)
    assert found.vi_fresh == pytest.approx(149.8, abs=0.1)


def test_a_limit_can_be_changed_for_an_oil() -> None:
    rules = RULES.with_limit("base number", watch=0.40, done=0.30)
    found = line(assess(OIL, [read("TBN", 3.5)], rules), "TBN")
    assert found.state == "fine"
    assert not found.diesel
    assert found.source == "entered for this oil"
    assert RULES.limit("base number").done == 0.50, "the rules themselves are as they were"


def test_a_limit_that_cannot_be_is_refused() -> None:
    with pytest.raises(BenchProblem, match='There is no oil limit "colour"') as caught:
        RULES.with_limit("colour", watch=1.0, done=2.0)
    assert "base number" in caught.value.do
    with pytest.raises(BenchProblem, match="would come after its limit"):
        RULES.with_limit("base number", watch=0.3, done=0.5)
    with pytest.raises(BenchProblem, match="would come after its limit"):
        RULES.with_limit("water", watch=0.3, done=0.1)


def test_a_value_outside_a_formula_is_told_and_does_not_hide_the_rest() -> None:
    found = assess(OIL, [read("KV100", 12.0), read("TBN", 3.0)], RULES, run_c=300.0)
    assert found.state == "done"
    assert found.run_mpas is None
    assert found.refused[0].startswith("Oil temperature is 300 °C, outside -40 to 200 °C. The formula holds only in")
    thin = assess(OIL, [read("KV100", 0.1)], RULES)
    assert thin.fuel is None
    assert thin.state == "done"
    assert any(line.startswith("Viscosity is") and "ASTM D341" in line for line in thin.refused)


def test_a_grade_that_is_none_does_not_hide_the_rest() -> None:
    odd = Oil("Odd", sae_grade="thick", kv100_cst=14.5)
    found = assess(odd, [read("KV100", 14.0)], RULES)
    assert found.grade is None
    assert found.state == "fine"
    assert found.refused[0].startswith('"thick" is not an SAE engine-oil grade.')


@given(st.floats(0.01, 3.0), st.floats(0.01, 3.0))
def test_less_base_number_is_never_better(a: float, b: float) -> None:
    limit = RULES.limit("base number")
    low, high = min(a, b), max(a, b)
    assert states(limit, low) >= states(limit, high)


def test_a_season_is_judged_as_its_samples_one_by_one() -> None:
    rng = np.random.default_rng(4)
    tbn, water = rng.uniform(1, 9, 50), rng.uniform(0, 0.5, 50)
    tbn[3] = np.nan
    codes = season_states({"TBN": tbn, "Water": water}, {"TBN": 8.0}, RULES)
    for n in range(50):
        readings = [read("Water", float(water[n]))] + ([] if np.isnan(tbn[n]) else [read("TBN", float(tbn[n]))])
        found = assess(OIL, readings, RULES)
        assert STATES[codes["water"][n]] == line(found, "Water").state
        if n != 3:
            assert STATES[codes["base number"][n]] == line(found, "TBN").state
    assert STATES[codes["base number"][3]] == "unknown"


def test_a_fresh_value_of_zero_gives_no_share() -> None:
    assert np.isnan(amounts(RULES.limit("base number"), 4.0, 0.0))


def test_a_season_at_once_costs_less_than_a_hundred_samples_one_by_one() -> None:
    """5,000 samples: run viscosity, fuel range, index, states and film. A ratio, so that it holds on any machine."""
    n = 5000
    kv100 = np.linspace(9.0, 15.0, n)
    kv40 = kv100 * 6.9
    values = {"KV100": kv100, "KV40": kv40, "TBN": np.linspace(1, 8, n), "Water": np.zeros(n)}
    fresh = {"KV100": 14.5, "KV40": 100.0, "TBN": 8.0}
    rod = Bearing("rod bearing", 53.0, 21.0, 0.053)

    def season() -> None:
        mu = run_viscosity(kv40, kv100, 100.0, 14.5, np.full(n, 110.0), 0.87)
        dilution_bounds(kv100, 14.5, RULES.fuels["petrol"])
        viscosity_index(kv40, kv100)
        season_states(values, fresh, RULES)
        film(rod, np.full(n, 9000.0), np.full(n, 7000.0), mu, RULES.film)

    def one() -> None:
        assess(OIL, [read("KV40", 80.0), read("KV100", 12.2), read("TBN", 5.0), read("Water", 0.0)], RULES, run_c=110.0)
        film(rod, 9000.0, 7000.0, 8.0, RULES.film)

    season()  # first use imports what is heavy
    one()
    assert min(timeit.repeat(season, number=1, repeat=5)) < 100 * min(timeit.repeat(one, number=1, repeat=5))


MEASURANDS = ("KV40", "KV100", "TBN", "TAN", "Oxidation", "Water", "Glycol", "Soot", "Fuel", "Flash point", "Zn")


@given(
    st.lists(
        st.tuples(
            st.sampled_from(MEASURANDS), st.none() | st.floats(0.0, 250.0), st.sampled_from(("", "<", ">"))
        ).filter(lambda each: each[1] is not None or each[2] == "<"),
        max_size=6,
    )
)
def test_the_quick_look_finds_what_the_long_one_finds(readings: list[tuple[str, float | None, str]]) -> None:
    oil = Oil("Invented", "race", "10W-40", 0.87, 100.0, 14.5, 4.0, 8.0, 1.5, {"Zn": 100.0})
    made = [Reading(name, value, "", qualifier) for name, value, qualifier in readings]
    loud = {line.property for line in assess(oil, made, RULES).lines if line.state in ("watch", "done")}
    assert is_quiet(oil, made, RULES) == (not loud)
    assert is_quiet(oil, made, RULES, ("Zn",)) == (not loud - {"Zn"})
