"""The wear ledger: milligrams, micrometres, and that it is a lower bound."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.library import load_library
from benchapp.records import Part
from benchapp.wear.judge import judge_fleet
from benchapp.wear.ledger import NINETY, Ledger
from tests.wear.histories import RULES, Story, fleet_of

MATERIALS = load_library().materials
OVERLAY = Part("overlay", "ovl_pbsn10cu2", area_cm2=10.0, thickness_um=15.0)


def line_of(parts, mg=10.6, sd=0.0):
    ledger = Ledger()
    ledger.add("one", parts, mg, sd, 1.0)
    return ledger.lines(MATERIALS)[0]


def test_one_micrometre_over_ten_square_centimetres_of_overlay():
    # computed from geometry: 10 cm² · 1 µm · 10.6 g/cm³ is 10.6 mg
    line = line_of((OVERLAY,))
    assert line.micrometres == pytest.approx(1.0, rel=0.005)
    assert line.thickness_um == 15.0
    # in 6 L of oil at 0.87 kg/L that is 2.0 ppm in all and 1.8 ppm of lead
    ppm = line.mg / (6.0 * 0.87)
    lead = next(share.nominal_pct for share in MATERIALS["ovl_pbsn10cu2"].shares if share.element == "Pb")
    assert ppm == pytest.approx(2.0, abs=0.05)
    assert ppm * lead / 100.0 == pytest.approx(1.8, abs=0.05)


def test_pieces_of_one_material_share_the_loss():
    two = (OVERLAY, Part("rod overlay", "ovl_pbsn10cu2", area_cm2=30.0, thickness_um=12.0))
    line = line_of(two)
    assert line.micrometres == pytest.approx(0.25, rel=0.005)
    assert line.thickness_um == 12.0
    assert line.parts == ("overlay", "rod overlay")


@pytest.mark.parametrize(
    "parts",
    [
        (Part("overlay", "ovl_pbsn10cu2"),),
        (Part("overlay", "ovl_pbsn10cu2", area_cm2=0.0),),
        (OVERLAY, Part("bores", "iron_grey_cyl_block", area_cm2=100.0)),
        (OVERLAY, Part("rod overlay", "ovl_pbsn10cu2")),
        (Part("thing", "unobtainium", area_cm2=10.0),),
        (),
    ],
)
def test_no_micrometres_where_areas_or_material_are_not_known(parts):
    line = line_of(parts)
    assert line.mg == 10.6
    assert (line.micrometres, line.low_um, line.high_um, line.thickness_um) == (None, None, None, None)


@given(st.lists(st.tuples(st.floats(0, 50), st.floats(0, 10), st.floats(0.1, 20)), min_size=1, max_size=10))
def test_intervals_add_up(intervals):
    ledger = Ledger()
    for rate, sd, hours in intervals:
        ledger.add("one", (OVERLAY,), rate, sd, hours)
    (line,) = ledger.lines(MATERIALS)
    assert line.mg == pytest.approx(sum(rate * hours for rate, _, hours in intervals))
    half = NINETY * sum((sd * hours) ** 2 for _, sd, hours in intervals) ** 0.5
    assert line.high_mg - line.mg == pytest.approx(half, abs=1e-9)
    assert line.low_mg == pytest.approx(max(line.mg - half, 0.0), abs=1e-9)
    assert 0.0 <= line.low_um <= line.micrometres <= line.high_um


def test_the_largest_stands_first():
    ledger = Ledger()
    for name, mg in (("a", 2.0), ("b", 9.0), ("c", 5.0)):
        ledger.add(name, (), mg, 0.1, 1.0)
    assert [line.source for line in ledger.lines(MATERIALS)] == ["b", "c", "a"]


def test_the_ledger_of_a_build_holds_what_it_has_lost():
    """An overlay that sheds ten times its usual rate through three fills, after sound ones."""
    story = Story("E", seed=6).broken_in().usual(3, 6.0)
    lost = 0.0
    for _ in range(3):
        story.fill().run(6.0, times={"main bearing overlay": 20.0}).sample()
        lost += 0.5 * 20.0 * 6.0
    calls = judge_fleet(fleet_of(story), RULES, each=True, engines=["E"])
    amounts = []
    for call in calls:
        mine = [line for line in call.ledger if "main bearing overlay" in line.parts]
        amounts.append(mine[0].mg if mine else 0.0)
    assert amounts == sorted(amounts)
    gained = amounts[-1] - amounts[-4]
    assert gained == pytest.approx(lost, rel=0.25)
    last = next(line for line in calls[-1].ledger if "main bearing overlay" in line.parts)
    assert last.low_mg <= last.mg <= last.high_mg
