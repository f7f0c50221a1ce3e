"""Filter cuts, leak-downs and oil pressures: what they weigh in a call."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.records import CALL_WORDS, Build, Fill, FilterCut, LeakDown, Material, OilPressure, Part, Sample
from benchapp.wear.side_records import filter_weight, leak_weight, pieces, pressure_weight, raised, weights
from tests.wear.histories import RULES

RUN, SHORT, LOOK, PARK = CALL_WORDS


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("", None), ("  ", None), ("12", 12), ("~ 30", 30), ("<5", 5), ("3,5", 3.5), ("none", 0), ("Clean", 0),
        ("-", 0), ("a few", 5), ("many flakes", 50), ("chips", 40), ("shiny", None), ("12 pcs", 12),
    ],
)  # fmt: skip
def test_how_many_pieces_an_entry_means(text, count):
    assert pieces(text) == count


@given(st.text(max_size=30))
def test_any_entry_is_read_or_left(text):
    found = pieces(text)
    assert found is None or found >= 0


@pytest.mark.parametrize(
    ("cut", "call"),
    [
        # pattern of published aircraft-piston advice: up to 5 small pieces run on, 10 to 20 look again soon, 45 to 60
        # or larger than 1/16 in (1.6 mm) inspect
        (FilterCut(1.0, "5", "3"), None),
        (FilterCut(1.0, "none", "none"), None),
        (FilterCut(1.0), None),
        (FilterCut(1.0, "15"), SHORT),
        (FilterCut(1.0, "", "20", 0.4), SHORT),
        (FilterCut(1.0, "50"), LOOK),
        (FilterCut(1.0, "", "60"), LOOK),
        (FilterCut(1.0, "2", "", 2.0), LOOK),
        (FilterCut(1.0, "none", "", 2.0), None),
        (FilterCut(1.0, "2", "", None, size_class="large"), LOOK),  # above 1/16 in by eye
        (FilterCut(1.0, "2", "", None, size_class="small"), None),
        (FilterCut(1.0, "none", "", None, size_class="large"), None),
        (FilterCut(1.0, "50", "", None, taken_from="magnet"), LOOK),
    ],
)
def test_filter_cuts(cut, call):
    weight = filter_weight([cut], RULES)
    assert (weight.call if weight else None) == call


def first_filter(*cuts, fills=(0.0, 2.0, 12.0), changed=(None, None, None)):
    """What the cuts of one build ask for; its filters were changed with these fills, where nothing else is said."""
    pairs = zip(fills, changed, strict=False)
    known = tuple(Fill(str(i), "oil", hour, filter_changed=new) for i, (hour, new) in enumerate(pairs))
    found = weights(Build("1", PARTS, fills=known, filter_cuts=cuts), MATERIALS, -1.0, 100.0, RULES)[0]
    return found.call if found else None


@pytest.mark.parametrize("hour", [1.9, 2.0, 2.1])  # cut when it was drained, written down to a tenth of an hour
@pytest.mark.parametrize(
    ("found", "largest", "call"), [("12", 0.3, None), ("39", 0.8, None), ("45", 0.8, SHORT), ("70", 0.8, LOOK)]
)
def test_pieces_in_the_first_filter_are_run_in_debris_until_there_are_many(hour, found, largest, call):
    assert first_filter(FilterCut(hour, found, "", largest)) == call
    assert first_filter(FilterCut(hour, "", found, largest)) == call


def test_which_filter_is_the_first():
    assert first_filter(FilterCut(2.0, "12", "", 2.5)) == LOOK, "a large piece is none of the run-in's"
    assert first_filter(FilterCut(4.0, "12")) == SHORT
    assert first_filter(FilterCut(12.0, "12")) == SHORT
    assert first_filter(FilterCut(4.0, "12"), changed=(None, False, True)) is None, "it stayed in with the new oil"
    assert first_filter(FilterCut(12.0, "12"), changed=(None, False, True)) == SHORT, "run-in is over by then"
    assert first_filter(FilterCut(4.0, "12"), fills=(0.0,)) is None
    assert first_filter(FilterCut(4.0, "12"), fills=()) is None
    assert first_filter(FilterCut(40.0, "12"), fills=()) == SHORT


def test_up_to_the_last_break_in_sample_it_is_the_run_ins():
    """The oil of the first start was flushed after half an hour; the break-in sample is of the fill that followed."""
    fills = tuple(Fill(str(i), "oil", hour, filter_changed=True) for i, hour in enumerate((0.0, 0.4, 2.0)))
    samples = tuple(Sample(f"S{hour}", fills[1].name, hour, hour - 0.4, break_in=True) for hour in (1.9, 6.0))
    build = Build("1", PARTS, fills=fills, samples=samples, filter_cuts=(FilterCut(2.0, "12"), FilterCut(5.0, "12")))
    assert weights(build, MATERIALS, -1.0, 2.0, RULES)[0] is None
    assert weights(build, MATERIALS, 2.0, 5.0, RULES)[0].call == SHORT, "the break-in sample at 6 h is not drawn yet"
    assert weights(build, MATERIALS, 2.0, 6.0, RULES)[0] is None


def test_what_is_said_of_a_filter():
    reason = filter_weight([FilterCut(12.5, "5", "50", 1.8, "like glitter")], RULES).reason
    assert reason.text == (
        "The filter cut open at 12.5 h held non-magnetic metal, the largest 1.8 mm (like glitter): too large for the "
        "spectrometer to see."
    )
    assert (reason.about, reason.kind, reason.probability) == ("filter", "other", None)
    assert reason.look
    assert reason.would_change
    assert " magnetic metal:" in filter_weight([FilterCut(2.0, "50")], RULES).reason.text


def test_what_is_said_of_a_magnet_and_of_colour_and_form():
    cut = FilterCut(2.0, "60", "", None, "", "magnet", "slivers", "dark grey", "large")
    assert filter_weight([cut], RULES).reason.text == (
        "The magnet at 2 h held dark grey magnetic slivers, large: too large for the spectrometer to see."
    )


def test_the_heaviest_of_several_counts():
    cuts = [FilterCut(1.0, "15"), FilterCut(2.0, "60"), FilterCut(3.0, "12"), FilterCut(4.0, "none")]
    for order in itertools.permutations(cuts):
        assert filter_weight(order, RULES).call == LOOK
    assert filter_weight([], RULES) is None


def leaks(*pairs, cylinder="2", **more):
    return [LeakDown(hour, cylinder, percent, **more) for hour, percent in pairs]


@pytest.mark.parametrize(
    ("tests", "found"),
    [
        (leaks((1.0, 3.0), (9.0, 12.0)), True),
        (leaks((1.0, 3.0), (9.0, 7.5)), False),  # risen, but not much of a leak yet
        (leaks((1.0, 9.0), (9.0, 12.0)), False),  # leaky from the start
        (leaks((9.0, 30.0)), False),  # nothing to compare with
        (leaks((1.0, 3.0), (5.0, 20.0), (9.0, 4.0)), False),  # put right since
        ([*leaks((1.0, 3.0)), *leaks((9.0, 12.0), cylinder="3")], False),
        ([*leaks((1.0, 3.0), tester="A"), *leaks((9.0, 12.0), tester="B")], False),
        ([*leaks((1.0, 3.0), pressure_kpa=700.0), *leaks((9.0, 12.0), pressure_kpa=550.0)], False),
        ([], False),
    ],
)
def test_leak_down(tests, found):
    weight = leak_weight(tests, RULES)
    assert (weight is not None) == found
    if weight:
        assert weight.call == SHORT


def test_what_is_said_of_a_leak_down():
    tests = [*leaks((1.0, 3.0), (9.0, 12.0)), *leaks((1.0, 2.5), (9.0, 19.0), cylinder="5")]
    reason = leak_weight(tests, RULES).reason
    assert reason.text == "Cylinder 5 leaks 19 %, it was 2.5 % at 1 h."
    assert reason.about == "leak-down"
    assert "radiator" in reason.look
    assert reason.would_change


SHORTER = leak_weight(leaks((1.0, 3.0), (9.0, 12.0)), RULES)
LOOKING = filter_weight([FilterCut(1.0, "60")], RULES)
SOON = filter_weight([FilterCut(1.0, "15")], RULES)


@pytest.mark.parametrize(
    ("call", "weights", "result"),
    [
        (RUN, (None, None), RUN),
        (RUN, (SOON, None), SHORT),
        (RUN, (SOON, SHORTER), LOOK),  # two records that each ask for a short stint
        (SHORT, (None, SHORTER), LOOK),  # the spectrometer asks, and so does a record
        (SHORT, (None, None), SHORT),
        (RUN, (LOOKING, None), LOOK),
        (PARK, (SOON, SHORTER), PARK),
        (LOOK, (SOON, None), LOOK),
    ],
)
def test_calls_are_raised_and_never_lowered(call, weights, result):
    assert raised(call, *weights) == result
    assert CALL_WORDS.index(result) >= CALL_WORDS.index(call)


# --- oil pressure

OILS = (Fill("1", "R40", 0.0), Fill("2", "H50", 20.0))
PARTS = (Part("rod bearing overlay", "soft"), Part("bores", "hard"))
MATERIALS = {
    "soft": Material("soft", "an overlay", "bearing_overlay", "", ()),
    "hard": Material("hard", "a bore", "bore", "", ()),
}


def pressed(*records, **more):
    return Build("1", PARTS, fills=OILS, oil_pressures=tuple(OilPressure(*each) for each in records), **more)


def weigh(*records, now=99.0):
    return pressure_weight(pressed(*records), MATERIALS, now, RULES)


USUAL = ((1.0, 500.0, 6000.0, 100.0), (5.0, 510.0, 6100.0, 103.0), (9.0, 495.0, 5950.0, 98.0))


@pytest.mark.parametrize(
    ("last", "call"),
    [
        ((12.0, 480.0, 6000.0, 100.0), None),  # 4 % below: as a gauge repeats
        ((12.0, 430.0, 6000.0, 100.0), SHORT),  # 14 % below
        ((12.0, 360.0, 6000.0, 100.0), LOOK),  # 28 % below
        ((12.0, 900.0, 6000.0, 100.0), None),  # higher is another matter
        ((12.0, 360.0, 5000.0, 100.0), None),  # slower: no earlier reading alike
        ((12.0, 360.0, 6000.0, 115.0), None),  # hotter
        ((12.0, 360.0, 6000.0, 100.0, "another gauge"), None),
        ((12.0, 360.0, None, 100.0), None),
        ((12.0, 360.0, 6000.0, None), None),
        ((21.0, 360.0, 6000.0, 100.0), None),  # another oil is in
    ],
)
def test_oil_pressure_against_this_builds_own(last, call):
    weight = weigh(*USUAL, last)
    assert (weight.call if weight else None) == call


def test_one_earlier_reading_is_not_enough_and_hot_idle_counts_by_itself():
    assert weigh(USUAL[0], (12.0, 300.0, 6000.0, 100.0)) is None
    idle = ((1.0, 120.0, 950.0, 95.0), (5.0, 118.0, 900.0, 96.0))
    assert weigh(*USUAL, *idle, (12.0, 85.0, 920.0, 95.0), (12.0, 500.0, 6000.0, 100.0)).call == LOOK
    assert weigh(*USUAL, *idle, (12.0, 118.0, 920.0, 95.0), (12.0, 500.0, 6000.0, 100.0)) is None


def test_a_newer_reading_as_usual_ends_it_and_a_later_one_is_not_known_yet():
    low, well = (12.0, 360.0, 6000.0, 100.0), (14.0, 500.0, 6000.0, 100.0)
    assert weigh(*USUAL, low, well) is None
    assert weigh(*USUAL, low, well, now=13.0).call == LOOK
    assert weigh(*USUAL, low, now=11.0) is None
    assert weigh() is None


def test_what_is_said_of_an_oil_pressure():
    reason = weigh(*USUAL, (12.0, 360.0, 6000.0, 100.0)).reason
    assert reason.text.startswith(
        "Oil pressure at 12 h was 360 kPa at 6000 rpm, oil 100 °C: 28 % below this build's usual 500 kPa. "
    )
    assert reason.parts == ("rod bearing overlay",)
    assert (reason.about, reason.source, reason.kind) == ("oil pressure", "rod bearing overlay", "other")
    assert "second gauge" in reason.look
    assert reason.would_change


def test_the_three_records_are_weighed_together():
    build = pressed(*USUAL, (12.0, 430.0, 6000.0, 100.0), filter_cuts=(FilterCut(2.0, "60"), FilterCut(12.0, "15")))
    found = weights(build, MATERIALS, 10.0, 12.0, RULES)
    assert [weight.call if weight else None for weight in found] == [SHORT, None, SHORT]
    assert raised(RUN, *found) == LOOK  # two that each ask for a short stint
    assert weights(Build("1", PARTS), MATERIALS, 0.0, 12.0, RULES) == (None, None, None)
