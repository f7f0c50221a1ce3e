"""The page with the call: seen before it is printed or written as PDF."""

from __future__ import annotations

from typing import Any

from PySide6.QtPrintSupport import QPrinter
from PySide6.QtWidgets import QWidget

from benchapp.actions import call, sheets
from benchapp.sheet import page
from benchapp.window import units
from benchapp.window.dialogs.one_page import OnePageDialog

_BOTH: dict[str, Any] = {"said": units.in_both, "drawn": units.plot_in_both}


class SheetDialog(OnePageDialog):
    """Shows the sheet of one sample; prints it or writes it as PDF. Raises BenchProblem where it has no call."""

    asks = "Save the sheet as PDF"
    written = "The sheet is written."

    def __init__(self, session: Any, code: str, parent: QWidget | None = None) -> None:
        self.code = code
        self.content = sheets.content(session.bench, code, **_BOTH)
        name = f"Sheet of sample {self.content.sample}: {self.content.call}"
        super().__init__(session, f"Sheet of sample {code}", name, self._draw, parent)

    def _draw(self, painter: Any, rect: Any) -> None:
        page.draw(painter, rect, self.content)

    def file_name(self) -> str:
        return f"sheet {self.code}.pdf"

    def write(self, path: str, paper: str) -> None:
        sheets.write_pdf(self.session.bench, self.code, path, paper, **_BOTH)

    def prepare(self, printer: QPrinter, paper: str) -> None:
        page.prepare_printer(printer, paper)

    def put_on(self, printer: QPrinter) -> None:
        """The paper names who issued the call; only the preview on the screen is marked as one."""
        bench = self.session.bench
        page.print_sheet(sheets.content(bench, self.code, issued=not bench.read_only, **_BOTH), printer)

    def printed(self) -> None:
        if not self.session.bench.read_only:
            self.session.run(call.issue, self.code)
