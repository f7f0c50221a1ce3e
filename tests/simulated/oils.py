"""Made-up oils: what is in them when new (their additive packs) and what a team knows of that."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchapp.records import Oil

from .alloys import ELEMENTS, INDEX, in_elements

PACKS = {
    # kind -> element -> range when new [ppm]; common practice from memory, widened
    "break-in": {"Zn": (1500, 2500), "P": (1300, 2200), "Ca": (100, 1500), "Mg": (0, 60), "B": (0, 60), "Mo": (0, 60)},
    "race": {"Zn": (1200, 1800), "P": (1050, 1600), "Ca": (800, 3000), "Mg": (5, 400), "B": (0, 250), "Mo": (0, 800)},
    "race magnesium": {
        "Zn": (1100, 1600),
        "P": (950, 1400),
        "Ca": (100, 500),
        "Mg": (700, 1500),
        "B": (50, 300),
        "Mo": (60, 500),
    },
    "race sodium": {
        "Zn": (1200, 1700),
        "P": (1000, 1500),
        "Ca": (1200, 2200),
        "Na": (150, 500),
        "B": (0, 100),
        "Mo": (0, 150),
    },
    "road": {"Zn": (750, 1100), "P": (650, 950), "Ca": (1100, 2600), "Mg": (10, 600), "B": (0, 250), "Mo": (20, 250)},
}


@dataclass(frozen=True)
class NewOil:
    """An oil as it really is, and its record. `fresh` over the elements [ppm]."""

    name: str
    fresh: np.ndarray
    record: Oil

    def batch(self, rng: np.random.Generator) -> np.ndarray:
        """One delivery: a few per cent off the last one. [ppm]"""
        return self.fresh * np.exp(rng.normal(0.0, 0.025, self.fresh.size))


def new_oil(name: str, pack: str, rng: np.random.Generator, known: float = 0.85) -> NewOil:
    """An oil drawn from a pack; its fresh analysis is in the record with probability `known`."""
    fresh = in_elements(Si=rng.uniform(1, 8), Na=rng.uniform(0, 4), K=rng.uniform(0, 2), Fe=rng.uniform(0, 1))
    for element, (low, high) in PACKS[pack].items():
        fresh[INDEX[element]] = rng.uniform(low, high)
    fresh_ppm = {}
    if rng.random() < known:
        measured = fresh * np.exp(rng.normal(0.0, 0.02, fresh.size)) + np.abs(rng.normal(0.0, 0.2, fresh.size))
        listed = ("Zn", "P", "Ca", "Mg", "B", "Mo", "Na", "K", "Si", "Fe", "Cu", "Pb", "Al")
        fresh_ppm = {el: round(float(measured[INDEX[el]]), 1) for el in listed if el in ELEMENTS}
    grade = str(rng.choice(("0W-20", "5W-40", "10W-60", "15W-50", "20W-50", "30")))
    record = Oil(name=name, kind=pack.split()[0], sae_grade=grade, density_15c_kg_l=0.87, fresh_ppm=fresh_ppm)
    return NewOil(name, fresh, record)
