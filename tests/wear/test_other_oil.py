"""Which other oil of the bench file a sample's additives are: properties on invented oils."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from benchapp.records import Oil
from benchapp.wear.other_oil import ANOTHER_OIL, Error, Sampled, nearest, poured

ELEMENTS = ("Zn", "P", "Ca", "Mg", "Mo", "B", "Na", "K")
HERE = np.array([1250.0, 1100.0, 2750.0, 30.0, 175.0, 130.0, 2.0, 0.5])
OTHERS = {
    "invented soda": np.array([1480.0, 1360.0, 2200.0, 1.0, 97.0, 20.0, 300.0, 0.2]),
    "invented magnesium": np.array([1210.0, 1210.0, 430.0, 1480.0, 212.0, 97.0, 1.0, 0.4]),
}
OILS = {
    name: Oil(name, "race", fresh_ppm=dict(zip(ELEMENTS, level.tolist(), strict=True)))
    for name, level in {"here": HERE, **OTHERS}.items()
}
LEAK = np.array([[0.0, 0.0, 0.0, 0.0, 0.0, 0.1, 0.6, 0.3]]).T
"""A coolant: sodium, potassium, some boron."""
ALL = np.ones(len(ELEMENTS), dtype=bool)
VARIANCE = (0.03 * HERE + 0.5) ** 2


def found(reading, told=ALL, rivals=LEAK, renewed=False):
    sampled = Sampled(ELEMENTS, reading, VARIANCE, HERE, told, rivals, np.zeros(len(HERE)), renewed)
    return poured(sampled, OILS, "here", Error(0.06, 3.0), 25.0)


@given(st.sampled_from(sorted(OTHERS)), st.floats(0.4, 1.0), st.integers(0, 2**32 - 1))
def test_the_oil_and_its_part_are_found(name, share, seed):
    true = (1.0 - share) * HERE + share * OTHERS[name]
    reading = true * (1.0 + 0.02 * np.random.default_rng(seed).standard_normal(len(true)))
    other = found(reading)
    assert other is not None
    assert other.name == name
    assert abs(other.share - share) < 0.08
    assert other.moved.sum() >= 2


@given(st.integers(0, 2**32 - 1), st.floats(0.0, 600.0))
def test_noise_and_a_leak_are_no_other_oil(seed, leak_mg_kg):
    noise = 1.0 + 0.03 * np.random.default_rng(seed).standard_normal(len(HERE))
    assert found(HERE * noise + leak_mg_kg * LEAK[:, 0]) is None


def test_one_element_alone_or_too_few_tell_nothing():
    sodium = HERE.copy()
    sodium[6] = 300.0
    assert found(sodium, rivals=np.zeros((len(HERE), 0))) is None
    few = np.array([e in ("Na", "B") for e in ELEMENTS])
    assert found(OTHERS["invented soda"], told=few) is None
    assert found(OTHERS["invented soda"]) is not None


def test_a_whole_fill_of_an_oil_that_differs_in_sodium_alone(monkeypatch):
    twin = HERE.copy()
    twin[6] = 390.0
    fresh = dict(zip(ELEMENTS, twin.tolist(), strict=True))
    monkeypatch.setitem(OILS, "invented twin", Oil("invented twin", "race", fresh_ppm=fresh))
    reading = 0.1 * HERE + 0.9 * twin
    whole = found(reading, renewed=True)
    assert whole is not None
    assert whole.name == "invented twin"
    assert found(reading) is None, "no oil was poured since the last sample"
    assert found(reading, rivals=np.zeros((len(HERE), 0))) is None
    assert found(0.6 * HERE + 0.4 * twin, renewed=True) is None, "no whole fill"
    assert found(HERE + 500.0 * LEAK[:, 0], renewed=True) is None, "potassium and boron rise with a leak's sodium"


def test_what_was_not_read_is_left_out():
    reading = OTHERS["invented soda"].copy()
    reading[[0, 3]] = np.nan
    other = found(reading)
    assert other is not None
    assert not other.moved[[0, 3]].any()


def test_what_a_rival_explains_nearly_as_well_is_no_other_oil():
    away = OTHERS["invented magnesium"] - HERE
    nearly = away * (1.0 + 0.1 * np.array([1.0, -1.0] * 4))
    reading = HERE + 0.9 * away
    assert found(reading) is not None
    assert found(reading, rivals=nearly[:, None]) is None


def test_the_oil_that_comes_nearest_is_named():
    half = 0.5 * HERE + 0.5 * OTHERS["invented magnesium"]
    assert nearest(ELEMENTS, OILS, "here", half, HERE)[0] == "invented magnesium"
    assert nearest(ELEMENTS, OILS, "here", OTHERS["invented soda"], HERE)[0] == "invented soda"
    assert nearest(ELEMENTS, OILS, "here", 3.0 * HERE, HERE)[0] == ANOTHER_OIL
    assert nearest(ELEMENTS, OILS, "here", HERE, HERE)[0] == ANOTHER_OIL, "the oil on record is not another"
    few = np.where(np.arange(len(HERE)) == 2, half, np.nan)
    assert nearest(ELEMENTS, OILS, "here", few, HERE)[0] == ANOTHER_OIL


WITH_SILICON = (*ELEMENTS, "Si")
ROAD_SALT = np.array([[0.0, 0.0, 0.03, 0.02, 0.0, 0.0, 0.04, 0.0, 0.25]]).T
"""A dust with salt in it: much silicon, some calcium, magnesium and sodium."""


def test_a_rival_must_bring_all_that_it_holds():
    """A quarter of an oil rich in sodium and magnesium: dust would do the same, but with silicon that is not there."""
    here, other = np.append(HERE, 5.0), np.append(HERE, 5.0)
    other[3], other[6] = 310.0, 260.0
    oils = {name: Oil(name, "race", fresh_ppm=dict(zip(WITH_SILICON, level.tolist(), strict=True)))
            for name, level in (("here", here), ("invented salt", other))}  # fmt: skip
    told = np.array([element != "Si" for element in WITH_SILICON])

    def of(reading):
        sampled = Sampled(WITH_SILICON, reading, (0.03 * here + 0.5) ** 2, here, told, ROAD_SALT, np.zeros(len(here)))
        return poured(sampled, oils, "here", Error(0.06, 3.0), 15.0)

    quarter = of(0.75 * here + 0.25 * other)
    assert quarter is not None
    assert quarter.name == "invented salt"
    assert abs(quarter.share - 0.25) < 0.02
    assert of(here + 1600.0 * ROAD_SALT[:, 0]) is None
