"""How well a fault's part can be told at all from what is in the bottles, by someone who knows what is normal.

Not a rival but a measure of the fleet, as `judges.knows_the_truth` is: it sees the fault's own metal alone, knows what
hides it, the published range of every alloy, and how often each kind of part failed on this very fleet. Where several
parts of the engine shed nearly the same metal, even this names the wrong one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence

import numpy as np

from benchapp.records import Material, Part

from .alloys import ELEMENTS, INDEX, in_elements, materials, nominal
from .truth import Fault, SampleTruth, Truth, Visible

DRAWS = 200
DUST = "dust_iso12103_2016"
COOLANTS = (in_elements(Na=0.8, B=0.2), in_elements(K=1.0))
"""Two packs of another fault than coolant; a true leak has its own."""
LOOSE = 0.1
"""Share by which a mixture of metals, dust or coolant scatters about what it is usually made of."""

Alike = Callable[[str, str], bool]


def bottles_until(truth: Truth, fault: Fault, build_h: float) -> list[Visible]:
    """The bottle of each fill that shows most of the fault, up to this hour of its build [h]."""
    best: dict[str, Visible] = {}
    for sample in truth.samples.values():
        if (sample.engine, sample.build) == (fault.engine, fault.build) and sample.build_h <= build_h:
            _keep_better(best, sample)
    return [visible for visible in best.values() if visible.square > 0.0]


def _keep_better(best: dict[str, Visible], sample: SampleTruth) -> None:
    if sample.visible is None:
        return
    old = best.get(sample.fill)
    if old is None or sample.visible.square > old.square:
        best[sample.fill] = sample.visible


def how_often(truth: Truth, parts_of: Callable[[Fault], dict[str, Part]]) -> Counter[str]:
    """How often each kind of material, dust and coolant was at fault on this fleet."""
    table = materials()
    found: Counter[str] = Counter()
    for fault in truth.faults:
        parts = parts_of(fault)
        kinds = {fault.outside} if fault.outside else {table[parts[name].material].group for name in fault.parts}
        found.update(kinds)
    return found


def chance_of_right(
    fault: Fault, bottles: Sequence[Visible], parts: dict[str, Part], often: Counter[str], alike: Alike, seed: int = 1
) -> float:
    """Probability that the part named from these bottles is a true one, or one that is `alike` it. [-]"""
    if not bottles:
        return 0.0
    names, directions, loose = _candidates(fault, bottles, parts)
    weights = np.array([_weight(name, parts, often) for name in names])
    log_chance = np.zeros((DRAWS, len(names))) + np.log(weights / weights.sum())
    rng = np.random.default_rng(seed)
    for bottle in bottles:
        log_chance += _log_likelihood(bottle, directions, loose, rng)
    together = np.array([[one == other or _alike(one, other, parts, alike) for other in names] for one in names])
    chance = np.exp(log_chance - log_chance.max(axis=1, keepdims=True))
    named = np.argmax(chance @ together.T, axis=1)
    true = {fault.outside} if fault.outside else set(fault.parts)
    right = np.array([any(name == one or _alike(name, one, parts, alike) for one in true) for name in names])
    return float(right[named].mean())


def _candidates(
    fault: Fault, bottles: Sequence[Visible], parts: dict[str, Part]
) -> tuple[list[str], np.ndarray, np.ndarray]:
    """Names, what each sheds as shares over `ELEMENTS`, and by how much these shares scatter: candidates × elements.

    Where a fault sheds a mixture, or is no part, it is looked for as what it really sheds."""
    table = materials()
    rows: list[tuple[str, np.ndarray, np.ndarray]] = []
    for name, part in parts.items():
        metal = table[part.material]
        rows.append((name, nominal(metal), _scatter(metal)))
    others = [("dust", nominal(table[DUST])), *(("coolant", pack) for pack in COOLANTS)]
    rows += [(name, shares, LOOSE * shares) for name, shares in others if name != fault.outside]
    if fault.outside or len(fault.parts) > 1:
        shed = max(bottles, key=lambda bottle: bottle.square).fault
        shed = shed / shed.sum()
        rows.append((fault.outside or min(fault.parts), shed, LOOSE * shed))
    names, directions, loose = zip(*rows, strict=True)
    return list(names), np.array(directions), np.array(loose)


def _scatter(metal: Material) -> np.ndarray:
    """Standard deviation of the shares of one real piece inside the published range, about as `alloys.drawn`."""
    found = np.zeros(len(ELEMENTS))
    for share in metal.shares:
        if share.element in INDEX:
            found[INDEX[share.element]] = max(share.max_pct - share.min_pct, 0.0) / 100.0 / np.sqrt(24.0)
    return found


def _weight(name: str, parts: dict[str, Part], often: Counter[str]) -> float:
    kind = materials()[parts[name].material].group if name in parts else name
    return often[kind] + 0.5


def _alike(one: str, other: str, parts: dict[str, Part], alike: Alike) -> bool:
    return one in parts and other in parts and alike(one, other)


def _log_likelihood(
    bottle: Visible, directions: np.ndarray, loose: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    """Of drawn readings of one bottle under each candidate, its amount fitted: draws × candidates."""
    read = np.isfinite(bottle.hidden_by)
    fault, noise = bottle.fault[read], bottle.hidden_by[read]
    d, t = directions[:, read], loose[:, read]
    seen = fault + noise * rng.normal(size=(DRAWS, len(fault)))
    variance = np.broadcast_to(noise**2, (DRAWS, *d.shape))
    for _ in range(2):
        weighted = (seen[:, None, :] * d / variance).sum(axis=2)
        amount = np.maximum(weighted / np.maximum((d * d / variance).sum(axis=2), 1e-300), 0.0)
        variance = noise**2 + (amount[:, :, None] * t) ** 2
    left = seen[:, None, :] - amount[:, :, None] * d
    return np.asarray(-0.5 * (left**2 / variance + np.log(variance)).sum(axis=2))
