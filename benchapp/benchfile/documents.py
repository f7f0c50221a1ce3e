"""Records into documents: what of a record goes into which column."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from benchapp.benchfile.kinds import Content
from benchapp.records import (
    Change,
    CheckRun,
    Family,
    Fill,
    FilterCut,
    Finding,
    Fitting,
    FuelBlend,
    Instrument,
    LeakDown,
    Material,
    Moment,
    Oil,
    OilLimit,
    OilPressure,
    OwnBearing,
    Part,
    Pull,
    Run,
    Sample,
    Standard,
    TopUp,
)

Event = TopUp | Run | Pull | LeakDown | FilterCut | Change | Finding | OilPressure | Fitting


def moment_text(moment: Moment | None) -> str:
    """ISO 8601, or '' for unknown."""
    return "" if moment is None else moment.isoformat()


def _flag(value: bool | None) -> int | None:
    return None if value is None else int(value)


def part_row(part: Part, notes: str = "") -> list[Any]:
    return [part.name, part.material, part.role, part.area_cm2, part.thickness_um, notes]


def of_family(family: Family) -> Content:
    return {
        "name": family.name,
        "layout": family.layout,
        "sump_l": family.sump_l,
        "notes": family.notes,
        "rows": [part_row(part) for part in family.parts],
    }


def of_material(material: Material) -> Content:
    return {
        "name": material.id,
        "title": material.name,
        "family_group": material.group,
        "used_for": material.used_for,
        "density_g_cm3": material.density_g_cm3,
        "density_status": material.density_status,
        "rows": [
            [share.element, share.nominal_pct, share.min_pct, share.max_pct, share.source, share.status]
            for share in material.shares
        ],
    }


def of_oil(oil: Oil) -> Content:
    return {
        "name": oil.name,
        "kind": oil.kind,
        "sae_grade": oil.sae_grade,
        "density_15c_kg_l": oil.density_15c_kg_l,
        "kv40_cst": oil.kv40_cst,
        "kv100_cst": oil.kv100_cst,
        "hths_mpas": oil.hths_mpas,
        "tbn": oil.tbn,
        "tan": oil.tan,
        "rows": [[element, ppm] for element, ppm in sorted(oil.fresh_ppm.items())],
    }


def of_oil_limit(limit: OilLimit, oil: str) -> Content:
    return {"oil": oil, "limit_name": limit.limit, "watch": limit.watch, "done": limit.done, "why": limit.why}


def of_fresh_value(property_: str, value: float, oil: str) -> Content:
    return {"oil": oil, "property": property_, "value": value}


def of_fuel_blend(blend: FuelBlend, oil: str) -> Content:
    return {
        "oil": oil,
        "fuel": blend.fuel,
        "fuel_ml": blend.fuel_ml,
        "oil_ml": blend.oil_ml,
        "at_c": blend.at_c,
        "kv_cst": blend.kv_cst,
    }


def of_bearing(bearing: OwnBearing, build_id: str) -> Content:
    return {
        "build_id": build_id,
        "name": bearing.name,
        "diameter_mm": bearing.diameter_mm,
        "length_mm": bearing.length_mm,
        "clearance_mm": bearing.clearance_mm,
        "roughness_um": bearing.roughness_um,
        "load_case": bearing.load_case,
        "load_n": bearing.load_n,
        "speed_rpm": bearing.speed_rpm,
    }


def of_instrument(instrument: Instrument) -> Content:
    return {
        "name": instrument.name,
        "kind": instrument.kind,
        "method": instrument.method,
        "rows": [
            [element, line.a_ppm, line.b, line.limit_ppm, line.origin]
            for element, line in sorted(instrument.noise.items())
        ],
    }


def of_card(instrument: Instrument) -> Content:
    """What an instrument reads and when it is due: a document of its own beside `of_instrument`."""
    return {
        "instrument": instrument.name,
        "due_on": moment_text(instrument.due_on),
        "due_for": instrument.due_for,
        "rows": [[each.element, each.unit, each.detects_from] for each in instrument.elements],
    }


def of_standard(standard: Standard) -> Content:
    return {
        "name": standard.name,
        "kind": standard.kind,
        "lot": standard.lot,
        "expires_on": moment_text(standard.expires_on),
        "notes": standard.notes,
        "rows": [[element, ppm] for element, ppm in sorted(standard.ppm.items())],
    }


def of_fill(fill: Fill, build_id: str) -> Content:
    return {
        "build_id": build_id,
        "name": fill.name,
        "oil": fill.oil,
        "build_h": fill.build_h,
        "volume_l": fill.volume_l,
        "filled_at": moment_text(fill.filled_at),
        "drain_before": fill.drain_before,
        "filter_changed": _flag(fill.filter_changed),
    }


def of_sample(sample: Sample, build_id: str | None) -> Content:
    """`build_id` None: the sample waits for an engine; its build hours are then unknown."""
    return {
        "build_id": build_id,
        "code": sample.code,
        "fill": sample.fill,
        "build_h": None if build_id is None and not sample.build_h else sample.build_h,
        "oil_h": sample.oil_h,
        "taken_at": moment_text(sample.taken_at),
        "drawn": sample.drawn,
        "before_top_up": _flag(sample.before_top_up),
        "instrument": sample.instrument,
        "break_in": int(sample.break_in),
        "notes": sample.notes,
        "hold": sample.hold,
        "rows": reading_rows(sample),
    }


def reading_rows(sample: Sample) -> list[list[Any]]:
    """A sample's readings as rows."""
    return ordered([r.measurand, r.value, r.unit, r.qualifier, r.replicate, r.mark] for r in sample.readings)


def ordered(rows: Iterable[list[Any]]) -> list[list[Any]]:
    """Reading rows in one order whoever entered them: by replicate, then measurand."""
    return sorted(rows, key=lambda row: (row[4], row[0]))


def of_check_run(run: CheckRun) -> Content:
    return {
        "instrument": run.instrument,
        "run_at": moment_text(run.run_at),
        "standard": run.standard,
        "element": run.element,
        "expected_ppm": run.expected_ppm,
        "found_ppm": run.found_ppm,
    }


def of_event(event: Event, build_id: str) -> tuple[str, Content]:
    """(kind of document, content) of something that happened to a build. A run's place is set by who writes it."""
    own: dict[str, Any]
    match event:
        case TopUp():
            noun, own = "top_up", {"fill": event.fill, "build_h": event.build_h, "litres": event.litres}
        case Run():
            noun = "run"
            own = {
                "kind": event.kind,
                "hours": event.hours,
                "started_at": moment_text(event.started_at),
                "max_rpm": event.max_rpm,
                "oil_temp_c": event.oil_temp_c,
                "fuel": event.fuel,
                "coolant": event.coolant,
                "notes": event.notes,
                "place": 0,
                "distance_km": event.distance_km,
                "laps": event.laps,
                "starts": event.starts,
            }
        case Pull():
            noun = "pull"
            own = {
                "pull": event.pull,
                "build_h": event.build_h,
                "power_kw": event.power_kw,
                "air_c": event.air_c,
                "pressure_kpa": event.pressure_kpa,
                "humidity_pct": event.humidity_pct,
            }
        case LeakDown():
            noun = "leak_down"
            own = {
                "build_h": event.build_h,
                "cylinder": event.cylinder,
                "percent": event.percent,
                "tester": event.tester,
                "pressure_kpa": event.pressure_kpa,
            }
        case FilterCut():
            noun = "filter_cut"
            own = {
                "build_h": event.build_h,
                "ferrous": event.ferrous,
                "non_ferrous": event.non_ferrous,
                "largest_mm": event.largest_mm,
                "notes": event.notes,
                "taken_from": event.taken_from,
                "form": event.form,
                "colour": event.colour,
                "size_class": event.size_class,
            }
        case Change():
            noun, own = "change", {"build_h": event.build_h, "kind": event.kind, "notes": event.notes}
        case Finding():
            noun = "finding"
            own = {
                "build_h": event.build_h,
                "part": event.part,
                "condition": event.condition,
                "sample": event.sample,
                "notes": event.notes,
                "measured": event.measured,
            }
        case OilPressure():
            noun = "oil_pressure"
            own = {
                "build_h": event.build_h,
                "pressure_kpa": event.pressure_kpa,
                "rpm": event.rpm,
                "oil_temp_c": event.oil_temp_c,
                "gauge": event.gauge,
                "notes": event.notes,
            }
        case Fitting():
            noun = "fitting"
            own = {
                "build_h": event.build_h,
                "part": event.part,
                "piece": event.piece,
                "act": event.act,
                "life": event.life,
                "life_unit": event.life_unit,
                "used_before": event.used_before,
                "notes": event.notes,
            }
    return noun, {"build_id": build_id, **own}
