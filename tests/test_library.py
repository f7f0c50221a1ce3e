"""What resources/ promises: every row whole, every value with a source, quick to load, nothing of a maker."""

from __future__ import annotations

import csv
import re
import subprocess
import sys
import tomllib
from collections.abc import Mapping
from typing import Any

import pytest

from benchapp import library
from benchapp.library import Library, load_library, resources_dir
from benchapp.metallurgy.check import check_family, check_material
from benchapp.problems import BenchProblem
from benchapp.records import NON_WEAR_SOURCES

TABLES = sorted(path.stem for path in resources_dir().glob("*.toml"))


@pytest.fixture(scope="module")
def lib() -> Library:
    return load_library()


def test_every_row_of_the_table_is_read(lib: Library) -> None:
    with (resources_dir() / "materials.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    shares = [(m.id, s.element, s.source, s.status) for m in lib.materials.values() for s in m.shares]
    assert sorted(shares) == sorted((r["id"], r["element"], r["source"], r["status"]) for r in rows)
    assert len(lib.materials) == 158
    assert len(rows) == 948
    impurity = next(s for s in lib.materials["brg_cupb30"].shares if s.element == "Sn")
    assert impurity.nominal_pct is None
    assert impurity.max_pct > 0


def test_every_material_has_a_density_with_its_status(lib: Library) -> None:
    for material in lib.materials.values():
        assert material.density_g_cm3 is not None
        assert 0.9 < material.density_g_cm3 < 12.0
        assert material.density_status in ("verified", "memory")


def test_every_status_is_known_and_every_key_is_in_the_list_of_sources(lib: Library) -> None:
    sources = lib.data("sources")
    for material in lib.materials.values():
        for share in material.shares:
            assert share.status in ("verified", "memory")
            assert share.source
            for key in re.findall(r"\[([SN]\w+)\]", share.source):
                assert key in sources


def test_keys_in_the_other_tables_are_in_the_list_of_sources(lib: Library) -> None:
    for name in TABLES:
        text = (resources_dir() / f"{name}.toml").read_text(encoding="utf-8")
        for group in re.findall(r"\[((?:[SN]\d+\w*)(?:, [SN]\d+\w*)*)\]", text):
            for key in group.split(", "):
                assert key in lib.data("sources"), (name, key)


def test_materials_and_families_pass_the_check_a_user_must_pass(lib: Library) -> None:
    for material in lib.materials.values():
        assert check_material(material, lib.elements) is material
    for family in lib.families.values():
        assert check_family(family, lib.materials) is family


def test_the_families_span_what_race_engines_are_made_of(lib: Library) -> None:
    assert len(lib.families) >= 12
    used = {part.material for family in lib.families.values() for part in family.parts}
    for material in (
        "iron_grey_cyl_block", "spray_steel_080", "ni_sic_plate", "al_390", "cr_hard_plate", "ovl_pbsn10cu2",
        "brg_alsn20cu", "ovl_bi", "ovl_pai_mos2", "brg_cuni2si", "cam_chilled_iron", "steel_52100",
    ):  # fmt: skip
        assert material in used
    layouts = " ".join(family.layout for family in lib.families.values())
    for word in (
        "wet sump",
        "dry sump",
        "flat tappets",
        "roller tappets",
        "Single cylinder",
        "V8",
        "rotary",
        "two-wheel",
    ):
        assert word in layouts
    for family in lib.families.values():
        assert family.notes
        assert family.sump_l is not None
        for part in family.parts:
            assert part.role in lib.roles


def test_shells_are_listed_in_depth_order(lib: Library) -> None:
    order = ["flash", "overlay", "dam", "lining", "back"]
    for family in lib.families.values():
        for shell in ("main bearing", "rod bearing", "rotor bearing"):
            layers = [part.name.removeprefix(shell + " ") for part in family.parts if part.name.startswith(shell)]
            assert layers == sorted(layers, key=order.index)


def test_non_wear_names_are_those_a_call_may_use(lib: Library) -> None:
    assert {name for name, source in lib.non_wear.items() if source.in_calls} == set(NON_WEAR_SOURCES)
    for source in lib.non_wear.values():
        assert source.tell
        assert source.basis
        for variant in source.variants:
            for share in variant.shares:
                assert share.element in lib.elements
                assert share.min_pct <= share.max_pct
                assert share.source


def test_a_pure_water_coolant_leaves_no_metal(lib: Library) -> None:
    water = [v for v in lib.non_wear["coolant"].variants if "water" in v.name]
    assert water
    assert water[0].shares == ()
    assert lib.non_wear["coolant"].shares, "the default pack does leave a trace"


def test_both_editions_of_the_test_dust_are_there(lib: Library) -> None:
    names = [variant.name for variant in lib.non_wear["dust"].variants]
    assert any("2012" in name for name in names)
    assert any("2016" in name for name in names)


def test_elements_cover_the_materials_and_their_names_are_unique(lib: Library) -> None:
    for material in lib.materials.values():
        for share in material.shares:
            assert share.element in lib.elements
    words = [w for e in lib.elements.values() for w in (e.symbol.casefold(), e.name, *e.aliases)]
    assert len(words) == len(set(words))
    assert lib.elements["Al"].aliases == ("aluminum",)
    assert lib.elements["Pb"].role == "wear"
    assert lib.elements["C"].role == library.MATRIX_ROLE


@pytest.mark.parametrize("kind", ["icp", "rotating-disc", "xrf", "lab", "", "something else"])
def test_every_element_has_a_noise_line_with_its_origin(lib: Library, kind: str) -> None:
    noise = lib.noise_for(kind)
    assert set(noise) == set(lib.elements)
    for line in noise.values():
        assert line.a_ppm > 0
        assert 0 < line.b < 0.5
        assert line.limit_ppm == pytest.approx(3 * line.a_ppm)
        assert "memory" in line.origin or "own default" in line.origin


def test_a_lab_is_read_as_icp_widened(lib: Library) -> None:
    icp, lab = lib.noise_for("icp")["Fe"], lib.noise_for("lab")["Fe"]
    assert lab.a_ppm == pytest.approx(1.5 * icp.a_ppm)
    assert "times 1.5" in lab.origin


def test_the_rules_of_use_travel_with_the_tables(lib: Library) -> None:
    for limit in lib.data("limits")["limit"]:
        assert limit["source"]
        assert isinstance(limit["diesel"], bool)
    for plan in lib.data("breakin")["plan"]:
        assert plan["origin"]
    assert sum(plan["default"] for plan in lib.data("breakin")["plan"]) == 1
    for caution in lib.data("cautions")["caution"]:
        assert caution["source"]
    for prior in lib.data("carry_over")["prior"].values():
        assert prior["origin"]


def test_glossary_entries_have_a_source_and_cover_the_elements(lib: Library) -> None:
    entries: Mapping[str, Any] = {entry["term"]: entry for entry in lib.data("glossary")["entry"]}
    for entry in entries.values():
        assert entry["text"].count(". ") + entry["text"].endswith(".") >= 2, entry["term"]
        assert entry["source"]
    for symbol in ("Fe", "Cu", "Pb", "Sn", "Al", "Si", "Ni", "Cr", "Na", "K", "Zn", "Mo"):
        assert any(entry.get("element") == symbol for entry in entries.values())


def test_sizes_of_a_family(lib: Library) -> None:
    sizes = lib.sizes_of("V8 pushrod, iron block, flat tappet, wet sump")
    assert sizes["cylinders"] == 8
    assert sizes["rod_diameter_mm"] == 53.3
    assert lib.sizes_of("a family of the user's own") == {}


def test_the_library_is_loaded_once(lib: Library) -> None:
    assert load_library() is lib
    assert lib.data("limits") is lib.data("limits")


def test_the_library_loads_without_numpy_and_in_a_tenth_of_a_second() -> None:
    code = (
        "import csv, tomllib, dataclasses\n"
        "import sys, time\n"
        "from benchapp import library\n"
        "start = time.process_time()\n"
        "library.load_library()\n"
        "print(time.process_time() - start, 'numpy' in sys.modules)\n"
    )
    runs = [subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True) for _ in range(3)]
    assert {run.stdout.split()[1] for run in runs} == {"False"}
    assert min(float(run.stdout.split()[0]) for run in runs) < 0.1


def test_records_cannot_be_changed(lib: Library) -> None:
    with pytest.raises(TypeError):
        lib.materials["x"] = lib.materials["al_390"]  # type: ignore[index]
    with pytest.raises(TypeError):
        lib.data("limits")["x"] = 1  # type: ignore[index]
    with pytest.raises(AttributeError):
        lib.materials["al_390"].name = "x"  # type: ignore[misc]


@pytest.mark.parametrize("damage", ["missing", "broken"])
def test_a_damaged_table_is_told_in_words(tmp_path: Any, monkeypatch: pytest.MonkeyPatch, damage: str) -> None:
    if damage == "broken":
        (tmp_path / "table.toml").write_text("a = = b", encoding="utf-8")
    monkeypatch.setattr(library, "resources_dir", lambda: tmp_path)
    with pytest.raises(BenchProblem) as caught:
        library._data.__wrapped__("table")
    assert caught.value.what.startswith("The resource table.toml could not be read")
    assert "untouched" in caught.value.means
    assert caught.value.do == "Install the program again."
    with pytest.raises(BenchProblem, match=r"The resource none\.csv could not be read"):
        library._rows("none.csv")


@pytest.mark.parametrize("name", TABLES)
def test_tables_are_valid_and_say_where_they_come_from(name: str) -> None:
    text = (resources_dir() / f"{name}.toml").read_text(encoding="utf-8")
    assert tomllib.loads(text)
    assert text.startswith("#")
