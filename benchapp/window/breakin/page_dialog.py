"""A page that answers a question: seen before it is printed or written as PDF."""

from __future__ import annotations

from typing import Any

from PySide6.QtPrintSupport import QPrinter
from PySide6.QtWidgets import QWidget

from benchapp.sheet import answer_page
from benchapp.window import units
from benchapp.window.dialogs.one_page import OnePageDialog


class PageDialog(OnePageDialog):
    """Shows a page made by a module of `sheet` (its `draw`, `write_pdf`, `print_page`)."""

    def __init__(self, session: Any, page: Any, module: Any, parent: QWidget | None = None) -> None:
        self.page, self.module = units.rewritten(page), module
        page = self.page
        super().__init__(session, page.title, f"{page.title}: {page.answer.sentence}", self._draw, parent)

    def _draw(self, painter: Any, rect: Any) -> None:
        self.module.draw(painter, rect, self.page)

    def file_name(self) -> str:
        return self.page.answer.file_name

    def write(self, path: str, paper: str) -> None:
        self.module.write_pdf(self.page, path, paper)

    def prepare(self, printer: QPrinter, paper: str) -> None:
        printer.setPageLayout(answer_page.layout(paper))
        printer.setFullPage(True)

    def put_on(self, printer: QPrinter) -> None:
        self.module.print_page(self.page, printer)
