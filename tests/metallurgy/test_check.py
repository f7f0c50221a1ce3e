"""What a user may enter as material or family, and what each refusal says."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.library import load_library
from benchapp.metallurgy.check import check_family, check_material
from benchapp.problems import BenchProblem
from benchapp.records import ElementShare, Family, Material, Part

LIB = load_library()


def share(element: str = "Cu", nominal: float | None = 90.0, low: float = 88.0, high: float = 92.0) -> ElementShare:
    return ElementShare(element, nominal, low, high, "own", "own")


GOOD = Material("own", "Own bronze", "bushing", "a bush", (share(), share("Sn", 10.0, 8.0, 12.0)), 8.8, "own")
FAMILY = Family("Own four", "Inline four", 5.0, (Part("bores", "al_390", "bore", 900.0),), "")


def test_good_ones_come_back_as_they_are() -> None:
    assert check_material(GOOD, LIB.elements) is GOOD
    assert check_family(FAMILY, LIB.materials) is FAMILY


@pytest.mark.parametrize(
    ("material", "what"),
    [
        (replace(GOOD, name=" "), "The material has no name."),
        (replace(GOOD, id=""), "The material has no name."),
        (replace(GOOD, shares=()), 'Material "Own bronze" has no elements.'),
        (replace(GOOD, shares=(share("Qq"),)), '"Qq" in "Own bronze" is not a chemical symbol that is known here.'),
        (replace(GOOD, shares=(share(), share())), 'Material "Own bronze" lists Cu twice.'),
        (replace(GOOD, shares=(share(high=101.0),)), 'A share of Cu in "Own bronze" is not between 0 and 100 %.'),
        (replace(GOOD, shares=(share(low=float("nan")),)), 'A share of Cu in "Own bronze" is not between 0 and 100 %.'),
        (replace(GOOD, shares=(share(low=95.0),)), 'The range of Cu in "Own bronze" runs from 95 to 92 %.'),
        (
            replace(GOOD, shares=(share(nominal=99.0),)),
            'The nominal share of Cu in "Own bronze" is 99 %, outside its own range 88 to 92 %.',
        ),
        (replace(GOOD, shares=(share(),)), 'The nominal shares of "Own bronze" add up to 90 %.'),
        (replace(GOOD, density_g_cm3=0.0), 'The density of "Own bronze" is 0 g/cm³.'),
    ],
)
def test_a_bad_material_is_refused_in_words(material: Material, what: str) -> None:
    with pytest.raises(BenchProblem) as caught:
        check_material(material, LIB.elements)
    assert caught.value.what == what
    assert caught.value.means == "Nothing was saved."
    assert caught.value.do.endswith(".")


def test_the_sum_says_what_to_do() -> None:
    with pytest.raises(BenchProblem) as caught:
        check_material(replace(GOOD, shares=(share(),)), LIB.elements)
    assert "97 to 103" in caught.value.do


def test_a_contaminant_and_a_resin_need_not_add_up_to_a_hundred() -> None:
    check_material(replace(GOOD, group="contaminant", shares=(share("Na", 15.8, 15.8, 15.8),)), LIB.elements)
    check_material(replace(GOOD, shares=(share("Mo", 30, 20, 40), share("C", 20, 10, 30))), LIB.elements)


@pytest.mark.parametrize(
    ("family", "what"),
    [
        (replace(FAMILY, name=""), "The family has no name."),
        (replace(FAMILY, sump_l=0.0), 'The oil volume of "Own four" is 0 L.'),
        (replace(FAMILY, parts=(Part("", "al_390"),)), "The part has no name."),
        (replace(FAMILY, parts=(Part("a", "al_390"), Part("A", "al_390"))), 'Two parts are named "A".'),
        (replace(FAMILY, parts=(Part("a + b", "al_390"),)), 'The part name "a + b" holds " + ".'),
        (
            replace(FAMILY, parts=(Part("a", "wood"),)),
            'Part "a" is of material "wood", which is not in the materials table.',
        ),
        (replace(FAMILY, parts=(Part("a", "al_390", "", -1.0),)), 'The area of part "a" is -1 cm².'),
        (replace(FAMILY, parts=(Part("a", "al_390", "", 1.0, 0.0),)), 'The thickness of part "a" is 0 µm.'),
    ],
)
def test_a_bad_family_is_refused_in_words(family: Family, what: str) -> None:
    with pytest.raises(BenchProblem) as caught:
        check_family(family, LIB.materials)
    assert caught.value.what == what
    assert caught.value.do
