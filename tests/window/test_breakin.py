"""The Break-in view, driven by keys: lamps, pulls, checklist over a crash, plans, ceilings, page."""

from __future__ import annotations

import datetime as dt

import pytest

pytest.importorskip("PySide6", reason="the window needs Qt", exc_type=ImportError)

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest

from benchapp.actions import breakin
from benchapp.actions.bench import Bench
from benchapp.breakin import stages
from benchapp.window import theme
from benchapp.window.breakin.forms import PlanForm, PullsForm
from benchapp.window.breakin.lamps import WORDS, LampCard, LampMark
from benchapp.window.breakin.view import BreakInView
from benchapp.window.session import EMPTY, Session
from tests.window import breakin_bench as life

CTRL_SHIFT = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
NOON = dt.datetime(2026, 5, 1, 12, 0)


@pytest.fixture
def clock(monkeypatch):
    """The laptop's clock, which the test moves."""
    held = [NOON]
    monkeypatch.setattr(breakin, "now", lambda: held[0])

    def forward(**more):
        held[0] += dt.timedelta(**more)

    return forward


@pytest.fixture
def view(qtbot, session, clock):
    return shown(qtbot, session)


def shown(qtbot, session, engine="B1"):
    made = BreakInView(session)
    qtbot.addWidget(made)
    made.resize(1250, 800)
    session.changed.connect(made.refresh)  # as the main window does
    made.refresh(None)
    made.show_engine(engine)
    made.show()
    qtbot.waitExposed(made)
    made.focus_first()
    return made


def states(view):
    return {name: card.accessibleName() for name, card in view.cards.items()}


def test_nothing_known_names_what_to_enter_and_shows_three_dashes(view):
    assert "enter pulls" in view.sentence.text()
    assert set(states(view).values()) == {"Power: no evidence", "Leak-down: no evidence", "Wear rate: no evidence"}
    assert "Add pulls" in view.plots["power"].accessibleDescription()
    assert "not comparable" in view.left_out.text()


def test_three_lamps_light_by_shape_and_word_with_their_reasons(view, bench):
    life.add_pulls(bench, life.FLAT)
    life.add_leak_downs(bench)
    life.add_life(bench, (80.0, 30.0, 12.0, 10.0))
    view.refresh(None)
    assert states(view) == {
        "power": "Power: settled", "leak-down": "Leak-down: settled", "wear rate": "Wear rate: settled",
    }  # fmt: skip
    assert view.sentence.text() == "Break-in is done as far as power, leak-down and wear rate can tell."
    assert "confirmed by" in view.cards["power"].reason.text()
    assert "8 pulls, SAE J1349" in view.plots["power"].accessibleDescription()
    assert "cylinder 1" in view.plots["leak-down"].accessibleDescription()
    assert "mg/h" in view.plots["wear rate"].accessibleDescription()


def test_the_three_shapes_differ_without_colour(qtbot):
    pictures = set()
    for state in WORDS:
        mark = LampMark()
        qtbot.addWidget(mark)
        mark.set_state(state)
        image = mark.grab().toImage().convertToFormat(mark.grab().toImage().Format.Format_Mono)
        pictures.add(bytes(image.constBits()))
    assert len(pictures) == 3


def test_every_lamp_says_its_reason(qtbot):
    card = LampCard("power")
    qtbot.addWidget(card)
    card.show_lamp(breakin.NOT_YET, "two pulls to go")
    assert card.reason.text() == "Two pulls to go."
    assert card.accessibleDescription() == "two pulls to go"


def test_another_correction_is_another_answer(view, bench):
    rows = [[f"{n}", f"{n}", "300", "38", "95", "60"] for n in range(1, 5)]
    breakin.take_pulls(bench, "B1", "1", rows)
    view.refresh(None)
    assert "Left out of SAE J1349: Pull 1: the factor" in view.left_out.text()
    view.standard_box.setFocus()
    QTest.keyClick(view.standard_box, Qt.Key.Key_End)
    view._show()
    assert "Left out" not in view.left_out.text()
    assert view.plots["power"].accessibleDescription().startswith("4 pulls, as measured")


# --- pulls


def form_of(ask):
    return ask.shown[-1]


def test_pulls_are_pasted_fixed_in_place_and_taken(view, bench, ask, qtbot):
    view.tabs.tabBar().setFocus()
    QTest.keyClick(view, Qt.Key.Key_D, Qt.KeyboardModifier.ControlModifier)
    form = form_of(ask)
    assert isinstance(form, PullsForm)
    text = "Run\tEngine hours\tPower [hp]\tIAT (F)\tBaro (inHg)\tRH %\tNote\n"
    text += "1\t1.0\t366\t71\t29.8\t45\t\n2\t\tabc\t71\t29.8\t45\t\n"
    QGuiApplication.clipboard().setText(text)
    QTest.keyClick(form.table, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    assert form.table.typed.rows()[0] == ["1", "1.0", "366 hp", "71 F", "29.8 inHg", "45"]
    assert "Row 2, Hours [h]: the hours of the build are needed." in form.trouble.text()
    assert "Columns left out: Note." in form.trouble.text()
    form.try_commit()
    assert "2 cells of the pulls cannot be read." in form.trouble.text()
    assert bench.build("B1", "1").pulls == ()
    for column, cell in ((1, "1.5"), (2, "368")):
        form.table.typed.setData(form.table.typed.index(1, column), cell)
    form.try_commit()
    taken = bench.build("B1", "1").pulls
    assert [round(pull.power_kw, 1) for pull in taken] == [272.9, 368.0]
    assert view.plots["power"].accessibleDescription().startswith("2 pulls")


def test_bare_powers_take_the_unit_chosen_and_a_file_is_read(view, bench, ask, qtbot, tmp_path):
    view.add_pulls()
    form = form_of(ask)
    table = tmp_path / "pulls.csv"
    table.write_text("pull,hours,power\nA,1.0,100\n")
    ask.path = str(table)
    form.open_file()
    form.set_text("unit", "PS")
    form.try_commit()
    assert bench.build("B1", "1").pulls[0].power_kw == pytest.approx(73.55, abs=0.01)


def test_a_file_that_cannot_be_read_is_said(view, ask, tmp_path):
    view.add_pulls()
    form = form_of(ask)
    ask.path = str(tmp_path / "not there.csv")
    form.open_file()
    assert "could not be read" in form.trouble.text()


def test_the_leak_down_form_is_one_key_away(view, ask):
    QTest.keyClick(view, Qt.Key.Key_K, CTRL_SHIFT)
    assert form_of(ask).windowTitle().startswith("Leak-down: B1")


# --- the checklist


def checklist(view):
    view.tabs.setCurrentIndex(1)
    view.focus_first()
    return view.checklist


def test_space_starts_and_stops_the_clock(view, clock):
    live = checklist(view)
    assert live.go.hasFocus()
    QTest.keyClick(live.go, Qt.Key.Key_Space)
    clock(minutes=3, seconds=7)
    live._tick_clock()
    assert live.clock.text() == "3:07"
    assert live.left.text() == "running, 16:53 to go"
    QTest.keyClick(live, Qt.Key.Key_Space)  # from anywhere in the panel
    clock(minutes=30)
    live._tick_clock()
    assert live.clock.text() == "3:07"
    assert live.left.text() == "standing, 16:53 to go"


def test_time_that_is_up_is_said(view, clock):
    live = checklist(view)
    live.start_or_pause()
    clock(minutes=21)
    live._tick_clock()
    assert live.left.text() == "Time is up, 1:00 over (running)"


def test_a_crash_in_mid_stage_finds_the_clock_running_on(view, bench, clock, qtbot, ask, tmp_path):
    live = checklist(view)
    live.start_or_pause()
    live.ticks[1].setChecked(True)
    live.note.setText("oil 4.1 bar")
    QTest.keyClick(live.note, Qt.Key.Key_Return)
    copy = tmp_path / "crashed.bench"
    copy.write_bytes(bench.path.read_bytes())  # nothing was closed
    clock(minutes=4)
    second = Session(ask=ask)
    second.use(Bench.open(copy, who="test"))
    try:
        other = shown(qtbot, second)
        found = checklist(other)
        assert found.clock.text() == "4:00"
        assert found.left.text() == "running, 16:00 to go"
        assert found.ticks[1].isChecked()
        assert not found.ticks[0].isChecked()
        assert "12:00 oil 4.1 bar" in found.notes.text()
    finally:
        other.close()
        second.close()


def test_stage_after_stage_to_the_end_and_back(view):
    live = checklist(view)
    assert live.stage_head.text() == "Stage 1 of 4: First fire"
    assert live.what.text() == "20 min · 2,500 rpm (2,000 to 3,000) · no load"
    assert live.following.text() == "Next: First load, 20 min"
    assert not live.before.isEnabled()
    for _ in range(3):
        QTest.keyClick(live, Qt.Key.Key_Right, Qt.KeyboardModifier.ControlModifier)
    assert "this is the last stage" in live.following.text()
    assert [tick.text() for tick in live.ticks] == [
        "run 10 min", "sample", "drain hot", "change filter", "cut it open", "race oil in",
    ]  # fmt: skip
    live.next_stage()
    assert live.stage_head.text() == "The plan is at its end"
    assert live.ticks == []
    assert not live.go.isEnabled()
    QTest.keyClick(live, Qt.Key.Key_Left, Qt.KeyboardModifier.ControlModifier)
    assert live.stage_head.text().startswith("Stage 4 of 4")


def test_ticks_are_taken_back_and_starting_over_is_asked(view, ask):
    live = checklist(view)
    live.ticks[0].setChecked(True)
    live.ticks[0].setChecked(False)
    assert view.look is not None
    assert breakin.standing_of(view.session.bench, "B1", "1").ticked == ()
    live.next_stage()
    live.again.click()
    assert live.stage_head.text().startswith("Stage 2")
    ask.agree = True
    live.again.click()
    assert live.stage_head.text().startswith("Stage 1")


def test_hot_oil_and_dyno_cautions_stand_beside_the_clock(view):
    live = checklist(view)
    from PySide6.QtWidgets import QLabel

    said = " ".join(label.text() for label in live.cautions.findChildren(QLabel)).lower()
    assert "hot engine oil burns" in said
    assert "guards on" in said


@pytest.mark.parametrize("large", [False, True])
def test_targets_are_forty_pixels_and_the_clock_is_big(view, large):
    theme.apply("dark", large=large)
    live = checklist(view)
    view.grab()
    for target in (live.go, live.next, *live.ticks):
        assert target.height() >= 40
    assert live.clock.fontMetrics().height() >= 3 * view.fontMetrics().height()


# --- plans, ceilings, page


def test_a_plan_says_its_origin_and_is_chosen_edited_and_brought_back(view, bench, ask):
    checklist(view)
    assert view.origin.text().startswith("Common practice, not a standard. Origin: common practice, no source.")
    tips = [view.plan_box.itemData(n, Qt.ItemDataRole.ToolTipRole) for n in range(view.plan_box.count())]
    assert all(tip.startswith("Common practice, not a standard. Origin: ") for tip in tips)
    assert view.plan_box.count() >= 3
    view.plan_box.setCurrentIndex(1)
    view._plan_picked(1)
    assert view.look.plan.name == view.plan_box.itemData(1)
    view.edit_plan()
    form = form_of(ask)
    assert isinstance(form, PlanForm)
    form.table.typed.setData(form.table.typed.index(0, 1), "x")
    form.try_commit()
    assert "Row 1, Minutes: minutes from 0 to 1440" in form.trouble.text()
    form.table.typed.setData(form.table.typed.index(0, 1), "33")
    form.try_commit()
    assert view.look.plan.stages[0].minutes == 33
    assert view.look.plan.name.startswith("Own plan of ")
    assert view.original_button.isEnabled()
    view.original_button.click()
    assert not view.look.plan.name.startswith("Own plan of ")
    assert not view.original_button.isEnabled()


def test_ceilings_are_a_table_with_what_is_not_believed(view, bench):
    assert "no break-in sample" in view.ceiling_words.text()
    life.add_life(bench, (80.0, 20.0))
    view.refresh(None)
    rows = {row.element: row for row in view.ceilings.rows.shown()}
    assert not rows["Cu"].believed
    model = view.ceilings.rows
    said = [model.data(model.index(n, 4)) for n in range(model.rowCount())]
    assert "marked, not believed" in said
    assert "yes" in said


def test_the_page_is_seen_and_saved(view, bench, ask, tmp_path):
    life.add_pulls(bench)
    view.refresh(None)
    view.print_page()
    dialog = form_of(ask)
    assert dialog.windowTitle() == "Break-in page of B1"
    target = tmp_path / "page.pdf"
    ask.path = str(target)
    dialog.papers.setCurrentText("Letter")
    dialog.grab()
    dialog.save()
    assert target.read_bytes().startswith(b"%PDF")


def test_ctrl_p_in_the_main_window_prints_the_page_of_the_view_in_front(window, ask, clock):
    window.show_view("breakin").show_engine("B1")
    window.menus.actions["print_sheet"].trigger()
    assert ask.shown[-1].windowTitle() == "Break-in page of B1"


def test_a_page_that_cannot_be_written_says_so(view, ask, tmp_path):
    view.print_page()
    dialog = form_of(ask)
    ask.path = str(tmp_path / "no folder" / "page.pdf")
    dialog.save()
    assert "could not be written" in dialog.trouble.text()


def test_an_older_build_and_a_read_only_file_can_only_be_looked_at(view, bench):
    assert view.pulls_button.isEnabled()
    view.build_box.addItem("0", "0")
    view.session.look(lambda _bench: None)
    view.build_box.setCurrentIndex(1)
    view._show()
    assert view.look is None
    assert not view.print_button.isEnabled()


def test_an_empty_bench_says_what_to_do(qtbot, qapp, ask):
    made = BreakInView(Session(ask=ask))
    qtbot.addWidget(made)
    made.refresh(None)
    assert made.session.fleet == EMPTY
    assert "Add one with Ctrl+N" in made.empty.text()
    made.focus_first()
    made.add_pulls()
    made.print_page()
    assert ask.shown == []


def test_a_view_in_the_back_catches_up_when_it_is_shown(view, bench):
    view.hide()
    life.add_pulls(bench)
    assert "no evidence" in states(view)["power"]
    view.show()
    assert states(view)["power"] == "Power: not yet"


def test_the_engine_picked_elsewhere_is_shown(view):
    view.session.select("A1")
    assert view.engine == "A1"
    view._engine_picked(0)
    assert view.session.selected_engine == "A1"


@pytest.mark.parametrize("choice", ["sunlight", "dark"])
def test_every_look_draws(view, bench, choice):
    life.add_pulls(bench, life.FLAT)
    life.add_leak_downs(bench)
    life.add_life(bench, (80.0, 30.0, 12.0, 10.0))
    theme.apply(choice, large=True, scale=1.5)
    for tab in range(3):
        view.tabs.setCurrentIndex(tab)
        assert not view.grab().isNull()


def test_the_checklist_keeps_its_state_as_plain_stages(view):
    assert isinstance(checklist(view).standing, stages.Standing)
