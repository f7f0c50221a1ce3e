"""Every line of the report names a source of the contract, each once. All figures are invented."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from benchapp.records import NON_WEAR_SOURCES
from benchapp.wear.clusters import clusters_of
from benchapp.wear.fading import PASSING, Nuisance
from benchapp.wear.interval_rates import Fading, rates_of
from benchapp.wear.rate_lines import source_lines
from tests.wear.histories import IRON_V8, RULES, Story
from tests.wear.walking import looks_of


@pytest.mark.parametrize("name", ["dust", "main bearing lining", "pistons"])
def test_what_passes_is_told_by_its_source(name):
    follower, looks = looks_of(Story("E").broken_in().usual(6))
    look, sources = looks[-1], looks[-1].sources
    at = next(
        j for j, parts in enumerate(sources.parts) if sources.names[j] == name or name in {part.name for part in parts}
    )
    passing = Nuisance(PASSING, 3.0 * sources.fractions[:, at], 8.0, 0.0, 0.0, source=at)
    rates = rates_of(look, (), follower.watch, RULES)
    groups = clusters_of(sources, look.hidden, follower.build, follower.fleet.materials, RULES)
    plain = {line.source: line for line in source_lines(look, rates, groups, 0.4)}
    more = replace(rates, fading=(*rates.fading, Fading(passing, 40.0, 4.0)))
    lines = source_lines(look, more, groups, 0.4)
    names = [line.source for line in lines]
    assert len(names) == len(set(names))
    parts = {part.name for part in IRON_V8}
    assert all(one in NON_WEAR_SOURCES or set(one.split(" + ")) <= parts for one in names)
    line = next(one for one in lines if one.source == name)
    own = plain[name].rate_mg_h if name in plain else 0.0
    assert line.rate_mg_h == pytest.approx(own + 40.0)
    assert math.isfinite(line.low_mg_h)
    assert line.low_mg_h < line.rate_mg_h < line.high_mg_h


@pytest.mark.parametrize(("called", "told"), [("copper leaching", 40.0), ("", 0.0)])
def test_what_passes_and_is_no_fault_is_no_part_and_no_leak(called, told):
    """Copper of a cooler that nobody wrote down has a word in the report, flux of a brazed one has none."""
    follower, looks = looks_of(Story("E").broken_in().usual(6))
    look = looks[-1]
    element = follower.followed.pure("Cu" if called else "K")
    passing = Nuisance(PASSING, element, 8.0, 0.0, 0.0, source=len(look.sources.names), called=called)
    rates = rates_of(look, (), follower.watch, RULES)
    groups = clusters_of(look.sources, look.hidden, follower.build, follower.fleet.materials, RULES)
    plain = {line.source: line.rate_mg_h for line in source_lines(look, rates, groups, 0.4)}
    more = replace(rates, fading=(*rates.fading, Fading(passing, 40.0, 4.0)))
    lines = {line.source: line.rate_mg_h for line in source_lines(look, more, groups, 0.4)}
    changed = {name: rate - plain.get(name, 0.0) for name, rate in lines.items() if rate != plain.get(name)}
    assert changed == ({called: pytest.approx(told)} if told else {})


def test_the_watch_knows_what_passes():
    """What may be at fault is called by its line: the report has the sources of the watch in its order."""
    follower, looks = looks_of(Story("E").broken_in().usual(3))
    columns = follower.watch.columns
    assert columns.suspects == len(looks[-1].sources.names)
    assert {one.called for one in columns.harmless} == {"copper leaching", ""}
