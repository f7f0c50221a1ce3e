"""The verb for the demo: an invented team's bench file."""

from __future__ import annotations

import importlib
import sys
from contextlib import suppress
from pathlib import Path
from types import ModuleType

from benchapp.problems import BenchProblem


def _builder() -> ModuleType:
    """The demo's builder: inside the package when installed, beside it in a checkout."""
    if not (Path(__file__).parent.parent / "demo").is_dir():
        top = str(Path(__file__).parent.parent.parent)
        if (Path(top) / "demo" / "build.py").is_file() and top not in sys.path:
            sys.path.append(top)
    for place in ("benchapp.demo.build", "demo.build"):
        with suppress(ModuleNotFoundError):
            return importlib.import_module(place)
    raise BenchProblem(
        "The demo is not part of this installation.", "Nothing was written.", "Start a new bench file instead."
    )


def build(path: str | Path) -> Path:
    """Builds the demo bench file at `path` (an older demo there is replaced) and returns where it is."""
    target = Path(path)
    _refuse_own_work(target)
    target.parent.mkdir(parents=True, exist_ok=True)
    _builder().build(target)
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
