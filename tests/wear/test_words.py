"""The words of a call: each text formatted, none of it a number that nobody can read."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.library import load_library
from benchapp.records import CALL_WORDS
from benchapp.wear import words
from benchapp.wear.words import Phrase, Words, words_from

RUN, SHORT, LOOK, PARK = CALL_WORDS


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"), (0.004, "0"), (0.02, "0.02"), (0.094, "0.09"), (0.0951, "0.1"), (0.44, "0.4"), (3.14, "3.1"),
        (9.94, "9.9"), (9.96, "10"), (42.4, "42"), (1234.5, "1234"), (-0.001, "0"), (-2.34, "-2.3"), (-0.02, "-0.02"),
    ],
)  # fmt: skip
def test_amounts(value, text):
    assert words.amount(value) == text


@given(st.floats(-1e6, 1e6))
def test_amounts_are_near_and_plain(value):
    text = words.amount(value)
    assert re.fullmatch(r"-?\d+(\.\d+)?", text)
    step = 0.01 if abs(value) < 0.095 else 0.1 if abs(value) < 9.95 else 1.0
    assert abs(float(text) - value) <= 0.51 * step


def test_a_reading_with_its_noise():
    assert words.reading("Pb", "lead", 24.0, 2.0, 9.0) == "lead 24 ± 2.0 ppm where 9.0 was expected"
    assert words.reading("Xx", "", 0.3, 0.001, -1.0) == "Xx 0.3 ± 0.05 ppm where 0 was expected"


def test_rates():
    text = words.rate_text("the bearings are losing their overlay", "main bearing overlay", 9.0, 1.5, ["lead 24 ppm"])
    assert text == (
        "Main bearing overlay: the bearings are losing their overlay, 9.0 mg/h, about 6 times what is normal for this "
        "engine (1.5 mg/h). Seen in lead 24 ppm."
    )
    assert "somewhat more than what is normal" in words.rate_text("it wears", "bore", 1.5, 1.0, [])
    assert words.rate_text("dirt gets in", "", 4.0, 0.0, []) == "Dirt gets in, 4.0 mg/h where there should be none."


def test_a_second_bottle():
    assert words.second_bottle("lead", 12.3) == (
        "A second bottle from the same fill that reads lead below 12 ppm would take this back."
    )


@pytest.mark.parametrize("history", [0, 1, 5])
@pytest.mark.parametrize("ceiling", [True, False])
@pytest.mark.parametrize("family", [True, False])
def test_the_sentence_of_a_run(history, ceiling, family):
    text = words.sentence(RUN, "", 3.0, history, ceiling, family)
    assert text.startswith("Run")
    assert "3.0 h" in text
    unknown = not (history or ceiling or family)
    assert ("nothing is known of this engine yet" in text) == unknown
    assert ("speaks against it" in text) != unknown


def test_the_other_sentences():
    said = words.sentence(SHORT, "dirt gets in", 2.0, 3, True, True)
    assert said == "Short stint: it may go, but sample again after 2.0 h. Why: dirt gets in, perhaps."
    assert "asks for another" in words.sentence(SHORT, "", 2.0, 3, True, True)
    assert words.sentence(LOOK, "dirt gets in", 2.0, 3, True, True) == (
        "Look inside before it goes out: dirt gets in."
    )
    assert words.sentence(PARK, "dirt gets in", 2.0, 3, True, True).startswith("Park it until someone")


def test_what_is_less_likely_than_not_is_no_fact():
    said = words.sentence(LOOK, "dirt gets in", 2.0, 3, True, True, ("sealant",), unsure=True)
    assert said == "Look inside before it goes out: perhaps dirt gets in; nearly as likely: sealant."
    assert words.sentence(PARK, "dirt gets in", 2.0, 3, True, True, unsure=True).endswith("perhaps dirt gets in.")
    assert words.sentence(SHORT, "dirt gets in", 2.0, 3, True, True, unsure=True).count("perhaps") == 1


@pytest.mark.parametrize(
    ("samples", "breaks", "builds", "text"),
    [
        (0, False, 0, "no sound sample of this build yet, no break-in sample, no other engine of its family"),
        (1, True, 1, "1 sound sample of this build, its own break-in sample, 1 other build of its family"),
        (2, False, 4, "2 sound samples of this build, no break-in sample, 4 other builds of its family"),
        (3, True, 4, "3 sound samples of this build, its own break-in sample"),
    ],
)
def test_how_much_stands_behind_it(samples, breaks, builds, text):
    assert words.history_text(samples, breaks, builds) == text


def test_before_the_car_goes_out():
    looks = ["cut the filter open", "leak-down", "borescope", "a fourth thing"]
    assert words.before_out(RUN, looks, 4.0) == ()
    level, again = words.before_out(SHORT, looks, 2.0)
    assert "oil level" in level
    assert "2.0 h" in again
    assert words.before_out(LOOK, looks, 2.0)[:3] == ("Cut the filter open.", "Leak-down.", "Borescope.")
    assert words.before_out(PARK, looks, 2.0)[0] == "Do not start it."
    for call in (LOOK, PARK):
        assert "second bottle" in words.before_out(call, [], 2.0)[-1]
        assert not any("fourth" in step for step in words.before_out(call, looks, 2.0))
    for call in (SHORT, LOOK, PARK):
        assert words.before_out(call, looks, 2.0, ["Do so."])[-2] == "Do so."


def test_every_kind_of_source_has_words():
    library = load_library()
    found = words_from(library.data("words"))
    for group in {material.group for material in library.materials.values()}:
        phrase = found.of(group)
        assert phrase.what
        assert phrase.look
    for name in ("dust", "coolant", "other oil", "fuel lead", "copper leaching"):
        assert found.phrases[name].look
    for phrase in found.phrases.values():
        assert phrase.what[0].islower()
        assert not phrase.what.endswith(".")
        assert all(step and not step.endswith(".") for step in phrase.look)


def test_an_unknown_kind_has_words_of_its_own():
    other = Phrase("something", ("look",))
    assert Words({"other": other}).of("no such kind") == other


def test_what_is_nearly_as_likely_stands_behind_the_perhaps():
    what, others = "a bronze bush is wearing (pin bushes)", ("valve guides", "turbo bushes")
    assert words.sentence(SHORT, what, 2.0, 3, True, True, others).endswith(
        "(pin bushes), perhaps; nearly as likely: valve guides or turbo bushes."
    )
    said = words.sentence(LOOK, what, 2.0, 3, True, True, others)
    assert said.endswith("(pin bushes); nearly as likely: valve guides or turbo bushes.")
