"""Which sources can be told apart with the elements a bench measures, before any sample exists.

The method's section "The signature": never report a split that the data cannot carry. Every source is pictured as
wearing just enough to be clearly seen, and two sources are one group where the other, in the best amount, would give
the same reading within noise and the tolerance of the alloys. What is left over is the Schur complement of the pair's
noise-weighted normal matrix N = AᵀWA: N_jj − N_jk² / N_kk.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from benchapp.metallurgy.signature import NOT_READ, Signature, merged
from benchapp.records import NoiseLine

FloatArray = npt.NDArray[np.float64]

CLEAR_PPM = 20.0
"""A source is pictured as wearing until its strongest readable element has risen by this much [ppm]. Own default."""

CLEAR_NOISES = 10.0
"""... and by at least this many standard deviations of its reading. Own default."""

APART = 3.0
"""Two sources are apart from this distance [standard deviations] on. Own default: about 1 in 400 by chance."""

HARD_TO_READ = frozenset({"S", "Y", "Nd", "Nb", "Zr", "As", "Be"})
"""Never offered as the extra element: no bench of a race team reads them (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class LooksLike:
    """A group that a blend of others imitates: their split will have wide intervals."""

    group: str
    others: tuple[str, ...]
    distance: float
    """How far off the best imitation stays [standard deviations]."""


@dataclass(frozen=True, slots=True)
class ExtraElement:
    """The one element more that would tell most apart."""

    element: str
    groups: int
    """Number of groups with it."""
    splits: tuple[tuple[str, str], ...]
    """Pairs of sources it would tell apart that are one group now."""


@dataclass(frozen=True, slots=True)
class Separation:
    """What can be told apart. `groups`: names of sources that stay together, in the order of the signature."""

    elements: tuple[str, ...]
    groups: tuple[tuple[str, ...], ...]
    unseen: tuple[str, ...]
    """Sources that none of the elements shows."""
    looks_like: tuple[LooksLike, ...]
    extra: ExtraElement | None

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(group_name(group) for group in self.groups)

    def group_of(self, source: str) -> tuple[str, ...]:
        """The group that holds this source, or () for one that cannot be seen."""
        for group in self.groups:
            if source in group:
                return group
        return ()

    def words(self) -> tuple[str, ...]:
        """The findings, a sentence each, as they are shown to the user."""
        return _words(self)


def group_name(group: Sequence[str]) -> str:
    """'crank + rods + camshaft'."""
    return " + ".join(group)


def noise_sd(
    elements: Sequence[str], noise: Mapping[str, NoiseLine], background_ppm: Mapping[str, float]
) -> FloatArray:
    """Reading noise [ppm] of a difference of two readings at the background level of each element.

    The rise itself adds no noise here: the tolerance of the alloys outweighs it. Raises KeyError for an element without
    a noise line."""
    level = np.array([background_ppm.get(element, 0.0) for element in elements])
    a = np.array([noise[element].a_ppm for element in elements])
    b = np.array([noise[element].b for element in elements])
    return np.asarray(np.sqrt(2.0 * (a**2 + (b * level) ** 2)))


def distances(
    whole: Signature, sd_ppm: FloatArray, clear_ppm: float = CLEAR_PPM
) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
    """Pairwise distance [standard deviations], shape (J, J), and which sources can be seen at all, shape (J,).

    d(j, k): source j wears until clearly seen; k in the amount that fits best; what is left of j over noise and alloy
    tolerance of both. The smaller of d(j, k) and d(k, j) counts: symmetric, zeros on the diagonal."""
    scaled, tolerance, seen = _clear_rise(whole, sd_ppm, clear_ppm)
    d = _misfits(scaled[:, :, None], tolerance[:, :, None], scaled[:, None, :], tolerance[:, None, :], sd_ppm)
    np.fill_diagonal(d, 0.0)
    return np.minimum(d, d.T), seen


def separation(
    whole: Signature,
    noise: Mapping[str, NoiseLine],
    *,
    measured: Iterable[str] | None = None,
    background_ppm: Mapping[str, float] | None = None,
    apart: float = APART,
    clear_ppm: float = CLEAR_PPM,
    with_extra: bool = True,
) -> Separation:
    """What can be told apart with the elements `measured` (None: all that the signature has and noise is known for).

    `noise` element -> NoiseLine of the instrument; `background_ppm` what the oil holds anyway (additives hide wear);
    `apart` the distance [standard deviations] from which two are told apart; `clear_ppm` the rise [ppm] at which it is
    asked; `with_extra` also looks for the one element more that would help most. Groups are built up by nearest pairs,
    every pair within a group being nearer than `apart` (complete linkage)."""
    bench = _Bench(noise, background_ppm or {}, apart, clear_ppm)
    wanted = set(whole.elements if measured is None else measured)
    rows = tuple(e for e in whole.elements if e in wanted and e in noise and e not in NOT_READ)
    groups, unseen = _groups(whole, rows, bench)
    return Separation(
        elements=rows,
        groups=groups,
        unseen=unseen,
        looks_like=_imitations(whole, rows, bench, groups),
        extra=_extra(whole, rows, bench, groups) if with_extra else None,
    )


# --- the computation ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Bench:
    """What stays the same through one search."""

    noise: Mapping[str, NoiseLine]
    background_ppm: Mapping[str, float]
    apart: float
    clear_ppm: float


def _clear_rise(
    whole: Signature, sd_ppm: FloatArray, clear_ppm: float
) -> tuple[FloatArray, FloatArray, npt.NDArray[np.bool_]]:
    """A and S scaled to ppm [ppm]: each source wears until its best-read element has clearly risen."""
    columns = np.arange(len(whole.sources))
    if not whole.elements:
        empty = np.zeros((0, columns.size))
        return empty, empty, np.zeros(columns.size, dtype=bool)
    main = (whole.A / sd_ppm[:, None]).argmax(axis=0)
    share = whole.A[main, columns]
    seen = share > 0.0
    rise = np.maximum(clear_ppm, CLEAR_NOISES * sd_ppm[main])
    amount = np.divide(rise, share, out=np.zeros_like(share), where=seen)
    return whole.A * amount, whole.S * amount, seen


def _misfits(a: FloatArray, a_sd: FloatArray, b: FloatArray, b_sd: FloatArray, sd: FloatArray) -> FloatArray:
    """Distance (J, K) of each column of `a` (E, J, 1) from the best multiple of each column of `b` (E, 1, K).

    The weights hold the multiple itself (effective variance); three passes settle them."""
    own = (sd**2)[:, None, None] + a_sd**2
    a_times_b, b_squared, b_var = a * b, b * b, b_sd**2
    scale = np.ones((1, a.shape[1], b.shape[2]))
    weight = np.ones_like(a_times_b)
    for _ in range(3):
        weight = 1.0 / (own + scale**2 * b_var)
        below = (weight * b_squared).sum(axis=0)
        scale = np.divide((weight * a_times_b).sum(axis=0), below, out=np.zeros_like(below), where=below > 0.0)
    return np.asarray(np.sqrt((weight * (a - scale * b) ** 2).sum(axis=0)))


def _groups(
    whole: Signature,
    rows: tuple[str, ...],
    bench: _Bench,
) -> tuple[tuple[tuple[str, ...], ...], tuple[str, ...]]:
    d, seen = distances(whole.with_elements(rows), _sd(rows, bench), bench.clear_ppm)
    clusters = _complete_linkage(d, [int(j) for j in np.flatnonzero(seen)], bench.apart)
    names = whole.names
    groups = tuple(tuple(names[j] for j in cluster) for cluster in clusters)
    return groups, tuple(names[j] for j in np.flatnonzero(~seen))


def _sd(rows: tuple[str, ...], bench: _Bench) -> FloatArray:
    return noise_sd(rows, bench.noise, bench.background_ppm)


def _complete_linkage(d: FloatArray, members: list[int], apart: float) -> list[tuple[int, ...]]:
    """Joins the two nearest clusters while all their pairs are nearer than `apart`; of equals the first pair."""
    clusters: list[tuple[int, ...]] = [(j,) for j in members]
    far = d[np.ix_(members, members)]  # the farthest pair of two clusters
    np.fill_diagonal(far, np.inf)
    while len(clusters) > 1:
        x, y = divmod(int(far.argmin()), len(clusters))
        if far[x, y] >= apart:
            break
        clusters[x] = tuple(sorted(clusters[x] + clusters.pop(y)))
        far[x] = far[:, x] = np.maximum(far[x], far[y])
        far = np.delete(np.delete(far, y, axis=0), y, axis=1)
        far[x, x] = np.inf
    return sorted(clusters)


def _imitations(
    whole: Signature,
    rows: tuple[str, ...],
    bench: _Bench,
    groups: tuple[tuple[str, ...], ...],
) -> tuple[LooksLike, ...]:
    """Groups that a blend of at least two others imitates within `apart` (non-negative least squares)."""
    from scipy.optimize import nnls  # heavy: only where it is used

    small = merged(whole.with_elements(rows), groups)
    sd = _sd(rows, bench)
    scaled, tolerance, _ = _clear_rise(small, sd, bench.clear_ppm)
    found = []
    for g in range(len(groups)):
        others = [k for k in range(len(groups)) if k != g]
        if not others:
            continue
        weight = 1.0 / np.sqrt(sd**2 + tolerance[:, g] ** 2)
        amounts, left = nnls(scaled[:, others] * weight[:, None], scaled[:, g] * weight)
        strength = amounts * np.abs(weight[:, None] * scaled[:, others]).max(axis=0)
        parts = [others[i] for i in np.argsort(-strength) if strength[i] > 1.0]
        if left < bench.apart and len(parts) > 1:
            found.append(LooksLike(small.names[g], tuple(small.names[k] for k in parts), float(left)))
    return tuple(found)


def _extra(
    whole: Signature,
    rows: tuple[str, ...],
    bench: _Bench,
    groups: tuple[tuple[str, ...], ...],
) -> ExtraElement | None:
    """The candidate that splits most; between equals the one that tells more pairs apart, then the first."""
    best: ExtraElement | None = None
    for element in whole.elements:
        if element in rows or element in NOT_READ or element in HARD_TO_READ or element not in bench.noise:
            continue
        more, _ = _groups(whole, (*rows, element), bench)
        splits = tuple(_split_pairs(groups, more))
        if not splits:
            continue
        found = ExtraElement(element, len(more), splits)
        if best is None or (found.groups, len(splits)) > (best.groups, len(best.splits)):
            best = found
    return best


def _split_pairs(
    before: Sequence[tuple[str, ...]], after: Sequence[tuple[str, ...]]
) -> Iterable[tuple[str, str]]:
    place = {name: number for number, group in enumerate(after) for name in group}
    for group in before:
        for i, one in enumerate(group):
            for other in group[i + 1 :]:
                if place.get(one) != place.get(other):
                    yield one, other


# --- words ----------------------------------------------------------------------------------------------------------


def _words(found: Separation) -> tuple[str, ...]:
    lines = []
    alone = [group[0] for group in found.groups if len(group) == 1]
    if alone:
        lines.append(f"Told apart: {', '.join(alone)}.")
    lines += [f"Cannot be told apart: {group_name(group)}." for group in found.groups if len(group) > 1]
    lines += [
        f"{_short(line.group)} can look like {' with '.join(_short(other) for other in line.others)}."
        for line in found.looks_like
    ]
    if found.unseen:
        lines.append(f"Not seen with the elements measured: {', '.join(found.unseen)}.")
    if found.extra is not None:
        one, other = found.extra.splits[0]
        more = len(found.extra.splits) - 1
        rest = f" and {more} more {'pair' if more == 1 else 'pairs'}" if more else ""
        lines.append(f"Measuring {found.extra.element} as well would tell {one} from {other}{rest}.")
    return tuple(lines)


def _short(name: str) -> str:
    """'bores and alike' for a long group."""
    first, *rest = name.split(" + ")
    return f"{first} and alike" if len(rest) > 1 else name
