"""What the sample form says, without a window: reading it, its offers, drafts, moments; every sentence it can say."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.actions import suggest
from benchapp.records import Build, Engine, Fill, Fleet, Reading, Run, Sample
from benchapp.window.entry import form_text, offers
from benchapp.window.entry.entry_page import history_words, missing_words, results_of, units_of, why_no_call
from benchapp.window.entry.form_text import FormText, read_form, read_moment, text_of
from benchapp.window.entry.keeper import title_of
from tests.window import fakes

FLEET = fakes.fleet(3)
GOOD = FormText(
    "24-7", "E001", "1", "1", "2026-05-03 14:20", "4,5", "4.5", "hot", "no", "Spark one", "yes", "after dyno"
)
READINGS = (Reading("Fe", 12.4),)


def test_a_whole_form_becomes_a_sample():
    read = read_form(GOOD, READINGS, FLEET)
    assert read.problems == ()
    assert (read.engine, read.build) == ("E001", "1")
    assert read.sample == Sample(
        "24-7", "1", 4.5, 4.5, dt.datetime(2026, 5, 3, 14, 20), "hot", False, "Spark one", True, "after dyno", READINGS
    )


def test_a_sample_goes_to_text_and_back():
    sample = read_form(GOOD, READINGS, FLEET).sample
    assert read_form(text_of("E001", "1", sample), READINGS, FLEET).sample == sample


def test_what_is_not_known_stays_unknown():
    text = replace(GOOD, oil_h="", drawn="not known", before_top_up="not known", taken_at="", break_in="no")
    sample = read_form(text, READINGS, FLEET).sample
    assert (sample.oil_h, sample.drawn, sample.before_top_up, sample.taken_at, sample.break_in) == (
        None, "", None, None, False,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("field", "text", "says"),
    [
        ("code", " ", "no code yet"),
        ("engine", "", "No engine is chosen"),
        ("engine", "X9", "No engine is called “X9”"),
        ("build", "7", "E001 has no build “7”"),
        ("fill", "9", "Choose the fill"),
        ("build_h", "", "Build hours are missing"),
        ("build_h", "twelve", "“twelve” is not a number of hours"),
        ("build_h", "<3", "is not a number of hours"),
        ("build_h", "1,234", "is not a number of hours"),
        ("oil_h", "OVR", "Hours on oil: “OVR”"),
        ("oil_h", "-1", "is not a number of hours"),
        ("taken_at", "03/05/2026", "reads one way only"),
        ("taken_at", "yesterday", "reads one way only"),
    ],
)
def test_each_field_says_what_is_wrong_with_it(field, text, says):
    read = read_form(replace(GOOD, **{field: text}), READINGS, FLEET)
    assert read.sample is None
    assert [problem.field for problem in read.problems] == [field]
    assert says in read.problems[0].reason


def test_a_build_without_a_fill_and_an_engine_without_a_build_say_what_to_do():
    bare = Fleet((Engine("A", "x", builds=(Build("1", ()),)), Engine("B", "x")), {}, {}, {})
    no_fill = read_form(replace(GOOD, engine="A", fill=""), (), bare)
    assert "Say which oil went in first (Ctrl+L)" in no_fill.problems[0].reason
    no_build = read_form(replace(GOOD, engine="B"), (), bare)
    assert "B has no build yet. Add it." in no_build.problems[0].reason


def test_the_engine_is_found_in_any_capitals():
    assert read_form(replace(GOOD, engine="e001"), READINGS, FLEET).engine == "E001"


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("", None),
        ("2026-05-03", dt.datetime(2026, 5, 3)),
        ("2026-05-03 14:20", dt.datetime(2026, 5, 3, 14, 20)),
        ("2026-05-03T14:20", dt.datetime(2026, 5, 3, 14, 20)),
        ("3.5.2026 14:20", dt.datetime(2026, 5, 3, 14, 20)),
        ("25/03/2026", dt.datetime(2026, 3, 25)),
    ],
)
def test_moments_that_read_one_way(text, moment):
    assert read_moment(text) == moment


@given(st.datetimes(min_value=dt.datetime(1970, 1, 1), max_value=dt.datetime(2100, 1, 1)))
def test_every_moment_comes_back_to_the_minute(moment):
    moment = moment.replace(second=0, microsecond=0)
    assert read_moment(form_text.moment_text(moment)) == moment


@given(st.builds(FormText, *[st.text(max_size=20)] * 12))
def test_a_draft_keeps_every_letter(text):
    assert FormText.from_draft(text.as_draft()) == text


@given(st.builds(FormText, *[st.text(max_size=12)] * 12))
def test_no_text_makes_the_form_fall_over(text):
    read = read_form(text, (), FLEET)
    assert (read.sample is None) == bool(read.problems)


def test_what_is_no_field_of_a_draft_is_passed_over():
    assert FormText.from_draft({"code": "a", "colour": "red"}) == FormText("a")
    assert results_of({"results": [["Fe", 1, "2"], "x", ["Cu", "1", "2"], ["Pb", 1]]}) == {("Fe", 1): "2"}
    assert results_of({}) == {}
    assert units_of({"units": {"Fe": "%"}}) == {"Fe": "%"}
    assert units_of({"units": 3}) == {}


def test_the_previous_sample_is_the_one_before_in_hours():
    build = FLEET.engines[1].builds[0]
    assert [item.build_h for item in build.samples] == [3.75, 7.5]
    assert form_text.previous_sample(build, "", 5.0) is build.samples[0]
    assert form_text.previous_sample(build, build.samples[1].code, 7.5) is build.samples[0]
    assert form_text.previous_sample(build, "", None) is build.samples[1]
    assert form_text.previous_sample(build, "", 1.0) is None
    assert form_text.previous_sample(None, "", 1.0) is None


def test_hours_are_offered_from_the_runs():
    build = Build("1", (), fills=(Fill("1", "a", 0.0), Fill("2", "a", 2.5)), runs=(Run("race", 0.1), Run("race", 3.2)))
    assert suggest.hours(build, build.fills[1]) == suggest.Hours(3.3, 0.8)
    assert suggest.hours(build, None) == suggest.Hours(3.3, None)
    assert suggest.hours(Build("1", ()), None) == suggest.Hours()
    assert suggest.hours(None, None) == suggest.Hours()
    assert suggest.oil_hours(2.0, build.fills[1]) is None
    assert suggest.oil_hours(4.0, None) is None


def test_an_empty_form_is_for_the_engine_at_hand():
    assert offers.blank(FLEET, ("", "E002")).engine == "E002"
    assert offers.blank(FLEET, ("gone",)).engine == ""
    one = Fleet(FLEET.engines[:1], {}, {}, {})
    assert offers.blank(one).engine == "E001"
    assert offers.blank(one, (), "Spark one").instrument == "Spark one"


def test_a_waiting_sample_keeps_what_it_brought_along():
    brought = Sample("24-9", "", 3.25, 1.5, dt.datetime(2026, 5, 1), "cold", True, "Lab", notes="n")
    text = offers.of_waiting(FLEET, brought, ("E002",))
    assert (text.code, text.engine, text.fill, text.build_h, text.oil_h) == ("24-9", "E002", "1", "3.25", "1.5")
    assert (text.drawn, text.before_top_up, text.instrument, text.notes) == ("cold", "yes", "Lab", "n")
    bare = offers.of_waiting(FLEET, Sample("24-9", "", 0.0, None), ("E002",), "Spark")
    assert (bare.build_h, bare.oil_h, bare.instrument) == ("7.5", "7.5", "Spark")


def test_the_words_of_the_screen():
    assert missing_words(["A.", "B.", "C.", "D."]) == "Before it can be confirmed: A. B. And 2 more things."
    assert missing_words(["A."]) == "Before it can be confirmed: A."
    assert "Add one from a family first" in why_no_call((), read_form(FormText(), (), FLEET), has_readings=False)
    assert "while you type" in why_no_call(FLEET.engines, read_form(GOOD, (), FLEET), has_readings=False)
    no_engine = read_form(replace(GOOD, engine=""), READINGS, FLEET)
    assert why_no_call(FLEET.engines, no_engine, has_readings=True).startswith("No engine is chosen yet")
    assert title_of({}) == "a sample without a code, 0 results"
    assert title_of({"form": {"code": "a", "engine": "E"}, "results": [1]}) == "sample a of E, 1 result"


STEPS = (("taken", "", "2026-05-01T09:00:00"), ("Fe", "8 ppm", ""), ("Cu", "", "2 ppm"))


def test_a_step_of_history_says_what_was_before_and_after():
    from benchapp.actions.sample import HistoryLine

    line = HistoryLine("2026-05-03T14:20:11", "Ann (invented)", "Correct sample 24-1", STEPS)
    assert history_words(line).splitlines() == [
        "2026-05-03 14:20  Ann (invented): Correct sample 24-1",
        "Fe: 8 ppm → nothing",
        "taken 2026-05-01 09:00, Cu 2 ppm",
    ]


def test_a_step_of_history_has_the_time_of_this_computers_clock():
    from benchapp.actions.sample import HistoryLine

    here = dt.datetime(2026, 5, 3, 14, 20, 11).astimezone()
    for zone in (dt.UTC, dt.timezone(dt.timedelta(hours=9)), dt.timezone(dt.timedelta(hours=-7))):
        line = HistoryLine(here.astimezone(zone).isoformat(timespec="milliseconds"), "Ann (invented)", "Correct", STEPS)
        assert history_words(line).startswith("2026-05-03 14:20  Ann (invented): Correct")
