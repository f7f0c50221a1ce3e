"""Makes the demo bench file for the first page.

`demo/` lies beside the package in a checkout and inside it where the program is installed."""

from __future__ import annotations

import importlib
import importlib.util
from pathlib import Path
from types import ModuleType

from benchapp.problems import BenchProblem

PLACES = ("benchapp.demo.build", "demo.build")


def build(folder: str) -> str:
    """Builds the demo bench file in `folder` (an older one is replaced) and returns its path. Raises BenchProblem.

    It makes and closes its own file, so it may run in a pool thread."""
    path = Path(folder) / "demo" / "demo.bench"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BenchProblem(
            f"No folder for the demo could be made ({error.strerror}).",
            "Nothing was written.",
            f"Check whether {path.parent} may be written to, and whether the disk is full.",
        ) from error
    _builder().build(path)
    return str(path)


def _builder() -> ModuleType:
    for place in PLACES:
        try:
            if importlib.util.find_spec(place) is not None:
                return importlib.import_module(place)
        except ModuleNotFoundError:
            continue
    raise BenchProblem(
        "The demo is not part of this copy of the program.",
        "Nothing was written; your own bench files open as ever.",
        "Start a new bench file instead, or install the program again with its demo.",
    )
