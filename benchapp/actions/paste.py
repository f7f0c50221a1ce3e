"""Verbs for pasted result tables."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from benchapp.actions import naming
from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.actions.instrument import users
from benchapp.actions.sample import codes
from benchapp.benchfile import documents
from benchapp.benchfile.content import id_from
from benchapp.benchfile.read import no_collecting
from benchapp.problems import BenchProblem
from benchapp.records import CheckRun, Standard

if TYPE_CHECKING:
    from benchapp.benchfile.kinds import Content
    from benchapp.benchfile.write import Write
    from benchapp.intake.mapping import PasteMapping
    from benchapp.intake.paste import PasteResult, Problem, SampleFacts, TakenReading


_NO_STANDARDS: Mapping[str, Standard] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Taken:
    """What a paste did. `samples`: codes that got readings; `waiting`: those of them that wait for an engine."""

    changed: Changed
    samples: tuple[str, ...]
    waiting: tuple[str, ...]
    readings: int
    check_runs: int
    checks_left: tuple[str, ...] = ()
    """Check, blank and calibration rows that were recognised and not taken, each with why."""


def conflicts(
    bench: Bench, result: PasteResult, engine: str | None = None, instrument: str | None = None
) -> tuple[Problem, ...]:
    """What in the table disagrees with the bench file: another value there already, another engine's sample, elements
    of another instrument. In the form of the table's own problems."""
    if engine:
        bench.engine(engine)
    return _conflicts(bench, result, _ids(result), codes(bench), engine, instrument)


def _conflicts(
    bench: Bench,
    result: PasteResult,
    ids: Mapping[str, str],
    where: Mapping[str, tuple[str, str]],
    engine: str | None,
    instrument: str | None,
) -> tuple[Problem, ...]:
    from benchapp.intake.paste import Problem

    found = bench.file.get_all("sample", ids.values())
    held = {content["code"]: content for content in found.values() if not content["void"]}
    instruments = _instruments(result, instrument)
    passed = {*_measured_again(bench, result), *_standards_in(result, bench.fleet().standards)}
    asked = {code for code in instruments if code in held or (engine and code in where)} - passed
    out = []
    for reading in result.taken if asked else ():
        if reading.sample not in asked:
            continue
        why = _disagrees(bench, reading, where, held.get(reading.sample), engine, instruments[reading.sample])
        if why:
            cell = "" if reading.value is None else f"{reading.qualifier}{reading.value:g}"
            out.append(Problem(reading.row, reading.measurand, reading.column, cell, why))
    return tuple(out)


def _ids(result: PasteResult) -> dict[str, str]:
    """Sample code of the table -> id of its document, in the order of the table."""
    return {code: id_from("sample", code) for code in dict.fromkeys(reading.sample for reading in result.taken)}


def _measured_again(bench: Bench, result: PasteResult) -> frozenset[str]:
    """Held samples that the export says were measured again, after a good check: these values take the others' place,
    which stay in the sample's history."""
    from dataclasses import replace

    from benchapp.actions import holds

    fleet = bench.fleet()
    at = {fact.sample: fact.measured_at for fact in result.facts if fact.measured_at is not None}
    if not at:
        return frozenset()
    places = {s.code: s for engine in fleet.engines for build in engine.builds for s in build.samples if s.code in at}
    out = set()
    for code, sample in places.items():
        last = fleet.measured.get(code, sample.taken_at)
        if holds.is_from_check(sample.hold) and (last is None or at[code] > last):
            then = replace(fleet, measured={**fleet.measured, code: at[code]})
            if not holds.hold_of(then, replace(sample, hold="")):
                out.add(code)
    return frozenset(out)


def _instruments(result: PasteResult, instrument: str | None) -> dict[str, str]:
    """Sample -> the instrument its readings are from: the one named, else what the export says."""
    said = {fact.sample: fact.instrument for fact in result.facts}
    codes_ = dict.fromkeys(reading.sample for reading in result.taken)
    return {code: instrument or said.get(code, "") for code in codes_}


def _disagrees(
    bench: Bench,
    reading: TakenReading,
    where: Any,
    held: Content | None,
    engine: str | None,
    instrument: str,
) -> str:
    owner = where.get(reading.sample, ("", ""))[0]
    if engine and owner and owner != engine:
        return f"sample {reading.sample} belongs to engine {owner}, not {engine}"
    if held is None:
        return ""
    for measurand, value, unit, qualifier, replicate, _ in held["rows"]:
        if (measurand, replicate) == (reading.measurand, reading.replicate):
            if (value, qualifier) == (reading.value, reading.qualifier):
                return ""
            has = "not detected" if value is None else f"{qualifier}{value:g} {unit}".strip()
            return f"sample {reading.sample} has {measurand} {has} already; correct it in sample entry"
    other = held["instrument"]
    if instrument and other and other != instrument and reading.measurand in bench.library.elements:
        return f"sample {reading.sample} was read on {other}; elements of {instrument} cannot join it"
    return ""


def take(
    bench: Bench,
    result: PasteResult,
    engine: str | None = None,
    instrument: str | None = None,
    take_the_rest: bool = False,
) -> Taken:
    """Takes a paste's readings into the file in one transaction and remembers its mapping for the instrument.

    A table with problems is refused (BenchProblem) unless `take_the_rest`. Readings of a sample that the file knows go
    to it; unknown codes wait for an engine. `engine`: a code that belongs to another engine is a problem. A measurand
    the sample already has with another value is a problem, never overwritten in silence (correct it in sample entry).
    Taking the same table twice changes nothing."""
    if engine:
        bench.engine(engine)
    ids, where = _ids(result), codes(bench)
    against = _conflicts(bench, result, ids, where, engine, instrument)
    problems = (*result.problems, *against)
    if problems and not take_the_rest:
        raise refused(problems)
    barred = {(problem.row, problem.column_number, problem.column) for problem in against}
    standards = bench.fleet().standards
    of_standards = _standards_in(result, standards)
    readings: Iterable[TakenReading] = result.taken
    if barred or of_standards:
        readings = [
            r for r in result.taken if (r.row, r.column, r.measurand) not in barred and r.sample not in of_standards
        ]
    found = list(_checks(result, instrument, standards))
    checks = tuple(run for run, _ in found if run is not None)
    again = _measured_again(bench, result)
    if not readings and not checks:
        raise BenchProblem(
            "There is no reading to take in this table.", "Nothing was written.", "Look at what was left out, and why."
        )
    grouped: dict[str, list[TakenReading]] = {}
    for reading in readings:
        grouped.setdefault(reading.sample, []).append(reading)
    for code in grouped:
        naming.need(code, "sample")
    number = sum(map(len, grouped.values()))
    instruments, facts = _instruments(result, instrument), {fact.sample: fact for fact in result.facts}

    @no_collecting()
    def body(write: Write) -> None:
        held = write.get_all("sample", [ids[code] for code in grouped])
        write.put_all("sample", {
            ids[code]: _with_readings(
                held.get(ids[code]), code, listed, instruments.get(code, ""), facts.get(code), code in again
            )
            for code, listed in grouped.items()
        })  # fmt: skip
        write.put_all("measurement", _measurements(facts[code] for code in grouped if code in facts))
        runs = [documents.of_check_run(run) for run in checks]
        write.put_all("check_run", {id_from("check_run", *content.values()): content for content in runs})
        if instrument:
            _remember(write, instrument, result.mapping)

    engines = {where[code][0] for code in grouped if where.get(code, ("",))[0]}
    for name in {run.instrument for run in checks}:
        engines |= users(bench, name)
    changed = bench.do(_label(number, tuple(grouped), checks), body, engines)
    waits = tuple(code for code in grouped if not where.get(code, ("", ""))[0])
    return Taken(changed, tuple(grouped), waits, number, len(checks), _left(found))


def _label(readings: int, codes_: tuple[str, ...], checks: tuple[CheckRun, ...]) -> str:
    taken = f"Take {readings} reading{'s' if readings != 1 else ''} of {_few(codes_)}" if readings else ""
    runs = f"{len(checks)} check reading{'s' if len(checks) != 1 else ''}" if checks else ""
    if taken and runs:
        return f"{taken} and {runs}"
    return taken or f"Take {runs} of {', '.join(sorted({run.instrument for run in checks}))}"


def _few(names: tuple[str, ...]) -> str:
    return f"sample {names[0]}" if len(names) == 1 else f"{len(names)} samples"


def refused(problems: Iterable[Problem]) -> BenchProblem:
    """The sentence for a table with problems: the first three, and how many more."""
    listed = list(problems)
    first = "; ".join(
        f"row {p.row}{f', {p.column}' if p.column else ''}{f' ({p.cell[:40]!r})' if p.cell else ''}: {p.reason}"
        for p in listed[:3]
    )
    more = f"; and {len(listed) - 3} more" if len(listed) > 3 else ""
    return BenchProblem(
        f"{len(listed)} cell{'s' if len(listed) != 1 else ''} of this table cannot be taken: {first}{more}.",
        "Nothing was written.",
        "Fix these cells in place, or take the rest without them.",
    )


def _measurements(facts: Iterable[SampleFacts]) -> dict[str, Content]:
    """When the export says samples were measured: a check after that moment tells whether a result stands."""
    found = [(fact.sample, documents.moment_text(fact.measured_at)) for fact in facts if fact.measured_at is not None]
    return {id_from("measurement", code, at): {"sample": code, "measured_at": at} for code, at in found}


def _with_readings(
    content: Content | None,
    code: str,
    readings: list[TakenReading],
    instrument: str,
    facts: SampleFacts | None,
    again: bool = False,
) -> Content:
    """The sample's document (None: there is none) with these readings in it."""
    if content is None or content["void"]:
        content = {"code": code, "build_id": None, "break_in": 0, "rows": [], **_facts(facts)}
    rows = {(row[0], row[4]): list(row) for row in content["rows"]}
    for r in readings:
        row = [r.measurand, r.value, r.unit, r.qualifier or "", r.replicate, r.mark]
        if again:
            rows[r.measurand, r.replicate] = row
        else:
            rows.setdefault((r.measurand, r.replicate), row)
    content = {**content, "rows": documents.ordered(rows.values())}
    if instrument and not content.get("instrument"):
        content["instrument"] = instrument
    return content


def _facts(facts: SampleFacts | None) -> Content:
    """What the export says about a sample that waits for its engine; the engine it names is kept as a note."""
    if facts is None:
        return {}
    notes = "; ".join(text for text in (facts.note, facts.engine and f"export says engine {facts.engine}") if text)
    return {
        "taken_at": documents.moment_text(facts.taken_at),
        "build_h": facts.build_h,
        "oil_h": facts.oil_h,
        "notes": notes,
    }


def check_runs(
    result: PasteResult, instrument: str | None = None, standards: Mapping[str, Standard] = _NO_STANDARDS
) -> tuple[CheckRun, ...]:
    """The check and blank rows of an export as check runs: those in ppm whose expected value is known, from the label
    ("Check 50 ppm") or from a standard of the bench file whose name or lot the label is. A sample row with the name of
    such a standard is a check run too. A run without a time is put on today's date."""
    return tuple(run for run, _ in _checks(result, instrument, standards) if run is not None)


def checks_left(
    result: PasteResult, instrument: str | None = None, standards: Mapping[str, Standard] = _NO_STANDARDS
) -> tuple[str, ...]:
    """Why the check rows that are not taken are not: one sentence a row and reason."""
    return _left(_checks(result, instrument, standards))


def _left(found: Iterable[tuple[CheckRun | None, str]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(why for run, why in found if run is None))


def _checks(
    result: PasteResult, instrument: str | None, standards: Mapping[str, Standard]
) -> Iterator[tuple[CheckRun | None, str]]:
    """(check run, '') or (None, why not) for every reading of a check row."""
    today = dt.datetime.combine(dt.date.today(), dt.time())  # noqa: DTZ011  records keep the person's own local time
    for run in result.check_runs:
        standard = _standard_of(run.label, standards)
        if run.kind == "calibration" and standard is None:
            yield None, f"Row {run.row} ({run.label}): a calibration is no check."
            continue
        expected = standard.ppm.get(run.measurand) if standard else run.expected
        if expected is None and (run.kind == "blank" or (standard and standard.kind == "blank")):
            expected = 0.0
        name, label = instrument or run.instrument, standard.name if standard else run.label
        why = _why_not(run.row, run.label, run.unit, expected, None if run.qualifier else run.value, name)
        yield (
            (None, why)
            if why
            else (CheckRun(name, run.run_at or today, label, run.measurand, expected or 0.0, run.value or 0.0), "")
        )
    facts = {fact.sample: fact for fact in result.facts}
    of_standards = _standards_in(result, standards)
    for reading in result.taken if of_standards else ():
        standard = of_standards.get(reading.sample)
        if standard is None:
            continue
        fact = facts.get(reading.sample)
        expected = standard.ppm.get(reading.measurand, 0.0 if standard.kind == "blank" else None)
        name = instrument or (fact.instrument if fact else "")
        value = None if reading.qualifier else reading.value
        why = _why_not(reading.row, reading.sample, reading.unit, expected, value, name)
        at = (fact.measured_at or fact.taken_at if fact else None) or today
        yield (
            (None, why)
            if why
            else (CheckRun(name, at, standard.name, reading.measurand, expected or 0.0, value or 0.0), "")
        )


def _why_not(row: int, label: str, unit: str, expected: float | None, value: float | None, instrument: str) -> str:
    """Why a check reading cannot be taken, or ''."""
    if not instrument:
        return f"Row {row} ({label}): say which instrument the table is from."
    if unit != "ppm":
        return f"Row {row} ({label}): only check readings in ppm are taken."
    if value is None:
        return f"Row {row} ({label}): what was not detected tells nothing of the instrument's scatter."
    if expected is None:
        return f"Row {row} ({label}): its certified value is not known. Enter the standard in Bench checks first."
    return ""


def _standard_of(label: str, standards: Mapping[str, Standard]) -> Standard | None:
    """The standard of that name or lot, or None."""
    wanted = " ".join(label.split()).casefold()
    for standard in standards.values():
        if wanted and wanted in (standard.name.casefold(), standard.lot.casefold()):
            return standard
    return None


def _standards_in(result: PasteResult, standards: Mapping[str, Standard]) -> dict[str, Standard]:
    """Sample code of the table -> the standard that it names; most name none."""
    if not standards:
        return {}
    found = {code: _standard_of(code, standards) for code in {reading.sample for reading in result.taken}}
    return {code: standard for code, standard in found.items() if standard is not None}


def _remember(write: Write, instrument: str, mapping: PasteMapping) -> None:
    found = write.find("paste_mapping", name=instrument)
    document = found[0][0] if found else naming.free_id(write, "paste_mapping", instrument)
    write.put("paste_mapping", document, {"name": instrument, "mapping": mapping.to_json()})


def mapping_for(bench: Bench, instrument: str) -> PasteMapping | None:
    """The mapping last used for this instrument, or None."""
    from benchapp.intake.mapping import PasteMapping

    found = bench.file.find("paste_mapping", name=instrument)
    return PasteMapping.from_json(found[0][1]["mapping"]) if found else None
