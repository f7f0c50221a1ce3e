"""Did that change help? Rates before and after a change, for one engine or several that had the same one.

Rates, their intervals and the severity are those of the calls; nothing is judged anew."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchapp.actions.bench import Bench
from benchapp.problems import BenchProblem
from benchapp.records import Call, Change
from benchapp.wear import change_effect


@dataclass(frozen=True, slots=True)
class Moment:
    """A point in a build's life to compare around: a logged change, or any hour. `label` in words."""

    engine: str
    build: str
    build_h: float
    label: str


@dataclass(frozen=True, slots=True)
class EffectLook:
    """The answer for one moment: sources, elements, what was left out and why, the answer in a sentence."""

    moment: Moment
    sources: tuple[change_effect.Effect, ...]
    elements: tuple[change_effect.Effect, ...]
    total: change_effect.Effect | None
    left_out: tuple[str, ...]
    sentence: str


def moments(bench: Bench, engine: str) -> tuple[Moment, ...]:
    """The logged changes of an engine, the latest first; changes of oil between fills count too."""
    found: list[Moment] = []
    for build in bench.engine(engine).builds:
        found.extend(Moment(engine, build.number, change.build_h, _label(change)) for change in build.changes)
        for before, after in zip(build.fills, build.fills[1:], strict=False):
            if before.oil != after.oil and not _logged(build.changes, after.build_h):
                label = f"oil: {before.oil} to {after.oil} at {after.build_h:g} h"
                found.append(Moment(engine, build.number, after.build_h, label))
    return tuple(sorted(found, key=lambda moment: (moment.build, moment.build_h), reverse=True))


def _label(change: Change) -> str:
    return f"{change.kind}: {change.notes or 'no note'} at {change.build_h:g} h"


def _logged(changes: Sequence[Change], hours: float) -> bool:
    return any(change.kind == "oil" and abs(change.build_h - hours) < 0.5 for change in changes)


def at(engine: str, build: str, build_h: float) -> Moment:
    """Any point in time to compare around."""
    return Moment(engine, build, build_h, f"at {build_h:g} h of build {build}")


def look(bench: Bench, moment: Moment) -> EffectLook:
    """Compares the intervals before and after `moment` in its build.

    Raises BenchProblem where the build has no judged sample on one side."""
    calls, out = usable(tuple(c for c in bench.calls_of(moment.engine) if c.build == moment.build))
    before = [call for call in calls if call.build_h <= moment.build_h]
    after = [call for call in calls if call.build_h > moment.build_h]
    if not before or not after:
        side = "before" if not before else "after"
        raise BenchProblem(
            f"There is no sample {side} {moment.label} that can be compared.",
            "Nothing can be said about this change yet.",
            "Pick another moment, or come back when the next sample is in.",
        )
    sources = _effects(before, after, _source_rates)
    elements = _effects(before, after, _element_rates)
    total = _total(before, after)
    return EffectLook(moment, sources, elements, total, out, _sentence(total, sources))


def usable(calls: tuple[Call, ...]) -> tuple[tuple[Call, ...], tuple[str, ...]]:
    """Calls whose interval says something about the engine as it usually runs, and why the others do not."""
    good: list[Call] = []
    out: list[str] = []
    for call in calls:
        why = _why_not(call)
        if why:
            out.append(f"{call.sample}: {why}")
        else:
            good.append(call)
    return tuple(good), tuple(out)


def _why_not(call: Call) -> str:
    if call.held:
        return "its results are held"
    if call.build_h < BREAK_IN_H:
        return "it belongs to the break-in"
    if not call.sources:
        return "it has no rates"
    return ""


BREAK_IN_H = 3.0
"""Running-in is left out of a comparison up to this many build hours [h]; common practice, no source."""


def _source_rates(call: Call) -> dict[str, tuple[float, float]]:
    """Source -> (rate, standard error) [mg/h]."""
    return {
        source.source: (source.rate_mg_h, (source.high_mg_h - source.low_mg_h) / (2 * 1.645))
        for source in call.sources
        if source.parts
    }


def _element_rates(call: Call) -> dict[str, tuple[float, float]]:
    return {
        line.element: (line.rate_mg_h, line.rate_se_mg_h or 0.0)
        for line in call.elements
        if line.rate_mg_h is not None and line.normal_mg_h is not None
    }


def _effects(before: list[Call], after: list[Call], rates) -> tuple[change_effect.Effect, ...]:
    names: dict[str, None] = {}
    for call in (*before, *after):
        names.update(dict.fromkeys(rates(call)))
    found = []
    for name in names:
        first, second = _logs(before, rates, name), _logs(after, rates, name)
        effect = change_effect.effect(
            name, before=first[0], after=second[0], se_before=first[1], se_after=second[1]
        )
        if effect is not None:
            found.append(effect)
    return tuple(found)


def _logs(calls: list[Call], rates, name: str) -> tuple[np.ndarray, np.ndarray]:
    """Log of rate over severity and its standard error; intervals in which nothing could be seen are left out."""
    values, errors = [], []
    for call in calls:
        rate, error = rates(call).get(name, (0.0, 0.0))
        if rate <= 0 or rate < error:
            continue
        values.append(math.log(rate / (call.severity or 1.0)))
        errors.append(error / rate)
    return np.array(values), np.array(errors)


def _total(before: list[Call], after: list[Call]) -> change_effect.Effect | None:
    def all_parts(call: Call) -> dict[str, tuple[float, float]]:
        rates = _source_rates(call).values()
        return {"all parts": (sum(r for r, _ in rates), math.sqrt(sum(e * e for _, e in rates)))}

    found = _effects(before, after, all_parts)
    return found[0] if found else None


def _sentence(total: change_effect.Effect | None, sources: Sequence[change_effect.Effect]) -> str:
    if total is None:
        return "There is too little data to compare."
    spread = f"{total.ratio:.2f} times the wear before ({total.low:.2f} to {total.high:.2f})"
    words = f"All parts together: {total.words}; {spread}."
    sure = [effect for effect in sources if effect.words.startswith("wears")]
    if sure:
        strongest = max(sure, key=lambda effect: abs(math.log(effect.ratio)))
        return f"{words} Strongest: {strongest.name} {strongest.words}."
    return f"{words} This much data would have seen a fall to {total.seen_from:.2f} times."


def pooled(bench: Bench, looks: Sequence[EffectLook]) -> change_effect.Pooled | None:
    """Several engines that had the same change: the common answer and each engine's own; None with fewer than two."""
    effects = [(look.moment.engine, look.total) for look in looks if look.total is not None]
    return change_effect.pooled(effects)
