"""A page that answers a question: seen before it is printed or written as PDF."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QComboBox, QDialog, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from benchapp.problems import BenchProblem
from benchapp.sheet import answer_page
from benchapp.sheet.page import PAPERS, page_mm
from benchapp.window import settings, theme
from benchapp.window.dialogs.ask import PAGES


class PageView(QWidget):
    """The page as large as there is room, ink on paper whatever the look of the window."""

    def __init__(self, page: Any, painter_module: Any, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.page, self._draw = page, painter_module.draw
        self.paper = "A4"
        self.setMinimumSize(420, 560)
        self.setAccessibleName(f"{page.title}: {page.answer.sentence}")

    def set_paper(self, paper: str) -> None:
        self.paper = paper
        self.update()

    def paintEvent(self, _event) -> None:
        width_mm, height_mm = page_mm(self.paper)
        scale = min(self.width() / width_mm, self.height() / height_mm)
        width, height = width_mm * scale, height_mm * scale
        rect = QRectF((self.width() - width) / 2, (self.height() - height) / 2, width, height)
        painter = QPainter(self)
        painter.fillRect(rect, Qt.GlobalColor.white)
        self._draw(painter, rect, self.page)
        painter.setPen(theme.colour("line"))
        painter.drawRect(rect.adjusted(0, 0, -1, -1))
        painter.end()


class PageDialog(QDialog):
    """Shows a page made by a module of `sheet` (its `draw`, `write_pdf`, `print_page`)."""

    def __init__(self, session: Any, page: Any, module: Any, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session, self.page, self.module = session, page, module
        self.setWindowTitle(page.title)
        self.view = PageView(page, module, self)
        self.papers = QComboBox(self)
        self.papers.addItems(list(PAPERS))
        self.papers.setAccessibleName("Paper")
        self.papers.setCurrentText(settings.text("sheet/paper", "A4"))
        self.papers.currentTextChanged.connect(self._paper_chosen)
        self.view.set_paper(self.papers.currentText())
        self.trouble = QLabel(self)
        self.trouble.setProperty("role", "trouble")
        self.trouble.setTextFormat(Qt.TextFormat.PlainText)
        self.trouble.setWordWrap(True)
        self.trouble.setVisible(False)
        self.print = self._button("&Print…", self._print)
        self.pdf = self._button("Save as P&DF…", self.save)
        self.back = self._button("Back", self.reject)
        self.print.setDefault(True)
        row = QHBoxLayout()
        row.addWidget(QLabel("Paper", self))
        row.addWidget(self.papers)
        row.addStretch(1)
        for button in (self.print, self.pdf, self.back):
            row.addWidget(button)
        column = QVBoxLayout(self)
        column.addWidget(self.view, 1)
        column.addWidget(self.trouble)
        column.addLayout(row)
        self.resize(680, 880)
        self.print.setFocus()

    def _button(self, text: str, method) -> QPushButton:
        made = QPushButton(text, self)
        made.clicked.connect(method)
        return made

    def _paper_chosen(self, paper: str) -> None:
        settings.keep("sheet/paper", paper)
        self.view.set_paper(paper)

    def save(self) -> None:
        """Writes the page as PDF."""
        path = self.session.ask.save_file(self, "Save the page as PDF", PAGES, self.page.answer.file_name)
        if path and self._try(self.module.write_pdf, self.page, path, self.view.paper):
            self.session.note.emit("The page is written.", path, "")
            self.accept()

    def _print(self) -> None:
        self._printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        self._printer.setPageLayout(answer_page.layout(self.view.paper))
        self._printer.setFullPage(True)
        self._dialog = QPrintDialog(self._printer, self)
        self._dialog.accepted.connect(self._printer_chosen)
        self._dialog.open()

    def _printer_chosen(self) -> None:
        if self._try(self.module.print_page, self.page, self._printer):
            self.accept()

    def _try(self, verb, *args) -> bool:
        try:
            verb(*args)
        except BenchProblem as problem:
            self.trouble.setText(f"{problem.what}\n{problem.means}\n{problem.do}")
            self.trouble.setVisible(True)
            return False
        return True
