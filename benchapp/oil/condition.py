"""Is the oil done? Its readings against its own fresh values and the limits, one line each, and one sentence."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from benchapp.oil.bounds import FloatArray
from benchapp.oil.density import density_at, dynamic_viscosity
from benchapp.oil.fuel import BenchBlend, FuelRange, dilution_range
from benchapp.oil.grade import GradeCheck, check_grade
from benchapp.oil.rules import Limit, OilRules
from benchapp.oil.viscosity import TemperatureLine, line_40_100, viscosity_index, w_of
from benchapp.problems import BenchProblem
from benchapp.records import Oil, Reading

T = TypeVar("T")

STATES = ("unknown", "fine", "watch", "done")
"""Mildest first; 'unknown': no reading, or nothing to hold it against."""

UNKNOWN, FINE, WATCH, DONE = range(4)

FRESH_ZERO = frozenset({"Water", "Glycol", "Soot", "Fuel"})
"""Properties that a fresh oil has none of."""

OXIDATION_NOTE = (
    "Oxidation and nitration need this oil's own fresh value: new oils differ by nearly twice (ASTM E2412 10.1-10.3)."
)


@dataclass(frozen=True, slots=True)
class OilLine:
    """One property of the oil, against what it was."""

    property: str
    name: str
    text: str
    """'base number 4.1 mg KOH/g, 55 % of fresh 7.5: watch'."""
    value: float | None
    """The reading, mean of its replicates; of a bare 'not detected' None."""
    qualifier: str
    """'', '<' or '>'."""
    unit: str
    fresh: float | None
    amount: float | None
    """In the measure of the limit: share of fresh, rise over fresh, or the value."""
    watch: float | None
    done: float | None
    limit_text: str
    """'below 65 % of fresh watch, below 50 % of fresh done'."""
    source: str
    diesel: bool
    state: str
    """One of STATES."""


@dataclass(frozen=True, slots=True)
class OilVerdict:
    """What the oil is worth, as a value: view, call and sheet show this and never reckon again."""

    state: str
    """The worst of the lines; 'unknown' where nothing could be judged."""
    sentence: str
    lines: tuple[OilLine, ...]
    """Worst first."""
    grade: GradeCheck | None
    fuel: FuelRange | None
    vi: float | None
    vi_fresh: float | None
    run_c: float | None
    run_mpas: float | None
    """Dynamic viscosity at the run's oil temperature [mPa·s], or None."""
    run_fresh_mpas: float | None
    run_text: str
    notes: tuple[str, ...]
    """What else there is to say: crossing of base and acid number, oxidation without fresh value."""
    unknowns: tuple[str, ...]
    """What is not known and would matter."""
    refused: tuple[str, ...] = ()
    """What was not computed because a value lies outside the range of its formula, with the range and its source."""


# --- arrays: a season at once ---------------------------------------------------------------------------------------


def amounts(limit: Limit, values: npt.ArrayLike, fresh: npt.ArrayLike) -> FloatArray:
    """Values in the measure of the limit; NaN where the fresh value is unknown and needed, or is zero for a share."""
    v, f = np.asarray(values, dtype=np.float64), np.asarray(fresh, dtype=np.float64)
    if limit.against == "fresh share":
        return np.asarray(np.divide(v, f, out=np.full(np.broadcast(v, f).shape, np.nan), where=f > 0.0))
    return np.asarray(v - f) if limit.against == "fresh rise" else v


def states(limit: Limit, amount: npt.ArrayLike) -> npt.NDArray[np.int8]:
    """Index into STATES for each amount, by one limit. A value on the limit has not passed it."""
    a = np.asarray(amount, dtype=np.float64)
    found = np.where(np.isnan(a), UNKNOWN, FINE)
    for level, code in ((limit.watch, WATCH), (limit.done, DONE)):
        if level is not None:
            found = np.where(a < level if limit.side == "below" else a > level, code, found)
    return np.asarray(found, dtype=np.int8)


def season_states(
    values: Mapping[str, npt.ArrayLike], fresh: Mapping[str, npt.ArrayLike], rules: OilRules
) -> dict[str, npt.NDArray[np.int8]]:
    """Limit name -> state codes of many samples.

    `values` property -> (n,) readings (NaN: not measured), `fresh` likewise (scalar or (n,)); a property without fresh
    values is unknown, but for those a fresh oil has none of."""
    found = {}
    for limit in rules.limits:
        if limit.property in values:
            new = fresh.get(limit.property, 0.0 if limit.property in FRESH_ZERO else math.nan)
            found[limit.name] = states(limit, amounts(limit, values[limit.property], new))
    return found


def run_viscosity(
    kv40: npt.ArrayLike,
    kv100: npt.ArrayLike,
    fresh40: npt.ArrayLike,
    fresh100: npt.ArrayLike,
    celsius: npt.ArrayLike,
    density_15c_kg_l: npt.ArrayLike,
) -> FloatArray:
    """Dynamic viscosity [mPa·s] at the run's oil temperature from one or two kinematic viscosities [mm²/s].

    With only one (the other NaN), the slope of the fresh oil is kept: log10 log10 Z shifts as a whole. Raises
    BenchProblem as `viscosity.temperature_line` and `density.density_at`; NaN where neither is known."""
    line = used_line(kv40, kv100, fresh40, fresh100)
    return dynamic_viscosity(line.at(celsius), density_at(density_15c_kg_l, celsius))


def used_line(
    kv40: npt.ArrayLike, kv100: npt.ArrayLike, fresh40: npt.ArrayLike, fresh100: npt.ArrayLike
) -> TemperatureLine:
    """The D341 line of the used oil: through both viscosities, or through one with the fresh oil's slope."""
    kv40, kv100, fresh40, fresh100 = np.broadcast_arrays(
        *(np.asarray(v, dtype=np.float64) for v in (kv40, kv100, fresh40, fresh100))
    )
    both, new = line_40_100(kv40, kv100), line_40_100(fresh40, fresh100)
    shift40, shift100 = w_of(kv40) - w_of(fresh40), w_of(kv100) - w_of(fresh100)
    shift = np.where(np.isnan(shift100), shift40, shift100)
    two = ~np.isnan(both.A)
    return TemperatureLine(np.where(two, both.A, new.A + shift), np.where(two, both.B, new.B))


# --- one sample -----------------------------------------------------------------------------------------------------


def assess(
    oil: Oil,
    readings: Sequence[Reading],
    rules: OilRules,
    *,
    run_c: float | None = None,
    fuel: str = "petrol",
    bench: BenchBlend | None = None,
    bench_40: BenchBlend | None = None,
    fresh_more: Mapping[str, float] | None = None,
) -> OilVerdict:
    """The oil of one sample.

    `readings` of any kind, metals included: only what a limit is for is used, replicates are averaged, a bound is
    judged only where it is sure. `run_c` oil temperature of the run [°C]; `fuel` as in `dilution_range`; `bench` a
    blend of this oil and its fuel at 100 °C, `bench_40` one at 40 °C; `fresh_more` fresh values beside the record's.

    Never raises for a value: what lies outside the range of a formula is left out and told in `refused`, so that
    one bad figure does not hide the rest."""
    refused: list[str] = []
    found = _means(readings)
    fresh = fresh_values(oil) | dict(fresh_more or {})
    lines = list(lines_of(found, fresh, rules))
    kv40, kv100, hths = (_value(found, name) for name in ("KV40", "KV100", "HTHS"))
    vi = _or_refuse(refused, lambda: _index(kv40, kv100))
    vi_fresh = _or_refuse(refused, lambda: _index(oil.kv40_cst, oil.kv100_cst))
    at_run, at_run_fresh = _or_refuse(refused, lambda: _run(oil, kv40, kv100, run_c, rules)) or (None, None)
    grade = None
    if oil.sae_grade:
        grade = _or_refuse(refused, lambda: check_grade(oil.sae_grade, kv100, hths, rules.grades))
    in_fuel = _or_refuse(refused, lambda: _fuel(found, oil, rules, fuel, (bench, bench_40), vi, vi_fresh))
    state = max((line.state for line in lines), key=STATES.index, default="unknown")
    return OilVerdict(
        state=state,
        sentence=_sentence(state, lines),
        lines=tuple(sorted(lines, key=lambda line: -STATES.index(line.state))),
        grade=grade,
        fuel=in_fuel,
        vi=vi,
        vi_fresh=vi_fresh,
        run_c=run_c,
        run_mpas=at_run,
        run_fresh_mpas=at_run_fresh,
        run_text=_run_text(run_c, at_run, at_run_fresh),
        notes=tuple(_notes(found, fresh, rules)),
        unknowns=tuple(_unknowns(oil, found, run_c)),
        refused=tuple(dict.fromkeys(refused)),
    )


def is_quiet(oil: Oil, readings: Sequence[Reading], rules: OilRules, left_out: Collection[str] = ()) -> bool:
    """Whether no reading of a sample is past a warning or a limit: what `assess` would find, without its words.

    Properties `left_out` are not looked at. Plain numbers, for judging whole fleets."""
    found = _means([reading for reading in readings if reading.measurand not in left_out])
    fresh = fresh_values(oil)
    for limit in rules.limits:
        mean = found.get(limit.property)
        if mean is None or (mean.qualifier and (limit.side == "above") != (mean.qualifier == ">")):
            continue  # not read, or a bound that points to the good side
        new = fresh.get(limit.property)
        amount = 0.0 if mean.value is None else mean.value
        if limit.against != "value":
            if new is None or (new <= 0.0 and limit.against == "fresh share"):
                continue
            amount = amount / new if limit.against == "fresh share" else amount - new
        levels = [level for level in (limit.watch, limit.done) if level is not None]
        if any(amount < level if limit.side == "below" else amount > level for level in levels):
            return False
    return True


def lines_of(found: Mapping[str, _Mean], fresh: Mapping[str, float], rules: OilRules) -> tuple[OilLine, ...]:
    """One line for each property that was read and has a limit, the worse where it has two."""
    lines = [_line(limit, found[limit.property], fresh) for limit in rules.limits if limit.property in found]
    return tuple(_one_per_property(lines))


def fresh_values(oil: Oil) -> dict[str, float]:
    """Property -> fresh value, as far as the oil's record has it; what a new oil has none of is zero."""
    known = {
        "KV40": oil.kv40_cst,
        "KV100": oil.kv100_cst,
        "HTHS": oil.hths_mpas,
        "TBN": oil.tbn,
        "TAN": oil.tan,
        **oil.fresh_ppm,
        **oil.fresh_more,
    }
    values = {name: float(value) for name, value in known.items() if value is not None}
    return values | {name: 0.0 for name in FRESH_ZERO if name not in values}


def level_in_unit(limit: Limit, level: float | None, oil: Oil) -> float | None:
    """A level of a limit in the unit of the reading; None where the fresh value is needed and not known."""
    if level is None or limit.against == "value":
        return level
    fresh = fresh_values(oil).get(limit.property)
    if fresh is None:
        return None
    return level * fresh if limit.against == "fresh share" else level + fresh


def _or_refuse(refused: list[str], compute: Callable[[], T]) -> T | None:
    """The result, or None with the reason noted where a value is outside the range of a formula."""
    try:
        return compute()
    except BenchProblem as problem:
        refused.append(f"{problem.what} {problem.means}")
        return None


@dataclass(frozen=True, slots=True)
class _Mean:
    value: float | None
    qualifier: str
    unit: str


def _means(readings: Sequence[Reading]) -> dict[str, _Mean]:
    """Mean of the replicates; a value outweighs a bound, and of bounds the first counts."""
    grouped: dict[str, list[Reading]] = {}
    for reading in readings:
        grouped.setdefault(reading.measurand, []).append(reading)
    means = {}
    for name, group in grouped.items():
        plain = [r.value for r in group if r.value is not None and not r.qualifier]
        if plain:
            means[name] = _Mean(sum(plain) / len(plain), "", group[0].unit)
        else:
            means[name] = _Mean(group[0].value, group[0].qualifier, group[0].unit)
    return means


def _value(found: Mapping[str, _Mean], name: str) -> float | None:
    mean = found.get(name)
    return mean.value if mean is not None and not mean.qualifier else None


def _line(limit: Limit, mean: _Mean, fresh: Mapping[str, float]) -> OilLine:
    new = fresh.get(limit.property)
    value = 0.0 if mean.value is None and mean.qualifier == "<" else mean.value
    amount = None
    if value is not None and (limit.against == "value" or new is not None):
        amount = float(amounts(limit, value, math.nan if new is None else new))
        amount = None if math.isnan(amount) else amount
    state = STATES[int(states(limit, math.nan if amount is None else amount))]
    if mean.qualifier and state != "unknown":
        state = _bound_state(limit, mean.qualifier, state)
    return OilLine(
        property=limit.property,
        name=limit.name,
        text=_line_text(limit, mean, new, amount, state),
        value=mean.value,
        qualifier=mean.qualifier,
        unit=mean.unit,
        fresh=new,
        amount=amount,
        watch=limit.watch,
        done=limit.done,
        limit_text=limit_text(limit),
        source=limit.source,
        diesel=limit.diesel,
        state=state,
    )


def _bound_state(limit: Limit, qualifier: str, state: str) -> str:
    """A bound says something only where it is sure: '<0.5' against a limit of 0.1 says nothing.

    Pointing to the bad side it is at least that bad, and never sure to be fine. Pointing to the good side it is fine
    where its bound is; where any amount is too much (glycol), below the detection limit is all that fine can mean."""
    to_bad_side = (limit.side == "above") == (qualifier == ">")
    if to_bad_side:
        return "unknown" if state == "fine" else state
    if state == "fine" or (limit.done == 0.0 and limit.watch is None):
        return "fine"
    return "unknown"


def _one_per_property(lines: list[OilLine]) -> list[OilLine]:
    """Thinner and thicker are two limits of one reading: the worse one is told, thinner where both are fine."""
    best: dict[str, OilLine] = {}
    for line in lines:
        old = best.get(line.property)
        if old is None or STATES.index(line.state) > STATES.index(old.state):
            best[line.property] = line
    return list(best.values())


def _index(kv40: float | None, kv100: float | None) -> float | None:
    if kv40 is None or kv100 is None or kv100 < 2.0:
        return None
    return float(viscosity_index(kv40, kv100))


def _run(
    oil: Oil, kv40: float | None, kv100: float | None, run_c: float | None, rules: OilRules
) -> tuple[float | None, float | None]:
    """Dynamic viscosity now and fresh [mPa·s] at the run's temperature."""
    if run_c is None:
        return None, None
    rho = oil.density_15c_kg_l or rules.density_15c_kg_l
    v40, v100, f40, f100 = (math.nan if v is None else v for v in (kv40, kv100, oil.kv40_cst, oil.kv100_cst))
    now = float(run_viscosity(v40, v100, f40, f100, run_c, rho))
    new = float(run_viscosity(f40, f100, f40, f100, run_c, rho))
    return (None if math.isnan(now) else now), (None if math.isnan(new) else new)


def _fuel(
    found: Mapping[str, _Mean],
    oil: Oil,
    rules: OilRules,
    fuel: str,
    bench: tuple[BenchBlend | None, BenchBlend | None],
    vi: float | None,
    vi_fresh: float | None,
) -> FuelRange | None:
    """From viscosity at 100 °C, else at 40 °C, each with the bench blend of its temperature."""
    change = None if vi is None or vi_fresh is None else vi - vi_fresh
    measured = _value(found, "Fuel")
    kv100, kv40 = _value(found, "KV100"), _value(found, "KV40")
    if kv100 is not None and oil.kv100_cst is not None:
        return dilution_range(
            kv100, oil.kv100_cst, rules, fuel=fuel, bench=bench[0], measured_pct=measured, vi_change=change
        )
    if kv40 is not None and oil.kv40_cst is not None:
        return dilution_range(kv40, oil.kv40_cst, rules, at_c=40.0, fuel=fuel, bench=bench[1], measured_pct=measured)
    return None


# --- words ----------------------------------------------------------------------------------------------------------


def limit_text(limit: Limit) -> str:
    """'below 65 % of fresh watch, below 50 % of fresh done (made for heavy diesels)'."""
    parts = [f"{limit.side} {_amount_text(limit, level)} {word}" for level, word in
             ((limit.watch, "watch"), (limit.done, "done")) if level is not None]  # fmt: skip
    return ", ".join(parts) + (" (made for heavy diesels)" if limit.diesel else "")


def _amount_text(limit: Limit, amount: float) -> str:
    if limit.against == "fresh share":
        return f"{amount * 100:.0f} % of fresh"
    return f"{number(amount)} {limit.unit}"


def number(value: float) -> str:
    """Three figures, no exponent: 1400, 14.5, 0.05."""
    return f"{value:.0f}" if abs(value) >= 100.0 else f"{value:.3g}"


def _line_text(limit: Limit, mean: _Mean, new: float | None, amount: float | None, state: str) -> str:
    shown = "not detected" if mean.value is None else f"{mean.qualifier}{number(mean.value)} {mean.unit}".strip()
    words = f"{limit.name} {shown}"
    if limit.against == "fresh share" and amount is not None and new is not None:
        words += f", {amount * 100:.0f} % of fresh {number(new)}"
    elif limit.against == "fresh rise" and amount is not None and new is not None:
        words += f", {amount:+.3g} on fresh {number(new)}"
    elif limit.against != "value":
        words += ", fresh value not known"
    return f"{words}: {'not judged' if state == 'unknown' else state}"


def _sentence(state: str, lines: Sequence[OilLine]) -> str:
    if state == "unknown":
        return "The oil was not judged: no reading of it can be held against a fresh value or a limit."
    worst = [f"{line.name}{' (by a limit made for heavy diesels)' if line.diesel and state == 'done' else ''}"
             for line in lines if line.state == state]  # fmt: skip
    if state == "fine":
        return f"The oil is fit by {_and([line.name for line in lines if line.state == 'fine'])}."
    if state == "watch":
        return f"The oil is still usable, but {_and(worst)} {'is' if len(worst) == 1 else 'are'} on the way."
    return f"The oil is done: {_and(worst)}."


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _run_text(run_c: float | None, now: float | None, new: float | None) -> str:
    if run_c is None or now is None:
        return ""
    words = f"{now:.1f} mPa·s at {run_c:.0f} °C"
    return words if new is None else f"{words}, fresh {new:.1f} ({now / new * 100:.0f} %)"


def _notes(found: Mapping[str, _Mean], fresh: Mapping[str, float], rules: OilRules) -> list[str]:
    notes = []
    base, acid = _value(found, "TBN"), _value(found, "TAN")
    if base is not None and acid is not None and base <= acid:
        notes.append(
            f"Base number {base:.3g} has fallen to acid number {acid:.3g}: {rules.crossing_text} "
            f"({rules.crossing_source})."
        )
    if any(name in found and name not in fresh for name in ("Oxidation", "Nitration")):
        notes.append(OXIDATION_NOTE)
    return notes


def _unknowns(oil: Oil, found: Mapping[str, _Mean], run_c: float | None) -> list[str]:
    unknown = []
    if "KV100" not in found:
        unknown.append("viscosity at 100 °C of the sample")
    elif oil.kv100_cst is None:
        unknown.append(f"viscosity at 100 °C of fresh {oil.name}")
    if "TBN" in found and oil.tbn is None:
        unknown.append(f"base number of fresh {oil.name}")
    if run_c is None:
        unknown.append("oil temperature of the run")
    return unknown
