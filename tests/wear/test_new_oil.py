"""A new oil may hold more than its record says: that is no leak, in one engine or in all. All figures are invented."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from benchapp.records import Oil
from benchapp.wear import beside
from benchapp.wear.decide import LOOK_INSIDE, PARK
from benchapp.wear.elements import followed
from benchapp.wear.hypotheses import Origins
from benchapp.wear.in_use import InUse, far_apart
from benchapp.wear.judge import judge_fleet
from benchapp.wear.oil_book import OilBook
from benchapp.wear.rules import Rules
from benchapp.wear.spread import Spread
from benchapp.wear.sump_oil import SumpOil
from benchapp.wear.teaching import teach_level
from benchapp.wear.watch import Watch
from tests.wear.histories import RULES, Story, fleet_of, of_source, rules_with
from tests.wear.walking import each_look, follower_of

ALARMS = (LOOK_INSIDE, PARK)
KEY = ("race oil", "lab", "Na")


def agreed(*readings: tuple[str, float], held: float = 10.0) -> float | None:
    """What is taken for the oil's sodium after these readings of engines, in order [ppm]."""
    shown = InUse()
    for engine, level in readings:
        shown.learn(*KEY, engine, level, held)
    return shown.level(*KEY, held)


def test_one_engine_tells_nothing_of_the_oil():
    assert agreed(("A", 16.0), ("A", 16.2), ("A", 15.9)) is None


def test_two_engines_that_agree_are_the_oil():
    assert agreed(("A", 16.0), ("B", 15.0)) == pytest.approx(15.5)
    assert agreed(("A", 5.0), ("B", 5.5)) == pytest.approx(5.25)


def test_two_that_do_not_agree_tell_nothing():
    assert agreed(("A", 16.0), ("B", 30.0)) is None
    assert agreed(("A", 16.0), ("B", 5.0)) is None
    assert agreed(("A", 16.0), ("B", 10.4)) is None, "the oil is as it was held to be in one of them"


def test_the_latest_word_of_each_engine_counts_and_not_for_ever():
    assert agreed(("A", 10.0), ("B", 10.0), ("A", 16.0), ("B", 16.0)) == pytest.approx(16.0)
    assert agreed(("A", 16.0), ("B", 16.0), ("A", 10.1), ("B", 9.8)) is None
    since = [("B", 10.0)] * 20
    assert agreed(("A", 16.0), *since, ("C", 16.0)) is None, "what A said is old, and B says no"
    assert agreed(*since, ("A", 16.0), ("C", 16.0)) == pytest.approx(16.0)


def test_what_is_within_its_record_is_no_other_level():
    assert agreed(("A", 11.0), ("B", 11.2)) is None
    assert not far_apart(11.5, 10.0)
    assert far_apart(13.5, 10.0)


def test_an_instrument_that_reads_otherwise_does_so_with_every_oil():
    shown = InUse()
    shown.learn("one", "lab", "Na", "A", 15.0, 10.0)
    shown.learn("two", "lab", "Na", "B", 7.5, 5.0)
    assert shown.level("third", "lab", "Na", 20.0) == pytest.approx(30.0)
    assert shown.level("third", "other lab", "Na", 20.0) is None
    assert shown.level("third", "lab", "K", 20.0) is None
    assert shown.level("third", "lab", "Na", 1.0) is None, "of next to nothing no share is told"


def test_a_copy_learns_by_itself():
    shown = InUse()
    shown.learn(*KEY, "A", 16.0, 10.0)
    other = shown.copy()
    other.learn(*KEY, "B", 16.0, 10.0)
    assert shown.level(*KEY, 10.0) is None
    assert other.level(*KEY, 10.0) == pytest.approx(16.0)


OIL = "race oil"
FOLLOWED = followed(("Fe", "Na"), RULES)


def filled_and_heard(*, sampled: bool) -> tuple[Watch, SumpOil, list[str]]:
    """An oil with 10 ppm of sodium on record, poured before two other engines show 16; then heard of."""
    shown = InUse()
    book = OilBook(FOLLOWED, {OIL: Oil(OIL, fresh_ppm={"Fe": 0.5, "Na": 10.0})}, {}, RULES, shown, "lab")
    watch = Watch(np.ones(2), np.eye(2), (), Origins(np.array([[1.0], [0.0]])), 4)
    oil = SumpOil(OIL, frozenset({OIL}), np.zeros(2, dtype=bool))
    watch.c = np.array([0.5, 10.0])
    oil.pour(book.fresh(OIL)[0], 3.0)
    oil.sampled = sampled
    for engine in "AB":
        shown.learn(OIL, "lab", "Na", engine, 16.0, 10.0)
    oil.hear(watch, book)
    return watch, oil, oil.told_otherwise(book)


def test_a_fill_poured_before_others_showed_the_level_may_be_of_either_batch():
    watch, _, said = filled_and_heard(sampled=False)
    assert watch.c == pytest.approx([0.5, 13.0])
    assert watch.cc.diagonal()[1] == pytest.approx(3.0**2), "as far from the one as from the other"
    assert len(said) == 1


def test_a_fill_that_was_sampled_has_told_for_itself():
    watch, oil, said = filled_and_heard(sampled=True)
    assert watch.c == pytest.approx([0.5, 10.0])
    assert not watch.cc.any()
    assert said == []
    assert oil.fresh == pytest.approx([0.5, 10.0])


# --- stories


def season(name: str, seed: int, *, sodium: float, batch_from: int = 99, leak: bool = False) -> Story:
    """Twelve equal fills; the oil holds `sodium` ppm more than its record, from a fill on 9 ppm more; or coolant leaks
    in, more and more."""
    story = Story(name, seed=seed, start=dt.datetime(2031, 3, 1 + seed, 9, 0)).broken_in()
    for number in range(12):
        story.fill()
        story.ppm["Na"] += 0.9 * (sodium + (9.0 if number >= batch_from else 0.0))
        rate = 10.0 * max(number - 6, 0) if leak else 0.0
        story.run(3.0, extra={element: rate * share for element, share in of_source("coolant").items()}).sample()
    return story


def alarms(*stories: Story, rules: Rules = RULES) -> dict[str, list[tuple[float, str]]]:
    """Engine -> (build hours, first reason) of its alarms."""
    found: dict[str, list[tuple[float, str]]] = {story.name: [] for story in stories}
    for call in judge_fleet(fleet_of(*stories, sisters=0), rules, each=True):
        if call.call in ALARMS:
            found[call.engine].append((call.build_h, call.reasons[0].source))
    return found


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_an_oil_that_always_holds_a_little_more_is_no_leak(seed):
    story = season("E", seed, sodium=3.0)
    assert alarms(story)["E"] == []
    stiff = rules_with("fresh", differs=[0.0, 1e-6])
    assert [source for _, source in alarms(story, rules=stiff)["E"]].count("coolant") >= 2


def test_another_batch_in_three_engines_is_no_leak_for_long(monkeypatch):
    stories = [season(name, seed, sodium=0.0, batch_from=5) for seed, name in enumerate("ABC", 1)]
    known = alarms(*stories)
    monkeypatch.setattr(InUse, "level", lambda *_: None)
    alone = alarms(*stories)
    count, before = (sum(len(found) for found in one.values()) for one in (known, alone))
    assert count <= 3 < 9 <= before, "each may be looked at once, when nobody else has shown it yet"


def test_a_leak_beside_another_batch_is_called():
    sound = [season(name, seed, sodium=0.0, batch_from=3) for seed, name in enumerate("AB", 1)]
    leaking = season("C", 3, sodium=0.0, batch_from=3, leak=True)
    found = alarms(*sound, leaking)
    late = [source for hours, source in found["C"] if hours > 4.0 + 3.0 * 7]
    assert len(late) >= 3
    assert set(late) == {"coolant"}
    assert sum(len(found[name]) for name in "AB") <= 2


def test_what_was_taken_for_the_oil_is_told():
    stories = [season(name, seed, sodium=0.0, batch_from=5) for seed, name in enumerate("ABC", 1)]
    calls = list(judge_fleet(fleet_of(*stories, sisters=0), RULES, each=True))
    said = " ".join(calls[-1].unknowns)
    assert "several engines on" in said
    assert "ppm Na where 4 was to be expected" in said
    early = [call for call in calls if call.build_h < 4.0 + 3.0 * 5]
    assert not any("several engines on" in " ".join(call.unknowns) for call in early)


def test_a_record_that_several_engines_bear_out_is_surer():
    """What one more engine reads beside it every time is then rather its own."""
    shown = InUse()
    shown.learn(*KEY, "A", 10.3, 10.0)
    assert not shown.shows(*KEY, 10.0)
    shown.learn(*KEY, "B", 16.0, 10.0)
    assert not shown.shows(*KEY, 10.0)
    shown.learn(*KEY, "C", 9.5, 10.0)
    assert shown.shows(*KEY, 10.0)


def test_what_is_not_seen_in_an_engine_speaks_for_the_record():
    """Below the limit in most engines and at 2.1 ppm in two: that is the reading noise about the limit, not the oil."""
    spread = Spread(RULES.number("spread", "severity"), RULES.number("spread", "source"))
    for name, seen in zip("ABCDEF", (2.1, None, None, 2.2, None, None), strict=True):
        story = Story(name, seed=ord(name)).broken_in().usual(3)
        story.samples[:] = [
            replace(sample, readings=tuple(
                replace(one, value=seen or 2.0, qualifier="" if seen else "<") if one.measurand == "K" else one
                for one in sample.readings
            )) for sample in story.samples
        ]  # fmt: skip
        list(each_look(follower_of(story, spread=spread)))
    ((key, said),) = [(key, by) for key, by in spread.in_use.levels.items() if key[2] == "K"]
    assert sorted(level for level, _ in said.values())[:4] == pytest.approx([0.0] * 4, abs=0.5)
    assert max(level for level, _ in said.values()) > 1.5
    assert spread.in_use.level(*key, 0.0) is None


def test_sodium_that_was_poured_in_and_stands_still_is_no_leak(monkeypatch):
    """430 ppm with a fill, by a laboratory that reads no other additive: an oil that nobody knows. What begins with the
    fill and does not grow comes in no more, however large it is."""
    story = Story("E", seed=4).broken_in().fill()
    story.ppm["Na"] += 430.0
    for _ in range(6):
        story.run(1.0).sample()
    words = [call.call for call in judge_fleet(fleet_of(story, sisters=0), RULES, each=True)]
    assert PARK not in words[3:]
    monkeypatch.setattr(beside, "_SHARES", np.array([1.0, 1.0, 1.0, 0.0]) / 3.0)
    words = [call.call for call in judge_fleet(fleet_of(story, sisters=0), RULES, each=True)]
    assert words[3:].count(PARK) >= 2


def test_an_element_on_record_that_is_not_seen_is_at_most_at_the_limit():
    story = Story("E", seed=4).broken_in().usual(3)
    last = story.samples[-1]
    unseen = [replace(one, value=2.0, qualifier="<") if one.measurand == "K" else one for one in last.readings]
    story.samples[-1] = replace(last, readings=tuple(unseen))
    follower = follower_of(story)
    *_, look = each_look(follower)

    class OnRecord:
        def held(self, _oil: str) -> tuple[np.ndarray, np.ndarray]:
            return np.full(len(look.rate), 5.0), np.zeros(len(look.rate))

    spread = Spread(RULES.number("spread", "severity"), RULES.number("spread", "source"))
    teach_level(spread, "E", look, follower.now, OnRecord())
    assert [by["E"][0] for key, by in spread.in_use.levels.items() if key[2] == "K"] == [2.0]
