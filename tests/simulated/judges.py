"""Judges to score: a function from a fleet to calls, one call for each sample, in the shape of `benchapp.records.Call`.

Beside the bench's own judge: two ways in which teams read results today, and one that knows the truth.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np

from benchapp.records import Build, Call, Fleet, Part, Reason, Sample

from .alloys import ADDITIVES, INDEX, nominal
from .truth import Truth

Judge = Callable[[Fleet], Iterable[Call]]

FIXED_LIMITS = {
    # DTNA "Lubricating Oil, Fuel and Filters" BRO-0001, table of single-sample warning limits for heavy diesels
    # (dtnatechlit.com 0000009833); where two values are printed: first, second engine group. [ppm]
    "first group": {"Fe": 200.0, "Al": 30.0, "Si": 30.0, "Cu": 30.0, "Pb": 30.0, "Na": 100.0, "K": 150.0},
    "second group": {"Fe": 200.0, "Al": 50.0, "Si": 50.0, "Cu": 50.0, "Pb": 10.0, "Na": 100.0, "K": 150.0},
}
WEAR = ("Fe", "Cr", "Ni", "Mn", "V", "Ti", "Al", "Si", "Cu", "Pb", "Sn", "Bi", "Ag", "Na", "K")


def _call(engine: str, build: str, sample: Sample, word: str, reasons: tuple[Reason, ...]) -> Call:
    return Call(
        rule_version="simple",
        engine=engine,
        build=build,
        sample=sample.code,
        build_h=sample.build_h,
        taken_at=sample.taken_at,
        call=word,
        sentence=word,
        next_sample_h=0.0,
        basis="none",
        history="",
        history_samples=0,
        severity=None,
        reasons=reasons,
    )


def ppm_of(sample: Sample) -> dict[str, float]:
    """Element -> mean reading; a result below the limit counts as half the limit, a bare one as zero. [ppm]"""
    found: dict[str, list[float]] = {}
    for reading in sample.readings:
        if reading.measurand in INDEX:
            value = reading.value or 0.0
            found.setdefault(reading.measurand, []).append(value / 2 if reading.qualifier == "<" else value)
    return {element: float(np.mean(values)) for element, values in found.items()}


def _risen(sample: Sample, build: Build, fleet: Fleet) -> dict[str, float]:
    oil = next((fill.oil for fill in build.fills if fill.name == sample.fill), "")
    fresh = fleet.oils[oil].fresh_ppm if oil in fleet.oils else {}
    return {element: ppm - fresh.get(element, 0.0) for element, ppm in ppm_of(sample).items()}


def _richest(element: str, parts: tuple[Part, ...], fleet: Fleet) -> str:
    """As a table reader would: the listed part that holds most of the element."""
    if element in ("Na", "K"):
        return "coolant"
    if element == "Si":
        return "dust"
    shares = [(nominal(fleet.materials[part.material])[INDEX[element]], part.name) for part in parts]
    return max(shares)[1] if shares else ""


def _reasons(elements: list[str], parts: tuple[Part, ...], fleet: Fleet) -> tuple[Reason, ...]:
    sources = [_richest(element, parts, fleet) for element in elements]
    return tuple(
        Reason(source=source, parts=(source,), kind="other", text=f"{element} high")
        for element, source in zip(elements, sources, strict=True)
    )


def fixed_limits(group: str) -> Judge:
    """The published heavy-diesel single-sample limits, on the rise over the new oil where that is known.

    Break-in samples are left alone.
    """

    def judge(fleet: Fleet) -> Iterable[Call]:
        for engine in fleet.engines:
            for build in engine.builds:
                for sample in build.samples:
                    ppm = _risen(sample, build, fleet)
                    limits = FIXED_LIMITS[group]
                    over = [el for el, limit in limits.items() if ppm.get(el, 0.0) >= limit and not sample.break_in]
                    over.sort(key=lambda el: -ppm[el] / FIXED_LIMITS[group][el])
                    word = "Look inside" if over else "Run"
                    yield _call(engine.name, build.number, sample, word, _reasons(over, build.parts, fleet))

    return judge


def mean_plus_3sd(fleet: Fleet) -> Iterable[Call]:
    """Each engine against its own earlier samples, ppm over mean + 3 sd; at least five of them, none from break-in."""
    for engine in fleet.engines:
        for build in engine.builds:
            history: list[dict[str, float]] = []
            for sample in build.samples:
                ppm = ppm_of(sample)
                over = [] if sample.break_in else _outliers(ppm, history)
                if not sample.break_in:
                    history.append(ppm)
                word = "Look inside" if over else "Run"
                yield _call(engine.name, build.number, sample, word, _reasons(over, build.parts, fleet))


def _outliers(ppm: dict[str, float], history: list[dict[str, float]]) -> list[str]:
    scores = {}
    for element in WEAR:
        earlier = [past[element] for past in history if element in past]
        if element not in ppm or len(earlier) < 5:
            continue
        sd = max(float(np.std(earlier, ddof=1)), 0.1)
        scores[element] = (ppm[element] - float(np.mean(earlier))) / sd
    return sorted((el for el, score in scores.items() if score > 3.0), key=lambda el: -scores[el])


def knows_the_truth(truth: Truth, sd: float = 4.0) -> Judge:
    """Not a rival but a measure of the fleet: calls once the fault's own metal is `sd` times what hides it.

    It knows the fault and what is normal; only reading noise and the scatter of sound wear hide the metal from it.
    """
    by_build = {(fault.engine, fault.build): fault for fault in truth.faults}

    def judge(fleet: Fleet) -> Iterable[Call]:
        for engine in fleet.engines:
            for build in engine.builds:
                fault = by_build.get((engine.name, build.number))
                for sample in build.samples:
                    seen = truth.samples[sample.code].seen_sd >= sd and fault is not None
                    name = (fault.outside or min(fault.parts)) if fault else ""
                    reasons = (Reason(name, (name,), "other", "known"),) if seen else ()
                    yield _call(engine.name, build.number, sample, "Look inside" if seen else "Run", reasons)

    return judge


@dataclass
class BenchJudge:
    """The judge of the bench itself, every sample with only what was known then."""

    rules: object = field(default=None)

    def __call__(self, fleet: Fleet) -> Iterable[Call]:
        from benchapp.library import load_library
        from benchapp.wear.judge import judge_fleet
        from benchapp.wear.rules import rules_from

        if self.rules is None:
            self.rules = rules_from(load_library())
        return judge_fleet(fleet, self.rules, each=True)


__all__ = ["ADDITIVES", "BenchJudge", "Judge", "fixed_limits", "knows_the_truth", "mean_plus_3sd"]
