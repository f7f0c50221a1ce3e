"""What is suspected: one source, or a group of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from benchapp.records import Build, Material, Part
from benchapp.wear import words
from benchapp.wear.look import Look
from benchapp.wear.rules import Rules
from benchapp.wear.sources import COOLANT, DUST


@dataclass(frozen=True, slots=True)
class Suspect:
    """One source, or a group that no bench could tell apart: `members` are columns, the most probable first."""

    name: str
    parts: tuple[str, ...]
    kind: str
    members: tuple[int, ...]
    probability: float
    extra: float
    """Extra rate now [mg/h]."""
    normal: float
    """Settled normal rate of its members together [mg/h]."""
    phrase: str
    """Key of its phrases, see `phrase_of`."""


def phrase_of(
    name: str, parts: tuple[str, ...], kind: str, build: Build, materials: Mapping[str, Material], known: words.Words
) -> str:
    """Key of the phrases: for a part what its role says, else its material's group; the name of a non-wear origin; for
    parts of several kinds all of them in the order of the parts, as `words.Words` takes them."""
    if kind in (DUST, COOLANT) or not parts:
        return name
    pieces = {part.name: part for part in build.parts}
    return words.MIXED.join(dict.fromkeys(_kind_of(pieces.get(part), materials, known) for part in parts))


def _kind_of(part: Part | None, materials: Mapping[str, Material], known: words.Words) -> str:
    material = materials.get(part.material) if part else None
    group = material.group if material else "other"
    return known.kind_of(part.role or part.name, group) if part else group


def may_be_fuel(source: int, look: Look, rules: Rules) -> bool:
    """Whether what points to a source (its column) is lead above all, and nobody has written down what fuel was burnt:
    leaded fuel shows the same, and the person who filled the tank knows."""
    if not look.fuel_unsaid or "Pb" not in look.sources.elements:
        return False
    shares = look.sources.fractions[:, source]
    lead = float(shares[look.sources.elements.index("Pb")])
    return lead > rules.number("table", "fuel_lead_share") * float(shares.sum())
