"""A process that writes and says what is saved, until it is killed: `python -m tests.torture.writer FILE FIRST`.

After each write it prints one line; what is printed must be found after the kill, all of it or (for the write under
way) none of it. The numbers say what belongs together: write n makes things whose names carry n.
"""

from __future__ import annotations

import sys
from pathlib import Path

from benchapp.actions import draft, paste, run, safety, sample, workbook
from benchapp.actions.bench import Bench
from benchapp.intake.paste import interpret
from benchapp.intake.read import read_text
from benchapp.records import Reading, Run, Sample
from tests.torture.made import BATCH, batch_workbook

KINDS = ("confirm", "correct", "paste", "load", "draft", "undo", "backup")


def confirm(bench: Bench, n: int, value: float, correct: bool = False) -> None:
    readings = tuple(Reading(element, value, "ppm") for element in ("Fe", "Cu", "Pb", "Sn", "Al", "Si"))
    sample.confirm(bench, "E-1", "1", Sample(f"K-{n}", "F1", 3.0, 3.0, readings=readings), correct=correct)


def write(bench: Bench, kind: str, n: int, folder: Path) -> None:
    """One write of a kind."""
    match kind:
        case "confirm":
            confirm(bench, n, float(n))
        case "correct":
            confirm(bench, n, float(n))
            confirm(bench, n, n + 0.5, correct=True)
        case "paste":
            rows = "".join(f"P-{n}-{i}\t{n}\t{n}\n" for i in range(BATCH))
            paste.take(bench, interpret(read_text("Sample\tFe\tCu\n" + rows)))
        case "load":
            workbook.load(bench, batch_workbook(folder, n))
        case "draft":
            draft.keep(bench, f"draft-{n}", {"n": n})
        case "undo":
            run.add(bench, "E-1", "1", Run(f"undone {n}", 1.0))
            bench.undo()
        case "backup":
            safety.backup(bench)


def say(line: str) -> None:
    """Tells the process that will kill this one."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main() -> None:
    path, first = Path(sys.argv[1]), int(sys.argv[2])
    kinds = sys.argv[3].split(",") if len(sys.argv) > 3 else KINDS
    with Bench.open(path, who="writer") as bench:
        say("ready")
        n = first
        while True:
            kind = kinds[n % len(kinds)]
            write(bench, kind, n, path.parent)
            say(f"{kind} {n}")
            n += 1


if __name__ == "__main__":
    main()
