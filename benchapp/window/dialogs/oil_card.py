"""The forms for what is known of an oil and of a build's bearings beside the can and the parts list."""

from __future__ import annotations

from typing import Any, ClassVar

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QWidget

from benchapp.actions import bearing, oil_card
from benchapp.records import FuelBlend, Oil, OilLimit, OwnBearing
from benchapp.window.dialogs.form import FieldError, Form, OnEngine, read_number
from benchapp.window.dialogs.rows import Typed, TypedTable

FUELS = ("petrol", "ethanol", "methanol")
LIMITS_WHY = (
    "Warning and limit in the limit's own measure: a share of fresh (0.65 is 65 %), a rise over fresh, or a value. "
    "What is not set here stays as the table has it."
)
BEARINGS_WHY = (
    "Length 0.1 to 1 of the diameter (where the film's tables end); clearance diametral, below a hundredth of it. An "
    "empty clearance, roughness or load takes the usual one: without clearance and load the film only compares oils."
)
ROOMY = 1e9
"""Numbers of the tables are read up to here: what they may be is refused by the verb, with the range's source."""


def plain(value: float | None) -> str:
    """A number as it stands in a cell."""
    return "" if value is None else f"{value:.6g}"


def number_wrong(text: str) -> str:
    """What is wrong with a cell that may hold a number, or ''."""
    try:
        read_number(text, 0.0, ROOMY, "", needed=False)
    except FieldError as wrong:
        return str(wrong)
    return ""


def needed_wrong(text: str) -> str:
    """What is wrong with a cell that must hold a number, or ''."""
    return number_wrong(text) if text else "This is needed."


def cell(text: str) -> float | None:
    """A cell's number, None where it is empty."""
    return read_number(text, 0.0, ROOMY, "", needed=False)


def _certain(text: str) -> float:
    value = cell(text)
    if value is None:
        raise FieldError("A number is missing in a row.")
    return value


def _any(_text: str) -> str:
    return ""


class OilCardForm(Form):
    """Own limits, bench blends and fresh oxidation of one oil."""

    title: ClassVar[str] = "Limits and blends of an oil"
    lead: ClassVar[str] = (
        "What you know of this oil better than the tables do. No published limit is a race engine's: set your own."
    )
    verb: ClassVar[str] = "Keep"
    width: ClassVar[int] = 900

    def __init__(self, session: Any, parent: QWidget | None = None, oil: str = "") -> None:
        self._oil = oil or oil_at_hand(session)
        super().__init__(session, parent)

    def make(self) -> None:
        names = sorted(self.session.fleet.oils)
        box = self.picker("oil", "&Oil", "Which oil.", [(name, name) for name in names], self._oil)
        box.currentTextChanged.connect(self._oil_typed)
        self.heading("Limits")
        choices = {choice.name: choice for choice in oil_card.limit_choices()}
        self.limits = TypedTable(
            (
                Typed("Limit of", lambda text: "" if text in choices else f"“{text}” is none of the limits.", 28,
                      "Which limit of the table", tuple(choices), only=True),
                Typed("Warning", number_wrong, 9, "Watch from here on. A share of fresh (0.65), a rise over fresh, or "
                      "a value, as the limit is; empty: no warning", number=True),
                Typed("Limit", number_wrong, 9, "The oil is done here, in the same measure; empty: never", number=True),
                Typed("Why", _any, 24, "Where it is from, in your words: it is shown with the limit", stretch=True),
            ),
            "Limits set for this oil",
            self,
        )  # fmt: skip
        self.limits.setMinimumHeight(self.limits.verticalHeader().defaultSectionSize() * 5)
        self.limits.selectionModel().currentChanged.connect(self._limit_picked)
        self.whole(self.limits)
        self.measure = self._why(LIMITS_WHY)
        self.heading("Fresh values")
        for what, (low, high) in oil_card.fresh_choices().items():
            unit = "°C" if what == "Flash point" else "A/cm"
            self.number(
                what, f"Fresh {what.lower()}", unit, "Of this oil when new, on your instrument: limits count from it.",
                low=low, high=high,
            )  # fmt: skip
        self.heading("Bench blends")
        self.blends = TypedTable(
            (
                Typed("Fuel", lambda text: "" if text in FUELS else "Choose petrol, ethanol or methanol.", 11,
                      "Leaded and unleaded are both petrol", FUELS, only=True),
                Typed("Fuel [mL]", needed_wrong, 10, "So much fuel (or both in grams)", number=True),
                Typed("Oil [mL]", needed_wrong, 10, "in so much of this oil, fresh", number=True),
                Typed("At [°C]", needed_wrong, 8, "measured at 40 or 100 °C", number=True),
                Typed("Viscosity [cSt]", needed_wrong, 16, "gave this viscosity: it narrows fuel from a viscosity drop",
                      number=True, stretch=True),
            ),
            "Bench blends of this oil with fuel",
            self,
        )  # fmt: skip
        self.blends.setMinimumHeight(self.blends.verticalHeader().defaultSectionSize() * 3)
        self.whole(self.blends)
        self._why("So much fuel in so much fresh oil gave this viscosity: it narrows the fuel that a drop would take.")
        self._oil_typed(self._oil)

    def _why(self, text: str) -> QLabel:
        """A quiet line across the form."""
        made = quiet(text, self)
        self.whole(made)
        return made

    def _first(self) -> QWidget:
        return self.limits

    def _oil_typed(self, name: str) -> None:
        """What is known of the oil already."""
        known = self.session.fleet.oils.get(name.strip())
        if known is None:
            return
        self.limits.typed.set_rows([(own.limit, plain(own.watch), plain(own.done), own.why) for own in known.limits])
        for what in oil_card.fresh_choices():
            self.set_text(what, plain(known.fresh_more.get(what)))
        self.blends.typed.set_rows(
            [(b.fuel, plain(b.fuel_ml), plain(b.oil_ml), plain(b.at_c), plain(b.kv_cst)) for b in known.blends]
        )
        for table in (self.limits, self.blends):
            _to_end(table)

    def _limit_picked(self, index: Any, _before: Any = None) -> None:
        """What the table says of the limit at hand, where an own one would stand in front of it."""
        name = self.limits.typed.index(index.row(), 0).data() or ""
        choice = next((each for each in oil_card.limit_choices() if each.name == name), None)
        self.measure.setText(LIMITS_WHY if choice is None else f"{limit_words(choice)}.")

    def commit(self, values: dict[str, Any]) -> None:
        wrong = [*self.limits.typed.problems(), *self.blends.typed.problems()]
        if wrong:
            raise FieldError("\n".join(wrong[:3]))
        limits = [OilLimit(name, cell(watch), cell(done), why) for name, watch, done, why in self.limits.typed.rows()]
        blends = [
            FuelBlend(fuel, _certain(fuel_ml), _certain(oil_ml), _certain(kv), _certain(at_c))
            for fuel, fuel_ml, oil_ml, at_c, kv in self.blends.typed.rows()
        ]
        fresh = {what: values[what] for what in oil_card.fresh_choices() if values[what] is not None}
        self.session.run_or_raise(oil_card.put, values["oil"], limits=limits, fresh=fresh, blends=blends)


def _to_end(table: TypedTable) -> None:
    """The cell at hand is the first of the empty row: a new entry begins there."""
    table.setCurrentIndex(table.typed.index(table.typed.rowCount() - 1, 0))


def quiet(text: str, parent: QWidget) -> QLabel:
    """A line of explanation."""
    made = QLabel(text, parent)
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setWordWrap(True)
    made.setProperty("role", "quiet")
    return made


def limit_words(choice: Any) -> str:
    """'base number: share of fresh, 0.05 to 1; in the table 0.65 and 0.5 (made for heavy diesels)'."""
    levels = " and ".join(plain(level) for level in (choice.watch, choice.done) if level is not None)
    diesel = " (made for heavy diesels)" if choice.diesel else ""
    return f"{choice.name}: {choice.measure}, {choice.low:g} to {choice.high:g}; in the table {levels}{diesel}"


def oil_at_hand(session: Any) -> str:
    """The oil in the engine at hand, else the first one by name."""
    build = session.bench.current_build(session.selected_engine) if session.selected_engine else None
    filled = build.fills[-1].oil if build is not None and build.fills else ""
    known: dict[str, Oil] = dict(session.fleet.oils)
    return filled if filled in known else min(known, default="")


class BearingsForm(OnEngine):
    """The plain bearings of the engine at hand as measured."""

    title: ClassVar[str] = "Bearings"
    lead: ClassVar[str] = (
        "As measured in this build. With clearance and load of your own a film that thin oil loses can ask for a look; "
        "without them it only compares oils."
    )
    verb: ClassVar[str] = "Keep"
    width: ClassVar[int] = 1000

    def make(self) -> None:
        self.table = TypedTable(
            (
                Typed("Bearing", lambda text: "" if text else "It needs a name.", 16, "As you call it: rod bearing"),
                Typed("Journal Ø [mm]", needed_wrong, 14, "Diameter of the journal", number=True),
                Typed("Length [mm]", needed_wrong, 11, "Running length of the shell: 0.1 to 1 of the diameter",
                      number=True),
                Typed("Clearance [mm]", number_wrong, 14, "Diametral, as measured. Empty: a thousandth of the journal",
                      number=True),
                Typed("Roughness [µm]", number_wrong, 14, "Journal and shell combined. Empty: 0.5 (own default)",
                      number=True),
                Typed("Load [N]", number_wrong, 10, "Steady, on one bearing. Empty: 8 MPa on its area (own default)",
                      number=True),
                Typed("At [rpm]", number_wrong, 9, "Speed of that load. Empty: the run's highest", number=True),
                Typed("Load case", _any, 16, "What the load is: peak cylinder pressure, inertia at the limiter",
                      stretch=True),
            ),
            "Bearings of this build",
            self,
        )  # fmt: skip
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 6)
        self.table.typed.set_rows([self._row(own) for own in (self.build.bearings if self.build else ())])
        _to_end(self.table)
        self.whole(self.table)
        self.whole(quiet(BEARINGS_WHY, self))

    def _first(self) -> QWidget:
        return self.table

    @staticmethod
    def _row(own: OwnBearing) -> tuple[str, ...]:
        numbers = (own.diameter_mm, own.length_mm, own.clearance_mm, own.roughness_um, own.load_n, own.speed_rpm)
        return (own.name, *(plain(value) for value in numbers), own.load_case)

    def commit(self, values: dict[str, Any]) -> None:
        wrong = self.table.typed.problems()
        if wrong:
            raise FieldError("\n".join(wrong[:3]))
        own = [
            OwnBearing(name, _certain(diameter), _certain(length), cell(gap), cell(rough), case, cell(load), cell(rpm))
            for name, diameter, length, gap, rough, load, rpm, case in self.table.typed.rows()
        ]
        self.session.run_or_raise(bearing.put, self.engine.name, self.the_build(), own)
