"""Room between things, in multiples of the one gap of the look; it grows and shrinks with the scaling."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import shiboken6
from PySide6.QtWidgets import QBoxLayout, QLayout, QSpacerItem, QSplitter, QWidget

from benchapp.window import theme

_made: list[tuple[Any, Callable[..., None], tuple[float, ...]]] = []
"""What was given room: the layout or splitter, how it is given, and the multiples of the gap."""
_many = 256


def between(layout: QLayout, gaps: float) -> None:
    """Room between the things in a layout."""
    _give(layout, _between, gaps)


def around(layout: QLayout | QWidget, left: float, top: float, right: float, bottom: float) -> None:
    """Room around all that is in a layout or widget."""
    _give(layout, _around, left, top, right, bottom)


def after(layout: QBoxLayout, gaps: float) -> None:
    """Room after what is in a row or column so far."""
    room = QSpacerItem(0, 0)
    layout.addSpacerItem(room)
    _give(layout, partial(_after, room), gaps)


def handle(splitter: QSplitter, gaps: float) -> None:
    """Width of the handle between two panes."""
    _give(splitter, _handle, gaps)


def refit() -> None:
    """Gives everything the room that it has in the look in force."""
    for thing, give, gaps in _made:
        if shiboken6.isValid(thing):
            give(thing, *gaps)


theme.with_the_change(refit)


def _give(thing: Any, give: Callable[..., None], *gaps: float) -> None:
    global _many
    if len(_made) > _many:
        _made[:] = [each for each in _made if shiboken6.isValid(each[0])]
        _many = 2 * len(_made) + 256
    _made.append((thing, give, gaps))
    give(thing, *gaps)


def _px(gaps: float) -> int:
    return round(theme.current().gap_px * gaps)


def _between(layout: QLayout, gaps: float) -> None:
    layout.setSpacing(_px(gaps))


def _around(layout: QLayout | QWidget, *gaps: float) -> None:
    layout.setContentsMargins(*map(_px, gaps))


def _after(room: QSpacerItem, layout: QBoxLayout, gaps: float) -> None:
    across = layout.direction() in (QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.RightToLeft)
    room.changeSize(*((_px(gaps), 0) if across else (0, _px(gaps))))
    layout.invalidate()


def _handle(splitter: QSplitter, gaps: float) -> None:
    splitter.setHandleWidth(_px(gaps))
