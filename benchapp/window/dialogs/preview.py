"""Beside a form: the parts of a family with their materials, and which of them can be told apart."""

from __future__ import annotations

from typing import Any

from PySide6.QtWidgets import QTabWidget, QVBoxLayout, QWidget

from benchapp.actions import looks
from benchapp.actions.looks import TellApart
from benchapp.problems import BenchProblem
from benchapp.records import Family
from benchapp.window.fleet import columns
from benchapp.window.fleet.apart import ApartPanel
from benchapp.window.fleet.reasons import label
from benchapp.window.tables import RowsModel, Table


class FamilyPreview(QWidget):
    """Shows one family; what can be told apart is worked out in the background."""

    def __init__(self, session: Any, parent: QWidget | None = None, *, with_parts: bool = True) -> None:
        super().__init__(parent)
        self.session = session
        self._shown = ""
        self.notes = label("", self, "quiet")
        self.parts = Table(RowsModel(columns.FAMILY_PARTS, columns.part_key), "Parts of the family")
        self.apart = ApartPanel()
        tabs = QTabWidget(self)
        tabs.setAccessibleName("Parts and what can be told apart")
        tabs.setDocumentMode(True)
        tabs.tabBar().setDrawBase(False)
        if with_parts:
            tabs.addTab(self.parts, "&Parts")
        else:
            self.parts.setVisible(False)
            self.parts.setParent(self)
        tabs.addTab(self.apart, "&Told apart")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.notes)
        column.addWidget(tabs, 1)

    def show_family(self, family: Family | None) -> None:
        """Shows a family; None empties it."""
        self._shown = family.name if family else ""
        if family is None:
            self.notes.setText("Choose a family to see its parts.")
            self.parts.rows.set_rows(())
            self.apart.show_found(None, "")
            return
        materials = self.session.bench.materials()
        self.notes.setText(" ".join(filter(None, (family.layout + "." if family.layout else "", family.notes))))
        self.parts.rows.set_rows(tuple(looks.part_rows(family.parts, materials, family)))
        self.apart.show_found(None)
        self.session.background(apart_or_why, (family, materials), self._found, kind="family preview")

    def _found(self, answer: tuple[str, TellApart | None, str]) -> None:
        name, found, trouble = answer
        if name == self._shown:
            self.apart.show_found(found, trouble)


def apart_or_why(family: Family, materials: Any) -> tuple[str, TellApart | None, str]:
    """What can be told apart in a family, or why that cannot be said."""
    if not family.parts:
        return family.name, None, "No parts yet."
    try:
        return family.name, looks.tell_apart(family.parts, materials), ""
    except BenchProblem as problem:
        return family.name, None, f"{problem.what} {problem.means} {problem.do}"
