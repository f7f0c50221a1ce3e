"""A pasted sheet and what is read from it, as immutable values: what the preview shows and its steps go between."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from benchapp.intake.layout import find_layout
from benchapp.intake.mapping import PasteMapping
from benchapp.intake.paste import PasteResult, interpret
from benchapp.intake.table import TYPED, RawTable
from benchapp.problems import BenchProblem
from benchapp.window.entry import words

KEPT_CELLS = 40_000
"""Cells of a sheet that is still kept as a draft; a larger one is quicker pasted again than written at every step."""


@dataclass(frozen=True, slots=True)
class Pasted:
    """One state of the preview: the sheet as it is now, and what the person settled about its columns."""

    table: RawTable
    mapping: PasteMapping = field(default_factory=PasteMapping)
    first: RawTable = field(default_factory=lambda: RawTable(()))
    """The sheet as it was pasted, before anything was changed here."""

    @property
    def cells(self) -> int:
        return sum(len(row) for row in self.table.rows)

    def changed(self) -> list[tuple[int, int]]:
        """Cells that the person typed into, by the sheet's numbers."""
        table = self.table
        return [
            (table.first_row + i, table.first_column + j)
            for i, letters_ in enumerate(table.kinds)
            for j, letter in enumerate(letters_)
            if letter == TYPED
        ]

    def as_draft(self, instrument: str = "") -> dict[str, Any]:
        table = self.table
        return {
            "name": table.name,
            "first_row": table.first_row,
            "first_column": table.first_column,
            "rows": [list(row) for row in table.rows],
            "kinds": list(table.kinds),
            "notes": list(table.notes),
            "was": [[row, column, self.first.cell(row, column)] for row, column in self.changed()],
            "decimal": table.decimal,
            "mapping": self.mapping.to_dict(),
            "instrument": instrument,
        }

    @classmethod
    def from_draft(cls, data: Mapping[str, Any]) -> Pasted | None:
        """The sheet of a draft; None where the draft is none."""
        try:
            rows = tuple(tuple(str(cell) for cell in row) for row in data["rows"])
            table = RawTable(
                rows,
                int(data.get("first_row", 1)),
                int(data.get("first_column", 1)),
                str(data.get("name", "")),
                tuple(str(note) for note in data.get("notes", ())),
                tuple(str(kind) for kind in data.get("kinds", ())),
                str(data.get("decimal", "")),
            )
            first = table
            for row, column, text in data.get("was", ()):
                first = first.with_cell(int(row), int(column), str(text))
            return cls(table, PasteMapping.from_dict(data.get("mapping") or {}), first)
        except (KeyError, TypeError, ValueError, BenchProblem):
            return None


@dataclass(frozen=True, slots=True)
class Meaning:
    """What one column of the sheet (one row, where samples stand side by side) is taken for."""

    header: str
    occurrence: int
    role: str
    measurand: str = ""
    unit: str = ""
    settled: bool = False

    @property
    def words(self) -> str:
        """In a few words, for the head of the preview."""
        if self.role in ("reading", "mean") and self.measurand:
            return f"{self.measurand} {self.unit}".strip()
        return ROLE_WORDS.get(self.role, "not used")


ROLE_WORDS = {
    "sample": "sample code",
    "reading": "which?",
    "error": "error, left out",
    "mean": "mean",
    "replicate": "repeat number",
    "kind": "kind of row",
    "element": "measurand",
    "value": "value",
    "unit": "unit",
    "wavelength": "line",
    "engine": "engine",
    "taken_at": "taken at",
    "date": "date",
    "time": "time",
    "instrument": "instrument",
    "build_h": "build hours",
    "oil_h": "hours on oil",
    "note": "note",
    "ignore": "left out",
}


@dataclass(frozen=True, slots=True)
class Preview:
    """A state and what is read from it. `meanings`: number of the sheet's column (row, if `turned`) -> what it is."""

    pasted: Pasted
    result: PasteResult
    meanings: Mapping[int, Meaning]
    turned: bool
    samples: tuple[str, ...] = ()
    """Codes with readings, in the order of the sheet."""
    summary: str = ""
    """How much is taken, in words."""
    codes: Mapping[int, str] = field(default_factory=dict)
    """Number of the sheet's row (column, if `turned`) -> the sample it belongs to."""

    @property
    def takes(self) -> bool:
        """There is something to be taken."""
        return bool(self.result.taken or self.result.check_runs)

    @property
    def advice(self) -> str:
        """What to do next, in words."""
        if self.result.asks_decimal:
            return "Say which sign is the decimal sign: it cannot be told from this sheet."
        if self.result.problems:
            return "Type over the marked cells (F8: next problem), or change what a column means (Alt+Down)."
        if self.takes:
            return "Everything could be read. Check it against the sheet, then confirm."
        return "Nothing in this sheet could be taken for results."


def read(pasted: Pasted) -> Preview:
    """Reads a state. Pure, and quick for a team's sheets; large ones are read in the background."""
    layout = find_layout(pasted.table, pasted.mapping)
    result = interpret(pasted.table, pasted.mapping)
    meanings = {}
    for column in layout.columns:
        row, number = layout.grid.place(max(layout.header, 0), column.j)
        head = column.head
        meanings[row if layout.grid.turned else number] = Meaning(
            column.label, column.occurrence, head.role, head.measurand, head.unit, column.settled
        )
    turned = layout.grid.turned
    codes = {(item.column if turned else item.row): item.sample for item in result.taken}
    return Preview(pasted, result, meanings, turned, result.samples, summary(result), codes)


def read_fitting(pasted: Pasted) -> Preview:
    """As `read`; where the remembered columns make nothing of this sheet, it is read afresh."""
    found = read(pasted)
    if found.result.taken or pasted.mapping == PasteMapping():
        return found
    afresh = read(replace(pasted, mapping=PasteMapping()))
    return afresh if afresh.result.taken else found


def engines_said(result: PasteResult) -> dict[str, str]:
    """Sample code -> the engine that the sheet names for it."""
    return {fact.sample: fact.engine for fact in result.facts if fact.engine}


def letters(number: int) -> str:
    """Name of a sheet's column: 1 -> A, 27 -> AA."""
    name = ""
    while number > 0:
        number, rest = divmod(number - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def summary(result: PasteResult) -> str:
    """How much is taken, in words."""
    rows = len({item.row for item in result.left_out if not item.column_number})
    columns = len(result.left_out) - sum(1 for item in result.left_out if not item.column_number)
    out = [words.counted(rows, "row")] if rows else []
    out += [words.counted(columns, "column")] if columns else []
    left = f"{' and '.join(out)} left out" if out else "no row left out"
    checked = len({item.row for item in result.check_runs})
    checks = f", {words.counted(checked, 'instrument check')}" if checked else ""
    of = f"{words.counted(len(result.taken), 'reading')} of {words.counted(len(result.samples), 'sample')} taken"
    return (
        f"{of}{checks}, {words.counted(len(result.problems), 'problem') if result.problems else 'no problem'}, {left}."
    )


def whose(samples: Collection[str], known: Collection[str], waiting: Collection[str]) -> str:
    """Which samples the bench file knows, which will wait for an engine."""
    there = [code for code in samples if code in known]
    still = [code for code in samples if code not in there and code in waiting]
    new = [code for code in samples if code not in there and code not in still]
    parts = []
    if there:
        parts.append(f"{words.listed(there)}: in the bench file.")
    if still:
        parts.append(f"{words.listed(still)}: waiting for an engine already.")
    if new:
        parts.append(f"{words.listed(new)}: new, {'waits' if len(new) == 1 else 'wait'} for an engine after this.")
    return " ".join(parts)


EMPTY = Pasted(RawTable(()))
"""No sheet."""
