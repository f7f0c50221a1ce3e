"""Invented engines, samples and calls for the sheet's tests (no real engine behind any of them)."""

from __future__ import annotations

import datetime as dt

from benchapp.records import (
    Build,
    Call,
    ElementRate,
    Engine,
    Fill,
    Fleet,
    Flip,
    Oil,
    Part,
    Reading,
    Reason,
    Sample,
    SourceRate,
    TopUp,
)

WHEN = dt.datetime(2026, 5, 9, 14, 30)
OVERLAY = "main bearing overlay"
BORE = "cylinder bore"

_HOURS = (0.7, 4.0, 8.0, 12.0, 16.0)
_LEAD = (None, 1.2, 2.0, 3.1, 9.8)
_IRON = (31.0, 9.0, 11.0, 14.0, 15.5)


def samples() -> tuple[Sample, ...]:
    made = []
    for place, (hours, lead, iron) in enumerate(zip(_HOURS, _LEAD, _IRON, strict=True)):
        readings = (
            Reading("Fe", iron),
            Reading("Pb", lead, qualifier="<" if lead is None else ""),
            Reading("KV100", 11.2, "cSt"),
            Reading("Water", None, "%", "<"),
        )
        fill = "F1" if place == 0 else "F2"
        oil_h = hours if place == 0 else hours - 0.7
        taken = WHEN - dt.timedelta(days=7 * (4 - place))
        made.append(
            Sample(f"26-{place + 11:03}", fill, hours, oil_h, taken, "hot", True, "disc", place == 0, "", readings)
        )
    return tuple(made)


def fleet(engine: str = "Alder 3", car: str = "27", **build_extra) -> Fleet:
    fills = (Fill("F1", "Running-in 30", 0.0, 6.0), Fill("F2", "Sprint 5W-40", 0.7, 6.2, None, "hot", True))
    build = Build(
        "2",
        (Part(OVERLAY, "overlay_pbsn10"), Part(BORE, "grey_iron")),
        6.2,
        fills=fills,
        top_ups=(TopUp("F2", 9.5, 0.4),),
        samples=samples(),
        **build_extra,
    )
    oils = {
        "Sprint 5W-40": Oil("Sprint 5W-40", "race", "5W-40"),
        "Running-in 30": Oil("Running-in 30", "break-in", "30"),
    }
    return Fleet((Engine(engine, "Inline four, grey iron", car, builds=(build,)),), {}, {}, oils)


def _sources(place: int) -> tuple[SourceRate, ...]:
    rates = (2.0, 0.8, 0.9, 1.1, 4.6)[place], (60.0, 9.0, 9.5, 10.0, 10.2)[place]
    return (
        SourceRate(OVERLAY, (OVERLAY,), rates[0], rates[0] * 0.7, rates[0] * 1.3, 0.9, 0.4, 1.8, 0.6),
        SourceRate(BORE, (BORE,), rates[1], rates[1] * 0.8, rates[1] * 1.2, 9.5, 6.0, 14.0, 3.0),
    )


def _elements(place: int) -> tuple[ElementRate, ...]:
    lead, iron = _LEAD[place], _IRON[place]
    return (
        ElementRate("Fe", iron, "", 10.0, 1.0, 31.0, 0.1, 9.5, 6.0, 14.0),
        ElementRate("Pb", lead, "<" if lead is None else "", 1.0, 0.4, 12.0, 0.0, 0.9, 0.4, 1.8),
    )


REASONS = (
    Reason(
        OVERLAY,
        (OVERLAY,),
        "rate",
        "Main bearing overlay wears 4.6 mg/h, five times what is normal for this engine (0.9 mg/h).",
        0.97,
        "Cut the filter and look for grey flakes; then drop one main cap and look at the overlay",
        "A second bottle from the same drain that reads Pb below 4 ppm",
    ),
    Reason(
        "Pb",
        (OVERLAY,),
        "ceiling",
        "Pb reads 9.8 ppm, 82 % of what this build reached in break-in (12 ppm).",
        0.61,
    ),
    Reason(BORE, (BORE,), "rate", "Cylinder bore wears 10 mg/h, as expected.", 0.04),
)


def call(word: str = "Look inside", place: int = 4, reasons: tuple[Reason, ...] = REASONS, **changes) -> Call:
    sample = samples()[place]
    given = {
        "rule_version": "2026.1",
        "engine": "Alder 3",
        "build": "2",
        "sample": sample.code,
        "build_h": sample.build_h,
        "taken_at": sample.taken_at,
        "call": word,
        "sentence": "Look inside before it goes out: the main bearings are losing their overlay.",
        "next_sample_h": 2.0,
        "basis": "own history",
        "history": "4 samples of history and a break-in sample",
        "history_samples": 4,
        "severity": 1.1,
        "reasons": reasons,
        "sources": _sources(place),
        "elements": _elements(place),
        "flips": (Flip("hours on oil", "6 h instead of 15.3 h", "Short stint"),),
        "unknowns": ("Whether the sample was drawn before the top-up", "How much oil the cooler holds"),
        "before_out": (
            "Cut the filter and look for grey flakes.",
            "Drop the front main cap and look at the overlay.",
            "Take a second bottle and run it on the same instrument.",
        ),
        "ceiling_share": 0.82,
        "ceiling_element": "Pb",
        "direction": "rising",
        "carry_over": 0.11,
        "inputs_hash": "3f9a77c0de1122",
    }
    return Call(**{**given, **changes})


def calls_before() -> tuple[Call, ...]:
    return tuple(call("Run", place, ()) for place in range(4))
