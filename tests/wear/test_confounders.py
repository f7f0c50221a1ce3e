"""What is no wear, and what is: for each confounder one history in which a naive table calls wrong and the bench does
not. The naive tables are two ways of reading results that teams use: a generic single-sample limit table, and mean +
3 sd of the engine's own earlier readings. Every sample is judged with only what was known when it was taken.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from benchapp.records import CALL_WORDS, Fleet, Oil, Sample
from benchapp.wear.judge import judge_fleet
from tests.wear.histories import (
    AL_SI,
    AL_SI_V8,
    COOLER,
    ELEMENTS,
    IRON_V8,
    OILS,
    RACE,
    ROAD,
    RULES,
    SOUND,
    Story,
    fleet_of,
    of_source,
)

RUN, SHORT, LOOK, PARK = CALL_WORDS

# Single-sample warning limits for heavy diesels [ppm], DTNA "Lubricating Oil, Fuel and Filters" BRO-0001, first engine
# group (dtnatechlit.com 0000009833)
HEAVY_DIESEL = {"Fe": 200.0, "Al": 30.0, "Si": 30.0, "Cu": 30.0, "Pb": 30.0, "Na": 100.0, "K": 150.0}
WEAR = ("Fe", "Cr", "Ni", "Al", "Si", "Cu", "Pb", "Sn", "Mo", "Na", "K")


def ppm(sample: Sample) -> dict[str, float]:
    return {reading.measurand: reading.value for reading in sample.readings}


def generic_table(sample: Sample) -> set[str]:
    """Elements over the generic limits."""
    return {element for element, limit in HEAVY_DIESEL.items() if ppm(sample)[element] >= limit}


def mean_plus_3sd(sample: Sample, earlier: list[Sample]) -> set[str]:
    """Elements over mean + 3 sd of this engine's earlier samples, from five on; the break-in sample is left out."""
    history = [ppm(one) for one in earlier if not one.break_in]
    if len(history) < 5:
        return set()
    found = set()
    for element in WEAR:
        values = [one[element] for one in history]
        if ppm(sample)[element] > np.mean(values) + 3.0 * max(np.std(values, ddof=1), 0.1):
            found.add(element)
    return found


def judged(fleet: Fleet, engine: str):
    return {call.sample: call for call in judge_fleet(fleet, RULES, each=True, engines=[engine])}


def samples_of(fleet: Fleet, name: str) -> list[Sample]:
    engine = next(one for one in fleet.engines if one.name == name)
    return [sample for build in engine.builds for sample in build.samples]


def alarms_of_3sd(fleet: Fleet, name: str) -> dict[str, set[str]]:
    samples = samples_of(fleet, name)
    return {sample.code: mean_plus_3sd(sample, samples[:i]) for i, sample in enumerate(samples)}


def loud(calls) -> list[tuple[str, str, str]]:
    """Calls that open or park an engine."""
    return [(c.sample, c.call, c.sentence) for c in calls.values() if c.call in (LOOK, PARK)]


SODA = Oil("an invented sodium oil", "race", fresh_ppm={
    "Zn": 1480.0, "P": 1360.0, "Ca": 2200.0, "Mg": 1.0, "Mo": 97.0, "B": 20.0, "Si": 3.0, "Na": 300.0, "K": 0.2,
})  # fmt: skip


def poured_by_mistake(story: Story) -> None:
    """A fill that the log has down as race oil, and that is the sodium oil."""
    story.fill()
    race = OILS[RACE].fresh_ppm
    for element, ppm_now in story.ppm.items():
        story.ppm[element] = ppm_now + 0.9 * (SODA.fresh_ppm.get(element, 0.0) - race.get(element, 0.0))


def with_soda(fleet: Fleet) -> Fleet:
    return replace(fleet, oils={**fleet.oils, SODA.name: SODA})


@pytest.mark.parametrize("seed", [1, 2, 3])
class TestNotWear:
    """Sound engines: nothing may be opened."""

    def test_leaded_fuel(self, seed):
        story = Story("E", seed=seed).broken_in().usual(5)
        for _ in range(3):
            story.fill().run(4.0, "race", fuel="leaded", extra={"Pb": 90.0}).sample()
        fleet = fleet_of(story)
        last = samples_of(fleet, "E")[-1]
        assert "Pb" in generic_table(last)
        assert "Pb" in alarms_of_3sd(fleet, "E")[samples_of(fleet, "E")[-3].code]
        calls = judged(fleet, "E")
        assert not loud(calls)
        assert any(reason.source == "fuel lead" for reason in calls[last.code].reasons)

    def test_leaded_fuel_that_nobody_wrote_down(self, seed):
        def story(fuel: str) -> Story:
            told = Story("E", seed=seed).fill().run(1.0, "break-in", fuel=fuel, extra={"Pb": 200.0})
            told.sample(break_in=True)
            for lead in (130.0, 90.0, 160.0, 120.0):
                told.fill().run(4.0, "race", fuel=fuel, extra={"Pb": lead}).sample()
            return told

        fleet = fleet_of(story(""))
        last = samples_of(fleet, "E")[-1]
        assert "Pb" in generic_table(last)
        calls = judged(fleet, "E")
        assert not loud(calls)
        assert any(reason.source == "fuel lead" for reason in calls[last.code].reasons)
        assert any("fuel" in unknown for unknown in calls[last.code].unknowns)
        # with a log that says unleaded, the same lead is a bearing's
        assert loud(judged(fleet_of(story("unleaded")), "E"))

    def test_a_sodium_oil_poured_by_mistake(self, seed):
        story = Story("E", seed=seed).broken_in().usual(5)
        poured_by_mistake(story)
        for _ in range(4):
            story.run(1.5).sample()
        story.fill().run(4.0).sample()
        fleet = with_soda(fleet_of(story))
        assert "Na" in generic_table(samples_of(fleet, "E")[7])
        calls = judged(fleet, "E")
        assert not loud(calls)
        other = [call for call in calls.values() if any(reason.source == "other oil" for reason in call.reasons)]
        assert len(other) >= 2
        assert all(SODA.name in call.sentence + " ".join(r.text for r in call.reasons) for call in other)

    def test_another_can_of_the_oil_holds_more_molybdenum(self, seed):
        """A fifth more than the record says, in every fill, as much after an hour as after six: nothing wears."""
        story = Story("E", seed=seed).broken_in().usual(4)
        more = {"Mo": 1.2}
        for _ in range(6):
            for _ in range(3):
                story.run(2.0).sample(gains=more)
            story.fill()
        calls = judged(fleet_of(story), "E")
        assert not loud(calls)
        assert not any("ring" in reason.source for call in calls.values() for reason in call.reasons)

    def test_what_a_sodium_oil_leaves_in_the_next_fill(self, seed):
        """Sampled once, then drained: a tenth of its sodium stays, and that is no coolant."""
        story = Story("E", seed=seed).broken_in().usual(5)
        poured_by_mistake(story)
        fleet = with_soda(fleet_of(story.run(4.0).sample().usual(3)))
        before, after = samples_of(fleet, "E")[-5], samples_of(fleet, "E")[-3]
        assert ppm(after)["Na"] > 5.0 * ppm(before)["Na"]
        calls = judged(fleet, "E")
        assert not loud(calls)
        assert calls[after.code].call == RUN
        # the same sodium with no other oil before it is a leak's
        told = Story("E", seed=seed).broken_in().usual(6)
        leak = {"Na": 30.0 * told.mass / 4.0, "K": 12.0 * told.mass / 4.0}
        last = judged(with_soda(fleet_of(told.fill().run(4.0, extra=leak).sample())), "E")
        assert loud(last)

    def test_another_oils_bottle_says_nothing_of_the_next_fill(self, seed):
        """The sodium oil was in the bottle alone; the fill after it is as it should be."""
        story = Story("E", seed=seed).broken_in().usual(5).fill().run(4.0)
        soda = {e: SODA.fresh_ppm.get(e, story.ppm[e]) for e in ELEMENTS}
        calls = judged(with_soda(fleet_of(story.sample(bottle=soda).usual(3))), "E")
        assert not loud(calls)
        assert [call.call for call in calls.values()][-3:] == [RUN, RUN, RUN]

    def test_more_bottles_of_the_break_in_oil_are_over_no_ceiling(self, seed):
        story = Story("E", seed=seed).fill().run(0.7, "break-in").sample(break_in=True)
        for _ in range(3):
            story.run(1.0).sample()
        _, *later = judged(fleet_of(story), "E").values()
        assert not any(reason.kind == "ceiling" for call in later for reason in call.reasons)

    def test_fresh_sealant(self, seed):
        story = Story("E", seed=seed).fill().run(1.0, "break-in", extra={"Si": 60.0}).sample(break_in=True)
        for hours, silicon in ((4.0, 55.0), (4.0, 32.0), (4.0, 18.0), (4.0, 9.0), (4.0, 4.0)):
            story.fill().run(hours, extra={"Si": silicon}).sample()
        fleet = fleet_of(story)
        assert "Si" in generic_table(samples_of(fleet, "E")[1])
        calls = judged(fleet, "E")
        assert not loud(calls)
        # sealant in the first hour makes no other oil of an oil whose additives fit
        assert not any(reason.source in ("other oil", "dust") for call in calls.values() for reason in call.reasons)

    def test_copper_from_a_new_cooler(self, seed):
        parts, rates = (*IRON_V8, COOLER), SOUND
        story = Story("E", parts, rates, seed=seed)
        story.fill().run(1.0, "break-in", extra={"Cu": 120.0}).sample(break_in=True)
        for copper in (70.0, 50.0, 35.0, 20.0, 10.0, 4.0):
            story.fill().run(4.0, extra={"Cu": copper}).sample()
        fleet = fleet_of(story)
        assert "Cu" in generic_table(samples_of(fleet, "E")[1])
        assert not loud(judged(fleet, "E"))

    def test_silicon_of_an_al_si_bore(self, seed):
        """A hard session on Al-Si bores: silicon rises with aluminium at the block's own ratio. It is no dirt."""
        story = Story("E", AL_SI_V8, AL_SI, seed=seed).broken_in().usual(6)
        story.fill().run(4.0, "race", lift=1.8).sample().usual(2)
        fleet = fleet_of(story)
        hard = samples_of(fleet, "E")[-3].code
        assert "Si" in alarms_of_3sd(fleet, "E")[hard] or "Al" in alarms_of_3sd(fleet, "E")[hard]
        calls = judged(fleet, "E")
        assert not loud(calls)
        assert not any(reason.source == "dust" for call in calls.values() for reason in call.reasons)

    def test_assembly_lube(self, seed):
        """Molybdenum paste in the first fill of a second build; the ring face holds molybdenum, too."""
        first = Story("E", seed=seed).broken_in().usual(6)
        second = Story("E", seed=seed + 10, number="2", start=first.now + dt.timedelta(days=20))
        second.fill().run(1.0, "break-in", extra={"Mo": 160.0, "Zn": 40.0, "P": 32.0}).sample(break_in=True)
        second.run(2.0, extra={"Mo": 8.0}).sample().fill().run(3.0).sample().usual(3)
        fleet = fleet_of(first, second)
        sample = second.samples[1]
        assert "Mo" in alarms_of_3sd(fleet, "E")[sample.code]
        calls = judged(fleet, "E")
        assert not loud(calls)
        assert not any("top ring face" in r.parts for c in calls.values() if c.build == "2" for r in c.reasons)

    def test_a_hard_session(self, seed):
        story = Story("E", seed=seed).broken_in().usual(7, 8.0)
        story.fill().run(8.0, "race", lift=1.9).sample().usual(2, 8.0)
        fleet = fleet_of(story)
        hard = samples_of(fleet, "E")[-3].code
        assert len(alarms_of_3sd(fleet, "E")[hard]) >= 2
        calls = judged(fleet, "E")
        assert not loud(calls)
        assert calls[hard].severity > 1.35

    def test_a_session_six_times_as_hard(self, seed):
        """All parts shed six times their normal in one fill; all of them together are no fault of one."""
        story = Story("E", seed=seed).broken_in().usual(7)
        story.fill().run(4.0, "race", lift=6.0).sample().usual(2)
        fleet = fleet_of(story)
        hard = samples_of(fleet, "E")[-3].code
        assert len(alarms_of_3sd(fleet, "E")[hard]) >= 3
        assert not loud(judged(fleet, "E"))

    def test_a_long_interval(self, seed):
        story = Story("E", seed=seed).broken_in().usual(6).fill().run(12.0).sample().usual(2)
        fleet = fleet_of(story)
        long = samples_of(fleet, "E")[-3].code
        assert {"Fe", "Al", "Pb"} <= alarms_of_3sd(fleet, "E")[long]
        calls = judged(fleet, "E")
        assert not loud(calls)
        assert calls[long].call == RUN

    def test_a_cold_drain(self, seed):
        story = Story("E", seed=seed).broken_in().usual(6).fill().run(12.0)
        story.fill(drain="cold", left=0.28).run(4.0).sample().usual(2)
        fleet = fleet_of(story)
        after = samples_of(fleet, "E")[-3].code
        assert "Fe" in alarms_of_3sd(fleet, "E")[after]
        calls = judged(fleet, "E")
        assert not loud(calls)
        assert calls[after].call == RUN

    def test_top_ups(self, seed):
        """An engine that burnt oil and was topped up no longer is: the same wear reads higher."""
        story = Story("E", seed=seed).broken_in()
        for _ in range(6):
            story.fill()
            for _ in range(4):
                story.run(2.0).top_up(1.0)
            story.sample()
        story.fill().run(8.0).sample().fill().run(8.0).sample()
        fleet = fleet_of(story)
        without = samples_of(fleet, "E")[-2].code
        assert "Fe" in alarms_of_3sd(fleet, "E")[without]
        calls = judged(fleet, "E")
        assert not loud(calls)
        assert calls[without].call == RUN

    def test_another_instrument(self, seed):
        gains = dict(zip(ELEMENTS, np.random.default_rng(seed + 70).normal(1.12, 0.04, len(ELEMENTS)), strict=True))
        story = Story("E", seed=seed).broken_in().usual(7)
        for _ in range(3):
            story.fill().run(4.0).sample(instrument="a lab", gains=gains)
        fleet = fleet_of(story)
        assert any(alarms_of_3sd(fleet, "E")[sample.code] for sample in samples_of(fleet, "E")[-3:])
        assert not loud(judged(fleet, "E"))

    def test_a_mixed_bottle(self, seed):
        """Two thirds of the bottle are another engine's road oil with its metal."""
        story = Story("E", seed=seed).broken_in().usual(6).fill().run(4.0)
        foreign = {**OILS[ROAD].fresh_ppm, "Fe": 60.0, "Al": 14.0, "Cu": 20.0, "Pb": 12.0, "Si": 18.0}
        mixed = {e: story.ppm[e] / 3.0 + foreign[e] * 2.0 / 3.0 for e in ELEMENTS}
        story.sample(bottle=mixed).usual(2)
        fleet = fleet_of(story)
        odd = samples_of(fleet, "E")[-3].code
        assert {"Fe", "Al", "Cu"} <= alarms_of_3sd(fleet, "E")[odd]
        calls = judged(fleet, "E")
        assert not loud(calls)
        assert calls[odd].reasons[0].source == "other oil"
        later = [calls[sample.code].call for sample in samples_of(fleet, "E")[-2:]]
        assert later == [RUN, RUN]


@pytest.mark.parametrize("seed", [1, 2, 3])
class TestReal:
    """Dirt and coolant get in: the table is blind to it, the bench must not be."""

    def test_dust(self, seed):
        story = Story("E", seed=seed).broken_in().usual(5)
        for dirt in (14.0, 20.0, 26.0):
            extra = {element: dirt * share for element, share in of_source("dust").items()}
            story.fill().run(4.0, extra=extra, times={"bores": 1.3}).sample()
        fleet = fleet_of(story)
        assert not any(generic_table(sample) for sample in samples_of(fleet, "E")[-3:])
        calls = judged(fleet, "E")
        found = [c for c in calls.values() if c.call in (LOOK, PARK)]
        assert found
        assert all(sample.code not in {c.sample for c in found} for sample in samples_of(fleet, "E")[:-3])
        assert found[0].reasons[0].source == "dust"

    @pytest.mark.parametrize("variant", [0, 1])
    def test_coolant(self, seed, variant):
        story = Story("E", seed=seed).broken_in().usual(5)
        for leak in (8.0, 16.0, 24.0):
            extra = {element: leak * share for element, share in of_source("coolant", variant).items()}
            story.fill().run(4.0, extra=extra).sample()
        fleet = fleet_of(story)
        assert not any(generic_table(sample) for sample in samples_of(fleet, "E")[-3:])
        calls = judged(fleet, "E")
        found = [c for c in calls.values() if c.call in (LOOK, PARK)]
        assert found
        assert all(sample.code not in {c.sample for c in found} for sample in samples_of(fleet, "E")[:-3])
        assert found[0].reasons[0].source == "coolant"


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("variant", [0, 1])
def test_a_leak_stays_a_leak_where_the_bench_holds_a_sodium_oil(seed, variant):
    story = Story("E", seed=seed).broken_in().usual(5)
    leak = {element: 60.0 * share for element, share in of_source("coolant", variant).items()}
    for _ in range(3):
        story.fill().run(4.0, extra=leak).sample()
    calls = judged(with_soda(fleet_of(story)), "E")
    last = list(calls.values())[-1]
    assert last.call in (LOOK, PARK)
    assert last.reasons[0].source == "coolant"
