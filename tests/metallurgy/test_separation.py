"""What can be told apart: physical expectations on families, and the rules of grouping."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from benchapp.library import load_library
from benchapp.metallurgy.separation import (
    ExtraElement,
    LooksLike,
    Separation,
    _complete_linkage,
    distances,
    noise_sd,
    separation,
)
from benchapp.metallurgy.signature import signature
from benchapp.records import NoiseLine, Part

LIB = load_library()
BACKGROUND = LIB.data("oils")["background_ppm"]
BENCH = ("Fe", "Cr", "Al", "Cu", "Pb", "Sn", "Ni", "Si", "Na", "K", "B", "Mo", "Ti", "V", "Ca", "Mg", "Zn", "P")
QUIET = {e: NoiseLine(0.1, 0.01, 0.3, "a test") for e in (*BENCH, "Bi", "Sb", "Mn", "Ag", "In")}


def of_family(name: str, measured: tuple[str, ...] = BENCH, kind: str = "icp") -> Separation:
    whole = signature(LIB.families[name].parts, LIB.materials)
    return separation(whole, LIB.noise_for(kind), measured=measured, background_ppm=BACKGROUND)


def of_parts(*materials: str, measured: tuple[str, ...] | None = BENCH) -> Separation:
    parts = [Part(f"{material} {n}", material) for n, material in enumerate(materials)]
    return separation(signature(parts, LIB.materials), QUIET, measured=measured)


def test_two_parts_of_one_material_are_one_group_named_by_both() -> None:
    found = of_family("V8 pushrod, iron block, flat tappet, wet sump")
    assert "main bearing dam + rod bearing dam" in found.names


def test_steel_parts_cannot_be_told_from_an_iron_bore() -> None:
    found = of_family("V8 pushrod, iron block, flat tappet, wet sump")
    group = found.group_of("bores")
    assert {"crank", "rods", "camshaft"} <= set(group)


def test_overlay_and_lining_are_apart() -> None:
    found = of_family("V8 pushrod, iron block, flat tappet, wet sump")
    assert "main bearing lining" not in found.group_of("main bearing overlay")


def test_a_plated_bore_is_apart_from_every_steel_part() -> None:
    found = of_family("V8 overhead cam, Ni-SiC bores, dry sump")
    assert found.group_of("bores") == ("bores",)


def test_an_aluminium_silicon_bore_is_apart_from_dust() -> None:
    whole = signature(
        LIB.families["V8 overhead cam, Al-Si bores, wet sump"].parts, LIB.materials, non_wear=[LIB.non_wear["dust"]]
    )
    found = separation(whole, LIB.noise_for("rotating-disc"), measured=BENCH, background_ppm=BACKGROUND)
    assert found.group_of("dust") == ("dust",)


def test_white_metal_needs_antimony() -> None:
    found = of_family("V8 pushrod, iron block, flat tappet, wet sump")
    assert "cam bearings" in found.group_of("main bearing overlay")
    assert found.extra is not None
    assert found.extra.element == "Sb"
    assert ("main bearing overlay", "cam bearings") in found.extra.splits
    with_it = of_family("V8 pushrod, iron block, flat tappet, wet sump", (*BENCH, "Sb"))
    assert "cam bearings" not in with_it.group_of("main bearing overlay")


def test_a_bismuth_overlay_is_not_seen_by_a_bench_without_bismuth() -> None:
    found = of_family("Inline six, iron bores, bismuth bearings, wet sump")
    assert "main bearing overlay" in found.unseen
    assert found.group_of("main bearing overlay") == ()
    assert any("Not seen" in line and "main bearing overlay" in line for line in found.words())


def test_more_elements_never_make_fewer_groups_of_two_materials() -> None:
    few = of_parts("al_2618", "al_4032", measured=("Al",))
    assert len(few.groups) == 1
    more = of_parts("al_2618", "al_4032", measured=("Al", "Si"))
    assert len(more.groups) == 2


def test_copper_and_lead_with_tin_imitate_a_lining() -> None:
    found = of_parts("brg_cupb24sn4", "ovl_pbsn10cu2", "cu_c12200", "bab_sae12", measured=("Cu", "Pb", "Sn"))
    lines = [line for line in found.looks_like if line.group.startswith("brg_cupb24sn4")]
    assert lines
    assert {"cu_c12200 2", "ovl_pbsn10cu2 1"} <= set(lines[0].others)


def test_every_seen_source_is_in_exactly_one_group() -> None:
    for name in LIB.families:
        whole = signature(LIB.families[name].parts, LIB.materials)
        found = separation(whole, LIB.noise_for("icp"), measured=BENCH, background_ppm=BACKGROUND, with_extra=False)
        placed = [source for group in found.groups for source in group] + list(found.unseen)
        assert sorted(placed) == sorted(whole.names)
        assert found.extra is None


def test_the_noisier_bench_tells_no_more_apart() -> None:
    name = "V8 pushrod, iron block, roller tappet, dry sump"
    assert len(of_family(name, kind="xrf").groups) <= len(of_family(name, kind="icp").groups)


def test_distances_are_symmetric_zero_to_itself_and_fall_with_noise() -> None:
    family = LIB.families["Inline four formula, iron liners, lead-free bearings, dry sump"]
    whole = signature(family.parts, LIB.materials).with_elements(BENCH)
    sd = noise_sd(BENCH, LIB.noise_for("icp"), {})
    d, seen = distances(whole, sd)
    assert np.array_equal(d, d.T)
    assert np.all(np.diag(d) == 0)
    assert np.all(d >= 0)
    assert seen.dtype == bool
    noisy, _ = distances(whole, sd * 4, clear_ppm=200.0)
    quiet, _ = distances(whole, sd, clear_ppm=200.0)
    both = np.ix_(seen, seen)
    assert np.median(noisy[both]) < np.median(quiet[both])


def test_no_element_in_common_with_the_bench_leaves_everything_unseen() -> None:
    found = of_parts("al_390", measured=("W",))
    assert found.groups == ()
    assert found.unseen == ("al_390 0",)


def test_findings_in_words() -> None:
    found = Separation(
        elements=("Fe", "Cu"),
        groups=(("bores", "crank", "rods"), ("bush",)),
        unseen=("overlay",),
        looks_like=(LooksLike("bush", ("bores + crank + rods", "cooler + line"), 1.0),),
        extra=ExtraElement("Cr", 3, (("bores", "crank"), ("bores", "rods"))),
    )
    assert found.words() == (
        "Told apart: bush.",
        "Cannot be told apart: bores + crank + rods.",
        "bush can look like bores and alike with cooler + line.",
        "Not seen with the elements measured: overlay.",
        "Measuring Cr as well would tell bores from crank and 1 more pair.",
    )


def test_an_element_without_a_noise_line_is_left_out() -> None:
    whole = signature([Part("a", "al_390"), Part("b", "al_2618")], LIB.materials)
    found = separation(whole, {"Al": NoiseLine(0.1, 0.01, 0.3, "a test")})
    assert found.elements == ("Al",)


def test_noise_is_that_of_a_difference_of_two_readings() -> None:
    sd = noise_sd(("Fe",), {"Fe": NoiseLine(3.0, 0.04, 9.0, "a test")}, {"Fe": 100.0})
    assert sd == pytest.approx([np.sqrt(2 * (9 + 16))])


@given(arrays(float, (7, 7), elements=st.integers(0, 5)), st.sets(st.integers(0, 6)), st.integers(0, 6))
def test_groups_are_those_of_nearest_pairs_of_clusters_asked_one_by_one(drawn, members, apart) -> None:
    d = np.minimum(drawn, drawn.T)
    np.fill_diagonal(d, 0.0)
    clusters = [(j,) for j in sorted(members)]
    while len(clusters) > 1:
        far, x, y = min(
            (max(d[j, k] for j in clusters[x] for k in clusters[y]), x, y)
            for x in range(len(clusters))
            for y in range(x + 1, len(clusters))
        )
        if far >= apart:
            break
        clusters[x] = tuple(sorted(clusters[x] + clusters.pop(y)))
    assert _complete_linkage(d, sorted(members), apart) == sorted(clusters)


def test_a_distance_is_that_of_the_pair_looked_at_alone() -> None:
    whole = signature(LIB.families["V8 overhead cam, Al-Si bores, wet sump"].parts, LIB.materials).with_elements(BENCH)
    sd = noise_sd(BENCH, LIB.noise_for("icp"), BACKGROUND)
    d, _ = distances(whole, sd)
    for one, other in ((0, 1), (3, 0), (len(d) - 1, 2)):
        pair = whole.with_sources([whole.names[one], whole.names[other]])
        assert distances(pair, sd)[0][0, 1] == pytest.approx(d[one, other], rel=1e-12)
