"""Stand-ins for window tests: a small invented fleet, made-up calls, a bench without a file, an Ask that answers.

Every engine, oil and number here is invented. The calls are made up too: they test how a call is shown, not how it is
judged. Tests of whole flows use a real bench file (the fixture `bench`)."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from types import MappingProxyType

from benchapp.actions.changed import Changed
from benchapp.records import (
    Build,
    Call,
    ElementRate,
    Engine,
    Family,
    Fill,
    Fleet,
    LedgerLine,
    Oil,
    Part,
    Reading,
    Reason,
    Run,
    Sample,
    SourceRate,
)

DAY = dt.datetime(2026, 4, 3, 9, 0)
PARTS = (
    Part("bore", "grey_iron_cylinder", "bore"),
    Part("main bearing overlay", "overlay_pb_sn", "main bearing overlay"),
)


def sample(code: str, hours: float, iron: float, lead: float, fill: str = "1") -> Sample:
    """A sample with iron and lead [ppm] at `hours` [h]."""
    readings = (Reading("Fe", iron), Reading("Pb", lead), Reading("Cu", None, qualifier="<"))
    return Sample(code, fill, hours, hours, DAY + dt.timedelta(days=hours), "hot", True, "", readings=readings)


def engine(name: str, hours: float = 12.0, samples: int = 3) -> Engine:
    """An invented engine with one build, one fill and evenly spaced samples."""
    at = [hours * (n + 1) / samples for n in range(samples)]
    made = tuple(sample(f"{name}-{n + 1:02d}", h, 4.0 + h, 1.0 + h / 4) for n, h in enumerate(at))
    runs = (Run("practice", hours, DAY),)
    fills = (Fill("1", "Example race oil", 0.0, 6.0, DAY, "none", True),)
    build = Build("1", PARTS, 6.0, DAY, fills=fills, runs=runs, samples=made)
    return Engine(name, "Example family", f"car of {name}", builds=(build,))


def fleet(count: int = 4) -> Fleet:
    """`count` invented engines, the last one without samples."""
    engines = [engine(f"E{n + 1:03d}", 4.0 + 3.5 * (n % 11), 1 + n % 4) for n in range(count)]
    if count > 1:
        engines[-1] = engine(engines[-1].name, 0.0, 1)
        bare = Build("1", PARTS, 6.0)
        engines[-1] = Engine(engines[-1].name, "Example family", "", builds=(bare,))
    family = Family("Example family", "four in line", 6.0, PARTS)
    oil = Oil("Example race oil", "race", "10W-40", fresh_ppm=MappingProxyType({"Zn": 1200.0, "Ca": 1800.0}))
    return Fleet(tuple(engines), {family.name: family}, {}, {oil.name: oil})


REASON = Reason(
    "main bearing overlay",
    ("main bearing overlay",),
    "rate",
    "Lead is coming off the main bearing overlay about three times as fast as before.",
    0.97,
    "Drop one main bearing cap; look for a polished or flaking surface.",
    "A second sample after two hours at the old rate.",
)


def call(engine: Engine, which: Sample, word: str = "Run", share: float = 0.4) -> Call:
    """A made-up call for one sample."""
    return Call(
        rule_version="made up",
        engine=engine.name,
        build="1",
        sample=which.code,
        build_h=which.build_h,
        taken_at=which.taken_at,
        call=word,
        sentence=f"{word}: a made-up call.",
        next_sample_h=4.0,
        basis="family",
        history="2 samples of history, no break-in sample",
        history_samples=2,
        severity=1.1,
        reasons=() if word == "Run" else (REASON,),
        sources=(SourceRate("main bearing overlay", ("main bearing overlay",), 3.1, 2.2, 4.1, 0.8),),
        elements=(ElementRate("Pb", 4.0, "", 2.0, 0.3, 10.0, 0.1),),
        ledger=(LedgerLine("main bearing overlay", ("main bearing overlay",), 40.0, 30.0, 52.0, 3.0, 2.2, 4.0, 20.0),),
        unknowns=("sump mass is taken from the family",),
        before_out=("Drop one main bearing cap.",) if word != "Run" else (),
        ceiling_share=share,
        ceiling_element="Pb",
        direction="rising" if word != "Run" else "steady",
    )


WORDS = ("Run", "Short stint", "Look inside", "Park")


class FakeDrafts:
    """Where drafts go: a dictionary."""

    def __init__(self) -> None:
        self.held: dict[str, str] = {}

    def draft(self, key: str) -> str | None:
        return self.held.get(key)

    def keep_draft(self, key: str, text: str) -> None:
        self.held[key] = text

    def drop_draft(self, key: str) -> None:
        self.held.pop(key, None)

    def waiting(self) -> tuple:
        return ()

    def draft_names(self) -> tuple[str, ...]:
        return tuple(reversed(self.held))


class FakeBench:
    """The face of `actions.bench.Bench` on a fleet in memory. Calls come from `call`, one word an engine."""

    def __init__(self, fleet: Fleet, path: str = "invented.bench") -> None:
        self.path = Path(path)
        self.who = "someone"
        self.read_only, self.why_read_only, self.notices = False, "", ()
        self.damaged = False
        self.undo_label = self.redo_label = ""
        self._fleet = fleet
        self._listeners: list = []
        self.closed = False
        self.file = FakeDrafts()

    def fleet(self) -> Fleet:
        return self._fleet

    def set_fleet(self, fleet: Fleet, changed: Changed) -> None:
        """Another fleet, told as a change."""
        self._fleet = fleet
        for listener in tuple(self._listeners):
            listener(changed)

    def families(self):
        return self._fleet.families

    def materials(self):
        return self._fleet.materials

    def engine(self, name: str) -> Engine:
        return next(engine for engine in self._fleet.engines if engine.name == name)

    def build(self, engine: str, number: str) -> Build:
        return next(build for build in self.engine(engine).builds if build.number == number)

    def current_build(self, engine: str) -> Build | None:
        builds = self.engine(engine).builds
        return builds[-1] if builds else None

    def find_sample(self, code: str):
        for engine in self._fleet.engines:
            for build in engine.builds:
                for sample in build.samples:
                    if sample.code == code:
                        return engine, build, sample
        raise KeyError(code)

    def calls(self) -> tuple[Call, ...]:
        return tuple(calls[-1] for calls in map(self.calls_of, (e.name for e in self._fleet.engines)) if calls)

    def calls_of(self, engine: str) -> tuple[Call, ...]:
        found = self.engine(engine)
        place = [e.name for e in self._fleet.engines].index(engine)
        word = WORDS[place % 4]
        samples = [sample for build in found.builds for sample in build.samples]
        return tuple(call(found, s, word if s is samples[-1] else "Run", 0.2 + (place * 7 % 13) / 10) for s in samples)

    def call_of(self, code: str) -> Call | None:
        engine, _, _ = self.find_sample(code)
        return next((c for c in self.calls_of(engine.name) if c.sample == code), None)

    def engines_to_judge(self) -> frozenset[str]:
        return frozenset()

    def kept_calls(self) -> dict[str, Call | None]:
        return {}

    def judged_before(self, engines) -> dict[str, tuple[str, tuple[Call, ...]]]:
        return {}

    def take_calls(self, fleet, calls, engines) -> bool:
        return False

    def tell_now(self) -> None:
        """Nothing waits to be told."""

    def subscribe(self, listener):
        self._listeners.append(listener)
        return self._unsubscribe

    def _unsubscribe(self) -> None:
        self._listeners.clear()

    def close(self) -> None:
        self.closed = True


class FakeAsk:
    """Answers as it was told to and keeps what was asked. Forms are opened without a dialog loop, as in the window."""

    def __init__(self) -> None:
        self.path = ""
        self.agree = False
        self.answer = ""
        self.asked: list[tuple[str, ...]] = []
        self.shown: list = []

    def open_file(self, parent, title, kinds, folder="") -> str:
        self.asked.append(("open", title))
        return self.path

    def save_file(self, parent, title, kinds, suggested="") -> str:
        self.asked.append(("save", title, suggested))
        return self.path

    def folder(self, parent, title, start="") -> str:
        self.asked.append(("folder", title))
        return self.path

    def confirm(self, parent, what, means, yes, no="Back") -> bool:
        self.asked.append(("confirm", what, means, yes))
        return self.agree

    def choose(self, parent, what, means, answers) -> str:
        self.asked.append(("choose", what, means, *answers))
        return self.answer

    def show(self, dialog) -> None:
        self.shown.append(dialog)
        dialog.open()
