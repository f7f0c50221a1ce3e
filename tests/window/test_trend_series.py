"""What a plot shows is what the records say: columns, breaks, marks and the table."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.actions import series as data
from benchapp.records import ElementShare, Material, Oil, Reading
from benchapp.window.trend import arrays, words
from tests.window.trend_fakes import BORE, ELEMENTS, OVERLAY, TrendBench


@pytest.fixture
def trend_bench():
    return TrendBench()


def only(bench, name, kind=data.PPM, build="2"):
    return data.of(bench, "Alder 3", build, kind, [name]).lines[0]


def test_readings_stand_as_they_are_in_the_file_in_order_of_hours(trend_bench):
    line = only(trend_bench, "Fe")
    samples = trend_bench.build("Alder 3", "2").samples
    read = [next(r for r in s.readings if r.measurand == "Fe") for s in samples]
    assert line.x == tuple(s.build_h for s in samples)
    assert line.y == tuple(r.value for r in read)
    assert line.readings == tuple(read)
    assert line.unit == "ppm"


def test_not_detected_is_hollow_and_stands_at_the_instruments_limit(trend_bench):
    line = only(trend_bench, "Pb")
    assert [i for i, hollow in enumerate(line.hollow) if hollow] == [1, 2]
    assert line.y[1] == line.y[2] == 0.9


def test_the_ceiling_is_that_of_the_calls(trend_bench):
    call = trend_bench.calls_of("Alder 3")[-1]
    known = next(e.ceiling_ppm for e in call.elements if e.element == "Fe")
    assert set(only(trend_bench, "Fe").ceiling) == {known}


def test_a_source_has_its_rates_intervals_and_band_from_the_calls(trend_bench):
    line = only(trend_bench, OVERLAY, data.SOURCE_RATE)
    last = next(s for s in trend_bench.calls_of("Alder 3")[-1].sources if s.source == OVERLAY)
    assert (line.y[-1], line.low[-1], line.high[-1]) == (last.rate_mg_h, last.low_mg_h, last.high_mg_h)
    assert (line.band_low[-1], line.band_high[-1]) == (last.normal_low_mg_h, last.normal_high_mg_h)
    assert line.unit == "mg/h"


def test_an_element_has_its_rate_with_one_standard_error(trend_bench):
    line = only(trend_bench, "Cu", data.ELEMENT_RATE)
    last = next(e for e in trend_bench.calls_of("Alder 3")[-1].elements if e.element == "Cu")
    assert line.low[-1] == pytest.approx(last.rate_mg_h - last.rate_se_mg_h)
    assert line.high[-1] == pytest.approx(last.rate_mg_h + last.rate_se_mg_h)


def test_why_a_reading_is_not_joined_to_the_one_before(trend_bench):
    assert only(trend_bench, "Fe").apart == ("", "fill", "", "", "", "fill", "instrument", "")
    both = only(trend_bench, "Fe", build=data.ALL_BUILDS)
    assert both.apart[8] == "build"


def test_all_builds_stand_one_after_another(trend_bench):
    series = data.of(trend_bench, "Alder 3", data.ALL_BUILDS, data.PPM, ["Fe"])
    assert [(s.build, s.start, s.end) for s in series.spans] == [("1", 0.0, 18.0), ("2", 18.0, 36.0)]
    assert series.lines[0].x[8] == 18.7
    assert [e.x for e in series.events if e.kind == "rebuild"] == [18.0]


def test_without_a_build_it_is_the_last_one(trend_bench):
    assert data.of(trend_bench, "Alder 3").build == "2"
    assert data.of(trend_bench, "Alder 3", "1").build == "1"
    assert data.builds_of(trend_bench, "Alder 3") == ("1", "2")


def test_every_event_of_the_build_is_a_mark_in_words(trend_bench):
    events = data.of(trend_bench, "Alder 3", "2").events
    said = {(e.kind, e.x): e.text for e in events}
    assert said["fill", 0.7] == "Fill 2: Example race oil, 6 L, after a hot drain, new filter"
    assert said["fill", 10.0] == "Fill 3: Example race oil, 6 L, after a hot drain, same filter"
    assert said["top-up", 6.0] == "Top-up, 0.5 L"
    assert said["change", 12.5] == "Change of tune: leaner"
    assert said["filter cut", 10.0] == "Filter cut: ferrous none, non-ferrous few, largest 0.4 mm"
    assert said["looked inside", 17.5] == "main bearing overlay: worn out: down to the lining"
    assert said["leak-down", 0.7] == "Leak-down, worst cylinder 4.5 %"
    assert said["instrument", 15.0] == "Other instrument: trailer disc to lab icp"
    assert said["hold", 12.5] == "B2-05 held: check standard read high"
    assert {kind for kind, _ in said} <= set(data.EVENTS)


def test_calls_are_marks_at_their_samples(trend_bench):
    marks = data.of(trend_bench, "Alder 3", "2").calls
    assert [(m.x, m.call) for m in marks[-2:]] == [(15.0, "Look inside"), (17.5, "Park")]


def test_choices_put_what_matters_first(trend_bench):
    ppm = data.choices(trend_bench, "Alder 3", "2", data.PPM)
    assert {choice.name for choice in ppm} == set(ELEMENTS)
    assert all(choice.points == 8 for choice in ppm)
    assert data.choices(trend_bench, "Alder 3", "2", data.SOURCE_RATE)[0].name == OVERLAY
    assert BORE in [choice.name for choice in data.choices(trend_bench, "Alder 3", "2", data.SOURCE_RATE)]


def test_wear_metals_come_before_what_the_oil_brings_along(trend_bench):
    fleet = trend_bench.fleet()
    iron = Material(
        "grey_iron_cylinder", "iron", "iron", "", (ElementShare("Fe", 93.0, 90.0, 95.0, "invented", "own"),)
    )
    oil = Oil("Example race oil", fresh_ppm={"Ca": 2000.0, "Zn": 1200.0, "Si": 3.0})
    trend_bench._fleet = dataclasses.replace(fleet, materials={iron.id: iron}, oils={oil.name: oil})
    for kind in (data.PPM, data.ELEMENT_RATE):
        order = [choice.name for choice in data.choices(trend_bench, "Alder 3", "2", kind)]
        assert order[0] == "Fe"
        assert set(order[-2:]) == {"Ca", "Zn"}
    trend_bench.judging = frozenset({"Alder 3"})
    order = [choice.name for choice in data.choices(trend_bench, "Alder 3", "2", data.PPM)]
    assert order[0] == "Fe"
    assert set(order[-2:]) == {"Ca", "Zn"}


def test_while_judging_there_are_readings_but_no_rates(trend_bench):
    trend_bench.judging = frozenset({"Alder 3"})
    assert data.choices(trend_bench, "Alder 3", "2", data.SOURCE_RATE) == ()
    series = data.of(trend_bench, "Alder 3", "2", data.PPM, ["Fe"])
    assert series.calls == ()
    assert set(series.lines[0].ceiling) == {None}


def test_an_engine_that_is_not_there_shows_nothing(trend_bench):
    assert data.of(trend_bench, "Nobody", "", data.PPM, ["Fe"]).lines == ()
    assert data.builds_of(trend_bench, "Nobody") == ()
    assert data.choices(trend_bench, "Nobody") == ()


def test_the_table_has_one_row_a_point_with_what_was_read(trend_bench):
    series = data.of(trend_bench, "Alder 3", "2", data.PPM, ["Pb", "Fe"])
    header, rows = data.table(series)
    assert len(rows) == 16
    row = dict(zip(header, rows[1], strict=True))
    assert row["sample"] == "B2-01"
    assert row["line"] == "Pb"
    assert row["value"] is None
    assert row["qualifier"] == "<"
    assert row["instrument"] == "trailer disc"


# --- arrays ---------------------------------------------------------------------------------------------------------


@given(st.lists(st.none() | st.floats(allow_nan=False, allow_infinity=False, width=32)))
def test_floats_never_hand_over_an_object_array(values):
    made = arrays.floats(values)
    assert made.dtype == np.float64
    assert [None if np.isnan(v) else v for v in made] == values


def test_joined_lines_stop_at_builds_and_instruments_unless_told():
    apart = ["", "", "fill", "instrument", "build", ""]
    keep = np.array([True] * 6)
    inside, across = arrays.joined(apart, keep, across_instruments=False)
    assert inside.tolist() == [1, 0, 0, 0, 1, 0]
    assert across.tolist() == [0, 1, 0, 0, 0, 0]
    _, told = arrays.joined(apart, keep, across_instruments=True)
    assert told.tolist() == [0, 1, 1, 0, 0, 0]


def test_a_point_that_cannot_be_drawn_does_not_hide_the_break_before_it():
    keep = np.array([True, False, True])
    inside, across = arrays.joined(["", "build", ""], keep, across_instruments=True)
    assert inside.tolist() == [0, 0]
    assert across.tolist() == [0, 0]


@given(st.lists(st.sampled_from(["", "fill", "instrument", "build"]), min_size=1), st.data())
def test_joins_fit_the_points_whatever_is_missing(apart, draw):
    keep = np.array(draw.draw(st.lists(st.booleans(), min_size=len(apart), max_size=len(apart))))
    inside, across = arrays.joined(apart, keep, across_instruments=False)
    assert inside.size == across.size == keep.sum()
    assert not np.any(inside & across)


def test_a_far_ceiling_does_not_flatten_the_line():
    assert arrays.top_of([np.array([2.0])], 500.0) == pytest.approx(2.16)
    assert arrays.top_of([np.array([2.0])], 10.0) == pytest.approx(10.8)
    assert arrays.top_of([], None) == pytest.approx(1.08)


# --- words ----------------------------------------------------------------------------------------------------------


def test_a_point_says_everything_about_itself(trend_bench):
    line = only(trend_bench, "Pb")
    instrument = trend_bench.fleet().instruments["trailer disc"]
    assert words.point_words(line, 5, instrument, "Short stint", "entered by A. Invented, 2026-05-09").split(" · ") == [
        "Pb 7.54 ppm",
        "call ◐ Short stint",
        "HELD: check standard read high\nsample B2-05 at 12.5 h of build 2, 12.5 h on the oil",
        "trailer disc (rotating-disc)",
        "taken 2026-04-20 10:00",
        "entered by A. Invented, 2026-05-09",
    ]
    assert words.value_words(line, 1) == "Pb not detected"


def test_a_rate_says_its_interval_and_what_was_expected(trend_bench):
    said = words.value_words(only(trend_bench, OVERLAY, data.SOURCE_RATE), 7)
    assert said == "main bearing overlay 4.76 mg/h, 90 % interval 3.33 to 6.66; expected 1.2 to 3"
    assert "one standard error" in words.value_words(only(trend_bench, "Fe", data.ELEMENT_RATE), 7)


@pytest.mark.parametrize(
    ("reading", "said"),
    [
        (Reading("Fe", 1.0, qualifier="<"), "Fe <1 ppm"),
        (Reading("Fe", 12.4, mark="*"), "Fe 12.4 ppm (marked *)"),
        (Reading("Fe", 12.4, replicate=2), "Fe 12.4 ppm, replicate 2"),
        (Reading("Fe", 2512.0, "mg/kg"), "Fe 2512 mg/kg"),
    ],
)
def test_readings_in_words(trend_bench, reading, said):
    line = dataclasses.replace(only(trend_bench, "Fe"), readings=(reading,) * 8)
    assert words.value_words(line, 0) == said


@pytest.mark.parametrize("at", ["2026-05-09T15:02:07.123", "2026-05-09 15:02"])
def test_when_a_sample_was_entered_is_said_to_the_minute(at):
    assert words.entered_words("A. Invented", at) == "entered by A. Invented, 2026-05-09 15:02"


def test_a_moment_that_cannot_be_read_is_shown_as_it_is():
    assert words.entered_words("A. Invented", "last week") == "entered by A. Invented, last week"


def test_units_stand_in_the_axis_text(trend_bench):
    one = data.of(trend_bench, "Alder 3", "2", data.PPM, ["Fe"])
    assert words.axis_words(one) == "Fe [ppm]"
    assert words.hours_words(one) == "Hours of build 2 [h]"
    both = data.of(trend_bench, "Alder 3", data.ALL_BUILDS, data.SOURCE_RATE, [OVERLAY, BORE])
    assert words.axis_words(both) == "Wear rate [mg/h]"
    assert words.hours_words(both) == "Engine hours, all builds [h]"
