"""Before and after on real records: the rate itself comes back; fills, hours, oils and odd samples do not fake it."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from benchapp.actions import change, effect, engine, run, sample
from benchapp.actions import fill as fills
from benchapp.actions.bench import Bench
from benchapp.library import load_library
from benchapp.problems import BenchProblem
from benchapp.records import (
    Build,
    Change,
    Engine,
    Family,
    Fill,
    Fleet,
    Instrument,
    Oil,
    Reading,
    Run,
    Sample,
    TopUp,
)
from tests.window import breakin_bench as life
from tests.window import small


@pytest.fixture
def bench(tmp_path):
    made = small.fill(Bench.create(tmp_path / "b.bench", who="test"))
    yield made
    made.close()


def only(bench, name="B1"):
    return effect.moments(bench, name)[0]


def test_a_halving_is_found_with_its_size(bench):
    life.add_life(bench, life.HALVED, changed_after=7)
    found = effect.look(bench, only(bench))
    assert found.total.words.startswith("wears less")
    assert found.total.low <= 0.5 <= found.total.high
    assert found.sentence.startswith("It wears less: 0.")
    assert {one.name for one in found.elements if one.said} >= {"Fe", "Al"}
    assert (found.total.before, found.total.after) == (5, 5)
    assert [point.after for point in found.points] == [False] * 5 + [True] * 5


def test_no_change_says_what_it_could_have_seen(bench):
    life.add_life(bench, life.EVEN, changed_after=7)
    found = effect.look(bench, only(bench))
    assert found.total.words.startswith("no difference")
    assert "would have been seen in 4 of 5 cases" in found.sentence
    assert 0.5 < found.total.seen_from < 0.95


def test_the_running_in_and_held_samples_are_left_out_with_their_reason(bench):
    life.add_life(bench, life.EVEN, changed_after=7)
    _, _, held = bench.find_sample("L05")
    sample.confirm(bench, "B1", "1", dataclasses.replace(held, hold="the check standard failed"), correct=True)
    found = effect.look(bench, only(bench))
    assert "L00: it belongs to the running-in" in found.left_out
    assert any(line.startswith("L05") and "held" in line for line in found.left_out)


def test_a_mixed_up_bottle_is_left_out(bench):
    life.add_life(bench, life.EVEN, changed_after=7)
    _, _, held = bench.find_sample("L05")
    odd = (*held.readings, Reading("Zn", 300.0), Reading("Ca", 4000.0), Reading("P", 1040.0))
    sample.confirm(bench, "B1", "1", dataclasses.replace(held, readings=odd), correct=True)
    found = effect.look(bench, only(bench))
    assert any(line.startswith("L05") and "additives" in line for line in found.left_out)


def test_an_interval_across_the_change_belongs_to_neither_side(bench):
    life.add_life(bench, life.EVEN)
    found = effect.look(bench, effect.at("B1", "1", 19.5))
    assert any("partly before and partly after" in line for line in found.left_out)


def test_a_hard_session_is_taken_back_to_the_level_of_its_neighbours(bench):
    rates = list(life.EVEN)
    rates[4] *= 1.9
    life.add_life(bench, rates, changed_after=7)
    found = effect.look(bench, only(bench))
    assert any(line.startswith("L04: a harder session") for line in found.adjusted)
    assert found.total.words.startswith("no difference")


def test_too_little_is_said_in_three_sentences(bench):
    life.add_life(bench, life.EVEN[:4], changed_after=3)
    with pytest.raises(BenchProblem, match=r"too little to compare|no interval") as refused:
        effect.look(bench, effect.at("B1", "1", 500.0))
    assert "no interval after 500 h of build 1" in refused.value.what
    assert "Left out: L00" in refused.value.means
    assert "next sample" in refused.value.do
    with pytest.raises(BenchProblem, match="has no build 9"):
        effect.look(bench, effect.at("B1", "9", 5.0))


def test_one_interval_on_each_side_is_too_little(bench):
    life.add_life(bench, life.EVEN[:4])
    with pytest.raises(BenchProblem, match="one interval on each side"):
        effect.look(bench, effect.at("B1", "1", 9.0))


def test_changes_of_oil_between_fills_are_moments_too(bench):
    life.add_life(bench, life.EVEN)
    from benchapp.actions import oil

    oil.add(bench, dataclasses.replace(small.OIL, name="Other oil"))
    fills.add(bench, "B1", "1", Fill("9", "Other oil", 36.0, 7.0, None, "hot", True))
    moment = only(bench)
    assert moment.label == "oil: Example race oil to Other oil at 36 h"
    assert effect.moments(bench, "A1") == ()


def test_notes_name_other_changes_and_instruments(bench):
    life.add_life(bench, life.EVEN, changed_after=7)
    change.add(bench, "B1", "1", Change(12.0, "tune", "leaner"))
    run.add(bench, "B1", "1", Run("practice", 0.5, fuel="leaded"))
    found = effect.look(bench, effect.moments(bench, "B1")[0])
    assert any("tune at 12 h" in note for note in found.notes)
    assert any("lead is left out" in note for note in found.notes)
    assert "Pb" not in {one.name for one in found.elements}


def test_wear_that_fell_before_the_change_is_said(bench):
    rates = (80.0, 40.0, 34.0, 30.0, 27.0, 24.0, 22.0, 20.0, 18.5, 17.0, 15.5, 14.5)
    life.add_life(bench, rates, changed_after=8)
    found = effect.look(bench, only(bench))
    assert any("already falling before the change" in note for note in found.notes)


# --- several engines


def test_engines_with_the_same_change_are_pooled_with_each_shown(bench):
    for name in ("C1", "C2"):
        engine.add(bench, name, small.PLATED)
        small.fill_in(bench, name)
        life.add_life(bench, life.HALVED, name, changed_after=7, notes="To the  other one", code=name)
    life.add_life(bench, life.HALVED, changed_after=7)
    found = effect.look_alike(bench, only(bench))
    assert [look.moment.engine for look in found.looks] == ["B1", "C1", "C2"]
    assert found.pooled.words.startswith("wears less")
    single = found.looks[0].total
    assert math.log(found.pooled.high / found.pooled.low) < math.log(single.high / single.low) * 1.3
    assert "over 3 engines" in found.sentence
    rows = effect.forest_alike(found)
    assert [row.name for row in rows[:4]] == ["B1", "C1", "C2", "all together"]
    header, table = effect.alike_table(found)
    assert len(header) == len(table[0]) == len(table[-1])


def test_an_engine_that_cannot_be_compared_is_named_and_one_alone_is_not_pooled(bench):
    life.add_life(bench, life.HALVED, changed_after=7)
    change.add(bench, "A1", "1", Change(6.0, "oil", "to the other one"))
    found = effect.look_alike(bench, only(bench))
    assert found.pooled is None
    assert any(line.startswith("A1:") for line in found.left_out)
    assert "two are needed" in found.sentence
    with pytest.raises(BenchProblem):
        effect.look_alike(bench, effect.Moment("A1", "1", 6.0, "x", "part: nothing like it"))


def test_the_table_has_a_row_for_every_row_of_the_plot(bench):
    life.add_life(bench, life.HALVED, changed_after=7)
    found = effect.look(bench, only(bench))
    header, rows = effect.table(found)
    assert len(rows) == len(effect.forest(found)) == len(effect.all_rows(found))
    assert all(len(row) == len(header) for row in rows)


def test_long_groups_are_said_short():
    assert effect.short_name("a + b + c + d + e") == "a + b + c and 2 more"
    assert effect.short_name("a + b") == "a + b"


# --- a simulated season: nothing changed but fills, hours and oils

LIBRARY = load_library()
OILS = {
    "A": Oil("A", "race", density_15c_kg_l=0.86, fresh_ppm={"Zn": 1200.0, "Ca": 1800.0, "Mo": 20.0, "P": 1000.0}),
    "B": Oil("B", "race", density_15c_kg_l=0.88, fresh_ppm={"Zn": 1900.0, "Ca": 2600.0, "Mo": 300.0, "P": 1700.0}),
}


def season(rng, ratio=1.0, samples=4):
    """One engine, `samples` before and after a change of oil that also changes interval, volume, drain and top-ups."""
    parts = next(iter(LIBRARY.families.values())).parts
    c, fresh = 0.3, 0.3
    fill_list, sample_list, runs, tops, hours = [], [], [], [], 0.0
    for n in range(1 + 2 * samples + 1):
        after = n > samples + 1
        oil, litres, span = ("B", 6.6, 6.0) if after else ("A", 5.8, 2.5)
        drain = "none" if n == 0 else ("cold" if after else "hot")
        carry = {"none": 0.0, "hot": rng.normal(0.10, 0.04), "cold": rng.normal(0.20, 0.06)}[drain]
        fill_list.append(Fill(str(n), oil, hours, litres, None, drain, True))
        c = max(carry, 0.0) * c + (1 - max(carry, 0.0)) * fresh
        kg = litres * OILS[oil].density_15c_kg_l
        span = 5.0 if n == 0 else span
        rate = (20.0 if not after else 20.0 * ratio) * math.exp(rng.normal(0, 0.2)) * (4 if n == 0 else 1)
        top_at = hours + span / 2
        c += rate * span / 2 / kg
        litres_added = 0.5 if after else 0.2
        c = c * (1 - litres_added / litres) + fresh * litres_added / litres
        tops.append(TopUp(str(n), top_at, litres_added))
        c += rate * span / 2 / kg
        hours += span
        runs.append(Run("practice", span))
        read = max(c + rng.normal(0, math.hypot(0.3, 0.04 * c)), 0.1)
        sample_list.append(Sample(f"S{n}", str(n), hours, span, readings=(Reading("Fe", round(read, 1)),)))
    moment_h = fill_list[samples + 2].build_h
    build = Build("1", parts, 6.2, fills=tuple(fill_list), samples=tuple(sample_list), runs=tuple(runs),
                  top_ups=tuple(tops))  # fmt: skip
    family = Family("f", sump_l=6.2, parts=parts)
    fleet = Fleet((Engine("E", "f", builds=(build,)),), {"f": family}, LIBRARY.materials, OILS, {"": Instrument("")})
    return fleet, effect.at("E", "1", moment_h)


def words(fleet, moment):
    return effect.compare(fleet, moment).total.words


def test_other_fills_hours_and_oils_do_not_fake_an_effect():
    rng = np.random.default_rng(21)
    trials = 120
    false = sum(words(*season(rng)).startswith("wears") for _ in range(trials))
    assert false / trials <= 0.05


def test_a_halving_hidden_behind_other_fills_hours_and_oils_is_seen_with_four_and_four():
    rng = np.random.default_rng(22)
    trials = 80
    seen = sum(words(*season(rng, ratio=0.5)).startswith("wears less") for _ in range(trials))
    assert seen / trials >= 0.80


def test_bare_ppm_would_have_been_fooled():
    # the same seasons read as ppm at the drain: longer fills look like more wear in nearly every case
    rng = np.random.default_rng(23)
    fooled = 0
    for _ in range(20):
        fleet, moment = season(rng)
        ppm = [(s.build_h > moment.build_h, s.readings[0].value) for s in fleet.engines[0].builds[0].samples[1:]]
        before, after = (np.mean([v for late, v in ppm if late is side]) for side in (False, True))
        fooled += after > 1.4 * before
    assert fooled >= 15
