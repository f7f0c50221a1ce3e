"""Which uncertain inputs would turn a call: asked for one sample, and on its page."""

from __future__ import annotations

import pytest

from benchapp.actions import call, run, sample, sheets
from benchapp.problems import BenchProblem
from benchapp.records import CALL_WORDS, Run
from benchapp.sheet.content import lines
from tests.actions import making
from tests.actions.making import a_sample


def test_the_flips_of_a_sample_are_on_its_page(bench):
    found: tuple = ()
    for number, iron in enumerate((200.0, 120.0, 110.0, 90.0, 150.0, 100.0, 80.0, 70.0, 60.0)):
        code = f"S-9{number}"
        sample.confirm(bench, "E-1", "1", a_sample(code, 12.0, fe=iron))
        found = call.flips(bench, code)
        if found:
            break
        sample.void(bench, code, "another try")
    assert found, "somewhere between nothing and far too much an input must count"
    now = bench.call_of(code).call
    assert all(flip.call in CALL_WORDS and flip.call != now for flip in found)
    said = "\n".join(lines(sheets.content(bench, code)))
    assert found[0].at in said
    assert found == call.flips_in(bench.fleet(), "E-1", "1", code)


def test_flips_are_looked_for_once_and_anew_after_a_change(bench, monkeypatch):
    from benchapp.wear import flips

    asked = []
    monkeypatch.setattr(call, "_turned", [])
    monkeypatch.setattr(flips, "flips", lambda _fleet, _engine, _build, sample, *_: asked.append(sample.code) or ())
    assert call.flips_known(bench.fleet(), "E-1", "1", "S-2") is None
    assert call.flips(bench, "S-2") == call.flips(bench, "S-2") == ()
    assert asked == ["S-2"]
    assert call.flips_known(bench.fleet(), "E-1", "1", "S-2") == ()
    sample.confirm(bench, "E-1", "1", a_sample("S-1", 3.0, 14.0), correct=True)
    assert call.flips_known(bench.fleet(), "E-1", "1", "S-2") is None
    sheets.content(bench, "S-2")
    assert asked == ["S-2", "S-2"]


def test_a_change_elsewhere_leaves_what_was_found(bench, monkeypatch):
    making.furnish(bench, "E-2")
    monkeypatch.setattr(call, "_turned", [])
    before = bench.fleet()
    found = call.flips_in(before, "E-1", "1", "S-3")
    run.add(bench, "E-2", "1", Run("race", 1.0))
    assert bench.fleet() is not before
    known = call.flips_known(bench.fleet(), "E-1", "1", "S-3")
    monkeypatch.setattr(call, "_turned", [])
    assert known == found == call.flips_in(bench.fleet(), "E-1", "1", "S-3")
    assert call.flips_known(bench.fleet(), "E-2", "1", "S-3") is None


def test_flips_of_what_is_not_there(bench):
    with pytest.raises(BenchProblem):
        call.flips(bench, "no such sample")
    assert call.flips_in(bench.fleet(), "E-1", "1", "no such sample") == ()
