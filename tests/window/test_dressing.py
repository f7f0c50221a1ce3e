"""A look that is put on while the program runs comes a piece at a time, and ends as if the program had begun in it."""

from __future__ import annotations

import shutil

import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QApplication, QLabel, QWidget

from benchapp.window import settings, spacing, theme
from benchapp.window.dialogs.help import HelpDialog
from benchapp.window.entry.form import SampleForm
from benchapp.window.main_window import MainWindow, apply_look
from benchapp.window.session import Session
from tests.window.conftest import TIMEOUT_MS

pytestmark = pytest.mark.usefixtures("no_judging")

SECTIONS = (("A head", (("Ctrl+K", "A few words."),)),)
LOOKS = (("dark", False, 1.0), ("sunlight", True, 1.0), ("dark", True, 1.5), ("sunlight", False, 1.0))


def pick(window, look: str, large: bool, scale: float) -> None:
    """Chooses a look in the menu, as a person does."""
    for group, wanted in ((window.menus.looks, look), (window.menus.scales, scale)):
        next(action for action in group.actions() if action.data() == wanted).trigger()
    if window.menus.large.isChecked() != large:
        window.menus.large.trigger()


def dressed(qtbot) -> None:
    qtbot.waitUntil(lambda: not theme.dresser().running, timeout=TIMEOUT_MS)


def whole(window) -> None:
    """The window with all views made, each looked at once."""
    window.resize(1280, 800)
    for entry in window.entries:
        window.show_view(entry.key)
        QApplication.processEvents()


def divided(window) -> None:
    """The dividers between panes and the open key are the person's: here the same in both windows."""
    window.view("trend").key_button.setChecked(False)
    window.view("fleet").split.setSizes([300, 300])
    entry = window.view("entry").entry
    entry.splitter.setSizes([300, 800])
    if entry.work.count() > 1:
        entry.work.setSizes([600, 200])
    window.view("checks").split.setSizes([330, 800])
    window.view("checks").chart_split.setSizes([330, 430])


def pictures(window) -> dict:
    """What each view looks like, nothing in it at hand (a cursor blinks)."""
    taken = {}
    for entry in window.entries:
        window.show_view(entry.key)
        divided(window)
        at_hand = QApplication.focusWidget()
        if at_hand is not None:
            at_hand.clearFocus()
        taken[entry.key] = settled(window)
    return taken


def settled(window):
    """The picture of the window once it stays the same."""
    before, now = None, window.grab().toImage()
    while now != before:
        QApplication.processEvents()
        before, now = now, window.grab().toImage()
    return now


def fresh(qtbot, ask, path) -> MainWindow:
    """The program as it begins in the look that is kept in the settings."""
    apply_look()
    session = Session(ask=ask)
    session.open(str(path))
    qtbot.waitUntil(lambda: session.bench is not None, timeout=TIMEOUT_MS)
    window = MainWindow(session)
    window.show()
    return window


def test_a_look_put_on_is_the_look_that_the_program_begins_in(qtbot, window, ask, small_path, tmp_path):
    whole(window)
    first = pictures(window)
    for number, look in enumerate(LOOKS):
        window.show_view("fleet")
        pick(window, *look)
        dressed(qtbot)
        changed = pictures(window)
        if number == 0:
            assert all(changed[key] != first[key] for key in changed), "the looks do not differ: nothing is shown here"
        begun = fresh(qtbot, ask, shutil.copy(small_path, tmp_path / f"{number}.bench"))
        whole(begun)
        expected = pictures(begun)
        assert [key for key in expected if expected[key] != changed[key]] == [], look
        begun.close()
        begun.deleteLater()  # the next look has this window less to dress
        QCoreApplication.sendPostedEvents(begun, QEvent.Type.DeferredDelete)


def test_no_turn_does_it_all_and_the_window_is_painted_at_the_end(qtbot, window):
    whole(window)
    pick(window, "dark", False, 1.0)
    dresser, most, turns = theme.dresser(), 0, 0
    while dresser.running:
        before = len(dresser._bare)
        dresser._next()
        most, turns = max(most, before - len(dresser._bare)), turns + 1
    everything = len(window.findChildren(QWidget))
    assert turns > 5
    assert 0 < most < everything
    assert dresser._bare == []
    assert window.updatesEnabled()
    assert window.view("fleet").table.updatesEnabled()


@pytest.mark.parametrize("steps", [1, 3, 6, 9, 12])
def test_a_second_look_in_the_midst_of_the_first_takes_its_place(qtbot, window, steps):
    whole(window)
    before = pictures(window)
    pick(window, "dark", True, 1.25)
    for _ in range(steps):
        theme.dresser()._next()
    pick(window, "sunlight", False, 1.0)
    dressed(qtbot)
    after = pictures(window)
    assert [key for key in before if before[key] != after[key]] == []


@pytest.mark.parametrize("steps", [0, 1, 3, 6, 9, 12])
def test_a_view_shown_in_the_midst_wears_the_new_look_already(qtbot, window, steps):
    whole(window)
    window.show_view("fleet")
    pick(window, "dark", True, 1.0)
    for _ in range(steps):
        theme.dresser()._next()
    view = window.show_view("entry")
    assert theme.current().name == "dark"
    assert not [each for each in theme.dresser()._bare if view.isAncestorOf(each)]
    label = next(each for each in view.findChildren(QLabel) if each.property("role") == "quiet" and each.isVisible())
    assert label.palette().windowText().color() == theme.colour("quiet")
    form = view.findChild(SampleForm)
    assert {round(why.font().pointSizeF(), 2) for why in form._whys.values()} == {round(13 * 0.85, 2)}
    dressed(qtbot)


@pytest.mark.parametrize("steps", [0, 2, 5, 8])
def test_a_dialog_opened_in_the_midst_is_dressed(qtbot, window, steps):
    whole(window)
    pick(window, "dark", True, 1.0)
    for _ in range(steps):
        theme.dresser()._next()
    dialog = HelpDialog("Keys", SECTIONS, window)
    dialog.show()
    dressed(qtbot)
    later = HelpDialog("Keys", SECTIONS, window)
    later.show()
    for each in (dialog, later):
        each.resize(500, 400)
        QApplication.processEvents()
    assert dialog.grab().toImage() == later.grab().toImage()


class Follower(QLabel):
    def __init__(self, told: list, fails: bool = False) -> None:
        super().__init__()
        self.told, self.fails = told, fails
        theme.follow(self, self.take)

    def take(self) -> None:
        self.told.append(theme.current().name)
        if self.fails:
            raise ValueError("a follower with a fault")


def test_a_follower_with_a_fault_does_not_leave_the_window_unpainted(qtbot, window):
    told: list[str] = []
    first, second = Follower(told, fails=True), Follower(told)
    for each in (first, second):
        qtbot.addWidget(each)
        each.show()
    with qtbot.captureExceptions() as caught:
        theme.change("dark")
        dressed(qtbot)
    assert [str(each[1]) for each in caught] == ["a follower with a fault"]
    assert told == ["dark", "dark"]
    assert window.updatesEnabled()


def test_what_is_gone_is_not_told(qtbot, window):
    told: list[str] = []
    gone, stays = Follower(told), Follower(told)
    qtbot.addWidget(stays)
    theme.change("dark")
    theme.dresser()._next()
    gone.deleteLater()
    qtbot.waitUntil(lambda: not theme.dresser().running, timeout=TIMEOUT_MS)
    assert told == ["dark"]


def test_room_between_things_follows_the_scaling(qtbot, window):
    from PySide6.QtWidgets import QVBoxLayout

    page = QWidget()
    qtbot.addWidget(page)
    column = QVBoxLayout(page)
    spacing.between(column, 0.5)
    spacing.around(column, 2, 1, 0, 1)
    spacing.after(column, 3)
    theme.apply("sunlight", scale=1.5)
    assert (column.spacing(), column.contentsMargins().left(), column.contentsMargins().top()) == (6, 24, 12)
    assert column.itemAt(0).spacerItem().sizeHint().height() == 36
    theme.apply("sunlight")
    assert column.spacing() == 4


def test_the_choice_is_kept(qtbot, window):
    pick(window, "dark", True, 1.25)
    dressed(qtbot)
    kept = settings.settings()
    assert (kept.value("look/theme"), settings.flag("look/large"), settings.number("look/scale", 1.0)) == (
        "dark",
        True,
        1.25,
    )
    assert theme.current().name == "dark"
