"""The tables of the view Bench checks: what stands in which column."""

from __future__ import annotations

from typing import Any

from benchapp.actions import checks
from benchapp.actions.checks import ApartRow, Compared, ElementLine, HeldRow, Row, StandardRow
from benchapp.records import CheckRun
from benchapp.window.checks import lamp
from benchapp.window.tables import Column, RowsModel


class LampModel(RowsModel):
    """Rows whose mark is a lamp."""

    def _icon(self, call: str) -> Any:
        return lamp.icon(call)


def _state(row: Row) -> str:
    return row.state


def _held(row: Row) -> str:
    return str(row.held) if row.held else ""


def _last(row: Row) -> str:
    return f"{row.last_check:%Y-%m-%d %H:%M}" if row.last_check else "never"


INSTRUMENTS = (
    Column("Instrument", lambda row: row.name, width=16, mark=_state, stretch=True),
    Column("Today", lambda row: row.word, width=19, tip=lambda row: row.why, why="May it be trusted today?"),
    Column("Held", _held, lambda row: row.held, width=5, number=True, why="Samples held by a failed check", spare=1),
)


def row_key(row: Row) -> str:
    return row.name


def _element_state(line: ElementLine) -> str:
    if not line.checks:
        return checks.NONE
    return checks.GOOD if line.good else checks.FAILED


ELEMENTS = (
    Column("Element", lambda line: line.element, width=7, mark=_element_state),
    Column(
        "Last check", lambda line: line.last, width=22, stretch=True, why="Found for certified, how far off", spare=1
    ),
    Column("Runs", lambda line: str(line.checks), lambda line: line.checks, width=5, number=True, spare=2),
)


def element_key(line: ElementLine) -> str:
    return line.element


def two(value: float | None, unit: str = "") -> str:
    """A small number to two figures; nothing where there is none."""
    return "" if value is None else f"{value:.2g}{unit}"


def percent(share: float) -> str:
    return f"{share:.1%}".replace("%", " %")


def _r(number: int):
    def text(line: ElementLine) -> str:
        return two(line.repeatability_at[number][1])

    return text


NOISE = (
    Column("Element", lambda line: line.element, width=7),
    Column("a [ppm]", lambda line: two(line.noise.a_ppm), width=7, number=True, why="Noise at zero"),
    Column("b", lambda line: percent(line.noise.b), width=6, number=True, why="Noise as a share of the reading"),
    Column("Start a", lambda line: two(line.start.a_ppm), width=6, number=True, why="Published start [ppm]", spare=1),
    Column("Start b", lambda line: percent(line.start.b), width=6, number=True, why="Published start", spare=2),
    Column("r at 10", _r(0), width=7, number=True, why="Two burns further apart than this are suspect [ppm]"),
    Column("r at 50", _r(1), width=7, number=True, why="Two burns further apart than this are suspect [ppm]", spare=3),
    Column(
        "No blank", lambda line: two(line.decision_ppm), width=7, number=True,
        tip=lambda line: line.limits_why, why="Decision limit [ppm]: a reading above it is no blank",
    ),
    Column(
        "Seen from", lambda line: two(line.detection_ppm), width=9, number=True,
        tip=lambda line: line.limits_why, why="Detection limit [ppm]: an amount above it is seen reliably",
    ),
    Column("From", checks.is_own, width=9, stretch=True, tip=lambda line: line.noise.origin, why="Of a and b"),
)  # fmt: skip


def _when(row: HeldRow) -> str:
    return f"{row.measured_at:%Y-%m-%d %H:%M}" if row.measured_at else ""


HELD = (
    Column("Sample", lambda row: row.sample, width=14, most=22),
    Column("Engine", lambda row: row.engine, width=10, most=16),
    Column(
        "Measured", _when, width=18, spare=1, why="When it was measured; where that is not known, when it was drawn"
    ),
    Column("Why", lambda row: row.why, width=40, stretch=True),
)
APART = (
    Column("Sample", lambda row: row.sample, width=14, most=22),
    Column("Engine", lambda row: row.engine, width=10, most=16),
    Column("Further apart than two burns should be", lambda row: row.text, width=40, stretch=True),
)


def held_key(row: HeldRow) -> str:
    return row.sample


def apart_key(row: ApartRow) -> str:
    return f"{row.sample}\n{row.text}"


def _off(run: CheckRun) -> str:
    return checks.off_words(run)


RUNS = (
    Column("When", lambda run: f"{run.run_at:%Y-%m-%d %H:%M}", width=18),
    Column("Standard", lambda run: run.standard, width=20, stretch=True),
    Column("Element", lambda run: run.element, width=8),
    Column("Certified [ppm]", lambda run: f"{run.expected_ppm:g}", lambda run: run.expected_ppm, number=True),
    Column("Found [ppm]", lambda run: checks.shown(run.found_ppm), lambda run: run.found_ppm, number=True,
           tip=lambda run: f"{run.found_ppm:g} ppm as entered"),
    Column("Off", _off, width=9, number=True),
)  # fmt: skip


def run_key(run: CheckRun) -> str:
    return f"{run.run_at.isoformat()}\n{run.standard}\n{run.element}\n{run.expected_ppm}\n{run.found_ppm}"


def _bias(found: Compared) -> str:
    return f"{found.result.bias_ppm:+.2g}"


def _interval(found: Compared) -> str:
    return f"{found.result.bias_low_ppm:+.2g} to {found.result.bias_high_ppm:+.2g}"


def _slope(found: Compared) -> str:
    line = found.result.line
    return "" if line is None else checks.slope_words(line)


COMPARED = (
    Column("Element", lambda found: found.element, width=7,
           mark=lambda found: checks.WATCH if found.result.differs else checks.GOOD),
    Column("n", lambda found: str(found.result.n), lambda found: found.result.n, width=4, number=True),
    Column("Bias [ppm]", _bias, lambda found: found.result.bias_ppm, width=8, number=True, why="Second minus first"),
    Column("90 % interval", _interval, width=15, number=True, why="Holds zero where no difference is seen"),
    Column("Slope", _slope, width=13, number=True, why="Errors in both variables; 1 where both read alike"),
    Column("In words", lambda found: found.result.text, width=30, stretch=True),
)  # fmt: skip


def compared_key(found: Compared) -> str:
    return found.element


STANDARDS = (
    Column("Name", lambda row: row.name, width=22),
    Column("Kind", lambda row: row.kind, width=14),
    Column("Lot", lambda row: row.lot, width=10),
    Column("Good until", lambda row: row.until, width=14),
    Column("Certified", lambda row: row.certified, width=30, stretch=True),
)


def standard_key(row: StandardRow) -> str:
    return row.name
