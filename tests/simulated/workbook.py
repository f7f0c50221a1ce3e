"""A fleet as a whole-bench workbook: one sheet per kind of record, first row headers, blank for unknown."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

from openpyxl import Workbook

from benchapp.records import Build, Engine, Fleet, Reading, Sample

Row = list[object]


def write_workbook(fleet: Fleet, path: Path | str) -> None:
    """Write `fleet` to an .xlsx file. Instruments are known by name only; their noise has no column."""
    book = Workbook(write_only=True)
    for title, rows in _sheets(fleet):
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append([_cell(value) for value in row])
    book.save(str(path))


def _cell(value: object) -> object:
    if value is None or value == "":
        return None
    if isinstance(value, bool):
        return "y" if value else "n"
    if isinstance(value, dt.datetime):
        return value.isoformat(timespec="minutes")
    return value


def _builds(fleet: Fleet) -> Iterator[tuple[Engine, Build]]:
    for engine in fleet.engines:
        for build in engine.builds:
            yield engine, build


def _table(head: str, rows: Iterator[Row] | list[Row]) -> list[Row]:
    return [[word.strip() for word in head.split(",")], *rows]


def _sheets(fleet: Fleet) -> Iterator[tuple[str, list[Row]]]:
    yield from _what_there_is(fleet)
    yield from _what_happened(fleet)
    yield (
        "Samples",
        _table(
            "sample, engine, build, fill, taken_at, build_h, oil_h, drawn, before_top_up, instrument, break_in, notes",
            [
                [
                    s.code,
                    e.name,
                    _build(b),
                    s.fill,
                    s.taken_at,
                    s.build_h,
                    s.oil_h,
                    s.drawn,
                    s.before_top_up,
                    s.instrument,
                    s.break_in,
                    s.notes,
                ]
                for e, b in _builds(fleet)
                for s in b.samples
            ],
        ),
    )
    yield "Results", _results(fleet)
    yield (
        "Check runs",
        _table(
            "instrument, run_at, standard, element, expected_ppm, found_ppm",
            [[c.instrument, c.run_at, c.standard, c.element, c.expected_ppm, c.found_ppm] for c in fleet.check_runs],
        ),
    )


def _build(build: Build) -> int | str:
    return int(build.number) if build.number.isdigit() else build.number


def _what_there_is(fleet: Fleet) -> Iterator[tuple[str, list[Row]]]:
    families = list(fleet.families.values())
    yield "Families", _table("family, layout, sump_l, notes", [[f.name, f.layout, f.sump_l, f.notes] for f in families])
    yield (
        "Family parts",
        _table(
            "family, part, material, role", [[f.name, p.name, p.material, p.role] for f in families for p in f.parts]
        ),
    )
    yield "Engines", _table("engine, family, car, notes", [[e.name, e.family, e.car, e.notes] for e in fleet.engines])
    yield (
        "Builds",
        _table(
            "engine, build, built_on, sump_l, notes",
            [[e.name, _build(b), b.built_on, b.sump_l, b.notes] for e, b in _builds(fleet)],
        ),
    )
    yield "Build parts", _table("engine, build, part, material", _own_parts(fleet))
    elements = sorted({element for oil in fleet.oils.values() for element in oil.fresh_ppm})
    head = "oil, kind, sae_grade, density_15c_kg_l, kv40_cst, kv100_cst, hths_mpas, tbn, tan"
    yield (
        "Oils",
        _table(
            ", ".join([head, *elements]),
            [
                [o.name, o.kind, o.sae_grade, o.density_15c_kg_l, o.kv40_cst, o.kv100_cst, o.hths_mpas, o.tbn, o.tan]
                + [o.fresh_ppm.get(element) for element in elements]
                for o in fleet.oils.values()
            ],
        ),
    )


def _own_parts(fleet: Fleet) -> list[Row]:
    rows: list[Row] = []
    for engine, build in _builds(fleet):
        family = {part.name: part.material for part in fleet.families[engine.family].parts}
        own = {part.name: part.material for part in build.parts}
        rows += [[engine.name, _build(build), n, m] for n, m in own.items() if family.get(n) != m]
        rows += [[engine.name, _build(build), n, "none"] for n in family if n not in own]
    return rows


def _what_happened(fleet: Fleet) -> Iterator[tuple[str, list[Row]]]:
    builds = list(_builds(fleet))
    yield (
        "Fills",
        _table(
            "engine, build, fill, filled_at, build_h, oil, volume_l, drain_before, filter_changed",
            [
                [e.name, _build(b), f.name, f.filled_at, f.build_h, f.oil, f.volume_l, f.drain_before, f.filter_changed]
                for e, b in builds
                for f in b.fills
            ],
        ),
    )
    yield (
        "Top-ups",
        _table(
            "engine, build, fill, build_h, litres",
            [[e.name, _build(b), t.fill, t.build_h, t.litres] for e, b in builds for t in b.top_ups],
        ),
    )
    yield (
        "Runs",
        _table(
            "engine, build, started_at, kind, hours, max_rpm, oil_temp_c, fuel, coolant, notes",
            [
                [e.name, _build(b), r.started_at, r.kind, r.hours, r.max_rpm, r.oil_temp_c, r.fuel, r.coolant, r.notes]
                for e, b in builds
                for r in b.runs
            ],
        ),
    )
    yield (
        "Pulls",
        _table(
            "engine, build, pull, build_h, power_kw, air_c, pressure_kpa, humidity_pct",
            [
                [e.name, _build(b), p.pull, p.build_h, p.power_kw, p.air_c, p.pressure_kpa, p.humidity_pct]
                for e, b in builds
                for p in b.pulls
            ],
        ),
    )
    yield (
        "Leak-down",
        _table(
            "engine, build, build_h, cylinder, percent",
            [[e.name, _build(b), d.build_h, d.cylinder, d.percent] for e, b in builds for d in b.leak_downs],
        ),
    )
    yield (
        "Filter cuts",
        _table(
            "engine, build, build_h, ferrous, non_ferrous, largest_mm, notes",
            [
                [e.name, _build(b), c.build_h, c.ferrous, c.non_ferrous, c.largest_mm, c.notes]
                for e, b in builds
                for c in b.filter_cuts
            ],
        ),
    )
    yield (
        "Changes",
        _table(
            "engine, build, build_h, kind, notes",
            [[e.name, _build(b), c.build_h, c.kind, c.notes] for e, b in builds for c in b.changes],
        ),
    )


def _results(fleet: Fleet) -> list[Row]:
    samples = [sample for _, build in _builds(fleet) for sample in build.samples]
    measurands = list(dict.fromkeys(r.measurand for sample in samples for r in sample.readings))
    return [["sample", *measurands], *([s.code, *_result_cells(s, measurands)] for s in samples)]


def _result_cells(sample: Sample, measurands: list[str]) -> list[object]:
    readings = {reading.measurand: reading for reading in sample.readings}
    return [_result(readings[name]) if name in readings else None for name in measurands]


def _result(reading: Reading) -> object:
    if reading.value is None:
        return "ND"
    return f"{reading.qualifier}{reading.value:g}" if reading.qualifier else reading.value
