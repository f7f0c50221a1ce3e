"""The raw table: every cell as text, numbered as the person's sheet shows it. Nothing is interpreted here.

`kinds` says, one letter a cell, how the source stored it, because a spreadsheet that already turned a sample code
into a date or a number cannot be believed silently:

    t  text as written           n  a stored number            d  a stored date or time
    b  a stored yes/no           x  a stored error (#DIV/0!)   f  a formula without a stored value
    e  typed by the person into the preview
    l  a stored number that the sheet shows with letters or signs of its own
"""

from __future__ import annotations

from dataclasses import dataclass, replace

TEXT, NUMBER, DATE, FLAG, ERROR, FORMULA, TYPED, SHOWN = "t", "n", "d", "b", "x", "f", "e", "l"
PERCENT = "p"
"""Only between the readers: a stored fraction that the sheet shows as a percentage; it reaches the table as `5 %`."""


@dataclass(frozen=True, slots=True)
class RawTable:
    """Rows of text cells, ragged as they came. `first_row` and `first_column` are the sheet's numbers of the first
    cell."""

    rows: tuple[tuple[str, ...], ...]
    first_row: int = 1
    first_column: int = 1
    name: str = ""
    notes: tuple[str, ...] = ()
    """What the reader did that the person should know (encoding guessed, separator found), in words."""
    kinds: tuple[str, ...] = ()
    """One string a row, one letter a cell (see above); empty when everything is text."""
    decimal: str = ""
    """Decimal sign where the source declares it, else empty."""

    @property
    def width(self) -> int:
        return max((len(row) for row in self.rows), default=0)

    def cell(self, row: int, column: int) -> str:
        """Text of a cell by the sheet's numbers; outside the table it is empty."""
        i, j = row - self.first_row, column - self.first_column
        if 0 <= i < len(self.rows) and 0 <= j < len(self.rows[i]):
            return self.rows[i][j]
        return ""

    def kind(self, row: int, column: int) -> str:
        """How the source stored a cell, by the sheet's numbers."""
        i, j = row - self.first_row, column - self.first_column
        if 0 <= i < len(self.kinds) and 0 <= j < len(self.kinds[i]):
            return self.kinds[i][j]
        return TEXT

    def with_cell(self, row: int, column: int, text: str) -> RawTable:
        """The same table with one cell as the person typed it; rows and columns by the sheet's numbers.

        A cell below or right of the table extends it; one above or left of it is a ValueError."""
        i, j = row - self.first_row, column - self.first_column
        if i < 0 or j < 0:
            raise ValueError(f"cell ({row}, {column}) lies before the table")
        rows = list(self.rows)
        kinds = list(self.kinds) if self.kinds else [TEXT * len(r) for r in rows]
        while len(rows) <= i:
            rows.append(())
            kinds.append("")
        cells = list(rows[i]) + [""] * (j + 1 - len(rows[i]))
        letters = list(kinds[i]) + [TEXT] * (len(cells) - len(kinds[i]))
        cells[j] = text
        letters[j] = TYPED
        rows[i] = tuple(cells)
        kinds[i] = "".join(letters)
        return replace(self, rows=tuple(rows), kinds=tuple(kinds))
