"""The sample form as text, and what that text says: whose sample it is, and what is wrong with it. No Qt here.

The form keeps what was typed, letter for letter, beside what was understood; so a draft comes back exactly as it was.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace

from benchapp.intake.paste import parse_moment
from benchapp.records import Build, Engine, Fill, Fleet, Reading, Sample
from benchapp.window.entry import words
from benchapp.window.entry.values import read_value

NOT_KNOWN = "not known"
DRAWN = ((NOT_KNOWN, ""), ("hot", "hot"), ("cold", "cold"))
BEFORE_TOP_UP = ((NOT_KNOWN, None), ("yes", True), ("no", False))


@dataclass(frozen=True, slots=True)
class FormText:
    """What stands in the form's fields. Times as typed, hours as typed [h]."""

    code: str = ""
    engine: str = ""
    build: str = ""
    fill: str = ""
    taken_at: str = ""
    build_h: str = ""
    oil_h: str = ""
    drawn: str = NOT_KNOWN
    before_top_up: str = NOT_KNOWN
    instrument: str = ""
    break_in: str = "no"
    notes: str = ""

    def as_draft(self) -> dict[str, str]:
        return asdict(self)

    @classmethod
    def from_draft(cls, data: Mapping[str, object]) -> FormText:
        """Whatever of a kept draft is a field of this form; anything else is passed over."""
        known = {field.name for field in fields(cls)}
        return cls(**{name: str(value) for name, value in data.items() if name in known})


@dataclass(frozen=True, slots=True)
class FieldProblem:
    """What is wrong with one field: a clear sentence, and whether the sample can be confirmed all the same."""

    field: str
    reason: str


@dataclass(frozen=True, slots=True)
class FormRead:
    """What the form says. `sample` is None as long as something it needs is missing or cannot be read."""

    engine: str
    build: str
    sample: Sample | None
    problems: tuple[FieldProblem, ...]


def find_engine(fleet: Fleet, name: str) -> Engine | None:
    """The engine called `name`, however it is spelt in capitals."""
    wanted = name.strip().casefold()
    return next((engine for engine in fleet.engines if engine.name.casefold() == wanted), None)


def find_build(engine: Engine | None, number: str) -> Build | None:
    if engine is None:
        return None
    return next((build for build in engine.builds if build.number == number.strip()), None)


def find_fill(build: Build | None, name: str) -> Fill | None:
    if build is None:
        return None
    return next((fill for fill in build.fills if fill.name == name.strip()), None)


def instrument_names(fleet: Fleet) -> tuple[str, ...]:
    """Instruments of the bench file and those that its samples name."""
    named = {item.instrument for engine in fleet.engines for build in engine.builds for item in build.samples}
    return tuple(sorted(name for name in {*fleet.instruments, *named} if name))


def previous_sample(build: Build | None, code: str, build_h: float | None) -> Sample | None:
    """The sample of this build before the one at `build_h` [h]; without hours, the last one. Never `code` itself."""
    if build is None:
        return None
    earlier = [item for item in build.samples if item.code != code and (build_h is None or item.build_h < build_h)]
    return earlier[-1] if earlier else None


def read_moment(text: str) -> dt.datetime | None:
    """`2026-05-03 14:20`, `2026-05-03`, `3.5.2026 14:20`; None for an empty text.

    Raises ValueError for anything else: 03/05/2026 is two different days on the two sides of an ocean."""
    if not text.strip():
        return None
    moment = parse_moment(text)
    if moment is None:
        raise ValueError(text)
    return moment


def moment_text(moment: dt.datetime | None) -> str:
    return "" if moment is None else moment.strftime("%Y-%m-%d %H:%M")


def text_of(engine: str, build: str, sample: Sample) -> FormText:
    """The form's text for a sample that is in the bench file."""
    return FormText(
        code=sample.code,
        engine=engine,
        build=build,
        fill=sample.fill,
        taken_at=moment_text(sample.taken_at),
        build_h=words.exact(sample.build_h),
        oil_h=words.exact(sample.oil_h),
        drawn=sample.drawn or NOT_KNOWN,
        before_top_up=_word(BEFORE_TOP_UP, sample.before_top_up),
        instrument=sample.instrument,
        break_in="yes" if sample.break_in else "no",
        notes=sample.notes,
    )


def _word(choices: tuple[tuple[str, object], ...], value: object) -> str:
    return next((word for word, meant in choices if meant == value), NOT_KNOWN)


def _meant(choices: tuple[tuple[str, object], ...], word: str) -> object:
    return next((meant for known, meant in choices if known == word), None)


class _Reader:
    """Reads one form; gathers every problem instead of stopping at the first."""

    def __init__(self, text: FormText, fleet: Fleet) -> None:
        self.text = text
        self.problems: list[FieldProblem] = []
        self.engine = find_engine(fleet, text.engine)
        self.build = find_build(self.engine, text.build)
        self.fill = find_fill(self.build, text.fill)

    def problem(self, field: str, reason: str) -> None:
        self.problems.append(FieldProblem(field, reason))

    def whose(self) -> None:
        text = self.text
        if not text.code.strip():
            self.problem("code", "The sample has no code yet. Write the one on the bottle.")
        if not text.engine.strip():
            self.problem("engine", "No engine is chosen yet. Choose whose oil this is.")
        elif self.engine is None:
            self.problem("engine", f"No engine is called “{text.engine.strip()}”. Choose one, or add it (Ctrl+N).")
        elif self.build is None:
            has = (
                f"has no build “{text.build.strip()}”. Choose one."
                if self.engine.builds
                else "has no build yet. Add it."
            )
            self.problem("build", f"{self.engine.name} {has}")
        elif self.fill is None:
            has = (
                "Choose the fill this oil was drawn from."
                if self.build.fills
                else "Say which oil went in first (Ctrl+L)."
            )
            self.problem("fill", f"No oil fill is chosen. {has}")

    def hours(self, field: str, text: str, *, needed: bool) -> float | None:
        entered = read_value(text)
        name = "Build hours" if field == "build_h" else "Hours on oil"
        if entered.blank:
            if needed:
                self.problem(field, f"{name} are missing. Write the running hours when the sample was drawn.")
            return None
        if entered.problem or entered.qualifier or entered.value is None:
            self.problem(field, f"{name}: “{text.strip()}” is not a number of hours. Write it like 12.4 or 12,4.")
            return None
        if entered.value < 0:
            self.problem(field, f"{name} cannot be less than nothing.")
            return None
        return entered.value

    def moment(self) -> dt.datetime | None:
        try:
            return read_moment(self.text.taken_at)
        except ValueError:
            self.problem(
                "taken_at",
                f"“{self.text.taken_at.strip()}” is not a date that reads one way only. "
                "Write it like 2026-05-03 14:20.",
            )
            return None


def read_form(text: FormText, readings: tuple[Reading, ...], fleet: Fleet, hold: str = "") -> FormRead:
    """What the form and the grid's `readings` say together, with every problem of the form."""
    reader = _Reader(text, fleet)
    reader.whose()
    build_h = reader.hours("build_h", text.build_h, needed=True)
    oil_h = reader.hours("oil_h", text.oil_h, needed=False)
    taken_at = reader.moment()
    engine = reader.engine.name if reader.engine else text.engine.strip()
    build = reader.build.number if reader.build else text.build.strip()
    if reader.problems or build_h is None or reader.fill is None:
        return FormRead(engine, build, None, tuple(reader.problems))
    sample = Sample(
        code=text.code.strip(),
        fill=reader.fill.name,
        build_h=build_h,
        oil_h=oil_h,
        taken_at=taken_at,
        drawn=str(_meant(DRAWN, text.drawn) or ""),
        before_top_up=_flag(text.before_top_up),
        instrument=text.instrument.strip(),
        break_in=text.break_in == "yes",
        notes=text.notes.strip(),
        readings=readings,
        hold=hold,
    )
    return FormRead(engine, build, sample, ())


def _flag(word: str) -> bool | None:
    meant = _meant(BEFORE_TOP_UP, word)
    return meant if isinstance(meant, bool) else None


def for_preview(text: FormText, readings: tuple[Reading, ...], fleet: Fleet) -> FormRead:
    """As `read_form`, but a sample that only lacks its code gets a stand-in, so that its call can be shown."""
    named = text if text.code.strip() else replace(text, code="(no code yet)")
    return read_form(named, readings, fleet)
