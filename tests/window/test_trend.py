"""The Trends view, driven as a person would: keys, mouse, ticks, files."""

from __future__ import annotations

import csv
import dataclasses
import time

import pytest

pytest.importorskip("PySide6", reason="the window needs Qt", exc_type=ImportError)

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest

from benchapp.actions import sample as sample_verbs
from benchapp.actions import series as data
from benchapp.actions.changed import Changed
from benchapp.records import Engine, Reading, Sample
from benchapp.window import theme
from benchapp.window.session import EMPTY
from benchapp.window.trend import looks, picture
from benchapp.window.trend.plot import TrendPlot
from benchapp.window.trend.view import TrendView
from tests.window.trend_fakes import BORE, OVERLAY, PISTON, TrendBench, long_engine


@pytest.fixture
def bench():
    return TrendBench()


@pytest.fixture(autouse=True)
def entered(monkeypatch):
    """Who entered a sample: the bench in memory keeps no history."""
    line = sample_verbs.HistoryLine("2026-05-09 15:02", "A. Invented", "Confirm", ())
    monkeypatch.setattr(sample_verbs, "history", lambda _bench, _code: (line,))


@pytest.fixture
def view(qtbot, session):
    made = TrendView(session)
    qtbot.addWidget(made)
    made.resize(1200, 720)
    made.refresh(None)
    made.show()
    qtbot.waitExposed(made)
    made.focus_first()
    return made


def names(view) -> list[str]:
    return [view.list.item(row).data(Qt.ItemDataRole.UserRole) for row in range(view.list.count())]


def shown(view) -> list[str]:
    return [line.name for line in view.series.lines]


def choose(view, box, value) -> None:
    """Picks an entry of a box with the keyboard alone."""
    box.setFocus()
    QTest.keyClick(box, Qt.Key.Key_Home)
    while box.currentData() != value:
        before = box.currentIndex()
        QTest.keyClick(box, Qt.Key.Key_Down)
        assert box.currentIndex() != before, f"{value!r} is not there"


def row_of(view, name: str) -> int:
    return names(view).index(name)


def tick(view, name: str) -> None:
    """Ticks or unticks a line with the keyboard."""
    view.list.setFocus()
    while view.list.currentRow() != row_of(view, name):
        QTest.keyClick(view.list, Qt.Key.Key_Down if view.list.currentRow() < row_of(view, name) else Qt.Key.Key_Up)
    QTest.keyClick(view.list, Qt.Key.Key_Space)


def test_it_opens_on_the_last_build_with_a_few_lines_and_the_last_point_ringed(view):
    assert view.engine == "Alder 3"
    assert view.build == "2"
    assert len(shown(view)) == 3
    assert view.plot.front == shown(view)[0]
    assert view.plot.picked == (view.plot.front, 7)
    assert "B2-07 at 17.5 h of build 2" in view.words.text()


def test_space_in_the_list_shows_and_hides_a_line(view):
    assert "Al" not in shown(view)
    tick(view, "Al")
    assert "Al" in shown(view)
    assert view.plot.front == "Al"
    tick(view, "Al")
    assert "Al" not in shown(view)


def test_a_line_that_reads_higher_is_never_cut_off(view):
    tick(view, "Ca")
    highest = max(line.y[0] for line in view.series.lines)
    assert view.plot.main.viewRange()[1][1] > highest
    QTest.keyClicks(view.plot, "+")
    hours = view.plot.main.viewRange()[0]
    tick(view, "Zn")
    assert view.plot.main.viewRange()[0] == hours


def test_with_nothing_ticked_it_says_what_to_do(view):
    for name in shown(view):
        tick(view, name)
    assert view.stack.currentIndex() == 1
    assert view.empty_head.text() == "No line is ticked."
    assert "Space" in view.empty.text()


def test_arrows_walk_from_sample_to_sample_and_stop_at_the_ends(view):
    view.plot.setFocus()
    QTest.keyClick(view.plot, Qt.Key.Key_Left)
    assert view.plot.picked[1] == 6
    assert "entered by A. Invented, 2026-05-09 15:02" in view.words.text()
    QTest.keyClick(view.plot, Qt.Key.Key_Home)
    assert view.plot.picked[1] == 0
    QTest.keyClick(view.plot, Qt.Key.Key_Left)
    assert view.plot.picked[1] == 0
    QTest.keyClick(view.plot, Qt.Key.Key_End)
    QTest.keyClick(view.plot, Qt.Key.Key_Right)
    assert view.plot.picked[1] == 7


def test_up_and_down_bring_another_line_to_the_front_on_the_same_sample(view, session):
    view.plot.setFocus()
    session.select("Alder 3", "B2-04")
    before = view.plot.front
    QTest.keyClick(view.plot, Qt.Key.Key_Down)
    assert view.plot.front != before
    assert view.plot.picked == (view.plot.front, 4)
    QTest.keyClick(view.plot, Qt.Key.Key_Up)
    assert view.plot.front == before


def test_return_opens_the_sample_in_sample_entry(view, session, qtbot):
    view.plot.setFocus()
    QTest.keyClick(view.plot, Qt.Key.Key_Left)
    with qtbot.waitSignal(session.sample_asked) as asked:
        QTest.keyClick(view.plot, Qt.Key.Key_Return)
    assert asked.args == ["B2-06"]
    assert session.selected_sample == "B2-06"


def test_a_click_on_a_mark_opens_its_sample(view, session, qtbot):
    at = view.plot.scene_pos(view.plot.front, 3).toPoint()
    viewport = view.plot.graphics.viewport()
    with qtbot.waitSignal(session.sample_asked) as asked:
        QTest.mouseClick(viewport, Qt.MouseButton.LeftButton, pos=at)
    assert asked.args == ["B2-03"]


def test_pointing_at_a_mark_reads_it(view, qtbot):
    viewport = view.plot.graphics.viewport()
    at = view.plot.scene_pos(view.plot.front, 3).toPoint()
    QTest.mouseMove(viewport, at)
    qtbot.waitUntil(lambda: view.plot.picked == (view.plot.front, 3))
    assert "sample B2-03 at 7.5 h" in view.words.text()
    assert "trailer disc (rotating-disc)" in view.words.text()
    assert view.plot._tag.isVisible()
    assert "taken 2026-04-02 10:00" in view.words.text()
    assert "entered by A. Invented" in view.words.text()


def test_pointing_at_an_event_says_what_it_was(view, qtbot):
    box = view.plot.lane.getViewBox()
    viewport = view.plot.graphics.viewport()
    at = view.plot.graphics.mapFromScene(box.mapViewToScene(QPointF(6.0, 1.0)))
    QTest.mouseMove(viewport, at)
    qtbot.waitUntil(lambda: "Top-up, 0.5 L" in view.words.text())


def test_page_keys_read_calls_and_events_one_after_another(view):
    view.plot.setFocus()
    QTest.keyClick(view.plot, Qt.Key.Key_PageUp)
    assert "Park: sample B2-07" in view.words.text()
    QTest.keyClick(view.plot, Qt.Key.Key_PageUp)
    assert "main bearing overlay: worn out: down to the lining (17.5 h)" in view.words.text()
    for _ in range(40):
        QTest.keyClick(view.plot, Qt.Key.Key_PageUp)
    assert view.words.text() == "Fill 1: Example break-in oil, 6 L, new filter (0.0 h)"
    QTest.keyClick(view.plot, Qt.Key.Key_PageDown)
    assert "(0.7 h)" in view.words.text()


def test_another_engine_starts_at_its_last_build(view, session):
    choose(view, view.build_box, "1")
    session.select("E001")
    session.select("Alder 3")
    assert view.build == "2"


def test_rates_of_sources_have_band_and_intervals_readings_have_the_ceiling(view):
    kinds = {type(item).__name__ for item in view.plot._front_items}
    assert "TextItem" in kinds
    assert "FillBetweenItem" not in kinds
    choose(view, view.kind_box, data.SOURCE_RATE)
    kinds = {type(item).__name__ for item in view.plot._front_items}
    assert {"FillBetweenItem", "ErrorBarItem"} <= kinds
    assert set(shown(view)) == {OVERLAY, BORE, PISTON}
    assert "expected" in view.words.text()


def test_only_the_line_in_front_has_its_ceiling_and_is_heavier(view):
    def pens():
        return {name: drawn.inside.opts["pen"].widthF() for name, drawn in view.plot._drawn.items()}

    before = view.plot.front
    assert all(pens()[before] > pen for name, pen in pens().items() if name != before)
    view.plot.setFocus()
    QTest.keyClick(view.plot, Qt.Key.Key_Down)
    after = view.plot.front
    assert all(pens()[after] > pen for name, pen in pens().items() if name != after)
    texts = [item.toPlainText() for item in view.plot._front_items if hasattr(item, "toPlainText")]
    assert len(texts) == 1
    assert texts[0].startswith(f"ceiling {after} ")


def test_hollow_marks_are_those_below_what_the_instrument_sees(view):
    tick(view, "Al")
    drawn = view.plot._drawn["Pb"]
    assert sorted(point.data() for point in drawn.hollow.points()) == [1, 2]
    assert {point.brush().color().name() for point in drawn.hollow.points()} == {theme.current().paper}
    assert len(drawn.full.points()) == 6


def test_every_build_can_be_chosen_and_all_of_them(view):
    choose(view, view.build_box, "1")
    assert "B1-07" in view.words.text()
    choose(view, view.build_box, data.ALL_BUILDS)
    assert len(view.series.spans) == 2
    assert len(view.plot.entries(view.plot.front)) == 16


def test_instruments_are_joined_only_when_told(view):
    def joins():
        return int(view.plot._drawn[view.plot.front].across.opts["connect"].sum())

    assert view.join_box.isEnabled()
    apart = joins()
    view.join_box.setFocus()
    QTest.keyClick(view.join_box, Qt.Key.Key_Space)
    assert joins() == apart + 1


def test_one_instrument_needs_no_joining(view):
    choose(view, view.engine_box, "E001")
    assert not view.join_box.isEnabled()


def test_zoom_keys_and_show_all(view):
    def width():
        left, right = view.plot.main.viewRange()[0]
        return right - left

    whole = width()
    view.plot.setFocus()
    QTest.keyClicks(view.plot, "+")
    assert width() == pytest.approx(whole * 0.7)
    QTest.keyClick(view.plot, Qt.Key.Key_Home)
    left, right = view.plot.main.viewRange()[0]
    assert left <= 0.7 <= right
    QTest.keyClicks(view.plot, "0")
    assert width() == pytest.approx(whole)


def test_another_view_can_send_a_person_to_a_line(view):
    view.show_engine("Alder 3", BORE)
    assert view.kind == data.SOURCE_RATE
    assert shown(view) == [BORE]
    view.show_engine("Alder 3", "Cu")
    assert view.kind == data.PPM
    assert shown(view) == ["Cu"]
    view.show_sample("B2-02")
    assert view.plot.picked == ("Cu", 2)


def test_the_engine_at_hand_is_shared_with_the_other_views(view, session):
    session.select("E001")
    assert view.engine == "E001"
    choose(view, view.engine_box, "Alder 3")
    assert session.selected_engine == "Alder 3"


def test_a_new_sample_appears_when_the_bench_says_so(view, bench):
    fleet = bench.fleet()
    engine = fleet.engines[0]
    build = engine.builds[1]
    fresh = Sample("B2-99", "3", 17.9, 7.9, instrument="lab icp", readings=(Reading("Pb", 30.0),))
    grown = dataclasses.replace(build, samples=(*build.samples, fresh))
    engines = (dataclasses.replace(engine, builds=(engine.builds[0], grown)), *fleet.engines[1:])
    before = len(view.plot.entries("Pb"))
    bench.calls_of = lambda _name: ()
    view.session.changed.connect(view.refresh)
    bench.set_fleet(
        dataclasses.replace(fleet, engines=engines), Changed(frozenset({"sample"}), frozenset({"Alder 3"}), "x")
    )
    assert len(view.plot.entries("Pb")) == before + 1


def test_a_change_to_another_engine_leaves_the_plot_alone(view, monkeypatch):
    calls = []
    monkeypatch.setattr(view, "_fill_engines", lambda *a: calls.append(a))
    view.refresh(Changed(frozenset({"sample"}), frozenset({"E001"}), "x"))
    assert calls == []
    view.refresh(Changed(frozenset({"oil"}), frozenset(), "x"))
    assert len(calls) == 1


def test_a_view_in_the_back_catches_up_when_it_comes_forward(view, bench):
    view.hide()
    engines = (Engine("Newcomer", "Example family"), *bench.fleet().engines)
    bench._fleet = dataclasses.replace(bench.fleet(), engines=engines)
    view.refresh(Changed(frozenset({"engine"}), frozenset({"Newcomer"}), "x"))
    assert view.engine_box.findData("Newcomer") < 0
    view.show()
    assert view.engine_box.findData("Newcomer") >= 0


@pytest.mark.parametrize(
    ("engine", "said"),
    [("E003", "No sample of E003 yet."), ("Bare", "Bare has no build yet.")],
)
def test_an_empty_plot_says_what_to_do(view, bench, engine, said, session, qtbot):
    engines = (*bench.fleet().engines, Engine("Bare", "Example family"))
    bench._fleet = dataclasses.replace(bench.fleet(), engines=engines)
    view.show_engine(engine)
    assert view.stack.currentIndex() == 1
    assert view.empty_head.text() == said
    assert not view.table_button.isEnabled()
    if engine == "E003":
        with qtbot.waitSignal(session.entry_asked) as asked:
            QTest.mouseClick(view.empty_button, Qt.MouseButton.LeftButton)
        assert asked.args == ["E003"]


def test_an_empty_bench_says_what_to_do(view, bench):
    bench._fleet = EMPTY
    view.refresh(None)
    assert view.empty_head.text() == "No engine yet."


def test_rates_wait_for_the_judging_and_say_so(view, bench):
    bench.judging = frozenset({"Alder 3"})
    choose(view, view.kind_box, data.SOURCE_RATE)
    assert view.empty_head.text().startswith("Its samples are being judged")
    bench.judging = frozenset()
    view.calls_arrived()
    assert view.stack.currentIndex() == 0
    assert len(shown(view)) == 3


def test_without_any_rate_it_says_what_a_rate_needs(view, bench):
    bench.calls_of = lambda _name: ()
    choose(view, view.kind_box, data.ELEMENT_RATE)
    assert view.empty_head.text() == "No wear rate yet."


def test_table_out(view, ask, tmp_path):
    ask.path = str(tmp_path / "out.csv")
    QTest.mouseClick(view.table_button, Qt.MouseButton.LeftButton)
    with (tmp_path / "out.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 24
    assert {row["line"] for row in rows} == set(shown(view))
    assert rows[-1]["sample"] == "B2-07"


def test_workbook_out(view, ask, tmp_path):
    from openpyxl import load_workbook

    ask.path = str(tmp_path / "out.xlsx")
    view.export_table()
    assert load_workbook(ask.path).active.max_row == 25


def test_picture_out_as_png_and_svg_with_its_legend(view, ask, tmp_path, qtbot):
    ask.path = str(tmp_path / "out.png")
    view.activateWindow()
    qtbot.waitUntil(view.isActiveWindow)
    QTest.keyClick(
        view.focusWidget(), Qt.Key.Key_E, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
    )
    image = QImage(ask.path)
    assert image.width() == 2 * view.plot.graphics.width()
    ask.path = str(tmp_path / "out.svg")
    view.save_picture()
    text = (tmp_path / "out.svg").read_text(encoding="utf-8")
    assert "Alder 3, build 2: ppm of each element" in text
    assert "Pb, last 8.06 ppm" in text
    assert "other instrument" in text
    assert "<image" not in text
    assert view.plot.dots == 1.0


def test_turning_back_from_the_file_dialog_writes_nothing(view, ask, tmp_path):
    ask.path = ""
    view.save_picture()
    view.export_table()
    assert list(tmp_path.glob("*.csv")) == []


def test_a_place_that_cannot_be_written_is_said(view, ask, tmp_path, qtbot):
    ask.path = str(tmp_path / "nowhere" / "out.csv")
    with qtbot.waitSignal(view.session.problem) as told:
        view.export_table()
    assert "could not be written" in told.args[0].what


def test_a_plot_takes_the_colours_of_the_theme(view):
    theme.apply("dark")
    assert view.plot.graphics.backgroundBrush().color().name() == theme.DARK.paper
    assert view.plot.main.getAxis("left").textPen().color().name() == theme.DARK.ink
    drawn = view.plot._drawn[view.plot.front]
    assert drawn.inside.opts["pen"].color().name() == theme.DARK.series[0]
    theme.apply("sunlight")
    assert view.plot.graphics.backgroundBrush().color().name() == theme.SUNLIGHT.paper


def test_lines_differ_without_colour():
    seen = {(slot % len(looks.SYMBOLS), tuple(looks.Style(slot).pen().dashPattern())) for slot in range(24)}
    assert len(seen) == 24
    shapes = [symbol.toFillPolygon() for symbol in looks.SYMBOLS]
    assert all(one != other for i, one in enumerate(shapes) for other in shapes[:i])


def test_a_line_keeps_its_look_while_others_come_and_go(view):
    kept = shown(view)[1]
    before = view._styles(shown(view))[kept].slot
    tick(view, shown(view)[0])
    tick(view, "Al")
    assert view._styles(shown(view))[kept].slot == before


def test_events_of_one_hour_do_not_hide_each_other(view):
    from benchapp.window.trend.plot import _rows

    events = [event for event in view.series.events if event.x == 12.5]
    assert len(events) == 2
    assert len(set(_rows(tuple(events)))) == 2


def test_targets_in_the_large_mode(view):
    theme.apply("sunlight", large=True)
    for button in (view.all_button, view.open_button, view.picture_button, view.engine_box):
        assert button.sizeHint().height() >= 40
    assert view.list.sizeHintForRow(0) >= 40


def test_it_fits_a_small_screen_at_every_size(view):
    for scale in (1.0, 2.0):
        theme.apply("sunlight", large=False, scale=scale)
        assert view.minimumSizeHint().width() <= 1366
        assert view.minimumSizeHint().height() <= 768


def test_tab_order_is_reading_order(view):
    order = []
    widget = view.engine_box
    widget.setFocus()
    for _ in range(7):
        order.append(view.focusWidget())
        QTest.keyClick(view.focusWidget(), Qt.Key.Key_Tab)
    assert order[:6] == [
        view.engine_box, view.build_box, view.kind_box, view.all_button, view.log_button, view.list,
    ]  # fmt: skip


def test_f1_lists_the_keys():
    assert {"Left, Right", "Space", "Return"} <= {key for key, _ in TrendView.keys}


def test_no_unit_prefix_is_ever_made_up(view, bench):
    engine = bench.fleet().engines[0]
    build = engine.builds[1]
    big = tuple(dataclasses.replace(s, readings=(Reading("Zn", 2500.0),)) for s in build.samples)
    engines = (dataclasses.replace(engine, builds=(dataclasses.replace(build, samples=big),)),)
    bench._fleet = dataclasses.replace(bench.fleet(), engines=engines)
    bench.calls_of = lambda _name: ()
    view.refresh(None)
    assert view.plot.main.getAxis("left").labelText == "Zn [ppm]"
    assert view.plot.main.getAxis("left").autoSIPrefix is False


def test_points_without_a_value_are_left_out_not_drawn_at_zero(qtbot, bench):
    series = data.of(bench, "Alder 3", "2", data.PPM, ["Fe"])
    line = dataclasses.replace(series.lines[0], y=(None, *series.lines[0].y[1:]))
    plot = TrendPlot()
    qtbot.addWidget(plot)
    plot.show_series(dataclasses.replace(series, lines=(line,)), {"Fe": looks.Style(0)}, "Fe")
    assert plot.entries("Fe").tolist() == [1, 2, 3, 4, 5, 6, 7]


def test_five_thousand_samples_in_six_lines_stay_fluid(view, bench):
    bench._fleet = dataclasses.replace(bench.fleet(), engines=(long_engine(),))
    bench.calls_of = lambda _name: ()
    view.refresh(None)
    view._shown[data.PPM] = names(view)[:6]
    view.calls_arrived()
    assert [len(view.plot.entries(name)) for name in shown(view)] == [5000] * 6
    viewport = view.plot.graphics.viewport()
    viewport.repaint()
    took = []
    for _ in range(3):
        start = time.perf_counter()
        viewport.repaint()
        took.append(time.perf_counter() - start)
    few = _repaint_of_a_small_plot(view, bench)
    assert min(took) < 40 * few, f"{min(took):.3f} s against {few:.3f} s for 24 points"


def _repaint_of_a_small_plot(view, _bench) -> float:
    view.session.bench._fleet = TrendBench().fleet()
    view.refresh(None)
    viewport = view.plot.graphics.viewport()
    viewport.repaint()
    start = time.perf_counter()
    viewport.repaint()
    return time.perf_counter() - start


def test_the_picture_is_the_same_twice(view):
    styles, key = view._styles(shown(view)), "key"
    assert picture.png(view.plot, styles, key) == picture.png(view.plot, styles, key)


def test_in_the_main_window_it_is_three_keys_away(window, qtbot):
    QTest.keyClick(window, Qt.Key.Key_3, Qt.KeyboardModifier.ControlModifier)
    view = window.view("trend")
    assert isinstance(view, TrendView)
    assert view.list.hasFocus()
    assert view.engine == "Alder 3"
