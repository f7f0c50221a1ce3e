"""Generator d keeps its own promises: how wide its fleets are, and failures that follow from the metal lost."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from . import alloys, faults_d, generator_d
from .generators import GENERATORS
from .kinds_d import KINDS
from .labs_d import lab
from .sump import STEP_H


@pytest.fixture(scope="module")
def worlds():
    return [GENERATORS["d"](seed, 60) for seed in (1, 2, 3)]


def test_the_fleets_are_as_wide_as_promised(worlds):
    for world in worlds:
        sizes = Counter(engine.family for engine in world.fleet.engines)
        assert len(sizes) >= 8
        assert sum(count <= 3 for count in sizes.values()) >= 2, "small fleets of a family"
        assert 0.12 <= len(world.truth.faults) / 60 <= 0.6
        healthy = sum(truth.healthy for truth in world.truth.samples.values())
        assert healthy > 0.6 * len(world.truth.samples)
        hours = sum(b.samples[-1].build_h for e in world.fleet.engines for b in e.builds if b.samples)
        assert len(world.truth.samples) <= 0.8 * hours
        lists = [
            len({r.measurand for r in s.readings}) for e in world.fleet.engines for b in e.builds for s in b.samples
        ]
        assert max(lists) <= 20
    sumps = [family.sump_l for world in worlds for family in world.fleet.families.values()]
    assert min(sumps) < 1.5
    assert max(sumps) > 8.0
    assert len({fault.kind for world in worlds for fault in world.truth.faults}) >= 10
    flags = {flag for world in worlds for truth in world.truth.samples.values() for flag in truth.confounders}
    wanted = {
        "run-in", "part changed", "leaded fuel", "sealant", "copper leaching", "assembly lube", "long interval",
        "aluminium-silicon bore", "hard session", "cold drain", "part drain", "other oil in the sump", "top-up",
        "instrument change", "instrument drift", "top-up unlogged", "blank oil hours", "wrong bottle", "mixed bottle",
        "cold sample", "wild reading",
    }  # fmt: skip
    assert wanted <= flags


def _body(rng: np.random.Generator, place: int) -> faults_d.Body:
    house = generator_d._house(KINDS[place], "Type T", rng)
    materials = alloys.materials()
    alloy = {tag: alloys.drawn(materials[key], rng) for tag, key in house.material.items()}
    return faults_d.Body(house.kind, house.litres, 45.0, house.material, house.mg_h, alloy)


@pytest.mark.parametrize("place", range(len(KINDS)))
def test_an_engine_fails_when_the_metal_is_gone_and_not_before(place):
    rng = np.random.default_rng([place, 4])
    body = _body(rng, place)
    found = [faults_d.own_fault(body, bool(n % 2), rng) for n in range(12)]
    found += [faults_d.outside_fault(body, what, True, rng) for what in ("dust", "coolant")]
    made = [trouble for trouble in found if trouble is not None]
    assert len(made) >= 12
    for trouble in made:
        assert trouble.failure_h - trouble.onset_h == pytest.approx(len(trouble.made_mg) * STEP_H)
        assert trouble.failure_h <= faults_d.LATEST * body.life_h + 1e-9
        assert trouble.tags <= set(body.material)
        assert (trouble.made_mg >= 0.0).all()


def test_the_amount_lost_is_the_amount_that_was_to_be_lost():
    rng = np.random.default_rng(6)
    vector = alloys.in_elements(Fe=1.0)
    for shape in ("exponential", "linear", "stepwise"):
        lost = faults_d.rate(shape, 5.0, 3.0, rng)
        found = faults_d._grown(lost, [300.0], [vector], 0.4, 10.0, 60.0)
        assert found is not None
        begin, end, made = found
        assert begin == 10.0
        assert made.sum() >= 0.4 * 300.0
        assert made[:-1].sum() < 0.4 * 300.0, "one step earlier it had not failed"
        assert end - begin == pytest.approx(len(made) * STEP_H)


def test_a_lost_layer_shows_its_own_metal_first_and_then_what_lies_under_it():
    rng = np.random.default_rng(7)
    overlay, lining = alloys.in_elements(Pb=1.0), alloys.in_elements(Cu=1.0)
    found = faults_d._grown(faults_d.rate("linear", 20.0, 2.0, rng), [200.0, 400.0], [overlay, lining], 0.5, 5.0, 60.0)
    assert found is not None
    made = found[2]
    lead, copper = made[:, alloys.INDEX["Pb"]], made[:, alloys.INDEX["Cu"]]
    assert copper[0] == 0.0
    assert lead[-1] == 0.0
    assert lead.sum() + copper.sum() == pytest.approx(0.5 * 600.0, rel=0.05)


def test_a_sound_engine_gives_what_its_parts_give():
    """The same metal by the balance of the sump and by adding up: nothing is lost between part and bottle."""
    rng = np.random.default_rng(3)
    paddock = generator_d._Paddock(rng)
    house = generator_d._house(KINDS[4], "Type T", rng)
    piece = generator_d._Piece(house, rng)
    piece.carried, piece.settle_h = 0.0, 0.0
    life = generator_d._Life("K1", "1", house, paddock.teams[0], paddock, piece, 0.0, 0.5, rng)
    life._new_fill()
    given = []
    sound = life._sound
    life._sound = lambda hours, severity: given.append(sound(hours, severity)) or given[-1]
    before = life.sump.metal_mg[0].copy()
    for _ in range(5):
        life._session(False)
    assert life.sump.metal_mg[0] - before == pytest.approx(np.sum([made.sum(axis=0) for made in given], axis=0))
    assert (life.sump.metal_mg[1] == 0.0).all()


def test_laboratories_read_what_they_say():
    rng = np.random.default_rng(2)
    for own in (True, False):
        for number in range(12):
            bench = lab(f"L{number}", own, rng)
            assert 9 <= len(bench.elements) <= 20
            readings = bench.read(np.full(len(alloys.ELEMENTS), 40.0), generator_d.START, rng)
            assert {reading.measurand for reading in readings} <= set(bench.elements)
            nothing = bench.read(np.zeros(len(alloys.ELEMENTS)), generator_d.START, rng)
            assert any(reading.qualifier == "<" for reading in nothing)
            values = [reading.value for reading in readings if reading.value is not None and not reading.qualifier]
            assert all(abs(value / bench.step_ppm - round(value / bench.step_ppm)) < 1e-6 for value in values)
