"""Builds the demo: the invented team's workbook, the bench file loaded from it, and exports to practise pasting."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from openpyxl import Workbook

from benchapp.actions.demo import building_room
from benchapp.library import load_library
from benchapp.progress import NOBODY, Progress

from .season import BENCH_DISC, LAB, MEASURED, Diary, Life
from .team import KNOWN_OF_OILS, OILS, SEASONS, stories

SEED = 20261024
"""Fixed: the demo is the same on every machine."""

COLUMNS = {
    "Families": ["family", "layout", "sump_l", "notes"],
    "Family parts": ["family", "part", "material", "role"],
    "Engines": ["engine", "family", "car", "notes"],
    "Builds": ["engine", "build", "built_on", "sump_l", "notes"],
    "Build parts": ["engine", "build", "part", "material", "role"],
    "Oils": [
        "oil", "kind", "sae_grade", "density_15c_kg_l", "kv40_cst", "kv100_cst", "hths_mpas", "tbn", "tan", *MEASURED,
    ],
    "Fills": [
        "engine", "build", "fill", "filled_at", "build_h", "oil", "volume_l", "drain_before", "filter_changed",
    ],
    "Top-ups": ["engine", "build", "fill", "build_h", "litres"],
    "Runs": [
        "engine", "build", "started_at", "kind", "hours", "max_rpm", "oil_temp_c", "fuel", "coolant", "notes",
        "distance_km", "laps", "starts",
    ],
    "Samples": [
        "sample", "engine", "build", "fill", "taken_at", "build_h", "oil_h", "drawn", "before_top_up", "instrument",
        "break_in", "notes",
    ],
    "Results": ["sample", *MEASURED, "KV40", "KV100", "TBN", "TAN", "Fuel"],
    "Pulls": ["engine", "build", "pull", "build_h", "power_kw", "air_c", "pressure_kpa", "humidity_pct"],
    "Leak-down": ["engine", "build", "build_h", "cylinder", "percent"],
    "Filter cuts": ["engine", "build", "build_h", "ferrous", "non_ferrous", "largest_mm", "notes"],
    "Changes": ["engine", "build", "build_h", "kind", "notes"],
    "Findings": ["engine", "build", "build_h", "part", "condition", "sample", "notes", "measured"],
    "Oil pressure": ["engine", "build", "build_h", "pressure_kpa", "rpm", "oil_temp_c", "gauge"],
    "Fitted parts": ["engine", "build", "build_h", "part", "piece", "act", "life", "life_unit", "notes"],
    "Check runs": ["instrument", "run_at", "standard", "element", "expected_ppm", "found_ppm"],
    "Oil limits": ["oil", "limit", "watch", "done", "why"],
    "Fresh values": ["oil", "property", "value"],
    "Fuel blends": ["oil", "fuel", "fuel_ml", "oil_ml", "at_c", "kv_cst"],
    "Bearings": [
        "engine", "build", "bearing", "diameter_mm", "length_mm", "clearance_mm", "roughness_um", "load_case", "load_n",
        "speed_rpm",
    ],
}  # fmt: skip

STANDARD = {"Fe": 50, "Cr": 50, "Ni": 50, "Al": 50, "Cu": 50, "Pb": 50, "Sn": 50, "Si": 50, "Na": 50, "Mo": 50}
"""The invented check standard [ppm]."""


def team_diary() -> Diary:
    """Every sheet of the workbook, written by running all the stories."""
    library, diary = load_library(), Diary()
    families = library.families
    lives = stories(lambda family: families[family].parts, lambda family: families[family].sump_l or 6.0)
    for name, values in OILS.items():
        diary.write("Oils", oil=name, **values)
    for sheet, rows in KNOWN_OF_OILS.items():
        for row in rows:
            diary.write(sheet, **row)
    seen: set[str] = set()
    for number, story in enumerate(lives):
        if story.engine not in seen:
            diary.write("Engines", engine=story.engine, family=story.family, car=story.car, notes=story.notes)
            seen.add(story.engine)
        shares = {
            part.name: {s.element: (s.nominal_pct or 0.0) / 100 for s in library.materials[part.material].shares}
            for part in families[story.family].parts
        }
        rng = np.random.default_rng([SEED, number])
        Life(story, diary, rng, weekends=SEASONS, shares=shares, oils=OILS).whole()
    check_runs(diary)
    return diary


def check_runs(diary: Diary) -> None:
    """The check standard on the Friday morning of each weekend, on both instruments."""
    rng = np.random.default_rng([SEED, 999])
    for friday in SEASONS:
        for instrument, share in ((BENCH_DISC, 0.03), (LAB, 0.02)):
            for element, ppm in STANDARD.items():
                found = round(float(ppm * (1 + rng.normal(0, share))), 1)
                row = {"instrument": instrument, "run_at": f"{friday}T07:30", "standard": "Check 50 (invented)"}
                diary.write("Check runs", **row, element=element, expected_ppm=ppm, found_ppm=found)


def write_workbook(path: Path, diary: Diary | None = None) -> Path:
    """The whole bench as a workbook, in the shape that `benchapp load` takes."""
    diary, book = diary or team_diary(), Workbook(write_only=True)
    for sheet, columns in COLUMNS.items():
        page = book.create_sheet(sheet)
        page.append(columns)
        for row in diary.sheets.get(sheet, []):
            unknown = set(row) - set(columns)
            if unknown:
                raise ValueError(f"{sheet}: {sorted(unknown)} has no column")
            page.append([row.get(column) for column in columns])
    book.save(path)
    return path


def add_photos(bench: Any, diary: Diary) -> None:
    """Photos of some findings: drawings that say themselves that they are invented."""
    from benchapp.actions import photo

    from .drawn import png

    for row, shows in diary.photos:
        engine, build = str(row["engine"]), str(row["build"])
        found = next(
            seen for seen in bench.build(engine, build).findings
            if (seen.build_h, seen.part) == (row["build_h"], row["part"])
        )  # fmt: skip
        photo.add(bench, engine, build, found, png(shows), words="a drawing: invented")


def build(path: str | Path, progress: Progress = NOBODY) -> None:
    """The demo bench file at `path` (made anew if it is there), with its workbook and practice exports beside it.

    It is made in a folder of its own and put in its place when it is whole: stopped before, nothing has changed."""
    target = Path(path)
    with building_room(target) as room:
        made = _made_in(room, target, progress)
        progress.step("Putting it in its place", 1.0)
        for piece in made:
            place = target.parent / piece.relative_to(room)
            place.parent.mkdir(exist_ok=True)
            piece.replace(place)


def _made_in(room: Path, target: Path, progress: Progress) -> list[Path]:
    """The demo's files in a folder: the bench file last, so that what is beside it is there when it is."""
    from benchapp.actions import workbook
    from benchapp.actions.bench import Bench

    from .exports import write_exports

    progress.step("Writing the invented team's diary")
    diary = team_diary()
    progress.step("Writing its workbook")
    beside = write_workbook(room / target.with_suffix(".xlsx").name, diary)
    bench = Bench.create(room / target.name, who="demo")
    try:
        workbook.load(bench, beside, progress)
        progress.step("Drawing its photos")
        add_photos(bench, diary)
    finally:
        bench.close()
    progress.step("Writing exports to practise pasting")
    folder = room / "exports to paste"
    folder.mkdir()
    write_exports(folder)
    return [beside, *sorted(folder.iterdir()), room / target.name]
