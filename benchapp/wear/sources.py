"""Where metal can come from, as columns over the measured elements: parts by material, and the non-wear origins.

Parts of one material cannot be told apart at all, so they share a column from the start; columns that are merely
alike are kept and grouped where they are reported.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from benchapp.records import ElementShare, Material, Part
from benchapp.wear.rules import Rules

Array = NDArray[np.float64]

WEAR, DUST, COOLANT, LEACHING = "wear", "dust", "coolant", "copper leaching"

_SHARE_OF_RATE = {  # usual wear of a kind of material, mg/h per litre of sump; common practice, no source
    "bore": 0.25, "piston": 0.15, "piston_coating": 0.02, "ring": 0.12, "ring_coating": 0.05,
    "bearing_overlay": 0.05, "bearing_lining": 0.04, "bearing_back": 0.002, "babbitt": 0.06, "bushing": 0.05,
    "valvetrain": 0.15, "valve": 0.02, "valve_guide_seat": 0.04, "spring": 0.02, "bottom_end": 0.10,
    "housing": 0.02, "pump_gear": 0.05, "cooler": 0.02,
}
_USUAL = 0.05

_LEAST = 0.02
"""Share of a source that the measured elements must make for it to be seen at all [-] (chosen)."""


@dataclass(frozen=True, slots=True)
class Sources:
    """Columns a build's metal can come from. `fractions` is mg of element per mg of source, elements × sources,
    `tolerance` its standard deviation, `usual` a first guess of each source's rate [mg/h per litre of sump]."""

    elements: tuple[str, ...]
    names: tuple[str, ...]
    parts: tuple[tuple[Part, ...], ...]
    kinds: tuple[str, ...]
    fractions: Array
    tolerance: Array
    usual: Array
    weight: Array
    """How often a source is at fault, relative to others [-]."""
    _alike: dict[tuple[bytes, float], Array] = field(default_factory=dict, repr=False, compare=False)
    """What `alike` has found, by the mask and the limit that it was asked for."""

    @property
    def wear(self) -> Array:
        """Which columns are parts that wear or sheds copper (they have a normal rate), as a mask."""
        return np.array([kind in (WEAR, LEACHING) for kind in self.kinds], dtype=bool)


def _shared(weight: Array, kinds: Sequence[str]) -> Array:
    """Weights that sum to one; variants of one non-wear origin share its weight, copper from a cooler is no fault."""
    shared = np.array(
        [
            0.0 if kind == LEACHING else w / (1 if kind == WEAR else kinds.count(kind))
            for w, kind in zip(weight, kinds, strict=True)
        ]
    )
    return np.asarray(shared / max(float(shared.sum()), 1e-12))


def shares_column(shares: Sequence[ElementShare], index: Mapping[str, int]) -> tuple[Array, Array]:
    """Mass fractions over the measured elements and their standard deviations (a published range read as uniform)."""
    column, spread = np.zeros(len(index)), np.zeros(len(index))
    for share in shares:
        at = index.get(share.element)
        if at is None:
            continue
        nominal = share.nominal_pct if share.nominal_pct is not None else share.max_pct / 4.0
        column[at] = nominal / 100.0
        spread[at] = max(share.max_pct - share.min_pct, 0.0) / 100.0 / np.sqrt(12.0)
    return column, spread


@dataclass(frozen=True, slots=True)
class _Column:
    """One source over the measured elements."""

    name: str
    parts: tuple[Part, ...]
    kind: str
    usual: float
    """First guess of its rate [mg/h per litre of sump]."""
    often: float
    """How often it is at fault, relative to others [-]."""
    fractions: Array
    """mg of element per mg."""
    tolerance: Array
    """Standard deviation of the fractions."""


def build_sources(
    parts: Sequence[Part], materials: Mapping[str, Material], elements: Sequence[str], rules: Rules
) -> Sources:
    """Columns of a build over the measured elements: its parts by material, then dust and coolant.

    A part whose material is unknown, or holds none of the measured elements, has no column."""
    index = {element: i for i, element in enumerate(elements)}
    by_material: dict[str, list[Part]] = {}
    for part in parts:
        if part.material in materials:
            by_material.setdefault(part.material, []).append(part)
    ways = (
        _part_columns(by_material, materials, index, rules),
        _dust_columns(by_material, materials, index, rules),
        _coolant_columns(index, rules),
    )
    found = [column for columns in ways for column in columns if column.fractions.sum() >= _LEAST]
    kinds = tuple(column.kind for column in found)
    shape = (len(elements), len(found))
    return Sources(
        tuple(elements),
        tuple(column.name for column in found),
        tuple(column.parts for column in found),
        kinds,
        np.array([column.fractions for column in found]).T.reshape(shape),
        np.array([column.tolerance for column in found]).T.reshape(shape),
        np.array([column.usual for column in found]),
        _shared(np.array([column.often for column in found]), kinds),
    )


def _part_columns(
    by_material: Mapping[str, Sequence[Part]], materials: Mapping[str, Material], index: Mapping[str, int], rules: Rules
) -> Iterator[_Column]:
    """Parts that wear, those of one material together, and coolers that copper leaches from."""
    least = rules.number("spread", "composition")
    for material_id, group in by_material.items():
        material = materials[material_id]
        column, spread = shares_column(material.shares, index)
        yield _Column(
            " + ".join(part.name for part in group),
            tuple(group),
            LEACHING if material.group == "cooler" else WEAR,
            _SHARE_OF_RATE.get(material.group, _USUAL),
            float(rules.table["often"].get(material.group, 1.0)),
            column,
            np.maximum(spread, least * np.minimum(column, 0.3 * (1.0 - np.minimum(column, 1.0)) + 0.02)),
        )


def _coolant_columns(index: Mapping[str, int], rules: Rules) -> Iterator[_Column]:
    """Coolant, a column for each pack of additives."""
    least = rules.number("spread", "composition")
    for variant in rules.non_wear[COOLANT].variants:
        column, spread = shares_column(variant.shares, index)
        yield _non_wear(COOLANT, column, np.maximum(spread, least * column), rules)


def _non_wear(kind: str, fractions: Array, tolerance: Array, rules: Rules) -> _Column:
    """What no part sheds."""
    return _Column(kind, (), kind, 0.0, float(rules.table["often"][kind]), fractions, tolerance)


_ABRADED = {"bore": 0.6, "ring": 0.2, "ring_coating": 0.1, "piston": 0.2}
"""Which kinds of material dust grinds off, in which proportion (own guess, no source: ring pack, bore and skirts)."""


def _dust_columns(
    by_material: Mapping[str, Sequence[Part]], materials: Mapping[str, Material], index: Mapping[str, int], rules: Rules
) -> Iterator[_Column]:
    """Dust as it shows in oil: the soil itself, and with it what it grinds off bores, rings and pistons."""
    ground, ground_spread = np.zeros(len(index)), np.zeros(len(index))
    for material_id in by_material:
        share = _ABRADED.get(materials[material_id].group, 0.0)
        column, spread = shares_column(materials[material_id].shares, index)
        ground += share * column
        ground_spread = np.hypot(ground_spread, share * spread)
    grinds = rules.table["dust"]["grinds"]
    for number, variant in enumerate(rules.non_wear[DUST].variants):
        if number == 1:  # the two editions of the test dust differ by less than soils do
            continue
        column, spread = shares_column(variant.shares, index)
        for times in grinds if number == 0 else grinds[1:2]:
            yield _non_wear(DUST, column + times * ground, np.hypot(spread, times * ground_spread), rules)


def alike(sources: Sources, hidden: NDArray[np.bool_], within: float) -> Array:
    """Which wearing sources no bench could tell apart, sources × sources: over the elements that the oil does not hide,
    no element's share of the readable metal differs by more than `within` [-]. `hidden`: mask over the elements.

    It is asked for at every sample and kept, so the answer is shared: never change it."""
    key = (hidden.tobytes(), within)
    if key not in sources._alike:
        sources._alike[key] = _worked_out_alike(sources, hidden, within)
    return sources._alike[key]


def _worked_out_alike(sources: Sources, hidden: NDArray[np.bool_], within: float) -> Array:
    shown = np.where(hidden[:, None], 0.0, sources.fractions)
    total = shown.sum(axis=0)
    shares = shown / np.maximum(total, 1e-12)
    distance = np.abs(shares[:, :, None] - shares[:, None, :]).max(axis=0, initial=0.0)
    part = np.array([kind in (WEAR, LEACHING) for kind in sources.kinds], dtype=bool)
    return np.asarray((distance <= within) & np.logical_and.outer(part, part))
