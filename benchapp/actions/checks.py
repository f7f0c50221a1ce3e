"""Bench checks: may I trust the instrument today? Verbs for standards, check runs and remeasured samples, and looks.

The looks take the fleet (immutable), so that a worker thread may ask them; nothing is written by them."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from benchapp.actions import holds, instrument, naming
from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.benchfile import documents
from benchapp.benchfile.content import id_from
from benchapp.problems import BenchProblem
from benchapp.records import CheckRun, Fleet, Instrument, Moment, NoiseLine, Sample, Standard

if TYPE_CHECKING:
    from benchapp.benchfile.write import Write
    from benchapp.checks.charts import Chart
    from benchapp.checks.compare import Comparison, Line
    from benchapp.checks.overview import InstrumentState, StandardCharts
    from benchapp.library import Library

GOOD, WATCH, DUE, FAILED, NONE = "good", "watch", "due", "failed", "none"
"""The five answers to the view's question, as keys of `WORDS`."""

WORDS = {
    GOOD: "Trust it",
    WATCH: "Trust it, but watch it",
    DUE: "Check first",
    FAILED: "Do not trust it",
    NONE: "Not known",
}
KIND_WORDS = {
    "rotating-disc": "rotating-disc spark",
    "icp": "ICP",
    "xrf": "XRF",
    "lab": "a lab's results",
    "": "kind not stated",
}

# --- verbs ------------------------------------------------------------------------------------------------------------


def add_runs(
    bench: Bench,
    name: str,
    run_at: Moment,
    standard: str,
    found: Mapping[str, float],
    expected: Mapping[str, float] | None = None,
) -> Changed:
    """Enters one check run: what was found per element [ppm]. `expected` stands for elements whose certified value the
    standard does not state. All elements or none."""
    naming.need(name, "instrument")
    naming.need(standard, "standard")
    known = bench.fleet().standards.get(standard)
    runs = []
    for element, ppm in found.items():
        value = certified(known, element)
        if value is None:
            value = (expected or {}).get(element)
        if value is None:
            raise BenchProblem(
                f"What {element} should read in {standard} is not known.",
                "Nothing was written.",
                "Type its certified value beside it, or enter the standard with its values.",
            )
        runs.append(CheckRun(name, run_at, standard, element, value, ppm))
    if not runs:
        raise BenchProblem(
            "No element was typed.", "Nothing was written.", "Type what the instrument found, element by element."
        )
    return instrument.add_check_runs(bench, runs)


def certified(standard: Standard | None, element: str) -> float | None:
    """The certified value of an element [ppm]; nothing in a blank; None where it is not known."""
    if standard is None:
        return None
    return standard.ppm.get(element, 0.0 if standard.kind == "blank" else None)


def put_standard(bench: Bench, name: str, standard: Standard) -> Changed:
    """Enters a check standard or blank, or (with the `name` it has) replaces it."""
    naming.need(standard.name, "standard")

    def body(write: Write) -> None:
        found = write.find("standard", name=name) if name else []
        if name and not found:
            raise naming.unknown("standard", name)
        if standard.name != name and write.find("standard", name=standard.name):
            raise naming.taken("standard", standard.name)
        document = found[0][0] if found else naming.free_id(write, "standard", standard.name)
        write.put("standard", document, documents.of_standard(standard))

    return bench.do(f"{'Edit' if name else 'Add'} standard {standard.name}", body)


def void_standard(bench: Bench, name: str, reason: str) -> Changed:
    """Hides a standard. Its check runs stay."""

    def body(write: Write) -> None:
        found = write.find("standard", name=name)
        if not found:
            raise naming.unknown("standard", name)
        write.void("standard", found[0][0], reason)

    return bench.do(f"Withdraw standard {name}", body)


def measured_again(bench: Bench, code: str, moment: Moment) -> Changed:
    """Says that a sample was measured (again) at a moment: a check before and after that moment then tells whether its
    result stands. Its readings are corrected in sample entry."""
    engine, _, sample = bench.find_sample(code)
    if sample.taken_at is not None and moment < sample.taken_at:
        raise BenchProblem(
            f"Sample {code} cannot have been measured before it was drawn ({sample.taken_at:%Y-%m-%d %H:%M}).",
            "Nothing was written.",
            "Look at the date.",
        )
    at = documents.moment_text(moment)

    def body(write: Write) -> None:
        write.put("measurement", id_from("measurement", code, at), {"sample": code, "measured_at": at})

    return bench.do(f"Sample {code} was measured again", body, {engine.name})


def take_pasted(bench: Bench, text: str, name: str) -> PastedChecks:
    """Takes the check and blank rows of a pasted results table into the file, for this instrument. Taking the same
    table twice changes nothing. Raises BenchProblem where the table holds no check run that can be taken."""
    from benchapp.actions import paste
    from benchapp.intake.paste import interpret
    from benchapp.intake.read import read_text

    result = interpret(read_text(text), paste.mapping_for(bench, name))
    standards = bench.fleet().standards
    runs = paste.check_runs(result, name, standards)
    left = paste.checks_left(result, name, standards)
    if not runs:
        raise BenchProblem(
            "There is no check run to take in this table." + (f" {left[0]}" if left else ""),
            "Nothing was written.",
            "A check row is labelled Check, QC, Blank or with the name or lot of a standard entered here. "
            "Or type the run (Check run).",
        )

    def body(write: Write) -> None:
        for run in runs:
            content = documents.of_check_run(run)
            write.put("check_run", id_from("check_run", *content.values()), content)

    label = f"Take {len(runs)} check reading{'s' if len(runs) != 1 else ''} of {name}"
    changed = bench.do(label, body, instrument.users(bench, name))
    samples = len({reading.sample for reading in result.taken} - {run.standard for run in runs})
    return PastedChecks(changed, len(runs), left, samples)


def pasted_words(taken: PastedChecks) -> tuple[str, str, str]:
    """What a paste of check runs did, what it means, what to do."""
    count = taken.readings
    what = f"{count} check reading{'s' if count != 1 else ''} {'were' if count != 1 else 'was'} taken."
    if not taken.changed.nouns:
        what = "These check readings are in the bench file already."
    means = " ".join(taken.left[:2]) + (f" And {len(taken.left) - 2} more." if len(taken.left) > 2 else "")
    do = ""
    if taken.samples:
        rows = f"{taken.samples} sample{'s' if taken.samples != 1 else ''}"
        do = f"The table also holds {rows}: paste it in sample entry (Ctrl+2) to take them."
    return what, means, do


def latest_chart(charts: Sequence[StandardCharts]) -> int:
    """Place of the charts of the standard that was run last; -1 for none."""
    return max(range(len(charts)), key=lambda place: charts[place].moments[-1], default=-1)


def fired_at(charts: StandardCharts, at: int) -> tuple[str, ...]:
    """What fired on one check run (index from 0) on any of its charts, in words, each once."""
    found = (fired.text for chart in charts.all for fired in chart.fired if fired.index == at)
    return tuple(f"{text[0].upper()}{text[1:]}." for text in dict.fromkeys(found))


@dataclass(frozen=True, slots=True)
class PastedChecks:
    """What a paste of check runs did. `left`: check rows not taken and why; `samples`: samples in the table, which
    belong into sample entry."""

    changed: Changed
    readings: int
    left: tuple[str, ...]
    samples: int


# --- looks ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Row:
    """One instrument as the list shows it. `state` is a key of WORDS, `why` the strongest reason in words."""

    name: str
    kind: str
    state: str
    why: str
    last_check: Moment | None
    held: int
    """Samples held because of this instrument."""

    @property
    def word(self) -> str:
        return WORDS[self.state]


@dataclass(frozen=True, slots=True)
class ElementLine:
    """One element on one instrument. Noise is sd(c) = sqrt(a² + (b·c)²), c in ppm; `start` is the published one."""

    element: str
    checks: int
    last: str
    """The last check in words: found, expected, how far off."""
    good: bool
    noise: NoiseLine
    start: NoiseLine
    repeatability_at: tuple[tuple[float, float], ...]
    """(level, r) [ppm]: two burns of one sample further apart than r are suspect."""
    decision_ppm: float | None
    detection_ppm: float | None
    limits_why: str
    """From what decision and detection limit come, or what is missing for them."""
    drift: str


@dataclass(frozen=True, slots=True)
class ApartRow:
    """A sample whose duplicates are further apart than they should be."""

    sample: str
    engine: str
    text: str


@dataclass(frozen=True, slots=True)
class HeldRow:
    """A sample that is held. `measured_at`: when it was measured, or drawn where that is not known."""

    sample: str
    engine: str
    measured_at: Moment | None
    why: str


@dataclass(frozen=True, slots=True)
class Look:
    """Everything that the view shows of one instrument."""

    row: Row
    instrument: Instrument
    due: str
    tolerance: str
    """The method's tolerance, its source and what is said against it."""
    warnings: tuple[str, ...]
    """Rules that fired on the last check runs and drifts, in words."""
    elements: tuple[ElementLine, ...]
    charts: tuple[StandardCharts, ...]
    held: tuple[HeldRow, ...]
    apart: tuple[ApartRow, ...]
    runs: tuple[CheckRun, ...]
    """Latest first."""


@dataclass(frozen=True, slots=True)
class ChartLine:
    """One line of a control chart as it is drawn: a value per check run against centre and limits (None: no such
    line), and what fired: (index of the run, in words)."""

    name: str
    values: tuple[float, ...]
    centre: float | None
    centre_name: str
    lower: float | None
    upper: float | None
    fired: tuple[tuple[int, str], ...]


CHART_WORDS = {
    "method": "Against the method's limits",
    "individuals": "Against its own scatter",
    "moving range": "Jumps from run to run",
    "ewma": "Slow drift (EWMA)",
    "cusum": "Lasting shift (CUSUM)",
}
"""The charts by key, as they are named to a person."""


def chart_lines(charts: StandardCharts, key: str) -> tuple[ChartLine, ...]:
    """The lines of one chart (a key of CHART_WORDS) of one element of one standard; () where there are too few runs."""
    match key:
        case "method":
            return (_line(charts.method, "certified"),)
        case "individuals":
            return (_line(charts.individuals, "centre"),)
        case "moving range":
            return () if charts.moving_range is None else (_line(charts.moving_range, "mean", floor=False),)
        case "ewma":
            return (_line(charts.ewma, "certified"),)
        case _:
            return tuple(_line(side, "", floor=False, middle=False) for side in (charts.cusum_high, charts.cusum_low))


def _line(chart: Chart, name: str, *, floor: bool = True, middle: bool = True) -> ChartLine:
    return ChartLine(
        chart.kind,
        chart.statistic,
        chart.centre if middle else None,
        name,
        chart.lower if floor else None,
        chart.upper,
        tuple((fired.index, fired.text) for fired in chart.fired),
    )


def instruments_of(fleet: Fleet) -> tuple[str, ...]:
    """Every instrument that is entered, or named by a sample or a check run, by name."""
    named = set(fleet.instruments) | {run.instrument for run in fleet.check_runs}
    named |= {s.instrument for engine in fleet.engines for build in engine.builds for s in build.samples}
    return tuple(sorted(named - {""}))


def standards_of(fleet: Fleet) -> tuple[str, ...]:
    """Every standard that is entered, or named by a check run, by name."""
    return tuple(sorted({*fleet.standards, *(run.standard for run in fleet.check_runs)} - {""}))


@dataclass(frozen=True, slots=True)
class StandardRow:
    """A standard or blank as the list shows it, in words."""

    name: str
    kind: str
    lot: str
    until: str
    certified: str


def standard_rows(fleet: Fleet, now: Moment) -> tuple[StandardRow, ...]:
    """The standards and blanks that are entered, or named by a check run, by name."""
    return tuple(_standard_row(fleet, name, now) for name in standards_of(fleet))


def _standard_row(fleet: Fleet, name: str, now: Moment) -> StandardRow:
    known = fleet.standards.get(name)
    if known is None:
        return StandardRow(name, "not entered yet", "", "", "Known by its check runs alone: Enter to enter it.")
    until = f"{known.expires_on:%Y-%m-%d}" if known.expires_on else ""
    if known.expires_on and known.expires_on.date() < now.date():
        until += ", past"
    values = ", ".join(f"{element} {ppm:g}" for element, ppm in known.ppm.items())
    kind = "blank" if known.kind == "blank" else "check standard"
    return StandardRow(name, kind, known.lot, until, f"{values} ppm" if values else "nothing")


def usual_standard(fleet: Fleet, name: str) -> str:
    """The standard last run on an instrument; else the only one there is; else ''."""
    own = [run for run in fleet.check_runs if run.instrument == name]
    if own:
        return max(own, key=lambda run: run.run_at).standard
    known = standards_of(fleet)
    return known[0] if len(known) == 1 else ""


def rows_to_type(fleet: Fleet, name: str, standard: str) -> tuple[tuple[str, float], ...]:
    """(element, certified value [ppm]) of a standard, ready to be typed beside: from the standard, a blank's by what
    the instrument reads; else from the standard's last check run."""
    known = fleet.standards.get(standard)
    if known is not None and known.ppm:
        return tuple(known.ppm.items())
    if known is not None and known.kind == "blank":
        reads = [each.element for each in fleet.instruments.get(name, Instrument(name)).elements]
        reads = reads or list(dict.fromkeys(run.element for run in fleet.check_runs if run.instrument == name))
        return tuple((element, 0.0) for element in reads)
    runs = [run for run in fleet.check_runs if run.standard == standard]
    return tuple({run.element: run.expected_ppm for run in sorted(runs, key=lambda run: run.run_at)}.items())


def rows(fleet: Fleet, library: Library, now: Moment) -> tuple[Row, ...]:
    """The instruments with their answer today, by name."""
    return tuple(_row(_state(fleet, library, name, now)[0], fleet, name, now) for name in instruments_of(fleet))


def describe(fleet: Fleet, library: Library, name: str, now: Moment) -> Look:
    """Everything about one instrument at the moment `now`."""
    state, known = _state(fleet, library, name, now)
    start = library.noise_for(known.kind)
    held, apart = _samples(fleet, name, {**start, **state.noise})
    runs = sorted((r for r in fleet.check_runs if r.instrument == name), key=lambda r: (r.run_at, r.element))
    done = [run for run in runs if run.run_at <= now]
    checked = LAB_DUE if known.kind == "lab" else state.due.text
    due = " ".join(text for text in (checked, _service(known, now)) if text)
    return Look(
        _row(state, fleet, name, now),
        known,
        due,
        state.tolerance.origin,
        tuple(text for text in dict.fromkeys(state.warnings) if text != state.due.text),
        tuple(_element(element, state, known, start, done) for element in _elements(known, state)),
        state.charts,
        held,
        apart,
        tuple(reversed(runs)),
    )


def _state(fleet: Fleet, library: Library, name: str, now: Moment) -> tuple[InstrumentState, Instrument]:
    from benchapp.checks.overview import instrument_state

    known = fleet.instruments.get(name, Instrument(name))
    state = instrument_state(fleet, known, library.noise_for(known.kind), now, fleet.measured)
    return replace(state, noise={**state.noise, **known.noise}), known


def _row(state: InstrumentState, fleet: Fleet, name: str, now: Moment) -> Row:
    known = fleet.instruments.get(name, Instrument(name))
    held = sum(
        1
        for engine in fleet.engines
        for build in engine.builds
        for sample in build.samples
        if sample.instrument == name and holds.is_from_check(sample.hold)
    )
    last = state.checks[-1].run_at if state.checks else None
    key, why = _answer(state, known, now)
    return Row(name, known.kind, key, why, last, held)


LAB_DUE = "A lab checks its own instrument. Send it your standard as one more bottle now and then."


def _answer(state: InstrumentState, known: Instrument, now: Moment) -> tuple[str, str]:
    latest = {check.standard: check for check in state.checks}
    failed = [check for check in latest.values() if not check.good]
    if failed:
        check = failed[-1]
        what = "; ".join(check.failed.values())
        return FAILED, f"{check.standard} failed on {check.run_at:%Y-%m-%d %H:%M}: {what}. Standardise, run it again."
    if not latest:
        return NONE, LAB_DUE if known.kind == "lab" else state.due.text
    service = _service(known, now)
    if state.due.due and known.kind != "lab":
        return DUE, state.due.text
    if service.startswith("Overdue"):
        return DUE, service
    fired = [text for text in state.warnings if text != state.due.text]
    if fired:
        return WATCH, fired[0]
    return GOOD, LAB_DUE if known.kind == "lab" else state.due.text


def _service(known: Instrument, now: Moment) -> str:
    """What is due by date, in words, or ''."""
    if known.due_on is None:
        return ""
    what = known.due_for or "Service"
    if known.due_on.date() < now.date():
        return f"Overdue: {what}, since {known.due_on:%Y-%m-%d}."
    return f"{what} is due on {known.due_on:%Y-%m-%d}."


def _elements(known: Instrument, state: InstrumentState) -> tuple[str, ...]:
    """Elements to show: those entered for the instrument, those checked, those whose noise was learned."""
    named = [each.element for each in known.elements]
    named += [chart.element for chart in state.charts] + list(known.noise)
    return tuple(dict.fromkeys(named))


LEVELS_PPM = (10.0, 50.0)
"""Levels at which the repeatability is stated [ppm]."""


def _element(
    element: str, state: InstrumentState, known: Instrument, start: Mapping[str, NoiseLine], runs: Iterable[CheckRun]
) -> ElementLine:
    from benchapp.checks.noise import repeatability_limit

    own = [run for run in runs if run.element == element]
    line = known.noise.get(element) or state.noise.get(element) or start[element]
    last, good = "not checked yet", True
    if own:
        run = own[-1]
        last = f"{shown(run.found_ppm)} for {run.expected_ppm:g} ppm, {off_words(run)}"
        good = state.tolerance.passes(run.expected_ppm, run.found_ppm, element)
    decision, detection, why = _limits(own)
    drift = next((d.text for d in state.drifts if d.element == element), "")
    return ElementLine(
        element,
        len(own),
        last,
        good,
        line,
        start.get(element, line),
        tuple((level, repeatability_limit(line, level)) for level in LEVELS_PPM),
        decision,
        detection,
        why,
        drift,
    )


def shown(ppm: float) -> str:
    """A reading as it is shown (one decimal below 10, whole above: ASTM D6595 reports so). Display only."""
    from benchapp.checks.noise import display

    return display(ppm)


def noise_words(line: ElementLine) -> str:
    """What is known of the noise of an element, in words: own against published, limits and drift."""
    own, start = line.noise, line.start
    sd = f"√({own.a_ppm:.2g}² + ({100 * own.b:.2g} % of it)²) ppm"
    said = [f"{line.element}: one reading scatters by {sd}. From: {own.origin}."]
    if own != start:
        said.append(f"It started from {start.a_ppm:.2g} ppm and {100 * start.b:.2g} %: {start.origin}.")
    said.append(f"Taken for not detected below {own.limit_ppm:.2g} ppm. {line.limits_why}")
    return "\n".join(said)


def is_own(line: ElementLine) -> str:
    """Where the noise comes from, in a word or two."""
    from benchapp.actions.noise import is_learned

    if line.noise == line.start:
        return "published"
    return "own runs" if is_learned(line.noise) else "entered"


def off_words(run: CheckRun) -> str:
    """How far a check run lies from its certified value, in words: percent of it, or ppm for a blank."""
    if run.expected_ppm > 0:
        return f"{100 * (run.found_ppm / run.expected_ppm - 1):+.1f} %"
    return f"{run.found_ppm - run.expected_ppm:+.2g} ppm"


def slope_words(line: Line) -> str:
    """A slope with its 90 % interval (normal, 1.645 standard errors)."""
    return f"{line.slope:.2f} ± {1.645 * line.slope_se:.2f}"


LOW_PPM = 10.0
"""Standards up to here tell decision and detection limits: above, scatter grows with the level (own choice) [ppm]."""


def _limits(runs: list[CheckRun]) -> tuple[float | None, float | None, str]:
    """Decision and detection limit [ppm] from the check runs of the lowest levels that carry a line, or why not."""
    from benchapp.checks.limits import detection_limits

    low = [run for run in runs if run.expected_ppm <= LOW_PPM]
    if len({run.expected_ppm for run in low}) < 2 or len(low) < 5:
        return (
            None,
            None,
            f"Run a blank and a low standard (to {LOW_PPM:g} ppm), five runs together: then limits follow.",
        )
    pairs = [(run.expected_ppm, run.found_ppm) for run in low]
    try:
        limits = detection_limits([x for x, _ in pairs], [y for _, y in pairs])
    except ValueError as error:
        return None, None, f"No limits: {error}."
    levels = " and ".join(f"{level:g}" for level in sorted({x for x, _ in pairs}))
    return limits.decision_ppm, limits.detection_ppm, f"From {len(pairs)} check runs at {levels} ppm, 99 % (EnvStats)."


def _samples(
    fleet: Fleet, name: str, noise: Mapping[str, NoiseLine]
) -> tuple[tuple[HeldRow, ...], tuple[ApartRow, ...]]:
    from benchapp.checks.noise import duplicates_apart

    held, apart = [], []
    for engine in fleet.engines:
        for build in engine.builds:
            for sample in build.samples:
                if sample.instrument != name:
                    continue
                if sample.hold:
                    when = fleet.measured.get(sample.code, sample.taken_at)
                    held.append(HeldRow(sample.code, engine.name, when, sample.hold))
                if any(reading.replicate > 1 for reading in sample.readings):
                    apart += [
                        ApartRow(sample.code, engine.name, found.text)
                        for found in duplicates_apart(sample.readings, noise)
                    ]
    held.sort(key=lambda row: (row.measured_at or dt.datetime.min, row.sample), reverse=True)  # noqa: DTZ901
    return tuple(held), tuple(apart)


def as_json(look: Look) -> dict[str, Any]:
    """What is known of an instrument, as plain values for other programs."""
    last = look.row.last_check
    return {
        "instrument": look.row.name,
        "kind": look.row.kind,
        "answer": look.row.word,
        "why": look.row.why,
        "last_check": last.isoformat() if last else None,
        "warnings": list(look.warnings),
        "held": [{"sample": row.sample, "engine": row.engine, "why": row.why} for row in look.held],
        "noise": [
            {"element": e.element, "a_ppm": e.noise.a_ppm, "b": e.noise.b, "origin": e.noise.origin}
            for e in look.elements
        ],
    }


# --- two instruments --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Pair:
    """One sample read on both: values by element [ppm], first and second instrument."""

    code: str
    other: str
    values: Mapping[str, tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Compared:
    """One element on two instruments: the comparison, and the points it rests on [ppm]."""

    element: str
    result: Comparison
    points: tuple[tuple[float, float], ...]


def pairs(fleet: Fleet, first: str, second: str) -> tuple[Pair, ...]:
    """Oil that was read on both instruments: samples of one engine drawn at the same running hours from one fill, one
    on each; and check standards of one name that both ran on one day."""
    found = []
    for engine in fleet.engines:
        for build in engine.builds:
            at: dict[tuple[str, float], dict[str, Sample]] = defaultdict(dict)
            for sample in build.samples:
                if sample.instrument in (first, second):
                    at[(sample.fill, round(sample.build_h, 2))][sample.instrument] = sample
            found += [_pair(both[first], both[second]) for both in at.values() if len(both) == 2]
    days: dict[tuple[dt.date, str], dict[str, dict[str, float]]] = defaultdict(lambda: defaultdict(dict))
    for run in fleet.check_runs:
        if run.instrument in (first, second):
            days[(run.run_at.date(), run.standard)][run.instrument].setdefault(run.element, run.found_ppm)
    for (day, standard), read in sorted(days.items()):
        if len(read) == 2:
            one, two = read[first], read[second]
            code = f"{standard}, {day}"
            found.append(Pair(code, code, {e: (one[e], two[e]) for e in one if e in two}))
    return tuple(pair for pair in found if pair.values)


def _pair(first: Sample, second: Sample) -> Pair:
    one, two = _means(first), _means(second)
    return Pair(first.code, second.code, {e: (one[e], two[e]) for e in one if e in two})


def _means(sample: Sample) -> dict[str, float]:
    """Element -> mean of its replicates [ppm]; what is below or above a limit says nothing here."""
    values: dict[str, list[float]] = defaultdict(list)
    for reading in sample.readings:
        if reading.value is not None and not reading.qualifier and reading.unit == "ppm":
            values[reading.measurand].append(reading.value)
    return {element: sum(group) / len(group) for element, group in values.items()}


def compare(fleet: Fleet, library: Library, first: str, second: str) -> tuple[Compared, ...]:
    """Every element that at least two samples were read for on both instruments, those that differ first."""
    from benchapp.checks.compare import compare as compared

    read = pairs(fleet, first, second)
    lines = [_lines(fleet, library, name) for name in (first, second)]
    out = []
    for element in dict.fromkeys(e for pair in read for e in pair.values):
        points = tuple(pair.values[element] for pair in read if element in pair.values)
        if len(points) < 2 or any(element not in each for each in lines):
            continue
        sds = [[max(each[element].sd_ppm(p[n]), 1e-6) for p in points] for n, each in enumerate(lines)]
        result = compared(
            [p[0] for p in points], [p[1] for p in points], sds[0], sds[1], names=(first, second), element=element
        )
        if not _spread(points, sds):
            result = replace(result, line=None)
        out.append(Compared(element, result, points))
    return tuple(sorted(out, key=lambda each: not each.result.differs))


def _spread(points: tuple[tuple[float, float], ...], sds: list[list[float]]) -> bool:
    """Whether the levels lie far enough apart to carry a slope: the range over ten times the noise (own choice)."""
    first = [p[0] for p in points]
    return max(first) - min(first) > 10.0 * max(max(sds[0]), max(sds[1]))


def _lines(fleet: Fleet, library: Library, name: str) -> dict[str, NoiseLine]:
    known = fleet.instruments.get(name, Instrument(name))
    return {**library.noise_for(known.kind), **known.noise}
