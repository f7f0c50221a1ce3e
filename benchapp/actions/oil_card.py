"""Verbs for what a person knows of an oil beside its can: own limits, bench blends, fresh values of the oil's own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from benchapp.actions import naming, oil
from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.benchfile import documents
from benchapp.benchfile.kinds import KINDS, OF_AN_OIL
from benchapp.problems import BenchProblem
from benchapp.records import FuelBlend, Oil, OilLimit

if TYPE_CHECKING:
    from benchapp.benchfile.write import Write
    from benchapp.oil.rules import OilRules

WITHDRAWN = "taken out of the oil's card"


def rules() -> OilRules:
    """The rules of the oil room: those that the calls are judged by, loaded once."""
    from benchapp.actions import call

    found: OilRules = call.rules().oil
    return found


@dataclass(frozen=True, slots=True)
class LimitChoice:
    """One limit as the table has it, for a form: its measure in words, and what it may be set to."""

    name: str
    measure: str
    """'share of fresh', 'mg KOH/g over fresh', '%'."""
    watch: float | None
    done: float | None
    low: float
    high: float
    source: str
    diesel: bool


def limit_choices() -> tuple[LimitChoice, ...]:
    """The limits that may be set for an oil, in the order of their table."""
    return tuple(
        LimitChoice(
            limit.name,
            "share of fresh" if limit.against == "fresh share" else limit.unit,
            limit.watch,
            limit.done,
            limit.low,
            limit.high,
            limit.source,
            limit.diesel,
        )
        for limit in rules().limits
    )


def fresh_choices() -> Mapping[str, tuple[float, float]]:
    """Fresh values that may be entered beside the record's own fields: property -> range."""
    return rules().fresh_range


def put(
    bench: Bench,
    name: str,
    *,
    limits: Sequence[OilLimit] = (),
    fresh: Mapping[str, float] | None = None,
    blends: Sequence[FuelBlend] = (),
) -> Changed:
    """Sets all that is known of oil `name`: what is no longer named is taken out. One undoable step.

    Raises BenchProblem where a figure lies outside its range, with the range and its source."""
    known = bench.fleet().oils.get(name)
    if known is None:
        raise naming.unknown("oil", name)
    fresh = dict(fresh or {})
    check(known, limits, fresh, blends)
    wanted: dict[str, list[dict[str, Any]]] = {
        "oil_limit": [documents.of_oil_limit(limit, name) for limit in limits],
        "fresh_value": [documents.of_fresh_value(what, value, name) for what, value in fresh.items()],
        "fuel_blend": [documents.of_fuel_blend(blend, name) for blend in blends],
    }

    def body(write: Write) -> None:
        for noun, contents in wanted.items():
            _put_all(write, noun, name, contents)
        if write.steps:
            write.nouns.add("oil")

    return bench.do(f"Limits, fresh values and blends of oil {name}", body, oil.users(bench, name))


def _put_all(write: Write, noun: str, name: str, contents: Sequence[dict[str, Any]]) -> None:
    """Brings the documents of one kind to what is wanted; what is as it was is left alone."""
    columns = KINDS[noun].names
    held = {tuple(content[c] for c in columns): (id_, content) for id_, content in write.find(noun, oil=name)}
    for content in contents:
        key = tuple(content[column] for column in columns)
        document, old = held.pop(key, ("", None))
        if old is None:
            write.put(noun, naming.free_id(write, noun, *key), content)
        else:
            write.put(noun, document, {**content, "notes": old["notes"]})
    for document, _ in held.values():
        write.void(noun, document, WITHDRAWN)


def renamed(write: Write, name: str, new: str) -> None:
    """Carries an oil's new name to what belongs to it."""
    for noun in OF_AN_OIL:
        for document, content in write.find(noun, oil=name):
            write.put(noun, document, {**content, "oil": new})


def check(
    known: Oil, limits: Sequence[OilLimit], fresh: Mapping[str, float], blends: Sequence[FuelBlend]
) -> None:
    """Raises BenchProblem for the first figure that cannot be, with the range and its source."""
    _once([limit.limit for limit in limits], "limit")
    _once([(blend.fuel, blend.at_c) for blend in blends], "blend of one fuel at one temperature")
    for limit in limits:
        rules().with_limit(limit.limit, watch=limit.watch, done=limit.done)
    for what, value in fresh.items():
        _check_fresh(what, value)
    for blend in blends:
        check_blend(known, blend)


def _once(keys: Sequence[Any], what: str) -> None:
    if len(set(keys)) < len(keys):
        raise BenchProblem(f"The same {what} stands there twice.", naming.UNCHANGED, "Keep one of the two.")


def _check_fresh(what: str, value: float) -> None:
    span = rules().fresh_range.get(what)
    if span is None:
        raise BenchProblem(
            f"A fresh value of {what} is not kept here.",
            naming.UNCHANGED,
            f"Kept are: {', '.join(rules().fresh_range)}; the others have their own field in the oil's record.",
        )
    if not span[0] <= value <= span[1]:
        raise BenchProblem(
            f"Fresh {what.lower()} is {value:g}, outside {span[0]:g} to {span[1]:g}.",
            f"That range stands in the limits table ({rules().fresh_source}); nothing was changed.",
            "Check the figure and its unit.",
        )


def check_blend(known: Oil, blend: FuelBlend) -> None:
    """Raises BenchProblem for a blend that cannot be one."""
    from benchapp.oil.fuel import BenchBlend, check_bench

    if blend.fuel not in rules().fuels:
        raise BenchProblem(
            f'There is no fuel "{blend.fuel}" for a bench blend.',
            naming.UNCHANGED,
            f"Choose one of: {', '.join(rules().fuels)}; leaded and unleaded are both petrol.",
        )
    fresh = {40.0: known.kv40_cst, 100.0: known.kv100_cst}.get(blend.at_c)
    if blend.at_c not in (40.0, 100.0):
        raise BenchProblem(
            f"A bench blend at {blend.at_c:g} °C cannot be held against a sample.",
            "Samples are measured at 40 or 100 °C; nothing was changed.",
            "Measure the blend at 40 or 100 °C.",
        )
    if fresh is None:
        raise BenchProblem(
            f"The viscosity of fresh {known.name} at {blend.at_c:g} °C is not known.",
            "A blend says something only beside it; nothing was changed.",
            "Enter the fresh oil's viscosity first.",
        )
    if not (blend.fuel_ml > 0.0 and blend.oil_ml > 0.0):
        raise BenchProblem(
            "A bench blend needs an amount of fuel and an amount of oil.",
            naming.UNCHANGED,
            "Enter both, in mL (or both in grams).",
        )
    check_bench(BenchBlend(blend.fuel_pct, blend.kv_cst), fresh)
