"""Forms for what happens to an engine: fill, top-up, run, change, filter cut, leak-down, oil pressure, part, finding.

The usual answers stand in them already: the hours so far, the last run's fuel, the last test's cylinders. Each corrects
an earlier entry too, or begins as one like it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any, ClassVar

from PySide6.QtWidgets import QWidget

from benchapp.actions import fill as fills
from benchapp.actions import findings, parts
from benchapp.actions import fitting as fittings
from benchapp.actions import photo as photos
from benchapp.records import Change, Fill, FilterCut, Finding, Fitting, LeakDown, OilPressure, Run, TopUp
from benchapp.window import units
from benchapp.window.dialogs.form import FieldError, OnEngine, read_number
from benchapp.window.dialogs.rows import Typed, TypedTable
from benchapp.window.photos import PhotoStrip

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
ORIGIN_CONDITIONS = ((findings.NO_WAY_IN, "as new"), (findings.WAY_IN, "damaged"))
"""The same for dust and coolant, as they are kept."""
DEBRIS = ("none", "few", "some", "many")
TAKEN_FROM = (("the filter, cut open", ""), ("the magnet", "magnet"))
FORMS = ("fuzz", "fine dust", "flakes", "slivers", "curls", "chunks", "grains")
COLOURS = ("bright", "silver grey", "dark grey", "black", "copper", "bronze", "brass yellow")
SIZES = (
    ("not stated", ""),
    ("fine: below 0.5 mm", "fine"),
    ("small: 0.5 to 1.6 mm", "small"),
    ("large: above 1.6 mm", "large"),
)
ACTS = (("went in", "fitted"), ("came out", "taken out"))
LIFE_UNITS = (("hours", "h"), ("km", "km"), ("laps", "laps"), ("starts", "starts"))
"""How a life is counted; kilometres are shown and typed in the distance that the person chose."""


def now() -> str:
    """This minute, as it is typed."""
    return dt.datetime.now().strftime("%Y-%m-%d %H:%M")  # noqa: DTZ005  (the person's clock)


class FillForm(OnEngine):
    """Oil went in."""

    title: ClassVar[str] = "Add a fill"
    correction: ClassVar[str] = "Correct a fill"
    lead: ClassVar[str] = "An oil change. What was left of the old oil is reckoned with from here on."
    verb: ClassVar[str] = "Add fill"
    caution_where: ClassVar[str] = "drain"
    width: ClassVar[int] = 920
    shares: ClassVar[tuple[int, int]] = (6, 3)

    def make(self) -> None:
        held = self.build.fills if self.build else ()
        oils = list(self.session.fleet.oils)
        last = held[-1].oil if held else (oils[0] if oils else None)
        oil = self.before("oil", last)
        known = oils if oil in oils or oil is None else [oil, *oils]
        self.picker("oil", "&Oil", "Its fresh values are the zero line of every sample.", [(o, o) for o in known], oil)
        name = self.old[0].name if self.old else self._next_name()
        self.line("name", "&Name", "One name a fill; its samples carry it.", name, needed=True)
        self.hours("Running hours of the build when it went in.")
        volume = self.before("volume_l", self._volume())
        self.number("volume_l", "&Volume", "L", "What went in, lines and filter too.", volume, low=0.05, high=200.0)
        self.moment("filled_at", "Filled &at", "Day and time.", self.old[0].filled_at if self.old else now())
        drain = self.before("drain_before", "hot" if held else "none")
        self.choice("drain_before", "&Drained before", "Hot drains leave less of the old oil.", DRAINS, drain)
        fresh = self.before("filter_changed", True)
        self.choice("filter_changed", "Ne&w filter", "The old filter holds old oil and old metal.", YES_NO, fresh)

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
        if self.old:
            was = self.old[0].name
            self.session.run_or_raise(fills.edit, self.engine.name, self.the_build(), was, Fill(**values))
        else:
            self.session.run_or_raise(fills.add, self.engine.name, self.the_build(), Fill(**values))

    def take_away(self) -> None:
        was, why = self.old[0].name, "withdrawn in the log"
        self.session.run_or_raise(fills.void, self.engine.name, self.the_build(), was, why)


class TopUpForm(OnEngine):
    """Oil was added without a drain."""

    title: ClassVar[str] = "Top-up"
    correction: ClassVar[str] = "Correct a top-up"
    lead: ClassVar[str] = "Oil added between drains thins what is read: without it a sound engine seems to wear less."
    verb: ClassVar[str] = "Add top-up"

    def make(self) -> None:
        held = self.build.fills if self.build else ()
        names = [(f"{fill.name}: {fill.oil}", fill.name) for fill in held]
        litres = self.before("litres")
        self.number(
            "litres", "&Litres", "L", "What was added.", litres, needed=True, low=0.001, high=100.0, example="0.3"
        )
        self.hours("Running hours of the build when it was added.")
        last = held[-1].name if held else None
        self.choice("fill", "&Fill", "The fill it was added to.", names, self.old[0].fill if self.old else last)

    def commit(self, values: dict[str, Any]) -> None:
        top_up = TopUp(values["fill"], values["build_h"], values["litres"])
        if self.old:
            verb = fills.edit_top_up
            self.session.run_or_raise(verb, self.engine.name, self.the_build(), self.old[0], top_up)
        else:
            self.session.run_or_raise(fills.top_up, self.engine.name, self.the_build(), top_up)


class RunForm(OnEngine):
    """A running session."""

    title: ClassVar[str] = "Add a run"
    correction: ClassVar[str] = "Correct a run"
    lead: ClassVar[str] = "Hours count: wear is metal an hour. Kind, fuel and coolant stand as in the last run."
    verb: ClassVar[str] = "Add run"

    def __init__(self, session: Any, parent: QWidget | None = None, *, repeat: bool = False, **more: Any) -> None:
        self._repeat = repeat
        super().__init__(session, parent, **more)

    def make(self) -> None:
        held = self.build.runs if self.build else ()
        last = self.start[0] if self.start else held[-1] if held else Run("practice", 0.0)
        again = last if self.start or (self._repeat and held) else Run("practice", 0.0)
        kinds = [(kind, kind) for kind in dict.fromkeys((*RUN_KINDS, last.kind))]
        self.number(
            "hours", "&Hours", "h", "Running time of this session.", again.hours or None,
            needed=True, low=0.001, high=100.0, example="0.75",
        )
        self.choice("kind", "&Kind", "A hard session lifts all wear together.", kinds, last.kind)
        at = self.old[0].started_at if self.old else now()
        self.moment("started_at", "Started &at", "Day and time.", at)
        self.number("max_rpm", "Highest &speed", "rpm", "Of the session.", again.max_rpm, low=100.0, high=30000.0)
        self.number(
            "oil_temp_c", "Oil &temperature", "°C", "Highest or usual, always the same way.", again.oil_temp_c,
            low=-40.0, high=250.0,
        )  # fmt: skip
        self.choice("fuel", "&Fuel", "Leaded fuel puts lead in the oil that no bearing lost.", FUELS, last.fuel)
        self.choice("coolant", "&Coolant", "What a coolant leak would show.", COOLANTS, last.coolant)
        starts = again.starts if self.start or self._repeat else last.starts and 1.0
        self.number("laps", "&Laps", "", "For parts whose life is counted in laps.", again.laps, high=100000.0)
        self.number("distance_km", "&Distance", "km", "For parts lifed by distance.", again.distance_km, high=100000.0)
        self.number("starts", "Sta&rts", "", "Starts from the grid or on the starter, always alike.", starts, high=1e5)
        notes = self.old[0].notes if self.old else ""
        self.line("notes", "No&tes", "Off, over-rev, low pressure, dust: anything odd.", notes)

    def commit(self, values: dict[str, Any]) -> None:
        self.put(Run(**values))


class ChangeForm(OnEngine):
    """A change to compare before and after."""

    title: ClassVar[str] = "Add a change"
    correction: ClassVar[str] = "Correct a change"
    lead: ClassVar[str] = "A change whose effect on wear is asked later: before against after."
    verb: ClassVar[str] = "Add change"

    def make(self) -> None:
        kinds = [(kind, kind) for kind in CHANGE_KINDS]
        self.choice("kind", "&Kind", "What was changed.", kinds, self.before("kind", "oil"))
        self.hours("Running hours of the build when it was changed.")
        self.line("notes", "No&tes", "From what to what.", self.before("notes", ""), example="from … to …")

    def commit(self, values: dict[str, Any]) -> None:
        self.put(Change(values["build_h"], values["kind"], values["notes"]))


class WithPhotos(OnEngine):
    """An entry that photos can be of."""

    def add_strip(self) -> None:
        """The photos of the entry, below the fields."""
        shown: tuple[Any, ...] = ()
        if self.old:
            bench = self.session.bench
            shown = photos.of_entry(bench, self.engine.name, self.the_build(), self.old[0])
        self.strip = PhotoStrip(self.session, shown, self)
        self.strip.trouble.connect(self.show_trouble)
        self.whole(self.strip)
        self.setAcceptDrops(True)  # a photo may be dropped anywhere on the form

    def dragEnterEvent(self, event: Any) -> None:
        self.strip.dragEnterEvent(event)

    def dropEvent(self, event: Any) -> None:
        self.strip.dropEvent(event)

    def put_with_photos(self, record: Any) -> None:
        """Enters the record with the photos of the strip. Raises BenchProblem."""
        engine, build = self.engine.name, self.the_build()
        if self.strip.busy:
            raise FieldError("A photo is still being read. Try again in a moment.")
        if not self.old:
            self.session.run_or_raise(photos.add_with, engine, build, record, *self.strip.added())
            return
        self.put(record)
        if self.strip.added():
            self.session.run_or_raise(photos.add, engine, build, record, *self.strip.added())
        for key in self.strip.taken_away():
            self.session.run_or_raise(photos.void, engine, key, "withdrawn in the log")


class FilterCutForm(WithPhotos):
    """What the cut-open filter or the magnet held."""

    title: ClassVar[str] = "Filter or magnet"
    correction: ClassVar[str] = "Correct what a filter or magnet held"
    lead: ClassVar[str] = "A bearing that flakes shows here first: the spectrometer sees only fine metal."
    verb: ClassVar[str] = "Add it"
    caution_where: ClassVar[str] = "filter"
    width: ClassVar[int] = 940
    shares: ClassVar[tuple[int, int]] = (6, 3)

    def make(self) -> None:
        was = self.before
        self.choice("taken_from", "&From", "Where it was found.", TAKEN_FROM, was("taken_from", ""))
        self.line("ferrous", "&Magnetic", "How much a magnet lifts: a count, or none, few, some, many.",
                  was("ferrous", ""), suggest=DEBRIS)  # fmt: skip
        self.line("non_ferrous", "&Not magnetic", "Bright or bronze flakes that a magnet leaves.",
                  was("non_ferrous", ""), suggest=DEBRIS)  # fmt: skip
        self.line("form", "&Shape", "Fuzz is usual; flakes and slivers are not.", was("form", ""), suggest=FORMS)
        self.line("colour", "&Colour", "Copper or bronze: bearing or bush. Silver: overlay or piston.",
                  was("colour", ""), suggest=COLOURS)  # fmt: skip
        self.choice("size_class", "Si&ze", "The largest pieces, by eye.", SIZES, was("size_class", ""))
        largest = was("largest_mm")
        self.number("largest_mm", "&Largest", "mm", "The longest side of the largest flake.", largest, high=100.0)
        self.hours("Running hours of the build when it was looked at.")
        self.line("notes", "No&tes", "Where in the pleats, how it felt.", was("notes", ""))
        self.add_strip()

    def commit(self, values: dict[str, Any]) -> None:
        said = ("ferrous", "non_ferrous", "form", "colour", "size_class", "notes")
        if not (any(values[name] for name in said) or values["largest_mm"] is not None or self.strip.added()):
            raise FieldError("Nothing is entered yet. If the filter held nothing, write “none”.")
        self.put_with_photos(FilterCut(**values))


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
    correction: ClassVar[str] = "Correct a leak-down"
    lead: ClassVar[str] = "Always the same tester, pressure and warmth: only then do two tests compare."
    verb: ClassVar[str] = "Add leak-down"

    def make(self) -> None:
        last = list(self.start) or self._last_test()
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
        if self.old:
            self.table.typed.set_rows([(one.cylinder, f"{one.percent:g}") for one in self.old])
        else:
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
        self.put(*tests)


def _any_number(text: str, low: float, high: float, unit: str, *, needed: bool = False) -> str:
    try:
        read_number(text, low, high, unit, needed=needed)
    except FieldError as wrong:
        return str(wrong)
    return ""


def _rpm_wrong(text: str) -> str:
    return _any_number(text, 0.0, 30000.0, "rpm")


class PressureForm(OnEngine):
    """Oil pressure, hot: at idle and at speed."""

    title: ClassVar[str] = "Oil pressure"
    correction: ClassVar[str] = "Correct an oil pressure"
    lead: ClassVar[str] = (
        "Hot, at idle and at one or two speeds that you can hold again: only the same speed and warmth compare. "
        "A fall below this build's own usual pressure speaks for bearing clearance."
    )
    verb: ClassVar[str] = "Add oil pressure"
    width: ClassVar[int] = 640

    def make(self) -> None:
        last = list(self.start) or self._last()
        self._kpa, self._celsius = units.chosen("kPa"), units.chosen("°C")
        self.hours("Running hours of the build at the reading.")
        self.line("gauge", "&Gauge", "Another gauge or sender is another scale.", last[0].gauge if last else "")
        self.line("notes", "No&tes", "Anything odd: flicker, slow to rise.", self.old[0].notes if self.old else "")
        columns = (
            Typed("Speed [rpm]", _rpm_wrong, 12, "Idle, and a speed that you can hold again", number=True),
            Typed(f"Oil [{self._celsius.name}]", self._warmth_wrong, 10, "Oil temperature at the reading", number=True),
            Typed(f"Pressure [{self._kpa.name}]", self._pressure_wrong, 16, "As the gauge shows it", number=True,
                  stretch=True),
        )  # fmt: skip
        self.table = TypedTable(columns, "Oil pressures", self)
        self.table.typed.set_rows([self._row(one) for one in last])
        self.table.setCurrentIndex(self.table.typed.index(0, 2 if last else 0))
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 5)
        self.whole(self.table, stretch=True)

    def _last(self) -> list[OilPressure]:
        held = self.build.oil_pressures if self.build else ()
        return [one for one in held if one.build_h == held[-1].build_h]

    def _row(self, one: OilPressure) -> tuple[str, str, str]:
        warmth = "" if one.oil_temp_c is None else f"{units.shown(one.oil_temp_c, self._celsius):.4g}"
        pressure = f"{units.shown(one.pressure_kpa, self._kpa):.6g}" if self.old else ""
        return "" if one.rpm is None else f"{one.rpm:.6g}", warmth, pressure

    def _warmth_wrong(self, text: str) -> str:
        return _any_number(text, -40.0, 480.0, self._celsius.name)

    def _pressure_wrong(self, text: str) -> str:
        return _any_number(text, 0.0, units.shown(3000.0, self._kpa), self._kpa.name)

    def commit(self, values: dict[str, Any]) -> None:
        wrong = self.table.typed.problems()
        if wrong:
            raise FieldError("\n".join(wrong[:3]))
        records = [self._record(row, values) for row in self.table.typed.rows() if row[2]]
        if not records:
            raise FieldError("No pressure is entered yet.")
        self.put(*records)

    def _record(self, row: list[str], values: dict[str, Any]) -> OilPressure:
        """A row as it is stored; a figure that was not touched stays exactly as it was."""
        was = next((one for one in self.old if list(self._row(one)) == row), None)
        if was is not None:
            return replace(was, build_h=values["build_h"], gauge=values["gauge"], notes=values["notes"])
        rpm, warmth, pressure = (read_number(cell, None, None, "", needed=False) for cell in row)
        return OilPressure(
            values["build_h"],
            units.stored(pressure or 0.0, self._kpa),
            rpm,
            None if warmth is None else units.stored(warmth, self._celsius),
            values["gauge"],
            values["notes"],
        )


class FittingForm(OnEngine):
    """A part with a life went in, or came out."""

    title: ClassVar[str] = "Part in or out"
    correction: ClassVar[str] = "Correct a part that went in or out"
    lead: ClassVar[str] = (
        "What a part has run follows from the runs. Give a piece a name (a serial number, “rod set 3”) and it keeps "
        "its hours when it goes into another build. A later one of the same part takes its place."
    )
    verb: ClassVar[str] = "Enter it"

    def __init__(self, session: Any, parent: QWidget | None = None, *, part: str = "", **more: Any) -> None:
        self._part = part
        super().__init__(session, parent, **more)

    def make(self) -> None:
        was = self.before
        held = self.build.parts if self.build else ()
        known = [fitting.part for fitting in (self.build.fittings if self.build else ())]
        names = list(dict.fromkeys((*known, *(part.name for part in held))))
        part = was("part", self._part)
        self.line("part", "&Part", "As it is called in this engine.", part, needed=True, suggest=names)
        piece = self.line("piece", "P&iece", "Which one of them: serial number or name. May be empty.",
                          was("piece", ""), suggest=self._pieces())  # fmt: skip
        piece.editingFinished.connect(self._fill_from_piece)
        self.choice("act", "It", "In or out.", ACTS, was("act", "fitted"))
        self.hours("Running hours of the build then: 0 for a part it was built with.")
        unit = was("life_unit", "") or "h"
        distance = units.chosen("km").name
        counted = [(distance if stored == "km" else word, stored) for word, stored in LIFE_UNITS]
        self._typed = {name: _as_counted(was(name), unit) for name in ("life", "used_before")}
        life = self._typed["life"]
        self.number("life", "&Life", "", "How long it may run in all; empty for no limit.", life, high=1e7)
        self.choice("life_unit", "&Counted in", "What its life and what it had run are counted in.", counted, unit)
        self.number("used_before", "&Had run", "", "Before it was first entered in this bench file, if it had.",
                    self._typed["used_before"], high=1e7)  # fmt: skip
        self.line("notes", "No&tes", "Maker's lot, who fitted it.", was("notes", ""))
        if not self.old:
            why = "So that its wear is judged anew from here. Only where it goes into an engine that has run."
            self.flag("changes", "Enter the change of &a part too", why, True)

    def _stored(self, name: str, value: float | None, unit: str) -> float | None:
        """What was typed as it is stored; what was not touched stays exactly as it was."""
        if value is None or unit != "km":
            return value
        if self.start and value == self._typed[name] and self.before("life_unit") == unit:
            return self.before(name)
        return units.stored(value, units.chosen("km"))

    def _pieces(self) -> list[str]:
        fleet = self.session.fleet
        found = {f.piece for e in fleet.engines for b in e.builds for f in b.fittings if f.piece}
        return sorted(found)

    def _fill_from_piece(self) -> None:
        """A piece that is known brings its life along."""
        known = parts.last_of(self.session.fleet, self.text("part"), self.text("piece"))
        if known is None or known.life is None or self.text("life"):
            return
        self.set_text("life", f"{_as_counted(known.life, known.life_unit):.6g}")
        box = self.fields["life_unit"].editor
        box.setCurrentIndex(max(0, box.findData(known.life_unit or "h")))

    def commit(self, values: dict[str, Any]) -> None:
        if values["life"] is None and values["used_before"] is None:
            values["life_unit"] = ""
        for name in ("life", "used_before"):
            values[name] = self._stored(name, values[name], values["life_unit"])
        changes = values.pop("changes", False)
        if changes:
            self.session.run_or_raise(fittings.add_with_change, self.engine.name, self.the_build(), Fitting(**values))
        else:
            self.put(Fitting(**values))


def _as_counted(value: float | None, unit: str) -> float | None:
    """A stored life as it is typed: kilometres in the chosen distance."""
    return units.shown(value, units.chosen("km")) if value is not None and unit == "km" else value


class FindingForm(WithPhotos):
    """What was seen when someone looked inside."""

    title: ClassVar[str] = "Finding"
    correction: ClassVar[str] = "Correct a finding"
    lead: ClassVar[str] = "What was seen inside, tied to the sample that asked for it: so the calls are judged too."
    verb: ClassVar[str] = "Add finding"

    def make(self) -> None:
        was = self.before
        held = self.build.parts if self.build else ()
        samples = self.build.samples if self.build else ()
        names = dict.fromkeys((*(part.name for part in held), *findings.ORIGINS, *filter(None, (was("part", ""),))))
        why = "What was looked at. Dust or coolant: whether a way in was found."
        part = self.picker("part", "&Part", why, [(name, name) for name in names], was("part"))
        condition = was("condition", CONDITIONS[1])
        self.choice("condition", "&Condition", "As it was seen.", [(word, word) for word in CONDITIONS], condition)
        part.currentTextChanged.connect(self._fit_conditions)
        self._fit_conditions(part.currentText())
        self.line("measured", "&Measured", "With its unit.", was("measured", ""), example="clearance 0.062 mm")
        self.hours("Running hours of the build when it was looked at.")
        codes = [("none", ""), *((sample.code, sample.code) for sample in reversed(samples))]
        usual = codes[-1 if len(codes) == 1 else 1][1]
        self.choice("sample", "&Sample", "The sample whose call asked for it.", codes, was("sample", usual))
        self.line("notes", "No&tes", "What it looked like, what was replaced.", was("notes", ""))
        self.add_strip()

    def _fit_conditions(self, part: str) -> None:
        """A part wears; dust and coolant get in, or they do not."""
        box = self.fields["condition"].editor
        origin = findings.of_origin(part)
        if origin == (box.findText(findings.WAY_IN) >= 0):
            return
        held = box.currentData()
        box.clear()
        for word, meant in ORIGIN_CONDITIONS if origin else [(word, word) for word in CONDITIONS]:
            box.addItem(word, meant)
        same = held if box.findData(held) >= 0 else ("damaged" if held in findings.BAD else "as new")
        box.setCurrentIndex(box.findData(same))

    def commit(self, values: dict[str, Any]) -> None:
        self.put_with_photos(Finding(**values))
