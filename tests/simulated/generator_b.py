"""Generator b: one club, event by event, in closed form between events.

Written in another way than generator a on purpose: rates in ppm per hour, gamma and heavy-tailed spread, sessions that
are either easy or hard, faults that come in steps, bursts or ramps, irregular sampling, readings with wild cells.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import numpy as np

from benchapp.records import Build, Change, Engine, Family, Fill, Fleet, Instrument, Part, Reading, Run, Sample, TopUp

from . import alloys
from .alloys import ELEMENTS, INDEX, in_elements
from .oils import NewOil, new_oil
from .truth import Fault, SampleTruth, Truth, Visible, World, what_is_visible

KG_L = 0.86
FAULTY = 0.35
MEASURED = (
    "Fe",
    "Al",
    "Cu",
    "Pb",
    "Sn",
    "Cr",
    "Ni",
    "Si",
    "Ti",
    "Mo",
    "Mn",
    "Ag",
    "Na",
    "K",
    "B",
    "Ca",
    "Mg",
    "Zn",
    "P",
)


@dataclass(frozen=True)
class Piece:
    """A part as the club calls it: what it is made of, normal wear [ppm/h in its own sump], how often it fails."""

    name: str
    material: str
    ppm_h: float
    breaks: float = 1.0


TYPES: dict[str, tuple[tuple[float, float], tuple[Piece, ...]]] = {
    "touring four": ((4.0, 5.5), (
        Piece("block walls", "iron_grey_cyl_block", 0.5), Piece("rings", "ring_ductile", 0.15),
        Piece("pistons", "al_si12cunimg", 0.2), Piece("crank shells", "brg_alsn20cu", 0.09),
        Piece("rod shells", "brg_alsn6cu", 0.07), Piece("cams and followers", "cam_chilled_iron", 0.22),
        Piece("turbo floats", "cu_c93700", 0.03), Piece("shaft", "steel_42crmo4", 0.1, 0.4),
    )),
    "pushrod eight": ((5.5, 8.5), (
        Piece("block walls", "iron_gjl250", 0.6), Piece("rings", "ring_ductile", 0.15), Piece("ring moly",
            "ring_face_mo", 0.03),
        Piece("pistons", "al_2618", 0.2), Piece("crank shell plating", "ovl_pbsn10cu2", 0.1),
        Piece("crank shell bronze", "brg_cupb24sn4", 0.04), Piece("roller lifters", "steel_52100", 0.12),
        Piece("camshaft", "steel_8620", 0.1), Piece("valve guides", "cu_c67300", 0.05), Piece("shaft",
            "steel_4340", 0.1, 0.4),
    )),
    "plated twin": ((2.0, 3.4), (
        Piece("plated barrels", "ni_sic_plate", 0.12), Piece("rings", "steel_14112", 0.12), Piece("pistons",
            "al_4032", 0.25),
        Piece("rod shells", "brg_cusn8ni", 0.08), Piece("cams", "steel_9310", 0.1), Piece("gearbox", "steel_8620",
            0.35),
        Piece("pin bushes", "cu_cusn8p", 0.03, 0.7), Piece("titanium valves", "ti_64", 0.02, 0.7),
    )),
    "linerless six": ((8.0, 11.0), (
        Piece("block walls", "al_si25_spray", 0.15), Piece("nitrided rings", "steel_440b", 0.14),
        Piece("coated skirts", "skirt_fe_plate", 0.05, 0.5), Piece("pistons", "al_si12cunimg", 0.1),
        Piece("shells", "brg_alsn12si4cu", 0.08), Piece("cams", "cam_chilled_iron", 0.15), Piece("chain drive",
            "steel_52100", 0.12),
    )),
    "sprayed six": ((11.0, 18.0), (
        Piece("sprayed bores", "spray_fe_13cr", 0.16), Piece("rings", "steel_9254", 0.08), Piece("pistons",
            "al_2618a", 0.12),
        Piece("bismuth layer", "ovl_bi", 0.04), Piece("bronze backing layer", "brg_cusn10bi", 0.03),
        Piece("finger followers", "steel_m50", 0.05), Piece("camshafts", "steel_32crmov12", 0.06),
        Piece("gear train", "steel_9310", 0.12), Piece("valve seats", "cu_c17510", 0.02, 0.7),
    )),
    "chrome rotary": ((4.5, 6.5), (
        Piece("trochoid chrome", "cr_hard_plate", 0.05), Piece("side irons", "iron_gjl250", 0.3), Piece("apexes",
            "ring_grey_mc24", 0.2),
        Piece("rotor shells", "brg_cupb22sn2", 0.06), Piece("shaft shells", "brg_alsn20cu", 0.05),
        Piece("stationary gears", "steel_8620", 0.06),
    )),
    "small single": ((1.0, 1.6), (
        Piece("sleeve", "iron_grey_liner_p", 0.5), Piece("rings", "ring_grey", 0.2), Piece("piston", "al_336", 0.35),
        Piece("alloy rod", "al_2024", 0.2), Piece("flat tappets", "cam_hardenable_iron", 0.25), Piece("crank",
            "iron_gjs700_2", 0.12, 0.5),
    )),
    "white-metal four": ((5.0, 9.0), (
        Piece("bores", "iron_gjl250", 0.6), Piece("rings", "ring_grey", 0.2), Piece("pistons", "al_332", 0.15),
        Piece("white-metal mains", "bab_sae12", 0.1), Piece("white-metal rods", "bab_sae15", 0.08),
        Piece("timing wheels", "cu_c86300", 0.04), Piece("gudgeon bushes", "cu_c93200", 0.05), Piece("valve gear",
            "steel_5150", 0.2),
    )),
}  # fmt: skip

PAIRS = {
    # plating in front of the metal behind it
    "crank shell plating": "crank shell bronze",
    "bismuth layer": "bronze backing layer",
}


@dataclass
class Trouble:
    """A fault as pieces of constant or ramping extra rate [ppm/h]."""

    kind: str
    pieces: tuple[str, ...]
    onset_h: float
    failure_h: float
    steps: list[tuple[float, float]]
    """(build hours from which on, extra ppm/h); ramps are many small steps."""

    def extra(self, hour: float) -> float:
        value = 0.0
        for start, rate in self.steps:
            if hour >= start:
                value = rate
        return value


@dataclass
class Bottle:
    sample: Sample
    ppm: np.ndarray
    visible: Visible
    flags: frozenset[str]
    healthy: bool
    severity: float


@dataclass
class Life:
    """One engine's hours so far: `c` and `f` are all metal and the fault's metal in the oil [ppm]."""

    rng: np.random.Generator
    kg: float
    c: np.ndarray
    f: np.ndarray
    full_kg: float
    hour: float = 0.0
    fill_hour: float = 0.0
    fills: list[Fill] = field(default_factory=list)
    top_ups: list[TopUp] = field(default_factory=list)
    runs: list[Run] = field(default_factory=list)
    bottles: list[Bottle] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    flags: set[str] = field(default_factory=set)

    def constant(
        self, made: np.ndarray, fault: np.ndarray, hours: float, burn_kg_h: float, kept_level: bool, fresh: np.ndarray
    ) -> None:
        """Hours at constant rates `made`, `fault` [ppm/h of a full sump]: in closed form."""
        if kept_level:
            # oil made up as it burns: c tends to c∞ with time constant full/q
            turnover = burn_kg_h / self.full_kg
            left = np.exp(-turnover * hours)
            for name, rate, new in (("c", made, fresh), ("f", fault, 0.0)):
                end = rate / turnover + new
                setattr(self, name, end + (getattr(self, name) - end) * left)
        else:
            # metal leaves with the burnt oil, nothing is made up: c rises with the log of the shrinking mass
            gone = burn_kg_h * hours
            stretch = self.full_kg / burn_kg_h * np.log(self.kg / (self.kg - gone))
            self.c = self.c + made * stretch
            self.f = self.f + fault * stretch
            self.kg -= gone
        self.hour += hours


def _trouble(pieces: tuple[Piece, ...], rates: dict[str, float], season_h: float, rng: np.random.Generator) -> Trouble:
    outside = rng.random() < 0.18
    onset = float(rng.uniform(1.0, 5.0) if rng.random() < 0.15 else rng.uniform(2.0, 0.75 * season_h))
    failure = onset + max(3.0, min(float(6.0 + 22.0 * rng.weibull(1.3)), season_h - onset - 0.3))
    if outside:
        names = (str(rng.choice(("dust", "coolant"))),)
        normal = 0.08
    else:
        weights = np.array([piece.breaks for piece in pieces])
        first = pieces[int(rng.choice(len(pieces), p=weights / weights.sum()))].name
        names = (first, PAIRS[first]) if first in PAIRS else (first,)
        normal = max(rates[first], 0.06)
    kind = str(rng.choice(("steps", "ramp", "bursts"), p=(0.45, 0.3, 0.25)))
    word = names[0] if outside else ("plating then backing" if len(names) > 1 else "part")
    steps = _shape(kind, onset, failure, normal, rng)
    least_ppm = float(np.exp(rng.uniform(np.log(12.0), np.log(120.0))))
    return Trouble(f"{kind}: {word}", names, onset, failure, _enough(steps, failure, least_ppm))


def _enough(steps: list[tuple[float, float]], failure: float, least_ppm: float) -> list[tuple[float, float]]:
    """Scaled up until the part loses at least so much: what lost less has not failed. [ppm of a full sump]"""
    ends = [start for start, _ in steps[1:]] + [failure]
    lost = sum(rate * max(min(end, failure) - start, 0.0) for (start, rate), end in zip(steps, ends, strict=True))
    return [(start, rate * max(1.0, least_ppm / lost)) for start, rate in steps]


def _shape(
    kind: str, onset: float, failure: float, normal: float, rng: np.random.Generator
) -> list[tuple[float, float]]:
    if kind == "steps":
        count = int(rng.integers(1, 5))
        times = np.sort(np.concatenate([[onset], rng.uniform(onset, failure, count - 1)]))
        levels = normal * np.cumprod(np.concatenate([[rng.uniform(1.5, 5.0)], rng.uniform(1.5, 4.0, count - 1)]))
        levels *= max(1.0, 6.0 * normal / levels[-1])
        return [(float(t), float(level)) for t, level in zip(times, levels, strict=True)]
    if kind == "ramp":
        top = normal * float(rng.uniform(8.0, 40.0))
        times = np.linspace(onset, failure, 25)
        return [(float(t), float(top * (place + 0.5) / 25)) for place, t in enumerate(times)]
    steps, hour, level = [], onset, float(rng.uniform(4.0, 12.0)) * normal
    while hour < failure:
        steps.append((hour, level))
        steps.append((hour + float(rng.exponential(0.8)) + 0.3, 0.3 * level))
        hour += 1.0 + float(rng.exponential(2.0))
        level *= float(rng.uniform(1.1, 2.0))
    return sorted(steps)


def _read(ppm: np.ndarray, gain: np.ndarray, noise: np.ndarray, elements: tuple[str, ...], rng: np.random.Generator):
    """Readings with heavy tails (Student t, 4 degrees of freedom) and now and then a wild cell."""
    seen = ppm * gain + rng.standard_t(4, size=ppm.size) * np.hypot(noise, 0.03 * ppm) / np.sqrt(2.0)
    wild = rng.random(ppm.size) < 0.0015
    seen = np.where(wild, seen * rng.uniform(1.5, 3.0, ppm.size), seen)
    out = []
    for element in elements:
        value = float(seen[INDEX[element]])
        if rng.random() < 0.004:
            continue
        limit = round(float(2.0 * noise[INDEX[element]]), 1) or 0.1
        out.append(
            Reading(element, limit, qualifier="<")
            if value < limit
            else Reading(element, round(value, 1 if value < 100 else 0))
        )
    return tuple(out)


class Club:
    """One club's engines, oils, instruments and habits."""

    def __init__(self, seed: int, engines: int) -> None:
        self.rng = rng = np.random.default_rng([seed, 0xB])
        self.seed = seed
        packs = rng.choice(["race", "road", "race magnesium"], size=3, replace=True)
        self.oils: list[NewOil] = [
            new_oil(f"{word} {seed}", str(pack), rng, 0.9)
            for word, pack in zip(("blue", "gold", "tin"), packs, strict=True)
        ]
        self.break_in = new_oil("running-in straight", "break-in", rng, 0.9)
        self.types = [
            str(name) for name in rng.choice(list(TYPES), size=min(len(TYPES), max(2, engines // 9)), replace=False)
        ]
        self.sizes = {name: round(float(rng.uniform(*TYPES[name][0])), 1) for name in self.types}
        self.gains = {f"arc {place}": np.exp(rng.normal(0, 0.06, len(ELEMENTS))) for place in (1, 2, 3)}
        self.noises = {name: rng.uniform(0.1, 0.35) * np.exp(rng.normal(0, 0.4, len(ELEMENTS))) for name in self.gains}
        for noise in self.noises.values():
            for element in ("Zn", "P", "Ca", "Mg"):
                noise[INDEX[element]] *= 10.0
        self.drift_day = dt.datetime(2032, 3, 1) + dt.timedelta(days=float(rng.uniform(40, 200)))
        self.scales = {
            name: {piece.name: float(np.exp(rng.normal(0, 0.35))) for piece in TYPES[name][1]} for name in self.types
        }
        self.coolant = in_elements(**({"Na": 0.55, "B": 0.45} if rng.random() < 0.5 else {"K": 0.85, "Si": 0.15}))

    def family(self, name: str) -> Family:
        parts = tuple(Part(piece.name, piece.material) for piece in TYPES[name][1])
        return Family(name=f"{name} {self.seed}", sump_l=self.sizes[name], parts=parts)

    def live(self, type_name: str) -> tuple[Life, Trouble | None]:
        """One engine from build to failure or the end of its season."""
        rng, pieces = self.rng, TYPES[type_name][1]
        alloy = {piece.name: alloys.drawn(alloys.materials()[piece.material], rng) for piece in pieces}
        alloy["dust"] = alloys.drawn(alloys.materials()["dust_arizona"], rng)
        alloy["coolant"] = self.coolant * np.exp(rng.normal(0, 0.1, len(ELEMENTS)))
        rates = {p.name: p.ppm_h * self.scales[type_name][p.name] * float(rng.gamma(9.0, 1 / 9.0)) for p in pieces}
        season_h = float(rng.uniform(18.0, 70.0))
        trouble = _trouble(pieces, rates, season_h, rng) if rng.random() < FAULTY else None
        full = self.sizes[type_name] * KG_L * float(rng.uniform(0.95, 1.05))
        life = Life(rng, full, self.break_in.fresh.copy(), np.zeros(len(ELEMENTS)), full)
        plan = _Plan(self, life, pieces, alloy, rates, trouble, season_h)
        plan.play()
        return life, trouble if trouble is not None and life.hour >= trouble.failure_h - 1e-6 else None


class _Plan:
    """How the season of one engine goes."""

    def __init__(self, club: Club, life: Life, pieces, alloy, rates, trouble: Trouble | None, season_h: float) -> None:
        self.club, self.life, self.pieces, self.alloy, self.rates = club, life, pieces, alloy, rates
        self.trouble, self.season_h, self.rng = trouble, season_h, club.rng
        rng = self.rng
        self.burn = float(rng.uniform(0.004, 0.015)) * life.full_kg
        self.kept_level = bool(rng.random() < 0.35)
        self.run_in = (float(rng.uniform(5, 40)), float(rng.uniform(0.4, 1.0)))
        self.sealant = float(rng.choice((0.0, rng.uniform(2, 12))))
        self.fill_h = float(rng.uniform(5.0, 14.0))
        self.every_h = float(rng.uniform(1.0, 3.5))
        self.device = str(rng.choice(list(club.gains)))
        self.logs_top_up = bool(rng.random() < 0.5)
        self.moment = dt.datetime(2032, 3, 1, 10) + dt.timedelta(days=float(rng.uniform(0, 40)))
        self.hard = False
        self.oil = club.break_in
        self.fresh = club.break_in.batch(rng)
        self.since: list[float] = []

    def end_h(self) -> float:
        return min(self.season_h, self.trouble.failure_h) if self.trouble else self.season_h

    def play(self) -> None:
        self._new_fill(self.club.break_in, first=True)
        self._session(float(self.rng.uniform(1.0, 2.5)), "break-in")
        if self.rng.random() < 0.75:
            self._bottle(break_in=True)
        self._new_fill(self.club.oils[0])
        next_bottle = self.life.hour + float(self.rng.exponential(self.every_h)) + 0.4
        while self.life.hour < self.end_h() - 1e-9:
            self.moment += dt.timedelta(days=float(self.rng.choice((3, 7, 14))))
            self._session(float(self.rng.gamma(4.0, 0.35)) + 0.2, str(self.rng.choice(("practice", "race"))))
            if self.life.hour >= self.end_h() - 1e-9 and self.trouble:
                return
            if self.life.hour >= next_bottle:
                self._bottle()
                next_bottle = self.life.hour + float(self.rng.exponential(self.every_h)) + 0.4
            if self.life.hour - self.life.fill_hour > self.fill_h:
                if self.rng.random() < 0.8:
                    self._bottle()
                self._new_fill(self._choose_oil())
            elif self.life.kg < 0.9 * self.life.full_kg:
                self._top_up()

    def _choose_oil(self) -> NewOil:
        return (
            self.oil
            if self.rng.random() < 0.75 and self.oil is not self.club.break_in
            else self.club.oils[int(self.rng.integers(3))]
        )

    def _new_fill(self, oil: NewOil, first: bool = False) -> None:
        life, rng = self.life, self.rng
        cold = bool(rng.random() < 0.12)
        left = 0.0 if first else float(rng.beta(3, 25) if not cold else rng.beta(4, 14))
        self.fresh = oil.batch(rng)
        keep = left * life.full_kg
        life.c = (keep * life.c + (life.full_kg - keep) * self.fresh) / life.full_kg
        life.f = life.f * left
        life.kg = life.full_kg
        life.flags = {flag for flag, true in (("oil swap", oil is not self.oil), ("cold drain", cold)) if true}
        if oil is not self.oil and self.oil is not self.club.break_in:
            life.changes.append(Change(round(life.hour, 1), "oil", oil.name))
        self.oil, life.fill_hour = oil, life.hour
        word = "none" if first else ("cold" if cold else "hot")
        life.fills.append(
            Fill(f"fill {len(life.fills) + 1}", oil.name, round(life.hour, 1), None, self.moment, word, True)
        )

    def _top_up(self) -> None:
        life = self.life
        kg = life.full_kg - life.kg
        life.c = (life.kg * life.c + kg * self.fresh) / life.full_kg
        life.f = life.f * life.kg / life.full_kg
        life.kg = life.full_kg
        life.flags.add("top-up" if self.logs_top_up else "top-up unlogged")
        if self.logs_top_up:
            life.top_ups.append(TopUp(life.fills[-1].name, round(life.hour, 1), round(kg / KG_L, 2)))

    def _session(self, hours: float, kind: str) -> None:
        life, rng = self.life, self.rng
        hours = min(hours, max(self.end_h() - life.hour, 0.02))
        self.hard = bool(rng.random() < (0.5 if self.hard else 0.12))
        factor = float(rng.uniform(1.4, 2.4)) if self.hard else float(rng.gamma(30, 1 / 30))
        if self.hard:
            life.flags.add("hard session")
        life.runs.append(Run(kind, round(hours, 2), self.moment, fuel="unleaded"))
        self.since.append(factor)
        burst = str(rng.choice([p.name for p in self.pieces])) if rng.random() < 0.01 else ""
        spread = {p.name: float(rng.gamma(14.0, 1 / 14.0)) * (3.0 if p.name == burst else 1.0) for p in self.pieces}
        if burst:
            life.flags.add("one rough start")
        end = life.hour + hours
        while life.hour < end - 1e-9:
            part_h = min(0.25, end - life.hour)
            made, fault = self._rates(life.hour + part_h / 2, factor, spread)
            life.constant(made, fault, part_h, self.burn, self.kept_level, self.fresh)
        self.moment += dt.timedelta(hours=hours + 1)

    def _rates(self, hour: float, factor: float, spread: dict[str, float]) -> tuple[np.ndarray, np.ndarray]:
        start, decay = self.run_in
        new = 1.0 + start * np.exp(-hour / decay)
        made = sum(self.rates[p.name] * factor * spread[p.name] * new * self.alloy[p.name] for p in self.pieces)
        made = made + in_elements(Si=self.sealant / 12.0 * np.exp(-hour / 12.0)) + 0.01 * factor * self.alloy["dust"]
        fault = np.zeros(len(ELEMENTS))
        trouble = self.trouble
        if trouble is not None and hour >= trouble.onset_h:
            extra = trouble.extra(hour)
            if len(trouble.pieces) == 2:
                through = (hour - trouble.onset_h) / (trouble.failure_h - trouble.onset_h) > 0.55
                fault = extra * self.alloy[trouble.pieces[1 if through else 0]]
            else:
                fault = extra * self.alloy[trouble.pieces[0]]
        return made + fault, fault

    def _bottle(self, break_in: bool = False) -> None:
        life, rng, club = self.life, self.rng, self.club
        if life.bottles and life.hour - life.bottles[-1].sample.build_h < 0.05:
            return
        if rng.random() < 0.06:
            before, self.device = self.device, str(rng.choice(list(club.gains)))
            if before != self.device:
                life.flags.add("instrument change")
        flags = set(life.flags)
        ppm, fault = life.c, life.f
        if rng.random() < 0.008:
            ppm, fault = club.oils[int(rng.integers(3))].fresh * rng.uniform(0.9, 1.1), fault * 0
            flags.add("other oil in the bottle")
        gain = club.gains[self.device]
        if 0 <= (self.moment - club.drift_day).days < 30:
            gain = gain * 1.15
            flags.add("instrument drift")
        if life.hour < 6.0:
            flags.add("run-in")
        readings = _read(ppm, gain, club.noises[self.device], MEASURED, rng)
        sample = Sample(
            "",
            life.fills[-1].name,
            round(life.hour, 1),
            round(life.hour - life.fill_hour, 1),
            self.moment.replace(microsecond=0),
            "hot",
            True,
            self.device,
            break_in,
            readings=readings,
        )
        healthy = self.trouble is None or life.hour < self.trouble.onset_h
        noise = np.hypot(club.noises[self.device], 0.03 * ppm)
        visible = what_is_visible(fault, ppm - fault - self.fresh, noise, MEASURED)
        life.bottles.append(
            Bottle(sample, ppm.copy(), visible, frozenset(flags), healthy, float(np.mean(self.since)))
        )
        self.since = [self.since[-1]]
        life.flags -= {"hard session", "one rough start", "instrument change", "top-up", "top-up unlogged"}


def make(seed: int, engines: int = 60) -> World:
    """One club's fleet and the truth about it."""
    club = Club(seed, engines)
    lives = []
    for number in range(engines):
        type_name = club.types[number % len(club.types)]
        lives.append((f"{type_name.split()[0][:2].upper()}{number + 1:03d}", type_name, *club.live(type_name)))
    bottles = sorted((b for _, _, life, _ in lives for b in life.bottles), key=lambda b: b.sample.taken_at)
    codes = {id(bottle): f"B{club.seed}/{number + 1:05d}" for number, bottle in enumerate(bottles)}
    records, faults, truths = [], [], {}
    for name, type_name, life, trouble in lives:
        family = club.family(type_name)
        truths.update(_truths(name, type_name, life, codes))
        if trouble is not None:
            faults.append(_fault(name, type_name, trouble))
        records.append(Engine(name, family.name, builds=(_build(life, family, codes),)))
    fleet = Fleet(
        engines=tuple(records),
        families={family.name: family for family in (club.family(name) for name in club.types)},
        materials=dict(alloys.materials()),
        oils={oil.name: oil.record for oil in [*club.oils, club.break_in]},
        instruments={name: Instrument(name, "rotating-disc") for name in club.gains},
    )
    return World(fleet, Truth("b", seed, tuple(faults), truths, {f"{name} {seed}": name for name in club.types}))


def _build(life: Life, family: Family, codes: dict[int, str]) -> Build:
    samples = []
    for bottle in life.bottles:
        s = bottle.sample
        samples.append(
            Sample(
                codes[id(bottle)],
                s.fill,
                s.build_h,
                s.oil_h,
                s.taken_at,
                s.drawn,
                s.before_top_up,
                s.instrument,
                s.break_in,
                readings=s.readings,
            )
        )
    return Build(
        "1",
        family.parts,
        built_on=life.runs[0].started_at,
        fills=tuple(life.fills),
        top_ups=tuple(life.top_ups),
        runs=tuple(life.runs),
        samples=tuple(samples),
        changes=tuple(life.changes),
    )


def _truths(name: str, type_name: str, life: Life, codes: dict[int, str]) -> dict[str, SampleTruth]:
    best: dict[str, float] = {}
    out = {}
    for bottle in life.bottles:
        best[bottle.sample.fill] = max(best.get(bottle.sample.fill, 0.0), bottle.visible.square)
        out[codes[id(bottle)]] = SampleTruth(
            name,
            "1",
            type_name,
            bottle.sample.build_h,
            bottle.healthy,
            bottle.flags,
            bottle.severity,
            round(float(np.sqrt(sum(best.values()))), 2),
            bottle.visible,
            bottle.sample.fill,
        )
    return out


def _fault(name: str, type_name: str, trouble: Trouble) -> Fault:
    outside = trouble.pieces[0] if trouble.pieces[0] in ("dust", "coolant") else ""
    parts = frozenset() if outside else frozenset(trouble.pieces)
    return Fault(
        name,
        "1",
        type_name,
        trouble.kind,
        parts,
        outside,
        round(trouble.onset_h, 2),
        round(trouble.failure_h, 2),
        0.0,
        trouble.kind.split(":")[0],
        "step",
    )
