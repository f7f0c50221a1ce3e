"""Faults of generator d: when they begin, how they grow, and the metal that must be gone before the engine fails.

The hour of failure is never drawn. It is when a worn patch (area × depth × density) is gone; of what is gone only a
share is fine enough for a spectrometer: little from pitting and flaking, most from rubbing. Figures are own guesses.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from . import alloys
from .alloys import INDEX
from .kinds_d import Kind
from .sump import STEP_H

LONGEST_H = 60.0
LATEST = 1.25
"""An engine that is on its way out may run past its planned rebuild by this much. [-]"""


@dataclass(frozen=True)
class Patch:
    """What is worn away in one stage: cm², µm, g/cm³."""

    tag: str
    area_cm2: tuple[float, float]
    depth_um: tuple[float, float]
    density: float

    def mg(self, size: float, rng: np.random.Generator) -> float:
        """Metal of this patch in an engine of this size. [mg]"""
        depth_cm = 1e-4 * rng.uniform(*self.depth_um)
        return float(1000.0 * size * rng.uniform(*self.area_cm2) * depth_cm * self.density)


@dataclass(frozen=True)
class Way:
    """One way to fail: stages in order, other tags that lose a share of it too, fine share, odds of the shapes."""

    name: str
    stages: tuple[Patch, ...]
    beside: tuple[tuple[str, float], ...]
    fine: tuple[float, float]
    shapes: tuple[float, float, float]
    """Odds of exponential, linear, stepwise."""


RUB = (0.6, 0.3, 0.1)
FLAKE = (0.35, 0.05, 0.6)
BORES = {
    # group of bore material -> word, worn patch
    "iron": ("iron", Patch("bore", (20, 60), (8, 40), 7.2)),
    "ring_ductile": ("iron", Patch("bore", (20, 60), (8, 40), 7.2)),
    "ni": ("nickel plating", Patch("bore", (5, 20), (50, 80), 8.3)),
    "spray": ("sprayed iron", Patch("bore", (10, 40), (25, 100), 6.9)),
    "al": ("aluminium-silicon", Patch("bore", (20, 50), (15, 50), 2.7)),
    "cr": ("hard chrome", Patch("bore", (6, 20), (50, 110), 7.1)),
}


def ways(kind: Kind, material: dict[str, str]) -> list[Way]:
    """Every way in which an engine with these materials (tag -> id) can fail from its own metal."""
    word, patch = next(item for key, item in BORES.items() if material["bore"].startswith(key))
    found = [Way(f"bore: {word}", (patch,), (("ring", 0.08),), (0.4, 0.9), RUB)]
    found.append(_ring(material))
    if "piston" in material:
        stage = (Patch("piston", (12, 40), (20, 60), 2.7),)
        found.append(Way("piston scuff", stage, (("bore", 0.15),), (0.4, 0.8), (0.75, 0.1, 0.15)))
    found += _bearings(material)
    if "cam" in material:
        beside = (("tappet", 0.5),) if "tappet" in material else ()
        found.append(Way("valve train lobe", (Patch("cam", (2, 5), (60, 400), 7.6),), beside, (0.3, 0.7), RUB))
    if "bush" in material:
        found.append(Way("bronze bush", (Patch("bush", (5, 12), (40, 150), 8.7),), (), (0.5, 0.9), RUB))
    if "guide" in material:
        density = 8.3 if material["guide"].startswith("cu") else 6.8
        found.append(
            Way("valve guide wear", (Patch("guide", (4, 10), (50, 150), density),), (), (0.5, 0.9), (0.3, 0.6, 0.1))
        )
    if "drive" in material:
        stage = (Patch("drive", (2, 8), (80, 300), 7.8),)
        found.append(Way("gear, chain or pump", stage, (), (0.12, 0.4), FLAKE))
    thrust = "thrust" if "thrust" in material else "lining" if "lining" in material else ""
    if thrust and kind.size >= 0.9:
        density = 2.9 if material[thrust].startswith("brg_al") else 8.8
        stage = (Patch(thrust, (6, 12), (60, 220), density),)
        found.append(Way("crank end float", stage, (("crank", 0.35),), (0.4, 0.8), RUB))
    else:
        found.append(Way("crank journal", (Patch("crank", (4, 12), (30, 120), 7.8),), (), (0.4, 0.8), RUB))
    return found


def _ring(material: dict[str, str]) -> Way:
    base = Patch("ring", (3, 9), (50, 160), 7.5)
    face = (Patch("ring_face", (3, 7), (20, 50), 6.5),) if "ring_face" in material else ()
    return Way("rings: face and body", (*face, base), (("bore", 0.25),), (0.4, 0.9), RUB)


def _bearings(material: dict[str, str]) -> list[Way]:
    found = []
    for tag in ("main", "lining"):
        if material.get(tag, "").startswith("brg_al"):
            patch = Patch(tag, (8, 24), (40, 160), 3.1)
            found.append(Way("aluminium-tin lining", (patch,), (("crank", 0.05),), (0.2, 0.6), FLAKE))
    if "overlay" in material:
        word = "lead overlay then lining" if "_pb" in material["overlay"] else "lead-free overlay then lining"
        density = {"ovl_sp": 3.6, "ovl_bi": 9.6, "ovl_sn": 7.3}.get(material["overlay"][:6], 10.8)
        stages = (Patch("overlay", (12, 50), (10, 24), density), Patch("lining", (4, 12), (30, 150), 8.9))
        found.append(Way(word, stages, (), (0.35, 0.8), (0.5, 0.2, 0.3)))
    return found


# --- growth ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Trouble:
    """A fault from its onset on: metal given to the oil per element in each step [mg], until it fails."""

    way: str
    tags: frozenset[str]
    outside: str
    onset_h: float
    failure_h: float
    doubling_h: float
    shape: str
    ended_by: str
    lost_mg: float
    """All metal (or dust, or salts) that is gone at failure, fine or not."""
    fine: float
    made_mg: np.ndarray

    def made(self, hours: np.ndarray) -> np.ndarray:
        """Metal of the steps that begin at these build hours. [mg]"""
        place = np.rint((hours - self.onset_h) / STEP_H).astype(int)
        inside = (place >= 0) & (place < len(self.made_mg))
        return np.where(inside[:, None], self.made_mg[np.clip(place, 0, len(self.made_mg) - 1)], 0.0)


def rate(shape: str, start: float, doubling_h: float, rng: np.random.Generator) -> np.ndarray:
    """Metal lost per hour in steps after onset [mg/h]: doubling, rising straight, or in steps a doubling time apart."""
    since = np.arange(0.0, LONGEST_H, STEP_H)
    if shape == "exponential":
        return start * 2.0 ** np.minimum(since / doubling_h, 40.0)
    if shape == "linear":
        return start * (1.0 + since / doubling_h)
    jumps = rng.random(since.size) < STEP_H / doubling_h
    return start * np.cumprod(np.where(jumps, rng.uniform(1.4, 3.2, since.size), 1.0))


def onset(life_h: float, early: bool, rng: np.random.Generator) -> float:
    """A bad build shows in the first hours, the rest wears out towards the end of its life. [h]"""
    hour = 0.4 + rng.exponential(4.0) if early else 0.75 * life_h * rng.weibull(3.0)
    return round(float(hour) / STEP_H) * STEP_H


@dataclass(frozen=True)
class Body:
    """What a fault is drawn from: the engine's kind, oil [L], planned life [h], tag -> sound rate and alloy."""

    kind: Kind
    litres: float
    life_h: float
    material: dict[str, str]
    mg_h: dict[str, float]
    alloy: dict[str, np.ndarray]


def own_fault(body: Body, early: bool, rng: np.random.Generator) -> Trouble | None:
    """A fault of the engine's own metal that ends by a quarter past its planned life, or None if none was found."""
    choices = ways(body.kind, body.material)
    way = choices[int(rng.integers(len(choices)))]
    tags = [stage.tag for stage in way.stages]
    floor = max(sum(body.mg_h[tag] for tag in tags[:1]), 0.12 * body.litres / 5.0)
    for _ in range(40):
        masses = [stage.mg(body.kind.size, rng) for stage in way.stages]
        shape = str(rng.choice(("exponential", "linear", "stepwise"), p=way.shapes))
        fine = float(rng.uniform(*way.fine))
        begin = float(np.exp(rng.uniform(np.log(0.2), np.log(1.6)))) * floor / fine
        doubling = float(np.exp(rng.uniform(np.log(1.0), np.log(9.0)))) * (0.4 if shape == "linear" else 1.0)
        vectors = [body.alloy[tag] + sum(share * body.alloy[other] for other, share in way.beside) for tag in tags]
        found = _grown(
            rate(shape, begin, doubling, rng), masses, vectors, fine, onset(body.life_h, early, rng), body.life_h
        )
        if found:
            lost = frozenset(tags) | {other for other, share in way.beside if share >= 0.1}
            ended = "layer" if len(masses) > 1 else "metal"
            start, end, made = found
            return Trouble(way.name, lost, "", start, end, doubling, shape, ended, sum(masses), fine, made)
    return None


def outside_fault(body: Body, what: str, early: bool, rng: np.random.Generator) -> Trouble | None:
    """Dust past the air filter, or coolant: what comes in, and the wear that it makes beside it."""
    dust = what == "dust"
    vector = _dust(body, rng) if dust else _coolant(body, rng)
    for _ in range(40):
        mass = float(rng.uniform(120, 700) if dust else rng.uniform(300, 2000)) * body.kind.size
        shape = str(rng.choice(("exponential", "linear", "stepwise"), p=(0.25, 0.45, 0.3)))
        begin = float(np.exp(rng.uniform(np.log(0.6), np.log(5.0)))) * body.litres / 5.0 * (1.0 if dust else 3.0)
        doubling = float(np.exp(rng.uniform(np.log(1.5), np.log(10.0))))
        found = _grown(
            rate(shape, begin, doubling, rng), [mass], [vector], 1.0, onset(body.life_h, early, rng), body.life_h
        )
        if found:
            start, end, made = found
            name = "dust past the filter" if dust else "coolant into the oil"
            return Trouble(name, frozenset(), what, start, end, doubling, shape, "metal", mass, 1.0, made)
    return None


def _dust(body: Body, rng: np.random.Generator) -> np.ndarray:
    vector = alloys.nominal(alloys.materials()["dust_iso12103_2016"]).copy()
    for tag, share in (("bore", 0.5), ("ring", 0.2), ("piston", 0.3)):
        if tag in body.alloy:
            vector += share * rng.uniform(0.2, 0.9) * body.alloy[tag]
    return vector


def _coolant(body: Body, rng: np.random.Generator) -> np.ndarray:
    salts = alloys.materials()
    main = str(rng.choice(("salt_na_2eh", "salt_k_2eh")))
    vector = 0.75 * alloys.nominal(salts[main])
    for other in ("salt_borax5", "salt_silicate", "salt_k_phosphate"):
        vector = vector + rng.choice((0.0, 0.15)) * alloys.nominal(salts[other])
    if "lining" in body.alloy:
        vector = vector + 0.03 * body.alloy["lining"]
    return vector


def _grown(
    lost_mg_h: np.ndarray,
    masses: list[float],
    vectors: list[np.ndarray],
    fine: float,
    start: float,
    life_h: float,
) -> tuple[float, float, np.ndarray] | None:
    """(onset, failure [h], fine metal per step [mg]) if the masses are gone in time, else None."""
    gone = np.cumsum(lost_mg_h) * STEP_H
    if gone[-1] < sum(masses):
        return None
    steps = int(np.argmax(gone >= sum(masses))) + 1
    end = start + steps * STEP_H
    if end > LATEST * life_h or steps * STEP_H < 0.8 or start < STEP_H:
        return None
    through = np.clip((gone[:steps] - 0.8 * masses[0]) / (0.5 * masses[0]), 0.0, 1.0) if len(masses) > 1 else None
    mix = np.broadcast_to(vectors[0], (steps, len(INDEX)))
    if through is not None:
        mix = (1.0 - through)[:, None] * vectors[0] + through[:, None] * vectors[1]
    return start, end, fine * STEP_H * lost_mg_h[:steps, None] * mix
