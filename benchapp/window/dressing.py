"""Puts another look on the running program, a piece in each turn of the event loop: the window never stands still.

Qt changes the look of an application at one go: every widget leaves the old style, takes the new one and is told of it.
The same steps are done here in an order that a person does not notice: what is out of sight leaves the old style first,
then what is in sight changes in one turn, then what is out of sight takes the new style.
"""

from __future__ import annotations

import time
import weakref
from collections.abc import Callable, Iterator
from typing import Any

import shiboken6
from PySide6.QtCore import QCoreApplication, QEvent, QObject, Qt, QTimer
from PySide6.QtWidgets import QAbstractItemView, QApplication, QScrollArea, QWidget

PIECE_S = 0.012
"""A piece ends once it has lasted so long [s]."""
_POLISHED = Qt.WidgetAttribute.WA_WState_Polished
_OWN_STYLE = Qt.WidgetAttribute.WA_SetStyle
_Follower = tuple[QWidget, weakref.WeakMethod[Callable[[], Any]]]
_UPDATES_OFF = Qt.WidgetAttribute.WA_ForceUpdatesDisabled


class Dresser(QObject):
    """`begin(put_on, refit)` changes the look in pieces, `finish()` does what is left of it at once."""

    def __init__(self) -> None:
        super().__init__()
        self._followers: list[_Follower] = []
        self._many = 64
        self._bare: list[QWidget] = []
        """Widgets that have left their style and have not taken another one yet."""
        self._to_tell: list[_Follower] = []
        self._held: list[QWidget] = []
        """Windows and tables that are not painted for the moment."""
        self._is_on = True
        self._pieces: Iterator[None] = iter(())
        self._timer = QTimer(self)
        self._timer.setInterval(1)  # not 0: whatever waits in the loop has its turn between two pieces
        self._timer.timeout.connect(self._next)

    @property
    def running(self) -> bool:
        """True while some widget still waits for the new look."""
        return self._timer.isActive()

    def follow(self, widget: QWidget, method: Callable[[], Any]) -> None:
        """Calls a method after each change of the look, as long as its widget lives; those in sight first."""
        if len(self._followers) > self._many:
            self._followers = [each for each in self._followers if _lives(each)]
            self._many = 2 * len(self._followers) + 64
        self._followers.append((widget, weakref.WeakMethod(method)))

    def begin(self, put_on: Callable[[QApplication], None], refit: Callable[[], None]) -> None:
        """Changes the look in pieces. `put_on` sets font, palette and style sheet of the application, `refit` the room
        between things.

        A change that is under way is given up for this one; what it undressed is dressed by this one."""
        self._is_on = False
        self._pieces = self._all_pieces(put_on, refit)
        self._timer.start()

    def finish(self) -> None:
        """Does what is left of a change at once."""
        while self._timer.isActive():
            self._next()

    def hurry(self, widget: QWidget) -> None:
        """This widget is about to be shown: with all that is in it, it takes the new look now."""
        while self.running and not self._is_on:
            self._next()
        if self.running:
            inside = [each for each in self._bare if shiboken6.isValid(each) and _within(each, widget)]
            for each in inside:
                _dress(each)
            self._bare = _without(self._bare, inside)
            self._tell([each for each in self._to_tell if _lives(each) and _within(each[0], widget)])

    def _next(self) -> None:
        try:
            if next(self._pieces, self) is self:
                self._timer.stop()
        except Exception:  # of a follower: the others still take the new look, and the window is painted
            self._pieces = self._after_change()
            raise

    # --- the pieces ---------------------------------------------------------------------------------------------------

    def _all_pieces(self, put_on: Callable[[QApplication], None], refit: Callable[[], None]) -> Iterator[None]:
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        yield from self._undress(app)
        yield
        self._change(app, put_on)
        yield
        refit()  # panes and tables take their new sizes: a fifth of the change
        self._is_on = True
        yield from _a_turn_for_qt()
        yield from self._after_change()

    def _after_change(self) -> Iterator[None]:
        yield from self._dress_those_in_sight()
        yield from self._tell_those_in_sight()
        yield from self._let_paint()
        yield from self._dress_the_rest()
        yield from self._tell_the_rest()
        self._lay_out_when_seen()

    def _undress(self, app: QApplication) -> Iterator[None]:
        """What is out of sight leaves its style."""
        clock = _Clock()
        for widget in app.allWidgets():
            if shiboken6.isValid(widget) and not widget.isVisible():
                self._take_off(widget)
            if clock.over():
                yield

    def _take_off(self, widget: QWidget) -> None:
        if widget.testAttribute(_POLISHED):
            QApplication.style().unpolish(widget)
            widget.setAttribute(_POLISHED, False)
            self._bare.append(widget)

    def _change(self, app: QApplication, put_on: Callable[[QApplication], None]) -> None:
        """The change itself; what is in sight is not painted until it is whole."""
        self._hold_paint(app)
        everything = app.allWidgets()
        for widget in everything:
            self._take_off(widget)
        own = [widget for widget in everything if widget.testAttribute(_OWN_STYLE)]
        for widget in everything:
            widget.setAttribute(_OWN_STYLE)  # Qt passes over it
        # from one sheet to the next Qt goes through every rule it has met, from none to one it does not
        app.setStyleSheet("")
        put_on(app)
        kept = set(map(id, own))
        for widget in everything:
            if id(widget) not in kept:
                widget.setAttribute(_OWN_STYLE, False)
        self._to_tell = [each for each in self._followers if _lives(each)]

    def _dress_those_in_sight(self) -> Iterator[None]:
        clock = _Clock()
        while seen := [each for each in self._bare if shiboken6.isValid(each) and each.isVisible()]:
            self._bare = _without(self._bare, seen)
            while seen:
                if shiboken6.isValid(seen[-1]):
                    _dress(seen[-1])
                seen.pop()
                if clock.over():
                    self._bare += seen
                    seen = []
                    yield

    def _tell_those_in_sight(self) -> Iterator[None]:
        yield from self._tell_each(lambda: [each for each in self._to_tell if _lives(each) and each[0].isVisible()])

    def _tell_the_rest(self) -> Iterator[None]:
        yield from self._tell_each(lambda: self._to_tell)

    def _tell_each(self, who: Callable[[], list[_Follower]]) -> Iterator[None]:
        clock = _Clock()
        while followers := who():
            self._tell(followers[:1])
            if clock.over():
                yield

    def _tell(self, followers: list[_Follower]) -> None:
        self._to_tell = _without(self._to_tell, followers)
        for widget, method in followers:
            call = method()
            if call is not None and shiboken6.isValid(widget):
                call()

    def _dress_the_rest(self) -> Iterator[None]:
        clock = _Clock()
        while self._bare:
            yield from self._dress_those_in_sight()  # what was shown meanwhile
            while self._bare and not clock.over():
                widget = self._bare.pop()
                if shiboken6.isValid(widget):
                    _dress(widget)
            yield

    def _lay_out_when_seen(self) -> None:
        """Pages that scroll, out of sight: Qt may show them at their new size as they were laid out for the old one."""
        for area in QApplication.allWidgets():
            if isinstance(area, QScrollArea) and not area.isVisible() and area.widget() is not None:
                area.widget().installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Lays such a page out anew when it comes into sight."""
        if event.type() == QEvent.Type.Show and isinstance(watched, QWidget):
            watched.removeEventFilter(self)
            if watched.layout() is not None:
                watched.layout().invalidate()
                watched.updateGeometry()
        return super().eventFilter(watched, event)

    def _hold_paint(self, app: QApplication) -> None:
        windows = [each for each in app.topLevelWidgets() if each.isVisible()]
        tables = [each for window in windows for each in window.findChildren(QAbstractItemView) if each.isVisible()]
        for widget in (*windows, *tables):
            if not widget.testAttribute(_UPDATES_OFF):
                widget.setUpdatesEnabled(False)
                self._held.append(widget)

    def _let_paint(self) -> Iterator[None]:
        """Paints the windows, then their tables one by one: each takes as long as all the rest."""
        windows = [each for each in self._held if shiboken6.isValid(each) and each.isWindow()]
        self._held = _without(self._held, windows)
        for window in windows:
            window.setUpdatesEnabled(True)
        yield from _a_turn_for_qt()
        while self._held:
            table = self._held.pop()
            if shiboken6.isValid(table):
                table.setUpdatesEnabled(True)
                yield from _a_turn_for_qt()


class _Clock:
    """Says when a piece has lasted long enough, and begins the next one."""

    def __init__(self) -> None:
        self._since = time.perf_counter()

    def over(self) -> bool:
        if time.perf_counter() - self._since < PIECE_S:
            return False
        self._since = time.perf_counter()
        return True


def _a_turn_for_qt() -> Iterator[None]:
    """A turn in which nothing is done here: what Qt was left to do (events, painting) takes it."""
    yield
    yield


def _dress(widget: QWidget) -> None:
    """A widget takes the application's style and is told that it has another one."""
    QCoreApplication.sendEvent(widget, QEvent(QEvent.Type.Polish))
    QCoreApplication.sendEvent(widget, QEvent(QEvent.Type.StyleChange))


def _within(widget: QWidget, whole: QWidget) -> bool:
    return widget is whole or whole.isAncestorOf(widget)


def _without(those: list[Any], gone: list[Any]) -> list[Any]:
    left_out = set(map(id, gone))
    return [each for each in those if id(each) not in left_out]


def _lives(follower: _Follower) -> bool:
    return follower[1]() is not None and shiboken6.isValid(follower[0])
