"""A dialog with one page in it: seen before it is printed or written as PDF."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QComboBox, QDialog, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from benchapp.problems import BenchProblem
from benchapp.sheet.page import PAPERS, page_mm
from benchapp.window import settings, theme
from benchapp.window.dialogs.ask import PAGES

Draw = Callable[[QPainter, QRectF], None]


class PageView(QWidget):
    """The page as large as there is room, ink on paper whatever the look of the window."""

    def __init__(self, draw: Draw, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._draw = draw
        self.paper = "A4"
        self.setMinimumSize(420, 560)
        self.setAccessibleName(name)

    def set_paper(self, paper: str) -> None:
        """Shows the page on another paper."""
        self.paper = paper if paper in PAPERS else "A4"
        self.update()

    def page_rect(self) -> QRectF:
        """Where the page lies in the widget."""
        width_mm, height_mm = page_mm(self.paper)
        scale = min(self.width() / width_mm, self.height() / height_mm)
        width, height = width_mm * scale, height_mm * scale
        return QRectF((self.width() - width) / 2, (self.height() - height) / 2, width, height)

    def paintEvent(self, _event) -> None:
        painter = QPainter(self)
        rect = self.page_rect()
        painter.fillRect(rect, Qt.GlobalColor.white)
        self._draw(painter, rect)
        painter.setPen(theme.colour("line"))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(rect.adjusted(0, 0, -1, -1))
        painter.end()


class OnePageDialog(QDialog):
    """Shows a page; subclasses say how it is written, put on a printer and what is told then."""

    asks = "Save the page as PDF"
    written = "The page is written."

    def __init__(self, session: Any, title: str, name: str, draw: Draw, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.setWindowTitle(title)
        self.view = PageView(draw, name, self)
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
        self.print_button = self._button("&Print…", self._print)
        self.pdf_button = self._button("Save as P&DF…", self.save)
        self.back = self._button("Back", self.reject)
        self.print_button.setDefault(True)
        row = QHBoxLayout()
        row.addWidget(QLabel("Paper", self))
        row.addWidget(self.papers)
        row.addStretch(1)
        for button in (self.print_button, self.pdf_button, self.back):
            row.addWidget(button)
        column = QVBoxLayout(self)
        column.addWidget(self.view, 1)
        column.addWidget(self.trouble)
        column.addLayout(row)
        self.resize(680, 880)
        self.print_button.setFocus()

    # --- for subclasses ----------------------------------------------------------------------------------------------

    def file_name(self) -> str:
        """The name that a PDF is offered."""
        raise NotImplementedError

    def write(self, path: str, paper: str) -> None:
        """Writes the page as PDF. Raises BenchProblem."""
        raise NotImplementedError

    def prepare(self, printer: QPrinter, paper: str) -> None:
        """Sets a printer up for the paper."""
        raise NotImplementedError

    def put_on(self, printer: QPrinter) -> None:
        """Prints the page. Raises BenchProblem."""
        raise NotImplementedError

    def printed(self) -> None:
        """The page is on paper."""

    # --- what the person does ----------------------------------------------------------------------------------------

    def _button(self, text: str, method: Callable[[], Any]) -> QPushButton:
        made = QPushButton(text, self)
        made.clicked.connect(method)
        return made

    def _paper_chosen(self, paper: str) -> None:
        settings.keep("sheet/paper", paper)
        self.view.set_paper(paper)

    def save(self) -> None:
        """Asks where, and writes the page as PDF."""
        path = self.session.ask.save_file(self, self.asks, PAGES, self.file_name())
        if path and self._try(self.write, path, self.view.paper):
            self.session.note.emit(self.written, path, "")
            self.accept()

    def _print(self) -> None:
        self._printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        self.prepare(self._printer, self.view.paper)
        self._dialog = QPrintDialog(self._printer, self)
        self._dialog.accepted.connect(self._printer_chosen)
        self._dialog.open()

    def _printer_chosen(self) -> None:
        if self._try(self.put_on, self._printer):
            self.printed()
            self.accept()

    def _try(self, verb: Callable[..., Any], *args: Any) -> bool:
        """Runs a verb; False, and the three sentences above the buttons, where it met a problem."""
        try:
            verb(*args)
        except BenchProblem as problem:
            self.trouble.setText(f"{problem.what}\n{problem.means}\n{problem.do}")
            self.trouble.setVisible(True)
            return False
        return True
