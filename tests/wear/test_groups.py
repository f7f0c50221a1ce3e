"""Parts that no bench could tell apart are named together, and only these."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.records import Part
from benchapp.wear.decide import groups_of
from benchapp.wear.look import Look
from tests.wear.histories import RULES, Story
from tests.wear.walking import looks_of

IRONS = (
    Part("cam", "cam_chilled_iron"),
    Part("chain", "steel_52100"),
    Part("coated skirt", "skirt_fe_plate"),
    Part("piston", "al_2618"),
)
"""The cam's metal is alike the chain's, and the chain's the skirt's, but the cam's is not alike the skirt's."""


@pytest.fixture(scope="module")
def look() -> Look:
    rates = {"cam": 2.0, "chain": 1.0, "coated skirt": 0.3, "piston": 1.5}
    story = Story("E", IRONS, rates).broken_in().usual(2)
    return looks_of(story)[1][-1]


def named(look: Look, **chances: float) -> list[set[str]]:
    by_name = dict(zip(look.sources.names, range(len(look.sources.names)), strict=True))
    chance = np.zeros(len(look.sources.names))
    for name, value in chances.items():
        chance[by_name[name.replace("_", " ")]] = value
    found = groups_of(replace(look, evidence=replace(look.evidence, probability=chance)), look.hidden, RULES)
    return [set(group.parts) for group in found]


def test_a_metal_between_two_others_does_not_make_them_one(look):
    assert named(look, chain=0.3, cam=0.2, coated_skirt=0.1) == [{"chain", "cam"}, {"coated skirt"}]
    assert named(look, chain=0.3, cam=0.1, coated_skirt=0.2) == [{"chain", "coated skirt"}, {"cam"}]


def test_the_likeliest_group_stands_first_its_likeliest_part_in_front(look):
    chances = np.zeros(len(look.sources.names))
    for name, value in (("cam", 0.2), ("chain", 0.15), ("piston", 0.3)):
        chances[look.sources.names.index(name)] = value
    found = groups_of(replace(look, evidence=replace(look.evidence, probability=chances)), look.hidden, RULES)
    assert [group.parts for group in found] == [("cam", "chain"), ("piston",)]
    assert found[0].probability == pytest.approx(0.35)


def test_nobody_is_named_where_nothing_is_likely(look):
    assert named(look) == []
    assert named(look, piston=0.4, cam=0.01) == [{"piston"}], "one in a hundred is not spoken of"
