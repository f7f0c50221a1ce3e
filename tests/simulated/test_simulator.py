"""The simulator against closed forms, its own promises, and the wall between records and truth."""

from __future__ import annotations

import ast
import dataclasses
import functools
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.actions import workbook
from benchapp.actions.bench import Bench
from benchapp.records import Fleet

from . import alloys, growth
from .generators import GENERATORS
from .sump import Sump, dry
from .truth import World
from .workbook import write_workbook

SMALL = 12
LETTERS = sorted(GENERATORS)


@functools.cache  # frozen, and many tests look at the same one
def _world(letter: str, seed: int = 5, engines: int = SMALL) -> World:
    return GENERATORS[letter](seed, engines)


# --- the oil --------------------------------------------------------------------------------------------------------


def _made(mg_h: float, hours: float, step_h: float) -> np.ndarray:
    made = np.zeros((round(hours / step_h), 2, len(alloys.ELEMENTS)))
    made[:, 0, 0] = mg_h * step_h
    return made


def _sump(ppm: float, kg: float) -> Sump:
    return dry(kg, alloys.in_elements(Fe=ppm))


def test_oil_burnt_with_its_metal_follows_the_closed_form():
    # no top-up, lost oil carries metal: c = c0 + (m/q) ln(V0 / (V0 - q t)); own constructed case V0 4, m 8, q 0.1, t 10
    sump = _sump(5.0, 4.0)
    sump.run(_made(8.0, 10.0, 0.01), 0.01, 0.1, 1.0)
    assert sump.ppm[0] == pytest.approx(5.0 + 80.0 * np.log(4.0 / 3.0), rel=2e-4)
    assert sump.oil_kg == pytest.approx(3.0)


def test_metal_that_stays_behind_is_conserved():
    sump = _sump(5.0, 4.0)
    sump.run(_made(8.0, 10.0, 0.05), 0.05, 0.1, 0.0)
    assert sump.ppm[0] == pytest.approx((5.0 * 4.0 + 8.0 * 10.0) / 3.0)


def test_small_top_ups_tend_to_the_continuous_form():
    # top-up as fast as it burns: c(t) = c∞ + (c0 - c∞) e^(-q t / V), c∞ = m/q; V 4, m 8, q 0.1, t 10 gives 17.695937
    sump = _sump(0.0, 4.0)
    for _ in range(1000):
        sump.run(_made(8.0, 0.01, 0.01), 0.01, 0.1, 1.0)
        sump.add(4.0 - sump.oil_kg, alloys.in_elements())
    assert sump.ppm[0] == pytest.approx(17.695937, rel=5e-4)


def test_a_change_leaves_its_share():
    sump = _sump(80.0, 4.0)
    sump.metal_mg[1] = sump.metal_mg[0] / 2
    sump.change(0.15, alloys.in_elements(Fe=2.0))
    assert sump.ppm[0] == pytest.approx(0.15 * 80.0 + 0.85 * 2.0)
    assert sump.fault_ppm[0] == pytest.approx(0.15 * 40.0)


@given(
    pieces=st.lists(st.tuples(st.floats(0.0, 50.0), st.floats(0.0, 0.3)), min_size=1, max_size=6),
    left=st.floats(0.0, 0.6),
)
@settings(max_examples=40, deadline=None)
def test_no_metal_is_lost_or_made(pieces, left):
    """What was given off is in the sump, or left with burnt or drained oil (carried 0: nothing leaves by burning)."""
    sump = _sump(0.0, 5.0)
    given_off = 0.0
    for mg_h, burn in pieces:
        sump.run(_made(mg_h, 1.0, 0.05), 0.05, burn, 0.0)
        given_off += mg_h
    assert sump.metal_mg[0, 0] == pytest.approx(given_off)
    kept = left * sump.full_kg * sump.ppm[0]
    sump.change(left, alloys.in_elements())
    assert sump.metal_mg[0, 0] == pytest.approx(kept)


def test_a_fault_doubles_in_its_doubling_time_and_ends_where_it_says():
    rng = np.random.default_rng(4)
    found = [law for law in (growth.drawn(1.0, 5.0, 60.0, rng) for _ in range(60)) if law is not None]
    assert len(found) > 40
    for law in found:
        start, later = law.rate(np.array([1e-9, law.doubling_h]))
        assert later == pytest.approx(2.0 * start, rel=1e-6)
        assert 1.0 < law.window_h < 60.0
        hours = np.arange(0.02, law.window_h + 0.02, 0.02)
        lost = law.rate(hours).sum() * 0.02
        reached = lost if law.ended_by == "metal" else law.rate(hours)[-1]
        assert reached >= 0.97 * law.limit


# --- alloys ---------------------------------------------------------------------------------------------------------


def test_drawn_alloys_lie_in_their_published_ranges():
    rng = np.random.default_rng(1)
    material = alloys.materials()["brg_cupb24sn4"]
    ranges = {share.element: (share.min_pct / 100, share.max_pct / 100) for share in material.shares}
    draws = np.array([alloys.drawn(material, rng) for _ in range(200)])
    for element in ("Cu", "Pb", "Sn"):
        column, (low, high) = draws[:, alloys.INDEX[element]], ranges[element]
        assert column.min() >= 0.97 * low
        assert column.max() <= high + 1e-9
        assert np.ptp(column) > 0.2 * (high - low)
    assert (draws.sum(axis=1) <= 1.0 + 1e-9).all()


# --- worlds ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("letter", LETTERS)
def test_the_same_seed_makes_the_same_fleet(letter):
    first, again, other = _world(letter), GENERATORS[letter](5, SMALL), _world(letter, 8)
    assert first.fleet == again.fleet
    assert first.truth == again.truth
    assert first.fleet.engines != other.fleet.engines


@pytest.mark.parametrize("letter", LETTERS)
def test_records_hang_together(letter):
    world = _world(letter)
    codes = [s.code for e in world.fleet.engines for b in e.builds for s in b.samples]
    assert len(codes) == len(set(codes))
    assert set(codes) == set(world.truth.samples)
    for engine in world.fleet.engines:
        family = world.fleet.families[engine.family]
        assert family.sump_l is not None
        assert {part.material for part in family.parts} <= set(world.fleet.materials)
        for build in engine.builds:
            _check_build(world.fleet, build)


def _check_build(fleet: Fleet, build) -> None:
    hours = [sample.build_h for sample in build.samples]
    assert hours == sorted(hours)
    fills = {fill.name: fill for fill in build.fills}
    for sample in build.samples:
        assert sample.fill in fills
        assert fills[sample.fill].oil in fleet.oils
        assert sample.instrument in fleet.instruments
        if sample.oil_h is not None:
            assert sample.oil_h == pytest.approx(sample.build_h - fills[sample.fill].build_h, abs=1.1)
    if build.runs:
        assert sum(run.hours for run in build.runs) >= hours[-1] - 0.5 if hours else True


@pytest.mark.parametrize("letter", LETTERS)
def test_faults_lie_in_their_builds(letter):
    world = _world(letter, 3, 30)
    assert world.truth.faults
    names = {(e.name, b.number): {p.name for p in b.parts} for e in world.fleet.engines for b in e.builds}
    for fault in world.truth.faults:
        assert 0.0 < fault.onset_h < fault.failure_h
        assert bool(fault.parts) != bool(fault.outside)
        assert fault.parts <= names[fault.engine, fault.build]
        later = [t for t in world.truth.samples.values() if (t.engine, t.build) == (fault.engine, fault.build)]
        assert all(t.build_h <= fault.failure_h + 0.6 for t in later), "nothing is sampled after the failure"
        assert not any(t.healthy for t in later if t.build_h >= fault.onset_h)


@pytest.mark.parametrize("letter", LETTERS)
def test_the_truth_does_not_leak_into_the_records(letter):
    """No word of the truth, no finding, no note, no held sample: only readings and ordinary entries tell."""
    world = _world(letter, 3, 30)
    words = {fault.kind for fault in world.truth.faults} | {"fault", "healthy", "onset", "failure", "scuff", "fatigue"}
    for engine in world.fleet.engines:
        assert not engine.notes
        for build in engine.builds:
            assert not build.findings
            assert not build.notes
            assert all(not sample.notes and not sample.hold for sample in build.samples)
            bare = dataclasses.replace(build, samples=())
            assert not [word for word in words if word in repr(bare.changes) + repr(bare.runs) + repr(bare.fills)]


def test_generator_a_is_as_wide_as_promised():
    worlds = [GENERATORS["a"](seed, 60) for seed in (1, 2, 3)]
    assert len({kind for w in worlds for kind in w.truth.families.values()}) >= 10
    assert len({fault.kind.split(":")[0] for w in worlds for fault in w.truth.faults}) >= 10
    flags = {flag for w in worlds for truth in w.truth.samples.values() for flag in truth.confounders}
    wanted = {
        "oil swap", "leaded fuel", "sealant", "long interval", "cold drain", "top-up", "hard session",
        "instrument drift",
        "mixed bottle", "other oil in the bottle", "copper leaching", "assembly lube", "aluminium-silicon bore",
        "new coolant", "cold sample", "instrument change", "blank oil hours", "top-up unlogged", "run-in",
    }  # fmt: skip
    assert wanted <= flags
    sumps = [family.sump_l for w in worlds for family in w.fleet.families.values()]
    assert min(sumps) < 2.0
    assert max(sumps) > 12.0


def test_only_the_record_types_are_used():
    """The simulator may not lean on the code that it scores; judges and tests may call it."""
    allowed = {"benchapp.records"}
    for path in Path(__file__).parent.glob("*.py"):
        if path.name.startswith("test_") or path.name == "judges.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names += [item.name for item in node.names] if isinstance(node, ast.Import) else []
            assert all(name in allowed for name in names if name.startswith("benchapp")), path.name


# --- the workbook ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("letter", LETTERS)
def test_a_fleet_goes_into_a_workbook(letter, tmp_path):
    world = _world(letter)
    path = tmp_path / "fleet.xlsx"
    write_workbook(world.fleet, path)
    book = openpyxl.load_workbook(path)
    results = {row[0]: row[1:] for row in book["Results"].iter_rows(values_only=True)}
    head = results.pop("sample")
    samples = {s.code: s for e in world.fleet.engines for b in e.builds for s in b.samples}
    assert set(results) == set(samples)
    for code, cells in results.items():
        written = {name: cell for name, cell in zip(head, cells, strict=True) if cell is not None}
        assert set(written) == {reading.measurand for reading in samples[code].readings}
        for reading in samples[code].readings:
            if not reading.qualifier:
                assert written[reading.measurand] == reading.value
            elif reading.value is None:
                assert written[reading.measurand] == "ND"
            else:
                assert written[reading.measurand] == f"<{reading.value:g}"
    assert book["Engines"].max_row == len(world.fleet.engines) + 1
    assert next(book["Top-ups"].iter_rows(values_only=True)) == ("engine", "build", "fill", "build_h", "litres")


@pytest.mark.parametrize("letter", LETTERS)
def test_the_workbook_loads_into_a_bench_file(letter, tmp_path):
    """What the bench file holds after loading is what the generator wrote down, sample by sample."""
    world = _world(letter)
    path = tmp_path / "fleet.xlsx"
    write_workbook(world.fleet, path)
    bench = Bench.create(tmp_path / "fleet.bench")
    try:
        workbook.load(bench, path)
        assert _told(bench.fleet()) == _told(world.fleet)
    finally:
        bench.close()


def _told(fleet: Fleet) -> dict[str, tuple]:
    return {
        s.code: (e.name, b.number, s.fill, s.build_h, s.oil_h, s.instrument, s.break_in, _results_of(s))
        for e in fleet.engines
        for b in e.builds
        for s in b.samples
    }


def _results_of(sample) -> list[tuple]:
    return sorted((r.measurand, -1.0 if r.value is None else r.value, r.qualifier) for r in sample.readings)
