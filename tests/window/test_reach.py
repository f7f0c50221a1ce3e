"""What every view and dialog owes to hand, ear and paper: names for a screen reader, reading order, keys, exports."""

from __future__ import annotations

from itertools import pairwise

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QDialog,
    QLabel,
    QLineEdit,
    QPushButton,
    QTabBar,
    QTextEdit,
    QWidget,
)

from benchapp.actions import finding, leak_down, pull
from benchapp.actions.bench import Bench
from benchapp.records import Finding, LeakDown, Pull
from benchapp.window import settings, theme, views
from benchapp.window.dialogs import forms
from benchapp.window.dialogs.help import keys_text
from benchapp.window.main_window import apply_look
from benchapp.window.tables import Table
from benchapp.window.whole import Whole
from tests.window import small

VIEWS = tuple(entry.key for entry in views.VIEWS)
CTRL = Qt.KeyboardModifier.ControlModifier


def put_more(bench: Bench) -> None:
    """A finding, a leak-down and a pull of engine A1."""
    finding.add(bench, "A1", "1", Finding(6.0, bench.build("A1", "1").parts[0].name, "as new"))
    leak_down.add(bench, "A1", "1", LeakDown(1.0, "1", 3.0))
    pull.add(bench, "A1", "1", Pull("P1", 1.0, 300.0, 20.0, 100.0, 40.0))


@pytest.fixture(scope="module")
def small_file(small_file, tmp_path_factory):
    """The small bench file with that: this file's tests copy it."""
    return small.with_more(small_file, tmp_path_factory.mktemp("more"), put_more)


@pytest.fixture
def shown(no_judging, window, qtbot):
    """The window with engine A1 at hand, which has a finding, a leak-down and a pull."""
    qtbot.waitUntil(lambda: not window.session.busy, timeout=60000)
    window.session.select("A1")
    return window


def dialogs(window, ask) -> list[QDialog]:
    """Every dialog that the menus open, one after the other."""
    made = []
    for method in ("show_due", "show_record", "search", "read_up", "show_help", "show_cautions", "show_about",
                   "print_labels", "print_card", "show_backups", "show_conflicts"):  # fmt: skip
        before = len(ask.shown)
        getattr(window, method)()
        made += ask.shown[before:]
    for which in forms.WHERE:
        before = len(ask.shown)
        forms.show(which, window.session, window)
        made += ask.shown[before:]
    return made


# --- names ----------------------------------------------------------------------------------------------------------


def reached(root: QWidget) -> list[QWidget]:
    """Widgets that the keyboard reaches."""
    return [
        each for each in root.findChildren(QWidget)
        if each.focusPolicy() & Qt.FocusPolicy.TabFocus and each.window() is root.window()
        and not each.objectName().startswith("qt_") and not isinstance(each.parent(), QComboBox)
    ]  # fmt: skip


def nameless(root: QWidget) -> list[str]:
    """Widgets that a screen reader could say nothing of."""
    buddies = {label.buddy() for label in root.window().findChildren(QLabel) if label.buddy() is not None}
    found = []
    for each in reached(root):
        said = each.accessibleName() or (each.text() if isinstance(each, QAbstractButton) else "")
        if isinstance(each, QTabBar):
            said = said or " ".join(each.tabText(n) for n in range(each.count()))
        if isinstance(each, QTextEdit):
            said = said or each.toPlainText()
        if not said and each not in buddies:
            found.append(f"{type(each).__name__} {each.objectName()} in {type(each.parent()).__name__}")
    return found


@pytest.mark.parametrize("key", VIEWS)
def test_everything_in_a_view_has_a_name_for_a_screen_reader(shown, key):
    assert nameless(shown.show_view(key)) == []


def test_everything_in_the_window_and_its_dialogs_has_a_name(shown, ask, qtbot):
    assert nameless(shown) == []
    found = {}
    for dialog in dialogs(shown, ask):
        assert dialog.windowTitle()
        found[dialog.windowTitle()] = nameless(dialog)
        dialog.reject()
    assert len(found) > 20
    assert {title: many for title, many in found.items() if many} == {}
    qtbot.waitUntil(lambda: not shown.session.busy, timeout=60000)


# --- order ----------------------------------------------------------------------------------------------------------


def stops(view: QWidget) -> list[QWidget]:
    """Where Tab stops in a view, in the order of the focus chain from its first widget on."""
    chain, at = [], view.nextInFocusChain()
    while at is not view and len(chain) < 5000:
        chain.append(at)
        at = at.nextInFocusChain()
    return [
        each for each in chain
        if view.isAncestorOf(each) and each.isVisible() and each.isEnabled()
        and each.focusPolicy() & Qt.FocusPolicy.TabFocus and each.width() > 1
    ]  # fmt: skip


def against_reading(view: QWidget) -> list[str]:
    """Steps of Tab that go back: up and not to the right, besides the one step from the end to the beginning."""
    order = stops(view)
    wrong = []
    for before, after in zip(order, [*order[1:], *order[:1]], strict=True):
        a, b = before.mapTo(view, QPoint(0, 0)), after.mapTo(view, QPoint(0, 0))
        up = b.y() + after.height() <= a.y() + 4
        same_line = abs(b.y() - a.y()) < max(8, min(before.height(), after.height()) // 2)
        if (up and b.x() <= a.x()) or (same_line and b.x() < a.x()):
            wrong.append(f"{_said(before)} -> {_said(after)}")
    return wrong


def _said(widget: QWidget) -> str:
    return widget.accessibleName() or (widget.text() if isinstance(widget, QAbstractButton) else repr(widget))


@pytest.mark.parametrize("key", VIEWS)
def test_tab_goes_as_one_reads(shown, key, qtbot):
    view = shown.show_view(key)
    shown.resize(1280, 860)
    QApplication.processEvents()
    assert len(stops(view)) > 2
    assert len(against_reading(view)) <= 1, against_reading(view)


def test_tab_goes_as_one_reads_in_every_dialog(shown, ask, qtbot):
    found = {}
    for dialog in dialogs(shown, ask):
        dialog.show()
        QApplication.processEvents()
        assert stops(dialog), dialog.windowTitle()
        back = against_reading(dialog)
        found[dialog.windowTitle()] = back if len(back) > 1 else []  # one step leads from the end to the beginning
        dialog.reject()
    assert len(found) > 20
    assert {title: many for title, many in found.items() if many} == {}
    qtbot.waitUntil(lambda: not shown.session.busy, timeout=60000)


def test_enter_goes_through_a_form_and_escape_leaves_it(shown, ask, qtbot):
    walked = 0
    for which in forms.WHERE:
        form = forms.show(which, shown.session, shown)
        editors = [field.editor for field in form.fields.values() if field.editor.isVisibleTo(form)]
        for editor, after in pairwise([*editors, form.after_fields()]):
            editor.setFocus()
            qtbot.keyClick(editor, Qt.Key.Key_Return)
            assert form.focusWidget() is after, (which, editor.objectName())
            walked += 1
        for at in (*editors[:1], form.after_fields(), form.save):
            assert form.isVisible()
            at.setFocus()
            qtbot.keyClick(at, Qt.Key.Key_Escape)
            assert not form.isVisible(), (which, at)
            form.show()
        form.reject()
    assert walked > 80


def test_escape_leaves_every_dialog(shown, ask, qtbot):
    for dialog in dialogs(shown, ask):
        dialog.show()
        QApplication.processEvents()
        first = dialog.focusWidget() or dialog
        qtbot.keyClick(first, Qt.Key.Key_Escape)
        assert not dialog.isVisible(), dialog.windowTitle()
    qtbot.waitUntil(lambda: not shown.session.busy, timeout=60000)


# --- targets --------------------------------------------------------------------------------------------------------


def small_targets(root: QWidget) -> list[str]:
    """What a finger would miss: below 40 px high or wide (the line of a box counts as the box)."""
    return [
        f"{_said(each)} {each.width()} x {each.height()}"
        for each in stops(root)
        if isinstance(each, QAbstractButton | QComboBox | QAbstractSpinBox | QLineEdit)
        and not isinstance(each.parent(), QComboBox | QAbstractSpinBox | QTabBar)
        and min(each.width(), each.height()) < 40
    ]  # fmt: skip


def test_targets_are_forty_pixels_in_the_large_mode(shown, ask, qtbot):
    settings.keep("look/large", True)
    apply_look()
    try:
        shown.resize(1366, 768)
        found = {}
        for key in VIEWS:
            view = shown.show_view(key)
            QApplication.processEvents()
            found[key] = small_targets(view)
        for dialog in dialogs(shown, ask):
            dialog.show()
            QApplication.processEvents()
            found[dialog.windowTitle()] = small_targets(dialog)
            dialog.reject()
        assert {where: many for where, many in found.items() if many} == {}
        qtbot.waitUntil(lambda: not shown.session.busy, timeout=60000)
    finally:
        settings.keep("look/large", False)
        apply_look()


# --- room -----------------------------------------------------------------------------------------------------------


def test_a_window_too_small_for_a_view_scrolls_it_and_the_rail_keeps_its_marks_alone(shown):
    whole = shown.findChild(Whole)
    page = shown.show_view("entry")
    shown.resize(1366, 768)
    QApplication.processEvents()
    across, along = whole.horizontalScrollBar(), whole.verticalScrollBar()
    assert (across.maximum(), along.maximum()) == (0, 0)
    button = shown.rail.buttons["entry"]
    assert button.toolButtonStyle() == Qt.ToolButtonStyle.ToolButtonTextBesideIcon
    wide = shown.rail.sizeHint().width()
    theme.apply("sunlight", scale=2.0)
    shown.resize(420, 300)
    QApplication.processEvents()
    assert button.toolButtonStyle() == Qt.ToolButtonStyle.ToolButtonIconOnly
    assert shown.rail.sizeHint().width() < wide
    assert button.accessibleName() == "Sample entry"
    assert across.maximum() > 0
    assert page.width() >= page.minimumSizeHint().width()
    theme.apply("sunlight")
    shown.resize(1366, 768)
    QApplication.processEvents()
    assert (across.maximum(), along.maximum()) == (0, 0)


# --- keys -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("key", VIEWS)
def test_f1_lists_every_key_of_the_view_and_of_the_window(shown, key):
    view = shown.show_view(key)
    sections = dict(keys_text(shown.menus, view))
    told = " ".join(keys for keys, _ in sections[view.title]).replace("Return", "Enter")
    for shortcut in view.findChildren(QShortcut):
        if shortcut.parent() is view:
            said = shortcut.key().toString(QKeySequence.SequenceFormat.NativeText).replace("Return", "Enter")
            assert said in told, (key, said)
    menus = " ".join(keys for keys, _ in sections["Menus"])
    for action in shown.menus.actions.values():
        assert all(each.toString() in menus for each in action.shortcuts()), action.text()


def test_no_key_is_given_twice(shown):
    """A key of the menus and of a view at the same time would do neither."""
    menus = {each.toString() for action in shown.menus.actions.values() for each in action.shortcuts()}
    for key in VIEWS:
        for shortcut in shown.show_view(key).findChildren(QShortcut):
            assert shortcut.key().toString() not in menus, (key, shortcut.key().toString())


# --- exports --------------------------------------------------------------------------------------------------------


def test_every_table_is_exported_by_key_and_from_its_menu(shown, ask, tmp_path, qtbot):
    roots = [shown.show_view(key) for key in VIEWS] + dialogs(shown, ask)
    tables = [table for root in roots for table in root.findChildren(Table)]
    assert len(tables) > 15
    for number, table in enumerate(tables):
        ask.path = str(tmp_path / f"{number}.csv")
        qtbot.keyClick(table, Qt.Key.Key_E, CTRL)
        written = (tmp_path / f"{number}.csv").read_text("utf-8-sig")
        assert written.startswith(table.rows.columns[0].title), table.accessibleName()
    table = tables[0]
    table._offer(0, 0, QPoint(0, 0))
    menu = next(each for each in table.children() if each.metaObject().className() == "QMenu")
    assert "&Export this table…" in [action.text() for action in menu.actions()]
    menu.close()
    for root in roots[len(VIEWS) :]:
        root.reject()
    qtbot.waitUntil(lambda: not shown.session.busy, timeout=60000)


@pytest.mark.parametrize("key", ["trend", "breakin", "change", "checks"])
@pytest.mark.parametrize("suffix", ["png", "svg"])
def test_every_plot_is_a_picture_by_key(shown, ask, tmp_path, key, suffix):
    view = shown.show_view(key)
    ask.path = str(tmp_path / f"plot.{suffix}")
    keys = [shortcut.key().toString() for shortcut in view.findChildren(QShortcut)]
    assert "Ctrl+Shift+E" in keys
    view.save_picture()
    written = tmp_path / f"plot.{suffix}"
    if key == "change":  # nothing to compare in this small bench: the key does nothing
        return
    data = written.read_bytes()
    assert data.startswith(b"\x89PNG" if suffix == "png" else b"<?xml")
    assert len(data) > 1000


def test_a_view_without_a_table_of_its_own_writes_the_one_in_front(shown, ask, tmp_path):
    import openpyxl

    shown.show_view("breakin")
    ask.path = str(tmp_path / "evidence.xlsx")
    shown.made["breakin"].export_table()
    rows = list(openpyxl.load_workbook(ask.path).active.iter_rows(values_only=True))
    assert ("Pull", "P1", 1, 300, "kW as read") in rows
    assert ("Leak-down", "1", 1, 3, "%") in rows
    shown.show_view("entry").show_sample("26-001")
    ask.path = str(tmp_path / "entry.csv")
    shown.menus.actions["export_table"].trigger()
    assert "Fe" in (tmp_path / "entry.csv").read_text("utf-8-sig")




def test_whatever_tab_stops_at_has_a_name_and_each_button_says_why(shown):
    """Trailer: keyboard for everything; a screen reader says where one is, and a pointer asks what a button does."""
    for entry in shown.entries:
        view = shown.show_view(entry.key)
        QApplication.processEvents()
        for stop in view.findChildren(QWidget):
            if not stop.isVisible() or not stop.focusPolicy() & Qt.FocusPolicy.TabFocus:
                continue
            said = stop.accessibleName() or getattr(stop, "text", str)()
            assert said, f"{entry.key}: a nameless {type(stop).__name__} at {stop.geometry()}"
            if isinstance(stop, QPushButton):
                assert stop.toolTip() or stop.accessibleDescription(), f"{entry.key}: {said} does not say why"
