"""Memory of a process with a large file open, beside one that only imports."""

from __future__ import annotations

import os
import subprocess
import sys
import tracemalloc
from pathlib import Path

from tests.benchmarks import fleets
from tests.benchmarks.measure import ROOT, Row

_HELD = """
import gc, sys
from benchapp.window import main_window
main_window.warm()
def held():
    gc.collect()
    with open("/proc/self/status") as lines:
        return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS")) / 1024
"""
_IMPORTS = _HELD + "print(held())"
_OPEN = (
    _HELD
    + """
from benchapp.actions.bench import Bench
bench = Bench.open(sys.argv[1], read_only=True)
samples = sum(len(build.samples) for engine in bench.fleet().engines for build in engine.builds)
print(held(), samples)
"""
)


def _run(code: str, *arguments: str) -> list[float]:
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True, cwd=ROOT,
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
    )  # fmt: skip
    return [float(word) for word in done.stdout.split()]


def large_file(path: Path, target: float = 120.0) -> Row:
    """Resident memory once the file is read, above that of the imports [MB]."""
    (bare,) = _run(_IMPORTS)
    held, samples = _run(_OPEN, str(path))
    return Row(
        f"memory with {samples:,.0f} samples open", "the same imports, no file", f"{held:,.0f} MB", f"{bare:,.0f} MB",
        held - bare, target, "MB", f"{(held - bare) * 1024 / samples:.1f} KB a sample of 20 readings, as records",
    )  # fmt: skip


def records(folder: Path, target: float = 120.0 * 1024 / 20_000) -> Row:
    """Size of the records of one sample as read from a file [KB]: what the memory of a large file is made of."""
    from benchapp.actions.bench import Bench

    path = fleets.bench_file(folder / "records.bench", fleets.plain_fleet(10, 40))
    with Bench.open(path, read_only=True) as bench:
        bench.families()
    with Bench.open(path, read_only=True) as bench:
        tracemalloc.start()
        fleet = bench.fleet()
        held = tracemalloc.get_traced_memory()[0] / 1024
        tracemalloc.stop()
        each = held / sum(len(build.samples) for engine in fleet.engines for build in engine.builds)
    return Row("records of a sample of 20 readings", "-", f"{each:.1f} KB", "-", each, target, "KB")
