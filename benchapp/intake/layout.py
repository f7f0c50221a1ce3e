"""Finding the table inside a sheet: which way it lies, which row is its head, what each column is.

Works on a grid that lies as the results do (samples down); a transposed sheet is turned first and `Grid.place` turns
every number back to what the person's sheet shows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from benchapp.intake import headers, units
from benchapp.intake.headers import UNKNOWN, Header, classify
from benchapp.intake.mapping import PasteMapping
from benchapp.intake.table import TEXT, RawTable

_LOOK_DOWN = 80
_LOOK_ACROSS = 12
_LOOK_ALONG = 400


@dataclass(frozen=True, slots=True)
class Grid:
    """A rectangular grid of texts with samples down; `turned` when the sheet has them across."""

    rows: Sequence[Sequence[str]]
    kinds: Sequence[str]
    """One letter a cell, as in RawTable; empty strings for text."""
    first_row: int
    first_column: int
    turned: bool

    def place(self, i: int, j: int) -> tuple[int, int]:
        """Row and column as the person's sheet shows them."""
        return (
            (self.first_row + j, self.first_column + i) if self.turned else (self.first_row + i, self.first_column + j)
        )

    def kind(self, i: int, j: int) -> str:
        letters = self.kinds[i] if i < len(self.kinds) else ""
        return letters[j] if j < len(letters) else TEXT


def grid_of(table: RawTable, *, turned: bool) -> Grid:
    """The table as a rectangle: ragged rows are filled with empty cells on the right, nothing is shifted."""
    width = table.width
    rows: list[tuple[str, ...]] = [r if len(r) == width else r + ("",) * (width - len(r)) for r in table.rows]
    kinds: list[str] = []
    if any(k.strip(TEXT) for k in table.kinds):
        kinds = [k.ljust(width, TEXT) for k in table.kinds]
        kinds += [TEXT * width] * (len(rows) - len(kinds))
    if turned:
        return Grid(
            list(zip(*rows, strict=True)),
            ["".join(k) for k in zip(*kinds, strict=True)] if kinds else (),
            table.first_row,
            table.first_column,
            turned=True,
        )
    return Grid(rows, kinds, table.first_row, table.first_column, turned=False)


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the grid and what it is."""

    j: int
    label: str
    """Its head as written, blanks collapsed."""
    head: Header
    occurrence: int = 1
    settled: bool = False
    """The person (a mapping) said so."""
    notice: str = ""

    @property
    def role(self) -> str:
        return self.head.role


@dataclass(frozen=True, slots=True)
class Layout:
    """Where things are in the grid."""

    grid: Grid
    shape: str
    """'wide', 'transposed', 'long' or '' when no head was found."""
    header: int = -1
    columns: tuple[Column, ...] = ()
    unit_rows: frozenset[int] = field(default_factory=frozenset)
    """Rows under or over the head with units or wavelengths."""
    first_data: int = 0
    notices: tuple[str, ...] = ()

    def of_role(self, role: str) -> list[Column]:
        return [c for c in self.columns if c.head.role == role]


def find_layout(table: RawTable, mapping: PasteMapping) -> Layout:
    """The layout of a table; `shape` is '' when nothing in it names an element or another measurand."""
    known = {rule.header: rule for rule in mapping.columns if rule.role in ("reading", "mean")}
    upright = grid_of(table, turned=False)
    row, row_score, long = _best_row(upright.rows[:_LOOK_DOWN], known)
    if mapping.shape == "long" or (long and mapping.shape == ""):
        return _columns(upright, "long", _long_row(upright, row), mapping)
    if mapping.shape == "wide" and row >= 0:
        return _columns(upright, "wide", row, mapping)
    left_edge = [row[:_LOOK_ACROSS] for row in upright.rows[:_LOOK_ALONG]]
    column, column_score, _ = _best_row(list(zip(*left_edge, strict=True)), known)
    if column >= 0 and (mapping.shape == "transposed" or column_score > max(row_score, 1) or row < 0):
        return _columns(grid_of(table, turned=True), "transposed", column, mapping)
    if row >= 0:
        return _columns(upright, "wide", row, mapping)
    return Layout(upright, "")


def _best_row(rows: Sequence[Sequence[str]], known: dict[str, object]) -> tuple[int, float, bool]:
    """The row that names most measurands (-1: none), its count, and whether it is the head of a long table."""
    best, best_score = -1, 0.0
    for i, cells in enumerate(rows):
        looked_at = cells[:_LOOK_ALONG]
        heads = [head for c in looked_at if (head := classify(c)) is not UNKNOWN]  # nearly all cells are numbers
        roles = {h.role for h in heads}
        if "element" in roles and "value" in roles:
            return i, 99.0, True
        names = {
            (h.measurand, h.replicate) for h in heads if h.role in ("reading", "mean") and (h.measurand or h.problem)
        }
        score = float(len(names))
        if known:
            texts = [" ".join(c.split()) for c in looked_at]
            score += sum(1 for text in texts if text and text in known and not text[0].isdigit())
        if score and "sample" in roles:
            score += 0.5
        if score > best_score:
            best, best_score = i, score
    return best, best_score, False


def _long_row(grid: Grid, fallback: int) -> int:
    for i, cells in enumerate(grid.rows[:_LOOK_DOWN]):
        roles = {classify(c).role for c in cells if c.strip()}
        if "element" in roles and "value" in roles:
            return i
    return fallback


def _columns(grid: Grid, shape: str, header: int, mapping: PasteMapping) -> Layout:
    if header < 0:
        return Layout(grid, "")
    labels = [" ".join(c.split()) for c in grid.rows[header]]
    heads = [classify(label) if label else UNKNOWN for label in labels]
    unit_rows: dict[int, str] = {}
    first_data = header + 1
    for i in range(header + 1, min(header + 6, len(grid.rows))):
        what = _unit_row(grid, i, heads)
        if what:
            unit_rows[i] = what
            first_data = i + 1
        elif any(c.strip() for c in grid.rows[i]):
            break
    for i in (header - 1, header - 2):
        what = _unit_row(grid, i, heads) if i >= 0 else ""
        if what:
            unit_rows[i] = what
    # a head whose name stands a row higher or lower (merged cells)
    for j, label in enumerate(labels):
        if label:
            continue
        for i in (header - 1, header - 2, *sorted(unit_rows)):
            text = " ".join(grid.rows[i][j].split()) if 0 <= i < len(grid.rows) else ""
            found = classify(text) if text else UNKNOWN
            if (
                found.role not in ("unknown", "unit", "error", "value")
                and not found.measurand
                and not units.is_unit(text)
            ):
                labels[j], heads[j] = text, found
                break
    notices: list[str] = []
    columns: list[Column] = []
    seen: Counter[str] = Counter()
    last = UNKNOWN
    for j, (label, head) in enumerate(zip(labels, heads, strict=True)):
        seen[label] += 1
        for i, what in unit_rows.items():
            cell = grid.rows[i][j].strip()
            if what == "wavelength" or not cell:
                continue
            if headers.classify(cell).role == "error":
                head = replace(head, role="error", problem="")
            elif units.is_unit(cell) and head.role in ("reading", "mean", "error"):
                head = _with_unit(head, cell.strip("[](){} "))
        if head.role == "error" and not head.measurand:
            head = replace(head, measurand=last.measurand)
        columns.append(_ruled(Column(j, label, head, seen[label]), mapping, notices))
        if columns[-1].role in ("reading", "mean"):
            last = columns[-1].head
    present = {(c.label, c.occurrence) for c in columns}
    notices += [
        f"The remembered column “{rule.header}” is not in this table."
        for rule in mapping.columns
        if rule.role != "ignore" and (rule.header, rule.occurrence) not in present
    ]
    return Layout(grid, shape, header, tuple(columns), frozenset(unit_rows), first_data, tuple(notices))


def _with_unit(head: Header, unit: str) -> Header:
    if head.unit and head.role in ("reading", "mean"):
        kept = headers.unit_of(head.measurand)
        if units.conversion(head.unit, kept) != units.conversion(unit, kept):
            return replace(head, problem=f"two units, “{head.unit}” in the head and “{unit}” in the unit row")
        return head
    problem = head.problem or (headers.unit_problem(head.measurand, unit) if head.role == "reading" else "")
    return replace(head, unit=unit, problem=problem)


def _ruled(column: Column, mapping: PasteMapping, notices: list[str]) -> Column:
    """The column as the person settled it once. A unit that the table itself states wins over the remembered one."""
    rule = mapping.rule(column.label, column.occurrence)
    if rule is None:
        return column
    unit = column.head.unit
    if unit and rule.unit and units.normal(unit) != units.normal(rule.unit) and rule.role == "reading":
        notices.append(f"“{column.label}” is in {unit} here, in {rule.unit} before: {unit} is used.")
    unit = unit or rule.unit
    measurand = rule.measurand or column.head.measurand
    head = Header(rule.role, measurand, unit, column.head.replicate, column.head.wavelength)
    if rule.role == "reading" and measurand:
        head = replace(head, problem=headers.unit_problem(measurand, unit))
    elif rule.role == "reading":
        head = replace(head, problem=column.head.problem or "which element or measurand is this?")
    return replace(column, head=head, settled=True)


def _unit_row(grid: Grid, i: int, heads: list[Header]) -> str:
    """'unit' (also with ± under an element), 'wavelength' or '' for the row i under or over the head."""
    if not 0 <= i < len(grid.rows):
        return ""
    under = [grid.rows[i][j].strip() for j, h in enumerate(heads) if h.role in ("reading", "mean", "error")]
    filled = [c for c in under if c]
    if not filled:
        return ""
    if all(units.is_unit(c) or classify(c).role == "error" for c in filled):
        return "unit"
    if len(filled) * 2 >= len(under) and all(headers.is_wavelength(c) for c in filled):
        others = [grid.rows[i][j].strip() for j, h in enumerate(heads) if h.role == "sample"]
        if all(
            not c or classify(c).role in ("wavelength", "unit") or c.lower() in ("nm", "wavelength", "line")
            for c in others
        ):
            return "wavelength"
    return ""
