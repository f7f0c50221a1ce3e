"""What an issued call rests on: it is marked when that changes, and not when something beside it does."""

from __future__ import annotations

import dataclasses
import datetime as dt
import shutil

import pytest

from benchapp.actions import call, engine, finding, ground, instrument, safety, sample
from benchapp.actions.bench import Bench
from benchapp.records import Build, CheckRun, Fill, Finding, Sample
from tests.actions.making import WHEN, a_sample, furnish


@pytest.fixture
def alike(bench):
    """E-1 with its issued call of S-2, E-2 built alike, X-1 of another family."""
    furnish(bench, "E-2", samples=2)
    furnish(bench, "X-1", samples=2)
    engine.edit(bench, "X-1", family=max(bench.library.families))
    call.issue(bench, "S-2")
    assert mark(bench) == ""
    return bench


def mark(bench, code: str = "S-2") -> str:
    (issued,) = call.issued(bench, code)
    return issued.superseded


def correct(bench, name: str, code: str, build_h: float, fe: float, **more) -> None:
    sample.confirm(bench, name, "1", a_sample(code, build_h, fe, **more), correct=True)


def test_an_edit_in_the_history_of_engines_built_alike_marks_it_and_undo_clears_it(alike):
    correct(alike, "E-2", "E-2/S-1", 3.0, 60.0)
    assert mark(alike).startswith("Superseded: Correct sample E-2/S-1 (")
    alike.undo()
    assert mark(alike) == ""
    sample.void(alike, "E-2/S-2", "mixed bottles")
    assert "Superseded" in mark(alike)


def test_what_was_found_in_an_engine_built_alike_teaches_and_its_edit_marks_it(bench):
    furnish(bench, "E-2", samples=2)
    seen = Finding(3.0, "bores", "as new", "E-2/S-1")
    finding.add(bench, "E-2", "1", seen)
    call.issue(bench, "S-2")
    finding.edit(bench, "E-2", "1", seen, dataclasses.replace(seen, notes="by lamp"))
    assert mark(bench) == ""
    bench.undo()
    finding.edit(bench, "E-2", "1", seen, dataclasses.replace(seen, condition="worn out"))
    assert "Superseded" in mark(bench)


def test_what_comes_later_or_belongs_to_others_leaves_it(alike):
    sample.confirm(alike, "E-2", "1", a_sample("E-2/S-3", 9.0))
    furnish(alike, "E-3", samples=1)
    correct(alike, "X-1", "X-1/S-1", 3.0, 60.0)
    correct(alike, "E-1", "S-3", 9.0, 60.0)  # later than S-2
    correct(alike, "E-2", "E-2/S-1", 3.0, 11.0, notes="a word on the bottle")
    engine.edit(alike, "E-2", car="Car 8")
    assert mark(alike) == ""


def test_an_engine_that_joins_the_family_was_not_under_it_and_one_that_leaves_was(alike):
    engine.edit(alike, "E-2", family=max(alike.library.families))
    assert "Superseded" in mark(alike)
    alike.undo()
    assert mark(alike) == ""


def test_an_earlier_build_of_the_same_engine_is_under_it(bench):
    engine.add_build(bench, "E-1", number="2")
    from benchapp.actions import fill, run
    from benchapp.records import Run

    fill.add(bench, "E-1", "2", Fill("F1", "an invented oil", 0.0, 6.0, WHEN + dt.timedelta(days=20), "none", True))
    run.add(bench, "E-1", "2", Run("race", 3.0, WHEN + dt.timedelta(days=20)))
    sample.confirm(bench, "E-1", "2", a_sample("T-1", 3.0, taken_at=WHEN + dt.timedelta(days=21)))
    call.issue(bench, "T-1")
    correct(bench, "E-1", "S-1", 3.0, 70.0)
    assert "Superseded" in mark(bench, "T-1")


def test_a_check_run_that_was_there_is_under_it_a_new_one_is_not(bench):
    first, second, elsewhere = (
        CheckRun(name, WHEN + dt.timedelta(days=day), "50 ppm", "Fe", 50.0, found)
        for name, day, found in (("Bench disc", 0, 50.5), ("Bench disc", 1, 49.0), ("Lab", 0, 48.0))
    )
    instrument.add_check_runs(bench, [first, elsewhere])
    call.issue(bench, "S-2")
    instrument.add_check_runs(bench, [second])
    assert mark(bench) == ""
    withdraw(bench, "Lab")
    assert mark(bench) == ""
    withdraw(bench, "Bench disc")
    assert "Superseded: Withdraw a check run" in mark(bench)


def withdraw(bench, name: str) -> None:
    document, _ = bench.file.find("check_run", instrument=name)[0]
    bench.do("Withdraw a check run", lambda write: write.void("check_run", document, "spilt") and None)


def test_an_older_hash_goes_by_the_audit_alone(alike):
    id_, content = alike.file.find("issued_call", sample="S-2")[0]
    older = {**content, "inputs_hash": "0" * 64}
    alike.do("Issue the call of S-2", lambda write: write.put("issued_call", id_ + "x", older) and None, kind="issue")
    assert [each.superseded for each in call.issued(alike, "S-2")] == ["", ""]
    correct(alike, "E-1", "S-1", 3.0, 60.0)
    assert all("Correct sample S-1" in each.superseded for each in call.issued(alike, "S-2"))


def test_other_rules_are_said(alike, monkeypatch):
    made = call.rule_version()
    monkeypatch.setattr(call, "rule_version", lambda: "next year's")
    assert mark(alike) == f"Superseded: made by rules {made}; calls are made by rules next year's now."


def test_two_laptops_mark_it_alike_whichever_merges_into_which(alike, tmp_path):
    alike.close()
    other = tmp_path / "other.bench"
    shutil.copyfile(alike.path, other)
    with Bench.open(other, who="Bea") as there:
        correct(there, "E-2", "E-2/S-1", 3.0, 60.0)
        assert "Superseded" in mark(there)
        call.issue(there, "E-2/S-2")  # issued on the other laptop, after its own edit
    with Bench.open(alike.path, who="Ann") as here:
        correct(here, "E-2", "E-2/S-2", 6.0, 50.0)
        here.undo()
        correct(here, "X-1", "X-1/S-1", 3.0, 60.0)
        assert mark(here) == ""
        safety.merge(here, other)
        assert "Superseded: Merge other.bench" in mark(here)
        assert mark(here, "E-2/S-2") == ""  # it knew of its own edit; ours were undone or beside it
    with Bench.open(other, who="Bea") as there:
        safety.merge(there, alike.path)
        assert "Superseded" in mark(there)
        assert mark(there, "E-2/S-2") == ""


def test_a_concurrent_edit_is_not_what_was_known(alike, tmp_path):
    """Edited here before the issue over there: the merged file holds the edit, the call did not know it."""
    alike.close()
    other = tmp_path / "other.bench"
    shutil.copyfile(alike.path, other)
    with Bench.open(other, who="Bea") as there:
        call.issue(there, "E-2/S-2")
    with Bench.open(alike.path, who="Ann") as here:
        correct(here, "E-2", "E-2/S-1", 3.0, 60.0)
        safety.merge(here, other)
        assert "Superseded" in mark(here, "E-2/S-2")
    with Bench.open(other, who="Bea") as there:
        assert mark(there, "E-2/S-2") == ""
        safety.merge(there, alike.path)
        assert "Superseded" in mark(there, "E-2/S-2")


def test_a_field_added_to_a_record_at_its_default_leaves_the_hash():
    @dataclasses.dataclass(frozen=True)
    class Fuller(Build):
        lift_mm: float | None = None

    plain = Build("1", (), 6.0, notes="a note", samples=(Sample("S-1", "F1", 3.0, 3.0),))
    fuller = Fuller("1", (), 6.0, notes="another", samples=plain.samples)
    assert ground.said(plain) == ground.said(fuller).replace("Fuller", "Build", 1)
    assert ground.said(dataclasses.replace(fuller, lift_mm=9.5)) != ground.said(fuller)
    assert ground.said(dataclasses.replace(plain, sump_l=6.5)) != ground.said(plain)
