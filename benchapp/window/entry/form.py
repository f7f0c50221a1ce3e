"""The sample form: whose oil this is, and the hours behind it. Each field with its unit and one line that says why."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QEvent, QObject, QSignalBlocker, QSize, Qt, Signal
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QCheckBox, QComboBox, QCompleter, QGridLayout, QLabel, QLineEdit, QScrollArea, QWidget

from benchapp.records import Fleet
from benchapp.window import spacing, theme
from benchapp.window.entry import words
from benchapp.window.entry.form_text import (
    BEFORE_TOP_UP,
    DRAWN,
    FieldProblem,
    FormText,
    find_build,
    find_engine,
    moment_text,
)


@dataclass(frozen=True, slots=True)
class About:
    """What is written beside a field: its name, its unit, why it is asked, an example."""

    label: str
    why: str
    unit: str = ""
    example: str = ""


ABOUT = {
    "code": About("&Sample", "As on the bottle: one code, one bottle."),
    "engine": About("&Engine", "Whose oil this is; a part of the name will do.", example="type or choose"),
    "build": About("B&uild", "Wear is counted from rebuild to rebuild."),
    "fill": About("Fi&ll", "The oil it was drawn from: fresh oil is its zero."),
    "taken_at": About("&Taken at", "When the bottle was filled; “now” will do.", example="2026-05-03 14:20"),
    "build_h": About("Build &hours", "Running hours since its first start.", "h", "12.4"),
    "oil_h": About("Hours on &oil", "Running hours since this oil went in.", "h", "3.2"),
    "drawn": About("D&rawn", "Hot oil carries the metal; cold, it has settled."),
    "before_top_up": About("Be&fore top-up", "New oil just poured in thins what is read."),
    "instrument": About("&Instrument", "Another instrument is not the same trend.", example="type or choose"),
    "break_in": About("Brea&k-in", "It sets this build's own ceiling."),
    "notes": About("&Notes", "What the car had just done; anything odd."),
}


class SampleForm(QScrollArea):
    """The form. It holds text and says when it was edited; what the text means is `form_text`'s business."""

    edited = Signal()
    whose_changed = Signal()
    """Another engine, build or fill was chosen: hours and what is shown beside the results change with it."""
    hours_typed = Signal()
    """The build hours were left after typing."""
    sheet_pasted = Signal(str)
    """What was pasted into a field is a table."""
    done = Signal()
    """Enter was pressed in the last field."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._fleet: Fleet | None = None
        self._editors: dict[str, QWidget] = {}
        self._whys: dict[str, QLabel] = {}
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setAccessibleName("Sample form")
        self._page = QWidget(self)
        self._grid = QGridLayout(self._page)
        self._grid.setColumnStretch(1, 1)
        spacing.around(self._grid, 0, 0, 1, 0)
        self._grid.setVerticalSpacing(0)
        for name in ABOUT:
            self._add(name, self._editor(name))
        self._grid.setRowStretch(self._grid.rowCount(), 1)
        self.setWidget(self._page)
        theme.follow(self, self._fit)
        self._fit()

    # --- building ----------------------------------------------------------------------------------------------------

    def _editor(self, name: str) -> QWidget:
        if name in ("engine", "instrument"):
            return self._typed_choice(name)
        if name in ("build", "fill"):
            return self._choice(())
        if name == "drawn":
            return self._choice([word for word, _ in DRAWN])
        if name == "before_top_up":
            return self._choice([word for word, _ in BEFORE_TOP_UP])
        if name == "break_in":
            box = QCheckBox("yes", self._page)
            box.toggled.connect(self.edited)
            return box
        line = QLineEdit(self._page)
        line.setPlaceholderText(ABOUT[name].example)
        line.textEdited.connect(self._on_edited)
        if name == "build_h":
            line.editingFinished.connect(self.hours_typed)
        if name == "taken_at":
            line.editingFinished.connect(self._now)
        return line

    def _typed_choice(self, name: str) -> QComboBox:
        box = QComboBox(self._page)
        box.setEditable(True)
        box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        completer = QCompleter(box.model(), box)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        completer.setFilterMode(Qt.MatchFlag.MatchContains)
        completer.setCompletionMode(QCompleter.CompletionMode.PopupCompletion)
        box.setCompleter(completer)
        box.lineEdit().setPlaceholderText(ABOUT[name].example)
        box.currentTextChanged.connect(self._on_engine if name == "engine" else self._on_edited)
        return box

    def _choice(self, items: Iterable[str]) -> QComboBox:
        box = QComboBox(self._page)
        box.addItems(list(items))
        box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        box.activated.connect(self._on_chosen)
        return box

    def _add(self, name: str, editor: QWidget) -> None:
        about = ABOUT[name]
        row = self._grid.rowCount()
        label = QLabel(about.label, self._page)
        label.setBuddy(editor)
        editor.setObjectName(f"field_{name}")
        plain = about.label.replace("&", "")
        editor.setAccessibleName(f"{plain} [{about.unit}]" if about.unit else plain)
        editor.setAccessibleDescription(about.why)
        if isinstance(editor, QComboBox) and editor.lineEdit() is not None:
            editor.lineEdit().setAccessibleName(plain)
        editor.setToolTip(about.why)
        editor.installEventFilter(self)
        why = QLabel(about.why, self._page)
        why.setTextFormat(Qt.TextFormat.PlainText)  # words from a file or a person never become markup
        why.setProperty("role", "quiet")
        why.setWordWrap(True)
        spacing.around(why, 0, 0, 0, 0.5)
        self._grid.addWidget(label, row, 0)
        self._grid.addWidget(editor, row, 1)
        if about.unit:
            self._grid.addWidget(QLabel(about.unit, self._page), row, 2)
        self._grid.addWidget(why, row + 1, 0, 1, 3)
        self._editors[name], self._whys[name] = editor, why
        self._shrink(why)

    def _fit(self) -> None:
        """Room for a date in every field, small print below."""
        self._grid.setHorizontalSpacing(theme.current().gap_px)
        date = self.fontMetrics().horizontalAdvance(f"{ABOUT['taken_at'].example}MMM")
        for editor in self._editors.values():
            editor.setMinimumWidth(date)
        for why in self._whys.values():
            self._shrink(why)

    def minimumSizeHint(self) -> QSize:
        """As wide as its fields need in this look, never cut off at the side."""
        bar = self.verticalScrollBar().sizeHint().width()
        return QSize(self._page.minimumSizeHint().width() + bar, super().minimumSizeHint().height())

    def _shrink(self, why: QLabel) -> None:
        font = why.font()
        font.setPointSizeF(theme.current().points * 0.85)
        why.setFont(font)

    # --- what stands in it -------------------------------------------------------------------------------------------

    def text(self) -> FormText:
        return FormText(**{name: self._read(name) for name in ABOUT})

    def set_text(self, text: FormText) -> None:
        """Puts a whole form in, without saying "edited"."""
        for name in ABOUT:
            self._write(name, getattr(text, name))
            if name == "engine":
                self._list_builds()
            elif name == "build":
                self._list_fills()

    def set_field(self, name: str, text: str) -> None:
        """Puts one field in, without saying "edited"."""
        self._write(name, text)

    def set_fleet(self, fleet: Fleet, instruments: Sequence[str] = ()) -> None:
        """The engines, builds, fills and instruments that can be chosen; what stands in the form stays."""
        before = self.text()
        self._fleet = fleet
        self._refill("engine", [(engine.name, engine.name) for engine in fleet.engines])
        self._refill("instrument", [(name, name) for name in instruments])
        self.set_text(before)

    def set_problems(self, problems: Iterable[FieldProblem]) -> None:
        """Says under each field what is wrong with it, and marks the field."""
        said = {problem.field: problem.reason for problem in problems}
        for name, why in self._whys.items():
            text = said.get(name, ABOUT[name].why)
            if why.text() != text:
                why.setText(text)
                self._editors[name].setAccessibleDescription(text)
                self._mark(name, trouble=name in said)

    def _mark(self, name: str, *, trouble: bool) -> None:
        """Dresses a field and its line as one that needs a person, or as a quiet one."""
        editor, why = self._editors[name], self._whys[name]
        line = editor.lineEdit() if isinstance(editor, QComboBox) and editor.isEditable() else editor
        why.setProperty("role", "trouble" if trouble else "quiet")
        line.setProperty("trouble", "true" if trouble else "false")
        for widget in (why, line):
            widget.style().unpolish(widget)
            widget.style().polish(widget)
        self._shrink(why)

    def problem_at(self, name: str) -> str:
        """What is said to be wrong with a field; '' where nothing is."""
        why = self._whys[name]
        return why.text() if why.property("role") == "trouble" else ""

    def editor(self, name: str) -> QWidget:
        return self._editors[name]

    def focus(self, name: str = "code") -> None:
        """Puts the keyboard into a field."""
        editor = self._editors[name]
        editor.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.ensureWidgetVisible(editor)
        if isinstance(editor, QLineEdit):
            editor.selectAll()

    # --- inside ------------------------------------------------------------------------------------------------------

    def _read(self, name: str) -> str:
        editor = self._editors[name]
        if isinstance(editor, QCheckBox):
            return "yes" if editor.isChecked() else "no"
        if isinstance(editor, QComboBox):
            return editor.currentText() if editor.isEditable() else str(editor.currentData() or editor.currentText())
        assert isinstance(editor, QLineEdit)
        return editor.text()

    def _write(self, name: str, text: str) -> None:
        editor = self._editors[name]
        with QSignalBlocker(editor):
            if isinstance(editor, QCheckBox):
                editor.setChecked(text == "yes")
            elif isinstance(editor, QComboBox):
                _choose(editor, text)
            elif isinstance(editor, QLineEdit) and editor.text() != text:
                editor.setText(text)

    def _refill(self, name: str, items: Sequence[tuple[str, str]]) -> None:
        box = self._editors[name]
        assert isinstance(box, QComboBox)
        kept = self._read(name)
        with QSignalBlocker(box):
            box.clear()
            for shown, meant in items:
                box.addItem(shown, meant)
            box.view().setMinimumWidth(box.view().sizeHintForColumn(0) + 2 * theme.current().gap_px)
            _choose(box, kept)

    def _list_builds(self) -> None:
        engine = find_engine(self._fleet, self._read("engine")) if self._fleet else None
        self._refill("build", [(build.number, build.number) for build in engine.builds] if engine else [])

    def _list_fills(self) -> None:
        engine = find_engine(self._fleet, self._read("engine")) if self._fleet else None
        build = find_build(engine, self._read("build"))
        fills = build.fills if build else ()
        self._refill(
            "fill",
            [(f"{fill.name}  ({fill.oil}, from {words.exact(fill.build_h)} h)", fill.name) for fill in fills],
        )

    def _now(self) -> None:
        """“now” becomes this minute by the person's own clock."""
        if self._read("taken_at").strip().casefold() == "now":
            self._write("taken_at", moment_text(dt.datetime.now()))  # noqa: DTZ005
            self.edited.emit()

    def _on_edited(self, *_: Any) -> None:
        self.edited.emit()

    def _on_engine(self, *_: Any) -> None:
        self._list_builds()
        engine = find_engine(self._fleet, self._read("engine")) if self._fleet else None
        if engine and engine.builds:
            self._write("build", engine.builds[-1].number)
        self._after_build()

    def _after_build(self) -> None:
        self._list_fills()
        box = self._editors["fill"]
        assert isinstance(box, QComboBox)
        with QSignalBlocker(box):
            box.setCurrentIndex(box.count() - 1)
        self.whose_changed.emit()
        self.edited.emit()

    def _on_chosen(self, *_: Any) -> None:
        if self.sender() is self._editors["build"]:
            self._after_build()
            return
        if self.sender() is self._editors["fill"]:
            self.whose_changed.emit()
        self.edited.emit()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Enter goes on to the next field; from the last one to the results. A pasted table goes to the preview."""
        if not isinstance(event, QKeyEvent) or event.type() != QEvent.Type.KeyPress:
            return super().eventFilter(watched, event)
        if event.matches(QKeySequence.StandardKey.Paste) and is_table(QGuiApplication.clipboard().text()):
            self.sheet_pasted.emit(QGuiApplication.clipboard().text())
            return True
        if self._is_enter(event):
            names = list(self._editors)
            at = next((n for n, name in enumerate(names) if self._editors[name] is watched), -1)
            if at >= 0:
                self._enter(names, at)
                return True
        return super().eventFilter(watched, event)

    def _is_enter(self, event: QKeyEvent) -> bool:
        plain = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier == Qt.KeyboardModifier.NoModifier
        return plain and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)

    def _enter(self, names: Sequence[str], at: int) -> None:
        editor = self._editors[names[at]]
        if isinstance(editor, QComboBox) and editor.isEditable():
            self._complete(editor)
        if at + 1 == len(names):
            self.done.emit()
        else:
            self.focus(names[at + 1])

    def _complete(self, box: QComboBox) -> None:
        """Takes the one name that holds what was typed, where there is just one."""
        typed = box.currentText().strip().casefold()
        fitting = [box.itemText(row) for row in range(box.count()) if typed and typed in box.itemText(row).casefold()]
        exact = [name for name in fitting if name.casefold() == typed]
        chosen = exact or fitting
        if len(chosen) == 1 and chosen[0] != box.currentText():
            box.setCurrentText(chosen[0])


def is_table(text: str) -> bool:
    """A copied table, not a word for one field."""
    return "\t" in text.strip("\r\n") or "\n" in text.strip()


def _choose(box: QComboBox, text: str) -> None:
    """Picks the item that means `text`; one that is not there is shown as typed, or as nothing chosen."""
    row = box.findData(text) if text else -1
    row = box.findText(text) if row < 0 and text else row
    box.setCurrentIndex(row)
    if box.isEditable():
        box.setEditText(text)
