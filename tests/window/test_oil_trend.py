"""Oil quantities as trends: readings with their limit, where nothing is warned of, and when the limit is met."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from benchapp.actions import engine, fill, oil, oil_card, run, sample
from benchapp.actions import series as data
from benchapp.actions.bench import Bench
from benchapp.library import load_library
from benchapp.oil.condition import level_in_unit
from benchapp.oil.rules import rules_from
from benchapp.records import Fill, Oil, OilLimit, Reading, Run, Sample
from benchapp.window.oil.dialog import OilFilmDialog
from benchapp.window.trend import words
from tests.window import entry_bench

DAY = dt.datetime(2026, 5, 1, 9, 0)
FRESH = Oil("Example 10W-40", "race", "10W-40", 0.87, 95.0, 14.0, 4.0, 8.0, 1.5)
UNITS = {"KV100": "cSt", "TBN": "mg KOH/g", "Fuel": "%", "Oxidation": "A/cm"}


def read(code: str, fill_name: str, build_h: float, oil_h: float, **values: float) -> Sample:
    readings = (Reading("Fe", 5.0), *(Reading(name, value, UNITS[name]) for name, value in values.items()))
    return Sample(code, fill_name, build_h, oil_h, DAY + dt.timedelta(hours=build_h), "hot", True, readings=readings)


@pytest.fixture
def bench(tmp_path):
    """Two fills of one oil; the second is thinned and its base number falls."""
    made = Bench.create(tmp_path / "trend.bench")
    oil.add(made, FRESH)
    engine.add(made, "E1", entry_bench.FAMILY)
    for name, at in (("1", 0.0), ("2", 10.0)):
        fill.add(made, "E1", "1", Fill(name, FRESH.name, at, 6.0, DAY, "none" if at == 0 else "hot", True))
    run.add(made, "E1", "1", Run("practice", 20.0, DAY, 6500.0, 110.0, "unleaded"))
    for one in (
        read("S-1", "1", 10.0, 10.0, KV100=13.2, TBN=6.0),
        read("S-2", "2", 15.0, 5.0, KV100=13.0, TBN=7.0),
        read("S-3", "2", 18.0, 8.0, KV100=12.0, TBN=6.3, Fuel=2.0, Oxidation=9.0),
    ):
        sample.confirm(made, "E1", "1", one)
    yield made
    made.close()


def line_of(bench, name):
    return data.of(bench, "E1", "1", data.OIL, [name]).lines[0]


def test_what_was_read_can_be_chosen_in_the_trades_order(bench):
    assert [(c.name, c.points) for c in data.choices(bench, "E1", "1", data.OIL)] == [
        ("KV100", 3), ("TBN", 3), ("Oxidation", 1), ("Fuel", 1),
    ]  # fmt: skip
    assert [c.name for c in data.choices(bench, "E1", "1", data.PPM)] == ["Fe"]


def test_a_line_has_its_unit_limit_band_and_readings(bench):
    line = line_of(bench, "KV100")
    assert line.unit == "cSt"
    assert line.y == (13.2, 13.0, 12.0)
    assert line.apart == ("", "fill", "")
    assert line.ceiling == pytest.approx((10.5, 10.5, 10.5)), "0.75 of fresh 14.0"
    assert line.band_low == pytest.approx((12.6,) * 3)
    assert line.band_high == pytest.approx((16.1,) * 3)
    fuel = line_of(bench, "Fuel")
    assert (fuel.band_low[0], fuel.band_high[0], fuel.ceiling[0]) == (0.0, 3.0, 5.0)
    base = line_of(bench, "TBN")
    assert (base.band_low[0], base.band_high[0], base.ceiling[0]) == pytest.approx((5.2, 8.0, 4.0))


def test_when_the_limit_is_met_comes_from_this_fill_and_earlier_ones(bench):
    reach = line_of(bench, "TBN").reach
    assert reach.y == 4.0
    assert 18.0 <= reach.low <= reach.x <= reach.high
    assert "2 samples of this fill and 1 earlier fill" in reach.text
    assert line_of(bench, "Oxidation").reach is None, "its fresh value is not known"
    oil_card.put(bench, FRESH.name, limits=[OilLimit("base number", 0.9, 0.7)], fresh={"Oxidation": 4.0})
    sooner = line_of(bench, "TBN").reach
    assert sooner.y == pytest.approx(5.6)
    assert sooner.x < reach.x
    assert line_of(bench, "Oxidation").ceiling == (29.0,)


def test_a_reading_past_its_limit_has_no_hours_left(bench):
    late = read("S-4", "2", 19.0, 9.0, KV100=9.9)
    sample.confirm(bench, "E1", "1", late)
    reach = line_of(bench, "KV100").reach
    assert reach.x == 19.0
    assert "limit reached" in reach.text


def test_an_oil_that_stays_as_it_is_says_so_and_one_that_is_unknown_says_nothing(bench):
    still = read("S-4", "2", 19.0, 9.0, Fuel=0.0)
    sample.confirm(bench, "E1", "1", still)
    sample.void(bench, "S-3", "test")
    reach = line_of(bench, "Fuel").reach
    assert reach.x is None
    assert "not moving towards its limit" in reach.text
    oil.void(bench, FRESH.name, "test")
    line = line_of(bench, "KV100")
    assert line.reach is None
    assert set(line.ceiling) == {None}


def test_levels_in_the_unit_of_the_reading():
    rules = rules_from(load_library())
    assert level_in_unit(rules.limit("base number"), 0.5, FRESH) == 4.0
    assert level_in_unit(rules.limit("acid number"), 2.5, FRESH) == 4.0
    assert level_in_unit(rules.limit("water"), 0.3, FRESH) == 0.3
    assert level_in_unit(rules.limit("base number"), 0.5, Oil("bare")) is None
    assert level_in_unit(rules.limit("glycol"), None, FRESH) is None


def test_words_of_limit_axis_and_list(bench):
    line = line_of(bench, "TBN")
    assert words.ceiling_words(line, 4.0) == "limit TBN 4 mg KOH/g"
    assert words.short_words(line) == "TBN, 6.3 mg KOH/g"
    one = data.of(bench, "E1", "1", data.OIL, ["TBN"])
    assert words.axis_words(one) == "TBN [mg KOH/g]"
    several = data.of(bench, "E1", "1", data.OIL, ["TBN", "KV100"])
    assert words.axis_words(several) == "Reading, each in its unit"
    assert words.axis_words(dataclasses.replace(one, lines=(line, line))) == "Reading [mg KOH/g]"
    assert "left, between" in words.point_words(line, 2, None)
    assert "left, between" not in words.point_words(line, 0, None)
    header, rows = data.table(one)
    assert dict(zip(header, rows[-1], strict=True))["ceiling"] == 4.0


def test_the_call_leads_to_the_oil_and_the_oil_to_its_page(window, qtbot, ask):
    window.activateWindow()
    window.session.show_trend("E1", "oil film")
    view = window.view("trend")
    assert view.kind == data.OIL
    assert [line.name for line in view.series.lines] == ["KV100"]
    assert view.words.text().startswith("KV100 12 cSt · viscosity at 100 °C (thinner): ")
    assert view.plot.main.viewRange()[0][1] >= view.series.lines[0].reach.x, "when it is met is in view"
    assert view.oil_button.isVisible()
    view.oil_button.click()
    page = ask.shown[-1]
    assert isinstance(page, OilFilmDialog)
    qtbot.waitUntil(lambda: page.oil is not None)
    assert page.oil.sample == "S-3"
    page.reject()
    window.menus.actions["show_oil"].trigger()
    assert ask.shown[-1] is not page
    qtbot.waitUntil(lambda: ask.shown[-1].oil is not None)
    ask.shown[-1].reject()
    window.session.show_trend("E1", "water in the oil")
    assert [line.name for line in view.series.lines] == ["KV100"], "water was never read: what was shown stays"
    window.session.show_trend("E1", "Fe")
    assert not view.oil_button.isVisible()


def test_without_oil_readings_the_plot_says_what_to_enter(window, qtbot):
    for code in ("S-1", "S-2", "S-3"):
        window.session.run(sample.void, code, "test")
    window.session.show_trend("E1")
    view = window.view("trend")
    view.kind_box.setCurrentIndex(view.kind_box.findData(data.OIL))
    view.kind_box.activated.emit(view.kind_box.currentIndex())
    assert view.empty_head.text() == "No oil reading yet."
