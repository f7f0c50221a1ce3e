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


def run(root, python, arguments, **more):
    """One check in the checkout, offscreen; returns its exit code."""
    environment = dict(os.environ, QT_QPA_PLATFORM="offscreen", PYTHONUTF8="1")
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
    starter.say("== pytest, the pure rooms as if Qt were not installed")
    without_qt = ["-m", "pytest", "-c", "tests/without_qt.ini", "--rootdir", ".", "-q", "-n", workers()] + PURE
    if run(root, python, without_qt, BENCH_WITHOUT_QT="1"):
        failed.append("the pure rooms without Qt")
    starter.say("== pytest, everything")
    code = run(root, python, ["-m", "pytest", "-q", "-n", workers()])
    if code:
        failed.append("pytest")
    if failed:
        print("Failed: " + ", ".join(failed), file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
