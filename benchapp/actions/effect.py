"""Did that change help? Rates before and after a change, for one engine or for several that had the same one.

Rates come from the sump balance of each interval (`breakin.intervals`), not from the calls: a call leans on what was
expected and would hide a change. `compare` and `compare_alike` are pure and take some tenths of a second: the window
runs them in the background."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
from scipy import stats

from benchapp.actions import call
from benchapp.actions.bench import Bench
from benchapp.breakin.intervals import Interval, intervals
from benchapp.breakin.split import split
from benchapp.library import load_library
from benchapp.metallurgy.separation import separation
from benchapp.metallurgy.signature import merged, signature
from benchapp.problems import BenchProblem
from benchapp.records import Build, Change, Engine, Fill, Fleet, NoiseLine
from benchapp.wear import change_effect
from benchapp.wear.timeline import fill_of

TOTAL = "wear metal altogether"
MIXED = (0.15, 0.85)
"""An interval of which between these shares lies after the change belongs to neither side."""
HARD_TIMES = 1.35
"""A session in which all wear stood this many times off its neighbours was a harder (or easier) one; own default."""
MOST_TIMES = 2.5
"""Beyond this it is no session but a fault, and stays as it is; own default."""


@dataclass(frozen=True, slots=True)
class Moment:
    """A point in a build's life to compare around: a logged change, or any hour. `label` in words, `what` the change
    without its hour: engines with the same `what` can be pooled."""

    engine: str
    build: str
    build_h: float
    label: str
    what: str = ""


@dataclass(frozen=True, slots=True)
class Point:
    """Wear metal altogether of one interval [mg/h] with its standard error, as it was compared."""

    sample: str
    build_h: float
    rate_mg_h: float
    error_mg_h: float
    after: bool


@dataclass(frozen=True, slots=True)
class EffectLook:
    """The answer for one moment: the sentence, sources, elements, what was left out and what was adjusted, and why."""

    moment: Moment
    sources: tuple[change_effect.Effect, ...]
    elements: tuple[change_effect.Effect, ...]
    total: change_effect.Effect | None
    left_out: tuple[str, ...]
    sentence: str
    adjusted: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    points: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True)
class AlikeLook:
    """The pooled answer over engines that had the same change, each engine's own, and who could not be counted."""

    what: str
    looks: tuple[EffectLook, ...]
    pooled: change_effect.Pooled | None
    left_out: tuple[str, ...]
    sentence: str


# --- which moments --------------------------------------------------------------------------------------------------


def moments(bench: Bench, engine: str) -> tuple[Moment, ...]:
    """The logged changes of an engine, the latest first; changes of oil between fills count too."""
    return _moments(bench.engine(engine))


def _moments(engine: Engine) -> tuple[Moment, ...]:
    found: list[Moment] = []
    for build in engine.builds:
        found.extend(_logged_moment(engine.name, build.number, change) for change in build.changes)
        for before, after in zip(build.fills, build.fills[1:], strict=False):
            in_break_in = after.build_h < _running_in_h()
            if before.oil != after.oil and not in_break_in and not _logged(build.changes, after.build_h):
                what = f"oil: {before.oil} to {after.oil}"
                found.append(Moment(engine.name, build.number, after.build_h, f"{what} at {after.build_h:g} h", what))
    return tuple(sorted(found, key=lambda moment: (moment.build, moment.build_h), reverse=True))


def _logged_moment(engine: str, build: str, change: Change) -> Moment:
    what = f"{change.kind}: {change.notes or 'no note'}"
    return Moment(engine, build, change.build_h, f"{what} at {change.build_h:g} h", what)


def _logged(changes: Sequence[Change], hours: float) -> bool:
    return any(change.kind == "oil" and abs(change.build_h - hours) < 0.5 for change in changes)


def at(engine: str, build: str, build_h: float) -> Moment:
    """Any point in time to compare around."""
    return Moment(engine, build, build_h, f"{build_h:g} h of build {build}")


def alike(fleet: Fleet, moment: Moment) -> tuple[Moment, ...]:
    """The same change (same kind, same words) in any engine, that of `moment` first; each engine's latest."""
    wanted = _same(moment.what)
    if not wanted:
        return (moment,)
    found = {moment.engine: moment}
    for engine in fleet.engines:
        for other in _moments(engine):
            if _same(other.what) == wanted:
                found.setdefault(engine.name, other)
    return tuple(found.values())


def _same(what: str) -> str:
    return " ".join(what.casefold().split())


# --- one engine -----------------------------------------------------------------------------------------------------


def look(bench: Bench, moment: Moment) -> EffectLook:
    """`compare` on an open bench."""
    return compare(bench.fleet(), moment)


def compare(fleet: Fleet, moment: Moment) -> EffectLook:
    """Compares the intervals before and after `moment` in its build. Pure.

    Raises BenchProblem where the build has no usable interval on one side."""
    build = _build_of(fleet, moment)
    found = build_intervals(fleet, moment.engine, moment.build)
    kept, out = _usable(found, build, fleet, moment)
    before = [one for one in kept if one.share_after(moment.build_h) <= MIXED[0]]
    after = [one for one in kept if one.share_after(moment.build_h) >= MIXED[1]]
    if not before or not after or len(before) + len(after) < 3:
        raise _too_little(moment, before, after, out)
    factors, adjusted = _severity(before, after)
    both = [*before, *after]
    elements = _effects([_row(both, len(before), element, factors) for element in both[0].elements])
    total, points = _total(both, len(before), factors)
    sources = _effects(_source_rows(fleet, build, both, len(before), factors))
    notes = _notes(fleet, build, moment, points)
    return EffectLook(moment, sources, elements, total, out, _sentence(total, sources), adjusted, notes, points)


def _too_little(moment: Moment, before: Sequence[Any], after: Sequence[Any], out: Sequence[str]) -> BenchProblem:
    if before and after:
        what = f"There is one interval on each side of {moment.label}: too little to compare."
    else:
        what = f"There is no interval {'after' if before else 'before'} {moment.label} that can be compared."
    means = "Nothing can be said about this change yet."
    if out:
        means += f" Left out: {'; '.join(out[:3])}{' and more' if len(out) > 3 else ''}."
    return BenchProblem(what, means, "Pick another moment, or come back when the next sample is in.")


def _build_of(fleet: Fleet, moment: Moment) -> Build:
    for engine in fleet.engines:
        for build in engine.builds:
            if (engine.name, build.number) == (moment.engine, moment.build):
                return build
    raise BenchProblem(
        f"Engine {moment.engine} has no build {moment.build}.", "Nothing was compared.", "Pick an engine of the list."
    )


def build_intervals(fleet: Fleet, engine: str, number: str) -> tuple[Interval, ...]:
    """Interval rates of the wear metals of one build, from the sump balance. Pure."""
    owner = next(one for one in fleet.engines if one.name == engine)
    build = next(one for one in owner.builds if one.number == number)
    wanted = wear_elements(fleet, build)
    family = fleet.families.get(owner.family)
    return intervals(build, family, fleet.oils, call.rules(), partial(_noise_of, fleet), wanted)


def _noise_of(fleet: Fleet, instrument: str) -> Mapping[str, NoiseLine]:
    known = fleet.instruments.get(instrument)
    lines = dict(load_library().noise_for(known.kind if known else ""))
    if known:
        lines.update(known.noise)
    return lines


def wear_elements(fleet: Fleet, build: Build) -> tuple[str, ...]:
    """Elements that were read in a build, that a part of it holds, and that neither its oils nor leaded fuel bring."""
    library = load_library()
    read = {reading.measurand for sample in build.samples for reading in sample.readings}
    held: dict[str, float] = {}
    for part in build.parts:
        material = fleet.materials.get(part.material)
        for share in material.shares if material else ():
            held[share.element] = max(held.get(share.element, 0.0), share.nominal_pct or 0.0)
    oils = [fleet.oils[fill.oil] for fill in build.fills if fill.oil in fleet.oils]
    limit = call.rules().number("fresh", "additive_from_ppm")
    leaded = any(run.fuel == "leaded" for run in build.runs)

    def counts(symbol: str) -> bool:
        roles = library.elements[symbol].roles
        known = all(oil.fresh_ppm.get(symbol) is not None for oil in oils)
        if symbol not in read or held.get(symbol, 0.0) < 0.3 or (leaded and symbol == "Pb"):
            return False
        if any((oil.fresh_ppm.get(symbol) or 0.0) > limit for oil in oils):
            return False
        return roles[0] == "wear" or ("wear" in roles and known)

    return tuple(symbol for symbol in library.elements if counts(symbol))


def _running_in_h() -> float:
    return call.rules().number("run_in", "history_from_h")


def _usable(
    found: Sequence[Interval], build: Build, fleet: Fleet, moment: Moment
) -> tuple[list[Interval], tuple[str, ...]]:
    """Intervals that say something about the engine as it usually runs on one side, and why the others do not."""
    good: list[Interval] = []
    out = [f"{sample.code}: its results are held" for sample in build.samples if sample.hold]
    for one in found:
        why = _why_not(one, build, fleet, moment)
        if why:
            out.append(f"{one.sample.code}: {why}")
        else:
            good.append(one)
    return good, tuple(out)


def _why_not(one: Interval, build: Build, fleet: Fleet, moment: Moment) -> str:
    if one.start_h < _running_in_h() or one.sample.break_in:
        return "it belongs to the running-in"
    if not np.isfinite(one.rate).any():
        return "no wear metal was read"
    if MIXED[0] < one.share_after(moment.build_h) < MIXED[1]:
        return "it ran partly before and partly after the change"
    if _odd_bottle(one, build, fleet):
        return "its additives are not those of the oil in the sump; another oil or a mixed-up bottle"
    return ""


def _odd_bottle(one: Interval, build: Build, fleet: Fleet) -> bool:
    """Whether most additives lie away from where the oil of this fill and the one before it can put them."""
    fill = fill_of(build, one.sample)
    oil = fleet.oils.get(fill.oil) if fill else None
    if fill is None or oil is None:
        return False
    before = _oil_before(build, fill)
    old = fleet.oils.get(before)
    values = {r.measurand: r.value for r in one.sample.readings if r.value is not None and not r.qualifier}
    off = []
    for symbol, fresh in oil.fresh_ppm.items():
        value = values.get(symbol)
        other = old.fresh_ppm.get(symbol, fresh) if old else fresh
        if value is None or max(fresh, other, value) < 100:
            continue
        low, high = sorted((fresh, fresh + 0.5 * (other - fresh)))
        room = 0.25 * max(fresh, 40.0)
        off.append(not low - room <= value <= high + room)
    return sum(off) >= 2 and sum(off) >= 0.3 * len(off)


def _oil_before(build: Build, fill: Fill) -> str:
    earlier = [one.oil for one in build.fills if one.build_h < fill.build_h]
    return earlier[-1] if earlier else fill.oil


# --- severity -------------------------------------------------------------------------------------------------------


def _severity(before: Sequence[Interval], after: Sequence[Interval]) -> tuple[np.ndarray, tuple[str, ...]]:
    """What each interval's rates are divided by: the kinds of session that were run, and for a session that lifted all
    wear together how far it stood off the others of its side. Never a difference between the sides."""
    factors, said = [], []
    for side in (before, after):
        own = [one.hardness for one in side]
        for one, hardness, extra in zip(side, own, _hard_sessions(side), strict=True):
            factors.append(hardness * extra)
            if extra != 1.0:
                word = "harder" if extra > 1 else "easier"
                said.append(
                    f"{one.sample.code}: a {word} session, all wear together {extra:.2g} times its neighbours; "
                    "compared at their level"
                )
    return np.array(factors), tuple(said)


def _hard_sessions(side: Sequence[Interval]) -> list[float]:
    if len(side) < 3:
        return [1.0] * len(side)
    rates = np.array([one.rate / one.hardness for one in side])
    errors = np.array([one.error / one.hardness for one in side])
    with np.errstate(all="ignore"):
        usual, doubt = np.nanmedian(np.where(np.isfinite(rates), rates, np.nan), axis=0), np.nanmedian(errors, axis=0)
    clear = np.isfinite(usual) & (usual > 3 * doubt)
    if clear.sum() < 3:
        return [1.0] * len(side)
    found = []
    for rate, error in zip(rates[:, clear], errors[:, clear], strict=True):
        ratio = np.maximum(rate / usual[clear], 0.05)
        weight = 1 / ((error / np.maximum(rate, 1e-9)) ** 2 + 0.15**2)
        weight = np.where(np.isfinite(rate), weight, 0.0)
        off = float((weight * np.log(np.where(np.isfinite(ratio), ratio, 1.0))).sum() / max(weight.sum(), 1e-9))
        alone = float(1 / math.sqrt(max(weight.sum(), 1e-9)))
        each = np.log(ratio[np.isfinite(ratio)])
        together = bool(np.all(np.abs(each - off) < max(0.5 * abs(off), 0.25)))
        hard = math.log(HARD_TIMES) < abs(off) < math.log(MOST_TIMES) and abs(off) > 2.5 * alone and together
        found.append(math.exp(off) if hard else 1.0)
    return found


# --- rows -----------------------------------------------------------------------------------------------------------

Row = tuple[str, np.ndarray, np.ndarray, np.ndarray, np.ndarray]


def _row(both: Sequence[Interval], count: int, element: str, factors: np.ndarray) -> Row:
    pairs = np.array([one.of(element) for one in both]) / factors[:, None]
    return _sides(element, pairs[:, 0], pairs[:, 1], count)


def _sides(name: str, rate: np.ndarray, error: np.ndarray, count: int) -> Row:
    known = np.isfinite(rate) & np.isfinite(error)
    first, second = known[:count], known[count:]
    return name, rate[:count][first], rate[count:][second], error[:count][first], error[count:][second]


def _effects(rows: Sequence[Row]) -> tuple[change_effect.Effect, ...]:
    """One effect a row, the surest first; rows in which nothing could be said last."""
    found = []
    for name, before, after, se_before, se_after in rows:
        one = change_effect.effect(name, before=before, after=after, se_before=se_before, se_after=se_after)
        if one is not None:
            found.append(one)
    return tuple(sorted(found, key=_order))


def _order(one: change_effect.Effect) -> tuple[bool, float]:
    return not one.said, -max(one.rate_before, one.rate_after)


def _total(
    both: Sequence[Interval], count: int, factors: np.ndarray
) -> tuple[change_effect.Effect | None, tuple[Point, ...]]:
    """All wear metals that were read throughout and are clearly there, added up."""
    rates = np.array([one.rate for one in both])
    errors = np.array([one.error for one in both])
    read = np.isfinite(rates).all(axis=0)
    with np.errstate(all="ignore"):
        clear = rates.mean(axis=0) > 2 * np.sqrt((errors**2).mean(axis=0) / len(rates))
    read &= clear
    if not read.any():
        return None, ()
    rate = rates[:, read].sum(axis=1) / factors
    error = np.sqrt((errors[:, read] ** 2).sum(axis=1)) / factors
    row = _sides(TOTAL, rate, error, count)
    points = tuple(
        Point(one.sample.code, one.sample.build_h, float(r), float(e), place >= count)
        for place, (one, r, e) in enumerate(zip(both, rate, error, strict=True))
    )
    found = _effects([row])
    return (found[0] if found else None), points


def _source_rows(fleet: Fleet, build: Build, both: Sequence[Interval], count: int, factors: np.ndarray) -> list[Row]:
    """The groups of parts that the readings can tell apart, each with its rates."""
    elements = both[0].elements
    parts = tuple(part for part in build.parts if part.material in fleet.materials)
    if not parts or not elements:
        return []
    whole = signature(parts, fleet.materials)
    noise = _noise_of(fleet, both[-1].sample.instrument)
    apart = separation(whole, noise, measured=elements, with_extra=False)
    columns = merged(whole, apart.groups).with_elements(elements)
    found = split(both, apart.groups, columns.A, columns.S)
    return [_sides(group.name, group.rate / factors, group.error / factors, count) for group in found]


# --- words ----------------------------------------------------------------------------------------------------------


def _notes(fleet: Fleet, build: Build, moment: Moment, points: Sequence[Point]) -> tuple[str, ...]:
    notes = []
    before = [point for point in points if not point.after]
    if len(before) >= 5:
        trend = stats.kendalltau([p.build_h for p in before], [p.rate_mg_h for p in before])
        if trend.pvalue < 0.05:
            word = "falling" if trend.statistic < 0 else "rising"
            notes.append(f"Wear was already {word} before the change; part of the difference may be that.")
    used = {point.sample for point in points}
    instruments = {sample.instrument for sample in build.samples if sample.code in used}
    if len(instruments) > 1:
        notes.append(f"Measured on {' and '.join(sorted(filter(None, instruments)))}: they may read differently.")
    cooler = [part.name for part in build.parts if _group(fleet, part.material) == "cooler"]
    if cooler and any(point.build_h < 30 for point in points):
        notes.append("Copper can still come from the cooler in the first three fills, with nothing worn.")
    if any(run.fuel == "leaded" for run in build.runs):
        notes.append("Leaded fuel was run: lead is left out.")
    others = [other for other in build.changes if abs(other.build_h - moment.build_h) > 0.5]
    if others:
        said = ", ".join(f"{other.kind} at {other.build_h:g} h" for other in others)
        notes.append(f"Other changes in this build: {said}. They are in the comparison too.")
    return tuple(notes)


def _group(fleet: Fleet, material: str) -> str:
    known = fleet.materials.get(material)
    return known.group if known else ""


def _sentence(total: change_effect.Effect | None, sources: Sequence[change_effect.Effect]) -> str:
    if total is None or not total.said:
        return "Nothing can be said: the wear lies within its own error on one side."
    spread = f"{total.ratio:.2f} times what it was ({total.low:.2f} to {total.high:.2f})"
    if total.words.startswith((change_effect.LESS, change_effect.MORE)):
        less = total.words.startswith(change_effect.LESS)
        sure = change_effect.percent(total.probability_less if less else 1 - total.probability_less)
        text = f"It {change_effect.LESS if less else change_effect.MORE}: {spread}, probability {sure}."
    else:
        word = total.words[0].upper() + total.words[1:]
        text = f"{word}: {spread}. A fall to {total.seen_from:.2f} times would have been seen in 4 of 5 cases."
    return text + _strongest(sources, total.ratio)


def _strongest(sources: Sequence[change_effect.Effect], altogether: float) -> str:
    """The source that stands out even though it was picked out of so many."""
    said = [one for one in sources if one.said]
    limit = 1 - (1 - change_effect.SURE) / max(len(said), 1)
    sure = [one for one in said if max(one.probability_less, 1 - one.probability_less) >= limit]
    if not sure:
        return ""
    best = max(sure, key=lambda one: abs(math.log(one.ratio)))
    if abs(math.log(best.ratio / altogether)) < math.log(1.15):
        return ""
    return f" Most of all: {short_name(best.name)}, {best.ratio:.2f} times."


def short_name(name: str, most: int = 3) -> str:
    """A group's name with its first parts only: "bores + camshaft + crank and 12 more"."""
    parts = name.split(" + ")
    return name if len(parts) <= most else f"{' + '.join(parts[:most])} and {len(parts) - most} more"


# --- several engines ------------------------------------------------------------------------------------------------


def look_alike(bench: Bench, moment: Moment) -> AlikeLook:
    """`compare_alike` on an open bench."""
    return compare_alike(bench.fleet(), moment)


def compare_alike(fleet: Fleet, moment: Moment) -> AlikeLook:
    """Every engine that had the same change, compared one by one and pooled. Pure.

    Raises BenchProblem where none of them can be compared."""
    looks: list[EffectLook] = []
    out: list[str] = []
    first: BenchProblem | None = None
    for one in alike(fleet, moment):
        try:
            looks.append(compare(fleet, one))
        except BenchProblem as problem:
            first = first or problem
            out.append(f"{one.engine}: {problem.what}")
    if not looks and first is not None:
        raise first
    said = [look for look in looks if look.total is not None and look.total.said]
    out += [f"{look.moment.engine}: {look.sentence}" for look in looks if look not in said]
    pooled = change_effect.pooled([(look.moment.engine, look.total) for look in said if look.total is not None])
    return AlikeLook(moment.what or moment.label, tuple(looks), pooled, tuple(out), _pooled_sentence(pooled, len(said)))


def _pooled_sentence(pooled: change_effect.Pooled | None, count: int) -> str:
    if pooled is None:
        return f"{count} engine can be compared; two are needed for a common answer."
    word = pooled.words[0].upper() + pooled.words[1:]
    text = f"{word}: {pooled.ratio:.2f} times over {count} engines ({pooled.low:.2f} to {pooled.high:.2f})."
    if not pooled.words.startswith((change_effect.LESS, change_effect.MORE)):
        text += f" A common fall to {pooled.seen_from:.2f} times would have been seen in 4 of 5 cases."
    return text


# --- out ------------------------------------------------------------------------------------------------------------

HEADER = (
    "what", "ratio", "low 90 %", "high 90 %", "probability less", "permutation p", "seen from", "intervals before",
    "intervals after", "mg/h before", "mg/h after", "in words",
)  # fmt: skip


def table(looked: EffectLook) -> tuple[tuple[str, ...], list[tuple[Any, ...]]]:
    """Header and rows for a spreadsheet."""
    return HEADER, [_line(one) for one in all_rows(looked)]


def all_rows(looked: EffectLook) -> tuple[change_effect.Effect, ...]:
    """Total, sources, elements: the rows of the forest plot, top to bottom."""
    first = (looked.total,) if looked.total is not None else ()
    return (*first, *looked.sources, *looked.elements)


def _line(one: change_effect.Effect) -> tuple[Any, ...]:
    numbers: Callable[[float], float] = partial(round, ndigits=4)  # type: ignore[assignment]
    return (
        one.name, numbers(one.ratio), numbers(one.low), numbers(one.high), numbers(one.probability_less),
        numbers(one.permutation_p), numbers(one.seen_from), one.before, one.after, numbers(one.rate_before),
        numbers(one.rate_after), one.words,
    )  # fmt: skip


def alike_table(looked: AlikeLook) -> tuple[tuple[str, ...], list[tuple[Any, ...]]]:
    """Header and rows of the pooled answer for a spreadsheet: each engine's own, then all together."""
    rows = [_line(replace(look.total, name=look.moment.engine)) for look in looked.looks if look.total is not None]
    if looked.pooled is not None:
        p = looked.pooled
        rows.append(
            ("all together", round(p.ratio, 4), round(p.low, 4), round(p.high, 4), round(p.probability_less, 4), None,
             round(p.seen_from, 4), None, None, None, None, p.words)
        )  # fmt: skip
    return HEADER, rows


# --- the forest plot and the page -----------------------------------------------------------------------------------

HOW = (
    "Rates are mg of metal per running hour from the sump balance: corrected for hours, fresh oil, top-ups and what "
    "the drain left of the old oil. Ratios are after / before with a 90 % interval; the permutation p beside them "
    "believes nothing but that intervals could have been drawn in any order."
)
MANY = "Of many rows some lie off by chance alone: the sentence on top allows for that, a single row does not."


def forest(looked: EffectLook) -> tuple[Any, ...]:
    """Rows of the forest plot (`sheet.forest.Row`): all metal, then by source, then by element."""
    rows = [_forest_row(looked.total, "Altogether")] if looked.total is not None else []
    rows += [_forest_row(one, "By source") for one in looked.sources]
    rows += [_forest_row(one, "By element") for one in looked.elements]
    return tuple(rows)


DRAWN_IN = "Each engine, drawn towards the common answer"


def forest_alike(looked: AlikeLook) -> tuple[Any, ...]:
    """Each engine's own answer, then all of them together."""
    from benchapp.sheet.forest import Row

    rows = [
        _forest_row(look.total, "Each engine", look.moment.engine) for look in looked.looks if look.total is not None
    ]
    if looked.pooled is not None:
        p = looked.pooled
        rows.append(Row("all together", "Pooled", p.ratio, p.low, p.high, True, p.words, p.seen_from, together=True))
        rows += [
            Row(
                f"{name}, drawn in",
                DRAWN_IN,
                ratio,
                low,
                high,
                True,
                "",
                math.nan,
            )
            for name, ratio, low, high in p.engines
        ]
    return tuple(rows)


def _forest_row(one: change_effect.Effect, section: str, name: str = "") -> Any:
    from benchapp.sheet.forest import Row

    p = f"p {one.permutation_p:.3f}" if one.permutation_p >= 0.001 else "p < 0.001"
    words = f"{one.words.replace('(probability ', '(')} · {p} · {one.before} + {one.after}" if one.said else one.words
    return Row(name or short_name(one.name), section, one.ratio, one.low, one.high, one.said, words, one.seen_from)


def page(fleet: Fleet, looked: EffectLook, written_at: Any) -> Any:
    """The printed page (`sheet.effect_page`) of one comparison."""
    from benchapp.sheet import effect_page

    engine = next(one for one in fleet.engines if one.name == looked.moment.engine)
    about = [f"car {engine.car}"] if engine.car else []
    about += [f"build {looked.moment.build}", looked.moment.label]
    return effect_page.page_of(
        subject=engine.name, about=" · ".join(about), sentence=looked.sentence, rows=forest(looked),
        blocks=_blocks(looked), cautions=_cautions(), written_at=written_at,
    )  # fmt: skip


def page_alike(looked: AlikeLook, written_at: Any) -> Any:
    """The printed page of the pooled answer."""
    from benchapp.sheet import effect_page

    names = ", ".join(look.moment.engine for look in looked.looks)
    return effect_page.page_of(
        subject=f"{len(looked.looks)} engines", about=f"{looked.what} · {names}", sentence=looked.sentence,
        rows=forest_alike(looked), blocks=alike_blocks(looked), cautions=_cautions(), written_at=written_at,
    )  # fmt: skip


def _blocks(looked: EffectLook) -> list[tuple[str, Sequence[str]]]:
    """What stands behind the answer, as titled lists."""
    return [
        ("Left out", looked.left_out),
        ("Adjusted", looked.adjusted),
        ("To know", looked.notes),
        ("How it was compared", (HOW, MANY)),
    ]


def blocks(looked: EffectLook) -> list[tuple[str, Sequence[str]]]:
    """`_blocks` without the empty ones."""
    return [(title, lines) for title, lines in _blocks(looked) if lines]


def alike_blocks(looked: AlikeLook) -> list[tuple[str, Sequence[str]]]:
    """What stands behind the pooled answer."""
    found: list[tuple[str, Sequence[str]]] = [("Left out", looked.left_out)] if looked.left_out else []
    said = [f"{look.moment.engine}: {look.sentence}" for look in looked.looks]
    between = (
        f"The engines differ among each other by about {100 * looked.pooled.between:.0f} %." if looked.pooled else ""
    )
    found.append(("Each engine", said))
    return [*found, ("How it was compared", tuple(filter(None, (between, HOW))))]


def _cautions() -> tuple[str, ...]:
    return (
        "A comparison is advice from oil samples: it cannot see a cracked rod, a fatigued valve spring or a loose nut.",
        "The person who signs the car out decides.",
    )
