"""Pasted tables: known samples get their readings, unknown ones wait, nothing is overwritten in silence."""

from __future__ import annotations

import pytest

from benchapp.actions import paste, sample
from benchapp.intake.paste import interpret
from benchapp.intake.read import read_text
from benchapp.problems import BenchProblem
from benchapp.records import Reading
from tests.actions.making import furnish

TABLE = "Sample\tMg [ppm]\tZn [ppm]\nS-1\t12,5\t1100\nW-1\t<1\t900*\n"


def result(text=TABLE):
    return interpret(read_text(text))


def readings_of(bench, code):
    return {(r.measurand, r.replicate): r for r in bench.find_sample(code)[2].readings}


def test_taken(bench):
    taken = paste.take(bench, result(), instrument="Bench disc")
    assert (taken.samples, taken.waiting, taken.readings) == (("S-1", "W-1"), ("W-1",), 4)
    assert taken.changed.engines == {"E-1"}
    assert taken.changed.label == "Take 4 readings of 2 samples"
    assert readings_of(bench, "S-1")["Mg", 1] == Reading("Mg", 12.5)
    waits = sample.waiting(bench)[0].sample
    assert waits.instrument == "Bench disc"
    assert waits.readings == (Reading("Mg", 1.0, qualifier="<"), Reading("Zn", 900.0, mark="*"))
    with pytest.raises(BenchProblem, match="W-1 is waiting for an engine"):
        bench.find_sample("W-1")
    assert sample.codes(bench)["W-1"] == ("", "")
    bench.undo()
    assert sample.waiting(bench) == ()
    assert ("Mg", 1) not in readings_of(bench, "S-1")


def test_taking_it_twice_changes_nothing(bench):
    paste.take(bench, result())
    label = bench.undo_label
    again = paste.take(bench, result())
    assert again.changed.nouns == frozenset()
    assert bench.undo_label == label


def test_a_waiting_sample_gets_its_engine(bench):
    paste.take(bench, result())
    changed = sample.assign(bench, "W-1", "E-1", "1", fill="F1", build_h=9.5, oil_h=9.5, notes="late")
    assert changed.engines == {"E-1"}
    assert bench.find_sample("W-1")[2].readings[1].mark == "*"
    assert sample.waiting(bench) == ()


def test_a_sample_on_the_wrong_engine_is_moved(bench):
    furnish(bench, "E-2")
    changed = sample.assign(bench, "S-3", "E-2", "1", fill="F1", build_h=5.0)
    assert changed.engines == {"E-1", "E-2"}
    assert bench.find_sample("S-3")[0].name == "E-2"
    with pytest.raises(BenchProblem, match="has no fill"):
        sample.assign(bench, "S-3", "E-1", "1", fill="F9", build_h=5.0)


def test_confirming_takes_a_waiting_sample_over(bench):
    from tests.actions.making import a_sample

    paste.take(bench, result())
    sample.confirm(bench, "E-1", "1", a_sample("W-1", 9.5).__class__("W-1", "F1", 9.5, 9.5))
    assert [r.measurand for r in bench.find_sample("W-1")[2].readings] == ["Mg", "Zn"]


@pytest.mark.parametrize(
    ("text", "options", "says"),
    [
        ("Sample\tFe\nS-1\t99\n", {}, "sample S-1 has Fe 11 ppm already"),
        ("Sample\tCr\nS-1\t99\n", {}, "sample S-1 has Cr not detected already"),
        ("Sample\tMg\nS-1\t5\n", {"engine": "E-2"}, "sample S-1 belongs to engine E-1, not E-2"),
        ("Sample\tMg\nS-1\t5\n", {"instrument": "Lab"}, "was read on Bench disc; elements of Lab cannot join it"),
        ("Sample\tMg\nS-1\tOVR\n", {}, "row 2, Mg"),
        ("Sample\tMg\n", {}, "no reading to take"),
        ("Sample\tMg\nS-1\t5\n", {"engine": "E-77"}, "no engine 'E-77'"),
    ],
)
def test_refused(bench, text, options, says):
    furnish(bench, "E-2")
    before, label = bench.fleet(), bench.undo_label
    with pytest.raises(BenchProblem, match=says) as caught:
        paste.take(bench, result(text), **options)
    assert caught.value.do
    assert bench.fleet() == before
    assert bench.undo_label == label
    assert sample.waiting(bench) == ()


def test_the_rest_is_taken_when_told(bench):
    text = "Sample\tFe\tMg\nS-1\t99\t7\nW-1\tOVR\t8\n"
    taken = paste.take(bench, result(text), take_the_rest=True)
    assert taken.readings == 2
    assert readings_of(bench, "S-1")["Fe", 1].value == 11.0
    assert readings_of(bench, "S-1")["Mg", 1].value == 7.0


def test_a_viscosity_from_another_instrument_may_join(bench):
    paste.take(bench, result("Sample\tKV40\nS-1\t88\n"), instrument="Viscometer")
    assert readings_of(bench, "S-1")["KV40", 1].value == 88.0
    assert bench.find_sample("S-1")[2].instrument == "Bench disc"


def test_the_mapping_is_remembered_per_instrument(bench):
    assert paste.mapping_for(bench, "Bench disc") is None
    one = result()
    paste.take(bench, one, instrument="Bench disc")
    assert paste.mapping_for(bench, "Bench disc") == one.mapping
    assert paste.mapping_for(bench, "Lab") is None


def test_check_rows_become_check_runs(bench):
    text = "Sample\tFe\tCu\nCheck 50 ppm\t51\t49\nBlank\t0.2\t0.1\nW-1\t5\t6\n"
    table = result(text)
    runs = paste.check_runs(table, "Bench disc")
    assert {(r.element, r.expected_ppm, r.found_ppm) for r in runs if r.expected_ppm} == {
        ("Fe", 50.0, 51.0), ("Cu", 50.0, 49.0),
    }  # fmt: skip
    assert paste.check_runs(table) == ()
    taken = paste.take(bench, table, instrument="Bench disc")
    assert taken.check_runs == len(runs)
    assert len(bench.fleet().check_runs) == len(runs)
    paste.take(bench, table, instrument="Bench disc")
    assert len(bench.fleet().check_runs) == len(runs)


def test_many_problems_are_counted(bench):
    rows = "".join(f"X-{n}\tOVR\n" for n in range(5))
    with pytest.raises(BenchProblem, match=r"5 cells of this table cannot be taken: .*; and 2 more"):
        paste.take(bench, result("Sample\tMg\n" + rows))
