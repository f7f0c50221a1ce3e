"""Generator d: other people's fleets. Club teams and big teams, karts to endurance engines, several laboratories.

Written from the notes on the trade and on oil alone, by someone who had not read the judge. Faults begin as bad builds
or as wear-out and end when a layer or an amount of metal is gone (`faults_d.py`).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import numpy as np

from benchapp.records import Build, Change, Engine, Family, Fill, Fitting, Fleet, Part, Run, Sample, TopUp

from . import alloys
from .alloys import ADDITIVES, ELEMENTS, in_elements
from .faults_d import Body, Trouble, outside_fault, own_fault
from .kinds_d import KINDS, Kind
from .labs_d import START, Lab, lab
from .oils import NewOil, new_oil
from .sump import OIL_KG_L, STEP_H, Sump, dry
from .truth import Fault, SampleTruth, Truth, World, what_is_visible

FAMILIES = 9
SMALL_FAMILIES = 3
WEAR_ONLY = np.array([element not in ADDITIVES for element in ELEMENTS])


def make(seed: int, engines: int = 60) -> World:
    """Engines of about nine families, run by several teams, and the truth about them."""
    rng = np.random.default_rng([seed, 0xD])
    paddock = _Paddock(rng)
    families = _families(min(FAMILIES, max(engines // 2, 1)), rng)
    share = float(rng.uniform(0.2, 0.4))
    early = float(rng.uniform(0.25, 0.55))
    records, faults, truths = [], [], {}
    for number, house in enumerate(_dealt(families, engines, rng)):
        team = paddock.teams[int(rng.integers(len(paddock.teams)))]
        name = f"{team.prefix}{number + 1:02d}"
        sort = _Piece(house, rng)
        builds: list[Build] = []
        when = START + dt.timedelta(days=float(rng.uniform(0, 150)))
        for place in range(2 if rng.random() < 0.3 else 1):
            life = _Life(name, str(place + 1), house, team, paddock, sort, share / 1.15, early, rng)
            life.now.when = when
            builds.append(life.build())
            when = life.now.when + dt.timedelta(days=float(rng.uniform(10, 60)))
            truths.update(life.truths)
            if life.fault:
                faults.append(life.fault)
                break
        records.append(Engine(name, house.name, builds=tuple(builds)))
    check_runs = [run for bench in paddock.labs for run in bench.check_runs(rng)]
    fleet = Fleet(
        engines=tuple(records),
        families={house.name: house.record for house in families},
        materials=dict(alloys.materials()),
        oils={oil.name: oil.record for oil in paddock.oils},
        instruments={bench.name: bench.record(rng) for bench in paddock.labs},
        check_runs=tuple(sorted(check_runs, key=lambda run: (run.run_at, run.instrument))),
    )
    return World(fleet, Truth("d", seed, tuple(faults), truths, {house.name: house.kind.name for house in families}))


# --- families and engines -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _House:
    """A family: one choice of materials, its own level of wear, how alike its members are."""

    name: str
    kind: Kind
    litres: float
    material: dict[str, str]
    names: dict[str, str]
    mg_h: dict[str, float]
    unlike: float
    drain_h: float
    record: Family


def _families(count: int, rng: np.random.Generator) -> list[_House]:
    return [_house(KINDS[place], f"Type {letter}", rng) for letter, place in _lettered(count, rng)]


def _lettered(count: int, rng: np.random.Generator) -> list[tuple[str, int]]:
    return list(zip("ABCDEFGHIJKL", rng.permutation(len(KINDS))[:count].tolist(), strict=False))


def _house(kind: Kind, name: str, rng: np.random.Generator) -> _House:
    material = {slot.tag: str(rng.choice(slot.materials)) for slot in kind.slots}
    roles = bool(rng.random() < 0.6)
    said = ROLES if roles else {}
    parts = tuple(Part(slot.name, material[slot.tag], said.get(slot.tag, "")) for slot in kind.slots)
    litres = round(float(rng.uniform(*kind.litres)), 1)
    return _House(
        name=name,
        kind=kind,
        litres=litres,
        material=material,
        names={slot.tag: slot.name for slot in kind.slots},
        mg_h={slot.tag: slot.mg_h * float(np.exp(rng.normal(0.0, 0.35))) for slot in kind.slots},
        unlike=float(rng.uniform(0.2, 0.4)),
        drain_h=float(rng.uniform(*kind.drain_h)),
        record=Family(name, kind.layout, litres, parts),
    )


ROLES = {
    "bore": "bore",
    "ring": "ring",
    "piston": "piston",
    "overlay": "main bearing overlay",
    "lining": "main bearing lining",
    "cam": "cam",
    "guide": "valve guide",
    "crank": "crankshaft",
}


def _dealt(families: list[_House], engines: int, rng: np.random.Generator) -> list[_House]:
    """Which family each engine is of: up to three families have one to three engines, the rest share."""
    small = families[:SMALL_FAMILIES] if engines >= 30 else families[:1]
    dealt = [house for house in small for _ in range(int(rng.integers(1, 4)))]
    large = families[len(small) :] or families
    weights = rng.dirichlet(np.full(len(large), 3.0))
    rest = max(engines - len(dealt), 0)
    dealt += [large[place % len(large)] for place in range(min(len(large), rest))]
    dealt += [large[int(place)] for place in rng.choice(len(large), max(engines - len(dealt), 0), p=weights)]
    return [dealt[place] for place in rng.permutation(len(dealt))][:engines]


class _Piece:
    """One engine: its own level of wear, oil burnt, oil left in it. Builds of it are alike."""

    def __init__(self, house: _House, rng: np.random.Generator) -> None:
        whole = rng.normal(0.0, house.unlike / 1.6)
        self.mg_h = {
            tag: mg_h * float(np.exp(whole + rng.normal(0.0, house.unlike / 1.6))) for tag, mg_h in house.mg_h.items()
        }
        self.full_kg = house.litres * OIL_KG_L * float(rng.uniform(0.92, 1.06))
        self.burn_kg_h = float(rng.uniform(*house.kind.burn_l_h)) * OIL_KG_L
        self.carried = float(rng.uniform(0.5, 1.0))
        self.left_hot = float(rng.uniform(0.08, 0.2) if house.kind.dry_sump else rng.uniform(0.04, 0.13))
        self.settle_h = float(rng.choice((0.0, rng.uniform(0.002, 0.02))))
        self.load = {tag: float(rng.uniform(0.5, 1.5)) for tag in house.mg_h}


# --- teams ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Team:
    prefix: str
    each_session: bool
    every_fills: int
    logs_top_ups: float
    logs_runs: bool
    logs_fuel: bool
    says_drain: float
    step_h: float
    blank_oil_hours: float
    benches: tuple[Lab, ...]
    changed_on: dt.datetime
    oil: NewOil
    other_oil: NewOil
    run_in_oil: NewOil | None
    fuel: str
    lead_mg_h: float
    """Lead by leaded fuel in 5 L of oil [mg/h], 0 without."""
    careless: float

    def bench(self, when: dt.datetime) -> tuple[Lab, bool]:
        """(the laboratory in use, whether it is another one than before)."""
        late = len(self.benches) > 1 and when >= self.changed_on
        return self.benches[-1 if late else 0], late


class _Paddock:
    """Teams, their laboratories and oils, and the bottles on the shelf that can be mistaken for another."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.labs = [lab(f"Lab {n + 1}", False, rng) for n in range(3)] + [
            lab(f"Bench {n + 1}", True, rng) for n in (0, 1)
        ]
        packs = ("race", "race", "race magnesium", "road", "race sodium")
        self.oils = [new_oil(f"Oil {n + 1}", pack, rng, 0.7) for n, pack in enumerate(packs)]
        self.oils.append(new_oil("Run-in oil", "break-in", rng, 0.6))
        self.teams = [self._team(letter, rng) for letter in "KLMNPRSTVW"[: int(rng.integers(6, 10))]]
        self.shelf: dict[str, tuple[np.ndarray, bool]] = {}
        self.codes = 0

    def code(self) -> str:
        self.codes += 1
        return f"{self.codes:05d}"

    def _team(self, letter: str, rng: np.random.Generator) -> _Team:
        each = bool(rng.random() < 0.4)
        bought, own = self.labs[int(rng.integers(3))], self.labs[int(rng.integers(3, 5))]
        first = own if each and rng.random() < 0.7 else bought
        second = self.labs[int(rng.integers(len(self.labs)))]
        oils = rng.permutation(len(self.oils) - 1)
        leaded = bool(rng.random() < 0.25)
        return _Team(
            prefix=letter,
            each_session=each,
            every_fills=int(rng.choice((1, 1, 2, 3))),
            logs_top_ups=float(rng.choice((1.0, 0.8, 0.0))),
            logs_runs=each or bool(rng.random() < 0.5),
            logs_fuel=bool(rng.random() < 0.75),
            says_drain=float(rng.choice((1.0, 0.6, 0.0))),
            step_h=float(rng.choice((0.05, 0.1, 0.5) if each else (0.1, 0.5, 1.0))),
            blank_oil_hours=float(rng.choice((0.0, 0.03, 0.15))),
            benches=(first, second) if second is not first and rng.random() < 0.35 else (first,),
            changed_on=START + dt.timedelta(days=float(rng.uniform(60, 300))),
            oil=self.oils[int(oils[0])],
            other_oil=self.oils[int(oils[1])],
            run_in_oil=self.oils[-1] if rng.random() < 0.5 else None,
            fuel="leaded" if leaded else "unleaded",
            lead_mg_h=float(np.exp(rng.uniform(np.log(2.0), np.log(60.0)))) if leaded else 0.0,
            careless=float(rng.uniform(0.2, 1.8)),
        )


# --- one build ------------------------------------------------------------------------------------------------------


@dataclass
class _Now:
    """Where a build stands."""

    hour: float = 0.0
    when: dt.datetime = START
    fill: str = ""
    filled_h: float = 0.0
    fresh: np.ndarray = field(default_factory=lambda: np.zeros(len(ELEMENTS)))
    drain: str = "none"
    interval_h: float = 0.0
    other_oil: bool = False
    long: bool = False
    unlogged: bool = False
    severity: list[float] = field(default_factory=list)
    fills: int = 0


class _Life:
    """One build from its first fire to its rebuild or its failure."""

    def __init__(self, name, number, house, team, paddock, piece, fault_share, early, rng) -> None:
        self.name, self.number, self.rng = name, number, rng
        self.house: _House = house
        self.team: _Team = team
        self.paddock: _Paddock = paddock
        self.piece: _Piece = piece
        self.tags = list(house.material)
        materials = alloys.materials()
        self.alloy = {tag: alloys.drawn(materials[key], rng) for tag, key in house.material.items()}
        self.life_h = float(rng.uniform(*house.kind.life_h))
        self.run_in = {tag: _RunIn(tag, 0.0, rng) for tag in self.tags}
        self.wander = dict.fromkeys(self.tags, 0.0)
        self._once(rng)
        self.trouble = self._draw_trouble(early) if rng.random() < fault_share else None
        self.fault = self._fault() if self.trouble else None
        self.now = _Now()
        self.sump: Sump | None = None
        self.fills: list[Fill] = []
        self.runs: list[Run] = []
        self.samples: list[Sample] = []
        self.top_ups: list[TopUp] = []
        self.changes: list[Change] = []
        self.fittings: list[Fitting] = []
        self.truths: dict[str, SampleTruth] = {}
        self.seen_before = 0.0
        self.seen_now = 0.0
        self.new_part_h: float | None = None

    def _once(self, rng: np.random.Generator) -> None:
        """What comes with this build and fades: sealant, copper of a cooler, assembly lube. Amounts in mg."""
        kg = self.piece.full_kg
        self.sealant = kg * float(rng.uniform(4, 50)) if rng.random() < 0.4 else 0.0
        self.sealant_h = float(rng.uniform(3, 15))
        self.copper = kg * float(rng.uniform(10, 150)) if rng.random() < 0.2 and self.house.kind.size > 0.6 else 0.0
        self.copper_h = float(rng.uniform(5, 20))
        self.lube = in_elements()
        if rng.random() < 0.4:
            self.lube = kg * in_elements(Mo=rng.uniform(5, 60), Zn=rng.uniform(0, 80), P=rng.uniform(0, 80))
        self.change_part_h = float(rng.uniform(0.3, 0.8)) * self.life_h if rng.random() < 0.15 else np.inf

    def _draw_trouble(self, early: float) -> Trouble | None:
        kind, bad_build = self.house.kind, bool(self.rng.random() < early)
        body = Body(kind, self.house.litres, self.life_h, self.house.material, self.piece.mg_h, self.alloy)
        pick = self.rng.random()
        if pick < 0.1:
            return outside_fault(body, "dust", bad_build, self.rng)
        if pick < 0.18 and kind.water:
            return outside_fault(body, "coolant", bad_build, self.rng)
        return own_fault(body, bad_build, self.rng)

    def _fault(self) -> Fault:
        trouble = self.trouble
        assert trouble is not None
        return Fault(
            engine=self.name,
            build=self.number,
            family=self.house.kind.name,
            kind=trouble.way,
            parts=frozenset(self.house.names[tag] for tag in trouble.tags),
            outside=trouble.outside,
            onset_h=round(trouble.onset_h, 3),
            failure_h=round(trouble.failure_h, 3),
            doubling_h=round(trouble.doubling_h, 2),
            shape=trouble.shape,
            ended_by=trouble.ended_by,
        )

    def build(self) -> Build:
        """Run it to its end and write down what the team would have written down."""
        end = max(self.life_h, self.trouble.failure_h + STEP_H) if self.trouble else self.life_h
        first = True
        while self.now.hour < end - STEP_H:
            if self.sump is None or self.now.hour - self.now.filled_h >= self.now.interval_h - 1e-9:
                self._new_fill()
            if not self._session(first):
                break
            first = False
            if self.now.hour + 1e-9 >= self.change_part_h:
                self.change_part_h = np.inf
                self.now.interval_h = 0.0  # the oil comes out with the part
                self.new_part_h = self.now.hour
            due = self.now.hour - self.now.filled_h >= self.now.interval_h - 1e-9
            if self._wanted(due):
                self._sample()
            self._top_up()
            if self.new_part_h == self.now.hour:
                self._new_part()
        parts = self.house.record.parts
        return Build(
            self.number,
            parts,
            fills=tuple(self.fills),
            top_ups=tuple(self.top_ups),
            runs=tuple(self.runs) if self.team.logs_runs else (),
            samples=tuple(self.samples),
            changes=tuple(self.changes),
            fittings=tuple(self.fittings),
        )

    # oil in and out

    def _told_h(self, hour: float) -> float:
        """As the team reads its hour meter: cut off, never ahead. [h]"""
        return round(float(np.floor(hour / self.team.step_h + 1e-6)) * self.team.step_h, 2)

    def _new_fill(self) -> None:
        rng, now, team = self.rng, self.now, self.team
        run_in = self.sump is None and team.run_in_oil is not None
        oil = team.run_in_oil if run_in and team.run_in_oil else team.oil
        now.other_oil = not run_in and bool(rng.random() < 0.03 * team.careless)
        real = team.other_oil if now.other_oil else oil
        now.fresh = real.batch(rng)
        now.drain = "none" if self.sump is None else str(rng.choice(("hot", "cold", "part"), p=(0.8, 0.15, 0.05)))
        if self.sump is None:
            self.sump = dry(self.piece.full_kg, now.fresh)
            self.sump.metal_mg[0] += self.lube
        else:
            low, high = {"hot": (0.85, 1.15), "cold": (1.4, 2.4), "part": (4.0, 6.0)}[now.drain]
            self.sump.change(min(self.piece.left_hot * rng.uniform(low, high), 0.8), now.fresh)
        now.long = not run_in and bool(rng.random() < 0.07)
        usual = float(rng.uniform(0.4, 2.0)) if run_in else self.house.drain_h * float(np.exp(rng.normal(0.0, 0.12)))
        now.interval_h = usual * (float(rng.uniform(1.6, 2.3)) if now.long else 1.0)
        now.fills += 1
        now.fill, now.filled_h = str(now.fills), now.hour
        now.unlogged = False
        self.seen_before, self.seen_now = float(np.hypot(self.seen_before, self.seen_now)), 0.0
        told = now.drain if now.drain == "none" or rng.random() < team.says_drain else ""
        volume = self.house.litres if rng.random() < 0.4 else None
        self.fills.append(
            Fill(now.fill, oil.name, self._told_h(now.hour), volume, now.when.replace(microsecond=0), told, None)
        )

    def _top_up(self) -> bool:
        """Fill up what was burnt, if it is enough to bother; True if oil went in."""
        sump, rng = self.sump, self.rng
        assert sump is not None
        missing = self.piece.full_kg - sump.oil_kg
        if missing < 0.05 * self.piece.full_kg or rng.random() < 0.3:
            return False
        sump.add(missing, self.now.fresh)
        if rng.random() < self.team.logs_top_ups:
            litres = round(missing / OIL_KG_L, 2)
            self.top_ups.append(TopUp(self.now.fill, self._told_h(self.now.hour), litres))
        else:
            self.now.unlogged = True
        return True

    def _new_part(self) -> None:
        """One part is new at the coming oil change; it beds in by itself."""
        rng = self.rng
        tag = str(rng.choice([tag for tag in self.tags if not self.trouble or tag not in self.trouble.tags]))
        self.alloy[tag] = alloys.drawn(alloys.materials()[self.house.material[tag]], rng)
        self.run_in[tag] = _RunIn(tag, self.now.hour, rng)
        if rng.random() < 0.85:
            part, hour = self.house.names[tag], self._told_h(self.now.hour)
            self.changes.append(Change(hour, "part", part))
            if rng.random() < 0.5:
                self.fittings.append(Fitting(hour, part))

    # running

    def _session(self, first: bool) -> bool:
        """One session; False if the engine failed in it."""
        rng, now, sump, kind = self.rng, self.now, self.sump, self.house.kind
        assert sump is not None
        steps = max(round(float(rng.uniform(*kind.session_h)) / STEP_H), 2)
        if self.trouble:
            steps = min(steps, round((self.trouble.failure_h - now.hour) / STEP_H))
        severity = float(np.clip(np.exp(0.17 * rng.standard_t(3)), 0.45, 3.5))
        made = np.zeros((steps, 2, len(ELEMENTS)))
        hours = now.hour + STEP_H * np.arange(steps)
        made[:, 0] = self._sound(hours, severity)
        if self.trouble:
            made[:, 1] = self.trouble.made(hours)
            made[:, 0] += made[:, 1]
        sump.run(made, STEP_H, self.piece.burn_kg_h, self.piece.carried)
        sump.metal_mg *= np.where(WEAR_ONLY, np.exp(-self.piece.settle_h * steps * STEP_H), 1.0)
        self._write_run(first, steps * STEP_H, severity)
        now.hour = round(now.hour + steps * STEP_H, 4)
        now.severity.append(severity)
        return not (self.trouble and now.hour >= self.trouble.failure_h - 1e-6)

    def _write_run(self, first: bool, hours: float, severity: float) -> None:
        rng, now, team = self.rng, self.now, self.team
        now.when += dt.timedelta(hours=0.8) if rng.random() < 0.7 else dt.timedelta(days=float(rng.uniform(3, 16)))
        rpm = round(9000 * severity ** float(rng.uniform(0.05, 0.25)), -2) if rng.random() < 0.5 else None
        fuel = team.fuel if team.logs_fuel else ""
        coolant = "inhibited" if self.house.kind.water and team.says_drain > 0.5 else ""
        kind = "break-in" if first else str(rng.choice(("practice", "race")))
        self.runs.append(Run(kind, round(hours, 2), now.when.replace(microsecond=0), rpm, None, fuel, coolant))
        now.when += dt.timedelta(hours=hours)

    def _sound(self, hours: np.ndarray, severity: float) -> np.ndarray:
        """Metal of sound parts and of what is no wear, per step. [mg]"""
        rng, piece, scale = self.rng, self.piece, self.house.litres / 5.0
        out = np.zeros((hours.size, len(ELEMENTS)))
        for tag in self.tags:
            self.wander[tag] = 0.96 * self.wander[tag] + float(rng.normal(0.0, 0.03))
            level = severity ** piece.load[tag] * np.exp(self.wander[tag] + rng.normal(0.0, 0.06))
            mg_h = piece.mg_h[tag] * level * self.run_in[tag].times(hours)
            out += STEP_H * mg_h[:, None] * self.alloy[tag]
        fading = self.sealant / self.sealant_h * np.exp(-hours / self.sealant_h)
        out += STEP_H * fading[:, None] * in_elements(Si=1.0)
        leached = self.copper / self.copper_h * np.exp(-hours / self.copper_h)
        out += STEP_H * leached[:, None] * in_elements(Cu=1.0)
        dirt = 0.15 * scale * float(np.exp(rng.normal(0.0, 0.4)))
        out += STEP_H * dirt * alloys.nominal(alloys.materials()["dust_iso12103_2016"])
        lead = self.team.lead_mg_h * scale * float(np.exp(rng.normal(0.0, 0.25)))
        return out + STEP_H * in_elements(Pb=lead)

    # bottles

    def _wanted(self, due: bool) -> bool:
        team, rng, first_fill = self.team, self.rng, self.now.fills == 1
        if team.each_session:
            return bool(rng.random() < (0.8 if not due else 0.95)) and self._apart(due)
        if self.new_part_h == self.now.hour or (first_fill and team.run_in_oil):
            return due and bool(rng.random() < 0.6)
        return due and self.now.fills % team.every_fills == 0 and bool(rng.random() < 0.95)

    def _apart(self, due: bool) -> bool:
        """Short sessions share a bottle: at least an hour or so between two, but for the drain."""
        last = self.samples[-1].build_h if self.samples else -1.0
        return due or self.now.hour - last >= 0.9

    def _sample(self) -> None:
        rng, now, team, sump = self.rng, self.now, self.team, self.sump
        assert sump is not None
        bench, switched = team.bench(now.when)
        ppm, bad, flags = sump.ppm.copy(), sump.fault_ppm.copy(), self._flags(switched, bench)
        clean = True
        pick = float(rng.random()) / team.careless
        if pick < 0.004 and team.prefix in self.paddock.shelf:
            ppm, clean = self.paddock.shelf[team.prefix]
            bad = np.zeros(len(ELEMENTS))
            flags.add("wrong bottle")
        elif pick < 0.012:
            share = float(rng.uniform(0.15, 0.6))
            ppm, bad = (1 - share) * ppm + share * now.fresh, (1 - share) * bad
            flags.add("mixed bottle")
        before = not bool(rng.random() < 0.06)
        if not before and pick >= 0.012 and self._top_up():
            flags.add("top-up")
            ppm, bad = sump.ppm.copy(), sump.fault_ppm.copy()
        cold = bool(rng.random() < 0.08)
        ppm = ppm * np.where(WEAR_ONLY & cold, float(rng.uniform(0.8, 1.0)), 1.0)
        taken = (now.when + dt.timedelta(minutes=float(rng.uniform(5, 40)))).replace(microsecond=0)
        says = rng.random() < 0.7
        code, told = self.paddock.code(), self._told_h(now.hour)
        oil_h = None if rng.random() < team.blank_oil_hours else self._told_h(now.hour - now.filled_h)
        sure = rng.random() < 0.7
        readings, wild = bench.read_and_know(np.maximum(ppm, 0.0), taken, rng)
        sample = Sample(
            code=code,
            fill=now.fill,
            build_h=told,
            oil_h=oil_h,
            taken_at=taken,
            drawn=("cold" if cold else "hot") if says else "",
            before_top_up=before if sure else None,
            instrument=bench.name,
            break_in=now.fills == 1 and (team.run_in_oil is not None or not self.samples),
            readings=readings,
        )
        if cold:
            flags.add("cold sample")
        if oil_h is None:
            flags.add("blank oil hours")
        if wild:
            flags.add("wild reading")
        self.samples.append(sample)
        self._truth(sample, bench, ppm, bad, frozenset(flags), clean)
        sound = not self.trouble or now.hour < self.trouble.onset_h
        self.paddock.shelf[team.prefix] = (sump.ppm.copy(), sound)
        now.severity = []

    def _truth(self, sample: Sample, bench: Lab, ppm: np.ndarray, bad: np.ndarray, flags, clean: bool) -> None:
        now = self.now
        reported = {reading.measurand for reading in sample.readings}
        visible = what_is_visible(bad, ppm - bad - now.fresh, bench.sd(ppm), reported)
        self.seen_now = max(self.seen_now, float(np.sqrt(visible.square)))
        sound = not self.trouble or max(now.hour, sample.build_h) < round(self.trouble.onset_h, 3)
        self.truths[sample.code] = SampleTruth(
            engine=self.name,
            build=self.number,
            family=self.house.kind.name,
            build_h=sample.build_h,
            healthy=sound and clean,
            confounders=flags,
            severity=float(np.mean(now.severity)),
            seen_sd=round(float(np.hypot(self.seen_before, self.seen_now)), 2),
            visible=visible,
            fill=sample.fill,
        )

    def _leached(self) -> float:
        """Copper of a new cooler in this fill. [ppm]"""
        begin, end = np.exp(-np.array([self.now.filled_h, self.now.hour]) / self.copper_h)
        return float(self.copper * (begin - end) / self.piece.full_kg)

    def _flags(self, switched: bool, bench: Lab) -> set[str]:
        now, team = self.now, self.team
        facts = {
            "run-in": now.hour < 6.0,
            "part changed": self.new_part_h is not None and 0.0 < now.hour - self.new_part_h < 8.0,
            "leaded fuel": team.lead_mg_h > 0.0,
            "sealant": self.sealant > 0.0 and now.hour < 1.5 * self.sealant_h,
            "copper leaching": self._leached() > 1.0,
            "assembly lube": bool(self.lube.any()) and now.fills == 1,
            "aluminium-silicon bore": self.house.material["bore"].startswith("al_"),
            "hard session": float(np.mean(now.severity)) > 1.5,
            "long interval": now.long,
            "cold drain": now.drain == "cold",
            "part drain": now.drain == "part",
            "other oil in the sump": now.other_oil,
            "instrument change": switched,
            "instrument drift": bench.drifts,
            "top-up unlogged": now.unlogged,
        }
        return {flag for flag, true in facts.items() if true}


class _RunIn:
    """Extra wear of one new part, fading with two time constants: the first hour, and some ten hours."""

    def __init__(self, tag: str, begin_h: float, rng: np.random.Generator) -> None:
        rubbing = tag in ("bore", "ring", "ring_face", "piston", "side", "cam", "tappet")
        self.begin_h = begin_h
        self.fast = float(np.exp(rng.uniform(np.log(3.0), np.log(30.0)))) * (1.0 if rubbing else 0.4)
        self.fast_h = float(rng.uniform(0.2, 1.0))
        self.slow = float(rng.uniform(0.3, 2.5)) * (1.0 if rubbing else 0.5)
        self.slow_h = float(rng.uniform(3.0, 12.0))

    def times(self, hours: np.ndarray) -> np.ndarray:
        """Wear over that of a part that is run in. [-]"""
        since = np.maximum(hours - self.begin_h, 0.0)
        return 1.0 + self.fast * np.exp(-since / self.fast_h) + self.slow * np.exp(-since / self.slow_h)
