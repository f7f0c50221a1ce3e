"""Everything the oil room reckons with, read from the resource tables into one immutable value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, Protocol

from benchapp.oil.film import FilmTables, film_tables
from benchapp.oil.grade import Grades, grades_from
from benchapp.problems import BenchProblem
from benchapp.records import Oil

AGAINST = ("fresh share", "fresh rise", "value")


class Tables(Protocol):
    """What is needed of the library (`library.Library` is one)."""

    def data(self, name: str) -> Mapping[str, Any]: ...


@dataclass(frozen=True, slots=True)
class Limit:
    """When one property says that the oil is done.

    `against`: 'fresh share' (value / fresh), 'fresh rise' (value − fresh) or 'value'. `watch` and `done` in that
    measure, None where never reached."""

    property: str
    name: str
    against: str
    side: str
    """'below' or 'above' is bad."""
    watch: float | None
    done: float | None
    unit: str
    source: str
    diesel: bool
    """True where the figure was made for heavy diesels."""
    sd: float
    """Reading noise in the measure of `against`, one standard deviation; 0 where the hours left are not reckoned."""
    low: float
    high: float
    """What a person may set it to, in the measure of `against`."""


@dataclass(frozen=True, slots=True)
class Fuel:
    """Fuel as a blend component: kinematic viscosity [mm²/s] and its range over pure components."""

    name: str
    kv40: float
    kv40_low: float
    kv40_high: float
    kv100: float
    kv100_low: float
    kv100_high: float
    density_15c_kg_l: float

    def at(self, celsius: float) -> tuple[float, float, float]:
        """(low, middle, high) viscosity [mm²/s] at 40 or 100 °C, the two temperatures oils are measured at.

        Raises BenchProblem for another temperature."""
        if celsius == 40.0:
            return self.kv40_low, self.kv40, self.kv40_high
        if celsius == 100.0:
            return self.kv100_low, self.kv100, self.kv100_high
        raise BenchProblem(
            f"Fuel in oil is reckoned from viscosity at 40 or 100 °C, not at {celsius:g} °C.",
            "How thin the fuel is there is not in the table, so nothing was computed.",
            "Measure at 40 or 100 °C.",
        )


@dataclass(frozen=True, slots=True)
class BearingLimits:
    """Design limits of a bearing and the clearance rule of thumb, with sources."""

    min_film_constant_mm: float
    min_film_per_mm: float
    max_oil_c: float
    max_start_mpa: float
    load_factor: float
    thick_film_mu_n_p: float
    source: str
    clearance_per_diameter: float
    clearance_source: str
    roughness_um: float
    roughness_source: str

    def min_film_um(self, diameter_mm: float) -> float:
        """Least film by design [µm] for a journal of this diameter [mm]."""
        return (self.min_film_constant_mm + self.min_film_per_mm * diameter_mm) * 1000.0


@dataclass(frozen=True, slots=True)
class StraightGrade:
    """Dynamic viscosity of a plain oil: μ [microreyn] = mu0 · exp(b / (T_F + 95)) (Seireg and Dandage)."""

    grade: str
    mu0: float
    b: float


@dataclass(frozen=True, slots=True)
class OilRules:
    limits: tuple[Limit, ...]
    grades: Grades
    fuels: Mapping[str, Fuel]
    fuel_source: str
    bearing: BearingLimits
    straight: tuple[StraightGrade, ...]
    straight_source: str
    film: FilmTables
    density_15c_kg_l: float
    density_source: str
    crossing_text: str
    crossing_source: str
    range_source: str
    fresh_range: Mapping[str, tuple[float, float]]
    """Fresh values that an oil's record has no field for, and what they may be."""
    fresh_source: str

    def limit(self, name: str) -> Limit:
        """The limit of this name ('base number'). Raises KeyError where there is none."""
        for limit in self.limits:
            if limit.name == name:
                return limit
        raise KeyError(name)

    def with_limit(
        self, name: str, *, watch: float | None, done: float | None, source: str = "entered for this oil"
    ) -> OilRules:
        """The rules with one limit set by the user for an oil; it is no longer a diesel's.

        Raises BenchProblem where there is no such limit, where a figure is out of its range, or where `watch` would
        come after `done`."""
        try:
            old = self.limit(name)
        except KeyError:
            raise BenchProblem(
                f'There is no oil limit "{name}".',
                "The limits are as they were.",
                f"Known are: {', '.join(limit.name for limit in self.limits)}.",
            ) from None
        for word, level in (("warning", watch), ("limit", done)):
            if level is not None:
                within_limit(old, word, level, self.range_source)
        if watch is not None and done is not None and (watch < done if old.side == "below" else watch > done):
            raise BenchProblem(
                f"The warning for {name} ({watch:g}) would come after its limit ({done:g}).",
                "The limits are as they were.",
                "Exchange the two figures, or leave the warning empty.",
            )
        new = replace(old, watch=watch, done=done, source=source, diesel=False)
        return replace(self, limits=tuple(new if limit is old else limit for limit in self.limits))


    def for_oil(self, oil: Oil) -> tuple[OilRules, tuple[str, ...]]:
        """The rules with the limits that were set for this oil, and what of them could not be used, in words."""
        rules, refused = self, []
        for own in oil.limits:
            try:
                why = f"entered for {oil.name}" + (f": {own.why}" if own.why else "")
                rules = rules.with_limit(own.limit, watch=own.watch, done=own.done, source=why)
            except BenchProblem as problem:
                refused.append(f"{problem.what} {problem.means}")
        return rules, tuple(refused)


def within_limit(limit: Limit, word: str, level: float, source: str) -> None:
    """Raises BenchProblem for a level of a limit that lies outside its range, with the range and its source."""
    if limit.low <= level <= limit.high:
        return
    unit = "" if limit.against == "fresh share" else f" {limit.unit}"
    low, high = (f"{bound:g}{unit}" for bound in (limit.low, limit.high))
    share = " as a share of fresh" if limit.against == "fresh share" else ""
    raise BenchProblem(
        f"The {word} for {limit.name} is {level:g}{unit}, outside {low} to {high}{share}.",
        f"That range stands in the limits table ({source}); the limits are as they were.",
        "Check the figure and its unit.",
    )


def rules_from(library: Tables) -> OilRules:
    """The rules as the resources state them. Raises BenchProblem where a table is missing or damaged."""
    limits, grades, oils = library.data("limits"), library.data("grades"), library.data("oils")
    fuels = limits["fuel_fluids"]
    return OilRules(
        limits=tuple(_limit(row) for row in limits["limit"]),
        grades=grades_from(grades),
        fuels=MappingProxyType({name: Fuel(name, **fuels[name]) for name in ("petrol", "ethanol", "methanol")}),
        fuel_source=fuels["source"],
        bearing=BearingLimits(**limits["bearing"]),
        straight=tuple(StraightGrade(**row) for row in grades["straight_grades"]["fit"]),
        straight_source=grades["straight_grades"]["source"],
        film=film_tables(library.data("raimondi_boyd")),
        density_15c_kg_l=oils["density"]["density_15c_kg_l"],
        density_source=oils["density"]["source"],
        crossing_text=limits["tbn_tan_cross"]["text"],
        crossing_source=limits["tbn_tan_cross"]["source"],
        range_source=limits["range_source"],
        fresh_range=MappingProxyType({name: (low, high) for name, (low, high) in limits["fresh_range"].items()}),
        fresh_source=limits["fresh_source"],
    )


def _limit(row: Mapping[str, Any]) -> Limit:
    return Limit(
        property=row["property"],
        name=row["name"],
        against=row["against"],
        side=row["side"],
        watch=row.get("watch"),
        done=row.get("done"),
        unit=row["unit"],
        source=row["source"],
        diesel=row["diesel"],
        sd=row.get("sd", 0.0),
        low=row["range"][0],
        high=row["range"][1],
    )
