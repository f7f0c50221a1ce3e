"""Bench checks: a failed check holds, a good rerun frees; standards, pasted checks, noise, comparison."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import MappingProxyType

import pytest

from benchapp.actions import call, checks, holds, instrument, paste, sample
from benchapp.actions.bench import Bench
from benchapp.actions.noise import as_known_then, is_learned
from benchapp.intake.paste import interpret
from benchapp.intake.read import read_text
from benchapp.problems import BenchProblem
from benchapp.records import CheckRun, Instrument, InstrumentElement, NoiseLine, Reading, Standard
from tests.actions.making import WHEN, a_sample, furnish

DISC = "Bench disc"
STANDARD = Standard(
    "Check 50", "standard", "L-7", dt.datetime(2027, 1, 31), MappingProxyType({"Cu": 50.0, "Fe": 50.0}), "invented"
)
BLANK = Standard("Base oil", "blank")


def at(days: float) -> dt.datetime:
    """Days after the engine's first fill; samples are drawn on days 3, 6 and 9."""
    return WHEN + dt.timedelta(days=days)


def check(bench: Bench, days: float, fe: float, cu: float = 50.0):
    return checks.add_runs(bench, DISC, at(days), "Check 50", {"Fe": fe, "Cu": cu})


@pytest.fixture
def checked(bench):
    """The bench with its standard and a good check on day 1."""
    checks.put_standard(bench, "", STANDARD)
    check(bench, 1, 50.4)
    return bench


def held(bench: Bench) -> dict[str, str]:
    return {s.code: s.hold for e in bench.fleet().engines for b in e.builds for s in b.samples if s.hold}


# --- holds


def test_a_failed_check_holds_the_samples_since_the_last_good_one(checked):
    check(checked, 5, 51.0)
    assert held(checked) == {}
    changed = check(checked, 7, 57.0)
    assert changed.engines == {"E-1"}
    assert held(checked) == {
        "S-2": "The check of Bench disc on 2026-05-10 10:30 failed (Fe 57 ppm for 50 ppm). Standardise, run the "
        "standard again, then this sample.",
        "S-3": held(checked)["S-2"],
    }


def test_the_calls_say_so_wherever_they_come_from(checked):
    check(checked, 7, 57.0)
    said = [c.held for c in checked.calls_of("E-1")]
    assert said == [held(checked)["S-1"], held(checked)["S-2"], held(checked)["S-3"]]
    latest = checked.calls()[0]
    assert (latest.sample, latest.held) == ("S-3", held(checked)["S-3"])
    typed = a_sample("S-4", 10.0)
    assert call.preview(checked, "E-1", "1", typed).held.startswith("The check of Bench disc on 2026-05-10")
    assert call.preview(checked, "E-1", "1", replace(typed, taken_at=at(0.5), instrument="another")).held == ""


def test_a_good_check_frees_what_follows_and_a_rerun_frees_the_sample(checked):
    check(checked, 5, 51.0)
    check(checked, 7, 57.0)
    check(checked, 7.1, 50.2)
    assert set(held(checked)) == {"S-2"}
    changed = checks.measured_again(checked, "S-2", at(7.2))
    assert changed.label == "Sample S-2 was measured again"
    assert held(checked) == {}
    assert [c.held for c in checked.calls_of("E-1")] == ["", "", ""]
    assert checked.find_sample("S-2")[2].readings  # nothing is deleted
    checked.undo()
    assert set(held(checked)) == {"S-2"}


def test_measured_again_between_two_failed_checks_stays_held(checked):
    check(checked, 5, 57.0)
    check(checked, 7, 57.0)
    checks.measured_again(checked, "S-1", at(6))
    assert "S-1" in held(checked)


def test_a_sample_cannot_be_measured_before_it_was_drawn(checked):
    with pytest.raises(BenchProblem, match=r"S-3 cannot have been measured before it was drawn \(2026-05-12"):
        checks.measured_again(checked, "S-3", at(1))


def test_undo_of_the_failed_check_frees_at_once(checked):
    check(checked, 7, 57.0)
    assert held(checked)
    checked.undo()
    assert held(checked) == {}
    checked.redo()
    assert held(checked)


def test_a_withdrawn_check_run_frees(checked):
    check(checked, 7, 57.0)
    bad = next(run for run in checked.fleet().check_runs if run.found_ppm == 57.0)
    instrument.void_check_run(checked, bad, "wrong bottle")
    assert held(checked) == {}


def test_a_correction_does_not_write_the_hold_into_the_file(checked):
    check(checked, 5, 57.0)
    _, _, there = checked.find_sample("S-2")
    assert holds.is_from_check(there.hold)
    corrected = replace(
        there, readings=tuple(Reading("Fe", 12.5) if r.measurand == "Fe" else r for r in there.readings)
    )
    sample.confirm(checked, "E-1", "1", corrected, correct=True)
    assert checked.file.find("sample", code="S-2")[0][1]["hold"] == ""
    bad = next(run for run in checked.fleet().check_runs if run.found_ppm == 57.0)
    instrument.void_check_run(checked, bad, "wrong bottle")
    assert held(checked) == {}


def test_what_a_person_held_stays_held_until_a_person_frees_it(checked):
    sample.hold(checked, "S-2", "bottle was open")
    check(checked, 7, 57.0)
    assert held(checked)["S-2"] == "bottle was open"
    check(checked, 7.1, 50.0)
    assert held(checked)["S-2"] == "bottle was open"
    _, _, there = checked.find_sample("S-2")
    sample.confirm(checked, "E-1", "1", replace(there, notes="seen"), correct=True)
    assert held(checked)["S-2"] == "bottle was open"
    sample.hold(checked, "S-2", "")
    assert held(checked)["S-2"].startswith("The check of")


def test_the_sheet_and_the_fleet_row_say_that_results_are_held(checked):
    from benchapp.actions import looks

    check(checked, 7, 57.0)
    row = looks.fleet_rows(checked.fleet(), {"E-1": checked.calls()[0]}, at(10))[0]
    assert row.reason.startswith("Held: The check of Bench disc")


def test_only_engines_with_a_new_hold_change(checked):
    furnish(checked, "E-2")
    before = {e.name: e for e in checked.fleet().engines}
    check(checked, 1.5, 50.0)
    same = {e.name: e for e in checked.fleet().engines}
    assert all(same[name] is before[name] for name in before)


def test_calls_judged_before_a_check_run_are_not_taken_after_it(checked):
    fleet = checked.fleet()
    calls = call.judge(fleet)
    check(checked, 1.5, 50.0)
    assert not checked.take_calls(fleet, calls, {"E-1"})
    assert checked.engines_to_judge() == {"E-1"}
    fresh = checked.fleet()
    assert checked.take_calls(fresh, call.judge(fresh), {"E-1"})


# --- what is known then


def test_as_of_each_neither_holds_nor_learns_from_later_checks(checked):
    for day in range(2, 12):
        check(checked, day + 0.2, 50.0 + day % 3, 50.0 - day % 2)
    check(checked, 20, 70.0)
    fleet = checked.fleet()
    assert set(held(checked)) == set()
    assert is_learned(fleet.instruments[DISC].noise["Fe"])
    then = call.known_then(fleet)
    disc = then.instruments[DISC]
    assert "Fe" not in disc.noise_at(at(3))
    assert is_learned(disc.noise_at(at(30))["Fe"])
    assert disc.noise_at(at(30)) == fleet.instruments[DISC].noise
    assert not any(s.hold for e in then.engines for b in e.builds for s in b.samples)


def test_as_of_each_holds_from_the_check_before(checked):
    check(checked, 5, 57.0)
    check(checked, 7, 50.0)
    now = {c.sample: bool(c.held) for c in call.judge(checked.fleet())}
    each = {c.sample: bool(c.held) for c in call.judge(checked.fleet(), each=True)}
    assert now == {"S-1": True, "S-2": True, "S-3": False}
    assert each == {"S-1": False, "S-2": True, "S-3": False}


def test_as_of_a_day_knows_only_the_checks_until_then(checked):
    check(checked, 7, 57.0)
    assert not any(s.hold for e in call.as_of(checked.fleet(), at(6.5)).engines for b in e.builds for s in b.samples)
    then = call.as_of(checked.fleet(), at(7.5))
    assert [s.code for e in then.engines for b in e.builds for s in b.samples if s.hold] == ["S-1", "S-2"]
    assert len(then.check_runs) == 4


def test_an_as_of_call_is_the_same_whatever_is_checked_later(checked):
    before = call.judge(checked.fleet(), each=True)[0]
    for day in range(20, 40):
        check(checked, day, 40.0 + day)
    after = call.judge(checked.fleet(), each=True)[0]
    assert (after.call, after.elements, after.sources, after.held) == (
        before.call, before.elements, before.sources, before.held,
    )  # fmt: skip


def test_the_noise_of_an_instrument_with_entered_lines_is_the_entered_one(checked):
    entered = NoiseLine(0.9, 0.09, 2.0, "from its service sheet")
    instrument.set_up(checked, DISC, Instrument(DISC, "icp", noise={"Fe": entered}))
    for day in range(2, 14):
        check(checked, day, 50.0 + day % 3)
    assert checked.fleet().instruments[DISC].noise["Fe"] == entered
    then = as_known_then(checked.fleet(), checked.library)
    assert then.instruments[DISC].noise_at(at(1.5))["Fe"] == entered


# --- instruments and standards


def test_an_instrument_known_by_its_samples_alone_is_entered(checked):
    old = instrument.stored(checked, DISC)
    made = replace(
        old,
        kind="rotating-disc",
        method="ASTM D6595",
        elements=(InstrumentElement("Fe", "ppm", 0.7), InstrumentElement("Cu"), InstrumentElement("K", "%", 0.01)),
        due_on=dt.datetime(2026, 9, 1),
        due_for="Calibration",
    )
    instrument.set_up(checked, DISC, made)
    found = checked.fleet().instruments[DISC]
    assert found.elements == made.elements
    assert (found.due_on, found.due_for) == (made.due_on, "Calibration")
    assert found.noise["Fe"].limit_ppm == 0.7  # what a bare "not detected" of iron means from now on
    instrument.set_up(checked, DISC, replace(instrument.stored(checked, DISC), due_for="Service"))
    assert checked.fleet().instruments[DISC].elements == made.elements
    instrument.set_up(checked, DISC, replace(instrument.stored(checked, DISC), name="Disc 2"))
    assert checked.fleet().instruments["Disc 2"].due_for == "Service"
    assert checked.find_sample("S-1")[2].instrument == "Disc 2"


def test_standards(checked):
    assert checked.fleet().standards["Check 50"] == STANDARD
    with pytest.raises(BenchProblem, match="There is a standard Check 50 already"):
        checks.put_standard(checked, "", STANDARD)
    checks.put_standard(checked, "Check 50", replace(STANDARD, lot="L-8"))
    assert checked.fleet().standards["Check 50"].lot == "L-8"
    with pytest.raises(BenchProblem, match="no standard nothing"):
        checks.put_standard(checked, "nothing", STANDARD)
    checks.put_standard(checked, "", BLANK)
    rows = checks.standard_rows(checked.fleet(), at(0))
    assert [(r.name, r.kind, r.certified) for r in rows] == [
        ("Base oil", "blank", "nothing"), ("Check 50", "check standard", "Cu 50, Fe 50 ppm"),
    ]  # fmt: skip
    assert checks.standard_rows(checked.fleet(), dt.datetime(2028, 1, 1))[1].until == "2027-01-31, past"
    checks.void_standard(checked, "Base oil", "thrown away")
    assert list(checked.fleet().standards) == ["Check 50"]
    with pytest.raises(BenchProblem, match="no standard Base oil"):
        checks.void_standard(checked, "Base oil", "")


def test_a_run_needs_to_know_what_should_be_found(checked):
    with pytest.raises(BenchProblem, match="What Pb should read in Check 50 is not known"):
        checks.add_runs(checked, DISC, at(2), "Check 50", {"Pb": 49.0})
    checks.add_runs(checked, DISC, at(2), "Check 50", {"Pb": 49.0}, {"Pb": 50.0})
    checks.put_standard(checked, "", BLANK)
    checks.add_runs(checked, DISC, at(2), "Base oil", {"Pb": 0.2})
    assert CheckRun(DISC, at(2), "Base oil", "Pb", 0.0, 0.2) in checked.fleet().check_runs
    with pytest.raises(BenchProblem, match="No element was typed"):
        checks.add_runs(checked, DISC, at(2), "Check 50", {})
    with pytest.raises(BenchProblem, match="The instrument has no name"):
        checks.add_runs(checked, "", at(2), "Check 50", {"Fe": 50.0})


def test_a_blank_below_zero_is_told_everywhere(checked):
    checks.put_standard(checked, "", BLANK)
    for hour, found in enumerate((-0.1, 0.04, -0.04, -0.2, 0.1, -0.1, 0.0, -0.1)):
        checks.add_runs(checked, DISC, at(2 + hour / 24), "Base oil", {"Pb": found, "Fe": -1.7})
        checks.add_runs(checked, DISC, at(2 + hour / 24), "Low", {"Pb": found + 1.0}, {"Pb": 1.0})
    found = checks.describe(checked.fleet(), checked.library, DISC, at(3))
    lead, iron = (next(line for line in found.elements if line.element == name) for name in ("Pb", "Fe"))
    assert lead.last == "0.9 for 1 ppm, -10.0 %"
    assert (lead.good, iron.good) == (True, False)
    assert lead.decision_ppm is not None
    assert 0.0 < lead.decision_ppm < lead.detection_ppm < 1.0
    assert "own replicates and check runs" in lead.noise.origin
    assert "Fe -1.7 ppm for 0 ppm" in found.row.why
    assert [checks.shown(value) for value in (-0.04, -0.1, 0.04, -12.4)] == ["0.0", "-0.1", "0.0", "-12"]
    assert checks.as_json(found)["answer"] == found.row.word
    assert checked.calls()  # the judge reads on beside it


@pytest.mark.parametrize("typed", ["-0,1", "-0.1", "\u22120,1"])
def test_a_pasted_blank_may_be_below_zero(checked, typed):
    table = f"Sample\tDate\tFe [ppm]\nBlank\t2026-05-10\t{typed}\nW-9\t2026-05-10\t11\n"
    found = interpret(read_text(table), decimal="." if "." in typed else ",")
    taken = paste.take(checked, found, instrument=DISC)
    assert (taken.readings, taken.check_runs) == (1, 1)
    assert [r.found_ppm for r in checked.fleet().check_runs if r.standard == "Blank"] == [-0.1]


def test_rows_to_type(checked):
    fleet = checked.fleet()
    assert checks.usual_standard(fleet, DISC) == "Check 50"
    assert checks.rows_to_type(fleet, DISC, "Check 50") == (("Cu", 50.0), ("Fe", 50.0))
    checks.put_standard(checked, "", BLANK)
    assert checks.rows_to_type(checked.fleet(), DISC, "Base oil") == (("Cu", 0.0), ("Fe", 0.0))
    assert checks.rows_to_type(fleet, DISC, "nothing") == ()


# --- pasted

EXPORT = (
    "Sample\tDate\tFe [ppm]\tCu [ppm]\n"
    "Check 50\t2026-05-10\t57,0\t50,1\nBlank\t2026-05-10\t0,1\t0,0\nQC 3\t2026-05-10\t3\t3\nW-9\t2026-05-10\t11\t3\n"
)


def result(text: str):
    return interpret(read_text(text), decimal=",")


def test_check_rows_of_an_export_are_taken_with_the_paste(checked):
    found = result(EXPORT)
    taken = paste.take(checked, found, instrument=DISC)
    assert (taken.readings, taken.check_runs) == (2, 4)
    assert taken.checks_left == (
        "Row 4 (QC 3): its certified value is not known. Enter the standard in Bench checks first.",
    )
    assert taken.changed.label == "Take 2 readings of sample W-9 and 4 check readings"
    assert {(r.standard, r.element, r.expected_ppm, r.found_ppm) for r in checked.fleet().check_runs} >= {
        ("Check 50", "Fe", 50.0, 57.0), ("Blank", "Fe", 0.0, 0.1),
    }  # fmt: skip
    assert set(held(checked)) == {"S-1", "S-2", "S-3"}  # read on this instrument since the good check of day 1
    assert taken.changed.engines == {"E-1"}


def test_a_row_named_like_a_standard_is_a_check(checked):
    found = result("Sample\tFe [ppm]\tCu [ppm]\nL-7\t51\t49\nW-9\t11\t3\n")
    taken = paste.take(checked, found, instrument=DISC)
    assert (taken.samples, taken.check_runs) == (("W-9",), 2)


def test_pasted_into_bench_checks(checked):
    taken = checks.take_pasted(checked, EXPORT.replace(",", "."), DISC)
    assert (taken.readings, taken.samples) == (4, 1)
    what, means, do = checks.pasted_words(taken)
    assert what == "4 check readings were taken."
    assert "QC 3" in means
    assert "1 sample: paste it in sample entry" in do
    again = checks.take_pasted(checked, EXPORT.replace(",", "."), DISC)
    assert checks.pasted_words(again)[0] == "These check readings are in the bench file already."
    with pytest.raises(BenchProblem, match="There is no check run to take in this table"):
        checks.take_pasted(checked, "Sample\tFe [ppm]\nW-9\t11\n", DISC)


@pytest.mark.parametrize(
    ("row", "unit", "name", "why"),
    [
        ("Calibration\t10", "ppm", DISC, "a calibration is no check"),
        ("Check 50\t<1", "ppm", DISC, "tells nothing of the instrument's scatter"),
        ("Check 50\t50", "ppm", None, "say which instrument the table is from"),
    ],
)
def test_why_a_check_row_is_not_taken(checked, row, unit, name, why):
    found = result(f"Sample\tFe [{unit}]\n{row}\nW-9\t11\n")
    assert why in " ".join(paste.checks_left(found, name, checked.fleet().standards))


def test_a_held_sample_measured_again_after_a_good_check_takes_the_new_values(checked):
    check(checked, 5, 51.0)
    check(checked, 7, 57.0)
    check(checked, 7.1, 50.2)
    text = "Sample\tAnalysis date\tFe [ppm]\nS-2\t{}\t10.9\n"
    found = interpret(read_text(text.format("2026-05-10 13:30")))
    assert found.facts[0].measured_at == dt.datetime(2026, 5, 10, 13, 30)
    paste.take(checked, found, instrument=DISC)
    readings = {r.measurand: r.value for r in checked.find_sample("S-2")[2].readings}
    assert (readings["Fe"], readings["Cu"]) == (10.9, 3.0)
    assert held(checked) == {}
    assert sample.history(checked, "S-2")[-1].differences[0] == ("Fe", "12 ppm", "10.9 ppm")


def test_a_sample_that_is_not_held_is_never_overwritten(checked):
    found = interpret(read_text("Sample\tAnalysis date\tFe [ppm]\nS-2\t2026-05-10 13:30\t10.9\n"))
    with pytest.raises(BenchProblem, match="has Fe 12 ppm already"):
        paste.take(checked, found, instrument=DISC)


# --- looks


def look(bench: Bench, days: float, name: str = DISC):
    return checks.describe(bench.fleet(), bench.library, name, at(days))


def state(bench: Bench, days: float, name: str = DISC) -> tuple[str, str]:
    row = next(r for r in checks.rows(bench.fleet(), bench.library, at(days)) if r.name == name)
    return row.state, row.why


def test_the_lamp_of_an_instrument_without_a_check(bench):
    assert state(bench, 1) == (
        checks.NONE,
        "Bench disc has no check yet: run a standard and a blank before the first sample.",
    )


def test_the_lamp(checked):
    assert state(checked, 1.01) == (checks.GOOD, "Bench disc is checked: 0 samples since.")
    assert state(checked, 3.5)[0] == checks.DUE
    assert "3 days old" in state(checked, 4)[1] or "60 h old" in state(checked, 3.5)[1]
    check(checked, 7, 57.0)
    assert state(checked, 7.01)[0] == checks.FAILED
    assert "Fe 57 ppm for 50 ppm. Standardise" in state(checked, 7.01)[1]
    row = next(r for r in checks.rows(checked.fleet(), checked.library, at(8)) if r.name == DISC)
    assert (row.held, row.word) == (3, "Do not trust it")


def test_a_rule_that_fires_makes_the_lamp_a_watch(checked):
    for n in range(12):
        check(checked, 1.1 + n / 100, 51.5 + 0.01 * n)
    assert state(checked, 1.23)[0] == checks.WATCH
    found = look(checked, 1.23)
    assert any("above" in text or "high" in text for text in found.warnings)
    chart = next(c for c in found.charts if c.element == "Fe")
    assert checks.fired_at(chart, len(chart.moments) - 1)
    assert checks.latest_chart([chart]) == 0
    for key in checks.CHART_WORDS:
        assert checks.chart_lines(chart, key)


def test_the_card_says_when_service_is_due(checked):
    instrument.set_up(checked, DISC, Instrument(DISC, "icp", due_on=at(1), due_for="Calibration"))
    assert state(checked, 1.01) == (checks.GOOD, "Bench disc is checked: 0 samples since.")
    assert look(checked, 1.01).due.endswith("Calibration is due on 2026-05-04.")
    check(checked, 5, 50.0)
    assert state(checked, 5.01) == (checks.DUE, "Overdue: Calibration, since 2026-05-04.")
    assert "WK63902" in look(checked, 5.01).tolerance  # what is said against the ±5 %


def test_icp_holds_at_5_percent_where_the_disc_does_not(checked):
    check(checked, 7, 53.5)
    assert held(checked) == {}
    instrument.set_up(checked, DISC, Instrument(DISC, "icp"))
    assert set(held(checked)) == {"S-1", "S-2", "S-3"}


def test_a_lab_is_not_due_by_the_hour(checked):
    instrument.set_up(checked, DISC, Instrument(DISC, "lab"))
    assert state(checked, 9) == (checks.GOOD, checks.LAB_DUE)


def test_noise_in_words(checked):
    for n in range(12):
        check(checked, 1.1 + n / 100, 50.0 + n % 4)
    found = next(line for line in look(checked, 2).elements if line.element == "Fe")
    assert checks.is_own(found) == "own runs"
    assert "It started from" in checks.noise_words(found)
    assert (found.checks, found.last, found.good) == (13, "53 for 50 ppm, +6.0 %", True)
    assert found.decision_ppm is None
    assert "Run a blank and a low standard" in found.limits_why


def test_decision_and_detection_limits_come_from_blank_and_low_standard(checked):
    for n in range(6):
        checks.add_runs(checked, DISC, at(1.1 + n / 100), "Blank", {"Fe": 0.1 * (n % 3)}, {"Fe": 0.0})
        checks.add_runs(checked, DISC, at(1.1 + n / 100), "Check 5", {"Fe": 5.0 + 0.1 * (n % 3)}, {"Fe": 5.0})
    found = next(line for line in look(checked, 2).elements if line.element == "Fe")
    assert 0.1 < found.decision_ppm < found.detection_ppm < 2.0
    assert found.limits_why == "From 12 check runs at 0 and 5 ppm, 99 % (EnvStats)."


def test_duplicates_further_apart_than_r(checked):
    two = replace(
        a_sample("S-9", 9.5), readings=(Reading("Fe", 10.0), Reading("Fe", 16.0, replicate=2), Reading("Cu", 3.0))
    )
    sample.confirm(checked, "E-1", "1", two)
    apart = look(checked, 10).apart
    assert [(row.sample, row.engine) for row in apart] == [("S-9", "E-1")]
    assert "Fe: 10 and 16 ppm are further apart" in apart[0].text


def test_bench_against_lab_on_the_same_oil_and_the_same_standard(checked):
    for n, code in enumerate(("S-1", "S-2", "S-3")):
        _, _, there = checked.find_sample(code)
        scaled = tuple(replace(r, value=r.value and r.value * (1.2 + 0.001 * n)) for r in there.readings)
        other = replace(there, code=f"{code} lab", instrument="Lab", readings=scaled)
        sample.confirm(checked, "E-1", "1", other)
    checks.add_runs(checked, "Lab", at(1.2), "Check 50", {"Fe": 60.4})
    found = checks.compare(checked.fleet(), checked.library, DISC, "Lab")
    iron = next(each for each in found if each.element == "Fe")
    assert iron.result.n == 4
    assert iron.result.ratio == pytest.approx(1.2, abs=0.002)
    assert iron.result.line.slope == pytest.approx(1.2, abs=0.02)
    assert "Lab reads higher than Bench disc" in found[0].result.text
    assert checks.slope_words(iron.result.line).startswith("1.2")
    assert found[0].result.differs
    assert checks.compare(checked.fleet(), checked.library, DISC, "nobody") == ()


# --- the command line


def run_cli(capsys, *arguments: str) -> tuple[int, str, str]:
    from benchapp.cli import main

    code = main(list(arguments))
    said = capsys.readouterr()
    return code, said.out, said.err


def test_the_command_line_says_the_same(checked, capsys):
    import json

    check(checked, 7, 57.0)
    path = str(checked.path)
    checked.close()
    code, out, _ = run_cli(capsys, "checks", path)
    assert code == 0
    assert out.startswith("Bench disc: Do not trust it. Check 50 failed on 2026-05-10 10:30: Fe 57 ppm for 50 ppm.")
    assert "held: S-3 of E-1. The check of Bench disc" in out
    code, out, _ = run_cli(capsys, "checks", path, "--json")
    found = json.loads(out)["instruments"][0]
    assert (found["answer"], [h["sample"] for h in found["held"]]) == ("Do not trust it", ["S-3", "S-2", "S-1"])
    code, out, _ = run_cli(capsys, "call", path)
    assert out.count("HELD: The check of Bench disc on 2026-05-10") == 3


def test_paste_on_the_command_line_says_which_checks_it_took(checked, capsys, tmp_path):
    path = str(checked.path)
    checked.close()
    table = tmp_path / "export.csv"
    table.write_text("Sample;Fe [ppm]\nCheck 50;50.4\nQC 3;3.1\nW-9;11.0\n", encoding="utf-8")
    code, out, err = run_cli(capsys, "paste", path, str(table), "--instrument", DISC)
    assert code == 0
    assert "1 check readings taken." in out
    assert "Row 3 (QC 3): its certified value is not known." in err
