"""Histories told by hand: what an engine truly sheds is known, and so is what the bench is told of it.

A sump is a mass of oil and milligrams of metal in it; running adds metal, a drain leaves a share, a top-up replaces
what was lost. All engines, oils and figures are invented. Nothing here is taken from the room that is tested.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from benchapp.library import load_library
from benchapp.records import (
    Build,
    Engine,
    Family,
    Fill,
    Fleet,
    Instrument,
    Oil,
    Part,
    Reading,
    Run,
    Sample,
    TopUp,
)
from benchapp.wear.rules import Rules, rules_from

LIBRARY = load_library()
RULES = rules_from(LIBRARY)
KG_PER_L = 0.87

RACE = "an invented race oil"
ROAD = "an invented road oil"
OILS = {
    RACE: Oil(RACE, "race", fresh_ppm={
        "Zn": 1450.0, "P": 1300.0, "Ca": 1900.0, "Mg": 20.0, "Mo": 90.0, "B": 60.0, "Si": 5.0, "Na": 4.0, "K": 0.5,
        "Fe": 0.4, "Al": 0.3, "Cu": 0.2, "Pb": 0.1, "Sn": 0.1, "Cr": 0.1, "Ni": 0.1,
    }),
    ROAD: Oil(ROAD, "road", fresh_ppm={
        "Zn": 820.0, "P": 740.0, "Ca": 1150.0, "Mg": 620.0, "Mo": 3.0, "B": 190.0, "Si": 6.0, "Na": 3.0, "K": 0.5,
        "Fe": 0.5, "Al": 0.5, "Cu": 0.3, "Pb": 0.1, "Sn": 0.1, "Cr": 0.1, "Ni": 0.1,
    }),
}  # fmt: skip
ELEMENTS = ("Fe", "Cr", "Ni", "Al", "Si", "Cu", "Pb", "Sn", "Mo", "Na", "K", "B", "Ca", "Mg", "Zn", "P")

IRON_V8 = (
    Part("bores", "iron_grey_cyl_block", "bore"),
    Part("pistons", "al_2618", "piston"),
    Part("top ring face", "ring_face_mo", "ring face"),
    Part("main bearing overlay", "ovl_pbsn10cu2", "main bearing overlay", area_cm2=110.0, thickness_um=15.0),
    Part("main bearing lining", "brg_sae49", "main bearing lining", area_cm2=110.0, thickness_um=300.0),
    Part("crank", "steel_4340", "crank"),
)
AL_SI_V8 = (
    Part("bores", "al_390", "bore"),
    Part("top ring face", "cr_hard_plate", "ring face"),
    Part("main bearing lining", "brg_alsn20cu", "main bearing lining"),
    Part("crank", "steel_42crmo4", "crank"),
)
COOLER = Part("oil cooler", "cu_c12200", "cooler")

SOUND = {  # mg/h that a sound engine sheds, by part; invented
    "bores": 3.0, "pistons": 1.2, "top ring face": 0.4, "main bearing overlay": 0.5, "main bearing lining": 0.6,
    "crank": 0.8, "oil cooler": 0.1,
}  # fmt: skip
AL_SI = {"bores": 6.0, "top ring face": 0.6, "main bearing lining": 0.8, "crank": 2.0}


def metal_of(part: Part) -> dict[str, float]:
    """Element -> mass fraction of a part's material [-]."""
    shares = LIBRARY.materials[part.material].shares
    return {share.element: (share.nominal_pct or 0.0) / 100.0 for share in shares}


def of_source(name: str, variant: int = 0) -> dict[str, float]:
    """Element -> mass fraction of dust or coolant [-]."""
    shares = LIBRARY.non_wear[name].variants[variant].shares
    return {share.element: (share.nominal_pct or 0.0) / 100.0 for share in shares}


@dataclass
class Story:
    """One build from its first start on; each method is something that happens, in order."""

    name: str
    parts: tuple[Part, ...] = IRON_V8
    rates: Mapping[str, float] = field(default_factory=lambda: SOUND)
    litres: float = 6.0
    seed: int = 1
    scatter: float = 0.05
    number: str = "1"
    start: dt.datetime = dt.datetime(2031, 3, 1, 9, 0)

    def __post_init__(self) -> None:
        self.rng = np.random.default_rng(self.seed)
        self.ppm = dict.fromkeys(ELEMENTS, 0.0)
        self.hours = self.since_fill = 0.0
        self.oil = ""
        self.fills: list[Fill] = []
        self.top_ups: list[TopUp] = []
        self.runs: list[Run] = []
        self.samples: list[Sample] = []
        self.settling = 30.0
        """Extra wear at the first start, in settled rates; it dies away with 0.9 h."""

    @property
    def mass(self) -> float:
        return self.litres * KG_PER_L

    @property
    def now(self) -> dt.datetime:
        return self.start + dt.timedelta(days=3 * len(self.runs), hours=len(self.samples))

    def fill(self, oil: str = RACE, drain: str = "hot", left: float = 0.10) -> Story:
        """A drain that truly leaves `left` of the old oil, written down as `drain`, and fresh oil."""
        first = not self.fills
        left = 0.0 if first else left
        fresh = OILS[oil].fresh_ppm
        self.ppm = {e: left * self.ppm[e] + (1 - left) * fresh.get(e, 0.0) for e in ELEMENTS}
        self.since_fill, self.oil = 0.0, oil
        name = f"{self.number}.{len(self.fills) + 1}"
        self.fills.append(Fill(name, oil, self.hours, self.litres, self.now, "none" if first else drain, True))
        return self

    def run(
        self, hours: float, kind: str = "practice", lift: float = 1.0, fuel: str = "unleaded",
        extra: Mapping[str, float] | None = None, times: Mapping[str, float] | None = None,
    ) -> Story:  # fmt: skip
        """`lift` on all wear, `times` on single parts, `extra` mg/h per element beside wear."""
        steady = math.exp(-self.hours / 0.9) - math.exp(-(self.hours + hours) / 0.9)
        seating = 1.0 + self.settling * 0.9 * steady / hours
        for part in self.parts:
            odd = math.exp(self.rng.normal(0.0, self.scatter))
            shed = self.rates[part.name] * hours * lift * odd * seating * (times or {}).get(part.name, 1.0)
            for element, share in metal_of(part).items():
                if element in self.ppm:
                    self.ppm[element] += shed * share / self.mass
        for element, rate in (extra or {}).items():
            if element in self.ppm:
                self.ppm[element] += rate * hours / self.mass
        self.runs.append(Run(kind, hours, self.now, fuel=fuel))
        self.hours = round(self.hours + hours, 6)
        self.since_fill = round(self.since_fill + hours, 6)
        return self

    def top_up(self, litres: float) -> Story:
        share = litres / self.litres
        fresh = OILS[self.oil].fresh_ppm
        self.ppm = {e: (1 - share) * self.ppm[e] + share * fresh.get(e, 0.0) for e in ELEMENTS}
        self.top_ups.append(TopUp(self.fills[-1].name, self.hours, litres))
        return self

    def sample(
        self, *, break_in: bool = False, instrument: str = "the bench's own", gains: Mapping[str, float] | None = None,
        bottle: Mapping[str, float] | None = None,
    ) -> Story:  # fmt: skip
        """A bottle of what is in the sump (or of `bottle`, ppm), read with 2 % and 0.15 ppm of noise."""
        readings = []
        for element in ELEMENTS:
            true = (bottle or self.ppm)[element] * (gains or {}).get(element, 1.0)
            read = max(true + self.rng.normal(0.0, math.hypot(0.15, 0.02 * true)), 0.0)
            readings.append(Reading(element, round(read, 1)))
        code = f"{self.name}/{self.number}-{len(self.samples) + 1}"
        self.samples.append(
            Sample(code, self.fills[-1].name, self.hours, self.since_fill, self.now, "hot", True, instrument,
                   break_in, "", tuple(readings))
        )  # fmt: skip
        return self

    def broken_in(self) -> Story:
        """The usual beginning: one hour, a sample as the ceiling, race oil in and two more hours."""
        return self.fill().run(1.0, "break-in").sample(break_in=True).fill().run(3.0)

    def usual(self, times: int, hours: float = 4.0) -> Story:
        """That many equal fills, each sampled at its end."""
        for _ in range(times):
            self.fill().run(hours).sample()
        return self

    def build(self) -> Build:
        return Build(
            self.number, self.parts, self.litres, self.start, fills=tuple(self.fills), top_ups=tuple(self.top_ups),
            runs=tuple(self.runs), samples=tuple(self.samples),
        )  # fmt: skip


def sister(number: int, parts: tuple[Part, ...] = IRON_V8, rates: Mapping[str, float] = SOUND) -> Story:
    """A sound engine of the same family, built a season earlier, its rates somewhat other."""
    factor = (0.8, 1.2, 0.95)[number % 3]
    own = {name: rate * factor for name, rate in rates.items()}
    story = Story(f"sister {number}", parts, own, seed=50 + number, start=dt.datetime(2030, 3, 1, 9, 0))
    return story.broken_in().usual(6)


def fleet_of(*stories: Story, sisters: int = 2, parts: tuple[Part, ...] | None = None) -> Fleet:
    """A fleet of one family: each engine's builds in the order told, and sound sisters."""
    parts = parts or stories[0].parts
    rates = stories[0].rates
    told = [*stories, *(sister(number, parts, rates) for number in range(sisters))]
    engines: dict[str, Engine] = {}
    for story in told:
        known = engines.get(story.name, Engine(story.name, "invented family"))
        engines[story.name] = replace(known, builds=(*known.builds, story.build()))
    return Fleet(
        tuple(engines.values()),
        {"invented family": Family("invented family", sump_l=6.0, parts=parts)},
        LIBRARY.materials,
        OILS,
        {"the bench's own": Instrument("the bench's own", "icp"), "a lab": Instrument("a lab", "icp")},
    )


def rules_with(section: str, **values: object) -> Rules:
    """The rule table with some entries of one section otherwise."""
    return replace(RULES, table={**RULES.table, section: {**RULES.table[section], **values}})
