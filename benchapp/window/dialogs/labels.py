"""Bottle labels: which samples, which sheet, where the first free place is; seen before they are printed."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import (
    QCheckBox,
    QFormLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from benchapp.actions import labels
from benchapp.sheet import labels as sheet
from benchapp.sheet.paper import DrawPage
from benchapp.window import theme
from benchapp.window.dialogs.pages import PagesDialog

LEAD = "The next bottles get codes that go on from the last one. A scanner that types the code opens the sample."


class LabelsDialog(PagesDialog):
    """Labels of the engine at hand: for its next bottles, and for samples that are ticked."""

    title = "Bottle labels"
    file_name = "labels.pdf"
    papers = (*sheet.GRIDS, sheet.SINGLE)
    setting = "labels/paper"

    def __init__(self, session: Any, parent: QWidget | None = None, *, code: str = "") -> None:
        self.engine = session.selected_engine
        self._code = code
        super().__init__(session, parent)
        self.setWindowTitle(f"{self.title}: {self.engine}")
        self.next.setFocus()

    def aside(self) -> QWidget:
        panel = QWidget(self)
        lead = QLabel(LEAD, panel)
        lead.setWordWrap(True)
        lead.setProperty("role", "quiet")
        self.next = self._spin("Next bottles", 0, labels.MOST_AT_ONCE, 0 if self._code else 6)
        self.first = self._spin("First free place", 1, 30, 1)
        self.card = QCheckBox("With the sampling &card", panel)
        self.card.setToolTip("A page to hang where the bottles are: how to draw a sample and what to note")
        self.card.toggled.connect(self.show_pages)
        self.list = QListWidget(panel)
        self.list.setAccessibleName("Samples to label")
        self._fill()
        self.list.itemChanged.connect(self._ticked)
        form = QFormLayout()
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        form.addRow("&Next bottles", self.next)
        form.addRow("&First free place on the sheet", self.first)
        column = QVBoxLayout(panel)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.current().gap_px)
        column.addWidget(lead)
        column.addLayout(form)
        column.addWidget(self.card)
        head = QLabel("&Samples that have a code (Space ticks)", panel)
        head.setBuddy(self.list)
        column.addWidget(head)
        column.addWidget(self.list, 1)
        return panel

    def _spin(self, name: str, low: int, high: int, value: int) -> QSpinBox:
        made = QSpinBox(self)
        made.setRange(low, high)
        made.setValue(value)
        made.setAccessibleName(name)
        made.setMinimumHeight(theme.current().target_px)
        made.valueChanged.connect(self.show_pages)
        return made

    def _fill(self) -> None:
        engine = self.session.bench.engine(self.engine)
        for build in reversed(engine.builds):
            for sample in reversed(build.samples):
                item = QListWidgetItem(f"{sample.code}   build {build.number}, {sample.build_h:.1f} h", self.list)
                item.setData(Qt.ItemDataRole.UserRole, sample.code)
                item.setSizeHint(QSize(0, theme.current().row_px))
                item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
                ticked = sample.code == self._code
                item.setCheckState(Qt.CheckState.Checked if ticked else Qt.CheckState.Unchecked)
                if ticked:
                    self.list.setCurrentItem(item)
        if self.list.count() and self.list.currentRow() < 0:
            self.list.setCurrentRow(0)

    def _ticked(self, _item: QListWidgetItem) -> None:
        self.show_pages()

    def codes(self) -> list[str]:
        """Codes of the ticked samples, in the order of the list."""
        items = (self.list.item(row) for row in range(self.list.count()))
        return [item.data(Qt.ItemDataRole.UserRole) for item in items if item.checkState() == Qt.CheckState.Checked]

    def pages(self, paper: str) -> list[DrawPage]:
        bench = self.session.bench
        made = labels.of_samples(bench, self.codes()) + labels.of_next(bench, self.engine, self.next.value())
        return labels.pages(bench, made, paper, self.first.value() - 1, with_card=self.card.isChecked())

    def size_mm(self, paper: str) -> tuple[float, float]:
        return sheet.size_mm(paper)
