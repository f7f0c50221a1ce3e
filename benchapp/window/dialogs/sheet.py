"""The page with the call: seen before it is printed or written as PDF."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QComboBox, QDialog, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from benchapp.actions import call, sheets
from benchapp.problems import BenchProblem
from benchapp.sheet import page
from benchapp.window import settings, theme
from benchapp.window.dialogs.ask import PAGES

PAPERS = ("A4", "Letter")


class PageView(QWidget):
    """The page as large as there is room, ink on paper whatever the look of the window."""

    def __init__(self, content: Any, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.content = content
        self.paper = "A4"
        self.setMinimumSize(420, 560)
        self.setAccessibleName(f"Sheet of sample {content.sample}: {content.call}")

    def set_paper(self, paper: str) -> None:
        self.paper = paper
        self.update()

    def page_rect(self) -> QRectF:
        """Where the page lies in the widget."""
        width_mm, height_mm = page.page_mm(self.paper)
        scale = min(self.width() / width_mm, self.height() / height_mm)
        width, height = width_mm * scale, height_mm * scale
        return QRectF((self.width() - width) / 2, (self.height() - height) / 2, width, height)

    def paintEvent(self, _event) -> None:
        painter = QPainter(self)
        rect = self.page_rect()
        painter.fillRect(rect, Qt.GlobalColor.white)
        page.draw(painter, rect, self.content)
        painter.setPen(theme.colour("line"))
        painter.drawRect(rect.adjusted(0, 0, -1, -1))
        painter.end()


class SheetDialog(QDialog):
    """Shows the sheet of one sample; prints it or writes it as PDF. Raises BenchProblem where it has no call."""

    def __init__(self, session: Any, code: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session, self.code = session, code
        self.content = sheets.content(session.bench, code)
        self.setWindowTitle(f"Sheet of sample {code}")
        self.view = PageView(self.content, self)
        self.papers = QComboBox(self)
        self.papers.addItems(PAPERS)
        self.papers.setAccessibleName("Paper")
        self.papers.setCurrentText(settings.text("sheet/paper", "A4"))
        self.papers.currentTextChanged.connect(self._paper_chosen)
        self._paper_chosen(self.papers.currentText())
        self.trouble = QLabel(self)
        self.trouble.setProperty("role", "trouble")
        self.trouble.setTextFormat(Qt.TextFormat.PlainText)
        self.trouble.setWordWrap(True)
        self.trouble.setVisible(False)
        self.print_button = self._button("&Print…", self._print)
        self.pdf_button = self._button("Save as P&DF…", self._save)
        self.back = self._button("Back", self.reject)
        self.print_button.setDefault(True)
        row = QHBoxLayout()
        for widget in (QLabel("Paper", self), self.papers):
            row.addWidget(widget)
        row.addStretch(1)
        for button in (self.print_button, self.pdf_button, self.back):
            row.addWidget(button)
        column = QVBoxLayout(self)
        column.addWidget(self.view, 1)
        column.addWidget(self.trouble)
        column.addLayout(row)
        self.resize(680, 880)
        self.print_button.setFocus()

    def _button(self, text: str, method) -> QPushButton:
        button = QPushButton(text, self)
        button.clicked.connect(method)
        return button

    def _paper_chosen(self, paper: str) -> None:
        settings.keep("sheet/paper", paper)
        self.view.set_paper(paper if paper in PAPERS else "A4")

    def _save(self) -> None:
        path = self.session.ask.save_file(self, "Save the sheet as PDF", PAGES, f"sheet {self.code}.pdf")
        if path and self._try(sheets.write_pdf, self.session.bench, self.code, path, self.view.paper):
            self.session.note.emit("The sheet is written.", path, "")
            self.accept()

    def _print(self) -> None:
        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        page.prepare_printer(printer, self.view.paper)
        self._dialog = QPrintDialog(printer, self)
        self._printer = printer
        self._dialog.accepted.connect(self._printer_chosen)
        self._dialog.open()

    def _printer_chosen(self) -> None:
        if self._try(self._print_issued):
            if not self.session.bench.read_only:
                self.session.run(call.issue, self.code)
            self.accept()

    def _print_issued(self) -> None:
        """The paper names who issued the call; only the preview on the screen is marked as one."""
        bench = self.session.bench
        page.print_sheet(sheets.content(bench, self.code, issued=not bench.read_only), self._printer)

    def _try(self, verb, *args) -> bool:
        """Runs a verb; False, and the three sentences above the buttons, where it met a problem."""
        try:
            verb(*args)
        except BenchProblem as problem:
            self.trouble.setText(f"{problem.what}\n{problem.means}\n{problem.do}")
            self.trouble.setVisible(True)
            return False
        return True
