"""The log as a person keeps it: opened and corrected, repeated, withdrawn, with photos; what waits is counted below."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QMimeData, QPoint, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QImage

from benchapp.actions import change, filter_cut, finding, fitting, leak_down, oil_pressure, photo
from benchapp.actions.bench import Bench
from benchapp.records import Change, FilterCut, Finding, Fitting, LeakDown, OilPressure
from benchapp.window import photos, units
from benchapp.window.dialogs import forms
from tests.intake.test_photo import jpeg_head, png
from tests.window import small

CTRL = Qt.KeyboardModifier.ControlModifier


def put_log(bench: Bench) -> None:
    """Everything that a log can hold, in engine A1's."""
    change.add(bench, "A1", "1", Change(3.0, "tune", "less advance"))
    filter_cut.add(bench, "A1", "1", FilterCut(4.0, "few", "none"))
    leak_down.add(bench, "A1", "1", LeakDown(1.0, "1", 3.0, "T"), LeakDown(1.0, "2", 3.5, "T"))
    oil_pressure.add(bench, "A1", "1", OilPressure(5.0, 120.0, 900.0, 95.0), OilPressure(5.0, 500.0, 6000.0, 104.0))
    fitting.add(bench, "A1", "1", Fitting(0.0, "valve springs", "set 2", life=6.5, life_unit="h"))
    finding.add(bench, "A1", "1", Finding(6.0, bench.build("A1", "1").parts[0].name, "worn as expected", "26-003"))


@pytest.fixture(scope="module")
def small_file(small_file, tmp_path_factory):
    """The small bench file with that log: this file's tests copy it."""
    return small.with_more(small_file, tmp_path_factory.mktemp("more"), put_log)


@pytest.fixture
def fleet(no_judging, window, qtbot):
    """The fleet with engine A1 at hand."""
    qtbot.waitUntil(lambda: not window.session.busy, timeout=30000)
    window.session.select("A1")
    view = window.view("fleet")
    view.show_log()
    qtbot.waitUntil(lambda: view.detail.log.rows.rowCount() > 0)
    return view


def go_to(view, kind: str):
    row = next(row for row in view.detail.log.rows.shown() if row.kind == kind)
    view.detail.log.pick(row.key)
    return row


def press(qtbot, view, key, *modifiers):
    qtbot.keyClick(view.detail.log, key, *modifiers)


def build(view):
    return view.session.bench.build("A1", "1")


def test_every_line_of_the_log_opens_or_says_what_it_is(qtbot, fleet, ask):
    kinds = {row.kind for row in fleet.detail.log.rows.shown()}
    assert set(forms.OF_THE_LOG) - {"Magnet", "Top-up"} <= kinds
    for kind in sorted(kinds - {"Sample"}):
        go_to(fleet, kind)
        before = len(ask.shown)
        press(qtbot, fleet, Qt.Key.Key_Return)
        assert len(ask.shown) == before + 1, kind
        form = ask.shown[-1]
        assert form.windowTitle().startswith("Correct"), kind
        assert form.save.text() == "Save correction"
        form.try_commit()  # as it stands: nothing is different
        assert not form.isVisible(), (kind, form.trouble.text())
    assert fleet.session.bench.undo_label == "Add finding to engine A1"


def test_a_sample_in_the_log_opens_in_sample_entry(qtbot, fleet, window):
    go_to(fleet, "Sample")
    press(qtbot, fleet, Qt.Key.Key_Return)
    assert window.current_key == "entry"


def test_a_pull_says_where_it_is_corrected(qtbot, fleet, window):
    from benchapp.actions import pull
    from benchapp.records import Pull

    pull.add(fleet.session.bench, "A1", "1", Pull("P1", 1.0, 300.0))
    go_to(fleet, "Pull")
    press(qtbot, fleet, Qt.Key.Key_Return)
    assert "This is a pull (P1: 300 kW as read)" in window.messages.what.text()
    assert "Ctrl+4" in window.messages.do.text()
    press(qtbot, fleet, Qt.Key.Key_Delete)
    assert len(build(fleet).pulls) == 1


def test_a_run_is_corrected_and_another_like_it_is_entered(qtbot, fleet, ask):
    go_to(fleet, "Run")
    press(qtbot, fleet, Qt.Key.Key_Return)
    ask.shown[-1].set_text("laps", "21")
    ask.shown[-1].set_text("distance_km", "88.5")
    ask.shown[-1].try_commit()
    assert (build(fleet).runs[-1].laps, build(fleet).runs[-1].distance_km) == (21.0, 88.5)
    go_to(fleet, "Run")
    press(qtbot, fleet, Qt.Key.Key_D, CTRL)
    form = ask.shown[-1]
    assert form.windowTitle().startswith("Add a run")
    assert (form.text("laps"), form.text("hours")) == ("21", "2")
    form.try_commit()
    assert len(build(fleet).runs) == 4


def test_a_leak_down_is_corrected_as_the_table_it_was_entered_as(qtbot, fleet, ask):
    go_to(fleet, "Leak-down")
    press(qtbot, fleet, Qt.Key.Key_Return)
    form = ask.shown[-1]
    assert form.table.typed.rows() == [["1", "3"], ["2", "3.5"]]
    form.table.typed.set_rows([("1", "3"), ("2", "9"), ("3", "4")])
    form.try_commit()
    assert [(one.cylinder, one.percent) for one in build(fleet).leak_downs] == [("1", 3.0), ("2", 9.0), ("3", 4.0)]
    fleet.session.undo()
    assert len(build(fleet).leak_downs) == 2


def test_delete_withdraws_and_undo_brings_it_back(qtbot, fleet):
    go_to(fleet, "Oil pressure")
    press(qtbot, fleet, Qt.Key.Key_Delete)
    assert build(fleet).oil_pressures == ()
    fleet.session.undo()
    assert len(build(fleet).oil_pressures) == 2
    go_to(fleet, "Fill")
    press(qtbot, fleet, Qt.Key.Key_Delete)  # samples were drawn from it
    assert len(build(fleet).fills) == 1


def test_a_form_withdraws_what_it_corrects(qtbot, fleet, ask):
    go_to(fleet, "Change")
    press(qtbot, fleet, Qt.Key.Key_Return)
    qtbot.mouseClick(ask.shown[-1].withdraw, Qt.MouseButton.LeftButton)
    assert build(fleet).changes == ()
    go_to(fleet, "Fill")
    press(qtbot, fleet, Qt.Key.Key_Return)
    form = ask.shown[-1]
    qtbot.mouseClick(form.withdraw, Qt.MouseButton.LeftButton)
    assert "Samples were drawn" in form.trouble.text()
    form.reject()


# --- oil pressure ---------------------------------------------------------------------------------------------------


def test_oil_pressure_is_typed_in_the_chosen_unit_and_begins_with_the_last_speeds(fleet, ask, window):
    units.choose("pressure", "psi")
    form = forms.show(forms.PRESSURE, window.session, window)
    assert form.table.typed.rows() == [["900", "95", ""], ["6000", "104", ""]]
    assert form.table.typed.columns[2].title == "Pressure [psi]"
    form.table.typed.set_rows([("900", "95", "16"), ("6000", "104", "70,5"), ("3000", "", "")])
    form.try_commit()
    last = build(fleet).oil_pressures[-2:]
    assert [one.pressure_kpa for one in last] == [pytest.approx(16 * 6.894757), pytest.approx(70.5 * 6.894757)]
    row = next(row for row in fleet.detail.log.rows.shown() if row.kind == "Oil pressure")
    assert "110.3 kPa at 900 rpm" in row.text
    index = fleet.detail.log.rows.index_of(row.key)
    assert "16 psi" in fleet.detail.log.rows.index(index.row(), 5).data()


def test_oil_pressure_without_a_figure_asks(window, fleet, ask):
    form = forms.show(forms.PRESSURE, window.session, window)
    form.try_commit()
    assert form.trouble.text() == "No pressure is entered yet."
    form.table.typed.set_rows([("900", "hot", "x")])
    form.try_commit()
    assert "Row 1, Oil" in form.trouble.text()
    form.reject()


def test_a_corrected_pressure_in_another_unit_leaves_what_was_not_touched_exactly(qtbot, fleet, ask):
    units.choose("pressure", "bar")
    go_to(fleet, "Oil pressure")
    press(qtbot, fleet, Qt.Key.Key_Return)
    form = ask.shown[-1]
    assert [row[2] for row in form.table.typed.rows()] == ["1.2", "5"]
    form.set_text("gauge", "dash")
    form.try_commit()
    assert [(one.pressure_kpa, one.gauge) for one in build(fleet).oil_pressures] == [(120.0, "dash"), (500.0, "dash")]


# --- parts ----------------------------------------------------------------------------------------------------------


def test_a_part_shows_what_it_has_run_and_its_life_is_told_below(qtbot, fleet, window, ask):
    row = next(row for row in fleet.detail.parts.rows.shown() if row.part == "valve springs, set 2")
    assert (row.use, round(row.life_share, 2)) == ("6 h of 6.5 h", 0.92)
    assert "1 near the end of life" in window.waits.text()
    qtbot.mouseClick(window.waits, Qt.MouseButton.LeftButton)
    dialog = ask.shown[-1]
    line = next(each for each in dialog.rows if each.kind == "part life")
    dialog.table.pick(line.key)
    qtbot.keyClick(dialog.table, Qt.Key.Key_Return)
    assert fleet.detail.parts.key() == "valve springs, set 2"
    qtbot.keyClick(fleet.detail.parts, Qt.Key.Key_Return)
    assert ask.shown[-1].windowTitle().startswith("Correct a part that went in or out")
    ask.shown[-1].reject()


def test_a_life_in_miles_is_stored_in_kilometres_and_a_known_piece_brings_it(qtbot, fleet, window, ask):
    units.choose("distance", "mi")
    form = forms.show(forms.FITTING, window.session, window)
    form.set_text("part", "rods")
    form.set_text("piece", "r 1")
    form.set_text("life", "1000")
    form.set_text("life_unit", "mi")
    form.try_commit()
    made = build(fleet).fittings[-1]
    assert (made.life, made.life_unit) == (pytest.approx(1609.344), "km")
    window.session.select("B1")
    again = forms.show(forms.FITTING, window.session, window)
    again.set_text("part", "rods")
    again.set_text("piece", "r 1")
    again.fields["piece"].editor.editingFinished.emit()
    assert (again.text("life"), again.text("life_unit")) == ("1000", "mi")
    again.reject()


def test_a_fitted_part_is_a_change_too_in_one_step_where_the_engine_has_run(qtbot, fleet, window):
    form = forms.show(forms.FITTING, window.session, window)
    form.set_text("part", "oil cooler")
    form.set_text("piece", "c 2")
    form.set_text("build_h", "5.5")
    form.try_commit()
    assert build(fleet).fittings[-1].piece == "c 2"
    assert Change(5.5, "part", "oil cooler fitted, c 2") in build(fleet).changes
    window.session.undo()
    assert all(each.kind != "part" for each in build(fleet).changes)
    for hours, ticked, act in (("0", True, "went in"), ("5.5", False, "went in"), ("5.5", True, "came out")):
        form = forms.show(forms.FITTING, window.session, window)
        form.set_text("part", "oil cooler")
        form.set_text("act", act)
        form.set_text("build_h", hours)
        form.fields["changes"].editor.setChecked(ticked)
        form.try_commit()
        assert all(each.kind != "part" for each in build(fleet).changes), (hours, ticked, act)


def test_a_finding_may_be_of_dust_and_says_whether_a_way_in_was_found(qtbot, fleet, window, ask):
    form = forms.show(forms.FINDING, window.session, window)
    box = form.fields["condition"].editor
    form.set_text("part", "dust")
    assert [box.itemText(n) for n in range(box.count())] == ["no way in found", "a way in found"]
    box.setCurrentIndex(1)
    form.set_text("notes", "torn boot")
    form.try_commit()
    made = build(fleet).findings[-1]
    assert (made.part, made.condition) == ("dust", "damaged")
    row = next(row for row in fleet.detail.log.rows.shown() if row.text == "dust: a way in found: torn boot")
    fleet.detail.log.pick(row.key)
    press(qtbot, fleet, Qt.Key.Key_Return)
    again = ask.shown[-1]
    assert again.text("condition") == "a way in found"
    again.set_text("part", build(fleet).parts[0].name)
    assert again.text("condition") == "damaged"
    again.reject()


# --- photos ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def camera(tmp_path):
    """A camera's file: a picture larger than what is kept."""
    path = tmp_path / "IMG 0001.JPG"
    image = QImage(3000, 2000, QImage.Format.Format_RGB32)
    image.fill(0xB87333)
    assert image.save(str(path), "JPEG", 90)
    return path


def drop_on(widget, path) -> bool:
    """Drags a file over a widget and lets it go; True where it was taken."""
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path))])
    copy, none = Qt.DropAction.CopyAction, Qt.KeyboardModifier.NoModifier
    entered = QDragEnterEvent(QPoint(5, 5), copy, mime, Qt.MouseButton.LeftButton, none)
    entered.ignore()
    widget.dragEnterEvent(entered)
    dropped = QDropEvent(QPoint(5, 5), copy, mime, Qt.MouseButton.LeftButton, none)
    dropped.ignore()
    if widget.acceptDrops() and entered.isAccepted():
        widget.dropEvent(dropped)
    return dropped.isAccepted()


def test_what_is_no_picture_by_name_is_not_even_dragged_in(window, fleet, tmp_path):
    form = forms.show(forms.FINDING, window.session, window)
    assert not drop_on(form, tmp_path / "results.xlsx")
    form.reject()


def test_a_photo_dragged_onto_the_form_is_kept_small_and_shown_in_the_log(qtbot, fleet, window, ask, camera):
    form = forms.show(forms.FILTER_CUT, window.session, window)
    assert drop_on(form, camera)
    form.set_text("ferrous", "few")
    form.try_commit()
    assert "still being read" in form.trouble.text()
    qtbot.waitUntil(lambda: not form.strip.busy, timeout=20000)
    form.try_commit()
    assert not form.isVisible()
    shown = photo.of_entry(window.session.bench, "A1", "1", build(fleet).filter_cuts[-1])
    data = photo.data_of(window.session.bench, shown[0].sha256)
    assert photos.decoded(data).size().toTuple() == (2400, 1600)
    assert b"IMG 0001" not in data
    row = next(row for row in fleet.detail.log.rows.shown() if row.photos)
    index = fleet.detail.log.rows.index_of(row.key).siblingAtColumn(4)
    assert index.data() == "1"
    qtbot.waitUntil(lambda: not index.data(Qt.ItemDataRole.DecorationRole).isNull(), timeout=20000)
    fleet.detail.log.pick(row.key)
    press(qtbot, fleet, Qt.Key.Key_Space)
    dialog = ask.shown[-1]
    qtbot.waitUntil(lambda: not dialog._image.isNull(), timeout=20000)
    assert dialog.picture.pixmap() is not None
    dialog.reject()
    assert window.session.undo_label == "Add filter cut with 1 photo to engine A1"


def test_photos_are_chosen_looked_at_and_taken_away_with_the_keyboard(qtbot, fleet, window, ask, camera):
    ask.path = str(camera)
    form = forms.show(forms.FINDING, window.session, window)
    form.set_text("part", build(fleet).parts[0].name)
    qtbot.keyClick(form.strip.choose, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: not form.strip.busy, timeout=20000)
    assert form.strip.list.count() == 1
    form.try_commit()
    row = next(row for row in fleet.detail.log.rows.shown() if row.kind == "Finding" and row.photos)
    fleet.detail.log.pick(row.key)
    press(qtbot, fleet, Qt.Key.Key_Return)
    form = ask.shown[-1]
    form.strip.list.setCurrentRow(0)
    qtbot.keyClick(form.strip.list, Qt.Key.Key_Return)
    assert isinstance(ask.shown[-1], photos.PhotoDialog)
    ask.shown[-1].reject()
    form.strip.list.setFocus()
    qtbot.keyClick(form.strip.list, Qt.Key.Key_Delete)
    assert form.strip.list.count() == 0
    form.try_commit()
    assert not any(row.photos for row in fleet.detail.log.rows.shown())
    fleet.session.undo()
    assert any(row.photos for row in fleet.detail.log.rows.shown())


HOSTILE = {
    "no picture": b"MZ" * 100,
    "claims too much": png(60_000, 60_000),
    "cut off": jpeg_head(4000, 3000),
    "for ever": jpeg_head(4000, 3000, 0xC2) + b"\xff\xda\x00\x02" * 99,
    "pixels that lie": png(900, 900),
}


@pytest.mark.qt_log_ignore("Bogus marker length")  # what libjpeg says of a file that is cut off
@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_picture_is_refused_in_words_and_the_form_stays(qtbot, fleet, window, ask, tmp_path, name):
    path = tmp_path / f"{name}.jpg"
    path.write_bytes(HOSTILE[name])
    form = forms.show(forms.FINDING, window.session, window)
    drop_on(form, path)
    qtbot.waitUntil(lambda: not form.strip.busy, timeout=20000)
    if not form.strip.added():
        assert form.trouble.isVisible()
        assert "Nothing was added." in form.trouble.text()
        assert path.name in form.trouble.text()
    else:
        assert photos.decoded(form.strip.added()[0]).width() <= photos.KEPT_SIDE
    form.reject()


def test_a_file_that_is_gone_or_too_large_is_said(tmp_path):
    assert "could not be read" in photos.take_file(str(tmp_path / "gone.jpg"))[2]
    big = tmp_path / "big.jpg"
    with big.open("wb") as file:
        file.truncate(60_000_000)
    assert "is the most that is taken" in photos.take_file(str(big))[2]
    assert photos.thumb_of("x", b"no")[1].isNull()
    assert photos.thumb_large(0, b"no")[1].isNull()


def test_several_photos_are_gone_through_by_key(qtbot, window, fleet, ask):
    dialog = photos.PhotoDialog(window.session, window, (png(40, 30), png(30, 40)), "Two")
    qtbot.addWidget(dialog)
    dialog.show()
    qtbot.waitUntil(lambda: not dialog._image.isNull(), timeout=20000)
    qtbot.keyClick(dialog, Qt.Key.Key_Right)
    qtbot.waitUntil(lambda: not dialog._image.isNull(), timeout=20000)
    assert dialog.picture.accessibleName() == "Two, photo 2 of 2"
    assert not dialog.after.isEnabled()
    qtbot.keyClick(dialog, Qt.Key.Key_Left)
    assert dialog.picture.accessibleName() == "Two, photo 1 of 2"
    qtbot.waitUntil(lambda: not window.session.busy, timeout=20000)


# --- beside the trend -----------------------------------------------------------------------------------------------


def test_the_log_reads_as_a_time_line_beside_the_trend(qtbot, fleet, window, ask):
    window.session.show_trend("A1")
    trend = window.view("trend")
    assert trend.log.isHidden()
    qtbot.keyClick(trend, Qt.Key.Key_J, CTRL)
    if trend.log.isHidden():  # a platform without an active window delivers no shortcut
        trend.log_button.click()
    rows = trend.log.rows.shown()
    assert [row.build_h for row in rows] == sorted((row.build_h for row in rows), reverse=True)
    trend.log.pick(next(row.key for row in rows if row.kind == "Change"))
    assert trend.words.text() == "Change at 3.0 h of build 1: tune: less advance"
    trend.log.pick(next(row.key for row in rows if row.kind == "Sample"))
    assert trend.plot.picked[0]
    trend.log.pick(next(row.key for row in rows if row.kind == "Change"))
    qtbot.keyClick(trend.log, Qt.Key.Key_Return)
    ask.shown[-1].set_text("notes", "two degrees")
    ask.shown[-1].try_commit()
    assert any("two degrees" in row.text for row in trend.log.rows.shown())
    qtbot.keyClick(trend.log, Qt.Key.Key_Delete)
    assert build(fleet).changes == ()


def test_oil_pressure_has_a_trend_of_its_own(qtbot, fleet, window):
    from benchapp.actions import series

    oil_pressure.add(window.session.bench, "A1", "1", OilPressure(6.0, 470.0, 6100.0, 104.0))
    window.session.show_trend("A1")
    trend = window.view("trend")
    trend.kind_box.setCurrentIndex(trend.kind_box.findData(series.PRESSURE))
    trend.kind_box.activated.emit(trend.kind_box.currentIndex())
    lines = {line.name: line for line in trend.series.lines}
    assert lines["6000 rpm"].y == (500.0, 470.0)
    assert lines["900 rpm"].x == (5.0,)
    trend.list.setCurrentRow(1)
    assert "oil pressure at" in trend.words.text()
    trend.open_picked()
    assert not trend.log.isHidden()
    rows = series.table(trend.series)[1]
    assert len(rows) == 3


def test_the_trend_of_a_pressure_and_its_export_follow_the_chosen_unit(qtbot, fleet, window, ask, tmp_path):
    from benchapp.actions import series

    units.choose("pressure", "bar")
    window.session.show_trend("A1")
    trend = window.view("trend")
    trend.kind_box.setCurrentIndex(trend.kind_box.findData(series.PRESSURE))
    trend.kind_box.activated.emit(trend.kind_box.currentIndex())
    assert {line.name: line.y for line in trend.series.lines} == {"900 rpm": (1.2,), "6000 rpm": (5.0,)}
    assert trend.plot.main.getAxis("left").labelText == "Oil pressure [bar]"
    assert " bar" in trend.words.text()
    ask.path = str(tmp_path / "pressure.csv")
    trend.export_table()
    written = (tmp_path / "pressure.csv").read_text("utf-8-sig")
    assert "6000 rpm,5.0,bar" in written
    group = next(g for g in window.menus.units if g.actions()[0].text() == "kPa")
    group.actions()[0].trigger()  # back to the file's own, while it is shown
    assert {line.name: line.y for line in trend.series.lines} == {"900 rpm": (120.0,), "6000 rpm": (500.0,)}
    assert build(fleet).oil_pressures[1].pressure_kpa == 500.0


def test_without_an_oil_pressure_the_trend_says_how_to_enter_one(no_judging, window, qtbot):
    from benchapp.actions import series

    qtbot.waitUntil(lambda: not window.session.busy, timeout=30000)
    window.session.show_trend("B1")
    trend = window.view("trend")
    trend.kind_box.setCurrentIndex(trend.kind_box.findData(series.PRESSURE))
    trend.kind_box.activated.emit(trend.kind_box.currentIndex())
    assert trend.empty_head.text() == "No oil pressure yet."
    assert "Ctrl+Shift+U" in trend.empty.text()


def test_a_workbook_says_in_the_window_that_photos_stay_behind(qtbot, fleet, window, ask, tmp_path):
    ask.path = str(tmp_path / "whole.xlsx")
    said = {}
    for count, pictures in enumerate(((png(5, 5),), (png(6, 6),)), start=1):
        photo.add(window.session.bench, "A1", "1", build(fleet).findings[0], *pictures)
        window.messages.clear()
        window.unload_workbook()
        qtbot.waitUntil(window.messages.isVisible, timeout=30000)
        said[count] = window.messages.do.text()
    assert said[1] == "1 photo stays in the bench file: a workbook holds none. Save a copy to take them along."
    assert said[2].startswith("2 photos stay in the bench file")


def test_a_picture_that_stays_too_large_is_refused(monkeypatch):
    from benchapp.intake import photo as outside
    from benchapp.problems import BenchProblem

    monkeypatch.setattr(outside, "LARGEST_KEPT", 100)
    with pytest.raises(BenchProblem, match="stays too large however it is written"):
        photos.prepared(png(60, 60))
