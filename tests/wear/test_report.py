"""What a call says: every field filled, nothing said that is not known, and the properties that any call must keep."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchapp.records import (
    CALL_WORDS,
    NON_WEAR_SOURCES,
    REASON_KINDS,
    Build,
    Engine,
    Family,
    Fill,
    FilterCut,
    Fleet,
    LeakDown,
    Part,
    Reading,
    Run,
    Sample,
    TopUp,
)
from benchapp.wear.decide import judgement
from benchapp.wear.follow import Follower
from benchapp.wear.judge import judge_fleet
from benchapp.wear.split import split
from tests.wear.histories import IRON_V8, LIBRARY, OILS, RACE, RULES, SOUND, Story, fleet_of, metal_of, of_source

RUN, SHORT, LOOK, PARK = CALL_WORDS


def with_build(fleet: Fleet, build: Build) -> Fleet:
    """The fleet with its first engine's only build replaced."""
    return replace(fleet, engines=(replace(fleet.engines[0], builds=(build,)), *fleet.engines[1:]))


def calls_of(fleet: Fleet, *, each: bool = True):
    return judge_fleet(fleet, RULES, each=each, engines=[fleet.engines[0].name])


@pytest.fixture(scope="module")
def sick():
    """A sound engine whose overlay begins to go: twice, four times, ten and thirty times its normal rate."""
    story = Story("E", seed=5).broken_in().usual(5)
    for times in (2.0, 5.0, 12.0, 30.0):
        story.fill().run(4.0, times={"main bearing overlay": times}).sample()
    return fleet_of(story)


# --- fields


def test_every_field_is_filled_sensibly(sick):
    calls = calls_of(sick)
    build = sick.engines[0].builds[0]
    assert [call.sample for call in calls] == [sample.code for sample in build.samples]
    names = {part.name for part in build.parts}
    for call, sample in zip(calls, build.samples, strict=True):
        assert call.rule_version == RULES.version
        assert (call.engine, call.build, call.build_h, call.taken_at) == ("E", "1", sample.build_h, sample.taken_at)
        assert call.call in CALL_WORDS
        assert call.sentence.startswith(call.call.split()[0])
        assert call.sentence.endswith(".")
        assert 1.0 <= call.next_sample_h <= RULES.number("next", "most_h")
        assert call.basis in ("own history", "own ceiling", "family", "none")
        assert call.history
        assert 0 <= call.history_samples < len(calls)
        assert call.severity is None or 0.2 <= call.severity <= 5.0
        assert call.carry_over is None or 0 <= call.carry_over <= 1
        assert call.chi_square is None or call.chi_square >= 0
        assert call.direction in ("", "rising", "steady", "falling")
        assert all(text and "nan" not in text for text in (*call.unknowns, *call.before_out))
        for reason in call.reasons:
            assert reason.kind in REASON_KINDS
            assert reason.text.endswith(".")
            assert set(reason.parts) <= names
            assert reason.parts == () or reason.source == " + ".join(reason.parts)
            assert reason.probability is None or 0 <= reason.probability <= 1
        for rate in call.sources:
            assert rate.source in NON_WEAR_SOURCES or rate.source == " + ".join(rate.parts)
            assert 0 <= rate.low_mg_h <= rate.rate_mg_h <= rate.high_mg_h
            if rate.normal_mg_h is not None and rate.parts:
                assert rate.normal_low_mg_h <= rate.normal_mg_h <= rate.normal_high_mg_h
            assert rate.seen_from_mg_h is None or rate.seen_from_mg_h > 0
        told = [part for rate in call.sources for part in rate.parts]
        assert len(told) == len(set(told))
        read = {reading.measurand: reading.value for reading in sample.readings}
        for line in call.elements:
            assert line.ppm == read[line.element]
            assert (line.rate_mg_h is None) == (line.rate_se_mg_h is None)
            assert line.rate_se_mg_h is None or line.rate_se_mg_h > 0
    assert all(not math.isnan(value) for value in numbers(calls))


def numbers(record):
    """Every float of a record, down to the last."""
    if isinstance(record, float):
        yield record
    elif isinstance(record, tuple):
        for each in record:
            yield from numbers(each)
    elif hasattr(record, "__dataclass_fields__"):
        for field in fields(record):
            yield from numbers(getattr(record, field.name))


def test_a_failing_overlay_is_followed_to_park(sick):
    calls = calls_of(sick)
    assert [call.call for call in calls[:6]] == [RUN] * 6
    last = calls[-1]
    assert last.call == PARK
    assert last.reasons[0].parts[0] == "main bearing overlay"
    assert last.reasons[0].probability > 0.99
    assert "bearings are losing their overlay" in last.sentence
    assert last.reasons[0].look
    assert last.reasons[0].would_change
    assert last.before_out[0] == "Do not start it."
    assert last.next_sample_h == RULES.number("next", "stint_h")
    overlay = next(rate for rate in last.sources if "main bearing overlay" in rate.parts)
    # the truth is 15 mg/h
    assert overlay.low_mg_h < 15.0 < overlay.high_mg_h
    words = [CALL_WORDS.index(call.call) for call in calls[5:]]
    assert words == sorted(words)


def test_rates_of_a_sound_engine_hold_the_truth():
    fleet = fleet_of(Story("E", seed=7).broken_in().usual(8, 8.0))
    inside = total = 0
    for call in calls_of(fleet)[4:]:
        for line in call.elements:
            if line.rate_mg_h is None or line.element not in ("Fe", "Al", "Cu"):
                continue
            true = sum(SOUND[part.name] * metal_of(part).get(line.element, 0.0) for part in IRON_V8)
            total += 1
            # 2.6 standard errors of the balance and a tenth for what sessions differ
            inside += abs(line.rate_mg_h - true) <= 2.6 * line.rate_se_mg_h + 0.1 * true
    assert total >= 12
    assert inside / total >= 0.95


def test_the_ceiling_is_the_break_in(sick):
    calls = calls_of(sick)
    first = {line.element: line.ppm for line in calls[0].elements}
    later = next(line for line in calls[3].elements if line.element == "Fe")
    assert later.ceiling_ppm == pytest.approx(first["Fe"])
    assert calls[3].ceiling_share == pytest.approx(
        max(line.ppm / line.ceiling_ppm for line in calls[3].elements if line.ceiling_ppm)
    )
    assert calls[3].ceiling_element in {line.element for line in calls[3].elements if line.ceiling_ppm}
    assert calls[0].ceiling_share is None


def test_over_its_own_break_in_is_said():
    """A reading over what the break-in reached is always told; while the engine is new, it asks for a short stint."""
    story = Story("E", seed=3)
    story.settling = 1.0
    calls = calls_of(fleet_of(story.broken_in().usual(4).fill().run(24.0).sample()))
    assert calls[1].call == SHORT
    assert [reason.kind for reason in calls[1].reasons] == ["ceiling"]
    call = calls[-1]
    over = next(reason for reason in call.reasons if reason.kind == "ceiling")
    assert "this build's own break-in" in over.text
    assert call.ceiling_share > 1.25


def test_the_hold_of_a_sample_is_the_calls():
    fleet = fleet_of(Story("E", seed=7).broken_in())
    build = fleet.engines[0].builds[0]
    held = replace(build, samples=tuple(replace(one, hold="check of Fe failed") for one in build.samples))
    assert {call.held for call in calls_of(with_build(fleet, held))} == {"check of Fe failed"}


# --- how much stands behind it


def test_with_nothing_known_it_says_so():
    story = Story("E", seed=1).fill().run(6.0).sample()
    call = calls_of(fleet_of(story, sisters=0))[0]
    assert call.basis == "none"
    assert call.history_samples == 0
    assert "no sound sample" in call.history
    assert "no break-in sample" in call.history
    assert "no other engine" in call.history
    assert any("no break-in sample" in text for text in call.unknowns)
    assert call.call in (RUN, SHORT)
    if call.call == RUN:
        assert "nothing is known of this engine yet" in call.sentence


def test_confidence_grows_with_history():
    known = calls_of(fleet_of(Story("E", seed=8).broken_in().usual(8, 8.0)))
    unknown = calls_of(fleet_of(Story("E", seed=8).broken_in().usual(8, 8.0), sisters=0))
    for calls in (known, unknown):
        samples = [call.history_samples for call in calls]
        assert samples == sorted(samples)
        assert samples[-1] > samples[1]
        assert calls[-1].basis == "own history"
    assert known[1].basis == "own ceiling"
    assert "2 other builds of its family" in known[1].history
    # what the bench could have seen gets smaller
    def seen(call):
        return min(rate.seen_from_mg_h for rate in call.sources if "bores" in rate.parts)

    assert seen(known[-1]) < seen(known[1])
    # the same metal is called sooner with a history than without
    fault = {"main bearing lining": 14.0}
    old = calls_of(fleet_of(Story("E", seed=8).broken_in().usual(8).fill().run(4.0, times=fault).sample()))[-1]
    new = calls_of(fleet_of(Story("E", seed=8).fill().run(4.0, times=fault).sample(), sisters=0))[-1]
    assert CALL_WORDS.index(old.call) > CALL_WORDS.index(new.call)


# --- records that say little


BARE = Sample("s", "", 4.0, None, readings=(Reading("Fe", 30.0), Reading("Cu", 4.0)))


def bare(*samples: Sample, **more) -> Fleet:
    build = Build("1", more.pop("parts", IRON_V8), samples=samples, **more)
    return Fleet((Engine("E", "unknown family", builds=(build,)),), {}, LIBRARY.materials, {})


def moved(sample: Sample, **more) -> Sample:
    return replace(sample, **more)


BARES = {
    "nothing but two readings": bare(BARE),
    "no samples": bare(),
    "runs but no samples": bare(runs=(Run("race", 2.0),)),
    "no parts": bare(BARE, parts=()),
    "unknown materials": bare(BARE, parts=(Part("bores", "unobtainium"), Part("", ""))),
    "no readings": bare(moved(BARE, readings=())),
    "no readings at first": bare(moved(BARE, code="r", build_h=1.0, readings=()), BARE),
    "no wear readings": bare(moved(BARE, readings=(Reading("KV100", 12.0, "cSt"),))),
    "duplicate hours": bare(BARE, moved(BARE, code="t"), moved(BARE, code="u")),
    "hours at zero": bare(moved(BARE, build_h=0.0), moved(BARE, code="t", build_h=0.0)),
    "hours below zero": bare(moved(BARE, build_h=-3.0)),
    "hours run backwards": bare(
        BARE, moved(BARE, code="t", build_h=2.0, taken_at=dt.datetime(2031, 3, 3)),
        fills=(Fill("b", "", 3.0), Fill("a", "", 1.0)),
    ),
    "only below limits": bare(
        moved(BARE, readings=(Reading("Fe", 1.0, qualifier="<"), Reading("Cu", None, qualifier="<")))
    ),
    "one element": bare(moved(BARE, readings=(Reading("Pb", 900.0),))),
    "above a limit": bare(moved(BARE, readings=(Reading("Fe", 500.0, qualifier=">"),))),
    "zero everywhere": bare(moved(BARE, readings=(Reading("Fe", 0.0), Reading("Na", 0.0)))),
    "absurd": bare(moved(BARE, readings=(Reading("Fe", 1e9), Reading("Cu", 1e-9)))),
    "another unit": bare(moved(BARE, readings=(Reading("Fe", 3.0, "%"),))),
    "a fill nobody wrote down": bare(moved(BARE, fill="gone"), fills=(Fill("b", "no such oil", 0.0, -1.0),)),
    "top-up larger than the sump": bare(BARE, sump_l=2.0, top_ups=(TopUp("", 3.0, 9.0), TopUp("x", 9.0, -1.0))),
    "no sump at all": bare(BARE, sump_l=0.0),
    "runs of no length": bare(BARE, runs=(Run("", 0.0), Run("?", -2.0, fuel="leaded"))),
}  # fmt: skip


@pytest.mark.parametrize("name", BARES)
@pytest.mark.parametrize("each", [True, False])
def test_bare_records_never_raise_and_are_never_sure(name, each):
    calls = judge_fleet(BARES[name], RULES, each=each)
    assert len(calls) == len(BARES[name].engines[0].builds[0].samples)
    for call in calls:
        assert call.call in (RUN, SHORT), call.sentence
        assert call.basis == "none"
        assert call.history_samples == 0
        assert "no break-in sample" in call.history
        assert call.unknowns
        assert all(math.isfinite(value) for value in numbers(call))


def test_what_is_not_known_is_listed():
    call = judge_fleet(BARES["nothing but two readings"], RULES)[0]
    said = " | ".join(call.unknowns)
    for text in ("how much oil circulates: 5 L taken", "no break-in sample", "which fill", "before a top-up"):
        assert text in said


# --- what the spectrometer cannot see


def test_filter_and_leak_down_raise_the_call():
    story = Story("E", seed=7).broken_in().usual(4)
    fleet = fleet_of(story)
    build = fleet.engines[0].builds[0]
    assert calls_of(fleet)[-1].call == RUN
    hour = build.samples[-1].build_h
    heavy = replace(build, filter_cuts=(FilterCut(hour, ferrous="60", largest_mm=2.0),))
    call = calls_of(with_build(fleet, heavy))[-1]
    assert call.call == LOOK
    assert call.reasons[0].about == "filter"
    assert call.reasons[0].source == " + ".join(call.reasons[0].parts)
    assert set(call.reasons[0].parts) == {"bores", "crank"}
    assert "filter" in call.sentence
    assert call.before_out
    tests = (LeakDown(1.0, "3", 3.0), LeakDown(hour, "3", 14.0))
    leaky = calls_of(with_build(fleet, replace(build, leak_downs=tests)))
    assert [one.call for one in leaky[-2:]] == [RUN, SHORT]
    assert leaky[-1].reasons[0].about == "leak-down"
    # a filter cut that was clean, or made later, changes nothing
    clean = replace(build, filter_cuts=(FilterCut(hour, "none", "0"), FilterCut(hour + 1.0, "200")))
    assert calls_of(with_build(fleet, clean))[-1].call == RUN


# --- properties


STORY = Story("E", seed=9).broken_in().usual(4).fill().run(4.0)
FLEET = fleet_of(STORY.sample())


def with_last(change) -> Fleet:
    build = FLEET.engines[0].builds[0]
    return with_build(FLEET, replace(build, samples=(*build.samples[:-1], change(build.samples[-1]))))


def more_of(metal, mg: float):
    """The sample with so much more metal of one source in the sump [mg]."""

    def change(sample: Sample) -> Sample:
        readings = tuple(
            replace(one, value=one.value + mg * metal.get(one.measurand, 0.0) / STORY.mass) for one in sample.readings
        )
        return replace(sample, readings=readings)

    return change


SOURCES = {part.name: metal_of(part) for part in IRON_V8 if part.name != "top ring face"}
SOURCES |= {"dust": of_source("dust"), "coolant": of_source("coolant", 1)}


@pytest.mark.parametrize("name", SOURCES)
def test_more_metal_of_one_source_is_never_a_milder_call(name):
    words, amounts = [], (0, 4, 8, 15, 25, 50, 100, 200)
    for mg in amounts:
        fleet = with_last(more_of(SOURCES[name], mg))
        words.append(CALL_WORDS.index(calls_of(fleet, each=False)[-1].call))
    assert words == sorted(words), list(zip(amounts, words, strict=True))
    assert words[-1] >= CALL_WORDS.index(SHORT)


@settings(max_examples=5, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.randoms(use_true_random=False))
def test_the_order_of_readings_does_not_matter(random):
    def shuffled(sample: Sample) -> Sample:
        readings = list(sample.readings)
        random.shuffle(readings)
        return replace(sample, readings=tuple(readings))

    assert calls_of(with_last(shuffled)) == calls_of(FLEET)


def test_judging_twice_is_the_same(sick):
    for each in (True, False):
        assert judge_fleet(sick, RULES, each=each) == judge_fleet(sick, RULES, each=each)


def test_as_of_each_never_looks_ahead(sick):
    whole = calls_of(sick)
    build = sick.engines[0].builds[0]
    for count in (1, 3, 6, 8):
        cut = replace(build, samples=build.samples[:count])
        assert calls_of(with_build(sick, cut)) == whole[:count]


def test_twice_the_oil_and_half_the_rise_are_the_same_rates():
    """All concentrations that wear adds halved in twice the sump: the same metal in the same hours."""

    class Quiet:
        """A source of noise that makes none."""

        def normal(self, *_: float) -> float:
            return 0.0

    def quiet(litres: float) -> Fleet:
        told = Story("E", seed=12, litres=litres, scatter=0.0)
        told.rng = Quiet()
        return fleet_of(told.broken_in().usual(5, 8.0), sisters=0)

    small, large = calls_of(quiet(6.0))[-1], calls_of(quiet(12.0))[-1]
    for one, other in zip(small.elements, large.elements, strict=True):
        if one.rate_mg_h is not None and one.element in ("Fe", "Al", "Cu"):
            assert other.rate_mg_h == pytest.approx(one.rate_mg_h, rel=0.15)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(
        st.tuples(
            st.floats(-5, 60), st.sampled_from(["", "F1", "F2"]), st.sampled_from(["", "<", ">"]),
            st.one_of(st.none(), st.floats(0, 5000)), st.sampled_from(["Fe", "Pb", "Na", "Mo", "Zn", "KV100", "?"]),
        ),
        max_size=6,
    ),
    st.sampled_from([None, 0.0, 3.0]),
)  # fmt: skip
def test_whatever_is_written_down_something_is_said(rows, sump):
    samples = tuple(
        Sample(f"s{number}", fill, hour, None, readings=(Reading(element, value, "ppm", qualifier),))
        for number, (hour, fill, qualifier, value, element) in enumerate(sorted(rows, key=lambda row: row[0]))
    )
    fills = (Fill("F1", "x", 0.0), Fill("F2", "y", 20.0, 4.0, drain_before="hot"))
    family = {"unknown family": Family("unknown family", sump_l=sump)}
    fleet = replace(bare(*samples, fills=fills), families=family)
    for each in (True, False):
        calls = judge_fleet(fleet, RULES, each=each)
        assert len(calls) == len(samples)
        assert all(math.isfinite(value) for value in numbers(calls))


def test_a_split_among_no_sources_is_empty():
    """Where nothing is read there is nothing to split: scipy's NNLS would end the whole process there."""
    for count in (0, 3):
        found = split(np.ones(count), np.ones(count), np.zeros((count, 0)), np.zeros((count, 0)))
        assert found.x.shape == (0,)
        assert found.rest == pytest.approx(np.ones(count))


def test_a_judgement_needs_no_report(sick):
    """The word of the decision is the call's, where no filter or leak-down raises it."""
    engine = sick.engines[0]
    follower = Follower(engine, engine.builds[0], sick, RULES, None)
    words = []
    while (look := follower.next_look()) is not None:
        words.append(judgement(look, follower, RULES).word)
    alone = Fleet((engine,), sick.families, sick.materials, sick.oils, sick.instruments)
    assert words == [call.call for call in judge_fleet(alone, RULES, each=True)]


def test_a_split_that_knows_nothing_of_a_source_still_answers():
    found = split(
        np.array([1.0]), np.array([1.0]), np.array([[0.0]]), np.array([[0.0]]), normal=np.array([0.5]),
        normal_sd=np.array([np.inf]),
    )  # fmt: skip
    assert np.isfinite(found.x).all()
    assert np.isfinite(found.covariance).all()


# --- one limit for one element


def asked_of(call, element: str) -> list[str]:
    """The reasons of a call that ask for a second bottle with a limit for this element."""
    return [reason.kind for reason in call.reasons if f"reads {element} below" in reason.would_change]


def test_a_second_bottle_has_one_limit_for_an_element():
    """Iron over the ceiling, and bores that are suspected for their iron: the limit is that of what made the call."""
    story = Story("E", seed=5)
    story.settling = 1.0
    story.broken_in().usual(5)
    for times in (4.0, 12.0, 30.0):
        story.fill().run(4.0, times={"bores": times}).sample()
    *before, first, second, third = calls_of(fleet_of(story))
    for call in (first, second, third):
        assert call.call in (LOOK, PARK)
        assert "ceiling" in [reason.kind for reason in call.reasons]
        assert asked_of(call, "iron") in (["rate"], ["sequence"])
    assert asked_of(before[1], "iron") == ["ceiling"]


def test_the_ceiling_follows_what_the_oil_itself_holds():
    """Five times as much silver in the race oil as break-in reached is the oil's: nothing is over its ceiling."""
    story = Story("E", seed=7).broken_in().usual(2)
    build = story.build()
    fresh = {name: replace(oil, fresh_ppm={**oil.fresh_ppm, "Ag": 0.0}) for name, oil in OILS.items()}
    plenty = replace(fresh[RACE], name="a race oil with silver", fresh_ppm={**fresh[RACE].fresh_ppm, "Ag": 12.0})
    fills = (build.fills[0], *(replace(fill, oil=plenty.name) for fill in build.fills[1:]))
    samples = [
        replace(sample, readings=(*sample.readings, Reading("Ag", 2.4 if sample.break_in else 12.0)))
        for sample in build.samples
    ]
    fleet = fleet_of(story)
    engine = replace(fleet.engines[0], builds=(replace(build, fills=fills, samples=tuple(samples)),))
    fleet = replace(fleet, engines=(engine, *fleet.engines[1:]), oils={**fresh, plenty.name: plenty})
    call = next(one for one in reversed(calls_of(fleet)) if one.engine == "E")
    assert next(line for line in call.elements if line.element == "Ag").ceiling_ppm == pytest.approx(14.4, abs=0.1)
    assert not [reason for reason in call.reasons if reason.kind == "ceiling"]


# --- how sure the sentence is


def test_the_sentence_says_perhaps_of_what_is_less_likely_than_not():
    """A large amount asks for a look on little probability; the sentence makes no fact of it."""
    said = []
    for seed in range(1, 4):
        for part, times in (("pistons", 7.0), ("main bearing lining", 14.0)):
            story = Story("E", seed=seed).broken_in().usual(2).fill().run(2.0, times={part: times}).sample()
            call = calls_of(fleet_of(story))[-1]
            if call.call in (LOOK, PARK):
                said.append((call.reasons[0].probability < 0.5, ": perhaps " in call.sentence))
    assert {unsure for unsure, _ in said} == {True, False}, "both occur"
    assert all(unsure == perhaps for unsure, perhaps in said)
