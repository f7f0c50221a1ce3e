"""Search everything and the reading room's texts, without a window."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.actions import explain, search
from benchapp.actions.looks import TellApart
from benchapp.actions.search import Hit, Index
from benchapp.library import load_library
from tests.window import fakes

FLEET = fakes.fleet(4)
INDEX = Index(
    (
        *search.of_fleet(FLEET, ["W-1"]),
        Hit(search.VIEW, "trend", "Trends"),
        Hit(search.ACTION, "add_run", "Add run", "A running session: its hours count"),
    )
)
TOPICS = explain.topics(load_library(), FLEET)


def found(text: str) -> list[tuple[str, str]]:
    return [(hit.kind, hit.key) for hit in INDEX.matching(text)]


def test_a_code_typed_whole_comes_first():
    code = FLEET.engines[0].builds[0].samples[0].code
    assert found(code)[0] == ("sample", code)
    assert found(code.lower())[0] == ("sample", code)
    assert found("W-1")[0] == ("sample", "W-1")


def test_engines_parts_views_and_actions_are_found():
    assert found("e002")[0] == ("engine", "E002")
    assert ("part", "E001/main bearing overlay") in found("overlay")
    assert found("trends") == [("view", "trend")]
    assert found("run add") == [("action", "add_run")]
    assert ("action", "add_run") in found("session hours")


@pytest.mark.parametrize("text", ["26-001", "E1 2", "abc", "1", "x" * 120 + "1", "26-\u0000", "26-OO1"])
def test_what_is_no_new_code(text):
    assert search.new_sample(text, ["26-001", "26-oo1"]) is None


def test_a_new_code_is_offered():
    hit = search.new_sample(" 26-002 ", ["26-001"])
    assert (hit.kind, hit.key) == (search.NEW, "26-002")


def test_nothing_is_found_for_nothing():
    assert found("") == found("   ") == []
    assert found("zzz") == []


def test_a_title_comes_before_a_text_that_only_mentions_it():
    index = Index((Hit("word", "a", "sump", "lead and tin"), Hit("element", "b", "lead (Pb)", "", ("Pb", "lead"))))
    assert [hit.key for hit in index.matching("lead")] == ["b", "a"]
    assert index.matching("pb")[0].key == "b"


@given(st.text(max_size=20))
def test_every_hit_holds_every_word(text):
    for hit in INDEX.matching(text):
        whole = " ".join((hit.title, *hit.names, hit.about)).casefold()
        assert all(word in whole for word in text.casefold().split())


@given(st.sampled_from(INDEX.hits))
def test_each_thing_is_found_by_its_own_title(hit):
    best = INDEX.matching(hit.title)
    assert hit in best
    assert best[0].title.casefold() == hit.title.casefold()


# --- the reading room


def test_each_topic_says_something_and_names_its_source():
    assert len({topic.key for topic in TOPICS}) == len(TOPICS)
    for topic in TOPICS:
        assert topic.title
        assert topic.text.endswith((".", ")"))
        assert topic.source


def test_all_elements_materials_terms_and_rules_are_there():
    library = load_library()
    kinds = [topic.kind for topic in TOPICS]
    assert kinds.count(explain.ELEMENT) == len(library.elements)
    assert kinds.count(explain.ORIGIN) == len(library.non_wear)
    assert kinds.count(explain.OIL) == 1
    sections = {name for name, table in library.data("calls").items() if isinstance(table, dict)}
    assert sections <= set(explain.SECTIONS), "a section of the call table has no words"


@pytest.mark.parametrize(
    ("word", "title"),
    [
        ("Pb", "lead (Pb)"),
        ("aluminum", "aluminium (Al)"),
        ("Of ceiling", "ceiling"),
        ("Leak-down", "leak-down"),
        ("main bearing overlay", "overlay"),
        ("table: park probability", "table: park probability"),
        ("Fe [ppm]", "iron (Fe)"),
    ],
)
def test_words_of_the_window_lead_to_their_topic(word, title):
    assert explain.find(TOPICS, word).title == title


@pytest.mark.parametrize("word", ["", "  ", "Saved state", "26-003", "in"])
def test_other_words_lead_nowhere(word):
    assert explain.find(TOPICS, word) is None


def test_a_rule_shows_the_value_that_calls_use():
    value = load_library().data("calls")["table"]["park_probability"]["value"]
    topic = explain.find(TOPICS, "table: park probability")
    assert f"{value:g}" in topic.text
    assert topic.source == explain.CHOSEN


def test_source_keys_are_written_out():
    topic = explain.find(TOPICS, "white metal")
    assert "SAE J460" in topic.source


FOUND = TellApart(
    with_what="3 elements measured so far: Fe, Cr, Pb",
    groups=(("bore", "crank"), ("ring",), ("overlay",)),
    words=(),
    elements={"bore": ("Fe",), "crank": ("Fe",), "ring": ("Cr", "Fe"), "overlay": ("Pb",)},
)


def test_what_an_element_tells_in_an_engine():
    said = explain.said_of("Fe", FOUND)
    assert said == (
        "Fe can come from: bore, crank, ring.",
        "It is the strongest mark of: bore, crank.",
        "By itself it cannot tell these 3 from one another: its company does.",
        "With the other elements measured here it is told to: ring.",
        "Even then these read as one: bore + crank.",
    )
    assert explain.said_of("Pb", FOUND)[-1] == "With the other elements measured here it is told to: overlay."
    assert "not among the elements measured" in explain.said_of("Ag", FOUND)[0]
    bare = TellApart("1 elements: Ag", (), (), {})
    assert "a rise comes from elsewhere" in explain.said_of("Ag", bare)[0]


def test_it_is_computed_from_the_engines_own_parts(bench):
    engine = bench.fleet().engines[0].name
    name, said = explain.in_engine(bench.fleet(), engine, "Fe", bench.materials())
    assert name == engine
    assert said[0].startswith("Fe can come from: ")
