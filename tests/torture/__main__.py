"""The long form: `python -m tests.torture [SHARE] [FAULT …]` tries every fault many times and prints the table.

SHARE (1 by default) scales the rounds; FAULT names some of kill, full, medium, second, flips, hostile, clock,
merge, old, pastes, workbooks. With a whole share one bit of every byte is flipped. Exit code 1 if anything went
wrong."""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from tests.torture import faults


def say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main() -> int:
    try:
        share = float(sys.argv[1]) if len(sys.argv) > 1 else 1.0
    except ValueError:
        say("Use: python -m tests.torture [SHARE, 1 is the whole] [FAULT ...]")
        return 2
    chosen = sys.argv[2:]
    every_byte = 0 if share >= 1 else int(20_000 * share)
    plans = {
        "kill": lambda place: faults.kill_nine(place, int(500 * share)),
        "full": lambda place: faults.disk_full(place, 64, 1 if share >= 1 else 4),
        "medium": lambda place: faults.read_only_medium(place, int(50 * share) or 1),
        "second": lambda place: faults.second_instance(place, int(200 * share) or 1),
        "flips": lambda place: faults.bit_flips(place, every_byte),
        "hostile": lambda place: faults.hostile_files(place),
        # 190: undo reaches 200 steps back, and each round is looked for there
        "clock": lambda place: faults.clock_backwards(place, int(190 * share) or 1),
        "merge": lambda place: faults.merge_orders(place, int(100 * share) or 1),
        "old": lambda place: faults.released_files(place),
        "pastes": lambda place: faults.fuzzed_pastes(place, int(10_000 * share)),
        "workbooks": lambda place: faults.bad_workbooks(place, int(300 * share) or 1),
    }
    wrong = 0
    say(f"{'fault':<30}{'rounds':>8}{'losses':>8}{'half':>8}{'unseen':>8}{'s':>8}  what happened")
    with tempfile.TemporaryDirectory(prefix="bench-torture-") as folder:
        for name, plan in plans.items():
            if chosen and name not in chosen:
                continue
            place = Path(folder) / name
            place.mkdir()
            began = time.monotonic()
            row = plan(place)
            took = time.monotonic() - began
            wrong += row.wrong
            counts = f"{row.rounds:>8}{row.losses:>8}{row.half_writes:>8}{row.unnoticed:>8}{took:>8.0f}"
            said = ", ".join(f"{what} {count}" for what, count in sorted(row.notes.items()))
            say(f"{row.kind:<30}{counts}  {said}")
            for detail in row.details[:5]:
                say(f"    {detail}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
