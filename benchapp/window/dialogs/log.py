"""Forms for what happens to an engine: fill, top-up, run, change, filter cut, leak-down, finding.

The usual answers stand in them already: the hours so far, the last run's fuel, the last test's cylinders."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

from PySide6.QtWidgets import QWidget

from benchapp.actions import change, filter_cut, finding, leak_down, run
from benchapp.actions import fill as fills
from benchapp.records import Change, Fill, FilterCut, Finding, LeakDown, Run, TopUp
from benchapp.window.dialogs.form import FieldError, OnEngine, read_number
from benchapp.window.dialogs.rows import Typed, TypedTable

RUN_KINDS = ("practice", "qualifying", "race", "dyno", "break-in", "first run", "road")
FUELS = (
    ("not stated", ""),
    ("unleaded", "unleaded"),
    ("leaded", "leaded"),
    ("ethanol", "ethanol"),
    ("methanol", "methanol"),
)
COOLANTS = (("not stated", ""), ("water", "water"), ("inhibited (coolant pack)", "inhibited"))
DRAINS = (
    ("hot", "hot"),
    ("cold", "cold"),
    ("in part", "part"),
    ("none: first fill, dry", "none"),
    ("not known", ""),
)
YES_NO = (("yes", True), ("no", False), ("not known", None))
CHANGE_KINDS = ("oil", "tune", "interval", "part", "fuel")
CONDITIONS = ("as new", "worn as expected", "worn out", "damaged")
DEBRIS = ("none", "few", "some", "many")


def now() -> str:
    """This minute, as it is typed."""
    return dt.datetime.now().strftime("%Y-%m-%d %H:%M")  # noqa: DTZ005  (the person's clock)


class FillForm(OnEngine):
    """Oil went in."""

    title: ClassVar[str] = "Add a fill"
    lead: ClassVar[str] = "An oil change. What was left of the old oil is reckoned with from here on."
    verb: ClassVar[str] = "Add fill"
    caution_where: ClassVar[str] = "drain"
    width: ClassVar[int] = 920
    shares: ClassVar[tuple[int, int]] = (6, 3)

    def make(self) -> None:
        held = self.build.fills if self.build else ()
        oils = list(self.session.fleet.oils)
        last = held[-1].oil if held else (oils[0] if oils else None)
        self.picker("oil", "&Oil", "Its fresh values are the zero line of every sample.", [(o, o) for o in oils], last)
        self.line("name", "&Name", "One name a fill; its samples carry it.", self._next_name(), needed=True)
        self.hours("Running hours of the build when it went in.")
        self.number(
            "volume_l", "&Volume", "L", "What went in, lines and filter too.", self._volume(), low=0.05, high=200.0
        )
        self.moment("filled_at", "Filled &at", "Day and time.", now())
        self.choice(
            "drain_before",
            "&Drained before",
            "Hot drains leave less of the old oil.",
            DRAINS,
            "hot" if held else "none",
        )
        self.choice("filter_changed", "Ne&w filter", "The old filter holds old oil and old metal.", YES_NO, True)

    def _volume(self) -> float | None:
        """What went in last time, else the sump of the build or of its family [L]."""
        if self.build is None:
            return None
        family = self.session.bench.families().get(self.engine.family)
        last = self.build.fills[-1].volume_l if self.build.fills else None
        return last or self.build.sump_l or (family.sump_l if family else None)

    def _next_name(self) -> str:
        names = {fill.name for fill in self.build.fills} if self.build else set()
        return next(str(n) for n in range(1, len(names) + 2) if str(n) not in names)

    def commit(self, values: dict[str, Any]) -> None:
        self.session.run_or_raise(fills.add, self.engine.name, self.the_build(), Fill(**values))


class TopUpForm(OnEngine):
    """Oil was added without a drain."""

    title: ClassVar[str] = "Top-up"
    lead: ClassVar[str] = "Oil added between drains thins what is read: without it a sound engine seems to wear less."
    verb: ClassVar[str] = "Add top-up"

    def make(self) -> None:
        held = self.build.fills if self.build else ()
        names = [(f"{fill.name}: {fill.oil}", fill.name) for fill in held]
        self.number("litres", "&Litres", "L", "What was added.", needed=True, low=0.001, high=100.0, example="0.3")
        self.hours("Running hours of the build when it was added.")
        self.choice("fill", "&Fill", "The fill it was added to.", names, held[-1].name if held else None)

    def commit(self, values: dict[str, Any]) -> None:
        top_up = TopUp(values["fill"], values["build_h"], values["litres"])
        self.session.run_or_raise(fills.top_up, self.engine.name, self.the_build(), top_up)


class RunForm(OnEngine):
    """A running session."""

    title: ClassVar[str] = "Add a run"
    lead: ClassVar[str] = "Hours count: wear is metal an hour. Kind, fuel and coolant stand as in the last run."
    verb: ClassVar[str] = "Add run"

    def __init__(self, session: Any, parent: QWidget | None = None, *, repeat: bool = False) -> None:
        self._repeat = repeat
        super().__init__(session, parent)

    def make(self) -> None:
        held = self.build.runs if self.build else ()
        last = held[-1] if held else Run("practice", 0.0)
        again = last if self._repeat and held else Run("practice", 0.0)
        kinds = [(kind, kind) for kind in RUN_KINDS]
        self.number(
            "hours", "&Hours", "h", "Running time of this session.", again.hours or None,
            needed=True, low=0.001, high=100.0, example="0.75",
        )
        self.choice("kind", "&Kind", "A hard session lifts all wear together.", kinds, last.kind)
        self.moment("started_at", "Started &at", "Day and time.", now())
        self.number("max_rpm", "Highest &speed", "rpm", "Of the session.", again.max_rpm, low=100.0, high=30000.0)
        self.number(
            "oil_temp_c", "Oil &temperature", "°C", "Highest or usual, always the same way.", again.oil_temp_c,
            low=-40.0, high=250.0,
        )  # fmt: skip
        self.choice("fuel", "&Fuel", "Leaded fuel puts lead in the oil that no bearing lost.", FUELS, last.fuel)
        self.choice("coolant", "&Coolant", "What a coolant leak would show.", COOLANTS, last.coolant)
        self.line("notes", "No&tes", "Off, over-rev, low pressure, dust: anything odd.")

    def commit(self, values: dict[str, Any]) -> None:
        self.session.run_or_raise(run.add, self.engine.name, self.the_build(), Run(**values))


class ChangeForm(OnEngine):
    """A change to compare before and after."""

    title: ClassVar[str] = "Add a change"
    lead: ClassVar[str] = "A change whose effect on wear is asked later: before against after."
    verb: ClassVar[str] = "Add change"

    def make(self) -> None:
        kinds = [(kind, kind) for kind in CHANGE_KINDS]
        self.choice("kind", "&Kind", "What was changed.", kinds, "oil")
        self.hours("Running hours of the build when it was changed.")
        self.line("notes", "No&tes", "From what to what.", example="from … to …")

    def commit(self, values: dict[str, Any]) -> None:
        record = Change(values["build_h"], values["kind"], values["notes"])
        self.session.run_or_raise(change.add, self.engine.name, self.the_build(), record)


class FilterCutForm(OnEngine):
    """What the cut-open filter held."""

    title: ClassVar[str] = "Filter cut"
    lead: ClassVar[str] = "A bearing that flakes shows here first: the spectrometer sees only fine metal."
    verb: ClassVar[str] = "Add filter cut"
    caution_where: ClassVar[str] = "filter"
    width: ClassVar[int] = 900
    shares: ClassVar[tuple[int, int]] = (6, 3)

    def make(self) -> None:
        self.line("ferrous", "&Magnetic", "How much a magnet lifts: a count, or none, few, some, many.", suggest=DEBRIS)
        self.line("non_ferrous", "&Not magnetic", "Bright or bronze flakes that a magnet leaves.", suggest=DEBRIS)
        self.number("largest_mm", "&Largest", "mm", "The longest side of the largest flake.", high=100.0)
        self.hours("Running hours of the build when it was cut.")
        self.line("notes", "No&tes", "Colour, shape, where in the pleats.")

    def commit(self, values: dict[str, Any]) -> None:
        if not (values["ferrous"] or values["non_ferrous"] or values["largest_mm"] is not None or values["notes"]):
            raise FieldError("Nothing is entered yet. If the filter held nothing, write “none”.")
        record = FilterCut(
            values["build_h"], values["ferrous"], values["non_ferrous"], values["largest_mm"], values["notes"]
        )
        self.session.run_or_raise(filter_cut.add, self.engine.name, self.the_build(), record)


def _name_wrong(text: str) -> str:
    return "" if text else "Which cylinder?"


def _percent_wrong(text: str) -> str:
    try:
        read_number(text, 0.0, 100.0, "%", needed=False)
    except FieldError as wrong:
        return str(wrong)
    return ""


class LeakDownForm(OnEngine):
    """Leak-down of each cylinder."""

    title: ClassVar[str] = "Leak-down"
    lead: ClassVar[str] = "Always the same tester, pressure and warmth: only then do two tests compare."
    verb: ClassVar[str] = "Add leak-down"

    def make(self) -> None:
        last = self._last_test()
        self.hours("Running hours of the build at the test.")
        self.line("tester", "&Tester", "Another tester is another scale.", last[0].tester if last else "")
        pressure = last[0].pressure_kpa if last else None
        self.number(
            "pressure_kpa", "&Pressure", "kPa", "What the tester was fed with.", pressure, low=10.0, high=2000.0
        )
        columns = (
            Typed("Cylinder", _name_wrong, 14, "As they are numbered on the engine"),
            Typed("Leak-down [%]", _percent_wrong, 18, "Share that leaks past", number=True, stretch=True),
        )
        self.table = TypedTable(columns, "Leak-down of each cylinder", self)
        self.table.typed.set_rows([(name, "") for name in self._cylinders(last)])
        self.table.setCurrentIndex(self.table.typed.index(0, 1))
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 6)
        self.whole(self.table, stretch=True)

    def _last_test(self) -> list[LeakDown]:
        held = self.build.leak_downs if self.build else ()
        return [test for test in held if test.build_h == held[-1].build_h]

    def _cylinders(self, last: list[LeakDown]) -> list[str]:
        if last:
            return [test.cylinder for test in last]
        tables = self.session.library.data("families")["family"]
        sizes = next((table.get("sizes", {}) for table in tables if table["name"] == self.engine.family), {})
        return [str(number) for number in range(1, int(sizes.get("cylinders", 0)) + 1)]

    def commit(self, values: dict[str, Any]) -> None:
        rows = [row for row in self.table.typed.rows() if row[1]]
        wrong = self.table.typed.problems()
        if wrong:
            raise FieldError("\n".join(wrong[:3]))
        if not rows:
            raise FieldError("No cylinder has a figure yet.")
        tests = [
            LeakDown(
                values["build_h"],
                name,
                read_number(percent, 0.0, 100.0, "%", needed=True) or 0.0,
                values["tester"],
                values["pressure_kpa"],
            )
            for name, percent in rows
        ]
        self.session.run_or_raise(leak_down.add, self.engine.name, self.the_build(), *tests)


class FindingForm(OnEngine):
    """What was seen when someone looked inside."""

    title: ClassVar[str] = "Finding"
    lead: ClassVar[str] = "What was seen inside, tied to the sample that asked for it: so the calls are judged too."
    verb: ClassVar[str] = "Add finding"

    def make(self) -> None:
        parts = self.build.parts if self.build else ()
        samples = self.build.samples if self.build else ()
        self.picker("part", "&Part", "What was looked at.", [(part.name, part.name) for part in parts])
        self.choice("condition", "&Condition", "As it was seen.", [(word, word) for word in CONDITIONS], CONDITIONS[1])
        self.hours("Running hours of the build when it was looked at.")
        codes = [("none", ""), *((sample.code, sample.code) for sample in reversed(samples))]
        self.choice(
            "sample", "&Sample", "The sample whose call asked for it.", codes, codes[-1 if len(codes) == 1 else 1][1]
        )
        self.line("notes", "No&tes", "Measured, photographed, replaced?")

    def commit(self, values: dict[str, Any]) -> None:
        record = Finding(values["build_h"], values["part"], values["condition"], values["sample"], values["notes"])
        self.session.run_or_raise(finding.add, self.engine.name, self.the_build(), record)
