"""Which parts, or which origin that is no part, a reason points to.

Every reason names a source: a part of the build, parts joined by " + ", or an origin that is no part. What a reason is
about (an element over its ceiling, a filter, a leak-down, the oil) is none of these; here it is led back to one."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

from benchapp.records import Build, Material
from benchapp.wear.look import Look
from benchapp.wear.sources import COOLANT, DUST, LEACHING
from benchapp.wear.suspect import Suspect

OTHER_OIL = "other oil"

Aim = tuple[str, tuple[str, ...]]
"""Source of a reason and its parts; () for an origin that is no part."""

_HOLDS = 0.01
"""Share of a material from which an element is more than a trace in it (chosen: alloyed, not left in)."""

_BESIDE = 0.02
"""And of the part that holds most of it: the iron in a piston is a trace beside that of a bore (chosen)."""

_ALLOYED = 0.001
"""The same where no part holds more: steels are alloyed with so much molybdenum or vanadium (chosen)."""

_BROUGHT = {"Na": COOLANT, "K": COOLANT, "B": COOLANT, "Si": DUST}
"""What brings an element that comes from outside before all else."""

_ELSE = {"Pb": "fuel lead", "Cu": LEACHING}
"""And one that is a part's, where this build has no such part; any other is of oil that does not belong here."""


def aim(parts: Sequence[str], origin: str = "") -> Aim:
    """Parts as a source, or the origin where there are none."""
    names = tuple(dict.fromkeys(parts))
    return (" + ".join(names), names) if names else (origin, ())


def holders(look: Look, element: str) -> Aim:
    """The parts that hold an element in more than a trace, the likeliest first; the origin that brings it where no
    part of this build does."""
    if element not in look.sources.elements:
        return aim((), _BROUGHT.get(element, OTHER_OIL))
    shares = look.sources.fractions[look.sources.elements.index(element)].tolist()
    made_of = [share if parts else 0.0 for share, parts in zip(shares, look.sources.parts, strict=True)]
    beside = _BESIDE * max(made_of, default=0.0)
    for least in (_HOLDS,) if element in _BROUGHT else (_HOLDS, _ALLOYED):
        parts = _named(look, {j for j, share in enumerate(made_of) if share >= max(least, beside)}, shares)
        if parts:
            return aim(parts)
    return aim((), _BROUGHT.get(element, _ELSE.get(element, OTHER_OIL)))


def of_metal(
    ferrous: bool, look: Look, suspects: Sequence[Suspect], build: Build, materials: Mapping[str, Material]
) -> Aim:
    """Where pieces of iron or steel (`ferrous`), or of another metal, come from: the likeliest group suspected that is
    of such metal, else every part that is; the build's parts where it has none."""
    right = {p.name for p in build.parts if p.material in materials and _ferrous(materials[p.material]) == ferrous}
    for suspect in suspects:
        if suspect.parts and right.issuperset(suspect.parts):
            return aim(suspect.parts)
    shed = [kind != LEACHING for kind in look.sources.kinds]  # a cooler gives copper to the oil, no pieces
    columns = {j for j, parts in enumerate(look.sources.parts) if shed[j] and any(p.name in right for p in parts)}
    found = [name for name in _named(look, columns, [1.0] * len(shed)) if name in right]
    return aim(found or [part.name for part in build.parts])


def of_groups(build: Build, materials: Mapping[str, Material], groups: Collection[str]) -> Aim:
    """The parts of some kinds of material; all of the build's where it has none of them."""
    found = [p.name for p in build.parts if p.material in materials and materials[p.material].group in groups]
    return aim(found or [part.name for part in build.parts])


def _named(look: Look, columns: Collection[int], shares: Sequence[float]) -> list[str]:
    """Names of the parts of some columns: by how likely each is at fault, then by what it usually sheds of it."""
    chance, usual = look.evidence.probability.tolist(), look.normal.tolist()

    def order(j: int) -> tuple[float, float]:
        return -round(chance[j], 3), -usual[j] * shares[j]

    return list(_parts(look, sorted(columns, key=order)))


def _parts(look: Look, columns: Sequence[int]) -> Iterator[str]:
    for j in columns:
        yield from (part.name for part in look.sources.parts[j])


def _ferrous(material: Material) -> bool:
    """Whether a magnet takes it: more iron than all else."""
    return any(share.element == "Fe" and (share.nominal_pct or 0.0) > 50.0 for share in material.shares)
