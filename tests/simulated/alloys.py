"""Public alloy compositions, and the composition that one real part happens to have inside its published range."""

from __future__ import annotations

import csv
from collections import defaultdict
from functools import cache
from pathlib import Path

import numpy as np

from benchapp.records import ElementShare, Material

TABLE = Path(__file__).resolve().parents[2] / "resources" / "materials.csv"

ELEMENTS = (
    "Fe", "Cr", "Ni", "Mo", "Mn", "V", "Ti", "Al", "Si", "Cu", "Pb", "Sn", "Bi", "Ag", "Sb", "In", "Cd", "W", "Co",
    "Zn", "P", "Ca", "Mg", "B", "Na", "K",
)  # fmt: skip
"""Everything that a simulated oil can carry, in the order of every concentration vector."""
INDEX = {element: place for place, element in enumerate(ELEMENTS)}
ADDITIVES = ("Zn", "P", "Ca", "Mg", "B", "Mo", "Na")


def _number(text: str) -> float | None:
    return float(text) if text.strip() else None


@cache
def materials() -> dict[str, Material]:
    """Material id -> record, read from the public table. [wt %]"""
    rows = defaultdict(list)
    with TABLE.open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            rows[row["id"]].append(row)
    return {key: _material(key, lines) for key, lines in rows.items()}


def _material(key: str, lines: list[dict[str, str]]) -> Material:
    first = lines[0]
    shares = tuple(
        ElementShare(
            element=row["element"],
            nominal_pct=_number(row["nominal_pct"]),
            min_pct=_number(row["min_pct"]) or 0.0,
            max_pct=_number(row["max_pct"]) or 0.0,
            source=row["source"],
            status=row["status"],
        )
        for row in lines
    )
    return Material(id=key, name=first["name"], group=first["group"], used_for=first["used_for"], shares=shares)


def nominal(material: Material) -> np.ndarray:
    """Mass fractions as published, over `ELEMENTS`. [kg/kg]"""
    vector = np.zeros(len(ELEMENTS))
    for share in material.shares:
        if share.element in INDEX and share.nominal_pct is not None:
            vector[INDEX[share.element]] = share.nominal_pct / 100.0
    return vector


def drawn(material: Material, rng: np.random.Generator) -> np.ndarray:
    """Mass fractions of one real piece: each share somewhere in its published range. [kg/kg]

    An impurity with only an upper limit lies mostly well below it. Shares over 100 % in sum are scaled back.
    """
    vector = np.zeros(len(ELEMENTS))
    total = 0.0
    for share in material.shares:
        low, high = share.min_pct, max(share.max_pct, share.min_pct)
        if share.nominal_pct is None:
            pct = low + (high - low) * rng.beta(1.2, 3.0)
        elif high > low:
            middle = min(max(share.nominal_pct, low), high)
            pct = rng.triangular(low, middle, high)
        else:
            pct = share.nominal_pct
        total += pct
        if share.element in INDEX:
            vector[INDEX[share.element]] = pct / 100.0
    return vector * (100.0 / total if total > 100.0 else 1.0)


def in_elements(**ppm_or_share: float) -> np.ndarray:
    """A vector over `ELEMENTS` from keywords: `in_elements(Fe=1.0)`."""
    vector = np.zeros(len(ELEMENTS))
    for element, value in ppm_or_share.items():
        vector[INDEX[element]] = value
    return vector
