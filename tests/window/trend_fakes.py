"""Invented engines for the Trends tests: two builds, three fills, two instruments, every mark, made-up calls."""

from __future__ import annotations

import dataclasses
import datetime as dt

from benchapp.records import (
    Build,
    Call,
    Change,
    ElementRate,
    Engine,
    Fill,
    FilterCut,
    Finding,
    Fleet,
    Instrument,
    LeakDown,
    NoiseLine,
    Reading,
    Reason,
    Run,
    Sample,
    SourceRate,
    TopUp,
)
from tests.window.fakes import PARTS, FakeBench
from tests.window.fakes import fleet as small_fleet

DAY = dt.datetime(2026, 3, 6, 10, 0)
ELEMENTS = ("Fe", "Pb", "Cu", "Al", "Si", "Sn", "Cr", "Ni", "Zn", "Ca")
OVERLAY, BORE, PISTON = "main bearing overlay", "bore", "piston"
SOURCES = (OVERLAY, BORE, PISTON)

_HOURS = (0.7, 2.5, 5.0, 7.5, 10.0, 12.5, 15.0, 17.5)
_CALLS = ("Run", "Run", "Run", "Run", "Run", "Short stint", "Look inside", "Park")


def _value(element: str, place: int) -> float:
    base = 3.0 + 2.2 * ELEMENTS.index(element)
    return round(
        base * (2.4 if place == 0 else 0.7 + 0.05 * place + (0.5 if element == "Pb" and place > 4 else 0.0)), 2
    )


def _sample(build: str, place: int, fill: str) -> Sample:
    hours = _HOURS[place]
    low = place in (1, 2)
    readings = [
        Reading(e, None if e == "Pb" and low else _value(e, place), qualifier="<" if e == "Pb" and low else "")
        for e in ELEMENTS
    ]
    instrument = "trailer disc" if place < 6 else "lab icp"
    taken = DAY + dt.timedelta(days=9 * place)
    hold = "check standard read high" if place == 5 else ""
    return Sample(
        f"B{build}-{place:02}",
        fill,
        hours,
        hours,
        taken,
        "hot",
        True,
        instrument,
        place == 0,
        "",
        tuple(readings),
        hold,
    )


def _build(number: str) -> Build:
    fills = (
        Fill("1", "Example break-in oil", 0.0, 6.0, DAY, "none", True),
        Fill("2", "Example race oil", 0.7, 6.0, DAY, "hot", True),
        Fill("3", "Example race oil", 10.0, 6.0, DAY, "hot", False),
    )
    samples = tuple(_sample(number, p, "1" if p == 0 else "2" if p < 5 else "3") for p in range(len(_HOURS)))
    return Build(
        number,
        PARTS,
        6.0,
        DAY,
        fills=fills,
        top_ups=(TopUp("2", 6.0, 0.5),),
        runs=(Run("practice", 18.0, DAY),),
        samples=samples,
        leak_downs=(LeakDown(0.7, "1", 3.0), LeakDown(0.7, "2", 4.5)),
        filter_cuts=(FilterCut(10.0, "none", "few", 0.4),),
        changes=(Change(12.5, "tune", "leaner"),),
        findings=(Finding(17.5, OVERLAY, "worn out", "", "down to the lining"),),
    )


def engine(name: str = "Alder 3") -> Engine:
    return Engine(name, "Example family", "27", builds=(_build("1"), _build("2")))


def _call(engine: str, build: str, sample: Sample, place: int) -> Call:
    sources = []
    for at, source in enumerate(SOURCES):
        rate = (2.0 + 4 * at) * (3.0 if place == 0 else 0.9 + 0.04 * place + (1.2 if at == 0 and place > 5 else 0.0))
        normal = 2.0 + 4 * at
        sources.append(
            SourceRate(source, (source,), rate, rate * 0.7, rate * 1.4, normal, normal * 0.6, normal * 1.5, 0.5)
        )
    elements = []
    for e in ELEMENTS:
        reading = next(r for r in sample.readings if r.measurand == e)
        rate = _value(e, place) * 0.6
        ceiling = 2.6 * (3.0 + 2.2 * ELEMENTS.index(e))
        elements.append(
            ElementRate(
                e, reading.value, reading.qualifier, rate, rate * 0.12, ceiling, 0.0, rate, rate * 0.6, rate * 1.6
            )
        )
    word = _CALLS[place] if build == "2" else "Run"
    reasons = (Reason(OVERLAY, (OVERLAY,), "rate", "The overlay wears faster.", 0.9),) if word != "Run" else ()
    return Call(
        "made up", engine, build, sample.code, sample.build_h, sample.taken_at, word, f"{word}: made up.", 4.0,
        "own history", "7 samples", 7, 1.0, reasons, tuple(sources), tuple(elements), ceiling_element="Fe",
    )  # fmt: skip


class TrendBench(FakeBench):
    """The fake bench with one engine worth looking at first, and calls made up for it."""

    def __init__(self, fleet: Fleet | None = None) -> None:
        others = small_fleet(3)
        disc = Instrument("trailer disc", "rotating-disc", noise={"Pb": NoiseLine(0.3, 0.05, 0.9, "invented")})
        instruments = {"trailer disc": disc, "lab icp": Instrument("lab icp", "icp")}
        made = dataclasses.replace(others, engines=(engine(), *others.engines), instruments=instruments)
        super().__init__(fleet or made)
        self.judging: frozenset[str] = frozenset()

    def engines_to_judge(self) -> frozenset[str]:
        return self.judging

    def calls_of(self, engine: str) -> tuple[Call, ...]:
        found = self.engine(engine)
        if found.name != "Alder 3":
            return super().calls_of(engine)
        return tuple(_call(engine, b.number, s, place) for b in found.builds for place, s in enumerate(b.samples))


def long_engine(count: int = 5000) -> Engine:
    """An engine with so many samples in one build (no real engine lives so long)."""
    samples = tuple(
        Sample(f"L-{n:05}", "1", 0.1 * (n + 1), 0.1 * (n + 1), instrument="trailer disc",
               readings=tuple(Reading(e, 5.0 + i + (n % 37) / 10) for i, e in enumerate(ELEMENTS[:6])))
        for n in range(count)
    )  # fmt: skip
    fills = (Fill("1", "Example race oil", 0.0, 6.0),)
    return Engine("Long", "Example family", "", builds=(Build("1", PARTS, 6.0, fills=fills, samples=samples),))
