"""Writes a table as it stands on the screen to a spreadsheet."""

from __future__ import annotations

from typing import Any

from benchapp.problems import BenchProblem
from benchapp.sheet import export
from benchapp.window.dialogs.ask import with_suffix
from benchapp.window.tables import Table

KINDS = "Spreadsheet (*.xlsx);;Text (*.csv)"


def export_rows(session: Any, parent: Any, name: str, table: Table) -> None:
    """Asks where, and writes the shown rows: raw numbers where a column has them, else its words."""
    path = with_suffix(session.ask.save_file(parent, f"Export {name.lower()}", KINDS, f"{name}.xlsx"), KINDS)
    if not path:
        return
    header = [column.title for column in table.rows.columns]
    rows = [[_value(column, row) for column in table.rows.columns] for row in table.rows.shown()]
    write = export.write_csv if path.lower().endswith(".csv") else export.write_xlsx
    try:
        write(path, header, rows)
    except BenchProblem as problem:
        session.problem.emit(problem)
        return
    session.note.emit("The table is written as it stood on the screen.", path, "")


def _value(column: Any, row: Any) -> Any:
    if column.number and column.sort is not None:
        return column.sort(row)
    return column.text(row)
