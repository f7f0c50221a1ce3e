"""`python3 -m tests`: installs with the test extras, then lints, checks the walls and runs every test offscreen.

Arguments go on to pytest, and then only pytest runs: `python3 -m tests -k intake`. Standard library only.
"""

import os
import shutil
import subprocess
import sys
import tempfile

from benchapp import starter

CHECKS = (
    ("ruff (style)", ["-m", "ruff", "check", "."]),
    ("mypy (types of the pure rooms)", ["-m", "mypy"]),
    ("import-linter (the walls)", ["-c", "from importlinter.cli import lint_imports_command as run; run()"]),
)
PURE = ["tests/metallurgy", "tests/oil", "tests/wear", "tests/breakin", "tests/checks", "tests/published"]
SPEED = ["tests/benchmarks"]
# One process per core, four at most; one that has nothing left takes over half of what another still has before it.
SHARED_OUT = ["--dist", "worksteal", "-n", str(max(1, min(4, os.cpu_count() or 1)))]
# Each test runs once, in one of these (tests/test_runs.py): name, folders (none: all), what else pytest is told,
# environment.
RUNS = (
    (
        "pytest, the pure rooms as if Qt were not installed",
        PURE, ["-c", "tests/without_qt.ini", "--rootdir", ".", *SHARED_OUT], {"BENCH_WITHOUT_QT": "1"},
    ),
    ("pytest, all the others", [], [*SHARED_OUT, *("--ignore=" + folder for folder in PURE + SPEED)], {}),
    ("pytest, speed, with nothing beside it", SPEED, [], {}),
)  # fmt: skip


IN_MEMORY = "/dev/shm"
ROOM = 2 * 1024**3


def kept_in():
    """A new folder in memory for what tests write, or None where there is none with room [2 GB].

    Every write of the program waits for the disk, and hundreds of tests write without asking about it: on a slow disk
    they took twice as long. What asks about the disk stays on one (tests/on_disk.py)."""
    try:
        if shutil.disk_usage(IN_MEMORY).free > ROOM and os.access(IN_MEMORY, os.W_OK):
            return tempfile.mkdtemp(prefix="bench-tests-", dir=IN_MEMORY)
    except OSError:
        pass
    return None


def seen_by(more):
    """What a check finds in its environment: no screen, and what is told besides."""
    # every process of a run would compile the tests anew where none may keep what it has compiled
    environment = dict(os.environ, QT_QPA_PLATFORM="offscreen", PYTHONUTF8="1", PYTHONDONTWRITEBYTECODE="")
    environment.update(more)
    return environment


def run(root, python, arguments, **more):
    """One check in the checkout, offscreen; returns its exit code."""
    return subprocess.call([python] + arguments, cwd=root, env=seen_by(more))


def begin(root, python, arguments):
    """A check that runs beside the others; what it says is kept until it is asked for."""
    return subprocess.Popen(
        [python] + arguments, cwd=root, env=seen_by({}), stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    )


def finished(beside):
    """Waits for the checks that ran beside the tests and prints what they said; the names of those that failed."""
    failed = []
    for name, process in beside:
        said = process.communicate()[0]
        starter.say("== " + name)
        sys.stdout.buffer.write(said)
        sys.stdout.flush()
        if process.returncode:
            failed.append(name)
    return failed


def main(arguments):
    root, python = starter.prepare("test", window=False)
    if arguments:
        return run(root, python, ["-m", "pytest"] + arguments)
    failed = []
    # one process each, most of it the types: beside the first run of the tests they cost it little, alone ten seconds
    beside = [(name, begin(root, python, command)) for name, command in CHECKS]
    for name, folders, told, environment in RUNS:
        if folders == SPEED:
            failed += finished(beside)
        starter.say("== " + name)
        memory = kept_in() if folders != SPEED else None
        if memory:
            environment = dict(environment, PYTEST_DEBUG_TEMPROOT=memory)
        try:
            if run(root, python, ["-m", "pytest", "-q", *told, *folders], **environment):
                failed.append(name)
        finally:
            if memory:
                shutil.rmtree(memory, ignore_errors=True)
    if failed:
        print("Failed: " + ", ".join(failed), file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
