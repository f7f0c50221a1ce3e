"""What may shed at any time, fades and is nobody's fault: copper of a cooler, flux of a brazed one; and what is not.

All histories are invented."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchapp.records import CALL_WORDS, Call
from benchapp.wear.chances import prior_of
from benchapp.wear.decide import judgement
from benchapp.wear.fading import PASSING
from benchapp.wear.hypotheses import FADE, Harmless, Origins
from benchapp.wear.judge import judge_fleet
from benchapp.wear.rules import Rules
from benchapp.wear.watch import Watch
from tests.wear.histories import RULES, Story, fleet_of, of_source, rules_with
from tests.wear.test_confounders import loud
from tests.wear.walking import each_look, follower_of

RUN, SHORT, LOOK, PARK = CALL_WORDS

WITHOUT_FLUX = rules_with("harmless", flux_start=0.0)


def calls_of(story: Story, rules: Rules = RULES, sisters: int = 2) -> dict[str, Call]:
    fleet = fleet_of(story, sisters=sisters)
    return {call.sample: call for call in judge_fleet(fleet, rules, each=True, engines=["E"])}


def fading(start_h: float, hours: float, fade_h: float) -> float:
    """Mean over a run of what fades from 1 [-]."""
    return fade_h / hours * (math.exp(-start_h / fade_h) - math.exp(-(start_h + hours) / fade_h))


# --- flux


def brazed_cooler(seed: int, aluminium: float) -> Story:
    """Potassium, or potassium and aluminium, from the first start on; a third of it is left after twelve hours."""
    story = Story("E", seed=seed)
    for number in range(9):
        hours = 1.0 if number == 0 else 3.0
        flux = 60.0 * fading(story.hours, hours, 12.0)
        extra = {"K": (1.0 - aluminium) * flux, "Al": aluminium * flux}
        story.fill().run(hours, extra=extra).sample(break_in=number == 0)
    return story


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("aluminium", [0.0, 0.4])
def test_flux_of_a_brazed_cooler_is_no_leak(seed, aluminium):
    story = brazed_cooler(seed, aluminium)
    assert loud(calls_of(story, WITHOUT_FLUX)), "who knows of no flux takes it for coolant"
    assert not loud(calls_of(story))


def leaking_from_the_start(seed: int, ppm_h: float, hours: float = 3.0) -> Story:
    """Next to nothing but potassium, as a brazed cooler shows it, but it keeps growing: twice as much after 6 h."""
    story, pack = Story("E", seed=seed), of_source("coolant", 1)
    assert pack["K"] > 0.9
    for number in range(9):
        run_h = 1.0 if number == 0 else hours
        grown = 1.0 + (story.hours + run_h / 2.0) / 6.0
        leak = {element: ppm_h * story.mass * grown * share for element, share in pack.items()}
        story.fill().run(run_h, extra=leak).sample(break_in=number == 0)
    return story


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("ppm_h", [3.0, 10.0, 30.0])
def test_potassium_that_keeps_growing_is_coolant(seed, ppm_h):
    story = leaking_from_the_start(seed, ppm_h)
    calls = calls_of(story)
    found = [call for call in calls.values() if call.call in (LOOK, PARK)]
    assert found[0].reasons[0].source == "coolant"
    assert next(s.build_h for s in story.samples if s.code == found[0].sample) < 25.0
    assert list(calls.values())[-1].call in (LOOK, PARK), "and it stays so"


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("ppm_h", [1.0, 3.0, 10.0])
def test_potassium_that_begins_late_is_coolant_even_while_it_is_steady(seed, ppm_h):
    """A brazed cooler gives it off from the first start or not at all."""
    story, pack = Story("E", seed=seed).broken_in().usual(5), of_source("coolant", 1)
    leak = {element: ppm_h * story.mass * share for element, share in pack.items()}
    for _ in range(4):
        story.fill().run(4.0, extra=leak).sample()
    calls = list(calls_of(story).values())[-4:]
    assert {call.call for call in calls[1:]} <= {LOOK, PARK}
    assert calls[1].reasons[0].source == "coolant"


# --- copper


def late_copper(seed: int, ppm_h: float, fade_h: float, hours: float, fills: int, before: int = 6) -> Story:
    """Copper alone from some hour on, that fades; nobody wrote a new cooler down. A fill lasts for 12 h of samples."""
    story, per_fill = Story("E", seed=seed).broken_in().usual(before), int(12.0 / hours)
    start_h = 0.0
    for _ in range(fills):
        story.fill()
        for _ in range(per_fill):
            story.run(hours, extra={"Cu": ppm_h * story.mass * fading(start_h, hours, fade_h)}).sample()
            start_h += hours
    return story


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("fade_h", [4.0, 30.0])
@pytest.mark.parametrize("ppm_h", [3.0, 12.0, 40.0])
def test_copper_that_comes_late_and_fades_opens_no_engine(seed, fade_h, ppm_h):
    story = late_copper(seed, ppm_h, fade_h, 1.5, 3)
    assert loud(calls_of(story, rules_with("harmless", copper_per_hour=0.0), sisters=0)), "were it a bearing's"
    assert not loud(calls_of(story, sisters=0))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_copper_that_fades_sooner_than_usual_is_still_a_coolers(seed):
    """Long fills, little history: the curve is all that there is, and not every cooler's is the same."""
    story = late_copper(seed, 12.0, 4.0, 8.0, 5, before=1)
    assert not loud(calls_of(story))


# --- a leak from the first start, which flux would explain at first


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("pack", [1, 3])
@pytest.mark.parametrize("ppm_h", [1.0, 3.0])
def test_a_constant_leak_of_potassium_does_not_fade_and_is_called(seed, ppm_h, pack):
    story, shares = Story("E", seed=seed), of_source("coolant", pack)
    for number in range(14):
        leak = {element: ppm_h * story.mass * share for element, share in shares.items()}
        story.fill().run(1.0 if number == 0 else 3.0, extra=leak).sample(break_in=number == 0)
    assert loud(calls_of(story))


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("ppm_h", [10.0, 20.0])
def test_potassium_without_any_sodium_that_keeps_growing_is_called(seed, ppm_h):
    story = Story("E", seed=seed)
    for number in range(9):
        run_h = 1.0 if number == 0 else 3.0
        grown = 1.0 + (story.hours + run_h / 2.0) / 6.0
        story.fill().run(run_h, extra={"K": ppm_h * story.mass * grown}).sample(break_in=number == 0)
    assert loud(calls_of(story))


# --- what becomes part of the state


def watch_of(leak_alike: bool) -> Watch:
    """Two elements, of which the second may be shed by something harmless that fades in 12 h."""
    harmless = Harmless(np.array([0.0, 1.0]), 12.0, 0.01, 0.001, 1.5, leak_alike)
    return Watch(np.ones(2), np.eye(2), (), Origins(np.array([[1.0], [0.2]]), harmless=(harmless,)), 5)


def held(watch: Watch, since_h: float) -> int:
    """An hour, then so many hours of what is harmless, with a sample halfway and at the end; its column, held."""
    start_h = 0.0
    for hours in (1.0, since_h / 2.0, since_h / 2.0):
        watch.begin_interval(3)
        watch.run(start_h, hours, 5.0, 0.01 * np.eye(2), np.zeros((2, 2, 2)), np.zeros(2))
        watch.take(watch.expect(np.array([1.0, 9.0]), np.full(2, 0.04), np.zeros(2)))
        start_h += hours
    columns, slot = watch.columns, int(np.flatnonzero(watch.slots.opened == 2)[0])
    mine = (columns.shape == FADE) & (columns.source == columns.suspects) & (columns.slot == slot)
    column = int(np.flatnonzero(mine)[0])
    watch.hold(np.array([column]))
    return column


@pytest.mark.parametrize(
    ("leak_alike", "since_h", "may"), [(True, 8.6, False), (True, 30.0, False), (False, 2.0, True)]
)
def test_what_a_leak_would_show_as_well_never_settles(leak_alike, since_h, may):
    """As a state it could stray and cover a leak; of copper nobody thinks of one."""
    watch = watch_of(leak_alike)
    assert watch.may_settle(held(watch, since_h)) == may


@pytest.mark.parametrize("leak_alike", [True, False])
def test_what_was_not_held_settles_never(leak_alike):
    watch = watch_of(leak_alike)
    other = held(watch, 10.0) + 1
    assert other not in watch.lasting
    assert not watch.may_settle(other)


def test_what_is_harmless_begins_oftener_early_in_a_build():
    """As faults do: what is new sheds soon. By as much, for the hours after the first start at which it begins."""
    watch, start_h = watch_of(leak_alike=False), 0.0
    for hours in (1.0, 1.0, 40.0, 1.0):
        watch.begin_interval(3)
        watch.run(start_h, hours, 5.0, 0.01 * np.eye(2), np.zeros((2, 2, 2)), np.zeros(2))
        start_h += hours
    columns = watch.columns
    narrow = prior_of(watch, np.ones(1), np.ones(1), 5.0, RULES).narrow
    mine = (columns.shape == FADE) & (columns.source == columns.suspects)
    early, late = (narrow[mine & (watch.slots.opened[columns.slot] == number)][0] for number in (2, 4))
    more, more_h = RULES.pair("fault", "early")
    assert early / late == pytest.approx((1 + more * math.exp(-1.0 / more_h)) / (1 + more * math.exp(-42.0 / more_h)))
    assert early > 2.0 * late


def followed(story: Story, rules: Rules) -> list[tuple[float, str, bool]]:
    """(hours since the copper began, word, whether it is part of the state by then), sample by sample."""
    follower, found = follower_of(story, rules), []
    for look in each_look(follower):
        for given in look.evidence.given:
            assert 0.0 < given.probability <= given.alike < 1.0 + 1e-9, "each history is counted once"
        in_state = any(one.name == PASSING for one in follower.watch.nuisances)
        found.append((look.sample.build_h - 28.0, judgement(look, follower, rules).word, in_state))
    return [one for one in found if one[0] > 0]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_copper_that_may_fade_in_several_ways_is_copper_all_the_same(seed):
    """No sample of the first hours tells when it began to the hour, or in how many it fades; that it is copper alone
    and passes is as certain as all of that together. It has to be seen for some hours before that counts."""
    story = late_copper(seed, 3.0, 30.0, 1.5, 3)
    told = followed(story, RULES)
    after_h = RULES.number("fault", "settled_alike_h")
    settled_h = min(hours for hours, _, in_state in told if in_state)
    assert after_h < settled_h <= after_h + 3.0
    assert {word for hours, word, _ in told if hours > settled_h} == {RUN}
    never = followed(story, rules_with("fault", settled_alike_h=1e9))
    assert sum(word != RUN for _, word, _ in never) > sum(word != RUN for _, word, _ in told)
