"""A failed check holds what cannot be trusted; a good one and a rerun release it."""

from __future__ import annotations

import datetime as dt

import pytest

from benchapp.checks.charts import OTHER_TOLERANCE, tolerance_for
from benchapp.checks.holds import Check, Measured, check_due, checks_of, held_samples
from benchapp.records import CheckRun

T0 = dt.datetime(2026, 4, 18, 8)


def at(hours: float) -> dt.datetime:
    return T0 + dt.timedelta(hours=hours)


def run(
    hours: float,
    found: float,
    element: str = "Fe",
    standard: str = "S50",
    expected: float = 50.0,
    instrument: str = "RDE 1",
) -> CheckRun:
    return CheckRun(instrument, at(hours), standard, element, expected, found)


def checks(*runs: CheckRun) -> tuple[Check, ...]:
    return checks_of(runs, {"RDE 1": tolerance_for("rotating-disc")}, OTHER_TOLERANCE)


def codes(held: object) -> list[str]:
    return [h.sample for h in held]  # type: ignore[attr-defined]


def sample(code: str, hours: float, instrument: str = "RDE 1", elements: tuple[str, ...] = ()) -> Measured:
    return Measured(code, instrument, at(hours), elements)


def test_between_two_good_checks_nothing_is_held() -> None:
    assert held_samples(checks(run(0, 50), run(2, 51)), [sample("A", 1)]) == ()


def test_a_failed_check_holds_back_to_the_last_good_one() -> None:
    found = held_samples(checks(run(0, 50), run(2, 49), run(4, 60)), [sample("A", 1), sample("B", 3), sample("C", 5)])
    assert codes(found) == ["B", "C"]
    assert found[0].elements == ("Fe",)
    assert "2026-04-18 12:00 failed (Fe 60 ppm for 50 ppm)" in found[0].text
    assert "Standardise" in found[0].text


def test_a_good_rerun_of_the_standard_frees_the_following_and_the_repeated() -> None:
    history = checks(run(0, 50), run(4, 60), run(5, 50.5))
    assert codes(held_samples(history, [sample("B", 3), sample("C", 6)])) == ["B"]
    assert held_samples(history, [sample("B", 3), sample("B", 6)]) == ()


def test_a_good_blank_does_not_clear_a_failed_standard() -> None:
    history = checks(run(0, 50), run(4, 60), run(4.1, 0.2, standard="blank", expected=0.0))
    assert codes(held_samples(history, [sample("C", 5)])) == ["C"]


def test_elements_and_instruments_are_judged_one_by_one() -> None:
    history = checks(
        run(0, 50),
        run(0, 50, "Sn"),
        run(4, 60, "Sn"),
        run(4, 50),
        run(0, 50, instrument="other"),
        run(4, 99, instrument="other"),
    )
    found = held_samples(
        history,
        [sample("A", 2), sample("B", 2, elements=("Fe", "Cu")), sample("C", 2, "other"), sample("D", 2, "third")],
    )
    assert [(h.sample, h.elements) for h in found] == [("A", ("Sn",)), ("C", ("Fe",))]


def test_without_any_check_nothing_is_held_but_one_is_due() -> None:
    assert held_samples((), [sample("A", 1)]) == ()
    assert "no check yet" in check_due((), [], "RDE 1", at(1)).text


@pytest.mark.parametrize(
    ("found", "measured", "now", "due", "words"),
    [
        (50.0, 3, 0.5, False, "3 samples since"),
        (50.0, 25, 0.5, True, "25 samples since the last check"),
        (50.0, 1, 3.0, True, "3 h old"),
        (50.0, 0, 3.0, False, "0 samples since"),
        (50.0, 0, 96.0, True, "4 days old"),
        (60.0, 0, 0.5, True, "failed: standardise"),
    ],
)
def test_when_a_check_is_due(found: float, measured: int, now: float, due: bool, words: str) -> None:
    samples = [sample(f"S{k}", 0.01 + 0.001 * k) for k in range(measured)]
    answer = check_due(checks(run(0, found)), samples, "RDE 1", at(now))
    assert answer.due is due
    assert words in answer.text
