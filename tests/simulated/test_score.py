"""The bench's own judge on small made-up fleets: floors that hold it to what it reached, beside the simple judges.

The full score is `python -m tests.simulated score`; this is its short form.
"""

from __future__ import annotations

import pytest

from .generators import BENCH, score_seeds, total
from .scorer import Figures, Score, figures

FLEETS = {"a": ([11, 12], 16), "b": ([11, 12], 24), "c": ([11], 40), "d": ([85], 40)}
"""Generator -> seeds and engines. Floors, no measure: those of a, b and c were looked at while the judge was made."""

FLOORS = {
    # generator -> called at least %, false calls at most in 100 healthy samples, named right at least %; some way below
    # what was reached when this was written, for so few faults: the full score is the measure
    "a": (55.0, 3.0, 45.0),
    "b": (65.0, 3.0, 55.0),
    "c": (65.0, 2.5, 70.0),
    "d": (65.0, 3.0, 60.0),
}

pytestmark = pytest.mark.timeout(600)  # a fleet takes seconds; a busy machine may need far longer

_scores: dict[str, dict[str, Score]] = {}


def _score(letter: str, judge: str) -> Score:
    if letter not in _scores:
        seeds, engines = FLEETS[letter]
        _scores[letter] = {name: total(items) for name, items in score_seeds(letter, seeds, engines).items()}
    return _scores[letter][judge]


def _figures(letter: str, judge: str = BENCH) -> Figures:
    return figures(_score(letter, judge))


@pytest.mark.parametrize("letter", sorted(FLEETS))
def test_every_sample_gets_one_call(letter):
    score = _score(letter, BENCH)
    assert score.samples > 0
    assert figures(score).faults >= 10
    assert figures(score).healthy >= 100


@pytest.mark.parametrize("letter", sorted(FLEETS))
def test_the_bench_holds_its_floors(letter):
    called, false, right = FLOORS[letter]
    item = _figures(letter)
    assert item.called_pct >= called
    assert item.false_per_100 <= false
    assert item.right_pct >= right


@pytest.mark.parametrize("letter", sorted(FLEETS))
@pytest.mark.parametrize("table", ["fixed limits, group 1", "fixed limits, group 2"])
def test_it_finds_far_more_than_a_fixed_table(letter, table):
    assert _figures(letter).called_pct >= _figures(letter, table).called_pct + 30.0


@pytest.mark.parametrize("letter", ["a", "b"])
def test_it_cries_wolf_far_less_than_mean_plus_3sd(letter):
    assert _figures(letter).false_per_100 <= 0.5 * _figures(letter, "mean + 3 sd").false_per_100


@pytest.mark.parametrize("letter", sorted(FLEETS))
def test_it_names_the_source_better_than_mean_plus_3sd(letter):
    theirs = _figures(letter, "mean + 3 sd")
    named = theirs.right_pct if theirs.right_pct == theirs.right_pct else 0.0  # no call, nothing named
    assert _figures(letter).right_pct > named
