"""The forms, filled as a person would with the keyboard, on a real bench file."""

from __future__ import annotations

import datetime as dt

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QComboBox, QLabel, QLineEdit

from benchapp.records import Build
from benchapp.window.dialogs import forms
from benchapp.window.dialogs.form import FieldError, read_moment, read_number
from benchapp.window.dialogs.material import made_id
from tests.window import small
from tests.window.conftest import worked

ENTER, ESC = Qt.Key.Key_Return, Qt.Key.Key_Escape
CTRL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def window_on(no_judging, window, qtbot):
    """The window with engine A1 at hand."""
    qtbot.waitUntil(lambda: not window.session.busy, timeout=30000)
    window.session.select("A1")
    return window


@pytest.fixture
def form(window_on):
    """Opens a form on engine A1."""

    def opened(which: str, **more):
        return forms.show(which, window_on.session, window_on, **more)

    return opened


def build(window) -> Build:
    return window.session.bench.build("A1", "1")


def texts(widget) -> str:
    return "\n".join(label.text() for label in widget.findChildren(QLabel))


# --- reading what is typed ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["-0,1", "-0.1", "\u22120.1"])
def test_a_number_that_may_lie_below_zero(text):
    assert read_number(text, -1e6, 1e6, "ppm", needed=False) == -0.1
    with pytest.raises(FieldError):
        read_number(text, 0.0, 1e6, "ppm", needed=False)
    with pytest.raises(FieldError):
        read_number("--1", -1e6, 1e6, "ppm", needed=False)


@pytest.mark.parametrize(("text", "value"), [("1.5", 1.5), ("1,5", 1.5), (" 12 ", 12.0), ("0,234", 0.234), ("", None)])
def test_point_and_comma_are_read_alike(text, value):
    assert read_number(text, 0.0, None, "h", needed=False) == value


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("abc", "is not a number"),
        ("<1", "is not a number"),
        ("1.2.3", "not a number"),
        ("500", "above 100 h"),
        ("", "This is needed."),
    ],
)
def test_what_is_no_number_is_said(text, said):
    with pytest.raises(FieldError, match=said.replace(".", r"\.")):
        read_number(text, 0.0, 100.0, "h", needed=True)


def test_too_low_is_said():
    with pytest.raises(FieldError, match=r"below 0\.1 L"):
        read_number("0.01", 0.1, None, "L", needed=True)


def test_days_are_read_one_way_only():
    assert read_moment("2026-05-03") == dt.datetime(2026, 5, 3)
    assert read_moment("2026-05-03 14:20") == dt.datetime(2026, 5, 3, 14, 20)
    assert read_moment("") is None
    with pytest.raises(FieldError, match="one way only"):
        read_moment("03/05/26")


# --- keys -----------------------------------------------------------------------------------------------------------


def test_an_engine_is_added_with_the_keyboard_alone(qtbot, window_on, form):
    dialog = form(forms.ENGINE)
    name = dialog.fields["name"].editor
    assert dialog.focusWidget() is name
    qtbot.keyClicks(name, "C7")
    qtbot.keyClick(name, ENTER)
    family = dialog.fields["family"].editor
    family.setFocus()
    family.lineEdit().selectAll()
    qtbot.keyClicks(family, small.PLATED)
    qtbot.keyClick(family, ENTER)
    car = dialog.fields["car"].editor
    qtbot.keyClicks(car, "27")
    assert dialog.preview.parts.rows.rowCount() > 20
    assert dialog.fields["sump_l"].editor.placeholderText() == "11 (family)"
    for field in ("car", "sump_l", "build", "built_on", "notes"):
        qtbot.keyClick(dialog.fields[field].editor, ENTER)
    qtbot.keyClick(dialog.save, Qt.Key.Key_Space)
    engine = window_on.session.bench.engine("C7")
    assert (engine.family, engine.car, engine.builds[0].number) == (small.PLATED, "27", "1")
    assert window_on.session.selected_engine == "C7"
    assert window_on.view("fleet").table.key() == "C7"
    assert window_on.session.undo_label == "Add engine C7"


def test_enter_goes_from_field_to_field_and_then_to_the_button(qtbot, form):
    dialog = form(forms.RUN)
    editors = [field.editor for field in dialog.fields.values()]
    dialog.activateWindow()
    for before, after in zip(editors, [*editors[1:], dialog.save], strict=True):
        before.setFocus()
        qtbot.keyClick(before, ENTER)
        assert dialog.focusWidget() is after
    assert dialog.isVisible()
    dialog.reject()


def test_esc_goes_back_and_nothing_is_entered(qtbot, window_on, form):
    dialog = form(forms.RUN)
    dialog.set_text("hours", "2")
    qtbot.keyClick(dialog, ESC)
    assert not dialog.isVisible()
    assert len(build(window_on).runs) == 3


def test_ctrl_enter_enters_from_anywhere(qtbot, window_on, form):
    dialog = form(forms.RUN)
    dialog.set_text("hours", "0,75")
    dialog.activateWindow()
    qtbot.keyClick(dialog.fields["notes"].editor, ENTER, CTRL)
    if dialog.isVisible():  # a platform without an active window delivers no shortcut
        dialog.try_commit()
    assert build(window_on).runs[-1].hours == 0.75


def test_what_cannot_be_read_is_said_below_its_field_and_stays(qtbot, window_on, form):
    dialog = form(forms.RUN)
    dialog.set_text("hours", "two")
    dialog.set_text("max_rpm", "8,500")
    dialog.try_commit()
    assert dialog.isVisible()
    assert "is not a number" in dialog.wrong_at("hours")
    assert "below 100 rpm" in dialog.wrong_at("max_rpm")
    assert dialog.text("hours") == "two"
    dialog.set_text("hours", "2")
    dialog.set_text("max_rpm", "8500")
    dialog.try_commit()
    assert not dialog.isVisible()
    assert build(window_on).runs[-1].max_rpm == 8500.0


def test_what_the_bench_refuses_is_said_in_three_sentences_and_the_form_stays(qtbot, form):
    dialog = form(forms.ENGINE)
    dialog.set_text("name", "A1")
    dialog.set_text("family", small.IRON)
    dialog.try_commit()
    assert dialog.trouble.isVisible()
    assert dialog.trouble.text().count("\n") == 2
    assert "A1" in dialog.trouble.text()
    dialog.reject()


def test_a_word_that_is_not_in_the_list_is_refused(form):
    dialog = form(forms.ENGINE)
    dialog.set_text("name", "X")
    dialog.set_text("family", "steam engine")
    dialog.try_commit()
    assert dialog.wrong_at("family") == "“steam engine” is not in the list. Choose one of it."
    dialog.set_text("family", "")
    dialog.try_commit()
    assert dialog.wrong_at("family") == "Choose one of the list."
    dialog.reject()


# --- every form -----------------------------------------------------------------------------------------------------

ALL = tuple(forms.WHERE)


def test_every_field_has_a_name_a_line_that_says_why_and_is_large_enough_for_a_glove(form):
    from benchapp.window import theme

    theme.apply("sunlight", large=True)
    for which in ALL:
        dialog = form(which)
        assert dialog.windowTitle(), which
        assert dialog.lead, which
        for field in dialog.fields.values():
            assert field.editor.accessibleName(), (which, field.name)
            assert field.why.endswith((".", "?")), (which, field.name)
            assert len(field.why) < 110, (which, field.name)
            assert field.editor.sizeHint().height() >= 40, (which, field.name)
        dialog.reject()
    theme.apply("sunlight")


def test_no_form_fails_when_it_is_confirmed_as_it_stands(form):
    for which in ALL:
        dialog = form(which)
        dialog.try_commit()
        said = any(map(dialog.wrong_at, dialog.fields)) or dialog.trouble.isVisible()
        assert said or not dialog.isVisible(), which
        dialog.reject()


def test_without_an_engine_at_hand_a_form_says_so(window_on):
    window_on.session.select("")
    for which in forms.NEEDS_ENGINE:
        assert forms.show(which, window_on.session, window_on) is None
        assert window_on.messages.what.text() == "No engine is picked."
        window_on.messages.clear()


def test_every_menu_item_of_the_bench_opens_its_form(window_on, ask):
    for method in ("add_engine", "add_build", "override_part", "add_fill", "top_up", "add_run", "add_change",
                   "add_filter_cut", "add_leak_down", "add_finding", "add_oil", "add_family", "add_material",
                   "add_instrument"):  # fmt: skip
        before = len(ask.shown)
        window_on.menus.actions[method].trigger()
        assert len(ask.shown) == before + 1, method
        ask.shown[-1].reject()


# --- what each one enters -------------------------------------------------------------------------------------------


def test_a_fill_has_the_usual_answers_in_it(window_on, form):
    dialog = form(forms.FILL)
    assert dialog.text("oil") == small.OIL.name
    assert dialog.text("name") == "2"
    assert dialog.text("build_h") == "6"
    assert dialog.text("volume_l") == "7"
    assert dialog.text("drain_before") == "hot"
    assert "Hot engine oil burns" in texts(dialog)
    dialog.try_commit()
    made = build(window_on).fills[-1]
    assert (made.name, made.build_h, made.volume_l, made.drain_before, made.filter_changed) == (
        "2",
        6.0,
        7.0,
        "hot",
        True,
    )


def test_the_first_fill_of_a_build_is_dry_and_takes_the_familys_sump(window_on, form):
    from benchapp.actions import engine

    window_on.session.run(engine.add, "D1", small.PLATED)
    window_on.session.select("D1")
    dialog = form(forms.FILL)
    assert (dialog.text("name"), dialog.text("volume_l"), dialog.text("build_h")) == ("1", "11", "0")
    assert dialog.fields["drain_before"].editor.currentData() == "none"
    dialog.reject()


def test_without_an_oil_the_oil_comes_first(qtbot, ask, tmp_path):
    from benchapp.actions import engine
    from benchapp.window.main_window import MainWindow
    from benchapp.window.session import Session

    window = MainWindow(Session(ask=ask))
    qtbot.addWidget(window)
    window.session.create(str(tmp_path / "new.bench"))
    worked(qtbot, window)
    window.session.run(engine.add, "A1", small.IRON)
    window.session.select("A1")
    dialog = forms.show(forms.TOP_UP, window.session, window)
    assert dialog.title == "Add an oil"
    dialog.reject()
    dialog = forms.show(forms.FILL, window.session, window)
    assert dialog.title == "Add an oil"
    assert window.messages.what.text() == "No oil in this bench file yet."
    dialog.reject()


def test_a_top_up(window_on, form):
    dialog = form(forms.TOP_UP)
    dialog.set_text("litres", "0,4")
    dialog.try_commit()
    assert build(window_on).top_ups[-1].litres == 0.4


def test_a_run_repeats_kind_and_fuel_of_the_last(window_on, form):
    dialog = form(forms.RUN)
    dialog.set_text("hours", "1")
    dialog.set_text("kind", "race")
    dialog.set_text("fuel", "leaded")
    dialog.try_commit()
    again = form(forms.RUN)
    assert (again.text("kind"), again.text("fuel")) == ("race", "leaded")
    again.reject()


def test_a_change(window_on, form):
    dialog = form(forms.CHANGE)
    dialog.set_text("kind", "tune")
    dialog.set_text("notes", "two degrees less advance")
    dialog.try_commit()
    made = build(window_on).changes[-1]
    assert (made.kind, made.notes, made.build_h) == ("tune", "two degrees less advance", 6.0)


def test_a_filter_cut_with_nothing_in_it_asks(window_on, form):
    dialog = form(forms.FILTER_CUT)
    dialog.try_commit()
    assert "write “none”" in dialog.trouble.text()
    assert "cut it with a filter cutter" in texts(dialog)
    dialog.set_text("ferrous", "few")
    dialog.set_text("largest_mm", "0.8")
    dialog.try_commit()
    made = build(window_on).filter_cuts[-1]
    assert (made.ferrous, made.largest_mm) == ("few", 0.8)


def test_a_leak_down_takes_a_pasted_column_in_one_step(qtbot, window_on, form):
    dialog = form(forms.LEAK_DOWN)
    assert [row[0] for row in dialog.table.typed.rows()] == list("12345678")
    QApplication.clipboard().setText("3\r\n4\r\n3,5\r\n4\r\n5\r\n3\r\n9\r\n4\r\n")
    dialog.table.setCurrentIndex(dialog.table.typed.index(0, 1))
    qtbot.keyClick(dialog.table, Qt.Key.Key_V, CTRL)
    dialog.set_text("tester", "tester 1")
    dialog.try_commit()
    made = build(window_on).leak_downs
    assert [(test.cylinder, test.percent) for test in made][2] == ("3", 3.5)
    assert len(made) == 8
    window_on.session.undo()
    assert build(window_on).leak_downs == ()


def test_a_leak_down_remembers_the_last_ones_cylinders_and_tester(window_on, form):
    dialog = form(forms.LEAK_DOWN)
    dialog.table.typed.set_rows([("front", "3"), ("rear", "5")])
    dialog.set_text("tester", "tester 1")
    dialog.try_commit()
    again = form(forms.LEAK_DOWN)
    assert [row[0] for row in again.table.typed.rows()] == ["front", "rear"]
    assert again.text("tester") == "tester 1"
    again.try_commit()
    assert again.trouble.text() == "No cylinder has a figure yet."
    again.table.typed.set_rows([("front", "150")])
    again.try_commit()
    assert "above 100 %" in again.trouble.text()
    again.reject()


def test_a_finding_is_tied_to_the_last_sample(window_on, form):
    dialog = form(forms.FINDING)
    dialog.set_text("part", "main bearing overlay")
    dialog.set_text("condition", "worn out")
    dialog.try_commit()
    made = build(window_on).findings[-1]
    assert (made.part, made.condition, made.sample) == ("main bearing overlay", "worn out", "26-003")


def test_a_part_is_overridden_left_out_and_brought_back(window_on, form):
    def parts() -> dict[str, str]:
        return {part.name: part.material for part in build(window_on).parts}

    before = parts()
    dialog = form(forms.PART, part="main bearing overlay")
    assert dialog.fields["material"].editor.currentData() == "ovl_pbsn10cu2"
    dialog.try_commit()
    assert "Nothing differs" in dialog.trouble.text()
    dialog.fields["material"].editor.setCurrentIndex(dialog.fields["material"].editor.findData("ovl_sn_flash"))
    dialog.try_commit()
    assert parts()["main bearing overlay"] == "ovl_sn_flash"
    dialog = form(forms.PART, part="main bearing overlay")
    dialog.set_text("does", "is as its family here")
    dialog.try_commit()
    assert parts() == before
    dialog = form(forms.PART, part="tappets")
    dialog.set_text("does", "does not have this part")
    dialog.try_commit()
    assert "tappets" not in parts()


def test_a_new_build_begins_anew(window_on, form):
    dialog = form(forms.BUILD)
    dialog.try_commit()
    assert window_on.session.bench.current_build("A1").number == "2"
    row = next(row for row in window_on.view("fleet").table.rows.shown() if row.engine == "A1")
    assert (row.build, row.build_h, row.reason) == ("2", 0.0, "No sample yet")


def test_an_oil_with_its_elements(window_on, form):
    dialog = form(forms.OIL)
    dialog.set_text("name", "Second oil")
    dialog.set_text("kv100_cst", "14,2")
    dialog.table.typed.set_rows([("Ca", "1800"), ("Zn", ""), ("Xx", "3")])
    dialog.try_commit()
    assert "“Xx” is no element's symbol" in dialog.trouble.text()
    dialog.table.typed.set_rows([("Ca", "1800"), ("Ca", "1700")])
    dialog.try_commit()
    assert dialog.trouble.text() == "Ca stands in two rows. Keep one."
    dialog.table.typed.set_rows([("Ca", "1800"), ("Zn", ""), ("Si", "0")])
    dialog.try_commit()
    made = window_on.session.fleet.oils["Second oil"]
    assert dict(made.fresh_ppm) == {"Ca": 1800.0, "Si": 0.0}  # Zn is unknown, which is not zero
    assert made.kv100_cst == 14.2


def test_a_material_is_checked_before_it_is_taken(window_on, form):
    dialog = form(forms.MATERIAL)
    dialog.set_text("name", "Own bronze 12")
    dialog.try_commit()
    assert dialog.trouble.text() == "A material needs at least one element."
    dialog.table.typed.set_rows([("Cu", "88", "90", "92", "own analysis")])
    dialog.try_commit()
    assert "outside its own range" in dialog.trouble.text()
    dialog.table.typed.set_rows([("Cu", "88", "86", "90", "own analysis"), ("Sn", "12", "10", "", "")])
    dialog.try_commit()
    assert "Row 2, To [%]: This is needed." in dialog.trouble.text()
    dialog.table.typed.set_rows([("Cu", "88", "86", "90", "own analysis"), ("Sn", "12", "10", "14", "")])
    dialog.try_commit()
    made = window_on.session.bench.materials()["own_bronze_12"]
    assert [(share.element, share.nominal_pct, share.status) for share in made.shares] == [
        ("Cu", 88.0, "own"),
        ("Sn", 12.0, "own"),
    ]


def test_ids_are_made_from_names():
    assert made_id("Lead bronze 24") == "lead_bronze_24"
    assert made_id("°°") == "own_material"


def test_a_family_starts_from_another_one(qtbot, window_on, form):
    dialog = form(forms.FAMILY)
    dialog.set_text("name", "Own eight")
    dialog.try_commit()
    assert "at least one part" in dialog.trouble.text()
    dialog.set_text("start", small.IRON)
    rows = dialog.table.typed.rows()
    assert len(rows) == len(window_on.session.library.families[small.IRON].parts)
    dialog.table.typed.set_rows([*rows, rows[0]])
    dialog.try_commit()
    assert "Two parts are called “bores”" in dialog.trouble.text()
    dialog.table.typed.set_rows([("bores", "wood", "", "", "")])
    dialog.try_commit()
    assert "“wood” is not in the list of materials" in dialog.trouble.text()
    dialog.table.typed.set_rows(rows[:5])
    qtbot.waitUntil(lambda: "Read as one" in texts(dialog.preview.apart), timeout=30000)
    dialog.try_commit()
    made = window_on.session.bench.families()["Own eight"]
    assert made.parts[0].material == "iron_grey_cyl_block"
    assert made.sump_l == 7.5


def test_an_instrument(window_on, form):
    dialog = form(forms.INSTRUMENT)
    dialog.set_text("name", "second disc")
    dialog.try_commit()
    assert window_on.session.fleet.instruments["second disc"].kind == "rotating-disc"


def test_pickers_and_lines_show_no_text_of_another_form(form):
    dialog = form(forms.PART)
    assert isinstance(dialog.fields["material"].editor, QComboBox)
    assert isinstance(dialog.fields["part"].editor, QLineEdit)
    assert dialog.text("part") == ""
    dialog.reject()


def test_an_engine_without_a_build_says_so_in_its_forms(window_on, form):
    from benchapp.actions import engine

    window_on.session.run(engine.add, "N1", small.IRON, build="")
    window_on.session.select("N1")
    dialog = form(forms.CHANGE)
    dialog.set_text("build_h", "0")
    dialog.try_commit()
    assert dialog.trouble.text() == "N1 has no build yet. Add one first: menu Bench, New build."
    dialog.reject()


def test_a_top_up_before_any_fill_leads_to_the_fill(window_on, form):
    from benchapp.actions import engine

    window_on.session.run(engine.add, "N1", small.IRON)
    window_on.session.select("N1")
    dialog = form(forms.TOP_UP)
    assert dialog.title == "Add a fill"
    assert window_on.messages.what.text() == "This engine has no fill yet."
    dialog.reject()


def test_a_part_without_a_material_is_said(form):
    dialog = form(forms.FAMILY)
    dialog.set_text("name", "X")
    dialog.table.typed.set_rows([("bores", "", "", "", ""), ("", "x", "", "wide", "")])
    dialog.try_commit()
    said = dialog.trouble.text()
    assert "Row 1, Material: Which material?" in said
    assert "Row 2, Part: Which part?" in said
    dialog.reject()


def test_a_cylinder_without_a_name_is_said(form):
    dialog = form(forms.LEAK_DOWN)
    dialog.table.typed.set_rows([("", "4")])
    dialog.try_commit()
    assert "Row 1, Cylinder: Which cylinder?" in dialog.trouble.text()
    dialog.reject()
