"""The scorer on a fleet small enough to score by hand, and its tables."""

from __future__ import annotations

import pytest

from benchapp.records import Build, Call, Engine, Family, Fleet, Part, Reading, Reason, Sample

from . import report
from .__main__ import main
from .alloys import materials
from .generators import GENERATORS, score_seeds, total
from .judges import FIXED_LIMITS, fixed_limits, knows_the_truth, mean_plus_3sd, ppm_of
from .scorer import alike, by_fault, figures, names_right, score_world
from .truth import Fault, SampleTruth, Truth, World

PARTS = (
    Part("bore", "iron_gjl250"),
    Part("crank", "steel_4340"),
    Part("ring", "steel_440b"),
    Part("overlay", "ovl_pbsn10cu2"),
    Part("lining", "brg_cupb24sn4"),
)
MEASURED = frozenset({"Fe", "Cr", "Ni", "Al", "Cu", "Pb", "Sn", "Si"})


def _sample(code: str, build_h: float, lead: float) -> Sample:
    readings = tuple(Reading(el, lead if el == "Pb" else 5.0) for el in sorted(MEASURED))
    return Sample(code, "F1", build_h, build_h, readings=readings)


def _world() -> World:
    samples = tuple(_sample(f"s{n}", float(2 * n), 1.0 if n < 5 else 40.0) for n in range(1, 8))
    family = Family("f", sump_l=5.0, parts=PARTS)
    fleet = Fleet((Engine("e", "f", builds=(Build("1", PARTS, samples=samples),)),), {"f": family}, materials(), {})
    fault = Fault("e", "1", "kind", "overlay", frozenset({"overlay"}), "", 8.5, 18.5, 2.0, "exponential", "metal")
    truths = {
        s.code: SampleTruth(
            "e", "1", "kind", s.build_h, s.build_h < 8.5, frozenset({"top-up"}), 1.0, 9.0 * (s.build_h > 9)
        )
        for s in samples
    }
    return World(fleet, Truth("x", 1, (fault,), truths))


def _call(code: str, build_h: float, word: str, source: str = "", parts: tuple[str, ...] = ()) -> Call:
    reasons = (Reason(source, parts or (source,), "rate", ""),) if source else ()
    return Call("t", "e", "1", code, build_h, None, word, "", 0.0, "none", "", 0, None, reasons=reasons)


def _judge(alarms: dict[str, tuple[str, str]]):
    def judge(fleet: Fleet):
        for sample in fleet.engines[0].builds[0].samples:
            word, source = alarms.get(sample.code, ("Run", ""))
            yield _call(sample.code, sample.build_h, word, source)

    return judge


def test_the_first_alarm_in_the_window_counts():
    world = _world()
    alarms = {"s5": ("Short stint", "bore"), "s6": ("Look inside", "overlay"), "s7": ("Park", "bore")}
    score = score_world(world, _judge(alarms), "by hand")
    item = figures(score)
    assert (item.faults, item.called_pct, item.reachable_pct, item.right_pct) == (1, 100.0, 100.0, 100.0)
    assert item.left_median_pct == pytest.approx(100 * (18.5 - 12.0) / 10.0)
    assert score.faults[0].short_stint_left == pytest.approx(0.85)
    assert item.false_per_100 == 0.0
    assert (item.right_last_pct, item.true_pct) == (0.0, 100.0)


def test_what_the_last_alarm_names_and_how_many_alarms_were_true():
    alarms = {"s1": ("Park", "bore"), "s6": ("Look inside", "bore"), "s7": ("Park", "overlay")}
    item = figures(score_world(_world(), _judge(alarms), "by hand"))
    assert (item.right_pct, item.right_last_pct) == (0.0, 100.0)
    assert item.true_pct == pytest.approx(100.0 * 2 / 3)


def test_alarms_before_onset_are_false_and_do_not_count_as_called():
    score = score_world(_world(), _judge({"s2": ("Park", "overlay"), "s4": ("Look inside", "bore")}), "by hand")
    item = figures(score)
    assert item.called_pct == 0.0
    assert item.healthy == 4
    assert item.false_per_100 == pytest.approx(50.0)
    assert [alarm.call.sample for alarm in score.false_alarms] == ["s2", "s4"]


def test_a_short_stint_is_no_alarm():
    score = score_world(_world(), _judge({f"s{n}": ("Short stint", "overlay") for n in range(1, 8)}), "by hand")
    assert figures(score).called_pct == 0.0
    assert score.short_stints == 4
    assert not score.false_alarms


@pytest.mark.parametrize(
    ("true", "source", "parts", "right", "wide"),
    [
        ("overlay", "overlay", ("overlay",), True, False),
        ("overlay", "lining", ("lining",), False, False),
        ("bore", "bore + crank", ("bore", "crank"), True, False),  # both iron to this bench
        ("bore", "bore + crank", (), True, False),  # parts from the name
        ("bore", "bore + ring", ("bore", "ring"), False, True),  # ring steel has 17 % Cr: not the same metal
        ("bore", "crank", ("crank",), False, False),  # same metal, but the true part is not named
        ("dust", "dust", (), True, False),
        ("dust", "bore", ("bore",), False, False),
        ("overlay", "dust", (), False, False),
    ],
)
def test_what_counts_as_the_right_source(true, source, parts, right, wide):
    outside = true if true == "dust" else ""
    fault = Fault("e", "1", "k", "x", frozenset() if outside else frozenset({true}), outside, 1, 2, 1, "", "")
    call = Call(
        "t", "e", "1", "s1", 1.5, None, "Park", "", 0.0, "none", "", 0, None, (Reason(source, parts, "rate", ""),)
    )
    assert names_right(call, fault, _world().fleet) == (right, wide)


def test_no_reason_is_not_right():
    fault = _world().truth.faults[0]
    assert names_right(_call("s1", 1.0, "Park"), fault, _world().fleet) == (False, False)


@pytest.mark.parametrize(
    ("first", "second", "same"),
    [
        ("iron_gjl250", "steel_4340", True),
        ("brg_alsn20cu", "ovl_sput_alsn20", True),
        ("ovl_pbsn10", "ovl_pbsn10cu2", True),
        ("ovl_pbsn10", "brg_cupb24sn4", False),
        ("al_2618", "al_4032", False),
        ("steel_440b", "steel_9254", False),
        ("ni_sic_plate", "cr_hard_plate", False),
    ],
)
def test_which_metals_are_the_same_to_a_bench(first, second, same):
    assert alike(Part("a", first), Part("b", second), _world().fleet, MEASURED) is same


def test_a_bench_without_the_telling_element_cannot_tell():
    fleet = _world().fleet
    ring, bore = Part("r", "steel_440b"), Part("b", "iron_gjl250")
    assert not alike(ring, bore, fleet, frozenset({"Fe", "Cr"}))
    assert alike(ring, bore, fleet, frozenset({"Fe", "Al"}))


def test_fixed_limits_read_the_published_table():
    assert FIXED_LIMITS["first group"]["Pb"] == 30.0
    calls = {call.sample: call for call in fixed_limits("first group")(_world().fleet)}
    assert [code for code, call in calls.items() if call.call == "Look inside"] == ["s5", "s6", "s7"]
    assert calls["s5"].reasons[0].source == "overlay"


def test_mean_plus_3sd_needs_five_samples():
    calls = {call.sample: call.call for call in mean_plus_3sd(_world().fleet)}
    assert calls["s5"] == "Run"  # only four before it
    assert calls["s6"] == "Run"  # 40 ppm is now in its own history, as plain mean + 3 sd has it
    assert {call.call for call in knows_the_truth(_world().truth)(_world().fleet)} == {"Run", "Look inside"}


def test_results_below_the_limit_count_half():
    readings = (Reading("Fe", 2.0, qualifier="<"), Reading("Pb", None, qualifier="<"), Reading("KV40", 90.0))
    assert ppm_of(Sample("s", "F", 1.0, 1.0, readings=readings)) == {"Fe": 1.0, "Pb": 0.0}


def test_tables_say_what_was_scored():
    world = _world()
    score = score_world(world, _judge({"s2": ("Park", "bore"), "s5": ("Look inside", "bore")}), "by hand")
    rows = dict(by_fault(score, lambda item: [item.fault.kind]))
    assert rows["overlay"].faults == 1
    text = report.summary([score], {"by hand": [score]}) + report.details(score) + report.explain(score)
    assert "100 (100-100)" in text
    assert "another source named first: 1" in text
    assert "false alarms: 1" in text
    assert "top-up" in text
    missed = score_world(world, _judge({}), "by hand")
    assert "never called: 1" in report.explain(missed)


def test_seeds_add_up():
    scores = score_seeds("c", [1, 2], 9, bench=False)
    both = total(scores["mean + 3 sd"])
    assert both.samples == sum(score.samples for score in scores["mean + 3 sd"])
    assert len(both.faults) == sum(len(GENERATORS["c"](seed, 9).truth.faults) for seed in (1, 2))


def test_the_commands_print(capsys, tmp_path):
    assert main(["score", "--seeds", "1", "--engines", "6", "--no-bench", "--details", "--explain"]) == 0
    out = capsys.readouterr().out
    assert "fixed limits, group 1" in out
    assert "mean + 3 sd" in out
    path = tmp_path / "one.xlsx"
    assert main(["write", str(path), "--seed", "3", "--engines", "4", "--generator", "c"]) == 0
    assert path.exists()
