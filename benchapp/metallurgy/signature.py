"""From parts to elements: which metal, in which proportion, each part would give the oil if it wore.

The method's section "The signature": a matrix A of mass fractions (element × source) and its tolerance S (one standard
deviation), from the composition ranges of the materials. Parts of one same material stay separate sources; what cannot
be told apart is found by `separation` and put together by `merged`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from benchapp.problems import BenchProblem
from benchapp.records import ElementShare, Material, Part

FloatArray = npt.NDArray[np.float64]

NOT_READ = frozenset({"C", "O", "N", "F"})
"""Elements that metals analysis of oil does not see: the oil itself is made of them, or they are gas."""

BACK_ROLE = "bearing back"
"""Steel of a shell: it can wear only when the lining above it is through, so it is left out unless asked for."""

LAYER_ORDER = ("flash", "overlay", "dam", "lining", "back")
"""Layers of a shell from the running face down."""


class NonWearLike(Protocol):
    """What the signature needs of a non-wear source (`library.NonWear` is one)."""

    @property
    def name(self) -> str: ...

    @property
    def shares(self) -> tuple[ElementShare, ...]: ...


@dataclass(frozen=True, slots=True)
class Source:
    """One column of the signature: a part, a merged group of parts, or a non-wear origin."""

    name: str
    """The part's name; of a group its parts joined by ' + '."""
    parts: tuple[str, ...]
    """Empty for a non-wear origin."""
    kind: str
    """'part' or 'non-wear'."""
    role: str = ""
    material: str = ""
    """Material id, empty for a group of several materials and for a non-wear origin."""
    density_g_cm3: float | None = None
    area_cm2: float | None = None
    """Wearing area, all pieces together [cm²]; of a group None, for micrometres need one layer."""
    thickness_um: float | None = None
    stack: str = ""
    """Shell that a layer belongs to ('main bearing', 'rod bearing'), or empty."""
    depth: int | None = None
    """Place in the shell, 0 at the running face, or None."""


@dataclass(frozen=True, slots=True, eq=False)
class Signature:
    """Elements × sources. `A` mass fractions [-], `S` their tolerance as one standard deviation [-], both (E, J)."""

    elements: tuple[str, ...]
    sources: tuple[Source, ...]
    A: FloatArray
    S: FloatArray

    def index(self, name: str) -> int:
        """Column of the source of this name. Raises KeyError where there is none."""
        for j, source in enumerate(self.sources):
            if source.name == name:
                return j
        raise KeyError(name)

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(source.name for source in self.sources)

    def with_elements(self, elements: Iterable[str]) -> Signature:
        """The rows of these elements, in their order; an element the signature lacks becomes a row of zeros."""
        wanted = tuple(elements)
        place = {element: i for i, element in enumerate(self.elements)}
        A = np.zeros((len(wanted), len(self.sources)))
        S = np.zeros_like(A)
        for row, element in enumerate(wanted):
            if element in place:
                A[row] = self.A[place[element]]
                S[row] = self.S[place[element]]
        return Signature(wanted, self.sources, A, S)

    def with_sources(self, names: Iterable[str]) -> Signature:
        """The columns of these sources, in their order. Raises KeyError for an unknown name."""
        columns = [self.index(name) for name in names]
        return Signature(
            self.elements, tuple(self.sources[j] for j in columns), self.A[:, columns].copy(), self.S[:, columns].copy()
        )


# --- one share ------------------------------------------------------------------------------------------------------


def share_mean(share: ElementShare) -> float:
    """Mass fraction [-] to reckon with.

    The nominal, or where the source gives only an upper limit a third of it: an impurity is most likely small, so it is
    taken as triangular, highest at zero (mean max/3). Own choice, no source."""
    if share.nominal_pct is None:
        return share.max_pct / 300.0
    return share.nominal_pct / 100.0


def share_sd(share: ElementShare) -> float:
    """One standard deviation of the mass fraction [-] about `share_mean`.

    A composition range says only that the value lies within it, so it is taken as uniform; about an off-centre nominal
    m the mean square is ((max−m)³ + (m−min)³) / (3 (max−min)). An impurity: triangular, max/√18."""
    if share.nominal_pct is None:
        return share.max_pct / 100.0 / float(np.sqrt(18.0))
    low, high, middle = share.min_pct, share.max_pct, share.nominal_pct
    width = high - low
    if width <= 0.0:
        return 0.0
    square = ((high - middle) ** 3 + (middle - low) ** 3) / (3.0 * width)
    return float(np.sqrt(max(square, 0.0))) / 100.0


def composition(shares: Sequence[ElementShare]) -> dict[str, tuple[float, float]]:
    """Element -> (mass fraction, standard deviation) [-] of one material."""
    return {share.element: (share_mean(share), share_sd(share)) for share in shares}


# --- the matrix -----------------------------------------------------------------------------------------------------


def layer_of(part: Part) -> tuple[str, int | None]:
    """Shell and depth of a layer, from its role: ('main bearing', 1) for 'main bearing overlay'; else ('', None)."""
    role = part.role.casefold()
    name = part.name.casefold()
    for depth, layer in enumerate(LAYER_ORDER):
        text = name if layer == "back" else role
        if text.endswith(f"bearing {layer}"):
            return text[: -len(layer)].strip(), depth
    return "", None


def signature(
    parts: Sequence[Part],
    materials: Mapping[str, Material],
    *,
    elements: Sequence[str] | None = None,
    non_wear: Iterable[NonWearLike] = (),
    with_backs: bool = False,
) -> Signature:
    """The signature of a build.

    `parts` of the build; `materials` id -> Material; `elements` rows wanted (None: every element of these materials
    that can be read, in order of appearance); `non_wear` sources added as columns behind the parts, those without any
    metal left out; `with_backs`: the steel backs of shells too.

    Raises BenchProblem for a part whose material is unknown, or for two sources of one name."""
    wearing = [part for part in parts if with_backs or part.role != BACK_ROLE]
    columns: list[tuple[Source, dict[str, tuple[float, float]]]] = [
        (_part_source(part, _material(part, materials)), composition(_material(part, materials).shares))
        for part in wearing
    ]
    columns += [
        (Source(name=other.name, parts=(), kind="non-wear"), composition(other.shares))
        for other in non_wear
        if other.shares
    ]
    _no_doubles([source.name for source, _ in columns])
    rows = tuple(elements) if elements is not None else _elements_of(mass for _, mass in columns)
    A = np.zeros((len(rows), len(columns)))
    S = np.zeros_like(A)
    for j, (_, mass) in enumerate(columns):
        for i, element in enumerate(rows):
            A[i, j], S[i, j] = mass.get(element, (0.0, 0.0))
    return Signature(rows, tuple(source for source, _ in columns), A, S)


def merged(whole: Signature, groups: Sequence[Sequence[str]]) -> Signature:
    """The signature with each group of sources as one column.

    The column is the plain mean of its members, for nobody knows which of them wears; the spread of the members is
    added to the tolerance. A group's name is its members joined by ' + '. Sources in no group are left out. Raises
    KeyError for an unknown name."""
    sources: list[Source] = []
    A = np.zeros((len(whole.elements), len(groups)))
    S = np.zeros_like(A)
    for g, group in enumerate(groups):
        columns = [whole.index(name) for name in group]
        members = [whole.sources[j] for j in columns]
        A[:, g] = whole.A[:, columns].mean(axis=1)
        S[:, g] = np.sqrt((whole.S[:, columns] ** 2).mean(axis=1) + whole.A[:, columns].var(axis=1))
        sources.append(members[0] if len(members) == 1 else _group_source(members))
    return Signature(whole.elements, tuple(sources), A, S)


def _material(part: Part, materials: Mapping[str, Material]) -> Material:
    try:
        return materials[part.material]
    except KeyError:
        raise BenchProblem(
            f'Part "{part.name}" is of material "{part.material}", which is not in the materials table.',
            "What its wear would look like in the oil is not known, so no call can be made with this part.",
            "Choose a material of the list for this part, or add the material.",
        ) from None


def _no_doubles(names: Sequence[str]) -> None:
    doubles = sorted({name for name in names if names.count(name) > 1})
    if doubles:
        raise BenchProblem(
            f'Two parts have the same name: "{doubles[0]}".',
            "A call names parts by their names, so it could not say which of the two it means.",
            "Give each part of the build its own name.",
        )


def _part_source(part: Part, material: Material) -> Source:
    stack, depth = layer_of(part)
    return Source(
        name=part.name,
        parts=(part.name,),
        kind="part",
        role=part.role,
        material=part.material,
        density_g_cm3=material.density_g_cm3,
        area_cm2=part.area_cm2,
        thickness_um=part.thickness_um,
        stack=stack,
        depth=depth,
    )


def _group_source(members: Sequence[Source]) -> Source:
    """A group keeps what all its members share: kind, role, material, density, shell and depth."""
    first = members[0]
    same_material = all(member.material == first.material for member in members)
    return Source(
        name=" + ".join(member.name for member in members),
        parts=tuple(part for member in members for part in member.parts),
        kind="part" if any(member.kind == "part" for member in members) else "non-wear",
        role=first.role if all(member.role == first.role for member in members) else "",
        material=first.material if same_material else "",
        density_g_cm3=first.density_g_cm3 if same_material else None,
        depth=first.depth if all(member.depth == first.depth for member in members) else None,
    )


def _elements_of(columns: Iterable[Mapping[str, tuple[float, float]]]) -> tuple[str, ...]:
    seen: dict[str, None] = {}
    for mass in columns:
        for element in mass:
            if element not in NOT_READ:
                seen[element] = None
    return tuple(seen)
