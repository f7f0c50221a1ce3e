"""Undo and redo from the audit: named, many steps, each an audited transaction of its own."""

from __future__ import annotations

import uuid

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchapp.benchfile.file import BenchFile
from benchapp.problems import BenchProblem
from tests.benchfile.making import a_sample, put_run, put_sample, sample_id, small_file, state


def visible(file):
    return file.read_fleet()


def undo(file):
    with file.undoing():
        pass


def redo(file):
    with file.redoing():
        pass


def test_back_to_the_beginning_and_forward_again(file):
    put_sample(file, a_sample(fe=13.0))
    put_run(file)
    end = visible(file)
    labels = []
    while file.undo_label:
        labels.append(file.undo_label)
        undo(file)
    assert labels == ["Add run", "Confirm sample S-1", "Confirm sample S-1", "Add engine E-1"]
    assert visible(file).engines == ()
    assert file.redo_label == "Add engine E-1"
    while file.redo_label:
        redo(file)
    assert visible(file) == end
    assert file.verify() == ()
    with pytest.raises(BenchProblem, match="nothing to do again"):
        redo(file)


def test_undo_of_a_correction_brings_the_earlier_values_back(file):
    before = visible(file)
    put_sample(file, a_sample(fe=99.0))
    undo(file)
    assert visible(file) == before
    assert [past.label for past in file.past(sample_id("S-1"))] == [
        "Confirm sample S-1",
        "Confirm sample S-1",
        "Undo: Confirm sample S-1",
    ]


def test_a_new_step_ends_redo(file):
    put_run(file)
    undo(file)
    put_run(file, hours=2.0)
    assert file.redo_label == ""


def test_undo_outlives_closing(file, path):
    put_run(file)
    undo(file)
    file.close()
    again = BenchFile.open(path)
    assert (again.undo_label, again.redo_label) == ("Confirm sample S-1", "Add run")
    undo(again)
    assert visible(again).engines[0].builds[0].samples == ()
    again.close()


def test_nothing_to_undo(tmp_path):
    file = BenchFile.create(tmp_path / "new.bench")
    with pytest.raises(BenchProblem, match="nothing to undo"):
        undo(file)
    file.close()


def test_nothing_is_destroyed_by_voiding(file):
    with file.write("Withdraw S-1") as write:
        write.void("sample", sample_id("S-1"), "mixed-up bottle")
    assert visible(file).engines[0].builds[0].samples == ()
    content = file.get("sample", sample_id("S-1"))
    assert content["void"] == "mixed-up bottle"
    assert content["rows"][0][:2] == ["Fe", 12.5]
    undo(file)
    assert len(visible(file).engines[0].builds[0].samples) == 1


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=20)
@given(st.lists(st.tuples(st.sampled_from(["put", "run", "void", "undo", "redo"]), st.integers(1, 4)), max_size=12))
def test_undoing_all_of_any_history_and_redoing_it_is_no_change(tmp_path, history):
    file = small_file(tmp_path / f"{uuid.uuid4()}.bench")
    for what, n in history:
        if what == "put":
            put_sample(file, a_sample(f"S-{n}", fe=float(n)))
        elif what == "run":
            put_run(file, hours=float(n))
        elif what == "void":
            with file.write("Withdraw") as write:
                write.void("sample", sample_id(f"S-{n}"), "test")
        elif what == "undo" and file.undo_label:
            undo(file)
        elif what == "redo" and file.redo_label:
            redo(file)
    end, steps = visible(file), 0
    while file.undo_label:
        undo(file)
        steps += 1
    assert visible(file).engines == ()
    for _ in range(steps):
        redo(file)
    assert visible(file) == end
    assert file.verify() == ()
    assert state(file)["samples"]
    file.close()
