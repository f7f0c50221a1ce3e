"""Verbs for bottle labels and the sampling card."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchapp.actions import sample as samples
from benchapp.actions.bench import Bench

if TYPE_CHECKING:
    from benchapp.sheet.labels import Label

MOST_AT_ONCE = 200


def of_samples(bench: Bench, codes: Iterable[str]) -> tuple[Label, ...]:
    """One label a sample, in the order of `codes`. Raises BenchProblem for a code that is not in the bench file."""
    from benchapp.sheet.labels import label
    from benchapp.sheet.words import hours

    waiting = {line.sample.code for line in samples.waiting(bench)}
    made = []
    for code in codes:
        if code in waiting:
            made.append(label(code))
            continue
        engine, build, sample = bench.find_sample(code)
        date = sample.taken_at.strftime("%Y-%m-%d %H:%M") if sample.taken_at else ""
        made.append(label(code, engine.name, build.number, hours(sample.build_h), date))
    return tuple(made)


def of_next(bench: Bench, engine: str, count: int) -> tuple[Label, ...]:
    """Labels for the next `count` bottles of an engine, hours and date left to write on.

    The codes go on from the engine's last one; nothing is written to the bench file: a code is taken when its sample
    is confirmed. Raises BenchProblem if there is no such engine."""
    from benchapp.sheet.labels import label

    build = bench.current_build(engine)
    number = build.number if build else ""
    return tuple(label(code, engine, number) for code in next_codes(bench, engine, count))


def next_codes(bench: Bench, engine: str, count: int) -> tuple[str, ...]:
    """The next `count` free sample codes of an engine: its last code counted on, else its name and a number."""
    taken = samples.codes(bench)
    own = [sample.code for build in bench.engine(engine).builds for sample in build.samples]
    stem, number, width = _parted(own[-1]) if own else (f"{engine}-", 0, 2)
    found: list[str] = []
    while len(found) < min(count, MOST_AT_ONCE):
        number += 1
        code = f"{stem}{number:0{width}d}"
        if code not in taken:
            found.append(code)
    return tuple(found)


def engine_of(bench: Bench, code: str) -> str:
    """The engine whose codes go on as this one, which no sample has yet; '' where that is none or several."""
    stem = _parted(code)[0]
    found = {
        engine.name
        for engine in bench.fleet().engines
        for build in engine.builds[-1:]
        if (build.samples and _parted(build.samples[-1].code)[0] == stem)
        or (not build.samples and stem == f"{engine.name}-")
    }
    return found.pop() if len(found) == 1 else ""


def _parted(code: str) -> tuple[str, int, int]:
    """A code as what stands before its last number, the number, and its digits: '24-017' -> ('24-', 17, 3)."""
    match = re.fullmatch(r"(.*?)([0-9]{1,9})", code, re.DOTALL)
    if match is None:
        return f"{code}-", 1, 1
    return match[1], int(match[2]), len(match[2])


def pages(bench: Bench, labels: Sequence[Label], paper: str, first: int = 0, *, with_card: bool = False) -> list[Any]:
    """The pages to print (`paper`: 'A4', 'Letter' or 'single label'); the sampling card is the last one."""
    from benchapp.sheet import labels as sheet
    from benchapp.sheet import sampling_card

    made = sheet.pages(labels, paper, first)
    if with_card and paper != sheet.SINGLE:
        card = sampling_card.card(bench.library.data("sampling"), bench.library.data("cautions"))
        made.append(sampling_card.page(card))
    return made


def write_pdf(
    bench: Bench, labels: Sequence[Label], path: str | Path, paper: str = "A4", first: int = 0, *,
    with_card: bool = False,
) -> Path:  # fmt: skip
    """Writes labels (and, if asked, the sampling card) as one PDF. Raises BenchProblem."""
    from benchapp.problems import BenchProblem
    from benchapp.sheet.labels import size_mm
    from benchapp.sheet.paper import write_pages

    made = pages(bench, labels, paper, first, with_card=with_card)
    if not made:
        raise BenchProblem("There is no label to write.", "Nothing was written.", "Pick a sample, or ask for new ones.")
    return write_pages(made, size_mm(paper), "Bottle labels", path)
