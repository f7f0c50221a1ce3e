"""`python3 -m tests`: installs with the test extras, then lints, checks the walls and runs every test offscreen.

Arguments go on to pytest, and then only pytest runs: `python3 -m tests -k intake`. Standard library only.
"""

import os
import subprocess
import sys

from benchapp import starter

CHECKS = (
    ("ruff (style)", ["-m", "ruff", "check", "."]),
    ("mypy (types of the pure rooms)", ["-m", "mypy"]),
    ("import-linter (the walls)", ["-c", "from importlinter.cli import lint_imports_command as run; run()"]),
)
PURE = ["tests/metallurgy", "tests/oil", "tests/wear", "tests/breakin", "tests/checks", "tests/published"]
SPEED = ["tests/benchmarks"]
# A worker that has nothing left takes over half of what another still has before it.
SHARED_OUT = ["--dist", "worksteal", "-n"]
# Each test runs once, in one of these (tests/test_runs.py): name, folders (none: all), folders left out, one at a time.
RUNS = (
    ("pytest, the pure rooms as if Qt were not installed", PURE, [], False),
    ("pytest, all the others", [], PURE + SPEED, False),
    ("pytest, speed, with nothing beside it", SPEED, [], True),
)


def arguments_of(folders, left_out, alone):
    """What pytest is told for one of the runs."""
    without_qt = ["-c", "tests/without_qt.ini", "--rootdir", "."] if folders == PURE else []
    workers_asked = [] if alone else SHARED_OUT + [workers()]
    return ["-m", "pytest", "-q"] + without_qt + workers_asked + ["--ignore=" + each for each in left_out] + folders


def run(root, python, arguments, **more):
    """One check in the checkout, offscreen; returns its exit code."""
    # every process of a run would compile the tests anew where none may keep what it has compiled
    environment = dict(os.environ, QT_QPA_PLATFORM="offscreen", PYTHONUTF8="1", PYTHONDONTWRITEBYTECODE="")
    environment.update(more)
    return subprocess.call([python] + arguments, cwd=root, env=environment)


def workers():
    """Test processes: one per core, four at most."""
    return str(max(1, min(4, os.cpu_count() or 1)))


def main(arguments):
    root, python = starter.prepare("test", window=False)
    if arguments:
        return run(root, python, ["-m", "pytest"] + arguments)
    failed = []
    for name, command in CHECKS:
        starter.say("== " + name)
        if run(root, python, command):
            failed.append(name)
    for name, folders, left_out, alone in RUNS:
        starter.say("== " + name)
        without_qt = {"BENCH_WITHOUT_QT": "1"} if folders == PURE else {}
        if run(root, python, arguments_of(folders, left_out, alone), **without_qt):
            failed.append(name)
    if failed:
        print("Failed: " + ", ".join(failed), file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
