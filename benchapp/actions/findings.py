"""How good were our calls: what was seen when someone looked inside, held against the call that asked for it.

Each finding belongs to a sample: the one it names, else the last one before it of the same build. All findings of one
sample together say whether its call was right, needless or missed. The calls are those made with only what was known
then, so that no later reading makes an old call look wiser. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from benchapp.records import Build, Call, Engine, Finding, Fleet, Reason, Sample

ORIGINS = ("dust", "coolant")
"""What is no part and can be looked for inside all the same: a call may name it, so may a finding."""

NO_WAY_IN, WAY_IN = "no way in found", "a way in found"
_WAYS = {"as new": NO_WAY_IN, "worn as expected": NO_WAY_IN, "worn out": WAY_IN, "damaged": WAY_IN}

BAD = frozenset({"worn out", "damaged"})
"""Conditions that a call should have asked to look for."""

ASKING = frozenset({"Look inside", "Park"})
"""Calls that ask for a look."""

RIGHT, OTHER, NEEDLESS, MISSED, LEFT_ALONE, OPEN = (
    "right",
    "right, another part",
    "needless",
    "missed",
    "rightly left alone",
    "not looked at",
)
OUTCOMES = (RIGHT, OTHER, NEEDLESS, MISSED, LEFT_ALONE, OPEN)
MEANS = {
    RIGHT: "It asked for a look, and a part it named was worn out or damaged.",
    OTHER: "It asked for a look, and another part than it named was worn out or damaged.",
    NEEDLESS: "It asked for a look, and what it named was sound.",
    MISSED: "It did not ask for a look, and something was worn out or damaged. No oil sample shows every fault.",
    LEFT_ALONE: "It did not ask for a look, and what was looked at was sound.",
    OPEN: "It asked for a look, but what it named was not looked at.",
}


def of_origin(part: str) -> bool:
    """Whether a finding's `part` is dust or coolant."""
    return part.strip().casefold() in ORIGINS


def condition_words(seen: Finding) -> str:
    """Its condition in words: dust and coolant do not wear, they get in or they do not."""
    return _WAYS.get(seen.condition, seen.condition) if of_origin(seen.part) else seen.condition


def words(seen: Finding) -> str:
    """What was looked at and how it was: "crank: as new", "dust: a way in found"."""
    return f"{seen.part}: {condition_words(seen)}"


@dataclass(frozen=True, slots=True)
class Judged:
    """One call held against what was seen."""

    family: str
    engine: str
    build: str
    sample: str
    build_h: float
    call: str
    named: tuple[str, ...]
    """Parts that the call named, and dust or coolant where it named that."""
    seen: tuple[str, ...]
    """What was seen, part by part, in words."""
    outcome: str


@dataclass(frozen=True, slots=True)
class FamilyScore:
    """How often the calls of one family had which outcome ('' as family: all of them)."""

    family: str
    counts: Mapping[str, int]

    @property
    def total(self) -> int:
        return sum(self.counts.values())


@dataclass(frozen=True, slots=True)
class Record:
    """All calls that could be held against findings, newest last, and the families' scores."""

    judged: tuple[Judged, ...]
    families: tuple[FamilyScore, ...]
    without: int
    """Findings that no call stands before."""

    def sentence(self) -> str:
        """The record in a sentence."""
        asked = [one.outcome for one in self.judged if one.call in ASKING]
        if not self.judged:
            return "No call has been held against a finding yet."
        good = sum(outcome in (RIGHT, OTHER) for outcome in asked)
        missed = sum(one.outcome == MISSED for one in self.judged)
        said = "No call that asked for a look has a finding yet."
        if asked:
            said = f"Of {_many(len(asked), 'call')} that asked for a look, {good or 'none'} found something."
        rest = len(self.judged) - len(asked)
        more = f" Of {_many(rest, 'call')} that did not, {missed or 'none'} missed something."
        return said + more if rest else said


def _many(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def with_findings(fleet: Fleet) -> tuple[str, ...]:
    """Names of the engines that have a finding: whose calls are needed."""
    return tuple(engine.name for engine in fleet.engines if any(build.findings for build in engine.builds))


def record(fleet: Fleet, calls: Iterable[Call]) -> Record:
    """Holds calls (one a sample, made with what was known then) against the findings of the fleet."""
    by_sample = {call.sample: call for call in calls}
    judged: list[Judged] = []
    without = 0
    for engine in fleet.engines:
        for build in engine.builds:
            for sample, findings in _by_sample(build):
                call = by_sample.get(sample.code) if sample is not None else None
                if sample is None or call is None:
                    without += len(findings)
                else:
                    judged.append(_judged(engine, build, sample, call, findings))
    return Record(tuple(judged), _scores(judged), without)


def record_of(fleet: Fleet) -> Record:
    """As `record`, with the calls made here: some seconds of work, for a background thread."""
    from benchapp.actions import call

    engines = with_findings(fleet)
    return record(fleet, call.judge(fleet, engines, each=True) if engines else ())


def _by_sample(build: Build) -> list[tuple[Sample | None, list[Finding]]]:
    groups: dict[str, list[Finding]] = {}
    samples = {sample.code: sample for sample in build.samples}
    for each in build.findings:
        before = [sample.code for sample in build.samples if sample.build_h <= each.build_h]
        code = each.sample if each.sample in samples else (before[-1] if before else "")
        groups.setdefault(code, []).append(each)
    return [(samples.get(code), findings) for code, findings in groups.items()]


def _judged(engine: Engine, build: Build, sample: Sample, call: Call, findings: list[Finding]) -> Judged:
    # a suspicion names its parts; what a filter or a ceiling may point to counts where there is no suspicion
    told = [reason for reason in call.reasons if not reason.about] or call.reasons
    named = tuple(dict.fromkeys(name for reason in told for name in _named(reason)))
    seen = tuple(", ".join(filter(None, (words(each), each.measured, each.notes))) for each in findings)
    return Judged(
        engine.family, engine.name, build.number, sample.code, sample.build_h, call.call, named, seen,
        outcome(call.call, named, findings),
    )  # fmt: skip


def _named(reason: Reason) -> tuple[str, ...]:
    return reason.parts or ((reason.source,) if of_origin(reason.source) else ())


def outcome(call: str, named: Iterable[str], findings: Iterable[Finding]) -> str:
    """What the findings of one sample say of its call: one of OUTCOMES."""
    names = {name.casefold() for name in named}
    listed = list(findings)
    bad = [each for each in listed if each.condition in BAD]
    if call not in ASKING:
        return MISSED if bad else LEFT_ALONE
    if any(each.part.casefold() in names for each in bad):
        return RIGHT
    if bad:
        return OTHER
    return NEEDLESS if any(each.part.casefold() in names for each in listed) else OPEN


def _scores(judged: list[Judged]) -> tuple[FamilyScore, ...]:
    families = sorted({one.family for one in judged})
    scores = [FamilyScore(f, Counter(one.outcome for one in judged if one.family == f)) for f in families]
    whole = [FamilyScore("", Counter(one.outcome for one in judged))] if len(families) > 1 else []
    return (*scores, *whole)
