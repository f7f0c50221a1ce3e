"""How a ratio is measured: our job and its limit by turns in one run, each in processor time, the least of several.

Other work on the machine lengthens a time but never shortens it, so the least is the nearest to what the work costs;
taking turns keeps both under the same load. Processor time is the sum over all threads of the process.
"""

from __future__ import annotations

import contextlib
import gc
import math
import os
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

SLACK = 1.5
"""The short form fails only beyond this many times the target: a busy machine must not."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table. `value` and `target` are in `unit` ('x': a ratio of `ours` to `limit`)."""

    job: str
    beside: str
    ours: str
    limit: str
    value: float
    target: float
    unit: str = "x"
    remains: str = ""
    """What the remaining cost is made of."""

    @property
    def met(self) -> bool:
        return self.value <= self.target


@contextlib.contextmanager
def nothing_else_collected() -> Iterator[None]:
    """What whoever measures holds already is not looked through by the collector meanwhile: within a test run that
    doubled the time of a load. One within another lasts as long as the outer one."""
    outer = gc.get_freeze_count()
    gc.collect()
    gc.freeze()
    try:
        yield
    finally:
        if not outer:
            gc.unfreeze()


def cpu(job: Callable[[], object]) -> float:
    """Processor time of one call [s], all threads; rubbish of earlier calls is collected before."""
    gc.collect()
    start = time.process_time()
    job()
    return time.process_time() - start


def child(code: str, *arguments: str, env: Mapping[str, str] | None = None) -> float:
    """Processor time of a new Python process that runs `code` [s], from its start to its end."""
    return _child([sys.executable, "-c", code, *arguments], env)[0]


def child_peak_mb(code: str, *arguments: str, env: Mapping[str, str] | None = None) -> float:
    """Most memory that a new Python process held at once [MB]."""
    return _child([sys.executable, "-c", code, *arguments], env)[1]


def _child(command: Sequence[str], env: Mapping[str, str] | None) -> tuple[float, float]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "QT_QPA_PLATFORM": "offscreen", **(env or {})}
    silent = [(os.POSIX_SPAWN_OPEN, number, os.devnull, os.O_WRONLY, 0) for number in (1, 2)]
    pid = os.posix_spawn(command[0], command, environment, file_actions=silent)
    _, status, used = os.wait4(pid, 0)
    assert os.waitstatus_to_exitcode(status) == 0, f"{command} ended with {status}"
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


PACE_S = 0.0100
"""What the fixed piece of Python takes on the machine that the times in milliseconds were agreed for [s]."""


def pace() -> float:
    """How slow this machine is now, compared with that one: above 1 where it is slower, at least 1."""
    return max(1.0, min(cpu(_fixed_piece) for _ in range(5)) / PACE_S)


def _fixed_piece() -> int:
    held: dict[str, int] = {}
    for number in range(30_000):
        held[f"N{number % 997}"] = held.get(f"N{number % 997}", 0) + number
    return len(held)


def by_turns(ours: Callable[[], float], limit: Callable[[], float], times: int) -> tuple[float, float]:
    """The least of several measurements of both, taken by turns."""
    pairs = [(ours(), limit()) for _ in range(times)]
    return min(a for a, _ in pairs), min(b for _, b in pairs)


def ratio(
    job: str, beside: str, ours: Callable[[], float], limit: Callable[[], float], target: float, times: int,
    remains: str = "",
) -> Row:  # fmt: skip
    """A row of the table from two measurements in seconds."""
    a, b = by_turns(ours, limit, times)
    return Row(job, beside, f"{a * 1e3:,.0f} ms", f"{b * 1e3:,.0f} ms", a / b, target, "x", remains)


def table(rows: Sequence[Row]) -> str:
    """The rows as text, one paragraph each."""
    out = [f"{'job':44}  {'ours':>10}  {'limit':>10}  {'value':>9}  {'target':>9}"]
    for row in rows:
        mark = "met" if row.met else f"MISSED by {row.value / row.target:.2f} times"
        unit = row.unit if row.unit == "x" else f" {row.unit}"
        value, target = f"{row.value:,.2f}{unit}", f"{row.target:,.2f}{unit}"
        if math.isinf(row.target):
            target, mark = "none set", ""
        out.append(f"{row.job:44}  {row.ours:>10}  {row.limit:>10}  {value:>9}  {target:>9}  {mark}")
        out.append(f"    beside: {row.beside}")
        if row.remains:
            out.append(f"    what it is made of: {row.remains}")
    return "\n".join(out)
