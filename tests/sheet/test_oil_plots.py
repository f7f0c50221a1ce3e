"""The small plots behind reasons that speak of the oil: what the reason names, under this oil's own limit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.library import load_library
from benchapp.records import Build, Engine, Fill, Fleet, Oil, OilLimit, OilPressure, Reading, Reason, Sample
from benchapp.sheet.plot import drawable
from benchapp.sheet.reason_plots import plot_for
from tests.sheet.invented import call

OIL = Oil("Invented 10W-40", "race", "10W-40", 0.87, 100.0, 14.0, 4.0, 8.0, 1.5)


def sample(code: str, build_h: float, **values: float) -> Sample:
    units = {"KV100": "cSt", "Fuel": "%", "TBN": "mg KOH/g"}
    return Sample(code, "F1", build_h, build_h, readings=tuple(Reading(k, v, units[k]) for k, v in values.items()))


BUILD = Build(
    "1", (), fills=(Fill("F1", OIL.name, 0.0),),
    samples=(sample("S-1", 4.0, KV100=13.5, TBN=7.0), sample("S-2", 8.0, KV100=10.1, Fuel=6.0), sample("S-3", 12.0)),
)  # fmt: skip
FLEET = Fleet((Engine("E", "", builds=(BUILD,)),), {}, {}, {OIL.name: OIL})
WORN = Reason("oil", (), "other", "Fuel 6.0 %: done. Viscosity at 100 °C (thinner) 10.1 cSt: done.")


def plot(reason: Reason, fleet: Fleet = FLEET, shown: tuple[str, ...] = ()):
    judged = call("Short stint", sample="S-2", build_h=8.0)
    return plot_for(fleet, BUILD, judged, (), reason, load_library(), shown)


def test_what_the_reason_names_first_is_drawn_first_and_nothing_twice():
    first = plot(WORN)
    assert (first.title, first.ceiling, first.word) == ("Fuel [%]", 5.0, "limit")
    assert [(point.x, point.y, point.this) for point in first.points] == [(8.0, 6.0, True)]
    second = plot(WORN, shown=("Fuel [%]",))
    assert second.title == "KV100 [cSt]"
    assert second.ceiling == pytest.approx(10.5)
    assert [point.y for point in second.points] == [13.5, 10.1], "nothing later than the sample"
    assert drawable(second).word == "limit"


def test_a_limit_set_for_the_oil_is_the_one_that_is_drawn():
    own = replace(OIL, limits=(OilLimit("fuel", 2.0, 4.0),))
    assert plot(WORN, replace(FLEET, oils={OIL.name: own})).ceiling == 4.0


def test_a_film_is_shown_by_viscosity_and_an_unknown_oil_by_nothing():
    film = Reason("oil film", (), "other", "rod bearing: film 6.9 µm as sampled.")
    assert plot(film).title == "KV100 [cSt]"
    assert plot(WORN, replace(FLEET, oils={})) is None
    assert plot(Reason("water in the oil", (), "other", "Water 0.5 %: done.")) is None


def test_a_reason_of_oil_pressure_shows_pressures_of_its_own_speed_and_gauge():
    held = (
        OilPressure(1.0, 134.0, 900.0, 95.0, "dash"),
        OilPressure(1.0, 500.0, 6000.0, 100.0, "dash"),
        OilPressure(2.0, 150.0, 900.0, 95.0, "bench"),
        OilPressure(3.0, 109.0, 920.0, 97.0, "dash"),
        OilPressure(99.0, 90.0, 900.0, 97.0, "dash"),
    )
    judged, library = call("Short stint", sample="S-2", build_h=8.0), load_library()
    build = replace(BUILD, oil_pressures=held)
    told = "Oil pressure at 3 h was 109 kPa at 920 rpm: 19 % below this build's usual 134 kPa."
    reason = Reason("oil pressure", ("main bearing overlay",), "other", told)
    drawn = plot_for(FLEET, build, judged, (), reason, library)
    assert drawn.title == "Oil pressure at 920 rpm [kPa]"
    assert [(one.x, one.y, one.this) for one in drawn.points] == [(1.0, 134.0, False), (3.0, 109.0, True)]
    other = Reason("oil pressure", (), "other", "Oil pressure at 4 h was 1 kPa.")
    assert plot_for(FLEET, build, judged, (), other, library) is None
