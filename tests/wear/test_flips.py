"""Which uncertain input would change a call."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.records import CALL_WORDS, FilterCut
from benchapp.wear.flips import Known, flips
from benchapp.wear.flips import _cases as cases
from benchapp.wear.judge import family_priors, judge_engine
from tests.wear.histories import IRON_V8, OILS, ROAD, RULES, Story, fleet_of, of_source

RUN, SHORT, LOOK, PARK = CALL_WORDS


def told(story, **more):
    """(fleet, engine, build, priors, calls) of a story among its sisters."""
    fleet = fleet_of(story, **more)
    engine = fleet.engines[0]
    priors = family_priors(fleet, RULES)
    return fleet, engine, engine.builds[0], priors, judge_engine(engine, fleet, RULES, priors, build="1")


def dusty(*amounts, sound=5):
    story = Story("E", seed=2).broken_in().usual(sound)
    for dirt in amounts:
        extra = {element: dirt * share for element, share in of_source("dust").items()}
        story.fill().run(4.0, extra=extra).sample()
    return story


def test_it_starts_from_the_call_itself():
    story = dusty(6.0, 12.0, 20.0)
    story.fill(drain="cold").run(2.0).top_up(0.5).run(2.0, fuel="leaded", extra={"Pb": 40.0}).sample()
    fleet, engine, build, priors, calls = told(story)
    build = replace(build, filter_cuts=(FilterCut(build.samples[4].build_h, "60"),))
    engine = replace(engine, builds=(build,))
    fleet = replace(fleet, engines=(engine, *fleet.engines[1:]))
    calls = judge_engine(engine, fleet, RULES, priors, build="1")
    assert len({call.call for call in calls}) > 1
    for sample, call in zip(build.samples, calls, strict=True):
        assert Known(fleet, engine, build, sample, RULES, priors).word == call.call


def test_a_call_with_room_on_all_sides_has_no_flips():
    fleet, engine, build, priors, calls = told(Story("E", seed=2).broken_in().usual(6))
    assert calls[-1].call == RUN
    assert flips(fleet, engine, build, build.samples[-3], RULES, priors) == ()


def test_a_close_call_names_what_would_turn_it():
    story = dusty(2.0, 4.0, 6.0, 8.0, 11.0, 14.0)
    fleet, engine, build, priors, calls = told(story)
    found = {call.sample: flips(fleet, engine, build, sample, RULES, priors)
             for sample, call in zip(build.samples, calls, strict=True)}  # fmt: skip
    turned = [flip for listed in found.values() for flip in listed]
    assert turned
    for call in calls:
        for flip in found[call.sample]:
            assert flip.call in CALL_WORDS
            assert flip.call != call.call
            assert flip.what
            assert flip.at
    # each way that an input can turn the call is told once
    for listed in found.values():
        assert len({(flip.what, flip.call) for flip in listed}) == len(listed)


def test_lead_that_leaded_fuel_would_explain():
    story = Story("E", seed=1).broken_in().usual(6)
    story.fill().run(4.0, "race", fuel="leaded", extra={"Pb": 30.0})
    story.runs[-1] = replace(story.runs[-1], fuel="")  # nobody wrote the fuel down
    fleet, engine, build, priors, calls = told(story.sample())
    assert calls[-1].call != RUN
    found = flips(fleet, engine, build, build.samples[-1], RULES, priors)
    assert any(flip.what == "fuel in this interval" and flip.at == "leaded" for flip in found)


def test_leaded_fuel_that_was_none():
    story = Story("E", seed=1).broken_in().usual(6)
    story.fill().run(4.0, "race", fuel="leaded", extra={"Pb": 30.0})
    fleet, engine, build, priors, calls = told(story.sample())
    assert calls[-1].call == RUN
    found = flips(fleet, engine, build, build.samples[-1], RULES, priors)
    assert any(flip.what == "fuel in this interval" and flip.at == "unleaded" for flip in found)


def test_every_uncertain_input_is_tried():
    story = Story("E", seed=4).fill(ROAD).run(1.0).sample(break_in=True).fill(drain="hot").run(8.0).top_up(0.3).sample()
    fleet, engine, build, priors, _ = told(story)
    tried = [(case.what, case.at) for case in cases(Known(fleet, engine, build, build.samples[-1], RULES, priors))]
    assert tried[:9] == [
        ("hours in this interval", "6.4 h instead of 8.0 h"),
        ("hours in this interval", "9.6 h instead of 8.0 h"),
        ("oil that circulates", "5.1 L instead of 6.0 L"),
        ("oil that circulates", "6.9 L instead of 6.0 L"),
        ("the last oil change", "drained cold"),
        ("the last oil change", "only part of it drained"),
        ("fuel in this interval", "leaded"),
        ("oil in the sump", "not known"),
        ("oil in the sump", f"{ROAD}, as before"),
    ]
    (what, at), (same, higher) = tried[9:]
    assert what == same
    assert at.endswith(higher.split(" instead of ")[1])


def test_more_hours_are_a_milder_case():
    """Ten hours were run and eight are written: the same metal in more hours is less wear."""
    story = dusty(3.0, 6.0, 9.0)
    fleet, engine, build, priors, _ = told(story)
    for sample in build.samples[-3:]:
        known = Known(fleet, engine, build, sample, RULES, priors)
        less, more = [case for case in cases(known) if case.what == "hours in this interval"]
        words = [CALL_WORDS.index(word) for word in (known.word_in(more), known.word, known.word_in(less))]
        assert words == sorted(words)


def test_an_oil_that_was_not_changed_after_all():
    story = Story("E", seed=3).fill(ROAD).run(1.0, "break-in").sample(break_in=True)
    story.fill(ROAD).run(3.0).usual(5).fill().run(4.0)
    # the drain was written down, but the engine still holds the road oil
    story.ppm = {**story.ppm, **{e: OILS[ROAD].fresh_ppm[e] for e in ("Zn", "P", "Ca", "Mg", "B", "Mo")}}
    fleet, engine, build, priors, _ = told(story.fill(ROAD).run(3.0).sample(), parts=IRON_V8)
    build = replace(build, fills=(*build.fills[:-1], replace(build.fills[-1], oil="an invented race oil")))
    engine = replace(engine, builds=(build,))
    fleet = replace(fleet, engines=(engine, *fleet.engines[1:]))
    found = flips(fleet, engine, build, build.samples[-1], RULES, priors)
    assert any(flip.what == "oil in the sump" for flip in found)


@pytest.mark.parametrize("at", [0, 1, -1])
def test_bare_and_odd_builds_are_no_trouble(at):
    story = Story("E", seed=1).broken_in().usual(2)
    fleet, engine, build, priors, _ = told(story)
    bare = replace(build, fills=(), runs=(), top_ups=(), sump_l=None)
    assert isinstance(flips(fleet, replace(engine, builds=(bare,)), bare, bare.samples[at], RULES, priors), tuple)
    empty = replace(bare, samples=tuple(replace(one, readings=()) for one in bare.samples))
    assert flips(fleet, replace(engine, builds=(empty,)), empty, empty.samples[at], RULES, priors) == ()


def test_a_sample_of_another_build_has_none():
    fleet, engine, build, priors, _ = told(Story("E", seed=1).broken_in())
    other = replace(build.samples[0], code="elsewhere")
    assert flips(fleet, engine, build, other, RULES, priors) == ()


def test_finding_flips_teaches_nothing():
    story = dusty(4.0, 8.0)
    fleet, engine, build, priors, calls = told(story)
    first = [flips(fleet, engine, build, sample, RULES, priors) for sample in build.samples[-2:]]
    again = [flips(fleet, engine, build, sample, RULES, priors) for sample in build.samples[-2:]]
    assert first == again
    assert judge_engine(engine, fleet, RULES, priors, build="1") == calls
