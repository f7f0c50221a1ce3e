"""The lines of the report: parts that the measured elements cannot tell apart, and each origin that is no part."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.records import Build, Material, Part
from benchapp.wear.rules import Rules
from benchapp.wear.sources import LEACHING, WEAR, Sources, alike

Array = NDArray[np.float64]

THINNEST_UM = 5.0
"""Layers thinner than this [µm] (tin flash 1-3, nickel dam 1-3: bearing patents) are no loss when they are gone."""


@dataclass(frozen=True, slots=True)
class Cluster:
    """Columns of the sources that one line of the report speaks of, with what of them stays as it is in a build."""

    columns: tuple[int, ...]
    name: str
    parts: tuple[str, ...]
    pieces: tuple[Part, ...]
    """The build's parts of those names."""
    layer_mg: float
    """Metal in the thinnest layer that counts [mg]; infinite where none is known."""


@dataclass(frozen=True, slots=True)
class Clusters:
    """All lines of a build. `member` is sources × lines, one where a source belongs to a line; `mean` elements × lines,
    the mean composition of a line's sources [mg/mg]."""

    lines: tuple[Cluster, ...]
    member: Array
    mean: Array
    layer_mg: Mapping[tuple[str, ...], float]
    """Parts of a line -> its `layer_mg`."""


def clusters_of(
    sources: Sources, hidden: NDArray[np.bool_], build: Build, materials: Mapping[str, Material], rules: Rules
) -> Clusters:
    """All lines of a build, over what the oil does not hide."""
    named = {part.name: part for part in build.parts}
    lines = []
    for columns in _columns(sources, alike(sources, hidden, rules.number("table", "alike"))):
        parts = tuple(part.name for j in columns for part in sources.parts[j])
        name = " + ".join(parts) if parts else sources.names[columns[0]]
        pieces = tuple(named[part] for part in parts if part in named)
        lines.append(Cluster(columns, name, parts, pieces, _layer_mg(parts, build, materials)))
    member = np.zeros((len(sources.names), len(lines)))
    for k, line in enumerate(lines):
        member[list(line.columns), k] = 1.0
    mean = sources.fractions @ (member / np.maximum(member.sum(axis=0), 1.0))
    return Clusters(tuple(lines), member, mean, {line.parts: line.layer_mg for line in lines})


def _columns(sources: Sources, same: Array) -> list[tuple[int, ...]]:
    """Columns in groups: parts that the measured elements cannot tell apart, and each non-wear origin as one."""
    left, found = list(range(len(sources.names))), []
    while left:
        first = left[0]
        kind, name = sources.kinds[first], sources.names[first]
        if kind in (WEAR, LEACHING):
            group = [j for j in left if j == first or same[first, j]]
        else:
            group = [j for j in left if sources.names[j] == name]
        found.append(tuple(group))
        left = [j for j in left if j not in group]
    return found


def _layer_mg(names: Sequence[str], build: Build, materials: Mapping[str, Material]) -> float:
    """Metal in the thinnest layer of these parts [mg], those left out that may go; infinite where none is known."""
    least = math.inf
    for part in build.parts:
        material = materials.get(part.material)
        thick = part.thickness_um if part.thickness_um and part.thickness_um >= THINNEST_UM else None
        if part.name in names and part.area_cm2 and thick and material and material.density_g_cm3:
            least = min(least, part.area_cm2 * thick * material.density_g_cm3 * 0.1)
    return least
