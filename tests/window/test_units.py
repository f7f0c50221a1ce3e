"""Units by preference: typed and shown in the chosen one, stored in the file's own."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.window import units
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
