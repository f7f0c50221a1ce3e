"""The verb for the demo: an invented team's bench file."""

from __future__ import annotations

import importlib
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from types import ModuleType

from benchapp.benchfile.lock import Lock, lock_path
from benchapp.problems import BenchProblem
from benchapp.progress import NOBODY, Progress

BUILDING = ".building "
"""Begins the name of the folder that a demo is built in, beside where it is to stand."""
_MARK, _MAKER = "demo", "the demo's builder"
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


@contextmanager
def building_room(target: Path) -> Iterator[Path]:
    """A folder to build the demo in, beside its place, with a lock that the system gives back when we are killed."""
    clear_left(target.parent)
    with TemporaryDirectory(dir=target.parent, prefix=BUILDING) as room:
        lock = Lock(Path(room) / _MARK)
        lock.take(_MAKER)
        try:
            yield Path(room)
        finally:
            lock.give_back()


def clear_left(folder: Path) -> list[Path]:
    """Removes what builds that were killed left in a folder; returns what was removed.

    Only a folder with our mark in it, left on this computer and held by nobody: anything else stays."""
    return [each for each in sorted(folder.glob(f"{BUILDING}*")) if _is_left(each) and _removed(each)]


def _is_left(room: Path) -> bool:
    mark = lock_path(room / _MARK)
    if room.is_symlink() or mark.is_symlink() or not mark.is_file():
        return False
    lock = Lock(room / _MARK)
    with suppress(OSError):
        if _MAKER in mark.read_text("utf-8", "replace") and lock.take(_MAKER):
            lock.give_back()
            return True
    return False


def _removed(room: Path) -> bool:
    with suppress(OSError):
        shutil.rmtree(room)
    return not room.exists()


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
