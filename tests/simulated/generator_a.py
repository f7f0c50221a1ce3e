"""Generator a: whole seasons of mixed teams, the oil followed in steps of three minutes.

Everything that a team could write down goes into the records; everything else goes into the truth.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field, replace

import numpy as np

from benchapp.records import (
    Build,
    Change,
    CheckRun,
    Engine,
    Family,
    Fill,
    FilterCut,
    Fleet,
    LeakDown,
    Part,
    Run,
    Sample,
    TopUp,
)

from . import alloys, growth
from .alloys import ELEMENTS, INDEX, in_elements
from .families import FAULTS, KINDS, NAMES, ROLES, Kind
from .instruments import FULL, MIDDLE, SHORT, Drift, Spectrometer, spectrometer
from .oils import PACKS, NewOil, new_oil
from .sump import OIL_KG_L, STEP_H, Sump, dry
from .truth import Fault, SampleTruth, Truth, Visible, World, what_is_visible

FAULTY_SHARE = 0.55
EARLY_SHARE = 0.15
"""Of the faults, those that begin in the first hours after the build; short seasons add to them."""
SEALANT = "rtv_pdms"
COOLANT_PACKS = (
    {"Na": 0.5, "B": 0.3, "Si": 0.12, "P": 0.08},
    {"K": 0.9, "Na": 0.1},
    {"K": 0.7, "P": 0.3},
    {"Na": 0.6, "Si": 0.2, "Mo": 0.2},
    {"Na": 0.55, "B": 0.25, "K": 0.2},
    {"K": 0.6, "B": 0.25, "Si": 0.15},
)
DUST_HELPERS = (("bore", 0.25), ("ring", 0.15), ("side_plate", 0.2), ("apex_seal", 0.15), ("piston", 0.1))


def _lognormal(rng: np.random.Generator, sd: float, size: int | None = None):
    return np.exp(rng.normal(0.0, sd, size))


def _log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


# --- a team ---------------------------------------------------------------------------------------------------------


@dataclass
class Team:
    """One team's kinds of engine, oils, instruments and habits."""

    kinds: list[Kind]
    families: list[Family]
    tags: list[dict[str, str]]
    """Per family: tag -> part name."""
    slot_materials: list[dict[str, str]]
    oils: list[NewOil]
    break_in_oils: list[NewOil]
    instruments: list[Spectrometer]
    switch_at: dt.datetime | None
    first_day: dt.datetime
    dialect: int
    habit: str
    fill_h: float
    sessions: tuple[int, int]
    session_h: tuple[float, float]
    top_ups_logged: float
    says_drawn: float
    hot_drains: float
    cold_samples: float
    oil_h_blank: float
    severity_sd: float
    hard_share: float
    logs_fuel: float
    keeps_break_in_samples: float
    coolant: dict[str, float]
    checks_instruments: bool

    def instrument(self, moment: dt.datetime) -> Spectrometer:
        late = self.switch_at is not None and moment >= self.switch_at
        return self.instruments[1 if late and len(self.instruments) > 1 else 0]


def _family(kind: Kind, number: int, dialect: int, rng: np.random.Generator):
    names, chosen, parts = {}, {}, []
    for slot in kind.slots:
        if slot.optional and rng.random() < 0.25:
            continue
        names[slot.tag] = NAMES[slot.tag][dialect]
        chosen[slot.tag] = str(rng.choice(slot.materials))
        if slot.optional and rng.random() < 0.15:
            continue  # wears, but nobody put it on the list
        role = ROLES.get(slot.tag, (names[slot.tag], "", "misc"))[dialect]
        parts.append(Part(name=names[slot.tag], material=chosen[slot.tag], role=role))
    sump_l = round(float(rng.uniform(*kind.sump_l)), 1)
    label = f"{'ABCDEFGHIJKLMNOPQRSTUVWXYZ'[number % 26]}{int(rng.integers(10, 99))} {kind.layout.split(',')[0]}"
    return Family(name=label, layout=kind.layout, sump_l=sump_l, parts=tuple(parts)), names, chosen


def _instrument_set(team_number: int, first_day: dt.datetime, rng: np.random.Generator) -> list[Spectrometer]:
    made = []
    for place in range(2):
        kind = str(rng.choice(("rotating-disc", "icp", "xrf", "lab"), p=(0.42, 0.28, 0.06, 0.24)))
        elements = (FULL, MIDDLE, SHORT)[int(rng.choice(3, p=(0.5, 0.35, 0.15)))]
        item = spectrometer(f"bench {team_number + 1}{'ab'[place]}", kind, elements, rng)
        drifts = []
        if rng.random() < 0.35:
            start = first_day + dt.timedelta(days=float(rng.uniform(20, 150)))
            drifts.append(Drift(start, start + dt.timedelta(days=float(rng.uniform(10, 40))), _drift_gain(rng)))
        made.append(replace(item, drifts=tuple(drifts)))
    return made


def _drift_gain(rng: np.random.Generator) -> np.ndarray:
    gain = np.ones(len(ELEMENTS))
    off = float(rng.choice((-0.15, 0.15))) * rng.uniform(0.8, 1.1)
    which = np.ones(len(ELEMENTS), bool) if rng.random() < 0.6 else rng.random(len(ELEMENTS)) < 0.3
    gain[which] = 1.0 + off
    return gain


def _team(number: int, first_family: int, kinds: list[Kind], rng: np.random.Generator) -> Team:
    dialect = int(rng.integers(3))
    built = [_family(kind, first_family + place, dialect, rng) for place, kind in enumerate(kinds)]
    first_day = dt.datetime(2031, 2, 1) + dt.timedelta(days=int(rng.integers(0, 60)))
    packs = list(rng.choice(["race", "race magnesium", "race sodium", "road"], size=3, p=(0.5, 0.2, 0.15, 0.15)))
    oils = [new_oil(f"R{number + 1}{'XYZ'[place]}", str(pack), rng) for place, pack in enumerate(packs)]
    habit = str(rng.choice(("event", "session", "drain"), p=(0.55, 0.25, 0.2)))
    switch = first_day + dt.timedelta(days=float(rng.uniform(40, 160))) if rng.random() < 0.35 else None
    return Team(
        kinds=kinds,
        families=[item[0] for item in built],
        tags=[item[1] for item in built],
        slot_materials=[item[2] for item in built],
        oils=oils,
        break_in_oils=[new_oil(f"BI{number + 1}", "break-in", rng)],
        instruments=_instrument_set(number, first_day, rng),
        switch_at=switch,
        first_day=first_day,
        dialect=dialect,
        habit=habit,
        fill_h=float(rng.uniform(2.0, 6.0) if habit == "drain" else rng.uniform(3.0, 15.0)),
        sessions=(1, int(rng.integers(2, 5))),
        session_h=(0.3, float(rng.uniform(0.8, 2.2))),
        top_ups_logged=float(rng.choice((1.0, 0.8, 0.3))),
        says_drawn=float(rng.choice((1.0, 0.7, 0.2))),
        hot_drains=float(rng.uniform(0.7, 0.98)),
        cold_samples=float(rng.choice((0.02, 0.1))),
        oil_h_blank=float(rng.choice((0.0, 0.03, 0.1))),
        severity_sd=float(rng.uniform(0.08, 0.25)),
        hard_share=float(rng.choice((0.02, 0.08))),
        logs_fuel=float(rng.choice((1.0, 0.8))),
        keeps_break_in_samples=float(rng.uniform(0.5, 1.0)),
        coolant=dict(COOLANT_PACKS[int(rng.integers(len(COOLANT_PACKS)))]),
        checks_instruments=bool(rng.random() < 0.5),
    )


# --- one engine -----------------------------------------------------------------------------------------------------


@dataclass
class Wear:
    """How one build really wears: rows are sources, columns elements."""

    tags: list[str]
    matrix: np.ndarray
    """(sources, elements) mass fractions."""
    mg_h: np.ndarray
    """Normal seen rates, run in [mg/h]."""
    session_sd: np.ndarray
    run_in_factor: np.ndarray
    run_in_h: float
    sealant_mg: float
    sealant_h: float
    cooler_mg: float
    cooler_h: float
    cooler_from_h: float
    lube: np.ndarray
    lube_h: float
    background_dust: float
    dust: np.ndarray
    coolant: np.ndarray
    lead_mg_h: float


@dataclass
class Planned:
    """A fault with everything that a later look at it needs."""

    kind: str
    recipe: tuple[tuple[str, float], ...]
    onset_h: float
    law: growth.Growth
    seen_share: float
    layer_mg: float

    @property
    def failure_h(self) -> float:
        return self.onset_h + self.law.window_h


@dataclass
class Drawn:
    """A sample before it gets its code: what is needed to finish its record and its truth."""

    sample: Sample
    ppm: np.ndarray
    fault_ppm: np.ndarray
    fresh_ppm: np.ndarray
    confounders: set[str]
    severity: float
    healthy: bool
    instrument: Spectrometer


@dataclass
class Log:
    fills: list[Fill] = field(default_factory=list)
    top_ups: list[TopUp] = field(default_factory=list)
    runs: list[Run] = field(default_factory=list)
    samples: list[Drawn] = field(default_factory=list)
    leak_downs: list[LeakDown] = field(default_factory=list)
    filter_cuts: list[FilterCut] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)


def _wear(team: Team, place: int, litres: float, own: float, rng: np.random.Generator) -> Wear:
    kind, materials = team.kinds[place], alloys.materials()
    tags = [slot.tag for slot in kind.slots if slot.tag in team.slot_materials[place]]
    spread = rng.uniform(0.15, 0.4)
    normal = {slot.tag: slot.mg_h for slot in kind.slots}
    mg_h = np.array([normal[tag] for tag in tags]) * own * _lognormal(rng, spread, len(tags))
    matrix = np.array([alloys.drawn(materials[team.slot_materials[place][tag]], rng) for tag in tags])
    bearing = np.array(["overlay" in tag or "lining" in tag or "bush" in tag for tag in tags])
    run_in = rng.lognormal(np.log(20.0), 0.6) * rng.uniform(0.5, 1.5, len(tags)) * np.where(bearing, 0.35, 1.0)
    size = litres / 5.0
    coolant = in_elements(**team.coolant) * _lognormal(rng, 0.15, len(ELEMENTS))
    dust_id = str(rng.choice(("dust_arizona", "dust_iso12103_2016")))
    return Wear(
        tags=tags,
        matrix=matrix,
        mg_h=mg_h,
        session_sd=rng.uniform(0.08, 0.28, len(tags)),
        run_in_factor=run_in,
        run_in_h=float(rng.uniform(0.25, 1.3)),
        sealant_mg=float(rng.choice((0.0, 1.0), p=(0.4, 0.6)) * _log_uniform(rng, 8, 80) * size),
        sealant_h=float(rng.uniform(5, 25)),
        cooler_mg=float((rng.random() < 0.15) * _log_uniform(rng, 20, 150) * size),
        cooler_h=float(rng.uniform(6, 25)),
        cooler_from_h=0.0,
        lube=in_elements(Mo=rng.uniform(0, 60), Zn=rng.uniform(5, 80), P=rng.uniform(5, 70)) * size,
        lube_h=float(rng.uniform(0.5, 3.0)),
        background_dust=float(_log_uniform(rng, 0.02, 0.15) * size),
        dust=alloys.drawn(materials[dust_id], rng),
        coolant=coolant / coolant.sum(),
        lead_mg_h=float(_log_uniform(rng, 1.0, 12.0) * size),
    )


def _plan_fault(
    wear: Wear, listed: set[str], litres: float, season_h: float, rng: np.random.Generator
) -> Planned | None:
    weights = np.array([kind.weight for kind in FAULTS])
    for _ in range(60):
        kind = FAULTS[int(rng.choice(len(FAULTS), p=weights / weights.sum()))]
        recipe = kind.recipes[int(rng.integers(len(kind.recipes)))]
        known = set(listed) | {"dust", "coolant"}
        if recipe[0][0] not in known or (kind.name == "overlay then lining" and recipe[1][0] not in known):
            continue
        there = sum(share for tag, share in recipe if tag in known)
        recipe = tuple((tag, share / there) for tag, share in recipe if tag in known)
        normal = _normal_rate(wear, recipe[0][0], litres)
        law = growth.drawn(normal, litres, 0.65 * season_h, rng)
        if law is None:
            continue
        latest = season_h - law.window_h
        early = rng.random() < EARLY_SHARE or latest < 5.0
        onset = float(rng.uniform(0.3, min(4.0, latest)) if early else rng.uniform(5.0, latest))
        seen = float(rng.uniform(0.5, 1.0)) if kind.name not in ("dust", "coolant leak") else 1.0
        return Planned(kind.name, recipe, onset, law, seen, _log_uniform(rng, 25, 250) * (litres / 5.0) ** 0.7)
    return None


def _normal_rate(wear: Wear, tag: str, litres: float) -> float:
    if tag in ("dust", "coolant"):
        return (0.8 if tag == "dust" else 0.3) * litres / 5.0
    return float(wear.mg_h[wear.tags.index(tag)])


class Seasons:
    """One build of one engine from its first start to its failure or the end of the season."""

    def __init__(
        self,
        team: Team,
        place: int,
        engine: str,
        build: str,
        start: dt.datetime,
        wear: Wear,
        season_h: float,
        fault: Planned | None,
        rng: np.random.Generator,
    ):
        self.team, self.place, self.engine, self.build, self.rng = team, place, engine, build, rng
        self.kind, self.family = team.kinds[place], team.families[place]
        self.wear, self.season_h, self.fault = wear, season_h, fault
        self.litres = self.family.sump_l * float(_lognormal(rng, 0.03))
        self.full_kg = self.litres * OIL_KG_L
        self.burn_kg_h = float(rng.uniform(*self.kind.burn_l_h)) * OIL_KG_L * self.litres / np.mean(self.kind.sump_l)
        self.carried = float(rng.uniform(0.6, 1.0))
        self.now, self.h, self.log = start, 0.0, Log()
        self.fill_from_h, self.fill_sampled_h = 0.0, 0.0
        self.flags: set[str] = set()
        self.severities: list[tuple[float, float]] = []
        self.lost_mg, self.failed = 0.0, False
        self.leaded_engine = bool(rng.random() < self.kind.leaded)
        self.leaded_from_h = rng.uniform(0.0, season_h) if self.leaded_engine else np.inf
        self.swap_h = float(rng.uniform(0.2, 0.9)) * season_h if rng.random() < 0.45 else np.inf
        self.cooler_h = float(rng.uniform(0.2, 0.9)) * season_h if rng.random() < 0.06 else np.inf
        self.parts_h = float(rng.uniform(0.3, 0.9)) * season_h if rng.random() < 0.07 else np.inf
        self.coolant_h = float(rng.uniform(0.2, 0.9)) * season_h if rng.random() < 0.1 else np.inf
        self.fresh_run_in: tuple[float, str] | None = None
        self.oil = team.oils[0]
        self.sump: Sump | None = None
        self.long_fill = False

    # -- the season --

    def play(self) -> None:
        self._break_in()
        while not self.failed and self.h < self.season_h:
            self.now += dt.timedelta(days=float(self.rng.choice((6, 7, 8, 13, 14))))
            self._event()

    def _break_in(self) -> None:
        rng, bi = self.rng, self.team.break_in_oils[0]
        self.flags |= {"assembly lube"} if rng.random() < 0.7 else set()
        style = rng.choice(("two fills", "one fill", "none"), p=(0.6, 0.3, 0.1))
        if style == "none":
            self._fill(self.oil, "none")
            return
        keeps = rng.random() < self.team.keeps_break_in_samples
        self._fill(bi, "none")
        self._session(float(rng.uniform(0.3, 0.6)), "first run", 0.8)
        if style == "two fills" and not self.failed:
            if keeps and rng.random() < 0.6:
                self._sample(break_in=True)
            self._fill(bi, "hot")
        for _ in range(int(rng.integers(1, 4))):
            if not self.failed:
                self._session(float(rng.uniform(0.4, 1.0)), str(rng.choice(("break-in", "dyno"))), 1.0)
        if not self.failed:
            if keeps:
                self._sample(break_in=True)
            self._fill(self.oil, "hot")

    def _event(self) -> None:
        rng, team = self.rng, self.team
        self._mid_season_work()
        event_factor = float(_lognormal(rng, team.severity_sd))
        leaded = self.h >= self.leaded_from_h and rng.random() < 0.7
        for number in range(int(rng.integers(team.sessions[0], team.sessions[1] + 1))):
            severity = event_factor * float(_lognormal(rng, 0.6 * team.severity_sd))
            if rng.random() < team.hard_share:
                severity *= float(rng.uniform(1.6, 2.6))
                self.flags.add("hard session")
            kind = ("practice", "qualifying", "race")[min(number, 2)]
            stretch = 1.8 if self.kind.hours[1] > 100 else 1.0
            self._session(float(rng.uniform(*team.session_h)) * stretch, kind, severity, leaded)
            if self.failed:
                return
            if team.habit == "session" and rng.random() < 0.75:
                self._sample()
            if self.sump.oil_kg < 0.8 * self.full_kg:
                self._top_up()
        self._after_event()

    def _after_event(self) -> None:
        rng, team = self.rng, self.team
        oil_h = self.h - self.fill_from_h
        due = oil_h >= team.fill_h * (2.2 if self.long_fill else 1.0)
        topped_first = self.sump.oil_kg < 0.93 * self.full_kg and rng.random() < 0.15
        if topped_first:
            self._top_up()
        wanted = team.habit == "event" or due
        if wanted and self.h > self.fill_sampled_h + 0.1 and rng.random() < 0.93:
            self._sample(after_top_up=topped_first)
        if due:
            self._look_at_filter()
            oil = self._next_oil()
            self._fill(
                oil, "hot" if rng.random() < team.hot_drains else str(rng.choice(("cold", "part"), p=(0.7, 0.3)))
            )
        elif self.sump.oil_kg < 0.93 * self.full_kg:
            self._top_up()

    def _next_oil(self) -> NewOil:
        if self.h >= self.swap_h:
            self.swap_h = np.inf
            self.oil = self.team.oils[int(self.rng.integers(1, len(self.team.oils)))]
            if self.rng.random() < 0.6:
                self.log.changes.append(Change(round(self.h, 1), "oil", f"to {self.oil.name}"))
        return self.oil

    def _mid_season_work(self) -> None:
        if self.h >= self.cooler_h:
            self.cooler_h = np.inf
            self.wear.cooler_mg = _log_uniform(self.rng, 20, 150) * self.litres / 5.0
            self.wear.cooler_from_h = self.h
            if self.rng.random() < 0.7:
                self.log.changes.append(Change(round(self.h, 1), "part", "oil cooler renewed"))
        if self.h >= self.parts_h and self.h > 4.0 and "ring" in self.wear.tags:
            self.parts_h = np.inf
            self.fresh_run_in = (self.h, "ring")
            self.wear.sealant_mg += _log_uniform(self.rng, 5, 40) * self.litres / 5.0
            self.log.changes.append(Change(round(self.h, 1), "part", "rings renewed, bores deglazed"))
        if self.h >= self.coolant_h:
            self.coolant_h = np.inf
            self.sump.metal_mg[0] += self.wear.coolant * _log_uniform(self.rng, 0.5, 4.0) * self.sump.oil_kg
            self.flags.add("new coolant")

    # -- what happens to the oil --

    def _fill(self, oil: NewOil, drain: str) -> None:
        rng = self.rng
        fresh = self.fresh = oil.batch(rng)
        previous = self.log.fills[-1].oil if self.log.fills else ""
        if drain == "none":
            self.sump = dry(self.full_kg, fresh)
            left = 0.0
        else:
            low, high = {"hot": (0.04, 0.15), "cold": (0.12, 0.32), "part": (0.35, 0.65)}[drain]
            left = float(rng.uniform(low, high))
            self.sump.change(left, fresh)
        self.flags -= {"oil swap", "cold drain", "top-up", "top-up unlogged", "long interval"}
        if previous and previous != oil.name:
            self.flags.add("oil swap")
        if drain in ("cold", "part"):
            self.flags.add("cold drain")
        self.fill_from_h = self.fill_sampled_h = self.h
        self.long_fill = bool(rng.random() < 0.07)
        self.log.fills.append(
            Fill(
                name=f"F{len(self.log.fills) + 1}",
                oil=oil.name,
                build_h=round(self.h, 2),
                volume_l=round(self.litres * (1 - left), 1) if rng.random() < 0.6 else None,
                filled_at=self.now if rng.random() < 0.8 else None,
                drain_before=drain if rng.random() < 0.85 else "",
                filter_changed=True if rng.random() < 0.7 else None,
            )
        )

    def _top_up(self) -> None:
        rng = self.rng
        kg = (self.full_kg - self.sump.oil_kg) * float(rng.uniform(0.8, 1.0))
        self.sump.add(kg, self.oil.batch(rng) if self.log.fills[-1].oil == self.oil.name else self.oil.fresh)
        self.flags.add("top-up")
        if rng.random() < self.team.top_ups_logged:
            roughly = float(_lognormal(rng, 0.08))
            litres = max(round(kg / OIL_KG_L * roughly, 1 if self.litres > 2 else 2), 0.05)
            self.log.top_ups.append(TopUp(self.log.fills[-1].name, round(self.h, 2), litres))
        else:
            self.flags.add("top-up unlogged")

    def _session(self, hours: float, kind: str, severity: float, leaded: bool = False) -> None:
        steps = max(int(np.ceil(hours / STEP_H)), 1)
        hours = self._until_failure(hours)
        step_h = hours / steps
        made = self._made(steps, step_h, severity, leaded)
        self.sump.run(made, step_h, self.burn_kg_h * severity, self.carried)
        self.h += hours
        self.severities.append((self.h, severity))
        if leaded:
            self.flags.add("leaded fuel")
        fuel = ("leaded" if leaded else "unleaded") if self.rng.random() < self.team.logs_fuel else ""
        stamp = self.now
        self.now += dt.timedelta(hours=hours + float(self.rng.uniform(0.5, 2.0)))
        self.log.runs.append(Run(kind, round(hours, 2), stamp, max_rpm=round(8000 * severity**0.2, -2), fuel=fuel))

    def _until_failure(self, hours: float) -> float:
        if self.fault is not None and self.fault.failure_h <= self.h + hours:
            self.failed = True
            return max(self.fault.failure_h - self.h, 0.01)
        return hours

    def _made(self, steps: int, step_h: float, severity: float, leaded: bool) -> np.ndarray:
        """Metal given off in each step, all of it and that of the fault. (steps, 2, elements) [mg]"""
        wear = self.wear
        at = self.h + (np.arange(steps) + 0.5) * step_h
        own = wear.mg_h * severity * _lognormal(self.rng, wear.session_sd, len(wear.tags))
        decay = np.exp(-at / wear.run_in_h)
        rates = own * (1.0 + np.outer(decay, wear.run_in_factor))
        if self.fresh_run_in is not None:
            since, tag = self.fresh_run_in
            extra = 6.0 * np.exp(-(at - since) / wear.run_in_h)
            for column, name in enumerate(wear.tags):
                if name in (tag, "ring_face", "bore"):
                    rates[:, column] *= 1.0 + extra
        total = rates @ wear.matrix + self._from_outside(at, severity, leaded)
        fault = self._from_fault(at, step_h, severity)
        return np.stack([total + fault, fault], axis=1) * step_h

    def _from_outside(self, at: np.ndarray, severity: float, leaded: bool) -> np.ndarray:
        wear = self.wear
        sealant = wear.sealant_mg / wear.sealant_h * np.exp(-at / wear.sealant_h)
        cooler = wear.cooler_mg / wear.cooler_h * np.exp(-(at - wear.cooler_from_h) / wear.cooler_h)
        out = np.outer(sealant, in_elements(Si=1.0)) + np.outer(cooler, in_elements(Cu=1.0))
        if "assembly lube" in self.flags:
            out += np.outer(np.exp(-at / wear.lube_h), wear.lube / wear.lube_h)
        out += wear.background_dust * severity * wear.dust
        if leaded:
            out += in_elements(Pb=wear.lead_mg_h * severity)
        if sealant[-1] / self.sump.oil_kg > 0.15:
            self.flags.add("sealant")
        if cooler[-1] / self.sump.oil_kg > 0.1:
            self.flags.add("copper leaching")
        return out

    def _from_fault(self, at: np.ndarray, step_h: float, severity: float) -> np.ndarray:
        out = np.zeros((at.size, len(ELEMENTS)))
        if self.fault is None:
            return out
        plan, wear = self.fault, self.wear
        rate = plan.law.rate(at - plan.onset_h)
        first = plan.recipe[0][0]
        if first in ("dust", "coolant"):
            return self._contamination(out, first, rate, at)
        if plan.kind == "overlay then lining":
            gone = np.minimum((self.lost_mg + np.cumsum(rate) * step_h) / plan.layer_mg, 1.0)
            self.lost_mg += float(rate.sum() * step_h)
            into = np.clip((gone - 0.5) / 0.5, 0.0, 1.0)
            shares = [(plan.recipe[0][0], 1.0 - into), (plan.recipe[1][0], into)]
        else:
            shares = [(tag, np.full(at.size, share)) for tag, share in plan.recipe]
        wobble = float(_lognormal(self.rng, 0.15)) * severity**0.5
        for tag, share in shares:
            out += np.outer(rate * share * plan.seen_share * wobble, wear.matrix[wear.tags.index(tag)])
        return out

    def _contamination(self, out: np.ndarray, what: str, rate: np.ndarray, at: np.ndarray) -> np.ndarray:
        wear, plan = self.wear, self.fault
        out += np.outer(rate, wear.dust if what == "dust" else wear.coolant)
        if what == "dust":
            helpers = DUST_HELPERS
        else:
            late = at > plan.onset_h + 0.5 * plan.law.window_h
            rate = np.where(late, 0.15 * rate, 0.0)
            helpers = (("main_overlay", 1.0), ("main_lining", 0.5), ("rod_lining", 0.5))
        for tag, share in helpers:
            if tag in wear.tags:
                out += np.outer(rate * share, wear.matrix[wear.tags.index(tag)])
        return out

    # -- what is written down --

    def _look_at_filter(self) -> None:
        rng = self.rng
        if rng.random() > 0.12:
            return
        size = float(self.sump.fault_ppm.sum())
        iron = float(self.sump.fault_ppm[INDEX["Fe"]])
        words = ("none", "few", "12", "many")
        grade = int(np.clip(np.digitize(size * (1.5 - self.fault.seen_share if self.fault else 0), (3, 10, 30)), 0, 3))
        magnetic = grade if iron > 0.5 * size else 0
        nuisance = int(rng.random() < 0.15)
        self.log.filter_cuts.append(
            FilterCut(
                build_h=round(self.h, 2),
                ferrous=words[max(magnetic, nuisance)],
                non_ferrous=words[0 if magnetic else grade],
                largest_mm=round(float(0.1 + 0.3 * grade * rng.uniform(0.5, 1.5)), 1),
            )
        )

    def _sample(self, break_in: bool = False, after_top_up: bool = False) -> None:
        rng, team = self.rng, self.team
        cold = rng.random() < team.cold_samples
        ppm, fault_ppm = self.sump.ppm.copy(), self.sump.fault_ppm.copy()
        flags = set(self.flags)
        if cold:
            settled = np.array(
                [1.0 if el in ("Zn", "P", "Ca", "Mg", "B", "Na", "K") else rng.uniform(0.72, 0.95) for el in ELEMENTS]
            )
            ppm, fault_ppm = ppm * settled, fault_ppm * settled
            flags.add("cold sample")
        device = team.instrument(self.now)
        if np.abs(device.gain_at(self.now) / device.gain - 1.0).max() > 0.08:
            flags.add("instrument drift")
        if self.log.samples and self.log.samples[-1].instrument.name != device.name:
            flags.add("instrument change")
        if self.h - self.fill_sampled_h > 1.9 * max(team.fill_h, 3.0) and self.long_fill:
            flags.add("long interval")
        if self.h < 6.0:
            flags.add("run-in")
        if self.kind.slots[0].tag == "bore" and team.slot_materials[self.place]["bore"].startswith("al_"):
            flags.add("aluminium-silicon bore")
        if self.fresh_run_in is not None and self.h - self.fresh_run_in[0] < 6.0:
            flags.add("part change")
        blank = rng.random() < team.oil_h_blank
        if blank:
            flags.add("blank oil hours")
        says = rng.random() < team.says_drawn
        record = Sample(
            code="",
            fill=self.log.fills[-1].name,
            build_h=round(self.h, 2),
            oil_h=None if blank else round(self.h - self.fill_from_h, 2),
            taken_at=self.now.replace(second=0, microsecond=0),
            drawn=("cold" if cold else "hot") if says else "",
            before_top_up=(not after_top_up) if says else None,
            instrument=device.name,
            break_in=break_in,
        )
        recent = [value for hour, value in self.severities if hour > self.fill_sampled_h]
        healthy = self.fault is None or self.h < self.fault.onset_h
        severity = float(np.mean(recent)) if recent else 1.0
        self.log.samples.append(Drawn(record, ppm, fault_ppm, self.fresh, flags, severity, healthy, device))
        self.fill_sampled_h = self.h
        self.flags &= {"oil swap", "cold drain", "assembly lube", "leaded fuel"} if self.h < 6 else {"leaded fuel"}
        if self.h > 8.0:
            self.flags.discard("leaded fuel")

    def leak_downs(self) -> list[LeakDown]:
        """Now and then a leak-down is on record; a ring, bore or piston fault shows in one cylinder."""
        rng = self.rng
        if rng.random() > 0.25:
            return []
        out = []
        base = rng.uniform(2.0, 5.0)
        for hour in np.arange(2.0, self.h, max(self.h / 3.0, 2.0)):
            bad = self.fault is not None and self.fault.kind in ("ring scuff", "bore wear", "piston scuff", "dust")
            gone = 0.0
            if bad and hour > self.fault.onset_h:
                gone = 15.0 * ((hour - self.fault.onset_h) / self.fault.law.window_h) ** 2
            for cylinder in range(self.kind.cylinders):
                extra = gone if cylinder == 0 else 0.1 * gone
                out.append(
                    LeakDown(
                        round(float(hour), 1), str(cylinder + 1), round(float(base + rng.normal(0, 0.5) + extra), 1)
                    )
                )
        return out


# --- bottles that hold something else -------------------------------------------------------------------------------


def _spoil_bottles(drawn: list[Drawn], team: Team, rng: np.random.Generator) -> None:
    """Mixed bottles, another oil in the bottle, two bottles swapped: about one sample in fifty."""
    for item in drawn:
        chance = rng.random()
        if item.sample.break_in or chance > 0.017:
            continue
        if chance < 0.007:
            other = drawn[int(rng.integers(len(drawn)))]
            share = float(rng.uniform(0.2, 0.5))
            item.ppm = (1 - share) * item.ppm + share * other.ppm
            item.fault_ppm = (1 - share) * item.fault_ppm + share * other.fault_ppm
            item.healthy = item.healthy and other.healthy
            item.confounders.add("mixed bottle")
        elif chance < 0.014:
            item.ppm = _gear_oil(rng)
            item.fault_ppm = np.zeros(len(ELEMENTS))
            item.confounders.add("other oil in the bottle")
    _swap_bottles(drawn, rng)


def _swap_bottles(drawn: list[Drawn], rng: np.random.Generator) -> None:
    by_day: dict[dt.date, list[Drawn]] = {}
    for item in drawn:
        by_day.setdefault(item.sample.taken_at.date(), []).append(item)
    for items in by_day.values():
        if len(items) > 1 and rng.random() < 0.02:
            first, second = items[0], items[1]
            first.ppm, second.ppm = second.ppm, first.ppm
            first.fault_ppm, second.fault_ppm = second.fault_ppm, first.fault_ppm
            both = first.healthy and second.healthy
            for item in (first, second):
                item.healthy = item.healthy and both
                item.confounders.add("swapped bottles")


def _gear_oil(rng: np.random.Generator) -> np.ndarray:
    """Used gearbox oil, in a bottle that should hold engine oil. [ppm]"""
    return in_elements(
        Fe=rng.uniform(20, 120),
        Cu=rng.uniform(2, 40),
        Al=rng.uniform(0, 10),
        P=rng.uniform(700, 2000),
        B=rng.uniform(50, 300),
        Ca=rng.uniform(5, 100),
        Si=rng.uniform(5, 30),
        Zn=rng.uniform(5, 60),
        Mn=rng.uniform(0, 4),
    )


# --- the fleet ------------------------------------------------------------------------------------------------------


@dataclass
class Played:
    """One build after its season, before its samples have readings."""

    engine: str
    build: str
    place: int
    season: Seasons


def _play_engine(team: Team, name: str, rng: np.random.Generator) -> list[Played]:
    place = int(rng.integers(len(team.kinds)))
    kind = team.kinds[place]
    listed = {tag for tag, part in team.tags[place].items() if part in {p.name for p in team.families[place].parts}}
    own = float(_lognormal(rng, rng.uniform(0.15, 0.35)))
    start = team.first_day + dt.timedelta(days=float(rng.uniform(0, 50)), hours=9)
    out: list[Played] = []
    hours_left = 1.6 * float(rng.uniform(*kind.hours))
    while hours_left > 5.0 and len(out) < 2:
        season_h = hours_left if rng.random() < 0.8 else hours_left * 0.6
        wear = _wear(team, place, team.families[place].sump_l, own, rng)
        faulty = rng.random() < FAULTY_SHARE * (1.0 if not out else 0.6)
        fault = _plan_fault(wear, listed, team.families[place].sump_l, season_h, rng) if faulty else None
        season = Seasons(team, place, name, str(len(out) + 1), start, wear, season_h, fault, rng)
        season.play()
        out.append(Played(name, season.build, place, season))
        hours_left -= season.h
        start = season.now + dt.timedelta(days=float(rng.uniform(10, 30)))
        if season.failed and rng.random() < 0.6:
            break
    return out


def _pick_kinds(count: int, rng: np.random.Generator) -> list[list[Kind]]:
    """Kinds of engine per team: every kind comes up before one comes up twice."""
    order: list[Kind] = []
    teams = []
    for _ in range(count):
        wanted = int(rng.integers(1, 4))
        while len(order) < wanted:
            order += [KINDS[place] for place in rng.permutation(len(KINDS))]
        teams.append(order[:wanted])
        order = order[wanted:]
    return teams


def make(seed: int, engines: int = 60) -> World:
    """A fleet of `engines` engines in teams of about ten, and the truth about it."""
    rng = np.random.default_rng([seed, 0xA])
    count = max(1, round(engines / 10))
    teams, played = [], []
    first_family = 0
    for number, kinds in enumerate(_pick_kinds(count, rng)):
        team = _team(number, first_family, kinds, rng)
        first_family += len(kinds)
        mine = engines // count + (1 if number < engines % count else 0)
        numbers = rng.choice(np.arange(1, 99), size=mine, replace=False)
        builds = [play for item in sorted(numbers) for play in _play_engine(team, f"T{number + 1}-{item:02d}", rng)]
        _spoil_bottles([drawn for play in builds for drawn in play.season.log.samples], team, rng)
        teams.append(team)
        played.append(builds)
    return _world(seed, teams, played, rng)


def _codes(played: list[list[Played]]) -> dict[int, str]:
    """id of a drawn sample -> its code, numbered over the whole fleet in order of time."""
    drawn = [item for builds in played for play in builds for item in play.season.log.samples]
    order = sorted(range(len(drawn)), key=lambda place: (drawn[place].sample.taken_at, place))
    return {id(drawn[place]): f"31-{number + 1:04d}" for number, place in enumerate(order)}


def _world(seed: int, teams: list[Team], played: list[list[Played]], rng: np.random.Generator) -> World:
    codes = _codes(played)
    engines: list[Engine] = []
    faults: list[Fault] = []
    truths: dict[str, SampleTruth] = {}
    for team, builds in zip(teams, played, strict=True):
        by_engine: dict[str, list[Played]] = {}
        for play in builds:
            by_engine.setdefault(play.engine, []).append(play)
        for name, items in by_engine.items():
            records = tuple(_build_record(play, codes, truths, faults, rng) for play in items)
            engines.append(Engine(name=name, family=team.families[items[0].place].name, builds=records))
    with_noise = bool(rng.random() < 0.3)
    devices = [device for team in teams for device in team.instruments]
    checks: list[CheckRun] = []
    for team in teams:
        if team.checks_instruments:
            days = [team.first_day + dt.timedelta(days=7 * week, hours=8) for week in range(36)]
            checks += [run for device in team.instruments for run in device.checks(days, rng)]
    fleet = Fleet(
        engines=tuple(engines),
        families={family.name: family for team in teams for family in team.families},
        materials=dict(alloys.materials()),
        oils={oil.name: oil.record for team in teams for oil in [*team.oils, *team.break_in_oils]},
        instruments={device.name: device.record(with_noise, rng) for device in devices},
        check_runs=tuple(checks),
    )
    kinds = {fam.name: kind.name for team in teams for fam, kind in zip(team.families, team.kinds, strict=True)}
    return World(fleet, Truth("a", seed, tuple(faults), truths, kinds))


def _build_record(
    play: Played, codes: dict[int, str], truths: dict[str, SampleTruth], faults: list[Fault], rng: np.random.Generator
) -> Build:
    season, samples = play.season, []
    for item in season.log.samples:
        code = codes[id(item)]
        readings = item.instrument.read(item.ppm, item.sample.taken_at, rng)
        samples.append(replace(item.sample, code=code, readings=readings))
    truths.update(_sample_truths(play, codes))
    if season.fault is not None and season.failed:
        faults.append(_fault_truth(play))
    log = season.log
    return Build(
        number=play.build,
        parts=season.family.parts,
        sump_l=season.family.sump_l if rng.random() < 0.3 else None,
        built_on=log.runs[0].started_at,
        fills=tuple(log.fills),
        top_ups=tuple(log.top_ups),
        runs=tuple(log.runs),
        samples=tuple(samples),
        leak_downs=tuple(season.leak_downs()),
        filter_cuts=tuple(log.filter_cuts),
        changes=tuple(log.changes),
    )


def _sample_truths(play: Played, codes: dict[int, str]) -> dict[str, SampleTruth]:
    """Truth per sample code of one build; what can be seen of a fault adds up over the fills."""
    out: dict[str, SampleTruth] = {}
    best_of_fill: dict[str, float] = {}
    for item in play.season.log.samples:
        visible, fill = _visible(item), item.sample.fill
        if item.confounders & {"swapped bottles", "mixed bottle"}:
            visible = None
        else:
            best_of_fill[fill] = max(best_of_fill.get(fill, 0.0), visible.square)
        out[codes[id(item)]] = SampleTruth(
            engine=play.engine,
            build=play.build,
            family=play.season.kind.name,
            build_h=item.sample.build_h,
            healthy=item.healthy,
            confounders=frozenset(item.confounders),
            severity=item.severity,
            seen_sd=round(float(np.sqrt(sum(best_of_fill.values()))), 2),
            visible=visible,
            fill=fill,
        )
    return out


def _visible(item: Drawn) -> Visible:
    sound = item.ppm - item.fault_ppm - item.fresh_ppm
    return what_is_visible(item.fault_ppm, sound, item.instrument.sd(item.ppm), item.instrument.elements)


def _fault_truth(play: Played) -> Fault:
    season, plan = play.season, play.season.fault
    first = plan.recipe[0][0]
    outside = first if first in ("dust", "coolant") else ""
    names = season.team.tags[play.place]
    strong = {tag for tag, share in plan.recipe if share >= 0.25 or plan.kind == "overlay then lining"}
    return Fault(
        engine=play.engine,
        build=play.build,
        family=season.kind.name,
        kind=plan.kind if plan.kind != "bore wear" else f"bore wear: {_bore_word(season)}",
        parts=frozenset() if outside else frozenset(names[tag] for tag in strong),
        outside=outside,
        onset_h=round(plan.onset_h, 3),
        failure_h=round(plan.failure_h, 3),
        doubling_h=round(plan.law.doubling_h, 2),
        shape=plan.law.shape,
        ended_by=plan.law.ended_by,
    )


def _bore_word(season: Seasons) -> str:
    material = season.team.slot_materials[season.place][season.fault.recipe[0][0]]
    for start, word in (
        ("iron", "iron"),
        ("spray", "sprayed iron"),
        ("ni_", "nickel"),
        ("al_", "Al-Si"),
        ("cr_", "chrome"),
    ):
        if material.startswith(start):
            return word
    return "other"


__all__ = ["PACKS", "make"]
