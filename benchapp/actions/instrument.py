"""Verbs for bench instruments and their check runs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from benchapp.actions import naming
from benchapp.actions.bench import Bench
from benchapp.actions.changed import Changed
from benchapp.benchfile import documents
from benchapp.benchfile.content import clean, new_id
from benchapp.problems import BenchProblem
from benchapp.records import CheckRun, Instrument

if TYPE_CHECKING:
    from benchapp.benchfile.write import Write


def add(bench: Bench, instrument: Instrument) -> Changed:
    """Adds an instrument."""
    naming.need(instrument.name, "instrument")

    def body(write: Write) -> None:
        naming.put_new(write, "instrument", documents.of_instrument(instrument), instrument.name)
        _put_card(write, instrument)

    return bench.do(f"Add instrument {instrument.name}", body, users(bench, instrument.name))


def edit(bench: Bench, name: str, instrument: Instrument) -> Changed:
    """Replaces instrument `name`; a new name is carried to its samples, check runs and remembered mapping."""
    naming.need(instrument.name, "instrument")

    def body(write: Write) -> None:
        found = write.find("instrument", name=name)
        if not found:
            raise naming.unknown("instrument", name)
        if instrument.name != name and write.find("instrument", name=instrument.name):
            raise naming.taken("instrument", instrument.name)
        document, content = found[0]
        write.put("instrument", document, {**documents.of_instrument(instrument), "notes": content["notes"]})
        if instrument.name != name:
            for old, content in write.find("instrument_card", instrument=name):
                write.put("instrument_card", old, {**content, "instrument": instrument.name})
        _put_card(write, instrument)
        if instrument.name != name:
            for noun, column in (("sample", "instrument"), ("check_run", "instrument"), ("paste_mapping", "name")):
                for other, held in write.find(noun, **{column: name}):
                    write.put(noun, other, {**held, column: instrument.name})

    return bench.do(f"Edit instrument {instrument.name}", body, users(bench, name))


def _put_card(write: Write, instrument: Instrument) -> None:
    """What it reads and when it is due; nothing is written where there is nothing to say."""
    content = documents.of_card(instrument)
    found = write.find("instrument_card", instrument=instrument.name)
    if found:
        write.put("instrument_card", found[0][0], {**content, "notes": found[0][1]["notes"]})
    elif instrument.elements or instrument.due_on or instrument.due_for:
        write.put("instrument_card", naming.free_id(write, "instrument_card", instrument.name), content)


def stored(bench: Bench, name: str) -> Instrument:
    """The instrument as a person entered it: no noise line that its own data gave. One that is known only by its
    samples and check runs comes with its name alone."""
    from benchapp.actions.noise import is_learned

    known = bench.fleet().instruments.get(name, Instrument(name))
    return replace(known, noise={element: line for element, line in known.noise.items() if not is_learned(line)})


def set_up(bench: Bench, name: str, instrument: Instrument) -> Changed:
    """Enters what is known of an instrument: adds it where only its samples or check runs name it so far."""
    if name and bench.file.find("instrument", name=name):
        return edit(bench, name, instrument)
    return add(bench, instrument)


def void(bench: Bench, name: str, reason: str) -> Changed:
    """Hides an instrument. Its samples keep its name."""

    def body(write: Write) -> None:
        found = write.find("instrument", name=name)
        if not found:
            raise naming.unknown("instrument", name)
        for document, _ in found:
            write.void("instrument", document, reason)

    return bench.do(f"Withdraw instrument {name}", body, users(bench, name))


def add_check_runs(bench: Bench, check_runs: Sequence[CheckRun]) -> Changed:
    """Adds check-standard and blank runs, all or none."""

    def body(write: Write) -> None:
        for run in check_runs:
            write.put("check_run", new_id(), documents.of_check_run(run))

    names = {run.instrument for run in check_runs}
    label = f"Add {len(check_runs)} check run(s) of {', '.join(sorted(names)) or 'no instrument'}"
    return bench.do(label, body, {engine for name in names for engine in users(bench, name)})


def void_check_run(bench: Bench, check_run: CheckRun, reason: str) -> Changed:
    """Hides the check run equal to `check_run`."""
    wanted = clean("check_run", documents.of_check_run(check_run))

    def body(write: Write) -> None:
        for document, content in write.find("check_run", instrument=check_run.instrument, element=check_run.element):
            if {**content, "notes": ""} == wanted:
                write.void("check_run", document, reason)
                return
        raise BenchProblem(
            "This check run is no longer as it was shown.", "Nothing was changed.", "Look at the list again."
        )

    return bench.do(f"Withdraw a check run of {check_run.instrument}", body, users(bench, check_run.instrument))


def users(bench: Bench, name: str) -> set[str]:
    """Engines with samples read on the instrument."""
    return {
        engine.name
        for engine in bench.fleet().engines
        if any(sample.instrument == name for build in engine.builds for sample in build.samples)
    }
