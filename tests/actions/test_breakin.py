"""Break-in verbs on a real bench file: three lamps, plans of a family, the live checklist over a crash."""

from __future__ import annotations

import datetime as dt

import pytest

from benchapp.actions import breakin
from benchapp.actions.bench import Bench
from benchapp.breakin import done, stages
from benchapp.problems import BenchProblem
from benchapp.records import LeakDown
from tests.window import breakin_bench as life
from tests.window import small

NOON = dt.datetime(2026, 5, 1, 12, 0)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "b.bench"


@pytest.fixture
def bench(path):
    made = small.fill(Bench.create(path, who="test"))
    yield made
    made.close()


def states(looked):
    return [lamp.state for lamp in looked.state.lamps]


def test_an_engine_of_which_nothing_is_known_says_what_to_enter(bench):
    looked = breakin.look(bench, "B1", "1")
    assert states(looked) == [breakin.MISSING] * 3
    assert "enter pulls" in looked.state.sentence
    assert (looked.ceilings, looked.wear_h, looked.run_in) == ((), (), None)
    assert breakin.curve_of(looked) is None
    assert breakin.leak_lines(looked) == ()
    assert breakin.wear_bars(looked) == ((), None)


def test_three_kinds_of_evidence_light_three_lamps(bench):
    life.add_pulls(bench, life.FLAT)
    life.add_leak_downs(bench)
    life.add_life(bench, (80.0, 30.0, 12.0, 10.0))
    looked = breakin.look(bench, "B1", "1")
    assert states(looked) == [breakin.LIT] * 3
    assert looked.state.done
    assert looked.wear_mg_h[0] == pytest.approx(80.0, rel=0.03)
    assert looked.wear_mg_h[-1] == pytest.approx(10.0, rel=0.15)
    bars, curve = breakin.wear_bars(looked)
    assert bars[0].low < bars[0].rate < bars[0].high
    assert curve is not None
    assert looked.run_in.first > looked.run_in.settled


def test_rising_power_is_not_done(bench):
    life.add_pulls(bench)
    looked = breakin.look(bench, "B1", "1")
    assert states(looked)[0] == breakin.NOT_YET
    band = breakin.curve_of(looked)
    assert (band.low < band.high).all()


def test_a_pull_that_cannot_be_corrected_is_left_out_and_kept_as_measured(bench):
    rows = [[f"{n}", f"{n}", "300", "38", "95", "60"] for n in range(1, 5)]
    breakin.take_pulls(bench, "B1", "1", rows)
    looked = breakin.look(bench, "B1", "1", "ISO 1585")
    assert len(looked.state.left_out) == 4
    assert "the range of ISO 1585" in looked.state.left_out[0]
    assert len(breakin.look(bench, "B1", "1", "as measured").state.corrected_kw) == 4


def test_pulls_are_taken_all_or_none_and_undone_together(bench):
    rows = [["1", "1", "366 hp", "21", "1009", "40"], ["2", "2", "oops", "21", "1009", "40"]]
    with pytest.raises(BenchProblem, match="1 cell"):
        breakin.take_pulls(bench, "B1", "1", rows)
    assert bench.build("B1", "1").pulls == ()
    rows[1][2] = "368 hp"
    breakin.take_pulls(bench, "B1", "1", rows)
    assert len(bench.build("B1", "1").pulls) == 2
    bench.undo()
    assert bench.build("B1", "1").pulls == ()


def test_the_last_pull_can_be_withdrawn(bench):
    assert breakin.withdraw_last_pull(bench, "B1", "1", "misread") is None
    life.add_pulls(bench)
    breakin.withdraw_last_pull(bench, "B1", "1", "misread")
    assert len(bench.build("B1", "1").pulls) == 3


def test_tests_of_another_tester_are_not_joined(bench):
    life.add_leak_downs(bench, at=(1.0, 2.0))
    life.add_leak_downs(bench, tester="T2", at=(3.0,))
    lines = breakin.leak_lines(breakin.look(bench, "B1", "1"))
    assert [line.cylinder for line in lines] == ["1", "2"]
    assert [len(part) for part in lines[0].joined] == [2]
    assert states(breakin.look(bench, "B1", "1"))[1] == breakin.MISSING


def test_labels_that_would_lie_on_each_other_are_one():
    lines = tuple(breakin.LeakLine(str(n), [1.0], [percent], []) for n, percent in enumerate((4.0, 4.05, 9.0), start=1))
    assert [words for words, _, _ in breakin.leak_labels(lines)] == ["1, 2", "3"]
    assert breakin.leak_labels(()) == []


def test_ceilings_are_of_wear_metals_and_harmless_first_metal_is_marked(bench):
    life.add_life(bench, (80.0, 20.0))
    found = {one.element: one for one in breakin.look(bench, "B1", "1").ceilings}
    assert set(found) == {"Fe", "Al", "Cu", "Pb"}
    assert found["Fe"].believed
    assert not found["Cu"].believed
    assert "cooler" in found["Cu"].why_not


# --- plans


def test_three_schools_and_more_each_with_its_origin(bench):
    offered = breakin.plans(bench, "B1")
    assert len(offered) >= 3
    assert all(plan.origin for plan in offered)
    assert breakin.plan_of(bench, "B1", "1") == offered[0]


def test_an_edited_plan_is_kept_for_the_family_and_the_original_comes_back(bench):
    original = breakin.plans(bench, "B1")[0]
    rows = stages.cells(original)
    rows[0][1] = "25"
    kept = breakin.own_plan(bench, "B1", original, rows)
    breakin.keep_plan(bench, "B1", kept)
    assert breakin.has_own_plan(bench, "B1")
    assert breakin.plans(bench, "B1")[0].stages[0].minutes == 25
    assert original.name in kept.origin
    assert breakin.plans(bench, "A1")[0] == original  # another family
    breakin.drop_plan(bench, "B1")
    assert breakin.plans(bench, "B1")[0] == original


def test_stages_survive_the_table(bench):
    for plan in breakin.plans(bench, "B1"):
        assert stages.stages_from_cells(stages.cells(plan)) == plan.stages


@pytest.mark.parametrize(("column", "text"), [(0, ""), (1, "2000"), (1, "x"), (2, "-3"), (5, "flat out")])
def test_a_cell_of_a_plan_that_cannot_be_is_named(bench, column, text):
    rows = stages.cells(breakin.plans(bench, "B1")[0])
    rows[1][column] = text
    with pytest.raises(BenchProblem, match=f"Row 2, {stages.CELLS[column]}"):
        breakin.own_plan(bench, "B1", breakin.plans(bench, "B1")[0], rows)


def test_another_plan_starts_the_checklist_anew_but_keeps_the_notes(bench):
    first, second = breakin.plans(bench, "B1")[:2]
    breakin.keep_standing(bench, "B1", "1", first, stages.Standing(1, 60.0, notes=("loud",)))
    breakin.choose_plan(bench, "B1", "1", second.name)
    assert breakin.plan_of(bench, "B1", "1") == second
    assert breakin.standing_of(bench, "B1", "1") == stages.Standing(notes=("loud",))
    breakin.choose_plan(bench, "B1", "1", second.name)
    assert breakin.plan_of(bench, "B1", "1") == second


# --- the live checklist


def test_a_clock_in_mid_stage_runs_on_after_a_crash(bench, path, monkeypatch):
    plan = breakin.plan_of(bench, "B1", "1")
    standing = stages.tick(stages.start(stages.Standing(stage=1, run_s=120.0), NOON), "run 20 min")
    breakin.keep_standing(bench, "B1", "1", plan, standing)
    copy = path.with_name("crashed.bench")
    copy.write_bytes(path.read_bytes())  # as the disk stands while the program runs: nothing was closed
    again = Bench.open(copy, who="test")
    try:
        found = breakin.standing_of(again, "B1", "1")
        assert found == standing
        assert stages.elapsed_s(found, NOON + dt.timedelta(minutes=5)) == 120 + 300
    finally:
        again.close()


def test_a_note_carries_the_time_of_day(monkeypatch):
    monkeypatch.setattr(breakin, "now", lambda: NOON)
    assert breakin.stamped("  oil 4.1 bar ") == "12:00 oil 4.1 bar"


def test_cautions_of_hot_oil_and_the_dyno_are_there(bench):
    said = " ".join(breakin.cautions(bench)).lower()
    assert "burns" in said
    assert "guards" in said


def test_the_page_says_what_stood_and_what_was_left_out(bench, monkeypatch):
    monkeypatch.setattr(breakin, "now", lambda: NOON)
    life.add_pulls(bench, life.FLAT)
    life.add_leak_downs(bench)
    life.add_life(bench, (80.0, 30.0, 12.0, 10.0))
    plan = breakin.plan_of(bench, "B1", "1")
    breakin.keep_standing(bench, "B1", "1", plan, stages.Standing(1, notes=("12:00 oil 4.1 bar",)))
    page = breakin.page(bench, breakin.look(bench, "B1", "1"))
    titles = [block.title for block in page.answer.blocks]
    assert titles[:2] == ["Ceiling of this build", "How it was judged"]
    assert any(title.startswith("Plan: ") for title in titles)
    said = " ".join(line for block in page.answer.blocks for line in block.lines)
    assert "not comparable" in said
    assert "0.93 to 1.07" in said
    assert "done: First fire; open: First load" in said
    assert "12:00 oil 4.1 bar" in said
    assert page.answer.written == "written 2026-05-01 12:00"
    assert [lamp.state for lamp, _ in page.figures] == [done.LIT] * 3


def test_a_leak_down_of_one_cylinder_only_is_no_settled_engine():
    lamp = done.leak_lamp([LeakDown(1.0, "1", 4.0), LeakDown(2.0, "2", 4.0)])
    assert lamp.state == done.MISSING
    assert "share no cylinder" in lamp.reason
