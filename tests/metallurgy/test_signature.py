"""The signature matrix: columns from compositions, tolerances from ranges, layers in depth order."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.library import load_library
from benchapp.metallurgy.signature import layer_of, merged, share_mean, share_sd, signature
from benchapp.problems import BenchProblem
from benchapp.records import ElementShare, Material, Part

LIB = load_library()
BEARING = (
    Part("main bearing overlay", "ovl_pbsn10cu2", "main bearing overlay", 10.0, 15.0),
    Part("rod bearing overlay", "ovl_pbsn10cu2", "rod bearing overlay", 8.0, 15.0),
    Part("main bearing lining", "brg_sae49", "main bearing lining", 10.0, 300.0),
    Part("main bearing back", "brg_steel_back", "bearing back"),
)


def test_columns_are_the_mass_fractions_of_the_materials() -> None:
    found = signature(BEARING, LIB.materials, elements=("Pb", "Sn", "Cu", "Fe"))
    assert found.names == ("main bearing overlay", "rod bearing overlay", "main bearing lining")
    overlay = {s.element: s for s in LIB.materials["ovl_pbsn10cu2"].shares}
    assert found.A[:, 0] == pytest.approx([overlay[e].nominal_pct / 100 for e in ("Pb", "Sn", "Cu")] + [0.0])  # type: ignore[operator]
    assert found.A[3].tolist() == [0.0, 0.0, 0.0], "no iron without the steel back"
    assert np.all(found.S >= 0)


def test_parts_of_one_material_stay_separate_sources() -> None:
    found = signature(BEARING, LIB.materials)
    assert np.array_equal(found.A[:, 0], found.A[:, 1])
    assert found.sources[0].name != found.sources[1].name


def test_backs_only_when_asked_for() -> None:
    found = signature(BEARING, LIB.materials, with_backs=True)
    assert found.names[-1] == "main bearing back"
    assert found.sources[-1].stack == "main bearing"
    assert found.sources[-1].depth == 4


def test_layers_know_their_shell_and_depth() -> None:
    depths = {s.name: (s.stack, s.depth) for s in signature(BEARING, LIB.materials).sources}
    assert depths["main bearing overlay"] == ("main bearing", 1)
    assert depths["main bearing lining"] == ("main bearing", 3)
    assert depths["rod bearing overlay"] == ("rod bearing", 1)
    assert layer_of(Part("crank", "steel_4340", "crank")) == ("", None)
    assert layer_of(Part("Hauptlager oben", "x", "main bearing dam")) == ("main bearing", 2)


def test_what_cannot_be_read_is_no_row() -> None:
    found = signature((Part("bores", "ni_sic_plate", "bore"),), LIB.materials)
    assert "C" not in found.elements
    assert found.elements == ("Ni", "Si", "P")


def test_non_wear_sources_come_behind_the_parts_and_metal_free_ones_not_at_all() -> None:
    found = signature(BEARING, LIB.materials, non_wear=LIB.non_wear.values())
    assert found.sources[3].name == "dust"
    assert found.sources[3].kind == "non-wear"
    assert "other oil" not in found.names
    assert found.with_elements(["Si"]).A[0, found.index("dust")] == pytest.approx(0.3366)


def test_rows_and_columns_can_be_picked() -> None:
    found = signature(BEARING, LIB.materials)
    part = found.with_elements(["Sn", "Xx"]).with_sources(["main bearing lining"])
    assert part.A.shape == (2, 1)
    assert part.A[1, 0] == 0.0
    assert part.A[0, 0] == found.A[found.elements.index("Sn"), 2]
    with pytest.raises(KeyError):
        found.with_sources(["nothing"])


def test_a_group_is_the_mean_of_its_members_and_carries_their_spread() -> None:
    found = signature(BEARING, LIB.materials, elements=("Pb", "Cu"))
    groups = merged(found, [("main bearing overlay", "main bearing lining"), ("rod bearing overlay",)])
    assert groups.names == ("main bearing overlay + main bearing lining", "rod bearing overlay")
    assert groups.sources[0].parts == ("main bearing overlay", "main bearing lining")
    assert groups.A[:, 0] == pytest.approx((found.A[:, 0] + found.A[:, 2]) / 2)
    assert np.all(groups.S[:, 0] >= np.abs(found.A[:, 0] - found.A[:, 2]) / 2)
    assert groups.sources[0].density_g_cm3 is None
    assert groups.sources[1] == found.sources[1]
    same = merged(found, [("main bearing overlay", "rod bearing overlay")]).sources[0]
    assert same.material == "ovl_pbsn10cu2"
    assert same.density_g_cm3 == 10.6
    assert same.depth == 1


def test_an_unknown_material_is_told_in_words() -> None:
    with pytest.raises(BenchProblem) as caught:
        signature((Part("bores", "unobtainium", "bore"),), LIB.materials)
    assert caught.value.what == 'Part "bores" is of material "unobtainium", which is not in the materials table.'
    assert "no call" in caught.value.means
    assert "add the material" in caught.value.do


def test_two_parts_of_one_name_are_refused() -> None:
    parts = (Part("bores", "al_390"), Part("bores", "al_356"))
    with pytest.raises(BenchProblem, match='Two parts have the same name: "bores"'):
        signature(parts, LIB.materials)


def test_no_parts_give_an_empty_matrix() -> None:
    found = signature((), {})
    assert found.A.shape == (0, 0)


def share(nominal: float | None, low: float, high: float) -> ElementShare:
    return ElementShare("Fe", nominal, low, high, "a test", "memory")


def test_tolerance_of_a_centred_range_is_that_of_a_uniform_one() -> None:
    assert share_sd(share(10.0, 9.0, 11.0)) == pytest.approx(0.02 / np.sqrt(12))


def test_tolerance_of_an_impurity_is_that_of_a_triangle_at_zero() -> None:
    limit = share(None, 0.0, 0.9)
    assert share_mean(limit) == pytest.approx(0.003)
    assert share_sd(limit) == pytest.approx(0.009 / np.sqrt(18))


@given(st.floats(0, 100), st.floats(0, 100), st.floats(0, 1))
def test_tolerance_lies_between_half_and_all_of_the_uniform_bounds(a: float, b: float, where: float) -> None:
    low, high = min(a, b), max(a, b)
    nominal = low + where * (high - low)
    sd = share_sd(share(min(max(nominal, low), high), low, high)) * 100
    assert (high - low) / np.sqrt(12) - 1e-9 <= sd <= (high - low) / np.sqrt(3) + 1e-9


def test_every_family_has_a_signature_whose_columns_are_mass_fractions() -> None:
    for family in LIB.families.values():
        found = signature(family.parts, LIB.materials, non_wear=LIB.non_wear.values())
        assert np.all(found.A >= 0)
        assert np.all(found.A.sum(axis=0) <= 1.03)
        assert np.isfinite(found.S).all()


def test_a_users_own_material_is_taken() -> None:
    own = Material("own", "Own alloy", "bore", "", (ElementShare("Ti", 100.0, 99.0, 100.0, "own", "own"),))
    assert signature((Part("bores", "own"),), {"own": own}).A.tolist() == [[1.0]]
