"""Larkfield Racing: an invented team, its engines and their stories over two seasons. Nothing here is real.

Each story is told so that a newcomer can follow it in the window; `STORIES` says in a sentence what there is to see.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping

from benchapp.records import Part

from .season import LAB, Seen, Shed, Story

SEASONS = [
    dt.date(2025, month, day)
    for month, day in ((4, 4), (4, 25), (5, 16), (6, 6), (6, 27), (7, 18), (8, 15), (9, 5), (9, 26))
] + [
    dt.date(2026, month, day)
    for month, day in ((4, 3), (4, 24), (5, 15), (6, 5), (6, 26), (7, 17), (8, 14), (9, 4), (9, 25))
]
"""Fridays of the race weekends: 0 to 8 in 2025, 9 to 17 in 2026."""
WINTER = dt.date(2026, 1, 19)
LAST = len(SEASONS) - 1

OILS: dict[str, dict[str, object]] = {
    "Larkfield BI": {
        "kind": "break-in", "sae_grade": "30", "density_15c_kg_l": 0.886, "kv40_cst": 94.0, "kv100_cst": 10.7,
        "hths_mpas": 3.2, "tbn": 3.2, "tan": 2.1,
        "Ca": 480, "Mg": 12, "Zn": 2150, "P": 1920, "Mo": 2, "B": 4, "Na": 3, "K": 1, "Si": 4,
    },
    "Larkfield R40": {
        "kind": "race", "sae_grade": "5W-40", "density_15c_kg_l": 0.862, "kv40_cst": 82.0, "kv100_cst": 13.9,
        "hths_mpas": 4.0, "tbn": 7.1, "tan": 1.9,
        "Ca": 1650, "Mg": 40, "Zn": 1480, "P": 1290, "Mo": 310, "B": 95, "Na": 4, "K": 1, "Si": 6,
    },
    "Larkfield R50": {
        "kind": "race", "sae_grade": "10W-50", "density_15c_kg_l": 0.871, "kv40_cst": 121.0, "kv100_cst": 17.8,
        "hths_mpas": 4.9, "tbn": 8.0, "tan": 1.7,
        "Ca": 2280, "Mg": 25, "Zn": 1610, "P": 1400, "Mo": 85, "B": 12, "Na": 5, "K": 1, "Si": 5,
    },
    "Larkfield H50": {
        "kind": "race", "sae_grade": "20W-50", "density_15c_kg_l": 0.889, "kv40_cst": 162.0, "kv100_cst": 18.4,
        "hths_mpas": 4.8, "tbn": 6.0, "tan": 1.5,
        "Ca": 1250, "Mg": 15, "Zn": 1750, "P": 1530, "Mo": 3, "B": 3, "Na": 3, "K": 1, "Si": 5,
    },
    "Transporter 15W-40": {
        "kind": "road", "sae_grade": "15W-40", "density_15c_kg_l": 0.878, "kv40_cst": 108.0, "kv100_cst": 14.4,
        "hths_mpas": 4.2, "tbn": 10.2, "tan": 2.0,
        "Ca": 1180, "Mg": 880, "Zn": 1240, "P": 1090, "Mo": 45, "B": 160, "Na": 4, "K": 1, "Si": 7,
    },
}  # fmt: skip
"""Invented oils; the last one is what the team's transporter runs on, and one day a bottle of it gets mixed up."""

FLAT_TAPPET = "V8 pushrod, iron block, flat tappet, wet sump"
ROLLER = "V8 pushrod, iron block, roller tappet, dry sump"
AL_SI = "V8 overhead cam, Al-Si bores, wet sump"
SPRAYED = "Inline four, sprayed-iron bores, turbo, wet sump"
IRON_TURBO = "Inline four, iron block, turbo, wet sump"
BIKE_FOUR = "Inline four two-wheel, Ni-SiC bores, wet sump"
SINGLE = "Single two-wheel, Ni-SiC bore, rolling bearings"
ROTARY = "Two-rotor rotary, hard-chrome housings, wet sump"
BISMUTH_SIX = "Inline six, iron bores, bismuth bearings, wet sump"
HISTORIC = "Inline four historic, iron block, white-metal bearings, wet sump"
SPUTTER_SIX = "V6 turbo, sprayed-iron bores, sputter bearings, dry sump"
FORMULA = "Inline four formula, iron liners, lead-free bearings, dry sump"

USUAL_MG_H = {
    "bore": 5.5, "ring": 1.25, "ring face": 0.25, "piston": 1.5, "piston skirt coating": 0.25,
    "main bearing overlay": 0.875, "rod bearing overlay": 1.125, "main bearing lining": 0.3, "rod bearing lining": 0.35,
    "main bearing dam": 0.025, "rod bearing dam": 0.025, "crank": 1, "rod": 0.05, "bush": 0.375, "cam": 1.5,
    "tappet": 1.125, "cam bearing": 0.375, "valve": 0.1, "valve guide": 0.5, "valve seat": 0.125, "timing chain": 0.625,
    "gear": 0.375, "pump": 0.375, "housing": 0.625, "cooler": 0.05, "rolling bearing": 0.625, "rotor housing": 0.75,
    "side housing": 3, "rotor": 0.75, "apex seal": 1.25, "side seal": 0.75, "rotor bearing overlay": 1,
    "rotor bearing lining": 0.25,
}  # fmt: skip
"""What the invented engines shed when all is well [mg/h of a part's own metal, for a 6 L sump]. Invented."""


def usual(parts: tuple[Part, ...], sump_l: float, more: Mapping[str, float] | None = None) -> tuple[Shed, ...]:
    """The healthy shedding of a family's parts, by role; `more` overrides by part name."""
    scale, more = (sump_l / 6.0) ** 0.8, more or {}
    found = []
    for part in parts:
        rate = more.get(part.name, USUAL_MG_H.get(part.role, 0.0) * scale)
        # softer metals cover the nickel dam and the lining until a fault gets that deep
        if rate > 0:
            found.append(Shed(part.name, rate))
    return tuple(found)


def doubling(from_h: float, every_h: float, top: float = 60.0) -> Callable[[float], float]:
    """A factor that starts to grow at `from_h` and doubles every `every_h` hours."""

    def factor(h: float) -> float:
        return 1.0 if h < from_h else min(top, 2.0 ** ((h - from_h) / every_h))

    return factor


def for_part(wanted: str, growing: Callable[[float], float], *others: tuple[str, Callable[[float], float]]):
    """A story's `factor`: named parts grow, all others stay as they are."""
    table = dict([(wanted, growing), *others])
    return lambda part, h: table[part](h) if part in table else 1.0


DUST = {"Si": 33.66, "Al": 6.62, "Fe": 2.45, "Na": 2.23, "Ca": 2.50, "Mg": 0.90, "Ti": 0.45, "K": 2.91}
"""Arizona test dust, element wt % computed from oxide mid-values (ISO 12103-1 stand-in, 2012 safety data sheet)."""


def dust(from_h: float, mg_h: float) -> Callable[[float], Mapping[str, float]]:
    """Dust from a torn intake [mg/h of dust] from `from_h` on."""

    def metal(h: float) -> Mapping[str, float]:
        return {} if h < from_h else {element: mg_h * share / 100 for element, share in DUST.items()}

    return metal


def seeping(from_h: float, first_mg_h: float, every_h: float) -> Callable[[float], Mapping[str, float]]:
    """Inhibited coolant seeping in: sodium, potassium and boron, growing."""

    def metal(h: float) -> Mapping[str, float]:
        if h < from_h:
            return {}
        sodium = first_mg_h * 2.0 ** ((h - from_h) / every_h)
        return {"Na": sodium, "K": 0.55 * sodium, "B": 0.35 * sodium}

    return metal


def leaded(mg_h: float) -> Callable[[float], Mapping[str, float]]:
    return lambda h: {"Pb": mg_h}


def leaking(from_h: float, pct_h: float) -> Callable[[float], float]:
    """Fuel in the oil [%]: a little at all times, and from `from_h` on so much more each hour."""
    return lambda h: 0.7 + max(0.0, h - from_h) * pct_h


LK16_BEARINGS: tuple[Mapping[str, object], ...] = (
    {
        "bearing": "rod bearing", "diameter_mm": 50.0, "length_mm": 19.0, "clearance_mm": 0.046, "roughness_um": 0.35,
        "load_case": "steady share of the peak load (invented)", "load_n": 3400.0, "speed_rpm": 8200.0,
    },
    {"bearing": "main bearing", "diameter_mm": 57.0, "length_mm": 20.0},
)  # fmt: skip
"""The rod bearing of LK-16 measured with clearance and load, the mains with sizes alone: only the first may alarm."""

KNOWN_OF_OILS: dict[str, list[dict[str, object]]] = {
    "Oil limits": [
        {"oil": "Larkfield R40", "limit": "base number", "watch": 0.55, "done": 0.42, "why": "teardowns (invented)"},
    ],
    "Fresh values": [{"oil": "Larkfield R40", "property": "Oxidation", "value": 13.0}],
    "Fuel blends": [
        {"oil": "Larkfield R40", "fuel": "petrol", "fuel_ml": 10, "oil_ml": 190, "at_c": 100, "kv_cst": 11.1},
    ],
}  # fmt: skip
"""What the invented team knows of its oils beside the cans: sheet of the workbook -> rows."""

STORIES = {
    "LK-01": "Overlay wears through into the lining: lead and tin first, then copper. Look at the last four samples.",
    "LK-02": "The sister of LK-01, sound; for 2026 it went to another oil. Did that help?",
    "LK-03": "A sound V8 that was held flat out in the heat in July 2026: everything rises together, nothing is wrong.",
    "LK-04": "An Al-Si block: its silicon comes with aluminium at the block's own ratio and is not dust.",
    "LK-05": "The same family with a torn intake from August 2026: silicon without the block's aluminium is dust.",
    "LK-06": "Ni-SiC bores wearing: nickel, in an engine in which nothing else holds that much of it.",
    "LK-07": "The sister of LK-06, sound, on a long interval in 2026.",
    "LK-08": "A historic four on leaded fuel: hundreds of ppm lead that say nothing about its white-metal bearings.",
    "LK-09": "One bottle of the transporter's oil got mixed up in July 2026: all additives moved together.",
    "LK-10": "Drained cold in June 2026: more of the old oil stayed, so the next sample starts high.",
    "LK-11": "A rotary: chromium from the housings, sound.",
    "LK-12": "Coolant seeps into a bismuth-bearing six: sodium, potassium and boron together.",
    "LK-13": "Built in October 2026 and not broken in yet: power still climbs and the wear rate has not fallen.",
    "LK-14": "Rebuilt in winter with fresh sealant and a new copper cooler: silicon and copper that die away by "
    "themselves; from July 2026 measured by another instrument.",
    "LK-15": "A single that burns oil and is topped up every weekend: ppm look flat, mg per hour tell the truth.",
    "LK-16": "An injector leaks petrol into the oil from September 2026: near its limit first, then over it, and the "
    "film of the measured rod bearing falls below its design limit while the metals are still quiet.",
}


def stories(parts_of: Callable[[str], tuple[Part, ...]], litres_of: Callable[[str], float]) -> list[Story]:
    """All lives, in order; an engine rebuilt in winter has two."""

    def story(engine: str, family: str, car: str, more: Mapping[str, float] | None = None, **rest: object) -> Story:
        litres = litres_of(family)
        sheds = usual(parts_of(family), litres, more)
        return Story(engine, family, car, STORIES[engine], litres, sheds, **rest)  # type: ignore[arg-type]

    def sound(_h: float) -> float:
        return 1.0

    lining = doubling(23.0, 1.8)
    return [
        story("LK-01", FLAT_TAPPET, "Saloon 14", last_weekend=8, oil="Larkfield R50", burn_kg_h=0.05, pressure=sound,
              fitted=(("rod set", "rods A", 90.0, "h"), ("valve springs", "springs 3", 40.0, "h"))),
        story(
            "LK-01", FLAT_TAPPET, "Saloon 14", build=2, built_on=WINTER, first_weekend=9, oil="Larkfield R50",
            burn_kg_h=0.05,
            factor=for_part("rod bearing overlay", doubling(15.0, 2.6), ("rod bearing lining", lining)),
            cuts={17: ("none", "many", 0.4, "copper-coloured flakes, not magnetic")},
            pressure=lambda h: 1.0 if h < 20 else 1.0 - 0.02 * (h - 20.0),
            fitted=(("rod set", "rods A", 90.0, "h"), ("valve springs", "springs 5", 40.0, "h")),
            findings=(
                Seen(15, "main bearing overlay", "worn as expected", "clearance 0.061 mm",
                     "one main cap dropped, looked sound; the rods were left closed"),
                Seen(17, "rod bearing overlay", "worn out", "clearance 0.092 mm",
                     "through to the lining in six of eight", "a worn shell"),
                Seen(17, "rod bearing lining", "worn as expected", "", "copper shows in the middle of the shells",
                     "flakes in a filter"),
            ),
        ),
        story("LK-02", FLAT_TAPPET, "Saloon 15", oil="Larkfield R50", burn_kg_h=0.05,
              next_oil=(9, "Larkfield H50"), factor=lambda part, h: 0.62 if h > 31.5 else 1.0,
              changes=((8, "oil", "from R50 to H50 over the winter"),), pressure=sound,
              fitted=(("rod set", "rods B", 90.0, "h"),),
              findings=(Seen(8, "rod bearing overlay", "worn as expected", "clearance 0.058 mm", "winter look"),),
              cuts={8: ("none", "few", 0.1, ""), 17: ("few", "none", 0.1, "fuzz on the magnet")}),
        story("LK-03", ROLLER, "Sports racer 3", oil="Larkfield R50", hard=(14,), burn_kg_h=0.06),
        story("LK-04", AL_SI, "Coupe 7", more={"bores": 6.5}),
        story("LK-05", AL_SI, "Coupe 8", more={"bores": 6.5}, intake=dust(52.0, 55.0)),
        story("LK-06", BIKE_FOUR, "Two-wheel 21", more={"bores": 2.0}, cylinders=4, power_kw=150.0, rpm=13500.0,
              factor=for_part("bores", doubling(44.0, 3.0, 40.0)),
              leaks=lambda h, c: 3.0 + (0.4 * max(0.0, h - 44.0) if c == 3 else 0.1 * c), leak_weekends=(17,),
              findings=(Seen(17, "bores", "worn out", "bore 3 0.04 mm over", "scores on the thrust side of cylinder 3",
                             "a scored bore"),)),
        story("LK-07", BIKE_FOUR, "Two-wheel 22", more={"bores": 2.0}, cylinders=4, power_kw=150.0, rpm=13500.0,
              weekends_per_fill=3),
        story("LK-08", HISTORIC, "Historic 61", fuel="leaded", coolant="water", oil="Larkfield H50", cylinders=4,
              power_kw=118.0, rpm=6800.0, burn_kg_h=0.06, intake=leaded(190.0)),
        story("LK-09", SPRAYED, "Touring 33", cylinders=4, power_kw=260.0, wrong_bottle=(14, "Transporter 15W-40"),
              lap=(3.6, 1.8), fitted=(("turbo", "T-118", 9000.0, "km"), ("clutch", "C-4", 40.0, "starts"))),
        story("LK-10", SPRAYED, "Touring 34", cylinders=4, power_kw=260.0, drains={12: "cold"}, lap=(3.6, 1.8),
              fitted=(("turbo", "T-121", 7000.0, "km"), ("timing chain", "", 4000.0, "laps")),
              findings=(Seen(16, "exhaust valves", "damaged", "", "a spring broke, a valve touched",
                             "a broken spring"),)),
        story("LK-11", ROTARY, "Coupe 9", more={"rotor housing plating": 0.9}, cylinders=2, power_kw=190.0,
              rpm=8800.0, burn_kg_h=0.12),
        story("LK-12", BISMUTH_SIX, "Coupe 12", cylinders=6, power_kw=340.0, intake=seeping(52.0, 12.0, 4.0)),
        story("LK-13", IRON_TURBO, "Rally 41", build=1, built_on=dt.date(2026, 10, 12), first_weekend=99, cylinders=4,
              power_kw=280.0, seats_in_h=4.5),
        story("LK-14", FORMULA, "Single-seater 2", cylinders=4, power_kw=200.0, last_weekend=8),
        story("LK-14", FORMULA, "Single-seater 2", build=2, built_on=WINTER, first_weekend=9, cylinders=4,
              power_kw=200.0, tail={"Si": (45.0, 7.0), "Cu": (28.0, 9.0)}, instrument_from=(14, LAB),
              build_parts=(("oil cooler", "cu_c12200", "cooler"),)),
        story("LK-15", SINGLE, "Two-wheel 77", cylinders=1, power_kw=42.0, rpm=12000.0, burn_kg_h=0.09,
              more={"bore": 0.5}, fitted=(("piston", "P-9", 62.0, "h"),)),
        story("LK-16", SPUTTER_SIX, "Prototype 5", built_on=WINTER, first_weekend=9, cylinders=6, power_kw=410.0,
              rpm=8200.0, oil_temp_c=112.0, fuel_pct=leaking(26.0, 1.1), bearings=LK16_BEARINGS),
    ]  # fmt: skip
