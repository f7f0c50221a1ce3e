"""The whole bench as one workbook: a sheet per kind, headers in the first row, typed column by column.

Codes stay text even where the sheet stored 12.0; dates are ISO 8601; flags y/n; blank is unknown; numbers are
numbers. Every cell that does not fit is a problem with sheet, row, column, text and reason; unknown columns are kept
as notes and reported, unknown sheets are reported."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from benchapp.intake import formats, headers, limits, units
from benchapp.intake.headers import ELEMENTS, classify
from benchapp.intake.numbers import Parsed, parse_number
from benchapp.intake.paste import LARGEST
from benchapp.intake.read import _bytes_of
from benchapp.intake.spreadsheet import Workbook, number_text
from benchapp.intake.table import ERROR, FORMULA, PERCENT, SHOWN
from benchapp.problems import BenchProblem

CODE, TEXT, NUMBER, WHOLE, MOMENT, FLAG = "code", "text", "number", "whole", "moment", "flag"


@dataclass(frozen=True, slots=True)
class ColumnSpec:
    """One column of the workbook. `words`: the only words allowed, in lower case; `or_below`: whether an amount may be
    written as below a limit, of which half is taken."""

    name: str
    kind: str
    required: bool = False
    words: tuple[str, ...] = ()
    largest: float = 1e9
    smallest: float = 0.0
    or_below: bool = False


@dataclass(frozen=True, slots=True)
class SheetSpec:
    """One sheet. `key`: columns that together name a row; `measurands`: further columns are measurands."""

    sheet: str
    attribute: str
    columns: tuple[ColumnSpec, ...]
    key: tuple[str, ...] = ()
    measurands: str = ""
    """'' none, 'elements' (Oils) or 'all' (Results)."""
    extension: bool = False


MOST_PPM = 1e6
"""All there is [ppm]. What was found in a blank or a low standard may lie below zero, as the bench file allows, too."""


def _code(name: str) -> ColumnSpec:
    return ColumnSpec(name, CODE, required=True)


def _word(name: str, *words: str, required: bool = False) -> ColumnSpec:
    return ColumnSpec(name, TEXT, required, words)


def _number(
    name: str, required: bool = False, largest: float = 1e9, smallest: float = 0.0, *, or_below: bool = False
) -> ColumnSpec:
    return ColumnSpec(name, NUMBER, required, (), largest, smallest, or_below)


_NOTES = ColumnSpec("notes", TEXT)
_ENGINE_BUILD = (_code("engine"), _code("build"))
_LAYER = (_number("area_cm2"), _number("thickness_um"))

SHEETS: tuple[SheetSpec, ...] = (
    SheetSpec(
        "Families", "families", (_code("family"), ColumnSpec("layout", TEXT), _number("sump_l"), _NOTES), ("family",)
    ),
    SheetSpec(
        "Family parts",
        "family_parts",
        (
            _code("family"),
            ColumnSpec("part", CODE, True),
            ColumnSpec("material", CODE, True),
            ColumnSpec("role", TEXT),
            *_LAYER,
        ),
        ("family", "part"),
    ),
    SheetSpec("Engines", "engines", (_code("engine"), _code("family"), ColumnSpec("car", CODE), _NOTES), ("engine",)),
    SheetSpec(
        "Builds",
        "builds",
        (*_ENGINE_BUILD, ColumnSpec("built_on", MOMENT), _number("sump_l"), _NOTES),
        ("engine", "build"),
    ),
    SheetSpec(
        "Build parts",
        "build_parts",
        (
            *_ENGINE_BUILD,
            ColumnSpec("part", CODE, True),
            ColumnSpec("material", CODE, True),
            ColumnSpec("role", TEXT),
            *_LAYER,
        ),
        ("engine", "build", "part"),
    ),
    SheetSpec(
        "Oils",
        "oils",
        (
            _code("oil"),
            _word("kind", "break-in", "race", "road"),
            ColumnSpec("sae_grade", CODE),
            _number("density_15c_kg_l", largest=2.0),
            _number("kv40_cst"),
            _number("kv100_cst"),
            _number("hths_mpas"),
            _number("tbn"),
            _number("tan"),
            _NOTES,
        ),
        ("oil",),
        "elements",
    ),
    SheetSpec(
        "Fills",
        "fills",
        (
            *_ENGINE_BUILD,
            _code("fill"),
            ColumnSpec("filled_at", MOMENT),
            _number("build_h", True),
            ColumnSpec("oil", CODE, True),
            _number("volume_l"),
            _word("drain_before", "none", "hot", "cold", "part"),
            ColumnSpec("filter_changed", FLAG),
        ),
        ("engine", "build", "fill"),
    ),
    SheetSpec("Top-ups", "top_ups", (*_ENGINE_BUILD, _code("fill"), _number("build_h", True), _number("litres", True))),
    SheetSpec(
        "Runs",
        "runs",
        (
            *_ENGINE_BUILD,
            ColumnSpec("started_at", MOMENT),
            _word("kind", "first run", "break-in", "dyno", "practice", "qualifying", "race", "road", required=True),
            _number("hours", True),
            _number("max_rpm"),
            _number("oil_temp_c", smallest=-60.0),
            _word("fuel", "unleaded", "leaded", "ethanol", "methanol"),
            _word("coolant", "water", "inhibited"),
            _NOTES,
            _number("distance_km", largest=1e6),
            _number("laps", largest=1e6),
            _number("starts", largest=1e6),
        ),
    ),
    SheetSpec(
        "Samples",
        "samples",
        (
            _code("sample"),
            ColumnSpec("engine", CODE),
            ColumnSpec("build", CODE),
            ColumnSpec("fill", CODE),
            ColumnSpec("taken_at", MOMENT),
            _number("build_h"),
            _number("oil_h"),
            _word("drawn", "hot", "cold"),
            ColumnSpec("before_top_up", FLAG),
            ColumnSpec("instrument", CODE),
            ColumnSpec("break_in", FLAG),
            _NOTES,
            ColumnSpec("hold", TEXT),
        ),
        ("sample",),
    ),
    SheetSpec("Results", "results", (_code("sample"), ColumnSpec("replicate", WHOLE)), (), "all"),
    SheetSpec(
        "Pulls",
        "pulls",
        (
            *_ENGINE_BUILD,
            _code("pull"),
            _number("build_h", True),
            _number("power_kw", True),
            _number("air_c", smallest=-60.0),
            _number("pressure_kpa"),
            _number("humidity_pct", largest=100.0),
        ),
    ),
    SheetSpec(
        "Leak-down",
        "leak_downs",
        (
            *_ENGINE_BUILD,
            _number("build_h", True),
            _code("cylinder"),
            _number("percent", True, 100.0),
            ColumnSpec("tester", CODE),
            _number("pressure_kpa"),
        ),
    ),
    SheetSpec(
        "Filter cuts",
        "filter_cuts",
        (
            *_ENGINE_BUILD,
            _number("build_h", True),
            ColumnSpec("ferrous", CODE),
            ColumnSpec("non_ferrous", CODE),
            _number("largest_mm"),
            _NOTES,
            _word("taken_from", "filter", "magnet"),
            ColumnSpec("form", TEXT),
            ColumnSpec("colour", TEXT),
            _word("size_class", "fine", "small", "large"),
        ),
    ),
    SheetSpec(
        "Changes",
        "changes",
        (
            *_ENGINE_BUILD,
            _number("build_h", True),
            _word("kind", "oil", "tune", "interval", "part", "fuel", required=True),
            _NOTES,
        ),
    ),
    SheetSpec(
        "Check runs",
        "check_runs",
        (
            _code("instrument"),
            ColumnSpec("run_at", MOMENT, True),
            _code("standard"),
            _code("element"),
            _number("expected_ppm", True, MOST_PPM),
            _number("found_ppm", True, MOST_PPM, -MOST_PPM, or_below=True),
        ),
    ),
    SheetSpec(
        "Materials",
        "materials",
        (
            _code("id"),
            ColumnSpec("name", TEXT),
            ColumnSpec("group", TEXT),
            ColumnSpec("used_for", TEXT),
            _number("density_g_cm3", largest=30.0),
            ColumnSpec("element", CODE),
            _number("nominal_pct", largest=100.0),
            _number("min_pct", largest=100.0),
            _number("max_pct", largest=100.0),
            ColumnSpec("source", TEXT),
            ColumnSpec("status", TEXT),
        ),
        ("id", "element"),
        extension=True,
    ),
    SheetSpec(
        "Instruments",
        "instruments",
        (
            _code("instrument"),
            ColumnSpec("kind", TEXT),
            ColumnSpec("method", CODE),
            ColumnSpec("element", CODE),
            _number("a_ppm"),
            _number("b"),
            _number("limit_ppm"),
            ColumnSpec("origin", TEXT),
        ),
        ("instrument", "element"),
        extension=True,
    ),
    SheetSpec(
        "Findings",
        "findings",
        (
            *_ENGINE_BUILD,
            _number("build_h", True),
            ColumnSpec("part", CODE, True),
            _word("condition", "as new", "worn as expected", "worn out", "damaged", required=True),
            ColumnSpec("sample", CODE),
            _NOTES,
            ColumnSpec("measured", TEXT),
        ),
        (),
        extension=True,
    ),
    SheetSpec(
        "Oil pressure",
        "oil_pressures",
        (
            *_ENGINE_BUILD,
            _number("build_h", True),
            _number("pressure_kpa", True, 10000.0),
            _number("rpm", largest=100000.0),
            _number("oil_temp_c", largest=400.0, smallest=-60.0),
            ColumnSpec("gauge", CODE),
            _NOTES,
        ),
        (),
        extension=True,
    ),
    SheetSpec(
        "Fitted parts",
        "fittings",
        (
            *_ENGINE_BUILD,
            _number("build_h", True),
            ColumnSpec("part", CODE, True),
            ColumnSpec("piece", CODE),
            _word("act", "fitted", "taken out", required=True),
            _number("life", largest=1e7),
            _word("life_unit", "h", "km", "laps", "starts"),
            _number("used_before", largest=1e7),
            _NOTES,
        ),
        (),
        extension=True,
    ),
    SheetSpec(
        "Standards",
        "standards",
        (
            _code("standard"),
            ColumnSpec("kind", TEXT),
            ColumnSpec("lot", CODE),
            ColumnSpec("expires_on", MOMENT),
            ColumnSpec("element", CODE),
            _number("ppm"),
            _NOTES,
        ),
        ("standard", "element"),
        extension=True,
    ),
    SheetSpec(
        "Instrument elements",
        "instrument_elements",
        (
            _code("instrument"),
            ColumnSpec("due_on", MOMENT),
            ColumnSpec("due_for", TEXT),
            ColumnSpec("element", CODE),
            ColumnSpec("unit", TEXT),
            _number("detects_from"),
        ),
        ("instrument", "element"),
        extension=True,
    ),
    SheetSpec(
        "Measurements",
        "measurements",
        (_code("sample"), ColumnSpec("measured_at", MOMENT, True)),
        (),
        extension=True,
    ),
    SheetSpec(
        "Oil limits",
        "oil_limits",
        (_code("oil"), _code("limit"), _number("watch"), _number("done"), ColumnSpec("why", TEXT), _NOTES),
        ("oil", "limit"),
        extension=True,
    ),
    SheetSpec(
        "Fresh values",
        "fresh_values",
        (_code("oil"), _code("property"), _number("value", True), _NOTES),
        ("oil", "property"),
        extension=True,
    ),
    SheetSpec(
        "Fuel blends",
        "fuel_blends",
        (
            _code("oil"),
            _word("fuel", "petrol", "ethanol", "methanol", required=True),
            _number("fuel_ml", True),
            _number("oil_ml", True),
            _number("at_c", True),
            _number("kv_cst", True),
            _NOTES,
        ),
        ("oil", "fuel", "at_c"),
        extension=True,
    ),
    SheetSpec(
        "Bearings",
        "bearings",
        (
            *_ENGINE_BUILD,
            _code("bearing"),
            _number("diameter_mm", True),
            _number("length_mm", True),
            _number("clearance_mm"),
            _number("roughness_um"),
            ColumnSpec("load_case", TEXT),
            _number("load_n"),
            _number("speed_rpm"),
            _NOTES,
        ),
        ("engine", "build", "bearing"),
        extension=True,
    ),
)
"""The contract's sheets in its order, then our own extensions that an unload writes."""


class WorkbookProblem(NamedTuple):
    """One cell or row that does not fit. Numbers as the sheet shows them; `column` is its head."""

    sheet: str
    row: int
    column: str
    column_number: int
    cell: str
    reason: str


class WorkbookReading(NamedTuple):
    """One cell of the Results sheet, in the unit its measurand is kept in."""

    sample: str
    measurand: str
    value: float | None
    unit: str
    qualifier: str
    replicate: int
    mark: str
    row: int
    column: int


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row: `values` by column name (None or '' for blank), for Oils also `elements` (symbol -> ppm).

    Unknown columns are in `extra` and, where the sheet has notes, already added to the notes."""

    row: int
    values: Mapping[str, Any]
    elements: Mapping[str, float] = field(default_factory=dict)
    extra: Mapping[str, str] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Any:
        return self.values[name]

    def get(self, name: str, default: Any = None) -> Any:
        return self.values.get(name, default)


@dataclass(frozen=True, slots=True)
class WorkbookTables:
    """A whole bench as typed rows, one tuple a sheet; a sheet that is not there is empty."""

    name: str = ""
    families: tuple[SheetRow, ...] = ()
    family_parts: tuple[SheetRow, ...] = ()
    engines: tuple[SheetRow, ...] = ()
    builds: tuple[SheetRow, ...] = ()
    build_parts: tuple[SheetRow, ...] = ()
    oils: tuple[SheetRow, ...] = ()
    fills: tuple[SheetRow, ...] = ()
    top_ups: tuple[SheetRow, ...] = ()
    runs: tuple[SheetRow, ...] = ()
    samples: tuple[SheetRow, ...] = ()
    results: tuple[WorkbookReading, ...] = ()
    pulls: tuple[SheetRow, ...] = ()
    leak_downs: tuple[SheetRow, ...] = ()
    filter_cuts: tuple[SheetRow, ...] = ()
    changes: tuple[SheetRow, ...] = ()
    check_runs: tuple[SheetRow, ...] = ()
    materials: tuple[SheetRow, ...] = ()
    instruments: tuple[SheetRow, ...] = ()
    findings: tuple[SheetRow, ...] = ()
    oil_pressures: tuple[SheetRow, ...] = ()
    fittings: tuple[SheetRow, ...] = ()
    standards: tuple[SheetRow, ...] = ()
    instrument_elements: tuple[SheetRow, ...] = ()
    measurements: tuple[SheetRow, ...] = ()
    oil_limits: tuple[SheetRow, ...] = ()
    fresh_values: tuple[SheetRow, ...] = ()
    fuel_blends: tuple[SheetRow, ...] = ()
    bearings: tuple[SheetRow, ...] = ()
    problems: tuple[WorkbookProblem, ...] = ()
    notices: tuple[str, ...] = ()
    """Unknown columns and sheets, in words."""
    unknown_sheets: Mapping[str, tuple[tuple[str, ...], ...]] = field(default_factory=dict)
    """Sheets that are not known here, as text."""

    @property
    def counts(self) -> dict[str, int]:
        """Rows by sheet (for Results: readings), only sheets that hold any."""
        found = {spec.sheet: len(getattr(self, spec.attribute)) for spec in SHEETS}
        return {sheet: n for sheet, n in found.items() if n}


class _Odd(NamedTuple):
    """A cell that the reader reports as empty though it is not: a formula without a value, a stored error."""

    kind: str
    text: str


def read_workbook(path: str | Path) -> WorkbookTables:
    """The contract's whole-bench workbook (xlsx, ods or xls). Raises BenchProblem if the file cannot be read at all
    or holds none of its sheets; whatever is wrong inside comes back as `problems`."""
    path = Path(path)
    data = _bytes_of(path)
    if not data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")):
        raise BenchProblem(
            f"{path.name} is not a spreadsheet.",
            limits.NOTHING_TAKEN,
            "A whole bench is loaded from an xlsx or ods workbook. To take over results from a text table, use paste.",
        )
    book = Workbook(data, path.name)
    by_name = {" ".join(name.lower().split()): name for name in book.sheets}
    known = {spec.sheet.lower(): spec for spec in SHEETS}
    if not any(name in known for name in by_name):
        raise BenchProblem(
            f"{path.name} has none of the sheets of a whole-bench workbook (Engines, Builds, Samples, Results, …).",
            limits.NOTHING_TAKEN,
            "Check that it is the right file. A table of results alone is taken over with paste.",
        )
    problems: list[WorkbookProblem] = []
    notices: list[str] = []
    found: dict[str, tuple[Any, ...]] = {}
    for lower, spec in known.items():
        if lower in by_name:
            found[spec.attribute] = _read(book, by_name[lower], spec, problems, notices)
    unknown = {}
    for lower, name in by_name.items():
        if lower not in known:
            table = book.table(name)
            if table.rows:
                unknown[name] = table.rows
                notices.append(f"Sheet “{name}” is not known here: its {len(table.rows)} rows are not taken over.")
    return WorkbookTables(path.name, **found, problems=tuple(problems), notices=tuple(notices), unknown_sheets=unknown)


def _read(
    book: Workbook, name: str, spec: SheetSpec, problems: list[WorkbookProblem], notices: list[str]
) -> tuple[Any, ...]:
    values = book.values(name)
    for (row, column), (kind, text) in book.odd(name).items():
        while len(values) < row:
            values.append([])
        values[row - 1] += [""] * (column - len(values[row - 1]))
        stored = values[row - 1][column - 1]
        if kind not in (FORMULA, ERROR):
            if type(stored) is not float:
                continue
            text, shown_as = formats.shown(stored, kind)
            if shown_as == "t":
                values[row - 1][column - 1] = text
                continue
        values[row - 1][column - 1] = _Odd(kind, text)
    if not values:
        return ()
    reader = _SheetReader(spec, values, problems, notices)
    return reader.results() if spec.measurands == "all" else reader.rows()


class _SheetReader:
    """Types one sheet; collects its problems."""

    def __init__(
        self, spec: SheetSpec, values: list[list[Any]], problems: list[WorkbookProblem], notices: list[str]
    ) -> None:
        self.spec, self.values, self.problems, self.notices = spec, values, problems, notices
        self.heads = [" ".join(_shown(v).split()) for v in values[0]]
        known = {c.name: c for c in spec.columns}
        self.columns: dict[int, ColumnSpec] = {}
        self.measurands: dict[int, headers.Header] = {}
        self.extra: list[int] = []
        seen: Counter[str] = Counter()
        for j, head in enumerate(self.heads):
            key = head.lower().replace(" ", "_")
            if not head:
                if any(len(r) > j and r[j] != "" for r in values[1:]):
                    self.problem(0, j, "a column without a head: name it or empty it")
                continue
            column = known.get(key)
            what = classify(head) if column is None and spec.measurands else headers.UNKNOWN
            if column is not None:
                self.columns[j] = column
            elif what.role == "reading" and (spec.measurands == "all" or what.measurand in ELEMENTS):
                key = what.measurand
                if what.problem:
                    self.problem(0, j, what.problem)
                    continue
                self.measurands[j] = what
            else:
                self.extra.append(j)
                self.notices.append(f"Sheet “{spec.sheet}”: column “{head}” is not known; it is kept as a note.")
            seen[key] += 1
            if seen[key] > 1:
                self.problem(0, j, f"a second column for {key}")
                self.columns.pop(j, None)
                self.measurands.pop(j, None)
        present = {c.name for c in self.columns.values()}
        self.missing = [c.name for c in spec.columns if c.required and c.name not in present]
        for missing in self.missing:
            self.problems.append(WorkbookProblem(spec.sheet, 1, missing, 0, "", f"the column “{missing}” is missing"))

    def problem(self, i: int, j: int, reason: str) -> None:
        row = self.values[i]
        self.problems.append(
            WorkbookProblem(
                self.spec.sheet,
                i + 1,
                self.heads[j] if j < len(self.heads) else "",
                j + 1,
                _shown(row[j]) if j < len(row) else "",
                reason,
            )
        )

    def rows(self) -> tuple[SheetRow, ...]:
        if self.missing:
            return ()
        spec = self.spec
        blank = {c.name: ("" if c.kind in (CODE, TEXT) else None) for c in spec.columns}
        readers = [(j, c, _READERS[c.kind]) for j, c in self.columns.items()]
        or_below = [*self.measurands, *(j for j, column in self.columns.items() if column.or_below)]
        found = []
        keys: Counter[tuple[Any, ...]] = Counter()
        for i in range(1, len(self.values)):
            row = self.values[i]
            if not any(v != "" for v in row):
                continue
            out = dict(blank)
            for j, column, reader in readers:
                value = row[j] if j < len(row) else ""
                if value == "" or (type(value) is str and not value.strip()):
                    if column.required:
                        self.problem(i, j, f"{column.name} is missing")
                    continue
                read = reader(value, column)
                if type(read) is _Bad:
                    self.problem(i, j, read.reason)
                else:
                    out[column.name] = read
            elements = {}
            for j, head in self.measurands.items():
                if j < len(row) and row[j] != "":
                    amount = self.fresh(i, j, head)
                    if amount is not None:
                        elements[head.measurand] = amount
            extra = {self.heads[j]: _shown(row[j]) for j in self.extra if j < len(row) and row[j] != ""}
            if or_below:
                extra |= self._limits(row, or_below)
            if extra and "notes" in out:
                out["notes"] = "; ".join(filter(None, [out["notes"], *(f"{k}: {v}" for k, v in extra.items())]))
            if spec.key:
                key = tuple(out[k] for k in spec.key)
                keys[key] += 1
                if keys[key] > 1 and all(k not in ("", None) for k in key[:1]):
                    self.problem(
                        i,
                        next((j for j, c in self.columns.items() if c.name == spec.key[-1]), 0),
                        f"{' / '.join(map(str, key))} is already in a row above",
                    )
                    continue
            found.append(SheetRow(i + 1, out, elements, extra))
        return tuple(found)

    def fresh(self, i: int, j: int, head: headers.Header) -> float | None:
        """An element of a fresh oil [ppm]; of one below a limit half the limit, of a bare "not detected" nothing."""
        read = self.reading(i, j, head)
        if read is None:
            return None
        if read.qualifier == "<":
            return None if read.value is None else read.value / 2.0
        if read.qualifier:
            self.problem(i, j, "a fresh oil needs an amount: write 0 for not detected, or leave it blank for unknown")
            return None
        return read.value

    def _limits(self, row: list[Any], columns: list[int]) -> dict[str, str]:
        """Cells of these columns in which an amount is written as below a limit, as they stand: kept as notes, and said
        once."""
        found = {
            self.heads[j]: _shown(row[j]) for j in columns
            if j < len(row) and type(row[j]) is str and parse_number(row[j]).qualifier == "<"
        }  # fmt: skip
        if not found:
            return found
        said = (
            f"Sheet “{self.spec.sheet}”: of an amount below a limit (“<”) half the limit is taken, of a bare “not "
            "detected” nothing; the cells are kept as notes."
        )
        if said not in self.notices:
            self.notices.append(said)
        return found

    def results(self) -> tuple[WorkbookReading, ...]:
        """Readings of the Results sheet, column by column."""
        if self.missing:
            return ()
        sample_j = next(j for j, c in self.columns.items() if c.name == "sample")
        replicate_j = next((j for j, c in self.columns.items() if c.name == "replicate"), -1)
        rows: list[tuple[int, str, int]] = []
        for i in range(1, len(self.values)):
            row = self.values[i]
            if not any(v != "" for v in row):
                continue
            code = (
                _read_code(row[sample_j], self.columns[sample_j])
                if len(row) > sample_j and row[sample_j] != ""
                else _Bad("results without a sample code")
            )
            if isinstance(code, _Bad):
                self.problem(i, sample_j, code.reason)
                continue
            replicate: Any = 1
            if replicate_j >= 0 and len(row) > replicate_j and row[replicate_j] != "":
                replicate = _read_whole(row[replicate_j], self.columns[replicate_j])
                if isinstance(replicate, _Bad) or replicate is None or replicate < 1:
                    self.problem(i, replicate_j, "not a replicate number")
                    continue
            rows.append((i, code, replicate))
        counts = Counter((code, replicate) for _, code, replicate in rows)
        for i, code, replicate in rows:
            if counts[(code, replicate)] > 1:
                self.problem(
                    i, sample_j, f"{counts[(code, replicate)]} rows for {code} without different replicate numbers"
                )
        rows = [r for r in rows if counts[(r[1], r[2])] == 1]
        found: list[WorkbookReading] = []
        make = WorkbookReading._make
        for j, head in self.measurands.items():
            unit = headers.unit_of(head.measurand)
            conversion = units.conversion(head.unit, unit) if head.unit else (1.0, 0.0)
            plain = conversion == (1.0, 0.0)
            largest, measurand, column = LARGEST.get(unit, 1e9), head.measurand, j + 1
            for i, code, replicate in rows:
                row = self.values[i]
                value = row[j] if len(row) > j else ""
                if type(value) is float and plain and 0.0 <= value <= largest:
                    found.append(make((code, measurand, value, unit, "", replicate, "", i + 1, column)))
                elif value != "":
                    read = self.reading(i, j, head)
                    if read is not None:
                        found.append(
                            WorkbookReading(
                                code, measurand, read.value, unit, read.qualifier, replicate, read.mark, i + 1, column
                            )
                        )
        for i, code, _ in rows:
            extra = [
                f"{self.heads[j]}: {_shown(self.values[i][j])}"
                for j in self.extra
                if len(self.values[i]) > j and self.values[i][j] != ""
            ]
            if extra:
                self.notices.append(f"Sheet “Results”, row {i + 1} ({code}): {'; '.join(extra)}.")
        found.sort(key=lambda r: (r.row, r.column))
        return tuple(found)

    def reading(self, i: int, j: int, head: headers.Header) -> Parsed | None:
        """A measurand's cell in its own unit; None for missing or after a problem."""
        value = self.values[i][j]
        read = _parsed(value)
        if read.missing:
            return None
        if read.problem:
            self.problem(i, j, read.problem)
            return None
        kept = headers.unit_of(head.measurand)
        written = read.unit or head.unit
        if written and read.value is not None:
            conversion = units.conversion(written, kept)
            if conversion is None:
                self.problem(i, j, headers.unit_problem(head.measurand, written))
                return None
            read = read._replace(value=units.convert(read.value, *conversion))
        if read.value is not None and not 0.0 <= read.value <= LARGEST.get(kept, 1e9):
            self.problem(i, j, f"{read.value:g} {kept} is outside what there can be")
            return None
        return read


# --- one reader a kind of column: (stored value, column) -> value or _Bad ---


class _Bad(NamedTuple):
    reason: str


_FORMULA = "a formula without a stored value: open the file in a spreadsheet, save it, and load it again"


def _shown(value: Any) -> str:
    """A stored value as text for a problem list."""
    if type(value) is str:
        return value
    if type(value) is float:
        return number_text(value)
    if type(value) is _Odd:
        return value.text
    return "TRUE" if value is True else "FALSE" if value is False else str(value)


def _odd(value: Any) -> _Bad | None:
    if type(value) is not _Odd:
        return None
    if value.kind == ERROR:
        return _Bad(f"“{value.text}” is an error in the sheet")
    if value.kind == FORMULA:
        return _Bad(_FORMULA)
    return _Bad(f"the sheet shows {value.text}, not what it stores: format the cell as text or as a plain number")


def _read_code(value: Any, column: ColumnSpec) -> Any:
    if type(value) is str:
        text = value.strip()
        return text if not text.startswith("=") else _Bad("a formula is not computed here")
    if type(value) is float:
        if value.is_integer() and 0 <= value < 1e15:
            return str(int(value))
        return _Bad("stored as a number: format the cell as text and type it as it is written")
    bad = _odd(value)
    if bad:
        return bad
    if isinstance(value, bool):
        return _Bad("stored as a yes/no value: format the cell as text and type it as it is written")
    return _Bad("stored as a date: format the cell as text and type it as it is written")


def _read_text(value: Any, column: ColumnSpec) -> Any:
    bad = _odd(value)
    if bad:
        return bad
    text = _shown(value) if not isinstance(value, (dt.date, dt.time)) else value.isoformat()
    text = text.strip()
    if len(text) > limits.CELL_CHARACTERS:
        return _Bad(f"more than {limits.CELL_CHARACTERS:,} characters")
    if column.words:
        word = " ".join(text.lower().split())
        return word if word in column.words else _Bad(f"must be one of: {', '.join(column.words)}")
    return text


def _parsed(value: Any) -> Parsed:
    if type(value) is float or type(value) is int:
        return (
            Parsed(value=float(value))
            if value >= 0
            else Parsed(problem=f"“{value:g}” is negative: write ND if it was not detected")
        )
    if type(value) is str:
        return parse_number(value)
    if type(value) is _Odd and value.kind in (PERCENT, SHOWN):
        return parse_number(value.text, ".")
    bad = _odd(value)
    return Parsed(problem=bad.reason if bad else "a date or a yes/no value is not a number")


def _read_number(value: Any, column: ColumnSpec) -> Any:
    if type(value) is float:
        number = value
    elif type(value) is str:
        text = value.strip()
        sign = -1.0 if text.startswith(("-", "\u2212")) and column.smallest < 0 else 1.0
        read = parse_number(text[1:] if sign < 0 else text)
        if read.missing:
            return None
        below = column.or_below and read.qualifier == "<"
        if read.problem or read.value is None or (read.qualifier and not below):
            return _Bad(read.problem or f"“{text}” is not a plain number")
        if read.unit or read.mark:
            return _Bad(f"“{text}” is not a plain number")
        number = sign * read.value * (0.5 if below else 1.0)
    elif type(value) is _Odd and (
        value.kind == SHOWN or (value.kind == PERCENT and column.name.endswith(("pct", "percent")))
    ):
        number = float(value.text.removesuffix(" %"))
    else:
        return _odd(value) or _Bad("a date or a yes/no value is not a number")
    if not column.smallest <= number <= column.largest:
        return _Bad(f"{number:g} is outside {column.smallest:g} to {column.largest:g}")
    return number


def _read_whole(value: Any, column: ColumnSpec) -> Any:
    number = _read_number(value, column)
    if isinstance(number, _Bad) or number is None:
        return number
    return int(number) if float(number).is_integer() else _Bad(f"{number:g} is not a whole number")


_MOMENT = "not a date: write it as 2026-03-25 or 2026-03-25 14:30"


def _read_moment(value: Any, column: ColumnSpec) -> Any:
    if isinstance(value, dt.datetime):
        return value.replace(tzinfo=None)
    if isinstance(value, dt.date):
        return dt.datetime(value.year, value.month, value.day)  # noqa: DTZ001 - moments are naive local times
    if type(value) is str:
        try:
            return dt.datetime.fromisoformat(value.strip()).replace(tzinfo=None)
        except ValueError:
            return _Bad(_MOMENT)
    return _odd(value) or _Bad(_MOMENT)


_YES = frozenset(["y", "yes", "true", "1", "x"])
_NO = frozenset(["n", "no", "false", "0"])


def _read_flag(value: Any, column: ColumnSpec) -> Any:
    if isinstance(value, bool):
        return value
    bad = _odd(value)
    if bad:
        return bad
    word = _shown(value).strip().lower()
    return True if word in _YES else False if word in _NO else _Bad("must be y or n")


_READERS: Mapping[str, Callable[[Any, ColumnSpec], Any]] = {
    CODE: _read_code,
    TEXT: _read_text,
    NUMBER: _read_number,
    WHOLE: _read_whole,
    MOMENT: _read_moment,
    FLAG: _read_flag,
}
