"""What the page says is what the record says."""

from __future__ import annotations

import dataclasses

import pytest

from benchapp.records import CALL_WORDS, Fleet, Instrument, NoiseLine, Reason
from benchapp.sheet.content import CAUTIONS, content_for, lines
from benchapp.sheet.reason_plots import main_elements
from benchapp.sheet.words import LONGEST, MORE, kept_together, number, plain
from tests.sheet import invented


def made(call=None, **given):
    given = {"calls_before": invented.calls_before(), "issued_by": "A. Invented", "issued_at": invented.WHEN, **given}
    return content_for(invented.fleet(), call or invented.call(), **given)


def test_every_field_of_the_record_that_a_crew_chief_needs_is_on_the_page():
    call, said = invented.call(), "\n".join(lines(made()))
    for text in (call.engine, call.build, call.sample, call.call, call.sentence, call.history, call.rule_version):
        assert text in said
    for reason in call.reasons:
        assert reason.text in said
    assert call.reasons[0].look in said
    assert call.reasons[0].would_change in said
    for text in (*call.before_out, *call.unknowns, *CAUTIONS):
        assert text in said
    assert "16.0 h" in said
    assert "2026-05-09 14:30" in said
    assert "Sprint 5W-40, fill F2, 6.2 L, in since build hour 0.7" in said
    assert "Hours on this oil: 15.3 h" in said
    assert "Topped up: 0.4 L at 9.5 h" in said
    assert "Left from the oil before: 11 %" in said
    assert "Hours on oil 6 h instead of 15.3 h: Short stint" in said
    assert "Issued by A. Invented, 2026-05-09 14:30" in said
    assert "inputs 3f9a77c0de11" in said


def test_oil_lines_are_printed_under_the_oil():
    assert "Base number at 40 % of new" in made(oil_lines=("Base number at 40 % of new",)).oil


def test_rate_plot_takes_every_call_of_the_build_and_marks_this_one():
    plot = made().reasons[0].plot
    assert plot.title == "main bearing overlay [mg/h]"
    assert [p.y for p in plot.points] == [2.0, 0.8, 0.9, 1.1, 4.6]
    assert [p.this for p in plot.points] == [False] * 4 + [True]
    assert plot.band[-1] == (16.0, 0.4, 1.8)
    assert plot.ceiling is None


def test_ceiling_plot_takes_readings_in_ppm_with_the_ceiling_of_the_record():
    plot = made().reasons[1].plot
    assert plot.title == "Pb [ppm]"
    assert [p.y for p in plot.points] == [0.0, 1.2, 2.0, 3.1, 9.8]
    assert [p.hollow for p in plot.points] == [True, False, False, False, False]
    assert plot.ceiling == 12.0


def test_a_reason_without_a_rate_shows_what_its_source_is_made_of():
    from benchapp.library import load_library

    library = load_library()
    fleet = dataclasses.replace(invented.fleet(), materials=library.materials)
    dust = Reason("dust", (), "pattern", "Dust comes in.")
    bore = Reason("liner", (invented.BORE,), "pattern", "The bore wears.")
    build = fleet.engines[0].builds[0]
    iron = library.materials["iron_grey_cyl_block"].id
    parts = tuple(dataclasses.replace(p, material=iron) if p.name == invented.BORE else p for p in build.parts)
    build = dataclasses.replace(build, parts=parts)
    assert main_elements(fleet, build, dust, library)[:2] == ("Si", "Al")
    assert main_elements(fleet, build, bore, library)[0] == "Fe"
    assert main_elements(fleet, build, Reason("nothing", (), "other", "x"), library) == ()
    fleet = dataclasses.replace(fleet, engines=(dataclasses.replace(fleet.engines[0], builds=(build,)),))
    content = content_for(fleet, invented.call(reasons=(bore, dust)), library)
    assert content.reasons[0].plot.title == "Fe [ppm]"
    assert content.reasons[1].plot is None


def test_two_reasons_of_one_source_do_not_show_the_same_plot_twice():
    twice = (invented.REASONS[0], dataclasses.replace(invented.REASONS[0], text="Pb again."))
    titles = [r.plot.title for r in made(invented.call(reasons=twice)).reasons]
    assert titles == ["main bearing overlay [mg/h]", "Pb [mg/h]"]


def test_a_bare_not_detected_stands_at_the_limit_of_its_instrument():
    fleet = invented.fleet()
    noise = {"Pb": NoiseLine(0.2, 0.05, 0.7, "invented")}
    fleet = dataclasses.replace(fleet, instruments={"disc": Instrument("disc", "rotating-disc", noise=noise)})
    plot = content_for(fleet, invented.call()).reasons[1].plot
    assert plot.points[0].y == 0.7
    assert plot.points[0].hollow


def test_later_samples_never_show_on_an_earlier_page():
    plot = made(invented.call(place=2)).reasons[1].plot
    assert max(p.x for p in plot.points) == 8.0


def test_calls_of_another_build_or_engine_are_not_drawn():
    other = tuple(dataclasses.replace(c, build="1") for c in invented.calls_before())
    assert len(made(calls_before=other).reasons[0].plot.points) == 1


def test_ten_reasons_three_lines_and_a_count_of_the_rest():
    reasons = tuple(Reason(f"part {n}", (), "other", f"reason {n}") for n in range(10))
    content = made(invented.call(reasons=reasons))
    assert [r.text for r in content.reasons] == ["Reason 0", "Reason 1", "Reason 2"]
    assert content.reasons_left == 7


def test_a_run_without_reasons_shows_what_is_nearest_to_its_limits():
    content = made(invented.call("Run", 3, (), ceiling_share=0.26))
    said = [r.text for r in content.reasons]
    assert said[0] == "Nothing stands out against running. Nearest to its ceiling: Pb at 26 %."
    assert said[1].startswith("Cylinder bore wears 10 mg/h; expected are 6 to 14 mg/h")
    assert said[2].startswith("Main bearing overlay wears 1.1 mg/h")
    assert all(r.plot for r in content.reasons)


def test_stamps_are_words():
    content = made(invented.call(held="Check standard high.", superseded="Corrected."), issued_by="")
    assert [stamp.split(":")[0] for stamp in content.stamps] == ["HELD", "SUPERSEDED", "PREVIEW"]
    assert made().stamps == ()


@pytest.mark.parametrize("word", CALL_WORDS)
def test_next_sample_in_words(word):
    later = made(invented.call(word)).next_sample
    assert later == ("2.0 h after it goes out" if word in CALL_WORDS[:2] else "2.0 h after it runs again")
    assert made(invented.call(word, next_sample_h=0.0)).next_sample == "before it runs again"


def test_a_call_whose_engine_is_not_in_the_fleet_still_makes_a_page():
    content = content_for(Fleet((), {}, {}, {}), invented.call())
    assert content.engine == "Alder 3"
    assert "Which oil is in is not recorded" in content.oil
    assert content.reasons[0].plot is not None


@pytest.mark.parametrize(
    ("raw", "clean"),
    [
        ("a\nb\tc", "a b c"),
        ("abc\u202edef", "abc\\u202edef"),
        ("\u2066x\u2069", "\\u2066x\\u2069"),
        ("nul\x00", "nul\\u0000"),
        ("\ud800", "\\ud800"),
        ("é" + "\u0301" * 40, "é" + "\u0301" * 4),
        (None, ""),
    ],
)
def test_hidden_characters_are_shown_and_line_ends_become_blanks(raw, clean):
    assert plain(raw) == clean


def test_a_runaway_text_is_cut_and_says_so():
    text = plain("x" * 100_000)
    assert len(text) < LONGEST + 40
    assert text.endswith(MORE)


@pytest.mark.parametrize(("value", "text"), [(0, "0"), (9.8, "9.8"), (0.1234, "0.123"), (12345.0, "12 300")])
def test_numbers_are_written_for_people(value, text):
    assert number(value) == text


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("oil 97 °C: 19 % below", "oil 97~°C: 19~% below"),
        ("lead 24 ± 1.2 ppm where 3.4 was expected", "lead 24~±~1.2~ppm where 3.4 was expected"),
        ("after 2.0 h, 900 rpm", "after 2.0~h, 900~rpm"),
        ("wearing, 2.6 mg/h", "wearing, 2.6~mg/\u2060h"),
        ("3 hours, 2 homes, build 2 has 5 Lakes", "3 hours, 2 homes, build 2 has 5 Lakes"),
    ],
)
def test_a_number_and_its_unit_stay_in_one_line(said, kept):
    assert kept_together(said) == kept.replace("~", "\u00a0")
