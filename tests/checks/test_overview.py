"""The state of one instrument, from a small invented fleet."""

from __future__ import annotations

import datetime as dt

import pytest

from benchapp.checks.charts import tolerance_for
from benchapp.checks.overview import OWN_LIMITS_FROM, instrument_state, measurements, standard_charts
from benchapp.library import load_library
from benchapp.records import Build, CheckRun, Engine, Fill, Fleet, Instrument, Reading, Sample

T0 = dt.datetime(2026, 4, 18, 8)
RDE = Instrument("RDE 1", "rotating-disc")


def at(hours: float) -> dt.datetime:
    return T0 + dt.timedelta(hours=hours)


def fleet(runs: list[tuple[float, float]], samples: list[tuple[str, float]]) -> Fleet:
    made = tuple(
        Sample(
            code,
            "1",
            5.0,
            5.0,
            at(hours),
            instrument="RDE 1",
            readings=(Reading("Fe", 12.0), Reading("Fe", 13.0, replicate=2)),
        )
        for code, hours in samples
    )
    build = Build("1", (), fills=(Fill("1", "oil", 0.0),), samples=made)
    checks = tuple(CheckRun("RDE 1", at(hours), "S50", "Fe", 50.0, found) for hours, found in runs)
    return Fleet((Engine("E1", "F", builds=(build,)),), {}, {}, {}, {"RDE 1": RDE}, checks)


def state(runs: list[tuple[float, float]], samples: list[tuple[str, float]], now: float):
    return instrument_state(fleet(runs, samples), RDE, load_library().noise_for("rotating-disc"), at(now))


def test_a_good_morning() -> None:
    found = state([(0, 50.4)], [("A", 0.5)], 0.6)
    assert found.trusted
    assert found.held == ()
    assert found.warnings == ()
    assert not found.drifts[0].found
    assert found.noise["Fe"] == load_library().noise_for("rotating-disc")["Fe"]


def test_a_failed_check_holds_and_says_so() -> None:
    found = state([(0, 50), (1, 58)], [("A", 0.5)], 1.1)
    assert not found.trusted
    assert [h.sample for h in found.held] == ["A"]
    assert any("failed: standardise" in w for w in found.warnings)
    assert any("Fe, S50: 58 ppm found where 50 ± 6.1 ppm is allowed" in w for w in found.warnings)


def test_the_rerun_clears_it() -> None:
    runs, samples = [(0.0, 50.0), (1.0, 58.0), (1.5, 50.2)], [("A", 0.5)]
    assert [h.sample for h in state(runs, samples, 1.6).held] == ["A"]
    again = instrument_state(fleet(runs, samples), RDE, {}, at(1.8), measured_at={"A": at(1.7)})
    assert again.held == ()
    assert again.trusted


def test_what_comes_later_is_not_known_now() -> None:
    assert state([(0, 50), (5, 70)], [("A", 0.5)], 0.9).held == ()


def test_own_scatter_takes_over() -> None:
    few = standard_charts(fleet([(h, 50.0) for h in range(OWN_LIMITS_FROM - 1)], []).check_runs, tolerance_for("icp"))[
        0
    ]
    assert few.individuals.upper == pytest.approx(52.5)
    assert "D5185" in few.sigma_origin
    many = standard_charts(
        fleet([(h, 50.0 + 0.5 * (h % 2)) for h in range(OWN_LIMITS_FROM)], []).check_runs, tolerance_for("icp")
    )[0]
    assert many.individuals.sigma == pytest.approx(0.5 / 1.128)
    assert "own scatter of 8" in many.sigma_origin
    assert len(many.all) == 6
    alone = standard_charts(fleet([(0, 50)], []).check_runs, tolerance_for("icp"))[0]
    assert alone.moving_range is None
    assert alone.said == ()


def test_samples_without_a_moment_or_instrument_are_left_out() -> None:
    known = fleet([], [("A", 1)])
    sample = known.engines[0].builds[0].samples[0]
    assert [m.sample for m in measurements(known)] == ["A"]
    assert measurements(known)[0].elements == ("Fe",)
    lone = Build(
        "1",
        (),
        samples=(Sample("B", "1", 1.0, 1.0, None, instrument="RDE 1"), Sample("C", "1", 1.0, 1.0, sample.taken_at)),
    )
    assert measurements(Fleet((Engine("E1", "F", builds=(lone,)),), {}, {}, {})) == ()
