"""A small diary generator for the demo: runs an invented engine through its weekends and writes down what a team would.

It is not the program's method and shares no code with it: metal is shed by parts step by step into one well-mixed
sump, oil is burnt, topped up and drained, and an invented bench spectrometer reads the samples. Nothing here is real.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

MEASURED = (
    "Fe", "Cr", "Ni", "Al", "Cu", "Pb", "Sn", "Ag", "Bi", "Sb", "Ti", "Mn", "V", "Mo",
    "Si", "Na", "K", "B", "Ca", "Mg", "Zn", "P",
)  # fmt: skip
"""What the invented bench spectrometer reads, in the order of its export."""

BENCH_DISC = "Bench disc"
LAB = "Outside lab"

STEP_H = 0.05
"""Step of the sump's book-keeping [h]."""

SEVERITY = {
    "first run": 0.6, "break-in": 0.9, "dyno": 1.0, "practice": 0.9, "qualifying": 1.15, "race": 1.1, "road": 0.6,
}  # fmt: skip

LOWEST_PPM = {
    "Ag": 0.1, "Bi": 0.5, "Sb": 0.5, "V": 0.2, "Ti": 0.2, "Sn": 0.5, "Pb": 0.5, "Mn": 0.1, "Ni": 0.2, "Cr": 0.1,
}  # fmt: skip
"""Below this the invented spectrometer writes `<`."""


@dataclass(frozen=True)
class Shed:
    """What a part sheds when all is well [mg/h of the part's own metal] and how unsteady that is (log sd)."""

    part: str
    mg_h: float
    spread: float = 0.12


@dataclass(frozen=True)
class Story:
    """One engine's life in the demo. Callables take build hours [h] and return a factor or a rate."""

    engine: str
    family: str
    car: str
    notes: str
    sump_l: float
    sheds: tuple[Shed, ...]
    build: int = 1
    built_on: dt.date = dt.date(2025, 1, 20)
    first_weekend: int = 0
    last_weekend: int = 99
    oil: str = "Larkfield R40"
    next_oil: tuple[int, str] | None = None
    """From which weekend on another oil is used, and which."""
    fuel: str = "unleaded"
    coolant: str = "inhibited"
    burn_kg_h: float = 0.02
    weekends_per_fill: int = 2
    factor: Callable[[str, float], float] = lambda part, h: 1.0
    """Factor on a part's shedding at build hours h: a fault growing, or 1."""
    intake: Callable[[float], Mapping[str, float]] = lambda h: {}
    """Non-wear metal at build hours h [mg/h by element]."""
    tail: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    """Metal that leaches in and dies away: element -> (first rate [mg/h], time constant [h])."""
    drains: Mapping[int, str] = field(default_factory=dict)
    """Weekend -> kind of the drain before it, where it is not hot."""
    hard: tuple[int, ...] = ()
    """Weekends of hard running: all parts shed more."""
    wrong_bottle: tuple[int, str] | None = None
    """Weekend whose bottle held another oil, and which."""
    build_parts: tuple[tuple[str, str, str], ...] = ()
    changes: tuple[tuple[int, str, str], ...] = ()
    cuts: Mapping[int, tuple[str, str, float | None, str]] = field(default_factory=dict)
    leaks: Callable[[float, int], float] = lambda h, cylinder: 3.0 + 0.2 * (cylinder % 3)
    leak_weekends: tuple[int, ...] = ()
    """Weekends after which leak-down was tested again."""
    cylinders: int = 8
    seats_in_h: float = 1.2
    """Time constant of running-in [h]."""
    power_kw: float = 320.0
    instrument_from: tuple[int, str] | None = None
    rpm: float = 7200.0
    oil_temp_c: float = 108.0
    fuel_pct: Callable[[float], float] | None = None
    """Fuel in the oil at build hours h [%], read on a small infra-red unit; None: not measured and none there."""
    bearings: tuple[Mapping[str, object], ...] = ()
    """Plain bearings as the team measured them, rows of the workbook."""
    pressure: Callable[[float], float] | None = None
    """Hot oil pressure at build hours h as a share of its usual one; None where the team does not write it down."""
    fitted: tuple[tuple[str, str, float, str], ...] = ()
    """Parts with a life that it was built with: part, piece, life, what the life is counted in."""
    lap: tuple[float, float] | None = None
    """Length of a lap [km] and its time [min], where laps are written down."""
    findings: tuple[Seen, ...] = ()


@dataclass(frozen=True)
class Seen:
    """What was seen when someone looked inside after a weekend; `photo` names a drawing of `demo.drawn`."""

    weekend: int
    part: str
    condition: str
    measured: str = ""
    notes: str = ""
    photo: str = ""


@dataclass
class Diary:
    """Rows for the bench workbook, sheet by sheet, as a team would have written them."""

    sheets: dict[str, list[dict[str, object]]] = field(default_factory=dict)

    photos: list[tuple[dict[str, object], str]] = field(default_factory=list)
    """Findings that a photo was taken of, and what it shows."""

    def write(self, sheet: str, **row: object) -> None:
        self.sheets.setdefault(sheet, []).append(row)


class Sump:
    """One well-mixed sump: oil mass [kg] and metal [mg] by element."""

    def __init__(self) -> None:
        self.oil_kg = 0.0
        self.metal = np.zeros(len(MEASURED))

    def ppm(self) -> np.ndarray:
        return self.metal / self.oil_kg

    def add(self, kg: float, fresh: np.ndarray) -> None:
        self.oil_kg += kg
        self.metal = self.metal + kg * fresh

    def lose(self, kg: float) -> None:
        """Burnt and leaked oil takes its metal along."""
        self.metal = self.metal * (1 - kg / self.oil_kg)
        self.oil_kg -= kg

    def drain(self, kind: str) -> None:
        """What stays behind: an invented share by kind of drain."""
        share = {"none": 0.0, "hot": 0.08, "cold": 0.22, "part": 0.45}[kind]
        self.metal = self.metal * share
        self.oil_kg *= share


def composition(shares: Mapping[str, float]) -> np.ndarray:
    """Mass fractions in the order of MEASURED."""
    return np.array([shares.get(element, 0.0) for element in MEASURED])


def thinned(fuel_pct: float, at_c: float) -> float:
    """Share of its viscosity that an oil keeps with so much petrol in it [-]. Invented; a little more than it loses."""
    return float(np.exp(-(0.045 if at_c == 100.0 else 0.062) * fuel_pct))


class Spectrometer:
    """The invented bench instrument: noise, rounding as its export shows it, and `<` marks."""

    def __init__(self, rng: np.random.Generator, *, base: float = 0.15, share: float = 0.035) -> None:
        self.rng, self.base, self.share = rng, base, share

    def read(self, ppm: np.ndarray) -> dict[str, object]:
        noisy = ppm + self.rng.normal(0, np.hypot(self.base, self.share * ppm))
        return {element: self.written(element, value) for element, value in zip(MEASURED, noisy, strict=True)}

    @staticmethod
    def written(element: str, value: float) -> object:
        lowest = LOWEST_PPM.get(element, 0.3)
        if value < lowest:
            return f"<{lowest:g}"
        return round(float(value), 1) if value < 10 else round(float(value))


class Life:
    """Runs one story and writes its diary."""

    def __init__(
        self,
        story: Story,
        diary: Diary,
        rng: np.random.Generator,
        *,
        weekends: list[dt.date],
        shares: Mapping[str, Mapping[str, float]],
        oils: Mapping[str, Mapping[str, object]],
    ) -> None:
        self.story, self.diary, self.rng, self.weekends, self.oils = story, diary, rng, weekends, oils
        self.sheds = [(shed, composition(shares[shed.part])) for shed in story.sheds]
        self.sump = Sump()
        self.build_h = 0.0
        self.fill = 0
        self.fill_h = 0.0
        self.oil = ""
        self.made = 0
        self.spectrometer = Spectrometer(rng)
        self.key = {"engine": story.engine, "build": story.build}

    # --- what happens to the engine

    def fresh(self, oil: str) -> np.ndarray:
        return composition({element: float(self.oils[oil].get(element, 0.0)) for element in MEASURED})

    def refill(self, day: dt.datetime, oil: str, drain: str, *, filter_changed: bool = True) -> None:
        density = float(self.oils[oil]["density_15c_kg_l"])
        if drain == "none":
            self.sump = Sump()
        else:
            self.sump.drain(drain)
        full = self.story.sump_l * density
        poured = full - self.sump.oil_kg
        self.sump.add(poured, self.fresh(oil))
        self.fill += 1
        self.oil, self.fill_h = oil, 0.0
        self.diary.write(
            "Fills", **self.key, fill=self.fill, filled_at=day.isoformat(timespec="minutes"),
            build_h=round(self.build_h, 2), oil=oil, volume_l=round(self.story.sump_l, 1), drain_before=drain,
            filter_changed="y" if filter_changed else "n",
        )  # fmt: skip

    def run(self, at: dt.datetime, kind: str, hours: float, *, hard: float = 1.0) -> None:
        story = self.story
        session = SEVERITY[kind] * hard * float(np.exp(self.rng.normal(0, 0.10)))
        unsteady = [float(np.exp(self.rng.normal(0, shed.spread))) for shed, _ in self.sheds]
        metals = np.array([fractions for _, fractions in self.sheds]).reshape(len(self.sheds), len(MEASURED))
        for _ in range(round(hours / STEP_H)):
            h = self.build_h
            seating = 1 + 14 * np.exp(-h / story.seats_in_h)
            rates = [
                shed.mg_h * wobble * session * seating * story.factor(shed.part, h)
                for (shed, _), wobble in zip(self.sheds, unsteady, strict=True)
            ]
            extra = dict(story.intake(h))
            for element, (first, decay) in story.tail.items():
                extra[element] = extra.get(element, 0.0) + first * float(np.exp(-h / decay))
            more = [metals * np.array(rates)[:, None] * STEP_H, composition(extra)[None] * STEP_H]
            # added from the top down, as one after the other: the last digit is the same on every machine
            self.sump.metal = np.concatenate([self.sump.metal[None], *more]).sum(axis=0)
            self.sump.lose(story.burn_kg_h * STEP_H)
            self.build_h += STEP_H
            self.fill_h += STEP_H
        self.diary.write(
            "Runs", **self.key, started_at=at.isoformat(timespec="minutes"), kind=kind, hours=round(hours, 2),
            max_rpm=round(story.rpm * (0.55 if kind == "first run" else 1.0) * (1.02 if hard > 1 else 1.0), -1),
            oil_temp_c=round(story.oil_temp_c + (9 if hard > 1 else 0) + float(self.rng.normal(0, 2))), fuel=story.fuel,
            coolant=story.coolant, notes="held flat out in the heat" if hard > 1 else "", **self.laps(kind, hours),
        )  # fmt: skip

    def laps(self, kind: str, hours: float) -> dict[str, object]:
        """Laps, distance and starts of a session on the track, where the team writes them down."""
        if self.story.lap is None or kind not in ("practice", "qualifying", "race"):
            return {}
        km, minutes = self.story.lap
        laps = int(hours * 60 / minutes)
        return {"laps": laps, "distance_km": round(laps * km, 1), "starts": 1 if kind == "race" else 0}

    def oil_pressure(self) -> None:
        """Hot, at idle and at speed, as the gauge repeats: 2 % about what it is."""
        if self.story.pressure is None:
            return
        share = self.story.pressure(self.build_h)
        for rpm, kpa, warm in ((900, 135.0, 96), (6000, 485.0, 106)):
            ripple = 1 + ((self.made * 7 + rpm) % 9 - 4) / 200
            row = {"build_h": round(self.build_h, 2), "pressure_kpa": round(kpa * share * ripple), "rpm": rpm}
            self.diary.write("Oil pressure", **self.key, **row, oil_temp_c=warm + self.made % 3, gauge="dash")

    def look_inside(self, number: int) -> None:
        """What was seen after this weekend."""
        for seen in self.story.findings:
            if seen.weekend != number:
                continue
            row = {
                **self.key, "build_h": round(self.build_h, 2), "part": seen.part, "condition": seen.condition,
                "sample": f"{self.story.engine}-{self.story.build}-{self.made:03d}", "notes": seen.notes,
                "measured": seen.measured,
            }  # fmt: skip
            self.diary.write("Findings", **row)
            if seen.photo:
                self.diary.photos.append((row, seen.photo))

    def top_up(self) -> None:
        """Back to the mark once about 0.3 L is missing, logged as a team logs it."""
        density = float(self.oils[self.oil]["density_15c_kg_l"])
        missing = self.story.sump_l - self.sump.oil_kg / density
        if missing < 0.3:
            return
        litres = round(missing, 1)
        self.sump.add(litres * density, self.fresh(self.oil))
        self.diary.write("Top-ups", **self.key, fill=self.fill, build_h=round(self.build_h, 2), litres=litres)

    def sample(self, at: dt.datetime, *, break_in: bool = False, bottle: str | None = None, notes: str = "") -> None:
        self.made += 1
        instrument = BENCH_DISC
        weekend = self.story.instrument_from
        if weekend and at.date() >= self.weekends[weekend[0]]:
            instrument = weekend[1]
        code = f"{self.story.engine}-{self.story.build}-{self.made:03d}"
        ppm = self.sump.ppm() if bottle is None else 0.7 * self.fresh(bottle) + 0.3 * self.sump.ppm()
        self.diary.write(
            "Samples", sample=code, **self.key, fill=self.fill, taken_at=at.isoformat(timespec="minutes"),
            build_h=round(self.build_h, 2), oil_h=round(self.fill_h, 2), drawn="hot", before_top_up="y",
            instrument=instrument, break_in="y" if break_in else "n", notes=notes,
        )  # fmt: skip
        self.diary.write("Results", sample=code, **self.spectrometer.read(ppm), **self.condition())

    def condition(self) -> dict[str, object]:
        """Viscosity, base and acid number of this fill: invented, drifting with the hours on the oil."""
        oil, hours = self.oils[self.oil], self.fill_h
        noise = self.rng.normal(0, 1, 4)
        fuel = self.story.fuel_pct(self.build_h) if self.story.fuel_pct else 0.0
        read = {"Fuel": round(fuel + 0.15 * float(self.rng.normal()), 1)} if self.story.fuel_pct else {}
        thin40, thin100 = (1 - 0.006 * hours) * thinned(fuel, 40.0), (1 - 0.006 * hours) * thinned(fuel, 100.0)
        return {
            "KV40": round(float(oil["kv40_cst"]) * thin40 + 0.4 * noise[0], 1),
            "KV100": round(float(oil["kv100_cst"]) * thin100 + 0.05 * noise[1], 2),
            **read,
            "TBN": round(float(oil["tbn"]) - 0.12 * hours + 0.1 * noise[2], 1),
            "TAN": round(float(oil["tan"]) + 0.05 * hours + 0.05 * noise[3], 2),
        }

    # --- what the team does

    def break_in(self) -> None:
        story = self.story
        day = dt.datetime.combine(story.built_on, dt.time(9, 0))
        self.refill(day, "Larkfield BI", "none")
        self.run(day + dt.timedelta(minutes=20), "first run", 0.35)
        self.refill(day + dt.timedelta(hours=1), "Larkfield BI", "hot")
        for pull in range(1, 5):
            self.run(day + dt.timedelta(hours=1 + pull), "break-in", 0.5)
            self.pull(f"P{pull}", pull)
        self.leak_down()
        self.sample(day + dt.timedelta(hours=7), break_in=True, notes="end of break-in, before the drain")
        self.refill(day + dt.timedelta(hours=8), story.oil, "hot")

    def pull(self, name: str, number: int) -> None:
        seated = 1 - 0.055 * float(np.exp(-self.build_h / (0.6 * self.story.seats_in_h)))
        power = self.story.power_kw * seated * (1 + float(self.rng.normal(0, 0.0015)))
        self.diary.write(
            "Pulls", **self.key, pull=name, build_h=round(self.build_h, 2), power_kw=round(power, 1),
            air_c=round(21 + 0.6 * number, 1), pressure_kpa=round(100.4 - 0.05 * number, 2), humidity_pct=44 + number,
        )  # fmt: skip

    def leak_down(self) -> None:
        for cylinder in range(1, self.story.cylinders + 1):
            percent = self.story.leaks(self.build_h, cylinder) + float(self.rng.normal(0, 0.2))
            row = {"build_h": round(self.build_h, 2), "cylinder": cylinder, "percent": round(percent, 1)}
            self.diary.write("Leak-down", **self.key, **row)

    def weekend(self, number: int) -> None:
        story = self.story
        oil = story.next_oil[1] if story.next_oil and number >= story.next_oil[0] else story.oil
        friday = dt.datetime.combine(self.weekends[number], dt.time(13, 0))
        changed = oil != self.oil
        due = (number - story.first_weekend) % story.weekends_per_fill == 0 and self.fill_h > 0.5
        if due or changed or number in story.drains:
            self.refill(friday - dt.timedelta(hours=2), oil, story.drains.get(number, "hot"))
        hard = 1.7 if number in story.hard else 1.0
        self.run(friday, "practice", 0.9, hard=hard)
        self.top_up()
        self.run(friday + dt.timedelta(hours=20), "qualifying", 0.4, hard=hard)
        self.run(friday + dt.timedelta(hours=46), "race", 1.5 + 0.25 * float(self.rng.integers(0, 4)), hard=hard)
        bottle = story.wrong_bottle[1] if story.wrong_bottle and story.wrong_bottle[0] == number else None
        self.sample(friday + dt.timedelta(hours=49), bottle=bottle)
        self.top_up()
        if number in story.cuts:
            ferrous, non_ferrous, largest, notes = story.cuts[number]
            row = {"build_h": round(self.build_h, 2), "ferrous": ferrous, "non_ferrous": non_ferrous}
            self.diary.write("Filter cuts", **self.key, **row, largest_mm=largest, notes=notes)
        self.oil_pressure()
        if number in story.leak_weekends:
            self.leak_down()
        self.look_inside(number)
        for at, kind, notes in story.changes:
            if at == number:
                self.diary.write("Changes", **self.key, build_h=round(self.build_h, 2), kind=kind, notes=notes)

    def whole(self) -> None:
        story = self.story
        row = {"built_on": story.built_on.isoformat(), "sump_l": story.sump_l, "notes": ""}
        self.diary.write("Builds", **self.key, **row)
        for part, material, role in story.build_parts:
            self.diary.write("Build parts", **self.key, part=part, material=material, role=role)
        for own in story.bearings:
            self.diary.write("Bearings", **self.key, **own)
        for part, piece, life, unit in story.fitted:
            row = {"build_h": 0, "part": part, "piece": piece, "act": "fitted", "life": life, "life_unit": unit}
            self.diary.write("Fitted parts", **self.key, **row, notes="invented life")
        self.break_in()
        for number in range(story.first_weekend, min(story.last_weekend, len(self.weekends) - 1) + 1):
            self.weekend(number)
