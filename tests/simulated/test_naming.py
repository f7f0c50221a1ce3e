"""What can be named at all from the bottles: certain where metals differ, a matter of luck where they do not."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from benchapp.records import Part

from .alloys import ELEMENTS, in_elements, materials, nominal
from .naming import bottles_until, chance_of_right, how_often
from .truth import Fault, SampleTruth, Truth, Visible, what_is_visible

READ = ("Fe", "Cr", "Ni", "Al", "Cu", "Pb", "Sn", "Si", "Mn", "Na", "K")
PARTS = {
    name: Part(name, material)
    for name, material in (
        ("bore", "iron_gjl250"), ("piston", "al_2618"), ("main lining", "brg_cupb24sn4"),
        ("rod lining", "brg_cupb24sn4"), ("guide", "cu_c64200"), ("turbo bush", "cu_cw713r"),
    )
}  # fmt: skip
EQUAL: Counter[str] = Counter()


def _fault(*parts: str, outside: str = "") -> Fault:
    return Fault("E", "1", "kind", "kind", frozenset(parts), outside, 5.0, 20.0, 2.0, "steps", "step")


def _bottle(ppm: np.ndarray, noise: float = 0.3) -> Visible:
    return what_is_visible(ppm, np.zeros(len(ELEMENTS)), np.full(len(ELEMENTS), noise), READ)


def _of(name: str, ppm: float) -> np.ndarray:
    return ppm * nominal(materials()[PARTS[name].material])


def _same_metal(one: str, other: str) -> bool:
    return PARTS[one].material == PARTS[other].material


def _chance(fault: Fault, *bottles: Visible, often: Counter[str] = EQUAL) -> float:
    return chance_of_right(fault, bottles, PARTS, often, _same_metal)


def test_much_metal_names_its_part():
    for name in PARTS:
        assert _chance(_fault(name), _bottle(_of(name, 100.0))) > 0.99, name


def test_parts_of_one_metal_are_one():
    assert _chance(_fault("rod lining"), _bottle(_of("rod lining", 50.0))) > 0.99


def test_little_of_a_copper_alloy_could_be_any_and_more_bottles_tell_more():
    guide = _fault("guide")
    one, many = _bottle(_of("guide", 1.5)), [_bottle(_of("guide", 6.0))] * 6
    assert 0.02 < _chance(guide, one) < 0.8
    assert _chance(guide, *many) > _chance(guide, one) + 0.15


def test_how_often_decides_between_what_is_alike():
    bottle = _bottle(_of("guide", 1.5))
    seldom, often = Counter({"bearing_lining": 20}), Counter({"valve_guide_seat": 20})
    assert _chance(_fault("guide"), bottle, often=seldom) < 0.3 < 0.7 < _chance(_fault("guide"), bottle, often=often)


def test_what_comes_from_outside_and_mixtures_are_looked_for_as_what_they_are():
    leak = _bottle(in_elements(Na=12.0, K=1.0))
    assert _chance(_fault(outside="coolant"), leak) > 0.99
    scuff = _bottle(_of("piston", 6.0) + _of("bore", 6.0))
    assert _chance(_fault("piston", "bore"), scuff) > 0.95


def test_nothing_in_the_bottles_names_nothing():
    assert _chance(_fault("guide")) == 0.0


def test_the_best_bottle_of_each_fill_until_then():
    def sample(code: str, hour: float, fill: str, ppm: float, engine: str = "E") -> tuple[str, SampleTruth]:
        seen = None if ppm < 0 else _bottle(_of("bore", ppm))
        return code, SampleTruth(engine, "1", "k", hour, False, frozenset(), 1.0, visible=seen, fill=fill)

    told = [
        sample("a", 6.0, "1", 5.0), sample("b", 7.0, "1", 3.0), sample("c", 9.0, "2", 8.0),
        sample("d", 10.0, "2", -1.0),
        sample("e", 11.0, "3", 90.0), sample("f", 9.5, "4", 0.0), sample("g", 9.0, "9", 70.0, engine="other"),
    ]  # fmt: skip
    truth = Truth("x", 1, (), dict(told))
    found = bottles_until(truth, _fault("bore"), 10.0)
    assert sorted(round(float(one.fault.sum()), 1) for one in found) == pytest.approx(
        sorted(round(float(_bottle(_of("bore", ppm)).fault.sum()), 1) for ppm in (5.0, 8.0))
    )


def test_how_often_counts_kinds_of_material_once_a_fault():
    truth = Truth("x", 1, (_fault("main lining", "rod lining"), _fault("guide"), _fault(outside="dust")), {})
    assert how_often(truth, lambda fault: PARTS) == {"bearing_lining": 1, "valve_guide_seat": 1, "dust": 1}


def test_what_nobody_read_hides_everything():
    seen = what_is_visible(np.ones(len(ELEMENTS)), np.zeros(len(ELEMENTS)), np.full(len(ELEMENTS), 0.5), ("Fe", "Cu"))
    assert seen.square == pytest.approx(2 * 2.0**2)
