"""Score judges on made-up fleets: `python -m tests.simulated score`, or write one as a workbook."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from . import report
from .generators import BENCH, GENERATORS, score_seeds, total
from .workbook import write_workbook


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.simulated", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    score = commands.add_parser("score", help="score the judges on fleets of several seeds")
    score.add_argument("--generator", default="a", choices=[*GENERATORS, "all"])
    score.add_argument("--seeds", type=int, default=8)
    score.add_argument("--first-seed", type=int, default=1)
    score.add_argument("--engines", type=int, default=60)
    score.add_argument("--no-bench", action="store_true", help="only the simple judges")
    score.add_argument("--details", action="store_true", help="tables by fault, engine and confounder")
    score.add_argument("--explain", action="store_true", help="list misses, wrong sources and false alarms")
    score.add_argument("--most", type=int, default=25, help="lines in each list of --explain")
    write = commands.add_parser("write", help="write one fleet as a whole-bench workbook")
    write.add_argument("file", type=Path)
    write.add_argument("--generator", default="a", choices=list(GENERATORS))
    write.add_argument("--seed", type=int, default=1)
    write.add_argument("--engines", type=int, default=60)
    choice = parser.parse_args(argv)
    return _score(choice) if choice.command == "score" else _write(choice)


def _score(choice: argparse.Namespace) -> int:
    seeds = list(range(choice.first_seed, choice.first_seed + choice.seeds))
    letters = list(GENERATORS) if choice.generator == "all" else [choice.generator]
    for letter in letters:
        scores = score_seeds(letter, seeds, choice.engines, not choice.no_bench, _note)
        totals = {name: total(items) for name, items in scores.items()}
        print(f"\n==== generator {letter}, seeds {seeds[0]}-{seeds[-1]}, {choice.engines} engines each")
        print(report.summary(list(totals.values()), scores))
        chosen = totals.get(BENCH, totals["mean + 3 sd"])
        if choice.details:
            print(report.details(chosen))
        if choice.explain:
            print(report.explain(chosen, choice.most))
    return 0


def _note(line: str) -> None:
    print(line, file=sys.stderr)


def _write(choice: argparse.Namespace) -> int:
    world = GENERATORS[choice.generator](choice.seed, choice.engines)
    write_workbook(world.fleet, choice.file)
    print(choice.file)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
