"""From a real bench file to the page: what the verbs hand over is what is printed and kept as issued."""

from __future__ import annotations

import datetime as dt

import pytest

from benchapp.actions import sheets
from benchapp.problems import BenchProblem
from benchapp.sheet.content import lines


def test_the_page_says_what_the_call_says(small_bench):
    call = small_bench.call_of("26-003")
    said = "\n".join(lines(sheets.content(small_bench, "26-003", issued=True)))
    for text in (call.engine, call.sample, call.call, call.sentence, call.history, call.rule_version):
        assert text in said or text[:1].upper() + text[1:] in said  # lines begin with a capital
    for reason in call.reasons[:3]:
        assert reason.text[1:] in said
    for text in (*call.before_out, *call.unknowns):
        assert text[1:] in said
    assert f"Issued by A. Invented, {dt.datetime.now():%Y-%m-%d}" in said
    assert "Example race oil 10W-40, fill 1, 7 L" in said


def test_the_oil_is_judged_in_words(small_bench):
    from benchapp.oil.rules import rules_from
    from benchapp.oil.sample import oil_of_sample

    engine, build, sample = small_bench.find_sample("26-003")
    oil = oil_of_sample(small_bench.fleet(), engine, build, sample, rules_from(small_bench.library), bearings=())
    content = sheets.content(small_bench, "26-003")
    assert oil.words()[0][1:] in " ".join(content.oil)


def test_the_plots_of_the_page_hold_what_the_calls_hold(small_bench):
    found = [reason for reason in sheets.content(small_bench, "26-003").reasons if reason.plot]
    known = {round(s.rate_mg_h, 9) for c in small_bench.calls_of("A1") for s in c.sources}
    known |= {round(e.rate_mg_h, 9) for c in small_bench.calls_of("A1") for e in c.elements if e.rate_mg_h is not None}
    known |= {r.value for s in small_bench.build("A1", "1").samples for r in s.readings if r.value is not None}
    for reason in found:
        for point in reason.plot.points:
            assert point.hollow or any(abs(point.y - value) < 1e-6 for value in known)


def test_a_sample_without_a_call_has_no_page(small_bench):
    with pytest.raises(BenchProblem):
        sheets.content(small_bench, "nobody")
