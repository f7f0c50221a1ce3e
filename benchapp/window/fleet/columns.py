"""What the tables of the fleet show: columns with their words, sort keys and hovers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from benchapp.actions.looks import FleetRow, LogRow, PartRow, SampleRow
from benchapp.records import CALL_WORDS, LedgerLine, Moment
from benchapp.window import units
from benchapp.window.tables import Column

DIRECTIONS = {"rising": "↗ rising", "steady": "→ steady", "falling": "↘ falling"}


def hours(value: float | None) -> str:
    return "" if value is None else f"{value:.1f}"


def percent(value: float) -> str:
    return f"{value:.0%}".replace("%", " %")


def sure(probability: float) -> str:
    """A probability in words; nothing is ever 100 % sure."""
    if probability >= 0.995:
        return "over 99 %"
    return "under 1 %" if probability < 0.005 else percent(probability)


def day(moment: Moment | None) -> str:
    return moment.strftime("%Y-%m-%d") if moment else ""


def age(days: float | None) -> str:
    """Age of a sample in words."""
    if days is None:
        return ""
    if days < -0.5:
        return "still to come"  # the year or the clock is wrong
    if days < 1:
        return "today"
    return f"{days:.0f} d ago" if days < 365 else f"{days / 365:.1f} y ago"


def since(row: FleetRow) -> str:
    """Hours run since the last sample, against those after which the next is wanted."""
    if row.since_h is None:
        return ""
    words = f"{row.since_h:.1f}" + (f" of {row.next_h:.1f}" if row.next_h is not None else "")
    return f"{words}, due" if row.due else words


def share(row: FleetRow) -> str:
    """Share of the ceiling in words."""
    if row.call is None or row.call.ceiling_share is None:
        return ""
    return f"{percent(row.call.ceiling_share)} {row.call.ceiling_element}".strip()


def share_value(row: FleetRow) -> float | None:
    return row.call.ceiling_share if row.call else None


def call_word(row: FleetRow) -> str:
    return row.call.call if row.call else ""


def call_text(row: FleetRow) -> str:
    return call_word(row) or "No call"


def gravity(word: str) -> float | None:
    """Place of a call from mild to grave, None for no call."""
    return float(CALL_WORDS.index(word)) if word in CALL_WORDS else None


def call_gravity(row: FleetRow) -> float | None:
    return gravity(call_word(row))


def direction(row: FleetRow) -> str:
    return DIRECTIONS.get(row.call.direction, "") if row.call else ""


def direction_sort(row: FleetRow) -> float | None:
    order = ("falling", "steady", "rising")
    return float(order.index(row.call.direction)) if row.call and row.call.direction in order else None


def severity(row: FleetRow) -> float | None:
    return row.call.severity if row.call else None


def severity_text(row: FleetRow) -> str:
    value = severity(row)
    return "" if value is None else f"× {value:.2g}"


def history(row: FleetRow) -> str:
    """How many samples stand behind the call."""
    if row.call is None:
        return ""
    count = row.call.history_samples
    return f"{count} sample{'' if count == 1 else 's'}" if count else "no history"


def history_tip(row: FleetRow) -> str:
    return row.call.history if row.call else "No call yet."


def history_sort(row: FleetRow) -> float | None:
    return float(row.call.history_samples) if row.call else None


def sampled_sort(row: FleetRow) -> float | None:
    return row.age_d


def bearing_on(row: FleetRow | SampleRow) -> str:
    """The strongest reason, in the chosen units."""
    return units.in_words(row.reason)


def fleet_words(row: FleetRow) -> str:
    """What the filter looks into."""
    return " ".join((row.engine, row.family, row.car, call_text(row), bearing_on(row), row.sample, history(row)))


def call_tip(row: FleetRow) -> str:
    return units.in_words(row.call.sentence) if row.call else "No sample has been judged yet."


def engine_tip(row: FleetRow) -> str:
    car = f"\nCar {row.car}" if row.car else ""
    return f"{row.engine}, build {row.build or 'none'}\n{row.family}{car}"


def sampled_tip(row: FleetRow) -> str:
    return f"Sample {row.sample}, {day(row.sampled_at) or 'no date'}" if row.sample else "No sample yet."


def since_tip(row: FleetRow) -> str:
    if row.since_h is None:
        return "No sample yet."
    due = " The next sample is due." if row.due else ""
    wanted = f" The call asks for the next sample after {row.next_h:.1f} h." if row.next_h is not None else ""
    return f"{row.since_h:.1f} h run since the last sample.{wanted}{due}"


FLEET = (
    Column("Call", call_text, call_gravity, 12, tip=call_tip, mark=call_word, why="The call for the last sample"),
    Column("Engine", lambda row: row.engine, lambda row: row.engine, 9, tip=engine_tip, most=16),
    Column("Car", lambda row: row.car, lambda row: row.car or None, 9, spare=4),
    Column("Bearing on", bearing_on, None, 34, stretch=True, why="The strongest reason for the call"),
    Column("Hours [h]", lambda row: hours(row.build_h), lambda row: row.build_h, 7, number=True,
           why="Running hours of this build", spare=1),
    Column("Sampled", lambda row: age(row.age_d), sampled_sort, 9, number=True, tip=sampled_tip, spare=3,
           why="Age of the last sample"),
    Column("Run since [h]", since, lambda row: row.since_h, 13, number=True, tip=since_tip,
           why="Hours run since the last sample, of those until the next is wanted"),
    Column("Of ceiling", share, share_value, 9, number=True, share=share_value,
           why="Largest reading as a share of this build's own ceiling"),
    Column("Going", direction, direction_sort, 10, why="Where the wear is going", spare=2),
    Column("Severity", severity_text, severity, 6, number=True, spare=6,
           why="How hard the last session was on all sources together; × 1 is usual"),
    Column("Stands on", history, history_sort, 10, tip=history_tip, spare=5,
           why="How much history stands behind the call"),
)  # fmt: skip


def sample_remark(row: SampleRow) -> str:
    return row.remark


SAMPLES = (
    Column("Call", lambda row: row.call or "No call", lambda row: gravity(row.call), 12, mark=lambda row: row.call),
    Column("Sample", lambda row: row.code, lambda row: row.code, 12, most=22),
    Column("Taken", lambda row: day(row.taken_at), lambda row: day(row.taken_at) or None, 11, spare=1),
    Column("Build", lambda row: row.build, lambda row: row.build, 5, spare=4),
    Column("Hours [h]", lambda row: hours(row.build_h), lambda row: row.build_h, 8, number=True,
           why="Running hours of the build"),
    Column("Oil [h]", lambda row: hours(row.oil_h), lambda row: row.oil_h, 6, number=True,
           why="Running hours of the oil", spare=2),
    Column("Bearing on", bearing_on, None, 26, stretch=True),
    Column("Note", sample_remark, None, 10, spare=3),
)  # fmt: skip


def part_tip(row: PartRow) -> str:
    return row.about


def use_tip(row: PartRow) -> str:
    return units.in_words(row.use_in_full) or "Not entered as fitted: menu Bench, Part in or out"


PARTS = (
    Column("Part", lambda row: row.part, lambda row: row.part, 19, tip=part_tip),
    Column("Material", lambda row: row.material, lambda row: row.material, 26, stretch=True, tip=part_tip),
    Column("Shown by", lambda row: row.shown_by, None, 12, spare=2, why="Elements that show it, largest share first"),
    Column("Has run", lambda row: units.in_words(row.use), lambda row: row.life_share, 14, tip=use_tip,
           share=lambda row: row.life_share, why="Since it was fitted, and of its life where it has one"),
    Column("Figures", lambda row: row.sure, lambda row: row.sure, 13, tip=part_tip, spare=1,
           why="Verified: the shares were read in their source. From memory: they were not"),
    Column("Layer", lambda row: row.layer, None, 17, spare=2, why="Wearing area and thickness, where they are known"),
    Column("From", lambda row: row.origin, lambda row: row.origin, 9, spare=3, why="The family's, or this build's own"),
)  # fmt: skip

FAMILY_PARTS = tuple(column for column in PARTS if column.share is None)
"""Parts of a family: they have run nothing."""


def log_photos(row: LogRow) -> str:
    return str(len(row.photos)) if row.photos else ""


def log_tip(row: LogRow) -> str:
    said = f"{row.kind} at {hours(row.build_h)} h: {units.in_words(row.text)}"
    many = "1 photo" if len(row.photos) == 1 else f"{len(row.photos)} photos"
    return f"{said}\n{many}: Space shows them large" if row.photos else said


def log_columns(thumb: Callable[[LogRow], Any] | None = None) -> tuple[Column, ...]:
    """The log's columns; `thumb` gives the small picture of an entry with photos."""
    return (
        Column("Hours [h]", lambda row: hours(row.build_h), lambda row: row.build_h, 8, number=True),
        Column("Build", lambda row: row.build, lambda row: row.build, 5, spare=3),
        Column("When", lambda row: day(row.at), lambda row: day(row.at) or None, 11, spare=2),
        Column("What", lambda row: row.kind, lambda row: row.kind, 11),
        Column("Photo", log_photos, lambda row: float(len(row.photos)) or None, 7, icon=thumb,
               why="Photos of the entry; Space shows them large", spare=1),
        Column("Entry", lambda row: units.in_words(row.text), lambda row: row.text, 24, tip=log_tip, stretch=True),
    )  # fmt: skip


def span(low: float | None, high: float | None, digits: str = ".0f") -> str:
    return "" if low is None or high is None else f"{low:{digits}} to {high:{digits}}"


def thickness(line: LedgerLine) -> str:
    return "" if line.thickness_um is None else f"{line.thickness_um:g}"


def lost_span(line: LedgerLine) -> str:
    return span(line.low_mg, line.high_mg)


def depth(line: LedgerLine) -> str:
    return "" if line.micrometres is None else f"{line.micrometres:.1f}"


def depth_span(line: LedgerLine) -> str:
    return span(line.low_um, line.high_um, ".1f")


LEDGER = (
    Column("Source", lambda line: line.source, lambda line: line.source, 20, stretch=True),
    Column("Lost [mg]", lambda line: f"{line.mg:.0f}", lambda line: line.mg, 9, number=True),
    Column("90 % [mg]", lost_span, lambda line: line.low_mg, 11, number=True, spare=2),
    Column("Depth [µm]", depth, lambda line: line.micrometres, 9, number=True),
    Column("90 % [µm]", depth_span, lambda line: line.low_um, 11, number=True, spare=3),
    Column("Layer [µm]", thickness, lambda line: line.thickness_um, 9, number=True, spare=1),
)


def sample_key(row: SampleRow) -> str:
    return row.code


def part_key(row: PartRow) -> str:
    return row.part


def log_key(row: LogRow) -> str:
    return row.key


def ledger_key(line: LedgerLine) -> str:
    return line.source


def fleet_key(row: FleetRow) -> str:
    return row.engine
