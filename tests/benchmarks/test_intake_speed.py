"""Ratios of speed, in processor time and in one run, so that a busy machine does not decide them."""

from __future__ import annotations

import datetime as dt
import io
import random
import time
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pandas

from benchapp.intake.paste import interpret
from benchapp.intake.read import read_text
from benchapp.intake.workbook import read_workbook

ELEMENTS = [
    "Fe",
    "Cr",
    "Pb",
    "Cu",
    "Sn",
    "Al",
    "Ni",
    "Ag",
    "Ti",
    "V",
    "Mn",
    "Cd",
    "Si",
    "B",
    "Na",
    "K",
    "Mg",
    "Ca",
    "Ba",
    "P",
    "Zn",
    "Mo",
    "Sb",
    "Bi",
]


def best_of(job: Callable[[], object], times: int) -> float:
    best = float("inf")
    for _ in range(times):
        start = time.process_time()
        job()
        best = min(best, time.process_time() - start)
    return best


def test_a_thousand_rows_from_paste_to_preview() -> None:
    """1,000 × 24 readings, to the list of readings and problems: at most five times pandas reading the same text and
    finding its separator, too."""
    rng = random.Random(1)
    head = "\t".join(["Sample", *(f"{e} (ppm)" for e in ELEMENTS)])
    lines = [
        "\t".join([f"24-{k:04d}", *("<1" if rng.random() < 0.05 else f"{rng.random() * 90:.1f}" for _ in ELEMENTS)])
        for k in range(1000)
    ]
    text = "\n".join([head, *lines])
    assert len(interpret(read_text(text)).taken) == 24_000
    ours = best_of(lambda: interpret(read_text(text)), 7)
    theirs = best_of(lambda: pandas.read_csv(io.StringIO(text), sep=None, engine="python", dtype=str), 7)
    assert ours <= 5 * theirs, f"{ours * 1e3:.0f} ms against {theirs * 1e3:.0f} ms"


def test_a_whole_bench_is_read_no_slower_than_openpyxl_alone(tmp_path: Path) -> None:
    """3,500 samples × 24 readings, typed and checked, against openpyxl only reading the cells."""
    rng = random.Random(1)
    book = openpyxl.Workbook()
    samples, results = book.create_sheet("Samples"), book.create_sheet("Results")
    samples.append(
        [
            "sample",
            "engine",
            "build",
            "fill",
            "taken_at",
            "build_h",
            "oil_h",
            "drawn",
            "before_top_up",
            "instrument",
            "break_in",
            "notes",
        ]
    )
    results.append(["sample", *ELEMENTS])
    for k in range(3500):
        samples.append(
            [
                f"24-{k:04d}",
                "E1",
                1,
                1,
                dt.datetime(2026, 1, 1) + dt.timedelta(hours=k),
                k,
                3,
                "hot",
                "y",
                "RDE 1",
                "n",
                "",
            ]
        )
        results.append(
            [f"24-{k:04d}", *("<1" if rng.random() < 0.05 else round(rng.random() * 90, 1) for _ in ELEMENTS)]
        )
    path = tmp_path / "bench.xlsx"
    book.save(path)

    def openpyxl_alone() -> None:
        opened = openpyxl.load_workbook(path, read_only=True)
        for sheet in opened:
            for _ in sheet.iter_rows(values_only=True):
                pass
        opened.close()

    tables = read_workbook(path)
    assert (len(tables.samples), len(tables.results), tables.problems) == (3500, 84_000, ())
    assert best_of(lambda: read_workbook(path), 2) <= best_of(openpyxl_alone, 1)
