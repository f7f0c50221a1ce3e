"""Generator c: sparse data, fill by fill. Few elements, whole numbers, no run log, three to six samples an engine.

Many engines of one make, part names in other languages, roles left blank, top-ups never written down, one sample at
each drain. Only the family can say what is normal.
"""

from __future__ import annotations

import datetime as dt
import itertools
from dataclasses import dataclass

import numpy as np

from benchapp.records import Build, Engine, Family, Fill, Fleet, Instrument, Part, Reading, Sample

from . import alloys
from .alloys import ELEMENTS, INDEX, in_elements
from .oils import new_oil
from .truth import Fault, SampleTruth, Truth, Visible, World, what_is_visible

FAULTY = 0.45
ELEMENT_SETS = (
    ("Fe", "Al", "Cu", "Pb", "Si"),
    ("Fe", "Cr", "Al", "Cu", "Pb", "Sn", "Si", "Na"),
    ("Fe", "Cr", "Ni", "Al", "Cu", "Pb", "Sn", "Si", "Na", "K", "Ca", "Zn"),
)
MAKES = {
    # name -> sump range [L], parts: (name, material, normal mg/h)
    "Einzylinder": ((1.0, 1.5), (
        ("Laufbuchse", "iron_grey_liner_p", 0.4), ("Kolbenring", "ring_grey", 0.15), ("Kolben", "al_4032", 0.3),
        ("Pleuellager", "brg_alsn20cu", 0.1), ("Nockenwelle", "cam_chilled_iron", 0.2), ("Ventilführung",
            "cu_c67300", 0.06),
    )),
    "quattro cilindri": ((4.0, 6.0), (
        ("canna", "iron_gjl250", 1.8), ("fasce elastiche", "ring_ductile", 0.6), ("pistone", "al_2618", 0.8),
        ("bronzine di banco, strato", "ovl_pbsn10cu2", 0.4), ("bronzine di banco", "brg_cupb24sn4", 0.15),
        ("albero a camme", "cam_hardenable_iron", 0.7), ("boccola turbo", "cu_c93700", 0.15),
    )),
    "moteur V6": ((6.0, 9.0), (
        ("chemise", "ni_sic_plate", 0.6), ("segments", "steel_440b", 0.6), ("piston", "al_4032", 0.9),
        ("coussinet", "brg_cusn8ni", 0.3), ("arbre à cames", "steel_9310", 0.5), ("distribution", "steel_8620", 0.6),
    )),
    "boxer": ((7.0, 11.0), (
        ("cilindro", "al_390", 1.0), ("aros", "steel_440b", 0.7), ("pistón", "al_si12cunimg", 0.6),
        ("cojinetes", "brg_alsn12si4cu", 0.5), ("árbol de levas", "cam_chilled_iron", 0.7), ("cadena",
            "steel_52100", 0.4),
    )),
    "sylinder åtte": ((9.0, 16.0), (
        ("sylinderfôring", "iron_grey_cyl_block", 3.0), ("stempelring", "steel_9254", 0.8), ("stempel", "al_2618a",
            1.2),
        ("lagerskål", "ovl_pbin7", 0.8), ("lagermetall", "brg_sae49", 0.3), ("kamaksel", "steel_8620", 0.5),
        ("rulleløfter", "steel_52100", 0.4), ("ventilstyring", "cu_c64200", 0.2),
    )),
}  # fmt: skip
BEHIND = {"bronzine di banco, strato": "bronzine di banco", "lagerskål": "lagermetall"}


def make(seed: int, engines: int = 60) -> World:
    """Engines of one to three makes at one laboratory's customers, and the truth about them."""
    rng = np.random.default_rng([seed, 0xC])
    count = int(rng.integers(1, 4))
    names = [str(name) for name in rng.choice(list(MAKES), size=count, replace=False)]
    lab = _Lab(rng)
    sizes = {name: round(float(rng.uniform(*MAKES[name][0])), 1) for name in names}
    families = {
        name: Family(
            name, sump_l=sizes[name], parts=tuple(Part(part, material) for part, material, _ in MAKES[name][1])
        )
        for name in names
    }
    levels = {name: np.exp(rng.normal(0, 0.4, len(MAKES[name][1]))) for name in names}
    records, faults, truths = [], [], {}
    for number in range(engines):
        name = names[number % count]
        label = f"{int(rng.integers(100, 999))}-{number + 1:02d}"
        build, fault, truth = _engine(label, name, sizes[name], levels[name], lab, rng)
        records.append(Engine(label, name, builds=(build,)))
        faults += [fault] if fault else []
        truths.update(truth)
    fleet = Fleet(
        engines=tuple(records),
        families=families,
        materials=dict(alloys.materials()),
        oils={lab.oil.name: lab.oil.record},
        instruments={"Labor": Instrument("Labor", "lab")},
    )
    return World(fleet, Truth("c", seed, tuple(faults), truths, {name: name for name in names}))


class _Lab:
    """One laboratory: whole ppm, a short list of elements, one oil that everybody uses."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.elements = ELEMENT_SETS[int(rng.integers(len(ELEMENT_SETS)))]
        self.oil = new_oil("Öl 1", "race" if rng.random() < 0.6 else "road", rng, 0.5)
        self.noise = rng.uniform(0.3, 0.7)
        self.share = rng.uniform(0.03, 0.06)
        self.number = int(rng.integers(1000, 9000))

    def code(self) -> str:
        self.number += 1
        return f"L{self.number}"

    def sd(self, ppm: np.ndarray) -> np.ndarray:
        return np.sqrt(self.noise**2 + (self.share * ppm) ** 2 + 1.0 / 12.0)

    def visible(self, oil: _Oil) -> Visible:
        """The fault's metal in the bottle and what hides it."""
        return what_is_visible(oil.f, oil.c - oil.f - self.oil.fresh, self.sd(oil.c), self.elements)

    def read(self, ppm: np.ndarray, rng: np.random.Generator) -> tuple[Reading, ...]:
        seen = np.rint(ppm + rng.normal(size=ppm.size) * np.sqrt(self.noise**2 + (self.share * ppm) ** 2))
        return tuple(
            Reading(el, float(seen[INDEX[el]])) if seen[INDEX[el]] >= 1 else Reading(el, 1.0, qualifier="<")
            for el in self.elements
        )


@dataclass
class _Oil:
    """All metal and the fault's metal in one engine's oil [ppm], and what its sound parts do."""

    kg: float
    c: np.ndarray
    f: np.ndarray
    rates: dict[str, float]
    alloy: dict[str, np.ndarray]
    sealant: float
    run_in: float

    def fill(self, begin: float, end: float, first: bool, fault, fresh: np.ndarray, rng: np.random.Generator):
        """One whole fill from refilling to drain; returns (severity, share burnt)."""
        left = 0.0 if first else float(rng.uniform(0.05, 0.2))
        hours = end - begin
        hard = float(np.exp(rng.normal(0, 0.15))) * (1.7 if rng.random() < 0.06 else 1.0)
        made = _made(self.rates, self.alloy, hours, hard, rng) * (1.0 + self.run_in / hours if first else 1.0)
        made += in_elements(Si=self.kg * self.sealant * (np.exp(-begin / 10) - np.exp(-end / 10)))
        bad = _made_by_fault(fault, self.alloy, begin, end)
        burnt = float(rng.uniform(0.0, 0.12))  # made up without a note: thins everything a little
        self.c = (left * self.c + (1 - left) * fresh) * (1 - burnt) + burnt * fresh
        self.c = self.c + (made + bad) / self.kg * (1 - burnt / 2)
        self.f = left * self.f * (1 - burnt) + bad / self.kg * (1 - burnt / 2)
        return hard, burnt


def _engine(label: str, make_name: str, sump_l: float, level: np.ndarray, lab: _Lab, rng: np.random.Generator):
    parts = MAKES[make_name][1]
    oil = _new_oil_in(parts, sump_l, level, lab, rng)
    lengths = float(rng.uniform(4, 10)) * np.exp(rng.normal(0, 0.25, int(rng.integers(3, 7))))
    edges = np.concatenate([[0.0], np.cumsum(lengths)])
    fault = None
    for _ in range(20 if rng.random() < FAULTY else 0):
        fault = fault or _trouble(label, make_name, parts, edges[1:], sump_l, oil.rates, rng)
    day = dt.datetime(2033, 4, 1) + dt.timedelta(days=float(rng.uniform(0, 90)))
    fills, samples, truths = [], [], {}
    seen2 = 0.0
    for place, (begin, end) in enumerate(itertools.pairwise(edges)):
        if fault and fault[0].failure_h <= end:
            break
        hard, burnt = oil.fill(float(begin), float(end), place == 0, fault, lab.oil.fresh, rng)
        name, known = str(place + 1), bool(rng.random() > 0.15)
        taken = (day + dt.timedelta(days=21 * place + float(rng.uniform(0, 10)))).replace(microsecond=0)
        fills.append(Fill(name, lab.oil.name, round(begin), drain_before="" if place else "none"))
        oil_h = float(round(end - begin)) if known else None
        readings = lab.read(oil.c, rng)
        sample = Sample(lab.code(), name, round(end), oil_h, taken, instrument="Labor", readings=readings)
        samples.append(sample)
        visible = lab.visible(oil)
        seen2 += visible.square
        facts = {
            "hard session": hard > 1.5,
            "run-in": place == 0,
            "blank oil hours": not known,
            "sealant": oil.sealant > 0 and begin < 15,
            "top-up unlogged": burnt > 0.06,
        }
        truths[sample.code] = SampleTruth(
            engine=label,
            build="1",
            family=make_name,
            build_h=round(end),
            healthy=fault is None or round(end) < fault[0].onset_h,
            confounders=frozenset(flag for flag, true in facts.items() if true),
            severity=hard,
            seen_sd=round(seen2**0.5, 2),
            visible=visible,
            fill=name,
        )
    family_parts = tuple(Part(part, material) for part, material, _ in parts)
    build = Build("1", family_parts, fills=tuple(fills), samples=tuple(samples))
    return build, fault[0] if fault else None, truths


def _new_oil_in(parts, sump_l: float, level: np.ndarray, lab: _Lab, rng: np.random.Generator) -> _Oil:
    own = {
        part: rate * lv * float(np.exp(rng.normal(0, 0.3))) for (part, _, rate), lv in zip(parts, level, strict=True)
    }
    return _Oil(
        kg=sump_l * 0.87 * float(rng.uniform(0.93, 1.05)),
        c=lab.oil.fresh.copy(),
        f=np.zeros(len(ELEMENTS)),
        rates=own,
        alloy={part: alloys.drawn(alloys.materials()[material], rng) for part, material, _ in parts},
        sealant=float(rng.choice((0.0, rng.uniform(2, 15)))),
        run_in=float(rng.uniform(4, 20)),
    )


def _made(
    rates: dict[str, float], alloy: dict[str, np.ndarray], hours: float, hard: float, rng: np.random.Generator
) -> np.ndarray:
    """Metal given off by sound parts over one fill. [mg]"""
    total = np.zeros(len(ELEMENTS))
    for part, rate in rates.items():
        total += rate * hours * hard * float(np.exp(rng.normal(0, 0.15))) * alloy[part]
    return total


def _trouble(
    label: str,
    make_name: str,
    parts,
    edges: np.ndarray,
    sump_l: float,
    rates: dict[str, float],
    rng: np.random.Generator,
):
    """(Fault, growth rate 1/h, extra mg/h at onset): exponential, ending when the part has lost a drawn mass."""
    part = str(rng.choice([item[0] for item in parts] + ["dust", "coolant"]))
    outside = part in ("dust", "coolant")
    doubling = float(np.exp(rng.uniform(np.log(2.5), np.log(12.0))))
    start = float(rng.uniform(0.3, 1.5)) * max(0.15 * sump_l / 5 if outside else rates[part], 0.15 * sump_l / 5)
    lost_mg = float(np.exp(rng.uniform(np.log(150), np.log(1500)))) * (sump_l / 5) ** 0.7
    k = np.log(2.0) / doubling
    window = float(np.log(1.0 + lost_mg * k / start) / k)
    latest = float(edges[-1]) - 0.5 - window
    if latest < 1.0 or window < 1.2 * float(edges[-1]) / len(edges):
        return None
    onset = float(rng.uniform(1.0, latest))
    names = (part, BEHIND[part]) if part in BEHIND else (part,)
    fault = Fault(
        label,
        "1",
        make_name,
        part if outside else ("layer then lining" if len(names) > 1 else "part"),
        frozenset() if outside else frozenset(names),
        part if outside else "",
        round(onset, 2),
        round(onset + window, 2),
        round(doubling, 2),
        "exponential",
        "metal",
    )
    return fault, k, start, names


def _made_by_fault(fault, alloy: dict[str, np.ndarray], begin: float, end: float) -> np.ndarray:
    """Metal of the fault between two build hours, the exponential integrated exactly. [mg]"""
    out = np.zeros(len(ELEMENTS))
    if fault is None or end <= fault[0].onset_h:
        return out
    record, k, start, names = fault
    first, last = max(begin - record.onset_h, 0.0), end - record.onset_h
    mg = start / k * (np.exp(k * last) - np.exp(k * first))
    if names[0] == "dust":
        return mg * alloys.nominal(alloys.materials()["dust_iso12103_2016"])
    if names[0] == "coolant":
        return mg * in_elements(Na=0.6, K=0.25, Si=0.1, B=0.05)
    if len(names) == 1:
        return mg * alloy[names[0]]
    through = min(max(last / (record.failure_h - record.onset_h) - 0.4, 0.0) / 0.6, 1.0)
    return mg * ((1 - through) * alloy[names[0]] + through * alloy[names[1]])
