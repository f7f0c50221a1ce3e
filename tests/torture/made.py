"""What the faults are tried on: small invented bench files and workbooks."""

from __future__ import annotations

import shutil
import sqlite3
from functools import cache
from pathlib import Path

from openpyxl import Workbook

from benchapp.actions import photo
from benchapp.actions.bench import Bench
from benchapp.records import Finding
from tests.actions.making import furnish
from tests.intake.test_photo import png

BATCH = 12
"""How many things one paste or one workbook of the writer brings: all of them or none."""


@cache
def _template(folder: str) -> Path:
    path = Path(folder) / "template.bench"
    with Bench.create(path, who="Ann") as bench:
        furnish(bench, samples=2)
        photo.add_with(bench, "E-1", "1", Finding(6.0, "ring", "worn out", "S-2"), png())
    return path


def small_bench(folder: Path, name: str = "team.bench") -> Path:
    """A closed bench file with one engine, two samples and a finding with its photo (made once, then copied)."""
    base = folder / "template"
    base.mkdir(exist_ok=True, parents=True)
    return Path(shutil.copyfile(_template(str(base)), folder / name))


def tiny_pages(path: Path) -> Path:
    """Rewrites a closed bench file with the smallest pages, so that a sweep meets little empty space."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA page_size = 512")
    connection.execute("VACUUM")
    connection.close()
    return path


def batch_workbook(folder: Path, n: int) -> Path:
    """A workbook that adds BATCH runs to engine E-1, each of kind and rpm that carry n."""
    book = Workbook()
    page = book.active
    page.title = "Runs"
    page.append(["engine", "build", "started_at", "kind", "hours", "max_rpm", "notes"])
    for i in range(BATCH):
        page.append(["E-1", "1", None, "dyno", 0.1 + i / 100, 1000 + n, f"batch {n}"])
    path = folder / f"batch {n}.xlsx"
    book.save(path)
    return path
