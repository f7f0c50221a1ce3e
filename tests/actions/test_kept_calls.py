"""Calls kept from one judging to the next, and in the file: one is shown only while all that it rests on still stands.

Random edits of every kind on a small bench; after each, what the bench shows is what a judging from nothing says."""

from __future__ import annotations

import ast
import contextlib
import datetime as dt
import importlib.util
import random
import shutil
import sqlite3
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from benchapp.actions import (
    call,
    call_text,
    change,
    checks,
    engine,
    family,
    fill,
    filter_cut,
    holds,
    instrument,
    leak_down,
    material,
    oil,
    run,
    safety,
    sample,
)
from benchapp.actions.bench import Bench
from benchapp.problems import BenchProblem
from benchapp.records import Change, CheckRun, Fill, FilterCut, Instrument, LeakDown, NoiseLine, Oil, Run, TopUp
from benchapp.wear import judge
from benchapp.wear.judge import judge_fleet
from tests.actions.making import WHEN, a_sample, furnish


@pytest.fixture(scope="module")
def never_judged(tmp_path_factory):
    """A file with two engines of one family and one of another, never judged: tests copy it."""
    path = tmp_path_factory.mktemp("never judged") / "team.bench"
    with Bench.create(path, who="Ann") as bench:
        furnish(bench, "E-1", samples=4)
        furnish(bench, "E-2", samples=2)
        engine.add(bench, "E-3", max(bench.library.families))
        fill.add(bench, "E-3", "1", Fill("F1", "an invented oil", 0.0, 6.0, WHEN, "none", True))
        sample.confirm(bench, "E-3", "1", a_sample("E-3/S-1", 2.0))
    return path


@pytest.fixture
def path(never_judged, tmp_path):
    return Path(shutil.copy(never_judged, tmp_path / "team.bench"))


def from_nothing(bench: Bench):
    """Every call of the fleet, by the judge alone."""
    fleet = bench.fleet()
    return holds.marked(judge_fleet(fleet, call.rules()), fleet)


def latest(bench: Bench, calls):
    """The last call of each engine's current build."""
    found = {}
    for each in bench.fleet().engines:
        mine = [one for one in calls if one.engine == each.name and each.builds and one.build == each.builds[-1].number]
        if mine:
            found[each.name] = mine[-1]
    return found


def no_judging(monkeypatch) -> list[str]:
    """From now on judging is noted instead of done."""
    asked: list[str] = []
    monkeypatch.setattr(call, "judge", lambda _fleet, engines, **_: asked.extend(engines) or ())
    return asked


# --- random edits

Edit = Callable[[Bench, random.Random], None]


def _last_h(bench: Bench, name: str) -> float:
    return max((one.build_h for one in bench.build(name, "1").samples), default=0.0)


def _name(bench: Bench, dice: random.Random) -> str:
    return dice.choice(["E-1", "E-2", "E-3"])


def _code(bench: Bench, dice: random.Random) -> str:
    return dice.choice([s.code for e in bench.fleet().engines for b in e.builds for s in b.samples])


def confirm(bench: Bench, dice: random.Random) -> None:
    name = _name(bench, dice)
    code = f"N-{dice.randrange(10**9)}"
    more = {} if dice.random() < 0.7 else {"taken_at": WHEN + dt.timedelta(days=dice.randrange(9)), "break_in": True}
    sample.confirm(bench, name, "1", a_sample(code, _last_h(bench, name) + 2.0, dice.choice([12.0, 60.0]), **more))


def correct(bench: Bench, dice: random.Random) -> None:
    found, build, one = bench.find_sample(_code(bench, dice))
    fe = dice.choice([3.0, 15.0, 90.0])
    readings = tuple(replace(r, value=fe) if r.measurand == "Fe" else r for r in one.readings)
    sample.confirm(bench, found.name, build.number, replace(one, readings=readings, hold=""), correct=True)


def check(bench: Bench, dice: random.Random) -> None:
    at = WHEN + dt.timedelta(days=dice.randrange(12), minutes=dice.randrange(999))
    found = dice.choice([1.0, 1.02, 1.6])
    runs = [CheckRun("Bench disc", at, "an invented standard", e, 50.0, 50.0 * found) for e in ("Fe", "Cu", "Al", "Pb")]
    instrument.add_check_runs(bench, runs)


def noise(bench: Bench, dice: random.Random) -> None:
    line = NoiseLine(dice.choice([0.2, 2.0]), 0.05, 1.0, "entered")
    checks_of = Instrument("Bench disc", "rotating-disc", noise={"Fe": line})
    verb = instrument.edit if "Bench disc" in stored(bench) else None
    if verb is None:
        instrument.add(bench, checks_of)
    else:
        verb(bench, "Bench disc", checks_of)


def stored(bench: Bench) -> set[str]:
    return {content["name"] for _, content in bench.file.all_of("instrument")}


def other_oil(bench: Bench, dice: random.Random) -> None:
    known = bench.fleet().oils["an invented oil"]
    oil.edit(bench, known.name, replace(known, fresh_ppm={**known.fresh_ppm, "Si": dice.choice([2.0, 9.0])}))


def new_oil(bench: Bench, dice: random.Random) -> None:
    oil.add(bench, Oil(f"oil {dice.randrange(10**9)}", fresh_ppm={"Zn": 400.0, "Ca": 900.0}))


def own_material(bench: Bench, dice: random.Random) -> None:
    name = dice.choice([part.material for part in bench.build("E-1", "1").parts])
    known = bench.materials()[name]
    shares = (replace(known.shares[0], source="own", status="own", max_pct=known.shares[0].max_pct - 0.01),
              *known.shares[1:])  # fmt: skip
    (material.edit if own(bench, "material", name) else material.add)(bench, replace(known, shares=shares))


def own_family(bench: Bench, dice: random.Random) -> None:
    name = bench.engine(_name(bench, dice)).family
    known = replace(bench.families()[name], sump_l=dice.choice([5.0, 6.5]))
    if own(bench, "family", name):
        family.edit(bench, name, known)
    else:
        family.add(bench, known)


def merge(bench: Bench, dice: random.Random) -> None:
    """A sample and another oil content from a second laptop."""
    other = safety.copy_out(bench, bench.path.with_name(f"other {dice.randrange(10**9)}.bench"))
    with Bench.open(other, who="Ben") as theirs:
        confirm(theirs, dice)
        other_oil(theirs, dice)
        theirs.calls()
    safety.merge(bench, other)


def own(bench: Bench, noun: str, name: str) -> bool:
    return any(content["name"] == name and not content.get("void") for _, content in bench.file.all_of(noun))


EDITS: dict[str, Edit] = {
    "confirm": confirm,
    "correct": correct,
    "withdraw": lambda b, d: sample.void(b, _code(b, d), "a mix-up"),
    "hold": lambda b, d: sample.hold(b, _code(b, d), "to be measured again"),
    "run": lambda b, d: run.add(b, _name(b, d), "1", Run("race", d.choice([1.0, 3.0]), fuel=d.choice(["", "leaded"]))),
    "fill": lambda b, d: fill.add(
        b, n := _name(b, d), "1",
        Fill(f"F{d.randrange(10**9)}", "an invented oil", _last_h(b, n), 6.0, None, d.choice(["hot", "part"]), True),
    ),
    "top-up": lambda b, d: fill.top_up(b, n := _name(b, d), "1", TopUp("F1", _last_h(b, n), 0.4)),
    "leak-down": lambda b, d: leak_down.add(
        b, n := _name(b, d), "1", LeakDown(_last_h(b, n), "1", d.choice([4.0, 25.0]))
    ),
    "filter": lambda b, d: filter_cut.add(b, n := _name(b, d), "1", FilterCut(_last_h(b, n), "many", "")),
    "change": lambda b, d: change.add(b, n := _name(b, d), "1", Change(_last_h(b, n) / 2.0, "part", "new rings")),
    "check run": check,
    "noise": noise,
    "measured again": lambda b, d: checks.measured_again(b, _code(b, d), WHEN + dt.timedelta(days=d.randrange(30))),
    "oil": other_oil,
    "another oil": new_oil,
    "material": own_material,
    "family": own_family,
    "part left out": lambda b, d: engine.remove_part(b, "E-1", "1", d.choice(b.build("E-1", "1").parts).name),
    "rename": lambda b, d: engine.edit(b, "E-2", car=f"Car {d.randrange(99)}"),
    "merge": merge,
    "undo": lambda b, _: b.undo(),
    "redo": lambda b, _: b.redo(),
}


@pytest.mark.parametrize("seed", range(6))
def test_what_is_shown_is_what_a_judging_from_nothing_says(path, seed):
    """Full calls while the file is open, latest calls after it was closed: never a stale one, whatever was edited."""
    dice = random.Random(seed)
    bench = Bench.open(path, who="Ann")
    done = []
    for _ in range(14):
        name = dice.choice([*EDITS, *["confirm"] * 6])
        try:
            EDITS[name](bench, dice)
        except (BenchProblem, IndexError):
            continue  # nothing to undo, or nothing left to correct: nothing was changed
        done.append(name)
        if dice.random() < 0.3:
            bench.close()
            bench = Bench.open(path, who="Ann")
        told = from_nothing(bench)
        assert {one.engine: one for one in bench.calls()} == latest(bench, told), done
        assert tuple(one for each in bench.fleet().engines for one in bench.calls_of(each.name)) == told, done
    bench.close()
    assert len(done) > 5


def test_every_edit_can_be_made(path):
    """An edit that always fails would prove nothing above."""
    for name, edit in EDITS.items():
        with Bench.open(path, who="Ann") as bench:
            if name in ("undo", "redo"):
                oil.add(bench, Oil(f"oil for {name}"))
            if name == "redo":
                bench.undo()
            edit(bench, random.Random(1))


# --- opening

def test_opening_shows_the_calls_at_once(path, monkeypatch):
    with Bench.open(path) as bench:
        told = bench.calls()
        full = bench.calls_of("E-1")
    assert len(told) == 3
    with monkeypatch.context() as patched:
        asked = no_judging(patched)
        with Bench.open(path, read_only=True) as bench:
            assert bench.calls() == told
            assert bench.kept_calls().keys() == {"E-1", "E-2", "E-3"}
            assert asked == []
            assert bench.engines_to_judge() == {"E-1", "E-2", "E-3"}  # all samples of them, in the background
    with Bench.open(path) as bench:
        assert bench.calls_of("E-1") == full


def test_closing_unjudged_keeps_what_still_stands(path):
    with Bench.open(path) as bench:
        bench.calls()
    with Bench.open(path) as bench:
        oil.add(bench, Oil("a third oil"))
        oil.void(bench, "a third oil", "never bought")
        assert len(bench.kept_calls()) == 3
    with Bench.open(path) as bench:
        assert len(bench.kept_calls()) == 3


def test_a_build_without_a_sample_is_kept_as_such(path, monkeypatch):
    with Bench.open(path) as bench:
        engine.add_build(bench, "E-3")
        assert [one.engine for one in bench.calls()] == ["E-1", "E-2"]
    asked = no_judging(monkeypatch)
    with Bench.open(path, read_only=True) as bench:
        assert [one.engine for one in bench.calls()] == ["E-1", "E-2"]
        assert bench.kept_calls()["E-3"] is None
    assert asked == []


@pytest.mark.parametrize("column", ["engine", "key", "call", "row_hash"])
def test_a_damaged_row_is_dropped(path, column):
    with Bench.open(path) as bench:
        told = bench.calls()
    with sqlite3.connect(path) as connection:
        connection.execute(f"UPDATE kept_calls SET {column} = {column} || 'x' WHERE engine = 'E-1'")
    connection.close()
    with Bench.open(path) as bench:
        assert bench.kept_calls().keys() == {"E-2", "E-3"}
        assert bench.calls() == told
        assert bench.file.verify() == ()


def test_a_call_that_is_changed_with_its_hash_is_still_bound_to_its_key(path):
    """The hash finds damage; what would pass it is a row moved to another engine, and its key is another's then."""
    with Bench.open(path) as bench:
        bench.calls()
    with Bench.open(path) as bench:
        rows = bench.file.kept_calls()
        bench.file.keep_calls({"E-1": rows["E-2"], "E-2": rows["E-2"]})
    with Bench.open(path) as bench:
        assert "E-1" not in bench.kept_calls()


def test_no_backup_for_it_alone_and_no_trace_in_the_history(path):
    with Bench.open(path):
        pass  # closed, it leaves a backup of the file as it is
    with Bench.open(path) as bench:
        before = len(safety.backups(path))
        bench.calls()
        steps = bench.undo_label
    with Bench.open(path) as bench:
        assert len(safety.backups(path)) == before == 1
        assert bench.undo_label == steps


# --- keys

def test_other_rules_or_resources_make_every_call_stale(path, monkeypatch):
    with Bench.open(path) as bench:
        bench.calls()
    monkeypatch.setattr(call, "rules_key", lambda: "others")
    monkeypatch.setattr(call, "_rests", [])
    with Bench.open(path) as bench:
        assert bench.kept_calls() == {}


def test_the_rules_key_covers_resources_and_code(monkeypatch, tmp_path):
    from benchapp import library

    now = call.rules_key.__wrapped__()
    assert now == call.rules_key()
    changed = tmp_path / "resources"
    changed.mkdir()
    for file in library.resources_dir().iterdir():
        if file.suffix in (".toml", ".csv"):
            text = file.read_bytes()
            (changed / file.name).write_bytes(text + b"\n" if file.name == "calls.toml" else text)
    monkeypatch.setattr(library, "resources_dir", lambda: changed)
    assert call.rules_key.__wrapped__() != now
    monkeypatch.undo()
    monkeypatch.setattr(call, "_JUDGING", ("wear/*.py",))
    assert call.rules_key.__wrapped__() != now


def imports_of(name: str, seen: set[str]) -> set[str]:
    """Modules of the package that a module imports, wherever in it and through others."""
    found = importlib.util.find_spec(name)
    if name in seen or found is None or found.origin is None:
        return seen
    seen.add(name)
    for node in ast.walk(ast.parse(Path(found.origin).read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("benchapp"):
            for each in (node.module, *(f"{node.module}.{alias.name}" for alias in node.names)):
                with contextlib.suppress(ModuleNotFoundError):
                    imports_of(each, seen)
    return seen


def test_the_rules_key_covers_all_code_that_the_judge_imports():
    package = Path(call.__file__).parent.parent
    covered = {file for pattern in call._JUDGING for file in package.glob(pattern)}
    judging = imports_of("benchapp.wear.judge", imports_of("benchapp.actions.call_text", set()))
    files = {Path(importlib.util.find_spec(name).origin) for name in judging}
    assert {"decide.py", "records.py", "condition.py"} <= {file.name for file in files}
    assert {file for file in files if file.name != "__init__.py"} <= covered


def test_one_more_sample_leaves_the_other_engines_as_they_are(path, monkeypatch):
    """What families say is drawn anew each time the samples have grown by a fifth, not with each."""
    with Bench.open(path) as bench:
        for n in range(5):  # 12 samples: the next milestone is 15
            sample.confirm(bench, "E-2", "1", a_sample(f"M-{n}", 20.0 + n))
        bench.calls()
        sample.confirm(bench, "E-1", "1", a_sample("M-9", 40.0))
        assert bench.engines_to_judge() == {"E-1"}
        bench.calls()
        sample.confirm(bench, "E-1", "1", a_sample("M-10", 42.0))
        assert bench.engines_to_judge() == {"E-1"}
        sample.confirm(bench, "E-1", "1", a_sample("M-11", 44.0))
        assert bench.engines_to_judge() == {"E-1", "E-2", "E-3"}


def test_only_the_one_more_sample_is_judged(path, monkeypatch):
    """The others' calls are those of before, whether it was previewed or not; and all are as from nothing."""
    followed: list[str] = []
    real = judge.judge_engine

    def noted(one, *rest, **more):
        followed.append(one.name)
        return real(one, *rest, **more)

    monkeypatch.setattr(judge, "judge_engine", noted)
    with Bench.open(path) as bench:
        for n in range(6):  # 13 samples: the next milestone is 15
            sample.confirm(bench, "E-2", "1", a_sample(f"M-{n}", 20.0 + n))
        before = bench.calls_of("E-1")
        followed.clear()
        new = a_sample("M-9", 40.0)
        told = call.preview(bench, "E-1", "1", new)
        sample.confirm(bench, "E-1", "1", new)
        after = bench.calls_of("E-1")
        assert followed == []
        assert after == (*before, told)
        assert all(one is other for one, other in zip(after, before, strict=False))
        assert after == tuple(one for one in from_nothing(bench) if one.engine == "E-1")
        followed.clear()
        sample.confirm(bench, "E-1", "1", a_sample("M-10", 42.0))  # a milestone: what families say is drawn anew
        assert bench.calls_of("E-1") == tuple(one for one in from_nothing(bench) if one.engine == "E-1")
        assert followed[0] == "E-1"


def test_a_kept_call_is_the_call_to_the_last_digit(path):
    with Bench.open(path) as bench:
        for one in bench.calls_of("E-1"):
            assert call_text.read(call_text.keep(one)) == one
