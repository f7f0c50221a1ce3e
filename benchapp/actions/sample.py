"""Verbs for samples: confirm, correct, void, assign, and the history of one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from benchapp.actions import naming
from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.actions.holds import is_from_check
from benchapp.benchfile import documents
from benchapp.benchfile.content import id_from
from benchapp.problems import BenchProblem
from benchapp.records import Build, Moment, Reading, Sample

if TYPE_CHECKING:
    from benchapp.benchfile.kinds import Content
    from benchapp.benchfile.write import Write


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """One step in the history of a sample: who did what when, and what it was before and after.

    `differences`: (what, before, after) in words, one per value that changed."""

    at: str
    who: str
    label: str
    differences: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Waiting:
    """A sample whose results are in the file but which no engine claims yet. `sample.fill` may be '' and
    `sample.build_h` 0 until it is assigned."""

    sample: Sample
    since: str


def confirm(bench: Bench, engine: str, build: str, sample: Sample, *, correct: bool = False) -> Changed:
    """Writes the sample with its readings in one audited transaction.

    A sample of that code that is waiting for an engine is taken over (without readings in `sample`, its own are kept).
    One that an engine already has is a correction: only with `correct=True`, the earlier state stays in the history.
    Raises BenchProblem otherwise."""
    _check(bench.build(engine, build), sample, engine)
    build_id = bench.build_id(engine, build)
    document = id_from("sample", sample.code)
    owners = _owners(bench)
    label = f"Confirm sample {sample.code}"
    held = bench.file.get("sample", document)
    if held is not None and not held["void"] and held["build_id"] in owners:
        owner = owners[held["build_id"]]
        if owner != (engine, build):
            raise BenchProblem(
                f"Sample {sample.code} belongs to engine {owner[0]}, build {owner[1]}.",
                "Nothing was changed.",
                "If it was put on the wrong engine, move it there (Assign); else give this sample its own code.",
            )
        if not correct:
            raise BenchProblem(
                f"Engine {engine} has a sample {sample.code} already.",
                "Nothing was changed.",
                "Correct that one (the earlier values stay in its history), or give this sample its own code.",
            )
        label = f"Correct sample {sample.code}"

    def body(write: Write) -> None:
        content = documents.of_sample(sample, build_id)
        before = write.get("sample", document)
        if is_from_check(sample.hold):  # follows from the check runs: what a person typed is kept, nothing else
            content["hold"] = before["hold"] if before is not None and not before["void"] else ""
        if before is not None and not before["void"] and before["build_id"] is None and not sample.readings:
            content["rows"] = before["rows"]
        write.put("sample", document, content)

    return bench.do(label, body, {engine})


def _owners(bench: Bench) -> dict[str, tuple[str, str]]:
    """Build id -> (engine, build) of what is not void."""
    names = {id_: name for name, id_ in bench.file.engine_ids().items()}
    return {
        build_id: (names[content["engine_id"]], content["number"])
        for build_id, content in bench.file.find("build")
        if content["engine_id"] in names
    }


def _check(build: Build, sample: Sample, engine: str) -> None:
    naming.need(sample.code, "sample")
    if not sample.fill or all(fill.name != sample.fill for fill in build.fills):
        have = ", ".join(fill.name for fill in build.fills) or "none yet"
        raise BenchProblem(
            f"Build {build.number} of engine {engine} has no fill {sample.fill!r} (fills: {have}).",
            "Nothing was written.",
            "Choose the fill that the sample was drawn from, or add the fill first.",
        )
    check_readings(sample.readings, sample.code)


def check_readings(readings: Iterable[Reading], code: str) -> None:
    """Raises BenchProblem for two readings of one measurand that are no replicates."""
    seen: set[tuple[str, int]] = set()
    for reading in readings:
        key = (reading.measurand, reading.replicate)
        if key in seen:
            raise BenchProblem(
                f"Sample {code} has two readings of {reading.measurand} (replicate {reading.replicate}).",
                "Nothing was written.",
                "Mark them as replicates, or keep one of them.",
            )
        seen.add(key)


def void(bench: Bench, code: str, reason: str) -> Changed:
    """Hides a sample (it stays in the file with the reason); undo brings it back."""
    document, content = _held(bench, code)
    owner = _owners(bench).get(content["build_id"] or "")

    def body(write: Write) -> None:
        write.void("sample", document, reason)

    return bench.do(f"Withdraw sample {code}", body, {owner[0]} if owner else ())


def _held(bench: Bench, code: str) -> tuple[str, Content]:
    document = id_from("sample", code)
    content = bench.file.get("sample", document)
    if content is None or content["void"]:
        raise naming.unknown("sample", code)
    return document, content


def assign(
    bench: Bench,
    code: str,
    engine: str,
    build: str,
    *,
    fill: str,
    build_h: float,
    oil_h: float | None = None,
    taken_at: Moment | None = None,
    drawn: str = "",
    before_top_up: bool | None = None,
    break_in: bool = False,
    notes: str = "",
) -> Changed:
    """Gives a waiting sample its engine (or moves a sample that was put on the wrong one). Readings stay."""
    document, held = _held(bench, code)
    owner = _owners(bench).get(held["build_id"] or "")
    build_id = bench.build_id(engine, build)
    sample = Sample(code, fill, build_h, oil_h, taken_at, drawn, before_top_up, held["instrument"], break_in, notes)
    _check(bench.build(engine, build), sample, engine)

    def body(write: Write) -> None:
        content = documents.of_sample(sample, build_id)
        kept = {"rows": held["rows"], "hold": held["hold"], "notes": notes or held["notes"]}
        kept["taken_at"] = content["taken_at"] or held["taken_at"]
        write.put("sample", document, {**content, **kept})

    return bench.do(f"Give sample {code} to engine {engine}", body, {engine, *(owner[:1] if owner else ())})


def waiting(bench: Bench) -> tuple[Waiting, ...]:
    """Samples waiting for an engine, oldest first."""
    return tuple(Waiting(sample, since) for sample, since in bench.file.waiting())


def hold(bench: Bench, code: str, reason: str) -> Changed:
    """Holds a sample's results (`reason`), or frees them (`reason=""`)."""
    document, content = _held(bench, code)
    owner = _owners(bench).get(content["build_id"] or "")

    def body(write: Write) -> None:
        write.put("sample", document, {**content, "hold": reason})

    return bench.do(f"{'Hold' if reason else 'Free'} sample {code}", body, {owner[0]} if owner else ())


def codes(bench: Bench) -> Mapping[str, tuple[str, str]]:
    """Sample code -> (engine, build); ('', '') for a sample that is waiting."""
    out = {line.sample.code: ("", "") for line in waiting(bench)}
    for engine in bench.fleet().engines:
        for build in engine.builds:
            out.update({sample.code: (engine.name, build.number) for sample in build.samples})
    return out


# --- history


def history(bench: Bench, code: str) -> tuple[HistoryLine, ...]:
    """Who entered, corrected, voided the sample, oldest first, with before and after."""
    owners = _owners(bench)
    return tuple(
        HistoryLine(past.at, past.who, past.label, _differences(past.before, past.after, owners))
        for past in bench.file.past(id_from("sample", code))
    )


_WORDS = {
    "void": "withdrawn",
    "build_id": "engine",
    "build_h": "build hours",
    "oil_h": "oil hours",
    "taken_at": "taken",
    "before_top_up": "before top-up",
    "break_in": "break-in sample",
}


def _differences(
    before: Content, after: Content, owners: Mapping[str, tuple[str, str]]
) -> tuple[tuple[str, str, str], ...]:
    out = []
    for name, value in after.items():
        if name in ("rows", "code"):
            continue
        was, now = _said(name, before.get(name), owners), _said(name, value, owners)
        if was != now:
            out.append((_WORDS.get(name, name), was, now))
    readings = (_reading_words(before.get("rows", ())), _reading_words(after.get("rows", ())))
    for key in [*readings[1], *(key for key in readings[0] if key not in readings[1])]:
        pair = readings[0].get(key, ""), readings[1].get(key, "")
        if pair[0] != pair[1]:
            out.append((key, *pair))
    return tuple(out)


def _said(name: str, value: Any, owners: Mapping[str, tuple[str, str]]) -> str:
    if name == "build_id":
        if value is None:
            return ""
        engine, build = owners.get(value, ("withdrawn engine", "?"))
        return f"{engine}, build {build}"
    if name in ("before_top_up", "break_in"):
        return {None: "", 0: "no", 1: "yes"}[value]
    if isinstance(value, float):
        return f"{value:g}"
    return "" if value is None else str(value)


def _reading_words(rows: Iterable[Any]) -> dict[str, str]:
    out = {}
    for measurand, value, unit, qualifier, replicate, mark in rows:
        number = "not detected" if value is None else f"{qualifier}{value:g} {unit}".strip()
        out[measurand if replicate == 1 else f"{measurand} ({replicate})"] = f"{number} {mark}".strip()
    return out


def as_waiting(sample: Sample) -> Sample:
    """A sample without its place in an engine."""
    return replace(sample, fill="", build_h=0.0)
