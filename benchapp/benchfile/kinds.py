"""The kinds of document: which table holds one, its columns, the rows that belong to it.

A document's content is a plain dict: column -> value, and for its rows `rows` -> list of lists in column order.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

Content = dict[str, Any]

TEXT: Final = "text"
REAL: Final = "real"
"""A number or None."""
FLAG: Final = "flag"
"""0, 1 or None."""
WHOLE: Final = "whole"
LINK: Final = "link"
"""Id of another document, or None."""


@dataclass(frozen=True, slots=True)
class Kind:
    """`noun`: the word for it in `Changed.nouns`. `names`: the columns that name it within its owner."""

    noun: str
    table: str
    columns: tuple[tuple[str, str], ...]
    names: tuple[str, ...]
    row_table: str = ""
    row_columns: tuple[tuple[str, str], ...] = ()
    linked_to: str = ""
    """Kind of the document that its LINK column names."""
    added: tuple[str, ...] = ()
    """Columns that came with a later version: part of the content only where they are filled, so that what was written
    before them keeps its hash."""

    def without_empty(self, content: Content) -> Content:
        """The content without those of `added` that hold nothing."""
        for name in self.added:
            if content.get(name) in (None, ""):
                content.pop(name, None)
        return content

    def filled(self, content: Content) -> list[Any]:
        """The values of the columns in order, also those that the content leaves out."""
        return [content.get(name, "" if type_ == TEXT else None) for name, type_ in self.columns]


_NOTES = (("void", TEXT), ("notes", TEXT))
_PART_ROWS = (
    ("part", TEXT), ("material", TEXT), ("role", TEXT), ("area_cm2", REAL), ("thickness_um", REAL), ("notes", TEXT),
)  # fmt: skip


def _of_build(
    noun: str, table: str, *columns: tuple[str, str], names: tuple[str, ...], added: tuple[tuple[str, str], ...] = ()
) -> Kind:
    return Kind(
        noun, table, (*_NOTES, ("build_id", LINK), *columns, *added), ("build_id", *names), linked_to="build",
        added=tuple(name for name, _ in added),
    )  # fmt: skip


_ALL = (
    Kind("family", "families", (*_NOTES, ("name", TEXT), ("layout", TEXT), ("sump_l", REAL)), ("name",),
         "family_parts", _PART_ROWS),
    Kind("material", "materials",
         (*_NOTES, ("name", TEXT), ("title", TEXT), ("family_group", TEXT), ("used_for", TEXT),
          ("density_g_cm3", REAL), ("density_status", TEXT)), ("name",),
         "material_shares",
         (("element", TEXT), ("nominal_pct", REAL), ("min_pct", REAL), ("max_pct", REAL), ("source", TEXT),
          ("status", TEXT))),
    Kind("oil", "oils",
         (*_NOTES, ("name", TEXT), ("kind", TEXT), ("sae_grade", TEXT), ("density_15c_kg_l", REAL), ("kv40_cst", REAL),
          ("kv100_cst", REAL), ("hths_mpas", REAL), ("tbn", REAL), ("tan", REAL)), ("name",),
         "oil_elements", (("element", TEXT), ("ppm", REAL))),
    Kind("instrument", "instruments", (*_NOTES, ("name", TEXT), ("kind", TEXT), ("method", TEXT)), ("name",),
         "instrument_noise",
         (("element", TEXT), ("a_ppm", REAL), ("b", REAL), ("limit_ppm", REAL), ("source", TEXT))),
    Kind("engine", "engines", (*_NOTES, ("name", TEXT), ("family", TEXT), ("car", TEXT)), ("name",)),
    Kind("build", "builds",
         (*_NOTES, ("engine_id", LINK), ("number", TEXT), ("built_on", TEXT), ("sump_l", REAL)),
         ("engine_id", "number"), "build_parts", _PART_ROWS, linked_to="engine"),
    _of_build("fill", "fills", ("name", TEXT), ("oil", TEXT), ("build_h", REAL), ("volume_l", REAL),
              ("filled_at", TEXT), ("drain_before", TEXT), ("filter_changed", FLAG), names=("name",)),
    _of_build("top_up", "top_ups", ("fill", TEXT), ("build_h", REAL), ("litres", REAL), names=("fill", "build_h")),
    _of_build("run", "runs", ("place", WHOLE), ("kind", TEXT), ("hours", REAL), ("started_at", TEXT),
              ("max_rpm", REAL), ("oil_temp_c", REAL), ("fuel", TEXT), ("coolant", TEXT),
              names=("started_at", "kind"),
              added=(("distance_km", REAL), ("laps", REAL), ("starts", REAL))),
    Kind("sample", "samples",
         (*_NOTES, ("build_id", LINK), ("code", TEXT), ("fill", TEXT), ("build_h", REAL), ("oil_h", REAL),
          ("taken_at", TEXT), ("drawn", TEXT), ("before_top_up", FLAG), ("instrument", TEXT), ("break_in", FLAG),
          ("hold", TEXT)), ("code",),
         "readings",
         (("measurand", TEXT), ("value", REAL), ("unit", TEXT), ("qualifier", TEXT), ("replicate", WHOLE),
          ("mark", TEXT)), linked_to="build"),
    _of_build("pull", "pulls", ("pull", TEXT), ("build_h", REAL), ("power_kw", REAL), ("air_c", REAL),
              ("pressure_kpa", REAL), ("humidity_pct", REAL), names=("pull", "build_h")),
    _of_build("leak_down", "leak_downs", ("build_h", REAL), ("cylinder", TEXT), ("percent", REAL), ("tester", TEXT),
              ("pressure_kpa", REAL), names=("build_h", "cylinder")),
    _of_build("filter_cut", "filter_cuts", ("build_h", REAL), ("ferrous", TEXT), ("non_ferrous", TEXT),
              ("largest_mm", REAL), names=("build_h",),
              added=(("taken_from", TEXT), ("form", TEXT), ("colour", TEXT), ("size_class", TEXT))),
    _of_build("change", "changes", ("build_h", REAL), ("kind", TEXT), names=("build_h", "kind")),
    _of_build("finding", "findings", ("build_h", REAL), ("part", TEXT), ("condition", TEXT), ("sample", TEXT),
              names=("build_h", "part"), added=(("measured", TEXT),)),
    _of_build("oil_pressure", "oil_pressures", ("build_h", REAL), ("pressure_kpa", REAL), ("rpm", REAL),
              ("oil_temp_c", REAL), ("gauge", TEXT), names=("build_h", "rpm")),
    _of_build("fitting", "fittings", ("build_h", REAL), ("part", TEXT), ("piece", TEXT), ("act", TEXT), ("life", REAL),
              ("life_unit", TEXT), ("used_before", REAL), names=("build_h", "part", "piece", "act")),
    Kind("check_run", "check_runs",
         (*_NOTES, ("instrument", TEXT), ("run_at", TEXT), ("standard", TEXT), ("element", TEXT),
          ("expected_ppm", REAL), ("found_ppm", REAL)), ("instrument", "run_at", "standard", "element")),
    Kind("standard", "standards",
         (*_NOTES, ("name", TEXT), ("kind", TEXT), ("lot", TEXT), ("expires_on", TEXT)), ("name",),
         "standard_values", (("element", TEXT), ("ppm", REAL))),
    Kind("instrument_card", "instrument_cards",
         (*_NOTES, ("instrument", TEXT), ("due_on", TEXT), ("due_for", TEXT)), ("instrument",),
         "instrument_elements", (("element", TEXT), ("unit", TEXT), ("detects_from", REAL))),
    Kind("measurement", "measurements", (*_NOTES, ("sample", TEXT), ("measured_at", TEXT)), ("sample", "measured_at")),
    Kind("oil_limit", "oil_limits",
         (*_NOTES, ("oil", TEXT), ("limit_name", TEXT), ("watch", REAL), ("done", REAL), ("why", TEXT)),
         ("oil", "limit_name")),
    Kind("fresh_value", "fresh_values", (*_NOTES, ("oil", TEXT), ("property", TEXT), ("value", REAL)),
         ("oil", "property")),
    Kind("fuel_blend", "fuel_blends",
         (*_NOTES, ("oil", TEXT), ("fuel", TEXT), ("fuel_ml", REAL), ("oil_ml", REAL), ("at_c", REAL),
          ("kv_cst", REAL)), ("oil", "fuel", "at_c")),
    _of_build("bearing", "bearings", ("name", TEXT), ("diameter_mm", REAL), ("length_mm", REAL),
              ("clearance_mm", REAL), ("roughness_um", REAL), ("load_case", TEXT), ("load_n", REAL),
              ("speed_rpm", REAL), names=("name",)),
    Kind("paste_mapping", "paste_mappings", (*_NOTES, ("name", TEXT), ("mapping", TEXT)), ("name",)),
    Kind("issued_call", "issued_calls",
         (*_NOTES, ("sample", TEXT), ("engine", TEXT), ("build", TEXT), ("issued_at", TEXT), ("who", TEXT),
          ("rule_version", TEXT), ("inputs_hash", TEXT), ("call", TEXT)), ("sample", "issued_at")),
    Kind("photo", "photos", (*_NOTES, ("sha256", TEXT), ("engine", TEXT), ("subject", TEXT)), ("sha256",)),
)  # fmt: skip

KINDS: Final = {kind.noun: kind for kind in _ALL}
"""noun -> Kind, owners before what belongs to them."""

NAMED: Final = frozenset({"family", "material", "oil", "instrument", "engine", "build", "fill", "sample",
                          "standard", "instrument_card", "paste_mapping", "photo",
                          "oil_limit", "fresh_value", "fuel_blend", "bearing"})  # fmt: skip
"""Kinds of which there is one of each name; the others are events, of which there may be many alike."""

OF_AN_OIL: Final = ("oil_limit", "fresh_value", "fuel_blend")
"""Kinds that belong to an oil by its name."""

EVENTS_OF_BUILD: Final = (
    "top_up", "run", "pull", "leak_down", "filter_cut", "change", "finding", "oil_pressure", "fitting",
)  # fmt: skip
