"""What could turn the call, in the detail of the fleet: worked out behind the view, shown below the reasons."""

from __future__ import annotations

from PySide6.QtWidgets import QLabel

from benchapp.records import Call, Flip
from benchapp.window.fleet.reasons import ReasonList

CALL = Call("v", "E", "1", "S", 4.0, None, "Run", "Run.", 4.0, "none", "nothing", 0, None, unknowns=("the sump",))
FLIP = Flip("fuel in this interval", "leaded", "Short stint")


def said(view: ReasonList) -> list[str]:
    return [each.text() for each in view.widget().findChildren(QLabel) if each.isVisibleTo(view)]


def test_flips_come_later_than_the_call(qtbot):
    view = ReasonList()
    qtbot.addWidget(view)
    view.show_call(CALL)
    assert "What could turn the call" not in said(view)
    view.show_flips((FLIP,))
    assert said(view)[-2:] == ["What could turn the call", "· fuel in this interval leaded: Short stint"]
    view.show_flips((FLIP,))
    assert said(view).count("What could turn the call") == 1
    view.show_call(CALL)
    assert "What could turn the call" not in said(view)


def test_without_a_call_there_is_nothing_to_turn(qtbot):
    view = ReasonList()
    qtbot.addWidget(view)
    view.show_call(None)
    view.show_flips((FLIP,))
    assert "What could turn the call" not in said(view)
