"""Onsets kept in view: the latest intervals each, older ones thinned out, no hour lost."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from benchapp.wear.slots import RECENT, Slots


@given(st.lists(st.floats(0.25, 20.0), min_size=1, max_size=40), st.integers(6, 12))
def test_the_latest_intervals_are_kept_and_every_hour_lies_in_one_slot(hours, count):
    slots = Slots(count)
    for number, length in enumerate(hours):
        slots.begin(number)
        slots.run(length)
    used = slots.age_h[: slots.whole] >= 0
    assert used.sum() == min(len(hours), slots.whole)
    opened = set(slots.opened[: slots.whole][used].tolist())
    assert opened >= set(range(max(len(hours) - RECENT, 0) + 1, len(hours) + 1))
    assert np.isclose(slots.age_h[slots.whole], sum(hours))
    assert slots.span_h[slots.whole] == hours[0]
    assert np.isclose(slots.span_h[: slots.whole].sum(), sum(hours))


def test_a_copy_goes_on_by_itself():
    slots = Slots(6)
    slots.begin(0)
    slots.run(3.0)
    other = slots.copy()
    other.begin(1)
    other.run(2.0)
    assert (slots.intervals, other.intervals) == (1, 2)
    assert slots.age_h[slots.whole] == 3.0
    assert other.age_h[other.whole] == 5.0
