"""What a pasted table turned out to hold: readings, problems, rows left out, checks, facts. Types only."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, NamedTuple

from benchapp.intake.mapping import PasteMapping

LARGEST = {"ppm": 1e6, "%": 100.0}
"""Largest value that a unit allows; anything else up to 1e9."""


class TakenReading(NamedTuple):
    """One reading as it will be taken: in the unit its measurand is kept in. Row and column as the sheet shows them."""

    sample: str
    measurand: str
    value: float | None
    unit: str
    qualifier: str
    replicate: int
    mark: str
    row: int
    column: int


class Problem(NamedTuple):
    """One cell (or row) that a person must settle. `column` is its head; `column_number` as the sheet shows it, 0 for
    none."""

    row: int
    column: str
    column_number: int
    cell: str
    reason: str


class LeftOut(NamedTuple):
    """A row that is no sample, or a column that is no result (`column_number` > 0)."""

    row: int
    label: str
    reason: str
    column_number: int = 0


class CheckReading(NamedTuple):
    """One reading of a check standard, blank or calibration row found inside a results export."""

    row: int
    column: int
    label: str
    kind: str
    """'check', 'blank' or 'calibration'."""
    measurand: str
    value: float | None
    unit: str
    qualifier: str
    mark: str
    expected: float | None
    """Nominal value where the label states one [ppm]."""
    instrument: str
    run_at: dt.datetime | None


class SampleFacts(NamedTuple):
    """What else the export says about one sample; empty or None where it says nothing."""

    sample: str
    row: int
    engine: str = ""
    taken_at: dt.datetime | None = None
    measured_at: dt.datetime | None = None
    instrument: str = ""
    build_h: float | None = None
    oil_h: float | None = None
    note: str = ""


@dataclass(frozen=True)
class PasteResult:
    """What `interpret` found. Numbers of rows and columns are the person's sheet's."""

    taken: tuple[TakenReading, ...]
    problems: tuple[Problem, ...]
    left_out: tuple[LeftOut, ...]
    check_runs: tuple[CheckReading, ...]
    mapping: PasteMapping
    facts: tuple[SampleFacts, ...] = ()
    notices: tuple[str, ...] = ()
    """What the person should know though it stops nothing (no unit given, codes stored as numbers)."""
    asks_decimal: bool = False
    """The decimal sign must be declared: interpret(table, mapping, decimal='.' or ',')."""
    _roles: Mapping[tuple[int, int], str] = field(default_factory=dict, repr=False, compare=False)
    _area: tuple[int, int, int, int] = field(default=(0, 0, 0, 0), repr=False, compare=False)
    _row_roles: Mapping[int, str] = field(default_factory=dict, repr=False, compare=False)
    _column_roles: Mapping[int, str] = field(default_factory=dict, repr=False, compare=False)
    _turned: bool = field(default=False, repr=False, compare=False)

    @cached_property
    def _problem_at(self) -> dict[tuple[int, int], str]:
        cells: dict[tuple[int, int], str] = {}
        for p in self.problems:
            cells.setdefault((p.row, p.column_number), p.reason)
        return cells

    def role(self, row: int, column: int) -> str:
        """What the preview shows at a cell: 'title', 'header', 'unit', 'sample', 'reading', 'problem', 'left out',
        'note' or '' outside the table."""
        if (row, column) in self._problem_at:
            return "problem"
        across, down = (column, row) if self._turned else (row, column)
        row_role = self._row_roles.get(across, "")
        if row_role == "samples":
            return self._column_roles.get(down, "note")
        if row_role == "left out" and self._column_roles.get(down) == "note":
            return "note"
        return row_role

    def reason(self, row: int, column: int) -> str:
        """Why a cell is a problem, or ''."""
        return self._problem_at.get((row, column), "")

    @cached_property
    def cell_roles(self) -> dict[tuple[int, int], str]:
        """(row, column) -> role, for every cell of the table."""
        top, left, bottom, right = self._area
        return {(r, c): self.role(r, c) for r in range(top, bottom) for c in range(left, right)}

    @property
    def samples(self) -> tuple[str, ...]:
        """Sample codes with readings, in the order of the sheet."""
        return tuple(dict.fromkeys(t.sample for t in self.taken))

    def to_json(self, committed: bool) -> dict[str, Any]:
        """The contract's paste JSON as a dict."""
        return {
            "taken": [
                {
                    "sample": t.sample,
                    "measurand": t.measurand,
                    "value": t.value,
                    "unit": t.unit,
                    "qualifier": t.qualifier or None,
                    "replicate": t.replicate,
                }
                for t in self.taken
            ],
            "problems": [{"row": p.row, "column": p.column, "cell": p.cell, "reason": p.reason} for p in self.problems],
            "left_out": [{"row": x.row, "label": x.label, "reason": x.reason} for x in self.left_out],
            "committed": committed,
        }
