"""Reads the bench file into `records.Fleet`: a few big queries, plain tuples into records.

What is void, or belongs to something void, is left out. Two engines of one name (two laptops, merged) are told apart by
a number behind the second name.
"""

from __future__ import annotations

import datetime as dt
import gc
import re
import sqlite3
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from itertools import groupby, pairwise
from operator import itemgetter
from sys import intern
from types import MappingProxyType
from typing import Any, TypeVar

from benchapp.records import (
    Build,
    Change,
    CheckRun,
    ElementShare,
    Engine,
    Family,
    Fill,
    FilterCut,
    Finding,
    Fitting,
    Fleet,
    FuelBlend,
    Instrument,
    InstrumentElement,
    LeakDown,
    Material,
    Moment,
    NoiseLine,
    Oil,
    OilLimit,
    OilPressure,
    OwnBearing,
    Part,
    Pull,
    Reading,
    Run,
    Sample,
    Standard,
    TopUp,
)

T = TypeVar("T")
Rows = dict[str, list[tuple[Any, ...]]]
Readings = dict[str, tuple[Reading, ...]]

REMOVED = "none"
"""A build part of this material takes the family's part of that name away."""


def moment(text: str) -> Moment | None:
    """A stored moment, or None for ''."""
    return dt.datetime.fromisoformat(text) if text else None


def natural(name: str) -> tuple[Any, ...]:
    """Sorting key under which 'E-9' comes before 'E-10'."""
    return tuple((0, int(bit), "") if bit.isdigit() else (1, 0, bit.casefold()) for bit in re.split(r"([0-9]+)", name))


def _flag(value: int | None) -> bool | None:
    return None if value is None else bool(value)


@contextmanager
def no_collecting() -> Iterator[None]:
    """Hundreds of thousands of records make the garbage collector search for cycles that are not there."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def _grouped(connection: sqlite3.Connection, sql: str, values: tuple[Any, ...] = ()) -> Rows:
    """Rows by their first column."""
    out: Rows = defaultdict(list)
    for row in connection.execute(sql, values):
        out[row[0]].append(row[1:])
    return out


# --- what engines are made of


def read_families(connection: sqlite3.Connection) -> dict[str, Family]:
    """The file's own families by name."""
    parts = _grouped(
        connection,
        "SELECT owner, part, material, role, area_cm2, thickness_um FROM family_parts ORDER BY owner, position",
    )
    rows = connection.execute(
        "SELECT id, name, layout, sump_l, notes FROM families WHERE void = '' ORDER BY name, id"
    ).fetchall()
    return {
        name: Family(name, layout, sump_l, tuple(Part(*part) for part in parts.get(id_, ())), notes)
        for id_, name, layout, sump_l, notes in rows
    }


def read_materials(connection: sqlite3.Connection) -> dict[str, Material]:
    """The file's own materials by id."""
    shares = _grouped(
        connection,
        "SELECT owner, element, nominal_pct, min_pct, max_pct, source, status FROM material_shares "
        "ORDER BY owner, position",
    )
    rows = connection.execute(
        "SELECT id, name, title, family_group, used_for, density_g_cm3, density_status FROM materials "
        "WHERE void = '' ORDER BY name, id"
    ).fetchall()
    return {
        name: Material(name, title, group, used_for, tuple(ElementShare(*share) for share in shares.get(id_, ())),
                       density, status)
        for id_, name, title, group, used_for, density, status in rows
    }  # fmt: skip


def read_oils(connection: sqlite3.Connection) -> dict[str, Oil]:
    """Oils by name."""
    ppm = _grouped(connection, "SELECT owner, element, ppm FROM oil_elements ORDER BY owner, position")
    rows = connection.execute(
        "SELECT id, name, kind, sae_grade, density_15c_kg_l, kv40_cst, kv100_cst, hths_mpas, tbn, tan FROM oils "
        "WHERE void = '' ORDER BY name, id"
    ).fetchall()
    more = _grouped(connection, _OF_OIL.format("property, value", "fresh_values", "property"))
    limits = _grouped(connection, _OF_OIL.format("limit_name, watch, done, why", "oil_limits", "limit_name"))
    blends = _grouped(connection, _OF_OIL.format("fuel, fuel_ml, oil_ml, kv_cst, at_c", "fuel_blends", "fuel, at_c"))
    return {
        row[1]: Oil(
            *row[1:],
            fresh_ppm=MappingProxyType(dict(ppm.get(row[0], ()))),
            fresh_more=MappingProxyType(dict(more.get(row[1], ()))),
            limits=tuple(OilLimit(*limit) for limit in limits.get(row[1], ())),
            blends=tuple(FuelBlend(*blend) for blend in blends.get(row[1], ())),
        )
        for row in rows
    }


_OF_OIL = "SELECT oil, {} FROM {} WHERE void = '' ORDER BY oil, {}, id"


def read_instruments(connection: sqlite3.Connection) -> dict[str, Instrument]:
    """Instruments by name."""
    noise = _grouped(
        connection,
        "SELECT owner, element, a_ppm, b, limit_ppm, source FROM instrument_noise ORDER BY owner, position",
    )
    rows = connection.execute(
        "SELECT id, name, kind, method FROM instruments WHERE void = '' ORDER BY name, id"
    ).fetchall()
    cards = _read_cards(connection)
    return {
        name: Instrument(
            name,
            kind,
            method,
            MappingProxyType({line[0]: NoiseLine(*line[1:]) for line in noise.get(id_, ())}),
            *cards.get(name, ()),
        )
        for id_, name, kind, method in rows
    }


def _read_cards(connection: sqlite3.Connection) -> dict[str, tuple[tuple[InstrumentElement, ...], Moment | None, str]]:
    """Instrument -> the elements it reads, when it is due and for what."""
    elements = _grouped(
        connection, "SELECT owner, element, unit, detects_from FROM instrument_elements ORDER BY owner, position"
    )
    rows = connection.execute(
        "SELECT id, instrument, due_on, due_for FROM instrument_cards WHERE void = '' ORDER BY instrument, id"
    ).fetchall()
    return {
        name: (tuple(InstrumentElement(*line) for line in elements.get(id_, ())), moment(due_on), due_for)
        for id_, name, due_on, due_for in rows
    }


def read_standards(connection: sqlite3.Connection) -> dict[str, Standard]:
    """Check standards and blanks by name."""
    ppm = _grouped(connection, "SELECT owner, element, ppm FROM standard_values ORDER BY owner, position")
    rows = connection.execute(
        "SELECT id, name, kind, lot, expires_on, notes FROM standards WHERE void = '' ORDER BY name, id"
    ).fetchall()
    return {
        name: Standard(name, kind, lot, moment(expires_on), MappingProxyType(dict(ppm.get(id_, ()))), notes)
        for id_, name, kind, lot, expires_on, notes in rows
    }


def read_measured(connection: sqlite3.Connection) -> dict[str, Moment]:
    """Sample code -> when it was last measured."""
    rows = connection.execute(
        "SELECT sample, max(measured_at) FROM measurements WHERE void = '' AND measured_at <> '' GROUP BY sample"
    )
    return {code: dt.datetime.fromisoformat(at) for code, at in rows}


def read_check_runs(connection: sqlite3.Connection) -> tuple[CheckRun, ...]:
    """Check runs by instrument and time."""
    rows = connection.execute(
        "SELECT instrument, run_at, standard, element, expected_ppm, found_ppm FROM check_runs WHERE void = '' "
        "ORDER BY instrument, run_at, standard, element, expected_ppm, found_ppm, id"
    ).fetchall()
    return tuple(CheckRun(row[0], dt.datetime.fromisoformat(row[1]), *row[2:]) for row in rows)


# --- engines


def engine_ids(connection: sqlite3.Connection) -> dict[str, str]:
    """Shown name -> id of every engine that is not void."""
    out: dict[str, str] = {}
    for id_, name in connection.execute("SELECT id, name FROM engines WHERE void = '' ORDER BY name, id"):
        shown, number = str(name), 2
        while shown in out:
            shown, number = f"{name} ({number})", number + 1
        out[shown] = str(id_)
    return out


_OF_BUILD = "build_id IN (SELECT id FROM builds WHERE void = ''{engines})"


def read_engines(
    connection: sqlite3.Connection, families: Mapping[str, Family], only: Collection[str] | None = None
) -> tuple[Engine, ...]:
    """Engines by name (`only`: these), with all that happened to them; parts resolved from `families`."""
    ids = engine_ids(connection)
    wanted = {name: id_ for name, id_ in ids.items() if only is None or name in only}
    with no_collecting():
        data = _BuildData(connection, None if only is None else tuple(wanted.values()))
        rows = connection.execute("SELECT id, family, car, notes FROM engines WHERE void = ''").fetchall()
        by_id = {row[0]: row[1:] for row in rows}
        engines = []
        for name, id_ in sorted(wanted.items(), key=lambda item: natural(item[0])):
            family, car, notes = by_id[id_]
            engines.append(Engine(name, family, car, notes, data.builds(id_, families.get(family))))
    return tuple(engines)


class _BuildData:
    """All rows of the wanted engines' builds, by build."""

    def __init__(self, connection: sqlite3.Connection, engines: tuple[str, ...] | None) -> None:
        marks = "" if engines is None else f" AND engine_id IN ({', '.join('?' * len(engines))})"
        values = engines or ()
        where = _OF_BUILD.format(engines=marks)

        def of_build(table: str, columns: str) -> Rows:
            return _grouped(
                connection, f"SELECT build_id, {columns} FROM {table} WHERE void = '' AND {where} ORDER BY id", values
            )

        self._builds = _grouped(
            connection,
            f"SELECT engine_id, id, number, built_on, sump_l, notes FROM builds WHERE void = ''{marks} ORDER BY id",
            values,
        )
        self._parts = _grouped(
            connection,
            "SELECT owner, part, material, role, area_cm2, thickness_um FROM build_parts ORDER BY owner, position",
        )
        self._fills = of_build("fills", "name, oil, build_h, volume_l, filled_at, drain_before, filter_changed")
        self._top_ups = of_build("top_ups", "fill, build_h, litres")
        self._runs = of_build(
            "runs",
            "place, kind, hours, started_at, max_rpm, oil_temp_c, fuel, coolant, notes, distance_km, laps, starts",
        )
        self._samples = of_build(
            "samples",
            "id, code, fill, build_h, oil_h, taken_at, drawn, before_top_up, instrument, break_in, notes, hold",
        )
        self._pulls = of_build("pulls", "pull, build_h, power_kw, air_c, pressure_kpa, humidity_pct")
        self._leak_downs = of_build("leak_downs", "build_h, cylinder, percent, tester, pressure_kpa")
        self._filter_cuts = of_build(
            "filter_cuts", "build_h, ferrous, non_ferrous, largest_mm, notes, taken_from, form, colour, size_class"
        )
        self._changes = of_build("changes", "build_h, kind, notes")
        self._bearings = of_build(
            "bearings", "name, diameter_mm, length_mm, clearance_mm, roughness_um, load_case, load_n, speed_rpm"
        )
        self._findings = of_build("findings", "build_h, part, condition, sample, notes, measured")
        self._oil_pressures = of_build("oil_pressures", "build_h, pressure_kpa, rpm, oil_temp_c, gauge, notes")
        self._fittings = of_build("fittings", "build_h, part, piece, act, life, life_unit, used_before, notes")
        self._readings = self._read_readings(connection, where if engines is not None else "", values)

    @staticmethod
    def _read_readings(connection: sqlite3.Connection, where: str, values: tuple[str, ...]) -> Readings:
        some = f"WHERE owner IN (SELECT id FROM samples WHERE void = '' AND {where}) " if where else ""
        return _readings(connection, some, values)

    def builds(self, engine_id: str, family: Family | None) -> tuple[Build, ...]:
        rows = sorted(self._builds.get(engine_id, ()), key=lambda row: (natural(row[1]), row[0]))
        return tuple(self._build(*row, family=family) for row in rows)

    def _build(
        self, id_: str, number: str, built_on: str, sump_l: float | None, notes: str, family: Family | None
    ) -> Build:
        own = tuple(Part(*row) for row in self._parts.get(id_, ()))
        return Build(
            number=number,
            parts=resolve_parts(family.parts if family else (), own),
            sump_l=sump_l,
            built_on=moment(built_on),
            notes=notes,
            fills=_by_hours(map(_fill, self._fills.get(id_, ()))),
            top_ups=_by_hours(TopUp(*row) for row in self._top_ups.get(id_, ())),
            runs=_in_order(self._runs.get(id_, ())),
            samples=_by_hours(_sample(row, self._readings) for row in self._samples.get(id_, ())),
            pulls=_by_hours(Pull(*row) for row in self._pulls.get(id_, ())),
            leak_downs=_by_hours(LeakDown(*row) for row in self._leak_downs.get(id_, ())),
            filter_cuts=_by_hours(FilterCut(*row) for row in self._filter_cuts.get(id_, ())),
            changes=_by_hours(Change(*row) for row in self._changes.get(id_, ())),
            findings=_by_hours(Finding(*row) for row in self._findings.get(id_, ())),
            bearings=tuple(
                sorted((OwnBearing(*row) for row in self._bearings.get(id_, ())), key=lambda own: natural(own.name))
            ),
            oil_pressures=_by_hours(OilPressure(*row) for row in self._oil_pressures.get(id_, ())),
            fittings=_by_hours(Fitting(*row) for row in self._fittings.get(id_, ())),
        )


def _fill(row: tuple[Any, ...]) -> Fill:
    name, oil, build_h, volume_l, filled_at, drain_before, filter_changed = row
    return Fill(name, oil, build_h, volume_l, moment(filled_at), drain_before, _flag(filter_changed))


def _readings(connection: sqlite3.Connection, where: str, values: tuple[str, ...]) -> Readings:
    """Readings by sample. Made as they come, and with one copy of every word (there are few, and many readings): a
    large file is held in half the memory."""
    rows = connection.execute(
        f"SELECT owner, measurand, value, unit, qualifier, replicate, mark FROM readings {where}"
        "ORDER BY owner, position",
        values,
    )
    return {
        owner: tuple(
            [
                Reading(intern(measurand), value, intern(unit), intern(qualifier), replicate, intern(mark))
                for _, measurand, value, unit, qualifier, replicate, mark in lines
            ]
        )
        for owner, lines in groupby(rows, itemgetter(0))
    }


def _sample(row: tuple[Any, ...], readings: Readings) -> Sample:
    id_, code, fill, build_h, oil_h, taken_at, drawn, before_top_up, instrument, break_in, notes, hold = row
    return Sample(
        code,
        fill,
        0.0 if build_h is None else build_h,
        oil_h,
        moment(taken_at),
        intern(drawn),
        _flag(before_top_up),
        intern(instrument),
        bool(break_in),
        notes,
        readings.get(id_, ()),
        hold,
    )


def _by_hours(records: Iterable[T]) -> tuple[T, ...]:
    """In order of build hours; what happened at the same hours in an order that does not depend on who entered it."""
    out = sorted(records, key=lambda record: record.build_h)  # type: ignore[attr-defined]
    if any(a.build_h == b.build_h for a, b in pairwise(out)):  # type: ignore[attr-defined]
        out.sort(key=_said_in_full)
    return tuple(out)


def _said_in_full(record: Any) -> tuple[float, str, str]:
    return record.build_h, repr(record), repr([getattr(record, name) for name in record.__slots__])


def _in_order(rows: list[tuple[Any, ...]]) -> tuple[Run, ...]:
    """Runs in order of their start; one without a start stays behind the one it was entered after."""
    last = ""
    keyed = []
    for place, kind, hours, started_at, *rest in sorted(rows, key=lambda row: (row[0], row[3], repr(row))):
        last = started_at or last
        keyed.append(((last, place), Run(kind, hours, moment(started_at), *rest)))
    keyed.sort(key=lambda pair: pair[0])
    return tuple(run for _, run in keyed)


def same_part(a: str, b: str) -> bool:
    """Names of parts are compared without case and outer spaces."""
    return a.strip().casefold() == b.strip().casefold()


def resolve_parts(family: tuple[Part, ...], own: tuple[Part, ...]) -> tuple[Part, ...]:
    """The family's parts with a build's own: replaced by name, removed by material 'none', else added at the end.

    What an own part does not state (role, area, thickness) it takes from the family's part."""
    left = list(own)
    out = []
    for part in family:
        mine = next((each for each in left if same_part(each.name, part.name)), None)
        if mine is None:
            out.append(part)
            continue
        left.remove(mine)
        if mine.material.strip().casefold() != REMOVED:
            out.append(
                replace(
                    mine,
                    role=mine.role or part.role,
                    area_cm2=part.area_cm2 if mine.area_cm2 is None else mine.area_cm2,
                    thickness_um=part.thickness_um if mine.thickness_um is None else mine.thickness_um,
                )
            )
    return (*out, *(each for each in left if each.material.strip().casefold() != REMOVED))


# --- everything


def read_fleet(
    connection: sqlite3.Connection,
    families: Mapping[str, Family],
    materials: Mapping[str, Material],
    old: Fleet | None = None,
    engines: Collection[str] | None = None,
) -> Fleet:
    """The whole file; `families` and `materials` of the library stand behind the file's own.

    With `old` and `engines` only these engines are read again (renamed or void ones are dropped)."""
    own_families = {**families, **read_families(connection)}
    if old is None or engines is None:
        read = read_engines(connection, own_families)
    else:
        again = {engine.name: engine for engine in read_engines(connection, own_families, engines)}
        kept = {engine.name: engine for engine in old.engines if engine.name not in engines}
        read = tuple(sorted({**kept, **again}.values(), key=lambda engine: natural(engine.name)))
    return Fleet(
        engines=read,
        families=MappingProxyType(own_families),
        materials=MappingProxyType({**materials, **read_materials(connection)}),
        oils=MappingProxyType(read_oils(connection)),
        instruments=MappingProxyType(read_instruments(connection)),
        check_runs=read_check_runs(connection),
        standards=MappingProxyType(read_standards(connection)),
        measured=MappingProxyType(read_measured(connection)),
    )


def read_waiting(connection: sqlite3.Connection) -> tuple[tuple[Sample, str], ...]:
    """Samples that no engine claims (or whose engine or build is void) and when they came in, oldest first."""
    rows = connection.execute(
        "SELECT v.at, s.id, s.code, s.fill, s.build_h, s.oil_h, s.taken_at, s.drawn, s.before_top_up, s.instrument, "
        "s.break_in, s.notes, s.hold FROM samples s JOIN versions v ON v.id = s.version "
        "WHERE s.void = '' AND s.build_id IS NULL ORDER BY v.at, s.code"
    ).fetchall()
    readings = _readings(connection, "WHERE owner IN (SELECT id FROM samples WHERE build_id IS NULL) ", ())
    return tuple((_sample(row[1:], readings), str(row[0])) for row in rows)
