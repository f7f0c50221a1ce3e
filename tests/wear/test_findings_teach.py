"""What someone saw inside reaches the next calls: of the same build, and of the family's other engines."""

from __future__ import annotations

from dataclasses import replace

from benchapp.library import load_library
from benchapp.records import Call, Finding, Fleet
from benchapp.wear.judge import family_priors, judge_engine, judge_fleet
from benchapp.wear.latest import Latest
from benchapp.wear.rules import rules_from
from tests.wear.histories import IRON_V8, SOUND, Story, fleet_of, of_source

RULES = rules_from(load_library())


def judged(fleet: Fleet) -> list[Call]:
    return [call for call in judge_fleet(fleet, RULES, each=True) if call.engine == "E"]


def with_findings(fleet: Fleet, engine: str, *findings: Finding) -> Fleet:
    engines = tuple(
        replace(e, builds=(*e.builds[:-1], replace(e.builds[-1], findings=findings))) if e.name == engine else e
        for e in fleet.engines
    )
    return replace(fleet, engines=engines)


def raised(part: str) -> Story:
    """Sound for eight fills, then one part sheds six times its usual for good."""
    story = Story("E").broken_in().usual(8)
    for _ in range(8):
        story.fill().run(4.0, times={part: 6.0}).sample()
    return story


def test_a_part_found_sound_is_not_called_again() -> None:
    part = max(IRON_V8, key=lambda one: SOUND[one.name]).name
    fleet = fleet_of(raised(part))
    calls = judged(fleet)
    words = [call.call for call in calls]
    first = next(place for place, word in enumerate(words) if word in ("Look inside", "Park"))
    call = calls[first]
    hour = call.build_h
    named = call.reasons[0].parts
    seen = with_findings(fleet, "E", *(Finding(hour, name, "as new", call.sample) for name in named))
    after = [call.call for call in judged(seen)]
    assert after[: first + 1] == words[: first + 1]
    assert not {"Look inside", "Park"} & set(after[first + 2 :])
    assert {"Look inside", "Park"} & set(words[first + 1 :])


def test_what_was_found_worn_makes_its_like_suspect_in_the_family() -> None:
    part = max(IRON_V8, key=lambda one: SOUND[one.name]).name
    sick = Story("E", seed=3).broken_in().usual(6)
    sick.fill().run(4.0, times={part: 2.2}).sample()

    def chance(fleet: Fleet) -> float:
        last = judged(fleet)[-1]
        return sum(reason.probability or 0.0 for reason in last.reasons if part in reason.parts)

    plain = fleet_of(sick)
    told = with_findings(plain, "sister 1", Finding(10.0, part, "worn out"))
    assert chance(told) > chance(plain)


def test_dust_whose_way_in_was_not_found_is_not_called_again() -> None:
    story = Story("E").broken_in().usual(8)
    dusty = {element: 45.0 * share for element, share in of_source("dust").items()}
    for _ in range(8):
        story.fill().run(4.0, extra=dusty).sample()
    fleet = fleet_of(story)
    calls = judged(fleet)
    asks = [any(r.source == "dust" for r in call.reasons) and call.call in ("Look inside", "Park") for call in calls]
    first = asks.index(True)
    assert any(asks[first + 2 :])
    for seen, cleared in (("as new", True), ("damaged", False)):
        told = with_findings(fleet, "E", Finding(calls[first].build_h, "dust", seen, calls[first].sample))
        after = [
            any(r.source == "dust" for r in call.reasons) and call.call in ("Look inside", "Park")
            for call in judged(told)
        ]
        assert after[: first + 1] == asks[: first + 1]
        assert any(after[first + 2 :]) is not cleared, seen


def test_a_next_sample_is_judged_alike_whether_its_build_was_followed_before_or_not() -> None:
    part = max(IRON_V8, key=lambda one: SOUND[one.name]).name
    story = raised(part)
    hour, code = story.hours, story.samples[-1].code
    findings = [Finding(hour, one.name, "as new", code) for one in IRON_V8 if one.material == _material(part)]
    now = with_findings(fleet_of(story), "E", *findings)
    story.fill().run(4.0, times={part: 6.0}).sample()
    then = with_findings(fleet_of(story), "E", *findings)
    engine, after = (next(e for e in fleet.engines if e.name == "E") for fleet in (now, then))
    priors = family_priors(now, RULES)
    # the new fill lies before the new sample: the build that is followed has it already
    known = replace(engine.builds[-1], fills=after.builds[-1].fills, runs=after.builds[-1].runs)
    watched = Latest(engine, known, replace(now, engines=(replace(engine, builds=(known,)),)), RULES, priors)
    found = watched.with_next(after.builds[-1], then)
    assert found is not None
    assert found == judge_engine(after, then, RULES, priors)[-1]


def _material(part: str) -> str:
    return next(one.material for one in IRON_V8 if one.name == part)
