"""The main window around the views: rail, menus, message bar, looks, first page, session."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, Qt, QUrl
from PySide6.QtGui import QColor, QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QWidget

from benchapp.actions.changed import Changed
from benchapp.problems import BenchProblem
from benchapp.window import app, main_window, marks, settings, theme, views
from benchapp.window.main_window import MainWindow, dropped_table
from benchapp.window.session import Session
from tests.window import fakes
from tests.window.conftest import worked


@pytest.fixture
def bench(fake_bench, only_fleet):
    """The shell needs no real file."""
    return fake_bench


def test_without_a_file_the_first_page_offers_demo_new_and_open(qtbot, ask):
    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    assert window.stack.currentWidget() is window.start_page
    assert set(window.start_page.buttons) == {"demo", "new", "open"}
    assert window.rail.isHidden()
    assert not window.menus.actions["add_engine"].isEnabled()
    assert window.menus.actions["open_file"].isEnabled()


def test_a_file_that_cannot_be_opened_is_told_in_three_sentences(qtbot, ask, monkeypatch):
    from benchapp.actions.bench import Bench

    def refuse(path, **_options):
        raise BenchProblem("This is no bench file.", "It was not touched.", "Pick another one.")

    monkeypatch.setattr(Bench, "open", refuse)
    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    window.show()
    window.open_path("something.txt")
    worked(qtbot, window)
    bar = window.messages
    assert (bar.what.text(), bar.means.text(), bar.do.text()) == (
        "This is no bench file.",
        "It was not touched.",
        "Pick another one.",
    )
    assert bar.isVisible()
    qtbot.keyClick(window, Qt.Key.Key_Escape)
    assert not bar.isVisible()


def test_words_from_a_file_never_become_markup(qtbot, window):
    window.session.problem.emit(BenchProblem("<b>x</b>", "<img src=x>", "<a href='x'>y</a>"))
    for label in (window.messages.what, window.messages.means, window.messages.do):
        assert label.textFormat() is Qt.TextFormat.PlainText


def test_the_rail_and_the_keys_change_the_view(qtbot, window):
    assert window.current_key == "fleet"
    window.menus.actions["view trend"].trigger()
    assert window.current_key == "trend"
    assert window.rail.buttons["trend"].isChecked()
    qtbot.mouseClick(window.rail.buttons["fleet"], Qt.MouseButton.LeftButton)
    assert window.current_key == "fleet"


def test_views_reach_each_other_through_the_session(window):
    session = window.session
    session.show_trend("E001", "Pb")
    assert (window.current_key, session.selected_engine) == ("trend", "E001")
    session.open_sample("E001-01")
    assert window.current_key == "entry"
    session.show_engine("E002")
    assert (window.current_key, session.selected_engine) == ("fleet", "E002")


def test_a_view_that_is_not_there_shows_a_page_that_says_so(qtbot, session, monkeypatch):
    entry = views.Entry("x", "Not there", "Ctrl+9", "rows", "benchapp.window.nowhere.view:Nothing", always=False)
    assert not views.is_there(entry)
    page = views.make(entry, session)
    qtbot.addWidget(page)
    assert isinstance(page, views.LaterPage)
    assert entry not in views.in_rail()


def test_undo_says_what_it_would_take_back(window, bench):
    bench.undo_label, bench.redo_label = "Confirm sample 24-017", ""
    bench.set_fleet(bench.fleet(), Changed(frozenset({"sample"}), frozenset({"E001"}), "Confirm sample 24-017"))
    assert window.menus.undo.text() == "&Undo: Confirm sample 24-017"
    assert window.menus.undo.isEnabled()
    assert not window.menus.redo.isEnabled()
    assert window.saved.text() == "Everything is on the disk"


def test_a_problem_in_a_verb_is_shown_and_nothing_returned(window):
    def verb(_bench):
        raise BenchProblem("What.", "Means.", "Do.")

    assert window.session.run(verb) is None
    assert window.messages.isVisible()
    assert window.messages.what.text() == "What."


def test_without_a_file_a_verb_says_so(qtbot, ask):
    session = Session(ask=ask)
    with qtbot.waitSignal(session.problem) as told:
        assert session.run(lambda bench: 1) is None
    assert told.args[0].what == "No bench file is open."


def test_background_results_come_back_in_the_windows_thread(qtbot, session):
    from PySide6.QtCore import QThread

    got = []

    def then(value):
        got.append((value, QThread.currentThread() is session.thread()))

    with qtbot.waitSignal(session.busy_changed):
        session.background(sum, ((1, 2, 3),), then)
    qtbot.waitUntil(lambda: bool(got))
    assert got == [(6, True)]


def test_a_newer_job_of_a_kind_makes_the_older_void(qtbot, session):
    got = []
    session.background(sum, ((1,),), got.append, kind="preview")
    session.background(sum, ((2,),), got.append, kind="preview")
    qtbot.waitUntil(lambda: not session.busy)
    assert got == [2]


def test_a_problem_in_the_background_reaches_the_message_bar(qtbot, window):
    def fail():
        raise BenchProblem("What.", "Means.", "Do.")

    window.session.background(fail, (), print)
    qtbot.waitUntil(window.messages.isVisible)
    assert window.messages.what.text() == "What."


def test_look_is_remembered_and_put_in_force(window):
    window.large_action(True)
    dark = next(action for action in window.menus.looks.actions() if action.data() == "dark")
    window.look_action(dark)
    theme.dresser().finish()
    assert theme.current().name == "dark"
    assert theme.current().large
    assert theme.current().target_px >= 40
    assert settings.text("look/theme") == "dark"
    assert settings.flag("look/large")
    assert dark.isChecked()


def test_an_unknown_system_counts_as_sunlight(qapp):
    assert theme.apply("system").name == "sunlight"


@pytest.mark.parametrize("base", [theme.SUNLIGHT, theme.DARK])
def test_text_can_be_read_on_its_ground(base):
    # contrast ratio at least 4.5 for text (WCAG 2.2, success criterion 1.4.3), 3 for marks (1.4.11)
    for ink, ground in (
        (base.ink, base.paper),
        (base.quiet, base.band),
        (base.quiet, base.desk),
        (base.picked_ink, base.picked),
        (base.accent_ink, base.accent),
        (base.ink, base.note_back),
        (base.ink, base.trouble_back),
        (base.trouble, base.paper),
    ):
        assert contrast(ink, ground) >= 4.5, (ink, ground)
    for mark in (base.run, base.short_stint, base.look_inside, base.park):
        assert contrast(mark, base.paper) >= 3, mark


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours (WCAG 2.2 definition)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2 definition)."""
    parts = [QColor(colour).redF(), QColor(colour).greenF(), QColor(colour).blueF()]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def test_the_four_marks_differ_without_colour(qapp):
    pictures = {call: marks.pixmap(call, 32, "#000000").toImage() for call in (*marks.SHAPES, "")}
    calls = list(pictures)
    for n, one in enumerate(calls):
        for other in calls[n + 1 :]:
            assert differing(pictures[one], pictures[other]) > 60, (one, other)


def differing(one, other) -> int:
    """Number of pixels that clearly differ in ink."""
    return sum(
        abs(one.pixelColor(x, y).alpha() - other.pixelColor(x, y).alpha()) > 128 for x in range(32) for y in range(32)
    )


def test_marks_have_words(qapp):
    assert marks.words("Look inside") == "▲ Look inside"
    assert marks.words("") == "No call"
    assert marks.spoken("Park") == "Call: Park"


def test_a_spreadsheet_is_known_among_what_is_dragged():
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile("/a/photo.png"), QUrl.fromLocalFile("/a/Results.XLSX")])
    assert dropped_table(mime) == "/a/Results.XLSX"
    mime.setUrls([QUrl.fromLocalFile("/a/photo.png")])
    assert dropped_table(mime) == ""


def test_recent_files_are_those_that_are_there(tmp_path, qapp):
    here = tmp_path / "a.bench"
    here.touch()
    settings.remember_file(str(tmp_path / "gone.bench"))
    settings.remember_file(str(here))
    assert settings.recent() == [str(here)]
    assert app.last_file() == str(here)
    here.unlink()
    assert app.last_file() == ""


def test_a_spoilt_setting_is_not_believed(qapp):
    settings.keep("look/scale", "huge")
    settings.keep("look/theme", "plaid")
    main_window.apply_look()
    assert theme.current().scale == 1.0
    assert theme.current().name == "sunlight"


def test_place_of_the_window_is_remembered(qtbot, window):
    window.resize(800, 640)  # the offscreen screen is 800 wide
    window.close()
    again = MainWindow(Session())
    qtbot.addWidget(again)
    assert (again.width(), again.height()) == (800, 640)


def test_every_menu_item_has_a_method_and_keys_are_used_once(window):
    seen: dict[str, str] = {}
    for name, action in window.menus.actions.items():
        for key in action.shortcuts():
            assert key.toString() not in seen, (name, seen[key.toString()])
            seen[key.toString()] = name


def test_f1_lists_the_keys(window, ask):
    window.show_help()
    from PySide6.QtWidgets import QLabel

    texts = [label.text() for label in ask.shown[0].findChildren(QLabel)]
    assert "Ctrl+Shift+N" in texts
    assert "Everywhere" in texts
    ask.shown[0].close()


def test_cautions_say_that_a_call_is_advice(window, ask):
    window.show_cautions()
    from PySide6.QtWidgets import QLabel

    texts = " ".join(label.text() for label in ask.shown[0].findChildren(QLabel))
    for word in ("hot", "gloves", "guards", "advice", "cracked rod", "signs the car out"):
        assert word in texts
    ask.shown[0].close()


def test_a_fault_of_ours_goes_to_the_message_bar_and_a_file(window, tmp_path, monkeypatch):
    monkeypatch.setattr(app, "log_file", lambda: tmp_path / "log" / "faults.txt")
    try:
        raise ZeroDivisionError("boom")
    except ZeroDivisionError as error:
        app.Unforeseen(window.session).caught(type(error), error, error.__traceback__)
    assert window.messages.what.text() == "The program met a fault of its own."
    assert "faults.txt" in window.messages.do.text()
    assert "boom" in (tmp_path / "log" / "faults.txt").read_text(encoding="utf-8")


def test_closing_the_window_closes_the_file(qtbot, window, bench):
    window.close()
    assert bench.closed


def test_no_module_of_the_window_uses_process_events():
    room = Path(main_window.__file__).parent
    for source in room.rglob("*.py"):
        assert "processEvents" not in source.read_text(encoding="utf-8"), source


def test_the_demo_is_built_in_the_background_and_opened(qtbot, ask, tmp_path, monkeypatch):
    from benchapp.actions import demo

    class Builder:
        """Stands in for the demo, which takes seconds."""

        @staticmethod
        def build(path, _progress):
            Path(path).write_text("a bench file", encoding="utf-8")

    monkeypatch.setattr(demo, "_builder", Builder)
    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    opened = []
    monkeypatch.setattr(window, "open_path", opened.append)
    qtbot.mouseClick(window.start_page.buttons["demo"], Qt.MouseButton.LeftButton)
    assert window.session.working.title == "Building the demo bench file"
    qtbot.waitUntil(lambda: bool(opened))
    assert Path(opened[0]).name == "demo.bench"
    assert Path(opened[0]).exists()


def test_a_copy_without_its_demo_says_so(monkeypatch, tmp_path):
    from benchapp.actions import demo

    monkeypatch.setattr(demo, "PLACES", ("benchapp.nowhere.build",))
    with pytest.raises(BenchProblem, match="The demo is not part of this copy"):
        demo.build(tmp_path / "demo.bench")


def test_a_folder_that_cannot_be_made_is_told(tmp_path):
    from benchapp.actions import demo

    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    with pytest.raises(BenchProblem, match="No folder for the demo could be made"):
        demo.build(tmp_path / "file" / "demo.bench")


def test_the_file_of_the_command_line_opens_once_the_window_is_painted(qtbot, ask, monkeypatch):
    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    opened = []
    monkeypatch.setattr(window, "open_path", lambda path, take_over: opened.append((path, take_over)))
    window.open_soon("/somewhere/team.bench", take_over=True)
    assert window.statusBar().currentMessage() == "Opening team.bench…"
    qtbot.waitUntil(lambda: opened == [("/somewhere/team.bench", True)])


def test_dropping_a_spreadsheet_hands_it_to_sample_entry(window, monkeypatch):
    taken = []
    page = window.show_view("entry")
    monkeypatch.setattr(page, "take_table_file", lambda path: taken.append(path) or True)
    window.show_view("fleet")
    window.take_table("/somewhere/results.csv")
    assert taken == ["/somewhere/results.csv"]
    assert window.current_key == "entry"


def test_a_spreadsheet_that_no_view_takes_is_told(window):
    window.take_table("/somewhere/results.csv")
    assert window.messages.what.text() == "Sample entry did not take the file."


def test_a_view_that_holds_typed_work_keeps_the_window_open(qtbot, window, monkeypatch):
    page = window.show_view("entry")
    monkeypatch.setattr(page, "may_leave", lambda: False)
    assert not window.close()
    window.open_path("other.bench")
    assert window.session.working is None
    monkeypatch.undo()


def test_a_note_goes_when_the_work_goes_on_a_problem_stays(window, bench):
    change = Changed(frozenset({"run"}), frozenset({"E001"}), "Add run")
    window.session.note.emit("News.", "", "")
    bench.set_fleet(bench.fleet(), change)
    assert window.messages.isHidden()
    window.session.problem.emit(BenchProblem("What.", "Means.", "Do."))
    bench.set_fleet(bench.fleet(), change)
    assert window.messages.isVisible()


def drop(window, path: str) -> QDropEvent:
    """Drags a file over the window and lets it go."""
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(path)])
    copy, none = Qt.DropAction.CopyAction, Qt.KeyboardModifier.NoModifier
    entered = QDragEnterEvent(QPoint(5, 5), copy, mime, Qt.MouseButton.LeftButton, none)
    entered.ignore()
    window.dragEnterEvent(entered)
    dropped = QDropEvent(QPoint(5, 5), copy, mime, Qt.MouseButton.LeftButton, none)
    dropped.ignore()
    if entered.isAccepted():
        window.dropEvent(dropped)
    return dropped


def test_only_a_spreadsheet_may_be_dropped(window, monkeypatch):
    taken = []
    monkeypatch.setattr(window, "take_table", taken.append)
    assert not drop(window, "/somewhere/photo.png").isAccepted()
    assert drop(window, "/somewhere/results.ods").isAccepted()
    assert taken == ["/somewhere/results.ods"]


def test_a_view_without_a_table_says_so(window):
    window.show_view("trend")
    window.export_table()
    assert window.messages.what.text() == "Nothing here is a table to export."


def test_what_is_to_know_about_a_file_is_said_when_it_opens(qtbot, ask, only_fleet):
    bench = fakes.FakeBench(fakes.fleet(1))
    bench.notices = ("The last stop was unclean.", "The disk is nearly full.")
    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    window.session.use(bench)
    assert window.messages.what.text() == "Something to know about this file."
    assert window.messages.means.text() == "The last stop was unclean. The disk is nearly full."


def test_a_file_to_read_only_tells_what_else_there_is_to_know(qtbot, ask, only_fleet, monkeypatch):
    bench = fakes.FakeBench(fakes.fleet(1))
    bench.notices = ("The disk is nearly full.",)
    bench.read_only, bench.why_read_only, bench.damaged = True, "The medium is write-protected.", False
    bench.path = "somewhere.bench"
    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    window.session.use(bench)
    said = [window.messages.what.text(), window.messages.means.text(), window.messages.do.text()]
    assert said == [
        "This file is open to read only.", "The medium is write-protected.", "The disk is nearly full.",
    ]  # fmt: skip


def test_recent_files_open_from_the_menu_and_the_first_page(qtbot, ask, tmp_path, monkeypatch):
    here = tmp_path / "team.bench"
    here.touch()
    settings.remember_file(str(here))
    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    opened = []
    monkeypatch.setattr(window, "open_path", opened.append)
    window._fill_recent()
    window.menus.recent.actions()[0].trigger()
    assert opened == [str(here)]
    picked = []
    window.start_page.recent_picked.connect(picked.append)
    qtbot.mouseClick(window.start_page._recent[0], Qt.MouseButton.LeftButton)
    assert picked == [str(here)]


def test_turning_back_from_a_file_dialog_changes_nothing(qtbot, window, ask, bench):
    ask.path = ""
    for method in ("new_file", "open_file", "save_copy", "load_workbook", "unload_workbook", "export_table"):
        getattr(window, method)()
    assert window.session.bench is bench
    assert window.messages.isHidden()
    assert [asked[0] for asked in ask.asked] == ["save", "open", "save", "open", "save", "save"]


def test_the_session_waits_for_its_jobs_when_it_closes(qtbot, session):
    session.background(sum, ((1, 2),), print)
    session.close()
    assert session._pool.activeThreadCount() == 0


def test_a_result_for_a_widget_that_is_gone_is_let_go(qtbot, session):
    page = views.LaterPage("Gone", session)
    page.deleteLater()
    session.background(sum, ((1, 2),), page.setToolTip)
    session.background(sum, ((1, 2),), page.show_engine)
    import shiboken6

    shiboken6.delete(page)
    qtbot.waitUntil(lambda: not session.busy)


def test_a_fault_in_the_background_is_raised_in_the_windows_thread(qtbot, session):
    with qtbot.captureExceptions() as caught:
        session.background(int, ("no number",), print)
        qtbot.waitUntil(lambda: not session.busy)
    assert isinstance(caught[0][1], ValueError)


def test_what_a_person_waits_for_goes_before_the_next_family(qtbot, session):
    import threading

    began, go, ran = threading.Event(), threading.Event(), []

    def first() -> None:
        began.set()
        assert go.wait(10)

    session.background(first, (), print)
    assert began.wait(10)
    session._start("judge", ran.append, ("judged",), print)
    session.background(ran.append, ("asked",), print)
    with qtbot.waitSignal(session.busy_changed):
        go.set()
    assert ran == ["asked", "judged"]


def test_what_is_out_of_sight_is_painted_again_once_when_it_is_shown(qtbot):
    painted = []
    widget = QWidget()
    qtbot.addWidget(widget)
    theme.WhenSeen(widget, lambda: painted.append(theme.current().name))
    theme.apply("dark")
    theme.apply("sunlight")
    theme.apply("dark")
    assert painted == []
    widget.show()
    assert painted == ["dark"]
    theme.apply("sunlight")
    assert painted == ["dark", "sunlight"]
    widget.hide()
    widget.show()  # nothing has changed since
    assert painted == ["dark", "sunlight"]
