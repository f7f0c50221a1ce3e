"""Units by preference: typed and shown in the chosen one, stored in the file's own."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.actions import oil_pressure
from benchapp.records import OilPressure
from benchapp.window import units
from benchapp.window.dialogs.sheet import SheetDialog
from benchapp.window.units import CHOICES

ALL = [unit for _, choices in CHOICES.values() for unit in choices]


def test_factors_are_those_published():
    """NIST SP 811 (2008), appendix B.8: psi to kPa 6.894 757, quart (US liquid) to m³ 9.463 529 E-04; and the fixed
    points of water, 0 °C = 32 °F and 100 °C = 212 °F."""
    psi, quart = CHOICES["pressure"][1][1], CHOICES["volume"][1][1]
    assert units.stored(100.0, psi) == pytest.approx(689.4757)
    assert units.stored(1.0, quart) == pytest.approx(0.9463529, rel=1e-7)
    fahrenheit = CHOICES["temperature"][1][1]
    assert units.shown(0.0, fahrenheit) == pytest.approx(32.0)
    assert units.shown(100.0, fahrenheit) == pytest.approx(212.0)


@given(st.floats(-1e4, 1e4), st.sampled_from(ALL))
def test_there_and_back(value, unit):
    assert units.stored(units.shown(value, unit), unit) == pytest.approx(value, abs=1e-9, rel=1e-9)


def test_other_units_have_no_choice():
    assert units.chosen("h").name == "h"
    assert units.shown(3.0, units.chosen("h")) == 3.0


def test_texts_follow_the_choice():
    text = "race, 1.5 h, oil 100 °C, fuel E-85 L8, 6 L, -10 °C"
    assert units.in_words(text) == text
    units.choose("temperature", "°F")
    units.choose("volume", "US qt")
    assert units.in_words(text) == "race, 1.5 h, oil 212 °F, fuel E-85 L8, 6.34 US qt, 14 °F"


def test_a_choice_that_is_none_is_the_files_own():
    units.choose("pressure", "bar of soap")
    assert units.current("pressure") == "kPa"


def test_a_form_is_typed_in_the_chosen_unit_and_stored_in_the_files(qtbot, no_judging, window, ask):
    qtbot.waitUntil(lambda: not window.session.busy, timeout=30000)
    window.session.select("A1")
    group = next(g for g in window.menus.units if g.actions()[0].text() == "°C")
    group.actions()[1].trigger()
    assert group.actions()[1].isChecked()
    window.add_run()
    form = ask.shown[-1]
    assert form.fields["oil_temp_c"].unit == "°F"
    form.set_text("hours", "1")
    form.set_text("oil_temp_c", "248")
    form.try_commit()
    run = window.session.bench.engine("A1").builds[0].runs[-1]
    assert run.oil_temp_c == pytest.approx(120.0)
    window.view("fleet").show_engine("A1")
    log = window.view("fleet").detail.log.rows
    assert any("248 °F" in log.columns[-1].text(row) for row in log.shown())


def test_a_bound_is_told_in_the_chosen_unit(qtbot, no_judging, window, ask):
    qtbot.waitUntil(lambda: not window.session.busy, timeout=30000)
    window.session.select("A1")
    units.choose("temperature", "°F")
    window.add_run()
    form = ask.shown[-1]
    form.set_text("hours", "1")
    form.set_text("oil_temp_c", "600")
    form.try_commit()
    assert "above 482 °F" in form.wrong_at("oil_temp_c")


def test_what_is_not_touched_is_not_rounded(qtbot, no_judging, window, ask):
    qtbot.waitUntil(lambda: not window.session.busy, timeout=30000)
    window.session.select("A1")
    units.choose("volume", "US qt")
    window.add_fill()
    form = ask.shown[-1]
    assert form.text("volume_l") == "7.39682"
    form.try_commit()
    assert window.session.bench.engine("A1").builds[0].fills[-1].volume_l == 7.0


def test_words_of_a_call_follow_the_choice_and_names_of_measurements_stay():
    text = "was 310 kPa at 6000 rpm, oil 100 °C; viscosity at 100 °C of the sample"
    units.choose("pressure", "psi")
    units.choose("temperature", "°F")
    assert units.in_words(text) == "was 45 psi at 6000 rpm, oil 212 °F; viscosity at 100 °C of the sample"
    assert units.in_both(text).startswith("was 310 kPa (45 psi) at 6000 rpm, oil 100 °C (212 °F); viscosity")
    units.choose("pressure", "kPa")
    assert "310 kPa at" in units.in_both(text)


def test_both_ends_of_a_range_follow_the_choice():
    units.choose("temperature", "°F")
    units.choose("pressure", "psi")
    text = "air of 15 to 35 °C and 80 to 110 kPa, -10–40 °C, 2 - 3 L; viscosity at 40 to 100 °C; sample 24-017 90 °C"
    assert units.in_words(text) == (
        "air of 59 to 95 °F and 11.6 to 16 psi, 14–104 °F, 2 - 3 L; viscosity at 40 to 100 °C; sample 24-017 194 °F"
    )
    assert units.in_both("15 to 35 °C") == "15 to 35 °C (59 to 95 °F)"


@given(st.floats(0, 2000), st.sampled_from(CHOICES["pressure"][1]))
def test_no_gauge_reads_more_than_it_can(value, unit):
    units.choose("pressure", unit.name)
    number, name = units.in_words(f"{value:.0f} kPa").split(" ")
    assert name == unit.name
    assert len(number.partition(".")[2]) <= (2 if name == "bar" else 1)
    assert units.stored(float(number), unit) == pytest.approx(round(value), abs=0.51 * unit.times * 10**-unit.decimals)


@pytest.fixture
def pressure_fell(qtbot, window):
    """A window whose engine A1 has lost oil pressure, judged."""
    end = window.session.bench.engine("A1").builds[-1].samples[-1].build_h
    readings = [OilPressure(end * at / 10.0, kpa, 6000.0, 100.0) for at, kpa in enumerate((500.0,) * 8 + (310.0,), 1)]
    oil_pressure.add(window.session.bench, "A1", "1", *readings)
    qtbot.waitUntil(lambda: not window.session.busy, timeout=30000)
    window.show_view("fleet")
    window.view("fleet").show_engine("A1")
    reasons = window.view("fleet").detail.reasons
    qtbot.waitUntil(lambda: "oil pressure" in [line.reason.topic for line in reasons.lines])
    return window


def pick_psi(window) -> None:
    group = next(g for g in window.menus.units if g.actions()[0].text() == "kPa")
    next(action for action in group.actions() if action.text() == "psi").trigger()


def test_the_reasons_of_a_call_are_read_in_the_chosen_unit(pressure_fell):
    fleet = pressure_fell.view("fleet")

    def said() -> str:
        return next(line for line in fleet.detail.reasons.lines if line.reason.topic == "oil pressure").text.text()

    assert "was 310 kPa at 6000 rpm" in said()
    pick_psi(pressure_fell)
    assert "was 45 psi at 6000 rpm" in said()
    assert "usual 72.5 psi" in said()
    for table in (fleet.table, fleet.detail.samples):
        column = next(one for one in table.rows.columns if one.title == "Bearing on")
        assert "was 45 psi" in column.text(table.rows.shown()[0])
    kept = pressure_fell.session.calls["A1"]
    assert any("310 kPa" in reason.text for reason in kept.reasons)


def test_the_reasons_in_sample_entry_are_read_in_the_chosen_unit(qtbot, pressure_fell):
    pick_psi(pressure_fell)
    pressure_fell.session.open_sample(pressure_fell.session.calls["A1"].sample)
    panel = pressure_fell.view("entry").entry.call_panel
    qtbot.waitUntil(lambda: bool(panel.reasons), timeout=30000)
    assert any("was 45 psi" in row.reason.text for row in panel.reasons)
    assert any("was 310 kPa" in reason.text for reason in panel.call.reasons)


def test_the_sheet_says_both_units(pressure_fell):
    pick_psi(pressure_fell)
    dialog = SheetDialog(pressure_fell.session, pressure_fell.session.calls["A1"].sample, pressure_fell)
    assert any("was 310 kPa (45 psi) at 6000 rpm" in reason.text for reason in dialog.content.reasons)


def test_the_small_plot_of_the_sheet_says_both_units(pressure_fell):
    code = pressure_fell.session.calls["A1"].sample
    in_file = SheetDialog(pressure_fell.session, code, pressure_fell)
    pick_psi(pressure_fell)
    chosen = SheetDialog(pressure_fell.session, code, pressure_fell)
    before, after = (next(each.plot for each in one.content.reasons if each.plot) for one in (in_file, chosen))
    assert (before.title, before.beside) == ("Oil pressure at 6000 rpm [kPa]", None)
    assert (after.title, after.beside(310.0)) == ("Oil pressure at 6000 rpm [kPa (psi)]", "45")
    assert after.points == before.points
    assert in_file.grab().toImage() != chosen.grab().toImage()


def test_the_page_of_the_day_is_read_in_the_chosen_unit(pressure_fell, ask):
    pick_psi(pressure_fell)
    pressure_fell.menus.actions["print_day"].trigger()
    day = ask.shown[-1].day
    said = " ".join([*(row.reason for row in day.rows), *(text for row in day.rows for text in row.before_out)])
    assert "was 45 psi" in said
    assert "kPa" not in said


def test_the_break_in_page_is_read_in_the_chosen_unit(pressure_fell, ask):
    pick_psi(pressure_fell)
    view = pressure_fell.show_view("breakin")
    assert "11.6 to 16 psi" in view.left_out.text()
    view.print_page()
    said = " ".join(line for block in ask.shown[-1].page.answer.blocks for line in block.lines)
    assert "11.6 to 16 psi" in said
    assert "kPa" not in said
