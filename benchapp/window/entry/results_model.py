"""The results grid as a table model: one row a measurand, what was typed beside what the bench already knows.

What was typed is kept letter for letter; what could not be read stays where it is, marked, with its reason.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal

from benchapp.records import Call, ElementRate, Oil, Reading, Sample
from benchapp.window.entry import look, words
from benchapp.window.entry.lines import Line, line_for, lines_for
from benchapp.window.entry.steps import Step, new_stack
from benchapp.window.entry.values import Entered, decimal_of, read_value

Index = QModelIndex | QPersistentModelIndex

NAME, UNIT, VALUE = range(3)
"""The fixed columns; values of repeats follow VALUE, then the columns of `BESIDE`."""
BESIDE = ("Previous", "Fresh oil", "mg/h", "Ceiling")
BESIDE_WHY = (
    "What the sample before this one of the same build had.",
    "What the fresh oil of this fill has, so that its additives are not taken for wear.",
    "Metal per running hour once the sample is judged, with its standard error.",
    "What the break-in sample of this build reached; a sound engine does not reach it again.",
)
KEY_ROLE = int(Qt.ItemDataRole.UserRole) + 1
PROBLEM_ROLE = int(Qt.ItemDataRole.UserRole) + 2
HEADING_ROLE = int(Qt.ItemDataRole.UserRole) + 3

Key = tuple[str, int]
"""Measurand and replicate number."""


@dataclass(frozen=True, slots=True)
class CellProblem:
    """A typed cell that cannot be read: which, what stands in it, why not."""

    measurand: str
    replicate: int
    text: str
    reason: str


class ResultsModel(QAbstractTableModel):
    """Results as typed (editable), and beside them the previous sample, the fresh oil, the rate and the ceiling."""

    edited = Signal()
    """Something was typed, pasted or taken back."""

    def __init__(self, parent: Any = None) -> None:
        super().__init__(parent)
        self.stack = new_stack(self)
        self._lines: tuple[Line, ...] = lines_for()
        self._texts: dict[Key, str] = {}
        self._typed: dict[Key, Entered] = {}
        self._declared = ""
        self._short = False
        self._units: dict[str, str] = {}
        self._repeats = 1
        self._previous: Mapping[str, Reading] = {}
        self._fresh: Oil | None = None
        self._rates: Mapping[str, ElementRate] = {}

    # --- what Qt asks ------------------------------------------------------------------------------------------------

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self._lines)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else VALUE + self._repeats + len(BESIDE)

    def flags(self, index: Index) -> Qt.ItemFlag:
        if not index.isValid() or self._lines[index.row()].is_heading:
            return Qt.ItemFlag.NoItemFlags
        shown = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        return shown | Qt.ItemFlag.ItemIsEditable if self.is_value(index.column()) else shown

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> Any:
        if orientation == Qt.Orientation.Vertical:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self._titles()[section]
        if role == Qt.ItemDataRole.ToolTipRole:
            beside = section - VALUE - self._repeats
            return BESIDE_WHY[beside] if beside >= 0 else None
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return int(self._alignment(section))
        return None

    def data(self, index: Index, role: int = 0) -> Any:
        if not index.isValid():
            return None
        line = self._lines[index.row()]
        if line.is_heading:
            return self._heading(line, index.column(), role)
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return self._text(line, index.column())
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return int(self._alignment(index.column()))
        if role == KEY_ROLE:
            return line.measurand
        if role == HEADING_ROLE:
            return False
        return self._dress(line, index.column(), role)

    def setData(self, index: Index, value: Any, role: int = int(Qt.ItemDataRole.EditRole)) -> bool:
        if role != Qt.ItemDataRole.EditRole or not self.flags(index) & Qt.ItemFlag.ItemIsEditable:
            return False
        key = (self._lines[index.row()].measurand, index.column() - VALUE + 1)
        text = "" if value is None else str(value)
        if text == self._entered(key).text:
            return True
        self.set_texts({key: text})
        return True

    # --- what the view does ------------------------------------------------------------------------------------------

    def show_short(self, short: bool) -> None:
        """Units behind the names instead of in a column of their own, where room is scarce."""
        if short != self._short:
            self._short = short
            self._redraw()

    @property
    def repeats(self) -> int:
        return self._repeats

    @property
    def lines(self) -> tuple[Line, ...]:
        return self._lines

    def is_value(self, column: int) -> bool:
        return VALUE <= column < VALUE + self._repeats

    def texts(self) -> dict[Key, str]:
        """Everything that is typed, as typed."""
        return dict(self._texts)

    def units(self) -> dict[str, str]:
        """Units that differ from the usual ones, by measurand."""
        return dict(self._units)

    def set_texts(self, texts: Mapping[Key, str]) -> None:
        """Puts these texts into their cells as one step that can be taken back; an empty text clears a cell."""
        before = self.texts()
        after = {key: text for key, text in {**before, **texts}.items() if text.strip()}
        if after != before:
            self.stack.push(Step("Type results", self._put, before, after))

    def declare_decimal(self, sign: str) -> None:
        """The decimal sign of what is typed: '.', ',' or '' (found from the cells)."""
        if sign != self._declared:
            self._declared = sign
            self._read()
            self.edited.emit()

    @property
    def asks_decimal(self) -> bool:
        """Some cell can only be read once the decimal sign is said."""
        return any(entered.ask_decimal for entered in self._typed.values())

    def replace_all(self, texts: Mapping[Key, str], units: Mapping[str, str] | None = None) -> None:
        """A whole other sample: forgets what is typed and takes these texts instead, without saying "edited"."""
        self.stack.clear()
        self._units = dict(units or {})
        self._texts = {key: text for key, text in texts.items() if text.strip()}
        self._rebuild({measurand for measurand, _ in self._texts}, max((n for _, n in self._texts), default=1))
        self._read()

    def show_readings(self, readings: Iterable[Reading]) -> None:
        """The readings of a sample that is in the bench file."""
        readings = tuple(readings)
        self.replace_all(
            {(item.measurand, item.replicate): words.reading(item) for item in readings},
            {item.measurand: item.unit for item in readings},
        )

    def set_beside(self, previous: Sample | None, fresh: Oil | None) -> None:
        """What is shown beside the typed values: the sample before, and the fill's fresh oil."""
        first = {} if previous is None else {item.measurand: item for item in reversed(previous.readings)}
        self._previous, self._fresh = first, fresh
        self._redraw()

    def set_call(self, call: Call | None) -> None:
        """The judged rates and ceilings; None while there is no call."""
        self._rates = {} if call is None else {rate.element: rate for rate in call.elements}
        self._redraw()

    def add_line(self, measurand: str) -> int:
        """Shows a rarer measurand too; returns its row."""
        if all(line.measurand != measurand for line in self._lines):
            self._rebuild({*self._shown(), measurand}, self._repeats)
        return self.row_of(measurand)

    def add_repeat(self) -> int:
        """One more column for a repeat measurement; returns the column."""
        self._rebuild(set(self._shown()), self._repeats + 1)
        return VALUE + self._repeats - 1

    def row_of(self, measurand: str) -> int:
        """Row of a measurand, or -1."""
        return next((row for row, line in enumerate(self._lines) if line.measurand == measurand), -1)

    def next_row(self, row: int, step: int = 1) -> int:
        """The next row that can be typed into, skipping headings; `row` itself at the end."""
        candidate = row + step
        while 0 <= candidate < len(self._lines):
            if not self._lines[candidate].is_heading:
                return candidate
            candidate += step
        return row

    def readings(self) -> tuple[Reading, ...]:
        """What is typed and can be read, in the order of the rows."""
        order = {line.measurand: row for row, line in enumerate(self._lines)}
        keys = sorted(self._typed, key=lambda key: (order.get(key[0], len(order)), key[1]))
        return tuple(self._reading(key) for key in keys if not (self._typed[key].problem or self._typed[key].blank))

    def problems(self) -> tuple[CellProblem, ...]:
        """What is typed and cannot be read, in the order of the rows."""
        found = []
        for line in self._lines:
            for replicate in range(1, self._repeats + 1):
                entered = self._entered((line.measurand, replicate))
                if entered.problem:
                    found.append(CellProblem(line.measurand, replicate, entered.text, entered.problem))
        return tuple(found)

    # --- inside ------------------------------------------------------------------------------------------------------

    def _entered(self, key: Key) -> Entered:
        return self._typed.get(key) or Entered("")

    def _unit(self, line: Line) -> str:
        return self._units.get(line.measurand, line.unit)

    def _reading(self, key: Key) -> Reading:
        entered = self._typed[key]
        unit = self._unit(line_for(key[0]))
        return Reading(key[0], entered.value, unit, entered.qualifier, key[1], entered.mark)

    def _shown(self) -> tuple[str, ...]:
        return tuple(line.measurand for line in self._lines if not line.is_heading)

    def _put(self, texts: dict[Key, str]) -> None:
        self._texts = dict(texts)
        self._make_room(texts)
        self._read()
        self.edited.emit()

    def _read(self) -> None:
        """Reads every typed cell again: one cell can settle the decimal sign of all the others."""
        decimal = decimal_of(self._texts.values(), self._declared)
        self._typed = {
            key: read_value(text, self._unit(line_for(key[0])), decimal) for key, text in self._texts.items()
        }
        self._redraw()

    def _make_room(self, texts: Mapping[Key, str]) -> None:
        shown = set(self._shown())
        measurands = {measurand for measurand, _ in texts}
        repeats = max([self._repeats, *(replicate for _, replicate in texts)])
        if not measurands <= shown or repeats > self._repeats:
            self._rebuild(shown | measurands, repeats)

    def _rebuild(self, measurands: set[str], repeats: int) -> None:
        self.beginResetModel()
        self._repeats = repeats
        self._lines = lines_for((measurand, self._units.get(measurand, "")) for measurand in sorted(measurands))
        self.endResetModel()

    def _redraw(self) -> None:
        self.dataChanged.emit(self.index(0, 0), self.index(self.rowCount() - 1, self.columnCount() - 1))

    def _titles(self) -> list[str]:
        values = ["Result"] if self._repeats == 1 else [f"Reading {n + 1}" for n in range(self._repeats)]
        return ["Measurand", "Unit", *values, *BESIDE]

    def _alignment(self, column: int) -> Qt.AlignmentFlag:
        side = Qt.AlignmentFlag.AlignLeft if column <= UNIT else Qt.AlignmentFlag.AlignRight
        return side | Qt.AlignmentFlag.AlignVCenter

    def _text(self, line: Line, column: int) -> str:
        if column == NAME:
            return self._name(line)
        if column == UNIT:
            return self._unit(line)
        if self.is_value(column):
            return self._entered((line.measurand, column - VALUE + 1)).text
        return self._beside(line.measurand, column - VALUE - self._repeats)

    def _name(self, line: Line) -> str:
        unit = self._unit(line)
        name = f"{line.measurand}  {line.name}" if line.name else line.measurand
        return f"{name} [{unit}]" if self._short and unit not in ("", "ppm") else name

    def _beside(self, measurand: str, which: int) -> str:
        rate = self._rates.get(measurand)
        if which == 0:
            return words.reading(self._previous.get(measurand))
        if which == 1:
            return words.number(fresh_value(self._fresh, measurand), 4)
        if rate is None:
            return ""
        if which == 2:
            return words.with_error(rate.rate_mg_h, rate.rate_se_mg_h)
        return words.number(rate.ceiling_ppm)

    def _heading(self, line: Line, column: int, role: int) -> Any:
        if role == Qt.ItemDataRole.DisplayRole and column == NAME:
            return line.group
        if role == HEADING_ROLE:
            return True
        if role == Qt.ItemDataRole.FontRole:
            return look.font(bold=True)
        if role == Qt.ItemDataRole.BackgroundRole:
            return look.ground("heading")
        if role == Qt.ItemDataRole.ForegroundRole:
            return look.ink("heading")
        return None

    def _dress(self, line: Line, column: int, role: int) -> Any:
        if not self.is_value(column):
            return look.ink("quiet") if role == Qt.ItemDataRole.ForegroundRole and column != NAME else None
        entered = self._entered((line.measurand, column - VALUE + 1))
        if role == PROBLEM_ROLE:
            return entered.problem
        if role == Qt.ItemDataRole.ToolTipRole:
            return words.hover(entered.problem or said(entered, self._unit(line))) or None
        if role == Qt.ItemDataRole.FontRole:
            return look.font(bold=True)
        if role == Qt.ItemDataRole.DecorationRole and entered.problem:
            return look.icon("problem")
        if role == Qt.ItemDataRole.BackgroundRole:
            return look.ground("problem" if entered.problem else "field")
        return None


def fresh_value(oil: Oil | None, measurand: str) -> float | None:
    """What the fresh oil has of a measurand, in the measurand's usual unit; None where it is not known."""
    if oil is None:
        return None
    of_its_own = {"KV40": oil.kv40_cst, "KV100": oil.kv100_cst, "TBN": oil.tbn, "TAN": oil.tan}
    return of_its_own[measurand] if measurand in of_its_own else oil.fresh_ppm.get(measurand)


def said(entered: Entered, unit: str) -> str:
    """What was understood, in words, where it is more than a plain number."""
    if entered.blank or entered.problem:
        return ""
    if entered.value is None:
        return "not detected: below what the instrument can see"
    sign = {"<": "below ", ">": "above "}.get(entered.qualifier, "")
    mark = f", marked “{entered.mark}”" if entered.mark else ""
    return f"{sign}{words.exact(entered.value)} {unit}{mark}"


def clear(model: ResultsModel, keys: Iterable[Key]) -> dict[Key, str]:
    """The texts that empty these cells."""
    return {key: "" for key in keys if key in model.texts()}
