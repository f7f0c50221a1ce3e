"""What is taken for granted while faults are weighed: the likeliest that explains, and not an excess that is a fault.

All histories and figures are invented."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.wear import evidence
from benchapp.wear.beside import layers_of
from benchapp.wear.chances import prior_of
from benchapp.wear.hypotheses import BLIP, CURVE, FADE, RAMP, STEP
from tests.wear.histories import RULES, SOUND, Story, of_source
from tests.wear.walking import each_look, follower_of, looks_of


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_hard_session_does_not_turn_a_fault_into_what_passes(seed):
    """The lining wears; before the third of its samples the whole engine is run hard. An excess that passes and a hard
    session would explain both, but so do a fault and the hard session."""
    story = Story("E", seed=seed).broken_in().usual(6)
    for number, times in enumerate((6.0, 13.0, 13.0, 13.0)):
        if number % 3 == 0:
            story.fill()
        hard = 2.6 if number == 2 else 1.0
        wear = {part: hard * (times if part == "main bearing lining" else 1.0) for part in SOUND}
        story.run(2.0, times=wear).sample()
    _, looks = looks_of(story)
    assert float(looks[-2].evidence.probability.sum()) > 0.99
    assert float(looks[-1].evidence.probability.sum()) > 0.3, "a tenth of this without the layers aside"


def splashed():
    """A watch some intervals after coolant came once, and what every hypothesis weighs beside nothing else."""
    coolant = {element: 160.0 * share for element, share in of_source("coolant").items()}
    story = Story("E").broken_in().usual(4).fill().run(0.6, extra=coolant).sample()
    story.run(1.0).sample().run(1.0).sample()
    follower = follower_of(story)
    *_, look = each_look(follower)
    prior = prior_of(follower.watch, look.normal, np.ones(len(look.normal)), follower.mass, RULES)
    return follower.watch, prior


def test_every_layer_beside_a_hard_session_is_counted_once():
    """The layers aside begin with what is no excess that passes, and leave out what the others begin with."""
    watch, prior = splashed()
    layers, aside = layers_of(watch, prior, watch.known)
    assert watch.columns.passing[layers[1].given[0]]
    for layer in aside:
        assert not watch.columns.passing[layer.given[0]]
        assert layer.log_weight[layers[1].given[0]] == -np.inf


def test_what_explains_more_than_all_that_is_held_is_asked_for():
    """Else the best that a fault can be weighed beside is worth less than the excess alone, and hides every fault."""
    watch, prior = splashed()
    layers, _ = layers_of(watch, prior, watch.known)
    first = layers[0]
    passing = np.flatnonzero(watch.columns.passing & first.live)
    free = np.setdiff1d(passing, watch.lasting)
    better = first.log_weight.copy()
    better[free[:3]] = float(better[watch.lasting].max()) + np.array([5.0, 9.0, 7.0])
    asked = evidence._passing(watch, [replace(first, log_weight=better), *layers[1:]])
    assert set(free[[1, 2]]) <= set(asked)
    assert free[0] not in asked, "the likeliest two of them"
    assert asked[-1] == layers[-1].given[0], "what is taken for granted now is let go last"


def test_what_is_asked_for_again_is_let_go_last(monkeypatch):
    watch, _ = splashed()
    watch.begin_interval(3)
    watch.run(10.0, 1.0, 5.0, np.eye(watch.count), np.zeros((2, watch.count, watch.count)), np.zeros(2))
    recent = watch.slots.intervals - watch.slots.opened[watch.columns.slot] < 4
    free = np.setdiff1d(np.flatnonzero(watch.columns.passing & recent), watch.lasting)
    watch.hold(free[:3])
    held = watch.lasting[watch.always :].tolist()
    assert held[-3:] == free[:3].tolist()
    shared = {column: watch.shared[row].copy() for row, column in enumerate(watch.lasting.tolist())}
    watch.hold(free[:1])
    assert watch.lasting[-1] == free[0]
    assert sorted(watch.lasting[watch.always :].tolist()) == sorted(held)
    for row, column in enumerate(watch.lasting.tolist()):
        np.testing.assert_array_equal(watch.shared[row], shared[column])


def test_what_began_a_moment_ago_may_be_as_large_in_every_shape():
    """Of what nothing foresees, a slope sheds within the hour what a step of the same source sheds at once."""
    watch, prior = splashed()
    columns = watch.columns
    far = {
        shape: float(prior.farthest[(columns.shape == shape) & (columns.source == 0)][0])
        for shape in (STEP, RAMP, CURVE, FADE, BLIP)
    }
    assert far[RAMP] == pytest.approx(far[STEP]), "per hour: the same rate after one"
    assert far[CURVE] == pytest.approx(far[STEP])
    assert far[FADE] == pytest.approx(far[STEP])
    assert 0.0 < far[BLIP] < far[STEP]


def test_what_is_weighed_without_an_excess_says_nothing_for_it():
    """The probability of what is taken for granted is the weight of the layers in which it is, and of no others."""
    story = Story("E").broken_in().usual(6).fill()
    for times, hard in ((6.0, 1.0), (13.0, 1.0), (13.0, 2.6), (13.0, 1.0)):
        wear = {part: hard * (times if part == "main bearing lining" else 1.0) for part in SOUND}
        story.run(2.0, times=wear).sample()
    follower = follower_of(story)
    seen = 0
    for _ in each_look(follower):
        weights = follower._against().weigh()
        for number, given in enumerate(weights.gathered().given, start=1):
            layers = weights.layers[number:]
            beside = sum(float(np.exp(one.base + one.log_weight - weights.log_total).sum()) for one in layers)
            alone = float(np.exp(layers[0].base - weights.log_total))
            assert given.probability == pytest.approx(beside + alone, abs=1e-9)
            seen += bool(weights.aside)
    assert seen
