"""What waits, and calls held against findings."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from benchapp.actions import due, findings
from benchapp.actions.sample import Waiting
from benchapp.records import Finding, Reason, Run
from tests.window import fakes

NOW = dt.datetime(2026, 5, 3, 14, 0)
OVERLAY = "main bearing overlay"


def fleet_of(*, findings_=(), runs=None, samples=None):
    """One invented engine, changed in what a test needs."""
    fleet = fakes.fleet(1)
    engine = fleet.engines[0]
    build = engine.builds[0]
    build = replace(
        build, findings=tuple(findings_), runs=build.runs if runs is None else runs,
        samples=build.samples if samples is None else samples,
    )  # fmt: skip
    return replace(fleet, engines=(replace(engine, builds=(build,)),))


def calls_of(fleet, word="Look inside"):
    engine = fleet.engines[0]
    return [fakes.call(engine, sample, word) for sample in engine.builds[0].samples]


# --- how good were our calls


@pytest.mark.parametrize(
    ("call", "named", "seen", "outcome"),
    [
        ("Park", (OVERLAY,), [(OVERLAY, "damaged")], findings.RIGHT),
        ("Look inside", ("Main Bearing Overlay",), [(OVERLAY, "worn out")], findings.RIGHT),
        ("Look inside", ("bore",), [(OVERLAY, "worn out"), ("bore", "as new")], findings.OTHER),
        ("Look inside", (OVERLAY,), [(OVERLAY, "worn as expected")], findings.NEEDLESS),
        ("Look inside", (OVERLAY,), [("bore", "as new")], findings.OPEN),
        ("Look inside", ("dust",), [("dust", "damaged")], findings.RIGHT),
        ("Park", ("coolant", "bore"), [("coolant", "as new")], findings.NEEDLESS),
        ("Run", (), [("bore", "damaged")], findings.MISSED),
        ("Short stint", (OVERLAY,), [(OVERLAY, "worn out")], findings.MISSED),
        ("Run", (), [("bore", "as new")], findings.LEFT_ALONE),
    ],
)
def test_what_a_finding_says_of_a_call(call, named, seen, outcome):
    assert findings.outcome(call, named, [Finding(6.0, *each) for each in seen]) == outcome
    assert outcome in findings.MEANS


def test_a_call_on_dust_is_held_against_a_finding_on_dust():
    bare = fleet_of()
    sample = bare.engines[0].builds[0].samples[-1]
    fleet = fleet_of(findings_=[Finding(sample.build_h, "dust", "damaged", sample.code, "torn boot")])
    reason = Reason("dust", (), "rate", "Silicon with aluminium.", 0.9)
    calls = [replace(call, reasons=(reason,)) for call in calls_of(fleet)]
    (judged,) = findings.record(fleet, calls).judged
    assert judged.named == ("dust",)
    assert judged.seen == ("dust: a way in found, torn boot",)
    assert judged.outcome == findings.RIGHT


@pytest.mark.parametrize(
    ("part", "condition", "words"),
    [
        ("Dust", "as new", "Dust: no way in found"),
        ("coolant", "worn out", "coolant: a way in found"),
        ("bore", "worn out", "bore: worn out"),
    ],
)
def test_dust_and_coolant_get_in_where_parts_wear(part, condition, words):
    assert findings.words(Finding(6.0, part, condition)) == words


def test_a_finding_goes_to_the_sample_it_names_else_to_the_last_before_it():
    bare = fleet_of()
    samples = bare.engines[0].builds[0].samples
    fleet = fleet_of(findings_=[Finding(samples[0].build_h + 0.1, OVERLAY, "damaged", samples[0].code),
                                Finding(99.0, "bore", "as new")])  # fmt: skip
    found = findings.record(fleet, calls_of(fleet))
    assert {one.sample for one in found.judged} == {samples[0].code, samples[-1].code}
    assert found.judged[0].outcome == findings.RIGHT
    assert found.judged[0].seen[0] == f"{OVERLAY}: damaged"


def test_a_finding_before_any_call_is_counted_apart():
    fleet = fleet_of(findings_=[Finding(0.0, "bore", "as new")])
    found = findings.record(fleet, calls_of(fleet))
    assert found.judged == ()
    assert found.without == 1
    assert found.sentence() == "No call has been held against a finding yet."


def test_the_record_in_words_and_by_family():
    bare = fleet_of()
    code = bare.engines[0].builds[0].samples[-1].code
    fleet = fleet_of(findings_=[Finding(50.0, OVERLAY, "damaged", code)])
    asked = findings.record(fleet, calls_of(fleet))
    assert asked.sentence() == "Of 1 call that asked for a look, 1 found something."
    let_run = findings.record(fleet, calls_of(fleet, "Run"))
    assert let_run.sentence() == (
        "No call that asked for a look has a finding yet. Of 1 call that did not, 1 missed something."
    )
    assert [(score.family, score.counts[findings.MISSED], score.total) for score in let_run.families] == [
        ("Example family", 1, 1)
    ]


def test_the_record_of_a_bench_is_made_with_what_was_known_then(bench):
    from benchapp.actions import finding

    engine = bench.fleet().engines[0]
    build = engine.builds[-1]
    finding.add(bench, engine.name, build.number, Finding(999.0, build.parts[0].name, "as new"))
    found = findings.record_of(bench.fleet())
    assert [one.engine for one in found.judged] == [engine.name]
    assert found.judged[0].call


# --- what waits


def test_an_engine_is_due_when_its_hours_are_run():
    fleet = fleet_of()
    hours = fleet.engines[0].builds[0].runs[0].hours
    name = fleet.engines[0].name
    call = {name: calls_of(fleet, "Run")[-1]}
    assert due.due(fleet, call, (), NOW) == ()
    longer = fleet_of(runs=(Run("race", hours + 4.5),))
    found = due.due(longer, call, (), NOW)
    assert [(row.kind, row.engine, row.sample) for row in found] == [(due.SAMPLE_DUE, name, "")]
    assert found[0].text.startswith("4.5 h since ")
    assert found[0].todo == "Draw a sample and enter it"


def test_running_without_any_sample_is_due():
    found = due.due(fleet_of(samples=()), {}, (), NOW)
    assert "no sample of this build yet" in found[0].text


def test_samples_without_results_without_engine_and_held():
    samples = fleet_of().engines[0].builds[0].samples
    last = samples[-1]
    fleet = fleet_of(samples=(*samples[:-1], replace(last, readings=())))
    assert [row.kind for row in due.due(fleet, {}, (), NOW)] == [due.NOT_MEASURED]
    fleet = fleet_of(samples=(*samples[:-1], replace(last, hold="the check standard failed")))
    held = due.due(fleet, {}, (), NOW)
    assert [(row.kind, row.text) for row in held] == [(due.HELD, "the check standard failed")]
    waits = (Waiting(last, "2026-05-01T10:00:00"),)
    row = due.due(fleet_of(), {}, waits, NOW)[0]
    assert (row.kind, row.engine, row.since) == (due.NO_ENGINE, "", "2026-05-01")
    assert row.text.startswith("3 readings")
