"""From a raw table to typed readings, with a list of every cell that could not be read and every row that is no sample.

Nothing is guessed in silence: what has one reading only is taken; what has two is a problem; what is not a result is
listed."""

from __future__ import annotations

import datetime as dt
import gc
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import cached_property
from itertools import chain
from operator import itemgetter
from typing import NamedTuple

from benchapp.intake import codes, headers, rowkinds, units
from benchapp.intake.layout import Column, Layout, find_layout
from benchapp.intake.mapping import ColumnRule, PasteMapping
from benchapp.intake.moments import SLASHED, parse_moment
from benchapp.intake.numbers import Decimal, Parsed, find_decimal, parse_number
from benchapp.intake.result import (
    LARGEST,
    CheckReading,
    LeftOut,
    PasteResult,
    Problem,
    SampleFacts,
    TakenReading,
)
from benchapp.intake.table import DATE, FORMULA, NUMBER, SHOWN, TEXT, TYPED, RawTable

__all__ = [
    "CheckReading",
    "ColumnRule",
    "LeftOut",
    "PasteMapping",
    "PasteResult",
    "Problem",
    "SampleFacts",
    "TakenReading",
    "interpret",
    "parse_moment",
]


def interpret(table: RawTable, mapping: PasteMapping | None = None, decimal: str | None = None) -> PasteResult:
    """Typed readings of a table, the problems cell by cell, and what was left out.

    `mapping` is what was settled before for this source; `decimal` ('.' or ',') declares the decimal sign for this
    table. Never raises for anything that a table may hold."""
    mapping = mapping or PasteMapping()
    if decimal is not None:
        mapping = mapping.with_decimal(decimal)
    layout = find_layout(table, mapping)
    if not layout.shape:
        return _nothing_found(table, mapping)
    with _no_sweeping():
        return _Reader(table, layout, mapping).result()


@contextmanager
def _no_sweeping() -> Iterator[None]:
    """Holds the garbage collector off: looking through tens of thousands of new readings, none of them rubbish, takes
    a sixth of the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _nothing_found(table: RawTable, mapping: PasteMapping) -> PasteResult:
    if not any(c.strip() for r in table.rows for c in r):
        reason = "the table is empty"
    else:
        reason = "no column or row names an element (Fe, Iron, …) or another measurand: copy the header, too"
    problem = Problem(table.first_row, "", 0, "", reason)
    area = _area(table)
    return PasteResult(
        (), (problem,), (), (), mapping, _area=area, _row_roles=dict.fromkeys(range(area[0], area[2]), "note")
    )


def _area(table: RawTable) -> tuple[int, int, int, int]:
    return (
        table.first_row,
        table.first_column,
        table.first_row + len(table.rows),
        table.first_column + table.width,
    )


_PLAIN_PPM = re.compile(r"[0-9]{1,6}(?:\.[0-9]{1,9})?")
"""A number that needs no further look: below the most that ppm allow, without sign, mark or unit."""
_POINT = Decimal(".", mixed=False)
_MINUS = ("-", "\u2212")
_READING_ROLES = ("reading", "mean")


class _Row(NamedTuple):
    """One data row that is a sample or a check."""

    i: int
    code: str
    kind: str
    replicate: int
    label: str


class _Reader:
    """One pass over one table; holds what is being collected."""

    def __init__(self, table: RawTable, layout: Layout, mapping: PasteMapping) -> None:
        self.table, self.layout, self.mapping = table, layout, mapping
        self.grid = layout.grid
        self.problems: list[Problem] = []
        self.left_out: list[LeftOut] = []
        self.notices: list[str] = list(dict.fromkeys(layout.notices))
        self.taken: list[TakenReading] = []
        self.checks: list[CheckReading] = []
        self.row_roles: dict[int, str] = {}
        self.used: set[int] = set()
        self.sample_column: Column | None = None
        self.read_places: list[int] = []
        self.text_places: list[int] = []
        self.label_places: list[int] = []
        self.past_the_heads: list[int] = []
        self.codes: set[str] = set()
        self.flags: dict[int, int] = {}
        self.asks_decimal = False
        self.cache: dict[str, Parsed] = {}

    # --- small helpers ---

    def problem(self, i: int, j: int, reason: str) -> None:
        row, column = self.grid.place(i, j)
        self.problems.append(Problem(row, self.column_label(i, j), column, self.grid.rows[i][j].strip(), reason))

    def column_label(self, i: int, j: int) -> str:
        """Head of the sheet's column that holds this cell: what the person reads above it."""
        if self.grid.turned:
            sample = self.sample_column
            text = self.grid.rows[i][sample.j] if sample is not None else ""
            return " ".join(text.split()) or f"column {self.grid.place(i, j)[1]}"
        label = self.layout.columns[j].label
        return label or f"column {self.grid.place(i, j)[1]}"

    def leave_row(self, i: int, label: str, reason: str) -> None:
        row, column = self.grid.place(i, 0)
        self.left_out.append(LeftOut(row, label, reason, column) if self.grid.turned else LeftOut(row, label, reason))
        self.row_roles[i] = "left out"

    def leave_column(self, column: Column, reason: str) -> None:
        row, number = self.grid.place(self.layout.header, column.j)
        self.left_out.append(LeftOut(row, column.label or f"column {number}", reason, number))

    # --- the pass ---

    def result(self) -> PasteResult:
        layout = self.layout
        for i in range(layout.header):
            self.row_roles[i] = "title"
        for i in layout.unit_rows:
            self.row_roles[i] = "unit"
        self.row_roles[layout.header] = "header"
        self.sample_column = self.find_sample_column()
        self.kind_column = self.find_kind_column()
        self.kind_place = -1 if self.kind_column is None else self.kind_column.j
        self.replicate_place = next((c.j for c in layout.of_role("replicate")), -1)
        self.reading_columns = self.find_reading_columns()
        self.list_other_columns()
        self.flags = self.find_flags()
        rows = self.classify_rows() if self.sample_column is not None else []
        rows = self.settle_replicates(rows)
        self.decimal = self.find_decimal(rows)
        if layout.shape == "long":
            self.read_long(rows)
        else:
            self.read_wide(rows)
        facts = self.read_facts(rows)
        self.ask_decimal_once()
        self.problems.sort(key=lambda p: (p.row, p.column_number))
        self.left_out.sort(key=lambda x: (x.row, x.column_number))
        if self.grid.turned:
            self.taken.sort(key=lambda t: (t.row, t.column))
        return self.pack(facts)

    def pack(self, facts: tuple[SampleFacts, ...]) -> PasteResult:
        grid = self.grid
        # samples lie down the sheet, or across it where it is turned
        first, first_across = (
            (grid.first_column, grid.first_row) if grid.turned else (grid.first_row, grid.first_column)
        )
        roles = {c.j: "note" for c in self.layout.columns}
        for c in self.layout.columns:
            if c.j in self.used:
                roles[c.j] = "reading"
            elif c.role in ("error", "mean", "ignore"):
                roles[c.j] = "left out"
        if self.sample_column is not None:
            roles[self.sample_column.j] = "sample"
        return PasteResult(
            taken=tuple(self.taken),
            problems=tuple(self.problems),
            left_out=tuple(self.left_out),
            check_runs=tuple(self.checks),
            mapping=self.mapping_found(),
            facts=facts,
            notices=tuple(dict.fromkeys(self.notices)),
            asks_decimal=self.asks_decimal,
            _area=_area(self.table),
            _row_roles={first + i: role for i, role in self.row_roles.items()},
            _column_roles={first_across + j: role for j, role in roles.items()},
            _turned=grid.turned,
        )

    def mapping_found(self) -> PasteMapping:
        """What this table showed, to be remembered for its instrument."""
        rules = []
        for c in self.layout.columns:
            head = c.head
            if not c.label or (head.role == "unknown" and c is not self.sample_column):
                continue
            role = "sample" if c is self.sample_column else ("ignore" if head.role == "sample" else head.role)
            rules.append(ColumnRule(c.label, role, head.measurand, head.unit, c.occurrence))
        kept = {(r.header, r.occurrence) for r in rules}
        rules += [r for r in self.mapping.columns if (r.header, r.occurrence) not in kept]
        sign = self.mapping.decimal or (self.decimal.sign if self.decimal_was_proved else "")
        return PasteMapping(self.layout.shape, sign, tuple(rules))

    # --- columns ---

    def find_sample_column(self) -> Column | None:
        layout = self.layout
        candidates = layout.of_role("sample")
        if self.grid.turned and not candidates:
            candidates = layout.of_role("element")[:1]  # the row headed "Element" holds the codes
        settled = [c for c in candidates if c.settled]
        if settled:
            return settled[0]
        if len(candidates) > 1:
            named = [c for c in candidates if "sample" in c.label.lower() and "lab" not in c.label.lower()]
            strong = [
                c for c in named if re.fullmatch(r"sample( ?(id|code|no\.?|number|nr\.?|#))?", c.label.lower())
            ] or named
            if len(strong) == 1:
                return strong[0]
            if len({tuple(self.grid.rows[i][c.j] for i in self.data_rows()) for c in candidates}) > 1:
                heads = ", ".join(f"“{c.label}”" for c in candidates)
                self.problem(layout.header, candidates[0].j, f"{heads}: which of these columns holds the sample code?")
                return None
        if candidates:
            return candidates[0]
        readings = [c.j for c in layout.columns if c.role in (*_READING_ROLES, "value", "element")]
        before = [
            c
            for c in layout.columns
            if c.role == "unknown"
            and c.j < min(readings, default=0)
            and any(self.grid.rows[i][c.j].strip() for i in self.data_rows())
        ]
        if len(before) == 1:
            name = f"“{before[0].label}”" if before[0].label else "without a head"
            number = self.grid.place(layout.header, before[0].j)
            where = f"row {number[0]}" if self.grid.turned else f"column {number[1]}"
            self.notices.append(
                f"The {'row' if self.grid.turned else 'column'} {name} ({where}) is read as the sample code."
            )
            return before[0]
        if self.grid.turned and not before:
            above = [
                c
                for c in layout.columns
                if c.role == "unknown" and any(self.grid.rows[i][c.j].strip() for i in self.data_rows())
            ]
            if len(above) == 1:
                return above[0]
        self.problem(layout.header, 0, "no column is known to hold the sample codes: name one “Sample”")
        return None

    def data_rows(self) -> range:
        return range(self.layout.first_data, len(self.grid.rows))

    def find_kind_column(self) -> Column | None:
        """The column of row codes (RD, CK, CL, …), if its codes are known."""
        for column in self.layout.of_role("kind"):
            texts = {self.grid.rows[i][column.j].strip() for i in self.data_rows()} - {""}
            if texts and any(rowkinds.of_code(t) for t in texts):
                return column
        return None

    def find_reading_columns(self) -> list[Column]:
        """The columns whose readings are taken; two for one measurand are a problem, not a choice."""
        if self.layout.shape == "long":
            return []
        readings = self.layout.of_role("reading")
        means = self.layout.of_role("mean")
        measured = {c.head.measurand for c in readings}
        for column in means:
            if column.head.measurand in measured:
                self.leave_column(column, f"mean of the {column.head.measurand} columns")
            else:
                readings.append(column)
                self.notices.append(f"“{column.label}” is a mean: it is taken as one reading.")
        by_key: dict[tuple[str, int], list[Column]] = defaultdict(list)
        for column in readings:
            by_key[(column.head.measurand, max(column.head.replicate, 1))].append(column)
        taken = []
        for (measurand, _), columns in by_key.items():
            if measurand and len(columns) > 1:
                heads = ", ".join(f"“{c.label}”" for c in columns)
                for c in columns:
                    self.problem(
                        self.layout.header,
                        c.j,
                        f"{len(columns)} columns for {measurand} ({heads}): keep one, set the others to ignore",
                    )
                continue
            for c in columns:
                if c.head.problem:
                    self.problem(self.layout.header, c.j, c.head.problem)
                else:
                    taken.append(c)
        taken.sort(key=lambda c: c.j)
        bare = [c.head.measurand for c in taken if not c.head.unit and headers.unit_of(c.head.measurand)]
        for unit in dict.fromkeys(map(headers.unit_of, bare)):
            names = ", ".join(dict.fromkeys(m for m in bare if headers.unit_of(m) == unit))
            self.notices.append(f"No unit is given for {names}: read as {unit}.")
        self.used = {c.j for c in taken}
        return taken

    def find_flags(self) -> dict[int, int]:
        """Column of readings -> its column of flags (`<`, U, J): by the head, else the reading before it."""
        if self.layout.shape == "long":
            flag = next((c.j for c in self.layout.of_role("qualifier")), None)
            return {} if flag is None else {c.j: flag for c in self.layout.of_role("value")}
        places = {c.head.measurand: c.j for c in self.reading_columns}
        flags: dict[int, int] = {}
        last = -1
        for c in self.layout.columns:
            if c.role in _READING_ROLES:
                last = c.j
            elif c.role == "qualifier":
                j = places.get(c.head.measurand, -1) if c.head.measurand else last
                if j < 0 or j in flags:
                    self.problem(self.layout.header, c.j, "which column do these flags belong to?")
                else:
                    flags[j] = c.j
        return flags

    def list_other_columns(self) -> None:
        for c in self.layout.columns:
            if c.role == "error":
                self.leave_column(c, f"error column of {c.head.measurand}" if c.head.measurand else "error column")
            elif c.role == "ignore":
                self.leave_column(c, "set to ignore")
            elif c.role == "sample" and c is not self.sample_column and self.sample_column is not None:
                self.leave_column(c, "another code, not the sample code")
            elif (c.role == "kind" and c is not self.kind_column) or (
                c.role in ("element", "value", "unit", "wavelength")
                and self.layout.shape != "long"
                and c is not self.sample_column
            ):
                self.leave_column(c, "not a result")
            elif c.role == "unknown" and c is not self.sample_column:
                filled = any(self.grid.rows[i][c.j].strip() for i in self.data_rows())
                if c.label or filled:
                    self.leave_column(c, "not known as a measurand")

    # --- rows ---

    def classify_rows(self) -> list[_Row]:
        """The rows that are samples or checks; all others are listed."""
        assert self.sample_column is not None
        grid, layout = self.grid, self.layout
        self.read_places = [c.j for c in self.reading_columns] or [
            c.j for c in layout.columns if c.role in ("reading", "mean", "value")
        ]
        not_texts = ("error", "mean", "reading")
        self.text_places = [c.j for c in layout.columns if c.j not in self.read_places and c.role not in not_texts]
        first_reading = min(self.read_places, default=0)
        self.label_places = [c.j for c in layout.columns if c.role == "unknown" and c.j < first_reading]
        self.codes = {grid.rows[i][self.sample_column.j].strip() for i in self.data_rows()}
        self.past_the_heads = self.find_past_the_heads()
        repeated = {tuple(c.strip() for c in grid.rows[i]): "header repeated" for i in (layout.header,)}
        repeated |= {tuple(c.strip() for c in grid.rows[i]): "unit row repeated" for i in layout.unit_rows}
        marks = {key[0] for key in repeated}
        rows: list[_Row] = []
        last_code = ""
        for i in self.data_rows():
            cells = grid.rows[i]
            if cells[0].strip() in marks and (reason := repeated.get(tuple(c.strip() for c in cells))):
                self.leave_row(i, cells[self.sample_column.j].strip(), reason)
                continue
            row = self.classify_row(i, last_code)
            if row is not None:
                rows.append(row)
            label = cells[self.sample_column.j].strip()
            if label and (row is None or row.kind == rowkinds.SAMPLE):
                last_code = label
        return rows

    def classify_row(self, i: int, last_code: str) -> _Row | None:
        """One row as a sample or check, or None after it was listed, noted as a problem, or found empty."""
        assert self.sample_column is not None
        cells, s = self.grid.rows[i], self.sample_column.j
        label = cells[s].strip()
        kind, said = self.row_kind(i, label)
        if kind in ("summary", "limits"):
            self.leave_row(i, said or label, rowkinds.REASONS[kind])
            return None
        if kind == "?":
            self.problem(
                i, self.kind_place, f"“{said}” is not known as a kind of row: sample, check, blank or calibration?"
            )
            self.row_roles[i] = "samples"
            return None
        if kind != rowkinds.SAMPLE:
            self.leave_row(i, label or said, rowkinds.REASONS[kind])
            return _Row(i, label or said, kind, 1, label or said)
        if self.has_no_readings(cells):
            if any(c.strip() for c in cells):
                text = label or next((cells[j].strip() for j in self.text_places if cells[j].strip()), "")
                self.leave_row(i, text, "no readings in this row")
            return None
        self.row_roles[i] = "samples"
        if self.past_the_heads and self.runs_past_the_heads(i):
            return None
        label = self.checked_code(i, s, label) if label else self.code_from_above(i, last_code)
        if not label:
            return None
        replicate, code = self.replicate_of(i, label)
        return None if replicate == -1 else _Row(i, code, rowkinds.SAMPLE, replicate, label)

    def has_no_readings(self, cells: Sequence[str]) -> bool:
        for j in self.read_places:  # noqa: SIM110  asked of every row: `all` takes three times as long
            if cells[j].strip():
                return False
        return True

    def code_from_above(self, i: int, last_code: str) -> str:
        """The code of a row that has none: the one above it, if a replicate mark says so; else a problem."""
        assert self.sample_column is not None
        cells, j = self.grid.rows[i], self.replicate_place
        if last_code and j >= 0 and cells[j].strip():
            number = self.grid.place(i, 0)[1 if self.grid.turned else 0]
            where = f"{'Column' if self.grid.turned else 'Row'} {number}"
            self.notices.append(f"{where} has no code: its replicate mark puts it under {last_code}.")
            return last_code
        if any(not _is_missing(cells[k]) for k in self.read_places):
            self.problem(i, self.sample_column.j, "readings without a sample code")
        return ""

    def find_past_the_heads(self) -> list[int]:
        """Columns behind the last head: numbers there mean that the cells of a row have shifted."""
        if self.grid.turned:
            return []
        last = max((c.j for c in self.layout.columns if c.label or c.role != "unknown"), default=-1)
        return [c.j for c in self.layout.columns if c.j > last]

    def runs_past_the_heads(self, i: int) -> bool:
        """A row with numbers behind the last head (a decimal comma taken for a separator) is not believed at all."""
        for j in self.past_the_heads:
            text = self.grid.rows[i][j].strip()
            if text and any(c.isdigit() for c in text):
                self.problem(i, j, "a number behind the last head: have the cells of this row shifted?")
                return True
        return False

    def row_kind(self, i: int, label: str) -> tuple[str, str]:
        """Kind of a row and the text that says so; '?' for a row code that is not known."""
        cells = self.grid.rows[i]
        code = cells[self.kind_place].strip() if self.kind_place >= 0 else ""
        if code:
            kind = rowkinds.of_code(code)
            if not kind:
                return "?", code
            if kind != rowkinds.SAMPLE:
                return kind, label or code
        mark = cells[self.replicate_place].strip() if self.replicate_place >= 0 else ""
        if mark and rowkinds.of_label(mark) == "summary":
            return "summary", f"{label} {mark}".strip()
        if not label:
            for j in self.text_places:
                text = cells[j].strip()
                if text and rowkinds.of_label(text) != rowkinds.SAMPLE:
                    return rowkinds.of_label(text), text
            return rowkinds.SAMPLE, ""
        for j in self.label_places:
            text = cells[j].strip()
            if text and rowkinds.of_label(text) == "summary":
                return "summary", f"{text} {label}"
        kind = rowkinds.of_label(label)
        if kind == rowkinds.SAMPLE:
            stem = rowkinds.stem_of_summary(label)
            if stem and any(c == stem or c.startswith((f"{stem} #", f"{stem}#")) for c in self.codes):
                return "summary", label
        return kind, label

    def checked_code(self, i: int, j: int, label: str) -> str:
        """The sample code as it stands, or '' after a problem: a spreadsheet must not have changed it."""
        found = codes.check(label, self.grid.kind(i, j) if self.grid.kinds else TEXT)
        if found.problem:
            self.problem(i, j, found.problem)
        if found.notice:
            self.notices.append(found.notice)
        return found.code

    def replicate_of(self, i: int, label: str) -> tuple[int, str]:
        """Replicate number (0: none marked, −1: a problem was noted) and the code without its replicate mark."""
        rep_j = self.replicate_place
        if rep_j >= 0:
            text = self.grid.rows[i][rep_j].strip().lstrip("#").strip()
            if text:
                text = text.removesuffix(".0")
                match = re.fullmatch(r"(?:rep(?:licate)?\.? ?|burn ?|run ?)?([0-9]{1,3}|[a-h])", text.lower())
                if match is None or match[1] == "0":
                    self.problem(i, rep_j, "not a replicate number")
                    return -1, label
                return (int(match[1]) if match[1].isdigit() else ord(match[1]) - 96), label
            return 0, label
        code, number = codes.replicate_suffix(label)
        return (-2 - number, code) if number else (0, label)  # to be confirmed by its siblings

    def settle_replicates(self, rows: list[_Row]) -> list[_Row]:
        """Rows of one sample need different replicate marks; without them they are problems."""
        settled: list[_Row] = []
        by_code: dict[str, list[_Row]] = defaultdict(list)
        for row in rows:
            if row.kind == rowkinds.SAMPLE:
                by_code[row.code].append(row)
            else:
                settled.append(row)
        if self.layout.shape == "long":
            for group in by_code.values():
                settled += [r._replace(replicate=_suffix_number(r)) for r in group]
            return sorted(settled)
        s = self.sample_column.j if self.sample_column is not None else 0
        for code, group in by_code.items():
            if len(group) == 1:
                (row,) = group
                if row.replicate == 0:
                    settled.append(_Row(row.i, code, row.kind, 1, row.label))
                    continue
                number = _suffix_number(row)
                if row.replicate < -1 and number != 1:
                    self.notices.append(
                        f"{row.label} is taken as replicate {number} of {code}, though no other replicate is in the table."  # noqa: E501
                    )
                settled.append(_Row(row.i, code, row.kind, max(number, 1), row.label))
                continue
            numbers = Counter(_suffix_number(r) for r in group)
            for row in group:
                number = _suffix_number(row)
                if number == 0:
                    self.problem(
                        row.i,
                        s,
                        f"{len(group)} rows for {code}, and this one has no replicate mark (add #1, #2, … or a column “Rep”)",  # noqa: E501
                    )
                elif numbers[number] > 1:
                    self.problem(row.i, s, f"{numbers[number]} rows for {code} with the replicate mark {number}")
                else:
                    settled.append(row._replace(replicate=number))
        return sorted(settled)

    # --- readings ---

    def find_decimal(self, rows: list[_Row]) -> Decimal:
        self.decimal_was_proved = False
        if self.mapping.decimal:
            return Decimal(self.mapping.decimal, mixed=False)
        if self.table.decimal:
            return Decimal(self.table.decimal, mixed=False)
        columns = [c.j for c in self.reading_columns] or [c.j for c in self.layout.of_role("value")]
        columns += [c.j for c in self.layout.columns if c.role in ("oil_h", "build_h")]
        pick = _picker(columns)
        grid = self.grid
        if grid.kinds:
            cells = [grid.rows[r.i][j] for r in rows for j in columns if grid.kind(r.i, j) in (TEXT, TYPED)]
        else:
            cells = list(chain.from_iterable(pick(grid.rows[r.i]) for r in rows))
        found = find_decimal(cells)
        self.decimal_was_proved = bool(found.sign) and any("." in c or "," in c for c in cells)
        return found

    def ask_decimal_once(self) -> None:
        if self.asks_decimal:
            how = "both signs are used" if self.decimal.mixed else "nothing in the table decides it"
            self.notices.append(f"Is the comma or the point the decimal sign of this source? ({how})")

    def parse(self, i: int, j: int, signed: bool = False) -> Parsed | None:
        """What a cell says; None after a problem was noted. `signed`: it may lie below zero."""
        text = self.grid.rows[i][j]
        below_zero = signed and text.strip()[:1] in _MINUS
        if below_zero:
            text = text.strip()[1:]
        kind = self.grid.kind(i, j) if self.grid.kinds else TEXT
        if j in self.flags and (flag := self.grid.rows[i][self.flags[j]].strip()) not in ("", "="):
            text = _flagged(text.strip(), flag)
        if kind in (NUMBER, SHOWN):
            found = parse_number(text, ".")
        elif kind in (TEXT, TYPED):
            cached = self.cache.get(text)
            found = cached if cached is not None else self.cache.setdefault(text, parse_number(text, *self.decimal))
        elif kind == FORMULA:
            found = Parsed(
                problem="a formula without a stored value: open the file in a spreadsheet, save it, and paste again"
            )
        elif kind == DATE:
            found = Parsed(problem="the spreadsheet turned this number into a date: type the number")
        else:
            found = Parsed(problem=f"“{text.strip()}” is not a number")
        if found.problem:
            self.problem(i, j, found.problem)
            self.asks_decimal |= found.ask_decimal
            return None
        return found._replace(value=-found.value) if below_zero and found.value else found

    def read_wide(self, rows: list[_Row]) -> None:
        """Row by row. Cells of plain ppm columns, nearly all there are, are looked up in `known` and made in one go."""
        marked = {c.head.measurand for c in self.reading_columns if c.head.replicate}
        plain_table = not self.grid.kinds and not self.grid.turned
        quick = [
            c
            for c in self.reading_columns
            if plain_table and self.is_plain(c) and c.head.measurand not in marked and c.j not in self.flags
        ]
        slow = [c for c in self.reading_columns if c not in quick]
        first_row, first_column = self.grid.first_row, self.grid.first_column
        lines = [(c.head.measurand, first_column + c.j) for c in quick]
        pick = _picker([c.j for c in quick])
        known: dict[str, tuple[float | None, str, str]] = {}
        new = tuple.__new__
        for row in rows:
            i, code, kind, replicate, _ = row
            if kind != rowkinds.SAMPLE:
                for c in self.reading_columns:
                    self.read_check(row, c.j, c.head.measurand, c.head.unit)
                continue
            number = first_row + i
            found = list(map(known.get, pick(self.grid.rows[i])))
            if all(found):
                cells = zip(found, lines, strict=True)
            else:
                found = [e or self.cell(i, c, known) for e, c in zip(found, quick, strict=True)]
                cells = ((e, line) for e, line in zip(found, lines, strict=True) if e)
            taken = [
                new(TakenReading, (code, measurand, value, "ppm", qualifier, replicate, mark, number, column))
                for (value, qualifier, mark), (measurand, column) in cells
            ]
            for c in slow:
                made = self.one_reading(row, c, across=c.head.measurand in marked)
                if made is not None:
                    taken.append(made)
            if slow and quick:
                taken.sort(key=itemgetter(8))
            self.taken += taken

    @staticmethod
    def is_plain(column: Column) -> bool:
        """A column kept in ppm and written in ppm (or without a unit)."""
        head = column.head
        unit = headers.unit_of(head.measurand)
        return unit == "ppm" and (not head.unit or units.conversion(head.unit, unit) == (1.0, 0.0))

    def cell(
        self, i: int, column: Column, known: dict[str, tuple[float | None, str, str]]
    ) -> tuple[float | None, str, str] | tuple[()]:
        """Value, qualifier and mark of a ppm cell; empty for a missing cell or after a problem."""
        text = self.grid.rows[i][column.j]
        if self.decimal == _POINT and _PLAIN_PPM.fullmatch(text):
            known[text] = entry = (float(text), "", "")
            return entry
        found = self.typed(i, column.j, column.head.measurand, column.head.unit)
        if found is None:
            return ()
        known[text] = entry = (found.value, found.qualifier, found.mark)
        return entry

    def one_reading(self, row: _Row, column: Column, *, across: bool) -> TakenReading | None:
        """Any cell of any column; `across`: the column's head carries a replicate mark, too."""
        head = column.head
        found = self.typed(row.i, column.j, head.measurand, head.unit)
        if found is None:
            return None
        number = row.replicate
        if across:
            number = (row.replicate - 1) * 100 + max(head.replicate, 1)
        value, qualifier, mark = found[:3]
        place = self.grid.place(row.i, column.j)
        return TakenReading(
            row.code, head.measurand, value, headers.unit_of(head.measurand), qualifier, number, mark, *place
        )

    def typed(
        self, i: int, j: int, measurand: str, unit: str, largest: float = 1e9, signed: bool = False
    ) -> Parsed | None:
        """A cell as value in the measurand's own unit; None for a missing cell or after a problem. `signed`: it may
        lie below zero."""
        found = self.parse(i, j, signed)
        if found is None or found.missing:
            return None
        kept = headers.unit_of(measurand)
        written = found.unit or unit
        if found.value is None:
            return found
        if written:
            conversion = units.conversion(written, kept)
            if conversion is None:
                self.problem(
                    i, j, headers.unit_problem(measurand, written) or f"“{written}” cannot be converted to {kept}"
                )
                return None
            found = found._replace(value=units.convert(found.value, *conversion))
        if found.value is not None and not abs(found.value) <= min(largest, LARGEST.get(kept, 1e9)):
            self.problem(i, j, f"{found.value:g} {kept} is more than there can be")
            return None
        return found

    def read_check(self, row: _Row, j: int, measurand: str, unit: str) -> None:
        """A check, blank or calibration cell; one that cannot be read is no problem of the samples and is left out.

        A blank or a low standard may read below zero."""
        before = len(self.problems), self.asks_decimal
        found = self.typed(row.i, j, measurand, unit, signed=True)
        if found is None:
            for p in self.problems[before[0] :]:
                self.notices.append(f"{row.label}, {measurand}: {p.reason}. This check reading is left out.")
            del self.problems[before[0] :]
            self.asks_decimal = before[1]
            return
        place = self.grid.place(row.i, j)
        self.checks.append(
            CheckReading(
                place[0],
                place[1],
                row.label,
                row.kind,
                measurand,
                found.value,
                headers.unit_of(measurand),
                found.qualifier,
                found.mark,
                rowkinds.expected_ppm(row.label),
                self.text_of(row.i, "instrument"),
                self.moment_of(row.i, "date"),
            )
        )

    def read_long(self, rows: list[_Row]) -> None:
        """One reading a row: sample, measurand, value, perhaps unit, line and replicate."""
        element = next(iter(self.layout.of_role("element")), None)
        value = next(iter(self.layout.of_role("value")), None)
        unit_column = next(iter(self.layout.of_role("unit")), None)
        if element is None or value is None:
            self.problem(self.layout.header, 0, "a long table needs a column with the element and one with its value")
            return
        values = self.layout.of_role("value")
        if len(values) > 1:
            for c in values:
                self.problem(
                    self.layout.header, c.j, f"{len(values)} columns of values: keep one, set the others to ignore"
                )
            return
        self.used.add(value.j)
        found: list[tuple[_Row, str, str]] = []
        bare: set[str] = set()
        for row in rows:
            text = self.grid.rows[row.i][element.j].strip()
            if not text and _is_missing(self.grid.rows[row.i][value.j]):
                continue
            head = headers.classify(text)
            if head.role == "error" or rowkinds.of_label(text) == "summary":
                self.leave_row(row.i, text, "error row")
                continue
            if head.role != "reading" or not head.measurand:
                self.problem(row.i, element.j, head.problem or f"“{text}” is not known as an element or measurand")
                continue
            stated = self.grid.rows[row.i][unit_column.j].strip() if unit_column else ""
            unit = stated or head.unit or value.head.unit
            problem = headers.unit_problem(head.measurand, unit)
            kept = headers.unit_of(head.measurand)
            if not problem and head.unit and units.conversion(head.unit, kept) != units.conversion(unit, kept):
                problem = f"two units, “{head.unit}” and “{unit}”"
            if problem:
                j = unit_column.j if unit_column and self.grid.rows[row.i][unit_column.j].strip() else element.j
                self.problem(row.i, j, problem)
                continue
            if not unit and headers.unit_of(head.measurand):
                bare.add(head.measurand)
            if head.replicate and row.replicate == 0:
                row = row._replace(replicate=head.replicate)
            found.append((row, head.measurand, unit))
        if bare:
            self.notices.append(
                f"No unit is given for {', '.join(sorted(bare))}: read as "
                + " or ".join(sorted({headers.unit_of(m) for m in bare}))
                + "."
            )
        count = Counter((r.code, m, max(r.replicate, 1)) for r, m, _ in found if r.kind == rowkinds.SAMPLE)
        for row, measurand, unit in found:
            if row.kind != rowkinds.SAMPLE:
                self.read_check(row, value.j, measurand, unit)
                continue
            times = count[(row.code, measurand, max(row.replicate, 1))]
            if times > 1:
                self.problem(
                    row.i, value.j, f"{times} rows for {measurand} of {row.code} without different replicate marks"
                )
                continue
            parsed = self.typed(row.i, value.j, measurand, unit)
            if parsed is not None:
                self.taken.append(
                    TakenReading(
                        row.code,
                        measurand,
                        parsed.value,
                        headers.unit_of(measurand),
                        parsed.qualifier,
                        max(row.replicate, 1),
                        parsed.mark,
                        *self.grid.place(row.i, value.j),
                    )
                )

    # --- what else the export says ---

    def text_of(self, i: int, role: str) -> str:
        for c in self.layout.columns:
            if c.role == role:
                text = self.grid.rows[i][c.j].strip()
                return "" if _is_missing(text) else text
        return ""

    @cached_property
    def day_first(self) -> dict[int, bool | None]:
        """For each date column: day before month, month before day, or None where no date decides it."""
        answers: dict[int, bool | None] = {}
        for c in self.layout.columns:
            if c.role in ("date", "taken_at"):
                pairs = [m for i in self.data_rows() if (m := SLASHED.match(self.grid.rows[i][c.j].strip()))]
                day = any(int(m[1]) > 12 for m in pairs)
                month = any(int(m[2]) > 12 for m in pairs)
                answers[c.j] = True if day and not month else (False if month and not day else None)
        return answers

    def moment_of(self, i: int, role: str) -> dt.datetime | None:
        """A date (and time) of a row; a date that can be read two ways is left out with a notice."""
        columns = self.layout.of_role(role)
        if not columns:
            return None
        text = self.grid.rows[i][columns[0].j].strip()
        if not text or _is_missing(text):
            return None
        if role == "date" and ":" not in text:
            clock = self.text_of(i, "time")
            text = f"{text} {clock}" if clock else text
        found = parse_moment(text, day_first=self.day_first.get(columns[0].j))
        if found is None:
            self.notices.append(
                f"“{columns[0].label}”: some dates can be read two ways or not at all, they are not taken over."
            )
        return found

    def read_facts(self, rows: list[_Row]) -> tuple[SampleFacts, ...]:
        roles = {c.role for c in self.layout.columns}
        if not roles & {"engine", "taken_at", "date", "instrument", "build_h", "oil_h", "note"}:
            return ()
        facts: dict[str, SampleFacts] = {}
        for row in rows:
            if row.kind != rowkinds.SAMPLE or row.code in facts:
                continue
            facts[row.code] = SampleFacts(
                row.code,
                self.grid.place(row.i, 0)[0] if not self.grid.turned else self.grid.place(row.i, self.layout.header)[0],
                self.text_of(row.i, "engine"),
                self.moment_of(row.i, "taken_at"),
                self.moment_of(row.i, "date"),
                self.text_of(row.i, "instrument"),
                self.hours_of(row.i, "build_h"),
                self.hours_of(row.i, "oil_h"),
                self.text_of(row.i, "note"),
            )
        return tuple(facts.values())

    def hours_of(self, i: int, role: str) -> float | None:
        for c in self.layout.of_role(role):
            found = self.parse(i, c.j)
            return found.value if found is not None and not found.qualifier else None
        return None


def _picker(places: list[int]) -> Callable[[Sequence[str]], Sequence[str]]:
    """Takes the cells at these places out of a row."""
    return itemgetter(*places) if len(places) > 1 else (lambda cells: [cells[j] for j in places])


def _suffix_number(row: _Row) -> int:
    return -2 - row.replicate if row.replicate < -1 else row.replicate


def _flagged(text: str, flag: str) -> str:
    """A number and the flag from the column beside it, as they would be written in one cell."""
    if flag[0] in "<>≤≥":
        return f"{flag}{text}"
    if parse_number(flag).qualifier == "<":
        return f"ND ({text})" if text and parse_number(text).value is not None else flag
    return f"{text} {flag}" if text else text


def _is_missing(text: str) -> bool:
    text = text.strip()
    return not text or parse_number(text).missing
