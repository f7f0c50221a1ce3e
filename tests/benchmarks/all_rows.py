"""Every row of the table, in groups that can be measured alone. `quick`: sizes fit for every run of the tests."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType

from tests.benchmarks.measure import Row

Group = Callable[[Path, bool], list[Row]]


def demo_file(folder: Path) -> Path:
    """The demo bench file, built once in a folder."""
    path = folder / "demo.bench"
    if not path.exists():
        from benchapp.actions import demo

        demo.build(path)
    return path


def large_file(folder: Path, engines: int) -> Path:
    """A bench file of `engines` engines with 40 samples each, built once in a folder."""
    from tests.benchmarks import fleets, judging

    path = folder / f"large {engines}.bench"
    if not path.exists():
        fleets.bench_file(path, fleets.plain_fleet(engines, judging.SAMPLES_EACH))
    return path


def start(folder: Path, quick: bool) -> list[Row]:
    from tests.benchmarks import start as rows

    demo = demo_file(folder)
    return [
        rows.first_window(demo, folder, 2 if quick else 7),
        *([] if quick else [rows.fleet_in_sight(demo, folder)]),
        rows.the_help(5 if quick else 15),
    ]


def intake(folder: Path, quick: bool) -> list[Row]:
    from tests.benchmarks import intake as rows

    return [
        *rows.whole_workbook(folder, 1000 if quick else 3500, 1 if quick else 3),
        *rows.preview(5 if quick else 15),
        rows.confirm(folder, 2 if quick else 7),
    ]


def judging(folder: Path, quick: bool) -> list[Row]:
    from tests.benchmarks import judging as rows

    if quick:
        return [*rows.whole_fleet(320, 80), *rows.one_new_sample(4, 1, 3)]
    return [*rows.whole_fleet(), *rows.one_new_sample(100, 25)]


def window(folder: Path, quick: bool) -> list[Row]:
    from tests.benchmarks import window as rows

    rows.ready(folder)
    return [
        *rows.fleet_view(500, 2 if quick else 5),
        rows.trend(5000, 2 if quick else 7),
        *rows.sheet(demo_file(folder), folder),
    ]


def event_loop(folder: Path, quick: bool) -> list[Row]:
    from tests.benchmarks import event_loop as rows
    from tests.benchmarks import window as of_window

    of_window.ready(folder)
    return rows.rows(demo_file(folder), folder)


def memory(folder: Path, quick: bool) -> list[Row]:
    from tests.benchmarks import memory as rows

    return [rows.records(folder)] if quick else [rows.large_file(large_file(folder, 500))]


GROUPS: Mapping[str, Group] = MappingProxyType(
    {"start": start, "intake": intake, "window": window, "event loop": event_loop, "memory": memory, "judging": judging}
)
