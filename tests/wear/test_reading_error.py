"""The error beside a reading in a reason: the instrument's noise and the last figure that it prints. Invented."""

from __future__ import annotations

import math
from dataclasses import replace

from benchapp.wear.reasons import _read
from tests.wear.histories import RULES, Story
from tests.wear.walking import looks_of


def said(whole: bool) -> tuple[float, float]:
    """The error of copper as it is told [ppm], and the instrument's noise."""
    story = Story("E").broken_in().usual(3)
    if whole:
        story.samples = [
            replace(one, readings=tuple(replace(r, value=float(round(r.value))) for r in one.readings))
            for one in story.samples
        ]
    _, looks = looks_of(story)
    text = _read(looks[-1], looks[-1].sources.elements.index("Cu"), RULES)
    return float(text.split("±")[1].split()[0]), looks[-1].observed["Cu"].noise_sd


def test_whole_numbers_are_no_better_than_their_last_figure():
    error, noise = said(whole=True)
    assert error == round(math.hypot(noise, 1.0 / math.sqrt(12.0)), 1)
    assert error > said(whole=False)[0]
