"""The menu that says what a column of a pasted sheet means."""

from __future__ import annotations

from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu, QWidget

from benchapp.intake.headers import unit_of
from benchapp.window.entry.lines import GROUPS, RARE, USUAL
from benchapp.window.entry.preview import ROLE_WORDS, Meaning

PLAIN = ("sample", "ignore", "engine", "taken_at", "build_h", "oil_h", "instrument", "replicate", "note")
LONGEST = 60
"""Letters of a head that the menu shows."""
UNITS = {
    "ppm": ("ppm", "ppb", "%"),
    "%": ("%", "ppm"),
    "A/cm": ("A/cm", "A/0.1 mm"),
}
"""Units to choose from, by the unit a measurand is kept in."""


def column_menu(meaning: Meaning, parent: QWidget) -> QMenu:
    """A menu whose actions carry (role, measurand, unit); what the column is taken for now is ticked."""
    menu = QMenu(parent)
    menu.setAccessibleName("What this column means")
    head = (meaning.header or "no head")[:LONGEST].replace("&", "&&")
    title = menu.addAction(f"“{head}” is taken for: {meaning.words}")
    title.setEnabled(False)
    menu.addSeparator()
    for group in GROUPS:
        lines = [line for line in (*USUAL, *RARE) if line.group == group]
        if lines:
            inner = menu.addMenu(group)
            for line in lines:
                _add(inner, f"{line.measurand}  {line.name}", ("reading", line.measurand, meaning.unit), meaning)
    units = UNITS.get(unit_of(meaning.measurand), ()) if meaning.role == "reading" and meaning.measurand else ()
    if units:
        inner = menu.addMenu("Unit")
        for unit in units:
            action = _add(inner, unit, ("reading", meaning.measurand, unit), meaning)
            action.setChecked(meaning.unit == unit)
    menu.addSeparator()
    for role in PLAIN:
        _add(menu, ROLE_WORDS[role].capitalize(), (role, "", ""), meaning)
    return menu


def _add(menu: QMenu, text: str, means: tuple[str, str, str], now: Meaning) -> QAction:
    action = menu.addAction(text)
    action.setData(means)
    action.setCheckable(True)
    action.setChecked(means[:2] == (now.role, now.measurand if means[0] == "reading" else ""))
    return action
