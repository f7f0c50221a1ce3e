"""The one service that asks the person: files, yes or no, and forms. Tests hand the session another one."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QFileDialog, QMessageBox, QWidget

BENCH_FILES = "Bench file (*.bench);;All files (*)"
WORKBOOKS = "Workbook (*.xlsx)"
TABLES = "Tables (*.xlsx *.xls *.ods *.csv *.tsv *.txt);;All files (*)"
PAGES = "PDF (*.pdf)"


class Ask:
    """Asks with the system's own dialogs. Each method gives '' or False where the person turned back."""

    def open_file(self, parent: QWidget, title: str, kinds: str, folder: str = "") -> str:
        """Path of a file to read, or ''."""
        return QFileDialog.getOpenFileName(parent, title, folder, kinds)[0]

    def save_file(self, parent: QWidget, title: str, kinds: str, suggested: str = "") -> str:
        """Path of a file to write (its suffix added where it is missing), or ''."""
        path, chosen = QFileDialog.getSaveFileName(parent, title, suggested, kinds)
        return with_suffix(path, chosen or kinds)

    def folder(self, parent: QWidget, title: str, start: str = "") -> str:
        """Path of a folder, or ''."""
        return QFileDialog.getExistingDirectory(parent, title, start)

    def confirm(self, parent: QWidget, what: str, means: str, yes: str, no: str = "Back") -> bool:
        """True where the person wants what cannot be undone. The safe answer is the default."""
        box = QMessageBox(parent)
        box.setTextFormat(Qt.TextFormat.PlainText)
        box.setText(what)
        box.setInformativeText(means)
        agree = box.addButton(yes, QMessageBox.ButtonRole.AcceptRole)
        back = box.addButton(no, QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(back)
        box.setEscapeButton(back)
        box.exec()
        return box.clickedButton() is agree

    def choose(self, parent: QWidget, what: str, means: str, answers: tuple[str, ...]) -> str:
        """One of a few answers as buttons, the first being the default, or ''."""
        box = QMessageBox(parent)
        box.setTextFormat(Qt.TextFormat.PlainText)
        box.setText(what)
        box.setInformativeText(means)
        buttons = {box.addButton(answer, QMessageBox.ButtonRole.ActionRole): answer for answer in answers}
        back = box.addButton("Back", QMessageBox.ButtonRole.RejectRole)
        box.setEscapeButton(back)
        box.exec()
        return next((answer for button, answer in buttons.items() if button is box.clickedButton()), "")

    def show(self, dialog: QDialog) -> None:
        """Opens a form above its window; it runs its own verb and goes when it is done."""
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.open()


def with_suffix(path: str, kinds: str) -> str:
    """`path` with the suffix of the chosen kind where it has none."""
    name = path.replace("\\", "/").rpartition("/")[2]
    start = kinds.find("*.")
    if not path or "." in name or start < 0:
        return path
    suffix = kinds[start + 1 :].split(")")[0].split(" ")[0]
    return path + suffix
