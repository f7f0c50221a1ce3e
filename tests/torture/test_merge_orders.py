"""Laptops edit apart and are merged in every order: the same in the end, nothing lost, conflicts shown the same."""

from __future__ import annotations

import itertools
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from benchapp.actions import engine, run, safety, sample
from benchapp.actions.bench import Bench
from benchapp.problems import BenchProblem
from benchapp.records import Run
from tests.actions.making import a_family, a_sample, furnish
from tests.benchfile.making import state
from tests.torture.faults import DEEDS, do, laptops


def merged(into: Path, *others: Path, settle: bool = False) -> tuple:
    with Bench.open(into, who="Merger") as bench:
        outcomes = [safety.merge(bench, other) for other in others]
        assert bench.file.verify() == ()
        listed = tuple(
            (each.key, each.shown, tuple(sorted(v.key for v in each.versions)))  # which stands first is "this file"
            for each in safety.conflicts(bench)
        )
        return state(bench.file), bench.fleet(), listed, outcomes


def test_what_each_entered_is_there(tmp_path):
    one, two = laptops(tmp_path, 2)
    with Bench.open(one, who="Ann") as bench:
        run.add(bench, "E-1", "1", Run("race", 1.5))
        sample.confirm(bench, "E-1", "1", a_sample("A-1", 5.0))
    with Bench.open(two, who="Bob") as bench:
        run.add(bench, "E-1", "1", Run("race", 1.5))
        furnish(bench, "E-2")
    with Bench.open(one, who="Ann") as bench:
        told = []
        bench.subscribe(told.append)
        outcome = safety.merge(bench, two)
        assert outcome.came_in == {"engine": 1, "build": 1, "fill": 1, "run": 2, "sample": 1}
        assert outcome.changed.engines == {"E-1", "E-2"}
        assert told
        assert [e.name for e in bench.fleet().engines] == ["E-1", "E-2"]
        # hours are events: two runs alike, entered on two laptops, are two runs
        assert [r.hours for r in bench.build("E-1", "1").runs].count(1.5) == 2
        assert bench.undo_label == ""
        again = safety.merge(bench, two)
        assert again.came_in == {}
        assert again.conflicts == ()


def test_two_edits_of_one_row_wait_for_a_person(tmp_path):
    one, two = laptops(tmp_path, 2)
    for path, who, fe in ((one, "Ann", 50.0), (two, "Bob", 60.0)):
        with Bench.open(path, who=who) as bench:
            sample.confirm(bench, "E-1", "1", a_sample("S-1", 3.0, fe), correct=True)
    with Bench.open(one, who="Ann") as bench:
        outcome = safety.merge(bench, two)
        (conflict,) = outcome.conflicts
        assert conflict.what == "sample S-1"
        assert {v.who: dict(v.values)["Fe"] for v in conflict.versions} == {"Ann": "50, ppm, 1", "Bob": "60, ppm, 1"}
        shown = next(v for v in conflict.versions if v.key == conflict.shown)
        assert shown.who == "Bob"  # the later one, until a person chooses
        anns = next(v for v in conflict.versions if v.who == "Ann")
        changed = safety.choose(bench, conflict.key, anns.key)
        assert changed.label == "Settle sample S-1"
        assert safety.conflicts(bench) == ()
        assert next(r for r in bench.find_sample("S-1")[2].readings if r.measurand == "Fe").value == 50.0
        with pytest.raises(BenchProblem, match="settled already"):
            safety.choose(bench, conflict.key, anns.key)
    _, fleet, conflicts, _ = merged(two, one)
    assert conflicts == ()
    assert next(r for r in fleet.engines[0].builds[0].samples[0].readings if r.measurand == "Fe").value == 50.0


def test_the_same_edit_on_both_is_no_conflict(tmp_path):
    one, two = laptops(tmp_path, 2)
    for path in (one, two):
        with Bench.open(path) as bench:
            engine.edit(bench, "E-1", car="Car 9")
            engine.add(bench, "E-5", a_family(bench))
    with Bench.open(one) as bench:
        outcome = safety.merge(bench, two)
        assert outcome.conflicts == ()
        assert outcome.came_in == {}
        assert [e.name for e in bench.fleet().engines] == ["E-1", "E-5"]
        engine.edit(bench, "E-1", car="Car 10")
        assert safety.conflicts(bench) == ()
    merged(two, one)


def test_two_engines_of_one_name_after_a_rename(tmp_path):
    one, two = laptops(tmp_path, 2)
    with Bench.open(one) as bench:
        engine.edit(bench, "E-1", new_name="E-9")
    with Bench.open(two) as bench:
        engine.add(bench, "E-9", a_family(bench))
    _, fleet, _, (outcome,) = merged(one, two)
    assert [e.name for e in fleet.engines] == ["E-9", "E-9 (2)"]
    assert any("2 engines called E-9" in remark for remark in outcome.remarks)
    assert merged(two, one)[1] == fleet
    with Bench.open(one) as bench:
        engine.edit(bench, "E-9 (2)", new_name="E-10")
        assert [e.name for e in bench.fleet().engines] == ["E-9", "E-10"]


def test_a_run_entered_on_both_is_remarked(tmp_path):
    import datetime as dt

    one, two = laptops(tmp_path, 2)
    for path in (one, two):
        with Bench.open(path) as bench:
            run.add(bench, "E-1", "1", Run("race", 1.0, dt.datetime(2026, 6, 1, 10)))
    assert any("entered on both laptops" in remark for remark in merged(one, two)[3][0].remarks)


def test_what_cannot_be_merged(tmp_path):
    (one,) = laptops(tmp_path, 1)
    with Bench.open(one) as bench:
        for other, says in ((one, "with itself"), (tmp_path / "no.bench", "no file")):
            with pytest.raises(BenchProblem, match=says):
                safety.merge(bench, other)
    with Bench.open(one, read_only=True) as bench, pytest.raises(BenchProblem, match="read-only"):
        safety.merge(bench, tmp_path / "template" / "template.bench")


deeds = st.lists(st.tuples(st.sampled_from(DEEDS), st.integers(1, 3)), max_size=5)


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture],
    max_examples=6,
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
)
@given(deeds, deeds, deeds, st.booleans())
def test_any_histories_in_every_order(tmp_path_factory, first, second, third, exchange):
    folder = tmp_path_factory.mktemp("merge")
    paths = laptops(folder, 3)
    for n, (path, listed) in enumerate(zip(paths, (first, second, third), strict=True)):
        with Bench.open(path, who=f"person {n}") as bench:
            for what, number in listed:
                do(bench, what, number)
    if exchange:  # two of them met once before
        merged(paths[1], paths[0])
    outcomes = []
    for order in itertools.permutations(range(3)):
        copies = [Path(shutil.copyfile(paths[n], folder / f"{order} {n}.bench")) for n in order]
        outcomes.append(merged(*copies)[:3])
        assert merged(copies[0], *copies[1:])[:3] == outcomes[-1]
    # by a detour: a and b into c, then c into a fresh copy of a
    detour = Path(shutil.copyfile(paths[2], folder / "detour.bench"))
    merged(detour, paths[0], paths[1])
    back = Path(shutil.copyfile(paths[0], folder / "back.bench"))
    outcomes.append(merged(back, detour)[:3])
    assert all(outcome == outcomes[0] for outcome in outcomes)
