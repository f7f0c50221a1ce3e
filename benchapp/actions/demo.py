"""The verb for the demo: an invented team's bench file."""

from __future__ import annotations

import importlib
import sys
from contextlib import suppress
from pathlib import Path
from types import ModuleType

from benchapp.problems import BenchProblem
from benchapp.progress import NOBODY, Progress

PLACES = ("benchapp.demo.build", "demo.build")


def _builder() -> ModuleType:
    """The demo's builder: inside the package when installed, beside it in a checkout."""
    if not (Path(__file__).parent.parent / "demo").is_dir():
        top = str(Path(__file__).parent.parent.parent)
        if (Path(top) / "demo" / "build.py").is_file() and top not in sys.path:
            sys.path.append(top)
    for place in PLACES:
        with suppress(ModuleNotFoundError):
            return importlib.import_module(place)
    raise BenchProblem(
        "The demo is not part of this copy of the program.",
        "Nothing was written; your own bench files open as ever.",
        "Start a new bench file instead, or install the program again with its demo.",
    )


def build(path: str | Path, progress: Progress = NOBODY) -> Path:
    """Builds the demo bench file at `path` (an older demo there is replaced) and returns where it is.

    It makes and closes its own file, so it may run in a pool thread; stopped, it leaves what was there as it was.
    Raises BenchProblem."""
    target = Path(path)
    _refuse_own_work(target)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BenchProblem(
            f"No folder for the demo could be made ({error.strerror}).",
            "Nothing was written.",
            f"Check whether {target.parent} may be written to, and whether the disk is full.",
        ) from error
    progress.step("Loading what builds it")
    _builder().build(target, progress)
    return target


def _refuse_own_work(target: Path) -> None:
    """A file that is there is replaced only if it is a demo that nobody has open."""
    if not target.exists():
        return
    from benchapp.actions.bench import Bench

    with Bench.open(target) as bench:
        if bench.read_only:
            raise BenchProblem(f"{target.name} is in use.", "It was left as it is.", bench.why_read_only)
        if bench.file.setting("created_by") != "demo":
            raise BenchProblem(
                f"There is a file {target.name} already, and it is not a demo.",
                "It was left as it is.",
                "Choose another name.",
            )
