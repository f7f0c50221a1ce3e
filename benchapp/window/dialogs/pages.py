"""A dialog that shows pages before they are printed or written as PDF: labels, the day, the sampling card."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QComboBox, QDialog, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from benchapp.problems import BenchProblem
from benchapp.sheet import paper as sheet_paper
from benchapp.sheet.page import page_mm
from benchapp.sheet.paper import DrawPage
from benchapp.window import settings, theme
from benchapp.window.dialogs.ask import PAGES
from benchapp.window.whole import open_at


class PagesView(QWidget):
    """One page at a time, as large as there is room; Page Up and Page Down turn it."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.pages: Sequence[DrawPage] = ()
        self.size_mm = page_mm("A4")
        self.number = 0
        self.setAccessibleName(name)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(280, 240)

    def show_pages(self, pages: Sequence[DrawPage], size_mm: tuple[float, float]) -> None:
        self.pages, self.size_mm = pages, size_mm
        self.number = min(self.number, max(0, len(pages) - 1))
        self.update()

    def turn(self, by: int) -> None:
        """Shows a page further on."""
        self.number = max(0, min(len(self.pages) - 1, self.number + by))
        self.update()

    def paintEvent(self, _event) -> None:
        if not self.pages:
            return
        width_mm, height_mm = self.size_mm
        scale = min(self.width() / width_mm, self.height() / height_mm)
        width, height = width_mm * scale, height_mm * scale
        rect = QRectF((self.width() - width) / 2, (self.height() - height) / 2, width, height)
        painter = QPainter(self)
        painter.fillRect(rect, Qt.GlobalColor.white)
        self.pages[self.number](painter, rect)
        painter.setPen(theme.colour("line"))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(rect.adjusted(0, 0, -1, -1))
        painter.end()

    def keyPressEvent(self, event) -> None:
        steps = {Qt.Key.Key_PageDown: 1, Qt.Key.Key_PageUp: -1}
        if event.key() in steps:
            self.turn(steps[event.key()])
            return
        super().keyPressEvent(event)


class PagesDialog(QDialog):
    """Shows pages and prints or writes them. Subclasses say which (`pages`) and may put fields beside (`aside`)."""

    title = ""
    file_name = "page.pdf"
    papers: tuple[str, ...] = ("A4", "Letter")
    setting = "sheet/paper"

    def __init__(self, session: Any, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.setWindowTitle(self.title)
        self.view = PagesView(self.title, self)
        self.turned = QLabel(self)
        self.trouble = QLabel(self)
        self.trouble.setProperty("role", "trouble")
        self.trouble.setTextFormat(Qt.TextFormat.PlainText)
        self.trouble.setWordWrap(True)
        self.trouble.setVisible(False)
        self.paper = QComboBox(self)
        self.paper.addItems(list(self.papers))
        self.paper.setAccessibleName("Paper")
        self.paper.setCurrentText(settings.text(self.setting, "A4"))
        self.paper.currentTextChanged.connect(self._paper_chosen)
        self.print = self._button("&Print…", self._print)
        self.pdf = self._button("Save as P&DF…", self.save)
        self.back = self._button("Back", self.reject)
        self.print.setDefault(True)
        self._lay_out()
        self.show_pages()

    # --- for subclasses ----------------------------------------------------------------------------------------------

    def pages(self, paper: str) -> list[DrawPage]:
        """The pages on this paper. Raises BenchProblem."""
        raise NotImplementedError

    def size_mm(self, paper: str) -> tuple[float, float]:
        """Size of the paper [mm]."""
        return page_mm(paper)

    def aside(self) -> QWidget | None:
        """What stands beside the page, or None."""
        return None

    def printed(self) -> None:
        """The pages are on paper or in a file."""

    # --- building ----------------------------------------------------------------------------------------------------

    def _button(self, text: str, method) -> QPushButton:
        made = QPushButton(text, self)
        made.setAutoDefault(False)
        made.clicked.connect(method)
        return made

    def _lay_out(self) -> None:
        gap = theme.current().gap_px
        middle = QHBoxLayout()
        middle.setSpacing(2 * gap)
        side = self.aside()
        if side is not None:
            middle.addWidget(side, 2)
        right = QVBoxLayout()
        right.addWidget(self.view, 1)
        right.addWidget(self.turned)
        middle.addLayout(right, 3)
        row = QHBoxLayout()
        row.addWidget(QLabel("Paper", self))
        row.addWidget(self.paper)
        row.addStretch(1)
        for button in (self.print, self.pdf, self.back):
            row.addWidget(button)
        column = QVBoxLayout(self)
        column.setContentsMargins(2 * gap, 2 * gap, 2 * gap, 2 * gap)
        column.setSpacing(gap)
        column.addLayout(middle, 1)
        column.addWidget(self.trouble)
        column.addLayout(row)
        open_at(self, 920 if side is not None else 680, 820)

    # --- showing and writing -----------------------------------------------------------------------------------------

    def show_pages(self) -> None:
        """Shows the pages as they would be printed now."""
        try:
            made = self.pages(self.paper.currentText())
        except BenchProblem as problem:
            self._tell(problem)
            made = []
        else:
            self.trouble.setVisible(False)
        self.view.show_pages(made, self.size_mm(self.paper.currentText()))
        for button in (self.print, self.pdf):
            button.setEnabled(bool(made))
        count = len(made)
        self.turned.setText(f"{count} pages: Page Down turns to the next" if count > 1 else "")

    def _paper_chosen(self, paper: str) -> None:
        settings.keep(self.setting, paper)
        self.show_pages()

    def save(self) -> None:
        """Writes the pages as PDF."""
        path = self.session.ask.save_file(self, f"Save as PDF: {self.title.lower()}", PAGES, self.file_name)
        if not path:
            return
        try:
            sheet_paper.write_pages(self.view.pages, self.view.size_mm, self.title, path)
        except BenchProblem as problem:
            self._tell(problem)
            return
        self.printed()
        self.session.note.emit(f"{self.title}: written.", path, "")
        self.accept()

    def _print(self) -> None:
        self._printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        self._printer.setPageLayout(sheet_paper.layout(*self.view.size_mm))
        self._printer.setFullPage(True)
        self._dialog = QPrintDialog(self._printer, self)
        self._dialog.accepted.connect(self._printer_chosen)
        self._dialog.open()

    def _printer_chosen(self) -> None:
        try:
            sheet_paper.print_pages(self.view.pages, self._printer)
        except BenchProblem as problem:
            self._tell(problem)
            return
        self.printed()
        self.accept()

    def _tell(self, problem: BenchProblem) -> None:
        self.trouble.setText(f"{problem.what}\n{problem.means}\n{problem.do}")
        self.trouble.setVisible(True)
