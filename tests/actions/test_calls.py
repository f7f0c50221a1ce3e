"""Calls: judged lazily by engine, previewed without a trace, issued for good, marked when something changes."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json

import pytest

from benchapp.actions import (
    call,
    call_text,
    engine,
    finding,
    fitting,
    instrument,
    oil,
    oil_pressure,
    run,
    safety,
    sample,
    sheets,
)
from benchapp.actions.bench import Bench
from benchapp.problems import BenchProblem
from benchapp.records import CALL_WORDS, CheckRun, Finding, Fitting, Oil, OilPressure, Run
from tests.actions.making import WHEN, a_sample, furnish


def test_calls_of_an_engine_and_the_latest(bench):
    furnish(bench, "E-2", samples=2)
    assert bench.engines_to_judge() == {"E-1", "E-2"}
    calls = bench.calls_of("E-1")
    assert [c.sample for c in calls] == ["S-1", "S-2", "S-3"]
    assert bench.engines_to_judge() == {"E-2"}
    assert [(c.engine, c.sample) for c in bench.calls()] == [("E-1", "S-3"), ("E-2", "E-2/S-2")]
    assert bench.call_of("S-2") == calls[1]
    assert all(c.call in CALL_WORDS and c.rule_version == call.rule_version() for c in calls)
    assert bench.calls() is not None
    with pytest.raises(BenchProblem):
        bench.calls_of("E-7")


def test_all_at_once_is_the_same_as_one_by_one(bench):
    furnish(bench, "E-2", samples=2)
    fleet = bench.fleet()
    assert call.judge(fleet) == call.judge(fleet, ["E-1"]) + call.judge(fleet, ["E-2"])
    each = call.judge(fleet, each=True)
    assert [c.sample for c in each] == [c.sample for c in call.judge(fleet)]


def test_judging_leaves_what_the_families_know_as_it_was(bench):
    furnish(bench, "E-2", samples=2)
    fleet = bench.fleet()
    assert call.judge(fleet, ["E-1"]) == call.judge(fleet, ["E-1"])


def test_a_new_build_has_no_call_yet(bench):
    engine.add_build(bench, "E-1")
    assert bench.calls() == ()
    assert len(bench.calls_of("E-1")) == 3


def test_a_change_makes_stale_what_rests_on_it_and_nothing_else(bench):
    other = max(bench.library.families)
    engine.add(bench, "E-9", other)
    furnish(bench, "E-2")
    bench.calls()
    assert bench.engines_to_judge() == frozenset()
    run.add(bench, "E-1", "1", Run("race", 1.0))
    assert bench.engines_to_judge() == {"E-1"}
    bench.calls()
    sample.confirm(bench, "E-1", "1", a_sample("S-1", 3.0, 30.0), correct=True)
    assert bench.engines_to_judge() == {"E-1", "E-2", "E-9"}  # what it teaches is part of what all are held against
    bench.calls()
    oil.edit(bench, "an invented oil", Oil("an invented oil", "race"))
    assert bench.engines_to_judge() == {"E-1", "E-2", "E-9"}


def test_a_workers_calls_are_taken_only_while_they_hold(bench):
    fleet = bench.fleet()
    calls = call.judge(fleet, ["E-1"])
    assert bench.take_calls(fleet, calls, ["E-1"])
    assert bench.engines_to_judge() == frozenset()
    run.add(bench, "E-1", "1", Run("race", 1.0))
    assert not bench.take_calls(fleet, calls, ["E-1"])
    assert bench.engines_to_judge() == {"E-1"}
    oil.add(bench, Oil("another"))
    assert not bench.take_calls(fleet, calls, ["E-1"])


def test_a_preview_leaves_no_trace(bench):
    before, label = bench.fleet(), bench.undo_label
    wild = call.preview(bench, "E-1", "1", a_sample("S-9", 12.0, fe=500.0))
    assert wild.sample == "S-9"
    assert next(e for e in wild.elements if e.element == "Fe").ppm == 500.0
    assert call.preview(bench, "E-1", "7", a_sample("S-9")) is None
    assert call.preview(bench, "E-7", "1", a_sample("S-9")) is None
    assert (bench.fleet(), bench.undo_label) == (before, label)


def test_a_preview_is_close_to_the_call_after_confirming(bench):
    new = a_sample("S-9", 12.0, fe=500.0)
    preview = call.preview(bench, "E-1", "1", new)
    sample.confirm(bench, "E-1", "1", new)
    confirmed = bench.call_of("S-9")
    assert (preview.call, preview.sample, preview.build_h) == (confirmed.call, "S-9", 12.0)


def test_as_of_leaves_out_what_came_later(bench):
    fleet = call.as_of(bench.fleet(), WHEN + dt.timedelta(days=6))
    assert [s.code for s in fleet.engines[0].builds[0].samples] == ["S-1", "S-2"]


# --- issued


def test_an_issued_call_is_kept_and_marked_when_something_under_it_changes(bench):
    call.issue(bench, "S-2")
    call.issue(bench, "S-2")
    (issued,) = call.issued(bench, "S-2")
    assert issued.call == bench.call_of("S-2")
    assert (issued.who, issued.superseded) == ("Ann", "")
    assert bench.undo_label.startswith("Confirm sample")
    sample.confirm(bench, "E-1", "1", a_sample("S-9", 12.0))
    run.add(bench, "E-1", "1", Run("race", 1.0))
    furnish(bench, "E-2")
    assert call.issued(bench, "S-2")[0].superseded == ""  # what came later does not touch it
    sample.confirm(bench, "E-1", "1", a_sample("S-1", 3.0, 55.0), correct=True)
    (marked,) = call.issued(bench, "S-2")
    assert "Superseded: Correct sample S-1" in marked.superseded
    assert dataclasses.replace(marked.call, superseded="") == issued.call  # never rewritten
    bench.undo()
    assert call.issued(bench, "S-2")[0].superseded == ""
    call.issue(bench, "S-2")
    assert bench.file.verify() == ()


def test_an_oil_under_an_issued_call(bench):
    call.issue(bench, "S-1")
    oil.edit(bench, "an invented oil", Oil("an invented oil", "race", fresh_ppm={"Zn": 1.0}))
    assert "Edit oil" in call.issued(bench, "S-1")[0].superseded


def test_a_mark_that_was_not_written_is_seen_all_the_same(bench, monkeypatch):
    call.issue(bench, "S-1")
    monkeypatch.setattr(call, "mark_superseded", lambda *_: None)
    sample.confirm(bench, "E-1", "1", a_sample("S-1", 3.0, 55.0), correct=True)
    assert "what it rests on has changed" in call.issued(bench, "S-1")[0].superseded


def test_what_cannot_be_issued(bench):
    with pytest.raises(BenchProblem):
        call.issue(bench, "S-77")


def test_a_call_as_text_comes_back(bench):
    for one in bench.calls_of("E-1"):
        assert call_text.read(call_text.keep(one)) == one


def test_the_contracts_json(bench):
    said = json.loads(json.dumps(call_text.document(bench.calls_of("E-1"), call.rule_version()), allow_nan=False))
    assert list(said)[:2] == ["rule_version", "calls"]
    first = said["calls"][0]
    assert list(first)[:10] == [
        "engine", "build", "sample", "build_h", "call", "next_sample_h", "basis", "severity", "reasons", "sources",
    ]  # fmt: skip
    assert first["build"] == 1
    assert first["call"] in CALL_WORDS
    assert first["basis"] in ("own history", "own ceiling", "family", "none")
    for source in first["sources"]:
        assert list(source)[:6] == ["source", "parts", "rate_mg_h", "low", "high", "normal_mg_h"]
    for element in first["elements"]:
        assert list(element)[:5] == ["element", "ppm", "rate_mg_h", "ceiling_ppm", "unexplained_mg_h"]
    for one in said["calls"]:
        for reason in one["reasons"]:
            assert list(reason)[:5] == ["source", "parts", "kind", "text", "probability"]


@pytest.mark.parametrize(("build", "said"), [("1", 1), ("12", 12), ("01", "01"), ("2b", "2b"), ("²", "²")])
def test_builds_are_numbers_where_they_are_numbers(build, said):
    assert call_text.build_number(build) == said


# --- noise, sheet


def test_check_runs_tell_an_instruments_noise(bench):
    runs = [
        CheckRun("Bench disc", WHEN + dt.timedelta(days=n), "50 ppm", "Fe", 50.0, 50.0 + (-1) ** n * (3 + n % 3))
        for n in range(14)
    ]
    instrument.add_check_runs(bench, runs)
    line = bench.fleet().instruments["Bench disc"].noise["Fe"]
    assert "own" in line.origin
    assert 1.5 < line.b * 50.0 + line.a_ppm < 9.0


def test_the_page_of_a_sample(bench, tmp_path, qapp):
    said = sheets.content(bench, "S-2")
    assert said.engine == "E-1"
    assert said.sample == "S-2"
    assert said.call == bench.call_of("S-2").call
    written = sheets.write_pdf(bench, "S-2", tmp_path / "page.pdf", "Letter")
    assert written.read_bytes().startswith(b"%PDF")
    assert len(call.issued(bench, "S-2")) == 1
    with pytest.raises(BenchProblem):
        sheets.content(bench, "S-77")


# --- safety verbs


def test_backups_and_restore(bench, tmp_path):
    made = safety.backup(bench)
    assert made.size > 0
    assert safety.backup_if_due(bench) is None
    assert [b.path for b in safety.backups(bench.path)] == [made.path]
    before = bench.fleet()
    run.add(bench, "E-1", "1", Run("race", 1.0))
    bench.close()
    aside = safety.restore(bench.path, made.path)
    assert aside != bench.path
    with Bench.open(bench.path) as again:
        assert again.fleet() == before


def test_the_second_folder(bench, tmp_path):
    with pytest.raises(BenchProblem, match="no folder"):
        safety.set_second_folder(bench, str(tmp_path / "no"))
    (tmp_path / "stick").mkdir()
    safety.set_second_folder(bench, str(tmp_path / "stick"))
    assert safety.second_folder(bench) == str(tmp_path / "stick")
    safety.backup(bench)
    assert list((tmp_path / "stick").iterdir())
    safety.set_second_folder(bench, "")
    assert safety.second_folder(bench) == ""


def test_copy_out_and_verify(bench, tmp_path):
    assert safety.verify(bench) == ()
    with Bench.open(safety.copy_out(bench, tmp_path / "out.bench")) as other:
        assert other.fleet() == bench.fleet()


def test_drafts(bench):
    from benchapp.actions import draft

    draft.keep(bench, "a", {"x": 1})
    draft.keep(bench, "b", {"y": ["é", None]})
    assert draft.keys(bench) == ("b", "a")
    assert draft.get(bench, "b") == {"y": ["é", None]}
    draft.drop(bench, "a")
    assert draft.get(bench, "a") is None
    with Bench.open(bench.path, read_only=True) as reader:
        draft.keep(reader, "c", {})
        draft.keep(reader, "d", {"z": 1})
        assert draft.keys(reader) == ("d", "c")
        assert draft.get(reader, "d") == {"z": 1}
        draft.drop(reader, "d")
        assert draft.get(reader, "d") is None
    assert draft.keys(bench) == ("b",)


def test_what_parts_are_lifed_by_bears_on_no_call_and_an_oil_pressure_does(bench):
    call.issue(bench, "S-2")
    first = bench.build("E-1", "1").runs[0]
    run.edit(bench, "E-1", "1", first, dataclasses.replace(first, distance_km=120.0, laps=30.0, starts=1.0))
    fitting.add(bench, "E-1", "1", Fitting(0.0, "valve springs", life=20.0, life_unit="h"))
    oil_pressure.add(bench, "E-1", "1", OilPressure(8.0, 400.0))  # after the sample
    assert [each.superseded for each in call.issued(bench, "S-2")] == [""]
    oil_pressure.add(bench, "E-1", "1", OilPressure(1.0, 400.0))
    assert call.issued(bench, "S-2")[0].superseded.startswith("Superseded: Add oil pressure")
    bench.undo()
    assert [each.superseded for each in call.issued(bench, "S-2")] == [""]
    finding.add(bench, "E-1", "1", Finding(1.0, "ring", "worn out"))
    call.issue(bench, "S-2")
    found = bench.build("E-1", "1").findings[0]
    finding.edit(bench, "E-1", "1", found, dataclasses.replace(found, measured="gap 0.6 mm"))
    assert call.issued(bench, "S-2")[-1].superseded.startswith("Superseded: Edit finding")


def test_records_that_came_later_stay_out_of_what_old_calls_are_hashed_over():
    """Issued calls of files written before them keep their hash: `repr` of what they rest on says no more than then."""
    from benchapp.records import Build, FilterCut

    assert repr(FilterCut(1.0, form="flakes")) == (
        "FilterCut(build_h=1.0, ferrous='', non_ferrous='', largest_mm=None, notes='')"
    )
    assert repr(Finding(1.0, "ring", "damaged", measured="x")) == (
        "Finding(build_h=1.0, part='ring', condition='damaged', sample='', notes='')"
    )
    assert "distance" not in repr(Run("race", 1.0, distance_km=3.0))
    assert repr(Build("1", ())).endswith("changes=(), findings=())")
