"""Keys of calls: whatever a call rests on changes the engine's key; the same records give the same key anew."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from benchapp.records import (
    Build,
    Change,
    CheckRun,
    ElementShare,
    Engine,
    Family,
    Fill,
    FilterCut,
    Fleet,
    Instrument,
    LeakDown,
    Material,
    NoiseLine,
    Oil,
    Part,
    Reading,
    Run,
    Sample,
    TopUp,
)
from benchapp.wear.keys import Grounds

START = dt.datetime(2026, 3, 1, 9)


def a_fleet() -> Fleet:
    """Two engines of one family and one of another, each measured by its own instrument; 12 samples."""
    line = NoiseLine(0.3, 0.05, 1.0, "invented")
    share = ElementShare("Fe", 98.0, 97.0, 99.0, "invented", "own")
    return Fleet(
        engines=(an_engine("E-1", "one", 5), an_engine("E-2", "one", 4), an_engine("E-3", "other", 3)),
        families={"one": Family("one", sump_l=6.0), "other": Family("other", sump_l=5.0)},
        materials={
            "steel": Material("steel", "a steel", "bore", "", (share,)),
            "brass": Material("brass", "", "", "", ()),
        },
        oils={"an oil": Oil("an oil", fresh_ppm={"Zn": 900.0})},
        instruments={
            name: Instrument(name, "icp", noise={"Fe": line}) for name in ("disc E-1", "disc E-2", "disc E-3")
        },
        check_runs=(CheckRun("disc E-1", START, "a standard", "Fe", 50.0, 51.0),),
    )


def an_engine(name: str, family: str, samples: int) -> Engine:
    taken = tuple(
        Sample(
            f"{name}/{n}", "F1", 2.0 * n + 2.0, 2.0 * n + 2.0, START + dt.timedelta(days=n),
            instrument=f"disc {name}", readings=(Reading("Fe", 10.0 + n),),
        )
        for n in range(samples)
    )  # fmt: skip
    build = Build(
        "1", (Part("liner", "steel"),), 6.0, START, fills=(Fill("F1", "an oil", 0.0, 6.0),),
        top_ups=(TopUp("F1", 3.0, 0.3),), runs=(Run("race", 2.0 * samples),), samples=taken,
    )  # fmt: skip
    return Engine(name, family, builds=(build,))


def keys(fleet: Fleet) -> dict[str, str]:
    return dict(Grounds("rules").of(fleet).engines)


def with_build(fleet: Fleet, **more) -> Fleet:
    first = fleet.engines[0]
    return replace(fleet, engines=(replace(first, builds=(replace(first.builds[0], **more),)), *fleet.engines[1:]))


FLEET = a_fleet()
BUILD = FLEET.engines[0].builds[0]
LAST = BUILD.samples[-1]


def with_last(**more) -> Fleet:
    return with_build(FLEET, samples=(*BUILD.samples[:-1], replace(LAST, **more)))


OWN = {
    "a reading": with_last(readings=(Reading("Fe", 14.1),)),
    "a qualifier": with_last(readings=(Reading("Fe", 14.0, qualifier="<"),)),
    "a unit": with_last(readings=(Reading("Fe", 14.0, "cSt"),)),
    "hours": with_last(build_h=10.5),
    "its moment": with_last(taken_at=START + dt.timedelta(days=9)),
    "break-in": with_last(break_in=True),
    "a hold": with_last(hold="failed check"),
    "before a top-up": with_last(before_top_up=True),
    "a fill": with_build(FLEET, fills=(replace(BUILD.fills[0], drain_before="hot"),)),
    "a top-up": with_build(FLEET, top_ups=()),
    "a run": with_build(FLEET, runs=(Run("race", 10.0, fuel="leaded"),)),
    "a change": with_build(FLEET, changes=(Change(9.9, "part"),)),
    "a filter cut": with_build(FLEET, filter_cuts=(FilterCut(9.0, "many"),)),
    "a leak-down": with_build(FLEET, leak_downs=(LeakDown(9.0, "1", 20.0),)),
    "a part": with_build(FLEET, parts=(Part("liner", "brass"),)),
    "the sump": with_build(FLEET, sump_l=7.0),
    "the family's name": replace(FLEET, engines=(replace(FLEET.engines[0], family="other"), *FLEET.engines[1:])),
}
SHARED = {
    "an early sample of a sister": replace(
        FLEET, engines=(FLEET.engines[0], an_engine("E-2", "one", 2), FLEET.engines[2])
    ),
    "the oil": replace(FLEET, oils={"an oil": Oil("an oil", fresh_ppm={"Zn": 901.0})}),
    "another oil": replace(FLEET, oils={**FLEET.oils, "a new oil": Oil("a new oil")}),
    "the material": replace(
        FLEET, materials={**FLEET.materials, "steel": replace(FLEET.materials["steel"], group="ring")}
    ),
    "the family": replace(FLEET, families={**FLEET.families, "one": Family("one", sump_l=6.5)}),
    "a check run": replace(FLEET, check_runs=(replace(FLEET.check_runs[0], found_ppm=55.0),)),
    "the noise": replace(
        FLEET, instruments={**FLEET.instruments, "disc E-1": Instrument("disc E-1", "icp")}
    ),
    "the kind": replace(
        FLEET, instruments={**FLEET.instruments, "disc E-1": replace(FLEET.instruments["disc E-1"], kind="lab")}
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", OWN)
def test_the_engines_own_records(what):
    assert keys(OWN[what])["E-1"] != keys(FLEET)["E-1"]


@pytest.mark.parametrize("what", SHARED)
def test_what_it_shares_with_others(what):
    assert keys(SHARED[what])["E-1"] != keys(FLEET)["E-1"]


def test_other_rules():
    assert Grounds("other rules").of(FLEET).engines["E-1"] != keys(FLEET)["E-1"]


def test_the_same_records_give_the_same_key_anew():
    assert keys(a_fleet()) == keys(FLEET)
    grounds = Grounds("rules")
    assert grounds.of(FLEET) == grounds.of(a_fleet())


def test_a_key_of_its_own_for_each_engine():
    assert len(set(keys(FLEET).values())) == 3


def test_what_was_kept_of_records_never_answers_for_others():
    """One after another through one maker: each key is as a new maker has it, whatever came before."""
    grounds = Grounds("rules")
    for fleet in (FLEET, *OWN.values(), FLEET, *SHARED.values(), a_fleet()):
        assert grounds.of(fleet).engines == Grounds("rules").of(fleet).engines


def test_a_late_sample_of_one_engine_is_nothing_to_the_others():
    more = with_build(
        FLEET, samples=(*BUILD.samples, replace(LAST, code="new", taken_at=START + dt.timedelta(days=99)))
    )
    now, then = keys(more), keys(FLEET)
    assert now["E-1"] != then["E-1"]
    assert (now["E-2"], now["E-3"]) == (then["E-2"], then["E-3"])


def test_numbers_of_an_array_library_count_as_plain_ones():
    fleet = with_build(FLEET, sump_l=np.float64(6.0))
    assert keys(fleet) == keys(FLEET)


def test_what_no_key_can_be_made_of_is_refused():
    with pytest.raises(TypeError, match="no key"):
        keys(with_build(FLEET, notes={"a set"}))
