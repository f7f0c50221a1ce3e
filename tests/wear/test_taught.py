"""What a bench learns from its own samples, and what it must not: how far they scatter; lead of the fuel.

All histories are invented."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.wear.expected import FamilyHistory
from benchapp.wear.follow import Follower
from benchapp.wear.look import Before
from benchapp.wear.spread import Spread
from benchapp.wear.teaching import teach_scatter
from tests.wear.histories import RULES, Story, fleet_of
from tests.wear.walking import looks_of

SEVERITY, SOURCE = RULES.number("spread", "severity"), RULES.number("spread", "source")

# --- how far sound samples scatter


def taught(severity: float, source: float, samples: int = 400) -> Spread:
    """A bench that has seen samples drawn with these spreads: eight elements of four sources, two of each."""
    rng = np.random.default_rng(11)
    spread = Spread(SEVERITY, SOURCE)
    together = np.array([5.0, 1.0, 4.0, 0.8, 3.0, 2.0, 6.0, 1.5])
    columns = np.repeat(np.eye(4), 2, axis=0) * together[:, None]
    noise = 0.02 * np.eye(8)
    for _ in range(samples):
        difference = severity * rng.standard_normal() * together + source * columns @ rng.standard_normal(4)
        difference = difference + rng.multivariate_normal(np.zeros(8), noise)
        spread.learn(difference, noise, np.outer(together, together), columns @ columns.T)
    return spread


@pytest.mark.parametrize(("severity", "source"), [(0.45, 0.11), (0.45, 0.45)])
def test_a_bench_whose_samples_scatter_widely_learns_how_widely(severity, source):
    spread = taught(severity, source)
    assert spread.severity == pytest.approx(severity, rel=0.2)
    assert spread.source == pytest.approx(source, rel=0.2)


@pytest.mark.parametrize(("severity", "source"), [(0.05, 0.06), (0.17, 0.18)])
def test_a_bench_whose_samples_lie_close_is_not_led_astray(severity, source):
    spread = taught(severity, source)
    assert spread.severity == pytest.approx(severity, rel=0.2)
    assert spread.source == pytest.approx(source, rel=0.2)


# --- lead of the fuel


def known_of(*fuels: str) -> dict[str, float]:
    """Element -> rate that a family has learned from a build with a session of each fuel [mg/h], and hours of lead."""
    story = Story("E").broken_in().usual(3)
    for fuel in fuels:
        story.fill().run(4.0, fuel=fuel, extra={"Pb": 40.0} if fuel == "leaded" else None).sample()
    fleet, family = fleet_of(story, sisters=0), FamilyHistory()
    engine = fleet.engines[0]
    follower = Follower(engine, engine.builds[0], fleet, RULES, family)
    while follower.next_look() is not None:
        pass
    (history,) = family.builds.values()
    rates = {element: history.metal[element] / history.hours[element] for element in ("Fe", "Al", "Pb")}
    return rates | {"hours": history.hours["Pb"], "iron hours": history.hours["Fe"]}


def test_lead_of_leaded_fuel_is_no_familys_wear():
    """Neither in the fills that burnt it nor in the next, in which some of it is left; all else teaches as ever."""
    plain = known_of("unleaded", "unleaded", "unleaded", "unleaded")
    leaded = known_of("unleaded", "leaded", "leaded", "unleaded")
    assert leaded["hours"] == plain["hours"] - 12.0
    assert leaded["iron hours"] == plain["iron hours"]
    assert leaded["Pb"] == pytest.approx(plain["Pb"], rel=0.25)
    assert leaded["Fe"] == pytest.approx(plain["Fe"], rel=0.05)


def test_what_reads_too_high_twice_in_a_row_is_in_the_sump_and_no_noise():
    """Noise knows nothing of the sample before."""
    story = Story("E", seed=3).broken_in().usual(4)
    story.ppm["Pb"] += 4.0
    *_, look = looks_of(story.run(2.0).sample())[1]
    at = look.sources.elements.index("Pb")
    assert look.off[at] == 1.0
    count = len(look.off)
    before = Before(look.surprise.covariance, np.zeros((2, count, count)), look.surprise.expected, 0.0)
    taught = {}
    for name, off_before in (("as before", look.off), ("new", np.zeros(count)), ("less", -look.off)):
        spread = Spread(0.2, 0.2)
        teach_scatter(spread, look, before, off_before)
        taught[name] = (look.sample.instrument, "Pb") in spread.noise
    assert taught == {"as before": False, "new": True, "less": True}
