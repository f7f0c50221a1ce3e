"""What was known then: nothing that came later may change the call of a sample judged as of its own moment."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.library import load_library
from benchapp.records import Build, Fleet, Sample
from benchapp.wear.judge import judge_fleet
from benchapp.wear.rules import rules_from
from tests.simulated.generators import GENERATORS
from tests.wear.histories import Story, fleet_of


def until(fleet: Fleet, last: Sample) -> Fleet:
    """The bench as it was when `last` had just been taken: no later sample, fill, top-up or change on record."""
    engines = []
    for engine in fleet.engines:
        builds = [_cut(build, last) for build in engine.builds]
        engines.append(replace(engine, builds=tuple(build for build in builds if build.samples)))
    return replace(fleet, engines=tuple(engines))


def _cut(build: Build, last: Sample) -> Build:
    samples = tuple(sample for sample in build.samples if sample.taken_at <= last.taken_at)
    upto = samples[-1].build_h if samples else 0.0
    named = {sample.fill for sample in samples}
    return replace(
        build,
        samples=samples,
        fills=tuple(fill for fill in build.fills if fill.build_h < upto or fill.name in named),
        top_ups=tuple(one for one in build.top_ups if one.build_h <= upto),
        changes=tuple(one for one in build.changes if one.build_h <= upto),
        leak_downs=(),
        filter_cuts=(),
    )


@pytest.mark.parametrize("name", ["a", "b"])
def test_the_future_changes_nothing(name: str) -> None:
    rules = rules_from(load_library())
    fleet = GENERATORS[name](2, 5).fleet
    fleet = replace(
        fleet,
        engines=tuple(
            replace(e, builds=tuple(replace(b, leak_downs=(), filter_cuts=()) for b in e.builds)) for e in fleet.engines
        ),
    )
    samples = sorted((s for e in fleet.engines for b in e.builds for s in b.samples), key=lambda s: s.taken_at)
    each = {call.sample: call for call in judge_fleet(fleet, rules, each=True)}
    for place in (len(samples) // 3, 4 * len(samples) // 5):
        last = samples[place]
        then = judge_fleet(until(fleet, last), rules, each=True)
        assert then
        for call in then:
            assert call == each[call.sample]


def test_hours_before_the_first_fill_on_record() -> None:
    """A build taken over from somebody else: its first fill was never written down."""
    fleet = GENERATORS["a"](2, 7).fleet
    engines = tuple(
        replace(e, builds=tuple(replace(b, fills=b.fills[2:], samples=b.samples[-12:]) for b in e.builds))
        for e in fleet.engines
    )
    calls = judge_fleet(replace(fleet, engines=engines), rules_from(load_library()), each=True)
    assert len(calls) == sum(len(b.samples) for e in engines for b in e.builds)


def test_an_element_that_is_read_later_moves_no_earlier_call() -> None:
    """A bench that got a better instrument in its season."""
    story = Story("E").broken_in().usual(8)
    fleet = fleet_of(story)
    later = ("Ni", "Sn", "Mo")
    build = story.build()
    poor = tuple(
        replace(one, readings=tuple(r for r in one.readings if place > 4 or r.measurand not in later))
        for place, one in enumerate(build.samples)
    )
    build = replace(build, samples=poor)
    fleet = replace(
        fleet, engines=tuple(replace(e, builds=(build,)) if e.name == "E" else e for e in fleet.engines)
    )
    rules = rules_from(load_library())
    each = {call.sample: call for call in judge_fleet(fleet, rules, each=True)}
    then = judge_fleet(until(fleet, poor[4]), rules, each=True)
    assert len([call for call in then if call.engine == "E"]) == 5
    for call in then:
        assert call == each[call.sample]
    last = each[poor[-1].code]
    assert {one.element for one in last.elements} >= set(later) - {"Mo"}
