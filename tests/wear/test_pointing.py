"""What every reason points to, and that the words of a call do not speak against each other. All histories invented."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.records import CALL_WORDS, NON_WEAR_SOURCES, Build, Call, FilterCut, LeakDown, Part
from benchapp.wear import words
from benchapp.wear.judge import judge_fleet
from benchapp.wear.pointing import aim, holders, of_groups, of_metal
from benchapp.wear.reasons import rivals_of
from benchapp.wear.side_records import filter_weight, pointed
from benchapp.wear.suspect import Suspect, phrase_of
from tests.wear.histories import IRON_V8, LIBRARY, RULES, Story, fleet_of, of_source
from tests.wear.test_report import with_build
from tests.wear.walking import looks_of

RUN, SHORT, LOOK, PARK = CALL_WORDS
MATERIALS = LIBRARY.materials
BUILD = Build("1", IRON_V8)


def judged(story: Story, **records: object) -> list[Call]:
    fleet = fleet_of(story)
    if records:
        fleet = with_build(fleet, replace(fleet.engines[0].builds[0], **records))
    return [call for call in judge_fleet(fleet, RULES, each=True) if call.engine == "E"]


def sick(part: str, times: float, fills: int = 3, **more: object) -> Story:
    story = Story("E").broken_in().usual(5)
    for _ in range(fills):
        story.fill().run(4.0, times={part: times}, **more).sample()
    return story


def with_slip(element: str, ppm: float) -> Story:
    story = Story("E").broken_in().usual(8)
    story.fill().run(4.0)
    return story.sample(gains={element: ppm / max(story.ppm[element], 1e-6)})


DUST = {element: 60.0 * share for element, share in of_source("dust").items()}
LEAK = {element: 400.0 * share for element, share in of_source("coolant").items()}
STORIES = {
    "a bearing": (sick("main bearing overlay", 20.0), {}),
    "bores": (sick("bores", 6.0), {}),
    "a little of the bores": (sick("bores", 1.6), {}),
    "dust": (sick("bores", 1.0, extra=DUST), {}),
    "coolant": (sick("bores", 1.0, extra=LEAK), {}),
    "a slip": (with_slip("Cr", 14.0), {}),
    "a filter": (Story("E").broken_in().usual(4), {"filter_cuts": (FilterCut(9.0, "60"), FilterCut(17.0, "", "60"))}),
    "a leak-down": (
        Story("E").broken_in().usual(4), {"leak_downs": (LeakDown(1.0, "3", 3.0), LeakDown(12.0, "3", 14.0))},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", STORIES)
def test_every_reason_has_a_source_and_every_graver_call_a_reason(name: str) -> None:
    story, records = STORIES[name]
    parts = {part.name for part in story.parts}
    calls = judged(story, **records)
    assert any(call.reasons for call in calls)
    for call in calls:
        for reason in call.reasons:
            assert reason.source in NON_WEAR_SOURCES or set(reason.source.split(" + ")) <= parts, reason
            assert reason.parts == () or reason.source == " + ".join(reason.parts)
            assert reason.parts or "These parts" not in reason.text, "dust and coolant are no parts"
        suspected = [reason for reason in call.reasons if reason.probability is not None]
        if call.call == RUN:
            assert not suspected or suspected[0].source in call.sentence
            assert not suspected or "mg/h" not in suspected[0].text, "no rate where there is nothing to act on"
        else:
            assert call.reasons
        if call.call in (LOOK, PARK) and suspected and call.reasons[0] is suspected[0]:
            assert "Seen in" in call.reasons[0].text


def test_a_run_with_a_suspicion_names_it() -> None:
    assert words.a_little("bores", True) == "bores a little up, not enough to act on"
    said = words.sentence(RUN, words.a_little("dust", False), 4.0, 5, True, True)
    assert said == "Run: perhaps a little dust, not enough to act on. Next sample after 4.0 h."
    unknown = words.sentence(RUN, words.a_little("dust", False), 4.0, 0, False, False)
    assert "no sister engine. Perhaps a little dust, not enough to act on. Sample again" in unknown
    assert words.little_text("bores", True, ["iron 9 ppm"]) == (
        "Bores a little up, not enough to act on. Seen in iron 9 ppm."
    )


def test_a_reading_that_is_not_believed_is_the_reason() -> None:
    odd = judged(STORIES["a slip"][0])[-1]
    assert odd.call == SHORT
    first = odd.reasons[0]
    assert (first.about, first.kind, first.source) == ("Cr", "other", "top ring face") or first.parts
    assert "Chromium 14" in first.text or "chromium 14" in first.text
    assert (first.topic, first.shown_by) == ("Cr", "Cr")
    filtered = replace(first, about="filter", source="crank")
    assert (filtered.topic, filtered.shown_by) == ("filter", "crank")
    assert "measure the same bottle again" in first.look


def test_what_raised_the_call_stands_first() -> None:
    story, records = STORIES["a filter"]
    raised = [call for call in judged(story, **records) if call.call == LOOK]
    assert [call.reasons[0].about for call in raised] == ["filter", "filter"]
    assert [set(call.reasons[0].parts) <= {"bores", "crank"} for call in raised] == [True, False]
    assert all(call.reasons[0].text[:20].lower() in call.sentence.lower() for call in raised)


@pytest.fixture(scope="module")
def look():  # type: ignore[no-untyped-def]
    return looks_of(Story("E").broken_in().usual(3))[1][-1]


def test_who_holds_an_element(look) -> None:  # type: ignore[no-untyped-def]
    assert set(holders(look, "Fe")[1]) == {"bores", "crank"}
    assert set(holders(look, "Pb")[1]) == {"main bearing overlay", "main bearing lining"}
    assert holders(look, "Al") == ("pistons", ("pistons",))
    assert holders(look, "Na") == ("coolant", ())
    assert holders(look, "K") == ("coolant", ())
    assert holders(look, "W") == ("other oil", ())
    likely = replace(
        look, evidence=replace(look.evidence, probability=(look.evidence.probability * 0.0)), normal=look.normal
    )
    at = look.sources.names.index("main bearing lining")
    likely.evidence.probability[at] = 0.9
    assert holders(likely, "Pb")[1][0] == "main bearing lining"


def test_where_pieces_come_from(look) -> None:  # type: ignore[no-untyped-def]
    def suspect(*parts: str) -> Suspect:
        return Suspect(" + ".join(parts), parts, "wear", (0,), 0.5, 1.0, 1.0, "bore")

    assert of_metal(True, look, [suspect("pistons"), suspect("crank")], BUILD, MATERIALS) == ("crank", ("crank",))
    assert set(of_metal(True, look, [], BUILD, MATERIALS)[1]) == {"bores", "crank"}
    assert "crank" not in of_metal(False, look, [], BUILD, MATERIALS)[1]
    light = Build("1", (Part("piston", "al_2618"),))
    assert of_metal(True, look, [], light, MATERIALS) == ("piston", ("piston",)), "no such metal: what there is"
    weight = filter_weight([FilterCut(9.0, "60")], RULES)
    assert pointed([None, weight], look, [suspect("crank")], BUILD, MATERIALS)[1].reason.source == "crank"
    assert of_groups(BUILD, MATERIALS, ["bearing_overlay"]) == ("main bearing overlay", ("main bearing overlay",))
    assert of_groups(Build("1", ()), MATERIALS, ["bore"]) == aim(()) == ("", ())


def test_a_mixed_group_is_not_named_by_its_first_part() -> None:
    phrase = RULES.words.of(phrase_of("bores + crank", ("bores", "crank"), "wear", BUILD, MATERIALS, RULES.words))
    assert phrase.what == "one of these parts is wearing"
    for name in ("bores", "crank"):
        own = RULES.words.of(phrase_of(name, (name,), "wear", BUILD, MATERIALS, RULES.words))
        assert own.look[0] in phrase.look[:2]
    assert len({" ".join(step.split()[:3]) for step in phrase.look}) == len(phrase.look)


def test_a_role_says_more_than_the_group_of_a_metal() -> None:
    """Steel of camshafts is steel of piston pins too, and bearing metal is a thrust washer's."""
    parts = (
        Part("gudgeon pins", "steel_9310", "gudgeon pin"), Part("camshaft", "steel_9310", "cam"),
        Part("washers", "brg_cupb24sn4", "thrust washer"), Part("turbo bushes", "cu_c93200"),
        Part("guides", "cu_c67300", "valve guide"),
    )  # fmt: skip
    build, materials = Build("1", parts), LIBRARY.materials
    kinds = {p.name: phrase_of(p.name, (p.name,), "wear", build, materials, RULES.words) for p in parts}
    assert list(kinds.values()) == ["piston_pin", "valvetrain", "thrust", "turbo", "valve_guide_seat"]
    assert all(RULES.words.of(kind).what != RULES.words.of("other").what for kind in kinds.values())


@pytest.mark.parametrize(
    ("chances", "named"),
    [
        ((0.4, 0.3, 0.3), ("lining", "crank")), ((0.6, 0.3, 0.2), ()), ((0.3, 0.3), ("lining",)),
        ((0.5, 0.2, 0.2, 0.2), ()),
    ],
)
def test_what_is_likelier_than_the_likeliest_is_named_beside_it(chances, named) -> None:
    names = ("bores", "lining", "crank", "pistons")
    suspects = [
        Suspect(name, (name,), "wear", (0,), chance, 5.0, 1.0, "bore")
        for name, chance in zip(names, chances, strict=False)
    ]
    assert rivals_of(suspects) == named
    said = words.sentence(LOOK, "bores", 2.0, 3, True, True, rivals_of(suspects))
    assert said.endswith("bores." if not named else "bores; nearly as likely: " + " or ".join(named) + ".")
