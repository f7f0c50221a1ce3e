"""Writes a table as it stands on the screen to a spreadsheet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QTableView

from benchapp.problems import BenchProblem
from benchapp.sheet import export
from benchapp.window.dialogs.ask import with_suffix
from benchapp.window.tables import Table

KINDS = "Spreadsheet (*.xlsx);;Text (*.csv)"


def export_rows(session: Any, parent: Any, name: str, table: Table) -> None:
    """Asks where, and writes the shown rows: raw numbers where a column has them, else its words."""
    header = [column.title for column in table.rows.columns]
    rows = [[_value(column, row) for column in table.rows.columns] for row in table.rows.shown()]
    write_rows(session, parent, name, header, rows)


def write_rows(session: Any, parent: Any, name: str, header: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Asks where, and writes a table."""
    path = with_suffix(session.ask.save_file(parent, f"Export {name.lower()}", KINDS, f"{name}.xlsx"), KINDS)
    if not path:
        return
    write = export.write_csv if path.lower().endswith(".csv") else export.write_xlsx
    try:
        write(path, header, rows)
    except BenchProblem as problem:
        session.problem.emit(problem)
        return
    session.note.emit("The table is written as it stood on the screen.", path, "")


def export_view(session: Any, parent: Any, name: str, view: QTableView) -> None:
    """Writes any other table as it stands: what its cells show, numbers where they are nothing else."""
    model = view.model()
    shown = [column for column in range(model.columnCount()) if not view.isColumnHidden(column)]
    header = [str(model.headerData(column, Qt.Orientation.Horizontal) or "") for column in shown]
    rows = [[_plain(model.index(row, column).data()) for column in shown] for row in range(model.rowCount())]
    write_rows(session, parent, name, header, [row for row in rows if any(cell not in (None, "") for cell in row)])


def _plain(text: Any) -> Any:
    """A cell's text, as a number where it is written as one and nothing would be lost (a code 007 stays text)."""
    said = "" if text is None else str(text)
    try:
        number = float(said)
    except ValueError:
        return said
    return number if said in (f"{number:g}", str(number), f"{number:.0f}") else said


def _value(column: Any, row: Any) -> Any:
    if column.number and column.sort is not None:
        return column.sort(row)
    return column.text(row)
